"""Air in the line: cases worked by hand, an independent walk, and what must always hold."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.units import Q_
from hydrokit.works import air, clearing, falling, venting
from hydrokit.works.air import regime
from hydrokit.works.filling import filling, flow_with_pockets
from hydrokit.works.filling_steps import filling_steps

SEA, HIGH = 10.3353, 7.5224  # metres of water at 10 °C (999.70 kg/m³): ISO 2533 at 0 and at 2,600 m


def line(levels, source, crest=None, vents=None, altitude=0.0, bore=0.1, step=100.0, fittings=0.5):
    """Stations `step` apart along the pipe."""
    chainage = np.arange(len(levels)) * step
    return falling.falling_line.si(
        chainage,
        np.array(levels, dtype=float),
        bore,
        1e-5,
        source,
        crest,
        vents,
        altitude,
        fittings=fittings,
        along_slope=True,
    )


# one high point: inlet 99, low point 80, high point 95, low point 65 with an upturned end; pond at 100
ONE = [99.0, 80.0, 95.0, 65.0]


def test_one_high_point_stalls():
    """Hand: 30 m of air under 5 m of water: 30·10.335/15.335 = 20.22 m; 100 − 94 − 20.22 = −14.22 m."""
    walked = filling(line(ONE, 100.0, crest=94.0))
    height = 30 * SEA / (SEA + 5)
    assert not walked.starts
    assert walked.stalls_m == pytest.approx(300.0)
    assert walked.margin_m == pytest.approx(100 - 94 - height, abs=0.002)
    assert walked.pockets[0].height_m == pytest.approx(20.22, abs=0.01)
    # the pond level that carries it: (10.335 + z − 95)(z − 94) = 30·10.335, solved by hand
    half = (SEA + 1) / 2
    needed = 95 - half + math.sqrt(half**2 + 30 * SEA - SEA)
    assert walked.source_needed_m == pytest.approx(needed, abs=0.003)
    assert needed == pytest.approx(107.55, abs=0.01)
    assert walked.vents_m == (200.0,)
    assert walked.pockets[0].worth_m == pytest.approx(height, abs=0.002)


def test_the_same_high_point_is_freed_by_a_lower_crest():
    """Hand: the crest must stand at 100 − 20.22 = 79.78 m or lower."""
    edge = 100 - 30 * SEA / (SEA + 5)
    assert not filling(line(ONE, 100.0, crest=edge + 0.01)).starts
    freed = filling(line(ONE, 100.0, crest=edge - 0.01))
    assert freed.starts and freed.stalls_m is None and freed.vents_m == ()


def test_the_same_high_point_is_freed_by_a_vent():
    assert filling(line(ONE, 100.0, crest=94.0, vents=[200.0])).starts
    # a vent 20 m down the leg (6 m lower) leaves the air above it: 6·10.335/15.335 = 4.04 m
    partly = filling(line(ONE, 100.0, crest=94.0, vents=[220.0]))
    assert partly.pockets[0].height_m == pytest.approx(6 * SEA / (SEA + 5), abs=0.01)
    assert partly.margin_m == pytest.approx(6 - 4.04, abs=0.01)


def test_a_free_end_holds_no_pocket_behind_the_last_high_point():
    walked = filling(line(ONE, 100.0))
    assert walked.starts and walked.pockets == ()
    assert walked.margin_m == pytest.approx(5.0)


def test_sea_level_against_2600_m():
    """Thinner air is squeezed further: 30·7.522/12.522 = 18.02 m against 20.22 m, so a crest at 81 m passes only up there."""
    low, high = (
        filling(line(ONE, 100.0, crest=81.0)),
        filling(line(ONE, 100.0, crest=81.0, altitude=2600.0)),
    )
    assert not low.starts and high.starts
    assert high.pockets[0].height_m == pytest.approx(30 * HIGH / (HIGH + 5), abs=0.005)
    assert low.pockets[0].height_m - high.pockets[0].height_m == pytest.approx(2.20, abs=0.02)


# two high points: 98 and 88 with legs of 10 and 30 m between
TWO = [99.0, 90.0, 98.0, 88.0, 92.0, 62.0]


def test_two_high_points_walk():
    """Hand: pocket 1: 10·10.335/12.335 = 8.379; pocket 2 under 100 − 92 − 8.379 < 0: the second high point is not reached."""
    walked = filling(line(TWO, 100.0, crest=70.0))
    assert not walked.starts
    assert walked.stalls_m == pytest.approx(400.0)
    assert walked.pockets[0].height_m == pytest.approx(10 * SEA / (SEA + 2), abs=0.005)
    assert "high point at 400 m" in walked.findings[0].message


def test_venting_either_of_two_high_points_gives_another_flow():
    """Hand, without friction: vent the upper one: h₂ = 30·10.335/(10.335 + 8) = 16.91, the lower one: h₁ = 8.38 m."""
    crest, source = 70.0, 102.0
    neither, upper, lower, both = (
        flow_with_pockets(line(TWO, source, crest, vents))
        for vents in (None, [200.0], [400.0], [200.0, 400.0])
    )
    still = [filling(line(TWO, source, crest, vents)) for vents in ([200.0], [400.0])]
    assert [sum(p.height_m for p in each.pockets) for each in still] == pytest.approx(
        [30 * SEA / (SEA + 10), 10 * SEA / (SEA + 4)], abs=0.01
    )
    flows = [neither.flow_m3s, upper.flow_m3s, lower.flow_m3s, both.flow_m3s]
    assert 0 < flows[0] < flows[1] < flows[2] < flows[3]
    assert both.flow_m3s == pytest.approx(both.full_bore_m3s, rel=1e-6)
    # With friction the pockets are larger than at rest.
    for run, rest in ((upper, still[0]), (lower, still[1])):
        assert run.air_m > sum(p.height_m for p in rest.pockets)
        assert run.flow_m3s < run.full_bore_m3s


def test_flow_with_a_pocket_by_fixed_point():
    """Independent: Darcy-Weisbach with the explicit factor of Swamee and Jain (1 % of Colebrook), iterated by hand.

    The leg falls 0.3 m for each metre; friction acts on the 300 m less the metres of pipe that hold air.
    """
    run = flow_with_pockets(line(ONE, 100.0, crest=75.0))
    flow, area = 0.01, math.pi / 4 * 0.1**2
    for _ in range(200):
        speed = flow / area
        factor = 0.25 / math.log10(1e-4 / 3.7 + 5.74 / (speed * 0.1 / 1.306e-6) ** 0.9) ** 2
        slope = factor * speed**2 / (2 * 9.80665 * 0.1)
        pressure = 5.0 - 200 * slope - 1.5 * speed**2 / (2 * 9.80665)
        air_height = min(30.0, 30 * SEA / (SEA + pressure))
        speed = math.sqrt(
            2
            * 9.80665
            * max(25 - air_height, 1e-6)
            / (1.5 + factor * (300 - air_height / 0.3) / 0.1)
        )
        flow = 0.8 * flow + 0.2 * speed * area
    assert run.flow_m3s == pytest.approx(flow, rel=0.01)
    assert run.pockets[0].height_m == pytest.approx(air_height, rel=0.01)


def test_a_steady_fall_runs_part_full_and_never_locks():
    """28 m on 300 m, 100 mm: no high point, no pocket; the inlet under 5 cm over its axis passes far less than the bore."""
    steady = line([99.95, 90.0, 80.0, 72.0], 100.0)
    assert filling(steady).starts and filling(steady).pockets == ()
    runs = regime(steady)
    assert runs.kind == "part full"
    assert runs.flow_m3s == runs.inlet_m3s < runs.full_bore_m3s
    assert runs.tight_m == ()
    assert "open the gate of a filled line slowly" in runs.findings[0].message
    # an upturned end still holds no pocket: the air goes back up and out through the inlet
    assert filling(line([99.95, 90.0, 80.0, 72.0], 100.0, crest=73.0)).pockets == ()
    assert regime(steady, inlet_flow_m3s=1.0).kind == "full"
    assert (
        regime(line(ONE, 100.0), inlet_flow_m3s=0.001).kind == "part full between full low points"
    )


def test_full_bore_flow():
    """√(2gH/(1 + ΣK + fL/D)), f by Swamee and Jain within 1 % of Colebrook, so 0.5 % of flow."""
    full = line([100.0, 90.0, 80.0, 72.0], 100.0).full_bore_m3s
    speed = full / (math.pi / 4 * 0.01)
    factor = 0.25 / math.log10(1e-4 / 3.7 + 5.74 / (speed * 0.1 / 1.306e-6) ** 0.9) ** 2
    assert speed == pytest.approx(math.sqrt(2 * 9.80665 * 28 / (1.5 + factor * 3000)), rel=0.005)


def test_a_dip_shallower_than_the_bore_is_no_dip():
    assert filling(line([99.0, 90.0, 89.95, 90.0, 60.0], 100.0, crest=61.0)).pockets == ()
    assert len(filling(line([99.0, 90.0, 89.8, 90.0, 60.0], 100.0, crest=61.0)).pockets) == 1


def test_high_point_above_the_pond_cannot_be_filled():
    high = line([99.0, 80.0, 103.0, 65.0], 100.0)
    walked = filling(high)
    assert not walked.starts and walked.stalls_m == pytest.approx(200.0) and walked.vents_m is None
    assert walked.source_needed_m == pytest.approx(103.0, abs=0.001)
    assert flow_with_pockets(high).flow_m3s == 0


def test_a_small_margin_is_said_to_be_uncertain():
    walked = filling(line(ONE, 100.0, crest=79.7))
    assert walked.starts and walked.uncertainty_m == pytest.approx(
        0.2
    )  # source, crest, top and bottom of one pocket
    assert any("survey" in finding.message for finding in walked.findings)


@pytest.mark.parametrize(
    "levels, source, crest, sentence",
    [
        ([99, 80], 98.0, None, "below the pipe"),
        ([99, 80], 100.0, 70.0, "below the end"),
        ([99, 80], 100.0, 100.0, "nothing can run out"),
        ([80, 99], 100.0, None, "does not fall"),
        ([99, math.nan, 80], 100.0, None, "missing"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(levels, source, crest, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        line(levels, source, crest)


# --- an independent walk, and properties ------------------------------------------------------

drops = st.lists(st.tuples(st.floats(1, 40), st.floats(0.5, 20)), min_size=1, max_size=8)


def zigzag(pairs):
    levels = [500.0]
    for fall, rise in pairs:
        levels += [levels[-1] - fall - 1, levels[-1] - fall - 1 + rise]
    return [*levels, min(levels) - 30.0]


def walk_by_hand(levels, source, crest, air_head):
    """Even slopes, so the height of a compressed pocket is the leg's height over the compression."""
    total, least = 0.0, math.inf
    for top, low in zip(levels[2::2], [*levels[3::2]]):
        left = source - top - total
        least = min(least, left)
        total += (top - low) * air_head / (air_head + max(left, 0.0))
    return total, min(least, source - crest - total)


@given(drops, st.floats(0.2, 30), st.floats(0.5, 25))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_walk_agrees_with_an_independent_one(pairs, above, crest_above_end):
    levels = zigzag(pairs)
    source, crest = 500.0 + above, levels[-1] + crest_above_end
    walked = filling(line(levels, source, crest))
    total, margin = walk_by_hand(levels, source, crest, SEA)
    assert sum(p.height_m for p in walked.pockets) == pytest.approx(total, abs=0.02 + 1e-3 * total)
    assert walked.margin_m == pytest.approx(margin, abs=0.02 + 1e-3 * total)


@given(drops, st.floats(0.2, 30), st.floats(0.5, 25), st.floats(0.01, 40))
@settings(max_examples=20, deadline=None, derandomize=True)
def test_raising_the_source_never_stops_a_line_and_never_slows_it(
    pairs, above, crest_above_end, rise
):
    levels = zigzag(pairs)
    crest = levels[-1] + crest_above_end
    low, high = line(levels, 500 + above, crest), line(levels, 500 + above + rise, crest)
    assert filling(high).starts or not filling(low).starts
    assert filling(high).margin_m >= filling(low).margin_m + rise - 1e-9
    assert flow_with_pockets(high).flow_m3s >= flow_with_pockets(low).flow_m3s - 1e-12


@given(drops, st.floats(0.2, 30), st.floats(0.5, 25), st.data())
@settings(max_examples=20, deadline=None, derandomize=True)
def test_venting_never_makes_it_worse_and_air_never_adds_head(pairs, above, crest_above_end, data):
    levels = zigzag(pairs)
    crest, source = levels[-1] + crest_above_end, 500 + above
    places = [100.0 * (2 + 2 * index) for index in range(len(pairs))]
    vents = data.draw(st.lists(st.sampled_from(places), unique=True, max_size=3))
    more = data.draw(st.sampled_from(places))
    few, many = line(levels, source, crest, vents), line(levels, source, crest, [*vents, more])
    assert filling(many).margin_m >= filling(few).margin_m - 1e-9
    less, greater = flow_with_pockets(few), flow_with_pockets(many)
    assert greater.flow_m3s >= less.flow_m3s * (1 - 1e-9)
    for run in (less, greater):
        assert run.air_m >= 0
        assert run.flow_m3s <= run.full_bore_m3s * (1 + 1e-9)


@given(drops, st.floats(0.2, 30), st.floats(0.5, 25))
@settings(max_examples=20, deadline=None, derandomize=True)
def test_the_remedies_named_do_free_the_line(pairs, above, crest_above_end):
    levels = zigzag(pairs)
    crest = levels[-1] + crest_above_end
    walked = filling(line(levels, 500 + above, crest))
    raised = max(walked.source_needed_m, 500.0) + 1e-6
    assert filling(line(levels, raised, crest)).starts
    if not walked.starts:
        assert walked.source_needed_m > 500 + above
        assert not filling(line(levels, walked.source_needed_m - 1e-3, crest)).starts
        if walked.vents_m is not None:
            assert filling(line(levels, 500 + above, crest, walked.vents_m)).starts
            assert not filling(line(levels, 500 + above, crest, walked.vents_m[:-1])).starts


def test_upper_pockets_are_worth_most_where_legs_are_alike():
    """The deeper a pocket lies under the pond, the more it is squeezed; its vent gives back less."""
    pockets = filling(line([500.0, 470, 490, 440, 460, 410, 430, 380], 501.0, 382.0)).pockets
    heights, worth = [p.height_m for p in pockets], [p.worth_m for p in pockets]
    assert heights == sorted(heights, reverse=True) and worth == sorted(worth, reverse=True)
    # by hand: 50·10.335/21.335 = 24.22, under 41 − 24.22 m: 50·10.335/27.115 = 19.06, under 27.72 m: 13.58
    assert heights == pytest.approx([24.22, 19.06, 13.58], abs=0.02)


# --- clearing, outlet, siphon, steps ----------------------------------------------------------


def test_the_band_holds_every_printed_relation_and_the_conflicts():
    """At one degree the printed criteria spread from 0.14 to 0.86 of √(gD)."""
    low, high = clearing.clearing_band.si(1.0, math.radians(1.0))
    scale = math.sqrt(9.80665)
    assert low / scale == pytest.approx(0.141, abs=0.001) and high / scale == pytest.approx(
        0.858, abs=0.001
    )
    for angle in np.radians([0.5, 1, 5, 10, 20, 30]):
        low, high = clearing.clearing_band.si(0.2, angle)
        # four readings of Kalinske and Bliss, written out here on their own
        tangent = math.tan(angle)
        for number in (0.707 * tangent, 0.81 * tangent, tangent, 0.35 * tangent + 0.18):
            speed = 4 / math.pi * math.sqrt(number * 9.80665 * 0.2)
            assert low * (1 - 1e-3) <= speed <= high * (1 + 1e-3)


def test_small_pipe_and_steep_slope_are_warned_of():
    with pytest.warns(RangeWarning, match="under 100 mm"):
        clearing.clearing_band("75 mm", "5 deg")
    with pytest.warns(RangeWarning, match="30 degrees"):
        clearing.clearing_velocity("150 mm", "40 deg")
    with pytest.raises(HydrokitError, match="relation"):
        clearing.clearing_velocity("150 mm", "4 deg", "nobody 1900")
    with pytest.raises(HydrokitError, match="between 0 and 90"):
        clearing.clearing_band("150 mm", "-4 deg")


def test_verdict_follows_the_band():
    dipped = line([99.0, 80.0, 95.0, 65.0], 100.0, crest=66.0, bore=0.15)
    legs = venting.clearing(dipped, 0.001)
    assert len(legs) == 1 and legs[0].verdict == "stays" and legs[0].findings == ()
    low, high = clearing.clearing_band.si(0.15, math.asin(0.3))
    area = math.pi / 4 * 0.15**2
    assert (legs[0].low_m3s, legs[0].high_m3s) == pytest.approx((low * area, high * area))
    assert venting.clearing(dipped, legs[0].high_m3s * 1.01)[0].verdict == "goes"
    assert venting.clearing(dipped, (low + high) / 2 * area)[0].verdict == "not settled"
    assert (
        "under 100 mm"
        in venting.clearing(line(ONE, 100.0, crest=66.0, bore=0.06), 0.001)[0].findings[0].message
    )


def test_the_cavity_in_two_dimensions_fills_half_the_depth():
    """Benjamin's plane case, h/D = V/√(gD) = 1/2, by the same three balances: the method, not the circle."""
    from scipy.optimize import brentq

    def unbalanced(h):  # energy u² = 2(1 − h), continuity V = u·h, momentum V²/2 + 1/2 = u²h + h²/2
        square = 2 * (1 - h)
        return square * h * h / 2 + 0.5 - square * h - h * h / 2

    assert brentq(unbalanced, 0.2, 0.9) == pytest.approx(0.5)


def test_outlet_events_by_name():
    """Three events, three limits: 0.3, 0.542 and 2.544 of √(gD)."""
    scale = math.pi / 4 * math.sqrt(9.80665 * 0.15**5)
    flows = Q_(np.array([0.29, 0.31, 0.53, 0.55, 2.53, 2.56]) * scale, "m^3/s")
    names = clearing.outlet_event(flows, "150 mm")
    assert list(names) == [
        "air escapes upwards",
        "air can creep in",
        "air can creep in",
        "air is kept out",
        "air is kept out",
        "the end runs full",
    ]
    with pytest.warns(RangeWarning, match="end depth"):
        clearing.outlet_depth("0.1 L/s", "150 mm")


def test_an_upturned_end_seals_and_fills_the_line_back_to_its_crest():
    """At rest the line is full to where the crown meets the crest's level: 72 + (82 − 72)·(x)…, by hand 80.05 m of axis."""
    sealed = line([99.95, 90.0, 80.0, 70.0], 100.0, crest=80.1)
    still = venting.outlet(sealed, 1e-9)
    assert still.sealed and still.event == "sealed by its crest"
    # the crown is 0.05 above the axis: full from where the axis is at 80.05, half a metre up the second reach
    assert still.full_from_m == pytest.approx(200.0 - 0.5, abs=0.01)
    assert venting.outlet(sealed, 0.005).full_from_m < still.full_from_m  # plus friction
    open_end = venting.outlet(line([99.95, 90.0, 80.0, 70.0], 100.0), 0.001)
    assert not open_end.sealed and open_end.event == "air escapes upwards"
    assert any("upturned end" in finding.message for finding in open_end.findings)
    low_crest = filling(line([99.95, 90.0, 80.0, 70.0], 100.0, crest=70.02))
    assert any("does not seal" in finding.message for finding in low_crest.findings)


def test_throttling_brings_the_grade_to_the_crown():
    humped = line([99.0, 80.0, 95.0, 65.0], 100.0, crest=66.0)
    limit = venting.throttle(humped)
    assert limit.decides_m == pytest.approx(200.0)
    grade, crown = venting.running_grade(humped, limit.flow_m3s), humped.reaches.crown_m
    assert (grade - crown)[1:].min() == pytest.approx(0.0, abs=1e-6)
    assert limit.gate_head_m == pytest.approx(humped.head_m - humped.needed_si(limit.flow_m3s))
    assert any(
        "throttle at the end" in f.message
        for f in venting.outlet(humped, limit.flow_m3s * 1.2).findings
    )
    never = venting.outlet(line([99.0, 80.0, 103.0, 65.0], 100.0), 0.001)
    assert never.throttle.flow_m3s == 0 and any(
        "stands above the pond" in f.message for f in never.findings
    )


def test_a_siphon_is_bounded_by_vapour_pressure_at_its_altitude():
    levels = [99.0, 80.0, 102.0, 40.0]
    low, high = line(levels, 100.0), line(levels, 100.0, altitude=2600.0)
    assert venting.siphon_flow(low) > venting.siphon_flow(high) > 0
    for site, atmosphere in ((low, 101325.0), (high, 73748.9)):
        limit = (atmosphere - 1228.2) / (999.70 * 9.80665)  # ISO 2533, IAPWS at 10 °C
        (top,) = venting.siphon(site, venting.siphon_flow(site))
        assert top.limit_m == pytest.approx(limit, rel=2e-3)
        assert top.suction_m == pytest.approx(limit, rel=2e-3)
        assert venting.siphon(site, 1.1 * venting.siphon_flow(site))[0].breaks
        assert not venting.siphon(site, 0.8 * venting.siphon_flow(site))[0].breaks


def test_the_inlet_draws_bubbles_when_its_cover_is_too_small():
    shallow = line([99.8, 90.0, 70.0], 100.0)
    assert venting.inlet_air(shallow, 0.010).draws_air
    assert venting.inlet_air(shallow, 0.010).findings
    assert not venting.inlet_air(line([98.0, 90.0, 70.0], 100.0), 0.010).draws_air


def test_steps_of_filling_go_from_low_to_high_with_the_gate_shut():
    two = line(TWO, 100.0, crest=63.0, vents=[200.0, 400.0])
    steps = filling_steps(two, 0.02)
    assert [step.kind for step in steps] == [
        "shut gate",
        "fill",
        "vent",
        "vent",
        "wait",
        "open gate",
        "watch",
    ]
    assert steps[0].head_m == pytest.approx(38.0) and steps[0].place_m == pytest.approx(500.0)
    assert steps[1].flow_m3s == pytest.approx(0.30 * math.pi / 4 * 0.01)
    assert [step.place_m for step in steps if step.kind == "vent"] == [
        400.0,
        200.0,
    ]  # 92 m, then 98 m
    assert "plug" in steps[3].text  # at 20 L/s the grade is below the crown of the upper high point
    assert steps[5].flow_m3s <= 0.02
    siphon_steps = filling_steps(
        line([99.0, 80.0, 103.0, 65.0, 66.0, 50.0], 100.0, vents=[200.0]), 0.005
    )
    assert any("pump or suction" in step.text for step in siphon_steps)


def test_stations_and_joints_are_cut_once():
    """A joint between stations splits a reach; volume and length stay those of the pipes."""
    from hydrokit.works.pipe import Line, Pipe
    from hydrokit.works.profile import Profile

    profile = Profile(np.array([0.0, 100, 200, 300]), np.array([99.0, 90, 80, 70]), True)
    two_pipes = Line((Pipe(0.15, 130.0, 1e-5, fittings=0.5), Pipe(0.1, 170.0, 1e-5)))
    cut = falling.FallingLine(profile, two_pipes, 100.0).reaches
    assert cut.length_m == pytest.approx([100, 30, 70, 100])
    assert cut.volume_m3[-1] == pytest.approx(two_pipes.volume_m3)
    assert list(cut.fittings) == [0.5, 0, 0, 0]
    site = falling.FallingLine(profile, two_pipes, 100.0)
    assert site.spent_si(0.01)[-1] == pytest.approx(two_pipes.loss_si(0.01, 1.3063e-6), rel=1e-3)


def test_everyday_units():
    mixed = falling.falling_line(
        ["0 m", "40 m", "70 m", "150 m"],
        ["99 m", "90 m", "96 m", "70 m"],
        "100 mm",
        "0.01 mm",
        "100 m",
        crest_level="90 m",
    )
    us = falling.falling_line(
        Q_(np.array([0, 40, 70, 150]) / 0.3048, "ft"),
        Q_(np.array([99, 90, 96, 70]) / 0.3048, "ft"),
        Q_(0.1 / 0.0254, "in"),
        "0.01 mm",
        Q_(100 / 0.3048, "ft"),
        crest_level=Q_(90 / 0.3048, "ft"),
    )
    assert filling(us).margin_m == pytest.approx(filling(mixed).margin_m, rel=1e-9)
    assert filling(us).source_needed.to("m").magnitude == pytest.approx(
        filling(mixed).source_needed_m
    )
    assert filling(us).margin.check("[length]") and flow_with_pockets(us).flow.check(
        "[length]**3/[time]"
    )
    assert regime(us).flow.check("[length]**3/[time]") and venting.throttle(us).flow.check(
        "[length]**3/[time]"
    )
    with pytest.raises(HydrokitError, match="3 stretches"):
        falling.falling_line(
            ["0 m", "40 m", "70 m", "150 m"],
            ["99 m", "90 m", "96 m", "70 m"],
            ["100 mm", "90 mm"],
            "0.01 mm",
            "100 m",
        )
    assert all(
        name in vars(module)
        for module in (air, clearing, falling, venting)
        for name in module.__all__
    )
