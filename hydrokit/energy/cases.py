"""Cases: a plant with its water and its stops, the changes made to it, and what it is then worth."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from typing import TYPE_CHECKING, Any, Callable, Iterable, Mapping

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain
from ..result import Result
from ..stream.days import days_of
from ..stream.months import DAYS_OF_MONTHS
from ..stream.record import WATER_YEAR
from ..stream.rights import Rights
from .lattice import Factors
from .uncertain_inputs import PLANT, SOURCES, Uncertainties
from .weights import WINTER, counted_months, steps_of
from .year import Outages
from .year_power import demand_of_steps

if TYPE_CHECKING:
    from ..units import Number

__all__ = [
    "Case",
    "Taken",
    "Upgrade",
    "World",
    "add_water",
    "by_flow",
    "close_jets",
    "draw_worlds",
    "watts",
    "year_kwh",
]


@dataclass(frozen=True, eq=False)
class Case(Result):
    """A plant with its water and its stops: all that a change can touch.

    Parameters
    ----------
    chain : Chain
    usable : pandas.Series, mapping of month to float, or Taken
        Usable flow in m³/s on the days of a record, or one flow for each month that is known; or
        what gives it for any plant, where the rights look back.
    outages : Outages
    brought_m3s : ndarray of 12 or None
        Water led in from elsewhere by month, above the intake.
    jets_set : tuple of int
        Months in which a change sets the jets by what is fed, whatever habit left open before.
    """

    chain: Chain
    usable: Any
    outages: Outages = field(default_factory=Outages)
    _: KW_ONLY
    brought_m3s: np.ndarray | None = None
    jets_set: tuple[int, ...] = ()

    @property
    def water(self) -> Any:
        """Usable flow as this plant takes it, without what is brought from elsewhere: a Series or a
        mapping."""
        return self.usable.by(self.chain) if isinstance(self.usable, Taken) else self.usable


@dataclass(frozen=True, eq=False)
class Taken:
    """Usable flow under a yearly volume or a ramp: what a plant cannot take uses none of it up, so
    each has its own.

    Parameters
    ----------
    natural : pandas.Series
        Natural flow in m³/s.
    rights : Rights
    brought : tuple of (float, tuple of int)
        Water from elsewhere in m³/s, and the months in which it comes.
    """

    natural: pd.Series
    rights: Rights
    brought: tuple[tuple[float, tuple[int, ...]], ...] = ()
    _: KW_ONLY
    _known: dict[bytes, pd.Series] = field(default_factory=dict)

    def by(self, chain: Chain) -> pd.Series:
        """As a plant takes it; the same series for plants that take alike."""
        most = chain.most_taken()
        key = most.tobytes()
        if key not in self._known:
            usable = self.rights.usable_series(self.natural, most)
            for flow, months in self.brought:
                usable = add_water(usable, flow, months)
            self._known[key] = usable
        return self._known[key]


@dataclass(frozen=True, eq=False)
class Upgrade(Result):
    """A change.

    Parameters
    ----------
    name : str
    apply : callable
        :class:`Case` to the case with the change made.
    cost_money : float
        Nothing for a change of habit.
    life_years : float or None
        None: that of the plant.
    months : tuple of int
        In which it acts, for the reader; `apply` sees to it.
    needs : tuple of str
        Other changes it makes no sense without; they come with it.
    handling : bool
        It changes how the plant is run, not what it is made of, and is applied after all others.
    kind : str
        What it changes. Changes of one kind take each other's place, so that no pair is looked for
        among them; empty: a kind of its own.
    sizes : tuple of (str, str, value, str)
        What is bought, for the reader: key, name, value in SI, and the kind it is shown as.
    """

    name: str
    apply: Callable[[Case], Case]
    cost_money: float = 0.0
    _: KW_ONLY
    life_years: float | None = None
    months: tuple[int, ...] = ()
    needs: tuple[str, ...] = ()
    handling: bool = False
    kind: str = ""
    sizes: tuple[tuple[str, str, Any, str], ...] = ()


@dataclass(frozen=True, eq=False)
class World:
    """One way the unknown may truly be; see ``plant.chain.Chain.factors``.

    Parameters
    ----------
    factors : mapping of str to float
        Of head, loss, efficiency and jet area. They hold for new parts as for old.
    usable : Series, mapping or None
        Usable flow in this world before any change; None where the flow is certain.
    """

    factors: Mapping[str, float] = field(default_factory=dict)
    usable: Any = None


_RECORDS = 64  # kept taken apart at once


# --- what a case is worth -------------------------------------------------------------------


def year_kwh(
    demand_w: Number | pd.Series | None = None,
    winter: tuple[int, ...] = WINTER,
    start_month: int = WATER_YEAR,
    kept: Callable[[Case], tuple[object, object]] | None = None,
) -> Callable[[Case], dict[str, float]]:
    """Worth of a case with a daily record: ``kwh``, ``winter_kwh`` and, with a demand,
    ``useful_kwh``, ``useful_winter_kwh`` of a mean year.

    Parameters
    ----------
    demand_w : float, 12 floats or Series, optional
        As in ``year.annual_energy``, whose means these are, worked out day by day.
    winter : tuple of int
    start_month : int
    kept : callable, optional
        :class:`Case` to the shares of each month's energy, and of what the demand takes of it, that
        are left by the way the plant is run.

    Returns
    -------
    callable
        :class:`Case` to a dict of numbers. Days are taken apart once for each record.
    """
    known: dict[int, _Days] = {}

    def days_of(usable: pd.Series) -> _Days:
        found = known.pop(id(usable), None)
        if found is None:
            steps = steps_of(usable, start_month)
            demand = None if demand_w is None else demand_of_steps(demand_w, usable)
            counted = counted_months(steps.complete)
            if not counted.any(axis=0).all():
                raise HydrokitError(
                    "changes are weighed over a mean year, and the record lacks at least one month of it"
                )
            found = _Days(usable, steps, demand, counted=counted)
        known[id(usable)] = found  # the last asked for stands last
        if len(known) > _RECORDS:
            known.pop(next(iter(known)))
        return found

    def evaluate(case: Case) -> dict[str, float]:
        days = days_of(case.water)
        steps, counted, power = days.steps, days.counted, days.power_w(case)

        def monthly(each: np.ndarray) -> np.ndarray:
            kwh = (
                np.bincount(steps.group, each, len(steps.years) * 12).reshape(-1, 12)
                * steps.step_hours
                / 1000
            )
            return (kwh * counted).sum(axis=0) / counted.sum(axis=0) * case.outages.running

        made, met = (1.0, 1.0) if kept is None else kept(case)
        kwh = monthly(power) * made
        found = {"kwh": float(kwh.sum()), "winter_kwh": float(kwh[np.array(winter) - 1].sum())}
        if days.demand_w is not None:
            useful = monthly(np.minimum(power, days.demand_w)) * met
            found |= {
                "useful_kwh": float(useful.sum()),
                "useful_winter_kwh": float(useful[np.array(winter) - 1].sum()),
            }
        return found

    return evaluate


@dataclass(eq=False)
class _Days:
    """A record taken apart, with the flows that differ in each group of months: many days are alike."""

    usable: pd.Series  # held, so that its id stays its own
    steps: Any
    demand_w: np.ndarray | None
    _: KW_ONLY
    counted: np.ndarray
    groups: dict[tuple[int, ...], tuple[np.ndarray, np.ndarray, np.ndarray]] = field(
        default_factory=dict
    )

    def power_w(self, case: Case) -> np.ndarray:
        power = np.zeros(len(self.steps.flow))
        for months in case.chain.alike():
            if months not in self.groups:
                inside = np.flatnonzero(
                    np.isin(self.steps.month, months) & np.isfinite(self.steps.flow)
                )
                self.groups[months] = (
                    inside,
                    *np.unique(self.steps.flow[inside], return_inverse=True),
                )
            inside, flow, place = self.groups[months]
            if case.brought_m3s is not None and np.any(case.brought_m3s):
                power[inside] = case.chain.at_si(
                    self.steps.flow[inside] + case.brought_m3s[self.steps.month[inside] - 1],
                    months[0],
                ).power_w
            else:
                power[inside] = case.chain.at_si(flow, months[0]).power_w[place]
        return power


HOURS = 24 * np.array(DAYS_OF_MONTHS)


def watts(
    winter: tuple[int, ...] = WINTER,
    demand_w: Mapping[int, Number] | None = None,
    power: Callable[[Case], Mapping[int, tuple[float, float]]] | None = None,
) -> Callable[[Case], dict[str, float]]:
    """Worth of a case that knows one flow for some months: ``mean_w``, ``winter_w``, ``lowest_w``
    and ``w_1`` to ``w_12``.

    Parameters
    ----------
    winter : tuple of int
    demand_w : mapping of month to float or array, optional
        Power that can be used, as one number or as that of the days of the month; with it
        ``useful_w`` and ``useful_winter_w``: power beyond the demand of a day counts for nothing.
    power : callable, optional
        :class:`Case` to the power of each month while it runs, and the share of the time it does;
        :func:`by_flow` when not given.

    Returns
    -------
    callable
        :class:`Case` to a dict of numbers. Means are over the months that are known, stops taken
        off; winter means stand only where a winter month is known. Where all twelve are known there
        are ``kwh``, ``winter_kwh``, ``useful_kwh`` and ``useful_winter_kwh`` of a year too.
    """
    cold = [month for month in winter]

    def told(name: str, by_month: Mapping[int, float]) -> dict[str, float]:
        found = {f"{name}w" if name else "mean_w": float(np.mean(list(by_month.values())))}
        inside = [by_month[month] for month in cold if month in by_month]
        if inside:
            found[f"{name}winter_w"] = float(np.mean(inside))
        if len(by_month) == 12:
            kwh = {month: each * HOURS[month - 1] / 1000 for month, each in by_month.items()}
            found |= {
                f"{name}kwh": float(sum(kwh.values())),
                f"{name}winter_kwh": float(sum(kwh[month] for month in cold)),
            }
        return found

    def evaluate(case: Case) -> dict[str, float]:
        running = (by_flow if power is None else power)(case)
        by_month = {month: watt * share for month, (watt, share) in running.items()}
        found = told("", by_month) | {"lowest_w": float(min(by_month.values()))}
        if demand_w is not None:
            found |= told(
                "useful_",
                {
                    month: float(np.mean(np.minimum(watt, demand_w[month]))) * share
                    for month, (watt, share) in running.items()
                },
            )
        return found | {f"w_{month}": each for month, each in by_month.items()}

    return evaluate


def by_flow(case: Case) -> dict[int, tuple[float, float]]:
    """Power of a case at the one flow that is known of each month, and the share of the time it runs."""
    brought = np.zeros(12) if case.brought_m3s is None else case.brought_m3s
    return {
        month: (
            float(case.chain.at_si(flow + brought[month - 1], month).power_w),
            float(case.outages.running[month - 1]),
        )
        for month, flow in sorted(case.usable.items())
    }


# --- changes that are easily got wrong ------------------------------------------------------


def close_jets(chain: Chain, jets: int, months: Iterable[int]) -> Chain:
    """The plant with so many of its jets shut in some months, whatever comes.

    Raises
    ------
    HydrokitError
        More jets than the plant has, or all of them.
    """
    total = max(opening.count for opening in chain.jets.openings())
    if not 0 < jets < total:
        raise HydrokitError(
            f"{chain.jets.name}: {jets} of {total} cannot be shut and leave one open"
        )
    schedule = list(chain.schedule)
    for month in months:
        schedule[month - 1] = total - jets
    return chain.replace(schedule=tuple(schedule))


def add_water(usable: Any, flow_m3s: float, months: Iterable[int] = tuple(range(1, 13))) -> Any:
    """Usable flow with water brought in from elsewhere in some months; a gap stays a gap."""
    months = tuple(months)
    if isinstance(usable, Taken):
        return Taken(usable.natural, usable.rights, (*usable.brought, (flow_m3s, months)))
    if isinstance(usable, pd.Series):
        return usable + flow_m3s * np.isin(days_of(usable).month, months)
    return {month: flow + flow_m3s * (month in months) for month, flow in usable.items()}


# --- worlds ---------------------------------------------------------------------------------


def draw_worlds(
    uncertainties: Uncertainties,
    count: int = 40,
    seed: int = 1,
    natural: pd.Series | Mapping[int, float] | None = None,
    rights: Rights | None = None,
) -> tuple[World, ...]:
    """Worlds drawn from what is not known of plant and creek.

    Parameters
    ----------
    uncertainties : Uncertainties
    count : int
    seed : int
        The same seed gives the same worlds.
    natural : pandas.Series or mapping of month to float, optional
        Natural flow in m³/s; its error, one for the whole record, acts before the rights do. Left
        out, the water is taken as certain.
    rights : Rights, optional
        Needed with `natural`.

    Returns
    -------
    tuple of World
    """
    scores = (
        np.random.default_rng(seed).standard_normal((count, len(SOURCES)))
        @ uncertainties.mixing().T
    )
    factors = Factors(uncertainties, np.inf)
    return tuple(
        World(
            {name: float(factors.of(name, row[SOURCES.index(name)])) for name in PLANT},
            None if natural is None else _usable(natural, rights, uncertainties, row[0]),
        )
        for row in scores
    )


def _usable(
    natural: pd.Series | Mapping[int, float],
    rights: Any,
    uncertainties: Uncertainties,
    score: float,
) -> Any:
    if isinstance(natural, pd.Series):
        flow = natural * np.exp(score * uncertainties.rating_si(natural.to_numpy()))
        return Taken(flow, rights) if rights.has_memory else rights.usable_series(flow)
    return {
        month: float(rights.usable_si(flow * np.exp(score * uncertainties.rating_si(flow)), month))
        for month, flow in natural.items()
    }
