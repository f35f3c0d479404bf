"""Air that stays in the penstock behind its own high points: what it takes off the head of the plant."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .line_inlet import laid_on_profile

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ...works.falling import FallingLine
    from ...works.penstock_air import ShutIn
    from ...works.pipe import Line
    from ..study import Study

__all__ = ["beside", "kept_m", "pockets", "vented"]

_BESIDE_M = 5.0  # a vent this near stands at the high point
_MOST = 0.98  # of the head: the air of a plant that does not run
_ROUNDS = 12  # flow and air settle each other


def vented(study: Study, at_m: float) -> bool:
    """Whether the site file tells of a vent at a place of the penstock."""
    return any(beside(at_m, each) for each in study.site.penstock.vents)


def beside(top_m: float, vent_m: float) -> bool:
    """Whether a vent stands at a high point."""
    return abs(vent_m - top_m) <= _BESIDE_M


def pockets(study: Study, line: Line, shaft: Chain | None) -> tuple[ShutIn, ...]:
    """The pockets behind all high points, each with the flow that decides whether it goes.

    The pipe is filled with its jets shut. With the air in it the plant takes less, and clears less,
    than it would without: a pocket must go at that flow. What goes leaves more for the others.
    """
    from ...works.falling import FallingLine
    from ...works.penstock_air import shut_in
    from ...works.profile import Profile

    if study.profile is None or study.head is None:
        return ()
    laid, source = laid_on_profile(study, line, study.head.value)
    pipe = FallingLine(
        Profile(laid.distance_m, laid.elevation_m, True),
        line,
        max(source, float(laid.elevation_m[0])),
        altitude_m=study.altitude_m or 0.0,
        temperature_k=study.water_temperature_k,
    )
    if shaft is None:
        return shut_in(pipe, study.full_flow_m3s or 0.0)
    gone: dict[float, ShutIn] = {}
    while True:
        found = _settled(study, pipe, shaft, set(gone))
        leaving = {
            each.at_m: each for each in found if each.at_m not in gone and each.verdict == "goes"
        }
        if not leaving:
            return tuple(gone.get(each.at_m, each) for each in found)
        gone |= leaving


def _settled(study: Study, pipe: FallingLine, shaft: Chain, gone: set[float]) -> tuple[ShutIn, ...]:
    """Pockets at the flow that they themselves leave."""
    from ...works.penstock_air import shut_in

    air = 0.0
    found: tuple[ShutIn, ...] = ()
    for _ in range(_ROUNDS):
        head = float(np.max(shaft.penstock.head_gross_m))
        penstock = replace(shaft.penstock, air_m=min(air, _MOST * head))
        flow = float(np.max(shaft.replace(penstock=penstock).running().full_m3s))
        found = shut_in(pipe, flow)
        air = sum(
            each.head_m for each in found if each.at_m not in gone and not vented(study, each.at_m)
        )
    return found


def kept_m(study: Study, line: Line, shaft: Chain) -> float:
    """Head in m that air takes for good: no vent lets it out, and not every published law says that
    the flow carries it away.

    Nothing where the plant was commissioned: the readings hold whatever is there.
    """
    if study.baseline is not None:
        return 0.0
    kept = sum(
        each.head_m
        for each in pockets(study, line, shaft)
        if not vented(study, each.at_m) and each.verdict != "goes"
    )
    return min(kept, _MOST * float(np.max(shaft.penstock.head_gross_m)))
