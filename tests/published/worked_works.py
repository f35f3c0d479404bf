"""Published worked examples of the water's way that take several calls."""

from __future__ import annotations

import math

import numpy as np

from hydrokit.units import Q_
from hydrokit.water import viscosity
from hydrokit.works.basin import settling_velocity, trap_efficiency
from hydrokit.works.channel import part_full, part_full_depth
from hydrokit.works.fittings import enlargement, fitting, roughness
from hydrokit.works.friction import friction_factor
from hydrokit.works.hazen_williams import hazen_williams
from hydrokit.works.inclined import inclined_screen_band
from hydrokit.works.intake import crest, orifice, pipe_inlet, standpipe
from hydrokit.works.pipe import Line, Pipe, pipe_diameter, pipe_flow, pipe_loss
from hydrokit.works.pipe_sizes import pipe_size
from hydrokit.works.profile import Profile, long_section
from hydrokit.works.screens import bottom_rack_band
from hydrokit.works.section import best_section, critical_depth
from hydrokit.works.support import bend_thrust, pipe_weight, sag, support_stress
from hydrokit.works.traverse import traverse

GRAVITY = Q_(9.81, "m/s^2")


def area(diameter):
    return math.pi / 4 * Q_(diameter) ** 2


def speed_in_pipe(flow, diameter):
    return (Q_(flow) / area(diameter)).to("m/s")


def pressure_lost(density, **pipe):
    """Pressure and power spent, from the head lost."""
    lost = pipe_loss(**pipe) * Q_(density) * GRAVITY
    return lost.to("kPa")


def power_lost(density, flow, **pipe):
    return (pressure_lost(density, flow=flow, **pipe) * Q_(flow)).to("W")


def source_level(outlet_level, **pipe):
    return Q_(outlet_level) + pipe_loss(**pipe)


def diameter_then_speed(flow, **pipe):
    return speed_in_pipe(flow, f"{pipe_diameter(flow, **pipe).m_as('m')} m")


def diameter_then_factor(flow, viscosity, roughness, **pipe):
    bore = pipe_diameter(flow, viscosity=viscosity, roughness=roughness, **pipe)
    reynolds = (speed_in_pipe(flow, f"{bore.m_as('m')} m") * bore / Q_(viscosity)).m_as("")
    return [reynolds, friction_factor(reynolds, (Q_(roughness) / bore).m_as(""))]


def slope_power(unit_weight, gradient, length, **pipe):
    """Power that friction takes in a stretch of a pipe running at a grade."""
    flow = pipe_flow(loss=f"{gradient * 1000} m", length="1000 m", **pipe)
    return (Q_(unit_weight) * flow * gradient * Q_(length)).to("kW")


def power_ratio_of_bores(diameters, roughness):
    """Power spent in two rough pipes at one flow."""
    one, two = (friction_factor(1e12, (Q_(roughness) / Q_(each)).m_as("")) for each in diameters)
    return one / two * (Q_(diameters[1]) / Q_(diameters[0])).m_as("") ** 5


def fitting_losses(flow, diameter, names):
    """Head lost in fittings alone, each rounded to a centimetre as in the source."""
    head = speed_in_pipe(flow, diameter) ** 2 / (2 * GRAVITY)
    return [(fitting(name) * head).m_as("m") for name in names]


def enlargement_pressure(flow, smaller, larger, pressure, unit_weight):
    """Pressure behind a sudden enlargement."""
    before, after = speed_in_pipe(flow, smaller), speed_in_pipe(flow, larger)
    gained = (before**2 - after**2 - enlargement(smaller, larger) * before**2) / (2 * GRAVITY)
    return (Q_(pressure) + gained * Q_(unit_weight)).to("kPa")


# Pipes with one friction factor: roughness in one ratio to the bore, turbulence without end.
_RATIO, _FLOW, _VISCOSITY = 0.001, 1e5, 1e-6


def _rough(length, diameter):
    bore = Q_(diameter).m_as("m")
    return Pipe(bore, Q_(length).m_as("m"), _RATIO * bore)


def series_length(lengths, diameters, diameter):
    """Length of one pipe that loses what several in series lose."""
    line = Line(tuple(map(_rough, lengths, diameters)))
    return Q_(
        line.loss_si(_FLOW, _VISCOSITY) / _rough("1 m", diameter).loss_si(_FLOW, _VISCOSITY), "m"
    )


def series_diameter(lengths, diameters, length):
    line = Line(tuple(map(_rough, lengths, diameters)))
    one = _rough(length, "1 m").loss_si(_FLOW, _VISCOSITY)
    return Q_((one / line.loss_si(_FLOW, _VISCOSITY)) ** 0.2, "m")


def parallel_length(lengths, diameters, diameter):
    """Length of one pipe that passes what several beside each other pass under the same head."""
    head = 1e6
    total = sum(
        Line((_rough(*each),)).flow_si(head, _VISCOSITY) for each in zip(lengths, diameters)
    )
    return Q_(head / _rough("1 m", diameter).loss_si(total, _VISCOSITY), "m")


def hazen_williams_exponents():
    """Exponents of flow and bore read off the function itself."""
    one = hazen_williams("1 m^3/s", "1 m", "1 m", 100)
    by_flow = hazen_williams("2 m^3/s", "1 m", "1 m", 100)
    by_bore = hazen_williams("1 m^3/s", "2 m", "1 m", 100)
    return [math.log2((by_flow / one).m_as("")), -math.log2((by_bore / one).m_as(""))]


def inside_diameters(names):
    return Q_([pipe_size(name).inside_m for name in names], "m")


def ratings(names):
    return Q_([pipe_size(name).rating_pa for name in names], "Pa")


def ratings_by_formula(names):
    """P = 2St/(D - t) with S = 2000 psi."""
    sizes = [pipe_size(name) for name in names]
    return Q_([2 * 2000 * each.wall_m / (each.outside_m - each.wall_m) for each in sizes], "psi")


def siphon(length, high_point_at, diameter, friction, levels, air_head, unit_weight):
    """Speed, flow, head lost to the high point and absolute pressure there, for a given friction factor."""
    bore, fall = Q_(diameter).m_as("m"), Q_(levels[0]).m_as("m") - Q_(levels[2]).m_as("m")
    far, at = Q_(length).m_as("m"), Q_(high_point_at).m_as("m")
    # The wall that has the given friction factor at the speed it allows.
    reynolds = (
        math.sqrt(2 * 9.81 * fall * bore / (friction * far))
        * bore
        / viscosity("10 degC").m_as("m^2/s")
    )
    smooth = 2.51 / (reynolds * math.sqrt(friction))
    pipe = Pipe(bore, far, 3.7 * bore * (10 ** (-1 / (2 * math.sqrt(friction))) - smooth))
    flow = float(Line((pipe,)).flow_si(fall, viscosity("10 degC").m_as("m^2/s")))
    section = long_section(
        Profile([0, at, far], [Q_(level).m_as("m") for level in levels], along_slope=True),
        Line((pipe,)),
        flow,
    )
    high_point = int(np.argmin(np.abs(section.distance_m - at)))
    speed = flow / (math.pi / 4 * bore**2)
    velocity_head = speed**2 / (2 * 9.81)
    lost = (
        float(section.static_grade_m[high_point] - section.running_grade_m[high_point])
        - velocity_head
    )
    gauge = float(section.running_grade_m[high_point] - section.elevation_m[high_point])
    return [
        speed,
        flow * 1000,
        lost,
        float((Q_(air_head).m_as("m") + gauge) * Q_(unit_weight).m_as("kN/m^3")),
    ]


# --- open channels --------------------------------------------------------------------------


def part_full_ratio(filling, of):
    """A figure of a part-full pipe over that of the full one; the width over the diameter."""
    part = part_full(Q_(np.array(filling), "m"), "1 m", 0.01, 0.010)
    full = part_full("1 m", "1 m", 0.01, 0.010)
    if of == "top_width":
        return part.top_width.m_as("m")
    return (getattr(part, of) / getattr(full, of)).m_as("")


def greatest_part_full(of):
    """Filling at which flow or speed is greatest, and the figure over that of the full pipe."""
    filling = np.linspace(0.7, 1.0, 300_001)
    ratio = part_full_ratio(filling, of)
    return [float(filling[np.argmax(ratio)]), float(ratio.max())]


def filling_as_full():
    """Lower filling at which a pipe carries as much as when just full."""
    full = part_full("1 m", "1 m", 0.01, 0.010).flow
    return part_full_depth(full, "1 m", 0.01, 0.010).m_as("m")


def flow_ratio_at_area(area_ratio):
    filling = np.linspace(0.5, 1.0, 500_001)
    at = filling[np.argmin(np.abs(part_full_ratio(filling, "area") - area_ratio))]
    return float(part_full_ratio(at, "flow"))


def critical_energy(flow, width):
    """Depth and energy at critical flow in a rectangle."""
    depth = critical_depth(flow, width)
    energy = depth + (Q_(flow) / (Q_(width) * depth)) ** 2 / (2 * GRAVITY)
    return [depth.m_as("m"), energy.m_as("m")]


def section_lengths(area, side_slope):
    return [each.m_as("m") for each in best_section(area, side_slope)]


# --- intake ---------------------------------------------------------------------------------


def standpipe_switch(diameter):
    """Head over diameter at which a standpipe's crest goes over from weir to orifice."""
    head = np.linspace(0.05, 1.5, 29_001) * Q_(diameter).m_as("m")
    flow = standpipe(Q_(head, "m"), diameter, "1000 m", entrance=0.0).m_as("m^3/s")
    power = np.diff(np.log(flow)) / np.diff(np.log(head))
    return float(head[np.argmax(power < 1.0)] / Q_(diameter).m_as("m"))


def inlet_and_orifice(depth, diameter):
    """A deep inlet against the plain orifice with the coefficient of a square edge."""
    deep = (Q_(depth) - Q_(diameter) / 2).m_as("m")
    plain = orifice(Q_(deep, "m"), Q_(area(diameter).m_as("m^2"), "m^2"), 0.62)
    return (pipe_inlet(depth, diameter) / plain).m_as("")


def critical_crest(head, length):
    """Flow over a crest with the coefficient of critical flow, 1/sqrt 3."""
    return crest(head, length, 1 / math.sqrt(3))


def grain_speeds(sizes_mm, **others):
    return settling_velocity(Q_(np.array(sizes_mm), "mm"), **others).to("m/s")


def hazen_limit(velocity, area, flow):
    """Hazen with very many basins over Vetter."""
    return trap_efficiency(velocity, area, flow, "hazen", 1e7) / trap_efficiency(
        velocity, area, flow
    )


# --- supports -------------------------------------------------------------------------------


def span_check(outside, inside, density, modulus, span):
    """Weight [N/m], sag on two supports and held [mm], bending stress [MPa]."""
    wall = Q_((Q_(outside) - Q_(inside)).m_as("m") / 2, "m")
    load = pipe_weight(outside, wall, density)
    simple, held = (
        sag(load, span, outside, wall, modulus, ends).m_as("mm")
        for ends in ("simple", "continuous")
    )
    return [load.m_as("N/m"), simple, held, support_stress(load, span, outside, wall).m_as("MPa")]


def thrust_over_dead_end(angle):
    """Thrust of a bend over the pressure on the full section."""
    full = Q_("5 bar") * area("100 mm")
    return (bend_thrust("5 bar", "100 mm", angle) / full).m_as("")


def fitting_coefficients(names):
    return [fitting(name) for name in names]


def roughness_mm(materials, condition="normal"):
    return [roughness(material, condition).m_as("mm") for material in materials]


def rack_theories(**rack):
    """Lengths of a bottom rack by both classes of theory, one after the other."""
    short, long = bottom_rack_band(**rack)
    return Q_([short.m_as("m"), long.m_as("m")], "m")


def inclined_theories(length, **screen):
    """Flow of the first length by depth, of the second by energy head."""
    by_depth, by_energy = length
    low, _ = inclined_screen_band(by_depth, **screen)
    _, high = inclined_screen_band(by_energy, **screen)
    return Q_([low.m_as("m^3/s"), high.m_as("m^3/s")], "m^3/s")


def walk_closure(bearings, distances):
    """How far a walk misses its beginning."""
    return Q_(traverse(bearings, distances).closure_m, "m")
