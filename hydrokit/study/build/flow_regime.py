"""What the record says of flow through the year: curve, months, years, and the reach between intake
and outfall."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import sure
from ...result import Result
from ...stream.days import days_of
from ..answer import Answer
from .provenance import evidence, record_source
from .year import taken

if TYPE_CHECKING:
    import pandas as pd

    from ...stream.duration import Duration
    from ...stream.transfer import TransferError
    from ..study import Study

__all__ = [
    "BypassedReach",
    "DurationRow",
    "FlowRegime",
    "TypicalYears",
    "YearlyFlows",
    "bypassed",
    "flow_regime",
    "lean",
    "mean",
    "median",
    "typical_years",
    "yearly_flows",
]

_DAYS_A_YEAR = 365.0  # of a duration curve
LEVEL = 0.9  # of every band of a curve
MEDIAN, LEAN = 0.5, 0.95  # exceedance


@dataclass(frozen=True, eq=False, kw_only=True)
class DurationRow:
    """One row of the duration table: share of the days on which as much is reached or exceeded, and
    the flows."""

    exceeded: float
    flow_m3s: float
    low_m3s: float
    high_m3s: float
    available_m3s: float

    @property
    def days(self) -> int:
        """Days of a year."""
        return round(_DAYS_A_YEAR * self.exceeded)


@dataclass(frozen=True, eq=False, kw_only=True)
class FlowRegime(Result):
    """The year of the creek.

    Parameters
    ----------
    curve : Duration
        Of the natural flow.
    available : Duration
        Of the flow that may be taken.
    days, years : int
        With a flow in the record; years of the curve.
    months_unseen : tuple of int
        Calendar months of which the record holds no day.
    available_share : float
        Of the whole water, what may be taken.
    dry_days : float
        A year.
    median_of_month_m3s, available_of_month_m3s : ndarray of 12
        Natural flow of the median day; mean of what may be taken. NaN in a month without a day.
    shares_of_month_m3s : ndarray of (12, 5)
        Natural flow at 5, 25, 50, 75 and 95 % of non-exceedance.
    steps : tuple of DurationRow
    rating_sd : tuple of 3 float, or None
        Standard deviation of the rating at the flows exceeded on 5, 50 and 95 % of the days, as a
        share; None where one number stands for all flows.
    transfer_sd : tuple of 3 float, or None
        What days estimated from another creek add to that; None where there are none.
    """

    curve: Duration
    available: Duration
    days: int
    years: int
    months_unseen: tuple[int, ...]
    available_share: float
    dry_days: float
    median_of_month_m3s: np.ndarray
    available_of_month_m3s: np.ndarray
    shares_of_month_m3s: np.ndarray
    steps: tuple[DurationRow, ...]
    rating_sd: tuple[float, float, float] | None
    transfer_sd: tuple[float, float, float] | None

    @property
    def leanest_month(self) -> int:
        """Month, 1 to 12, with the lowest flow of its median day."""
        return int(np.nanargmin(self.median_of_month_m3s)) + 1

    @property
    def richest_month(self) -> int:
        """Month, 1 to 12, with the highest flow of its median day."""
        return int(np.nanargmax(self.median_of_month_m3s)) + 1


_SHARES_OF_MONTH = (0.05, 0.25, 0.5, 0.75, 0.95)


def flow_regime(study: Study) -> FlowRegime | None:
    """The year of the creek, or None without a daily record."""
    from ...stream.duration import TABLE, flow_duration

    if study.record is None or study.duration is None:
        return None
    curve, usable = study.duration, sure(taken(study))
    record, usable_known = study.record.dropna(), usable.dropna()
    available = flow_duration(usable_known)
    low, high = curve.band_si(TABLE, LEVEL)
    months = [record[days_of(record).month == month].to_numpy() for month in range(1, 13)]
    shares = np.array(
        [
            np.quantile(each, _SHARES_OF_MONTH)
            if len(each)
            else np.full(len(_SHARES_OF_MONTH), np.nan)
            for each in months
        ]
    )
    of_month = usable.groupby(days_of(usable).month).mean().reindex(range(1, 13))
    return FlowRegime(
        curve=curve,
        available=available,
        days=curve.days,
        years=len(curve.years),
        months_unseen=tuple(month for month in range(1, 13) if not len(months[month - 1])),
        available_share=float(usable_known.mean() / study.record.mean()),
        dry_days=_dry_days(record),
        median_of_month_m3s=shares[:, 2],
        available_of_month_m3s=of_month.to_numpy(dtype=float),
        shares_of_month_m3s=shares,
        rating_sd=_sd_along(study.rating_error, curve),
        transfer_sd=_sd_along(study.transfer_error, curve),
        steps=tuple(
            DurationRow(
                exceeded=float(share),
                flow_m3s=flow,
                low_m3s=least,
                high_m3s=most,
                available_m3s=may,
            )
            for share, *(flow, least, most, may) in zip(
                TABLE,
                *(
                    map(float, np.ravel(each))
                    for each in (curve.flow_at_si(TABLE), low, high, available.flow_at_si(TABLE))
                ),
            )
        ),
    )


def _sd_along(error: TransferError | None, curve: Duration) -> tuple[float, float, float] | None:
    if error is None:
        return None
    high, half, low = (float(error.sd_si(curve.flow_at_si(each))) for each in (0.05, MEDIAN, LEAN))
    return high, half, low


def _dry_days(flow: pd.Series) -> float:
    """Days a year without any flow."""
    return _DAYS_A_YEAR * float(np.mean(flow <= 0))


# --- how years differ -----------------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class TypicalYears:
    """Flows of a dry, a median and a wet year: one in ten is drier than the dry, wetter than the wet.

    Parameters
    ----------
    count : int
        Whole years of the record.
    half_m3s, lean_m3s : tuple of 3 float
        Exceeded on half the days, and on 90 % of them; dry, median, wet year.
    """

    count: int
    half_m3s: tuple[float, float, float]
    lean_m3s: tuple[float, float, float]


def typical_years(study: Study) -> TypicalYears | None:
    """How a dry and a wet year differ from a median one, or None without a whole year of record."""
    curve = study.duration
    if curve is None or not curve.whole.any():
        return None

    def three(exceeded: float) -> tuple[float, float, float]:
        dry, middle, wet = (
            float(curve.typical_year_si(exceeded, each)) for each in (0.1, 0.5, 0.9)
        )
        return dry, middle, wet

    return TypicalYears(count=int(curve.whole.sum()), half_m3s=three(0.5), lean_m3s=three(0.9))


@dataclass(frozen=True, eq=False, kw_only=True)
class YearlyFlows:
    """Mean flow of each hydrological year, October to September, by the year in which it ends.

    Parameters
    ----------
    mean_m3s : dict of int to float
        Of whole years where there are any, else of what there is of each.
    whole : bool
    driest : int
    """

    mean_m3s: dict[int, float]
    whole: bool
    driest: int


def yearly_flows(study: Study) -> YearlyFlows | None:
    """Mean flow year by year, or None without a daily record."""
    from ...stream.record import WATER_YEAR, whole_years, year_labels

    if study.record is None:
        return None
    label = year_labels(days_of(study.record), WATER_YEAR)
    whole = tuple(whole_years(study.record, WATER_YEAR))
    mean = {
        int(year): float(study.record[label == year].mean()) for year in whole or np.unique(label)
    }
    return YearlyFlows(mean_m3s=mean, whole=bool(whole), driest=min(mean, key=mean.__getitem__))


# --- between intake and outfall -------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class BypassedReach:
    """The creek between intake and outfall.

    Parameters
    ----------
    curve : Duration
        Of the flow left there.
    by_plant : bool
        With what this plant takes; otherwise with all that may be taken.
    mean_m3s, lean_m3s : float
        Lean: exceeded on 95 % of the days.
    dry_days, dry_without_plant : float
        A year, with the plant and without it.
    """

    curve: Duration
    by_plant: bool
    mean_m3s: float
    lean_m3s: float
    dry_days: float
    dry_without_plant: float


def bypassed(study: Study) -> BypassedReach | None:
    """What the reach between intake and outfall is left with, or None without a record."""
    from ...stream.duration import flow_duration

    if study.record is None or study.usable is None:
        return None
    full = study.full_flow_m3s
    away = study.usable if full is None else sure(taken(study)).clip(upper=full)
    left = (study.record - away).dropna()
    curve = flow_duration(left)
    return BypassedReach(
        curve=curve,
        by_plant=full is not None,
        mean_m3s=float(left.mean()),
        lean_m3s=float(curve.flow_at_si(LEAN)),
        dry_days=_dry_days(left),
        dry_without_plant=_dry_days(study.record.dropna()),
    )


# --- the answers ----------------------------------------------------------------------------


def median(study: Study) -> Answer | None:
    """Flow of the median day of the record."""
    return _of_curve(study, "flow.median", MEDIAN)


def lean(study: Study) -> Answer | None:
    """Flow that is reached or exceeded on 95 % of the days."""
    return _of_curve(study, "flow.lean", LEAN)


_GRID = (np.arange(400) + 0.5) / 400  # shares of the days, evenly


def mean(study: Study) -> Answer | None:
    """Mean flow of the days of the record; its interval is that of the curve, added up over the days."""
    regime = study.flow_regime
    if regime is None:
        return None
    curve, flow = regime.curve, float(regime.curve.mean_m3s)
    middle = float(np.mean(curve.flow_at_si(_GRID)))
    if not middle > 0:
        return Answer(
            "flow.mean",
            flow,
            "flow",
            digits=3,
            low=flow,
            high=flow,
            evidence=evidence(study),
            source=record_source(study),
        )
    moved = np.mean(curve.resampled_si(_GRID), axis=1) / middle
    low, high = (float(flow * np.quantile(moved, each)) for each in (0.05, 0.95))
    return Answer(
        "flow.mean",
        flow,
        "flow",
        digits=3,
        low=min(low, flow),
        high=max(high, flow),
        evidence=evidence(study),
        source=record_source(study),
    )


def _of_curve(study: Study, key: str, exceeded: float) -> Answer | None:
    regime = study.flow_regime
    if regime is None:
        return None
    row = next(each for each in regime.steps if abs(each.exceeded - exceeded) < 1e-9)
    flow, source = (
        row.flow_m3s,
        record_source(study),
    )
    low, high = min(row.low_m3s, flow), max(row.high_m3s, flow)
    return Answer(
        key, flow, "flow", digits=3, low=low, high=high, evidence=evidence(study), source=source
    )
