"""Questions on the flood that the intake must survive."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from ..answer import Answer, Evidence
from ..build.extremes import peak_factor

if TYPE_CHECKING:
    from ..study import Study

_SOURCE = "the yearly floods of the record, log-Pearson III"
LARGE_M3S = 0.2  # from here on a flood is told in the unit of rivers


def flood_kind(flow_m3s: float) -> str:
    """The kind of the view in which floods of that size are told, everywhere alike."""
    return "large flow" if flow_m3s >= LARGE_M3S else "flow"


def return_period(study: Study) -> Answer | None:
    """Return period of the flood that the intake must survive, from its life and the risk accepted."""
    wanted = study.intake_flood
    if wanted is None:
        return None
    evidence = Evidence.ASSUMED if wanted.given else Evidence.COMMON_PRACTICE
    return Answer(
        "flood.return_period",
        wanted.return_period_years,
        "years",
        digits=3,
        evidence=evidence,
        source="the life of the intake and the risk accepted",
    )


def intake_flood(study: Study) -> Answer | None:
    """That flood as the mean of its day."""
    wanted = study.intake_flood
    found = (
        None
        if wanted is None
        else next((flow for _, flow in wanted.flows if not isinstance(flow, str)), None)
    )
    if found is None:
        return None
    low, high = (each if np.isfinite(each) else np.nan for each in (found.low_m3s, found.high_m3s))
    return Answer(
        "flood.intake",
        float(found.flow_m3s),
        flood_kind(found.flow_m3s),
        digits=3,
        low=low,
        high=high,
        evidence=Evidence.CALCULATED,
        source=_SOURCE,
    )


def weir_flood(study: Study) -> Answer | None:
    """Peak of the flood that the weir is judged by."""
    weir = study.intake_weir
    if weir is None or weir.flood_m3s is None:
        return None
    given = weir.flood_is == "given"
    evidence, source = (
        (Evidence.ASSUMED, "the flood as given in the site file")
        if given
        else (Evidence.COMMON_PRACTICE, "twice the mean of the day (common practice)")
        if peak_factor(study) is None
        else (
            Evidence.MEASURED_HERE,
            "the mean of the day, times what flood marks here stood above the mean of theirs",
        )
    )
    return Answer(
        "flood.weir",
        float(weir.peak_m3s),
        flood_kind(weir.peak_m3s),
        digits=3,
        evidence=evidence,
        source=source,
    )


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "flood.return_period": return_period,
    "flood.intake": intake_flood,
    "flood.weir": weir_flood,
}
