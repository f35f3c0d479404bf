"""From a study to its money: what the plant costs, what its energy is worth, how sure that is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import Finding, one_line
from ...result import Result
from ...sentences import Amount, Sentence
from . import sizing as build_sizing
from .money_case import Case
from .useful_energy import Energy, energy_counted
from .valuing import J_PER_KWH

if TYPE_CHECKING:
    from ...energy.cash import CashFlow
    from ...energy.money import Appraisal, Costs
    from ...energy.valuing import Valuing
    from ...plant.chain import Chain
    from ...site.schema_costs import Costs as CostsGiven
    from ...units import Number
    from ..study import Study

__all__ = ["Money", "money"]

DAYS_OF_A_YEAR = 365.25
CONTINGENCY, BUILDING_INTEREST = "contingency", "interest during construction"


@dataclass(frozen=True, eq=False)
class Money(Result):
    """What the plant costs and brings.

    Parameters
    ----------
    energy : Energy
    costs : Costs
    items : tuple of (str, float)
        What the capital cost is made of; empty for a plant that stands, or where no cost is given.
    cases : tuple of Case
        One where the demand is known; else all of the energy used, and all of it sold.
    visit_money : float
        What one walk to the intake costs; NaN where that is not said.
    export_money_per_kwh, heat_money_per_kwh : float or None
        What a kWh earns that is sold, and that heats the rooms; None where it is not given.
    counted : mapping of str to Sentence
        Name of an item -> how much of it is counted, and at which price.
    """

    energy: Energy
    costs: Costs
    items: tuple[tuple[str, float], ...]
    _: KW_ONLY
    cases: tuple[Case, ...]
    findings: tuple[Finding, ...] = ()
    visit_money: float = np.nan
    export_money_per_kwh: float | None = None
    heat_money_per_kwh: float | None = None
    counted: Mapping[str, Sentence] = field(default_factory=dict)

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
    def stands(self) -> Appraisal | None:
        """The plant in money, costs and energy as calculated; None without a capital cost."""
        return self.case.stands if self.items else None

    @property
    def draws(self) -> tuple[np.ndarray, np.ndarray]:
        """Capital cost and energy of draws of both; one draw where the uncertainty is not known."""
        return self.case.draws

    @property
    def drawn(self) -> Appraisal | None:
        """The plant in money, draw by draw; None without a capital cost."""
        return self.case.drawn if self.items else None

    @property
    def flow(self) -> CashFlow | None:
        """Cash flow of the plant as calculated, or None where costs or value are not known."""
        return self.case.flow if self.items and self.valued else None

    @property
    def flows(self) -> CashFlow | None:
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
    def day_money(self) -> float:
        """What the energy of a mean day earns."""
        return self.worth_money / DAYS_OF_A_YEAR

    @property
    def visit_kwh(self) -> float:
        """Energy that earns one walk to the intake; NaN where nothing is said of that, or nothing
        is earned."""
        value = self.case.value_money_per_kwh
        return self.visit_money / value if value > 0 else np.nan

    def range_money(self, case: Case) -> tuple[float, float]:
        """What the low and the high energy of a year earn at the mean value of a kWh."""
        value = case.value_money_per_kwh
        return value * self.energy.low_kwh, value * self.energy.high_kwh

    @property
    def upkeep_share_money(self) -> float:
        """Upkeep of a year that is told as a share of the capital cost."""
        return self.costs.yearly_share * self.first_money

    @property
    def replacements_money(self) -> float:
        """Replacements, spread evenly over the years."""
        return float(self.costs.upkeep_si(0.0))

    @property
    def given_upkeep_money(self) -> float:
        """Upkeep and replacements of a year as far as they are given for a plant without a capital
        cost to come."""
        first = 0.0 if self.costs.silent else self.costs.first_si(0.0, 0.0)
        return float(self.costs.upkeep_si(first))


def money(study: Study) -> Money | None:
    """The plant in money; None where neither costs nor a value of the energy are given, or no
    energy is known."""
    costs = build_sizing.priced(study)
    if costs is None or study.plant is None:
        return None
    items, unpriced = ((), ()) if study.exists else _items(study, study.plant, costs)
    counted = {} if study.exists else _counted(study, study.plant, costs)
    energy, section = energy_counted(study), study.site.costs
    if energy is None or not (items or costs.value_money_per_kwh or section.given("export")):
        return None
    findings = tuple(
        Finding(
            "caution",
            "costs",
            (
                f"no price is given for {one_line(name)}, so the capital cost lacks it; name it "
                "in the list of [costs] pipes"
            ),
        )
        for name in unpriced
    )
    first = sum(cost for _, cost in items) if items else np.nan
    return Money(
        energy,
        costs,
        items,
        cases=_cases(section, study.valuing, energy, costs, first),
        findings=findings,
        visit_money=section.visit if section.given("visit") else np.nan,
        export_money_per_kwh=section.export * J_PER_KWH if section.given("export") else None,
        heat_money_per_kwh=None if section.heat_value is None else section.heat_value * J_PER_KWH,
        counted=counted,
    )


# --- how the energy is used -----------------------------------------------------------------


def _cases(
    section: CostsGiven, valuing: Valuing, energy: Energy, costs: Costs, first_money: float
) -> tuple[Case, ...]:
    """The ways in which the energy may earn: one where the demand is known, else the two ends of
    what can be."""
    from ...energy.valuing import Valuing

    useful, made = energy.draws_kwh, energy.made_draws_kwh
    if useful is None:
        useful, made = np.array([energy.kwh]), np.array([energy.made_kwh])

    def case(name: str, by: Valuing) -> Case:
        known = energy.demand_known

        def each(of: Any, used: Number, made: Any) -> Any:
            return of(used if known else made, made)

        single, several = (
            None if used is None else each(by.earns, used, made)
            for used, made in (
                (energy.single_kwh, energy.made_single_kwh),
                (energy.several_kwh, energy.made_several_kwh),
            )
        )
        earned = float(each(by.earns, energy.kwh, energy.made_kwh))
        of_used = float(by.earns(energy.kwh, energy.kwh)) if known else earned
        return Case(
            name,
            first_money,
            costs,
            kwh=float(each(by.counted_kwh, energy.kwh, energy.made_kwh)),
            income_money=earned,
            draws_kwh=np.asarray(each(by.counted_kwh, useful, made), dtype=float),
            draws_money=np.asarray(each(by.earns, useful, made), dtype=float),
            single_money=single,
            left_money=earned - of_used,
            several_money=several,
        )

    if energy.demand_known:
        return (case("as used", valuing),)
    sold_all = case("all sold", Valuing(section.export * J_PER_KWH))
    if section.given("value"):
        return case("all used", valuing), sold_all
    return (sold_all,) if section.given("export") else (case("all used", valuing),)


# --- what it costs --------------------------------------------------------------------------


def _items(
    study: Study, plant: Chain, costs: Costs
) -> tuple[tuple[tuple[str, float], ...], tuple[str, ...]]:
    """What the capital cost is made of, and the pipes without a price; nothing where no costs are given."""
    from ...energy.machine_size import machine_w

    prices = study.pipes_tried[1]
    if costs.silent and prices is None:
        return (), ()
    known, pipes = _priced_pipes(study), _laid_pipes(study, plant)
    length = sum(float(pipe.length_m) for pipe in pipes)
    power = float(machine_w(plant))
    bought = (
        ("intake, access, design, licence", costs.fixed_money),
        ("machine and switchboard", costs.per_power_money_per_w * power),
        ("jets and their valves", costs.per_jet_money * plant.jets.count),
        ("pipe", sum(known.get(pipe.name, 0.0) * float(pipe.length_m) for pipe in pipes)),
        ("laying it", costs.laying_money_per_m * length),
        ("cable, laid", costs.cable_money_per_m * (study.site.cable.length or 0.0)),
    )
    sums = sum(cost for _, cost in bought)
    unforeseen = costs.contingency * sums
    lines = (
        *bought,
        (CONTINGENCY, unforeseen),
        (BUILDING_INTEREST, costs.building_interest * (sums + unforeseen)),
    )
    return tuple((name, float(cost)) for name, cost in lines if cost > 0), tuple(
        pipe.name for pipe in pipes if pipe.name not in known
    )


def _priced_pipes(study: Study) -> dict[str, float]:
    """Name of a pipe -> its price a metre."""
    tried, prices = study.pipes_tried
    return dict(zip((pipe.name for pipe in tried), prices or ()))


def _laid_pipes(study: Study, plant: Chain) -> tuple[Any, ...]:
    """One pipe, pipes in a row, or those of the site file where the loss was measured."""
    line = plant.penstock.line
    described = () if study.penstock is None else study.penstock.pipes
    return (line,) if hasattr(line, "diameter_m") else tuple(getattr(line, "pipes", described))


def _counted(study: Study, plant: Chain, costs: Costs) -> dict[str, Sentence]:
    """How much of each item is counted, and at which price."""
    from ...energy.machine_size import machine_w

    pipes, prices = _laid_pipes(study, plant), _priced_pipes(study)
    length = sum(float(pipe.length_m) for pipe in pipes)
    power = Amount(float(machine_w(plant)), "large power")
    told = {
        "machine and switchboard": Sentence(
            "{power} by {by} at {price} a kW",
            power=power,
            by="its rating"
            if any(getattr(part, "part", "") == "generator" for part in plant.electric[:1])
            else "its efficiency at full load"
            if plant.electric
            else "the power of the shaft",
            price=Amount(1000 * costs.per_power_money_per_w, "money"),
        ),
        "jets and their valves": Sentence(
            "{number} at {price} each",
            number=Amount(plant.jets.count, "count"),
            price=Amount(costs.per_jet_money, "money"),
        ),
        "laying it": _metres(length, costs.laying_money_per_m),
        "cable, laid": _metres(study.site.cable.length or 0.0, costs.cable_money_per_m),
        CONTINGENCY: Sentence("{share} of all above", share=Amount(costs.contingency, "share", 2)),
    }
    if len(pipes) == 1 and pipes[0].name in prices:
        told["pipe"] = _metres(length, prices[pipes[0].name])
    return told


def _metres(length_m: float, price_money_per_m: float) -> Sentence:
    return Sentence(
        "{length} at {price}",
        length=Amount(length_m, "length"),
        price=Amount(price_money_per_m, "money per length"),
    )
