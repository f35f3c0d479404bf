"""Questions on what a year adds up to."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ...energy.levels import LEVELS, MEDIAN, NINETY
from ..answer import Answer, Evidence
from ..build import log

if TYPE_CHECKING:
    from ..study import Study


def _annual(level: int) -> Callable[[Study], Answer | None]:
    """Energy that one year exceeds with so many per cent: by the log where that tells the year,
    else by the record."""

    def ask(study: Study) -> Answer | None:
        logged = log.annual(study, level)
        if logged is not None or study.energy_uncertainty is None:
            return logged
        low, value, high = (
            study.energy_uncertainty.annual_kwh(each) for each in (NINETY[0], level, NINETY[1])
        )
        if level != MEDIAN:
            return Answer(
                f"energy.annual.p{level}",
                value,
                "kWh",
                digits=3,
                evidence=Evidence.CALCULATED,
                source="the daily record",
            )
        low, high, told = log.held_against(study, low, high)
        return Answer(
            f"energy.annual.p{MEDIAN}",
            value,
            "kWh",
            digits=3,
            low=low,
            high=high,
            evidence=Evidence.CALCULATED,
            source="the daily record",
            findings=told,
        )

    return ask


def _energy(
    key: str, digits: int, of: Callable[[Any], float], source: str
) -> Callable[[Study], Answer | None]:
    """Energy of the mean year of the record, before or after a loss."""

    def ask(study: Study) -> Answer | None:
        return (
            None
            if study.year is None
            else Answer(key, of(study.year), "kWh", digits=digits, source=source)
        )

    return ask


def _lost(name: str) -> Callable[[Study], Answer | None]:
    """Energy that one loss takes from the mean year."""

    def ask(study: Study) -> Answer | None:
        steps = () if study.year is None else study.year.steps
        lost = next((float(step.kwh.sum()) for step in steps if step.name == name), None)
        return (
            None
            if lost is None
            else Answer(
                f"energy.lost.{name}", lost, "kWh", digits=2, source="the record, walked day by day"
            )
        )

    return ask


def _days(state: str, name: str, annual: bool) -> Callable[[Study], Answer | None]:
    """Days of a mean year in a state of the plant as it is run, by month or all year."""

    def ask(study: Study) -> Answer | None:
        if study.year is None:
            return None
        days = np.asarray(getattr(study.year, name), dtype=float)
        key, value = (
            (f"days.{state}.year", float(days.sum())) if annual else (f"days.{state}", days)
        )
        return Answer(key, value, "days", digits=3, source="the record, walked day by day")

    return ask


LOSSES = ("planned", "unplanned", "ramp", "jets", "frost")
STATES = {
    "full": "days_full",
    "part": "days_part",
    "underfed": "days_under_fed",
    "stopped": "days_stopped",
}


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    **{f"energy.annual.p{level}": _annual(level) for level in LEVELS},
    "energy.gross": _energy(
        "energy.gross",
        3,
        lambda year: year.gross_annual_kwh,
        "every day of the record with the best jets open and no stop",
    ),
    "energy.net": _energy(
        "energy.net", 3, lambda year: year.annual_kwh, "the record, walked day by day"
    ),
    **{f"energy.lost.{name}": _lost(name) for name in LOSSES},
    **{f"days.{state}": _days(state, name, False) for state, name in STATES.items()},
    **{f"days.{state}.year": _days(state, name, True) for state, name in STATES.items()},
    "energy.log": log.energy,
    **{f"energy.log.p{level}": log.exceeded(level) for level in LEVELS if level != MEDIAN},
    "energy.log.metered": log.metered,
    "energy.log.faults": log.faults,
    "energy.log.healthy": log.healthy,
}
