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
from ..plant.curve import FULL, PART, STARVED, STOPPED, PlantCurve
from ..stream.record import WATER_YEAR, year_labels

__all__ = ["Days", "Habits", "simulate_days"]

DAY_S = 86400.0
_MOST_PHASES = 30  # of the days on which visits may fall


@dataclass(frozen=True, eq=False)
class Habits:
    """What ties one day to the next.

    Parameters
    ----------
    least_gain : float
        Jets are changed only for at least this share more power. 0: for any gain.
    visit_days : int
        Somebody comes every so many days, whether or not anything was changed the last time; jets
        are changed on those days only.
    ramp_m3s_per_day : float
        Most that the take from the creek may rise from one day to the next; after a stop it begins at
        0. It falls as the creek does: no rule holds back a fall for want of water.
    freezes_below_degc : float
        Daily mean air temperature at and below which a plant that stands still, or whose jets are
        starved, freezes; minus infinity: it never does.
    thaws_above_degc : float
        Daily mean above which a frozen plant runs again, the same day.
    thaw_days : int
        So many days together, that day and those before it, must be above it on average too: what is
        frozen thaws slowly, and nobody knows the days to come.
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
        if (
            self.least_gain < 0
            or self.visit_days < 1
            or self.thaw_days < 1
            or not self.ramp_m3s_per_day > 0
            or self.pond_m3 < 0
        ):
            raise HydrokitError(
                "Habits: least_gain and pond_m3 must be 0 or more, thaw_days and visit_days 1 or more, ramp_m3s_per_day above 0"
            )
        if self.thaws_above_degc < self.freezes_below_degc:
            raise HydrokitError(
                "Habits: it must thaw at a temperature no lower than that at which it freezes"
            )

    @property
    def change_at_once(self) -> bool:
        """Whether the jets follow each day's water, whatever was open before."""
        return self.least_gain == 0 and self.visit_days == 1

    @property
    def phases(self) -> np.ndarray:
        """Days of the record on which the first visit may fall, each alike: the year is a mean over them."""
        return np.unique(
            np.linspace(
                0, self.visit_days, min(self.visit_days, _MOST_PHASES), endpoint=False
            ).astype(int)
        )

    @property
    def ties_water(self) -> bool:
        """Whether the water that comes to the jets hangs on the days before: then days must be walked one by one."""
        return self.pond_m3 > 0 or bool(np.isfinite(self.ramp_m3s_per_day))


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
    state : ndarray of int
        `STOPPED` (no net power), `STARVED`, `PART` or `FULL`; -1 on a missing day.
    start_month : int
    """

    index: pd.DatetimeIndex
    power_w: np.ndarray
    used_m3s: np.ndarray
    jets_open: np.ndarray
    frozen: np.ndarray
    state: np.ndarray
    start_month: int

    def by_month(self, each_day: np.ndarray) -> np.ndarray:
        """Sums of something of each day, draws × years × 12 (or years × 12)."""
        label = year_labels(self.index, self.start_month)
        group = (label - label.min()) * 12 + np.asarray(self.index.month) - 1
        order = np.flatnonzero(np.r_[True, np.diff(group) != 0])
        table = np.zeros((*each_day.shape[:-1], (label.max() - label.min() + 1) * 12))
        table[..., group[order]] = np.add.reduceat(each_day, order, axis=-1)
        return table.reshape(*table.shape[:-1], -1, 12)

    @property
    def kwh(self) -> np.ndarray:
        """Energy in kWh, draws × years × 12 (or years × 12); a missing day counts nothing."""
        return self.by_month(np.nan_to_num(self.power_w) * 0.024)

    def met_kwh(self, demand_w: np.ndarray) -> np.ndarray:
        """The same of what a demand takes, in W on each day."""
        return self.by_month(np.minimum(np.nan_to_num(self.power_w), demand_w) * 0.024)

    def days_in(self, state: int) -> np.ndarray:
        """Days in a state, draws × years × 12 (or years × 12)."""
        return self.by_month((self.state == state).astype(float))

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
    first_visit: Any = 0,
    of_flow: Any = None,
    sketched: bool = False,
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
    first_visit : int or array of int
        Day of the record on which somebody first comes, counted from 0; an array makes a draw of
        each. The jets stand as they should on the first day of the record, visit or not.
    of_flow : array of int, optional
        Row of `usable` that each draw has, where many draws share a few records.
    sketched : bool
        Plant curves on a coarse grid, quicker to make: for the share of the energy that is lost, not
        for the energy.

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
        raise HydrokitError(
            "simulate_days(): an array of flows needs `index`, one date for each day"
        )
    flow = np.atleast_2d(np.asarray(usable, dtype=float))
    cold, thaw = _frost(habits, temperature_degc, index)
    stopped = np.zeros(len(index), dtype=bool) if stops is None else np.asarray(stops, dtype=bool)
    own = np.shape(usable) if of_flow is None else (len(of_flow), len(index))
    shape = np.broadcast_shapes(own, stopped.shape, (*np.shape(first_visit), 1))
    draws = len(np.atleast_2d(np.broadcast_to(0, shape)))
    row = np.broadcast_to(
        np.arange(len(flow)) if of_flow is None else np.asarray(of_flow, dtype=int), (draws,)
    )
    stopped = np.broadcast_to(stopped, (draws, len(index)))
    first = np.broadcast_to(np.asarray(first_visit, dtype=int), (draws,))
    tables = _tables(chain if habits.pond_m3 == 0 else _below_pond(chain), sketched)
    month = np.asarray(index.month)

    days = _Record((draws, len(index)))
    now = _State.at_start(draws, habits.pond_m3)
    for start, end in _month_blocks(month):
        counts, curves, most_w = tables[month[start]]
        block = flow[:, start:end]
        if not habits.ties_water:
            each = _evaluate(curves, block, most_w)
            place = (
                np.argmax(each[0], axis=0)[row]
                if habits.change_at_once
                else _as_visited(
                    now.jets, each[0], row, counts, habits, (first - start) % habits.visit_days
                )
            )
            each, block = (
                tuple(values[place, row[:, None], np.arange(end - start)] for values in each),
                block[row],
            )
            whole = now.following(
                block,
                each,
                place,
                counts,
                habits,
                stopped[:, start:end],
                cold[start:end],
                thaw[start:end],
            )
            days.write(slice(start, end), whole, block)
            now = whole.evening(-1)
            continue
        passes = _to_pond(chain, month[start]) if habits.pond_m3 > 0 else None
        for day in range(start, end):
            taken = np.minimum(flow[row, day], now.taken + habits.ramp_m3s_per_day)
            offered = taken if passes is None else passes(taken) + now.stored_m3 / DAY_S
            each = _evaluate(curves, offered, most_w)
            visited = (first - day) % habits.visit_days == 0
            now = now.next(
                taken,
                offered,
                each,
                counts,
                habits,
                visited,
                stopped[:, day],
                bool(cold[day]),
                bool(thaw[day]),
            )
            days.write(day, now, flow[row, day])
    return Days(
        index,
        *(
            values.reshape(shape)
            for values in (days.power, days.used, days.jets, days.frozen, days.state)
        ),
        start_month,
    )


def _as_visited(
    jets: np.ndarray,
    power: np.ndarray,
    row: np.ndarray,
    counts: np.ndarray,
    habits: Habits,
    first: np.ndarray,
) -> np.ndarray:
    """Which number of jets is open on each day of a month, where only visits change it: draws × days.

    Parameters
    ----------
    jets : ndarray
        Open the day before, one entry a draw.
    power : ndarray
        Numbers of jets × records × days.
    row : ndarray of int
        Record of each draw.
    first : ndarray of int
        Day of the month's first visit, one a draw.
    """
    draws, length = len(jets), power.shape[-1]
    each = np.arange(draws)
    now = np.minimum(np.searchsorted(counts, jets), len(counts) - 1)
    # a rule of a new month that forbids what is open is followed at once
    now = np.where(counts[now] == jets, now, np.argmax(power[:, row, 0], axis=0))
    place, seen = np.zeros((draws, length), dtype=int), np.zeros((draws, length), dtype=int)
    place[:, 0] = now
    for turn in range(-(-length // habits.visit_days)):
        day = first + turn * habits.visit_days
        comes = day < length
        day = np.minimum(day, length - 1)
        found = power[:, row, day]
        best = np.argmax(found, axis=0)
        now = np.where(
            comes & (found[best, each] > found[now, each] * (1 + habits.least_gain)), best, now
        )
        place[each[comes], day[comes]], seen[each[comes], day[comes]] = now[comes], day[comes]
    return np.take_along_axis(place, np.maximum.accumulate(seen, axis=1), axis=1)


@dataclass(eq=False)
class _Record:
    shape: tuple[int, int]

    def __post_init__(self) -> None:
        self.power, self.used = np.empty(self.shape), np.empty(self.shape)
        self.jets, self.frozen, self.state = (
            np.empty(self.shape, dtype=np.int16),
            np.empty(self.shape, dtype=bool),
            np.empty(self.shape, dtype=np.int8),
        )

    def write(self, day: int | slice, now: _State, flow: np.ndarray) -> None:
        unknown = np.isnan(flow)
        self.power[:, day] = np.where(unknown, np.nan, now.power)
        self.used[:, day] = np.where(unknown, np.nan, now.used)
        self.jets[:, day], self.frozen[:, day] = np.where(now.power > 0, now.jets, 0), now.frozen
        self.state[:, day] = np.where(unknown, -1, np.where(now.power > 0, now.state, STOPPED))


@dataclass(frozen=True, eq=False)
class _State:
    """What a day hands to the next, one entry a draw."""

    jets: np.ndarray
    taken: np.ndarray  # from the creek: while the plant waits for enough water too
    used: np.ndarray
    power: np.ndarray
    frozen: np.ndarray
    stored_m3: np.ndarray  # in the pond in the evening
    state: np.ndarray

    def following(
        self,
        flow: np.ndarray,
        each,
        place: np.ndarray,
        counts: np.ndarray,
        habits: Habits,
        stopped: np.ndarray,
        cold: np.ndarray,
        thaw: np.ndarray,
    ) -> _State:
        """Many days at once, of which nothing but frost asks what was before; `each` is of the jets that are open."""
        power, used, state = each
        nothing = (power <= 0) & ~np.isnan(flow)
        # frozen since the last day that froze it, unless one that thaws it has come after
        seizes = cold & (stopped | nothing | ((state == STARVED) & habits.starved_freezes))
        day = np.arange(1, len(cold) + 1)
        seized = np.maximum.accumulate(np.where(seizes, day, 0), axis=-1)
        thawed = np.maximum.accumulate(np.where(thaw & ~seizes, day, 0), axis=-1)
        frozen = (seized > thawed) | (self.frozen[:, None] & (thawed == 0))
        runs = ~stopped & ~frozen & (power > 0)
        taken = np.where(stopped | frozen | np.isnan(flow), 0.0, flow)
        return _State(
            counts[place],
            taken,
            np.where(runs, used, 0.0),
            np.where(runs, power, 0.0),
            frozen,
            np.zeros(stopped.shape),
            state,
        )

    def evening(self, day: int) -> _State:
        """One of many days."""
        return _State(*(values[:, day] for values in vars(self).values()))

    @classmethod
    def at_start(cls, draws: int, pond_m3: float) -> _State:
        # no take before the first day limits it
        nothing = np.zeros(draws)
        return cls(
            np.zeros(draws, int),
            np.full(draws, np.inf),
            nothing,
            nothing,
            np.zeros(draws, bool),
            np.full(draws, pond_m3),
            np.zeros(draws, int),
        )

    def next(
        self,
        taken: np.ndarray,
        offered: np.ndarray,
        each,
        counts: np.ndarray,
        habits: Habits,
        visited: np.ndarray,
        stopped: np.ndarray,
        cold: bool,
        thaw: bool,
    ) -> _State:
        power, used, state = each
        best = np.argmax(power, axis=0)
        rows = np.arange(power.shape[1])
        place = np.minimum(np.searchsorted(counts, self.jets), len(counts) - 1)
        held = counts[place] == self.jets
        current = np.where(held, power[place, rows], 0.0)
        worth = (power[best, rows] > current * (1 + habits.least_gain)) & visited
        # a rule of a new month that forbids what is open is followed at once
        place = np.where((worth & (best != place)) | ~held, best, place)
        power, used, state = power[place, rows], used[place, rows], state[place, rows]
        still = stopped | ((power <= 0) & ~np.isnan(offered))
        frozen = (self.frozen & (not thaw)) | (
            cold & (still | ((state == STARVED) & habits.starved_freezes))
        )
        runs = ~still & ~frozen
        used = np.where(runs, used, 0.0)
        # what a day without a measurement left is not known: the pond is taken to be as it was
        left = (
            self.stored_m3
            if habits.pond_m3 == 0
            else np.where(
                np.isnan(offered),
                self.stored_m3,
                np.minimum((offered - used) * DAY_S, habits.pond_m3),
            )
        )
        return _State(
            counts[place],
            np.where(stopped | frozen | np.isnan(taken), 0.0, taken),
            used,
            np.where(runs, power, 0.0),
            frozen,
            left,
            state,
        )


def _frost(
    habits: Habits, temperature: Any, index: pd.DatetimeIndex
) -> tuple[np.ndarray, np.ndarray]:
    """Days that freeze a plant at rest, and days that thaw it."""
    if habits.freezes_below_degc == -np.inf:
        return np.zeros(len(index), dtype=bool), np.ones(len(index), dtype=bool)
    if temperature is None:
        raise HydrokitError("simulate_days(): a plant that freezes needs the daily air temperature")
    temperature = temperature.reindex(index) if isinstance(temperature, pd.Series) else temperature
    degc = np.asarray(temperature, dtype=float)
    if degc.shape != (len(index),) or np.isnan(degc).any():
        raise HydrokitError(
            "simulate_days(): the air temperature must be known on every day of the record"
        )
    lately = pd.Series(degc).rolling(habits.thaw_days, min_periods=1).mean().to_numpy()
    return degc <= habits.freezes_below_degc, np.minimum(lately, degc) > habits.thaws_above_degc


def _below_pond(chain: Chain) -> Chain:
    """The plant from the pond down: its curves are against the flow that leaves the pond."""
    return chain.replace(
        supply=(), states=tuple(state_of(told, chain.penstock) for told in chain.states)
    )


def _to_pond(chain: Chain, month: int) -> Any:
    """What comes to the pond of a flow taken from the creek, in a month."""
    passage, limits = chain.replace(penstock=replace(chain.penstock, mouth=None)).reaching_si(month)
    most = min((float(limit) for limit in limits.values()), default=np.inf)
    return lambda taken: np.minimum(passage.leaves_si(taken), most)


def _tables(chain: Chain, sketched: bool) -> dict[int, tuple[np.ndarray, list[PlantCurve], float]]:
    """For each month: numbers of jets that may be open, the curve of each, and the greatest power of all."""
    tables = {}
    for months in chain.alike():
        running = chain.running(months[0])
        if running.rule is not None and not isinstance(running.rule, int):
            raise HydrokitError(
                "simulate_days(): bands of jets remember nothing; leave the schedule open or hold a number of jets"
            )
        counts = np.array(sorted({opening.count for opening in running.openings}))
        curves = [chain.curve(months[0], int(count), sketched) for count in counts]
        tables.update(
            {month: (counts, curves, max(curve.rated_w for curve in curves)) for month in months}
        )
    return tables


def _evaluate(
    curves: list[PlantCurve], flow: np.ndarray, most_w: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Power, flow used and state, with the jets along the first axis; nothing where the flow is not known."""
    known = np.where(np.isnan(flow), 0.0, flow)
    power, used, state = (
        np.empty((len(curves), *known.shape), dtype=kind) for kind in (float, float, np.int8)
    )
    for row, curve in enumerate(curves):
        node, along = curve.place_si(known)
        after = np.minimum(node + 1, len(curve.flow_m3s) - 1)
        power[row], used[row] = (
            values[node] + along * (values[after] - values[node])
            for values in (curve.power_w, curve.used_m3s)
        )
        state[row] = curve.state[node]
        if curve.rated_w < most_w * (1 - 1e-9):
            state[row][state[row] == FULL] = (
                PART  # these jets are fed, but with more open there is more to be had
            )
    return power, used, state


def _month_blocks(month: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.r_[True, np.diff(month) != 0])
    return list(zip(edges, np.r_[edges[1:], len(month)]))
