r"""Limits of rare flows that count the shape of their distribution as unknown too.

Five or fifty yearly extremes hardly tell the skew or the shape of the distribution they come from, and the
flow of one year in ten hangs on it. Shapes are drawn from what is known of others, for each a
sample of as many years is drawn, and those samples are kept whose own shape (skew, or L-skewness)
is nearest to that of the years. In each of them it is known by how much location and scale of the
sample miss those of its distribution; set back by as much, the years give one flow that may be the
true one:

.. math:: x = m + s\,\frac{K(\gamma^*, p) - m^*}{s^*}

with m and s location and scale of the years, :math:`m^*, s^*, \gamma^*` those of a kept sample of a standard
distribution, and K its quantile. With a shape that is known this is the interval of the non-central
t distribution for normal logarithms [1]_; the kept samples are approximate draws given the sample's
shape [2]_.

Years that are alike widen :math:`m^*` by :math:`\sqrt f` and let :math:`s^*` fall short, as
:mod:`hydrokit.stream.spread_of_years` says.

.. [1] J. R. Stedinger, "Confidence intervals for design events", J. Hydraulic Engineering 109(1):13-27, 1983.
.. [2] M. A. Beaumont, W. Zhang, D. J. Balding, "Approximate Bayesian computation in population genetics",
   Genetics 162:2025-2035, 2002.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from .frequency import fit_gev, gev_quantile, l_moments, pearson3_factor
from .spread_of_years import SpreadOfYears

if TYPE_CHECKING:
    from ..units import Floats

__all__ = ["ANY_SKEW", "ShapeDraws", "gev_draws", "gev_with_limits", "pearson3_draws"]

# Mean and variance of the skew of the logarithms where no region is told: about the national map of
# Bulletin 17B 0.302, and 0.1 of the map itself (from memory).
ANY_SKEW = (0.0, 0.4)
_TRIED, _KEPT = 12_000, 600
_TOGETHER = 400_000  # numbers drawn at once
_LEAST_SKEW = 0.01  # a smaller one is drawn as this: a normal distribution, all but


Samples = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


@dataclass(frozen=True, eq=False)
class ShapeDraws:
    """Samples of as many years whose own shape is near that of the years.

    Parameters
    ----------
    law : {"pearson3", "gev"}
    location, scale, shape : ndarray
        Of each sample of a standard distribution, and the shape it was drawn with.
    """

    law: str
    location: np.ndarray
    scale: np.ndarray
    _: KW_ONLY
    shape: np.ndarray

    def factors(self, nonexceedance: float, spread: SpreadOfYears | None = None) -> np.ndarray:
        """Scales from the location of the years at which the flow of a probability may truly be."""
        if self.law == "pearson3":
            quantile = pearson3_factor(self.shape, nonexceedance)
        else:
            quantile = gev_quantile(0.0, 1.0, self.shape, nonexceedance)
        alike, short = (1.0, 1.0) if spread is None else (spread.factor, spread.shortfall)
        middle = 0.0 if self.law == "pearson3" else gev_mean(self.shape)
        location = middle + np.sqrt(alike) * (self.location - middle)
        return np.asarray((quantile - location) / self.scale * np.sqrt(1 / short))

    def limits(
        self, nonexceedance: float, level: float, spread: SpreadOfYears | None = None
    ) -> tuple[float, float]:
        """Lower and upper factor that hold the true one with a probability."""
        low, high = np.quantile(
            self.factors(nonexceedance, spread), [0.5 - level / 2, 0.5 + level / 2]
        )
        return float(low), float(high)


def gev_mean(shape: Floats) -> Floats:
    """Mean of a standard generalised extreme value distribution."""
    from scipy.special import gamma

    return (1 - gamma(1 + shape)) / shape


def pearson3_draws(
    count: int, skew: float, expected: float = ANY_SKEW[0], variance: float = ANY_SKEW[1]
) -> ShapeDraws:
    """Samples of Pearson III distributions by the skew of so many years' logarithms.

    Parameters
    ----------
    count : int
        Years.
    skew : float
        Their skew, bias-corrected.
    expected, variance : float
        What is known of it from elsewhere: of the region, or of the world.
    """
    return _nearest("pearson3", _pearson3(int(count), float(expected), float(variance)), skew)


# Whatever the shape of the years, the samples are the same: drawn once for so many years.
@lru_cache(maxsize=64)
def _pearson3(count: int, expected: float, variance: float) -> Samples:
    random = np.random.default_rng(17)
    shape = expected + np.sqrt(variance) * random.standard_normal(_TRIED)
    shape = np.where(np.abs(shape) < _LEAST_SKEW, _LEAST_SKEW, shape)

    def sample(of: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        size = (4 / of**2)[:, None]
        gamma = random.gamma(np.broadcast_to(size, (len(of), count)))
        drawn = (gamma - size) / np.sqrt(size) * np.sign(of)[:, None]
        mean, spread = drawn.mean(axis=1), drawn.std(axis=1, ddof=1)
        third = (((drawn - mean[:, None]) / spread[:, None]) ** 3).sum(axis=1)
        return mean, spread, count * third / ((count - 1) * (count - 2))

    return _sampled(count, shape, sample)


def gev_draws(count: int, skewness: float, floods: bool) -> ShapeDraws:
    """Samples of generalised extreme value distributions by the L-skewness of so many years.

    Parameters
    ----------
    count : int
        Years.
    skewness : float
        Their L-skewness.
    floods : bool
        The shape of floods is drawn from the beta distribution of Martins and Stedinger, mean -0.10 and
        standard deviation 0.12 [1]_; any other from all between -0.5 and 0.5.

    References
    ----------
    .. [1] E. S. Martins, J. R. Stedinger, "Generalized maximum-likelihood generalized extreme-value quantile
       estimators for hydrologic data", Water Resources Research 36(3):737-744, 2000.
    """
    return _nearest("gev", _gev(int(count), bool(floods)), skewness)


@lru_cache(maxsize=64)
def _gev(count: int, floods: bool) -> Samples:
    random = np.random.default_rng(17)
    # in Hosking's sign a heavy tail is below nought: the beta distribution of p = 6, q = 9 between
    # -0.5 and 0.5
    shape = (random.beta(6, 9, _TRIED) if floods else random.random(_TRIED)) - 0.5
    shape = np.where(np.abs(shape) < 1e-4, 1e-4, shape)

    def sample(of: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        drawn = gev_quantile(0.0, 1.0, of[:, None], random.random((len(of), count)))
        return l_moments(drawn)

    return _sampled(count, shape, sample)


def gev_with_limits(
    values: np.ndarray,
    nonexceedance: float,
    level: float,
    floods: bool,
    spread: SpreadOfYears | None = None,
) -> tuple[float, float, float]:
    """Quantile of the extreme value distribution fitted to yearly extremes, and its limits.

    Parameters
    ----------
    values : ndarray
    nonexceedance, level : float
    floods : bool
        As of :func:`gev_draws`.
    spread : SpreadOfYears, optional

    Returns
    -------
    tuple of float
        Value, lower limit, upper limit.
    """
    value = float(gev_quantile(*fit_gev(values), nonexceedance))
    mean, scale, skewness = l_moments(values)
    low, high = gev_draws(len(values), skewness, floods).limits(nonexceedance, level, spread)
    return value, min(value, float(mean + scale * low)), max(value, float(mean + scale * high))


def _sampled(count: int, shape: np.ndarray, sample: Any) -> Samples:
    """Location, scale and own shape of a sample of each, and the shape it was drawn with."""
    pieces = np.array_split(shape, max(len(shape) * count // _TOGETHER, 1))
    location, scale, own = (np.concatenate(each) for each in zip(*map(sample, pieces)))
    return location, scale, own, shape


def _nearest(law: str, samples: Samples, wanted: float) -> ShapeDraws:
    """Those of the samples whose own shape is nearest to that of the years."""
    location, scale, own, shape = samples
    near = np.argpartition(np.abs(own - wanted), _KEPT)[:_KEPT]
    return ShapeDraws(law, location[near], scale[near], shape=shape[near])
