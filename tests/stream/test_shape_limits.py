"""Limits of rare flows with the shape of their distribution unknown."""

import numpy as np
import pytest
from scipy import stats

from hydrokit.stream import shape_limits
from hydrokit.stream.floods import flood_of_peaks
from hydrokit.stream.frequency import l_moments, log_moments
from hydrokit.stream.low_flow import low_flow_of_minima
from hydrokit.stream.shape_limits import gev_draws, pearson3_draws
from hydrokit.stream.spread_of_years import SpreadOfYears


@pytest.mark.parametrize("count", [8, 30])
@pytest.mark.parametrize("nonexceedance", [0.1, 0.98])
def test_a_known_skew_of_nought_leaves_the_limits_of_a_normal_quantile(
    monkeypatch, count, nonexceedance
):
    """analytic: the non-central t distribution."""
    shape_limits._pearson3.cache_clear()
    monkeypatch.setattr(shape_limits, "_TRIED", 40_000)
    monkeypatch.setattr(shape_limits, "_KEPT", 20_000)
    score = stats.norm.ppf(nonexceedance) * np.sqrt(count)
    expected = stats.nct.ppf([0.05, 0.95], count - 1, score) / np.sqrt(count)
    found = pearson3_draws(count, 0.0, 0.0, 1e-9).limits(nonexceedance, 0.9)
    shape_limits._pearson3.cache_clear()
    assert list(found) == pytest.approx(expected.tolist(), rel=0.03)


def test_an_unknown_skew_widens_the_limits_most_in_the_tail():
    def width(nonexceedance, *known):
        low, high = pearson3_draws(20, 0.0, *known).limits(nonexceedance, 0.9)
        return high - low

    for nonexceedance, least in ((0.5, 0.95), (0.98, 1.03), (0.99, 1.08)):
        assert width(nonexceedance) > least * width(nonexceedance, 0.0, 1e-9)


def test_limits_hold_the_truth_as_often_as_they_say():
    """By trial: 150 samples of ten years, of Pearson III distributions with skews as the world has them."""
    random, held = np.random.default_rng(11), 0
    for skew in np.sqrt(0.4) * random.standard_normal(150):
        years = stats.pearson3.rvs(skew, size=10, random_state=random)
        mean, spread, own = log_moments(10**years)
        low, high = pearson3_draws(10, own).limits(0.98, 0.9)
        held += mean + spread * low <= stats.pearson3.ppf(0.98, skew) <= mean + spread * high
    assert stats.binom.ppf(0.001, 150, 0.9) <= held <= stats.binom.ppf(0.999, 150, 0.9)


def test_limits_of_the_extreme_value_law_hold_the_truth():
    """By trial: 200 samples of twelve years of a Gumbel law, of which a fit drawn again holds three in four."""
    random, held = np.random.default_rng(12), 0
    for _ in range(200):
        mean, scale, own = l_moments(random.gumbel(size=12))
        low, high = gev_draws(12, own, True).limits(0.98, 0.9)
        held += mean + scale * low <= stats.gumbel_r.ppf(0.98) <= mean + scale * high
    assert 0.86 <= held / 200 <= 0.98


def test_dry_years_in_a_row_widen_low_flows():
    draws = pearson3_draws(12, 0.0)
    alone, alike = (
        draws.limits(0.1, 0.9, SpreadOfYears(12, correlation)) for correlation in (0.0, 0.5)
    )
    assert alike[0] < alone[0] and alone[1] < alike[1]


def test_a_regional_skew_narrows_a_flood():
    peaks = np.array([2.1, 3.4, 1.8, 5.2, 2.9, 2.2, 4.1, 3.0, 2.6, 7.5])
    alone, region = (
        flood_of_peaks.si(peaks, 100, regional_skew=skew, regional_mse=0.02) for skew in (None, 0.1)
    )
    assert region.high_m3s / region.low_m3s < alone.high_m3s / alone.low_m3s


@pytest.mark.parametrize("method", ["lp3", "gev"])
def test_limits_hold_the_estimate(method):
    minima = 0.001 * np.array([12, 15, 9, 20, 11, 14, 8, 17, 13, 10])
    found = low_flow_of_minima.si(minima, 10, method)
    assert 0.5 * found.flow_m3s < found.low_m3s <= found.flow_m3s <= found.high_m3s
    again = low_flow_of_minima.si(minima, 10, method)
    assert (again.low_m3s, again.high_m3s) == (found.low_m3s, found.high_m3s)
