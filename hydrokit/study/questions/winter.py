"""Questions on frost: how long still water has, stretch by stretch, and the nights of frazil weather."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from ..answer import Answer, Evidence
from ..build import freeze as build_freeze

if TYPE_CHECKING:
    from ..study import Study


def _told(study: Study) -> tuple[Evidence, str]:
    """How good the cold is that all of this rests on, and where it comes from."""
    source = build_freeze.coldest(study)[1]
    if source.startswith("an example"):
        return Evidence.COMMON_PRACTICE, source
    if "known here" in source:
        return Evidence.ASSUMED, source
    return Evidence.CALCULATED, "the record of air temperature"


def _stands(study: Study, key: str, seconds: float) -> Answer:
    evidence, source = _told(study)
    if not np.isfinite(seconds):
        return Answer(key, "does not freeze", "text", digits=2, evidence=evidence, source=source)
    return Answer(key, seconds, "duration", digits=2, evidence=evidence, source=source)


def frost_depth(study: Study) -> Answer | None:
    """Deepest that frost goes in bare moist ground in the cold that is known."""
    if study.frost is None:
        return None
    evidence, source = _told(study)
    silt, gravel = study.frost.frost_depths_m
    return Answer(
        "frost.depth",
        study.frost.frost_depth_m,
        "depth",
        digits=2,
        low=silt,
        high=gravel,
        evidence=evidence,
        source=f"{source}, in moist soil; from wet silt to dry gravel",
    )


def freeze(study: Study, key: str) -> Answer | None:
    """How long still water has: ``freeze.<stretch>.bare``, ``freeze.<stretch>.snow``, and the worse
    of both of a line, ``freeze.line.penstock``, or of all, ``freeze.worst``."""
    _, name, state = (*key.split("."), "")[:3]
    if name in ("worst", "line"):
        found = build_freeze.soonest(study, state)
        return None if found is None else _stands(study, key, found.soonest_s)
    found = next((each for each in study.freeze if each.slug == name), None)
    if found is None or state not in build_freeze.STATES:
        return None
    return _stands(study, key, found.bare_s if state == "bare" else found.snow_s)


def worst(study: Study) -> Answer | None:
    """How long water may stand before its worst stretch is blocked, whether snow lies or not."""
    return freeze(study, "freeze.worst")


def frazil_months(study: Study) -> Answer | None:
    """Nights with the weather for frazil in each month of a mean year."""
    air = study.climate
    if air is None:
        return None
    ends = (np.nan_to_num(each) for each in (air.frazil_nights, air.frazil_least, air.frazil_most))
    nights, low, high = ends
    return Answer(
        "frazil.nights",
        nights,
        "count",
        digits=2,
        low=np.minimum(low, nights),
        high=np.maximum(high, nights),
        evidence=Evidence.CALCULATED,
        source="the record of air temperature",
    )


def frazil_days(study: Study) -> Answer | None:
    """The same of a mean year: the one count of frazil nights."""
    months = frazil_months(study)
    return (
        None
        if months is None
        else Answer(
            "frazil.days",
            float(np.sum(np.rint(months.value))),
            "count",
            digits=3,
            evidence=months.evidence,
            source=months.source,
        )
    )


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "freeze.worst": worst,
    "frost.depth": frost_depth,
    "frazil.nights": frazil_months,
    "frazil.days": frazil_days,
}
FAMILIES: dict[str, Callable[[Study, str], Answer | None]] = {"freeze": freeze}
