"""From the site file to jets and the efficiency of the machine."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ...site.named_files import maker_efficiency

if TYPE_CHECKING:
    from ...plant.jets import JetKind
    from ...plant.runner_speed import RunnerSpeed
    from ...plant.turbine import PartLoad
    from ...site.schema import Site
    from ...site.schema_plant import Turbine
    from ..study import Study

_IMPULSE = ("pelton", "turgo")


def fixed_jets(turbine: Turbine) -> bool:
    """Whether its water comes through jets of fixed bore."""
    return turbine.kind in _IMPULSE and turbine.jet_kind != "spear"


def adjustable_name(turbine: Turbine) -> str:
    """What lets the water in where it is no fixed jet: jets with needles, or the machine's own gates."""
    return "jets" if turbine.kind in _IMPULSE else "turbine"


def jet_kind(turbine: Turbine) -> JetKind:
    """What is usual of the kind of its jets."""
    from ...plant.jets import JET_KINDS

    return JET_KINDS[turbine.jet_kind]


def jet_coefficient(turbine: Turbine) -> float:
    """Discharge coefficient of its jets, as told, else as is usual of their kind."""
    return (
        turbine["jet_coefficient"].value
        if "jet_coefficient" in turbine
        else jet_kind(turbine).coefficient
    )


def schedule(site: Site) -> tuple[int | None, ...]:
    """Jets that stand open in each month; None where they are opened as they are fed."""
    habit = site.turbine.jets_open
    return () if habit is None else tuple(int(each) if each else None for each in habit)


def efficiency_curve(study: Study, adjustable: bool, turbine: Turbine | None = None) -> PartLoad:
    """Efficiency of the runner at part load: the manufacturer's table first, then what was
    measured, then the usual.

    Where only the efficiency from water to wire is known, that is the best of it; table or kind give
    the shape. `turbine`: what is told of one of several machines.
    """
    from ...plant.parts import steady
    from ...plant.turbine import part_load

    turbine, generator = turbine or study.site.turbine, study.site.generator
    whole = generator["water_to_wire"].value if "water_to_wire" in generator else None
    if "efficiency_table" in turbine:
        found = maker_efficiency(study, turbine)
        found = (
            found
            if whole is None
            else replace(found, efficiencies=found.efficiencies * whole / found.best)
        )
        return found if adjustable else replace(found, speed=runner_speed(study))
    if whole is not None and not adjustable:
        return replace(
            steady(whole, str(turbine.kind), "water to wire, from the site file"),
            speed=runner_speed(study),
        )
    best = whole or (turbine["efficiency"].value if "efficiency" in turbine else None)
    if adjustable:
        return part_load.si(turbine.kind, best, turbine.minimum_flow)
    # Fixed jets are open or shut: each runs at its own full flow, and the runner at its best.
    return replace(
        steady(
            best or part_load.si(turbine.kind).best,
            str(turbine.kind),
            "best efficiency; jets open or shut",
        ),
        speed=runner_speed(study),
    )


def runner_speed(study: Study) -> RunnerSpeed:
    """How far the speed of the runner is held, as the site file says, else as what it says of
    generator and supply lets one think."""
    from ...plant.runner_speed import BATTERY, FOLLOWS, HELD, RunnerSpeed
    from .phases import on_grid

    site, generator = study.site, study.site.generator
    told = {"held": HELD, "battery": BATTERY, "free": FOLLOWS}
    if site.turbine.kind not in _IMPULSE:
        return FOLLOWS
    if generator.speed is not None:
        return replace(told[generator.speed], why="[generator] speed says so")
    if generator.kind == "permanent magnet":
        why = "a generator with permanent magnets turns as the store or the inverter behind it lets it"
        return RunnerSpeed(0.5, 0.0, 1.0, why=why)
    if on_grid(study):
        return replace(HELD, why="the grid holds it")
    if site.ballast.keys():
        return replace(HELD, why="the governor of the ballast holds it")
    if generator.given("kind"):
        why = (
            f"{'an' if generator.kind[0] in 'aeiou' else 'a'} {generator.kind} generator feeds "
            "loads that want one frequency"
        )
        return RunnerSpeed(1.0, 0.5, 1.0, why=why)
    return RunnerSpeed(
        1.0, 0.0, 1.0, why="the site file does not say; most plants run at one frequency"
    )
