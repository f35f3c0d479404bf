"""Heat that power meets of what a house needs, and what of it each load gets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..units import Q_, Floats, Given, Number, Quantity, units
from ..works.solve import require

if TYPE_CHECKING:
    from ..units import Alike

__all__ = ["HeatBalance", "Shares", "heat_balance", "heat_balance", "share_out"]


@dataclass(frozen=True, eq=False)
class HeatBalance:
    """Heat needed, met and unmet; degree-time likewise; and power left over for something else.

    Sums over the last axis of what was given, so a batch of years comes back as a batch.
    """

    needed_j: float
    met_j: float
    spare_j: float
    _: KW_ONLY
    needed_ks: float
    met_ks: float

    @property
    def unmet_j(self) -> float:
        return self.needed_j - self.met_j

    @property
    def unmet_ks(self) -> Number:
        return self.needed_ks - self.met_ks

    @property
    def met_share(self) -> Number:
        """Of the heat needed; 1 when none was needed."""
        needed = np.asarray(self.needed_j)
        return np.where(needed > 0, self.met_j / np.where(needed > 0, needed, 1.0), 1.0)[()]

    @property
    def needed(self) -> Quantity:
        return Q_(self.needed_j, "J").to("kWh")

    @property
    def met(self) -> Quantity:
        return Q_(self.met_j, "J").to("kWh")

    @property
    def unmet(self) -> Quantity:
        return Q_(self.unmet_j, "J").to("kWh")

    @property
    def degree_hours_unmet(self) -> Quantity:
        """In K h."""
        return Q_(self.unmet_ks, "K*s").to("K*h")


def heat_demand_si(
    outside: Floats, conductance: float, inside: float = 293.15, free_heat: float = 0.0
) -> Floats:
    """Heat a house asks for [W] at an outside temperature [K]: never below zero. Numbers and arrays."""
    return np.maximum(conductance * (inside - np.asarray(outside)) - free_heat, 0.0)


@units(None, power="W", outside="K", conductance="W/K", inside="K", free_heat="W", step="s")
def heat_balance(
    power: Given,
    outside: Given,
    conductance: Given,
    inside: Given = "20 degC",
    free_heat: Given = "0 W",
    step: Given = "1 h",
) -> HeatBalance:
    r"""How much of a house's heat a power covers, hour by hour (or day by day).

    Power and temperature must belong to the same moments: a cold spell is often a dry one, and a
    balance of means would hide that.

    Parameters
    ----------
    power : Quantity or str [power]
        For heating, one value or one for each step, :math:`P`.
    outside : array Quantity [temperature]
        One for each step, along the last axis.
    conductance : Quantity or str [power/temperature]
        Of the house, :math:`UA`.
    inside : Quantity or str [temperature]
        Wanted.
    free_heat : Quantity or str [power]
        From people, lights and cooking.
    step : Quantity or str [time]
        Length of a step; one value, or one for each.

    Returns
    -------
    HeatBalance

    Raises
    ------
    HydrokitError
        A conductance not above zero, a negative power.

    Notes
    -----
    .. math:: D = \max(UA\,(T_i - T_o) - P_f, 0), \qquad \text{met} = \sum \min(P, D)\,\Delta t

    The mean of the lesser, never the lesser of the means: the first is never larger.

    References
    ----------
    .. [1] Steady balance of heat in each step; storage in the walls is left out, which matters when
       steps are hours and the need swings within a day.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> found = heat_balance("3 kW", Q_([-20.0, 0.0, 15.0], "degC"), "115 W/K", step="24 h")
    >>> print(f"{found.needed:.0f~P} needed, {found.met:.0f~P} met, {100 * found.met_share:.0f} %")
    179 kWh needed, 141 kWh met, 79 %
    >>> found = heat_balance("4.5 kW", Q_([-10.0, 30.0], "degF"), "115 W/K", inside="68 degF", step="24 h")
    >>> print(f"{found.unmet:.1f~P} unmet")
    11.6 kWh unmet
    """
    require("heat_balance", "above zero", conductance=conductance)
    require("heat_balance", "zero or more", power=power)
    power, demand = np.broadcast_arrays(
        np.asarray(power, dtype=float), heat_demand_si(outside, conductance, inside, free_heat)
    )
    met = np.minimum(power, demand)
    needed_j, met_j, spare_j, needed_ks, met_ks = (
        np.sum(np.atleast_1d(each * step), axis=-1)[()]
        for each in (demand, met, power - met, demand / conductance, met / conductance)
    )
    return HeatBalance(needed_j, met_j, spare_j, needed_ks=needed_ks, met_ks=met_ks)


heat_balance.measurement = ("power", "outside", "step")


# --- who gets it first ------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Shares:
    """What each load gets, in order of priority, and what is left for ballast [W]."""

    names: tuple[str, ...]
    served_w: np.ndarray  # first axis: the loads
    unmet_w: np.ndarray
    _: KW_ONLY
    ballast_w: np.ndarray

    def of(self, name: str) -> Alike:
        """Power of one load [W]."""
        return self.served_w[self.names.index(name)]


@units(None, power="W")
def share_out(power: Given, demands: Mapping[str, Given]) -> Shares:
    """Give power to loads in order of priority; ballast takes what is left.

    Parameters
    ----------
    power : Quantity or str [power]
        At hand; one value or many.
    demands : mapping of str to Quantity or str [power]
        What each load would take, most important first.

    Returns
    -------
    Shares
        Power is conserved: served and ballast add up to what was at hand.

    Raises
    ------
    HydrokitError
        A negative power or demand.

    References
    ----------
    .. [1] Balance of power.

    Examples
    --------
    >>> shares = share_out("4 kW", {"house": "1.5 kW", "water heater": "2 kW", "shop": "3 kW"})
    >>> [float(each) for each in shares.served_w], float(shares.ballast_w)
    ([1500.0, 2000.0, 500.0], 0.0)
    >>> print(f"{share_out('5 hp', {'heaters': '4 hp'}).ballast_w:.0f} W")
    746 W
    """
    wanted = {
        name: np.asarray(Q_(each, "W").m_as("W"), dtype=float) for name, each in demands.items()
    }
    require("share_out", "zero or more", power=power, **wanted)
    left, *spread = np.broadcast_arrays(np.asarray(power, dtype=float), *wanted.values())
    served = []
    for each in spread:
        served.append(np.minimum(left, each))
        left = left - served[-1]
    return Shares(
        tuple(wanted),
        np.array(served),
        np.array(spread) - np.array(served),
        ballast_w=np.asarray(left),
    )
