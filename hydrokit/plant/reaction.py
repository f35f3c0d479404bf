"""Machines that run full: runner sizes, another head, a pump run backwards, setting height."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Iterator

import numpy as np

from ..errors import Finding
from ..result import Result
from ..units import Q_, Given, Number, Quantity, units
from ..water import GRAVITY, air_pressure, density, vapour_pressure
from ..works.solve import require

__all__ = [
    "AxialRunner",
    "PumpBackwards",
    "at_other_head",
    "axial_runner",
    "pump_backwards",
    "setting_height",
]


@dataclass(frozen=True, eq=False)
class AxialRunner(Result):
    """Outer diameter and speed of a propeller or Kaplan runner."""

    diameter_m: float
    speed_rpm: float

    @property
    def diameter(self) -> Quantity:
        return Q_(self.diameter_m, "m")

    @property
    def speed(self) -> Quantity:
        return Q_(self.speed_rpm, "rpm")


@units(None, flow="m^3/s", head="head", speed_ratio="ratio", flow_ratio="ratio", hub_ratio="ratio")
def axial_runner(
    flow: Given,
    head: Given,
    speed_ratio: Given = 2.0,
    flow_ratio: Given = 0.65,
    hub_ratio: Given = 0.35,
) -> AxialRunner:
    r"""Outer diameter and speed of a propeller or Kaplan runner.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        :math:`Q`.
    head : Quantity or str [length]
        Net head, :math:`H`.
    speed_ratio : number
        Tip speed over :math:`\sqrt{2gH}`, :math:`\varphi`.
    flow_ratio : number
        Speed of the water through the runner over :math:`\sqrt{2gH}`, :math:`\psi`.
    hub_ratio : number
        Hub diameter over outer diameter, :math:`m`.

    Returns
    -------
    AxialRunner

    Raises
    ------
    HydrokitError
        A hub as large as the runner.

    Notes
    -----
    .. math:: Q = \psi\sqrt{2gH}\,\frac{\pi}{4}D^2(1-m^2), \qquad N = \frac{60\,\varphi\sqrt{2gH}}{\pi D}

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ex. 16.8.

    Examples
    --------
    >>> print(f"{axial_runner('300 L/s', '4 m').diameter.to('mm'):.0f~P}")
    275 mm
    >>> print(f"{axial_runner('10 cfs', '12 ft').speed.to('rpm'):.0f~P}")
    1184 rpm
    """
    require(
        "axial_runner",
        "above zero",
        flow=flow,
        head=head,
        speed_ratio=speed_ratio,
        flow_ratio=flow_ratio,
        room_beside_the_hub=1 - np.asarray(hub_ratio),
    )
    ideal = np.sqrt(2 * GRAVITY * head)
    diameter = np.sqrt(4 * flow / (np.pi * flow_ratio * ideal * (1 - np.square(hub_ratio))))
    return AxialRunner(diameter, 60 * speed_ratio * ideal / (np.pi * diameter))


@units(("rpm", "m^3/s", "W"), speed="rpm", flow="m^3/s", power="W", head="head", new_head="head")
def at_other_head(
    speed: Given, flow: Given, power: Given, head: Given, new_head: Given
) -> tuple[Number, Number, Number]:
    r"""What the same machine does best under another head, at unchanged efficiency.

    Parameters
    ----------
    speed : Quantity or str [1/time]
    flow : Quantity or str [volume/time]
    power : Quantity or str [power]
        The three as known under ``head``.
    head, new_head : Quantity or str [length]
        Net heads.

    Returns
    -------
    tuple of Quantity
        Speed, flow, power under ``new_head``.

    Notes
    -----
    Speed and flow go with :math:`\sqrt{H}`, power with :math:`H^{3/2}`.

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ex. 16.19 and 16.20.

    Examples
    --------
    >>> speed, flow, power = at_other_head("100 rpm", "30 m^3/s", "8 MW", "30 m", "18 m")
    >>> print(f"{speed:.2f~P}, {power.to('kW'):.0f~P}")
    77.46 rpm, 3718 kW
    >>> print(f"{at_other_head('900 rpm', '200 gpm', '5 hp', '100 ft', '64 ft')[1].to('gpm'):.0f~P}")
    160 gpm
    """
    root = np.sqrt(np.asarray(new_head) / head)
    return speed * root, flow * root, power * root**3


@dataclass(frozen=True, eq=False)
class PumpBackwards(Result):
    """Flow and head at which a pump may run best as a turbine at its own speed: low and high."""

    flow_low_m3s: float
    flow_high_m3s: float
    head_low_m: float
    _: KW_ONLY
    head_high_m: float
    findings: tuple[Finding, ...]

    @property
    def flow(self) -> Quantity:
        return Q_(np.array([self.flow_low_m3s, self.flow_high_m3s]), "m^3/s")

    @property
    def head(self) -> Quantity:
        return Q_(np.array([self.head_low_m, self.head_high_m]), "m")


@units(None, flow="m^3/s", head="head", efficiency="ratio")
def pump_backwards(flow: Given, head: Given, efficiency: Given) -> PumpBackwards:
    r"""Where a pump runs best as a turbine, from its best point as a pump: a band, not a number.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        Best flow as a pump, :math:`Q_p`.
    head : Quantity or str [length]
        Its head at that flow, :math:`H_p`.
    efficiency : number
        Its efficiency there as a pump, :math:`\eta`.

    Returns
    -------
    PumpBackwards

    Raises
    ------
    HydrokitError
        An efficiency not above 0 and at most 1.

    Notes
    -----
    Two rules bound the band, both from memory: flow and head divided by :math:`\eta^{1/2}` and
    :math:`\eta`, or by :math:`\eta^{0.8}` and :math:`\eta^{1.2}`. Tests of single pumps stray 20 %
    from either; have the pump tested, or fit a valve and try. What is sure is that
    :math:`H_t/H_p > Q_t/Q_p > 1` [1]_.

    References
    ----------
    .. [1] Reviews of pumps as turbines, quoting Ventrone (the inequality). The rules: from memory.

    Examples
    --------
    >>> print(f"{pump_backwards('10 L/s', '20 m', 0.7).head[1]:.1f~P}")
    30.7 m
    >>> print(f"{pump_backwards('200 gpm', '60 ft', '70 %').flow[0].to('gpm'):.0f~P}")
    239 gpm
    """
    require("pump_backwards", "above zero", flow=flow, head=head, efficiency=efficiency)
    require("pump_backwards", "a share from 0 to 1", efficiency=efficiency)
    finding = Finding(
        "caution",
        "pump run backwards",
        "conversion rules differ by 20 % from pump to pump; without a test this is a band only",
    )
    return PumpBackwards(
        flow / efficiency**0.5,
        flow / efficiency**0.8,
        head / efficiency,
        head_high_m=head / efficiency**1.2,
        findings=(finding,),
    )


@units("m", head="head", sigma="ratio", altitude="m", temperature="K", margin="m")
def setting_height(
    head: Given,
    sigma: Given,
    altitude: Given,
    temperature: Given = "15 degC",
    margin: Given = "0.5 m",
) -> Number:
    r"""Highest a reaction runner may stand above its tail water before it cavitates.

    Parameters
    ----------
    head : Quantity or str [length]
        Net head, :math:`H`.
    sigma : number
        Cavitation number at which this machine suffers, :math:`\sigma`; from the manufacturer.
    altitude : Quantity or str [length]
        Of the power house: air gets thinner, and the runner must stand lower.
    temperature : Quantity or str [temperature]
        Warmest the water gets.
    margin : Quantity or str [length]
        Kept in hand for weather and wear.

    Returns
    -------
    Quantity [length]
        Above the tail water; negative means it must stand below.

    Warns
    -----
    RangeWarning
        More than 6 m: air comes out of the water in the draft tube before it boils.

    Notes
    -----
    .. math:: h_s = \frac{p_a - p_v}{\rho g} - \sigma H - m

    References
    ----------
    .. [1] Thoma's cavitation number (definition); ISO 2533:1975 for the air pressure.

    Examples
    --------
    >>> print(f"{setting_height('12 m', 0.35, '600 m'):.2f~P}")
    4.75 m
    >>> print(f"{setting_height('40 ft', 0.35, '7000 ft').to('ft'):.1f~P}")
    10.0 ft
    """
    standing = (air_pressure.si(altitude) - vapour_pressure.si(temperature)) / (
        density.si(temperature) * GRAVITY
    )
    return standing - np.asarray(sigma) * head - margin


@setting_height.valid
def _(
    head: float, sigma: float, altitude: float, temperature: float, margin: float
) -> Iterator[tuple[Any, Any]]:
    yield (
        (setting_height.si(head, sigma, altitude, temperature, margin) > 6),
        "more than 6 m above the tail water: air leaves the water in the draft tube; set it lower",
    )
