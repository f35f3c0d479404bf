r"""How far the years of a record may lie from the long run: few years, and wet and dry spells that last.

A statistic of n years, such as the logarithm of the flow exceeded on half the days, misses its
long-run value for two reasons: the years differ, with a standard deviation :math:`\sigma` of which n years
give only an estimate, and a year is like the one before, with a correlation :math:`\rho`.

*Spells.* Wet and dry years come in spells of every length, as Hurst found on the Nile: the
correlation falls with
the years between as a power, :math:`\rho_k = \frac12(|k+1|^{2H}-2|k|^{2H}+|k-1|^{2H})`, so that the mean of n years
has the variance [1]_

.. math:: \frac{\sigma^2}{n} f, \quad f = 1 + 2\sum_{k=1}^{n-1}\left(1-\frac{k}{n}\right)\rho_k = n^{2H-1},
   \quad H = \tfrac12\left(1+\log_2(1+\rho)\right),

and n years are worth :math:`n/f` independent ones [2]_. Their own sample variance is short of
:math:`\sigma^2` by :math:`(n-f)/(n-1)` and has, by Satterthwaite's moments [3]_ with the centring
matrix M and the correlations R, :math:`\nu = \mathrm{tr}(MR)^2/\mathrm{tr}(MRMR)` degrees of
freedom: n - 1 where :math:`\rho = 0`.

*Their correlation.* That of the record is biased low by about :math:`(1+4\rho)/n` [3]_ and errs by
:math:`1/\sqrt n`; it is drawn towards what other creeks show, each weighed by the other's variance.

*Few years.* So is the variance: what other creeks show counts as :math:`\nu_0` years (normal data, conjugate
prior [5]_). The error of the statistic is then Student's t with :math:`\nu_0+\nu` degrees of freedom and

.. math:: u^2 = \frac{f}{n}\,\frac{\nu_0\sigma_0^2+\nu s^2}{\nu_0+\nu}.

What other creeks show: the standard deviation between water years of ln Q at 5, 50 and 95 % exceedance lies
between 0.15 and 0.43 in the daily records of Black Earth Creek, Yaak River, Ngaruroro and Sitter [6]_, 0.25
about the middle; that of the median flow of a single month between 0.3 and 0.9, 0.45 about the middle; the
logarithm of either differs among creeks by about 0.35, as four degrees of freedom have it. A day
differs from the median of its own month and year by a standard deviation of ln Q of 0.26 to 0.73
there, 0.51 on average of the five. The correlation of the years' means, medians and low flows
there, and of the Nile's volumes, is 0.3 on average of the five and differs among them by 0.25; of
the median flow of a single month it is 0.2.

.. [1] D. Koutsoyiannis, "Climate change, the Hurst phenomenon, and hydrological statistics", Hydrological
   Sciences Journal 48(1):3-24, 2003: from H. E. Hurst, "Long-term storage capacity of reservoirs", 1951.
.. [2] G. V. Bayley, J. M. Hammersley, "The effective number of independent observations in an autocorrelated
   time series", Supplement to J. Royal Statistical Society 8(2):184-197, 1946.
.. [3] F. E. Satterthwaite, "An approximate distribution of estimates of variance components", Biometrics
   Bulletin 2(6):110-114, 1946.
.. [4] F. H. C. Marriott, J. A. Pope, "Bias in the estimation of autocorrelations", Biometrika
       41:390-402, 1954.
.. [5] A. Gelman and others, Bayesian Data Analysis, 3rd edition, 2013, section 3.3.
.. [6] Open records: tests/data (U.S. Geological Survey stations 05406500 and 12304500; Nile at
       Aswan), WMO-No. 1029
   (Ngaruroro), CAMELS-CH (Sitter). Worked out by this project: of every window of ten years of
   these six, the P90 of a year of energy, or volume, is exceeded in 90 % of the other years, with
   :math:`\rho_k=\rho^k` in 88 %, with independent years in 85 %.

>>> alone, spells = SpreadOfYears(10, 0.0), SpreadOfYears(10, 0.3)
>>> round(alone.freedom, 6), round(spells.worth, 1)
(9.0, 4.2)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property

import numpy as np

__all__ = [
    "CURVE",
    "DAY_IN_MONTH_SD",
    "MONTH",
    "SpreadOfYears",
    "USUAL_FREEDOM",
    "Usual",
    "lag_one",
]


@dataclass(frozen=True)
class Usual:
    """What other creeks show: standard deviation of ln Q between years, and correlation of a year
    with the next."""

    sd: float
    correlation: float


CURVE, MONTH = (
    Usual(0.25, 0.3),
    Usual(0.45, 0.2),
)  # of a whole year's flows, of one calendar month's
DAY_IN_MONTH_SD = 0.51  # of ln Q of a day about the median of its month and year
USUAL_FREEDOM = 4.0  # years that the standard deviations count for
_CORRELATION_SD = 0.25  # among creeks


def lag_one(
    values: np.ndarray, label: np.ndarray | None = None, usual: float = CURVE.correlation
) -> float:
    """Correlation of a year with the next, drawn towards what other creeks show.

    Parameters
    ----------
    values : ndarray
        One number a year; NaN where it is not known.
    label : ndarray of int, optional
        The year of each; in a row if left out.
    usual : float
        What other creeks show.

    Returns
    -------
    float
        Between 0 and 0.9: a single record does not show that dry years call for wet ones.
    """
    values = np.asarray(values, dtype=float)
    label = np.arange(len(values)) if label is None else np.asarray(label)
    known = np.isfinite(values)
    values, label = values[known], label[known]
    prior = 1 / _CORRELATION_SD**2
    next_ = np.diff(label) == 1 if len(label) > 1 else np.zeros(0, dtype=bool)
    pairs, squares = (
        int(next_.sum()),
        float(np.sum((values - values.mean()) ** 2)) if len(values) else 0.0,
    )
    if pairs < 2 or squares <= 0:
        return usual
    apart = values - values.mean()
    seen = float((apart[1:] * apart[:-1])[next_].sum() / squares * (len(values) - 1) / pairs)
    count = pairs + 1
    seen = (seen * count + 1) / max(count - 4, 1.0) if count > 4 else usual
    weight = max(count - 4, 0)  # the bias mended widens the error of 1/sqrt(n) by n/(n - 4), about
    return float(np.clip((prior * usual + weight * seen) / (prior + weight), 0.0, 0.9))


@dataclass(frozen=True)
class SpreadOfYears:
    """What so many years, alike by `correlation` with the next, are worth.

    Parameters
    ----------
    count : float
        Years; part of a year counts as such.
    correlation : float
        Of a year with the next.
    usual_sd : float
        Standard deviation between years that other creeks show.
    usual_freedom : float
        Years that it counts for; nought: the record speaks alone.
    """

    count: float
    correlation: float = 0.0
    usual_sd: float = CURVE.sd
    _: KW_ONLY
    usual_freedom: float = 0.0

    @property
    def _whole(self) -> int:
        return max(int(round(self.count)), 1)

    @cached_property
    def factor(self) -> float:
        """Variance of their mean over that of as many independent years."""
        return self.factor_of(self._whole)

    def factor_of(self, years: int) -> float:
        """The same of other years in a row."""
        return float(years ** (2 * self.hurst - 1))

    @property
    def hurst(self) -> float:
        """Hurst's coefficient: 0.5 where years have nothing to do with each other."""
        return float((1 + np.log2(1 + self.correlation)) / 2)

    @property
    def worth(self) -> float:
        """Independent years that tell as much of the mean."""
        return self.count / self.factor

    @cached_property
    def freedom(self) -> float:
        """Degrees of freedom of their own variance."""
        years = self._whole
        if years < 2:
            return 0.0
        place = np.arange(years)
        apart, power = np.abs(place[:, None] - place), 2 * self.hurst
        centred = ((apart + 1.0) ** power + np.abs(apart - 1.0) ** power) / 2 - apart**power
        centred = centred - centred.mean(axis=0)
        return float(np.trace(centred) ** 2 / np.sum(centred * centred.T))

    @property
    def shortfall(self) -> float:
        """Their own variance, divided by n - 1, over that of endless years, on average."""
        years = self._whole
        return (years - self.factor) / (years - 1) if years > 1 else 1.0

    @property
    def all_freedom(self) -> float:
        """Degrees of freedom with what other creeks show."""
        return self.freedom + self.usual_freedom

    def shares(self) -> tuple[float, float]:
        """How much the record's own variance and the usual one count in that of endless years."""
        whole = self.all_freedom
        if whole <= 0:
            return 0.0, 1.0
        return self.freedom / whole / self.shortfall, self.usual_freedom / whole

    def widened(
        self, resampled: np.ndarray, middle: np.ndarray, seed: int | Sequence[int]
    ) -> np.ndarray:
        """Statistics of resampled years, about that of the record, as wide as the years leave open.

        Parameters
        ----------
        resampled : ndarray
            Logarithms, resamples along the first axis: years drawn with replacement, which spread by
            :math:`s^2(n-1)/n^2`.
        middle : ndarray
            Of the record itself.
        seed : int or sequence of int

        Returns
        -------
        ndarray
            Of the same shape; those of one row share one draw.
        """
        random = np.random.default_rng(seed)
        draws, years = len(resampled), max(self.count, 1.0)
        freedom = self.all_freedom
        stretch = (
            np.sqrt(freedom / random.chisquare(freedom, draws)) if freedom > 0 else np.ones(draws)
        )
        usual = random.standard_normal(draws)
        own, other = self.shares()
        whole = max(years, 1.0 + 1e-9)
        scale = np.sqrt(own * self.factor * whole / (whole - 1)) if years > 1.5 else 0.0
        apart = scale * (middle - resampled)
        apart += (np.sqrt(other * self.factor / years) * self.usual_sd * usual).reshape(
            -1, *[1] * (resampled.ndim - 1)
        )
        return middle + stretch.reshape(-1, *[1] * (resampled.ndim - 1)) * apart
