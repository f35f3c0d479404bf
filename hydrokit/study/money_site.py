"""From a study to its money: what the plant costs, what its energy is worth, how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError, one_line
from . import choosing, log_site

__all__ = ["Energy", "Money", "money"]

_HOURS = 24 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_SEED = 2  # apart from that of the energy: costs and creek know nothing of each other


@dataclass(frozen=True, eq=False)
class Energy:
    """Energy of a year as far as it is known.

    Parameters
    ----------
    kwh : float
        Of a mean year, as far as it is of use; in the middle of the range where only that is known.
    low_kwh, high_kwh : float
        Exceeded with nine chances of ten, and with one; or the ends of what can be.
    draws_kwh : ndarray or None
        Mean years as they may turn out; None where the year is not known that well.
    made_kwh : float
        All that is generated.
    source : str
        Where it comes from.
    bad_year_kwh : float
        Of use in a single year, exceeded in nine of ten; NaN where not known.
    """

    kwh: float
    low_kwh: float
    high_kwh: float
    draws_kwh: np.ndarray | None
    made_kwh: float
    source: str
    bad_year_kwh: float = np.nan


@dataclass(frozen=True, eq=False)
class Money:
    """What the plant costs and brings.

    Parameters
    ----------
    energy : Energy
    costs : Costs
    items : tuple of (str, float)
        What the first cost is made of; empty for a plant that stands, or where no cost is given.
    """

    energy: Energy
    costs: Any
    items: tuple[tuple[str, float], ...]
    findings: tuple[Finding, ...] = ()

    @property
    def first_money(self) -> float:
        """First cost; NaN where there is none to come."""
        return sum(cost for _, cost in self.items) if self.items else np.nan

    @property
    def valued(self) -> bool:
        """Whether it is said what a kWh is worth."""
        return self.costs.value_money_per_kwh is not None

    @cached_property
    def stands(self) -> Any:
        """The plant in money, costs and energy as reckoned; None without a first cost."""
        from ..energy.money import appraise

        return appraise(self.first_money, self.energy.kwh, self.costs) if self.items else None

    @cached_property
    def draws(self) -> tuple[np.ndarray, np.ndarray]:
        """First cost and energy of draws of both; one draw where the doubt is not known."""
        kwh = np.array([self.energy.kwh]) if self.energy.draws_kwh is None else self.energy.draws_kwh
        return self.first_money * self.costs.factors(len(kwh), _SEED), kwh

    @cached_property
    def drawn(self) -> Any:
        """The plant in money, draw by draw; None without a first cost."""
        from ..energy.money import appraise

        return appraise(*self.draws, self.costs) if self.items else None

    @cached_property
    def flow(self) -> Any:
        """Cash flow of the plant as reckoned, or None where costs or value are not known."""
        from ..energy.cash import cash_flow

        return cash_flow(self.first_money, self.energy.kwh, self.costs) if self.items and self.valued else None

    @cached_property
    def flows(self) -> Any:
        """Cash flow draw by draw, or None."""
        from ..energy.cash import cash_flow

        return cash_flow(*self.draws, self.costs) if self.items and self.valued else None

    @property
    def pays(self) -> float:
        """Share of the draws that are worth their cost with interest."""
        return float(np.mean(self.drawn.npv_money > 0))

    @property
    def most_money(self) -> float:
        """Most that may be paid now for a plant, or to keep this one, that lasts its life: worth nothing then."""
        from ..energy.cash import highest_first_cost

        return float(highest_first_cost(self.energy.kwh, self.costs))

    @property
    def worth_money(self) -> float:
        """What the energy of a mean year is worth; NaN where no value is given."""
        return self.energy.kwh * (self.costs.value_money_per_kwh if self.valued else np.nan)

    @cached_property
    def spread(self) -> dict[str, tuple[float, float]]:
        """Net present value where one thing alone is unlucky, and lucky: the tenth and the ninetieth of its draws."""
        from ..energy.money import net_present_value

        first, kwh = self.draws
        found = {}
        for name, costs, energy in (("energy", self.first_money, kwh), ("cost", first, self.energy.kwh)):
            npv = net_present_value.si(costs, self.costs.value_money_per_kwh * energy - self.costs.upkeep_si(costs), self.costs.life_years, self.costs.discount_rate)
            found[name] = tuple(np.quantile(npv, [0.1, 0.9]).tolist())
        return found


def money(study: Any) -> Money | None:
    """The plant in money; None where neither costs nor a value of the energy are given, or no energy is known."""
    costs = choosing.priced(study)
    if costs is None or study.plant is None:
        return None
    items, unpriced = ((), ()) if study.exists else _items(study, costs)
    energy = _energy(study)
    if energy is None or not (items or costs.value_money_per_kwh):
        return None
    findings = tuple(Finding("caution", "costs", f"no price is given for {one_line(name)}, so the first cost lacks it; name it in the list of [costs] pipes") for name in unpriced)
    return Money(energy, costs, items, findings)


# --- what it costs --------------------------------------------------------------------------


def _items(study: Any, costs: Any) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    """What the first cost is made of, and the pipes without a price; nothing where no costs are given."""
    from ..energy.sizing import machine_w

    tried, prices = study.pipes_tried
    if costs.silent and prices is None:
        return (), ()
    known = dict(zip((pipe.name for pipe in tried), prices or ()))
    line = study.plant.penstock.line
    pipes = (line,) if hasattr(line, "diameter_m") else getattr(line, "pipes", study.penstock.pipes)  # one pipe, pipes in a row, or a loss that was measured
    length = sum(float(pipe.length_m) for pipe in pipes)
    power = float(machine_w(study.plant))
    lines = (
        ("intake, access, design, licence", costs.fixed_money),
        ("machine and switchboard", costs.per_power_money_per_w * power),
        ("jets and their valves", costs.per_jet_money * study.plant.jets.count),
        ("pipe", sum(known.get(pipe.name, 0.0) * float(pipe.length_m) for pipe in pipes)),
        ("laying it", costs.laying_money_per_m * length),
        ("cable, laid", costs.cable_money_per_m * study.site["cable"].get("length", 0.0)),
    )
    return tuple((name, float(cost)) for name, cost in lines if cost > 0), tuple(pipe.name for pipe in pipes if pipe.name not in known)


# --- what it brings -------------------------------------------------------------------------


def _energy(study: Any) -> Energy | None:
    """Energy of a year of use, from the best source there is: record, log, bracket."""
    if study.year is not None:
        return _of_record(study)
    if log_site.by_log(study):
        return _of_log(study)
    if study.bracket is not None:
        found = study.bracket
        middle = float(np.sqrt(max(found.low_kwh, 1.0) * found.high_kwh))
        return Energy(middle, found.low_kwh, found.high_kwh, None, middle, "a few gaugings")
    return None


def _of_record(study: Any) -> Energy:
    year, doubt = study.year, study.doubt
    useful = year.useful_annual_kwh is not None
    kwh = year.useful_annual_kwh if useful else year.annual_kwh
    if doubt is None:
        return Energy(kwh, kwh, kwh, None, year.annual_kwh, "the daily record, without its doubt")
    draws = (doubt.useful_mean_kwh if useful else doubt.mean_kwh).sum(axis=1)
    low, high = np.quantile(draws, [0.1, 0.9]).tolist()
    single = (doubt.useful_single_kwh if useful else doubt.single_kwh).sum(axis=1)
    return Energy(kwh, low, high, draws, year.annual_kwh, "the daily record", float(np.quantile(single, 0.1)))


def _of_log(study: Any) -> Energy:
    """What the plant made by its log, stops and faults as they came, as far as house and heaters take it."""
    log = study.log_year
    power = log.monthly_kwh * 1000 / _HOURS
    shares = np.linspace(0.0, 2.0, 41)
    used = np.array([float((_taken_w(study, share * power) * _HOURS).sum() / 1000) for share in shares])

    def of_use(share: Any) -> Any:
        return np.interp(share, shares, used)

    draws = of_use(log.mean_draws())
    low, high = np.quantile(draws, [0.1, 0.9]).tolist()
    bad = float(of_use(log.exceeded_kwh(0.9) / log.annual_kwh)) if log.annual_kwh > 0 else 0.0
    return Energy(float(of_use(1.0)), low, high, draws, log.annual_kwh, "the plant's own log", bad)


def _taken_w(study: Any, power_w: np.ndarray) -> np.ndarray:
    """Mean power of each month that the loads can take."""
    loads, air = study.site["loads"], study.temperature
    base = loads.get("base_power", 0.0)
    if "need" in loads:
        return np.minimum(power_w, base + np.array(loads["need"]) / 3600 / _HOURS)
    if study.house is None or air is None:
        return power_w
    seen = air.dropna()
    wanted = base + study.house.conductance_w_k * (loads.get("inside_temperature", 293.15) - 273.15 - seen).clip(lower=0.0)
    taken = np.minimum(power_w[seen.index.month - 1], wanted)
    by_month = taken.groupby(seen.index.month).mean().reindex(range(1, 13)).to_numpy()
    if np.isnan(by_month).any():
        raise HydrokitError("the record of air temperature does not hold every month, so what the heaters take is not known")
    return by_month
