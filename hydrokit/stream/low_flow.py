"""How low the creek goes: n-day minima, low-flow quantiles, base flow, recession."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Q_, Floats, Quantity, units
from .days import days_of
from .frequency import (
    FEWEST,
    Quantile,
    few_years,
    log_moments,
    pearson3_factor,
)
from .record import CLIMATE_YEAR, checked, runs, whole_years, year_labels
from .shape_limits import gev_with_limits, pearson3_draws
from .spread_of_years import SpreadOfYears, lag_one

__all__ = [
    "Recession",
    "annual_minima",
    "base_flow",
    "base_flow_index",
    "low_flow",
    "low_flow_of_minima",
    "mean_annual_minimum",
    "recession_constant",
]


def annual_minima(
    record: pd.Series,
    days: int = 7,
    start_month: int = CLIMATE_YEAR,
    window: str = "trailing",
    part_years: bool = False,
    within_years: bool = False,
) -> pd.Series:
    """Smallest mean flow over so many days in a row, year by year.

    Parameters
    ----------
    record : pandas.Series
        See :func:`hydrokit.stream.record.checked`.
    days : int
        Length of the moving mean.
    start_month : int
        First month of the year; April keeps a dry summer and a frozen winter each in one year.
    window : {"trailing", "centred"}
        Whether a mean is dated by its last or its middle day. The trailing mean is the habit of
        the U.S. Geological Survey, the centred one that of the World Meteorological Organization.
    part_years : bool
        Also take years with days missing; their minimum may lie in the missing part.
    within_years : bool
        Leave out means that reach over the turn of the year.

    Returns
    -------
    pandas.Series
        m³/s, indexed by the year in which each year ends. A moving mean with a gap in it is none.
    """
    return annual_extremes(record, "min", days, start_month, window, part_years, within_years)


def annual_extremes(
    record: pd.Series,
    which: str,
    days: int,
    start_month: int,
    window: str,
    part_years: bool,
    within_years: bool,
) -> pd.Series:
    """Smallest ("min") or greatest ("max") moving mean of each year; see :func:`annual_minima`."""
    if not float(days).is_integer() or days < 1:
        raise HydrokitError(
            f"the moving mean must be over a whole number of days, one or more, got {days!r}"
        )
    if window not in ("trailing", "centred"):
        raise HydrokitError(f'window must be "trailing" or "centred", got {window!r}')
    record = checked(record)
    days, labels = int(days), year_labels(days_of(record), start_month)
    means = record if days == 1 else record.rolling(days).mean()
    if within_years:
        means = means.where(labels == np.roll(labels, days - 1))
    if window == "centred":
        means = means.shift(-((days - 1) // 2))
    extremes = getattr(means.groupby(labels), which)().dropna()
    extremes.index.name = "year"
    if part_years:
        return extremes
    return extremes[extremes.index.isin(whole_years(record, start_month))]


def mean_annual_minimum(record: pd.Series, days: int = 7, part_years: bool = False) -> Quantity:
    """Mean over the years of :func:`annual_minima`, such as the mean annual 7-day minimum.

    Parameters
    ----------
    record : pandas.Series
    days : int
    part_years : bool
        As of :func:`annual_minima`.

    Returns
    -------
    Quantity [length³/time]
    """
    minima = annual_minima(record, days, part_years=part_years)
    if minima.empty:
        raise HydrokitError(
            "mean_annual_minimum(): the record has no whole year; pass part_years=True to use what there is"
        )
    return Q_(float(minima.mean()), "m^3/s")


def low_flow(
    record: pd.Series,
    days: int = 7,
    years: float = 10,
    method: str = "lp3",
    start_month: int = CLIMATE_YEAR,
    level: float = 0.9,
) -> Quantile:
    """Mean flow over some days that is undercut once in so many years: the 7Q10 and its kin.

    Parameters
    ----------
    record : pandas.Series
    days : int
        Days of the moving mean.
    years : float
        Return period, above 1.
    method : {"lp3", "gev", "weibull"}
        A log-Pearson III distribution by moments, a generalised extreme value distribution of
        -log Q by L-moments, or plotting positions m/(n + 1).
    start_month : int
        First month of the year of minima.
    level : float
        Chance that the limits hold the true value.

    Returns
    -------
    Quantile

    Examples
    --------
    A creek that falls by the same curve every year, each year a little lower:

    >>> days = pd.date_range("2010-04-01", "2020-03-31")
    >>> flow = (0.080 + 0.040 * np.cos(2 * np.pi * np.arange(len(days)) / 365.25)) * 0.98 ** (np.arange(len(days)) / 365)
    >>> seven_q_ten = low_flow(pd.Series(flow, index=days, name="flow_m3s"), days=7, years=10)
    >>> print(f"{seven_q_ten.flow.to('L/s'):.1f~P}, {seven_q_ten.flow.to('gpm'):.0f~P}")
    33.4 L/s, 530 gpm
    """
    minima = annual_minima(record, days, start_month)
    return low_flow_of_minima.si(minima.to_numpy(), years, method, level)


@units(None, minima="m^3/s", years="count")
def low_flow_of_minima(
    minima: Floats, years: float = 10, method: str = "lp3", level: float = 0.9
) -> Quantile:
    """Low-flow quantile of a list of yearly minima.

    Parameters
    ----------
    minima : Quantity [length³/time]
        One value a year.
    years : float
        Return period, above 1.
    method : {"lp3", "gev", "weibull"}
    level : float

    Returns
    -------
    Quantile
        Years of no flow are set aside and counted as a chance of their own (conditional
        probability), since they have no logarithm. The limits count the shape of the distribution,
        its skew too, as unknown (:mod:`hydrokit.stream.shape_limits`), and that dry years follow
        each other (:mod:`hydrokit.stream.spread_of_years`); minima are taken to be in a row.

    References
    ----------
    .. [1] H. C. Riggs, "Low-flow investigations", Techniques of Water-Resources Investigations,
       book 4, chapter B1, U.S. Geological Survey, 1972 (log-Pearson III of yearly minima).
    .. [2] World Meteorological Organization, "Manual on low-flow estimation and prediction",
       WMO-No. 1029, 2008.

    Examples
    --------
    >>> minima = Q_([12, 15, 9, 20, 11, 14, 8, 17, 13, 10], "L/s")
    >>> print(f"{low_flow_of_minima(minima).flow.to('L/s'):.2f~P}")
    8.64 L/s
    >>> print(f"{low_flow_of_minima(minima, method='weibull').flow.to('gpm'):.0f~P}")
    128 gpm
    """
    minima = np.asarray(minima, dtype=float)
    minima = minima[~np.isnan(minima)]
    count = len(minima)
    if not years > 1:
        raise HydrokitError(f"low_flow(): years must be more than 1, got {years!r}")
    if count < FEWEST:
        raise HydrokitError(
            f"low_flow(): at least {FEWEST} whole years of minima are needed, got {count}"
        )
    findings = _trust(count, years)
    chance = 1 / years
    if method == "weibull":
        if chance < 1 / (count + 1):
            raise HydrokitError(
                f"low_flow(): plotting positions of {count} years reach {count + 1} years at most, not {years:g}; "
                'take method="lp3"'
            )
        flow = float(np.quantile(minima, chance, method="weibull"))
        return Quantile(
            flow,
            np.nan,
            np.nan,
            level=level,
            years=float(years),
            method=method,
            count=count,
            findings=findings,
        )
    if method not in ("lp3", "gev"):
        raise HydrokitError(f'low_flow(): method must be "lp3", "gev" or "weibull", got {method!r}')
    flowing = minima[minima > 0]
    dry_years = count - len(flowing)
    if dry_years:
        findings += (
            Finding("caution", "low flow", f"the creek ran dry in {dry_years} of {count} years"),
        )
    if count <= years * dry_years:
        return Quantile(
            0.0,
            0.0,
            np.nan,
            level=level,
            years=float(years),
            method=method,
            count=count,
            findings=findings,
        )
    if len(flowing) < FEWEST:
        raise HydrokitError(
            f"low_flow(): only {len(flowing)} years with flow, too few for a distribution"
        )
    spells = SpreadOfYears(len(flowing), lag_one(np.log(np.where(minima > 0, minima, np.nan))))
    undercut = (count * chance - dry_years) / len(flowing)
    if method == "gev" and np.ptp(flowing) > 0:
        # the lowest flows are the greatest of -log Q
        flow, high, low = np.exp(
            -np.asarray(gev_with_limits(-np.log(flowing), 1 - undercut, level, False, spells))
        )
        return Quantile(
            float(flow),
            float(low),
            float(high),
            level=level,
            years=float(years),
            method=method,
            count=count,
            findings=findings,
        )
    mean, spread, skew = log_moments(flowing)
    factor = pearson3_factor(skew, undercut)
    ends = pearson3_draws(len(flowing), skew).limits(undercut, level, spells)
    likely, low, high = (
        10 ** (mean + spread * each)
        for each in (factor, min(factor, ends[0]), max(factor, ends[1]))
    )
    return Quantile(
        float(likely),
        float(low),
        float(high),
        level=level,
        years=float(years),
        method=method,
        count=count,
        mean=mean,
        standard_deviation=spread,
        skew=skew,
        findings=findings,
    )


def _trust(count: int, years: float) -> tuple[Finding, ...]:
    scarce = "minima: a dry spell may not be among them"
    return few_years("low flow", "low flow", count, years=years, scarce=scarce)


# --- base flow ------------------------------------------------------------------------------


def base_flow(
    record: pd.Series,
    method: str = "lyne-hollick",
    parameter: float = 0.925,
    passes: int = 3,
    block: int = 5,
) -> pd.Series:
    """The part of the flow that comes from storage rather than from the last storm.

    Parameters
    ----------
    record : pandas.Series
    method : {"lyne-hollick", "blocks"}
        A digital filter run forward and backward in turn, or the turning points of five-day
        minima. Two habits, not two measurements of one thing: compare like with like.
    parameter : float
        Of the filter; 0.925 for daily flow.
    passes : int
        Of the filter.
    block : int
        Days in a block.

    Returns
    -------
    pandas.Series
        m³/s by date, never above the flow; NaN in gaps and, for blocks, before the first and
        after the last turning point of each stretch without a gap.

    References
    ----------
    .. [1] V. Lyne, M. Hollick, "Stochastic time-variable rainfall-runoff modelling", Institution
       of Engineers Australia, 1979; with 30 days reflected at each end, as A. R. Ladson et al.,
       "A standard approach to baseflow separation using the Lyne and Hollick filter", Australian
       Journal of Water Resources 17(1), 2013.
    .. [2] World Meteorological Organization, "Manual on low-flow estimation and prediction",
       WMO-No. 1029, 2008, section 5.4 (turning-point factor 0.9).
    """
    record = checked(record)
    values = record.to_numpy()
    base = np.full(len(values), np.nan)
    for start, end in zip(*runs(~np.isnan(values))):
        stretch = values[start:end]
        if method == "lyne-hollick":
            base[start:end] = _filtered(stretch, parameter, passes)
        elif method == "blocks":
            base[start:end] = _turning_points(stretch, block)
        else:
            raise HydrokitError(
                f'base_flow(): method must be "lyne-hollick" or "blocks", got {method!r}'
            )
    return pd.Series(base, index=record.index, name="flow_m3s")


def _filtered(flow: np.ndarray, parameter: float, passes: int) -> np.ndarray:
    if not 0 < parameter < 1:
        raise HydrokitError(f"base_flow(): parameter must lie between 0 and 1, got {parameter!r}")
    # The first days have no past; a reflection lends them one.
    reflected = min(30, len(flow) - 1)
    base = np.pad(flow, reflected, mode="reflect") if reflected else flow
    for number in range(passes):
        ordered = base[:: 1 if number % 2 == 0 else -1]
        # Nothing is known before the first day: its flow is all taken as quick, which fades in a
        # month or two.
        driven = np.concatenate(
            [ordered[:1], np.diff(ordered) * (1 + parameter) / 2 / (1 - parameter)]
        )
        quick = pd.Series(driven).ewm(alpha=1 - parameter, adjust=False).mean().to_numpy()
        ordered = np.where(quick > 0, ordered - quick, ordered)
        base = np.maximum(ordered, 0.0)[:: 1 if number % 2 == 0 else -1]
    return base[reflected : len(base) - reflected]


def _turning_points(flow: np.ndarray, block: int) -> np.ndarray:
    base = np.full(len(flow), np.nan)
    blocks = len(flow) // block
    if blocks < 3:
        return base
    within = flow[: blocks * block].reshape(blocks, block)
    position = within.argmin(axis=1) + block * np.arange(blocks)
    lowest = within.min(axis=1)
    turns = np.flatnonzero(0.9 * lowest[1:-1] < np.minimum(lowest[:-2], lowest[2:])) + 1
    if len(turns) < 2:
        return base
    days = np.arange(position[turns[0]], position[turns[-1]] + 1)
    base[days] = np.minimum(np.interp(days, position[turns], lowest[turns]), flow[days])
    return base


def base_flow_index(record: pd.Series, method: str = "lyne-hollick") -> float:
    """Share of the volume that is base flow: near 1 for a spring, near 0.2 for a flashy creek.

    Parameters
    ----------
    record : pandas.Series
    method : {"lyne-hollick", "blocks"}

    Returns
    -------
    float
        Over the days for which :func:`base_flow` gives a value.
    """
    base = base_flow(record, method)
    flow = checked(record)[base.notna()]
    if flow.empty or flow.sum() == 0:
        raise HydrokitError(
            "base_flow_index(): the record is too short or too broken for a base flow"
        )
    return float(base.sum() / flow.sum())


# --- recession ------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Recession(Result):
    """How the creek falls when nothing feeds it.

    Parameters
    ----------
    constant : float
        Tomorrow's flow as a share of today's, in a dry spell.
    days : float
        Days in which such a recession falls to 1/e, −1/ln(constant); infinite for a constant of 1.
    low, high : float
        Lower and upper quartile of the constant over single recessions.
    count : int
        Recessions used.
    findings : tuple of Finding
    """

    constant: float
    days: float
    low: float
    _: KW_ONLY
    high: float
    count: int
    findings: tuple[Finding, ...]


def recession_constant(record: pd.Series, shortest: int = 7, skip: int = 3) -> Recession:
    """Recession constant from all spells of steadily falling flow.

    Parameters
    ----------
    record : pandas.Series
    shortest : int
        Days a spell must fall, beside those skipped.
    skip : int
        Days left out after each peak, in which storm water still runs off.

    Returns
    -------
    Recession

    Notes
    -----
    Q(t + 1) = k Q(t). Within each spell ln k is the mean daily change of ln Q, which only its two
    ends decide; the constant is the median over the spells, so that one odd spell does not rule.
    """
    values = checked(record).to_numpy()
    with np.errstate(invalid="ignore"):
        falling = (values[1:] < values[:-1]) & (values[1:] > 0)
    starts, ends = runs(falling)
    starts = starts + skip
    long_enough = ends - starts >= shortest
    starts, ends = starts[long_enough], ends[long_enough]
    if len(starts) == 0:
        raise HydrokitError(
            f"recession_constant(): no spell of {shortest + skip} days of falling flow in the "
            "record; give a smaller shortest"
        )
    each = (values[ends] / values[starts]) ** (1 / (ends - starts))
    constant = float(np.median(each))
    low, high = (float(value) for value in np.quantile(each, [0.25, 0.75]))
    findings: tuple[Finding, ...] = ()
    if len(each) < 10:
        findings = (
            Finding("caution", "recession", f"only {len(each)} recessions: the constant is rough"),
        )
    return Recession(
        constant, float(-1 / np.log(constant)), low, high=high, count=len(each), findings=findings
    )
