"""Questions on keeping it going."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["QUESTIONS"]


def _self_cleaning(study: Study) -> Answer | None:
    """What a screen that cleans itself would save in a mean year, energy and walks."""
    found, costs = study.upkeep, study.site.costs
    if found is None or not found.clogging.spells or costs.value is None:
        return None
    return Answer(
        "upkeep.self_cleaning",
        found.spared.energy_j * costs.value + found.spared.visits * costs.visit,
        "money",
        digits=2,
        evidence=Evidence.MEASURED_ON_THE_PLANT,
        source="what clogging cost by the plant's own log, less a fifth (common practice)",
    )


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {"upkeep.self_cleaning": _self_cleaning}
