"""What page 02 says of the year: the answers are the curve's, the figure's curve is the table's, and sheets agree."""

from pathlib import Path

import numpy as np
import pytest
import shared

from hydrokit.report.pages.p03 import venting
from hydrokit.report.pages.p09 import winter
from hydrokit.stream.low_flow import low_flow
from hydrokit.study.build.extremes import LEAN_WEEK, available_in_lean_week, yearly_extremes
from hydrokit.study.build.flow_regime import bypassed, flow_regime, typical_years
from hydrokit.study.keyed import keys
from hydrokit.study.opening import open_study

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def beck():
    return shared.demo("hazel-beck")


def test_median_and_lean_flow_are_weibull_quantiles_of_the_record(beck):
    # numpy's own Weibull quantiles of the days of the record: independent of the curve's code
    days = beck.record.dropna().to_numpy()
    for key, exceeded in (("flow.median", 0.5), ("flow.lean", 0.95)):
        found = beck.answer(key)
        expected = np.quantile(days, 1 - exceeded, method="weibull")
        assert found.value == pytest.approx(expected, rel=1e-9)
        assert found.low < found.value < found.high


@pytest.mark.slow
def test_borrowed_years_widen_every_band(beck):
    """Page 02's curve, months, mean, lowest weeks and the energy hold the error of the transfer, each by its own flow."""
    error, flow = beck.transfer_error, beck.monthly_flow
    for key, exceeded in (("flow.median", 0.5), ("flow.lean", 0.95)):
        found = beck.answer(key)
        alone = np.hypot(beck.record_uncertainty, error.sd_si(beck.duration.flow_at_si(exceeded)))
        assert np.log(found.high / found.low) > 0.97 * 2 * 1.645 * alone
    natural = flow.natural_m3s * np.exp(
        1.645 * np.hypot(beck.record_uncertainty, error.sd_si(flow.natural_m3s))
    )
    # and what few years leave open, which is drawn
    least = np.fmax(beck.rights.usable_si(natural, np.arange(1, 13)), flow.usable_m3s)
    assert np.all(flow.high_m3s > 0.97 * least)
    lean, plain = dict(beck.low_flows)[LEAN_WEEK], low_flow(beck.record, 7, 10)
    assert lean.flow_m3s == plain.flow_m3s
    rated = beck.rating_error
    own = beck.record_uncertainty if rated is None else rated.sd_si(lean.flow_m3s)
    assert np.log(lean.high_m3s / lean.flow_m3s) == pytest.approx(
        np.linalg.norm(
            [
                np.log(plain.high_m3s / plain.flow_m3s),
                1.645 * own,
                1.645 * error.sd_si(lean.flow_m3s),
            ]
        ),
        rel=1e-3,
    )
    assert beck.energy_uncertainty.tornado.loc["extension", "sd_kwh"] > 0


def test_months_and_shares_are_those_of_the_record(beck):
    regime, record = flow_regime(beck), beck.record
    for month in (1, 8):
        of_month = record[record.index.month == month].dropna()
        assert regime.median_of_month_m3s[month - 1] == pytest.approx(of_month.median())
    assert regime.median_of_month_m3s[regime.leanest_month - 1] == regime.median_of_month_m3s.min()
    assert 0 < regime.available_share < 1 and regime.months_unseen == ()
    dry, median, wet = typical_years(beck).half_m3s
    assert dry < median < wet


def test_the_bypassed_reach_keeps_what_the_plant_does_not_take(beck):
    reach = bypassed(beck)
    assert reach.by_plant and reach.mean_m3s < beck.record.mean()
    assert reach.mean_m3s >= beck.record.mean() - beck.full_flow_m3s
    assert reach.dry_days >= reach.dry_without_plant


def test_the_curve_through_the_floods_is_that_of_the_table():
    region = {"stream.regional_skew": 0.5, "stream.regional_skew_error": 0.1}
    study = open_study(ROOT / "studies" / "hazel-beck", region)
    floods, lows = yearly_extremes(study, points=3)
    rarest, drawn = floods.curve[-1]
    _, tabled = study.intake_flood.flows[0]
    assert rarest == pytest.approx(max(100, study.intake_flood.return_period_years))
    assert drawn.flow_m3s == pytest.approx(tabled.flow_m3s, rel=1e-9)
    assert np.all(np.diff(floods.flow_m3s) <= 0) and np.all(np.diff(lows.flow_m3s) >= 0)
    assert available_in_lean_week(study).shape == (12,)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_line_is_filled_at_one_flow_on_every_sheet(system):
    burn = shared.demo("alder-burn")
    view = burn.view(system)
    tables = (venting.steps_table(burn, view), winter.diversion_steps_table(burn, view))
    assert all("the pipe inlet" in str(each) and "| 0 m" not in str(each) for each in tables)
    told = [
        [
            text
            for row in table.rows
            for cell in row
            for key, text in keys(str(cell))
            if key == "filling.diversion"
        ]
        for table in tables
    ]
    assert told[0] and told[0] == told[1]
