"""Published worked examples of machines, cables and heat that take several calls."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from hydrokit.plant.cable import cable
from hydrokit.plant.conversion import inverter, transformer
from hydrokit.plant.fuel import fuel_heat
from hydrokit.plant.gauge import circular_mils, gauge_diameter
from hydrokit.plant.heat import degree_day_heat, surface_loss
from hydrokit.plant.jets import best_flow, best_jet_diameter, jet_flow_at_head, jet_velocity
from hydrokit.plant.pelton import bucket_efficiency, jets_needed, pelton
from hydrokit.plant.reaction import axial_runner
from hydrokit.plant.starting import motor_start
from hydrokit.plant.turbine import hydraulic_power, specific_speed
from hydrokit.units import Q_

GRAVITY = Q_(9.80665, "m/s^2")


def flow_for(power, head, efficiency, temperature="10 degC"):
    """Flow that gives a power: the unit flow scaled."""
    one = hydraulic_power("1 m^3/s", head, temperature)
    return Q_("1 m^3/s") * (Q_(power) / (efficiency * one)).to("")


def pelton_by_jet_ratio(
    power, head, speed, efficiency, jet_ratio, velocity_coefficient, speed_ratio
):
    """Runner from the speed, jets from the jet ratio, their number from the flow."""
    flow = flow_for(power, head, efficiency)
    size = pelton(flow, head, 3, speed, velocity_coefficient, speed_ratio)
    jet = size.runner_diameter * jet_ratio
    return SimpleNamespace(
        flow=flow,
        runner=size.runner_diameter,
        jet=jet,
        velocity=jet_velocity(head, velocity_coefficient),
        jets=jets_needed(flow, head, jet, velocity_coefficient),
    )


def pelton_by_specific_speed(
    power, head, metric_specific_speed, efficiency, velocity_coefficient, speed_over_jet
):
    """Speed from the specific speed, then jet and runner."""
    speed = Q_(metric_specific_speed / specific_speed("1 rpm", power, head, "metric"), "rpm")
    size = pelton(
        flow_for(power, head, efficiency),
        head,
        1,
        speed,
        velocity_coefficient,
        speed_over_jet * velocity_coefficient,
    )
    return SimpleNamespace(speed=speed, jet=size.jet_diameter, runner=size.runner_diameter)


def pelton_power(velocity, jets, diameter, angle):
    """Power of jets of a known velocity on buckets at half their speed."""
    head = (Q_(velocity) ** 2 / (2 * GRAVITY)).to("m")
    flow = jet_flow_at_head(head, diameter, jets, 1.0)
    efficiency = bucket_efficiency(0.5, angle)
    return SimpleNamespace(efficiency=efficiency, power=hydraulic_power(flow, head) * efficiency)


def pelton_measured(
    head, runner, jet, speed, velocity_coefficient, friction, angle, mechanical, temperature
):
    """A given Pelton machine with one jet: flow, hydraulic efficiency, shaft power, specific speed."""
    flow = jet_flow_at_head(head, jet, 1, velocity_coefficient)
    bucket = (np.pi * Q_(runner) * Q_(speed)).to("m/s")
    share = (bucket / jet_velocity(head, velocity_coefficient)).to("").m_as("")
    hydraulic = velocity_coefficient**2 * bucket_efficiency(share, angle, friction)
    power = hydraulic_power(flow, head, temperature) * hydraulic * mechanical
    return SimpleNamespace(
        velocity=jet_velocity(head, velocity_coefficient),
        flow=flow,
        hydraulic=hydraulic,
        power=power,
        metric_specific_speed=specific_speed(speed, power, head, "metric"),
    )


def pelton_from_bucket_speed(
    head, flow, bucket_speed, velocity_coefficient, angle, mechanical, temperature
):
    """Shaft power and overall efficiency where the speed of the bucket is given."""
    share = (Q_(bucket_speed) / jet_velocity(head, velocity_coefficient)).to("").m_as("")
    overall = velocity_coefficient**2 * bucket_efficiency(share, angle) * mechanical
    return SimpleNamespace(
        overall=overall, power=hydraulic_power(flow, head, temperature) * overall
    )


def pelton_two_jets(
    power, jets, head, runner, speed, velocity_coefficient, efficiency, temperature
):
    """Jet, speed ratio and specific speed of one jet of a machine of known runner and speed."""
    ideal = jet_velocity(head, 1.0)
    ratio = ((np.pi * Q_(runner) * Q_(speed)) / ideal).to("").m_as("")
    flow = flow_for(power, head, efficiency, temperature)
    size = pelton(flow, head, jets, speed, velocity_coefficient, ratio)
    return SimpleNamespace(
        jet=size.jet_diameter,
        speed_ratio=ratio,
        runner=size.runner_diameter,
        metric_specific_speed=specific_speed(speed, Q_(power) / jets, head, "metric"),
    )


def specific_speed_over_jet_ratio(head, flow, velocity_coefficient, speed_ratio, efficiency):
    """Specific speed of a Pelton machine with one jet, over its jet ratio d/D: a constant."""
    size = pelton(flow, head, 1, None, velocity_coefficient, speed_ratio)
    power = hydraulic_power(flow, head) * efficiency
    return specific_speed(size.speed, power, head, "metric") * size.jet_ratio


def kaplan_by_ratios(power, head, efficiency, speed_ratio, flow_ratio, hub_ratio, temperature):
    runner = axial_runner(
        flow_for(power, head, efficiency, temperature), head, speed_ratio, flow_ratio, hub_ratio
    )
    return SimpleNamespace(
        diameter=runner.diameter,
        speed=runner.speed,
        metric_specific_speed=specific_speed(runner.speed, power, head, "metric"),
    )


def station(flow, head, turbine, generator, other_loss, units, temperature):
    """Ideal and electric power of one machine, and of all of them."""
    ideal = hydraulic_power(flow, head, temperature)
    electric = ideal * turbine * generator * (1 - other_loss)
    return SimpleNamespace(ideal=ideal, electric=electric, total=electric * units)


def catchment_power(area, rain, used, head, efficiencies):
    """Mean power of a year's rain on a catchment."""
    flow = (Q_(area) * Q_(rain) * used / Q_("365 d")).to("m^3/s")
    power = hydraulic_power(flow, head)
    for each in efficiencies:
        power = power * each
    return SimpleNamespace(flow=flow, power=power)


def jet_and_runner_without_speed_limits(head, flow, speed, speed_ratio):
    """Jet and pitch circle as a reader of the textbook gets them, before any size is refused."""
    bucket = speed_ratio * jet_velocity(head, 1.0)
    runner = (bucket / (np.pi * Q_(speed))).to("ft")
    area = (Q_(flow) / jet_velocity(head, 1.0)).to("ft^2")
    return SimpleNamespace(runner=runner, jet=(4 * area / np.pi) ** 0.5)


def power_through_a_pipe(head, length, diameter, friction, runner, angle):
    """Most power through a nozzle at the end of a long pipe, on a Pelton runner at half the jet's speed."""
    pipe_area = np.pi / 4 * Q_(diameter) ** 2
    known = Q_("1 cfs")
    loss = (friction * Q_(length) / Q_(diameter) * (known / pipe_area) ** 2 / (2 * GRAVITY)).to(
        "ft"
    )
    flow = best_flow(known, head, loss)
    lost = (loss * (flow / known).to("") ** 2).to("ft")
    net = Q_(head) - lost
    velocity = jet_velocity(net, 1.0)
    jet_power = hydraulic_power(flow, net)
    return SimpleNamespace(
        jet=best_jet_diameter(diameter, length, friction),
        velocity=velocity.to("ft/s"),
        flow=flow.to("cfs"),
        loss_share=(lost / Q_(head)).to("").m_as(""),
        speed=(velocity / 2 / (np.pi * Q_(runner))).to("rpm"),
        jet_power=jet_power.to("hp"),
        power=(jet_power * bucket_efficiency(0.5, angle)).to("hp"),
    )


def overall_of_rule(divisor):
    """Water-to-wire efficiency hidden in the rule watts = feet x gallons a minute / divisor."""
    return (Q_(1 / divisor, "W") / hydraulic_power("1 gpm", "1 ft")).to("").m_as("")


def overall_of_metric_rule(factor):
    """Water-to-wire efficiency hidden in the rule kilowatts = factor x cubic metres a second x metres."""
    return (Q_(factor, "kW") / hydraulic_power("1 m^3/s", "1 m")).to("").m_as("")


def drop_along(load):
    """Drop of a load spread along a line over that of the same load at its end."""
    line = {"power": "5 kW", "voltage": "230 V", "length": "100 m", "section": "35 mm^2"}
    return cable(**line, load=load).drop_v / cable(**line).drop_v


def _loop(section, material, length, temperature):
    """Resistance of one of the two wires, as the drop of a direct current shows it."""
    run = cable("1 W", "100 V", length, section, "dc", material, temperature=temperature)
    return run.drop_v / run.current_a / 2


def ohms_per_km(sections, material="copper"):
    return [_loop(each, material, "1 km", "20 degC") for each in sections]


def ohms_per_kft(sections, material="copper"):
    return [_loop(each, material, "1000 ft", "75 degC") for each in sections]


def transformer_at_best(rated_power, no_load_loss, full_load_loss):
    """Efficiency where the winding loss has fallen to the iron loss."""
    share = (Q_(no_load_loss) / Q_(full_load_loss)).to("").m_as("") ** 0.5
    return transformer(rated_power, no_load_loss, full_load_loss).efficiency_si(share)


def inverter_at_best(rated_power, idle_power, best_efficiency):
    return (
        inverter(rated_power, idle_power, best_efficiency)
        .efficiency_si(np.linspace(0.01, 1, 10001))
        .max()
    )


def seasonal_heat(design_loss, design_difference, degree_days, factor):
    """Conductance from a design loss, then the heat of a season."""
    conductance = Q_(design_loss) / Q_(design_difference)
    return degree_day_heat(conductance, factor * Q_(degree_days))


def house_rows(areas, transmittances, differences):
    """Heat through a list of surfaces, one by one."""
    return surface_loss(
        areas, [f"{each} Btu/h/ft^2/delta_degF" for each in transmittances], differences
    ).to("Btu/h")


def fuel_cost(fuel, price_per_million_btu):
    """What a unit of fuel is worth at a price for a million Btu of useful heat."""
    return fuel_heat(fuel).m_as("Btu") / 1e6 * price_per_million_btu


def firewood_heat(fuels, efficiency):
    """Useful heat of a cord of each of several woods."""
    return Q_([f"{fuel_heat(each, efficiency).m_as('kWh')} kWh" for each in fuels])


def mils_of_gauge(gauge):
    """Circular mils of a gauge, from its diameter."""
    return circular_mils(np.pi / 4 * gauge_diameter(gauge) ** 2)


def ohm_of_gauge(gauge, resistivity):
    """Resistance of a length of a gauge, from its diameter."""
    return (Q_(resistivity) / (np.pi / 4 * gauge_diameter(gauge) ** 2)).to("ohm/km")


def handbook_start():
    """Standing load and locked rotor of the handbook's case, from the impedances it prints; the dip in shares of the voltage before."""
    behind, emf, before = 0.02 + 0.25j, 1.0686 + 0.1072j, 0.9697
    running = before / ((emf - before) / behind)  # standing load as an impedance
    rotor = 1 / (1 / (0.3429 + 0.6047j) - 1 / running)
    standing, start = before**2 / abs(running), before**2 / abs(rotor)
    found = motor_start(
        Q_(start, "MW"),
        "1 MW",
        "1 V",
        behind.imag / before**2,
        behind.real / before**2,
        rotor.real / abs(rotor),
        Q_(standing, "MW"),
        running.real / abs(running),
    )
    return found.dip


def start_of_pure_reactance(start, rating, reactance):
    """Dip at the start of a motor that is a reactance."""
    return motor_start(start, rating, "400 V", reactance, start_power_factor=1e-6).dip
