"""The water's way from the site file: parts above the pond, the diversion line, pressures, frost."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError
from ..files import read_csv
from . import capacity_site, machines_site, plant_site, pond_site
from .freeze_site import coldest
from .sheets import Folder
from .site import pipe as build_pipe

__all__ = [
    "bends",
    "breaks",
    "bridges",
    "diversion_line",
    "frost",
    "full_flow",
    "ground",
    "line_air",
    "pressures",
    "section",
    "single_surges",
    "states",
    "stretches",
    "supply",
]

# --- parts above the pond -------------------------------------------------------------------

# Kinds of screens: kind in the site file -> what builds it from its entry and name.
SCREENS = {
    "screen": lambda entry, name: _screens().Screen(entry["area"], entry["open"], entry["head"], entry.get("wire_gap"), name=name),
    "drilled pipe": lambda entry, name: _screens().DrilledPipe((int(entry["holes"]),), (entry["hole"],), (entry["head"],), entry.get("mesh_open"), name=name),
    "bar rack": lambda entry, name: _screens().BarRack(entry["width"] * entry["depth"], entry["bar"], entry["gap"], entry.get("angle", np.pi / 3), entry["head"], name=name),
    "tilted screen": lambda entry, name: _screens().TiltedScreen(entry["rating"], entry.get("length", 1.0), entry.get("drop", 0.0), entry.get("rated_by", "maker"), name),
    "bottom rack": lambda entry, name: _screens().BottomRack(entry["width"], entry["length"], entry["bar"], entry["gap"], entry.get("slope", np.radians(10)), name),
}  # fmt: skip
# The other parts that limit or lose water; a pond does neither.
PARTS = {
    **SCREENS,
    "orifice": pond_site.orifice,
    "gate": pond_site.gate,
    "open ground": pond_site.open_ground,
    "channel": pond_site.channel,
}  # fmt: skip


def _screens() -> Any:
    from ..works import screen_parts

    return screen_parts


def _rated(capacity_m3s: float, share_lost: float, name: str) -> Any:
    from ..works.rated import Rated

    return Rated(capacity_m3s, share_lost, name)


def part_name(entry: dict) -> str:
    """What an entry of [[part]] is called."""
    return entry.get("name", {"line": "diversion line"}.get(entry["kind"], entry["kind"]))


def supply(study: Any) -> tuple[Any, ...]:
    """What stands above the pond, in the order of the site file.

    The intake's capacity counts where no screen is listed above the last pond, and where it was
    measured: then a listed screen passes that. The diversion line counts where it is described,
    before the open ground, channel or pond if it is not listed, with what it carries today.
    """
    from ..works.diversion import DiversionLine

    entries, folder, line = list(study.site["part"]), study.folder, study.diversion_line
    if line is not None and not any(entry["kind"] == "line" for entry in entries):
        place = next(
            (
                number
                for number, entry in enumerate(entries)
                if entry["kind"] in ("open ground", "channel", "pond")
            ),
            len(entries),
        )
        entries.insert(place, {"kind": "line"})
    names = [part_name(entry) for entry in entries]
    for name in names:
        if names.count(name) > 1:
            raise folder.wrong(
                "[[part]]", f"two parts are called '{name}'; give each a name of its own"
            )
    made, place = [], pond_site.place_of_pond(entries)
    if "capacity" in study.site["intake"] and not any(
        entry["kind"] in SCREENS for entry in entries[:place]
    ):
        made.append(_rated(study.site["intake"]["capacity"].value, 0.0, "intake"))
    for entry, name in zip(entries, names):
        if entry["kind"] == "line" and line is not None:
            made.append(
                DiversionLine(line, name, capacity_site.carried_by_line(study, bool(made)).flow_m3s)
            )
        elif entry["kind"] in PARTS:
            made.append(
                folder.sentence(
                    f"[[part]] {name}",
                    lambda entry=entry, name=name: PARTS[entry["kind"]](entry, name),
                )
            )
    screens = [name for entry, name in zip(entries[:place], names) if entry["kind"] in SCREENS]
    return capacity_site.as_measured(study, tuple(made), screens)


def states(study: Any) -> Any:
    """State of each part in each month from its clogged shares; empty where nothing clogs."""
    from ..works.state import State

    shares = {
        part_name(entry): entry["clogged"] for entry in study.site["part"] if "clogged" in entry
    }
    if "clogged" in study.site["intake"]:
        shares["intake"] = study.site["intake"]["clogged"]
    known = {part.name for part in study.supply}
    shares = {name: monthly for name, monthly in shares.items() if name in known}
    if not shares:
        return ()
    # Months that are alike share one mapping, by which the chain knows them as alike.
    seen: dict[tuple[float, ...], dict[str, State]] = {}
    for month in zip(*shares.values()):
        seen.setdefault(month, {name: State(share) for name, share in zip(shares, month)})
    return tuple(seen[month] for month in zip(*shares.values()))


# --- the diversion line ---------------------------------------------------------------------


def along(surveyed: Any, chainage_m: Any) -> Any:
    """Distances along the slope of places given by chainage."""
    return np.interp(chainage_m, surveyed.chainage_m, surveyed.distance_m)


def diversion_line(study: Any) -> Any:
    """The line from creek to pond laid on its profile, or None where profile or bore are lacking."""
    section, surveyed = study.site["diversion"], study.diversion
    if surveyed is None or not ("size" in section or "inside_diameter" in section):
        return None
    return study.folder.sentence("[diversion]", lambda: _falling(study, section, surveyed))


def _falling(study: Any, section: dict, surveyed: Any) -> Any:
    from ..works.falling import FallingLine
    from ..works.pipe import Line
    from ..works.profile import Profile

    pipe = build_pipe(
        {
            "fittings": section.get("entry", 0.5),
            **{
                key: section[key]
                for key in ("size", "inside_diameter", "roughness", "rating")
                if key in section
            },
        },
        surveyed.length_m,
    )
    source = source_level(section, surveyed)
    level = (
        surveyed.elevation_m
        + {"axis": 0.0, "bottom": 0.5, "top": -0.5}[section.get("levels", "axis")] * pipe.diameter_m
    )
    if "mouth" in section or mouth_unknown(section, surveyed, pipe):
        level[0] = section.get("mouth", _likely_mouth(surveyed, level, source, pipe.diameter_m))
    if source <= level[0]:
        raise HydrokitError(
            f"its mouth (axis at {level[0]:.2f} m) is not under water (level {source:.2f} m): give source_level, and the level of its mouth as mouth"
        )
    lip = section.get("outlet_lip") if section.get("outlet") in ("upturned", "submerged") else None
    laid = Profile(surveyed.chainage_m, level, surveyed.along_slope)
    vents = tuple(float(each) for each in along(laid, section.get("vents", ())))
    return FallingLine(
        laid, Line((pipe,)), source, lip, vents, study.altitude_m or 0.0, study.water_temperature_k
    )


def relaid(study: Any, size: str) -> Any:
    """The line from creek to pond in another pipe of the catalogue, on the same profile."""
    section = {
        key: value
        for key, value in study.site["diversion"].items()
        if key not in ("inside_diameter", "roughness", "rating")
    }
    return _falling(study, {**section, "size": size}, study.diversion)


def vents_along(study: Any, chainages_m: Any) -> tuple[float, ...]:
    """Distances along the line from creek to pond of places given by chainage."""
    return tuple(
        float(each)
        for each in along(study.diversion_line.profile, np.asarray(chainages_m, dtype=float))
    )


def _likely_mouth(surveyed: Any, level: Any, source: float, bore_m: float) -> float:
    """Level of a mouth of which only the water above it was surveyed: that of the next station, if that is near."""
    if mouth_surveyed(surveyed):
        return float(min(level[1], source))
    return _under_water(source, max(source - float(level[-1]), 2 * _MOUTH_UNDER_M), bore_m)


def mouth_surveyed(surveyed: Any) -> bool:
    """Whether the second station, behind the water's surface, stands for the mouth."""
    return surveyed.elevation_m.size > 2 and surveyed.distance_m[1] < _MOUTH_WITHIN_M


def _under_water(source: float, head_m: float, bore_m: float) -> float:
    """Level of a mouth where nothing was surveyed."""
    return source - min(max(_MOUTH_UNDER_M, 1.5 * bore_m), 0.5 * head_m)


def source_level(section: dict, surveyed: Any) -> float:
    """Level of the water at the mouth of the diversion."""
    return float(section.get("source_level", surveyed.elevation_m[0]))


def mouth_unknown(section: dict, surveyed: Any, pipe: Any) -> bool:
    """Whether the first station is the water's surface, so that nothing says how deep the mouth lies."""
    return (
        "mouth" not in section
        and surveyed.elevation_m[0] > source_level(section, surveyed) - pipe.diameter_m / 2
    )


def line_air(study: Any) -> Any:
    """What air asks of the diversion line at full flow, or at the most it can bring where that is not known; or None."""
    from ..plant.operation import Passage
    from ..works.diversion import DiversionLine, LineAir

    line, section = study.diversion_line, study.site["diversion"]
    if line is None:
        return None
    place = next(
        (number for number, part in enumerate(study.supply) if isinstance(part, DiversionLine)), 0
    )
    before = [float(part.capacity_si()) for part in study.supply[:place]]
    passage = functools.reduce(Passage.through, study.supply[place:], Passage())
    notes, unknown = [], mouth_unknown(section, study.diversion, line.line.pipes[0])
    if unknown:
        under = line.source_level_m - float(line.reaches.elevation_m[0])
        text = f"the first station of the profile is the water's surface; the middle of the mouth is taken to lie {under:.2f} m under it: give [diversion] mouth"
        notes.append(Finding("note", "diversion", text))
    if not (unknown and before):
        before.append(capacity_site.mouth_of_line(line))
    end, lip = section.get("outlet", "free"), "outlet_lip" in section
    if end in ("upturned", "submerged") and not lip:
        notes.append(
            Finding(
                "caution",
                "diversion",
                f"the outlet is {end} but its level is not given: it is taken as a free end; give [diversion] outlet_lip",
            )
        )
    elif lip and end not in ("upturned", "submerged"):
        notes.append(
            Finding(
                "caution",
                "diversion",
                f'outlet_lip changes nothing, for the outlet is {end}: say outlet = "upturned" where it ends under a lip',
            )
        )
    wanted = [] if study.full_flow_m3s is None else [float(passage.needs_si(study.full_flow_m3s))]
    flow = min(line.full_bore_m3s, *wanted, *before)
    return LineAir(line, flow, min(before), tuple(notes))


# --- the penstock ---------------------------------------------------------------------------

FLOW_BY_LOSS = (
    0.1  # share of the head a pipe may lose where nothing else says the flow; common practice
)
_MOUTH_WITHIN_M = 6.0
_MOUTH_UNDER_M = 0.5  # where nothing was surveyed; common practice


def full_flow(study: Any) -> float | None:
    """Flow with everything open: the jets', else what may be taken, else what costs a tenth of the head."""
    site = study.site
    if study.plant is not None:
        return float(np.max(study.plant.running().full_m3s))
    said = [site["turbine"]["design_flow"]] if "design_flow" in site["turbine"] else []
    if not said:
        said = [max(site["rights"]["licence"])] if "licence" in site["rights"] else []
        said += [site["intake"]["capacity"].value] if "capacity" in site["intake"] else []
    if study.penstock is not None and study.head is not None:
        from ..water import viscosity

        said.append(
            float(
                study.penstock.flow_si(
                    FLOW_BY_LOSS * study.head.value, float(viscosity.si(study.water_temperature_k))
                )
            )
        )
    return min(said) if said else None


def _laid(study: Any) -> tuple[Any, float]:
    """Profile of the penstock and the level of the pond; straight where none was surveyed.

    The first station is the water's surface: the pipe begins at the level of the next, if that is near,
    else a little under the water.
    """
    from ..works.profile import Profile

    surveyed = study.profile
    if surveyed is None:
        mouth = _under_water(study.head.value, study.head.value, study.penstock.pipes[0].diameter_m)
        return Profile([0.0, float(study.penstock.length_m)], [mouth, 0.0], True), study.head.value
    level, source = np.array(surveyed.elevation_m), float(surveyed.elevation_m[0])
    level[0] = (
        level[1]
        if mouth_surveyed(surveyed)
        else _under_water(source, source - float(level[-1]), study.penstock.pipes[0].diameter_m)
    )
    return Profile(surveyed.chainage_m, level, surveyed.along_slope), source


_PIECES, _SQUARE_MOUTH = 12, 0.5


def _spread(line: Any, times: float = 1.0) -> Any:
    """The line with its bends and valves spread along it, and only the mouth's own loss left at the mouth.

    The site file gives one sum for them; charged at the mouth it would show suction that is not there.
    Readings may show so many times the loss of the clean pipe.
    """
    from ..works.pipe import Line

    pieces = []
    for number, pipe in enumerate(line.joined.pipes):
        mouth = min(float(pipe.fittings), _SQUARE_MOUTH) if number == 0 else 0.0
        part = replace(
            pipe,
            length_m=pipe.length_m / _PIECES,
            fittings=(pipe.fittings - mouth) / _PIECES,
            loss_factor=times * pipe.loss_factor,
        )
        pieces += [replace(part, fittings=part.fittings + mouth), *[part] * (_PIECES - 1)]
    return Line(tuple(pieces))


def section(study: Any) -> Any:
    """The penstock laid on its profile at full flow, or None."""
    from ..works.profile import long_section

    if study.penstock is None or study.head is None or not study.full_flow_m3s:
        return None
    laid, source = study.folder.sentence("[penstock]", lambda: _laid(study))
    return long_section(
        laid,
        _spread(study.penstock, plant_site.loss_in_use(study)),
        study.full_flow_m3s,
        source,
        study.altitude_m or 0.0,
        study.water_temperature_k,
        study.site["penstock"].get("warmest"),
    )


def pressures(study: Any) -> Any:
    """What the penstock must hold, or None."""
    from ..works.pressures import penstock_pressures

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
    from ..works.pressures import penstock_pressures

    one = study.full_flow_m3s / jets.count
    flows = (
        {each.name: each.design_flow_m3s for each in getattr(jets, "machines", ())}
        or {each.name: each.count * one for each in machines_site.groups(study)}
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
    from ..works.pressures import profile_bends

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


# --- frost ----------------------------------------------------------------------------------


def stretches(study: Any) -> tuple[Any, ...]:
    """The stretches of penstock and diversion as they lie: those listed, and the rest of each line."""
    made = []
    for where, surveyed, line in (
        ("diversion", study.diversion, study.diversion_line and study.diversion_line.line),
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


def _on_the_line(study: Any, line: str, length_m: float) -> None:
    """Refuse what is listed at a chainage that the line does not reach."""
    listed = [("stretch", "from"), ("bend", "at")] if line == "penstock" else [("stretch", "from")]
    for kind, key in listed:
        for number, entry in enumerate(study.site[f"{line}.{kind}"], 1):
            if entry[key] > length_m:
                raise study.folder.wrong(
                    f"[[{line}.{kind}]] {number}",
                    f"lies beyond the end of the line, which is {length_m:.0f} m long",
                )


def stretch_name(line: str, number: int, entry: dict) -> str:
    """What a listed stretch of a line is called."""
    return entry.get("name", f"{line}, stretch {number}")


def _stretch(
    study: Any, where: str, line: str, name: str, ends: Any, pipe: Any, entry: dict
) -> Any:
    from ..works.exposed import Stretch

    # Where only the bore was measured, a wall of a twentieth of it is usual in plastic pipe.
    outside = pipe.outside_diameter_m or 1.1 * pipe.diameter_m
    lies = (entry.get("cover", 0.0), entry.get("snow", 0.0), entry.get("insulation", 0.0))
    return study.folder.sentence(
        where,
        lambda: Stretch(
            name,
            line,
            float(ends[0]),
            float(ends[1]),
            pipe.diameter_m,
            outside,
            pipe.roughness_m,
            *lies,
        ),
    )


def frost(study: Any) -> Any:
    """Every stretch in the coldest day that is known, or None where no line is described."""
    from ..works.exposed import LineFrost, frost_on

    lying = study.stretches
    if not lying:
        return None
    air, source = coldest(study)
    depth = None if study.climate is None else study.climate.frost_depth_m
    return LineFrost(
        air,
        source.startswith("an example"),
        frost_on(lying, air, True, depth),
        frost_on(lying, air, False, depth),
        depth,
    )


# --- bridges --------------------------------------------------------------------------------


def bridges(study: Any) -> tuple[Any, ...]:
    """The stretches of both lines that hang free, with the span their pipe may have, where its wall is known."""
    from ..works.bridge import pipe_bridge

    made = []
    for line, number, entry in spans(study):
        pipe, pressure = (_on_penstock if line == "penstock" else _on_diversion)(
            study, entry["from"]
        )
        told = (
            stretch_name(line, number, entry),
            pipe,
            entry["span"],
            pressure,
            entry.get("snow_load", 0.0),
            entry.get("ice", 0.0),
        )
        made.append(
            study.folder.sentence(
                f"[[{line}.stretch]] {number}", lambda told=told: pipe_bridge(*told)
            )
        )
    return tuple(each for each in made if each is not None)


def spans(study: Any) -> list[tuple[str, int, dict]]:
    """Line, number and entry of each stretch that is said to hang free, of lines that are described."""
    described = {"diversion": study.diversion_line, "penstock": study.penstock}
    return [
        (line, number, entry)
        for line, made in described.items()
        if made is not None
        for number, entry in enumerate(study.site[f"{line}.stretch"], 1)
        if "span" in entry
    ]


def _on_penstock(study: Any, chainage_m: float) -> tuple[Any, float]:
    """Pipe, and the highest pressure in it, at a place."""
    at = chainage_m if study.profile is None else float(along(study.profile, chainage_m))
    pressure = (
        0.0
        if study.pressures is None
        else float(np.interp(at, study.pressures.distance_m, study.pressures.highest_pa))
    )
    return _pipe_at(study.penstock, at), pressure


def _on_diversion(study: Any, chainage_m: float) -> tuple[Any, float]:
    """The same with the gate at the end of the line shut."""
    from ..water import head_to_pressure

    line = study.diversion_line
    at = float(along(line.profile, chainage_m))
    under = max(
        line.source_level_m
        - float(np.interp(at, line.profile.distance_m, line.profile.elevation_m)),
        0.0,
    )
    return _pipe_at(line.line, at), float(head_to_pressure.si(under, study.water_temperature_k))


def _pipe_at(line: Any, distance_m: float) -> Any:
    ends = np.cumsum([float(pipe.length_m) for pipe in line.pipes])
    return line.pipes[min(int(np.searchsorted(ends, distance_m)), len(line.pipes) - 1)]
