"""Questions on what the penstock must hold, and how slowly to close its valves."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import Finding, sure
from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ..study import Study

_PIPES = "the pipes and the profile, by the method of characteristics"


def _evidence(study: Study) -> Evidence:
    """Levelled or measured; a straight line between two ends is assumed."""
    return Evidence.ASSUMED if study.profile is None else Evidence.CALCULATED


def _foot(key: str, of: Callable[[Any], float]) -> Callable[[Study], Answer | None]:
    """A pressure at the foot of the penstock."""

    def asked(study: Study) -> Answer | None:
        held = study.pressures
        return (
            None
            if held is None
            else Answer(
                key, float(of(held)), "pressure", digits=3, evidence=_evidence(study), source=_PIPES
            )
        )

    return asked


def at_once_rise(study: Study) -> Answer | None:
    """Rise of head over rest at the foot if the whole flow stops at once."""
    held = study.pressures
    return (
        None
        if held is None
        else Answer(
            "surge.at_once",
            held.at_once_m,
            "head",
            digits=2,
            evidence=_evidence(study),
            source=_PIPES,
        )
    )


def closing_rise(study: Study) -> Answer | None:
    """The same while the valve closes as quickly as the site file says it can."""
    held = study.pressures
    return (
        None
        if held is None or held.surge_m is None
        else Answer(
            "surge.closing",
            held.surge_m,
            "head",
            digits=2,
            evidence=_evidence(study),
            source=_PIPES,
        )
    )


def even_closing(study: Study) -> Answer | None:
    """Shortest even closing that the pipe bears, rounded up; nought where it bears one at once."""
    from ...works.pressures import rounded_up

    held = study.pressures
    return (
        None
        if held is None
        else Answer(
            "closing_time.even",
            rounded_up(held.safe_time_s, 2),
            "time",
            digits=2,
            evidence=_evidence(study),
            source=_PIPES,
        )
    )


def closing(study: Study) -> Answer | None:
    """Time to take over the whole travel of a valve or needle at the foot, rounded up: the one
    printed everywhere."""
    from ...works.pressures import valve_time

    held = study.pressures
    if held is None:
        return None
    found: tuple[Finding, ...] = ()
    if held.too_fast and held.closing_time_s is not None:
        text = (
            f"the valve can close in {held.closing_time_s:.3g} s, and the line bears no closing "
            f"quicker than {rounded_up_text(held.safe_time_s)} s: slow it with a gear or a "
            "smaller handwheel, or close it by hand by the time told"
        )
        found = (Finding("caution", "closing time", text),)
    return Answer(
        "closing_time",
        valve_time(held),
        "time",
        digits=2,
        evidence=_evidence(study),
        source=_PIPES,
        findings=found,
    )


def rounded_up_text(seconds: float) -> str:
    """A time that no rounding makes shorter."""
    from ...works.pressures import rounded_up

    return f"{rounded_up(seconds, 2):g}"


def critical(study: Study) -> Answer | None:
    """Time in which a wave runs up the penstock and back."""
    held = study.pressures
    return (
        None
        if held is None
        else Answer(
            "wave.round_trip",
            held.critical_time_s,
            "time",
            digits=2,
            evidence=_evidence(study),
            source="the pipes' walls and bores",
        )
    )


def rating_used(study: Study) -> Answer | None:
    """Largest share of its derated rating that any place of the penstock sees."""
    held = study.pressures
    if held is None or not np.isfinite(held.use_of_rating):
        return None
    return Answer(
        "pressure.share_of_rating",
        held.use_of_rating,
        "share",
        digits=3,
        evidence=_evidence(study),
        source=_PIPES,
    )


def air_lacking(study: Study) -> Answer | None:
    """Head that is lacking where the diversion line stalls while it fills from the top."""
    air = study.line_air
    if air is None or air.filling.lacking_m is None:
        return None
    reach = 1.645 * sure(air.filling.lacking_uncertainty_m)
    lacking = air.filling.lacking_m
    return Answer(
        "air.lacking",
        lacking,
        "head",
        digits=2,
        low=lacking - reach,
        high=lacking + reach,
        evidence=Evidence.CALCULATED,
        source="the surveyed levels of the line, filled from the top",
    )


def _line_flow(
    key: str, step_kind: str, digits: int, source: str
) -> Callable[[Study], Answer | None]:
    """A flow at which the line from the creek is filled, or its gate opened: one on every sheet."""

    def asked(study: Study) -> Answer | None:
        steps = () if study.line_air is None else study.line_air.steps
        found = next((each.flow_m3s for each in steps if each.kind == step_kind), None)
        if found is None:
            return None
        return Answer(
            key, float(found), "flow", digits=digits, evidence=Evidence.CALCULATED, source=source
        )

    return asked


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "pressure.rest": _foot("pressure.rest", lambda held: held.static_pa[-1]),
    "pressure.highest": _foot("pressure.highest", lambda held: held.highest_pa[-1]),
    "pressure.at_once": _foot("pressure.at_once", lambda held: held.at_once_pa[-1]),
    "pressure.share_of_rating": rating_used,
    "surge.at_once": at_once_rise,
    "surge.closing": closing_rise,
    "air.lacking": air_lacking,
    "filling.diversion": _line_flow(
        "filling.diversion",
        "fill",
        2,
        "the bore of the line and a filling speed of common practice",
    ),
    "filling.gate": _line_flow(
        "filling.gate", "open gate", 3, "the surveyed levels of the line, its gate throttled"
    ),
    "closing_time": closing,
    "closing_time.even": even_closing,
    "wave.round_trip": critical,
}
