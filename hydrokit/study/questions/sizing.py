"""Questions on how big the plant should be: the plan that all pages speak of, and the size that is
recommended."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..answer import Answer, Evidence
from ..build import beside as build_beside
from ..build.accounts import recommended_cover

if TYPE_CHECKING:
    from ..study import Study


def _planned(name: str, kind: str) -> Callable[[Study], Answer | None]:
    """Of the plan."""

    def ask(study: Study) -> Answer | None:
        found = study.plan
        if found is None:
            return None
        evidence = (
            Evidence.MEASURED_ON_THE_PLANT if study.baseline is not None else Evidence.CALCULATED
        )
        return Answer(
            f"plan.{name}",
            getattr(found, _FIELDS.get(name, name)),
            kind,
            digits=3,
            evidence=evidence,
            source=found.source,
        )

    return ask


def _recommended(
    name: str, kind: str, value: Callable[[Any], Any], digits: int = 3
) -> Callable[[Study], Answer | None]:
    """Of the size that is recommended: the cheapest that counts as equal to the best."""

    def ask(study: Study) -> Answer | None:
        if study.sizing is None:
            return None
        by_the_plan = _by_the_plan(study, f"recommended.{name}")
        found = value(study.sizing.choice) if by_the_plan is None else by_the_plan
        if not isinstance(found, str) and not np.isfinite(found):
            return None
        return Answer(
            f"recommended.{name}",
            found,
            kind,
            digits=digits,
            source="the sweep of all sizes by the aim of the study",
        )

    return ask


def _by_the_plan(study: Study, key: str) -> Any:
    """What the plan answers to the same question, where the plan is the size recommended."""
    mine = build_beside.ANSWERED_BY_THE_PLAN.get(key)
    if mine is None or not build_beside.plan_is_recommended(study):
        return None
    answer = study.answer(mine)
    return None if answer is None else answer.value


def _worked(
    key: str, value: Callable[[Any], float], source: str, digits: int = 2
) -> Callable[[Study], Answer | None]:
    """An amount of money that the plan or the recommended size brings."""

    def ask(study: Study) -> Answer | None:
        by_the_plan = _by_the_plan(study, key)
        found = value(study) if by_the_plan is None else by_the_plan
        return (
            Answer(key, found, "money", digits=digits, source=source)
            if np.isfinite(found)
            else None
        )

    return ask


def _cover(study: Study) -> Answer | None:
    """Debt service cover of the recommended size in the worst of median years."""
    by_the_plan = _by_the_plan(study, "recommended.cover")
    found = recommended_cover(study) if by_the_plan is None else by_the_plan
    return (
        Answer(
            "recommended.cover",
            found,
            "number",
            digits=3,
            source=(
                "the accounts of a median year, its income that of the plan times what the two "
                "sizes earn in a mean year"
            ),
        )
        if np.isfinite(found)
        else None
    )


_FIELDS = {"flow": "flow_m3s"}

QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "plan.flow": _planned("flow", "flow"),
    "plan.pipe": _planned("pipe", "text"),
    "plan.jets": _planned("jets", "count"),
    "recommended.flow": _recommended("flow", "flow", lambda choice: choice.flow_m3s),
    "recommended.pipe": _recommended("pipe", "text", lambda choice: choice.pipe.name),
    "recommended.jets": _recommended("jets", "count", lambda choice: choice.jets),
    "recommended.power": _recommended("power", "power", lambda choice: choice.rated_w),
    "recommended.energy": _recommended("energy", "kWh", lambda choice: choice.kwh),
    "recommended.useful": _recommended("useful", "kWh", lambda choice: choice.useful_kwh),
    "recommended.capital": _recommended("capital", "money", lambda choice: choice.first_money),
    "recommended.kwh_cost": _recommended(
        "kwh_cost", "money per kWh", lambda choice: choice.levelised_money_per_kwh, 2
    ),
    "recommended.cover": _cover,
    "recommended.benefit": _recommended("benefit", "money", lambda choice: choice.worth_money),
    "recommended.npv": _worked(
        "recommended.npv",
        build_beside.recommended_npv,
        "the net annual benefit of the recommended size over its life",
    ),
    "plan.benefit": _worked(
        "plan.benefit",
        build_beside.plan_benefit,
        "the energy and the costs of the plan, as on the page on money",
        3,
    ),
}
