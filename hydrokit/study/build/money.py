"""From a study to its money: what the plant costs, what its energy is worth, how sure that is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from ...errors import Finding, one_line
from . import sizing as build_sizing
from .useful_energy import Energy, energy_counted

__all__ = ["Case", "Loan", "Money", "loan", "money"]
_SEED = 2  # apart from that of the energy: costs and creek know nothing of each other


@dataclass(frozen=True, eq=False)
class Case:
    """The plant in money, with its energy used in one way.

    Parameters
    ----------
    name : str
        ``"as used"`` where the demand is known, else ``"all used"`` and ``"all sold"``.
    first_money : float
        Capital cost; NaN where there is none to come.
    plain : Costs
        Of the site file.
    kwh, income_money : float
        Energy that earns anything in a mean year, and what it earns; NaN where no value is given.
    draws_kwh, draws_money : ndarray
        The same, draw by draw; one draw where the uncertainty is not known.
    single_money : ndarray or None
        What single years earn.
    """

    name: str
    first_money: float
    plain: Any
    kwh: float
    income_money: float
    draws_kwh: np.ndarray
    draws_money: np.ndarray
    single_money: np.ndarray | None

    @property
    def value_money_per_kwh(self) -> float:
        """Mean value of a kWh that earns anything."""
        return self.income_money / self.kwh if self.kwh > 0 else 0.0

    @property
    def bad_year_money(self) -> float:
        """What a single year earns, exceeded with 90 % probability; NaN where not known."""
        return (
            np.nan
            if self.single_money is None
            else float(np.quantile(self.single_money, 0.1, method="inverted_cdf"))
        )

    def _costs(self, money: Any, kwh: Any) -> Any:
        """The costs with the value that a kWh then has."""
        value = np.asarray(money, dtype=float) / np.where(np.asarray(kwh) > 0, kwh, 1.0)
        return replace(self.plain, value_money_per_kwh=None if np.isnan(value).any() else value)

    @cached_property
    def costs(self) -> Any:
        """The costs with the mean value of a kWh."""
        return self._costs(self.income_money, self.kwh)

    @cached_property
    def draws(self) -> tuple[np.ndarray, np.ndarray]:
        """Capital cost and energy of draws of both."""
        return self.first_money * self.plain.factors(len(self.draws_kwh), _SEED), self.draws_kwh

    @cached_property
    def stands(self) -> Any:
        """The plant in money, costs and energy as calculated."""
        from ...energy.money import appraise

        return appraise(self.first_money, self.kwh, self.costs)

    @cached_property
    def drawn(self) -> Any:
        """The plant in money, draw by draw."""
        from ...energy.money import appraise

        return appraise(*self.draws, self._costs(self.draws_money, self.draws_kwh))

    @cached_property
    def flow(self) -> Any:
        """Cash flow of the plant as calculated."""
        from ...energy.cash import cash_flow

        return cash_flow(self.first_money, self.kwh, self.costs)

    @cached_property
    def flows(self) -> Any:
        """Cash flow draw by draw."""
        from ...energy.cash import cash_flow

        return cash_flow(*self.draws, self._costs(self.draws_money, self.draws_kwh))

    @property
    def pays(self) -> float:
        """Share of the draws with a net present value above zero."""
        return float(np.mean(self.drawn.npv_money > 0))

    @property
    def most_money(self) -> float:
        """Most that may be paid now for a plant, or to keep this one, that lasts its life: worth nothing then."""
        from ...energy.cash import highest_first_cost

        return float(highest_first_cost(self.kwh, self.costs))

    @property
    def upkeep_money(self) -> float:
        """Upkeep of a year with replacements spread over the life."""
        return float(self.plain.upkeep_si(self.first_money))

    @cached_property
    def spread(self) -> dict[str, tuple[float, float]]:
        """Net present value where one thing alone is unlucky, and lucky: the tenth and the ninetieth of its draws."""
        from ...energy.discounting import net_present_value

        first, _ = self.draws
        found = {}
        for name, costs, income in (
            ("energy", self.first_money, self.draws_money),
            ("cost", first, self.income_money),
        ):
            npv = net_present_value.si(
                costs,
                income - self.plain.upkeep_si(costs),
                self.plain.life_years,
                self.plain.discount_rate,
            )
            found[name] = tuple(np.quantile(npv, [0.1, 0.9], method="inverted_cdf").tolist())
        return found


@dataclass(frozen=True, eq=False)
class Money:
    """What the plant costs and brings.

    Parameters
    ----------
    energy : Energy
    costs : Costs
    items : tuple of (str, float)
        What the capital cost is made of; empty for a plant that stands, or where no cost is given.
    cases : tuple of Case
        One where the demand is known; else all of the energy used, and all of it sold.
    """

    energy: Energy
    costs: Any
    items: tuple[tuple[str, float], ...]
    cases: tuple[Case, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def case(self) -> Case:
        """The case that leads."""
        return self.cases[0]

    @property
    def first_money(self) -> float:
        """Capital cost; NaN where there is none to come."""
        return sum(cost for _, cost in self.items) if self.items else np.nan

    @property
    def valued(self) -> bool:
        """Whether it is said what a kWh is worth."""
        return bool(np.isfinite(self.case.income_money))

    @property
    def stands(self) -> Any:
        """The plant in money, costs and energy as calculated; None without a capital cost."""
        return self.case.stands if self.items else None

    @property
    def draws(self) -> tuple[np.ndarray, np.ndarray]:
        """Capital cost and energy of draws of both; one draw where the uncertainty is not known."""
        return self.case.draws

    @property
    def drawn(self) -> Any:
        """The plant in money, draw by draw; None without a capital cost."""
        return self.case.drawn if self.items else None

    @property
    def flow(self) -> Any:
        """Cash flow of the plant as calculated, or None where costs or value are not known."""
        return self.case.flow if self.items and self.valued else None

    @property
    def flows(self) -> Any:
        """Cash flow draw by draw, or None."""
        return self.case.flows if self.items and self.valued else None

    @property
    def pays(self) -> float:
        """Share of the draws with a net present value above zero."""
        return self.case.pays

    @property
    def most_money(self) -> float:
        """Most that may be paid now for a plant, or to keep this one, that lasts its life."""
        return self.case.most_money

    @property
    def worth_money(self) -> float:
        """What the energy of a mean year earns; NaN where no value is given."""
        return self.case.income_money

    @property
    def spread(self) -> dict[str, tuple[float, float]]:
        """Net present value where one thing alone is unlucky, and lucky."""
        return self.case.spread


def money(study: Any) -> Money | None:
    """The plant in money; None where neither costs nor a value of the energy are given, or no energy is known."""
    costs = build_sizing.priced(study)
    if costs is None or study.plant is None:
        return None
    items, unpriced = ((), ()) if study.exists else _items(study, costs)
    energy, section = energy_counted(study), study.site["costs"]
    if energy is None or not (items or costs.value_money_per_kwh or "export" in section):
        return None
    findings = tuple(
        Finding(
            "caution",
            "costs",
            f"no price is given for {one_line(name)}, so the capital cost lacks it; name it in the list of [costs] pipes",
        )
        for name in unpriced
    )
    first = sum(cost for _, cost in items) if items else np.nan
    return Money(
        energy, costs, items, _cases(section, study.valuing, energy, costs, first), findings
    )


# --- how the energy is used -----------------------------------------------------------------


def _cases(
    section: dict, valuing: Any, energy: Energy, costs: Any, first_money: float
) -> tuple[Case, ...]:
    """The ways in which the energy may earn: one where the demand is known, else the two ends of what can be."""
    from ...energy.valuing import Valuing

    useful, made = energy.draws_kwh, energy.made_draws_kwh
    if useful is None:
        useful, made = np.array([energy.kwh]), np.array([energy.made_kwh])

    def case(name: str, by: Valuing) -> Case:
        known = energy.demand_known

        def each(of: Any, used: Any, made: Any) -> Any:
            return of(used if known else made, made)

        single = (
            None
            if energy.single_kwh is None
            else each(by.earns, energy.single_kwh, energy.made_single_kwh)
        )
        return Case(
            name,
            first_money,
            costs,
            float(each(by.counted_kwh, energy.kwh, energy.made_kwh)),
            float(each(by.earns, energy.kwh, energy.made_kwh)),
            np.asarray(each(by.counted_kwh, useful, made), dtype=float),
            np.asarray(each(by.earns, useful, made), dtype=float),
            single,
        )

    if energy.demand_known:
        return (case("as used", valuing),)
    sold_all = case("all sold", Valuing(section.get("export", 0.0) * 3.6e6))
    if "value" in section:
        return case("all used", valuing), sold_all
    return (sold_all,) if "export" in section else (case("all used", valuing),)


# --- what it costs --------------------------------------------------------------------------


def _items(study: Any, costs: Any) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    """What the first cost is made of, and the pipes without a price; nothing where no costs are given."""
    from ...energy.machine_size import machine_w

    tried, prices = study.pipes_tried
    if costs.silent and prices is None:
        return (), ()
    known = dict(zip((pipe.name for pipe in tried), prices or ()))
    line = study.plant.penstock.line
    pipes = (
        (line,) if hasattr(line, "diameter_m") else getattr(line, "pipes", study.penstock.pipes)
    )  # one pipe, pipes in a row, or a loss that was measured
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
    return tuple((name, float(cost)) for name, cost in lines if cost > 0), tuple(
        pipe.name for pipe in pipes if pipe.name not in known
    )


@dataclass(frozen=True)
class Loan:
    """What borrowing the capital cost takes, and what each case leaves for it.

    Parameters
    ----------
    years, rate : float
    instalment_money : float
        Of a year.
    left_money, bad_money : dict of str to float
        By case: after upkeep and replacements in a mean year, and in one exceeded with 90 % probability (NaN where not known).
    """

    years: float
    rate: float
    instalment_money: float
    left_money: dict[str, float]
    bad_money: dict[str, float]

    @property
    def short(self) -> tuple[str, ...]:
        """Cases whose mean or bad year leaves too little."""
        return tuple(
            name
            for name, left in self.left_money.items()
            if left < self.instalment_money or self.bad_money[name] < self.instalment_money
        )


def loan(study: Any) -> Loan | None:
    """The loan on the capital cost, or None where none is told."""
    from ...energy.discounting import capital_recovery

    found, section = study.money, study.site["costs"]
    if found is None or "loan_years" not in section:
        return None
    years, rate = section["loan_years"], section.get("loan_rate", found.costs.discount_rate)
    left = {case.name: case.income_money - case.upkeep_money for case in found.cases}
    bad = {case.name: case.bad_year_money - case.upkeep_money for case in found.cases}
    return Loan(years, rate, found.first_money * float(capital_recovery.si(years, rate)), left, bad)
