"""Stretches of the pipes as they are laid: ground, cover, supports, frost."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ...sentences import Amount, Sentence
from ...site import schema_way
from .freeze import coldest, frosty
from .line_inlet import along
from .part_names import stretch_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ...works.bridge import PipeBridge
    from ...works.exposed import LineFrost, Stretch
    from ...works.falling import FallingLine
    from ...works.pipe import Line, Pipe
    from ..study import Study

    Lying = schema_way.Diversion | schema_way.Penstock
    from ...units import Floats

__all__ = ["Buoyancy", "bridges", "buoyancy", "frost", "snow_and_ice", "spans", "stretches"]


# --- frost ----------------------------------------------------------------------------------


def stretches(study: Study) -> tuple[Stretch, ...]:
    """The stretches of penstock and diversion as they lie: those listed, and the rest of each line."""
    made = []
    for where, surveyed, line in (
        (
            "diversion",
            study.diversion,
            None if study.diversion_line is None else study.diversion_line.line,
        ),
        ("penstock", study.profile, study.penstock),
    ):
        if line is None:
            continue
        pipe, listed = (
            min(line.pipes, key=lambda each: each.diameter_m),
            study.site[f"{where}.stretch"],
        )
        length = surveyed.length_m if surveyed is not None else float(line.length_m)
        taped = length if surveyed is None else float(surveyed.chainage_m[-1])
        _on_the_line(study, where, taped)
        if where == "penstock":
            _vents_on_the_pipe(study, length)
        for number, entry in enumerate(listed, 1):
            ends = (
                (entry["from"], entry["to"])
                if surveyed is None
                else along(surveyed, (entry["from"], entry["to"]))
            )
            if not 0 <= entry["from"] < entry["to"]:
                raise study.folder.wrong(
                    f"[[{where}.stretch]] {number}", "must end further down than it begins"
                )
            made.append(
                _stretch(
                    study,
                    f"[[{where}.stretch]] {number}",
                    where,
                    stretch_name(where, number, entry),
                    ends,
                    _pipe_at(line, float(ends[0])),
                    entry,
                )
            )
        name = f"{where}, elsewhere" if listed else where
        made.append(
            _stretch(study, f"[{where}]", where, name, (0.0, length), pipe, study.site[where])
        )
    names = [each.name for each in made]
    for each in made:
        if names.count(each.name) > 1:
            raise study.folder.wrong(
                f"[[{each.line}.stretch]]",
                f"two stretches are called '{each.name}'; give each a name of its own",
            )
    return tuple(made)


def _on_the_line(study: Study, line: str, length_m: float) -> None:
    """Refuse what is listed at a chainage that the line does not reach."""
    listed = [("stretch", "from"), ("bend", "at")] if line == "penstock" else [("stretch", "from")]
    for kind, key in listed:
        for number, entry in enumerate(study.site[f"{line}.{kind}"], 1):
            if entry[key] > length_m:
                raise study.folder.wrong(
                    f"[[{line}.{kind}]] {number}",
                    Sentence(
                        "lies beyond the end of the line, which is {length} long",
                        length=Amount(length_m, "length", 4),
                    ),
                )


def _vents_on_the_pipe(study: Study, length_m: float) -> None:
    """Refuse a vent further down than the pipe is long."""
    for vent in study.site.penstock.vents:
        if vent > length_m:
            raise study.folder.wrong(
                "[penstock] vents",
                Sentence(
                    "a vent at {vent} lies beyond the end of the pipe, which is {length} long: "
                    "give its distance along the pipe from its inlet",
                    vent=Amount(vent, "length", 4),
                    length=Amount(length_m, "length", 4),
                ),
            )


def _stretch(
    study: Study,
    where: str,
    line: str,
    name: str,
    ends: Sequence[float] | Floats,
    pipe: Pipe,
    entry: schema_way.Stretch | Lying,
) -> Stretch:
    from ...works.exposed import Stretch

    # Where only the bore was measured, a wall of a twentieth of it is usual in plastic pipe.
    outside = pipe.outside_diameter_m or 1.1 * pipe.diameter_m
    return study.folder.sentence(
        where,
        lambda: Stretch(
            name,
            line,
            float(ends[0]),
            end_m=float(ends[1]),
            inside_m=pipe.diameter_m,
            outside_m=outside,
            roughness_m=pipe.roughness_m,
            soil_m=entry.cover,
            snow_m=entry.snow,
            insulation_m=entry.insulation,
        ),
    )


def frost(study: Study) -> LineFrost | None:
    """Every stretch through the cold that is known, or None where no line is described or no frost comes."""
    from ...works.exposed import LineFrost, frost_on

    lying = study.stretches
    if not lying or not frosty(study):
        return None
    cold = study.cold.cold
    return LineFrost(
        cold,
        coldest(study)[1].startswith("an example"),
        stretches=frost_on(lying, cold),
        without_snow=frost_on(lying, cold, snow=False),
    )


# --- bridges --------------------------------------------------------------------------------


def bridges(study: Study) -> tuple[PipeBridge, ...]:
    """The stretches of both lines that hang free, with the span their pipe may have, where its wall
    is known."""
    from ...works.bridge import pipe_bridge

    made = []
    for line, number, entry in spans(study):
        if line == "diversion" and study.diversion_line is not None:
            pipe, pressure = _on_diversion(study, study.diversion_line, entry["from"])
        elif study.penstock is not None:
            pipe, pressure = _on_penstock(study, study.penstock, entry["from"])
        else:
            continue
        told = (
            stretch_name(line, number, entry),
            pipe,
            entry["span"],
            pressure,
            entry.snow_load,
            entry.ice,
        )
        made.append(
            study.folder.sentence(f"[[{line}.stretch]] {number}", partial(pipe_bridge, *told))
        )
    return tuple(each for each in made if each is not None)


def spans(study: Study) -> list[tuple[str, int, schema_way.Stretch]]:
    """Line, number and entry of each stretch that is said to hang free, of lines that are described."""
    described = {"diversion": study.diversion_line, "penstock": study.penstock}
    return [
        (line, number, entry)
        for line, made in described.items()
        if made is not None
        for number, entry in enumerate(study.site[f"{line}.stretch"], 1)
        if "span" in entry
    ]


def _on_penstock(study: Study, line: Line, chainage_m: float) -> tuple[Pipe, float]:
    """Pipe of the penstock, and the highest pressure in it, at a place."""
    at = chainage_m if study.profile is None else float(along(study.profile, chainage_m))
    pressure = (
        0.0
        if study.pressures is None
        else float(np.interp(at, study.pressures.distance_m, study.pressures.highest_pa))
    )
    return _pipe_at(line, at), pressure


def _on_diversion(study: Study, line: FallingLine, chainage_m: float) -> tuple[Pipe, float]:
    """The same with the gate at the end of the line shut."""
    from ...water import head_to_pressure

    at = float(along(line.profile, chainage_m))
    under = max(
        line.source_level_m
        - float(np.interp(at, line.profile.distance_m, line.profile.elevation_m)),
        0.0,
    )
    return _pipe_at(line.line, at), float(head_to_pressure.si(under, study.water_temperature_k))


def _pipe_at(line: Line, distance_m: float) -> Pipe:
    ends = np.cumsum([float(pipe.length_m) for pipe in line.pipes])
    return line.pipes[min(int(np.searchsorted(ends, distance_m)), len(line.pipes) - 1)]


def snow_and_ice(study: Study, bridge_name: str) -> tuple[str, ...]:
    """The loads of winter that a bridge is counted with: snow, ice."""
    for line, number, entry in spans(study):
        if stretch_name(line, number, entry) == bridge_name:
            return tuple(
                name for name, key in (("snow", "snow_load"), ("ice", "ice")) if entry.get(key)
            )
    return ()


# --- buoyancy -------------------------------------------------------------------------------

_MARGIN, _STONE = 1.5, 2600.0  # common practice; density of the stones, kg/m³
_WATER = 1000.0  # kg/m³
_UNKNOWN_WALL = 1400.0  # kg/m³, of PVC: where the material is not given


@dataclass(frozen=True, eq=False, kw_only=True)
class Buoyancy:
    """What lifts a pipe full of air under water, in kg for each metre of it.

    Parameters
    ----------
    name : str
    empty_kgm, half_full_kgm : float
        Negative where it stays down.
    stone_kgm : float
        Stone that holds the empty pipe with a margin of one half.
    """

    name: str
    empty_kgm: float
    half_full_kgm: float
    stone_kgm: float


def buoyancy(study: Study) -> tuple[Buoyancy, ...]:
    """The lines that float up empty under water, by their widest pipe."""
    from ...tables import row
    from ...water import GRAVITY
    from ...works.support import pipe_uplift

    made = []
    for name, line in (
        ("diversion line", None if study.diversion_line is None else study.diversion_line.line),
        ("penstock", study.penstock),
    ):
        if line is None:
            continue
        pipe = max(line.pipes, key=lambda each: each.diameter_m)
        outside = pipe.outside_diameter_m or 1.1 * pipe.diameter_m
        wall = pipe.wall_m or (outside - pipe.diameter_m) / 2
        density = (
            float(row("materials", pipe.material)["density_kgm3"])
            if pipe.material
            else _UNKNOWN_WALL
        )
        empty, half = (
            float(pipe_uplift.si(outside, wall, density, filled)) / GRAVITY for filled in (0.0, 0.5)
        )
        if empty > 0:
            made.append(
                Buoyancy(
                    name=name,
                    empty_kgm=empty,
                    half_full_kgm=half,
                    stone_kgm=_MARGIN * empty / (1 - _WATER / _STONE),
                )
            )
    return tuple(made)
