"""Years to come, from the years of a record: how much fewer years than endless ones leave open.

A record of a few years tells neither its own long-run mean nor how much years differ for certain.
Both are drawn as for normal years of unknown mean and variance [1]_: with n years, s their
standard deviation and χ² a chi-squared number of ν degrees of freedom,

    σ = s √(ν / χ²) / √e,   μ = mean + z σ √(f / n),   a year to come = μ + σ r,

where r is one of the record's own deviations in units of their standard deviation, so that a plant
that is often full stays so. Were years independent, ν = n - 1 and e = f = 1: μ is then Student's t about the
record's mean, and a year to come spreads as it does in the interval for one future observation [2]_.
Wet and dry spells last: a year is like the one before by a correlation that the record and other creeks
tell, the mean of n years errs by f times the variance, their own variance falls short by e on average, and
ν is less (:mod:`hydrokit.stream.spread_of_years`). The mean of m years to come has f of m years in a row. All
months of a year, and what the demand takes of them, move together.

.. [1] A. Gelman and others, Bayesian Data Analysis, 3rd edition, 2013, section 3.2: normal data with
   a noninformative prior.
.. [2] ISO 16269-8:2004, Determination of prediction intervals.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import cached_property

import numpy as np
from scipy.special import chdtri, ndtri

from ..stream.spread_of_years import SpreadOfYears

__all__ = ["FEW_YEARS", "FEW_YEARS_SD", "Outlook", "even_points", "years_sd"]

FEW_YEARS = 3  # fewer say nothing of how much years differ
# Year-to-year variability of the energy of a small run-of-creek plant, one standard deviation as a share of
# it, where the years seen are too few to tell; for records and for logs alike. Common practice.
FEW_YEARS_SD = 0.20
_TIMES = 8  # means of several years tried for each draw


def even_points(rng: np.random.Generator, draws: int, columns: int) -> np.ndarray:
    """Numbers between 0 and 1 that fill all columns together evenly, draws × columns, in random order.

    Multiples of irrational numbers, shifted at random: powers of the root of x^(d+1) = x + 1, for d
    columns [1]_. Each column is then made to have one number in each of as many equal slices as
    there are draws [2]_.

    .. [1] H. Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods, SIAM, 1992, section
       3.1: sequences of multiples; R. Cranley and T. N. L. Patterson, SIAM J. Numer. Anal. 13(6),
       1976: the shift.
    .. [2] M. D. McKay, R. J. Beckman and W. J. Conover, Technometrics 21(2), 1979: Latin hypercube sampling.
    """
    root = 2.0
    for _ in range(60):
        root = (1 + root) ** (1 / (columns + 1))
    points = (
        rng.permutation(draws)[:, None] * root ** -np.arange(1.0, columns + 1) + rng.random(columns)
    ) % 1
    ranks = np.argsort(np.argsort(points, axis=0), axis=0)
    return (ranks + rng.random((draws, columns))) / draws


def years_sd(yearly_kwh: np.ndarray) -> float:
    """Standard deviation of the energy of single years; a usual share of it where they are too few
    to tell."""
    if len(yearly_kwh) < FEW_YEARS:
        return FEW_YEARS_SD * float(np.mean(yearly_kwh))
    return float(np.std(yearly_kwh, ddof=1))


@dataclass(frozen=True, eq=False)
class Outlook:
    """Energy of years to come, for every draw of what is not known of creek and plant.

    Parameters
    ----------
    made : ndarray, draws × years × 12
        Energy of each year of the record in kWh, in the world of each draw.
    useful : ndarray or None
        What the demand takes of it.
    most : ndarray, draws × 12
        Energy of a month at full power: no year brings more.
    shares : ndarray, draws × 2
        Between 0 and 1, for the mean and for the spread of the years.
    yearly_kwh : ndarray
        Energy of the years with nothing uncertain, from which it is told how they differ.
    seed : int
    """

    made: np.ndarray
    useful: np.ndarray | None
    most: np.ndarray
    _: KW_ONLY
    shares: np.ndarray
    yearly_kwh: np.ndarray
    seed: int
    alike: float = 0.0

    @cached_property
    def spells(self) -> SpreadOfYears:
        """What the years are worth, alike as they are."""
        return SpreadOfYears(self.years, self.alike)

    @property
    def years(self) -> int:
        """How many years the record has."""
        return self.made.shape[1]

    @property
    def few(self) -> bool:
        """Whether they are too few to tell how much years differ."""
        return self.years < FEW_YEARS

    @cached_property
    def spread(self) -> np.ndarray:
        """Standard deviation of endless years over that of the record's, by draw."""
        if self.few:
            return np.ones(len(self.made))
        freedom = self.spells.freedom
        chi_squared = np.maximum(chdtri(freedom, self.shares[:, 1]), 1e-12)
        return np.asarray(np.sqrt(freedom / chi_squared / self.spells.shortfall))

    @cached_property
    def single_kwh(self) -> np.ndarray:
        """One year to come: every draw with every year, by month."""
        return self._within(self._single(self.made))

    @cached_property
    def useful_single_kwh(self) -> np.ndarray | None:
        """What the demand takes of :attr:`single_kwh`."""
        return (
            None
            if self.useful is None
            else np.clip(self._single(self.useful), 0.0, self.single_kwh)
        )

    @cached_property
    def mean_kwh(self) -> np.ndarray:
        """Mean of endless years: every draw, by month."""
        return self._within(self._mean(self.made))

    @cached_property
    def useful_mean_kwh(self) -> np.ndarray | None:
        """What the demand takes of :attr:`mean_kwh`."""
        return None if self.useful is None else np.clip(self._mean(self.useful), 0.0, self.mean_kwh)

    def several_kwh(self, years: int) -> np.ndarray:
        """Mean of some years to come, several times for each draw, by month."""
        return self._within(self._several(self.made, years))

    def useful_several_kwh(self, years: int) -> np.ndarray | None:
        """What the demand takes of :meth:`several_kwh`."""
        return (
            None
            if self.useful is None
            else np.clip(self._several(self.useful, years), 0.0, self.several_kwh(years))
        )

    def kwh(self, of: str, useful: bool, years: int) -> np.ndarray | None:
        """Outcomes by month: of a ``single`` year, the mean of ``several`` years, or the ``mean``
        of endless ones."""
        if of == "several":
            return self.useful_several_kwh(years) if useful else self.several_kwh(years)
        return getattr(self, ("useful_" if useful else "") + f"{of}_kwh")

    # --- the same draws for what is made and what is useful ----------------------------------

    def _within(self, kwh: np.ndarray) -> np.ndarray:
        times = len(kwh) // len(self.most)
        kwh = kwh.reshape(len(self.most), times, 12)
        return np.clip(kwh, 0.0, self.most[:, None], out=kwh).reshape(-1, 12)

    def _mean(self, table: np.ndarray) -> np.ndarray:
        middle, score = table.mean(axis=1), ndtri(self.shares[:, 0])
        if self.few:
            return middle * (1 + FEW_YEARS_SD * score / np.sqrt(self.spells.worth))[:, None]
        # a number for each year, of which the part along the years' own differences is drawn evenly
        each = self._random(0).standard_normal(table.shape[:2])
        apart = self.yearly_kwh - self.yearly_kwh.mean()
        length = np.linalg.norm(apart)
        if length > 0:
            each += (score - each @ apart / length)[:, None] * apart / length
        moved = np.einsum("dy,dym->dm", each, table) - each.sum(axis=1)[:, None] * middle
        wide = self.spread * np.sqrt(self.spells.factor / (self.years * (self.years - 1)))
        return middle + wide[:, None] * moved

    def _single(self, table: np.ndarray) -> np.ndarray:
        mean = self._mean(table)[:, None]
        if self.few:
            score = ndtri(even_points(self._random(1), table.shape[0], self.years))
            return (mean + FEW_YEARS_SD * score[:, :, None] * table.mean(axis=1)[:, None]).reshape(
                -1, 12
            )
        kwh = table - table.mean(axis=1)[:, None]
        kwh *= self._stretch[:, None, None]
        kwh += mean
        return kwh.reshape(-1, 12)

    def _several(self, table: np.ndarray, years: int) -> np.ndarray:
        mean, middle, rng = self._mean(table)[:, None], table.mean(axis=1)[:, None], self._random(2)
        draws, row = len(table), np.sqrt(self.spells.factor_of(years))
        if self.few:
            score = ndtri(even_points(rng, draws, _TIMES)) * row / np.sqrt(years)
            return (mean + FEW_YEARS_SD * score[:, :, None] * middle).reshape(-1, 12)
        share = rng.multinomial(years, np.full(self.years, 1 / self.years), (draws, _TIMES)) / years
        wide = row * self._stretch[:, None, None]
        return (mean + wide * (share @ table - middle)).reshape(-1, 12)

    def _random(self, number: int) -> np.random.Generator:
        # a stream of its own, which owes nothing to the one the draws themselves came from
        return np.random.default_rng((self.seed, 20_261_128, number))

    @property
    def _stretch(self) -> np.ndarray:
        # deviations from their own mean fall short of the standard deviation by this
        return self.spread * np.sqrt(self.years / (self.years - 1))
