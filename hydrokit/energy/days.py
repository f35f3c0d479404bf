"""The plant day by day, where today depends on yesterday.

The record as weights knows no yesterday. Four things do: jets that somebody must walk to, so
that they are not changed for every small gain; a stop in frost that lasts until it thaws, so that one
air lock in January may cost the season; a take that may only rise so fast; and a pond that keeps
what one day does not use for the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain, state_of
from ..plant.curve import STARVED, PlantCurve
from ..stream.record import WATER_YEAR, year_labels

__all__ = ["Days", "Habits", "simulate_days"]

DAY_S = 86400.0


@dataclass(frozen=True, eq=False)
class Habits:
    """What ties one day to the next.

    Parameters
    ----------
    least_gain : float
        Jets are changed only for at least this share more power. 0: for any gain.
    visit_days : int
        Jets are changed at most every so many days.
    ramp_m3s_per_day : float
        Most that the take from the creek may rise from one day to the next; after a stop it begins at 0.
    freezes_below_degc : float
        Daily mean air temperature at and below which a plant that stands still, or whose jets are
        starved, freezes; minus infinity: it never does.
    thaws_above_degc : float
        Daily mean above which a frozen plant runs again, the same day.
    thaw_days : int
        So many days together, that day and those after it, must be above it on average: a thaw that lasts.
    starved_freezes : bool
        Whether starved jets are enough (the pipe gulps air), or only a stop.
    pond_m3 : float
        Water that the pond before the penstock keeps from one day to the next. It is used as soon as
        the jets can take it; it is full on the first day.
    """

    least_gain: float = 0.0
    visit_days: int = 1
    ramp_m3s_per_day: float = np.inf
    freezes_below_degc: float = -np.inf
    thaws_above_degc: float = 2.0
    thaw_days: int = 1
    starved_freezes: bool = False
    pond_m3: float = 0.0

    def __post_init__(self) -> None:
        if self.least_gain < 0 or self.visit_days < 1 or self.thaw_days < 1 or not self.ramp_m3s_per_day > 0 or self.pond_m3 < 0:
            raise HydrokitError("Habits: least_gain and pond_m3 must be 0 or more, thaw_days and visit_days 1 or more, ramp_m3s_per_day above 0")
        if self.thaws_above_degc < self.freezes_below_degc:
            raise HydrokitError("Habits: it must thaw at a temperature no lower than that at which it freezes")

    @property
    def change_at_once(self) -> bool:
        """Whether the jets follow each day's water, whatever was open before."""
        return self.least_gain == 0 and self.visit_days == 1


@dataclass(frozen=True, eq=False)
class Days:
    """What came of it. Arrays have the days along their last axis, draws before it.

    Parameters
    ----------
    index : pandas.DatetimeIndex
    power_w, used_m3s : ndarray
        Net power and flow through the jets.
    jets_open : ndarray of int
        0 when stopped.
    frozen : ndarray of bool
        Days lost to a stop that had to wait for a thaw.
    start_month : int
    """

    index: pd.DatetimeIndex
    power_w: np.ndarray
    used_m3s: np.ndarray
    jets_open: np.ndarray
    frozen: np.ndarray
    start_month: int

    @property
    def kwh(self) -> np.ndarray:
        """Energy in kWh, draws × years × 12 (or years × 12); a missing day counts nothing."""
        label = year_labels(self.index, self.start_month)
        group = (label - label.min()) * 12 + np.asarray(self.index.month) - 1
        order = np.flatnonzero(np.r_[True, np.diff(group) != 0])
        sums = np.add.reduceat(np.nan_to_num(self.power_w) * 0.024, order, axis=-1)
        table = np.zeros((*self.power_w.shape[:-1], (label.max() - label.min() + 1) * 12))
        table[..., group[order]] = sums
        return table.reshape(*table.shape[:-1], -1, 12)

    @property
    def years(self) -> np.ndarray:
        """Labels of the years of :attr:`kwh`."""
        label = year_labels(self.index, self.start_month)
        return np.arange(label.min(), label.max() + 1)

    @property
    def changes(self) -> np.ndarray:
        """How often the jets were changed while running."""
        before, after = self.jets_open[..., :-1], self.jets_open[..., 1:]
        return np.sum((before != after) & (before > 0) & (after > 0), axis=-1)

    def series(self) -> pd.Series:
        """Net power of a single run, named ``power_w``."""
        return pd.Series(self.power_w, self.index, name="power_w")


def simulate_days(
    usable: pd.Series | np.ndarray,
    chain: Chain,
    habits: Habits | None = None,
    temperature_degc: Any = None,
    stops: Any = None,
    index: pd.DatetimeIndex | None = None,
    start_month: int = WATER_YEAR,
) -> Days:
    """Walk through the record with habits that remember.

    Parameters
    ----------
    usable : pandas.Series, or ndarray (draws × days) with `index`
        Usable flow in m³/s, one value a day.
    chain : Chain
        A month's rule for the jets stands; where there is none, the habits choose.
    habits : Habits, optional
        None: nothing remembers, and the energy is that of :func:`annual_energy`.
    temperature_degc : Series or array, optional
        Daily mean air temperature, in °C; needed where anything freezes.
    stops : array of bool, optional
        Days on which something else stops the plant (draws × days, or days; broadcast against the
        flow). In frost it then stays stopped until it thaws.
    index : DatetimeIndex, optional
        Dates of an array.
    start_month : int

    Returns
    -------
    Days

    Raises
    ------
    HydrokitError
        A freezing temperature without a temperature record, dates missing.
    """
    habits = Habits() if habits is None else habits
    if isinstance(usable, pd.Series):
        index, usable = usable.index, usable.to_numpy(dtype=float)
    if index is None or len(index) != np.shape(usable)[-1]:
        raise HydrokitError("simulate_days(): an array of flows needs `index`, one date for each day")
    flow = np.atleast_2d(np.asarray(usable, dtype=float))
    cold, thaw = _frost(habits, temperature_degc, index)
    stopped = np.zeros(len(index), dtype=bool) if stops is None else np.asarray(stops, dtype=bool)
    shape = np.broadcast_shapes(np.shape(usable), stopped.shape)
    draws = len(np.atleast_2d(np.broadcast_to(0, shape)))
    stopped = np.broadcast_to(stopped, (draws, len(index)))
    tables = _tables(chain if habits.pond_m3 == 0 else _below_pond(chain))
    month = np.asarray(index.month)

    days = _Record((draws, len(index)))
    now = _State.at_start(draws, habits.pond_m3)
    for start, end in _month_blocks(month):
        counts, curves = tables[month[start]]
        passes = _to_pond(chain, month[start]) if habits.pond_m3 > 0 else None
        known = None if passes or np.isfinite(habits.ramp_m3s_per_day) else _evaluate(curves, flow[:, start:end])
        if known is not None and habits.change_at_once:
            whole = now.following(flow[:, start:end], known, counts, habits, stopped[:, start:end], cold[start:end], thaw[start:end])
            days.write(slice(start, end), whole, flow[:, start:end])
            now = whole.evening(-1)
            continue
        wide = None if known is None else [np.broadcast_to(values, (len(curves), draws, end - start)) for values in known]
        for day in range(start, end):
            taken = np.minimum(flow[:, day], now.taken + habits.ramp_m3s_per_day)
            offered = taken if passes is None else passes(taken) + now.stored_m3 / DAY_S
            each = _evaluate(curves, offered) if wide is None else [values[..., day - start] for values in wide]
            now = now.next(taken, offered, each, counts, habits, stopped[:, day], bool(cold[day]), bool(thaw[day]))
            days.write(day, now, flow[:, day])
    return Days(index, *(values.reshape(shape) for values in (days.power, days.used, days.jets, days.frozen)), start_month)


@dataclass(eq=False)
class _Record:
    shape: tuple[int, int]

    def __post_init__(self) -> None:
        self.power, self.used = np.empty(self.shape), np.empty(self.shape)
        self.jets, self.frozen = np.empty(self.shape, dtype=int), np.empty(self.shape, dtype=bool)

    def write(self, day: int | slice, now: _State, flow: np.ndarray) -> None:
        unknown = np.isnan(flow)
        self.power[:, day] = np.where(unknown, np.nan, now.power)
        self.used[:, day] = np.where(unknown, np.nan, now.used)
        self.jets[:, day], self.frozen[:, day] = np.where(now.power > 0, now.jets, 0), now.frozen


@dataclass(frozen=True, eq=False)
class _State:
    """What a day hands to the next, one entry a draw."""

    jets: np.ndarray
    since: np.ndarray  # days since the jets were last changed
    taken: np.ndarray  # from the creek: while the plant waits for enough water too
    used: np.ndarray
    power: np.ndarray
    frozen: np.ndarray
    stored_m3: np.ndarray  # in the pond in the evening

    def following(self, flow: np.ndarray, each, counts: np.ndarray, habits: Habits, stopped: np.ndarray, cold: np.ndarray, thaw: np.ndarray) -> _State:
        """Many days at once, of which nothing but frost asks what was before; `flow` and `each` may be of one draw for all."""
        place = np.argmax(each[0], axis=0)
        power, used, starved = (np.take_along_axis(values, place[None], axis=0)[0] for values in each)
        seizes = cold & (stopped | ((power <= 0) & ~np.isnan(flow)) | (starved & habits.starved_freezes))
        # frozen since the last day that froze it, unless one that thaws it has come after
        day = np.arange(1, len(cold) + 1)
        seized = np.maximum.accumulate(np.where(seizes, day, 0), axis=-1)
        thawed = np.maximum.accumulate(np.where(thaw & ~seizes, day, 0), axis=-1)
        frozen = (seized > thawed) | (self.frozen[:, None] & (thawed == 0))
        runs = ~stopped & ~frozen & (power > 0)
        taken = np.where(stopped | frozen | np.isnan(flow), 0.0, flow)
        counts = np.broadcast_to(counts[place], stopped.shape)
        return _State(counts, np.zeros(stopped.shape, int), taken, np.where(runs, used, 0.0), np.where(runs, power, 0.0), frozen, np.zeros(stopped.shape))

    def evening(self, day: int) -> _State:
        """One of many days."""
        return _State(*(values[:, day] for values in vars(self).values()))

    @classmethod
    def at_start(cls, draws: int, pond_m3: float) -> _State:
        # the first day is a visit, and no take before it limits it
        nothing = np.zeros(draws)
        return cls(np.zeros(draws, int), np.full(draws, 10**6), np.full(draws, np.inf), nothing, nothing, np.zeros(draws, bool), np.full(draws, pond_m3))

    def next(self, taken: np.ndarray, offered: np.ndarray, each, counts: np.ndarray, habits: Habits, stopped: np.ndarray, cold: bool, thaw: bool) -> _State:
        power, used, starved = each
        best = np.argmax(power, axis=0)
        rows = np.arange(power.shape[1])
        place = np.minimum(np.searchsorted(counts, self.jets), len(counts) - 1)
        held = counts[place] == self.jets
        current = np.where(held, power[place, rows], 0.0)
        worth = (power[best, rows] > current * (1 + habits.least_gain)) & (self.since + 1 >= habits.visit_days)
        # a rule of a new month that forbids what is open is followed at once
        change = (worth & (best != place)) | ~held
        place = np.where(change, best, place)
        power, used, starved = power[place, rows], used[place, rows], starved[place, rows]
        still = stopped | ((power <= 0) & ~np.isnan(offered))
        frozen = (self.frozen & (not thaw)) | (cold & (still | (starved & habits.starved_freezes)))
        runs = ~still & ~frozen
        used = np.where(runs, used, 0.0)
        # what a day without a measurement left is not known: the pond is taken to be as it was
        left = self.stored_m3 if habits.pond_m3 == 0 else np.where(np.isnan(offered), self.stored_m3, np.minimum((offered - used) * DAY_S, habits.pond_m3))
        return _State(
            counts[place], np.where(change, 0, self.since + 1), np.where(stopped | frozen | np.isnan(taken), 0.0, taken),
            used, np.where(runs, power, 0.0), frozen, left,
        )  # fmt: skip


def _frost(habits: Habits, temperature: Any, index: pd.DatetimeIndex) -> tuple[np.ndarray, np.ndarray]:
    """Days that freeze a plant at rest, and days that thaw it."""
    if habits.freezes_below_degc == -np.inf:
        return np.zeros(len(index), dtype=bool), np.ones(len(index), dtype=bool)
    if temperature is None:
        raise HydrokitError("simulate_days(): a plant that freezes needs the daily air temperature")
    temperature = temperature.reindex(index) if isinstance(temperature, pd.Series) else temperature
    degc = np.asarray(temperature, dtype=float)
    if degc.shape != (len(index),) or np.isnan(degc).any():
        raise HydrokitError("simulate_days(): the air temperature must be known on every day of the record")
    ahead = pd.Series(degc[::-1]).rolling(habits.thaw_days, min_periods=1).mean().to_numpy()[::-1]
    return degc <= habits.freezes_below_degc, ahead > habits.thaws_above_degc


def _below_pond(chain: Chain) -> Chain:
    """The plant from the pond down: its curves are against the flow that leaves the pond."""
    return chain.replace(supply=(), states=tuple(state_of(told, chain.penstock) for told in chain.states))


def _to_pond(chain: Chain, month: int) -> Any:
    """What comes to the pond of a flow taken from the creek, in a month."""
    passage, limits = chain.replace(penstock=replace(chain.penstock, mouth=None)).reaching_si(month)
    most = min((float(limit) for limit in limits.values()), default=np.inf)
    return lambda taken: np.minimum(passage.leaves_si(taken), most)


def _tables(chain: Chain) -> dict[int, tuple[np.ndarray, list[PlantCurve]]]:
    """For each month: numbers of jets that may be open, and the curve of each."""
    tables = {}
    for months in chain.alike():
        running = chain.running(months[0])
        if running.rule is not None and not isinstance(running.rule, int):
            raise HydrokitError("simulate_days(): bands of jets remember nothing; leave the schedule open or hold a number of jets")
        counts = np.array(sorted({opening.count for opening in running.openings}))
        curves = [chain.curve(months[0], jets=int(count)) for count in counts]
        tables.update({month: (counts, curves) for month in months})
    return tables


def _evaluate(curves: list[PlantCurve], flow: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Power, flow used and whether starved, with the jets along the first axis; nothing where the flow is not known."""
    known = np.where(np.isnan(flow), 0.0, flow)
    power = np.stack([curve.power_si(known) for curve in curves])
    used = np.stack([curve.used_si(known) for curve in curves])
    return power, used, np.stack([curve.state_si(known) == STARVED for curve in curves])


def _month_blocks(month: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.r_[True, np.diff(month) != 0])
    return list(zip(edges, np.r_[edges[1:], len(month)]))
