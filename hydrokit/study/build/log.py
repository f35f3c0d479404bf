"""The year of a plant that has a log: what it made is the first evidence, whatever gaugings would say."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Callable

import numpy as np

from ...energy.levels import MEDIAN, NINETY
from ...errors import Finding, counted
from ...result import Result
from ...sentences import Amount, Sentence, series_text
from ...stream.months import MONTH_NAMES
from ..answer import Answer, Evidence, best
from .metering import at_loads_si, metered_at

if TYPE_CHECKING:
    import pandas as pd

    from ...running.history import Event, History
    from ...running.log_year import LogYear
    from ..study import Study

__all__ = [
    "LogMonth",
    "LogTold",
    "annual",
    "by_log",
    "energy",
    "exceeded",
    "faults",
    "healthy",
    "held_against",
    "log_told",
    "log_year",
    "mean_held_against",
    "metered",
    "months_held_against",
]


def log_year(study: Study) -> LogYear | None:
    """What the plant made in a year by its own log, counted at the loads like all energy, or None
    without a log or where no month of it is known."""
    if study.history is None:
        return None
    from ...running.log_year import log_year as worked_out

    found = worked_out(study.history, at_loads=at_loads_si(study))
    return found if np.isfinite(found.monthly_kwh).any() else None


def by_log(study: Study) -> bool:
    """Whether the log tells the year: it holds every month, and no daily record does it better."""
    return (
        study.year is None
        and study.log_year is not None
        and bool(np.isfinite(study.log_year.annual_kwh))
    )


def _whole(study: Study) -> LogYear | None:
    found = study.log_year
    return found if found is not None and np.isfinite(found.annual_kwh) else None


def _source(study: Study) -> str:
    years = "" if study.history is None else f" of {study.history.years:.1f} years"
    return f"the plant's own log{years}"


def metered(study: Study) -> Answer | None:
    """Energy of a year by the log where the meter hangs; at the loads it is less by what the wire
    between takes."""
    found = _whole(study)
    return (
        None
        if found is None
        else Answer(
            "energy.log.metered",
            found.metered_kwh,
            "kWh",
            digits=3,
            evidence=Evidence.MEASURED_ON_THE_PLANT,
            source=f"{_source(study)}, at the {metered_at(study.site)}",
        )
    )


def energy(study: Study) -> Answer | None:
    """Energy of a year by the log; what the record's year or the bracket of the gaugings says is
    set aside."""
    found = _whole(study)
    if found is None:
        return None
    others = []
    if study.year is not None:
        low = high = np.nan
        if study.energy_uncertainty is not None:
            levels = study.energy_uncertainty.percentiles(levels=NINETY).loc["annual"]
            low, high = sorted(levels.to_numpy(dtype=float).tolist())
        others.append(
            Answer(
                "energy.log",
                float(study.year.annual_kwh),
                "kWh",
                digits=3,
                low=low,
                high=high,
                evidence=Evidence.CALCULATED,
                source="the year of the daily record",
            )
        )
    elif study.bracket is not None:
        low, high = study.bracket.low_kwh, study.bracket.high_kwh
        others.append(
            Answer(
                "energy.log",
                float(np.sqrt(max(low, 1.0) * max(high, 1.0))),
                "kWh",
                digits=2,
                low=low,
                high=high,
                evidence=Evidence.CALCULATED,
                source="the bracket of a few gaugings",
            )
        )
    low, high = found.range_kwh
    mine = Answer(
        "energy.log",
        found.annual_kwh,
        "kWh",
        low=low,
        high=high,
        evidence=Evidence.MEASURED_ON_THE_PLANT,
        source=_source(study),
        findings=_findings(study, found),
    )
    return best(mine, *others)


def _findings(study: Study, found: LogYear) -> tuple[Finding, ...]:
    """What the log asks of its reader."""
    from ...energy.outlook import FEW_YEARS_SD

    told = []
    if len(found.years_kwh) < 3 and study.year is None:
        told.append(
            Finding(
                "caution",
                "log",
                Sentence(
                    "the log holds {years}: the year-to-year variability is taken from common "
                    "practice ({usual}) as much as from it",
                    years=counted(len(found.years_kwh), "whole year"),
                    usual=Amount(FEW_YEARS_SD, "share", 2),
                ),
            )
        )
    if found.from_pressure:
        told.append(
            Finding(
                "caution",
                "log",
                (
                    "most readings of the log have no watts: its energy is calculated from the "
                    "gauge and the healthy plant"
                ),
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
                    Sentence(
                        "the log made {made} in a year, outside the bracket of {bracket} that "
                        "a few gaugings give; the log is used: gauge the creek again, in "
                        "other months",
                        made=Amount(outside[0], "kWh"),
                        bracket=Amount((study.bracket.low_kwh, study.bracket.high_kwh), "kWh"),
                    ),
                )
            )
    return tuple(told)


def exceeded(level: int) -> Callable[[Study], Answer | None]:
    """The question for the energy that one year exceeds with so many per cent."""

    def ask(study: Study) -> Answer | None:
        found = _whole(study)
        return (
            None
            if found is None
            else Answer(
                f"energy.log.p{level}",
                found.exceeded_kwh(level / 100),
                "kWh",
                digits=3,
                evidence=Evidence.MEASURED_ON_THE_PLANT,
                source=_source(study),
            )
        )

    return ask


def annual(study: Study, level: int) -> Answer | None:
    """Energy that one year exceeds with so many per cent, where the log tells the year."""
    made, found = study.answer("energy.log"), study.log_year
    if not by_log(study) or made is None or found is None:
        return None
    if level == MEDIAN:
        return replace(made, key=f"energy.annual.p{MEDIAN}", findings=())
    return Answer(
        f"energy.annual.p{level}",
        found.exceeded_kwh(level / 100),
        "kWh",
        digits=3,
        evidence=made.evidence,
        source=made.source,
    )


def held_against(
    study: Study, low_kwh: float, high_kwh: float
) -> tuple[float, float, tuple[Finding, ...]]:
    """A range for one year, made to hold what the log made: a year that happened can happen."""
    found = study.log_year
    years = np.zeros(0) if found is None else found.years_kwh
    outside = [each for each in years if not low_kwh <= each <= high_kwh]
    if not outside:
        return low_kwh, high_kwh, ()
    text = Sentence(
        "the plant's own log made {made} in a year, outside the {range} that the daily record "
        "gives; the range is widened to include it: find out which is wrong",
        made=Amount(outside[0], "kWh"),
        range=Amount((low_kwh, high_kwh), "kWh"),
    )
    return min(low_kwh, *outside), max(high_kwh, *outside), (Finding("problem", "log", text),)


def months_held_against(
    study: Study, low_kwh: np.ndarray, high_kwh: np.ndarray
) -> tuple[np.ndarray, np.ndarray, tuple[Finding, ...]]:
    """The range of each month of one year, made to hold what the log made in it."""
    found = study.log_year
    made = np.full(12, np.nan) if found is None else found.monthly_kwh
    below, above = made < low_kwh, made > high_kwh  # a month that is not known lies nowhere
    told = tuple(
        Finding(
            "caution",
            "log",
            Sentence(
                "in {months} the plant's own log made {less} than the 90 % interval that the "
                "daily record gives for the month; the range is widened: find out which is "
                "wrong",
                months=series_text([MONTH_NAMES[month] for month in np.flatnonzero(outside)]),
                less=less,
            ),
        )
        for outside, less in ((below, "less"), (above, "more"))
        if outside.any()
    )
    return np.fmin(low_kwh, made), np.fmax(high_kwh, made), told


def mean_held_against(
    study: Study, low_kwh: float, high_kwh: float, of: str
) -> tuple[Finding, ...]:
    """That the mean year of the log and that of the record lie farther apart than both are
    uncertain, where they do."""
    found = _whole(study)
    if found is None:
        return ()
    low, high = (found.exceeded_kwh(each, mean=True) for each in (0.95, 0.05))
    if low <= high_kwh and low_kwh <= high:
        return ()
    text = Sentence(
        "the mean year of the plant's own log, {mean} (90 % interval {own}), lies outside the "
        "{range} that the daily record gives for {of}: find out which is wrong",
        mean=Amount(found.annual_kwh, "kWh"),
        own=Amount((low, high), "kWh"),
        range=Amount((low_kwh, high_kwh), "kWh"),
        of=of,
    )
    return (Finding("problem", "log", text),)


def faults(study: Study) -> Answer | None:
    """Energy of a year that faults, and jets left open in want of water, took by the log."""
    found = _whole(study)
    return (
        None
        if found is None
        else Answer(
            "energy.log.faults",
            found.fault_kwh,
            "kWh",
            digits=2,
            evidence=Evidence.MEASURED_ON_THE_PLANT,
            source=_source(study),
        )
    )


def healthy(study: Study) -> Answer | None:
    """Energy of a year that the healthy plant would have made of the same water."""
    found = _whole(study)
    return (
        None
        if found is None
        else Answer(
            "energy.log.healthy",
            found.healthy_kwh,
            "kWh",
            digits=3,
            evidence=Evidence.MEASURED_ON_THE_PLANT,
            source=_source(study),
        )
    )


# --- what the log holds, to be told ---------------------------------------------------------

_LEAST_YEARS = 1 / 12  # a shorter log is counted as this long, lest a day be taken for a year


@dataclass(frozen=True, eq=False)
class LogMonth:
    """One month of the log.

    Parameters
    ----------
    year, month : int
    made_j : float
    lost_j : dict of str to float
        Energy lost to each cause that cost something in it, the worst of the whole log first.
    cleanings : int
    before_j : float
        Made in the same month a year before; NaN where the log does not hold it.
    last_seen : running.history.Event or None
        The last event with a cost that ended in it.
    """

    year: int
    month: int
    made_j: float
    _: KW_ONLY
    lost_j: dict[str, float]
    cleanings: int
    before_j: float
    last_seen: Event | None


@dataclass(frozen=True, eq=False)
class LogTold(Result):
    """What the log holds and how far it can be believed.

    Parameters
    ----------
    healthy : int
        Readings that show the plant healthy.
    repeatability : float
        Of those, as a share: one standard deviation of the watts, or of the pressure where no watts
        were read.
    years : float
        Not less than a month.
    lost_j_a, made_j_a : float
        Energy lost to all that happened, and made, in a mean year.
    lost_by_cause : dict of str to float
        J in a mean year, the worst first.
    below_baseline : float
        Share by which the healthy watts of the log lie below the commissioned ones, mean over the jet
        counts of both; NaN without either.
    months : tuple of LogMonth
        In order of time; none without watts.
    """

    healthy: int
    repeatability: float
    years: float
    _: KW_ONLY
    lost_j_a: float
    made_j_a: float
    lost_by_cause: dict[str, float]
    below_baseline: float
    months: tuple[LogMonth, ...]


def log_told(study: Study) -> LogTold | None:
    """The log in sums; None without one."""
    happened = study.history
    if happened is None:
        return None
    usual, years = happened.reference, max(happened.years, _LEAST_YEARS)
    monthly, lost = happened.monthly(), happened.lost_j()
    return LogTold(
        int((usual.healthy & ~_declined(happened)).sum()),
        usual.power_spread if usual.basis == "watts" else usual.pressure_spread,
        years,
        lost_j_a=sum(lost.values()) / years,
        made_j_a=float(monthly["made_j"].sum()) / years,
        lost_by_cause={kind: value / years for kind, value in lost.items()},
        below_baseline=_below_baseline(study, happened),
        months=_months(happened, monthly, tuple(lost)),
    )


def _declined(happened: History) -> np.ndarray:
    """Readings at which a slow decline, or a level below the commissioning, takes more than the
    healthy watts differ by."""
    log = happened.log
    took = np.zeros(len(log))
    for event in happened.of("slow decline", "below commissioning"):
        inside = (log.seconds >= event.time_s[0]) & (log.seconds <= event.time_s[-1])
        took[inside] += np.interp(log.seconds[inside], event.time_s, event.lost_w)
    with np.errstate(invalid="ignore"):
        return took > max(_LEAST_DECLINE, 2 * happened.reference.power_spread) * (
            took + happened.reference.power_w
        )


_LEAST_DECLINE = 0.03  # of the watts, under which a plant is still called healthy


def _below_baseline(study: Study, happened: History) -> float:
    if study.baseline is None:
        return np.nan
    known = dict(zip(study.baseline.jets.tolist(), study.baseline.power_w.tolist()))
    shares = [
        1 - level[1] / known[count]
        for count, level in happened.reference.levels.items()
        if level[2] and known.get(count, 0) > 0 and count not in happened.reference.from_card
    ]
    return float(np.mean(shares)) if shares else np.nan


def _months(
    happened: History, monthly: pd.DataFrame, kinds: tuple[str, ...]
) -> tuple[LogMonth, ...]:
    import pandas as pd

    from ...running.history import CAUSES

    ended = {}
    for event in happened.events:
        if event.kind in CAUSES:
            ended[str(event.end.astype("datetime64[M]"))] = event
    months = pd.PeriodIndex(monthly.index)
    made = {(month.year, month.month): float(kwh) for month, kwh in zip(months, monthly["made_j"])}
    return tuple(
        LogMonth(
            month.year,
            month.month,
            made[month.year, month.month],
            lost_j={kind: float(row[kind]) for kind in kinds if row[kind] > 0},
            cleanings=int(row["cleans"]),
            before_j=made.get((month.year - 1, month.month), np.nan),
            last_seen=ended.get(str(month)),
        )
        for month, (_, row) in zip(months, monthly.iterrows())
    )
