"""From the site file to the line from creek to forebay, and the air in it."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import Finding, HydrokitError
from ...sentences import Amount, Sentence
from ...site import schema_way
from . import capacity
from .line_inlet import along, inlet_unknown, likely_inlet, source_level
from .pipes import pipe as build_pipe

if TYPE_CHECKING:
    from ...works.diversion import LineAir
    from ...works.falling import FallingLine
    from ...works.profile import Profile
    from ..study import Study

__all__ = ["diversion_line", "full_flow", "line_air", "relaid", "siphon_most", "vents_along"]

_COVERED_M = 0.001  # over the crown of an end that is said to lie under water


def diversion_line(study: Study) -> FallingLine | None:
    """The line from creek to pond laid on its profile, or None where profile or bore are lacking."""
    section, surveyed = study.site.diversion, study.diversion
    if surveyed is None or not ("size" in section or "inside_diameter" in section):
        return None
    _on_the_line(study, "[diversion] vents", section.vents, surveyed)
    return study.folder.sentence("[diversion]", lambda: _falling(study, section, surveyed))


def _on_the_line(study: Study, where: str, chainages_m: Any, surveyed: Profile) -> None:
    """Refuse a vent at a chainage that the line does not reach."""
    first, last = float(surveyed.chainage_m[0]), float(surveyed.chainage_m[-1])
    for vent in chainages_m:
        if not first <= vent <= last:
            raise study.folder.wrong(
                where,
                Sentence(
                    "a vent at {vent} lies beyond the line, whose profile runs from {first} "
                    "to {last}: give its chainage as the profile counts it",
                    vent=Amount(vent, "length", 4),
                    first=Amount(first, "length", 4),
                    last=Amount(last, "length", 4),
                ),
            )


_OF_A_PIPE = ("size", "inside_diameter", "roughness", "rating")


def _falling(study: Study, section: schema_way.Diversion, surveyed: Profile) -> FallingLine:
    from ...works.falling import FallingLine
    from ...works.pipe import Line
    from ...works.profile import Profile

    given = {key: section[key] for key in _OF_A_PIPE if key in section}
    pipe = build_pipe(schema_way.Pipe(fittings=section.entry, **given), surveyed.length_m)
    source = source_level(section, surveyed)
    level = (
        surveyed.elevation_m
        + {"axis": 0.0, "bottom": 0.5, "top": -0.5}[section.levels] * pipe.diameter_m
    )
    if "inlet_level" in section or inlet_unknown(section, surveyed, pipe):
        level[0] = (
            likely_inlet(surveyed, level, source, pipe.diameter_m)
            if section.inlet_level is None
            else section.inlet_level
        )
    if source <= level[0]:
        raise HydrokitError(
            Sentence(
                "its inlet (axis at {axis}) is not under water (level {source}): give "
                "source_level, and the level of its inlet as inlet_level",
                axis=Amount(float(level[0]), "stage", 4),
                source=Amount(source, "stage", 4),
            )
        )
    crest = (
        section.get("outlet_crest") if section.get("outlet") in ("upturned", "submerged") else None
    )
    if crest is not None and not float(level[-1]) <= crest < source:
        raise HydrokitError(
            Sentence(
                "outlet_crest is {crest}; it must lie above the end of the pipe ({end}) and "
                "below the water at its inlet ({source}), in the profile's datum",
                crest=Amount(crest, "stage", 5),
                end=Amount(float(level[-1]), "stage", 5),
                source=Amount(source, "stage", 5),
            )
        )
    if crest is None and section.outlet == "submerged":
        # water that covers the end stands above its crown: no more is known of it
        crown = float(level[-1]) + pipe.diameter_m / 2 + _COVERED_M
        crest = crown if crown < source else None
    laid = Profile(surveyed.chainage_m, level, surveyed.along_slope)
    vents = tuple(float(each) for each in along(laid, section.vents))
    return FallingLine(
        laid,
        Line((pipe,)),
        source,
        crest_level_m=crest,
        vents_m=vents,
        altitude_m=study.altitude_m or 0.0,
        temperature_k=study.water_temperature_k,
    )


def relaid(study: Study, size: str) -> FallingLine | None:
    """The line from creek to pond in another pipe of the catalogue, on the same profile."""
    section = study.site.diversion.changed(
        inside_diameter=None, roughness=None, rating=None, size=size
    )
    return None if study.diversion is None else _falling(study, section, study.diversion)


def vents_along(study: Study, chainages_m: Sequence[float] | np.ndarray) -> tuple[float, ...]:
    """Distances along the line from creek to pond of places given by chainage."""
    line = study.diversion_line
    if line is None:
        return ()
    _on_the_line(study, "[[upgrade]] vents", chainages_m, line.profile)
    return tuple(float(each) for each in along(line.profile, np.asarray(chainages_m, dtype=float)))


def line_air(study: Study) -> LineAir | None:
    """What air asks of the diversion line at full flow, or at the most it can bring where that is
    not known; or None."""
    from ...plant.operation import Passage
    from ...works.diversion import DiversionLine, LineAir

    line, section, surveyed = study.diversion_line, study.site.diversion, study.diversion
    if line is None or surveyed is None:
        return None
    place = next(
        (number for number, part in enumerate(study.supply) if isinstance(part, DiversionLine)), 0
    )
    before = [float(part.capacity_si()) for part in study.supply[:place]]
    passage = functools.reduce(Passage.through, study.supply[place:], Passage())
    notes, unknown = [], inlet_unknown(section, surveyed, line.line.pipes[0])
    if unknown:
        under = line.source_level_m - float(line.reaches.elevation_m[0])
        text = Sentence(
            "the first station of the profile is the water's surface; the middle of the pipe "
            "inlet is taken to lie {under} under it: give [diversion] inlet_level",
            under=Amount(under, "stage", 2),
        )
        notes.append(Finding("note", "diversion", text))
    if not (unknown and before):
        before.append(capacity.inlet_of_line(line))
    end, crest = section.outlet, "outlet_crest" in section
    if end == "submerged" and not crest and line.upturned:
        notes.append(
            Finding(
                "caution",
                "diversion",
                Sentence(
                    "the outlet is submerged but the water level over it is not given: it is "
                    "taken to stand at the crown of the pipe, {level}, the least that keeps "
                    "air out and in; give [diversion] outlet_crest, for a higher one leaves "
                    "less head",
                    level=Amount(line.outlet_level_m, "stage", 5),
                ),
            )
        )
    elif end in ("upturned", "submerged") and not crest:
        notes.append(
            Finding(
                "caution",
                "diversion",
                (
                    f"the outlet is {end} but its level is not given: it is taken as a free end; "
                    "give [diversion] outlet_crest"
                ),
            )
        )
    elif crest and end not in ("upturned", "submerged"):
        notes.append(
            Finding(
                "caution",
                "diversion",
                (
                    f"outlet_crest changes nothing, because the outlet is {end}: write outlet = "
                    '"upturned" where it ends under a crest'
                ),
            )
        )
    wanted = [] if study.full_flow_m3s is None else [float(passage.needs_si(study.full_flow_m3s))]
    flow = min(line.full_bore_m3s, *wanted, *before)
    carries = [part.carries_m3s for part in study.supply if isinstance(part, DiversionLine)]
    return LineAir(
        line, flow, min(before), notes=tuple(notes), carries_m3s=min(carries, default=np.inf)
    )


def siphon_most(study: Study) -> float:
    """Most that the diversion line carries in m³/s as a siphon full of water and free of air; NaN
    without a line."""
    from ...works.venting import siphon_flow

    line = study.diversion_line
    return np.nan if line is None else min(float(siphon_flow(line)), line.full_bore_m3s)


# --- the penstock ---------------------------------------------------------------------------

FLOW_BY_LOSS = (
    0.1  # share of the head a pipe may lose where nothing else says the flow; common practice
)


def full_flow(study: Study) -> float | None:
    """Flow with everything open: the jets', else what may be taken, else what costs a tenth of the head."""
    site = study.site
    if study.plant is not None:
        return float(np.max(study.plant.running().full_m3s))
    rights, intake = site.rights, site.intake
    said = [] if site.turbine.design_flow is None else [site.turbine.design_flow]
    if not said:
        said = [] if rights.licence is None else [max(rights.licence)]
        said += [] if intake.capacity is None else [intake.capacity.value]
    if study.penstock is not None and study.head is not None:
        from ...water import viscosity

        said.append(
            float(
                study.penstock.flow_si(
                    FLOW_BY_LOSS * study.head.value, float(viscosity.si(study.water_temperature_k))
                )
            )
        )
    return min(said) if said else None
