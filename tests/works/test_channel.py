"""Uniform flow, normal and critical depth, part-full pipes, losses of a ditch."""

import math

import fluids
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.tables import load
from hydrokit.units import Q_
from hydrokit.water import GRAVITY
from hydrokit.works.channel import FULLEST, manning, normal_depth, part_full, part_full_depth
from hydrokit.works.ditch import evaporation_loss, frozen_out, seepage_loss
from hydrokit.works.section import (
    best_section,
    channel_slope,
    critical_depth,
    critical_depth_pipe,
    freeboard,
)


def test_against_a_general_library():
    """independent: fluids.open_flow.V_Manning."""
    found = manning("0.5 m", "1.2 m", 0.004, 0.03, 1.5)
    area, wetted = (1.2 + 0.75) * 0.5, 1.2 + math.sqrt(3.25)
    assert found.velocity_ms == pytest.approx(
        fluids.open_flow.V_Manning(area / wetted, 0.004, 0.03)
    )
    assert found.flow.m_as("L/s") == pytest.approx(1000 * area * found.velocity_ms)
    assert found.top_width.m_as("m") == pytest.approx(2.7)
    assert found.hydraulic_radius.m_as("m") == pytest.approx(area / wetted)
    assert found.area.m_as("m^2") == pytest.approx(area)


@settings(derandomize=True, max_examples=80, deadline=None)
@given(
    depth=st.floats(0.001, 5),
    width=st.floats(0.0, 10),
    slope=st.floats(1e-5, 0.3),
    n=st.floats(0.008, 0.15),
    side=st.floats(0, 4),
)
def test_depth_slope_and_flow_agree(depth, width, slope, n, side):
    if width + side < 0.01:
        return
    flow = manning.si(depth, width, slope, n, side).flow_m3s
    assert normal_depth.si(flow, width, slope, n, side) == pytest.approx(depth, rel=1e-9)
    assert channel_slope.si(flow, depth, width, n, side) == pytest.approx(slope, rel=1e-9)
    critical = critical_depth.si(flow, width, side)
    at_critical = manning.si(critical, width, slope, n, side)
    area, top = at_critical.area_m2, at_critical.top_width_m
    assert flow**2 * top / (GRAVITY * area**3) == pytest.approx(1, rel=1e-8)


def test_froude_is_one_at_critical_depth():
    depth = critical_depth.si(0.5, 1.0)
    slope = channel_slope.si(0.5, depth, 1.0, 0.02)
    assert manning.si(depth, 1.0, slope, 0.02).froude == pytest.approx(1)
    assert manning.si(0.0, 1.0, 0.01, 0.02).flow_m3s == 0


@settings(derandomize=True, max_examples=60, deadline=None)
@given(filling=st.floats(0.001, 0.93), diameter=st.floats(0.05, 2), slope=st.floats(1e-4, 0.1))
def test_part_full_depth_is_the_inverse(filling, diameter, slope):
    flow = part_full.si(filling * diameter, diameter, slope, 0.01).flow_m3s
    assert part_full_depth.si(flow, diameter, slope, 0.01) == pytest.approx(
        filling * diameter, rel=1e-7
    )


def test_a_pipe_over_its_most_has_no_depth():
    most = float(part_full.si(FULLEST * 0.15, 0.15, 0.02, 0.01).flow_m3s)
    assert part_full_depth.si(0.0, 0.15, 0.02, 0.01) == 0
    with pytest.warns(RangeWarning, match="under pressure"):
        assert math.isnan(part_full_depth(Q_(1.01 * most, "m^3/s"), "150 mm", 0.02, 0.01).m_as("m"))
    with pytest.raises(HydrokitError, match="depth_over_diameter"):
        part_full("0.2 m", "0.15 m", 0.02, 0.01)


def test_critical_depth_in_a_pipe():
    filling = np.array([0.05, 0.3, 0.7, 0.95])
    theta = 2 * np.arccos(1 - 2 * filling)
    flow = np.sqrt(GRAVITY * ((theta - np.sin(theta)) / 8) ** 3 / np.sin(theta / 2))
    np.testing.assert_allclose(critical_depth_pipe.si(flow, 1.0), filling, rtol=1e-9)
    assert critical_depth_pipe.si(0.0, 1.0) == 0
    assert critical_depth_pipe.si(1e4, 1.0) == 1.0


def test_best_section_has_the_least_wall():
    for side in (0.0, 0.5, 1.5):
        depth, _, wall = best_section.si(3.0, side)
        for other in (0.9 * depth, 1.1 * depth):
            width = 3.0 / other - side * other
            assert width + 2 * other * math.sqrt(1 + side**2) > wall


def test_rough_rules_tell_their_limits():
    with pytest.warns(RangeWarning, match="0.008 to 0.2"):
        manning("0.2 m", "0.4 m", 0.01, 0.3)
    with pytest.warns(RangeWarning, match="steeper than 0.1"):
        part_full("5 cm", "15 cm", 0.2, 0.01)
    with pytest.warns(RangeWarning, match="steeper"):
        normal_depth("5 L/s", "0.4 m", 0.2, 0.03)
    assert freeboard.si(0.1) == 0.15


# --- a ditch --------------------------------------------------------------------------------


def test_seepage_is_a_band_and_the_texts_agree_within_it():
    """Unlined channels as read: 0.22 to 0.43 m/d (Asawa), 0.03 to 0.61 (Indian standard, quoted); lined under 0.12."""
    low, middle, high = seepage_loss("100 m", "1 m")
    assert high == 4 * low and middle == 2 * low
    per_day = np.array([each.m_as("m^3/s") for each in (low, middle, high)]) * 86400 / 100
    assert per_day[0] < 0.216 < 0.432 < per_day[2]
    assert per_day[2] < 0.605


def test_evaporation_is_about_a_tenth_of_seepage():
    seepage = seepage_loss.si(200.0, 1.2)[1]
    assert 0.005 < evaporation_loss.si(200.0, 0.6) / seepage < 0.1


def test_open_ground_freezes_out_more_the_larger_and_the_colder():
    """Bounds: 47 to 140 W/m² measured before frazil formed (Osterkamp and others)."""
    low, high = frozen_out.si(5000.0, np.array([47.0, 140.0]))
    assert low == pytest.approx(0.7e-3, rel=0.02) and high == pytest.approx(2.1e-3, rel=0.02)


def test_seepage_table_in_its_sources_own_units():
    """m³/s per million m² and ft/d, as printed, against the table's m/d."""
    table = load("seepage")
    rate = dict(zip(table["name"], table["m_per_day"]))
    for name, printed in (
        ("unlined clay loam", 2.5),
        ("unlined sandy loam", 5.0),
        ("unlined design value", 3.0),
    ):
        assert rate[name] == pytest.approx(printed * 86400 / 1e6, abs=6e-4)
    lows, highs = (dict(zip(table["name"], table[column])) for column in ("low", "high"))
    assert (lows["unlined any soil"], highs["unlined any soil"]) == pytest.approx(
        (0.3 * 0.0864, 7.0 * 0.0864), abs=6e-4
    )
    assert (lows["concrete lined"], highs["concrete lined"]) == pytest.approx(
        (0.048 * 0.3048, 0.071 * 0.3048), abs=6e-5
    )
    assert highs["lined deteriorated"] == pytest.approx(0.38 * 0.3048, abs=6e-4)
