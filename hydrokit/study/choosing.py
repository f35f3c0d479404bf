"""From the site file to a choice of size: what is tried, what it costs, what every design shares."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ..errors import Finding, InputError, Mistake
from ..files import read_csv, shown_path
from . import site as build
from .sheets import filled

__all__ = ["chosen_chain", "costs", "pipe_findings", "pipes_tried", "sizing"]

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
    return np.array(sorted(given)) if given else flows_to_try(study.usable)


def layout(study: Any) -> Any:
    """What every design shares: head, turbine, generator, cable, intake."""
    from ..energy.sizing import Layout
    from ..plant.generator import generator
    from ..plant.jets import JET_KINDS
    from ..plant.parts import Penstock
    from ..plant.turbine import part_load
    from ..water import viscosity

    turbine, section = study.site["turbine"], study.site["generator"]
    kind = turbine.get("jet_kind", "conical nozzle")
    coefficient = turbine["jet_coefficient"].value if "jet_coefficient" in turbine else JET_KINDS[kind].coefficient
    adjustable = turbine["kind"] not in ("pelton", "turgo") or kind == "spear"
    penstock = Penstock(study.penstock, study.head.value, viscosity_m2s=float(viscosity.si(study.water_temperature_k)))
    curve = build.efficiency_curve(study, adjustable)
    electric = None
    if "water_to_wire" not in section:
        efficiency = section["efficiency"].value if "efficiency" in section else None
        electric = generator.si(section.get("kind", "synchronous"), 5000.0, efficiency)
    after = build.after_generator(study.site, 5000.0) if electric is not None else ()
    return Layout(penstock, curve or part_load.si(turbine["kind"]), coefficient, adjustable, generator=electric, after=after, supply=study.supply, states=study.states)


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
    money = costs(site)
    aim = site["sizing"].get("aim") if money is not None else None
    return study.folder.sentence(
        "[sizing]",
        lambda: sweep(
            study.usable, layout(study), _flows(study), pipes, jets, money, prices, site["cable"].get("length", 0.0), build.outages(site), demand,
            study.winter, aim, site["sizing"].get("flat_within", 0.02), energy_sd=float(np.hypot(study.record_uncertainty, doubt.efficiency)),
        ),
    )  # fmt: skip


def pipe_findings(study: Any) -> tuple[Finding, ...]:
    """That the sizing would take another pipe than the site file describes, where it does."""
    if study.sizing is None or study.penstock is None or study.described is not None:
        return ()
    described, chosen = study.penstock.pipes[0].name, study.sizing.choice.pipe.name
    if len(study.penstock.pipes) == 1 and described == chosen:
        return ()
    told = f"the energy rests on the pipe that the sizing chose ({chosen}); pressures, surge and frost on the one in the site file ({described}): write the chosen one there"
    return (Finding("caution", "sizing", told),)


def chosen_chain(study: Any) -> Any:
    """The plant as the sizing chose it, or None."""
    found = study.sizing
    if found is None:
        return None
    return replace(found.chain(found.choice), name=study.name)
