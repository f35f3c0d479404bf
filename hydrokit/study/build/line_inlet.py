"""How high the inlet of the line from the creek lies, as far as it was surveyed."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["likely_mouth", "under_water"]


# --- the diversion line ---------------------------------------------------------------------


def along(surveyed: Any, chainage_m: Any) -> Any:
    """Distances along the slope of places given by chainage."""
    return np.interp(chainage_m, surveyed.chainage_m, surveyed.distance_m)


def likely_mouth(surveyed: Any, level: Any, source: float, bore_m: float) -> float:
    """Level of a mouth of which only the water above it was surveyed: that of the next station, if that is near."""
    if mouth_surveyed(surveyed):
        return float(min(level[1], source))
    return under_water(source, max(source - float(level[-1]), 2 * _MOUTH_UNDER_M), bore_m)


def mouth_surveyed(surveyed: Any) -> bool:
    """Whether the second station, behind the water's surface, stands for the mouth."""
    return surveyed.elevation_m.size > 2 and surveyed.distance_m[1] < _MOUTH_WITHIN_M


def under_water(source: float, head_m: float, bore_m: float) -> float:
    """Level of a mouth where nothing was surveyed."""
    return source - min(max(_MOUTH_UNDER_M, 1.5 * bore_m), 0.5 * head_m)


def source_level(section: dict, surveyed: Any) -> float:
    """Level of the water at the mouth of the diversion."""
    return float(section.get("source_level", surveyed.elevation_m[0]))


def mouth_unknown(section: dict, surveyed: Any, pipe: Any) -> bool:
    """Whether the first station is the water's surface, so that nothing says how deep the mouth lies."""
    return (
        "inlet_level" not in section
        and surveyed.elevation_m[0] > source_level(section, surveyed) - pipe.diameter_m / 2
    )


_MOUTH_WITHIN_M = 6.0
_MOUTH_UNDER_M = 0.5  # where nothing was surveyed; common practice
