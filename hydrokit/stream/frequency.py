"""Distributions of yearly extremes: log-Pearson III by moments, GEV by L-moments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Q_, Floats, Number, Quantity

if TYPE_CHECKING:
    from ..units import Alike

__all__ = [
    "Quantile",
    "few_years",
    "fit_gev",
    "gev_quantile",
    "l_moments",
    "log_moments",
    "lp3_limits",
    "outlier_factor",
    "pearson3_factor",
    "return_period_for",
    "risk",
    "skew_error",
    "weighted_skew",
]

FEWEST = 5  # below this three parameters are not worth the name of a fit


@dataclass(frozen=True, eq=False)
class Quantile(Result):
    """A flow that is reached, or undercut, once in so many years on average.

    Parameters
    ----------
    flow_m3s, low_m3s, high_m3s : float
        The estimate and its limits; NaN limits where the method gives none.
    level : float
        Chance that the limits hold the true value, were the distribution the right one.
    years : float
        Return period.
    method : str
    count : int
        Years of data used.
    mean, standard_deviation, skew : float
        Moments of the base-10 logarithms (log-Pearson III), else NaN.
    findings : tuple of Finding
    """

    flow_m3s: float
    low_m3s: float
    high_m3s: float
    _: KW_ONLY
    level: float
    years: float
    method: str
    count: int
    mean: float = np.nan
    standard_deviation: float = np.nan
    skew: float = np.nan
    findings: tuple[Finding, ...] = ()

    @property
    def flow(self) -> Quantity:
        return Q_(self.flow_m3s, "m^3/s")

    @property
    def limits(self) -> tuple[Alike, Alike]:
        return Q_(self.low_m3s, "m^3/s"), Q_(self.high_m3s, "m^3/s")


def few_years(
    where: str, what: str, count: int, *, years: float, scarce: str, beyond: str = ""
) -> tuple[Finding, ...]:
    """What a reader must know where few years stand behind an extreme.

    Parameters
    ----------
    where, what : str
        Of the finding; the extreme as a reader calls it.
    count : int
        Years of data.
    years : float
        Return period asked for.
    scarce, beyond : str
        What too few years are short of, and what follows beyond twice the record.
    """
    if count < 10:
        return (Finding("caution", where, f"only {count} years of {scarce}"),)
    if years > 2 * count:
        text = (
            f"the {what} of one year in {years:.3g} reaches beyond twice the {count} years of "
            f"record{beyond}"
        )
        return (Finding("caution", where, text),)
    return ()


# --- log-Pearson III ------------------------------------------------------------------------


def pearson3_factor(skew: Number, nonexceedance: Number | Sequence[float]) -> Number:
    r"""Standard deviations from the mean at which a Pearson III variable has a probability.

    Parameters
    ----------
    skew : float or array
        Coefficient of skew, :math:`G`.
    nonexceedance : float or array
        Probability of a smaller value, between 0 and 1.

    Returns
    -------
    float or ndarray
        The factor :math:`K`, tabulated in Bulletin 17B, appendix 3 [1]_.

    Notes
    -----
    :math:`K = (G/2)\,[\gamma^{-1}(4/G^2, p) - 4/G^2]` for a positive skew, mirrored for a negative
    one; for a skew within 1e-5 of zero the first term in :math:`G` beyond the normal distribution.

    References
    ----------
    .. [1] Interagency Advisory Committee on Water Data, "Guidelines for determining flood flow
       frequency", Bulletin 17B, U.S. Geological Survey, 1982, appendix 3.

    Examples
    --------
    >>> round(float(pearson3_factor(0.7, 0.99)), 5)
    2.82359
    """
    skew, p = np.broadcast_arrays(
        np.asarray(skew, dtype=float), np.asarray(nonexceedance, dtype=float)
    )
    near_zero = np.abs(skew) < 1e-5
    size = np.where(near_zero, 1.0, np.abs(skew))
    shape = 4.0 / size**2
    # The mirrored branch takes the upper tail directly, so that small probabilities keep their digits.
    reduced = np.where(skew > 0, special.gammaincinv(shape, p), special.gammainccinv(shape, p))
    gamma = np.sign(skew) * (reduced - shape) * size / 2
    normal = special.ndtri(p)
    factor = np.where(near_zero, normal + (normal**2 - 1) * skew / 6, gamma)
    return factor if factor.ndim else float(factor)


def log_moments(values: Floats) -> tuple[float, float, float]:
    """Mean, standard deviation and bias-corrected skew of base-10 logarithms.

    Parameters
    ----------
    values : array
        Positive numbers, at least three.

    Returns
    -------
    tuple of float
    """
    logs = np.log10(np.asarray(values, dtype=float))
    n = len(logs)
    deviation = logs - logs.mean()
    spread = float(logs.std(ddof=1))
    if spread == 0:
        return float(logs.mean()), 0.0, 0.0
    return (
        float(logs.mean()),
        spread,
        float(n * (deviation**3).sum() / ((n - 1) * (n - 2) * spread**3)),
    )


def skew_error(skew: float, count: int) -> float:
    """Mean square error of the skew of so many years' logarithms (Bulletin 17B, equation 6).

    Parameters
    ----------
    skew : float
    count : int
        Years of data.

    Returns
    -------
    float
        10^(A − B log10(n/10)), A and B depending on the skew.
    """
    size = abs(skew)
    a = -0.33 + 0.08 * size if size <= 0.9 else -0.52 + 0.30 * size
    b = 0.94 - 0.26 * size if size <= 1.5 else 0.55
    return float(10 ** (a - b * np.log10(count / 10)))


def weighted_skew(
    skew: float, count: int, regional_skew: float, regional_mse: float = 0.302
) -> float:
    """Station skew and a regional skew, each weighted by the other's error (equation 5).

    Parameters
    ----------
    skew : float
        Skew of the logarithms of this station.
    count : int
        Years of data.
    regional_skew : float
        Skew read from a map or a regional study.
    regional_mse : float
        Its mean square error; 0.302 is that of the national map of Bulletin 17B.

    Returns
    -------
    float
    """
    station_mse = skew_error(skew, count)
    return float((regional_mse * skew + station_mse * regional_skew) / (regional_mse + station_mse))


def lp3_limits(factor: float, count: int, level: float) -> tuple[Number, Number]:
    """Factors of the lower and upper confidence limit of a log-Pearson III quantile.

    Parameters
    ----------
    factor : float
        Factor of the estimate, from :func:`pearson3_factor`.
    count : int
        Years of data.
    level : float
        Chance that the limits hold the true value; 0.9 leaves 5 % on each side.

    Returns
    -------
    tuple of float

    Notes
    -----
    Bulletin 17B, appendix 9: an approximation to the non-central t distribution that leaves out
    the uncertainty of the skew itself, so true limits are wider:
    :mod:`hydrokit.stream.shape_limits` has those.
    """
    z = special.ndtri(0.5 + level / 2)
    a = 1 - z**2 / (2 * (count - 1))
    b = factor**2 - z**2 / count
    if a <= 0:
        return -np.inf, np.inf
    root = np.sqrt(np.maximum(factor**2 - a * b, 0.0))
    return (factor - root) / a, (factor + root) / a


def outlier_factor(count: int | Sequence[int] | np.ndarray) -> Number:
    """Standard deviations from the mean beyond which one of so many normal values is suspect.

    Parameters
    ----------
    count : int or array
        Number of values, five or more.

    Returns
    -------
    float or ndarray
        One-sided factor at a significance of 10 %: a curve through the table of Bulletin 17B,
        appendix 4, that keeps within 0.002 of it from 10 to 140 years.
    """
    size = np.log10(np.asarray(count, dtype=float))
    return (-0.9043 + 3.345 * np.sqrt(size) - 0.4046 * size)[()]


# --- generalised extreme value --------------------------------------------------------------


def l_moments(values: Number) -> tuple[Alike, Alike, Alike]:
    """First two L-moments and the L-skewness, unbiased.

    Parameters
    ----------
    values : array
        At least three values along the last axis.

    Returns
    -------
    tuple of float or ndarray
        L-mean, L-scale and L-skewness, after Hosking and Wallis (1997), section 2.7.
    """
    ordered = np.sort(np.asarray(values, dtype=float), axis=-1)
    n = ordered.shape[-1]
    rank = np.arange(n)
    b0 = ordered.mean(axis=-1)
    b1 = (ordered * rank).sum(axis=-1) / (n * (n - 1))
    b2 = (ordered * rank * (rank - 1)).sum(axis=-1) / (n * (n - 1) * (n - 2))
    scale = 2 * b1 - b0
    with np.errstate(invalid="ignore", divide="ignore"):
        return b0, scale, (6 * b2 - 6 * b1 + b0) / scale


def fit_gev(values: Floats) -> tuple[Alike, Alike, Alike]:
    r"""Location, scale and shape of a generalised extreme value distribution, by L-moments.

    Parameters
    ----------
    values : array
        At least three values along the last axis; several samples at once along the others.

    Returns
    -------
    tuple of float or ndarray
        :math:`\xi, \alpha, k` in Hosking's sign: :math:`x(F) = \xi + \alpha(1-(-\ln F)^k)/k`, a
        negative shape has the heavy tail.

    Notes
    -----
    The shape solves :math:`2(1-3^{-k})/(1-2^{-k}) - 3 = \tau_3` by Newton's method, started from
    Hosking, Wallis and Wood (1985), equation 14.
    """
    mean, scale, skewness = l_moments(values)
    c = 2 / (3 + skewness) - np.log(2) / np.log(3)
    shape = 7.8590 * c + 2.9554 * c**2
    for _ in range(6):
        k = np.where(np.abs(shape) < 1e-6, 1e-6, shape)
        two, three = -np.expm1(-k * np.log(2)), -np.expm1(-k * np.log(3))
        slope = 2 * (np.log(3) * (1 - three) * two - np.log(2) * (1 - two) * three) / two**2
        shape = k - (2 * three / two - 3 - skewness) / slope
    k = np.where(np.abs(shape) < 1e-7, 1e-7, shape)
    gamma = special.gamma(1 + k)
    alpha = scale * k / (-np.expm1(-k * np.log(2)) * gamma)
    return mean - alpha * (1 - gamma) / k, alpha, k


def gev_quantile(location: float, scale: float, shape: Number, nonexceedance: Number) -> Number:
    """Value of a generalised extreme value distribution at a probability of a smaller one.

    Parameters
    ----------
    location, scale, shape : float or array
        As from :func:`fit_gev`; a shape of zero is the Gumbel distribution.
    nonexceedance : float or array

    Returns
    -------
    float or ndarray
    """
    reduced = -np.log(-np.log(nonexceedance))
    shape = np.asarray(shape, dtype=float)
    k = np.where(shape == 0, 1.0, shape)
    value = location + scale * np.where(shape == 0, reduced, -np.expm1(-k * reduced) / k)
    return value if np.ndim(value) else float(value)


# --- risk -----------------------------------------------------------------------------------


def risk(return_period: Number | Sequence[float], life: Number | Sequence[float]) -> Number:
    """Chance that an event comes at least once in a number of years.

    Parameters
    ----------
    return_period : float or array
        Years between events on average, above 1.
    life : float or array
        Years at risk.

    Returns
    -------
    float or ndarray
        1 − (1 − 1/T)^n: years are taken as independent.

    Examples
    --------
    >>> f"{risk(30, 6):.3f}"
    '0.184'
    """
    if np.any(np.asarray(return_period) <= 1):
        raise HydrokitError(
            f"risk(): return_period must be more than 1 year, got {return_period!r}"
        )
    return -np.expm1(
        np.asarray(life, dtype=float) * np.log1p(-1 / np.asarray(return_period, dtype=float))
    )[()]


def return_period_for(chance: float, life: float) -> float:
    """Return period that a structure must survive for a stated risk over its life.

    Parameters
    ----------
    chance : float or array
        Accepted chance of at least one greater event, between 0 and 1.
    life : float or array
        Years.

    Returns
    -------
    float or ndarray
        Years.

    Examples
    --------
    An intake meant to last 30 years, with one chance in five of being overtopped:

    >>> round(float(return_period_for(0.2, 30)))
    135
    """
    if np.any((np.asarray(chance) <= 0) | (np.asarray(chance) >= 1)):
        raise HydrokitError(f"return_period_for(): chance must lie between 0 and 1, got {chance!r}")
    return (
        -1 / np.expm1(np.log1p(-np.asarray(chance, dtype=float)) / np.asarray(life, dtype=float))
    )[()]
