"""Published and closed-form examples of plants and their energy that take several calls."""

from __future__ import annotations

import numpy as np

from hydrokit.energy.year_power import duration_energy
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.stream.rights import fixed, resolve_rights
from hydrokit.units import Q_
from hydrokit.water import GRAVITY

WEIGHT = 9810.0 / GRAVITY  # density that gives the sources' round specific weight of 9.81 kN/m³


def _lossless(head, efficiency, design_flow, minimum_flow="0 L/s", density=WEIGHT):
    """A governed machine under a steady head with one efficiency."""
    penstock = Penstock(MeasuredLoss(0.0), Q_(head).m_as("m"))
    runner = Runner(steady(efficiency), minimum_flow_m3s=Q_(minimum_flow).m_as("m^3/s"))
    return Chain(penstock, Adjustable(Q_(design_flow).m_as("m^3/s")), runner, density_kgm3=density)


def _usable(flows, residual):
    natural = Q_(flows).m_as("m^3/s")
    return resolve_rights([fixed(residual)]).usable_si(natural, 1)


def chain_powers(flows, residual, head, efficiency, design_flow, minimum_flow):
    """Net power at each natural flow."""
    curve = _lossless(head, efficiency, design_flow, minimum_flow).curve()
    return Q_(curve.power_si(_usable(flows, residual)), "W")


def chain_energy(exceedance, flows, residual, head, efficiency, design_flow, minimum_flow):
    """Energy of a year of 8760 h from a duration curve of natural flow."""
    curve = _lossless(head, efficiency, design_flow, minimum_flow).curve()
    return duration_energy(exceedance, Q_(_usable(flows, residual), "m^3/s"), curve)


def chain_capacity_factor(exceedance, flows, residual, head, efficiency, design_flow, minimum_flow):
    """That energy over the greatest power all year."""
    energy = chain_energy(exceedance, flows, residual, head, efficiency, design_flow, minimum_flow)
    most = _lossless(head, efficiency, design_flow, minimum_flow).curve().rated_w
    return (energy / (Q_(most, "W") * Q_("8760 h"))).m_as("")


def monthly_power(volumes, head, efficiency):
    """Mean power of months of thirty days, all their water used."""
    flow = np.array(volumes) * 1e6 / (30 * 86400)
    plant = _lossless(head, efficiency, Q_(float(2 * flow.max()), "m^3/s"))
    return Q_(float(np.mean(plant.at_si(flow).power_w)), "W")


def steady_power(flow, head, efficiency):
    """Power of one flow."""
    return Q_(float(_lossless(head, efficiency, flow).at_si(Q_(flow).m_as("m^3/s")).power_w), "W")


def power_won(flow, gross_head, loss, smaller_loss, efficiency):
    """Power that a wider penstock brings at one flow."""
    at = Q_(flow).m_as("m^3/s")
    power = []
    for lost in (loss, smaller_loss):
        penstock = Penstock(MeasuredLoss(Q_(lost).m_as("m") / at**2), Q_(gross_head).m_as("m"))
        power.append(
            float(
                Chain(penstock, Adjustable(at), Runner(steady(efficiency)), density_kgm3=WEIGHT)
                .at_si(at)
                .power_w
            )
        )
    return Q_(power[1] - power[0], "W")


def _best_nozzle(head, length, diameter, friction, nozzle):
    """A pipe with a nozzle on its end, friction factor given, nothing lost in the nozzle."""
    length, diameter = Q_(length).m_as("m"), Q_(diameter).m_as("m")
    loss = friction * length / diameter / (2 * GRAVITY * (np.pi / 4 * diameter**2) ** 2)
    penstock = Penstock(MeasuredLoss(loss), Q_(head).m_as("m"))
    return Chain(
        penstock, FixedJets((Q_(nozzle).m_as("m"),), 1.0), Runner(steady(1.0)), density_kgm3=1000.0
    )


def nozzle_flow(head, length, diameter, friction, nozzle):
    """Flow of the nozzle at the end of a pipe."""
    return _best_nozzle(head, length, diameter, friction, nozzle).at_si(np.inf).used


def nozzle_power(head, length, diameter, friction, nozzle):
    """Power of its jet."""
    return _best_nozzle(head, length, diameter, friction, nozzle).at_si(np.inf).power.to("hp")


def nozzle_loss_share(head, length, diameter, friction, nozzle):
    """Share of the head that the pipe takes."""
    plant = _best_nozzle(head, length, diameter, friction, nozzle)
    return float(plant.penstock.loss_si(plant.at_si(np.inf).used_m3s) / plant.penstock.head_gross_m)


def best_loss_share(exponent):
    """Share of the head lost at the flow of most power."""
    penstock = Penstock(MeasuredLoss(4.2e3, exponent), 73.0)
    flow = penstock.most_power_flow_si(1.0)
    return float(penstock.loss_si(flow) / 73.0)


def under_fed_power_ratio(share):
    """Power of under-fed jets over that of the same jets fed, at a share of their flow."""
    plant = Chain(
        Penstock(MeasuredLoss(9e3), 40.0), FixedJets((0.015,) * 3, 0.95), Runner(steady(0.6))
    )
    full = plant.at_si(np.inf, jets=3)
    return float(plant.at_si(share * full.used_m3s, jets=3).power_w / full.power_w)
