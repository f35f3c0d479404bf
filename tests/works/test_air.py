"""Air in the line: cases worked by hand, an independent walk, and what must always hold."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError
from hydrokit.works import falling
from hydrokit.works.air import regime
from hydrokit.works.filling import filling, flow_with_pockets

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
