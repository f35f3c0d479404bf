"""From the site file to a choice of size: what is tried, what it costs, what every design shares."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...columns import read_csv
from ...errors import Finding, InputError, Mistake, counted
from ...files import shown_path
from ...site.sheets import filled
from . import losses, machines, sizing_net, year
from . import turbine as build_turbine
from .uncertain import uncertainties
from .valuing import J_PER_KWH, by_plan

if TYPE_CHECKING:
    from ...energy.money import Costs
    from ...site.schema import Site
    from ..study import Study

__all__ = [
    "chosen_chain",
    "costs",
    "generator_findings",
    "machine_findings",
    "overruled_findings",
    "pipe_findings",
    "pipes_tried",
    "priced",
    "sizing",
]

JETS_TRIED, UNITS_TRIED = (1, 2, 3, 4, 5, 6), (1, 2, 3, 4)


def costs(site: Site) -> Costs | None:
    """The costs of the site file, or None where it gives none."""
    from ...energy.money import Costs, Replacement

    section = site.costs
    if not section:
        return None
    return Costs(
        fixed_money=section.fixed or 0.0,
        per_power_money_per_w=section.per_power or 0.0,
        per_jet_money=section.per_jet or 0.0,
        laying_money_per_m=section.laying or 0.0,
        cable_money_per_m=section.cable or 0.0,
        yearly_share=section.yearly or 0.0,
        life_years=section.life,
        discount_rate=section.discount_rate,
        value_money_per_kwh=None if section.value is None else section.value * J_PER_KWH,
        uncertainty=section.uncertainty or 0.0,
        replacements=tuple(
            Replacement(each.cost, each.every, each.name) for each in section.replacement
        ),
    )


def priced(study: Study) -> Any:
    """The costs with the price of the cable's own size where the list of cables has it; or None."""
    found, prices, section = costs(study.site), study.cable_prices, study.site["cable"]
    if found is None or not prices or "size" not in section:
        return found
    from ...plant.conductor import conductor

    price = prices.get(conductor(section["size"], section.get("material", "copper")).name)
    return found if price is None else replace(found, cable_money_per_m=price)


def pipes_tried(study: Study) -> tuple[tuple[Any, ...], tuple[float, ...] | None]:
    """Pipes to try, each the whole penstock, and their prices where there are any."""
    from ...works.pipe_sizes import pipe_size

    site, line = study.site, study.penstock
    if line is None:
        return (), None
    if "pipes" not in site["costs"]:
        whole = one_pipe(line)
        return () if whole is None else (whole,), None
    path = study.folder.file(site["costs"]["pipes"], "[costs] pipes")
    table = read_csv(path, {"size": "text", "price": "money/m"})
    filled(path, table, "price", none_below_zero=("price",))
    first = site["penstock.pipe"][0] if site["penstock.pipe"] else {}
    fittings = sum(pipe.fittings for pipe in line.pipes)
    made, mistakes = [], []
    for line_number, size in zip(table["line"], table["size"]):
        try:
            made.append(pipe_size(size).pipe(line.length_m, first.get("roughness"), fittings))
        except Exception as error:  # noqa: BLE001  told with its line
            mistakes.append(Mistake(shown_path(path), f"line {line_number}", str(error)))
    if mistakes:
        raise InputError(mistakes)
    return tuple(made), tuple(float(each) for each in table["price"])


def one_pipe(line: Any) -> Any:
    """A line as one pipe, or None where its stretches differ."""
    first = line.pipes[0]
    same = ("diameter_m", "roughness_m", "roughness_factor", "loss_factor")
    if any(getattr(each, name) != getattr(first, name) for each in line.pipes for name in same):
        return None
    return replace(
        first,
        length_m=sum(each.length_m for each in line.pipes),
        fittings=sum(each.fittings for each in line.pipes),
    )


def most_reaching(study: Study) -> float:
    """Greatest flow in m³/s that may ever come to the jets: by record, rights and licence, what leaks on the way taken off."""
    from ...plant.operation import Passage

    return float(
        functools.reduce(Passage.through, study.supply, Passage()).leaves_si(_unbound(study).max())
    )


def _unbound(study: Study) -> Any:
    """Usable flow without yearly volume and ramp: days without water for these are no reason for a small plant."""
    return replace(study.rights, volume_m3=np.inf, ramp_m3s_per_day=np.inf).usable_series(
        study.record
    )


def _flows(study: Study) -> np.ndarray:
    """Design flows to try: those of the site file, else even steps over the usable flows; none above all that may ever come."""
    from ...energy.sizing import flows_to_try, no_more_than

    given = study.site["sizing"].get("flows") or ()
    return no_more_than(
        np.array(sorted(given)) if given else flows_to_try(_unbound(study)), most_reaching(study)
    )


def _jets(study: Study) -> tuple[int, ...]:
    """Numbers of jets, or of units that can be shut, to try."""
    given = tuple(int(each) for each in study.site["sizing"].get("jets", ()))
    usual = JETS_TRIED if study.site["turbine"]["kind"] in ("pelton", "turgo") else UNITS_TRIED
    return given or tuple(sorted({*usual, int(study.site["turbine"].get("jets", 1))}))


def layout(study: Study) -> Any:
    """What every design shares: head, turbine, generator, cable, intake."""
    from ...energy.sizing import Layout
    from ...plant.parts import Penstock
    from ...plant.turbine import part_load
    from ...water import density, viscosity

    turbine, section = study.site["turbine"], study.site["generator"]
    coefficient = build_turbine.jet_coefficient(turbine)
    adjustable = not build_turbine.fixed_jets(turbine)
    penstock = Penstock(
        study.penstock,
        study.head.value,
        viscosity_m2s=float(viscosity.si(study.water_temperature_k)),
    )
    curve = build_turbine.efficiency_curve(study, adjustable)
    electric = None
    if "water_to_wire" not in section:
        electric = losses.generator_of(section, 5000.0)
    after = losses.after_generator(study.site) if electric is not None else ()
    # a cable known by its loss grows with the design: at full load it takes that share of what the generator gives
    lost = (
        study.site["cable"].get("loss", 0.0)
        if electric is not None and not losses.wire(study.site)
        else 0.0
    )
    return Layout(
        penstock,
        curve or part_load.si(turbine["kind"]),
        coefficient,
        adjustable=adjustable,
        generator=electric,
        after=after,
        supply=study.supply,
        states=study.states,
        most_m3s=year.most_licensed(study),
        cable_loss=lost,
        density_kgm3=float(density.si(study.water_temperature_k)),
    )


def sizing(study: Study) -> Any:
    """The sweep over flows, pipes and jets, or None where record, head, pipe or turbine are lacking."""
    from ...energy.sizing import sweep

    site = study.site
    if study.usable is None or study.head is None or study.penstock is None or not site["turbine"]:
        return None
    pipes, prices = study.pipes_tried
    if not pipes or not study.usable.max() > 0:
        return None
    doubt = uncertainties(study)
    money, rights = priced(study), study.rights
    # a plant that this very sweep chooses cannot say yet what of its energy will heat the rooms
    free = study.baseline is None and study.described is None
    aim = (
        site["sizing"].get("aim")
        if money is not None and not (money.silent and prices is None)
        else None
    )
    found = study.folder.sentence(
        "[sizing]",
        lambda: sweep(
            study.usable,
            layout(study),
            _flows(study),
            pipes,
            _jets(study),
            money,
            prices,
            site["cable"].get("length", 0.0),
            year.outages(site),
            study.demand_w,
            study.winter,
            aim,
            site["sizing"].get("flat_within", 0.02),
            energy_sd=float(np.hypot(study.record_uncertainty, doubt.efficiency)),
            shifted=None
            if rights.has_memory
            else tuple(
                rights.usable_series(study.record * each)
                for each in (1 - study.record_uncertainty, 1 + study.record_uncertainty)
            ),
            usable_for=(lambda most: rights.usable_series(study.record, most))
            if rights.has_memory
            else None,
            valuing=by_plan(study, None) if free else study.valuing,
        ),
    )
    found = sizing_net.with_losses(study, found)
    return _settled(study, found) if free and "heat_value" in site["costs"] else found


def _settled(study: Study, found: Any) -> Any:
    """The sweep with its kWh valued by what the design that is then chosen heats: a few rounds, for one leans on the other."""
    for _ in range(5):
        before = found.choice.index
        found = replace(found, valuing=by_plan(study, found.chain(found.choice)))
        if found.choice.index == before:
            break
    return found


def sizing_moves(study: Study) -> tuple[Any, ...]:
    """What would move the choice of the sizing, and what would not; nothing without a sizing."""
    from ...energy.moves import moves

    return () if study.sizing is None else moves(study.sizing)


def pipe_findings(study: Study) -> tuple[Finding, ...]:
    """That the recommended size is another than the plan, and design flows that were asked for and can never come."""
    found = []
    if study.sizing is None:
        return ()
    most, given = most_reaching(study), study.site["sizing"].get("flows") or ()
    above = [each for each in given if each > most * (1 + 1e-9)]
    if above:
        found.append(
            Finding(
                "note",
                "sizing",
                f"design flows above {1000 * most:.3g} L/s are not tried: no more may ever come to the jets",
            )
        )
    own, choice = study.plan, study.sizing.choice
    if study.exists or own is None or study.described is not None:
        return tuple(found)
    other = [f"{choice.pipe.name} instead of {own.pipe}"] if own.pipe != choice.pipe.name else []
    other += (
        [f"{counted(choice.jets, _opened(study))} instead of {own.jets}"]
        if own.jets != choice.jets
        else []
    )
    if other:
        found.append(
            Finding(
                "caution",
                "sizing",
                f"the site file plans otherwise than the sizing recommends: {', '.join(other)}; every page and the list of parts follow the plan: write the recommended size into the site file, or keep the plan for your reasons",
            )
        )
    return tuple(found)


def _opened(study: Study) -> str:
    return "jet" if study.site["turbine"]["kind"] in ("pelton", "turgo") else "unit"


def machine_findings(study: Study) -> tuple[Finding, ...]:
    """That the machine of the site file is not made for its head and flow, where it is not."""
    from ...plant.choice import turbine_choice

    kind = study.site["turbine"].get("kind")
    if study.plant is None or study.head is None or kind is None or study.site["machine"]:
        return ()
    flow = float(study.plant.running().at_si(np.inf).used_m3s)
    low = None if study.usable is None else float(np.nanquantile(study.usable, 0.1))
    if not flow > 0:
        return ()
    own = next(
        (
            each
            for each in turbine_choice.si(
                flow, study.head.value, low_flow=min(low, flow) if low else None
            )
            if each.kind == kind
        ),
        None,
    )
    outside = (
        () if own is None else [each for each in own.cautions if each.startswith("far outside")]
    )
    return tuple(
        Finding(
            "caution",
            "turbine",
            f"a {kind} turbine for {1000 * flow:.3g} L/s under {study.head.value:.3g} m is {each}; see which kinds suit on the page on size, and ask a manufacturer before it is bought",
        )
        for each in outside
    )


def overruled_findings(study: Study) -> tuple[Finding, ...]:
    """Numbers of the site file that another of its numbers overrules."""
    turbine, generator = study.site["turbine"], study.site["generator"]
    told = []
    if "water_to_wire" in generator:
        told += [
            (name, "[generator] water_to_wire stands for machine and generator together")
            for name, known in (
                ("[turbine] efficiency", "efficiency" in turbine),
                ("[generator] efficiency", "efficiency" in generator),
                ("[generator] rating", "rating" in generator),
            )
            if known
        ]
    elif "efficiency_table" in turbine and "efficiency" in turbine:
        told.append(("[turbine] efficiency", "the maker's table has it"))
    if machines.adjustable(study.site):
        told += [
            (f"[turbine] {key}", "the machines are listed one by one")
            for key in ("design_flow", "jets")
            if key in turbine
        ]
    elif "jet_diameter" in turbine and not build_turbine.fixed_jets(turbine):
        told.append(
            (
                "[turbine] jet_diameter",
                "jets with needles, gates and vanes are known by the flow of the machine, design_flow",
            )
        )
    elif "jet_diameter" in turbine and "design_flow" in turbine:
        told.append(("[turbine] design_flow", "the bore of the jets sets the flow"))
    found = [
        Finding("note", "plant", f"{name} does not set the power: {why}") for name, why in told
    ]
    found += machines.overruled(study)
    days, fit = study.site["outage"].get("planned_days", 0.0), year.planned_days_fit(study.site)
    if days > fit:
        found.append(
            Finding(
                "caution",
                "outage",
                f"{days:g} planned days do not fit into their month{'' if fit < 31 else 's'}: only {fit:.0f} are counted",
            )
        )
    return tuple(found)


def generator_findings(study: Study) -> tuple[Finding, ...]:
    """What size of generator is taken where none is given, and that a rating is not used where the sizing is free."""
    from ...energy.machine_size import SizedGenerator

    plant = study.plant
    if (
        "rating" in study.site["generator"]
        and study.described is None
        and plant is not None
        and "water_to_wire" not in study.site["generator"]
    ):
        return (
            Finding(
                "note",
                "generator",
                "[generator] rating does not set the power: the sizing chooses the size; describe the jets (jet_diameter) or give design_flow where the plant is to be as described",
            ),
        )
    bought = (
        next((part for part in plant.electric if isinstance(part, SizedGenerator)), None)
        if plant is not None
        else None
    )
    if bought is None:
        return ()
    return (
        Finding(
            "note",
            "generator",
            f"its rating is not given: one of {float(bought.size_w):,.0f} W is counted, for the most water the plant can take under the whole head; give [generator] rating where it is known",
        ),
    )


@dataclass(frozen=True, eq=False)
class Plan:
    """The plant that all pages speak of, in what decides its size.

    Parameters
    ----------
    flow_m3s : float
        With everything open, or the design flow where the sizing set it.
    pipe : str
        Names of its penstock's pipes.
    jets : int
        Jets, units or machines.
    source : str
    """

    flow_m3s: float
    pipe: str
    jets: int
    source: str


def plan(study: Study) -> Plan | None:
    """The plant that all pages speak of; None where it is not known."""
    if study.plant is None:
        return None
    pipes = " and ".join(dict.fromkeys(each.name for each in study.penstock.pipes))
    if study.described is None and study.baseline is None:
        flow, jets = planned(study)
        return Plan(
            flow,
            pipes,
            jets,
            "the pipe of the site file, with the flow that the sizing sets for it",
        )
    known = "the readings at the powerhouse" if study.baseline is not None else "the site file"
    return Plan(
        float(study.plant.running().at_si(np.inf).used_m3s),
        pipes,
        int(study.plant.jets.count),
        known,
    )


def planned(study: Study) -> tuple[float, int] | None:
    """Design flow and number of jets of the plan, where the site file leaves the flow open; None without a sizing.

    Of its own pipe and number of jets, where it names them, the size that the sizing would take.
    """
    found, jets = study.sizing, study.site["turbine"].get("jets")
    if found is None:
        return None
    pipe, jets = one_pipe(study.penstock), None if jets is None else int(jets)
    for settled in ({"pipe": pipe, "jets": jets}, {"pipe": pipe}):
        design = (
            found.chosen_among(**settled)
            if all(each is not None for each in settled.values())
            else None
        )
        if design is not None:
            return design.flow_m3s, design.jets
    # a pipe that was not among those tried: the flow of the choice, as far as that pipe brings it
    wanted = found.chosen_among(jets=jets) if jets is not None else None
    wanted = found.choice if wanted is None else wanted
    penstock = replace(found.layout.penstock, line=study.penstock)
    flows = found.flows_m3s[found.flows_m3s <= wanted.flow_m3s]
    fit = flows[penstock.loss_si(flows) <= penstock.static_si() / 3]
    return float(fit[-1] if len(fit) else flows[0]), wanted.jets


def chosen_chain(study: Study) -> Any:
    """The plant as it is planned: the pipe of the site file, and flow and jets as the sizing chose them for it; or None."""
    found, settled = study.sizing, planned(study)
    if settled is None:
        return None
    made = study.folder.sentence(
        "[sizing]", lambda: found.layout.chain(settled[0], study.penstock, settled[1])
    )
    jets = (
        replace(made.jets, name=build_turbine.adjustable_name(study.site["turbine"]))
        if found.layout.adjustable
        else made.jets
    )
    return replace(made, jets=jets, name=study.name)
