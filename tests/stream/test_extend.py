"""A short record made longer from a neighbour."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.stream.extend import area_ratio, extend_record, move1, move1_line


def pair(years=12, noise=0.25, slope=1.2, intercept=-3.0, seed=0):
    """Two creeks whose logarithms follow a line, with noise; the first is cut to four years."""
    rng = np.random.default_rng(seed)
    index = pd.date_range("2000-10-01", periods=int(365.25 * years))
    season = np.cos(2 * np.pi * (index.day_of_year.to_numpy() - 120) / 365.25)
    storms = np.convolve(rng.gamma(0.3, 1.0, len(index)), 0.8 ** np.arange(30))[: len(index)]
    there = 0.5 * season + 0.6 * np.log1p(storms)
    here = intercept + slope * there + noise * rng.standard_normal(len(index))
    whole, long = (pd.Series(np.exp(logs), index=index, name="flow_m3s") for logs in (here, there))
    return whole, whole["2005-10-01":"2009-09-30"], long


WHOLE, SHORT, LONG = pair()


@settings(derandomize=True, max_examples=100, deadline=None)
@given(st.integers(3, 60), st.integers(0, 2**31))
def test_move1_keeps_mean_and_variance_of_the_logarithms(count, seed):
    """The property it is named for: over the fitted days the estimates have the mean and variance of the measurements."""
    rng = np.random.default_rng(seed)
    there, here = rng.normal(2, 0.7, count), rng.normal(-1, 0.4, count)
    slope, intercept, correlation = move1(there, here)
    estimated = intercept + slope * there
    assert estimated.mean() == pytest.approx(here.mean(), abs=1e-9)
    assert estimated.std(ddof=1) == pytest.approx(here.std(ddof=1), rel=1e-9)
    assert np.sign(slope) == np.sign(correlation)


def test_move1_of_points_on_a_line_is_the_line():
    there = np.linspace(-1, 2, 9)
    assert move1(there, 0.3 - 1.5 * there) == pytest.approx((-1.5, 0.3, -1.0))
    assert move1_line(1.0, 0.2, 3.0, 0.4) == pytest.approx((0.5, -0.5))


@pytest.mark.parametrize(
    "there, here, says",
    [([1.0, 2], [1.0, 2], "three or more"), ([1.0, 1, 1], [1.0, 2, 3], "never varies")],
)
def test_move1_refusals(there, here, says):
    with pytest.raises(HydrokitError, match=says):
        move1(there, here)


def test_a_perfect_neighbour_gives_the_record_back():
    """Analytic: without noise every method that sees the overlap is exact, but for the far ends of a curve transfer."""
    whole, short, long = pair(noise=0.0)
    found = extend_record(short, long)
    np.testing.assert_allclose(found.record, whole, rtol=1e-9)
    assert (found.slope, found.intercept, found.correlation) == pytest.approx((1.2, -3.0, 1.0))
    assert found.skill.efficiency == pytest.approx(1) and found.skill.factor == pytest.approx(1)
    by_curve = extend_record(short, long, "duration")
    within = (long >= long[short.index].min()) & (long <= long[short.index].max())
    np.testing.assert_allclose(by_curve.record[within], whole[within], rtol=1e-3)


def test_measured_days_are_kept_and_estimates_marked():
    found = extend_record(SHORT, LONG)
    pd.testing.assert_series_equal(found.record[SHORT.index], SHORT, check_freq=False)
    assert (
        found.estimated.sum() == len(LONG) - len(SHORT) and not found.estimated[SHORT.index].any()
    )
    assert found.record.name == "flow_m3s" and found.record.index[0] == LONG.index[0]
    assert found.overlap_days == len(SHORT)


def test_slope_is_the_ratio_of_spreads():
    """Independent: numpy alone."""
    found = extend_record(SHORT, LONG)
    here, there = np.log(SHORT), np.log(LONG[SHORT.index])
    assert found.slope == pytest.approx(np.std(here) / np.std(there), rel=1e-12)
    assert found.correlation == pytest.approx(np.corrcoef(here, there)[0, 1], rel=1e-12)


def test_skill_is_that_of_the_years_left_out():
    """By hand: each of the four years predicted from the other three."""
    here, there = np.log(SHORT), np.log(LONG[SHORT.index])
    water_year = SHORT.index.year + (SHORT.index.month >= 10)
    predicted = pd.Series(0.0, index=SHORT.index)
    for year in range(2006, 2010):
        out = water_year == year
        slope = here[~out].std() / there[~out].std()
        predicted[out] = here[~out].mean() + slope * (there[out] - there[~out].mean())
    skill = extend_record(SHORT, LONG).skill
    assert skill.blocks == 4 and skill.days == len(SHORT)
    assert skill.factor == pytest.approx(
        np.exp(np.sqrt(((predicted - here) ** 2).mean())), rel=1e-9
    )
    assert skill.volume_ratio == pytest.approx(np.exp(predicted).sum() / SHORT.sum(), rel=1e-9)
    errors, spread = ((np.exp(predicted) - SHORT) ** 2).sum(), ((SHORT - SHORT.mean()) ** 2).sum()
    assert skill.efficiency == pytest.approx(1 - errors / spread, rel=1e-9)


@pytest.mark.parametrize("method", ["move1", "duration"])
def test_stated_skill_is_met_on_days_never_shown(method):
    """The estimates of the eight unseen years are as good as the skill said."""
    found = extend_record(SHORT, LONG, method)
    error = np.log(found.record / WHOLE)[found.estimated]
    assert np.exp(np.sqrt((error**2).mean())) == pytest.approx(found.skill.factor, rel=0.05)


def test_curve_transfer_never_lets_a_greater_flow_there_mean_a_smaller_here():
    found = extend_record(SHORT, LONG, "duration")
    estimated = found.record[found.estimated].to_numpy()
    order = np.argsort(LONG[found.estimated].to_numpy())
    assert np.all(np.diff(estimated[order]) >= -1e-12)
    assert np.isnan(found.slope)


def test_area_ratio_needs_no_overlap_but_says_so():
    early = WHOLE["2000-10-01":"2001-03-01"]
    found = extend_record(early, LONG["2001-04-01":], "area", ratio=0.3)
    np.testing.assert_allclose(found.record[found.estimated], 0.3 * LONG["2001-04-01":], rtol=1e-12)
    assert found.skill is None and any(
        "have no days in common" in finding.message for finding in found.findings
    )
    tested = extend_record(SHORT, LONG, "area", ratio=0.3)
    assert tested.skill.volume_ratio == pytest.approx(0.3 * LONG[SHORT.index].sum() / SHORT.sum())
    assert any(
        finding.level == "caution" and "volume" in finding.message for finding in tested.findings
    )


def test_areas_too_unlike_are_warned_of():
    with pytest.warns(RangeWarning, match="0.5 to 1.5"):
        assert area_ratio("10 km^2", "40 km^2") == 0.25
    assert area_ratio("2.5 mi^2", "1600 acre") == pytest.approx(1.0)


def test_dry_days_are_left_out_of_the_fit_and_carried_over():
    long, short = LONG.copy(), SHORT.copy()
    long.iloc[100:110] = 0.0
    short.iloc[5:8] = 0.0
    found = extend_record(short, long)
    assert (found.record.iloc[100:110] == 0).all() and found.overlap_days == len(SHORT) - 3
    assert (found.record.drop(short.index[5:8]).drop(long.index[100:110]) > 0).all()


def test_short_overlap_is_left_out_in_tenths():
    assert extend_record(SHORT["2006-01-01":"2007-06-01"], LONG).skill.blocks == 10


@pytest.mark.parametrize(
    "call, says",
    [
        (lambda: extend_record(SHORT[:200], LONG), "share 200 days with flow, 365 are needed"),
        (
            lambda: extend_record(pair(noise=2.0)[1], LONG),
            r"correlate by 0\.\d\d, below 0.8: the neighbour does not tell",
        ),
        (lambda: extend_record(LONG, SHORT), "no day that the shorter one lacks; are they swapped"),
        (lambda: extend_record(SHORT, LONG, "regression"), '"move1", "area" or "duration"'),
        (lambda: extend_record(SHORT, LONG, "area"), "needs ratio=area_ratio"),
        (lambda: extend_record(SHORT, LONG, "move1", ratio=0.3), "takes no ratio"),
        (lambda: extend_record(SHORT, LONG, "area", ratio=-1), "above zero"),
        (lambda: extend_record(SHORT.rename("q"), LONG), "named 'flow_m3s'"),
    ],
)
def test_refusals_give_the_reason(call, says):
    with pytest.raises(HydrokitError, match=says):
        call()


def test_a_poor_neighbour_is_taken_only_on_demand():
    short = pair(noise=1.0)[1]
    with pytest.raises(HydrokitError, match="correlate"):
        extend_record(short, LONG)
    forced = extend_record(short, LONG, least_correlation=0.3)
    assert any(finding.level == "caution" for finding in forced.findings)
