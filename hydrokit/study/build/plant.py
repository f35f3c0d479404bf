"""From the site file to the chain of the plant."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import HydrokitError, counted
from ...sentences import Amount, Sentence
from . import machines as build_machines
from .kept_air import kept_m
from .losses import after_generator, generator_of
from .turbine import adjustable_name, efficiency_curve, fixed_jets, jet_coefficient, schedule
from .year import most_licensed

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ...plant.parts import Adjustable, FixedJets, Penstock
    from ...site.schema_plant import Turbine
    from ...works.pipe import Line
    from ..study import Study

# --- plant ----------------------------------------------------------------------------------


def chain(
    study: Study, pipes_line: Line | None, design_flow_m3s: float | None, jets: int | None
) -> Chain | None:
    """The plant as a chain, or None where head, pipe or jets are not known.

    Parameters
    ----------
    study : Study
    pipes_line : Line
    design_flow_m3s, jets : optional
        What the sizing chose, where the site file leaves it open.
    """
    from ...plant.chain import Chain
    from ...plant.parts import Penstock, Runner
    from ...water import density, viscosity

    site, turbine = study.site, study.site.turbine
    if study.head is None or pipes_line is None or not turbine:
        return None
    penstock = Penstock(
        pipes_line, study.head.value, viscosity_m2s=float(viscosity.si(study.water_temperature_k))
    )
    water = float(density.si(study.water_temperature_k))
    several = study.folder.sentence("[[machine]]", lambda: build_machines.adjustable(site))
    nozzles = (
        study.folder.sentence("[[machine]]", lambda: build_machines.machines(study))
        if several
        else study.folder.sentence(
            "[turbine]",
            lambda: _jets(
                turbine,
                penstock,
                design_flow_m3s if turbine.design_flow is None else turbine.design_flow,
                turbine.jets or len(turbine.jet_diameter or ()) or jets or 1,
            ),
        )
    )
    nozzles = study.folder.sentence(
        "[[machine]] jets", lambda: build_machines.with_groups(study, nozzles)
    )
    if nozzles is None:
        return None
    open_at_most = max((each for each in schedule(site) if each), default=0)
    if open_at_most > nozzles.count:
        raise study.folder.wrong(
            "[turbine] jets_open",
            (
                f"{open_at_most} stand open, but there "
                f"{'is only 1' if nozzles.count == 1 else f'are only {nozzles.count}'}; give jets"
            ),
        )
    curve = (
        build_machines.curve(study)
        if several
        else efficiency_curve(study, not hasattr(nozzles, "diameters_m"))
    )
    bare = Chain(penstock, nozzles, Runner(curve), density_kgm3=water)
    penstock = replace(penstock, air_m=kept_m(study, pipes_line, bare))
    shaft = bare.replace(penstock=penstock, supply=study.supply)
    return study.folder.sentence(
        "[turbine]",
        lambda: Chain(
            penstock,
            nozzles,
            Runner(curve, diameter_m=turbine.runner_diameter),
            electric=_electric(study, shaft),
            supply=study.supply,
            states=study.states,
            schedule=schedule(site),
            density_kgm3=water,
            name=study.name,
        ),
    )


def _jets(
    turbine: Turbine, penstock: Penstock, design_flow_m3s: float | None, count: int
) -> Adjustable | FixedJets | None:
    from ...plant.jets import jet_diameter
    from ...plant.parts import Adjustable, FixedJets

    if not fixed_jets(turbine):
        return (
            None
            if design_flow_m3s is None
            else Adjustable(design_flow_m3s, count, name=adjustable_name(turbine))
        )
    coefficient = jet_coefficient(turbine)
    bores = turbine.jet_diameter
    if bores is not None and len(bores) == 1:
        bores *= count
    if bores is not None and len(bores) != count:
        raise HydrokitError(
            f"jet_diameter lists {len(bores)} bores, but there "
            f"{'is' if count == 1 else 'are'} {counted(count, 'jet')}; give one bore for each "
            "jet, or one for all"
        )
    if bores is None and design_flow_m3s is not None:
        head_m = float(penstock.head_si(design_flow_m3s))
        if head_m <= 0:
            raise HydrokitError(
                Sentence(
                    "the penstock cannot bring {flow}: its head loss would be more than the gross head",
                    flow=Amount(design_flow_m3s, "flow"),
                )
            )
        bores = (float(jet_diameter.si(design_flow_m3s, head_m, count, coefficient)),) * count
    return None if bores is None else FixedJets(bores, coefficient)


def _electric(study: Study, shaft: Chain) -> tuple[Any, ...]:
    """Generator and what follows it for a plant up to its shaft; no generator where the site gives
    one efficiency from water to wire."""
    from ...energy.machine_size import SizedGenerator, generator_size_w, shaft_size_w
    from .metering import after_meter

    site, section = study.site, study.site.generator
    if "water_to_wire" in section:
        return after_meter(site, float(shaft.replace(supply=()).at_si(np.inf).power_w))
    efficiency = section["efficiency"].value if "efficiency" in section else None
    if "rating" in section:
        return (generator_of(section, section["rating"]), *after_generator(site, section["rating"]))
    # a limit that nobody told is none: the generator is bought to fit, and a change to the plant buys another
    most = most_licensed(study)
    losses = generator_of(
        section, max(float(shaft_size_w(shaft, most)) * (efficiency or 0.85), 1.0)
    )
    full = float(shaft.replace(supply=()).at_si(np.inf).power_w) * (efficiency or 0.85)
    return (
        SizedGenerator(losses, float(generator_size_w(shaft, losses, most))),
        *after_generator(site, full),
    )


def refitted(study: Study, chain: Chain) -> Chain:
    """A plant that was changed, with the generator that is then bought; one of a told rating stays
    as it is."""
    from ...energy.machine_size import SizedGenerator

    bought = next((part for part in chain.electric if isinstance(part, SizedGenerator)), None)
    return chain if bought is None else bought.bought_for(chain, most_licensed(study))
