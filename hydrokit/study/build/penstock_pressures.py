"""What the penstock must hold: long section, surge, bends."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ...columns import read_csv
from ...site.sheets import Folder
from . import healthy, machines
from .line_inlet import along, mouth_surveyed, under_water
from .waterway import PIECES, SQUARE_MOUTH

__all__ = ["bends", "breaks", "ground", "pressures", "section", "single_surges"]


def _laid(study: Any) -> tuple[Any, float]:
    """Profile of the penstock and the level of the pond; straight where none was surveyed.

    The first station is the water's surface: the pipe begins at the level of the next, if that is near,
    else a little under the water.
    """
    from ...works.profile import Profile

    surveyed = study.profile
    if surveyed is None:
        mouth = under_water(study.head.value, study.head.value, study.penstock.pipes[0].diameter_m)
        return Profile([0.0, float(study.penstock.length_m)], [mouth, 0.0], True), study.head.value
    level, source = np.array(surveyed.elevation_m), float(surveyed.elevation_m[0])
    level[0] = (
        level[1]
        if mouth_surveyed(surveyed)
        else under_water(source, source - float(level[-1]), study.penstock.pipes[0].diameter_m)
    )
    return Profile(surveyed.chainage_m, level, surveyed.along_slope), source


def _spread(line: Any, times: float = 1.0) -> Any:
    """The line with its bends and valves spread along it, and only the mouth's own loss left at the mouth.

    The site file gives one sum for them; charged at the mouth it would show suction that is not there.
    Readings may show so many times the loss of the clean pipe.
    """
    from ...works.pipe import Line

    pieces = []
    for number, pipe in enumerate(line.joined.pipes):
        mouth = min(float(pipe.fittings), SQUARE_MOUTH) if number == 0 else 0.0
        part = replace(
            pipe,
            length_m=pipe.length_m / PIECES,
            fittings=(pipe.fittings - mouth) / PIECES,
            loss_factor=times * pipe.loss_factor,
        )
        pieces += [replace(part, fittings=part.fittings + mouth), *[part] * (PIECES - 1)]
    return Line(tuple(pieces))


def section(study: Any) -> Any:
    """The penstock laid on its profile at full flow, or None."""
    from ...works.profile import long_section

    if study.penstock is None or study.head is None or not study.full_flow_m3s:
        return None
    laid, source = study.folder.sentence("[penstock]", lambda: _laid(study))
    return long_section(
        laid,
        _spread(study.penstock, healthy.loss_in_use(study)),
        study.full_flow_m3s,
        source,
        study.altitude_m or 0.0,
        study.water_temperature_k,
        study.site["penstock"].get("warmest"),
    )


def pressures(study: Any) -> Any:
    """What the penstock must hold, or None."""
    from ...works.pressures import penstock_pressures

    if study.section is None:
        return None
    return study.folder.sentence(
        "[penstock] closing_time",
        lambda: penstock_pressures(
            study.section,
            study.penstock,
            study.full_flow_m3s,
            study.site["penstock"].get("closing_time"),
            study.altitude_m or 0.0,
            study.water_temperature_k,
        ),
    )


def single_surges(study: Any) -> tuple[tuple[str, float], ...]:
    """What one of several jets or machines does alone if it stops at once: name, and the rise of head over rest in m."""
    jets = None if study.plant is None else study.plant.jets
    if study.pressures is None or jets is None or jets.count < 2:
        return ()
    from ...works.pressures import penstock_pressures

    one = study.full_flow_m3s / jets.count
    flows = (
        {each.name: each.design_flow_m3s for each in getattr(jets, "machines", ())}
        or {each.name: each.count * one for each in machines.groups(study)}
        or {f"one of {jets.count}": one}
    )
    return tuple(
        (
            name,
            penstock_pressures(
                study.section,
                study.penstock,
                flow,
                None,
                study.altitude_m or 0.0,
                study.water_temperature_k,
            ).at_once_m,
        )
        for name, flow in flows.items()
    )


def bends(study: Any) -> tuple[Any, ...]:
    """The bends listed, and the sharpest breaks of slope in the profile, with their thrust."""
    from ...works.pressures import profile_bends

    if study.pressures is None:
        return ()
    listed = study.site["penstock.bend"]
    where, angle = [entry["at"] for entry in listed], [entry["angle"] for entry in listed]
    if study.profile is not None:
        where = list(along(study.profile, np.array(where, dtype=float)))
        place, turn = breaks(study.profile)
        own = np.array(
            [all(abs(each - at) > _SAME_BEND_M for at in where) for each in place], dtype=bool
        )
        place, turn = place[own], turn[own]  # a listed bend is told once
        sharpest = np.argsort(-turn)[:_BREAKS_SHOWN]
        where, angle = [*where, *place[sharpest]], [*angle, *turn[sharpest]]
    return (
        profile_bends(
            study.pressures, study.penstock, study.full_flow_m3s, np.array(where), np.array(angle)
        )
        if where
        else ()
    )


_BREAKS_SHOWN = 3
_SAME_BEND_M = 1.0


def breaks(surveyed: Any) -> tuple[np.ndarray, np.ndarray]:
    """Places where the slope changes, from the second station of the pipe on, and by what angle."""
    step, rise = np.diff(surveyed.distance_m), np.diff(surveyed.elevation_m)
    slope = np.arcsin(np.clip(rise / step, -1.0, 1.0))[
        1:
    ]  # the first stretch is the water's surface
    return surveyed.distance_m[2:-1], np.abs(np.diff(slope))


def ground(folder: Folder, section: dict) -> Any:
    """Level of the ground at the stations of a profile, where its sheet gives it."""
    if "profile" not in section:
        return None
    table = read_csv(
        folder.file(section["profile"], "profile"),
        {"chainage": "m", "elevation": "m"},
        {"ground": "m"},
    )
    return (
        table["ground"].to_numpy()
        if "ground" in table and np.isfinite(table["ground"]).any()
        else None
    )
