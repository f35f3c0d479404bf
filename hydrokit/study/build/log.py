"""The year of a plant that has a log: what it made is the first evidence, whatever gaugings would say."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from ...energy.levels import MEDIAN, NINETY
from ...errors import Finding
from ...sentences import series_text
from ...stream.record import MONTH_NAMES
from ..answer import Answer, Evidence, best
from .metering import at_loads_si, metered_at

__all__ = [
    "annual",
    "by_log",
    "energy",
    "exceeded",
    "faults",
    "healthy",
    "held_against",
    "log_year",
    "mean_held_against",
    "metered",
    "months_held_against",
]


def log_year(study: Any) -> Any:
    """What the plant made in a year by its own log, counted at the loads like all energy, or None without a log or where no month of it is known."""
    if study.history is None:
        return None
    from ...running.log_year import log_year as worked_out

    found = worked_out(study.history, at_loads=at_loads_si(study))
    return found if np.isfinite(found.monthly_kwh).any() else None


def by_log(study: Any) -> bool:
    """Whether the log tells the year: it holds every month, and no daily record does it better."""
    return (
        study.year is None
        and study.log_year is not None
        and bool(np.isfinite(study.log_year.annual_kwh))
    )


def _whole(study: Any) -> Any:
    found = study.log_year
    return found if found is not None and np.isfinite(found.annual_kwh) else None


def _source(study: Any) -> str:
    return f"the plant's own log of {study.history.years:.1f} years"


def metered(study: Any) -> Answer | None:
    """Energy of a year by the log where the meter hangs; at the loads it is less by what the wire between takes."""
    found = _whole(study)
    return (
        None
        if found is None
        else Answer(
            "energy.log.metered",
            found.metered_kwh,
            "kWh",
            3,
            evidence=Evidence.MEASURED_ON_THE_PLANT,
            source=f"{_source(study)}, at the {metered_at(study.site)}",
        )
    )


def energy(study: Any) -> Answer | None:
    """Energy of a year by the log; what the record's year or the bracket of the gaugings says is set aside."""
    found = _whole(study)
    if found is None:
        return None
    others = []
    if study.year is not None:
        low = high = np.nan
        if study.energy_uncertainty is not None:
            levels = study.energy_uncertainty.percentiles(levels=NINETY).loc["annual"]
            low, high = sorted(float(each) for each in levels)
        others.append(
            Answer(
                "energy.log",
                float(study.year.annual_kwh),
                "kWh",
                3,
                low,
                high,
                Evidence.CALCULATED,
                "the year of the daily record",
            )
        )
    elif study.bracket is not None:
        low, high = study.bracket.low_kwh, study.bracket.high_kwh
        others.append(
            Answer(
                "energy.log",
                float(np.sqrt(max(low, 1.0) * max(high, 1.0))),
                "kWh",
                2,
                low,
                high,
                Evidence.CALCULATED,
                "the bracket of a few gaugings",
            )
        )
    mine = Answer(
        "energy.log",
        found.annual_kwh,
        "kWh",
        3,
        *found.range_kwh,
        Evidence.MEASURED_ON_THE_PLANT,
        _source(study),
        findings=_findings(study),
    )
    return best(mine, *others)


def _findings(study: Any) -> tuple[Finding, ...]:
    """What the log asks of its reader."""
    from ...energy.outlook import FEW_YEARS_SD

    found, told = study.log_year, []
    if len(found.years_kwh) < 3 and study.year is None:
        told.append(
            Finding(
                "caution",
                "log",
                f"the log holds {len(found.years_kwh)} whole year{'' if len(found.years_kwh) == 1 else 's'}: how years differ is taken from common practice ({100 * FEW_YEARS_SD:.0f} %) as much as from it",
            )
        )
    if found.from_pressure:
        told.append(
            Finding(
                "caution",
                "log",
                "most readings of the log hold no watts: its energy follows from the gauge and the healthy plant",
            )
        )
    if study.bracket is not None and study.year is None:
        outside = [
            each
            for each in found.years_kwh
            if not study.bracket.low_kwh <= each <= study.bracket.high_kwh
        ]
        if outside:
            told.append(
                Finding(
                    "caution",
                    "bracket",
                    f"the log made {outside[0]:,.0f} kWh in a year, outside the bracket of {study.bracket.low_kwh:,.0f} to {study.bracket.high_kwh:,.0f} kWh that a few gaugings give; the log is used: gauge the creek again, in other months",
                )
            )
    return tuple(told)


def exceeded(level: int) -> Any:
    """The question for the energy that one year exceeds with so many per cent."""

    def ask(study: Any) -> Answer | None:
        found = _whole(study)
        return (
            None
            if found is None
            else Answer(
                f"energy.log.p{level}",
                found.exceeded_kwh(level / 100),
                "kWh",
                3,
                evidence=Evidence.MEASURED_ON_THE_PLANT,
                source=_source(study),
            )
        )

    return ask


def annual(study: Any, level: int) -> Answer | None:
    """Energy that one year exceeds with so many per cent, where the log tells the year."""
    if not by_log(study):
        return None
    made = study.answer("energy.log")
    if level == MEDIAN:
        return replace(made, key=f"energy.annual.p{MEDIAN}", findings=())
    return Answer(
        f"energy.annual.p{level}",
        study.log_year.exceeded_kwh(level / 100),
        "kWh",
        3,
        evidence=made.evidence,
        source=made.source,
    )


def held_against(
    study: Any, low_kwh: float, high_kwh: float
) -> tuple[float, float, tuple[Finding, ...]]:
    """A range for one year, made to hold what the log made: a year that happened can happen."""
    found = study.log_year
    years = np.zeros(0) if found is None else found.years_kwh
    outside = [each for each in years if not low_kwh <= each <= high_kwh]
    if not outside:
        return low_kwh, high_kwh, ()
    text = f"the plant's own log made {outside[0]:,.0f} kWh in a year, outside the {low_kwh:,.0f} to {high_kwh:,.0f} kWh that the daily record gives; the range is widened to hold it: find out which is wrong"
    return min(low_kwh, *outside), max(high_kwh, *outside), (Finding("problem", "log", text),)


def months_held_against(
    study: Any, low_kwh: np.ndarray, high_kwh: np.ndarray
) -> tuple[np.ndarray, np.ndarray, tuple[Finding, ...]]:
    """The range of each month of one year, made to hold what the log made in it."""
    found = study.log_year
    made = np.full(12, np.nan) if found is None else found.monthly_kwh
    below, above = made < low_kwh, made > high_kwh  # a month that is not known lies nowhere
    told = tuple(
        Finding(
            "caution",
            "log",
            f"in {series_text([MONTH_NAMES[month] for month in np.flatnonzero(outside)])} the plant's own log made {less} than the 90 % interval that the daily record gives for the month holds; the range is widened: find out which is wrong",
        )
        for outside, less in ((below, "less"), (above, "more"))
        if outside.any()
    )
    return np.fmin(low_kwh, made), np.fmax(high_kwh, made), told


def mean_held_against(study: Any, low_kwh: float, high_kwh: float, of: str) -> tuple[Finding, ...]:
    """That the mean year of the log and that of the record lie farther apart than both are uncertain, where they do."""
    found = _whole(study)
    if found is None:
        return ()
    low, high = (found.exceeded_kwh(each, mean=True) for each in (0.95, 0.05))
    if low <= high_kwh and low_kwh <= high:
        return ()
    text = f"the mean year of the plant's own log, {found.annual_kwh:,.0f} kWh within {low:,.0f} to {high:,.0f} kWh, lies outside the {low_kwh:,.0f} to {high_kwh:,.0f} kWh that the daily record gives for {of}: find out which is wrong"
    return (Finding("problem", "log", text),)


def faults(study: Any) -> Answer | None:
    """Energy of a year that faults, and jets left open in want of water, took by the log."""
    found = _whole(study)
    return (
        None
        if found is None
        else Answer(
            "energy.log.faults",
            found.fault_kwh,
            "kWh",
            2,
            evidence=Evidence.MEASURED_ON_THE_PLANT,
            source=_source(study),
        )
    )


def healthy(study: Any) -> Answer | None:
    """Energy of a year that the healthy plant would have made of the same water."""
    found = _whole(study)
    return (
        None
        if found is None
        else Answer(
            "energy.log.healthy",
            found.healthy_kwh,
            "kWh",
            3,
            evidence=Evidence.MEASURED_ON_THE_PLANT,
            source=_source(study),
        )
    )
