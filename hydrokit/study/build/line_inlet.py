"""How high the inlet of the line from the creek lies, as far as it was surveyed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ...site.schema_way import Diversion
    from ...units import Floats, Number
    from ...works.pipe import Line, Pipe
    from ...works.profile import Profile
    from ..study import Study

__all__ = [
    "along",
    "likely_inlet",
    "inlet_surveyed",
    "inlet_unknown",
    "laid_on_profile",
    "source_level",
    "under_water",
]


# --- the diversion line ---------------------------------------------------------------------


def along(surveyed: Profile, chainage_m: Number | Sequence[float]) -> Floats:
    """Distances along the slope of places given by chainage."""
    return np.interp(chainage_m, surveyed.chainage_m, surveyed.distance_m)


def likely_inlet(surveyed: Profile, level: np.ndarray, source: float, bore_m: float) -> float:
    """Level of an inlet of which only the water above it was surveyed: that of the next station, if
    that is near."""
    if inlet_surveyed(surveyed):
        return float(min(level[1], source))
    return under_water(source, max(source - float(level[-1]), 2 * _INLET_UNDER_M), bore_m)


def inlet_surveyed(surveyed: Profile) -> bool:
    """Whether the second station, behind the water's surface, stands for the inlet."""
    return bool(surveyed.elevation_m.size > 2 and surveyed.distance_m[1] < _INLET_WITHIN_M)


def under_water(source: float, head_m: float, bore_m: float) -> float:
    """Level of an inlet where nothing was surveyed."""
    return source - min(max(_INLET_UNDER_M, 1.5 * bore_m), 0.5 * head_m)


def source_level(section: Diversion, surveyed: Profile) -> float:
    """Level of the water at the inlet of the diversion."""
    given = section.source_level
    return float(surveyed.elevation_m[0]) if given is None else given


def inlet_unknown(section: Diversion, surveyed: Profile, pipe: Pipe) -> bool:
    """Whether the first station is the water's surface, so that nothing says how deep the inlet lies."""
    top = source_level(section, surveyed) - pipe.diameter_m / 2
    return section.inlet_level is None and bool(surveyed.elevation_m[0] > top)


_INLET_WITHIN_M = 6.0
_INLET_UNDER_M = 0.5  # where nothing was surveyed; common practice


def laid_on_profile(study: Study, line: Line, head_m: float) -> tuple[Profile, float]:
    """Profile of the penstock and the level of the pond; straight where none was surveyed.

    The first station is the water's surface: the pipe begins at the level of the next, if that is near,
    else a little under the water.
    """
    from ...works.profile import Profile

    surveyed = study.profile
    if surveyed is None:
        inlet = under_water(head_m, head_m, line.pipes[0].diameter_m)
        return Profile(np.array([0.0, float(line.length_m)]), np.array([inlet, 0.0]), True), head_m
    level, source = np.array(surveyed.elevation_m), float(surveyed.elevation_m[0])
    level[0] = (
        level[1]
        if inlet_surveyed(surveyed)
        else under_water(source, source - float(level[-1]), line.pipes[0].diameter_m)
    )
    return Profile(surveyed.chainage_m, level, surveyed.along_slope), source
