"""Ponds as settling basins and as stores: what sinks, how long the water lasts, when the silt must
be flushed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .forebay import ponds
from .part_names import part_name

if TYPE_CHECKING:
    from ...site.schema_parts import Forebay
    from ..study import Study

__all__ = ["Basin", "GrainKept", "basins", "best_basin", "grains_kept"]

GRAINS = (0.1e-3, 0.2e-3, 0.3e-3, 0.5e-3)
_ALIKE = 0.05  # two grains nearer than that are one
_LONG = 4.0  # times as long as wide: a basin of usual shape


def _needed_m2(study: Study, entry: Forebay) -> float:
    """Surface in m² that keeps the grain a pond is to keep, or the usual one."""
    from ...works.basin import basin_area, settling_velocity

    return float(
        basin_area.si(
            study.full_flow_m3s,
            settling_velocity.si(entry.grain, study.water_temperature_k),
        )
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Basin:
    """A pond at full flow.

    Parameters
    ----------
    name : str
    grain_m : float
        That it is to keep.
    area_m2, needed_m2 : float
        Of its surface: what it has, and what keeps that grain.
    speed_ms, limit_ms : float
        Of its water, were it four times as long as wide; below the second what has settled stays down.
    lasts_s : float
        How long the depth that may be drawn feeds full flow, nothing coming.
    last : bool
        The forebay: the last of the ponds.
    silt : bool
        Whether brown water was sampled.
    full_s : float or None
        Until the room for silt is full; None where silt or room is not given.
    """

    name: str
    grain_m: float
    area_m2: float
    needed_m2: float
    speed_ms: float
    limit_ms: float
    lasts_s: float
    last: bool
    silt: bool
    full_s: float | None

    @property
    def large_enough(self) -> bool:
        """Whether it keeps the grain."""
        return self.area_m2 >= self.needed_m2


def basins(study: Study) -> tuple[Basin, ...]:
    """Every pond as a settling basin, as the water meets them; none where nothing says how much the
    plant takes."""
    if study.full_flow_m3s is None:
        return ()
    found = ponds(study)
    return tuple(_basin(study, each, each is found[-1]) for each in found)


def _basin(study: Study, entry: Forebay, last: bool) -> Basin:
    from ...works.basin import basin_speed, flushing_interval, settling_velocity, trap_efficiency
    from ...works.forebay import storage_time

    flow, area, grain = study.full_flow_m3s, entry.area, entry.grain
    room = entry.silt_depth
    full = None
    if entry.silt is not None and room:
        sinks = float(settling_velocity.si(grain, study.water_temperature_k))
        trapped = float(trap_efficiency.si(sinks, area, flow))
        full = float(flushing_interval.si(area * room, flow, entry.silt, trapped))
    return Basin(
        name=part_name(entry),
        grain_m=grain,
        area_m2=area,
        needed_m2=_needed_m2(study, entry),
        speed_ms=float(flow / (np.sqrt(area / _LONG) * (entry.depth + room))),
        limit_ms=float(basin_speed.si(grain)),
        lasts_s=float(storage_time.si(area * entry.depth, flow)),
        last=last,
        silt=entry.silt is not None,
        full_s=full,
    )


def best_basin(study: Study) -> Basin | None:
    """The pond that settles best for its task: one that is large enough spares the others; None
    without a pond."""
    return min(basins(study), key=lambda each: each.needed_m2 / each.area_m2, default=None)


@dataclass(frozen=True, eq=False, kw_only=True)
class GrainKept:
    """A grain in the ponds at full flow.

    Parameters
    ----------
    grain_m, sinks_ms : float
    kept : tuple of (float, float)
        Share that each pond keeps, stirred through and quite still.
    area_m2 : float
        Surface that keeps it, stirred.
    """

    grain_m: float
    sinks_ms: float
    kept: tuple[tuple[float, float], ...]
    area_m2: float


def grains_kept(study: Study) -> tuple[GrainKept, ...]:
    """The usual grains, and those that the ponds are to keep, in every pond; none without a pond or
    a flow."""
    from ...works.basin import basin_area, settling_velocity, trap_efficiency

    flow, found = study.full_flow_m3s, ponds(study)
    if flow is None or not found:
        return ()
    made = []
    wanted = [each.grain for each in found]
    usual = [each for each in GRAINS if all(abs(each / own - 1) > _ALIKE for own in wanted)]
    for grain in np.unique([*usual, *wanted]):
        sinks = float(settling_velocity.si(grain, study.water_temperature_k))
        kept = tuple(
            (
                float(trap_efficiency.si(sinks, each.area, flow)),
                float(trap_efficiency.si(sinks, each.area, flow, "still")),
            )
            for each in found
        )
        area = float(basin_area.si(flow, sinks))
        made.append(GrainKept(grain_m=float(grain), sinks_ms=sinks, kept=kept, area_m2=area))
    return tuple(made)
