"""What must stay and what may be taken, drawn with years, rating and transfer together."""

import numpy as np
import pandas as pd
import pytest
from small_study import changed


@pytest.fixture(scope="module")
def studies(tmp_path_factory):
    """The same creek, under a fixed residual flow and under one in its own statistics."""
    found = {}
    days = pd.date_range("2014-10-01", "2022-09-30")
    random = np.random.default_rng(4)
    wet = np.exp(0.3 * random.standard_normal(9))[days.year - 2014]
    flow = 14 * wet * (1 + 0.6 * np.cos(2 * np.pi * np.arange(len(days)) / 365.25))
    record = "date,flow [L/s]\n" + "".join(
        f"{day:%Y-%m-%d},{each:.3f}\n" for day, each in zip(days, flow)
    )
    rules = {
        "fixed": {"rule": "fixed", "flow": "3 L/s"},
        "percentile": {"rule": "percentile", "exceedance": "95 %"},
        "share of mean": {"rule": "share of mean", "share": "20 %", "months": [5, 6]},
        "open": None,
    }
    for name, rule in rules.items():
        folder = tmp_path_factory.mktemp("creek")
        rights = {"licence": "1000 L/s", "residual": [rule] if rule else None}
        found[name] = changed(folder, {"flow": record}, rights=rights)
    return found


def test_a_residual_flow_in_litres_is_certain(studies):
    found = studies["fixed"].answer("water.residual")
    assert np.all(found.low == found.value) and np.all(found.high == found.value)
    assert found.value[0] == pytest.approx(0.003)


def test_a_residual_flow_in_the_creeks_own_statistics_is_as_sure_as_these(studies):
    """Independent: the band of the duration curve there."""
    study = studies["percentile"]
    found, lean = study.answer("water.residual").month(7), study.answer("flow.lean")
    assert (found.value, found.low, found.high) == pytest.approx(
        (lean.value, lean.low, lean.high), rel=1e-9
    )


def test_it_holds_in_its_months_and_errs_like_the_mean(studies):
    study = studies["share of mean"]
    found = study.answer("water.residual")
    assert np.flatnonzero(found.value).tolist() == [4, 5] == np.flatnonzero(found.high).tolist()
    assert found.value[4] == pytest.approx(0.2 * study.record.mean(), rel=0.01)
    mean = study.water_draws.mean_m3s
    assert found.high[4] == pytest.approx(0.2 * np.quantile(mean, 0.95), rel=1e-9)


def test_no_rule_no_residual_flow(studies):
    assert studies["open"].answer("water.residual") is None


def test_a_mean_without_rules_is_that_of_the_creek(studies):
    """analytic: nothing stays and the licence never binds, so what may be taken is the natural mean, error and all."""
    draws = studies["open"].water_draws
    assert draws.usable_mean_m3s == pytest.approx(draws.mean_m3s, rel=0.02)


def test_what_is_left_errs_with_what_stays(studies):
    """A residual flow that rises and falls with the creek leaves the mean, as a share, as unsure as the creek; a fixed one makes it less sure."""

    def spread(drawn):
        return np.std(np.log(drawn))

    own, fixed = (studies[name].water_draws.usable_mean_m3s for name in ("percentile", "fixed"))
    creek = spread(studies["open"].water_draws.mean_m3s)
    assert spread(own) == pytest.approx(creek, rel=0.15) and spread(fixed) > 1.1 * creek


def test_the_median_day_of_a_month_is_that_of_every_draw_less_what_stays(studies):
    study = studies["percentile"]
    may = study.duration.month_of_year(5).resampled_si(0.5) - study.duration.resampled_si(0.95)
    found = study.answer("water.usable").month(5)
    assert (found.low, found.high) == pytest.approx(np.quantile(np.maximum(may, 0), [0.05, 0.95]))


def test_years_alike_leave_what_other_creeks_show(studies):
    low, high = (
        getattr(studies["open"].answer("water.usable_mean"), end) for end in ("low", "high")
    )
    assert 1.3 < high / low < 2.5
