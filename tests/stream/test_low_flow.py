"""Minima, low-flow quantiles, base flow, recession."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from hydrokit.errors import HydrokitError
from hydrokit.stream.low_flow import (
    annual_minima,
    base_flow,
    base_flow_index,
    low_flow,
    low_flow_of_minima,
    mean_annual_minimum,
    recession_constant,
)
from hydrokit.stream.record import read_record
from hydrokit.units import Q_

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="module")
def yaak():
    return read_record(DATA / "yaak_usgs12304500.csv")


def series(values, start="2001-04-01"):
    return pd.Series(
        np.asarray(values, dtype=float),
        index=pd.date_range(start, periods=len(values)),
        name="flow_m3s",
    )


@pytest.mark.parametrize("window", ["trailing", "centred"])
@pytest.mark.parametrize("days", [1, 7, 30])
def test_minima_by_hand(yaak, window, days):
    """Independent: every mean of every year written out with a convolution."""
    values, dates = yaak.to_numpy(), yaak.index
    means = np.convolve(values, np.ones(days) / days, "valid")
    first = days - 1 if window == "trailing" else days - 1 - (days - 1) // 2
    dated = dates[first : first + len(means)]
    expected = [
        means[(dated >= f"{year - 1}-04-01") & (dated <= f"{year}-03-31")].min()
        for year in range(2001, 2020)
    ]
    found = annual_minima(yaak, days, window=window)
    assert found.index.tolist() == list(range(2001, 2020))
    np.testing.assert_allclose(found, expected, rtol=1e-10)


def test_part_years_are_taken_only_when_asked(yaak):
    assert annual_minima(yaak, 7, part_years=True).index.tolist() == list(range(2000, 2021))
    with pytest.raises(HydrokitError, match="no whole year; pass part_years=True"):
        mean_annual_minimum(yaak[:100])


def test_means_within_the_year_do_not_look_back():
    values = np.r_[np.ones(365), np.full(365, 5.0)]
    across, within = (annual_minima(series(values), 7, within_years=each) for each in (False, True))
    assert across[2003] == pytest.approx((6 * 1 + 5) / 7)
    assert within[2003] == pytest.approx(5)


def test_a_gap_makes_no_minimum():
    values = np.full(365, 2.0)
    values[100] = np.nan
    assert annual_minima(series(values), 7).empty
    assert annual_minima(series(values), 7, part_years=True)[2002] == 2.0


@pytest.mark.parametrize("years", [2, 10, 50])
def test_lp3_against_scipy(yaak, years):
    """Independent: scipy.stats.pearson3 with bias-corrected skew."""
    minima = np.log10(annual_minima(yaak, 7))
    expected = 10 ** stats.pearson3.ppf(
        1 / years, stats.skew(minima, bias=False), minima.mean(), minima.std(ddof=1)
    )
    assert low_flow(yaak, 7, years).flow_m3s == pytest.approx(expected, rel=1e-9)


def test_limits_hold_the_estimate_and_widen(yaak):
    ten, fifty = low_flow(yaak, 7, 10), low_flow(yaak, 7, 50)
    assert ten.low_m3s < ten.flow_m3s < ten.high_m3s
    assert fifty.high_m3s / fifty.low_m3s > ten.high_m3s / ten.low_m3s
    assert ten.flow.m_as("L/s") == pytest.approx(1000 * ten.flow_m3s)
    assert any("beyond twice" in finding.message for finding in fifty.findings)


def test_dry_years_have_a_chance_of_their_own():
    """Analytic: two dry years in twenty make one in ten dry; rarer than that is dry, commoner is not."""
    minima = Q_(np.r_[0, 0, np.linspace(5, 15, 18)], "L/s")
    assert low_flow_of_minima(minima, 10).flow_m3s == 0
    assert low_flow_of_minima(minima, 20).flow_m3s == 0
    found = low_flow_of_minima(minima, 5)
    logs = np.log10(np.linspace(5, 15, 18))
    expected = 10 ** stats.pearson3.ppf(
        (0.2 - 0.1) / 0.9, stats.skew(logs, bias=False), logs.mean(), logs.std(ddof=1)
    )
    assert found.flow.m_as("L/s") == pytest.approx(expected, rel=1e-9)
    assert "ran dry in 2 of 20 years" in found.findings[0].message


@pytest.mark.parametrize(
    "call, says",
    [
        (
            lambda: low_flow_of_minima(Q_([1.0, 2, 3], "L/s")),
            "at least 5 whole years of minima are needed, got 3",
        ),
        (
            lambda: low_flow_of_minima(Q_(np.arange(1.0, 9), "L/s"), 10, "weibull"),
            "plotting positions of 8 years reach 9 years",
        ),
        (lambda: low_flow_of_minima(Q_(np.arange(1.0, 9), "L/s"), 1), "more than 1"),
        (
            lambda: low_flow_of_minima(Q_(np.arange(1.0, 9), "L/s"), 2, "gumbel"),
            'must be "lp3", "gev" or "weibull"',
        ),
        (lambda: annual_minima(series(np.ones(400)), 0), "whole number of days"),
        (lambda: annual_minima(series(np.ones(400)), 7, window="left"), '"trailing" or "centred"'),
    ],
)
def test_refusals(call, says):
    with pytest.raises(HydrokitError, match=says):
        call()


# --- base flow


def lyne_hollick_loop(flow, parameter=0.925, passes=3, reflected=30):
    """The filter day by day, as Ladson et al. (2013) describe it."""
    padded = np.r_[flow[reflected:0:-1], flow, flow[-2 : -reflected - 2 : -1]]
    base = padded.copy()
    for number in range(passes):
        days = range(len(base)) if number % 2 == 0 else range(len(base) - 1, -1, -1)
        quick, before, result = None, None, base.copy()
        for day in days:
            quick = (
                base[day]
                if quick is None
                else parameter * quick + (1 + parameter) / 2 * (base[day] - before)
            )
            before = base[day]
            if quick > 0:
                result[day] = max(base[day] - quick, 0.0)
        base = result
    return base[reflected : reflected + len(flow)]


def test_filter_is_the_recursion_written_out(yaak):
    part = yaak[:800]
    np.testing.assert_allclose(
        base_flow(part), lyne_hollick_loop(part.to_numpy()), rtol=1e-9, atol=1e-12
    )


def blocks_loop(flow, block=5):
    """Turning points of five-day minima, day by day, as WMO-No. 1029 describes it."""
    starts = range(0, len(flow) // block * block, block)
    points = [
        (start + int(np.argmin(flow[start : start + block])), flow[start : start + block].min())
        for start in starts
    ]
    turns = [
        points[i]
        for i in range(1, len(points) - 1)
        if 0.9 * points[i][1] < points[i - 1][1] and 0.9 * points[i][1] < points[i + 1][1]
    ]
    base = {}
    for (day, low), (next_day, next_low) in zip(turns, turns[1:]):
        for each in range(day, next_day + 1):
            base[each] = min(flow[each], low + (next_low - low) * (each - day) / (next_day - day))
    return base


def test_blocks_are_the_turning_points_written_out(yaak):
    part = yaak[:800]
    expected, found = blocks_loop(part.to_numpy()), base_flow(part, "blocks").to_numpy()
    assert np.flatnonzero(~np.isnan(found)).tolist() == sorted(expected)
    np.testing.assert_allclose(
        found[sorted(expected)], [expected[day] for day in sorted(expected)], rtol=1e-12
    )


@pytest.mark.parametrize("method", ["lyne-hollick", "blocks"])
def test_base_flow_is_part_of_the_flow(yaak, method):
    base = base_flow(yaak, method)
    assert (base.dropna() >= 0).all() and (base <= yaak + 1e-12)[base.notna()].all()
    assert 0 < base_flow_index(yaak, method) < 1


def test_a_spring_is_all_base_flow():
    """Analytic: a constant flow has no quick part; the filter's start has faded after 200 days (0.925^230 = 2e-8)."""
    spring = series(np.full(600, 0.02))
    assert base_flow_index(spring, "blocks") == pytest.approx(1, abs=1e-12)
    np.testing.assert_allclose(base_flow(spring)[200:-200], 0.02, rtol=1e-6)


def test_groundwater_creek_against_snowmelt_river(yaak):
    """Black Earth Creek is fed by groundwater: both methods put it far above the flashier Yaak."""
    black_earth = read_record(DATA / "black_earth_creek_usgs05406500.csv")
    for method in ("lyne-hollick", "blocks"):
        assert base_flow_index(black_earth, method) > 0.8 > base_flow_index(yaak, method)


def test_base_flow_starts_anew_after_a_gap(yaak):
    holed = yaak[:900].copy()
    holed.iloc[400] = np.nan
    base = base_flow(holed)
    assert np.isnan(base.iloc[400]) and base.notna().sum() == 899
    np.testing.assert_allclose(base[:400], base_flow(yaak[:400]), rtol=1e-12)


def test_base_flow_refusals():
    with pytest.raises(HydrokitError, match='"lyne-hollick" or "blocks"'):
        base_flow(series(np.ones(40)), "eckhardt")
    with pytest.raises(HydrokitError, match="between 0 and 1"):
        base_flow(series(np.ones(40)), parameter=1.2)
    with pytest.raises(HydrokitError, match="too short"):
        base_flow_index(series(np.ones(10)), "blocks")


# --- recession


def test_recession_of_a_known_constant():
    """Analytic: saw teeth of exponential decay give back their own constant."""
    values = np.tile(0.1 * 0.93 ** np.arange(30), 15)
    found = recession_constant(series(values))
    assert found.constant == pytest.approx(0.93, rel=1e-12)
    assert found.days == pytest.approx(-1 / np.log(0.93), rel=1e-12)
    assert found.count == 15 and found.findings == ()


def test_recession_needs_dry_spells():
    with pytest.raises(HydrokitError, match="no spell of 10 days"):
        recession_constant(series(np.tile([1.0, 0.9, 0.8], 30)))
    assert (
        "only 3 recessions"
        in recession_constant(series(np.tile(0.1 * 0.93 ** np.arange(30), 3))).findings[0].message
    )
