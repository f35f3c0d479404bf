"""Open water: what leaks on the way, the notch and the flood, gates that measure, what a pond spills and flushes."""

import math
from pathlib import Path

import fluids
import numpy as np
import pytest
import snow_study
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from hydrokit.errors import HydrokitError, InputError
from hydrokit.plant.chain import Chain, Passage
from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.report.pages.p03 import intake, ladder, pond, water_way
from hydrokit.stream.weirs import rectangular_weir
from hydrokit.study.opening import open_study
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
    """200 ft by 8 ft of sandy loam: 61 m × 2.44 m × 0.432 m a day, half and twice; 7 mm a day to the air."""
    found = open_loss(200 * FOOT, 8 * FOOT, 8 * FOOT, 0.432 / 86400)
    area = 1600 * FOOT**2
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


# --- from the site file -----------------------------------------------------------------------

SITE = """
[site]
name = "x"
[penstock]
head = "40 m"
[[penstock.pipe]]
inside_diameter = "125 mm"
length = "300 m"
roughness = "0.03 mm"
[turbine]
kind = "pelton"
jets = 2
design_flow = "14 L/s"
[generator]
water_to_wire = "55 %"
[intake]
capacity = "25 L/s"
"""
OPEN = """weir_length = "3 m"
banks = "0.6 m"
flood = "3 m^3/s ± 1 m^3/s"
notch_depth = "80 mm"
notch_width = "130 mm"
[[rights.residual]]
rule = "fixed"
flow = "7 L/s"
[[part]]
kind = "gate"
width = "0.4 m"
opening = "0.1 m"
head = "0.2 m"
gauged_lift = ["40 mm", "80 mm"]
gauged_head = ["0.2 m", "0.15 m"]
gauged_flow = ["19 L/s", "34 L/s"]
[[part]]
kind = "orifice"
diameter = "200 mm"
head = "0.2 m"
[[part]]
kind = "channel"
length = "120 m"
slope = "0.5 %"
width = "0.3 m"
depth = "0.4 m"
side_slope = 0.5
lining = "earth sandy loam"
soil = "sandy loam"
[[part]]
kind = "channel"
name = "<i>culvert</i>"
length = "20 m"
slope = "1 %"
diameter = "200 mm"
lining = "pipe smooth plastic"
[[part]]
kind = "open ground"
length = "50 m"
width = "2 m"
soil = "clay loam"
[[part]]
kind = "forebay"
area = "40 m^2"
depth = "0.3 m"
silt_depth = "0.2 m"
standpipe = "110 mm"
standpipe_fall = "1.0 m"
bank = "0.15 m"
"""


@pytest.fixture
def study(tmp_path):
    def made(more=""):
        (tmp_path / "site.toml").write_text(SITE + more, encoding="utf-8")
        return open_study(tmp_path)

    return made


def shown(module, study, view):
    return {name: getattr(module, name)(study, view) for name in module.__all__}


def test_open_ground_without_a_gauged_loss_leaks_by_its_ground(study):
    made = study(
        '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "2 m"\nsoil = "sandy loam"\n'
    )
    lost = 50 * 2 * (0.432 + 0.007) / 86400
    passage, limits = made.plant.reaching_si()
    assert passage.lost_m3s == pytest.approx(lost) and limits["intake"] == pytest.approx(
        0.025 - lost
    )
    assert made.plant.at_si(0.010).power_w == pytest.approx(
        study().plant.at_si(0.010 - lost).power_w
    )
    assert (
        made.view("metric").text(lost, "flow", 2) in pond.open_words(made, made.view("metric")).text
    )
    measured = study(
        '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "2 m"\nseepage = "0.9 m/d"\n'
    )
    assert measured.plant.reaching_si()[0].lost_m3s == pytest.approx(100 * (0.9 + 0.007) / 86400)


def test_a_gauged_loss_is_held_against_the_ground(study):
    part = '[[part]]\nkind = "open ground"\nlength = "50 m"\nwidth = "2 m"\nsoil = "sandy loam"\nloss = "{}"\n'
    view = study().view("metric")
    assert "more than its ground explains" in pond.open_words(study(part.format("20 %")), view).text
    assert "find the leak" in repr(water_way.changes_table(study(part.format("20 %")), view))
    assert "which its ground explains" in pond.open_words(study(part.format("4 %")), view).text
    assert (
        "less than its ground would take" in pond.open_words(study(part.format("0.5 %")), view).text
    )


@pytest.mark.parametrize("system", ["metric", "us"])
def test_everything_in_the_open_is_told(study, system):
    made = study(OPEN)
    view = made.view(system)
    told = {**shown(intake, made, view), **shown(pond, made, view)}
    text = " ".join(
        getattr(each, "text", None) or getattr(each, "alt", None) or repr(each)
        for each in told.values()
    )
    assert "<i>" not in " ".join(each.text for each in told.values() if hasattr(each, "text"))
    for says in (
        "too little in every month",
        "goes round the weir",
        "Fitted to 2 gaugings",
        "has not been gauged",
        "edge as a weir",
        "would be washed away",
        "never falls dry",
        "shooting",
        "tranquil",
        "clay loam",
    ):
        assert says in text, says
    assert (
        view.text(float(made.intake_weir.notch.before_the_intake_m3s), "flow")
        in told["weir_words"].text
    )
    assert view.text(made.overflow.level_m, "diameter", 2) in told["spill_words"].text
    levels = {each.level for each in made.findings(("intake_weir", "open_findings", "overflow"))}
    assert levels == {"problem", "caution", "note"}
    table = repr(water_way.changes_table(made, view))
    for what in (
        "a notch for the water that stays",
        "higher banks or a longer crest",
        "a wider overflow",
    ):
        assert what in table
    # What comes down is what the intake passes less what the channels and the meadow lose.
    assert made.overflow.arriving_m3s == pytest.approx(float(made.plant.reaching_si()[1]["intake"]))


def test_an_inclined_screen_at_low_water(study):
    made = study(
        '[[part]]\nkind = "inclined screen"\nrating = "25 L/s"\ndrop = "0.4 m"\nlength = "0.6 m"\nrated_by = "gauged"\n'
    )
    text = intake.toe_words(made, made.view("metric")).text
    assert "± 10 %, being gauged" in text and "not frazil" in text


@pytest.mark.parametrize(
    "part, says",
    [
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nlining = "concrete"',
            "give its width and depth",
        ),
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nwidth = "1 m"\ndepth = "0.3 m"',
            "say what it is lined with",
        ),
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nwidth = "1 m"\ndepth = "0.3 m"\nlining = "concret"',
            "did you mean 'concrete'",
        ),
        (
            'kind = "channel"\nlength = "9 m"\nslope = "1 %"\nwidth = "1 m"\ndepth = "0.3 m"\nlining = "concrete"\nfreeboard = "0.4 m"',
            "leaves no depth for the water",
        ),
        (
            'kind = "orifice"\ndiameter = "90 mm"\nhead = "0.2 m"\ngauged_head = ["0.2 m"]',
            "its gaugings need",
        ),
        (
            'kind = "orifice"\ndiameter = "90 mm"\nhead = "0.2 m"\ngauged_head = ["0.2 m"]\ngauged_flow = ["8 L/s", "9 L/s"]',
            "one value for each gauging",
        ),
        ('kind = "open ground"\nlength = "9 m"\nwidth = "1 m"\nsoil = "loam"', "clay loam"),
    ],
)
def test_mistakes_are_one_sentence(study, part, says):
    with pytest.raises(InputError, match=says) as caught:
        study(f"[[part]]\n{part}\n").read()
    assert len(caught.value.mistakes) == 1


@pytest.mark.parametrize(
    "part",
    [
        'kind = "open ground"\nlength = "100 km"\nwidth = "1000 m"', 'kind = "channel"\nlength = "0.1 m"\nslope = "0.001 %"\nwidth = "1 cm"\ndepth = "1 cm"\nlining = "earth sandy loam"',
        'kind = "channel"\nlength = "100 km"\nslope = "100 %"\ndiameter = "1 cm"\nmanning = 0.5\nsoil = "not known"', 'kind = "bottom intake"\nwidth = "100 m"\nlength = "100 m"\nbar = "0.1 mm"\ngap = "1 m"\nslope = "0 deg"',
        'kind = "forebay"\narea = "0.01 m^2"\ndepth = "1 mm"\nstandpipe = "10 m"\nstandpipe_fall = "0 m"\nbank = "100 m"\nspill_length = "1000 m"', 'kind = "forebay"\narea = "100 km^2"\ndepth = "100 m"\nstandpipe = "1 cm"\nbank = "1 mm"',
        'kind = "gate"\nwidth = "100 m"\nopening = "1 mm"\nhead = "100 m"', 'kind = "inclined screen"\nrating = "0.01 L/s"\nlength = "100 m"',
    ],
)  # fmt: skip
def test_extremes_are_told_without_a_crash(study, part):
    made = study(
        f'weir_length = "1 cm"\nnotch_depth = "1 mm"\nflood = "10000 m^3/s"\n[[rights.residual]]\nrule = "fixed"\nflow = "10000 m^3/s"\n[[part]]\n{part}\n'
    )
    for system in ("metric", "us"):
        view = made.view(system)
        for each in (
            *shown(intake, made, view).values(),
            *shown(pond, made, view).values(),
            water_way.changes_table(made, view),
            ladder.ladder_table(made, view),
        ):
            text = getattr(each, "text", None) or getattr(each, "alt", None) or repr(each)
            assert (
                "nan" not in text.replace("nance", "") and "inf " not in text and "None" not in text
            )


# --- the demos --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def studies():
    opened = {}
    yield lambda name: opened.setdefault(name, open_study(ROOT / "studies" / name))


def test_alder_burn_leaves_the_burn_its_water_first(studies):
    burn = studies("alder-burn")
    notch = burn.intake_weir.notch
    assert notch.before_the_intake_m3s == pytest.approx(0.012) and notch.short_months == ()
    assert notch.needed_m == pytest.approx(0.012 / (2 / 3 * 0.58 * math.sqrt(2 * G) * 0.09**1.5))
    assert "all months but October and November" in repr(
        intake.notch_table(burn, burn.view("metric"))
    )
    assert burn.intake_weir.peak_m3s == pytest.approx(2 * burn.intake_flood.flows[0][1].flow_m3s)


def test_an_upright_pipe_spills_and_flushes(tmp_path):
    made = snow_study.opened(tmp_path, snow_study.VENTED)
    over = made.overflow
    assert over.arriving_m3s == pytest.approx(0.96 * float(made.supply[0].capacity_si()))
    by_hand = (over.arriving_m3s / (1.44 * math.pi * 7 * 0.0254)) ** (2 / 3)
    assert over.level_m == pytest.approx(by_hand, rel=1e-6) and over.half_closed_m > over.level_m
    text = pond.flush_words(made, made.view("us")).text
    assert "empties the forebay" in text
    assert "which its ground explains" in pond.open_words(made, made.view("us")).text


def test_a_vent_beside_every_high_point_is_told(tmp_path):
    for number, (at, told) in enumerate(
        (("230 ft", False), ("228 ft", False), ("237 ft", True), ("223 ft", True))
    ):
        made = snow_study.opened(
            tmp_path / str(number), ("entry = 0.7", f'entry = 0.7\nvents = ["{at}"]')
        )
        stray = [each for each in made.line_air.findings if "no high point within" in each.message]
        assert bool(stray) == told
        if stray:
            assert (
                "the nearest is at 70.1 m" in stray[0].message
                and "level or along the slope" in stray[0].message
            )
