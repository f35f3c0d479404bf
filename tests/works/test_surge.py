"""Surge: the closed forms against each other, and the stepwise waves against every limit that can be worked out."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning, UnitsError
from hydrokit.works import surge, transient
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.transient import Standpipe, water_hammer

G = 9.80665
POSITIVE = dict(allow_nan=False, allow_infinity=False)


def smooth(length=1000.0, diameter=0.3):
    """Next to no friction, so that the limits without friction hold."""
    return Line((Pipe(diameter, length, 0.0, loss_factor=1e-9),))


# --- closed forms -----------------------------------------------------------------------------


def test_a_rigid_pipe_carries_sound_of_open_water():
    """√(K/ρ) by hand; a very stiff wall comes to the same."""
    assert surge.wave_speed.si(0.1, 0.005, None, 2.09e9, 999.7) == pytest.approx(
        math.sqrt(2.09e9 / 999.7)
    )
    assert surge.wave_speed.si(0.1, 0.005, 1e18, 2.09e9, 999.7) == pytest.approx(
        math.sqrt(2.09e9 / 999.7), rel=1e-6
    )


def test_thick_walls_are_warned_of():
    with pytest.warns(RangeWarning, match="ten walls"):
        surge.wave_speed("90 mm", "10 mm", "0.9 GPa")


def test_surge_meets_itself_at_the_critical_time():
    """Michaud at T = 2L/a is Joukowsky: no step between rapid and slow."""
    critical = surge.critical_time.si(400.0, 390.0)
    at, just_after = (
        surge.surge.si(1.5, 390.0, 400.0, critical),
        surge.surge.si(1.5, 390.0, 400.0, critical * (1 + 1e-9)),
    )
    assert at == pytest.approx(390 * 1.5 / G) and just_after == pytest.approx(at)
    assert surge.surge.si(1.5, 390.0, 400.0, 0.0) == at
    assert surge.surge.si(-1.5, 390.0, 400.0, 0.0) == -at


def test_closing_time_is_the_inverse():
    assert surge.closing_time.si(
        surge.surge.si(1.5, 390.0, 400.0, 9.0), 1.5, 390.0, 400.0
    ) == pytest.approx(9.0)
    assert surge.closing_time.si(60.0, 1.5, 390.0, 400.0) == 0.0  # Joukowsky's 59.7 m fits in
    assert surge.closing_time.si(-1.0, 1.5, 390.0, 400.0) == math.inf
    assert math.isnan(surge.closing_time.si(math.nan, 1.5, 390.0, 400.0))


@given(
    st.floats(0.05, 5, **POSITIVE),
    st.floats(200, 1400, **POSITIVE),
    st.floats(10, 3000, **POSITIVE),
    st.floats(0, 200, **POSITIVE),
    st.floats(0, 100, **POSITIVE),
)
@settings(max_examples=80, deadline=None, derandomize=True)
def test_slower_closing_never_raises_more(velocity, speed, length, time, more):
    assert surge.surge.si(velocity, speed, length, time + more) <= surge.surge.si(
        velocity, speed, length, time
    ) * (1 + 1e-12)
    margin = surge.surge.si(velocity, speed, length, time)
    assert surge.surge.si(
        velocity, speed, length, surge.closing_time.si(margin, velocity, speed, length)
    ) <= margin * (1 + 1e-9)


@given(
    st.floats(0.1, 5, **POSITIVE),
    st.floats(20, 2000, **POSITIVE),
    st.floats(5, 300, **POSITIVE),
    st.floats(1, 60, **POSITIVE),
)
@settings(max_examples=80, deadline=None, derandomize=True)
def test_allievi_against_michaud(velocity, length, head, time):
    """Allievi lies between LV/(gT), a rigid column stopped evenly, and Michaud's twice that, until N = 2.25."""
    rise, fall = surge.slow_closure.si(velocity, length, head, time)
    even = length * velocity / (G * time)
    assert fall <= even <= rise * (1 + 1e-12)
    assert rise * fall == pytest.approx(even**2, rel=1e-9)  # roots of x² − N·x − N = 0
    if (even / head) ** 2 < 2.25:
        assert rise <= 2 * even * (1 + 1e-12)


def test_a_thin_pipe_is_warned_of():
    with pytest.warns(RangeWarning, match="crushed by a vacuum"):
        assert surge.vacuum_safety(41, "400000 psi") == pytest.approx(0.994, abs=0.002)
    assert surge.vacuum_safety.check(17, "2.76 GPa") == []
    assert surge.vacuum_safety.si(41, 2.76e9, 0.38, 2600.0) > surge.vacuum_safety.si(
        41, 2.76e9, 0.38, 0.0
    )


@pytest.mark.parametrize(
    "call, sentence",
    [
        (lambda: surge.wave_speed("0 mm", "5 mm"), "diameter must be above zero"),
        (lambda: surge.wave_speed_plastic(2, "3 GPa"), "dimension_ratio"),
        (lambda: surge.collapse_pressure(1, "3 GPa"), "dimension_ratio"),
        (lambda: surge.collapse_pressure(21, "3 GPa", 0.6), "poisson"),
        (lambda: surge.surge("1 m/s", "400 m/s", "100 m", "-1 s"), "closing_time"),
        (lambda: surge.closing_time("20 psi", "1 m/s", "400 m/s", "100 m"), "head in m or ft"),
        (lambda: surge.slow_closure("1 m/s", "100 m", "0 m", "5 s"), "static_head"),
    ],
)
def test_refusals(call, sentence):
    with pytest.raises((HydrokitError, UnitsError), match=sentence):
        call()


# --- stepwise waves ---------------------------------------------------------------------------


def test_nothing_moves_while_the_valve_rests():
    line = Line((Pipe(0.15, 300.0, 1e-4, fittings=2.0), Pipe(0.10, 500.0, 1e-5)))
    rest = water_hammer.si(line, np.array([400.0, 1000.0]), 0.012, 80.0, [0.0], [1.0], 5.0)
    assert rest.valve_flow_m3s == pytest.approx(0.012, rel=1e-9)
    assert rest.highest_m == pytest.approx(rest.lowest_m, rel=1e-9)
    assert rest.steady_m[-1] == pytest.approx(80 - line.loss_si(0.012, 1.3063e-6), rel=1e-3)


def test_instant_closing_is_joukowsky_with_its_period():
    """aV/g up, the same down, back after 4L/a; half-way up the pipe it lasts half as long."""
    velocity = 0.01 / (math.pi / 4 * 0.3**2)
    run = water_hammer.si(smooth(), 1000.0, 0.01, 60.0, [0.0, 1e-9], [1.0, 0.0], 20.0)
    over = run.valve_head_m - 60.0
    assert over.max() == pytest.approx(1000 * velocity / G, rel=1e-6)
    assert over.min() == pytest.approx(-1000 * velocity / G, rel=1e-6)
    turns = run.time_s[1:][np.flatnonzero(np.diff(np.sign(over[1:])))]
    assert np.diff(turns[::2]) == pytest.approx(4 * 1000.0 / 1000.0, abs=1e-9)
    assert run.highest_m[50] == pytest.approx(run.highest_m[-1], rel=1e-6)
    assert run.highest_m[0] == pytest.approx(60.0)


def test_closing_within_the_critical_time_is_still_joukowsky():
    velocity = 0.01 / (math.pi / 4 * 0.3**2)
    run = water_hammer.si(smooth(), 1000.0, 0.01, 60.0, [0.0, 1.9], [1.0, 0.0], 6.0)
    assert run.highest_m[-1] - 60 == pytest.approx(1000 * velocity / G, rel=1e-6)
    slow = water_hammer.si(smooth(), 1000.0, 0.01, 60.0, [0.0, 4.0], [1.0, 0.0], 6.0)
    assert slow.highest_m[-1] < run.highest_m[-1]


@pytest.mark.parametrize(
    "flow, head, time", [(0.05, 40.0, 80.0), (0.10, 20.0, 120.0), (0.15, 20.0, 100.0)]
)
def test_slow_closing_is_the_rigid_column(flow, head, time):
    """For T far above 2L/a the water moves as one column: L/(gA)·dQ/dt = H₀ − H(Q, opening), by an ODE solver.

    Only where aV/(2gH) is above one; at a high head the first wave of the closing stands above the column's rise.
    """
    from scipy.integrate import solve_ivp

    area, length = math.pi / 4 * 0.3**2, 1000.0

    def slowing(t, q):
        opening = max(1 - t / time, 1e-9)
        return [(head - head * (q[0] / (opening * flow)) ** 2) * G * area / length]

    rigid = solve_ivp(
        slowing,
        (0, time * 0.999),
        [flow],
        rtol=1e-9,
        atol=1e-12,
        max_step=time / 2000,
        method="LSODA",
    )
    opening = np.maximum(1 - rigid.t / time, 1e-9)
    greatest = (head * (rigid.y[0] / (opening * flow)) ** 2).max()
    run = water_hammer.si(smooth(), 1000.0, flow, head, [0.0, time], [1.0, 0.0], time)
    # The elastic wave rides on the rigid column: some per cent of the rise, for T from 40 to 60 times 2L/a.
    assert run.highest_m[-1] - head == pytest.approx(greatest - head, rel=0.06)
    # and Allievi's closed form is the level that the rigid column tends to
    rise, _ = surge.slow_closure.si(flow / area, length, head, time)
    assert greatest - head == pytest.approx(rise, rel=0.02)


def test_michaud_is_on_the_safe_side_of_the_waves():
    for time in (3.0, 5.0, 10.0, 30.0):
        run = water_hammer.si(smooth(), 1000.0, 0.02, 100.0, [0.0, time], [1.0, 0.0], time + 4)
        assert run.highest_m[-1] - 100 <= surge.surge.si(
            0.02 / (math.pi / 4 * 0.09), 1000.0, 1000.0, time
        ) * (1 + 1e-6)


def test_wave_through_a_joint():
    """At a joint the wave goes on with 2B₂/(B₁ + B₂) of itself, B = a/(gA): the first reading at the joint, by hand."""
    line = Line((Pipe(0.3, 500.0, 0.0, loss_factor=1e-9), Pipe(0.2, 500.0, 0.0, loss_factor=1e-9)))
    run = water_hammer.si(line, 1000.0, 0.005, 60.0, [0.0, 1e-9], [1.0, 0.0], 0.9)
    upper, lower = (1000 / (G * math.pi / 4 * d**2) for d in (0.3, 0.2))
    arriving = lower * 0.005
    assert run.highest_m[-1] - 60 == pytest.approx(arriving, rel=1e-6)
    assert run.highest_m[50] - 60 == pytest.approx(arriving * 2 * upper / (upper + lower), rel=1e-6)


def test_standpipe_swings_as_a_mass():
    """Valve shut at once, no friction: level rises by V₀√(L·A/(g·Aₛ)) after a quarter of 2π√(L·Aₛ/(g·A))."""
    length, area, stand = 1000.0, math.pi / 4 * 0.3**2, 1.0
    line = Line((Pipe(0.3, length, 0.0, loss_factor=1e-9), Pipe(0.3, 10.0, 0.0, loss_factor=1e-9)))
    run = water_hammer.si(
        line,
        1000.0,
        0.01,
        60.0,
        [0.0, 1e-9],
        [1.0, 0.0],
        300.0,
        Standpipe(length, stand),
        reaches=101,
    )
    period = 2 * math.pi * math.sqrt(length * stand / (G * area))
    rise = 0.01 / area * math.sqrt(length * area / (G * stand))
    first = run.time_s <= period / 2
    assert run.standpipe_m[first].max() - 60 == pytest.approx(rise, rel=0.01)
    assert run.time_s[np.argmax(run.standpipe_m * first)] == pytest.approx(period / 4, rel=0.02)
    assert run.spilled_m3 == 0


def test_standpipe_spills_at_its_crest_and_no_water_is_lost():
    """What came in from the pond is what was stored and what ran over: continuity of the rigid part."""
    line = Line((Pipe(0.3, 1000.0, 1e-4), Pipe(0.3, 10.0, 1e-4)))
    low = water_hammer.si(
        line,
        1000.0,
        0.02,
        60.0,
        [0.0, 1e-9],
        [1.0, 0.0],
        60.0,
        Standpipe(1000.0, 0.05, 60.5),
        reaches=101,
    )
    assert low.standpipe_m.max() == pytest.approx(60.5)
    assert 0 < low.spilled_m3 < 0.02 * 60
    # The pond's head of 60 m is 0.5 m below the crest: the column, LV²/2 per area, is spent on that height.
    area = math.pi / 4 * 0.3**2
    assert low.spilled_m3 == pytest.approx(
        1000 * area * (0.02 / area) ** 2 / (2 * G * 0.5), rel=0.35
    )
    with pytest.raises(HydrokitError, match="overflow edge"):
        water_hammer.si(line, 1000.0, 0.02, 60.0, [0.0], [1.0], 1.0, Standpipe(1000.0, 0.05, 50.0))


def test_friction_makes_the_waves_die_away():
    run = water_hammer.si(
        Line((Pipe(0.1, 400.0, 1e-4),)), 400.0, 0.012, 60.0, [0.0, 0.01], [1.0, 0.0], 60.0
    )
    over = np.abs(run.valve_head_m - 60)
    assert over[run.time_s > 50].max() < over[run.time_s < 10].max()
    assert run.valve_head_m[-1] == pytest.approx(60, abs=over.max() / 2)


def test_a_parted_column_is_a_problem_to_be_told():
    line, levels = Line((Pipe(0.1, 400.0, 1e-5),)), ([0.0, 200.0, 400.0], [38.0, 36.0, 0.0])
    run = water_hammer.si(
        line,
        400.0,
        0.012,
        40.0,
        [0.0, 0.01],
        [1.0, 0.0],
        5.0,
        chainage=levels[0],
        elevation=levels[1],
    )
    assert run.findings and run.findings[0].level == "problem" and "part" in run.findings[0].message
    gentle = water_hammer.si(
        line,
        400.0,
        0.012,
        40.0,
        [0.0, 60.0],
        [1.0, 0.0],
        70.0,
        chainage=levels[0],
        elevation=levels[1],
    )
    assert gentle.findings == ()


def test_a_short_pipe_on_a_coarse_grid_is_told():
    line = Line((Pipe(0.1, 400.0, 1e-5), Pipe(0.09, 6.0, 1e-5)))
    run = water_hammer.si(line, 400.0, 0.005, 60.0, [0.0], [1.0], 1.0, reaches=20)
    assert "grid" in run.findings[0].message
    assert run.chainage_m[-1] == pytest.approx(406.0)


def test_waves_in_everyday_units_and_refusals():
    line = Line((Pipe(0.1, 400.0, 1e-5),))
    run = water_hammer(line, "400 m/s", "10 L/s", "60 m", ["0 s", "4 s"], [1, 0], duration="10 s")
    assert run.highest.check("[length]") and run.highest > run.lowest
    with pytest.raises(HydrokitError, match="has a head loss of"):
        water_hammer(line, "400 m/s", "40 L/s", "60 m", ["0 s"], [1])
    with pytest.raises(HydrokitError, match="wave_speeds needs one value"):
        water_hammer(line, ["400 m/s", "300 m/s"], "10 L/s", "60 m", ["0 s"], [1])
    with pytest.raises(UnitsError, match="duration"):
        water_hammer(line, "400 m/s", "10 L/s", "60 m", ["0 s"], [1], duration=60)
    assert all(name in vars(module) for module in (surge, transient) for name in module.__all__)


@pytest.mark.parametrize("shut_s", [0.0, 0.05, 0.5])
def test_a_short_stiff_stub_at_the_valve_has_its_own_blow(shut_s):
    """Two metres of steel behind 300 m of soft pipe, on a grid of four hundred reaches and on one with a whole reach for the stub.

    Shut at once, the head rises by a V/g of the stub, 1300 m/s and 1.273 m/s: 168.8 m over the running 55 m. Shut
    over more than its 3 ms there and back, by no more than the soft pipe's.
    """
    line = Line((Pipe(0.1, 300.0, 1e-5), Pipe(0.1, 2.0, 1e-5)))
    speeds = np.array([300.0, 1300.0])
    times, opening = ([0.0, shut_s], [1.0, 0.0]) if shut_s else ([0.0], [0.0])
    coarse, fine = (
        transient.water_hammer.si(
            line,
            speeds,
            0.01,
            60.0,
            np.array(times),
            np.array(opening),
            shut_s + 3.0,
            reaches=reaches,
        )
        for reaches in (400, 651)
    )
    assert coarse.highest_m[-1] == pytest.approx(fine.highest_m[-1], rel=0.005)
    assert coarse.highest_m[0] == pytest.approx(fine.highest_m[0])
    if shut_s == 0:
        velocity = 0.01 / (math.pi / 4 * 0.01)
        assert coarse.highest_m[-1] - coarse.steady_m[-1] == pytest.approx(
            1300 * velocity / 9.80665, rel=1e-6
        )
    assert "its own blow" in coarse.findings[0].message and not fine.findings
