"""What is done against frost: what running water holds out, what laying the pipe better gives."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ...works.exposed import StretchFrost
    from ..study import Study

__all__ = [
    "Better",
    "KeptOpen",
    "RunningOpen",
    "better_laid",
    "fall_warms",
    "kept_open",
    "reached_in_gravel",
    "running_open",
]

_DAY_S = 86400.0
_A_LITTLE_WARMER = 0.1  # K above freezing, as a creek in frost may bring its water
_MORE_SOIL, _INSULATION_M = 1.5, 0.05
_SOON_S = 4 * _DAY_S  # a stretch that lasts longer needs nothing


def fall_warms(fall_m: float) -> float:
    """Kelvin by which water is warmed in falling so far."""
    from ...works.frost import friction_warming

    return float(friction_warming.si(fall_m))


@dataclass(frozen=True, eq=False, kw_only=True)
class KeptOpen:
    """The flow whose friction alone keeps a stretch open.

    Parameters
    ----------
    line : str
    flow_m3s : float
        In the hardest frost known; zero where none is needed.
    cold_m3s : float
        On all but one day in ten of the coldest month; NaN where no year of air is known.
    most_m3s : float
        That its line ever passes: what the jets of the penstock take, what the diversion carries today.
        Infinite where nothing says it.
    """

    line: str
    flow_m3s: float
    cold_m3s: float
    most_m3s: float


def kept_open(study: Study) -> dict[str, KeptOpen]:
    """For each stretch, by its name; empty without frost."""
    if study.frost is None:
        return {}
    carried = study.answer("capacity.line")
    most = {
        "penstock": study.full_flow_m3s,
        "diversion": None if carried is None else float(carried.value),
    }
    by_name: dict[str, float] = {}
    if study.standing is not None:
        by_name = {
            each.name: float(flow)
            for each, flow in zip(study.standing.stretches, study.standing.keep_open_m3s)
        }
    made = {}
    for each in study.frost.stretches:
        passes = most.get(each.stretch.line)
        made[each.stretch.name] = KeptOpen(
            line=each.stretch.line,
            flow_m3s=each.keep_open_m3s,
            cold_m3s=by_name.get(each.stretch.name, float("nan")),
            most_m3s=float("inf") if passes is None else float(passes),
        )
    return made


def reached_in_gravel(study: Study) -> tuple[str, ...]:
    """Stretches that no frost reaches in moist soil as they lie without snow, but would in dry gravel."""
    if study.frost is None:
        return ()
    _, gravel = study.frost.frost_depths_m
    return tuple(
        each.stretch.name
        for each in study.frost.without_snow
        if not np.isfinite(each.blocked_s) and 0 < each.stretch.soil_m < gravel
    )


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
    """How far the full flow stays open in the stretch that is blocked first, where that is of the
    penstock; else None."""
    from ...works.frost import FREEZING_POINT, ice_free_length

    flow, line, held, frost = (
        study.full_flow_m3s,
        study.penstock,
        study.section,
        study.frost,
    )
    if flow is None or line is None or held is None or frost is None or not study.freeze:
        return None
    worst = _worst(study)
    if worst.stretch.line != "penstock":
        return None
    day = int(np.argmax(worst.lost_wm))
    gradient = held.lost_head_m / float(line.length_m)
    arrives = FREEZING_POINT + _A_LITTLE_WARMER
    reach = ice_free_length.si(
        flow, arrives, float(worst.around_k[day]), float(worst.resistance[day]), gradient
    )
    return RunningOpen(
        warmer_k=_A_LITTLE_WARMER,
        reach_m=float(reach),
        stretch_m=worst.stretch.end_m - worst.stretch.start_m,
    )


def _worst(study: Study) -> StretchFrost:
    """The stretch that is blocked first, with or without its snow, whichever is worse."""
    assert study.frost is not None
    first = study.freeze[0]
    lying = study.frost.stretches if first.snow_s <= first.bare_s else study.frost.without_snow
    return next(each for each in lying if each.stretch.name == first.stretch.name)


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
    found = frost_on((changed,), study.frost.cold, worst.snow_s <= worst.bare_s)
    return Better(
        name=worst.stretch.name,
        line=worst.stretch.line,
        soil_m=changed.soil_m if buried else None,
        insulation_m=None if buried else _INSULATION_M,
        blocked_s=float(found[0].blocked_s),
    )
