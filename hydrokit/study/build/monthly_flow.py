"""Water in each month and the jets to open on it: one answer for the ladder, the schedule, the
changes and the calendar."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import sure
from ...result import Result
from ...stream.days import days_of
from ...stream.months import MONTH_NAMES
from ...stream.spread_of_years import DAY_IN_MONTH_SD, MONTH
from ..answer import Answer, Evidence
from . import year
from .provenance import evidence, record_source
from .water_draws import interval

if TYPE_CHECKING:
    import pandas as pd

    from ..study import Study

__all__ = [
    "ONE_DAY_FACTOR",
    "MonthlyFlow",
    "jets_open",
    "monthly_flow",
    "residual",
    "uncertain_month",
    "usable",
    "usable_mean",
]

MONTHS = np.arange(1, 13)
_WITHIN = 1.645  # standard deviations either side hold 90 % of a normal distribution
# A reading of one day lies within so much of the usual flow of its month, up or down, nine times in ten.
ONE_DAY_FACTOR = float(np.exp(_WITHIN * np.hypot(DAY_IN_MONTH_SD, MONTH.sd)))


@dataclass(frozen=True, eq=False)
class MonthlyFlow(Result):
    """Flow of the median day of each month, January first; NaN in months of which nothing is known.

    Parameters
    ----------
    natural_m3s : ndarray of 12
        In the creek.
    usable_m3s : ndarray of 12
        That may be taken, after what must stay and the licence.
    low_m3s, high_m3s : ndarray of 12
        Between them the usable flow lies with 90 % probability.
    at_least : ndarray of bool
        Months of which only the jets tell: so much came, and more may have spilled.
    source : tuple of 12 str
        Empty where nothing is known.
    """

    natural_m3s: np.ndarray
    usable_m3s: np.ndarray
    low_m3s: np.ndarray
    _: KW_ONLY
    high_m3s: np.ndarray
    at_least: np.ndarray
    source: tuple[str, ...]

    @property
    def known(self) -> np.ndarray:
        """Months whose flow is known, not only that it was at least so much."""
        return np.isfinite(self.usable_m3s) & ~self.at_least

    @property
    def sentence(self) -> str:
        """Where the flows come from, as part of a sentence."""
        told = []
        for name in dict.fromkeys(each for each in self.source if each):
            places = [place for place in range(12) if self.source[place] == name]
            told.append(
                name
                if len(places) == 12
                else f"{name} ({', '.join(MONTH_NAMES[place] for place in places)})"
            )
        return "; ".join(told)


def monthly_flow(study: Study) -> MonthlyFlow | None:
    """Flow of the median day of each month from the best evidence there is of it, or None where
    there is none at all.

    A daily record tells every month it holds. Without one, a month that was gauged has its
    gaugings; of the others the log may tell that at least so much came as the jets used. A month
    without either stays unknown: one bucket is not twelve months.
    """
    natural, usable_, low, high = (np.full(12, np.nan) for _ in range(4))
    source, at_least = [""] * 12, np.zeros(12, dtype=bool)
    if study.record is not None:
        natural[:] = _medians(study.record)
        usable_[:] = _medians(sure(year.taken(study)))
        draws = study.water_draws
        if draws is not None:
            low, high = interval(draws.usable_of_median_day_m3s)
        low, high = np.fmin(low, usable_), np.fmax(high, usable_)
        source = [record_source(study) if np.isfinite(each) else "" for each in usable_]
    elif study.gaugings is not None:
        gauged = study.gaugings
        months = np.array([int(str(np.datetime64(day, "M"))[5:7]) for day in gauged.date])
        sd = np.broadcast_to(np.asarray(gauged.uncertainty, dtype=float), gauged.flow_m3s.shape)
        for month in np.unique(months):
            here, place = months == month, int(month) - 1
            natural[place] = np.exp(np.log(gauged.flow_m3s[here]).mean())
            reach = _WITHIN * _off_the_usual(gauged.date[here], float(sd[here].mean()))
            usable_[place], low[place], high[place] = (
                float(study.rights.usable_si(natural[place] * factor, int(month)))
                for factor in (1.0, np.exp(-reach), np.exp(reach))
            )
            source[place] = "gaugings"
    if study.record is None:
        seen = _at_the_jets(study)
        for place in np.flatnonzero(np.isfinite(seen)).tolist():
            if not usable_[place] >= seen[place]:
                usable_[place], low[place], high[place] = seen[place], seen[place], np.nan
                at_least[place], source[place] = True, "at least what the log shows at the jets"
    if not np.isfinite(usable_).any():
        return None
    return MonthlyFlow(
        natural, usable_, low, high_m3s=high, at_least=at_least, source=tuple(source)
    )


def _off_the_usual(dates: np.ndarray, gauging_sd: float) -> float:
    """How far gaugings of one month lie from the median day of that month in the long run: standard
    deviation of ln Q.

    They have errors of their own, their days are not the median day of that month and year, and
    that year is not the usual one. Days of one week, and weeks of one year, are alike and count as one.
    """
    days = np.asarray(dates, dtype="datetime64[D]")
    weeks = len(np.unique(days.astype("datetime64[W]")))
    years = len(np.unique(days.astype("datetime64[Y]")))
    return float(
        np.sqrt(gauging_sd**2 / len(days) + DAY_IN_MONTH_SD**2 / weeks + MONTH.sd**2 / years)
    )


def _medians(record: pd.Series) -> np.ndarray:
    return record.groupby(days_of(record).month).median().reindex(MONTHS).to_numpy(dtype=float)


def _at_the_jets(study: Study) -> np.ndarray:
    """Flow at the creek that the jets of the log used on the median day of each month; NaN where it
    does not tell."""
    found, plant = np.full(12, np.nan), study.plant
    bores = () if plant is None else getattr(plant.jets, "diameters_m", ())
    # A number of jets says nothing of the water where they differ.
    if study.history is None or plant is None or len(set(bores)) != 1:
        return found
    log, share = study.history.log, study.history.flow_share
    running = plant.replace(schedule=(), supply=(), states=()).running()
    fed = {opening.count: float(flow) for opening, flow in zip(running.openings, running.full_m3s)}
    used = np.array([fed.get(int(count), np.nan) for count in log.jets]) * np.minimum(share, 1.0)
    month = log.time.astype("datetime64[M]").astype(int) % 12
    for place in range(12):
        here = used[(month == place) & np.isfinite(used)]
        if len(here) >= _LEAST_READINGS:
            found[place] = float(plant.reaching_si(place + 1)[0].needs_si(np.median(here)))
    return found


_LEAST_READINGS = 3  # of a month, for its median to mean anything; common practice


# --- the answers ----------------------------------------------------------------------------


def usable(study: Study) -> Answer | None:
    """Flow that may be taken on the median day of each month."""
    found = study.monthly_flow
    if found is None:
        return None
    rests_on = (
        Evidence.MEASURED_ON_THE_PLANT
        if found.at_least.any() and not found.known.any()
        else Evidence.MEASURED_HERE
        if study.record is None
        else evidence(study)
    )
    return Answer(
        "water.usable",
        found.usable_m3s,
        "flow",
        digits=3 if study.record is not None else 2,
        low=found.low_m3s,
        high=found.high_m3s,
        evidence=rests_on,
        source=found.sentence,
    )


def usable_mean(study: Study) -> Answer | None:
    """Mean of the flow that may be taken, over the record."""
    if study.usable is None:
        return None
    value, draws = float(study.usable.mean()), study.water_draws
    low, high = (value, value) if draws is None else interval(draws.usable_mean_m3s)
    low, high = min(float(low), value), max(float(high), value)
    return Answer(
        "water.usable_mean",
        value,
        "flow",
        digits=3,
        low=low,
        high=high,
        evidence=evidence(study),
        source=record_source(study),
    )


def residual(study: Study) -> Answer | None:
    """Flow that must stay in the creek, by month, whatever the day brings; None where no rule states one."""
    rights, draws = study.rights, study.water_draws
    keep = rights.keep_m3s
    if not np.any(keep > 0):
        return None
    asked = any(rule.from_statistics is not None for rule in rights.rules)
    low, high = keep, keep
    if asked and draws is not None:
        low, high = interval(draws.residual_m3s)
    return Answer(
        "water.residual",
        keep,
        "flow",
        digits=3,
        low=np.fmin(low, keep),
        high=np.fmax(high, keep),
        evidence=evidence(study) if asked else Evidence.ASSUMED,
        source=f"the rules, asked of {record_source(study)}"
        if asked
        else "the rules of the site file",
    )


def uncertain_month(study: Study) -> int | None:
    """The month, 1 to 12, in which it is least certain what must stay; None where the record has no
    say in it."""
    found = residual(study)
    if found is None:
        return None
    width = np.asarray(found.high) - np.asarray(found.low)
    return int(np.argmax(width)) + 1 if np.any(width > 0) else None


def jets_open(study: Study) -> Answer | None:
    """Jets, or units, to open on the median day of each month, with the screens as they are then."""
    plan = study.jet_plan
    if plan is None or study.monthly_flow is None:
        return None
    jets = np.where(np.isfinite(plan.typical_m3s), plan.jets, np.nan)
    return Answer(
        "jets.open",
        jets,
        "count",
        digits=1,
        evidence=Evidence.CALCULATED,
        source=f"the plant's power on the median day: {study.monthly_flow.sentence}",
    )
