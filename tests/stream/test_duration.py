"""Flow duration curves and their bands."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.stats.mstats import mquantiles

from hydrokit.errors import HydrokitError, UnitsError
from hydrokit.stream.duration import TABLE, flow_duration
from hydrokit.stream.record import read_record
from hydrokit.stream.resampling import resampled_quantiles
from hydrokit.stream.spread_of_years import CURVE, MONTH
from hydrokit.units import Q_

DATA = Path(__file__).parents[1] / "data"


def creek(years=6, seed=0, start="2010-10-01"):
    """A made-up record with seasons, years that differ, and a recession-like memory."""
    rng = np.random.default_rng(seed)
    index = pd.date_range(start, periods=int(365.25 * years))
    season = 1 + 0.7 * np.cos(2 * np.pi * (index.day_of_year.to_numpy() - 100) / 365.25)
    wet = rng.lognormal(0, 0.3, years + 2)[index.year.to_numpy() - index.year[0]]
    return pd.Series(
        0.02 * season * wet * rng.lognormal(0, 0.5, len(index)), index=index, name="flow_m3s"
    )


CREEK = creek()


@pytest.fixture(scope="module")
def black_earth():
    return read_record(DATA / "black_earth_creek_usgs05406500.csv")


def test_curve_is_the_weibull_quantile(black_earth):
    """Independent: numpy's quantiles of type 6, and scipy's with both parameters zero."""
    curve = flow_duration(black_earth)
    np.testing.assert_allclose(
        curve.flow_at_si(TABLE), np.quantile(black_earth, 1 - TABLE, method="weibull"), rtol=1e-12
    )
    np.testing.assert_allclose(
        curve.flow_at_si(TABLE), mquantiles(black_earth, 1 - TABLE, 0, 0), rtol=1e-12
    )


def test_there_and_back():
    curve = flow_duration(CREEK)
    np.testing.assert_allclose(curve.exceedance_si(curve.flow_at_si(TABLE)), TABLE, atol=1e-12)


def test_days_with_equal_flow_are_all_reached():
    flat = pd.Series(
        [1.0, 1, 1, 2, 2, 3, 3, 3, 3], index=pd.date_range("2020-01-01", periods=9), name="flow_m3s"
    )
    assert flow_duration(flat).exceedance_of(Q_([1, 2, 3], "m^3/s")) == pytest.approx(
        [0.9, 0.6, 0.4]
    )


@settings(derandomize=True, max_examples=50, deadline=None)
@given(
    st.lists(st.floats(0, 100), min_size=2, max_size=60),
    st.lists(st.floats(0, 1), min_size=2, max_size=8),
)
def test_curves_never_rise_with_exceedance(flows, exceedance):
    curve = flow_duration(
        pd.Series(flows, index=pd.date_range("2020-01-01", periods=len(flows)), name="flow_m3s")
    )
    values = curve.flow_at_si(np.sort(exceedance))
    assert np.all(np.diff(values) <= 0)
    assert values.min() >= min(flows) and values.max() <= max(flows)
    at = curve.exceedance_si(np.sort(flows))
    assert np.all(np.diff(at) <= 0) and at.min() > 0 and at.max() < 1


def test_quantities_and_refusals():
    curve = flow_duration(CREEK)
    assert curve.flow_at("95 %").m_as("m^3/s") == pytest.approx(curve.flow_at(0.95).m_as("m^3/s"))
    assert curve.exceedance_of("300 gpm") == pytest.approx(
        curve.exceedance_of(Q_("300 gpm").to("L/s"))
    )
    with pytest.raises(UnitsError, match="between 0 and 1"):
        curve.flow_at(95)
    with pytest.raises(HydrokitError, match='write 0.95 or "95 %"'):
        curve.flow_at_si(95)
    with pytest.raises(UnitsError, match="flow has no unit"):
        curve.exceedance_of(0.02)
    with pytest.raises(HydrokitError, match="share such as 0.08"):
        flow_duration(CREEK, rating_uncertainty=8)
    with pytest.raises(HydrokitError, match="level"):
        curve.band("50 %", level=90)


def test_gaps_are_left_out():
    holed = CREEK.copy()
    holed.iloc[100:200] = np.nan
    np.testing.assert_allclose(
        flow_duration(holed).flow_at_si(TABLE),
        np.quantile(holed.dropna(), 1 - TABLE, method="weibull"),
        rtol=1e-12,
    )


def drawn(curve, exceedance):
    """The resamples as they are drawn, before they are set as wide as so few years leave open."""
    return resampled_quantiles(curve.flow_m3s, curve.year, curve.draws, 1 - exceedance)


def brute_force(curve, exceedance):
    """Each resample written out and handed to numpy."""
    parts = [curve.flow_m3s[curve.year == year] for year in range(len(curve.years))]
    return np.array(
        [
            np.quantile(
                np.concatenate([part for part, times in zip(parts, draw) for _ in range(times)]),
                1 - exceedance,
                method="weibull",
            )
            for draw in curve.draws
        ]
    )


@pytest.mark.parametrize("years", [1, 3, 6])
def test_resamples_are_those_written_out(years):
    """Independent: numpy on every resample written out; equal to rounding, ends of the curve included."""
    curve = flow_duration(creek(years), resamples=60)
    exceedance = np.r_[0.0, 1e-4, TABLE, 0.9999, 1.0]
    np.testing.assert_allclose(drawn(curve, exceedance), brute_force(curve, exceedance), rtol=1e-12)


def test_resamples_with_ties_and_years_of_all_lengths(black_earth):
    curve = flow_duration(black_earth["1990-02":"1999-12"], resamples=40)
    np.testing.assert_allclose(drawn(curve, TABLE), brute_force(curve, TABLE), rtol=1e-12)
    january = curve.month_of_year(1)
    np.testing.assert_allclose(drawn(january, TABLE), brute_force(january, TABLE), rtol=1e-12)


def test_one_draw_of_every_year_is_the_curve_itself():
    curve = flow_duration(CREEK)
    once = np.ones((1, len(curve.years)), dtype=int)
    np.testing.assert_allclose(
        resampled_quantiles(curve.flow_m3s, curve.year, once, 1 - TABLE)[0],
        curve.flow_at_si(TABLE),
        rtol=1e-12,
    )


def test_draws_are_whole_years_and_repeatable():
    curve, again = flow_duration(CREEK, resamples=500), flow_duration(CREEK, resamples=500)
    assert np.all(curve.draws.sum(axis=1) == len(curve.years))
    np.testing.assert_array_equal(curve.draws, again.draws)
    assert np.any(curve.draws != flow_duration(CREEK, resamples=500, seed=1).draws)


def test_band_holds_the_curve_and_widens_with_level_and_uncertainty():
    curve = flow_duration(CREEK)
    low, high = curve.band_si(TABLE, 0.9)
    assert np.all(low <= curve.flow_at_si(TABLE)) and np.all(curve.flow_at_si(TABLE) <= high)
    wider_low, wider_high = curve.band_si(TABLE, 0.98)
    assert np.all(wider_low <= low) and np.all(high <= wider_high)
    doubtful = flow_duration(CREEK, rating_uncertainty=0.15).band_si(TABLE, 0.9)
    assert np.all(doubtful[1] - doubtful[0] > high - low)


def test_rating_uncertainty_alone_is_log_normal():
    """Analytic: beside the years the rating is uncertain; that widens the spread of ln Q as log-normal of median one."""
    year = creek(1)
    spreads = [
        np.log(
            flow_duration(year, rating_uncertainty=uncertainty, resamples=40000).resampled_si(0.5)
        ).std()
        for uncertainty in (0.0, 0.4)
    ]
    assert np.sqrt(spreads[1] ** 2 - spreads[0] ** 2) == pytest.approx(
        np.sqrt(np.log(1.16)), rel=0.02
    )


def test_equal_years_leave_what_other_creeks_show():
    """Analytic: years that are alike leave nothing to resample, and four others' years count beside them."""
    year = np.random.default_rng(0).gamma(2, 0.01, 365)
    same = pd.Series(
        np.tile(year, 3), index=pd.date_range("2017-01-01", periods=1095), name="flow_m3s"
    )
    curve = flow_duration(same, start_month=1, resamples=40000)
    for found, usual in ((curve, CURVE.sd), (curve.month_of_year(5), MONTH.sd)):
        low, high = found.band_si(0.5)
        freedom = 4 + found.spread.freedom
        scale = usual * np.sqrt(4 / freedom * found.spread.factor / 3)
        assert np.log(high / low) == pytest.approx(2 * stats.t.ppf(0.95, freedom) * scale, rel=0.03)


def test_months():
    months = flow_duration(CREEK).monthly()
    assert list(months) == list(range(1, 13))
    january = CREEK[CREEK.index.month == 1]
    np.testing.assert_allclose(
        months[1].flow_at_si(TABLE), np.quantile(january, 1 - TABLE, method="weibull"), rtol=1e-12
    )
    assert sum(month.days for month in months.values()) == len(CREEK)
    with pytest.raises(HydrokitError, match="month 7"):
        flow_duration(CREEK[:60]).month_of_year(7)


def test_years_wet_and_dry():
    curve = flow_duration(CREEK)
    by_hand = []
    for label in range(2011, 2016):
        whole = CREEK[f"{label - 1}-10-01" : f"{label}-09-30"]
        by_hand.append(np.quantile(whole, 1 - TABLE, method="weibull"))
    assert curve.whole.sum() == 5
    np.testing.assert_allclose(curve.year_curves_si(TABLE), by_hand, rtol=1e-12)
    np.testing.assert_allclose(
        curve.median_year(TABLE).m_as("m^3/s"), np.median(by_hand, axis=0), rtol=1e-12
    )
    assert np.all(curve.dry_year(TABLE) <= curve.median_year(TABLE)) and np.all(
        curve.median_year(TABLE) <= curve.wet_year(TABLE)
    )


def test_table():
    table = flow_duration(CREEK).table()
    assert table.index.tolist() == [each / 100 for each in [*range(5, 100, 5), 99]]
    assert (table["low_m3s"] <= table["flow_m3s"]).all() and (
        table["flow_m3s"] <= table["high_m3s"]
    ).all()


def test_only_whole_years():
    curve = flow_duration(creek(3)[:-10], only_whole_years=True)
    assert curve.years.tolist() == [2011, 2012] and curve.days == 365 + 366
    with pytest.raises(HydrokitError, match="no whole year"):
        flow_duration(CREEK[:100], only_whole_years=True)


def test_findings_of_thin_records():
    told = " | ".join(
        f"{finding.level}: {finding.message}" for finding in flow_duration(CREEK[:500]).findings
    )
    assert (
        "problem: a band from 2 years" in told
        and "calendar months are covered for 1.0 to 2.0 years" in told
    )
    assert not any("band" in finding.message for finding in flow_duration(CREEK).findings)
