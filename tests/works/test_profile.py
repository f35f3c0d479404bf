"""Profile, grade lines and pressures along the line; thrust, uplift and spans."""

import time

import numpy as np
import pytest

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.water import GRAVITY, density, viscosity
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.pipe_sizes import pipe_size
from hydrokit.works.profile import Profile, long_section, siphon_limit
from hydrokit.works.support import (
    bend_thrust,
    pipe_span,
    pipe_uplift,
    pipe_weight,
    ring_of_ice,
    sag,
    snow_on_pipe,
    support_stress,
)

NU = float(viscosity.si(283.15))


def test_lengths_and_head():
    profile = Profile([0, 30, 70], [100, 60, 30])
    assert profile.length_m == pytest.approx(50 + 50)
    assert profile.gross_head_m == 70
    assert Profile([0, 50, 100], [100, 60, 30], along_slope=True).length_m == 100
    assert profile.gross_head.m_as("ft") == pytest.approx(229.66, abs=0.01)
    assert profile.elevation_at(50.0) == pytest.approx(60)


@pytest.mark.parametrize(
    "chainage, elevation, message",
    [
        ([0, 10, 10, 20], [9, 8, 8, 7], "station at 10 m is given twice"),
        ([20, 10, 0], [9, 8, 7], "list the stations from the intake down"),
        ([0, 20, 10, 30], [9, 8, 7, 6], "runs back from 20 to 10 m"),
        ([0, 10], [5, 6], "does not fall"),
        ([0, 10], [5, 5], "does not fall"),
        ([0], [5], "at least two stations"),
        ([0, 10], [5, float("nan")], "is missing"),
        ([0, 10, 20], [5, 4], "at least two stations"),
    ],
)
def test_mistakes_are_one_sentence_each(chainage, elevation, message):
    with pytest.raises(HydrokitError, match=message):
        Profile(chainage, elevation)


def test_several_mistakes_are_told_at_once():
    with pytest.raises(HydrokitError, match="twice.*runs back.*does not fall"):
        Profile([0, 10, 10, 5], [5, 6, 7, 8])


def test_feet_among_metres_are_suspected():
    elevation = np.linspace(900, 840, 13)
    elevation[6] /= 0.3048
    texts = [finding.message for finding in Profile(np.linspace(0, 600, 13), elevation).findings]
    assert any(
        "would fit its neighbours if it were in feet" in text and "300 m" in text for text in texts
    )
    assert Profile(np.linspace(0, 600, 13), np.linspace(900, 840, 13)).findings == ()
    assert "45 degrees" in Profile([0, 10, 100], [100, 60, 50]).findings[0].message
    with pytest.raises(HydrokitError, match="feet mixed with metres"):
        Profile([0, 10, 100], [100, 60, 50], along_slope=True)


def test_a_profile_keeps_its_numbers_to_itself():
    chainage = np.array([0.0, 10.0])
    profile = Profile(chainage, [5, 1])
    chainage[0] = 99
    assert profile.chainage_m[0] == 0
    with pytest.raises(ValueError):
        profile.chainage_m[0] = 1


PROFILE = Profile([0, 100, 200, 300], [100, 90, 70, 50], along_slope=True)
LINE = Line(
    (
        Pipe(0.15, 100, 3e-5, fittings=0.5, name="upper", rating_pa=4e5, material="PVC"),
        Pipe(0.10, 200, 3e-5, name="lower", rating_pa=6e5, material="PVC"),
    )
)


def test_grade_lines_are_source_less_loss():
    flow = 0.012
    section = long_section(PROFILE, LINE, flow, source_level_m=101.0)
    assert section.net_head_m == pytest.approx(101 - 50 - LINE.loss_si(flow, NU), rel=1e-12)
    speed = flow / (np.pi / 4 * 0.1**2)
    assert section.running_grade_m[-1] == pytest.approx(
        101 - LINE.loss_si(flow, NU) - speed**2 / (2 * GRAVITY)
    )
    weight = float(density.si(283.15)) * GRAVITY
    np.testing.assert_allclose(section.static_pressure_pa, (101 - section.elevation_m) * weight)
    # Head falls along a full pipe; the energy line does, the grade line too but for a widening bore.
    assert (np.diff(section.running_grade_m) < 0).all()


def test_still_water_has_two_equal_grade_lines():
    section = long_section(PROFILE, LINE, 0.0, source_level_m=101.0)
    np.testing.assert_array_equal(section.running_grade_m, section.static_grade_m)
    assert section.net_head_m == 51


def test_rating_is_the_weaker_pipes_at_a_joint_and_falls_with_warmth():
    cold = long_section(PROFILE, LINE, 0.01, source_level_m=101.0)
    assert cold.rating_pa[1] == 4e5 and cold.rating_pa[-1] == 6e5
    warm = long_section(PROFILE, LINE, 0.01, source_level_m=101.0, wall_temperature_k=273.15 + 37.8)
    np.testing.assert_allclose(warm.rating_pa, 0.62 * cold.rating_pa)
    assert cold.use_of_rating == pytest.approx(51 * float(density.si(283.15)) * GRAVITY / 6e5)
    assert not [finding for finding in cold.findings if finding.level == "problem"]
    over = [finding.message for finding in warm.findings if finding.level == "problem"]
    assert len(over) == 1 and "134 %" in over[0]


def test_unknown_rating_is_a_note():
    line = Line((Pipe(0.1, 300, 3e-5, name="old steel"),))
    section = long_section(PROFILE, line, 0.005, source_level_m=101)
    assert np.isnan(section.use_of_rating)
    assert any(
        finding.level == "note" and "old steel" in finding.message for finding in section.findings
    )


def test_pipes_of_another_length_than_the_ground_are_told():
    line = Line((Pipe(0.1, 330, 3e-5, rating_pa=1e6, material="PVC"),))
    section = long_section(PROFILE, line, 0.005, source_level_m=101)
    assert any("10 % longer" in finding.message for finding in section.findings)
    assert section.distance_m[-1] == pytest.approx(300)
    assert section.net_head_m == pytest.approx(51 - line.loss_si(0.005, NU))


HUMP = Profile([0, 200, 400, 600], [100, 99, 98.5, 60], along_slope=True)


def test_below_atmospheric_stretch_and_altitude():
    line = Line((Pipe(0.1, 600, 3e-5, rating_pa=1e6, material="PVC"),))
    low = long_section(HUMP, line, 0.0135, source_level_m=100.5)
    start, end = low.below_atmosphere[0]
    assert start < 200 and 400 < end < 600
    assert any("air comes out" in finding.message for finding in low.findings)
    # The same line on a mountain boils before it does at the sea.
    depth = float((low.elevation_m - low.running_grade_m).max())
    assert siphon_limit("4500 m").m_as("m") < depth < siphon_limit("0 m").m_as("m")
    high = long_section(HUMP, line, 0.0135, source_level_m=100.5, altitude_m=4500)
    assert any(
        finding.level == "problem" and "column breaks" in finding.message
        for finding in high.findings
    )


def test_a_high_point_above_the_source_is_a_problem():
    profile = Profile([0, 100, 200], [100, 102, 60], along_slope=True)
    line = Line((Pipe(0.1, 200, 3e-5, rating_pa=1e6, material="PVC"),))
    found = [
        finding.message
        for finding in long_section(profile, line, 0.001, source_level_m=101).findings
    ]
    assert any("above the source" in text for text in found)


def test_two_hundred_stations_and_twelve_pipes_are_quick():
    """Not a gate on time: ten times the bar."""
    chainage = np.linspace(0, 600, 200)
    profile = Profile(chainage, 1000 - 0.1 * chainage)
    reach = pipe_size("4 in PVC Sch 40").pipe(profile.length_m / 12)
    line = Line((reach,) * 12)
    long_section(profile, line, 0.01)
    start = time.perf_counter()
    long_section(profile, line, 0.01)
    assert time.perf_counter() - start < 0.5


def test_negative_flow_is_refused():
    with pytest.raises(HydrokitError, match="flow_m3s"):
        long_section(PROFILE, LINE, -0.01)


# --- supports -------------------------------------------------------------------------------


def test_uplift_and_weight_balance():
    """analytic: uplift is what the water pushed aside weighs, less the pipe."""
    for filled in (0.0, 0.4, 1.0):
        together = pipe_uplift.si(0.2, 0.01, 1400.0, filled) + pipe_weight.si(
            0.2, 0.01, 1400.0, filled
        )
        assert together == pytest.approx(1000 * GRAVITY * np.pi / 4 * 0.04)
    assert pipe_uplift.si(0.1143, 0.00602, 7850.0) < 0 < pipe_uplift.si(0.1143, 0.00602, 955.0, 0.8)


def test_ice_ring_is_the_difference_of_two_cylinders():
    assert ring_of_ice.si(0.1, 0.0) == 0
    assert ring_of_ice.si(0.0, 0.05) == pytest.approx(917 * GRAVITY * np.pi / 4 * 0.01)
    assert snow_on_pipe.si(0.1, 0.5, 300.0) == pytest.approx(15 * GRAVITY)


def test_span_meets_the_tighter_of_its_two_limits():
    load, outside, wall = 108.7, 0.1143, 0.00602
    by_sag = pipe_span.si(load, outside, wall, 2.76e9, 1e9, 0.002)
    assert sag.si(load, by_sag, outside, wall, 2.76e9) == pytest.approx(0.002 * by_sag)
    by_stress = pipe_span.si(load, outside, wall, 2.76e12, 1e6, 0.002)
    assert support_stress.si(load, by_stress, outside, wall) == pytest.approx(1e6)
    with pytest.raises(HydrokitError, match="ends is"):
        sag("100 N/m", "2 m", "114 mm", "6 mm", "2.76 GPa", ends="free")
    with pytest.raises(HydrokitError, match="bore that|bore_that"):
        pipe_weight("100 mm", "60 mm")


def test_thrust_grows_with_the_turn():
    turns = np.radians([0, 20, 45, 90, 180])
    thrust = bend_thrust.si(5e5, 0.1, turns)
    assert thrust[0] == 0 and (np.diff(thrust) > 0).all()


def test_siphon_limit_warns_outside_the_atmosphere_table():
    assert siphon_limit("2600 m") < siphon_limit("0 m")
    with pytest.warns(RangeWarning):
        siphon_limit("7000 m")
