"""What happened to the plant: events, and the energy each cost, by cause and month."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..result import Result
from .healthy import Reference
from .log import Log

if TYPE_CHECKING:
    from .drift import Drift
    from .epochs import Change

__all__ = ["CAUSES", "Event", "History"]

DAY = 86400.0

# Kinds that cost energy -> what they mean.
CAUSES = {
    "clogging": "the screen clogged slowly; a cleaning brought the water back",
    "sudden drop": "much of the water was gone at once: a parted line, a slipped screen, debris",
    "frazil": "the water went at once in hard frost: ice needles on the screen",
    "ice stop": "stopped in frost with the line empty or frozen",
    "stop": "stopped with no pressure at the gauge",
    "shut off": "jets shut with pressure on the line",
    "no load": "full pressure, jets open and no power: machine, wiring or load",
    "too many jets": "the creek was too low for the jets left open; closing one brought the pressure back",
    "short of water": (
        "short of water, and back with nobody seen to act: a higher creek, or a cleaning not "
        "written down"
    ),
    "slow decline": "the healthy watts sank slowly, at every visit a little: wear, silt, a tired machine",
    "below commissioning": "from its first reading on the log's healthy watts lie below those of the commissioning",
    "low though spilling": "too little power with the forebay full: air, a valve, a blocked jet or the machine",
}


@dataclass(frozen=True, eq=False)
class Event:
    """Something that happened.

    Parameters
    ----------
    kind : str
        One of :data:`CAUSES`, ``"clean"``, ``"jets changed"``, or of :mod:`hydrokit.running.drift`.
    start, end : datetime64
    size : float
        Share of the flow lost at the worst, or brought back by a cleaning; number of jets after a
        change; as said there for drifts.
    lines : tuple of int
        First and last line of the log.
    time_s, lost_w : ndarray
        Power lost through time, in seconds since the log's first reading.
    note : str
        What the owner wrote.
    """

    kind: str
    start: np.datetime64
    end: np.datetime64
    _: KW_ONLY
    size: float
    lines: tuple[int, int]
    time_s: np.ndarray = field(default_factory=lambda: np.zeros(0))
    lost_w: np.ndarray = field(default_factory=lambda: np.zeros(0))
    note: str = ""

    @property
    def energy_j(self) -> float:
        """Energy lost."""
        return float(np.trapezoid(self.lost_w, self.time_s)) if len(self.time_s) > 1 else 0.0

    @property
    def days(self) -> float:
        """How long it lasted."""
        return float((self.end - self.start) / np.timedelta64(1, "s")) / DAY


@dataclass(frozen=True, eq=False)
class History(Result):
    """A log with what happened in it.

    Parameters
    ----------
    log : Log
    reference : Reference
    flow_share : ndarray
        Water at the jets as a share of what the open ones take; NaN with none open.
    events : tuple of Event
        In order of time.
    gauge : tuple of Event
        Spells in which the gauge differs from the rest of the log, and its changes.
    drifts : tuple of Drift
        Slow changes, in order of time.
    changes : tuple of Change
        At which the log is cut into stretches of its own healthy plant each.
    """

    log: Log
    reference: Reference
    flow_share: np.ndarray
    _: KW_ONLY
    events: tuple[Event, ...]
    gauge: tuple[Event, ...] = ()
    drifts: tuple[Drift, ...] = ()
    changes: tuple[Change, ...] = ()

    def of(self, *kinds: str) -> tuple[Event, ...]:
        """Events of these kinds."""
        return tuple(event for event in self.events if event.kind in kinds)

    @property
    def years(self) -> float:
        """Length of the log."""
        return float(self.log.seconds[-1]) / (365.25 * DAY)

    def lost_j(self) -> dict[str, float]:
        """Energy lost by cause, the worst first."""
        sums = {kind: sum(event.energy_j for event in self.of(kind)) for kind in CAUSES}
        return dict(
            sorted(
                ((kind, value) for kind, value in sums.items() if value > 0),
                key=lambda item: -item[1],
            )
        )

    def monthly(self) -> pd.DataFrame:
        """By month: energy made, energy lost to each cause (J), and number of cleanings."""
        log = self.log
        known = np.isfinite(log.power_w)
        rows = {
            "made_j": _by_month(log.time[0], log.seconds[known], log.power_w[known])
            if known.any()
            else pd.Series(dtype=float, index=pd.PeriodIndex([], freq="M"))
        }
        for kind in self.lost_j():
            parts = [
                _by_month(log.time[0], event.time_s, event.lost_w)
                for event in self.of(kind)
                if len(event.time_s) > 1
            ]
            rows[kind] = pd.concat(parts).groupby(level=0).sum()
        table = pd.DataFrame(rows).fillna(0.0)
        cleans = pd.Series(
            1,
            index=pd.PeriodIndex(
                [pd.Timestamp(event.start) for event in self.of("clean")], freq="M"
            ),
        )
        table["cleans"] = cleans.groupby(level=0).sum().reindex(table.index).fillna(0).astype(int)
        return table.sort_index()

    def healthy_w_by_month(self) -> np.ndarray:
        """Mean healthy watts of the jets open in each calendar month; NaN where the log has none."""
        months = self.log.time.astype("datetime64[M]").astype(int) % 12
        usual = self.reference.power_w
        return np.array(
            [
                float(np.nanmean(usual[here]))
                if (here := (months == month) & np.isfinite(usual)).any()
                else np.nan
                for month in range(12)
            ]
        )


def _by_month(start: Any, seconds: np.ndarray, power: np.ndarray) -> pd.Series:
    """Integral of a power between readings, month by month."""
    first, last = (
        pd.Timestamp(start) + pd.Timedelta(seconds=float(each))
        for each in (seconds[0], seconds[-1])
    )
    months = pd.period_range(first, last, freq="M")
    edges = np.array(
        [(month.start_time - pd.Timestamp(start)).total_seconds() for month in months[1:]]
    )
    at = np.concatenate([seconds, edges])
    order = np.argsort(at, kind="stable")
    values = np.concatenate([power, np.interp(edges, seconds, power)])[order]
    at = at[order]
    summed = np.concatenate([[0.0], np.cumsum(np.diff(at) * (values[1:] + values[:-1]) / 2)])
    bounds = np.interp(np.concatenate([[at[0]], edges, [at[-1]]]), at, summed)
    return pd.Series(np.diff(bounds), index=months)
