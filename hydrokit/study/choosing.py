"""From the site file to a choice of size: what is tried, what it costs, what every design shares."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ..errors import Finding, InputError, Mistake, counted
from ..files import read_csv, shown_path
from . import machines_site
from . import site as build
from .sheets import filled

__all__ = ["chosen_chain", "costs", "generator_findings", "overruled_findings", "pipe_findings", "pipes_tried", "priced", "sizing"]

JETS_TRIED = (1, 2, 4)


def costs(site: dict) -> Any:
    """The costs of the site file, or None where it gives none."""
    from ..energy.money import Costs, Replacement

    section = site["costs"]
    if not section:
        return None
    names = {
        "fixed": "fixed_money", "per_power": "per_power_money_per_w", "per_jet": "per_jet_money", "laying": "laying_money_per_m",
        "cable": "cable_money_per_m", "yearly": "yearly_share", "life": "life_years", "discount_rate": "discount_rate", "doubt": "doubt",
    }  # fmt: skip
    given = {names[key]: value for key, value in section.items() if key in names}
    if "value" in section:
        given["value_money_per_kwh"] = section["value"] * 3.6e6
    return Costs(**given, replacements=tuple(Replacement(each["cost"], each["every"], each["name"]) for each in site["costs.replacement"]))


def priced(study: Any) -> Any:
    """The costs with the price of the cable's own size where the list of cables has it; or None."""
    found, prices, section = costs(study.site), study.cable_prices, study.site["cable"]
    if found is None or not prices or "size" not in section:
        return found
    from ..plant.cable import conductor

    price = prices.get(conductor(section["size"], section.get("material", "copper")).name)
    return found if price is None else replace(found, cable_money_per_m=price)


def pipes_tried(study: Any) -> tuple[tuple[Any, ...], tuple[float, ...] | None]:
    """Pipes to try, each the whole penstock, and their prices where there are any."""
    from ..works.catalogue import pipe_size

    site, line = study.site, study.penstock
    if line is None:
        return (), None
    if "pipes" not in site["costs"]:
        return line.pipes[:1] if len(line.pipes) == 1 else (), None
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


def _flows(study: Any) -> np.ndarray:
    """Design flows to try: those of the site file, else even steps over the usable flows."""
    from ..energy.sizing import flows_to_try

    given = study.site["sizing"].get("flows") or ()
    # a yearly volume or a ramp leaves days without water that are no reason for a small plant
    unbound = replace(study.rights, volume_m3=np.inf, ramp_m3s_per_day=np.inf)
    return np.array(sorted(given)) if given else flows_to_try(unbound.usable_series(study.record))


def layout(study: Any) -> Any:
    """What every design shares: head, turbine, generator, cable, intake."""
    from ..energy.sizing import Layout
    from ..plant.generator import generator
    from ..plant.jets import JET_KINDS
    from ..plant.parts import Penstock
    from ..plant.turbine import part_load
    from ..water import density, viscosity

    turbine, section = study.site["turbine"], study.site["generator"]
    kind = turbine.get("jet_kind", "conical nozzle")
    coefficient = turbine["jet_coefficient"].value if "jet_coefficient" in turbine else JET_KINDS[kind].coefficient
    adjustable = not build.fixed_jets(turbine)
    penstock = Penstock(study.penstock, study.head.value, viscosity_m2s=float(viscosity.si(study.water_temperature_k)))
    curve = build.efficiency_curve(study, adjustable)
    electric = None
    if "water_to_wire" not in section:
        efficiency = section["efficiency"].value if "efficiency" in section else None
        electric = generator.si(section.get("kind", "synchronous"), 5000.0, efficiency)
    after = build.after_generator(study.site) if electric is not None else ()
    # a cable known by its loss grows with the design: at full load it takes that share of what the generator gives
    lost = study.site["cable"].get("loss", 0.0) if electric is not None and not build.wire(study.site) else 0.0
    return Layout(penstock, curve or part_load.si(turbine["kind"]), coefficient, adjustable, generator=electric, after=after, supply=study.supply, states=study.states, most_m3s=build.most_licensed(study), cable_loss=lost, density_kgm3=float(density.si(study.water_temperature_k)))


def sizing(study: Any) -> Any:
    """The sweep over flows, pipes and jets, or None where record, head, pipe or turbine are lacking."""
    from ..energy.sizing import sweep

    site = study.site
    if study.usable is None or study.head is None or study.penstock is None or not site["turbine"]:
        return None
    pipes, prices = study.pipes_tried
    if not pipes or not study.usable.max() > 0:
        return None
    jets = tuple(int(each) for each in site["sizing"].get("jets", ())) or tuple(sorted({*JETS_TRIED, int(site["turbine"].get("jets", 1))}))
    demand = study.demand_w
    if demand is not None and hasattr(demand, "index"):
        demand = demand.groupby(demand.index.month).mean().to_numpy()
    doubt = build.uncertainties(study)
    money, rights = priced(study), study.rights
    aim = site["sizing"].get("aim") if money is not None and not (money.silent and prices is None) else None
    return study.folder.sentence(
        "[sizing]",
        lambda: sweep(
            study.usable, layout(study), _flows(study), pipes, jets, money, prices, site["cable"].get("length", 0.0), build.outages(site), demand,
            study.winter, aim, site["sizing"].get("flat_within", 0.02), energy_sd=float(np.hypot(study.record_uncertainty, doubt.efficiency)),
            usable_for=(lambda most: rights.usable_series(study.record, most)) if rights.has_memory else None,
        ),
    )  # fmt: skip


def pipe_findings(study: Any) -> tuple[Finding, ...]:
    """That the sizing would take another pipe or number of jets than the site file has, where it does."""
    if study.sizing is None or study.penstock is None or study.described is not None:
        return ()
    described, chosen = study.penstock.pipes[0].name, study.sizing.choice.pipe.name
    given, jets = study.site["turbine"].get("jets"), study.sizing.choice.jets
    other = () if given is None or given == jets else (Finding("note", "sizing", f"the sizing chose {counted(jets, 'jet')}, not the {given:g} of the site file: give jet_diameter or design_flow too where the plant is to be as described"),)
    if len(study.penstock.pipes) == 1 and described == chosen:
        return other
    told = f"the energy rests on the pipe that the sizing chose ({chosen}); pressures, surge and frost on the one in the site file ({described}): write the chosen one there"
    return (Finding("caution", "sizing", told), *other)


def overruled_findings(study: Any) -> tuple[Finding, ...]:
    """Numbers of the site file that another of its numbers overrules."""
    turbine, generator = study.site["turbine"], study.site["generator"]
    told = []
    if "water_to_wire" in generator:
        told += [(name, "[generator] water_to_wire stands for machine and generator together") for name, known in (("[turbine] efficiency", "efficiency" in turbine), ("[generator] efficiency", "efficiency" in generator), ("[generator] rating", "rating" in generator)) if known]
    elif "efficiency_table" in turbine and "efficiency" in turbine:
        told.append(("[turbine] efficiency", "the maker's table has it"))
    if machines_site.adjustable(study.site):
        told += [(f"[turbine] {key}", "the machines are listed one by one") for key in ("design_flow", "jets") if key in turbine]
    elif "jet_diameter" in turbine and not build.fixed_jets(turbine):
        told.append(("[turbine] jet_diameter", "jets with needles, gates and vanes are known by the flow of the machine, design_flow"))
    elif "jet_diameter" in turbine and "design_flow" in turbine:
        told.append(("[turbine] design_flow", "the bore of the jets sets the flow"))
    found = [Finding("note", "plant", f"{name} does not set the power: {why}") for name, why in told]
    days, fit = study.site["outage"].get("planned_days", 0.0), build.planned_days_fit(study.site)
    if days > fit:
        found.append(Finding("caution", "outage", f"{days:g} planned days do not fit into their month{'' if fit < 31 else 's'}: only {fit:.0f} are counted"))
    return tuple(found)


def generator_findings(study: Any) -> tuple[Finding, ...]:
    """What size of generator is taken where none is given, and that a rating is not used where the sizing is free."""
    from ..energy.sizing import SizedGenerator

    plant = study.plant
    if "rating" in study.site["generator"] and study.described is None and plant is not None and "water_to_wire" not in study.site["generator"]:
        return (Finding("note", "generator", "[generator] rating does not set the power: the sizing chooses the size; describe the jets (jet_diameter) or give design_flow where the plant is to be as described"),)
    bought = next((part for part in plant.electric if isinstance(part, SizedGenerator)), None) if plant is not None else None
    if bought is None:
        return ()
    return (Finding("note", "generator", f"its rating is not given: one of {float(bought.size_w):,.0f} W is counted, for the most water the plant can take under the whole head; give [generator] rating where it is known"),)


def chosen_chain(study: Any) -> Any:
    """The plant as the sizing chose it, or None."""
    found = study.sizing
    if found is None:
        return None
    made = found.chain(found.choice)
    jets = replace(made.jets, name=build.adjustable_name(study.site["turbine"])) if found.layout.adjustable else made.jets
    return replace(made, jets=jets, name=study.name)
