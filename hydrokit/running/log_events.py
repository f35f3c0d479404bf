"""What happened to the plant: events found in a log, and the energy each cost.

The water at the jets, as a share of what the open ones take, falls slowly as leaves gather, at once
when a line parts or ice shuts the screen, and comes back by a cleaning, by closing a jet, or by
itself. How a shortage begins and ends names it; the readings alone decide, never the words beside
them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Mapping, Sequence

import numpy as np
import pandas as pd

from ..plant.runner_speed import FOLLOWS, RunnerSpeed
from .decline import declines
from .drift import gauge_changes, slow_drifts
from .epochs import Change
from .healthy import Reference, reference
from .history import DAY, Event, History
from .log import Log
from .stretches import cut, held, joined, part

__all__ = ["log_history"]

_HOUR = 3600.0
_LOOK = 3 * _HOUR  # readings this near, up to three, are taken together on either side of a step
_VISIT = 6 * _HOUR  # a rise between readings this near, jets unchanged, is somebody's work
_CLEANED, _GONE = (
    0.03,
    0.25,
)  # rise that a cleaning makes, fall that is no clogging: shares of the flow
_AT_ONCE = 30 * _HOUR  # within which a fall is sudden
_FROST_K, _EMPTY, _NO_POWER = 273.15 - 6.0, 0.15, 0.02


def log_history(
    log: Log,
    baseline: Mapping[int, tuple[float, float]] | None = None,
    commissioned: bool = False,
    changes: Sequence[Change] = (),
    commissioned_on: str = "",
    speed: RunnerSpeed = FOLLOWS,
) -> History:
    """Find what happened in a log.

    Parameters
    ----------
    log : Log
    baseline : mapping of jets to (pressure in Pa, watts), optional
        Of the healthy plant, for jet counts that the log never shows healthy.
    commissioned : bool
        Whether that was read on the healthy plant: then the log is held against it.
    changes : sequence of Change, optional
        Of the plant. Each begins a stretch with a healthy plant of its own; a new gauge alone only a
        step of the pressure.
    commissioned_on : str, optional
        The day of it, as 2026-07-04: what another runner made another plant is not held against it.
    speed : RunnerSpeed, optional
        How far that of the runner is held while under-fed jets slow down.

    Returns
    -------
    History

    Notes
    -----
    A cleaning is a rise of the flow by 3 % or more between readings at most six hours apart with
    the jets unchanged. Rain that comes as fast as a brush looks the same. A fall by a quarter of
    the flow within 30 hours is sudden; air of -6 °C or less beside it makes it frazil.
    """
    places, between = cut(log, changes)
    gauges = [each.day for each in changes if each.what == "gauge"]
    found = []
    for here in places:
        stretch = part(log, here) if len(places) > 1 else log
        mine = commissioned and held(stretch, changes, commissioned_on)
        found.append(_stretch(stretch, baseline, mine, gauges, speed))
    return joined(log, found, between)


def _stretch(
    log: Log,
    baseline: Mapping[int, tuple[float, float]] | None,
    commissioned: bool,
    gauges: Sequence[str],
    speed: RunnerSpeed,
) -> History:
    """What happened while the plant was one and the same."""
    usual = reference(log, baseline, speed)
    share = np.where(log.jets > 0, usual.flow_share(log), np.nan)
    finder = _Finder(log, usual, share)
    events = [
        *finder.jet_changes(),
        *finder.stops(),
        *finder.low_though_spilling(),
        *finder.shortages(),
    ]
    found = History(log, usual, share, events=tuple(events))
    gauge = gauge_changes(found, gauges)
    drifts = slow_drifts(found, gauge)
    events += declines(found, drifts, baseline if commissioned else None)
    return replace(
        found,
        events=tuple(sorted(events, key=lambda event: (event.start, event.end))),
        gauge=gauge,
        drifts=drifts,
    )


class _Finder:
    """The log with the arrays that finding events needs, worked out once."""

    def __init__(self, log: Log, usual: Reference, share: np.ndarray) -> None:
        self.log, self.usual, self.share, self.seconds = log, usual, share, log.seconds
        self.spread = max(usual.share_spread, 0.003)
        each = np.maximum(usual.spread_of(log), 0.003)
        seen = log.pressure_pa[(log.jets > 0) & (log.pressure_pa > 0)]
        full = (
            log.static_pa
            if np.isfinite(log.static_pa)
            else float(np.median(seen))
            if len(seen)
            else np.nan
        )
        self.pressed = np.nan_to_num(log.pressure_pa / full, nan=1.0)
        with np.errstate(invalid="ignore"):
            unpowered = np.isfinite(log.power_w) & ~(
                log.power_w > _NO_POWER * np.nan_to_num(usual.power_w, nan=0.0)
            )
            self.stopped = (
                (log.jets == 0)
                | (unpowered & (usual.basis == "watts"))
                | ((self.pressed < 0.02) & ~(log.power_w > 0))
            )
            low = share < 1 - np.maximum(4 * each, 0.015)
            seen_short = (share < 1 - 2.5 * each) & ((log.spilling == 0) | (log.fluctuates == 1))
        running = ~self.stopped & np.isfinite(share)
        self.spilling_low = running & low & (log.spilling == 1)
        self.short = running & (low | seen_short) & (log.spilling != 1)
        self.after = self._level(+1)
        # above what the jets take when fed it is the readings' own scatter, by the water's cube
        followed = np.where(share < 1, usual.speed.flow_power_si(np.minimum(share, 1.0)), share**3)
        self.power = np.where(np.isfinite(log.power_w), log.power_w, followed * usual.power_w)

    def event(
        self,
        kind: str,
        first: int,
        last: int,
        start: float,
        end: float,
        size: float,
        at: Any = (),
        lost: Any = (),
    ) -> Event:
        """An event from positions, seconds and lost watts."""
        log, origin = self.log, self.log.time[0]
        words = "; ".join(
            dict.fromkeys(text for text in log.note[first : last + 1].tolist()[:200] if text)
        )
        begun, ended = (origin + np.timedelta64(int(round(each)), "s") for each in (start, end))
        return Event(
            kind,
            begun,
            ended,
            size=float(size),
            lines=(int(log.line[first]), int(log.line[last])),
            time_s=np.asarray(at, float),
            lost_w=np.asarray(lost, float),
            note=words,
        )

    def middle(self, index: int) -> float:
        """Half way between a reading and the next."""
        return float(self.seconds[index] + self.seconds[min(index + 1, len(self.seconds) - 1)]) / 2

    def jet_changes(self) -> list[Event]:
        """Jets opened or closed, stops left out."""
        jets = self.log.jets
        at = np.flatnonzero((jets[1:] != jets[:-1]) & (jets[1:] > 0) & (jets[:-1] > 0)) + 1
        return [
            self.event("jets changed", i, i, self.seconds[i], self.seconds[i], jets[i])
            for i in at.tolist()
        ]

    # --- standing still ---------------------------------------------------------------------

    def stops(self) -> list[Event]:
        """Runs of readings without power."""
        found = []
        for first, last in _runs(self.stopped):
            before = _last_before(self.log.jets > 0, first)
            kind = self._kind_of_stop(first, last)
            by_hand = kind == "shut off"  # written down when it was done
            start = self.middle(first - 1) if first and not by_hand else float(self.seconds[first])
            end = self.seconds[last + 1] if last + 1 < len(self.seconds) else self.seconds[last]
            watts = self.usual.power_w[before] if before is not None else np.nan
            after = last + 1
            if not np.isfinite(watts) and after < len(self.seconds):
                watts = self.usual.power_w[after]
            at, lost = [start, end], [np.nan_to_num(watts)] * 2
            found.append(self.event(kind, first, last, start, end, 1.0, at, lost))
        return found

    def _kind_of_stop(self, first: int, last: int) -> str:
        here = slice(first, last + 1)
        if np.median(self.pressed[here]) < _EMPTY:
            return "ice stop" if self._frost(first, last) else "stop"
        return "shut off" if np.median(self.log.jets[here]) == 0 else "no load"

    def _frost(self, first: int, last: int) -> bool:
        """Whether the air was cold enough for ice in the two days before, or meanwhile."""
        since = np.searchsorted(self.seconds, self.seconds[first] - 2 * DAY)
        air = self.log.air_k[since : last + 1]
        return bool(np.isfinite(air).any() and np.nanmin(air) <= _FROST_K)

    def low_though_spilling(self) -> list[Event]:
        """Runs of weak readings with a full pond."""
        found = []
        for first, last in _runs(self.spilling_low):
            start, end = self.middle(first - 1) if first else 0.0, self.middle(last)
            here = slice(first, last + 1)
            lost = np.maximum(self.usual.power_w[here] - self.power[here], 0.0)
            at = np.concatenate([[start], self.seconds[here], [end]])
            found.append(
                self.event(
                    "low though spilling",
                    first,
                    last,
                    start,
                    end,
                    1 - np.min(self.share[here]),
                    at,
                    [lost[0], *lost, lost[-1]],
                )
            )
        return found

    # --- short of water ---------------------------------------------------------------------

    def shortages(self) -> list[Event]:
        """Spells short of water, parted at cleanings and at sudden falls, and the cleanings."""
        rises, falls = self._rises(), self._falls()
        bounds = np.zeros(len(self.short), dtype=bool)
        bounds[[index + 1 for index in rises]] = True
        bounds[falls] = True
        found = []
        for first, last in self._spells(bounds):
            cleaned = last in rises
            sudden = first in falls
            kind = self._kind_of_shortage(first, last, cleaned, sudden)
            found.append(self._shortage(kind, first, last, cleaned))
            if cleaned and not sudden:
                after = last + 1
                found.append(
                    self.event(
                        "clean", after, after, self.seconds[after], self.seconds[after], rises[last]
                    )
                )
        return found

    def _rises(self) -> dict[int, float]:
        """Last reading before each cleaning -> by how much of the flow it helped."""
        before, after = self._level(-1), self.after
        near = np.append((np.diff(self.seconds) <= _VISIT) & (np.diff(self.log.jets) == 0), False)
        with np.errstate(invalid="ignore"):
            rise = np.where(near, np.append(after[1:], np.nan) - before, np.nan)
            step = np.append(self.share[1:] - self.share[:-1], np.nan)
            candidate = np.flatnonzero(
                (rise >= max(6 * self.spread, _CLEANED)) & (step > rise / 3) & self.short
            )
        chosen: dict[int, float] = {}
        for index in candidate.tolist():
            # A step smeared over neighbouring readings is one cleaning: the steepest pair is its moment.
            last = next(reversed(chosen), None)
            if last is not None and self.seconds[index] - self.seconds[last] <= _LOOK:
                if step[index] > step[last]:
                    del chosen[last]
                    chosen[index] = float(rise[index])
                continue
            chosen[index] = float(rise[index])
        return chosen

    def _level(self, way: int) -> np.ndarray:
        """Median of up to three readings from each on, in one direction of time, jets unchanged."""
        share, jets, seconds, count = self.share, self.log.jets, self.seconds, len(self.share)
        stack = np.full((3, count), np.nan)
        stack[0] = share
        together = np.ones(count, dtype=bool)
        for step in (1, 2):
            other = np.clip(np.arange(count) + way * step, 0, count - 1)
            together &= (
                (jets[other] == jets)
                & (np.abs(seconds[other] - seconds) <= _LOOK)
                & (other != np.arange(count))
                & ~self.stopped[other]
            )
            stack[step] = np.where(together, share[other], np.nan)
        stack = np.sort(stack, axis=0)  # NaN last
        known = np.isfinite(stack).sum(axis=0)
        return np.where(
            known == 3, stack[1], np.where(known == 2, (stack[0] + stack[1]) / 2, stack[0])
        )

    def _falls(self) -> np.ndarray:
        """Readings at which much of the water is found gone at once."""
        log = self.log
        # Flow through n jets goes with n·√p, so different jet counts are held against each other.
        pressed = np.array(
            [
                self.usual.levels.get(int(n), (np.nan,) * 3)[0]
                for n in range(int(log.jets.max(initial=0)) + 1)
            ]
        )
        full = log.jets * np.sqrt(np.nan_to_num(pressed[log.jets], nan=1.0))
        flow = np.where(self.stopped, np.nan, self.share * full)
        recent = (
            pd.Series(flow, index=pd.DatetimeIndex(log.time))
            .rolling(pd.Timedelta(seconds=_AT_ONCE), closed="left")
            .max()
            .to_numpy()
        )
        known = pd.Series(flow).ffill().shift()
        since = (
            self.seconds
            - pd.Series(np.where(np.isnan(flow), np.nan, self.seconds)).ffill().shift().to_numpy()
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            within = (np.minimum(recent, full) - flow) / full >= _GONE
            jump = (np.minimum(known.to_numpy(), full) - flow) / full
            quick = (jump >= _GONE) & (jump / since >= 0.2 / DAY)
        gone = self.short & (within | quick)
        # The first reading of each such fall; the next fall counts only after the water was back.
        first = gone & ~np.append(False, gone[:-1])
        back = np.cumsum(~self.short)
        keep, seen = [], -1
        for index in np.flatnonzero(first).tolist():
            if back[index] != seen:
                keep.append(index)
                seen = back[index]
        return np.array(keep, dtype=int)

    def _spells(self, bounds: np.ndarray) -> list[tuple[int, int]]:
        """Runs of short readings, parted at bounds; noise neither parts a spell nor makes one."""
        joined, seconds = self.short.copy(), self.seconds
        summed = np.concatenate([[0.0], np.cumsum(np.nan_to_num(self.share, nan=1.0))])
        for first, last in _runs(~self.short & ~self.stopped):
            if (
                first == 0
                or last + 1 == len(joined)
                or seconds[last + 1] - seconds[first - 1] > DAY
            ):
                continue
            mean = (summed[last + 1] - summed[first]) / (last + 1 - first)
            between = (
                self.short[first - 1]
                and self.short[last + 1]
                and not bounds[first : last + 2].any()
            )
            joined[first : last + 1] = between and mean < 1 - self.spread
        spells = []
        for first, last in _runs(joined):
            cuts = first + 1 + np.flatnonzero(bounds[first + 1 : last + 1])
            spells += list(zip([first, *cuts.tolist()], [*(cuts - 1).tolist(), last]))
        return [spell for spell in spells if not self._flicker(*spell)]

    def _flicker(self, first: int, last: int) -> bool:
        """Whether a spell is gone within the hour and hardly below the noise."""
        around = (
            self.seconds[min(last + 1, len(self.seconds) - 1)] - self.seconds[max(first - 1, 0)]
        )
        return bool(
            around <= _HOUR and np.nanmin(self.share[first : last + 1]) > 1 - 6 * self.spread - 0.02
        )

    def _kind_of_shortage(self, first: int, last: int, cleaned: bool, sudden: bool) -> str:
        if sudden:
            return "frazil" if self._frost(first, first) else "sudden drop"
        if cleaned:
            return "clogging"
        jets, after = self.log.jets, last + 1
        if after < len(jets) and 0 < jets[after] < jets[last]:
            return "too many jets"
        return "short of water"

    def _shortage(self, kind: str, first: int, last: int, cleaned: bool) -> Event:
        here = slice(first, last + 1)
        start = self.middle(first - 1) if first else float(self.seconds[0])
        end = float(self.seconds[last + 1]) if cleaned else self.middle(last)
        could = self._could(kind, first, last, cleaned)
        lost = np.maximum(could - self.power[here], 0.0)
        sudden = kind in ("sudden drop", "frazil") or (
            first > 0 and self.log.jets[first] != self.log.jets[first - 1]
        )
        at = np.concatenate(
            [[start if sudden or not first else self.seconds[first - 1]], self.seconds[here], [end]]
        )
        onset = lost[0] if sudden else 0.0
        return self.event(
            kind,
            first,
            last,
            start,
            end,
            1 - float(np.nanmin(self.share[here])),
            at,
            [onset, *lost, lost[-1]],
        )

    def _could(self, kind: str, first: int, last: int, cleaned: bool) -> np.ndarray:
        """Watts the plant would have given without the fault."""
        here = slice(first, last + 1)
        healthy = self.usual.power_w[here]
        if kind == "clogging" and cleaned:
            # What the cleaning brought back is the screen's; the rest the creek did not have.
            restored = float(self.after[last + 1])
            whole = restored > 1 - 2 * self.spread
            return healthy * (1.0 if whole else float(self.usual.speed.flow_power_si(restored)))
        if kind == "too many jets":
            return self._with_fewer(here)
        return healthy

    def _with_fewer(self, here: slice) -> np.ndarray:
        """Best watts that the arriving water would give with some of the open jets shut."""
        jets, share = self.log.jets[here], np.minimum(self.share[here], 1.0)
        levels = self.usual.levels
        best = self.power[here].copy()
        for count, (pressure, watts, _) in levels.items():
            if not (pressure > 0 and np.isfinite(watts)):
                continue
            open_now = np.array([levels.get(int(n), (np.nan,) * 3)[0] for n in jets])
            fed = np.minimum(share * jets * np.sqrt(open_now) / (count * np.sqrt(pressure)), 1.0)
            best = np.where(
                count < jets, np.fmax(best, watts * self.usual.speed.flow_power_si(fed)), best
            )
        return best


def _runs(inside: np.ndarray) -> list[tuple[int, int]]:
    """First and last position of each run of True."""
    edges = np.diff(np.concatenate([[0], np.asarray(inside, dtype=int), [0]]))
    return list(
        zip(np.flatnonzero(edges == 1).tolist(), (np.flatnonzero(edges == -1) - 1).tolist())
    )


def _last_before(inside: np.ndarray, index: int) -> int | None:
    where = np.flatnonzero(inside[:index])
    return int(where[-1]) if len(where) else None
