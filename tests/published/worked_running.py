"""Worked examples of running a plant that take more than one call."""

from __future__ import annotations

import math

from scipy.special import ndtr

from hydrokit.plant.jets import jet_flow, jet_head
from hydrokit.running.drift import change_of_logs
from hydrokit.running.steps import penstock_steps
from hydrokit.running.visits import alarm_pressure, best_interval, visit_interval
from hydrokit.units import Q_
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.profile import Profile, long_section


def halves_at_the_best(visit_cost, price, loss_growth):
    """Cost of the walk over the worth of the energy lost in one cycle of the best length."""
    interval = visit_interval(visit_cost, price, loss_growth)
    lost = Q_(loss_growth) * interval**2 / 2
    return (Q_(visit_cost) / (Q_(price) * lost)).m_as("")


def numeric_over_closed(visit_cost, price_kwh, growth_w_day):
    """Interval found by search over that of the closed form."""
    found = best_interval(
        lambda seconds: growth_w_day / 86400 * seconds, visit_cost, price_kwh / 3.6e6
    )
    closed = visit_interval(
        Q_(visit_cost, "money"), Q_(price_kwh, "money/kWh"), Q_(growth_w_day, "W/d")
    )
    return found.interval_s / closed.m_as("s")


def cube_law_of_jets(diameter, jets, pressure, share):
    """Power left when a share of the flow is left to fixed jets: head and flow by the jets' law."""
    flow = jet_flow(pressure, diameter, jets, 0.95)
    before, after = (jet_head(each, diameter, jets, 0.95) for each in (flow, share * flow))
    return (share * after / before).m_as("")


def false_alarms_one_in(pressure, spread):
    """One in how many healthy readings falls below the alarm by noise alone."""
    alarm = alarm_pressure(pressure, spread)
    return 1 / ndtr(((alarm / Q_(pressure)).m_as("") - 1) / spread)


def filling_time(diameter, length):
    """Least time the steps give for filling a pipe."""
    bore, long = Q_(diameter).m_as("m"), Q_(length).m_as("m")
    line = Line((Pipe(bore, long, 1e-5),))
    steps = penstock_steps(long_section(Profile([0.0, long], [50.0, 0.0], True), line, 0.005), line)
    return Q_(next(step.value for step in steps if step.action.startswith("Let it fill")), "s")


def watts_of_a_worn_jet(jets, gained, loss_share):
    """Watts over those before, when one jet of several has gained area."""
    return math.exp(change_of_logs("one jet worn", jets, loss_share, gained)[0])
