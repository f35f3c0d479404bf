"""Flood quantiles, limits, risk, the season of floods; the distributions behind them."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lmoments3 import distr, lmom_ratios
from scipy import stats

from hydrokit.errors import HydrokitError
from hydrokit.stream.floods import (
    annual_maxima,
    flood,
    flood_of_peaks,
    freshet,
    return_period_for,
    risk,
)
from hydrokit.stream.frequency import (
    fit_gev,
    gev_quantile,
    l_moments,
    log_moments,
    lp3_limits,
    pearson3_factor,
    weighted_skew,
)
from hydrokit.stream.record import read_record
from hydrokit.units import Q_

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="module")
def yaak():
    return read_record(DATA / "yaak_usgs12304500.csv")


@pytest.mark.parametrize("skew", [-3.0, -0.7, -1e-3, -1e-4, 0.0, 2e-5, 1e-3, 0.4, 2.5])
def test_pearson_factor_against_scipy(skew):
    """Independent: scipy.stats.pearson3, which takes a skew below about 1e-4 as none."""
    p = np.array([1e-4, 0.01, 0.1, 0.5, 0.9, 0.99, 0.9999])
    near_zero = 0 < abs(skew) < 1e-3
    np.testing.assert_allclose(
        pearson3_factor(skew, p),
        stats.pearson3.ppf(p, skew),
        rtol=1e-7,
        atol=abs(skew) * 3 if near_zero else 1e-7,
    )


def test_pearson_factor_is_smooth_through_zero_skew():
    skews = np.array([-2e-5, -1.01e-5, -0.99e-5, 0, 0.99e-5, 1.01e-5, 2e-5])
    factors = pearson3_factor(skews, 0.99)
    slope = (stats.norm.ppf(0.99) ** 2 - 1) / 6
    np.testing.assert_allclose(factors, stats.norm.ppf(0.99) + slope * skews, atol=2e-8)


@settings(derandomize=True, max_examples=50, deadline=None)
@given(st.floats(-3, 3), st.floats(0.001, 0.998), st.floats(1e-4, 1e-3))
def test_pearson_factor_rises_with_probability_and_mirrors(skew, p, more):
    assert pearson3_factor(skew, p) <= pearson3_factor(skew, p + more)
    assert pearson3_factor(skew, p) == pytest.approx(-pearson3_factor(-skew, 1 - p), abs=1e-8)


@pytest.mark.parametrize("seed", range(4))
def test_l_moments_and_gev_against_lmoments3(seed):
    """Independent: lmoments3 1.0.8, whose shape is good to 1e-6."""
    sample = np.random.default_rng(seed).gumbel(10, 3, 40) ** (1 + 0.2 * seed)
    sample = sample[~np.isnan(sample)]
    first, second, third = l_moments(sample)
    expected = lmom_ratios(sample, nmom=3)
    np.testing.assert_allclose([first, second, third], expected, rtol=1e-9)
    location, scale, shape = fit_gev(sample)
    theirs = distr.gev.lmom_fit(sample)
    np.testing.assert_allclose(
        [location, scale, shape],
        [theirs["loc"], theirs["scale"], theirs["c"]],
        rtol=1e-5,
        atol=1e-6,
    )
    np.testing.assert_allclose(
        gev_quantile(location, scale, shape, [0.5, 0.99]),
        distr.gev(**theirs).ppf([0.5, 0.99]),
        rtol=1e-6,
    )


def test_gev_fits_many_samples_at_once():
    samples = np.random.default_rng(0).gumbel(10, 3, (5, 30))
    together = np.array(fit_gev(samples))
    np.testing.assert_allclose(together.T, [fit_gev(sample) for sample in samples], rtol=1e-12)


def test_gumbel_is_the_gev_of_no_shape():
    assert gev_quantile(1.0, 2.0, 0.0, 0.9) == pytest.approx(
        stats.gumbel_r.ppf(0.9, 1, 2), rel=1e-12
    )
    assert gev_quantile(1.0, 2.0, 1e-9, 0.9) == pytest.approx(
        stats.gumbel_r.ppf(0.9, 1, 2), rel=1e-7
    )


def test_limits_cover_as_often_as_they_say():
    """By trial: of 2,000 normal samples of 30 logarithms, about nine in ten limits hold the true value."""
    rng = np.random.default_rng(0)
    true, factor = stats.norm.ppf(0.98), pearson3_factor(0.0, 0.98)
    samples = rng.standard_normal((2000, 30))
    mean, spread = samples.mean(axis=1), samples.std(axis=1, ddof=1)
    low, high = lp3_limits(factor, 30, 0.9)
    covered = ((mean + low * spread <= true) & (true <= mean + high * spread)).mean()
    assert covered == pytest.approx(0.9, abs=0.02)


def test_too_few_years_have_no_limits():
    assert lp3_limits(2.0, 2, 0.98) == (-np.inf, np.inf)


def test_weighted_skew_lies_between():
    assert 0.2 < weighted_skew(0.2, 20, 0.6) < 0.6
    assert weighted_skew(0.2, 10_000, 0.6) == pytest.approx(0.2, abs=0.01)


def test_maxima_are_the_yearly_maxima(yaak):
    """Independent: numpy on each water year."""
    expected = [
        yaak[f"{year - 1}-10-01" : f"{year}-09-30"].to_numpy().max() for year in range(2001, 2020)
    ]
    assert annual_maxima(yaak).tolist() == expected


@pytest.mark.parametrize("method", ["lp3", "gev"])
def test_flood_of_the_yaak(yaak, method):
    peaks = annual_maxima(yaak).to_numpy()
    if method == "lp3":
        logs = np.log10(peaks)
        expected = 10 ** stats.pearson3.ppf(
            0.95, stats.skew(logs, bias=False), logs.mean(), logs.std(ddof=1)
        )
    else:
        expected = distr.gev(**distr.gev.lmom_fit(peaks)).ppf(0.95)
    found = flood(yaak, 20, method)
    assert found.flow_m3s == pytest.approx(expected, rel=1e-5)
    assert found.low_m3s < found.flow_m3s < found.high_m3s
    assert found.count == 19 and "daily means" in found.findings[0].message
    assert flood(yaak, 100, method).flow_m3s > found.flow_m3s


def test_limits_of_the_extreme_value_distribution_are_repeatable(yaak):
    assert flood(yaak, 50, "gev").high_m3s == flood(yaak, 50, "gev").high_m3s


def test_an_outlier_is_told():
    peaks = Q_(np.r_[np.random.default_rng(0).lognormal(0, 0.3, 30), 30.0], "m^3/s")
    assert any(
        "30 m³/s is an outlier" in finding.message for finding in flood_of_peaks(peaks, 20).findings
    )


@pytest.mark.parametrize(
    "peaks, years, method, says",
    [
        ([1.0, 2, 3], 10, "lp3", "at least 5 whole years of peaks are needed, got 3"),
        ([1.0, 2, 3, 4, 0], 10, "lp3", 'no logarithm; take method="gev"'),
        ([2.0] * 6, 10, "gev", "all peaks are equal"),
        ([1.0, 2, 3, 4, 5], 1, "lp3", "more than 1"),
        ([1.0, 2, 3, 4, 5], 10, "normal", 'must be "lp3" or "gev"'),
    ],
)
def test_refusals(peaks, years, method, says):
    with pytest.raises(HydrokitError, match=says):
        flood_of_peaks(Q_(np.array(peaks), "m^3/s"), years, method)


def test_moments_of_equal_values_have_no_skew():
    assert log_moments([10.0, 10, 10]) == (1.0, 0.0, 0.0)


def test_risk_and_its_inverse():
    assert risk(50, 1) == pytest.approx(1 / 50)
    assert risk(return_period_for(0.2, 30), 30) == pytest.approx(0.2, rel=1e-12)
    np.testing.assert_allclose(
        risk([30, 40], [6, 10]), [1 - (29 / 30) ** 6, 1 - (39 / 40) ** 10], rtol=1e-12
    )
    with pytest.raises(HydrokitError, match="more than 1 year"):
        risk(1, 10)
    with pytest.raises(HydrokitError, match="between 0 and 1"):
        return_period_for(1.0, 10)


def test_season_of_floods(yaak):
    season = freshet(yaak)
    assert season.month == 5, "snowmelt in Montana comes in May"
    assert season.counts.sum() == 19 and season.concentration > 0.9
    holed = yaak.copy()
    holed["2004-10-01":"2005-09-30"] = np.nan
    assert freshet(holed).counts.sum() == 18
    with pytest.raises(HydrokitError, match="no whole year"):
        freshet(yaak[:200])


def test_floods_about_new_year_are_neighbours():
    """Analytic: floods on 20 December and 13 January in turn have their mean date on 1 January."""
    values = pd.Series(0.1, index=pd.date_range("2000-10-01", "2008-09-30"), name="flow_m3s")
    for year in range(2001, 2009):
        values[f"{year}-01-13" if year % 2 else f"{year - 1}-12-20"] = 1.0
    season = freshet(values)
    assert season.month == 1 and season.day_of_year < 2 and season.concentration > 0.95
    assert season.counts[0] == 4 and season.counts[11] == 4
