"""A short record made longer with the help of a neighbour's long one.

Nothing is extended without saying how well the method predicts years it was not shown.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Callable, Iterator

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError, counted
from ..result import Result
from ..units import Floats, Given, Number, Outside, units
from .days import days_of
from .record import WATER_YEAR, checked, year_labels
from .transfer import TransferError, error_of_ratio, error_of_window

__all__ = ["Extension", "Skill", "area_ratio", "extend_record", "move1", "move1_line"]

_SENTENCE = {
    "move1": "line of equal variance between the logarithms (MOVE.1)",
    "area": "ratio of catchment areas",
    "duration": "transfer from duration curve to duration curve",
}


@dataclass(frozen=True, eq=False)
class Skill:
    """How well days that were left out of the fit were predicted.

    Parameters
    ----------
    days : int
        Days predicted.
    blocks : int
        Parts of the overlap, each left out in turn.
    volume_ratio : float
        Predicted volume over measured volume.
    efficiency : float
        Nash and Sutcliffe's, on flows: 1 is perfect, 0 no better than the mean.
    log_efficiency : float
        The same on logarithms, which low flows decide.
    factor : float
        Typical factor between prediction and measurement, e to the root mean square error of ln Q.
    """

    days: int
    blocks: int
    volume_ratio: float
    _: KW_ONLY
    efficiency: float
    log_efficiency: float
    factor: float


@dataclass(frozen=True, eq=False)
class Extension(Result):
    """A record with days added from a neighbour.

    Parameters
    ----------
    record : pandas.Series
        Measured where there was a measurement, estimated elsewhere.
    estimated : pandas.Series
        True on estimated days.
    method : str
    slope, intercept : float
        Of ln Q here on ln Q there; NaN for the transfer of duration curves.
    correlation : float
        Of the logarithms of the days both records have; NaN without an overlap.
    overlap_days : int
    skill : Skill or None
        None where there is nothing to test on.
    error : TransferError or None
        Of the whole record's flows, by flow; None where no day has any.
    findings : tuple of Finding
    """

    record: pd.Series
    estimated: pd.Series
    method: str
    _: KW_ONLY
    slope: float
    intercept: float
    correlation: float
    overlap_days: int
    skill: Skill | None
    error: TransferError | None
    findings: tuple[Finding, ...]


def move1_line(
    mean_here: float, spread_here: float, mean_there: float, spread_there: float, sign: float = 1.0
) -> tuple[float, float]:
    """Slope and intercept of the line that keeps mean and variance.

    Parameters
    ----------
    mean_here, spread_here : float
        Mean and standard deviation to be kept, as a rule of logarithms of flow.
    mean_there, spread_there : float
        Those of the neighbour over the same days.
    sign : float
        Sign of the correlation.

    Returns
    -------
    tuple of float

    Notes
    -----
    y = ȳ + sign(r)·(s_y/s_x)·(x − x̄) [1]_. Ordinary regression has the extra factor r, which
    draws low flows up and high flows down.

    References
    ----------
    .. [1] R. M. Hirsch, "A comparison of four streamflow record extension techniques", Water
       Resources Research 18(4), 1982, pp. 1081-1088 (maintenance of variance, type 1).
    """
    slope = float(np.sign(sign) * spread_here / spread_there)
    return slope, float(mean_here - slope * mean_there)


def move1(there: Floats, here: Floats) -> tuple[float, float, float]:
    """MOVE.1 line between paired values, and their correlation.

    Parameters
    ----------
    there, here : array
        Paired values, as a rule logarithms of flow.

    Returns
    -------
    tuple of float
        Slope, intercept, correlation.
    """
    there, here = np.asarray(there, dtype=float), np.asarray(here, dtype=float)
    if there.shape != here.shape or there.size < 3:
        raise HydrokitError(
            f"move1(): needs two equally long lists of three or more, got {there.size} and {here.size}"
        )
    spread_there, spread_here = there.std(ddof=1), here.std(ddof=1)
    if spread_there == 0 or spread_here == 0:
        raise HydrokitError("move1(): one of the lists never varies; there is nothing to relate")
    correlation = float(np.corrcoef(there, here)[0, 1])
    return *move1_line(
        here.mean(), spread_here, there.mean(), spread_there, correlation
    ), correlation


@units("number", area="m^2", area_there="m^2", exponent="count")
def area_ratio(area: float, area_there: float, exponent: Number = 1.0) -> Number:
    """Flow here as a share of flow there, from the two catchment areas.

    Parameters
    ----------
    area, area_there : Quantity or str [length²]
    exponent : float
        1 where rain is alike; regional studies give 0.7 to 1.0, changing with season and flow.

    Returns
    -------
    float or ndarray

    Warns
    -----
    RangeWarning
        Ratio outside 0.5 to 1.5.

    References
    ----------
    .. [1] U.S. Geological Survey, Scientific Investigations Report 2008-5126, section 4 (limits
       0.5 to 1.5), and 2005-5017 (exponents 0.85 winter, 0.91 spring, 1.02 summer).

    Examples
    --------
    >>> round(area_ratio("25 km^2", "40 km^2", 0.85), 4)
    0.6707
    >>> area_ratio("640 acre", "2 mi^2")
    0.5
    """
    return (area / area_there) ** exponent


@area_ratio.valid
def _(area: Given, area_there: Given) -> Iterator[Outside]:
    ratio = area / area_there
    # A hair of room, so that acres against square miles do not fall outside by rounding.
    yield (
        (ratio < 0.5 * (1 - 1e-6)) | (ratio > 1.5 * (1 + 1e-6)),
        "catchment areas differ by more than 0.5 to 1.5: a flow ratio from areas is not to be trusted",
    )


def extend_record(
    short: pd.Series,
    long: pd.Series,
    method: str = "move1",
    ratio: float | None = None,
    fewest_days: int = 365,
    least_correlation: float = 0.8,
) -> Extension:
    """Add to a short record the days only a neighbour's record has.

    Parameters
    ----------
    short, long : pandas.Series
        Records, see :func:`hydrokit.stream.record.checked`. Measured days of `short` are kept.
    method : {"move1", "area", "duration"}
        Line through the logarithms that keeps mean and variance; a fixed `ratio`; or the flow that
        has here the exceedance which the neighbour's flow has there.
    ratio : float, optional
        Flow here over flow there, for ``method="area"``: see :func:`area_ratio`.
    fewest_days : int
        Days of overlap needed, but for ``"area"``. A year, so that every season is seen; readings once
        a week will do, 40 or more in all twelve months.
    least_correlation : float
        Correlation of the logarithms below which the neighbour is refused; 0.8 is common practice.

    Returns
    -------
    Extension

    Raises
    ------
    HydrokitError
        Too short an overlap, too low a correlation, nothing to add: with the reason.

    Notes
    -----
    Skill is measured by leaving out one water year of the overlap at a time, or a tenth of it
    where it spans fewer than three: neighbouring days are too alike to be left out one by one.
    Zero flows have no logarithm: they are left out of the fit, and a zero there becomes a zero here.
    """
    short, long = checked(short), checked(long)
    if method not in _SENTENCE:
        raise HydrokitError(
            f'extend_record(): method must be "move1", "area" or "duration", got {method!r}'
        )
    if (method == "area") != (ratio is not None):
        what = "needs ratio=area_ratio(area, area_there)" if method == "area" else "takes no ratio"
        raise HydrokitError(f'extend_record(): method="{method}" {what}')
    if ratio is not None and not 0 < ratio < np.inf:
        raise HydrokitError(f"extend_record(): ratio must be above zero, got {ratio!r}")
    days = pd.date_range(min(short.index[0], long.index[0]), max(short.index[-1], long.index[-1]))
    together = pd.DataFrame({"here": short.reindex(days), "there": long.reindex(days)})
    added = together["here"].isna() & together["there"].notna()
    if not added.any():
        raise HydrokitError(
            "extend_record(): the longer record has no day that the shorter one lacks; are they swapped?"
        )

    both = together.dropna()
    both = both[(both > 0).all(axis=1)]
    here, there = np.log(both["here"].to_numpy()), np.log(both["there"].to_numpy())
    correlation = float("nan")
    if len(both) >= 3 and np.ptp(here) > 0 and np.ptp(there) > 0:
        correlation = float(np.corrcoef(here, there)[0, 1])
    if method != "area":
        _refuse_poor(days_of(both), fewest_days, correlation, least_correlation)

    fit = {
        "move1": _fit_move1,
        "duration": _fit_duration,
        "area": lambda *_: _line(1.0, np.log(1.0 if ratio is None else ratio)),
    }[method]
    slope, intercept, predict = fit(there, here)
    with np.errstate(divide="ignore"):
        logs = np.log(together.loc[added, "there"].to_numpy())
    record = together["here"].copy()
    record[added] = np.where(
        np.isneginf(logs), 0.0, np.exp(predict(np.where(np.isneginf(logs), 0.0, logs)))
    )
    skill = _skill(days_of(both), there, here, fit)
    error = _error(record, added, (days_of(both), there, here), method, predict)
    findings = _findings(
        method, int(added.sum()), int(short.notna().sum()), logs, there, correlation, skill
    )
    return Extension(
        record.rename("flow_m3s"),
        added.rename("estimated"),
        method,
        slope=slope,
        intercept=intercept,
        correlation=correlation,
        overlap_days=len(both),
        skill=skill,
        error=error,
        findings=findings,
    )


_FEWEST_SPREAD = 40  # readings of a stage once a week, but for some weeks of ice: common practice


def _refuse_poor(
    days: pd.DatetimeIndex, fewest_days: int, correlation: float, least: float
) -> None:
    spread = len(days) >= _FEWEST_SPREAD and len(set(days.month)) == 12
    if len(days) < fewest_days and not spread:
        raise HydrokitError(
            f"extend_record(): the records share {counted(len(days), 'day')} with flow, {fewest_days} are needed to see every season, "
            f"or {_FEWEST_SPREAD} spread over all twelve months; "
            'measure on, or go by the ratio of the catchments ("area") as a first guess'
        )
    if not correlation >= least:
        raise HydrokitError(
            f"extend_record(): the logarithms of the two records correlate by {correlation:.2f}, "
            f"below {least:g}: the neighbour does not tell this creek's flow, or one of the "
            "records is wrong, such as after a logger moved; check the findings on the stages "
            "first, then look for a nearer gauge whose catchment has a similar size, height and "
            "snow"
        )


Fit = tuple[float, float, Callable[[np.ndarray], np.ndarray]]


def _line(slope: float, intercept: float) -> Fit:
    return slope, intercept, lambda logs: intercept + slope * logs


def _fit_move1(there: np.ndarray, here: np.ndarray) -> Fit:
    slope, intercept, _ = move1(there, here)
    return _line(slope, intercept)


def _fit_duration(there: np.ndarray, here: np.ndarray) -> Fit:
    distinct, counts = np.unique(there, return_counts=True)
    ends = np.cumsum(counts)
    total = np.r_[0.0, np.cumsum(np.sort(here))]
    # Equal flows there stand for the mean of the flows here that share their exceedances.
    paired = (total[ends] - total[ends - counts]) / counts

    def predict(logs: np.ndarray) -> np.ndarray:
        beyond = np.minimum(logs - distinct[0], 0.0) + np.maximum(logs - distinct[-1], 0.0)
        return np.interp(logs, distinct, paired) + beyond

    return float("nan"), float("nan"), predict


def _skill(
    days: pd.DatetimeIndex, there: np.ndarray, here: np.ndarray, fit: Callable[..., Fit]
) -> Skill | None:
    if len(here) < _FEWEST_TRIED:
        return None
    _, block = np.unique(year_labels(days, WATER_YEAR), return_inverse=True)
    if block.max() < 2:
        block = np.arange(len(here)) * 10 // len(here)
    predicted = np.empty_like(here)
    for number in range(block.max() + 1):
        left_out = block == number
        predicted[left_out] = fit(there[~left_out], here[~left_out])[2](there[left_out])
    error = predicted - here
    measured, estimate = np.exp(here), np.exp(predicted)
    return Skill(
        days=len(here),
        blocks=int(block.max() + 1),
        volume_ratio=float(estimate.sum() / measured.sum()),
        efficiency=float(
            1 - ((estimate - measured) ** 2).sum() / ((measured - measured.mean()) ** 2).sum()
        ),
        log_efficiency=float(1 - (error**2).sum() / ((here - here.mean()) ** 2).sum()),
        factor=float(np.exp(np.sqrt((error**2).mean()))),
    )


_FEWEST_TRIED = 30  # common days, below which nothing can be held against an estimate


def _error(
    record: pd.Series,
    added: pd.Series,
    common: tuple[pd.DatetimeIndex, np.ndarray, np.ndarray],
    method: str,
    predict: Callable[[np.ndarray], np.ndarray],
) -> TransferError | None:
    """Error of the lengthened record by flow: from the common days, else what is usual of a ratio."""
    days, there, here = common
    foretold = record[added & (record > 0)]
    if foretold.empty:
        return None
    if len(here) < _FEWEST_TRIED:
        found = error_of_ratio(foretold.to_numpy())
    else:
        again = {"move1": _again_move1, "duration": _again_duration}.get(method, lambda *_: predict)
        straight = predict if method == "area" else _fit_move1(there, here)[2]
        found = error_of_window(
            days, there, here, again, straight=straight, estimated_days=int(added.sum())
        )
    return found.of_record(record, added)


def _again_move1(
    there: np.ndarray, here: np.ndarray, times: np.ndarray
) -> Callable[[np.ndarray], np.ndarray]:
    """The line through days of which each counts so many times."""
    total = times.sum()
    mean_there, mean_here = times @ there / total, times @ here / total
    spread = np.sqrt(
        (times @ (here - mean_here) ** 2) / max(times @ (there - mean_there) ** 2, 1e-300)
    )
    return lambda logs: mean_here + spread * (logs - mean_there)


def _again_duration(
    there: np.ndarray, here: np.ndarray, times: np.ndarray
) -> Callable[[np.ndarray], np.ndarray]:
    return _fit_duration(np.repeat(there, times), np.repeat(here, times))[2]


def _findings(
    method: str,
    added: int,
    measured: int,
    logs: np.ndarray,
    there: np.ndarray,
    correlation: float,
    skill: Skill | None,
) -> tuple[Finding, ...]:
    findings = [
        Finding(
            "note",
            "extension",
            f"{added:,} days estimated by {_SENTENCE[method]}, {measured:,} measured",
        )
    ]
    if skill is None:
        findings.append(
            Finding(
                "caution",
                "extension",
                "the records have no days in common, so no test of the estimated flows is possible",
            )
        )
    else:
        level = (
            "caution"
            if skill.log_efficiency < 0.5 or abs(np.log(skill.volume_ratio)) > 0.1
            else "note"
        )
        text = (
            f"days left out of the fit were predicted to a factor of {skill.factor:.2f}, volume "
            f"{100 * (skill.volume_ratio - 1):+.0f} %, efficiency {skill.efficiency:.2f} "
            f"({skill.log_efficiency:.2f} on logarithms)"
        )
        findings.append(Finding(level, "extension", text))
    if method != "area" and len(there) < 365:
        findings.append(
            Finding(
                "caution",
                "extension",
                f"the records share {counted(len(there), 'day')} only, so the relation between them is rough",
            )
        )
    if method == "area" and skill is not None and correlation < 0.8:
        text = f"the logarithms of the two records correlate by {correlation:.2f} only"
        findings.append(Finding("caution", "extension", text))
    if len(there):
        beyond = int(((logs < there.min()) | (logs > there.max())).sum())
        if beyond > 0.02 * len(logs):
            text = f"{beyond} estimated days lie outside the neighbour's flows of the overlap"
            findings.append(Finding("caution", "extension", text))
    return tuple(findings)
