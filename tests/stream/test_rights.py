"""What stays and what may be taken."""

import pickle

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, UnitsError
from hydrokit.stream.duration import flow_duration
from hydrokit.stream.rights import (
    STATEMENT,
    Rights,
    by_month,
    bypassed_reach,
    fixed,
    hands_off,
    licence,
    percentile,
    residual_flow,
    resolve_rights,
    share_of_flow,
    share_of_mean,
    swiss_article_31,
    swiss_residual,
    tennant,
    usable_flow,
)
from hydrokit.stream.rules import RULE_KINDS
from hydrokit.units import Q_


def creek(years=3, seed=0, scale=0.05):
    rng = np.random.default_rng(seed)
    index = pd.date_range("2018-10-01", periods=int(365.25 * years))
    season = 1 + 0.6 * np.cos(2 * np.pi * (index.day_of_year.to_numpy() - 120) / 365.25)
    return pd.Series(
        scale * season * rng.lognormal(0, 0.4, len(index)), index=index, name="flow_m3s"
    )


CREEK = creek()
MONTH = CREEK.index.month.to_numpy()


def keep(rules, record=None):
    return resolve_rights(rules, None, record).keep_m3s


def test_each_rule_by_hand():
    mean = CREEK["2018-10-01":"2020-09-30"].mean()  # the whole water years
    np.testing.assert_allclose(keep([fixed("12 L/s")]), 0.012)
    np.testing.assert_allclose(
        keep([fixed("190 gpm", months=[5, 6])]), [0] * 4 + [190 * 3.785411784e-3 / 60] * 2 + [0] * 6
    )
    np.testing.assert_allclose(
        keep([by_month([f"{n} L/s" for n in range(1, 13)])]), np.arange(1, 13) / 1000
    )
    np.testing.assert_allclose(keep([share_of_mean("10 %")], CREEK), 0.1 * mean)
    np.testing.assert_allclose(
        keep([percentile("95 %")], CREEK), np.quantile(CREEK, 0.05, method="weibull")
    )
    np.testing.assert_allclose(
        keep([tennant("good")], CREEK), mean * np.array([0.2] * 3 + [0.4] * 6 + [0.2] * 3)
    )
    np.testing.assert_allclose(
        keep([tennant("good", first_month=4)], CREEK),
        mean * np.array([0.4] * 3 + [0.2] * 6 + [0.4] * 3),
    )
    q347 = flow_duration(CREEK).flow_at_si(347 / 365)
    np.testing.assert_allclose(keep([swiss_article_31()], CREEK), swiss_residual.si(q347))
    rights = resolve_rights([share_of_flow("30 %", months=[7]), hands_off("20 L/s", months=[8])])
    assert (
        rights.share_left[6] == 0.3
        and rights.hands_off_m3s[7] == 0.02
        and rights.keep_m3s.max() == 0
    )


def test_the_strictest_counts():
    rules = [
        fixed("10 L/s"),
        by_month(["5 L/s"] * 6 + ["15 L/s"] * 6),
        share_of_flow("20 %"),
        share_of_flow("30 %", months=[1]),
    ]
    rights = resolve_rights(rules)
    np.testing.assert_allclose(rights.keep_m3s, [0.010] * 6 + [0.015] * 6)
    np.testing.assert_allclose(rights.share_left, [0.3] + [0.2] * 11)
    assert rights.usable_si(0.100, 1) == pytest.approx(0.070)
    assert rights.usable_si(0.100, 2) == pytest.approx(0.080)
    assert rights.usable_si(0.020, 2) == pytest.approx(0.010)
    assert rights.usable_si(0.008, 2) == 0


def test_hands_off_is_a_threshold():
    rights = resolve_rights([fixed("5 L/s"), hands_off("20 L/s")], "30 L/s")
    np.testing.assert_allclose(rights.usable_si([0.0199, 0.020, 0.050], 3), [0, 0.015, 0.030])
    np.testing.assert_allclose(
        rights.residual_si([0.0199, 0.020, 0.050], 3), [0.0199, 0.005, 0.005]
    )
    assert any("threshold" in finding.message for finding in rights.findings)


def test_q347_near_fifty_litres_leaves_nothing():
    """Published: article 31 leaves 50 L/s at least, so up to a Q347 of 50 L/s there is nothing to divert at low flow."""
    low = np.linspace(0.001, 0.050, 50)
    assert np.all(swiss_residual.si(low) >= low)


def test_swiss_residual_never_falls_with_q347():
    flows = np.linspace(0, 80, 200_001)
    assert np.all(np.diff(swiss_residual.si(flows)) >= 0)
    assert np.isnan(swiss_residual.si(np.nan))


def test_swiss_steps_are_reached_despite_rounding():
    assert swiss_residual("500 L/s").m_as("L/s") == pytest.approx(280, abs=1e-9)
    assert swiss_residual(Q_(60_000, "L/s").to("cfs")).m_as("L/s") == pytest.approx(
        10_000, abs=1e-6
    )


@settings(derandomize=True, max_examples=100, deadline=None)
@given(
    flows=st.lists(st.floats(0, 1), min_size=1, max_size=60),
    kept=st.floats(0, 0.5),
    share=st.floats(0, 1),
    off=st.floats(0, 0.5),
    rate=st.floats(0.001, 1),
    volume=st.floats(1, 1e6),
    ramp=st.floats(1e-4, 1),
)
def test_usable_is_never_above_natural_nor_licence(flows, kept, share, off, rate, volume, ramp):
    record = pd.Series(
        flows, index=pd.date_range("2019-09-01", periods=len(flows)), name="flow_m3s"
    )
    rules = [fixed(Q_(kept, "m^3/s")), share_of_flow(share), hands_off(Q_(off, "m^3/s"))]
    paper = licence(Q_(rate, "m^3/s"), Q_(volume, "m^3"), Q_(ramp, "m^3/s/d"))
    usable, residual = usable_flow(record, rules, paper), residual_flow(record, rules)
    left = bypassed_reach(record, rules, paper)
    assert (usable >= 0).all() and (usable <= record).all() and (usable <= rate + 1e-12).all()
    assert (left >= residual - 1e-12).all(), "what stays is at least what must"
    np.testing.assert_allclose(left + usable, record, atol=1e-12)
    assert usable.diff().max() <= ramp + 1e-12 or len(flows) == 1
    assert (usable.groupby(usable.index.month >= 10).sum() * 86400 <= volume * (1 + 1e-9)).all()


def day_by_day(record, rights, most=np.inf):
    """The rules with memory, one day after another."""
    taken, before, used, year = [], np.inf, 0.0, None
    for date, flow in record.items():
        this_year = date.year + (date.month >= rights.start_month)
        if this_year != year:
            year, used = this_year, 0.0
        allowed = before + rights.ramp_m3s_per_day
        if np.isnan(flow):
            taken.append(np.nan)
            before = allowed
            continue
        kept = max(rights.keep_m3s[date.month - 1], rights.share_left[date.month - 1] * flow)
        usable = min(max(flow - kept, 0), rights.licence_m3s[date.month - 1], most)
        if flow < rights.hands_off_m3s[date.month - 1]:
            usable = 0.0
        usable = min(usable, allowed, max(rights.volume_m3 / 86400 - used, 0))
        taken.append(usable)
        before, used = usable, used + usable
    return np.array(taken)


@pytest.mark.parametrize("most", [np.inf, 0.02])
@pytest.mark.parametrize(
    "paper",
    [
        licence("40 L/s", "500000 m^3"),
        licence("40 L/s", ramp="3 L/s/d"),
        licence(None, "300000 m^3", "4 L/s/d"),
        licence("40 L/s"),
    ],
)
def test_rules_with_memory_equal_a_day_by_day_loop(paper, most):
    rights = resolve_rights([fixed("10 L/s"), share_of_flow(0.2), hands_off("18 L/s")], paper)
    holed = CREEK.copy()
    holed.iloc[500:507] = np.nan
    for record in (CREEK, holed):
        np.testing.assert_allclose(
            rights.usable_series(record, most), day_by_day(record, rights, most), atol=1e-12
        )


def test_a_gap_over_the_turn_of_the_year():
    rights = resolve_rights([fixed("10 L/s")], licence(None, "300000 m^3", "4 L/s/d"))
    holed = CREEK.copy()
    holed["2019-09-20":"2019-10-10"] = np.nan
    np.testing.assert_allclose(rights.usable_series(holed), day_by_day(holed, rights), atol=1e-12)


def test_many_flows_at_once():
    """A rating error scales the natural flow: factors go along the first axis, days along the last."""
    factors = np.array([0.8, 1.0, 1.25])[:, None]
    rules = [fixed("10 L/s"), hands_off("18 L/s"), share_of_flow(0.1)]
    plain = resolve_rights(rules, "40 L/s")
    both = plain.usable_si(factors * CREEK.to_numpy(), MONTH)
    assert both.shape == (3, len(CREEK))
    rights = resolve_rights(rules, licence("40 L/s", "500000 m^3", "5 L/s/d"))
    year = CREEK.index.year.to_numpy() + (MONTH >= 10)
    remembered = rights.usable_days_si(factors * CREEK.to_numpy(), MONTH, year)
    for row, factor in enumerate(factors[:, 0]):
        np.testing.assert_array_equal(both[row], plain.usable_si(factor * CREEK.to_numpy(), MONTH))
        np.testing.assert_allclose(
            remembered[row], rights.usable_series(factor * CREEK), atol=1e-12
        )
    assert not plain.has_memory and rights.has_memory


def test_usable_water_is_not_scaled_by_a_rating_error():
    rights = resolve_rights([fixed("20 L/s")])
    assert rights.usable_si(1.1 * 0.030, 1) == pytest.approx(0.013), "not 1.1 times 10 L/s"


def test_scalar_in_scalar_out_and_gaps_stay_gaps():
    rights = resolve_rights([fixed("10 L/s"), hands_off("12 L/s")], "30 L/s")
    assert np.ndim(rights.usable_si(0.03, 5)) == 0
    assert np.isnan(rights.usable_si(np.nan, 5)) and np.isnan(rights.residual_si(np.nan, 5))


def test_series_agree_with_the_parts():
    rules = [fixed("10 L/s"), hands_off("18 L/s")]
    rights = resolve_rights(rules, "40 L/s", CREEK)
    pd.testing.assert_series_equal(usable_flow(CREEK, rules, "40 L/s"), usable_flow(CREEK, rights))
    np.testing.assert_array_equal(
        usable_flow(CREEK, rights), rights.usable_si(CREEK.to_numpy(), MONTH)
    )
    assert (
        usable_flow(CREEK, rights).name
        == residual_flow(CREEK, rules).name
        == bypassed_reach(CREEK, rules).name
        == "flow_m3s"
    )
    assert (bypassed_reach(CREEK, rules, most_m3s=0.005) >= bypassed_reach(CREEK, rules)).all()


def test_licence_by_month():
    rights = resolve_rights([fixed("0 L/s")], licence([f"{n} L/s" for n in range(1, 13)]))
    np.testing.assert_allclose(rights.usable_si(1.0, np.arange(1, 13)), np.arange(1, 13) / 1000)


# --- findings and refusals


def messages(rights):
    return [f"{finding.level}: {finding.message}" for finding in rights.findings]


def test_a_missing_rule_is_a_caution_never_a_silent_zero():
    for rules in ([], [fixed("0 L/s")], [hands_off("10 L/s")]):
        assert any(
            text.startswith("caution: no residual flow is given:")
            for text in messages(resolve_rights(rules))
        )
    assert any(
        "in January to November:" in text
        for text in messages(resolve_rights([fixed("5 L/s", months=[12])]))
    )
    assert messages(resolve_rights([fixed("5 L/s")])) == []


def test_a_residual_above_every_flow_is_a_problem():
    assert any(
        text.startswith("problem: the residual flow is above every flow")
        for text in messages(resolve_rights([fixed("5 m^3/s")], None, CREEK))
    )
    some = messages(resolve_rights([fixed("1 L/s"), fixed("5 m^3/s", months=[2, 3])], None, CREEK))
    assert any(
        text.startswith(
            "caution: the residual flow is above every flow on record in February and March"
        )
        for text in some
    )
    assert messages(resolve_rights([fixed("5 L/s")], None, CREEK)) == []
    assert any(
        text.startswith("problem")
        for text in messages(resolve_rights([share_of_flow("100 %")], None, CREEK))
    )


def test_rights_say_that_local_law_decides():
    assert "local law" in resolve_rights([fixed("5 L/s")]).statement and "example" in STATEMENT


@pytest.mark.parametrize(
    "call, error, says",
    [
        (lambda: fixed(0.02), UnitsError, "flow has no unit"),
        (lambda: fixed("-5 L/s"), HydrokitError, "cannot be negative"),
        (lambda: fixed("5 L/s", months=[13]), HydrokitError, "numbers from 1 to 12"),
        (lambda: fixed("5 L/s", months=[]), HydrokitError, "numbers from 1 to 12"),
        (lambda: by_month(["5 L/s"] * 11), HydrokitError, "must be twelve, January first, got 11"),
        (lambda: percentile(95), UnitsError, "between 0 and 1"),
        (lambda: share_of_flow(1.2), HydrokitError, "between 0 and 1"),
        (lambda: tennant("god"), HydrokitError, "did you mean 'good'"),
        (lambda: licence(["5 L/s"] * 3), HydrokitError, "one flow or twelve"),
        (lambda: licence("-5 L/s"), HydrokitError, "cannot be negative"),
        (
            lambda: resolve_rights([percentile("95 %")]),
            HydrokitError,
            "percentile needs statistics of the creek's own flow; give a daily record",
        ),
        (
            lambda: usable_flow(CREEK, resolve_rights([fixed("5 L/s")]), "9 L/s"),
            HydrokitError,
            "leave licence out",
        ),
    ],
)
def test_refusals(call, error, says):
    with pytest.raises(error, match=says):
        call()


def test_rights_can_be_made_by_hand():
    rights = Rights(np.full(12, 0.01), np.zeros(12), np.zeros(12), licence_m3s=np.full(12, np.inf))
    assert rights.usable_si(0.03, 6) == pytest.approx(0.02) and rights.keep[0].m_as(
        "L/s"
    ) == pytest.approx(10)


def test_every_rule_of_a_site_file_can_be_carried_to_another_process():
    given = {"flow": 0.004, "share": 0.1, "exceedance": 0.95, "class": "good"}
    for name, kind in RULE_KINDS.items():
        values = [given[kind.key]] if kind.key else []
        rule = pickle.loads(pickle.dumps(kind.make(*values, months=[7])))
        assert rule.months == (7,) and "July" in str(rule.text), name
        rights = resolve_rights([rule], record=CREEK)
        stays = rights.residual_si(0.003, np.arange(1, 13))
        assert stays[6] > 0 and stays[7] == 0, name
