"""How far few years, alike by spells, may lie from the long run."""

import numpy as np
import pytest
from scipy import signal, stats

from hydrokit.stream.spread_of_years import CURVE, SpreadOfYears, lag_one

CORRELATION = CURVE.correlation


def years(count, correlation, worlds, seed=0):
    """Standard normal years, each so much like the one before; worlds by years."""
    random = np.random.default_rng(seed)
    steps = np.sqrt(1 - correlation**2) * random.standard_normal((worlds, count + 60))
    return signal.lfilter([1.0], [1.0, -correlation], steps, axis=1)[:, 60:]


def spells(count, hurst, worlds, seed=0):
    """Standard normal years in spells of every length: differences of a walk whose variance grows as a power of the years."""
    place = np.arange(count + 1.0)
    walk = (
        place[:, None] ** (2 * hurst)
        + place ** (2 * hurst)
        - np.abs(place[:, None] - place) ** (2 * hurst)
    ) / 2
    root = np.linalg.cholesky(walk[1:, 1:])
    drawn = np.random.default_rng(seed).standard_normal((worlds, count)) @ root.T
    return np.diff(drawn, axis=1, prepend=0.0)


@pytest.mark.parametrize(
    ("hurst", "years", "expected"), [(0.5, 10, 0.3162), (0.7, 10, 0.5012), (0.7, 100, 0.2512), (0.8, 16, 0.5743)]
)  # fmt: skip
def test_mean_of_years_in_spells(hurst, years, expected):
    """analytic: a mean of n years spreads as n^(H - 1) (Koutsoyiannis 2003)."""
    spread = SpreadOfYears(years, 2 ** (2 * hurst - 1) - 1)
    assert spread.hurst == pytest.approx(hurst)
    assert np.sqrt(1 / spread.worth) == pytest.approx(expected, abs=1e-4)


def test_spells_are_alike_by_their_correlation():
    """Independent: the sum of the correlations, as Bayley and Hammersley (1946) have the variance of a mean."""
    spread, apart = SpreadOfYears(12, 0.3), np.arange(1, 12)
    power = 2 * spread.hurst
    alike = ((apart + 1) ** power - 2 * apart**power + (apart - 1) ** power) / 2
    assert alike[0] == pytest.approx(0.3)
    assert spread.factor == pytest.approx(1 + 2 * np.sum((1 - apart / 12) * alike))


def test_variance_of_years_in_spells():
    """Independent: 40,000 simulated series, their own variance and how it varies."""
    spread = SpreadOfYears(12, 2 ** (2 * 0.75 - 1) - 1)
    variance = spells(12, 0.75, 40_000).var(axis=1, ddof=1)
    assert spread.shortfall == pytest.approx(variance.mean(), rel=0.01)
    assert spread.freedom == pytest.approx(2 * variance.mean() ** 2 / variance.var(), rel=0.04)
    assert SpreadOfYears(12).freedom == pytest.approx(11)


@pytest.mark.parametrize("count", [3, 6, 20])
def test_years_that_stand_alone_leave_the_interval_of_a_mean(count):
    """analytic: Student's t interval of the mean of so many normal years."""
    deviation = 0.3 * np.sqrt((count - 1) / count**2)
    resampled = 1 + deviation * np.random.default_rng(1).standard_normal((200_000, 1))
    wide = SpreadOfYears(count).widened(resampled, np.array([1.0]), 2)
    low, high = np.quantile(wide, [0.05, 0.95])
    expected = stats.t.interval(0.9, count - 1, 1.0, 0.3 / np.sqrt(count))
    assert (low, high) == pytest.approx(expected, rel=0.03)


def test_what_other_creeks_show_counts_as_its_years():
    """analytic: the scale of the posterior t of a normal mean under a conjugate prior of the variance."""
    spread = SpreadOfYears(5, 0.0, usual_sd=0.25, usual_freedom=4.0)
    resampled = 0.5 * np.sqrt(4) / 5 * np.random.default_rng(1).standard_normal((200_000, 1))
    wide = spread.widened(resampled, np.array([0.0]), 2)
    scale = np.sqrt((4 * 0.25**2 + 4 * 0.5**2) / 8 / 5)
    assert np.quantile(wide, 0.95) == pytest.approx(stats.t.ppf(0.95, 8, scale=scale), rel=0.02)


def test_one_year_is_as_unsure_as_other_creeks_differ():
    spread = SpreadOfYears(1, CORRELATION, usual_sd=0.25, usual_freedom=4.0)
    wide = spread.widened(np.zeros((100_000, 1)), np.zeros(1), 0)
    assert np.quantile(wide, 0.95) == pytest.approx(0.25 * stats.t.ppf(0.95, 4), rel=0.03)


def test_correlation_of_a_long_record_is_its_own_and_of_a_short_one_the_usual():
    assert lag_one(years(4000, 0.6, 1)[0]) == pytest.approx(0.6, abs=0.05)
    assert lag_one(np.array([1.0, 2.0])) == CORRELATION
    assert lag_one(np.full(30, 2.0)) == CORRELATION
    assert lag_one(years(4000, 0.0, 1)[0]) < 0.05


def test_correlation_of_short_records_is_right_on_average_where_it_is_the_usual():
    """Independent: 3,000 simulated records of fifteen years, the bias of their own correlation mended."""
    found = [lag_one(each) for each in years(15, CORRELATION, 3000)]
    assert np.mean(found) == pytest.approx(CORRELATION, abs=0.03)


def test_a_year_is_not_held_against_one_that_is_not_next():
    alternating = np.tile([0.0, 1.0], 10)
    in_a_row, apart = np.arange(20), np.arange(0, 40, 2)
    assert lag_one(alternating, in_a_row) == 0.0
    assert lag_one(alternating, apart) == CORRELATION
