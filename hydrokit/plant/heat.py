"""Heat: what steady watts keep warm, how much of the need they meet, and the fuel they save."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError
from ..units import Q_, Given, Quantity, units
from ..works.solve import require

__all__ = [
    "HeatBalance",
    "Measured",
    "Shares",
    "degree_day_heat",
    "difference_held",
    "heat_balance",
    "house_conductance",
    "measured_conductance",
    "share_out",
    "surface_loss",
    "ventilation_conductance",
]

AIR_HEAT_J_M3K = 1.2 * 1005.0  # density and specific heat of room air: 0.335 Wh/(m3 K)


# --- how fast a house loses heat --------------------------------------------------------------


@units("W", area="m^2", transmittance="W/m^2/K", difference="delta_K")
def surface_loss(area: Given, transmittance: Given, difference: Given) -> Any:
    r"""Heat through one surface, :math:`A U \Delta T`.

    Parameters
    ----------
    area : Quantity or str [area]
    transmittance : Quantity or str [power/(area temperature)]
        :math:`U`; ``"0.3 W/m^2/K"`` or ``"0.05 Btu/h/ft^2/delta_degF"``.
    difference : Quantity or str [temperature difference]
        Between its two sides.

    Returns
    -------
    Quantity [power]

    References
    ----------
    .. [1] Definition of thermal transmittance, ISO 6946.

    Examples
    --------
    >>> print(f"{surface_loss('12 m^2', '0.3 W/m^2/K', '30 delta_degC'):.0f~P}")
    108 W
    >>> print(f"{surface_loss('72 ft^2', '0.18 Btu/h/ft^2/delta_degF', '40 delta_degF').to('Btu/h'):.0f~P}")
    518 Btu/h
    """
    return np.asarray(area) * transmittance * difference


@units("W/K", volume="m^3", air_changes="count")
def ventilation_conductance(volume: Given, air_changes: Given) -> Any:
    """Heat carried off by the air that leaks through a house, per degree.

    Parameters
    ----------
    volume : Quantity or str [volume]
        Of heated air.
    air_changes : number
        An hour: 0.3 for a tight house, 1 or more for an old one (common practice).

    Returns
    -------
    Quantity [power/temperature]

    References
    ----------
    .. [1] Air at 1.2 kg/m3 and 1005 J/(kg K): 0.335 Wh/(m3 K). D. Murphy, G. McKay, *Energy Management*,
       uses 0.33.

    Examples
    --------
    >>> print(f"{ventilation_conductance('250 m^3', 0.5):.1f~P}")
    41.9 W/K
    >>> print(f"{ventilation_conductance('9000 ft^3', 1.0):.1f~P}")
    85.4 W/K
    """
    return AIR_HEAT_J_M3K * np.asarray(volume) * air_changes / 3600


@units("W/K", area="m^2", transmittance="W/m^2/K", share="ratio", volume="m^3", air_changes="count")
def house_conductance(
    area: Given,
    transmittance: Given,
    share: Given = 1.0,
    volume: Given = "0 m^3",
    air_changes: Given = 0.0,
) -> Any:
    """Heat a house loses for each degree it is kept above the outdoors, from a list of its surfaces.

    Parameters
    ----------
    area : list or array of Quantity or str [area]
        Walls, windows, doors, roof, floor; one entry each.
    transmittance : list or array of Quantity or str [power/(area temperature)]
        Of each.
    share : number or list
        Of the full difference that each surface sees: 1 to the outdoors, about a half to an unheated
        room or the ground (common practice).
    volume, air_changes
        As in :func:`ventilation_conductance`.

    Returns
    -------
    Quantity [power/temperature]

    References
    ----------
    .. [1] Definition of thermal transmittance, ISO 6946; air as in :func:`ventilation_conductance`.

    Examples
    --------
    >>> ua = house_conductance(["120 m^2", "15 m^2", "80 m^2"], ["0.35 W/m^2/K", "1.6 W/m^2/K", "0.25 W/m^2/K"],
    ...                        volume="200 m^3", air_changes=0.5)
    >>> print(f"{ua:.0f~P}")
    120 W/K
    >>> print(f"{house_conductance(['1300 ft^2'], ['0.06 Btu/h/ft^2/delta_degF']).m_as('Btu/h/delta_degF'):.0f}")
    78
    """
    through = (
        np.sum(np.asarray(area) * transmittance * share, axis=-1)
        if np.ndim(area)
        else area * transmittance * share
    )
    return through + ventilation_conductance.si(volume, air_changes)


house_conductance.measurement = ("area", "transmittance", "share")


@dataclass(frozen=True, eq=False)
class Measured:
    """Conductance of a house from one measured night, with what makes it uncertain."""

    conductance_w_k: float
    difference_k: float
    findings: tuple[Finding, ...]

    @property
    def conductance(self) -> Quantity:
        return Q_(self.conductance_w_k, "W/K")


@units(
    None,
    power="W",
    inside="K",
    outside="K",
    inside_start="K",
    inside_end="K",
    capacity="J/K",
    duration="s",
)
def measured_conductance(
    power: Given,
    inside: Given,
    outside: Given,
    duration: Given = "8 h",
    inside_start: Given = None,
    inside_end: Given = None,
    capacity: Given = None,
) -> Measured:
    r"""Conductance of a house from a night of steady, known heating.

    Parameters
    ----------
    power : Quantity or str [power]
        Mean heat put in, all of it: heaters, lights, people (about 80 W each asleep, common practice).
    inside, outside : Quantity or str [temperature]
        Means over the night; lists are averaged.
    duration : Quantity or str [time]
        Of the measured hours.
    inside_start, inside_end : Quantity or str [temperature], optional
        To allow for a house that warmed or cooled meanwhile.
    capacity : Quantity or str [energy/temperature], optional
        Heat the house stores per degree; needed for that correction.

    Returns
    -------
    Measured

    Raises
    ------
    HydrokitError
        An inside no warmer than the outside.

    Notes
    -----
    .. math:: UA = \frac{P - C\,(T_2 - T_1)/t}{\overline{T_i} - \overline{T_o}}

    Choose a calm, clear-headed night: dark (no sun), windows shut, a difference of 15 K or more.

    References
    ----------
    .. [1] Balance of heat over the night.

    Examples
    --------
    >>> found = measured_conductance("4.5 kW", "20 degC", ["-18 degC", "-20 degC"])
    >>> print(f"{found.conductance:.0f~P}")
    115 W/K
    >>> found = measured_conductance("3 kW", "66 degF", "20 degF", "8 h", "68 degF", "64 degF", "3 kWh/delta_degF")
    >>> print(f"{found.conductance:.0f~P}")
    176 W/K
    """
    difference = float(np.mean(inside) - np.mean(outside))
    if not difference > 0:
        raise HydrokitError(
            "measured_conductance(): inside must be warmer than outside, "
            f"got a difference of {difference:.1f} K."
        )
    drift_known = None not in (inside_start, inside_end, capacity)
    stored = capacity * (inside_end - inside_start) / duration if drift_known else 0.0
    found = (np.mean(power) - stored) / difference
    if not found > 0:
        raise HydrokitError(
            "measured_conductance(): the house stored more heat than was put in; check the temperatures "
            "at start and end, and the capacity."
        )
    findings = []
    if not drift_known:
        findings.append(
            Finding(
                "note",
                "house",
                "taken as steady: if it cooled by a degree meanwhile, the house lost more "
                "than this says",
            )
        )
    if difference < 15:
        findings.append(
            Finding(
                "caution",
                "house",
                f"a difference of {difference:.0f} K is small for this; take a colder night",
            )
        )
    if drift_known and abs(stored) > 0.3 * np.mean(power):
        findings.append(
            Finding(
                "caution",
                "house",
                "more than a third of the heat came from or went into the walls; "
                "take a longer night",
            )
        )
    return Measured(float(found), difference, tuple(findings))


measured_conductance.measurement = ("power", "inside", "outside")


@units("delta_K", power="W", conductance="W/K")
def difference_held(power: Given, conductance: Given) -> Any:
    """How far above the outdoors a steady power keeps a house.

    Parameters
    ----------
    power : Quantity or str [power]
    conductance : Quantity or str [power/temperature]

    Returns
    -------
    Quantity [temperature difference]

    References
    ----------
    .. [1] Steady balance of heat.

    Examples
    --------
    >>> print(f"{difference_held('4.5 kW', '115 W/K').m_as('delta_degC'):.0f} K")
    39 K
    >>> print(f"{difference_held('4.5 kW', '115 W/K').m_as('delta_degF'):.0f} delta_degF")
    70 delta_degF
    """
    require("difference_held", "above zero", conductance=conductance)
    return np.asarray(power) / conductance


# --- how much of the need is met --------------------------------------------------------------


@units("J", conductance="W/K", degree_time="K*s")
def degree_day_heat(conductance: Given, degree_time: Given) -> Any:
    """Heat a house needs over degree-days or degree-hours.

    Parameters
    ----------
    conductance : Quantity or str [power/temperature]
    degree_time : Quantity or str [temperature time]
        ``"4000 K*d"`` or ``"7200 delta_degF*d"``.

    Returns
    -------
    Quantity [energy]

    References
    ----------
    .. [1] D. Murphy, G. McKay, *Energy Management*, ex. 9.5, p. 265.

    Examples
    --------
    >>> print(f"{degree_day_heat('150 W/K', '4000 K*d').to('kWh'):.0f~P}")
    14400 kWh
    >>> print(f"{degree_day_heat('150 W/K', '7200 delta_degF*d').to('kWh'):.0f~P}")
    14400 kWh
    """
    return np.asarray(conductance) * degree_time


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
    def unmet_j(self) -> Any:
        return self.needed_j - self.met_j

    @property
    def unmet_ks(self) -> Any:
        return self.needed_ks - self.met_ks

    @property
    def met_share(self) -> Any:
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
    outside: Any, conductance: Any, inside: Any = 293.15, free_heat: Any = 0.0
) -> Any:
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

    def of(self, name: str) -> Any:
        """Power of one load [W]."""
        return self.served_w[self.names.index(name)]


@units(None, power="W")
def share_out(power: Given, demands: Any) -> Shares:
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
