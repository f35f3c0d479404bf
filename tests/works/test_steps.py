"""Steps at the valves: their order, their numbers from the line itself, and what stays in its dips."""

import math
from pathlib import Path

import numpy as np
import pytest
import shared

from hydrokit.running.line_steps import diversion_steps
from hydrokit.running.steps import penstock_steps, pools
from hydrokit.works.diversion import LineAir
from hydrokit.works.falling import FallingLine
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.pressures import penstock_pressures, valve_time
from hydrokit.works.profile import Profile, long_section

STUDIES = Path(__file__).resolve().parents[2] / "studies"
BORE = 0.1


def straight(length=200.0, fall=50.0):
    line = Line(
        (
            Pipe(
                BORE,
                length,
                1e-5,
                fittings=1.0,
                name="pvc",
                rating_pa=1.5e6,
                outside_diameter_m=0.114,
                wall_m=0.006,
                material="PVC",
            ),
        )
    )
    section = long_section(Profile([0.0, length], [fall, 0.0], True), line, 0.01)
    return section, line


def test_parts_come_in_order_and_are_numbered():
    section, line = straight()
    steps = penstock_steps(
        section, line, penstock_pressures(section, line, 0.01), {1: 4.7e5, 2: 4.5e5}, 5400.0
    )
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    parts = [step.part for step in steps]
    assert list(dict.fromkeys(parts)) == [
        "shut down",
        "drain",
        "fill and vent",
        "restart",
    ] and parts == sorted(parts, key=["shut down", "drain", "fill and vent", "restart"].index)
    assert all(step.action and step.why for step in steps)


def test_air_is_let_in_before_the_upper_valve_is_shut_and_out_before_pressure_comes():
    section, line = straight()
    actions = [step.action for step in penstock_steps(section, line)]

    def place(words):
        return next(number for number, action in enumerate(actions) if words in action)

    assert (
        place("Open the air vent just below")
        < place("Shut the upper valve")
        < place("Open the drain at the foot")
    )
    assert (
        place("Open the upper valve a crack")
        < place("runs solid")
        < place("gauge is steady")
        < place("Open the upper valve fully")
    )
    assert place("Shut the jets one after the other") < place("Open the breaker")
    # every drain shut and the highest vent open before water comes, with high points or without
    assert place("Shut every drain and") < place("See that the vent just below the upper valve")
    assert place("See that the vent just below") < place("Open the upper valve a crack")


def test_numbers_come_from_the_line():
    section, line = straight()
    pressures = penstock_pressures(section, line, 0.01)
    steps = penstock_steps(section, line, pressures, {1: 4.7e5, 2: 4.5e5}, 5400.0)
    by = {step.action.split(",")[0].split(";")[0]: step for step in steps}
    area = math.pi / 4 * BORE**2
    # Filled at 0.3 m/s: AWWA M51, 1 ft/s.
    assert by["Open the upper valve a crack: no more than this"].value == pytest.approx(0.30 * area)
    assert by["Let it fill for at least this long"].value == pytest.approx(200 / 0.30)
    assert by["Write down the gauge with everything shut"].value == pytest.approx(
        999.7 * 9.80665 * 50, rel=1e-4
    )
    assert (
        by["Open the first jet slowly"].value == 4.7e5
        and by["Open jet 2 only while the forebay spills"].value == 4.5e5
    )
    assert by["If the stop will last longer than this in frost: drain"].value == 5400.0
    assert by["Shut the jets one after the other"].value == valve_time(pressures)


@pytest.mark.parametrize("rating, least", [(1.5e6, 10.0), (0.53e6, None)])
def test_the_valve_takes_four_times_what_the_rating_asks(rating, least):
    line = Line(
        (
            Pipe(
                BORE,
                200.0,
                1e-5,
                fittings=1.0,
                name="pvc",
                rating_pa=rating,
                outside_diameter_m=0.114,
                wall_m=0.006,
                material="PVC",
            ),
        )
    )
    section = long_section(Profile([0.0, 200.0], [50.0, 0.0], True), line, 0.01)
    found = penstock_pressures(section, line, 0.01)
    if least is None:
        # Michaud by hand: 2 L V/(g dH) at the foot, the static head of 50 m under a rating of 0.53 MPa.
        speed, margin = 0.01 / (math.pi / 4 * BORE**2), 0.53e6 / (999.7 * 9.80665) - 50
        by_hand = 4 * 2 * 200 * speed / (9.80665 * margin)
        assert (
            by_hand * (1 - 1e-3)
            <= valve_time(found)
            < by_hand + 10 ** (math.floor(math.log10(by_hand)) - 1)
        )  # rounded up to two digits
    else:
        # The rating bears even a closing at once; only the column near the pond does not stay whole.
        assert (
            found.use_at_once < 1
            and found.safe_time_s < found.critical_time_s
            and valve_time(found) == max(4 * found.critical_time_s, least)
        )


def test_thin_pipe_is_warned_of_a_vacuum():
    thin = Line(
        (
            Pipe(
                BORE,
                200.0,
                1e-5,
                fittings=1.0,
                name="thin",
                rating_pa=0.6e6,
                outside_diameter_m=0.1026,
                wall_m=0.0013,
                material="PVC",
            ),
        )
    )
    section = long_section(Profile([0.0, 200.0], [50.0, 0.0], True), thin, 0.01)
    steps = penstock_steps(section, thin, penstock_pressures(section, thin, 0.01))
    vent = next(step for step in steps if step.action.startswith("Open the air vent"))
    assert "only" in vent.why and "folded flat" in vent.why and vent.caution == "vacuum"


# --- water that stays ---------------------------------------------------------------------------


def test_pools_by_hand():
    # Down to 60 m, up by 1 m to 80 m, down to the end: 20 m of rise and the length of fall that stands below the sill.
    profile = Profile([0.0, 60.0, 80.0, 150.0], [10.0, 4.0, 5.0, 0.0], True)
    line = Line((Pipe(BORE, 150.0, 1e-5),))
    (pool,) = pools(profile, line)
    back = 60.0 - (5.0 - 4.0) / (
        6.0 / 60.0
    )  # the falling leg reaches the sill's level 10 m before the low point
    assert pool.low_m == pytest.approx(60.0) and pool.length_m == pytest.approx(
        80.0 - back, abs=0.8
    )
    assert pool.volume_m3 == pytest.approx(math.pi / 4 * BORE**2 * 30.0, rel=0.03)


def test_a_steady_fall_keeps_nothing_and_half_a_bore_is_no_dip():
    line = Line((Pipe(BORE, 150.0, 1e-5),))
    assert pools(Profile([0.0, 150.0], [10.0, 0.0], True), line) == ()
    assert pools(Profile([0.0, 60.0, 80.0, 150.0], [10.0, 4.0, 4.04, 0.0], True), line) == ()


def test_drains_stand_where_the_water_stays_and_vents_where_the_air_does():
    chainage, level = [0.0, 60.0, 80.0, 150.0], [10.0, 4.0, 5.0, 0.0]
    line = Line((Pipe(BORE, 150.0, 1e-5),))
    section = long_section(Profile(chainage, level, True), line, 0.004, 10.3)
    steps = penstock_steps(section, line)
    (drain,) = [step for step in steps if step.kind == "volume"]
    assert drain.place_m == pytest.approx(60.0)
    falling = FallingLine(
        Profile([0, 60, 80, 150, 160, 200], [10, 4, 6, 2, 3, 0], True),
        Line((Pipe(BORE, 200.0, 1e-5),)),
        10.3,
    )
    vents = [
        step.place_m for step in diversion_steps(LineAir(falling, 0.004)) if step.caution == "air"
    ]
    assert vents == sorted(
        vents, reverse=True
    )  # this line's high points sink along it, so the lowest vent comes first
    assert all(any(abs(vent - high_point) < 1 for high_point in (80, 160)) for vent in vents)


def test_a_line_without_a_gate_is_told_of_none():
    falling = FallingLine(
        Profile([0, 60, 80, 150], [10, 4, 5, 0], True), Line((Pipe(BORE, 150.0, 1e-5),)), 10.3
    )
    gated, free = (diversion_steps(LineAir(falling, 0.004), gated=each) for each in (True, False))
    assert any("gate" in step.action for step in gated) and not any(
        "gate" in step.action for step in free
    )
    assert [step.number for step in free] == list(range(1, len(free) + 1))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["alder-burn", "hazel-beck", "saltfern-creek"])
def test_steps_of_the_demo_studies(name):
    steps = shared.demo(name).steps
    assert len(steps["penstock"]) > 10 and all(
        np.isfinite(step.value) or not step.kind for step in steps["penstock"]
    )
    if name == "saltfern-creek":
        places = sorted(
            step.place_m / 0.3048 for step in steps["diversion"] if step.kind == "volume"
        )
        assert places == pytest.approx([250, 475], abs=3)  # the low points of its survey


def test_the_gauge_is_told_as_it_hangs_and_nothing_is_promised_where_nothing_is_known():
    section, line = straight()
    known = penstock_steps(section, line, None, {0: 4.6e5, 1: 4.4e5})
    assert [step.value for step in known if step.kind == "gauge pressure"] == [4.6e5, 4.6e5, 4.4e5]
    unknown = next(
        step
        for step in penstock_steps(section, line)
        if step.action.startswith("Open the first jet")
    )
    assert "settle" not in unknown.action and unknown.kind == ""


# --- the penstock's own high points ----------------------------------------------------------


def humped(levels, step=100.0):
    """A penstock with its stations so far apart along the slope, its pond 1 m over its inlet."""
    chainage = np.arange(len(levels)) * step
    line = Line((Pipe(BORE, float(chainage[-1]), 1e-5, fittings=1.0),))
    return long_section(Profile(chainage, levels, True), line, 0.004, levels[0] + 1.0), line


def test_every_high_point_is_vented_before_the_drain_and_before_the_water():
    """Two high points, the last behind which the pipe falls to the jets, as the only one of a line was left out."""
    for levels, tops in (
        ([100.0, 80.0, 95.0, 40.0], [200.0]),
        ([100.0, 80.0, 95.0, 70.0, 85.0, 40.0], [200.0, 400.0]),
    ):
        section, line = humped(levels)
        steps = penstock_steps(section, line)
        drains = [step for step in steps if step.part == "drain"]
        opened = [step.number for step in drains if "vent at this high point" in step.action]
        assert [step.place_m for step in drains if step.number in opened] == tops
        foot = next(step.number for step in drains if "drain at the foot" in step.action)
        assert max(opened) < foot < min(step.number for step in drains if step.kind == "volume")
        fills = [step for step in steps if step.part == "fill and vent"]
        water = next(step.number for step in fills if "upper valve a crack" in step.action)
        before = [step for step in fills if "is open before any water" in step.action]
        assert [step.place_m for step in before] == tops and before[-1].number < water
        shut = [step for step in fills if step.action.startswith("Shut the vent at this high")]
        # low to high, and the gauge shows the water standing to that high point over the foot
        assert [step.place_m for step in shut] == tops[::-1]
        heights = [levels[int(step.place_m // 100)] - levels[-1] for step in shut]
        assert [step.value for step in shut] == pytest.approx(
            [999.70 * 9.80665 * height for height in heights], rel=1e-4
        )


def test_no_gauge_is_promised_behind_a_higher_point_further_down():
    section, line = humped([100.0, 80.0, 90.0, 70.0, 95.0, 40.0])
    shut = {
        step.place_m: step.kind
        for step in penstock_steps(section, line)
        if step.action.startswith("Shut the vent at this high")
    }
    assert shut == {200.0: "", 400.0: "gauge pressure"}


def test_a_steady_fall_has_no_high_point():
    section, line = straight()
    assert not any("high point" in step.action for step in penstock_steps(section, line))


def test_a_line_with_a_gate_is_vented_at_its_last_high_point_and_drained_from_there():
    falling = FallingLine(
        Profile([0, 60, 80, 150], [10, 4, 6, 0], True), Line((Pipe(BORE, 150.0, 1e-5),)), 10.3
    )
    steps = diversion_steps(LineAir(falling, 0.004), gated=True)
    assert [step.place_m for step in steps if step.caution == "air"] == [80.0]
    drains = [step for step in steps if step.part == "drain"]
    assert drains[0].place_m == 80.0 and "the gate at its end" in drains[1].action
