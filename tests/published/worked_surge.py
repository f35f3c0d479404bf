"""Published surge examples that take several calls."""

from __future__ import annotations

import math

from hydrokit.units import Q_
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.surge import critical_time, surge, wave_speed, wave_speed_plastic
from hydrokit.works.transient import water_hammer

GRAVITY = Q_(9.80665, "m/s^2")


def pressure(velocity_change, density, length="1000 m", closing_time="0 s", **pipe):
    """Rise of pressure at the valve."""
    head = surge(velocity_change, wave_speed(density=density, **pipe), length, closing_time)
    return (head * Q_(density) * GRAVITY).to("kPa")


def head_at_once(velocity_change, **pipe):
    return surge(velocity_change, wave_speed(**pipe), "1000 m")


def round_trip(length, **pipe):
    return critical_time(length, wave_speed(**pipe))


def total_pressure(static_head, unit_weight, **closing):
    return (pressure(**closing) + Q_(static_head) * Q_(unit_weight)).to("kPa")


def pressure_in_us_units(flow, left, diameter, speed, density):
    """psi when the flow in a pipe is cut to what is left."""
    change = (Q_(flow) - Q_(left)) / (math.pi / 4 * Q_(diameter) ** 2)
    return (surge(change, speed, "1000 ft") * Q_(density) * GRAVITY).to("psi")


def stopped_flow(flow, diameter, wall, length, density, closing_time, **water):
    """Wave speed, round trip and rise of pressure when a flow is stopped, in m/s, s and kPa."""
    speed = wave_speed(diameter, wall, density=density, **water)
    velocity = Q_(flow) / (math.pi / 4 * Q_(diameter) ** 2)
    head = surge(velocity, speed, length, closing_time)
    return [
        speed.m_as("m/s"),
        critical_time(length, speed).m_as("s"),
        (head * Q_(density) * GRAVITY).m_as("kPa"),
    ]


def plastic_pressure(dimension_ratio, velocity_change):
    """psi of a sudden stop in PVC pipe, water of 62.4 lb/ft³."""
    head = surge(velocity_change, wave_speed_plastic(dimension_ratio), "1000 ft")
    return (head * Q_("62.4 lb/ft^3") * GRAVITY).to("psi")


def highest_after_instant_closing(diameter, length, speed, flow, static_head):
    """Highest head at the valve by following the waves, next to no friction."""
    line = Line((Pipe(Q_(diameter).m_as("m"), Q_(length).m_as("m"), 0.0, loss_factor=1e-9),))
    return water_hammer(
        line, speed, flow, static_head, ["0 s", "0.000001 s"], [1, 0], duration="12 s"
    ).highest
