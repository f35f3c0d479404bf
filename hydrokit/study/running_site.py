"""From readings at the powerhouse to the plant as it is: baseline, missing watts, a bracket for the year."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import HydrokitError
from . import site as build

__all__ = ["baseline", "bracket", "healthy_efficiency", "missing"]

# Jets to wire of a healthy machine where the site file says nothing: W = gpm × ft / 10 to 13 is
# 0.53 to 0.41; larger machines reach more. Common practice.
USUAL_WATER_TO_WIRE = 0.53


def baseline(study: Any) -> Any:
    """The plant fitted to its readings with the pond spilling, or None where they are too few."""
    from ..plant.jets import JET_KINDS
    from ..plant.parts import FixedJets
    from ..running.commission import Reading, commission
    from ..water import density

    seen, turbine = study.readings, study.site["turbine"]
    if seen is None or "jet_diameter" not in turbine or "jets" not in turbine:
        return None
    usable = [number for number in range(len(seen)) if seen.spilling[number] is not False]
    running = {int(seen.jets[number]) for number in usable} - {0}
    if not running or (0 not in seen.jets[usable] and len(running) < 2):
        return None
    kind = JET_KINDS[turbine.get("jet_kind", "conical nozzle")]
    given = turbine.get("jet_coefficient")
    coefficient = kind.coefficient if given is None else given.value
    spread = (kind.high - kind.low) / 4 / kind.coefficient if given is None or given.relative is None else given.relative
    nozzles = FixedJets((turbine["jet_diameter"],) * int(turbine["jets"]), coefficient)
    readings = [
        Reading(int(seen.jets[n]), float(seen.pressure_pa[n]), float(seen.power_w[n]) if seen.jets[n] else np.nan, np.nan, seen.spilling[n], seen.where[n])
        for n in range(len(seen))
    ]
    return study.folder.sentence(
        "[readings]",
        lambda: commission(
            readings, nozzles, study.penstock, coefficient_sd=max(spread, 0.02), gauge_height_m=study.site["penstock"].get("gauge_height", 0.0),
            density_kgm3=float(density.si(study.water_temperature_k)),
        ),
    )  # fmt: skip


def fitted_chain(study: Any) -> Any:
    """The plant as its readings show it, with what stands above the pond."""
    return study.baseline.plant.replace(supply=study.supply, states=study.states, schedule=build.schedule(study.site), name=study.name)


def healthy_efficiency(site: dict) -> float:
    """Efficiency from the water at the jets to the meter that a healthy plant of this kind should have."""
    generator, turbine = site["generator"], site["turbine"]
    if "water_to_wire" in generator:
        return generator["water_to_wire"].value
    if "efficiency" in turbine and "efficiency" in generator:
        return turbine["efficiency"].value * generator["efficiency"].value
    return USUAL_WATER_TO_WIRE


def missing(study: Any) -> Any:
    """Watts a healthy plant would give and this one does not, or None without watts."""
    from ..running.commission import missing_watts

    if study.baseline is None or not np.isfinite(study.baseline.efficiency):
        return None
    return missing_watts(study.baseline, healthy_efficiency(study.site))


def bracket(study: Any) -> Any:
    """Between which figures the year's energy lies, from gaugings alone; or None."""
    from ..energy.bracket import bracket as bracketed

    gauged = study.gaugings
    if gauged is None or study.plant is None or study.record is not None:
        return None
    months = [int(str(np.datetime64(day, "M"))[5:7]) for day in gauged.date]
    snow = bool(study.temperature is not None and study.temperature.groupby(study.temperature.index.month).mean().min() < -3)
    try:
        return bracketed(
            study.plant, gauged.flow_m3s, months, gauged.uncertainty, study.rights if study.site["rights.residual"] else None,
            uncertainties=build.uncertainties(study), snow=snow,
        )  # fmt: skip
    except HydrokitError as error:
        raise study.folder.wrong("[stream] gaugings", str(error)) from error
