"""What rules cost and what to measure next, against plain loops, matrices and draws."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from hydrokit.energy.measuring import what_to_measure_next
from hydrokit.energy.uncertain_inputs import Uncertainties
from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.worth import deciding_flows, given_up
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.stream.rating import fit_rating, rating_stage
from hydrokit.stream.rights import (
    Rights,
    fixed,
    hands_off,
    licence,
    percentile,
    resolve_rights,
    share_of_flow,
    usable_flow,
)

DAYS = pd.date_range("2016-10-01", "2020-09-30")
RNG = np.random.default_rng(5)
RECORD = pd.Series(
    np.exp(
        np.log(0.014)
        + 0.6 * np.cos(2 * np.pi * (np.arange(len(DAYS)) - 90) / 365.25)
        + 0.25 * np.repeat(RNG.standard_normal(len(DAYS) // 10 + 1), 10)[: len(DAYS)]
    ),
    DAYS,
    name="flow_m3s",
)
# no loss, one efficiency, adjustable: power is 294 W for each L/s up to 16 L/s
PLAIN = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.016), Runner(steady(0.6))).curve()
WATTS_PER_M3S = 999.70 * 9.80665 * 50.0 * 0.6
JETS = Chain(
    Penstock(MeasuredLoss(30e3), 50.0), FixedJets((0.0125,) * 4, 0.95), Runner(steady(0.6))
).curve()
WINTER = [12, 1, 2]


# --- rules ----------------------------------------------------------------------------------


def plain_energy(keep, share, off, rate):
    """Oracle: whole-record energy in kWh a year of the plain plant, days one by one."""
    kwh = winter = 0.0
    for flow, month in zip(RECORD.to_numpy(), RECORD.index.month):
        stays = flow if flow < off else max(keep(month), share * flow)
        power = WATTS_PER_M3S * min(max(flow - stays, 0.0), rate, 0.016)
        kwh += power * 24 / 1000 / 4
        winter += power * 24 / 1000 / 4 * (month in WINTER)
    return np.array([kwh, winter])


def test_each_rule_costs_what_dropping_it_would_bring():
    rules = [
        fixed("4 L/s"),
        fixed("8 L/s", months=[10, 11]),
        share_of_flow("25 %"),
        hands_off("7 L/s"),
    ]
    found = given_up(RECORD, resolve_rights(rules, "12 L/s", RECORD), PLAIN)

    def keeps(low, autumn):
        return lambda month: max(low, autumn if month in (10, 11) else 0.0)

    whole = plain_energy(keeps(0.004, 0.008), 0.25, 0.007, 0.012)
    assert (found.kwh, found.winter_kwh) == pytest.approx(whole, rel=1e-6)
    without = [
        plain_energy(keeps(0.0, 0.008), 0.25, 0.007, 0.012),
        plain_energy(keeps(0.004, 0.0), 0.25, 0.007, 0.012),
        plain_energy(keeps(0.004, 0.008), 0.0, 0.007, 0.012),
        plain_energy(keeps(0.004, 0.008), 0.25, 0.0, 0.012),
        plain_energy(keeps(0.004, 0.008), 0.25, 0.007, np.inf),
    ]
    assert len(found.prices) == 5 and found.prices[-1].text == "the licensed rate"
    assert [each.text for each in found.prices[:4]] == [rule.text for rule in rules]
    for price, other in zip(found.prices, without):
        assert (price.kwh, price.winter_kwh) == pytest.approx(other - whole, rel=1e-5, abs=1e-3)
        assert price.kwh >= -1e-9
    free = plain_energy(lambda month: 0.0, 0.0, 0.0, np.inf)
    assert (found.free_kwh, found.free_winter_kwh) == pytest.approx(free, rel=1e-6)
    assert found.together_kwh == pytest.approx(free[0] - whole[0], rel=1e-5)
    assert found.shared_kwh == pytest.approx(
        found.together_kwh - sum(each.kwh for each in found.prices)
    )


def test_two_rules_on_the_same_water_share_their_cost():
    found = given_up(RECORD, resolve_rights([fixed("5 L/s"), fixed("5 L/s")]), PLAIN)
    assert [each.kwh for each in found.prices] == [
        0,
        0,
    ] and found.shared_kwh == found.together_kwh > 0
    assert given_up(RECORD, resolve_rights([]), PLAIN).prices == ()


def test_a_rule_that_never_limits_costs_nothing():
    found = given_up(RECORD, resolve_rights([fixed("5 L/s"), fixed("1 L/s")]), PLAIN)
    assert found.prices[1].kwh == 0 and found.prices[0].kwh > 0


def test_rules_with_memory_and_the_creeks_own_statistics():
    rules, most = [percentile("90 %")], PLAIN.most_used_m3s
    limits = licence(volume="150000 m^3", ramp="2 L/s/day")
    found = given_up(RECORD, resolve_rights(rules, limits, RECORD), PLAIN)
    assert [each.text for each in found.prices] == [
        rules[0].text,
        "the licensed yearly volume",
        "the limit on how fast the take may rise",
    ]
    for price, other in zip(
        found.prices,
        (([], limits), (rules, licence(ramp="2 L/s/day")), (rules, licence(volume="150000 m^3"))),
    ):
        usable = resolve_rights(*other, RECORD).usable_series(RECORD, most)
        assert price.kwh == pytest.approx(
            annual_energy(usable, PLAIN).annual_kwh - found.kwh, abs=1e-6
        )
    assert found.prices[1].kwh > 0


def test_rights_given_as_numbers_alone():
    months = np.zeros(12)
    rights = Rights(months + 0.005, months, months, licence_m3s=months + 0.010)
    found = given_up(RECORD, rights, JETS, Outages(unplanned=0.1))
    assert [each.text for each in found.prices] == [
        "what must stay in the creek",
        "the licensed rate",
    ]
    assert found.kwh == pytest.approx(
        0.9 * annual_energy(rights.usable_series(RECORD), JETS).annual_kwh
    )


# --- flows that decide ----------------------------------------------------------------------

KEEP = resolve_rights([fixed("4 L/s")])


def test_weights_of_the_plain_plant_by_hand():
    """Between what stays and what fills the plant every litre counts as itself; elsewhere none does."""
    found = deciding_flows(RECORD, KEEP, PLAIN, Outages(unplanned=0.1))
    flow = RECORD.to_numpy()
    clear = (np.abs(np.log(flow / 0.004)) > 0.06) & (np.abs(np.log(flow / 0.020)) > 0.06)
    inside = (flow > 0.004) & (flow < 0.020)
    # sinh(0.05)/0.05: a nudge of 5 % either way is not quite the derivative
    expected = (
        np.where(inside, flow, 0.0)
        * WATTS_PER_M3S
        * 24
        / 1000
        / (len(flow) / 365.25)
        * 0.9
        * np.sinh(0.05)
        / 0.05
    )
    np.testing.assert_allclose(found.weight_kwh[clear], expected[clear], rtol=1e-5, atol=1e-9)
    low, high = found.range_m3s(0.8)
    assert 0.004 < low < high < 0.021 and found.range.m_as("L/s") == pytest.approx(
        [1000 * low, 1000 * high]
    )
    held = (
        np.abs(found.weight_kwh[(flow >= low) & (flow <= high)]).sum()
        / np.abs(found.weight_kwh).sum()
    )
    assert held == pytest.approx(0.8, abs=0.01)


@pytest.mark.parametrize("curve", [PLAIN, JETS])
def test_the_weights_add_up_to_what_more_water_brings(curve):
    found = deciding_flows(RECORD, KEEP, curve)
    kwh = [
        annual_energy(usable_flow(RECORD * np.exp(step), KEEP), curve).annual_kwh
        for step in (-0.05, 0.05)
    ]
    assert found.total_kwh == pytest.approx((kwh[1] - kwh[0]) / 0.10, rel=1e-3)


def test_a_plant_that_always_runs_full_hangs_on_no_flow():
    small = Chain(
        Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.0005), Runner(steady(0.6))
    ).curve()
    with pytest.raises(HydrokitError, match="does not depend on the flow"):
        deciding_flows(RECORD + 0.1, KEEP, small).range_m3s()


# --- what to measure next -------------------------------------------------------------------


def gaugings(stages_m, seed=2, scatter=0.06):
    """Gaugings of a riffle with a known rating and some scatter."""
    stages = np.array(stages_m)
    flows = (
        0.5
        * (stages - 0.05) ** 2
        * np.exp(scatter * np.random.default_rng(seed).standard_normal(len(stages)))
    )
    return stages, flows


STAGES, GAUGED = gaugings([0.17, 0.18, 0.20, 0.21, 0.23, 0.24, 0.26])
RATING = fit_rating.si(STAGES, GAUGED, cease_to_flow=0.05)


def by_matrices(band, gaugings_made, deciding):
    """Oracle: variance of the energy after more gaugings, from the inverse of the covariance on what is free."""
    stage = rating_stage.si(deciding.flow_m3s, RATING)
    gradient = deciding.weight_kwh @ RATING.slopes(stage)
    covariance = RATING.covariance + 1e-14 * np.eye(
        len(gradient)
    )  # a held parameter has no variance to invert
    slopes = RATING.slopes(band.stage_m)
    sharper = np.linalg.inv(
        np.linalg.inv(covariance)
        + gaugings_made * np.outer(slopes, slopes) / max(RATING.scatter, 0.05) ** 2
    )
    return gradient @ covariance @ gradient, gradient @ sharper @ gradient


def test_narrowing_by_gaugings_is_that_of_the_refitted_covariance():
    deciding = deciding_flows(RECORD, KEEP, JETS)
    found = what_to_measure_next(RECORD, KEEP, JETS, RATING)
    assert [each.after_kwh for each in found] == sorted(each.after_kwh for each in found) and len(
        found
    ) == 6
    for each in found:
        before, one = by_matrices(each, 1, deciding)
        _, every = by_matrices(each, each.gaugings, deciding)
        assert each.before_kwh == pytest.approx(np.sqrt(before), rel=1e-4)
        assert each.after_kwh == pytest.approx(np.sqrt(one), rel=1e-3)
        assert each.after_all_kwh == pytest.approx(np.sqrt(every), rel=1e-3)
        assert each.what == "rating" and 0 < each.narrowed < 1
        # the curve there is left with about a fifth of its variance
        own = RATING.log_sd(each.stage_m) ** 2
        scatter = max(RATING.scatter, 0.05) ** 2
        fewest = 4 * scatter / own
        assert fewest <= each.gaugings < fewest + 1 or each.gaugings in (1, 12)
        low, high = each.flows_m3s
        assert low <= RATING.flow_si(each.stage_m) <= high
    assert sum(each.share for each in found) == pytest.approx(1)


def test_the_uncertainty_from_the_rating_is_that_of_redrawn_ratings():
    """Oracle: parameters drawn from the covariance, the whole record rated again and run through the plant."""
    before = what_to_measure_next(RECORD, KEEP, PLAIN, RATING)[0].before_kwh
    rng, stage = np.random.default_rng(8), rating_stage.si(RECORD.to_numpy(), RATING)
    energies = []
    for parameters in rng.multivariate_normal(
        RATING.parameters, RATING.covariance, 600, method="svd"
    ):
        redrawn = replace(RATING, a=float(np.exp(parameters[0])), b=parameters[1], c=parameters[2])
        usable = np.maximum(redrawn.flow_si(stage) - 0.004, 0)
        energies.append(WATTS_PER_M3S * np.minimum(usable, 0.016).sum() * 24 / 1000 / 4)
    # 3 % is the standard error of a standard deviation of 600 draws; the rest is the bend of the energy
    assert before == pytest.approx(np.std(energies), rel=0.12)


def test_the_side_without_gaugings_is_measured_first():
    """Gauged only high, the low water that fills the plant is the unknown, and the other way round."""
    for stages, wanted in (
        ([0.30, 0.34, 0.38, 0.42, 0.46, 0.50], "low"),
        ([0.10, 0.11, 0.115, 0.12, 0.125, 0.13], "high"),
    ):
        rating = fit_rating.si(*gaugings(stages), cease_to_flow=0.05)
        first = what_to_measure_next(RECORD, KEEP, PLAIN, rating)[0]
        gauged = rating.gauged_stage_m
        assert first.stage_m < gauged.min() if wanted == "low" else first.stage_m > gauged.max()
        assert first.extrapolated or wanted == "high"


def test_months_are_those_in_which_such_water_is_met():
    for each in what_to_measure_next(RECORD, KEEP, PLAIN, RATING):
        low, high = each.flows_m3s
        met = RECORD[(RECORD >= low) & (RECORD <= high)].index.month.value_counts()
        assert met.loc[list(each.months)].sum() >= met.sum() / 2
        assert met.loc[each.months[0]] == met.max()


def test_other_sources_take_their_place_by_the_tornado():
    unknown = Uncertainties(rating=0.03, head=0.002, loss=0.05, efficiency=0.15, jet_area=0.02)
    chain = Chain(
        Penstock(MeasuredLoss(30e3), 50.0), FixedJets((0.0125,) * 4, 0.95), Runner(steady(0.6))
    )
    uncertainty = energy_uncertainty(RECORD, KEEP, chain, unknown, draws=400)
    found = what_to_measure_next(RECORD, KEEP, JETS, RATING, tornado=uncertainty.tornado)
    assert (
        found[0].what == "efficiency"
        and {each.what for each in found} >= {"rating", "head", "loss"}
        and "weather" not in {each.what for each in found}
    )
    known = uncertainty.tornado["sd_kwh"].drop("weather")
    assert found[0].before_kwh == pytest.approx(np.sqrt((known**2).sum()))
    assert found[0].after_kwh == pytest.approx(
        np.sqrt((known.drop("efficiency") ** 2).sum() + known["efficiency"] ** 2 / 9)
    )
    assert all(each.after_kwh <= each.before_kwh for each in found)


def test_without_a_rating_the_deciding_flows_are_gauged():
    found = what_to_measure_next(RECORD, KEEP, PLAIN, record_sd=0.20)
    assert len(found) == 1 and found[0].what == "flow" and found[0].gaugings == 1
    deciding = deciding_flows(RECORD, KEEP, PLAIN)
    assert found[0].flows_m3s == pytest.approx(deciding.range_m3s())
    assert found[0].before_kwh == pytest.approx(0.20 * deciding.total_kwh)
    # two gaugings of 8 % beside a factor known to 20 %: variances add as their inverses
    assert found[0].after_kwh == pytest.approx(
        deciding.total_kwh / np.sqrt(1 / 0.20**2 + 1 / 0.08**2)
    )
    assert what_to_measure_next(RECORD, KEEP, PLAIN, record_sd=0.08)[0].gaugings == 4
