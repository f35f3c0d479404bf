"""Water stopped at once in lines of several pipes: the characteristics against closed plateaus and a loop written here."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shared
import small_study

from hydrokit.works.bends import profile_bends
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.pipe_sizes import pipe_size
from hydrokit.works.pressures import penstock_pressures
from hydrokit.works.profile import Profile, long_section
from hydrokit.works.transient import rejoining, water_hammer

G = 9.80665


def smooth(*pipes):
    """Pipes of (bore, length) from the pond down, next to no friction."""
    return Line(tuple(Pipe(bore, length, 0.0, loss_factor=1e-9) for bore, length in pipes))


# Frictionless lines shut at once (theory of characteristics: transmitted and reflected at the joint by the
# areas over the wave speeds; first plateau a·V/g of the pipe at the valve). Head over steady at times, greatest in 50 s.
SERIES = {
    "small below": (
        smooth((0.15, 200.0), (0.09, 150.0)),
        (400.0, 300.0),
        0.006,
        28.842,
        {1.0: 8.575, 2.0: -34.868, 3.0: 15.927, 4.0: 23.676},
        34.66,
    ),
    "large below": (
        smooth((0.09, 150.0), (0.15, 200.0)),
        (300.0, 400.0),
        0.006,
        13.844,
        {1.0: 23.573, 2.0: 2.720, 3.0: -21.661, 6.0: 24.304},
        24.304,
    ),
    "stiff below": (
        smooth((0.15, 300.0), (0.15, 300.0)),
        (400.0, 1200.0),
        0.010,
        69.221,
        {0.5: 0.0, 1.0: 34.611, 1.5: 17.305, 2.0: -77.874},
        88.3,
    ),
    "soft below": (
        smooth((0.15, 300.0), (0.15, 300.0)),
        (1200.0, 400.0),
        0.010,
        23.074,
        {1.5: 46.148, 2.0: 11.537},
        48.75,
    ),
}


@pytest.mark.parametrize("name", SERIES)
def test_two_pipes_shut_at_once_follow_the_characteristics(name):
    line, speeds, flow, first, plateaus, greatest = SERIES[name]
    run = water_hammer.si(line, np.array(speeds), flow, 500.0, [0.0], [0.0], 50.0, reaches=100)
    over = (run.valve_head_m - 500.0) * G / 9.81  # the plateaus were worked out with g = 9.81
    assert over[1] == pytest.approx(first, abs=2e-3)
    for time, head in plateaus.items():
        after = np.searchsorted(run.time_s, time) + 2
        assert over[after] == pytest.approx(head, abs=5e-3), time
    assert over.max() == pytest.approx(greatest, rel=5e-3)


def loop(lengths, bores, speeds, losses_per_q2, static, flow, steps, per_pipe):
    """Method of characteristics written out node by node, each pipe a whole number of reaches of one time step."""
    area = [math.pi / 4 * bore**2 for bore in bores]
    impedance = [
        speed / (G * each)
        for speed, each, count in zip(speeds, area, per_pipe)
        for _ in range(count)
    ]
    resistance = [
        loss / count for loss, count in zip(losses_per_q2, per_pipe) for _ in range(count)
    ]
    head, now = [static], [flow] * (len(impedance) + 1)
    for each in resistance:
        head.append(head[-1] - each * flow**2)
    highest = head[-1]
    for _ in range(steps):
        new_head, new_flow = head[:], now[:]
        for node in range(len(head)):
            up = (
                None
                if node == 0
                else (
                    head[node - 1] + impedance[node - 1] * now[node - 1],
                    impedance[node - 1] + resistance[node - 1] * abs(now[node - 1]),
                )
            )
            down = (
                None
                if node == len(head) - 1
                else (
                    head[node + 1] - impedance[node] * now[node + 1],
                    impedance[node] + resistance[node] * abs(now[node + 1]),
                )
            )
            if up is None:
                new_head[node], new_flow[node] = static, (static - down[0]) / down[1]
            elif down is None:
                new_head[node], new_flow[node] = up[0], 0.0
            else:
                new_flow[node] = (up[0] - down[0]) / (up[1] + down[1])
                new_head[node] = down[0] + down[1] * new_flow[node]
        head, now = new_head, new_flow
        highest = max(highest, head[-1])
    return highest - static


def laid(line, flow, closing=None, head=60.0):
    length = float(line.length_m)
    section = long_section(Profile([0.0, length], [head - 0.5, 0.0], True), line, flow, head)
    return section, penstock_pressures(section, line, flow, closing)


LARGE, SMALL = "PVC-U PN 10 160 mm", "PVC-U PN 16 90 mm"


def wave(pipe):
    """Of PVC, 2.76 GPa, and water of 2.09 GPa: the thin wall's formula."""
    return math.sqrt(2.09e9 / 999.7 / (1 + 2.09e9 * pipe.diameter_m / (2.76e9 * pipe.wall_m)))


@pytest.mark.parametrize("order", [(LARGE, SMALL), (SMALL, LARGE)])
def test_a_penstock_of_two_sizes_agrees_with_a_loop_written_here(order):
    flow, made = 0.006, [pipe_size(name).pipe(1.0) for name in order]
    speeds = [wave(pipe) for pipe in made]
    lengths = [0.5 * speed for speed in speeds]  # half a second each, so that both cut alike
    line = Line(tuple(pipe_size(name).pipe(length) for name, length in zip(order, lengths)))
    _, found = laid(line, flow)
    losses = [float(pipe.loss_si(flow, 1.3063e-6)) / flow**2 for pipe in line.pipes]
    by_hand = loop(
        lengths,
        [pipe.diameter_m for pipe in line.pipes],
        speeds,
        losses,
        60.0,
        flow,
        25 * 60 * 2,
        (30, 30),
    )
    assert found.at_once_m == pytest.approx(by_hand, rel=2e-3)
    mean_speed = found.wave_speed_ms * found.velocity_ms / G  # the wrong answer, of the means
    assert abs(found.at_once_m / mean_speed - 1) > 0.1


@pytest.mark.parametrize("closing", [0.1, 0.5, 2.0, 8.0])
@pytest.mark.parametrize("order", [(LARGE, SMALL), (SMALL, LARGE), (LARGE,)])
def test_no_closing_raises_more_than_one_at_once(order, closing):
    line = Line(tuple(pipe_size(name).pipe(150.0) for name in order))
    _, found = laid(line, 0.006, closing)
    assert found.surge_m <= found.at_once_m * (1 + 1e-3)
    assert np.all(found.highest_pa <= found.at_once_pa * (1 + 1e-9))
    if found.safe_time_s == 0:
        assert found.use_of_rating <= 1 and found.use_at_once <= 1 + 1e-6


def test_a_pipe_split_in_two_changes_nothing():
    whole = Line((pipe_size(LARGE).pipe(210.0), pipe_size(SMALL).pipe(120.0)))
    split = Line(
        (pipe_size(LARGE).pipe(105.0), pipe_size(LARGE).pipe(105.0), pipe_size(SMALL).pipe(120.0))
    )
    (_, one), (_, two) = (laid(each, 0.006, 4.0, 55.0) for each in (whole, split))
    for name in (
        "at_once_m",
        "surge_m",
        "safe_time_s",
        "wave_speed_ms",
        "velocity_ms",
        "critical_time_s",
        "use_of_rating",
        "use_at_once",
        "vacuum_safety",
    ):
        assert getattr(two, name) == pytest.approx(getattr(one, name), rel=1e-9), name


def test_the_safe_time_holds_when_it_is_followed():
    line = Line((pipe_size(SMALL).pipe(150.0), pipe_size("PVC-U PN 6 160 mm").pipe(200.0)))
    section, found = laid(line, 0.006, None, 50.0)
    assert 0 < found.safe_time_s < 60
    slow = penstock_pressures(section, line, 0.006, found.safe_time_s)
    assert slow.use_of_rating <= 1 + 1e-6 and not any(
        "part at" in each.message and each.level == "problem" for each in slow.findings
    )


def test_a_column_that_parts_at_once_is_told_and_no_promise_is_made():
    """V above (static + air − vapour)·g/a parts it at the valve (theory); at once its rating would be enough."""
    line = Line((pipe_size("PVC-U PN 16 90 mm").pipe(200.0),))
    _, found = laid(line, 0.010, None, 20.0)
    pipe = line.pipes[0]
    assert float(pipe.velocity_si(0.010)) * wave(pipe) / G > 20.0 + 10.2
    assert found.at_once_parts_m is not None and found.use_at_once < 1 and found.safe_time_s > 0
    assert any(
        each.level == "caution" and "stopped at once" in each.message and "part at" in each.message
        for each in found.findings
    )


def test_thrust_is_of_the_worst_case_with_the_slow_one_beside_it():
    line = Line((pipe_size(LARGE).pipe(210.0),))
    section, found = laid(line, 0.012, 8.0)
    (bend,) = profile_bends(found, line, 0.012, np.array([180.0]), np.array([math.radians(45.0)]))
    outside, bore = line.pipes[0].outside_diameter_m, line.pipes[0].diameter_m
    for pressure, thrust in (
        (bend.pressure_pa, bend.thrust_n),
        (bend.slow_pressure_pa, bend.slow_thrust_n),
    ):
        speed = 0.012 / (math.pi / 4 * bore**2)
        by_hand = (
            2
            * (pressure * math.pi / 4 * outside**2 + 999.7 * 0.012 * speed)
            * math.sin(math.radians(22.5))
        )
        assert thrust == pytest.approx(by_hand, rel=2e-3)
    assert (
        bend.pressure_pa
        > bend.slow_pressure_pa
        > float(np.interp(180.0, section.distance_m, section.static_pressure_pa)) * (1 - 1e-9)
    )


def test_a_pipe_listed_in_two_halves_changes_no_answer(tmp_path):
    size = "PVC-U PN 10 140 mm"
    whole = small_study.changed(
        tmp_path / "whole",
        penstock={
            "pipe": [{"size": size}],
            "bend": [{"at": "70 m", "angle": "45 deg"}],
            "closing_time": "3 s",
        },
    )
    half = {"size": size, "length": f"{float(whole.penstock.length_m) / 2!r} m"}
    split = small_study.changed(
        tmp_path / "split",
        penstock={
            "pipe": [half, half],
            "bend": [{"at": "70 m", "angle": "45 deg"}],
            "closing_time": "3 s",
        },
    )
    for key in (
        "pressure.rest",
        "pressure.highest",
        "pressure.at_once",
        "pressure.share_of_rating",
        "surge.at_once",
        "surge.closing",
        "closing_time",
        "closing_time.even",
        "wave.round_trip",
        "freeze.worst",
    ):
        assert split.answer(key).value == pytest.approx(whole.answer(key).value, rel=1e-9), key
    assert [each.thrust_n for each in split.bends] == pytest.approx(
        [each.thrust_n for each in whole.bends], rel=1e-9
    )


# --- the grid, and the column that parts -------------------------------------------------------


@pytest.mark.parametrize(
    "travel, bores", [((37, 41, 17), (0.1, 0.2, 0.08)), ((41, 43, 17), (0.2, 0.1, 0.125))]
)
def test_the_highest_wave_is_no_matter_of_rounding(travel, bores):
    """Pipes whose travel times are whole numbers of 5 ms, so that a grid of their sum is exact: 6 m were rounded away."""
    steps = np.array(travel)
    walls = [(0.004, "PVC", 2.76e9), (0.005, "steel", 207e9), (0.004, "PVC", 2.76e9)]
    speeds = np.array(
        [
            math.sqrt(2.09e9 / 999.7 / (1 + 2.09e9 * bore / (modulus * wall)))
            for bore, (wall, _, modulus) in zip(bores, walls)
        ]
    )
    line = Line(
        tuple(
            Pipe(
                bore,
                float(length),
                1e-5,
                name=name,
                wall_m=wall,
                outside_diameter_m=bore + 2 * wall,
                material=name,
            )
            for bore, length, (wall, name, _) in zip(bores, speeds * steps * 0.005, walls)
        )
    )
    length, flow = float(line.length_m), math.pi / 4 * min(bores) ** 2 * 1.2
    section = long_section(Profile([0.0, length], [90.0, 0.0], True), line, flow)
    told = penstock_pressures(section, line, flow).at_once_m
    exact = water_hammer.si(
        line,
        speeds,
        flow,
        90.0,
        [0.0],
        [0.0],
        25 * 2 * 0.005 * steps.sum(),
        reaches=3 * steps.sum(),
    )
    assert told == pytest.approx(float(exact.highest_m[-1]) - 90.0, rel=0.01)


def test_a_parted_column_rejoins_within_the_range():
    """A cavity at the valve, frictionless, heads over vapour pressure, peaks by characteristics at one boundary:
    a 1000 m/s, V 1 m/s, h 30 m: 168.06 m, in the second cycle 191.94 m; 400, 1.5, 20: 118.84 m; 300, 1, 12: 53.42 m."""
    for wave, speed, head, peaks in (
        (1000.0, 1.0, 30.0, (168.06, 191.94)),
        (400.0, 1.5, 20.0, (118.84,)),
        (300.0, 1.0, 12.0, (53.42,)),
    ):
        low, high = rejoining.si(wave * speed / G, head)
        for peak in peaks:
            assert low < peak - head <= high * (1 + 1e-3)


def test_the_range_is_told_where_the_column_parts_and_only_there(tmp_path):
    from hydrokit.report.pages.p03 import holding

    profile = "chainage [m],elevation [m]\n0,300\n2,299.3\n100,298\n150,262\n"
    parted = small_study.changed(tmp_path / "parted", {"penstock": profile})
    whole = shared.small()
    for study in (parted, whole):
        held = study.pressures
        assert (held.at_once_parts_m is None) == (held.rejoined_m is None)
    low, high = parted.pressures.rejoined_m
    assert low == parted.pressures.at_once_m and high > low + 2 * 38
    told = f"as much as {parted.view().text(high, 'head', 2)}"
    assert told in str(holding.surge_table(parted, parted.view()))
    # and the bends are held for that blow: by hand p·A more of the rejoined head, both legs of the bend
    bend = parted.bends[0]
    width = parted.penstock.pipes[0].outside_diameter_m
    push = 2 * math.sin(bend.angle_rad / 2) * math.pi / 4 * width**2 * 999.7 * G * (high - low)
    assert bend.rejoined_thrust_n - bend.thrust_n == pytest.approx(push, rel=1e-3)
    most = parted.view().text(bend.most_n, "force", 2)
    assert f"as much as {most}" in str(holding.supports_table(parted, parted.view()))
    for each in whole.bends:
        assert (each.rejoined_thrust_n is None) == (whole.pressures.rejoined_m is None)
