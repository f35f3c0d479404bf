"""Whether the years rise or fall: the test of Mann and Kendall, and Sen's slope."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass

import numpy as np
from scipy.special import ndtr

from ..errors import HydrokitError

__all__ = ["Trend", "mann_kendall"]

_FEWEST, _EXACT = 4, 10  # years; up to ten the chance is counted out instead of taken as normal


@dataclass(frozen=True, eq=False)
class Trend:
    """Outcome of the test.

    Parameters
    ----------
    score : int
        S: pairs of years that rise less pairs that fall.
    variance : float
        Of S without a trend, ties counted.
    z : float
        S one step nearer to nought, in standard deviations.
    p_value : float
        Two-sided: how often years without a trend give as much.
    slope : float
        Sen's: the median of the slopes of all pairs, a year.
    """

    score: int
    variance: float
    z: float
    _: KW_ONLY
    p_value: float
    slope: float


def mann_kendall(values: Sequence[float] | np.ndarray) -> Trend:
    """Test of a sequence for a trend, without assuming a distribution.

    Parameters
    ----------
    values : array
        One value a year, in order; four or more.

    Returns
    -------
    Trend

    Notes
    -----
    S = Σ sign(x_j - x_i); its variance is [n(n-1)(2n+5) - Σt(t-1)(2t+5)]/18 with t the sizes of ties;
    Z = (S ∓ 1)/√variance [1]_. Up to ten values without ties the chance is counted out over all orders.
    Years are taken as independent. A step, such as a gauge that was moved, looks like a trend too.

    References
    ----------
    .. [1] M. G. Kendall, "Rank correlation methods", 1975, chapter 4; H. B. Mann, "Nonparametric
       tests against trend", Econometrica 13, 1945.

    Examples
    --------
    >>> found = mann_kendall([12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7])
    >>> found.score, round(found.z, 4), round(found.p_value, 5)
    (54, 2.9058, 0.00366)
    """
    values = np.asarray(values, dtype=float)
    count = len(values)
    if count < _FEWEST or not np.isfinite(values).all():
        raise HydrokitError(
            f"mann_kendall(): needs {_FEWEST} or more values without a gap, got {count}"
        )
    first, second = np.triu_indices(count, 1)
    rise = values[second] - values[first]
    score = int(np.sign(rise).sum())
    ties = np.unique(values, return_counts=True)[1]
    variance = (
        count * (count - 1) * (2 * count + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())
    ) / 18
    z = (score - np.sign(score)) / np.sqrt(variance) if variance > 0 else 0.0
    p_value = (
        _counted_out(count, score)
        if count <= _EXACT and ties.max() == 1
        else 2 * float(ndtr(-abs(z)))
    )
    slope = float(np.median(rise / (second - first)))
    return Trend(score, variance, float(z), p_value=min(p_value, 1.0), slope=slope)


def _counted_out(count: int, score: int) -> float:
    """Share of all orders of so many different values with a score at least as far from nought."""
    orders = np.ones(1)  # by number of falling pairs
    for size in range(2, count + 1):
        orders = np.convolve(orders, np.ones(size))
    scores = count * (count - 1) // 2 - 2 * np.arange(len(orders))
    return float(orders[np.abs(scores) >= abs(score)].sum() / orders.sum())
