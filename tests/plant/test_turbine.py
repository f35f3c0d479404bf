"""Turbines: part load, choice, sizes of impulse and reaction machines."""

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.plant.choice import turbine_choice
from hydrokit.plant.pelton import PELTON, bucket_efficiency, pelton, turgo
from hydrokit.plant.reaction import at_other_head, axial_runner, pump_backwards, setting_height
from hydrokit.plant.turbine import (
    PartLoad,
    kinds,
    maker_table,
    part_load,
    ranges_of,
    specific_speed,
    staged,
)

steady = settings(derandomize=True, deadline=None, max_examples=60)


# --- part load --------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", kinds())
def test_efficiency_stays_between_zero_and_one(kind):
    curve = part_load(kind)
    found = curve.efficiency_si(np.linspace(0, 1.5, 1501))
    assert np.all((found >= 0) & (found <= 1))
    assert found.max() == pytest.approx(ranges_of(kind)["best_efficiency"], rel=1e-12)
    assert np.all(found[np.linspace(0, 1.5, 1501) < curve.minimum_ratio] == 0)
    assert curve.source and curve.mark


@steady
@given(best=st.floats(0.01, 1.0), ratio=st.floats(0, 3), kind=st.sampled_from(kinds()))
def test_no_curve_passes_its_best_efficiency(best, ratio, kind):
    assert 0 <= part_load.si(kind, best).efficiency_si(ratio) <= best


@pytest.mark.parametrize("kind", kinds())
def test_more_water_never_gives_less_power(kind):
    """Along the curve, flow times efficiency rises up to the rated flow."""
    ratio = np.linspace(0, 1, 401)
    assert np.all(np.diff(ratio * part_load(kind).efficiency_si(ratio)) >= -1e-12)


def test_order_at_low_load_is_the_published_one():
    """published: Dixon, fig. 9.14, p. 293: at low load Kaplan at least as good as Pelton, both above Francis."""
    for ratio in (0.2, 0.3, 0.4):
        kaplan, impulse, francis = (
            part_load(kind, minimum_ratio=0).efficiency_si(ratio)
            for kind in ("kaplan", "pelton", "francis")
        )
        assert kaplan >= impulse > francis


def test_francis_and_cross_flow_change_places_as_published():
    """published: page of a cross-flow maker: Francis better near 80 % of its flow, cross-flow at small shares and
    usable to about a sixth."""
    francis, cross_flow = part_load("francis"), part_load("cross-flow")
    assert francis.efficiency_si(0.8) > cross_flow.efficiency_si(0.8)
    assert cross_flow.efficiency_si(0.25) > francis.efficiency_si(0.25)
    assert cross_flow.efficiency_si(1 / 6) > 0.7 * cross_flow.best


def test_fixed_blades_are_the_worst_at_half_flow():
    """common practice: fixed propeller and pump run backwards fall fastest, impulse machines hardly."""
    half = {kind: part_load(kind).efficiency_si(0.5) / part_load(kind).best for kind in kinds()}
    for steep in ("propeller", "pump run backwards"):
        for flat in ("pelton", "turgo", "cross-flow", "kaplan", "water wheel", "screw"):
            assert half[steep] < half[flat] - 0.3


# from memory: typical efficiencies at 1, 3/4, 1/2 and 1/4 of the rated flow; shapes only, within 0.06 of the best
TYPICAL = {
    "pelton": (0.85, 0.86, 0.84, 0.75),
    "cross-flow": (0.78, 0.79, 0.77, 0.70),
    "francis": (0.88, 0.86, 0.74, 0.45),
    "propeller": (0.88, 0.70, 0.40),
}


@pytest.mark.parametrize("kind", TYPICAL)
def test_shapes_are_the_usual_ones(kind):
    """from memory, so beside the published orders above and never alone."""
    curve = part_load(kind, best_efficiency=max(TYPICAL[kind]), minimum_ratio=0.2)
    ratios = (1.0, 0.75, 0.5, 0.25)[: len(TYPICAL[kind])]
    assert np.abs(curve.efficiency_si(ratios) - TYPICAL[kind]).max() <= 0.06


def test_best_efficiencies_stay_within_the_published_ones():
    """published: Dixon table 9.3: large machines reach 90, 95 and 94 % (Pelton, Francis, Kaplan); Cobb 2011: a pico
    Turgo above 80 %, a small Pelton just over 70 %."""
    for kind, highest in (("pelton", 0.90), ("francis", 0.95), ("kaplan", 0.94)):
        assert (
            ranges_of(kind)["best_efficiency"] < ranges_of(kind)["best_efficiency_high"] <= highest
        )
    assert ranges_of("pelton")["best_efficiency_low"] == pytest.approx(0.70, abs=0.01)
    assert (
        ranges_of("turgo")["best_efficiency_low"]
        <= 0.80
        <= ranges_of("turgo")["best_efficiency_high"]
    )
    for kind in kinds():
        row = ranges_of(kind)
        assert (
            0
            < row["best_efficiency_low"]
            <= row["best_efficiency"]
            <= row["best_efficiency_high"]
            < 1
        )


def test_the_makers_table_is_followed_point_by_point():
    curve = maker_table(["60 %", "80 %", "78 %"], flow=["5 L/s", "10 L/s", "20 L/s"], kind="pelton")
    assert curve.efficiency_si([0.25, 0.5, 1.0]).tolist() == [0.60, 0.80, 0.78]
    assert curve.efficiency_si(0.375) == pytest.approx(0.70)
    assert curve.efficiency_si(0.2) == 0 and curve.efficiency_si(1.3) == 0.78
    assert np.isnan(curve.efficiency_si(np.nan))
    assert curve.mark == "manufacturer's table"


@pytest.mark.parametrize(
    "ratios, efficiencies, sentence",
    [
        ([0.2, 1.0], [0.5, 1.02], "pelton: efficiency at part load must lie between 0 and 1"),
        ([0.2, 1.0], [-0.1, 0.8], "must lie between 0 and 1"),
        ([1.0, 0.2], [0.5, 0.8], "rise from point to point"),
        ([1.0], [0.5], "two points or more"),
        ([0.2, 1.0], [0.5, np.nan], "must lie between 0 and 1"),
    ],
)
def test_an_impossible_table_is_refused_by_name(ratios, efficiencies, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        PartLoad("pelton", ratios, efficiencies, minimum_ratio=0.1, source="", mark="")


def test_best_efficiency_above_one_is_refused():
    with pytest.raises(HydrokitError, match="francis.*between 0 and 1"):
        part_load("francis", best_efficiency=1.05)


def test_an_unknown_kind_is_met_with_the_nearest():
    with pytest.raises(HydrokitError, match="did you mean 'pelton'"):
        part_load("peltn")


def test_a_curve_survives_a_pickle():
    curve = pickle.loads(pickle.dumps(part_load("turgo")))
    assert curve.efficiency_si(0.5) == part_load("turgo").efficiency_si(0.5)


def test_stages_never_do_worse_than_the_whole_and_keep_its_best():
    ratio = np.linspace(0.001, 1, 2000)
    for kind, shares in (
        ("pelton", (0.25, 0.5, 0.75, 1)),
        ("cross-flow", (1 / 3, 2 / 3, 1)),
        ("pump run backwards", (0.5, 1)),
    ):
        whole, stages = part_load(kind), staged(part_load(kind), shares)
        found = stages.efficiency_si(ratio)
        assert np.all(found >= whole.efficiency_si(ratio) - 1e-9)
        assert found.max() == pytest.approx(whole.best)
        # oracle: the best open stage that can take the flow, point by point
        top = whole.maximum_ratio
        oracle = np.max(
            [
                np.where(
                    ratio / share <= top,
                    np.interp(ratio / share, whole.flow_ratios, whole.efficiencies)
                    * (ratio / share >= whole.minimum_ratio),
                    0,
                )
                for share in shares
            ],
            axis=0,
        )
        # straight lines between the nodes of both: apart only where two stages cross between nodes
        assert np.abs(found - oracle).max() < 0.02


# --- power, specific speed --------------------------------------------------------------------


@steady
@given(flow=st.floats(1e-4, 10), head=st.floats(0.5, 500), speed=st.floats(10, 3000))
def test_one_machine_in_three_systems_of_specific_speed(flow, head, speed):
    """analytic: Omega = 0.0060317 Ns(rpm, kW, m) for 1000 kg/m3 and 9.81 m/s2; US = metric / 3.813 (units alone)."""
    power = 1000 * 9.80665 * flow * head * 0.8
    metric = specific_speed.si(speed, power, head, "metric")
    assert specific_speed.si(speed, power, head) == pytest.approx(0.0060317 * metric, rel=1e-3)
    in_feet = speed * np.sqrt(power / 745.69987) / (head / 0.3048) ** 1.25
    assert specific_speed.si(speed, power, head, "us") == pytest.approx(in_feet, rel=1e-9)


def test_published_ranges_agree_with_each_other():
    """published: Dixon table 9.3 in radians against a printed encyclopaedia's ranges in rpm, hp and ft: impulse 1 to
    20, Francis 10 to 90. Ranges overlap for the most part; they are not the same ranges."""
    to_us = specific_speed.si(1.0, 1e3, 1.0, "us") / specific_speed.si(1.0, 1e3, 1.0)
    pelton_us = [ranges_of("pelton")[f"specific_speed_{end}"] * to_us for end in ("low", "high")]
    francis_us = [ranges_of("francis")[f"specific_speed_{end}"] * to_us for end in ("low", "high")]
    assert 1 <= pelton_us[0] < pelton_us[1] <= 20
    assert francis_us == pytest.approx([10, 90], rel=0.8) and francis_us[1] == pytest.approx(
        90, rel=0.1
    )


def test_an_unknown_system_is_refused():
    with pytest.raises(HydrokitError, match="did you mean 'metric'"):
        specific_speed("100 rpm", "1 kW", "10 m", "metrics")


# --- impulse machines -------------------------------------------------------------------------


def test_a_jet_no_runner_fits_is_refused_by_name():
    """published: Munson, Young, Okiishi, problem 12.9, p. 727: reject the Pelton machine."""
    with pytest.raises(HydrokitError, match="pelton runner: the jet is too large for its runner"):
        pelton("10 cfs", "20 ft", 1, "360 rpm", velocity_coefficient=1.0, speed_ratio=0.5)
    with pytest.raises(HydrokitError, match="turgo runner: the jet is too large"):
        turgo("10 cfs", "20 ft", 1, "360 rpm")


@steady
@given(
    flow=st.floats(1e-3, 1), head=st.floats(10, 500), jets=st.integers(1, 6), cv=st.floats(0.9, 1.0)
)
def test_jets_carry_the_flow_and_the_runner_moves_with_them(flow, head, jets, cv):
    size = pelton.si(flow, head, jets, None, cv, 0.46)
    assert jets * np.pi / 4 * size.jet_diameter_m**2 * size.jet_velocity_m_s == pytest.approx(
        flow, rel=1e-12
    )
    rim = np.pi * size.runner_diameter_m * size.speed_rpm / 60
    assert rim == pytest.approx(0.46 * np.sqrt(2 * 9.80665 * head), rel=1e-12)
    assert size.runaway_rpm / size.speed_rpm == pytest.approx(
        size.jet_velocity_m_s / rim, rel=1e-12
    )
    assert size.jet_ratio == pytest.approx(PELTON.jet_ratio)


def test_sizes_tell_what_is_tight_and_what_is_wide():
    tight = pelton("70 L/s", "60 m", 4, "1500 rpm")
    assert 6 < tight.jet_ratio < 9 and any(
        "buckets crowd" in each.message for each in tight.findings
    )
    wide = pelton("2 L/s", "60 m", 2, "500 rpm")
    assert any("windage" in each.message for each in wide.findings)
    assert all(
        any("without load" in each.message for each in size.findings) for size in (tight, wide)
    )


def test_bucket_is_best_at_half_the_speed_of_the_jet():
    """published: Webber, fig. 10.21-22: roughly a parabola, best near half of runaway. analytic: zero at both ends."""
    share = np.linspace(0, 1, 1001)
    found = bucket_efficiency(share, "165 deg", 0.95)
    assert share[found.argmax()] == 0.5
    assert found[0] == found[-1] == 0
    assert np.all(found <= 1)
    assert bucket_efficiency(0.5, "180 deg") == pytest.approx(1.0)


def test_turgo_takes_a_smaller_runner_than_pelton_and_turns_faster():
    """common practice: the reason Turgo runners are built."""
    one, other = turgo("12 L/s", "60 m", 2), pelton("12 L/s", "60 m", 2)
    assert one.runner_diameter_m < other.runner_diameter_m and one.speed_rpm > other.speed_rpm


def test_no_water_no_runner():
    with pytest.raises(HydrokitError, match="pelton.*flow must be above zero"):
        pelton("0 L/s", "60 m", 2)


# --- reaction machines ------------------------------------------------------------------------


@steady
@given(flow=st.floats(1e-3, 1), head=st.floats(2, 100), efficiency=st.floats(0.3, 0.99))
def test_a_pump_needs_more_head_and_flow_as_a_turbine(flow, head, efficiency):
    """published: review text quoting Ventrone: Ht/Hp > Qt/Qp > 1."""
    found = pump_backwards.si(flow, head, efficiency)
    for low_or_high in ("low", "high"):
        flow_ratio = getattr(found, f"flow_{low_or_high}_m3s") / flow
        head_ratio = getattr(found, f"head_{low_or_high}_m") / head
        assert head_ratio > flow_ratio > 1
    assert found.flow_low_m3s <= found.flow_high_m3s and found.head_low_m <= found.head_high_m


@steady
@given(head=st.floats(2, 50), other=st.floats(2, 50))
def test_another_head_keeps_the_efficiency(head, other):
    """analytic: power over flow times head stays."""
    _, flow, power = at_other_head.si(500.0, 0.3, 1e4, head, other)
    assert power / (flow * other) == pytest.approx(1e4 / (0.3 * head), rel=1e-12)


def test_runner_passes_its_flow():
    runner = axial_runner.si(0.3, 4.0, 2.0, 0.65, 0.35)
    area = np.pi / 4 * runner.diameter_m**2 * (1 - 0.35**2)
    assert area * 0.65 * np.sqrt(2 * 9.80665 * 4.0) == pytest.approx(0.3, rel=1e-12)
    with pytest.raises(HydrokitError, match="beside_the_hub must be above zero"):
        axial_runner("0.3 m^3/s", "4 m", hub_ratio=1.0)


def test_setting_height_falls_with_altitude_head_and_warmth():
    """independent: water boils at 1705.7 Pa at 15 degC (IAPWS-IF97) and ISO 2533 gives 101325 Pa at sea level."""
    sea = setting_height.si(12.0, 0.35, 0.0, 288.15, 0.0)
    assert sea == pytest.approx((101325 - 1705.7) / (999.10 * 9.80665) - 0.35 * 12.0, abs=0.002)
    assert setting_height.si(12.0, 0.35, 2500.0, 288.15, 0.0) == pytest.approx(
        sea - (101325 - 74682.5) / (999.10 * 9.80665), abs=0.002
    )
    assert (
        setting_height.si(12.0, 0.35, 0.0, 303.15, 0.0)
        < sea
        > setting_height.si(20.0, 0.35, 0.0, 288.15, 0.0)
    )
    with pytest.warns(RangeWarning, match="air leaves the water"):
        setting_height("2 m", 0.1, "0 m")


# --- choice -----------------------------------------------------------------------------------


def scores(*inputs, **options):
    return {each.kind: each.score for each in turbine_choice(*inputs, **options)}


def test_every_kind_is_listed_once_best_first_and_with_reasons():
    found = turbine_choice("60 L/s", "30 m", low_flow="10 L/s")
    assert sorted(each.kind for each in found) == sorted(kinds())
    assert [each.score for each in found] == sorted((each.score for each in found), reverse=True)
    for each in found:
        assert len(each.reasons) >= 4
        assert each.score == pytest.approx(np.prod([mark for _, mark in each.parts]))
        assert all(0 <= mark <= 1 for _, mark in each.parts)
    assert sum(each.score > 0.5 for each in found) > 1, (
        "several kinds suit this site: no single verdict"
    )


@pytest.mark.parametrize(
    "flow, head, low, better, worse",
    [
        ("5 L/s", "120 m", "1 L/s", "pelton", "kaplan"),
        ("2 m^3/s", "4 m", "0.6 m^3/s", "kaplan", "pelton"),
        ("60 L/s", "30 m", "10 L/s", "cross-flow", "francis"),
        ("300 L/s", "2.5 m", "60 L/s", "screw", "turgo"),
    ],
)
def test_choice_follows_common_practice(flow, head, low, better, worse):
    found = scores(flow, head, low_flow=low)
    assert found[better] > found[worse]


def test_silt_and_low_flow_count_against_those_that_suffer():
    clear, much = (scores("60 L/s", "40 m", silt=word) for word in ("clear", "much"))
    assert (
        much["pump run backwards"] / clear["pump run backwards"]
        < much["cross-flow"] / clear["cross-flow"]
    )
    steady_flow, low = scores("60 L/s", "20 m"), scores("60 L/s", "20 m", low_flow="15 L/s")
    assert low["propeller"] / steady_flow["propeller"] < 0.5 < low["turgo"] / steady_flow["turgo"]


def test_speed_and_belt_belong_together():
    for each in turbine_choice("60 L/s", "30 m", generator_speed="1800 rpm"):
        assert each.belt_ratio * each.speed_rpm == pytest.approx(1800)
    direct = {each.kind: each for each in turbine_choice("15 L/s", "90 m")}["pelton"]
    assert direct.belt_ratio == pytest.approx(1.0)
    # the number of jets it counts on can be built at that speed
    assert (
        pelton("15 L/s", "90 m", direct.jets, direct.speed).jet_ratio
        >= PELTON.jet_ratio_tight - 1e-6
    )


@pytest.mark.parametrize(
    "options, sentence",
    [
        ({"silt": "muddy"}, "silt must be clear, some or much"),
        ({"low_flow": "80 L/s"}, "low_flow must lie between"),
    ],
)
def test_choice_refuses(options, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        turbine_choice("60 L/s", "30 m", **options)
