"""Questions on how sure the energy of the years to come is, and on what is assumed where nobody measured."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ...energy.levels import LEVELS, MEDIAN, NINETY, level_name, monthly_levels
from ...errors import Finding
from ..answer import Answer, Evidence
from ..build import assumed as build_assumed
from ..build import log

if TYPE_CHECKING:
    from ..study import Study

_SOURCE = "the daily record"
_MEANS = {"several": "the mean of ten years", "mean": "the mean of many years"}


def _exceeded(key: str, of: str, level: int) -> Callable[[Study], Answer | None]:
    """What the mean of several years to come, or of endless ones, exceeds with so many per cent."""

    def ask(study: Study) -> Answer | None:
        if study.energy_uncertainty is None:
            return None
        low, high = np.nan, np.nan
        told: tuple[Finding, ...] = ()
        if level == MEDIAN:
            low, high = (study.energy_uncertainty.annual_kwh(each, of) for each in NINETY)
            told = log.mean_held_against(study, low, high, _MEANS[of])
        return Answer(
            f"energy.{key}.p{level}",
            study.energy_uncertainty.annual_kwh(level, of),
            "kWh",
            digits=3,
            low=low,
            high=high,
            evidence=Evidence.CALCULATED,
            source=_SOURCE,
            findings=told,
        )

    return ask


def _months(level: int) -> Callable[[Study], Answer | None]:
    """What each month of one year to come exceeds with so many per cent."""

    def ask(study: Study) -> Answer | None:
        if study.energy_uncertainty is None:
            return None
        found = study.energy_uncertainty.percentiles(
            levels=tuple(dict.fromkeys((*NINETY, level)))
        ).loc[list(range(1, 13))]
        low: Any = np.nan
        high: Any = np.nan
        told: tuple[Finding, ...] = ()
        if level == MEDIAN:
            low, high, told = log.months_held_against(
                study, *(found[level_name(each)].to_numpy() for each in NINETY)
            )
        return Answer(
            f"energy.month.p{level}",
            found[level_name(level)].to_numpy(),
            "kWh",
            digits=3,
            low=low,
            high=high,
            evidence=Evidence.CALCULATED,
            source=_SOURCE,
            findings=told,
        )

    return ask


def _winter(level: int) -> Callable[[Study], Answer | None]:
    """What the winter of one year to come exceeds with so many per cent."""

    def ask(study: Study) -> Answer | None:
        if study.energy_uncertainty is None:
            return None
        value = float(study.energy_uncertainty.percentiles()[level_name(level)]["winter"])
        return Answer(
            f"energy.winter.p{level}",
            value,
            "kWh",
            digits=3,
            evidence=Evidence.CALCULATED,
            source=_SOURCE,
        )

    return ask


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    **{
        f"energy.{key}.p{level}": _exceeded(key, of, level)
        for key, of in (("ten_years", "several"), ("mean", "mean"))
        for level in LEVELS
    },
    **{f"energy.month.p{level}": _months(level) for level in monthly_levels()},
    **{f"energy.winter.p{level}": _winter(level) for level in monthly_levels()},
}
FAMILIES = {"assumed": build_assumed.assumed}
