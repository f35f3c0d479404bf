"""Operating losses: the year without memory against the same days walked one by one.

>>> import numpy as np, pandas as pd
>>> from hydrokit.energy.habits import Habits
>>> from hydrokit.energy.memory import remember
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)))
>>> dates = pd.date_range("2020-10-01", "2021-09-30")
>>> usable = pd.Series(0.008 + 0.006 * np.cos(2 * np.pi * np.arange(365) / 365) + 0.001 * (np.arange(365) % 2), dates)
>>> found = remember(usable, plant, Habits(visit_days=14))
>>> bool(0 < found.cost_kwh["jets"].sum() < 0.1 * found.free_kwh.sum())
True
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain
from ..plant.curve import FULL, PART, STOPPED, UNDER_FED
from ..stream.days import days_of
from ..stream.record import WATER_YEAR, year_labels
from .days import Days, simulate_days
from .habits import Habits, freezes
from .weights import MONTHS, counted_months, steps_of
from .year import Outages
from .year_power import demand_of_steps

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["Added", "Remembered", "StopCosts", "remember", "stop_costs"]

DRAWS = 60  # of every winter on record


@dataclass(frozen=True, eq=False)
class Added:
    """What the days of a walk add up to, by year and month (years × 12), the mean over its draws;
    stops of other kinds not counted.

    Parameters
    ----------
    kwh : ndarray
    met_kwh : ndarray or None
        As far as the demand takes it.
    days : dict of int to ndarray
        Days in each state of the plant curve.
    """

    kwh: np.ndarray
    met_kwh: np.ndarray | None
    days: dict[int, np.ndarray]

    @classmethod
    def of(cls, days: Days, demand_w: np.ndarray | None) -> Added:
        """The days of one walk or of many."""

        def mean(table: np.ndarray) -> np.ndarray:
            return table.reshape(-1, *table.shape[-2:]).mean(axis=0)

        met = None if demand_w is None else mean(days.met_kwh(demand_w))
        return cls(
            mean(days.kwh),
            met,
            {state: mean(days.days_in(state)) for state in (STOPPED, UNDER_FED, PART, FULL)},
        )

    def less(self, more: Added, fewer: Added) -> Added:
        """Without what `more` has and `fewer` has not."""
        met = None
        if self.met_kwh is not None and more.met_kwh is not None and fewer.met_kwh is not None:
            met = self.met_kwh - (more.met_kwh - fewer.met_kwh)
        return Added(
            self.kwh - (more.kwh - fewer.kwh),
            met,
            {
                state: each - (more.days[state] - fewer.days[state])
                for state, each in self.days.items()
            },
        )


@dataclass(frozen=True, eq=False)
class Remembered:
    """The years of a record with and without what ties their days together.

    Parameters
    ----------
    free : Added
        Each day by itself, the jets always as they are best.
    water : Added
        The same, a ramp of the rights counted.
    kept : Added
        What is left with all habits.
    free_kwh : ndarray of 12
        Energy of the mean year by month, nothing remembered; stops of other kinds taken off, as in
        all that follows.
    cost_kwh : dict of str to ndarray of 12
        Lost to each memory on top of those before it: ``"ramp"``, ``"jets"``, ``"pond"`` (below zero
        where it brings energy), ``"frost"``; only those that the habits hold. They add up.
    years_kwh : ndarray
        Lost to frost in each whole year of each draw of the stops; empty without frost.
    frozen_days : float
        Days lost to frost in a mean year.
    stops : float
        Stops in frost drawn in a mean year.
    changes, free_changes : float
        How often the jets are changed in a mean year, with the habits and without.
    """

    free: Added
    water: Added
    kept: Added
    _: KW_ONLY
    free_kwh: np.ndarray
    cost_kwh: dict[str, np.ndarray]
    years_kwh: np.ndarray
    frozen_days: float
    stops: float
    changes: float
    free_changes: float

    @property
    def lost_kwh(self) -> np.ndarray:
        """Lost to all of them, by month."""
        return sum(self.cost_kwh.values(), np.zeros(12))


@dataclass(frozen=True, eq=False)
class StopCosts:
    """What one stop costs that lasts until it thaws, by the month it comes in, January first.

    Parameters
    ----------
    days, days_long : ndarray of 12
        Days lost: half of the stops cost more; one in ten does. NaN in a month without frost.
    kwh, kwh_long, kwh_most : ndarray of 12
        The same of the energy not made, and the most on record.
    frosty : ndarray of 12
        Share of the month's days on which a stop freezes.
    """

    days: np.ndarray
    days_long: np.ndarray
    kwh: np.ndarray
    _: KW_ONLY
    kwh_long: np.ndarray
    kwh_most: np.ndarray
    frosty: np.ndarray

    @property
    def worst_month(self) -> int | None:
        """1 to 12, or None where no stop freezes."""
        return int(np.nanargmax(self.kwh_long)) + 1 if np.isfinite(self.kwh_long).any() else None


def remember(
    usable: pd.Series,
    chain: Chain,
    habits: Habits,
    temperature_degc: pd.Series | None = None,
    stops_a_year: float = 0.0,
    outages: Outages | None = None,
    draws: int = DRAWS,
    seed: int = 1,
    start_month: int = WATER_YEAR,
    demand_w: Number | pd.Series | None = None,
) -> Remembered:
    """The mean year without memory, and what each memory takes from it.

    Parameters
    ----------
    usable : pandas.Series
        Usable flow in m³/s, daily, a ramp of the rights not yet counted.
    chain : Chain
    habits : Habits
        Visits fall on any day alike: the mean over the phases in which they may come.
    temperature_degc : Series or array, optional
        Daily mean air temperature in °C; needed where anything freezes.
    stops_a_year : float
        Stops on frosty days in a mean year: air locks, frazil, trips of the breaker. Each comes on
        any frosty day alike. Their first day is not counted against the frost: it is a stop like
        others, part of the unplanned share of `outages`.
    outages : Outages, optional
    draws : int
        Of the days of the stops.
    seed : int
    start_month : int
    demand_w : float, 12 floats or Series, optional
        As in ``year.annual_energy``.

    Returns
    -------
    Remembered
        Memories are added one after the other, so that what they cost adds up.
    """
    weight = _Mean.of(usable, outages, start_month)
    demand = None if demand_w is None else demand_of_steps(demand_w, usable)
    free = simulate_days(usable, chain, None, start_month=start_month)
    freed = water = kept = Added.of(free, demand)
    cost, walked, held = {}, free, Habits()
    one_by_one: tuple[tuple[str, dict[str, Any]], ...] = (
        ("ramp", {"ramp_m3s_per_day": habits.ramp_m3s_per_day}),
        ("jets", {"least_gain": habits.least_gain, "visit_days": habits.visit_days}),
        ("pond", {"pond_m3": habits.pond_m3}),
    )
    for name, added in one_by_one:
        before, held = held, replace(held, **added)
        if vars(held) == vars(before):
            continue
        walked = simulate_days(
            usable, chain, held, start_month=start_month, first_visit=held.phases
        )
        found = Added.of(walked, demand)
        cost[name] = weight.monthly(kept.kwh) - weight.monthly(found.kwh)
        kept, water = found, found if name == "ramp" else water
    years, frozen_days, stops = np.empty(0), 0.0, None
    if habits.freezes:
        stops = drawn_stops(
            days_of(usable),
            temperature_degc,
            habits.freezes_below_degc,
            stops_a_year,
            draws,
            seed,
            start_month,
        )
        phase = np.arange(len(stops)) % len(habits.phases)
        same = np.atleast_2d(walked.power_w).shape[0] == 1
        power, state = (
            np.atleast_2d(each)[0 if same else phase] for each in (walked.power_w, walked.state)
        )
        day_only = replace(
            walked, power_w=np.where(stops, 0.0, power), state=np.where(stops, STOPPED, state)
        )  # of no consequence the day after
        until_thaw = simulate_days(
            usable,
            chain,
            habits,
            temperature_degc,
            stops,
            start_month=start_month,
            first_visit=habits.phases[phase],
        )
        lost = weight.yearly(day_only) - weight.yearly(until_thaw)
        more, fewer = Added.of(day_only, demand), Added.of(until_thaw, demand)
        cost["frost"] = weight.monthly(more.kwh) - weight.monthly(fewer.kwh)
        kept = kept.less(more, fewer)
        years, frozen_days = lost, float((until_thaw.frozen & ~stops).mean() * 365.25)
    whole = len(usable) / 365.25
    return Remembered(
        freed,
        water,
        kept,
        free_kwh=weight.monthly(freed.kwh),
        cost_kwh=cost,
        years_kwh=years,
        frozen_days=frozen_days,
        stops=0.0 if stops is None else float(stops.sum(axis=1).mean() / whole),
        changes=float(np.mean(walked.changes)) / whole,
        free_changes=float(np.mean(free.changes)) / whole,
    )


def stop_costs(
    usable: pd.Series,
    chain: Chain,
    habits: Habits,
    temperature_degc: pd.Series,
    outages: Outages | None = None,
    start_month: int = WATER_YEAR,
) -> StopCosts:
    """What one stop costs in each month, tried on each of its frosty days in every year of the record.

    Parameters
    ----------
    usable : pandas.Series
    chain : Chain
    habits : Habits
        Their frost; what else they hold is left out.
    temperature_degc : Series or array
        Daily mean air temperature in °C.
    outages : Outages, optional
        Energy that would not have been made anyway is not lost.
    start_month : int

    Returns
    -------
    StopCosts
        Against the plant without the stop: its first day is counted too.
    """
    frost = habits.only_frost
    index, weight = days_of(usable), _Mean.of(usable, outages, start_month)
    cold = freezes(_degc(index, temperature_degc), habits.freezes_below_degc)
    month, day = np.asarray(index.month), np.asarray(index.day)
    tried = [(m, d) for m in MONTHS.tolist() if cold[month == m].any() for d in range(1, 32)]
    nothing = np.full(12, np.nan)
    frosty = np.array([cold[month == m].mean() if (month == m).any() else 0.0 for m in MONTHS])
    if not tried:
        return StopCosts(
            days=nothing,
            days_long=nothing,
            kwh=nothing,
            kwh_long=nothing,
            kwh_most=nothing,
            frosty=frosty,
        )
    stops = np.array([(month == m) & (day == d) & cold for m, d in tried])
    free = simulate_days(usable, chain, frost.without_frost, start_month=start_month)
    # a plant that stands for want of water freezes of itself: that is no doing of the stop
    still = simulate_days(usable, chain, frost, temperature_degc, start_month=start_month)
    stopped = _with_stops(usable, chain, frost, temperature_degc, stops, start_month)
    lost_kwh = weight.yearly(still) - weight.yearly(stopped)
    lost_days = weight.yearly_days(
        (stopped.power_w == 0) & (free.power_w > 0) & (still.power_w > 0)
    )
    happened = weight.yearly_days(stops) > 0
    found = np.full((5, 12), np.nan)
    of_month = np.array([m for m, _ in tried])
    for m in np.unique(of_month):
        rows = of_month == m
        days, kwh = lost_days[rows][happened[rows]], lost_kwh[rows][happened[rows]]
        if len(days):
            found[:, m - 1] = (
                *np.quantile(days, [0.5, 0.9]),
                *np.quantile(kwh, [0.5, 0.9]),
                kwh.max(),
            )
    days, days_long, kwh, kwh_long, kwh_most = found
    return StopCosts(
        days=days,
        days_long=days_long,
        kwh=kwh,
        kwh_long=kwh_long,
        kwh_most=kwh_most,
        frosty=frosty,
    )


# --- helpers --------------------------------------------------------------------------------


def _degc(index: pd.DatetimeIndex, temperature: pd.Series) -> np.ndarray:
    return (
        temperature.reindex(index)
        if isinstance(temperature, pd.Series)
        else pd.Series(temperature, index)
    ).to_numpy(dtype=float)


def drawn_stops(
    index: pd.DatetimeIndex,
    temperature: pd.Series | None,
    freezes_degc: float,
    a_year: float,
    draws: int,
    seed: int,
    start_month: int,
) -> np.ndarray:
    """Days of stops, draws × days: on frosty days only, each alike, and as evenly over the draws as
    may be."""
    if temperature is None:
        raise HydrokitError("remember(): a plant that freezes needs the daily air temperature")
    cold = freezes(_degc(index, temperature), freezes_degc)
    chance = min(a_year * len(index) / 365.25 / max(int(cold.sum()), 1), 1.0)
    rng = np.random.default_rng(seed)
    ranks = rng.permuted(np.broadcast_to(np.arange(draws)[:, None], (draws, len(index))), axis=0)
    return ((ranks + rng.random((draws, len(index)))) / draws < chance) & cold


def _with_stops(
    usable: pd.Series,
    chain: Chain,
    habits: Habits,
    temperature: Any,
    stops: np.ndarray,
    start_month: int,
) -> Days:
    """Many runs that differ in their stops; where none stops at all, one."""
    return simulate_days(
        usable,
        chain,
        habits,
        temperature,
        stops if stops.any() else stops[:1],
        start_month=start_month,
    )


@dataclass(frozen=True, eq=False)
class _Mean:
    """How days add up to the mean year: those of whole years, stops by their share of the time taken off."""

    counted: np.ndarray  # years × 12
    running: np.ndarray  # by month
    place: np.ndarray  # of each day in the years
    _: KW_ONLY
    whole: np.ndarray  # of the years
    month: np.ndarray

    @classmethod
    def of(cls, usable: pd.Series, outages: Outages | None, start_month: int) -> _Mean:
        steps = steps_of(usable, start_month)
        counted = counted_months(steps.complete)
        if not counted.any(axis=0).all():
            raise HydrokitError(
                "remember(): the record does not hold every month of a year whole, so there is no mean year"
            )
        label = year_labels(days_of(usable), start_month)
        return cls(
            counted,
            (Outages() if outages is None else outages).running,
            label - label.min(),
            whole=np.all(counted, axis=1),
            month=steps.month,
        )

    def monthly(self, kwh: np.ndarray) -> np.ndarray:
        """Mean energy of each month, of a table of years × 12."""
        return (
            np.where(self.counted, kwh, 0.0).sum(axis=0) / self.counted.sum(axis=0) * self.running
        )

    def yearly(self, days: Days) -> np.ndarray:
        """Energy of each whole year, draws × years."""
        return (days.kwh * self.running).sum(axis=-1).reshape(-1, len(self.whole))[:, self.whole]

    def yearly_days(self, where: np.ndarray) -> np.ndarray:
        """Days marked true in each whole year, draws × years."""
        marked = np.atleast_2d(where)
        starts = np.flatnonzero(np.r_[True, np.diff(self.place) != 0])
        return np.add.reduceat(marked, starts, axis=-1, dtype=int)[
            :, self.whole[self.place[starts]]
        ]
