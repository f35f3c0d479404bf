"""Questions on what a year adds up to."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .. import log_site
from ..answer import Answer, Evidence


def _annual(level: int) -> Callable[[Any], Answer | None]:
    """Energy that one year exceeds with so many per cent: by the log where that tells the year, else by the record."""

    def ask(study: Any) -> Answer | None:
        logged = log_site.annual(study, level)
        if logged is not None or study.doubt is None:
            return logged
        low, value, high = (float(study.doubt.percentiles(levels=(each,)).loc["annual"].iloc[0]) for each in (95, level, 5))
        if level != 50:
            return Answer(f"energy.annual.p{level}", value, "kWh", 3, evidence=Evidence.CALCULATED, source="the daily record")
        low, high, told = log_site.held_against(study, low, high)
        return Answer("energy.annual.p50", value, "kWh", 3, low, high, Evidence.CALCULATED, "the daily record", findings=told)

    return ask


QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    **{f"energy.annual.p{level}": _annual(level) for level in (50, 75, 90, 99)},
    "energy.log": log_site.energy,
    **{f"energy.log.p{level}": log_site.exceeded(level) for level in (75, 90, 99)},
    "energy.log.faults": log_site.faults,
    "energy.log.healthy": log_site.healthy,
}
