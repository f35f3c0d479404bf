"""How fast a screen clogs by the log, and what one that cleans itself would spare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from typing import Any, Mapping

import numpy as np

from ..errors import HydrokitError
from ..units import Quantity
from .history import DAY, Event, History

__all__ = ["Clogging", "Spared", "clogging", "self_cleaning"]


# --- from the log -----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Clogging:
    """How a screen clogs, from the spells that a cleaning ended.

    Parameters
    ----------
    spells : tuple of (Event, float)
        Each spell, and the share of the clean screen's flow that was lost each day in it.
    spare_by_jets : dict of int to float
        Flow of the clean screen over what the jets take.
    rate_by_month : ndarray
        Rate by calendar month, January first; NaN without spells.
    energy_by_month_j : ndarray
        Energy lost to it in a mean year.
    cleans_by_month : ndarray
        Cleanings in a mean year.
    """

    spells: tuple[tuple[Event, float], ...]
    spare_by_jets: dict[int, float]
    rate_by_month: np.ndarray
    _: KW_ONLY
    energy_by_month_j: np.ndarray
    cleans_by_month: np.ndarray

    @property
    def season(self) -> tuple[int, ...]:
        """Months, 1 to 12, that hold a tenth or more of the loss."""
        total = self.energy_by_month_j.sum()
        return (
            tuple((np.flatnonzero(self.energy_by_month_j >= 0.1 * total) + 1).tolist())
            if total > 0
            else ()
        )

    def grace_s(self, history: History) -> float:
        """Time from a cleaning until its water no longer fills the jets: median of those the log shows.

        The clean screen's spare and the creek's together; zero where no cleaning is followed by a spell.
        """
        cleans = np.array([event.start for event in history.of("clean")], dtype="datetime64[s]")
        waits = []
        for event, _ in self.spells:
            before = cleans[cleans <= event.start]
            wait = (
                float((event.start - before[-1]) / np.timedelta64(1, "s"))
                if len(before)
                else np.inf
            )
            if _month(event) + 1 in self.season and wait < 30 * DAY:
                waits.append(wait)
        return float(np.median(waits)) if waits else 0.0

    def rate_in(self, months: Sequence[int]) -> float:
        """Share of the clean screen's flow lost each day, mean over the spells of some months."""
        return _mean([(event, rate) for event, rate in self.spells if _month(event) + 1 in months])


def clogging(
    history: History, flow_m3s: Mapping[int, float] | None = None, clean_m3s: float | None = None
) -> Clogging:
    """Rate, season and cost of clogging.

    Parameters
    ----------
    history : History
    flow_m3s : mapping of jets to float, optional
        What the jets take when fed. Left out, only its ratios are known, from the pressures.
    clean_m3s : float, optional
        What the clean screen passes; left out, or less than the jets took, just what all jets take.

    Returns
    -------
    Clogging

    Notes
    -----
    While the pond spills nothing is seen of it, so only readings already short of water count: from
    the first to the last of a spell. Of a spell of one reading it is known only that it began after
    the reading before, which gives the least it can have been. So does the time since the screen was
    last seen cleaned, in which all that is blocked now must have come; the greater of the two counts.
    """
    full = flow_m3s or {
        count: count * float(np.sqrt(level[0]))
        for count, level in history.reference.levels.items()
        if level[0] > 0
    }
    most = max(full.values(), default=1.0)
    clean = most if clean_m3s is None or flow_m3s is None else max(clean_m3s, most)
    spells = tuple(
        (event, rate)
        for event in history.of("clogging")
        if (rate := _rate(history, event, full, clean)) > 0
    )
    of_month = [
        [(event, rate) for event, rate in spells if _month(event) == month] for month in range(12)
    ]
    years = max(history.years, 1 / 12)
    energy, cleans = np.zeros(12), np.zeros(12)
    for event in history.of("clogging"):
        energy[_month(event)] += event.energy_j / years
    for event in history.of("clean"):
        cleans[_month(event)] += 1 / years
    spare = {count: clean / flow for count, flow in full.items()}
    return Clogging(
        spells,
        spare,
        np.array([_mean(each) for each in of_month]),
        energy_by_month_j=energy,
        cleans_by_month=cleans,
    )


def _month(event: Event) -> int:
    """Calendar month in which the middle of a spell lies, January 0."""
    middle = event.start + (event.end - event.start) / 2
    return int(middle.astype("datetime64[M]").astype(int) % 12)


def _mean(spells: list[tuple[Event, float]]) -> float:
    """Mean rate, longer spells counting for more."""
    return (
        float(
            np.average(
                [rate for _, rate in spells], weights=[max(event.days, 0.1) for event, _ in spells]
            )
        )
        if spells
        else np.nan
    )


def _rate(history: History, event: Event, *flows: Any) -> float:
    return float(np.fmax(_within(history, event, *flows), _since_cleaned(history, event, *flows)))


def _within(history: History, event: Event, full: Mapping[int, float], clean: float) -> float:
    log = history.log
    first, last = np.searchsorted(log.line, event.lines)
    long_enough = last > first and log.seconds[last] - log.seconds[first] >= 0.5 * DAY
    begin = first if long_enough else first - 1
    jets = int(log.jets[last])
    if begin < 0 or log.jets[begin] != jets or jets not in full:
        return np.nan
    span = (log.seconds[last] - log.seconds[begin]) / DAY
    fall = min(float(history.flow_share[begin]), 1.0) - float(history.flow_share[last])
    return fall * full[jets] / clean / span if span > 0.1 else np.nan


def _since_cleaned(
    history: History, event: Event, full: Mapping[int, float], clean: float
) -> float:
    """Least rate that blocks, since the screen was last seen cleaned, what is blocked at the end of
    a spell; NaN where it never was."""
    log = history.log
    last = int(np.searchsorted(log.line, event.lines[1]))
    before = [each.end for each in history.of("clean") if each.end <= event.start]
    jets = int(log.jets[last])
    if not before or jets not in full:
        return np.nan
    days = float((log.time[last] - max(before)) / np.timedelta64(1, "s")) / DAY
    blocked = 1 - min(float(history.flow_share[last]), 1.0) * full[jets] / clean
    return blocked / days if days > 0.5 else np.nan


@dataclass(frozen=True, eq=False)
class Spared:
    """What a screen that cleans itself would save in a mean year.

    Parameters
    ----------
    energy_j : float
    visits : float
    """

    energy_j: float
    visits: float

    @property
    def energy(self) -> Quantity:
        """Energy of a year, a quantity."""
        return Quantity(self.energy_j, "J").to("kWh")


def self_cleaning(history: History, still_lost: float = 0.2) -> Spared:
    """What a screen that cleans itself would save in a mean year, from what clogging did cost.

    Parameters
    ----------
    history : History
    still_lost : float
        Share of the loss and of the walks that stays: ice, grit and storms stop the best of them
        (a fifth, common practice).
    """
    if not 0 <= still_lost <= 1:
        raise HydrokitError(
            f"self_cleaning(): still_lost is a share from 0 to 1, got {still_lost:g}"
        )
    found = clogging(history)
    return Spared(
        float(found.energy_by_month_j.sum()) * (1 - still_lost),
        float(found.cleans_by_month.sum()) * (1 - still_lost),
    )
