"""Published examples of air in pipes that take several calls."""

from __future__ import annotations

import math

import numpy as np

from hydrokit.units import Q_
from hydrokit.works.clearing import (
    clearing_band,
    clearing_velocity,
    froude,
    outlet_depth,
    outlet_flows,
)
from hydrokit.works.falling import falling_line
from hydrokit.works.filling_steps import filling_steps
from hydrokit.works.venting import high_point_pressure

GRAVITY = Q_(9.80665, "m/s^2")


def relative_clearing(angle, relation):
    """V/√(gD) of one relation."""
    speed = clearing_velocity("1 m", angle, relation)
    return (speed / (GRAVITY * Q_("1 m")) ** 0.5).m_as("")


def relative_band(angle):
    """Low and high of V/√(gD) over all relations."""
    return [(each / (GRAVITY * Q_("1 m")) ** 0.5).m_as("") for each in clearing_band("1 m", angle)]


def slope_angle_clearing(slope, relation):
    """V/√(gD) at a slope given as its tangent."""
    return relative_clearing(Q_(math.atan(slope), "rad"), relation)


def cavity_flow():
    """Q/√(gD⁵) that holds a cavity still."""
    diameter = Q_("1 m")
    return (outlet_flows(diameter)[1] / (GRAVITY * diameter**5) ** 0.5).m_as("")


def relative_outlet_depth(numbers):
    """h/D for flows in gpm per inch of bore to the power of 2.5."""
    return [outlet_depth(f"{number} gpm", "1 in").m_as("in") for number in numbers]


def full_end(diameter):
    """Q/√(gD⁵) and V/√(gD) from which the end section is full."""
    flow = outlet_flows(diameter)[2]
    return [(flow / (GRAVITY * Q_(diameter) ** 5) ** 0.5).m_as(""), froude(flow, diameter)]


def siphon_high_point(
    fall, length, high_point_at, diameter, friction, high_point_below_source, air_head, unit_weight
):
    """Absolute pressure at a high point, friction factor given, no loss at the ends."""
    speed = (2 * Q_(9.81, "m/s^2") * Q_(fall) * Q_(diameter) / (friction * Q_(length))) ** 0.5
    gauge = high_point_pressure(
        high_point_below_source, Q_(fall) * (Q_(high_point_at) / Q_(length)), speed, "20 degC"
    )
    return (gauge + Q_(air_head) * Q_(unit_weight)).to("kPa")


def filling_speed(diameter):
    """Speed of the water in the pipe at the flow the steps of filling allow."""
    line = falling_line(
        ["0 m", "100 m", "200 m"], ["99 m", "90 m", "70 m"], diameter, "0.01 mm", "100 m"
    )
    (fill,) = (step for step in filling_steps(line, 0.001) if step.kind == "fill")
    return (Q_(fill.flow_m3s, "m^3/s") / (np.pi / 4 * Q_(diameter) ** 2)).to("ft/s")
