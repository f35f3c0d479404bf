"""What is done against frost: how far it gets into the ground, what running water holds out, what laying the pipe better gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Better", "RunningOpen", "better_laid", "fall_warms", "frost_in_soil", "running_open"]

_DAY_S = 86400.0
_A_LITTLE_WARMER = 0.1  # K above freezing, as a creek in frost may bring its water
_MORE_SOIL, _INSULATION_M = 1.5, 0.05
_SOON_S = 4 * _DAY_S  # a stretch that lasts longer needs nothing


def fall_warms(fall_m: float) -> float:
    """Kelvin by which water is warmed in falling so far."""
    from ...works.frost import friction_warming

    return float(friction_warming.si(fall_m))


def frost_in_soil(study: Study) -> tuple[float, float] | None:
    """Depth in m that the coldest day's frost reaches in bare moist soil within a day and a week; None where no stretch is buried, it does not freeze, or the record tells the depth."""
    from ...works.exposed import GROUND
    from ...works.frost import FREEZING_POINT
    from ...works.snow import frost_depth

    found = study.frost
    if found is None or found.frost_depth_m is not None:
        return None
    if found.air_temperature_k >= FREEZING_POINT or not any(
        each.stretch.soil_m > 0 for each in found.stretches
    ):
        return None
    day, week = (
        float(frost_depth.si(GROUND, found.air_temperature_k, days * _DAY_S)) for days in (1, 7)
    )
    return day, week


@dataclass(frozen=True, eq=False, kw_only=True)
class RunningOpen:
    """How far running water stays open in the worst stretch of the penstock.

    Parameters
    ----------
    warmer_k : float
        So much above freezing the water arrives.
    reach_m : float
        Until it is at freezing point; infinite where its friction alone keeps it open.
    stretch_m : float
        Length of the stretch.
    """

    warmer_k: float
    reach_m: float
    stretch_m: float


def running_open(study: Study) -> RunningOpen | None:
    """How far the full flow stays open in the stretch that is blocked first, where that is of the penstock; else None."""
    from ...works.frost import FREEZING_POINT, ice_free_length

    flow, line, held, frost = (
        study.full_flow_m3s,
        study.penstock,
        study.section,
        study.frost,
    )
    if flow is None or line is None or held is None or frost is None or not study.freeze:
        return None
    worst, air = study.freeze[0].stretch, frost.air_temperature_k
    if worst.line != "penstock":
        return None
    gradient = held.lost_head_m / float(line.length_m)
    arrives = FREEZING_POINT + _A_LITTLE_WARMER
    reach = ice_free_length.si(flow, arrives, air, worst.resistance_si(air), gradient)
    return RunningOpen(
        warmer_k=_A_LITTLE_WARMER, reach_m=float(reach), stretch_m=worst.end_m - worst.start_m
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Better:
    """The worst stretch laid better.

    Parameters
    ----------
    name, line : str
    soil_m, insulation_m : float or None
        What it is given: soil over it in all, or insulation added.
    blocked_s : float
        Until still water in it is blocked then.
    """

    name: str
    line: str
    soil_m: float | None
    insulation_m: float | None
    blocked_s: float


def better_laid(study: Study) -> Better | None:
    """The worst stretch under more soil, or wrapped; None where none is blocked within days."""
    from ...works.exposed import frost_on

    if study.frost is None or study.freeze[0].soonest_s > _SOON_S:
        return None
    worst = study.freeze[0]
    buried = worst.stretch.soil_m > 0
    changed = (
        replace(worst.stretch, soil_m=_MORE_SOIL * worst.stretch.soil_m)
        if buried
        else replace(worst.stretch, insulation_m=worst.stretch.insulation_m + _INSULATION_M)
    )
    under_snow = worst.snow_s <= worst.bare_s
    found = frost_on(
        (changed,), study.frost.air_temperature_k, under_snow, study.frost.frost_depth_m
    )
    return Better(
        name=worst.stretch.name,
        line=worst.stretch.line,
        soil_m=changed.soil_m if buried else None,
        insulation_m=None if buried else _INSULATION_M,
        blocked_s=float(found[0].blocked_s),
    )
