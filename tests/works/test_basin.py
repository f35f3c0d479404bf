"""Settling, silt, storage and cover."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.works.basin import (
    basin_area,
    basin_speed,
    flushing_interval,
    settling_velocity,
    silt_volume,
    trap_efficiency,
)
from hydrokit.works.forebay import gravel_trap, inlet_cover, storage_time, transition_length


def test_fine_grains_sink_by_stokes_and_coarse_ones_by_their_drag():
    """analytic: the two ends of the formula, R g D^2/(18 nu) and sqrt(R g D/0.75)."""
    nu = 1.3e-6
    fine, coarse = 1e-6, 5.0
    assert settling_velocity.si(fine, viscosity=nu) == pytest.approx(
        1.65 * 9.80665 * fine**2 / (18 * nu), rel=2e-3
    )
    assert settling_velocity.si(coarse, viscosity=nu) == pytest.approx(
        math.sqrt(1.65 * 9.80665 * coarse / 0.75), rel=1e-5
    )


def test_colder_rougher_lighter_grains_sink_slower():
    base = settling_velocity.si(2e-4)
    assert settling_velocity.si(2e-4, 273.2) < base
    assert (
        settling_velocity.si(2e-4, shape="angular")
        < base
        < settling_velocity.si(2e-4, shape="sphere")
    )
    assert settling_velocity.si(2e-4, excess_density=0.5) < base
    assert settling_velocity.si(0.0) == 0
    with pytest.raises(HydrokitError, match="natural, sphere or angular"):
        settling_velocity("1 mm", shape="flake")
    with pytest.warns(RangeWarning, match="sticks together"):
        settling_velocity("0.002 mm")


@settings(derandomize=True, max_examples=60, deadline=None)
@given(load=st.floats(0.01, 20), basins=st.floats(1, 50))
def test_turbulence_only_costs(load, basins):
    """Hazen with few basins, Vetter, still water: in that order, all within 0 to 1."""
    hazen, vetter, still = (
        trap_efficiency.si(load, 1.0, 1.0, method, basins)
        for method in ("hazen", "vetter", "still")
    )
    assert 0 < hazen <= vetter + 1e-12 and vetter <= still + 1e-12 and still <= 1


def test_handbook_basin_catches_most_of_its_grain():
    area = basin_area.si(0.455, 0.037)
    assert trap_efficiency.si(0.037, area, 0.455) == pytest.approx(1 - math.exp(-2))
    with pytest.raises(HydrokitError, match="vetter, hazen or still"):
        trap_efficiency("1 mm/s", "1 m^2", "1 L/s", method="camp")


def test_silt_and_interval_are_inverse():
    room = silt_volume.si(0.02, 0.5, 86400.0, 0.7)
    assert flushing_interval.si(room, 0.02, 0.5, 0.7) == pytest.approx(86400)
    assert flushing_interval.si(1.0, 0.02, 0.0) == np.inf
    with pytest.raises(HydrokitError, match="trapped"):
        silt_volume("20 L/s", "1 kg/m^3", "1 d", trapped=1.5)


def test_storage():
    assert storage_time.si(6.0, 0.02, 0.02) == np.inf
    assert storage_time.si(6.0, 0.02, 0.05) == np.inf
    np.testing.assert_allclose(storage_time.si(6.0, np.array([0.02, 0.04])), [300, 150])


def test_cover_grows_with_flow_and_shrinks_with_a_larger_inlet():
    assert inlet_cover.si(0.0, 0.2) == 0.2
    assert inlet_cover.si(0.03, 0.2) > inlet_cover.si(0.02, 0.2)
    assert inlet_cover.si(0.02, 0.15) > inlet_cover.si(0.02, 0.25)


def test_small_rules():
    assert basin_speed.si(1e-3) == pytest.approx(0.44)
    with pytest.warns(RangeWarning, match="0.1 to 1 mm"):
        basin_speed("3 mm")
    width, length = gravel_trap.si(0.03, np.array([0.2, 0.3]), 0.4)
    np.testing.assert_allclose(width, [0.25, 1 / 6])
    np.testing.assert_allclose(length, 1.2)
    assert transition_length.si(2.0, 2.0) == 0
    with pytest.raises(HydrokitError, match="widening"):
        transition_length("1 m", "2 m")
