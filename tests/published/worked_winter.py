"""Published winter examples that take several calls."""

from __future__ import annotations

import numpy as np

from hydrokit import Q_
from hydrokit.works.frost import freezing_time
from hydrokit.works.ice import stream_thermometer
from hydrokit.works.insulation import thermal_resistance
from hydrokit.works.soil import MOIST, Soil, ground


def pipe_times(inside, water, air, pick="to_zero", **around):
    """Hours to 0 °C (or another of the times) for a pipe described by its layers."""
    times = freezing_time(inside, thermal_resistance(**around), air, water)
    return getattr(times, pick).to("h")


def hours_from_zero(inside, air, pick, **around):
    """Hours to a share of ice, for water that is at 0 °C already."""
    return pipe_times(inside, "0 degC", air, pick, **around)


def coldest_credible_reading():
    """Lowest reading, in thousandths of a degree below zero, that a stream thermometer is still believed."""
    believed = [
        each
        for each in range(200)
        if not str(stream_thermometer(f"{-each / 1000} degC")).startswith("no stream")
    ]
    return float(max(believed))


# Dry 1770 kg/m³, 18.7 % of water by mass; heat capacities from dry mineral of 0.17 Btu/(lb °F), conductivities
# from those and the published diffusivities of 42.55 cm²/h frozen and 23.39 cm²/h thawed.
_TEST_SOIL = Soil(
    2.31, 1.719, frozen_jm3k=1.953e6, thawed_jm3k=2.646e6, latent_jm3=1770 * 0.187 * 333.55e3
)
_STEPS_A_DAY = 24


def _sudden_frost(surface, start, days, soil):
    air = Q_(np.full(days * _STEPS_A_DAY, Q_(surface).m_as("degC")), "degC")
    kinds = {"moist": MOIST, "test soil": _TEST_SOIL}
    return ground(air, "0 m", start, "1 h", "12 m", "2 cm", kinds[soil])


def frost_after(surface, start, days, soil="moist"):
    """Depth of the front so many days after the surface of ground of one temperature turned cold."""
    reached = [_sudden_frost(surface, start, each, soil).frost_m[-1] for each in days]
    return Q_(np.array(reached), "m")


def ground_after(surface, start, days, depths, soil="moist"):
    """Temperatures of that ground, in degrees C."""
    found = _sudden_frost(surface, start, days, soil)
    return [float(found.at(Q_(each).m_as("m"))[-1]) - 273.15 for each in depths]
