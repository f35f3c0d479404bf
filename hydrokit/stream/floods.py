"""How high the creek comes: yearly maxima, flood quantiles with limits, the month of the freshet."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError
from ..sentences import Amount, Sentence
from ..units import Floats, units
from .days import days_of
from .frequency import (
    FEWEST,
    Quantile,
    few_years,
    log_moments,
    outlier_factor,
    pearson3_factor,
    return_period_for,
    risk,
    weighted_skew,
)
from .low_flow import annual_extremes
from .record import WATER_YEAR, checked, whole_years, year_labels
from .shape_limits import ANY_SKEW, gev_with_limits, pearson3_draws

__all__ = [
    "Freshet",
    "annual_maxima",
    "flood",
    "flood_of_peaks",
    "freshet",
    "return_period_for",
    "risk",
]

_DAILY_MEANS = Finding(
    "caution",
    "floods",
    "the floods are made from daily means: the momentary peak of a small creek is higher, often "
    "more than twice as high; an intake must survive the peak",
)


def annual_maxima(
    record: pd.Series,
    days: int = 1,
    start_month: int = WATER_YEAR,
    window: str = "trailing",
    part_years: bool = False,
    within_years: bool = False,
) -> pd.Series:
    """Greatest mean flow over so many days in a row, year by year.

    Parameters
    ----------
    record : pandas.Series
    days : int
    start_month : int
        October, so that one winter's floods fall in one year.
    window : {"trailing", "centred"}
    part_years, within_years : bool
        As of :func:`hydrokit.stream.low_flow.annual_minima`.

    Returns
    -------
    pandas.Series
        m³/s, indexed by the year in which each year ends.
    """
    return annual_extremes(record, "max", days, start_month, window, part_years, within_years)


def flood(
    record: pd.Series,
    years: float,
    method: str = "lp3",
    regional_skew: float | None = None,
    regional_mse: float = 0.302,
    level: float = 0.9,
    start_month: int = WATER_YEAR,
) -> Quantile:
    """Daily flow that is exceeded once in so many years on average.

    Parameters
    ----------
    record : pandas.Series
        Daily record.
    years : float
        Return period; :func:`return_period_for` gives it for a stated risk and life.
    method, regional_skew, regional_mse, level
        As of :func:`flood_of_peaks`.
    start_month : int

    Returns
    -------
    Quantile
        With the caution that daily means understate the peak.
    """
    peaks = annual_maxima(record, start_month=start_month)
    found = flood_of_peaks.si(peaks.to_numpy(), years, method, regional_skew, regional_mse, level)
    return replace(found, findings=(_DAILY_MEANS, *found.findings))


@units(None, peaks="m^3/s", years="count")
def flood_of_peaks(
    peaks: Floats,
    years: float,
    method: str = "lp3",
    regional_skew: float | None = None,
    regional_mse: float = 0.302,
    level: float = 0.9,
) -> Quantile:
    """Flood quantile of a list of yearly peaks.

    Parameters
    ----------
    peaks : Quantity [length³/time]
        One a year.
    years : float
        Return period, above 1.
    method : {"lp3", "gev"}
        Log-Pearson III by moments of the logarithms, or generalised extreme value by L-moments.
    regional_skew : float, optional
        Weighted with the station skew when given (log-Pearson III only).
    regional_mse : float
        Mean square error of the regional skew.
    level : float
        Chance that the limits hold the true value.

    Returns
    -------
    Quantile
        The limits count the shape of the distribution, its skew too, as unknown:
        :mod:`hydrokit.stream.shape_limits`.

    References
    ----------
    .. [1] Bulletin 17B, U.S. Geological Survey, 1982, appendices 3, 4, 9; equations 5 and 6.
    .. [2] J. R. M. Hosking, J. R. Wallis, "Regional frequency analysis", Cambridge, 1997.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> peaks = Q_([2.1, 3.4, 1.8, 5.2, 2.9, 2.2, 4.1, 3.0, 2.6, 7.5], "m^3/s")
    >>> print(f"{flood_of_peaks(peaks, 50).flow:.1f~P}")
    9.2 m³/s
    >>> print(f"{flood_of_peaks(peaks, 50, method='gev').flow.to('cfs'):.0f~P}")
    341 cfs
    """
    peaks = np.asarray(peaks, dtype=float)
    peaks = peaks[~np.isnan(peaks)]
    if not years > 1:
        raise HydrokitError(f"flood(): years must be more than 1, got {years!r}")
    if len(peaks) < FEWEST:
        raise HydrokitError(
            f"flood(): at least {FEWEST} whole years of peaks are needed, got {len(peaks)}"
        )
    if method == "lp3":
        return _lp3_flood(peaks, float(years), regional_skew, regional_mse, level)
    if method == "gev":
        return _gev_flood(peaks, float(years), level)
    raise HydrokitError(f'flood(): method must be "lp3" or "gev", got {method!r}')


def _lp3_flood(
    peaks: np.ndarray, years: float, regional_skew: float | None, regional_mse: float, level: float
) -> Quantile:
    if np.any(peaks <= 0):
        raise HydrokitError('flood(): a year without any flow has no logarithm; take method="gev"')
    mean, spread, skew = log_moments(peaks)
    findings = _trust(len(peaks), years)
    suspect = np.abs(np.log10(peaks) - mean) > outlier_factor(len(peaks)) * spread
    for peak in peaks[suspect]:
        findings += (
            Finding(
                "caution",
                "floods",
                Sentence(
                    "the flood of {peak} is an outlier among the yearly peaks: check it",
                    peak=Amount(peak, "large flow"),
                ),
            ),
        )
    known = ANY_SKEW if regional_skew is None else (regional_skew, regional_mse)
    ends = pearson3_draws(len(peaks), skew, *known).limits(1 - 1 / years, level)
    if regional_skew is not None:
        skew = weighted_skew(skew, len(peaks), regional_skew, regional_mse)
    factor = pearson3_factor(skew, 1 - 1 / years)
    flow, low, high = (
        10 ** (mean + spread * each)
        for each in (factor, min(factor, ends[0]), max(factor, ends[1]))
    )
    return Quantile(
        float(flow),
        float(low),
        float(high),
        level=level,
        years=years,
        method="lp3",
        count=len(peaks),
        mean=mean,
        standard_deviation=spread,
        skew=skew,
        findings=findings,
    )


def _gev_flood(peaks: np.ndarray, years: float, level: float) -> Quantile:
    if np.ptp(peaks) == 0:
        raise HydrokitError("flood(): all peaks are equal; no distribution can be fitted")
    flow, low, high = gev_with_limits(peaks, 1 - 1 / years, level, floods=True)
    return Quantile(
        flow,
        low,
        high,
        level=level,
        years=years,
        method="gev",
        count=len(peaks),
        findings=_trust(len(peaks), years),
    )


def _trust(count: int, years: float) -> tuple[Finding, ...]:
    guide = "a guide, not a design flood"
    return few_years(
        "floods", "flood", count, years=years, scarce=f"peaks: {guide}", beyond=f": {guide}"
    )


@dataclass(frozen=True, eq=False)
class Freshet:
    """When the yearly floods come.

    Parameters
    ----------
    month : int
        Calendar month of the mean date of the yearly maxima.
    day_of_year : float
        That mean date.
    concentration : float
        1 if all floods come on one date, near 0 if at any time of the year.
    counts : ndarray
        Yearly maxima in each of the twelve months.
    """

    month: int
    day_of_year: float
    concentration: float
    _: KW_ONLY
    counts: np.ndarray


def freshet(record: pd.Series, start_month: int = WATER_YEAR) -> Freshet:
    """The season of the yearly maxima.

    Parameters
    ----------
    record : pandas.Series
    start_month : int

    Returns
    -------
    Freshet
        Mean date on the circle of the year, so that December and January are neighbours.
    """
    record = checked(record)
    labels = year_labels(days_of(record), start_month)
    in_whole = np.isin(labels, whole_years(record, start_month))
    if not in_whole.any():
        raise HydrokitError("freshet(): the record has no whole year")
    when = pd.DatetimeIndex(record[in_whole].groupby(labels[in_whole]).idxmax())
    angle = 2 * np.pi * (when.day_of_year.to_numpy() - 0.5) / np.where(when.is_leap_year, 366, 365)
    mean = np.exp(1j * angle).mean()
    day = float(np.angle(mean) % (2 * np.pi) / (2 * np.pi) * 365)
    month = (pd.Timestamp("2001-01-01") + pd.Timedelta(days=day)).month
    return Freshet(month, day, float(abs(mean)), counts=np.bincount(when.month, minlength=13)[1:])
