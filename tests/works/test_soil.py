"""Frost in the ground: exact solutions, waves, a second model; and pipes in it, from the air down."""

import math

import frozen_ground
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError
from hydrokit.works import snow, soil, standing
from hydrokit.works.exposed import Cold, Stretch, frost_on
from hydrokit.works.frost import freezing_time

ZERO = 273.15
HOUR, DAY, YEAR = 3600.0, 86400.0, 365.25


def weather(years=3, mean=4.0, swing=11.0, seed=1, rough=3.0):
    """Daily means in K from October on, with spells of some days."""
    days = int(years * YEAR)
    noise = np.random.default_rng(seed).normal(0, rough, days + 8)
    spells = np.convolve(noise, np.exp(-np.arange(9) / 3.0), "valid")
    season = np.cos(2 * np.pi * (np.arange(days) - 105) / YEAR)
    return ZERO + mean - swing * season + spells[:days]


# --- the column -------------------------------------------------------------------------------


@pytest.mark.parametrize("surface, start", [(-5, 2), (-5, 8), (-10, 4)])
def test_the_front_keeps_to_the_exact_solution_of_a_sudden_frost(surface, start):
    """Neumann's solution, and its published arithmetic for this soil: 0.7022, 0.5826 and 0.9444 m after 30 days."""
    exact = frozen_ground.neumann(surface, start, 30 * DAY)
    printed = {(-5, 2): 0.7022, (-5, 8): 0.5826, (-10, 4): 0.9444}[surface, start]
    assert exact == pytest.approx(printed, rel=2e-4)
    fine = soil.ground.si(np.full(240, ZERO + surface), 0.0, ZERO + start, 3 * HOUR, 12.0, 0.02)
    assert fine.frost_m[-1] == pytest.approx(exact, rel=0.005)
    # in steps of a day, as records are walked: the first days of a sudden frost are blunted
    daily = soil.ground.si(np.full(30, ZERO + surface), 0.0, ZERO + start)
    assert daily.frost_m[-1] == pytest.approx(exact, rel=0.01)
    assert daily.frost_m[-1] < snow.stefan_depth.si(-30.0 * surface, 1.8, 1600 * 0.15 * 333.55e3)


def test_ground_at_freezing_point_freezes_by_the_law_of_stefan():
    """One phase: √π λ exp(λ²) erf λ = Ste; for Ste 0.1 published as λ 0.220016, where Stefan has 0.2236."""
    law = math.sqrt(math.pi) * 0.220016 * math.exp(0.220016**2) * math.erf(0.220016)
    assert law == pytest.approx(0.1, rel=1e-4)
    colder = -0.1 * 240 * 333.55e3 / 1.640e6
    found = soil.ground.si(np.full(60, ZERO + colder), 0.0, ZERO)
    exact = 2 * 0.220016 * math.sqrt(1.8 / 1.640e6 * 60 * DAY)
    assert found.frost_m[-1] == pytest.approx(exact, rel=0.005)


def test_temperatures_in_freezing_ground_as_published():
    """A step to -5 °C over ground at 4 °C, after 30 days: -3.463, -1.938, -0.433, 0.315, 1.145 °C."""
    found = soil.ground.si(np.full(240, ZERO - 5), 0.0, ZERO + 4, 3 * HOUR, 12.0, 0.02)
    for depth, degrees in ((0.2, -3.463), (0.4, -1.938), (0.6, -0.433), (0.8, 0.315), (1.2, 1.145)):
        assert found.at(depth)[-1] - ZERO == pytest.approx(
            degrees, abs=0.1
        )  # half a cell of 3 cm about the front, where it warms by 7 K a metre


def test_a_daily_wave_fades_within_a_span():
    """exp(-z/d) with d = √(2α/ω), 0.134 m in this soil: 47 % at 0.1 m, a ninth at 0.3 m, nothing at 0.6 m."""
    reach = math.sqrt(2 * 1.4 / 2.144e6 * DAY / (2 * math.pi))
    wave = ZERO + 10 + 6 * np.sin(2 * np.pi * np.arange(16 * 96) / 96)
    found = soil.ground.si(wave, 0.0, ZERO + 10, HOUR / 4, 2.0, 0.01)
    for depth in (0.1, 0.3, 0.6):
        last = found.at(depth)[-96:] - ZERO - 10
        assert np.ptp(last) / 2 == pytest.approx(6 * math.exp(-depth / reach), rel=0.05, abs=0.01)


def test_a_yearly_wave_fades_and_lags():
    """The same law with d = 2.56 m; at 1.2 m it comes 27 days after the air."""
    reach = math.sqrt(2 * 1.4 / 2.144e6 * YEAR * DAY / (2 * math.pi))
    days = np.arange(int(6 * YEAR))
    air = ZERO + 12 + 9 * np.cos(2 * np.pi * days / YEAR)
    found = soil.ground_through_years(air, np.zeros((1, len(air))))
    for depth in (0.6, 1.2):
        last = found.at(depth)[0, -730:] - ZERO - 12
        turn = np.exp(-2j * np.pi * days[-730:] / YEAR)
        phasor = 2 * np.mean(last * turn)
        assert abs(phasor) == pytest.approx(9 * math.exp(-depth / reach), rel=0.02)
        assert -np.angle(phasor) / (2 * np.pi) * YEAR == pytest.approx(
            depth / reach / (2 * np.pi) * YEAR, abs=1.5
        )
    assert found.deepest_m == 0


def test_thaws_are_given_back_as_in_a_second_model():
    """A winter of spells and thaws, bare and under snow, against explicit steps on an even grid."""
    air = weather(1.2, mean=2.0)
    lying = snow.snow_by_day.si(air, 0.15)
    for covered in (np.zeros(len(air)), lying):
        ours = soil.ground.si(air, covered, ZERO + 5, DAY, 6.0)
        middle, degrees, ice = frozen_ground.walk(air - ZERO, covered, 5.0, cell=0.1)
        assert ours.deepest_m == pytest.approx(ice.max(), abs=0.02) and ice.max() > 0.4
        for depth in (0.3, 0.6, 1.0):
            other = np.array([np.interp(depth, middle, row) for row in degrees])
            wrong = ours.at(depth) - ZERO - other
            # steps of a day blunt a sudden spell near the surface; nothing is off in the mean
            assert np.sqrt(np.mean(wrong**2)) < 0.35 and abs(np.mean(wrong)) < 0.03
        assert np.flatnonzero(ours.frost_m > 0.1)[0] == pytest.approx(
            np.flatnonzero(ice > 0.1)[0], abs=2
        )


def test_a_long_record_is_worked_out_in_parts_that_fit():
    air = weather(9, mean=3.0)
    lying = np.array([np.zeros(len(air)), snow.snow_by_day.si(air, 0.1)])
    cut, whole = (soil.ground_through_years(air, lying, at_once=years) for years in (3, 100))
    assert np.abs(cut.at(0.6)[0] - whole.at(0.6)[0]).max() < 0.25
    assert cut.frost_m.max(axis=1) == pytest.approx(whole.frost_m.max(axis=1), abs=0.02)


def test_snow_lies_by_its_rule():
    air = ZERO + np.concatenate([np.full(40, -4.0), [2.0, 5.0], np.full(3, 30.0), [-1.0, np.nan]])
    lies = snow.snow_by_day.si(air, 0.6)
    assert lies[[0, 14, 29, 39]] == pytest.approx([0.02, 0.3, 0.6, 0.6])
    assert lies[40:] == pytest.approx([0.568, 0.488, 0.008, 0.0, 0.0, 0.02, 0.02])


@pytest.mark.parametrize(
    "call, words",
    [
        (lambda: soil.ground(["-5 degC"], step="0 s"), "step must be above zero"),
        (lambda: soil.ground(["-5 degC"], "-1 cm"), "snow_depth must be zero or more"),
        (lambda: soil.ground("-5 degC"), "one temperature for each step"),
        (lambda: soil.ground.si(np.array([260.0, np.nan])), "known on every step"),
        (lambda: standing.standing_time("-5 degC", "1 m", "1 m*K/W"), "for each step"),
        (lambda: standing.standing_time(["-5 degC"], "1 m", "1 m*K/W", 0.0), "above zero"),
        (lambda: snow.snow_by_day(["-5 degC"], "-1 m"), "usual_depth must be zero or more"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(HydrokitError, match=words):
        call()


# --- still water ------------------------------------------------------------------------------


def test_a_constant_frost_takes_as_long_as_the_closed_form():
    constant = freezing_time.si(0.1, 0.3, ZERO - 7)
    for share, told in ((0.25, constant.blocked_s), (1.0, constant.solid_s)):
        found = standing.standing_time.si(np.full(9, ZERO - 7), 0.1, 0.3, share)
        assert found[0] == pytest.approx(told, rel=1e-9)


def test_ice_melts_again_and_each_start_is_its_own():
    """Degree-days by hand: a quarter of a bore of 0.1 m through 3 m·K/W takes as many as a constant frost says."""
    needs = float(freezing_time.si(0.1, 3.0, ZERO - 1).blocked_s) / DAY  # days at -1 °C
    air = ZERO + needs * np.array([-0.6, 0.2, -0.5, -0.2, 9.0, -0.5, 0.0])
    found = standing.standing_time.si(air, 0.1, 3.0) / DAY
    assert found[0] == pytest.approx(3.5) and found[1] == pytest.approx(np.inf)
    assert np.isinf(found[2:]).all()


# --- pipes ------------------------------------------------------------------------------------


def lying(**how):
    return Stretch(
        "s", "penstock", 0.0, end_m=10.0, inside_m=0.1016, outside_m=0.1143, roughness_m=1e-5, **how
    )


def blocked(cold, **how):
    return frost_on((lying(**how),), cold)[0].blocked_s


@pytest.fixture(scope="module")
def winters():
    air = weather(3, mean=1.0, swing=12.0)
    return Cold(air, False, (0.0, 0.02, 0.1, 0.4))


def test_a_little_soil_never_makes_it_worse(winters):
    """Half an inch of soil once took the film off a bare pipe and its hours with it."""
    for cold in (winters, Cold.spell(ZERO - 15)):
        times = [blocked(cold, soil_m=cover) for cover in (0, 1e-6, 0.005, 0.02, 0.1, 0.3, 0.6, 1)]
        assert times == sorted(times)
        assert times[1] == pytest.approx(times[0], rel=1e-3) and times[2] < 1.2 * times[0]


def test_more_snow_never_makes_it_worse(winters):
    for cover in (0.0, 0.05, 0.3):
        times = [blocked(winters, soil_m=cover, snow_m=each) for each in (0, 0.02, 0.1, 0.4)]
        assert times == sorted(times) and times[0] < np.inf


@given(
    st.integers(0, 50), st.floats(-4, 5), st.floats(7, 14),
    st.floats(0, 0.8), st.floats(0, 0.5), st.sampled_from([0.0, 0.05, 0.5]), st.floats(0, 0.06),
)  # fmt: skip
@settings(max_examples=8, deadline=None, derandomize=True)
def test_deeper_never_freezes_sooner(seed, mean, swing, cover, deeper, depth, wrapped):
    cold = Cold(weather(1.1, mean, swing, seed), False, (depth,))
    shallow, deep = (
        blocked(cold, soil_m=each, snow_m=depth, insulation_m=wrapped)
        for each in (cover, cover + deeper)
    )
    assert deep >= shallow * (1 - 1e-9)
    assert blocked(cold, soil_m=cover) <= shallow * (1 + 1e-9)


def test_a_buried_pipe_does_not_feel_one_night():
    """A single day of -20 °C in a mild winter blocks a bare pipe in an hour and a buried one never."""
    air = np.full(400, ZERO + 3.0)
    air[200] = ZERO - 20
    cold = Cold(air, False)
    assert blocked(cold) < 2 * HOUR and math.isinf(blocked(cold, soil_m=0.3))
    assert frost_on((lying(soil_m=0.3),), cold)[0].keep_open_m3s == 0


def test_a_pipe_below_the_frost_is_never_blocked(winters):
    depth = winters.ground(0.0).deepest_m
    above, below = (frost_on((lying(soil_m=depth * by),), winters)[0] for by in (0.6, 1.01))
    assert np.isfinite(above.blocked_s) and math.isinf(below.blocked_s) and below.heat_loss_wm == 0
    assert above.heat_loss_wm == pytest.approx(
        (ZERO - above.around_k.min()) / above.resistance[0], rel=1e-9
    )
    # by the formula of a buried cylinder in frozen soil, its film as so much more of it
    film = above.resistance[0] * 2 * math.pi * 1.8
    axis = 0.6 * depth + 0.1143 / 2
    assert math.acosh(2 * axis / 0.1143) < film < math.acosh(2 * (axis + 0.1) / 0.1143)


def test_where_nothing_but_the_coldest_day_is_known_it_lasts_a_month():
    """Bare ground by the exact solution of 30 days from 4 °C; the last morning of the month is the worst."""
    cold = Cold.spell(ZERO - 5)
    assert cold.ground(0.0).deepest_m == pytest.approx(
        frozen_ground.neumann(-5, 4, 30 * DAY), rel=0.02
    )
    found = frost_on((lying(soil_m=0.4),), cold)[0]
    assert int(np.argmin(found.blocked)) in (28, 29)
    assert np.isinf(frost_on((lying(soil_m=0.9),), cold)[0].blocked_s)
