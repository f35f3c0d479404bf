"""Worked examples of the money room that take more than one call."""

from __future__ import annotations

import numpy as np

from hydrokit.energy.cash import cash_flow
from hydrokit.energy.discounting import (
    annuity_factor,
    capital_recovery,
    net_present_value,
    replacement_value,
)
from hydrokit.energy.economic_diameter import economic_diameter
from hydrokit.energy.money import Costs, levelised_cost, payback
from hydrokit.plant.turbine import hydraulic_power
from hydrokit.units import Q_


def power_of_saved_head(flow, before, after, efficiency):
    """Power that a wider pipe brings by losing less head."""
    return hydraulic_power(flow, Q_(before) - Q_(after)) * efficiency


def energy_of_power(power, hours, days, share):
    """Energy of a power that runs some hours a day on some days, at a share of its full load."""
    return Q_(power) * Q_(hours) * days * share


def value_of_energy(energy, price):
    """What energy is worth."""
    return Q_(energy) * Q_(price)


def worth_of_lasting_energy(energy, price, years, rate):
    """Net present value of energy that comes every year, nothing paid for it."""
    return net_present_value("0 money", Q_(energy) * Q_(price), years, rate)


def recovered_cost(years, rate):
    """A capital cost of one, paid back by its own annuity: worth nothing, whatever the life and rate."""
    return net_present_value(
        Q_(np.ones(len(years)), "money"), Q_(capital_recovery(years, rate), "money"), years, rate
    )


def life_from_payback(years, rate):
    """The life found again as the payback of what its annuity factor is worth."""
    return payback(Q_(annuity_factor(years, rate), "money"), "1 money", rate)


def price_that_breaks_even(capital_cost, energy, years, rate, upkeep):
    """Net present value of selling every kWh at its levelised cost."""
    price = levelised_cost(capital_cost, energy, years, rate, upkeep)
    return net_present_value(capital_cost, price * Q_(energy) - Q_(upkeep), years, rate)


def perpetual_replacement(cost, every, rate):
    """Replacements for so long that they never end, over the capitalised cost of one: 1/((1 + i)^k - 1)."""
    return replacement_value(cost, every, 100_000, rate).magnitude / Q_(cost).magnitude


def rate_from_books(years, rate):
    """The interest that a plant earns which costs just what its yearly 1 is worth at a rate: that rate."""
    costs = Costs(life_years=years, value_money_per_kwh=1.0, discount_rate=0.0)
    return float(cash_flow(annuity_factor(years, rate), 1.0, costs).internal_rate)


def worth_from_books(capital_cost, yearly, years, rate):
    """Net present value from books kept year by year."""
    costs = Costs(life_years=years, value_money_per_kwh=1.0, discount_rate=Q_(rate).m_as(""))
    return Q_(
        float(cash_flow(Q_(capital_cost).magnitude, Q_(yearly).magnitude, costs).discounted[-1]),
        "money",
    )


def friction_beside_pipe(
    flow, hours, friction_factor, efficiency, value, price, diameter, exponent, years, rate
):
    """At the economic bore: yearly value of what friction takes in a metre, over the annuity of that metre."""
    bore = economic_diameter(
        flow, hours, friction_factor, efficiency, value, price, diameter, exponent, years, rate
    )
    speed = Q_(flow) / (np.pi / 4 * bore**2)
    lost_in_a_metre = friction_factor * Q_("1 m") / bore * speed**2 / (2 * Q_("9.80665 m/s^2"))
    energy = hydraulic_power(flow, lost_in_a_metre) * efficiency * Q_(hours)
    annuity = (
        Q_(price)
        * Q_("1 m")
        * (bore / Q_(diameter)).m_as("") ** exponent
        * capital_recovery(years, rate)
    )
    return (energy * Q_(value) / annuity).m_as("")
