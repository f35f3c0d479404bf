"""What each part of the water's way passes: measured first, its formula beside it; nothing where
air stops it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import Finding, HydrokitError
from ..answer import Answer, Evidence, best

if TYPE_CHECKING:
    from ...works.diversion import Carried
    from ...works.falling import FallingLine
    from ...works.state import Part
    from ..study import Study

__all__ = [
    "as_measured",
    "carried_by_line",
    "intake_capacity",
    "line_capacity",
    "inlet_of_line",
    "seen_running",
]

_WITHIN = 1.645  # standard deviations either side hold 90 % of a normal distribution
FORMULA_SD = 0.25  # of what a screen is calculated to pass, its openings known; common practice


# --- the screens ----------------------------------------------------------------------------


def as_measured(study: Study, parts: tuple[Part, ...], screens: list[str]) -> tuple[Part, ...]:
    """The parts, the tightest of these screens passing what the whole intake was measured to pass,
    none of them less."""
    from ...works.rated import Gauged
    from ...works.screen_parts import InclinedScreen

    given = study.site["intake"].get("capacity")
    calculated = {part.name: float(part.capacity_si()) for part in parts if part.name in screens}
    if given is None or given.sd is None or not calculated:
        return parts
    tightest = min(calculated, key=calculated.__getitem__)
    gauged = {name for name, flow in calculated.items() if name == tightest or flow < given.value}

    def measured(part: Any) -> Any:
        rated = isinstance(
            part, InclinedScreen
        )  # of which the length that is wet goes by the same flow
        return Gauged(
            replace(part, rated_flow_m3s=given.value) if rated else part,
            given.value,
            calculated[part.name],
        )

    return tuple(measured(part) if part.name in gauged else part for part in parts)


def intake_capacity(study: Study) -> Answer | None:
    """What the intake passes clean: as measured, as its screens are calculated, as the site file assumes."""
    from .clogging import catches

    given, found = study.site["intake"].get("capacity"), []
    if given is not None:
        source = (
            "the intake's capacity as measured" if given.sd else "the intake's capacity as drawn"
        )
        found.append(
            _flow(
                "capacity.intake",
                given.value,
                given.sd,
                Evidence.MEASURED_ON_THE_PLANT if given.sd else Evidence.ASSUMED,
                source,
            )
        )
    place = _pond_part(study)
    screens = [part for part in study.supply[:place] if catches(part) and part.name != "intake"]
    if screens:
        flow, tightest = min(
            ((_calculated(part), part) for part in screens), key=lambda each: each[0]
        )
        uncertainty = getattr(tightest, "relative_uncertainty", FORMULA_SD)
        if np.isfinite(flow):
            rated = hasattr(tightest, "relative_uncertainty")
            source = (
                f"the rating of the {tightest.name}"
                if rated
                else f"the formula of the {tightest.name}"
            )
            found.append(
                _flow("capacity.intake", flow, uncertainty * flow, Evidence.CALCULATED, source)
            )
    return best(*found)


def _calculated(part: Any) -> float:
    """What the formula or the maker of a screen says, whatever was measured."""
    from ...works.rated import Gauged

    return float(part.calculated_m3s if isinstance(part, Gauged) else part.capacity_si())


def _pond_part(study: Study) -> int | None:
    """Place in the supply of the first part below the last pond; None without one."""
    from . import forebay
    from .part_names import part_name

    place = forebay.place_of_pond(study.site.part)
    if place is None:
        return None
    below = {part_name(each) for each in study.site.part[place:]}
    return next((number for number, part in enumerate(study.supply) if part.name in below), None)


def _flow(key: str, value: float, sd: float | None, evidence: Evidence, source: str) -> Answer:
    low, high = (value - _WITHIN * sd, value + _WITHIN * sd) if sd else (np.nan, np.nan)
    return Answer(key, value, "flow", low=low, high=high, evidence=evidence, source=source)


# --- the diversion line ---------------------------------------------------------------------


def inlet_of_line(line: FallingLine) -> float:
    """Flow in m³/s that the inlet of the line lets in with air behind it."""
    from ...works.intake import pipe_inlet

    bore = float(line.reaches.diameter_m[0])
    return float(
        pipe_inlet.si(line.source_level_m - (float(line.reaches.elevation_m[0]) - bore / 2), bore)
    )


def carried_by_line(
    study: Study, something_before: bool, other: FallingLine | None = None
) -> Carried:
    """What the diversion line carries today, or another in its place.

    A line that by its levels stalls carries nothing, unless water was seen to come through: then
    somebody got it past its air, and its full bore counts until it is measured.
    """
    from ...works.diversion import carried
    from .line_inlet import inlet_unknown

    line, surveyed = study.diversion_line if other is None else other, study.diversion
    if line is None or surveyed is None:
        raise HydrokitError(
            "the line from the creek has no profile, so what it carries is not known"
        )
    unknown = inlet_unknown(study.site.diversion, surveyed, line.line.pipes[0])
    inlet = None if unknown and something_before else inlet_of_line(line)
    primed = study.site.diversion.outlet == "gated"
    found = carried(line, inlet, primed)
    if not seen_running(study):
        return found
    # Whoever sees more water come through than its levels allow knows that air does not hold so
    # much of it back.
    most = 0.0 if study.baseline is None else float(study.baseline.flow_m3s[-1])
    return (
        replace(found, flow_m3s=line.full_bore_m3s, how="seen running")
        if found.how == "stalls" or most > found.flow_m3s
        else found
    )


def seen_running(study: Study) -> bool:
    """Whether readings or log show water at the jets."""
    for seen in (study.readings, study.log):
        if seen is not None and bool(
            np.any(
                (seen.jets > 0)
                & ((np.nan_to_num(seen.pressure_pa) > 0) | (np.nan_to_num(seen.power_w) > 0))
            )
        ):
            return True
    return False


def line_capacity(study: Study) -> Answer | None:
    """What the diversion line carries today; what its bore would carry full of water set aside."""
    from ...works.diversion import DiversionLine

    part = next((each for each in study.supply if isinstance(each, DiversionLine)), None)
    if part is None:
        return None
    flow, full = float(part.capacity_si()), float(part.line.full_bore_m3s)
    found, stalls = [], study.line_air is not None and study.line_air.filling.stalls_m is not None
    if stalls and flow > 0:
        found.append(
            Finding(
                "caution",
                "diversion line",
                (
                    "by its levels air stops it, yet readings show water at the jets: somebody "
                    "got it past its air once, and must again after each stop; survey it again, "
                    "or vent it"
                ),
            )
        )
    elif stalls:
        found.append(
            Finding(
                "problem",
                "diversion line",
                (
                    "it cannot run as it is laid, so the plant gives no energy: what to do stands "
                    "on the page of the water's way"
                )
                + (
                    "; if it runs today, read gauge and meters once with jets open"
                    if study.exists
                    else ""
                ),
            )
        )
    evidence = Evidence.MEASURED_ON_THE_PLANT if stalls and flow > 0 else Evidence.CALCULATED
    source = (
        "what the line carries with its air"
        if flow < full * (1 - 1e-9)
        else "the full bore of the line"
    )
    beside = (
        ()
        if flow >= full * (1 - 1e-9)
        else (
            Answer(
                "capacity.line",
                full,
                "flow",
                digits=3,
                evidence=Evidence.CALCULATED,
                source="the full bore of the line, free of air",
            ),
        )
    )
    return Answer(
        "capacity.line",
        flow,
        "flow",
        digits=3,
        evidence=evidence,
        source=source,
        set_aside=beside,
        findings=tuple(found),
    )
