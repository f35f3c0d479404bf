"""Open water: what leaks on the way, the notch and the flood, gates that measure, what a pond spills and flushes."""

import math
from pathlib import Path

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain, Passage
from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.stream.weirs import rectangular_weir
from hydrokit.works.ditch import open_loss
from hydrokit.works.intake import drain_time
from hydrokit.works.open_channel import OpenChannel
from hydrokit.works.openings import fit_orifice
from hydrokit.works.rated import Rated
from hydrokit.works.screen_parts import BottomRack
from hydrokit.works.screens import bottom_rack_length
from hydrokit.works.spill import Overflow, OverflowPipe, SideSpill
from hydrokit.works.state import State
from hydrokit.works.weir import IntakeWeir, Notch

ROOT = Path(__file__).resolve().parents[2]
G, FOOT, GPM = 9.80665, 0.3048, 3.785411784e-3 / 60


# --- what leaks on the way --------------------------------------------------------------------


def plant(**changes):
    parts = dict(
        penstock=Penstock(MeasuredLoss(60e3), 50.0),
        jets=FixedJets((0.012,) * 4, 0.95),
        runner=Runner(steady(0.6)),
    )
    return Chain(**{**parts, **changes})


def test_seepage_by_hand():
    """120 m by 1.5 m of sandy loam: 180 m² × 0.432 m a day, half and twice; 7 mm a day to the air."""
    found = open_loss(120.0, 1.5, 1.5, 0.432 / 86400)
    area = 180.0
    assert found.seepage_m3s == pytest.approx(
        [area * rate / 86400 for rate in (0.216, 0.432, 0.864)]
    )
    assert found.middle_m3s == pytest.approx(area * (0.432 + 0.007) / 86400)
    assert found.low_m3s == pytest.approx(
        area * (0.216 + 0.004) / 86400
    ) and found.high_m3s == pytest.approx(area * (0.864 + 0.010) / 86400)
    assert found.frozen_m3s == pytest.approx(
        [area * heat / (999.84 * 333.55e3) for heat in (47, 140)]
    )
    wide = open_loss(10.0, 1.0, 1.0, 1.5e-6, (0.3e-6, 7e-6))
    assert wide.seepage_m3s == pytest.approx((3e-6, 15e-6, 70e-6)), (
        "a table whose rows lie further apart than half and twice is believed"
    )


def test_a_leak_takes_as_much_from_little_water_as_from_much():
    tight, leaky = plant(), plant(supply=(Rated(np.inf, 0.0, "open ground", lost_m3s=0.001),))
    flows = np.linspace(0.001, 0.03, 40)
    assert leaky.at_si(flows).power_w == pytest.approx(
        tight.at_si(flows - 0.001).power_w, rel=1e-12
    )
    assert (
        leaky.at_si(0.0009).power_w == 0
        and leaky.at_si(np.nan).power_w != leaky.at_si(np.nan).power_w
    )
    curve = leaky.curve()
    assert curve.power_si(flows) == pytest.approx(leaky.at_si(flows).power_w, rel=2e-3, abs=2.0)
    assert curve.power_si(0.001) == 0


def test_leaks_one_after_the_other():
    """A tenth lost, then 1 L/s, then a fifth: of 20 L/s (18 − 1) × 0.8 = 13.6 come down."""
    parts = (
        Rated(0.02, 0.1, "line"),
        Rated(np.inf, 0.0, "open ground", lost_m3s=0.001),
        Rated(0.016, 0.2, "ditch"),
    )
    passage, limits = plant(supply=parts).reaching_si()
    assert passage.leaves_si(0.020) == pytest.approx(0.0136) and passage.needs_si(
        0.0136
    ) == pytest.approx(0.020)
    assert limits == {
        "line": pytest.approx((0.018 - 0.001) * 0.8),
        "open ground": np.inf,
        "ditch": pytest.approx(0.016 * 0.8),
    }
    assert Passage(0.9, 0.002).leaves_si(0.001) == 0, "never less than nothing"


def test_the_limiting_component_at_one_flow_is_one_word():
    screened = plant(supply=(Rated(0.004, name="screen"),))
    found = screened.limiting_component(0.02)
    assert found.part == "screen" and found.next_part != "screen" and float(found.behind_w) > 0
    assert found.power_w == pytest.approx(screened.at_si(0.02).power_w)


def test_a_channel_against_a_general_library():
    """independent: fluids.open_flow.V_Manning, rectangle 0.4 m wide, 0.3 m of water."""
    made = OpenChannel(
        100.0, 0.004, 0.015, depth_m=0.4, width_m=0.4, freeboard_m=0.1, lost_m3s=0.002
    )
    flow = fluids.open_flow.V_Manning(0.12 / 1.0, 0.004, 0.015) * 0.12
    assert made.most.flow_m3s == pytest.approx(flow) and made.capacity_si() == pytest.approx(
        flow - 0.002
    )
    assert made.normal_depth_si(flow) == pytest.approx(0.3) and made.critical_depth_si(
        flow
    ) == pytest.approx(((flow / 0.4) ** 2 / G) ** (1 / 3))
    assert made.head_loss_si(flow) == pytest.approx(0.4)
    assert any(
        "run over" in each.message or "above the" in each.message
        for each in made.findings_si(1.2 * flow)
    )
    pipe = OpenChannel(20.0, 0.01, 0.010, depth_m=0.2, round=True)
    assert pipe.capacity_si() == pytest.approx(
        1.07571 * fluids.open_flow.V_Manning(0.05, 0.01, 0.010) * math.pi * 0.01, rel=1e-4
    )


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    share=st.floats(0, 1),
    more=st.floats(0, 1),
    depth=st.floats(0.05, 2),
    width=st.floats(0.05, 3),
    slope=st.floats(1e-4, 0.1),
)
def test_more_weeds_never_pass_more(share, more, depth, width, slope):
    made = OpenChannel(50.0, slope, 0.03, depth_m=depth, width_m=width, freeboard_m=depth / 4)
    assert made.capacity_si(State(max(share, more))) <= made.capacity_si(State(share)) + 1e-15


@pytest.mark.parametrize(
    "changes",
    [{"slope": 0.0}, {"depth_m": 0.1, "freeboard_m": 0.1}, {"width_m": 0.0}, {"share_lost": 1.2}],
)
def test_a_channel_that_cannot_be(changes):
    with pytest.raises(HydrokitError, match="OpenChannel 'channel'"):
        OpenChannel(
            **{**dict(length_m=10.0, slope=0.01, manning=0.02, depth_m=0.3, width_m=0.3), **changes}
        )


# --- the pond ---------------------------------------------------------------------------------


@pytest.mark.parametrize("inflow", [0.0, 0.001, 0.004])
def test_draining_against_an_integrator(inflow):
    """independent: scipy.integrate.solve_ivp of A dh/dt = Q − C a √(2gh)."""
    area, opening = 12.0, 0.0123
    time = drain_time.si(area, 0.9, 0.2, opening, 0.61, inflow)

    def falls(_, h):
        return (inflow - 0.61 * opening * np.sqrt(2 * G * np.maximum(h, 0))) / area

    there = solve_ivp(
        falls, (0, 10 * time), [0.9], events=lambda _, h: h[0] - 0.2, rtol=1e-10, atol=1e-12
    )
    assert time == pytest.approx(there.t_events[0][0], rel=1e-7)


def test_what_comes_may_hold_a_pond_up():
    held = 0.61 * 0.0123 * math.sqrt(2 * G * 0.2)
    assert drain_time.si(12.0, 0.9, 0.2, 0.0123, 0.61, 1.001 * held) == np.inf
    assert 0 < drain_time.si(12.0, 0.9, 0.2, 0.0123, 0.61, 0.999 * held) < np.inf
    assert drain_time.si(12.0, 0.2, 0.2, 0.0123, 0.61, 0.01) == 0
    times = drain_time.si(12.0, 0.9, 0.2, 0.0123, 0.61, np.array([0.0, 0.002, 0.005, 0.01]))
    assert np.all(np.diff(times[:3]) > 0) and times[3] > times[2]


def test_standpipe_goes_from_weir_to_hole_to_full_pipe():
    pipe = OverflowPipe(0.15, 0.6, 0.3)
    heads = np.linspace(0, 3, 400)
    flows, names = pipe.flow_si(heads), [pipe.regime_si(head) for head in heads]
    assert np.all(np.diff(flows) >= 0)
    assert names[1] == "edge as a weir" and names[-1] == "pipe running full"
    assert names == sorted(
        names, key=["edge as a weir", "edge as a hole", "pipe running full"].index
    ), "each follows the other"
    assert pipe.flow_si(0.05) == pytest.approx(1.44 * math.pi * 0.15 * 0.05**1.5)
    resistance = 1 + 0.8 + 0.02 * 0.3 / 0.15 + 0.5
    assert pipe.flow_si(3.0) == pytest.approx(
        math.pi / 4 * 0.15**2 * math.sqrt(2 * G * 3.3 / resistance)
    )


@settings(derandomize=True, max_examples=20, deadline=None)
@given(bore=st.floats(0.02, 1.0), edge=st.floats(0.05, 10), flow=st.floats(1e-5, 2))
def test_level_at_which_a_flow_spills(bore, edge, flow):
    both, alone = (
        Overflow((OverflowPipe(bore, 0.5, 1.0), SideSpill(edge)), flow, 0.2),
        Overflow((SideSpill(edge),), flow, 0.2),
    )
    assert both.flow_si(both.level_m) == pytest.approx(flow, rel=1e-9)
    assert both.level_m <= alone.level_m * (1 + 1e-9), "a second way out never raises the pond"
    assert both.half_closed_m > both.level_m
    assert bool(both.findings) == (both.half_closed_m > 0.2)


def test_a_bank_too_low_is_a_problem_and_unknown_water_is_none():
    tight = Overflow((OverflowPipe(0.1, 0.4, 1.0),), 0.03, 0.1)
    assert (
        tight.findings[0].level == "problem"
        and "before the bank is overtopped" in tight.findings[0].message
    )
    assert Overflow((SideSpill(1.0),), float("nan"), 0.1).findings == ()
    assert Overflow((SideSpill(3.0),), 0.03, float("nan")).findings == ()


# --- the weir ---------------------------------------------------------------------------------


def test_the_notch_against_a_measuring_weir():
    """independent: Kindsvater and Carter's narrow notch; ours is a hair wider, never narrower than needed."""
    notch = Notch(0.1, np.full(12, 0.008))
    measured = rectangular_weir.si(0.1, notch.needed_m, 3.0, 0.3)
    assert 0.008 * 0.99 <= measured <= 0.008 * 1.05
    assert notch.before_the_intake_m3s == pytest.approx(0.008) and notch.short_months == ()
    assert notch.flow_si(notch.head_si(0.005)) == pytest.approx(0.005)


def test_a_notch_too_narrow_names_its_months():
    keep = np.array([4.0] * 9 + [7.0, 7.0, 4.0]) / 1000
    notch = Notch(0.08, keep, 0.13)
    assert notch.short_months == (10, 11)
    found = IntakeWeir(3.0, notch=notch).findings
    assert found[0].level == "caution" and "before the intake takes any" in found[0].message
    assert IntakeWeir(3.0, notch=Notch(0.08, keep)).findings == ()


def test_the_flood_over_the_crest():
    """By hand: h = (Q/(⅔·0.58·√(2g)·4))^⅔; of a day's mean the peak counts twice."""
    weir = IntakeWeir(4.0, (2.0, 3.0, 4.5), "given", banks_m=0.5)
    depth = (3.0 / (2 / 3 * 0.58 * math.sqrt(2 * G) * 4.0)) ** (2 / 3)
    assert weir.peak_depth_m == pytest.approx(depth) and depth > 0.5
    assert weir.findings[0].level == "caution" and "goes round" in weir.findings[0].message
    assert IntakeWeir(4.0, (2.0, 3.0, 4.5), "daily means").peak_depth_m == pytest.approx(
        depth * 2 ** (2 / 3)
    )
    assert weir.flow_si(depth) == pytest.approx(3.0) and math.isnan(IntakeWeir(4.0).peak_depth_m)


def test_a_bottom_rack_swallows_what_its_length_is_for():
    rack = BottomRack(
        1.0,
        float(bottom_rack_length.si(0.2, 1.0, 0.01, 0.02, math.radians(12))),
        0.01,
        gap_m=0.01,
        slope_rad=math.radians(12),
    )
    assert rack.capacity_si() == pytest.approx(0.2)
    blocked = [rack.capacity_si(State(share)) for share in (0, 0.3, 0.6, 1.0)]
    assert np.all(np.diff(blocked) < 0) and blocked[-1] == 0


def test_an_orifice_made_a_meter():
    area = math.pi / 4 * 0.12**2
    heads, flows = (
        np.array([0.1, 0.2, 0.3]),
        0.66 * area * np.sqrt(2 * G * np.array([0.1, 0.2, 0.3])) * np.array([1.02, 1.0, 1 / 1.02]),
    )
    hole = fit_orifice.si(heads, flows, area)
    assert hole.coefficient == pytest.approx(0.66) and hole.scatter == pytest.approx(math.log(1.02))
    assert hole.flow_si(1.0, 0.2) == pytest.approx(flows[1])
    with pytest.raises(HydrokitError, match="one value for each gauging"):
        fit_orifice.si(heads, flows[:2], area)
