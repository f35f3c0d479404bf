"""The plan of all pages held against the size recommended: what each is, makes, costs and brings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from .machines import opened

if TYPE_CHECKING:
    from ..study import Study

__all__ = [
    "ANSWERED_BY_THE_PLAN",
    "Beside",
    "beside",
    "plan_benefit",
    "plan_is_recommended",
    "recommended_npv",
]

_SAME = 1e-6


@dataclass(frozen=True)
class Beside(Result):
    """Which questions tell of a plan and of a recommended size that differ.

    Parameters
    ----------
    rows : tuple of (str, str, str)
        What is compared, and the questions that answer it for the plan and for the recommended size.
    dearer_money : float
        Capital cost of the plan beyond that of the recommended size; below zero where it is
        cheaper, NaN where not known.
    better_money : float
        Net annual benefit of the recommended size beyond that of the plan; NaN where not known.
    """

    rows: tuple[tuple[str, str, str], ...]
    dearer_money: float
    better_money: float


_ROWS = (
    ("design flow", "plan.flow", "recommended.flow"),
    ("pipe", "plan.pipe", "recommended.pipe"),
    ("jets", "plan.jets", "recommended.jets"),
    ("power at full flow", "plant.full_power", "recommended.power"),
    ("energy of a mean year", "energy.net", "recommended.energy"),
    ("useful energy of a mean year", "demand.met", "recommended.useful"),
    ("capital cost", "money.capital", "recommended.capital"),
    ("net annual benefit", "plan.benefit", "recommended.benefit"),
    ("net present value", "money.npv", "recommended.npv"),
    ("debt service cover, worst of P50 years", "money.cover.p50.least", "recommended.cover"),
)


# the recommended size that is the plan is worked out once, as the plan: by its days, not along the sweep
ANSWERED_BY_THE_PLAN = {theirs: mine for _, mine, theirs in _ROWS} | {
    "recommended.kwh_cost": "money.lcoe"
}


def plan_is_recommended(study: Study) -> bool:
    """Whether the plan of all pages is the size recommended."""
    found, sizing = study.plan, study.sizing
    if found is None or sizing is None or study.exists:
        return False
    choice = sizing.choice
    return bool(
        found.pipe == choice.pipe.name
        and found.jets == choice.jets
        and abs(found.flow_m3s / choice.flow_m3s - 1) < _SAME
    )


def beside(study: Study) -> Beside | None:
    """The plan beside the recommended size; None where there is no plan, where it is the
    recommended one, or the plant stands."""
    if study.plan is None or study.sizing is None or study.exists or plan_is_recommended(study):
        return None
    rows = tuple(
        (f"{opened(study)}s" if name == "jets" else name, mine, theirs)
        for name, mine, theirs in _ROWS
        if study.answer(mine) is not None and study.answer(theirs) is not None
    )

    def apart(mine: str, theirs: str) -> float:
        one, other = study.answer(mine), study.answer(theirs)
        return np.nan if one is None or other is None else float(one.value) - float(other.value)

    return Beside(
        rows,
        apart("money.capital", "recommended.capital"),
        -apart("plan.benefit", "recommended.benefit"),
    )


def plan_benefit(study: Study) -> float:
    """Net annual benefit of the plan of all pages; NaN where it is not known."""
    found = study.money
    if study.plan is None or found is None or not found.items or not found.valued:
        return np.nan
    return float(found.case.stands.worth_money)


def recommended_npv(study: Study) -> float:
    """Net present value of the recommended size: its net annual benefit over the life; NaN where it
    is not known."""
    from ...energy.discounting import annuity_factor

    found = study.sizing
    if found is None or found.costs is None:
        return np.nan
    years = annuity_factor.si(found.costs.life_years, found.costs.discount_rate)
    return float(found.choice.worth_money * years)
