"""Heat: what steady watts keep warm, how much of the need they meet, and the fuel they save."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Finding, HydrokitError
from ..sentences import Amount, Sentence
from ..units import Q_, Given, Number, Quantity, units
from ..works.solve import require

__all__ = [
    "Measured",
    "degree_day_heat",
    "difference_held",
    "house_conductance",
    "house_conductance",
    "measured_conductance",
    "measured_conductance",
    "surface_loss",
    "ventilation_conductance",
]

AIR_HEAT_J_M3K = 1.2 * 1005.0  # density and specific heat of room air: 0.335 Wh/(m3 K)


# --- how fast a house loses heat --------------------------------------------------------------


@units("W", area="m^2", transmittance="W/m^2/K", difference="delta_K")
def surface_loss(area: Given, transmittance: Given, difference: Given) -> Number:
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
def ventilation_conductance(volume: Given, air_changes: Given) -> Number:
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
) -> Number:
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
            Sentence(
                "measured_conductance(): inside must be warmer than outside, got a difference "
                "of {difference}.",
                difference=Amount(difference, "temperature difference"),
            )
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
                (
                    "the house is taken as steady: if it cooled by a degree meanwhile, it lost "
                    "more heat than this"
                ),
            )
        )
    if difference < 15:
        findings.append(
            Finding(
                "caution",
                "house",
                Sentence(
                    "a difference of {difference} is small for this; take a colder night",
                    difference=Amount(difference, "temperature difference", 2),
                ),
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
def difference_held(power: Given, conductance: Given) -> Number:
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
def degree_day_heat(conductance: Given, degree_time: Given) -> Number:
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
