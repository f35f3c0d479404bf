"""Water in a pipe in frost: how long still water has, and what flow keeps a running pipe open."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import HydrokitError
from ..result import Result
from ..units import Floats, Given, Number, Quantity, units
from ..water import GRAVITY, viscosity
from .pipe import flow_for, loss
from .solve import require

__all__ = [
    "FREEZING_POINT",
    "HEAT_CAPACITY",
    "LATENT_HEAT",
    "THAWING_CAUTION",
    "FreezingTimes",
    "freezing_time",
    "friction_warming",
    "ice_free_length",
    "keep_open_flow",
    "keep_open_flow_full",
]

FREEZING_POINT = 273.15  # K, at atmospheric pressure
LATENT_HEAT = 333.55e3  # of melting ice, J/kg
HEAT_CAPACITY = 4217.0  # of water at 0 °C, J/(kg K), IAPWS-IF97
ICE_COLD_WATER = 999.84  # density at 0 °C, kg/m³
ICE_CONDUCTIVITY = 2.2  # W/(m K), near 0 °C

THAWING_CAUTION = (
    "Never thaw a plastic pipe with a flame or hot air gun: it softens, loses its rating and can "
    "burst, burn or give off poisonous smoke. Thaw from the open, downstream end upwards with "
    "warm water or wrapped warm cloths, so that melt can run off. Steam or pressure trapped "
    "between two plugs of ice can throw a plug or a fitting: relieve it first. Electric thawing "
    "of metal pipe starts fires and is work for a licensed electrician."
)


@dataclass(frozen=True, eq=False)
class FreezingTimes(Result):
    """How long still water in a pipe has. Infinite where it never freezes.

    Parameters
    ----------
    to_zero_s : float or ndarray
        Until the water is at 0 °C.
    first_ice_s : float or ndarray
        Until ice can form.
    blocked_s : float or ndarray
        Until so much of it is ice that the pipe is taken as blocked.
    solid_s : float or ndarray
        Until all of it is ice.
    """

    to_zero_s: Number
    first_ice_s: Number
    blocked_s: Number
    _: KW_ONLY
    solid_s: Number

    @property
    def to_zero(self) -> Quantity:
        """Until 0 °C, a quantity."""
        return Quantity(self.to_zero_s, "s").to("h")

    @property
    def first_ice(self) -> Quantity:
        """Until ice can form, a quantity."""
        return Quantity(self.first_ice_s, "s").to("h")

    @property
    def blocked(self) -> Quantity:
        """Until taken as blocked, a quantity."""
        return Quantity(self.blocked_s, "s").to("h")

    @property
    def solid(self) -> Quantity:
        """Until solid, a quantity."""
        return Quantity(self.solid_s, "s").to("h")

    @property
    def worst(self) -> int:
        """Index of the stretch that is blocked first: the worst exposed metre decides for the line."""
        return int(np.nanargmin(np.atleast_1d(self.blocked_s)))


@units(
    None,
    inside_diameter="m",
    resistance="m*K/W",
    air_temperature="K",
    water_temperature="K",
    blocked_share="ratio",
    supercooling="delta_K",
)
def freezing_time(
    inside_diameter: Given,
    resistance: Given,
    air_temperature: Given,
    water_temperature: Given = "0 degC",
    blocked_share: Given = "25 %",
    supercooling: Given = "0 delta_degC",
) -> FreezingTimes:
    r"""Times to 0 °C, first ice, blockage and solid ice for water standing in a pipe.

    Parameters
    ----------
    inside_diameter : Quantity or str [length]
        :math:`D_1`.
    resistance : Quantity or str [length temperature/power]
        Of one metre, :math:`R`, from :func:`~hydrokit.works.insulation.thermal_resistance`; give
        one for each stretch (bare, insulated, buried, under snow) and ask the result for `.worst`.
    air_temperature : Quantity or str [temperature]
        Held constant, :math:`t_a`: the coldest spell, not the daily mean.
    water_temperature : Quantity or str [temperature]
        When the flow stops, :math:`t_i`; a creek in frost brings water at 0.0 °C, the default.
    blocked_share : float
        Share of the water frozen at which the pipe counts as blocked. No published figure was
        found for it; a quarter is a cautious convention here.
    supercooling : Quantity or str [temperature difference]
        Cooling below 0 °C before ice starts. Running water needs only hundredths of a degree;
        water quite still can go several degrees below, then ice shoots through it at once. Zero,
        the default, is the earliest.

    Returns
    -------
    FreezingTimes

    Raises
    ------
    HydrokitError
        A bore or resistance not above zero, water below 0 °C.

    Notes
    -----
    Cooling of well-mixed water, then ice growing inwards from the wall through its own resistance,
    with A the bore's area and s the share frozen:

    .. math:: t_0 = \rho c A R \ln\frac{t_i - t_a}{0 - t_a}, \qquad
              t(s) = t_0 + \frac{\rho L A}{0 - t_a}\left(R s + \frac{s + (1-s)\ln(1-s)}{4\pi k_i}\right)

    The heat stored in wall, insulation and soil is left out (cautious), and so are joints, valves
    and supports, which freeze sooner than the pipe.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2009, ch. 23 eq. 1: the time to 0 °C.
    .. [2] H. S. Carslaw, J. C. Jaeger, *Conduction of Heat in Solids*, ch. 11 (quasi-steady
       freezing of a cylinder; derived here).

    Examples
    --------
    >>> from hydrokit.works.insulation import thermal_resistance
    >>> bare = thermal_resistance("110 mm", film="10 W/m^2/K")
    >>> print(f"{freezing_time('100 mm', bare, '-15 degC').blocked:.1f~P}")
    3.6 h
    >>> wrapped = thermal_resistance("4.5 in", film="10 W/m^2/K", insulation="2 in")
    >>> print(f"{freezing_time('4 in', wrapped, '5 degF').blocked:.0f~P}")
    34 h
    """
    require("freezing_time", "above zero", inside_diameter=inside_diameter, resistance=resistance)
    require("freezing_time", "a share from 0 to 1", blocked_share=blocked_share)
    require("freezing_time", "zero or more", supercooling=supercooling)
    frost, warmth = (
        FREEZING_POINT - np.asarray(air_temperature),
        np.asarray(water_temperature) - FREEZING_POINT,
    )
    if np.any(warmth < -1e-9):
        raise HydrokitError(
            "freezing_time(): water_temperature is below the freezing point; liquid water in "
            "a creek is never colder"
        )
    area = math.pi / 4 * np.asarray(inside_diameter) ** 2
    sensible = ICE_COLD_WATER * HEAT_CAPACITY * area * resistance
    latent = ICE_COLD_WATER * LATENT_HEAT * area
    share = np.asarray(blocked_share, dtype=float)
    from_zero = _frozen_after(share, resistance) * latent
    to_solid = _frozen_after(np.ones_like(share), resistance) * latent
    with np.errstate(divide="ignore", invalid="ignore"):
        to_zero = _cooling_time(sensible, np.maximum(warmth, 0.0), frost)
        first = to_zero + _cooling_time(sensible, supercooling, frost - supercooling)
        blocked = np.maximum(np.where(frost <= 0, np.inf, to_zero + from_zero / frost), first)
        solid = np.maximum(np.where(frost <= 0, np.inf, to_zero + to_solid / frost), first)
    return FreezingTimes(to_zero[()], first[()], blocked[()], solid_s=solid[()])


def _cooling_time(sensible: Number, fall: Number, frost_at_end: Number) -> Floats:
    """Time in which water cools by `fall` and is then `frost_at_end` warmer than the air; a NaN stays one."""
    warmer = np.where(frost_at_end <= 0, 1.0, frost_at_end)
    return np.where(frost_at_end <= 0, np.inf, sensible * np.log1p(fall / warmer))


def _frozen_after(share: Floats, resistance: Number) -> Number:
    """Resistance times share, with the ice's own resistance growing from the wall inwards."""
    left = 1 - share
    through_ice = share + left * np.log(np.where(left > 0, left, 1.0))
    return resistance * share + through_ice / (4 * math.pi * ICE_CONDUCTIVITY)


@units("m^3/s", heat_loss="W/m", gradient="ratio")
def keep_open_flow(heat_loss: Given, gradient: Given) -> Number:
    r"""Flow whose friction makes up for the heat lost, on a known slope.

    Parameters
    ----------
    heat_loss : Quantity or str [power/length]
        Of the worst metre, :math:`q`.
    gradient : float
        Head lost to friction per metre of pipe, :math:`S_f`. In a part-full pipe it is the slope
        of the pipe.

    Returns
    -------
    Quantity [length³/time]
        With more than this, water that arrives at 0.0 °C makes no ice there.

    Raises
    ------
    HydrokitError
        A gradient not above zero.

    Notes
    -----
    .. math:: \rho g Q S_f = q

    References
    ----------
    .. [1] Energy balance of a metre of pipe.

    Examples
    --------
    >>> print(f"{keep_open_flow('52 W/m', 0.1).to('L/s'):.0f~P}")
    53 L/s
    >>> print(f"{keep_open_flow('5 Btu/h/ft', '10 %').to('gpm'):.0f~P}")
    78 gpm
    """
    require("keep_open_flow", "above zero", gradient=gradient)
    return np.maximum(heat_loss, 0.0) / (ICE_COLD_WATER * GRAVITY * np.asarray(gradient))


@units("m^3/s", heat_loss="W/m", diameter="m", roughness="m")
def keep_open_flow_full(heat_loss: Given, diameter: Given, roughness: Given) -> Number:
    r"""Flow whose wall friction makes up for the heat lost, in a pipe running full.

    Parameters
    ----------
    heat_loss : Quantity or str [power/length]
        Of the worst metre, :math:`q`.
    diameter, roughness : Quantity or str [length]
        Inside diameter and roughness of the wall.

    Returns
    -------
    Quantity [length³/time]
        With more than this, water that arrives at 0.0 °C makes no ice there. The heat grows with
        the cube of the flow, so it is a sharp limit.

    Raises
    ------
    HydrokitError
        A bore not above zero, a negative roughness.

    Notes
    -----
    :math:`\rho g Q S_f(Q) = q`, friction by Colebrook at 0 °C.

    References
    ----------
    .. [1] Energy balance of a metre of pipe.

    Examples
    --------
    >>> print(f"{keep_open_flow_full('52 W/m', '100 mm', '0.01 mm').to('L/s'):.1f~P}")
    34.3 L/s
    >>> print(f"{keep_open_flow_full('5 Btu/h/ft', '4 in', '0.00003 ft').to('gpm'):.0f~P}")
    241 gpm
    """
    require("keep_open_flow_full", "above zero", diameter=diameter)
    require("keep_open_flow_full", "zero or more", roughness=roughness)
    cold = viscosity.si(FREEZING_POINT)
    # As a head: loss per metre times flow, so that the solver for flow in a pipe serves here too.
    power = np.maximum(heat_loss, 0.0) / (ICE_COLD_WATER * GRAVITY)

    def heating(flow: float) -> Number:
        return loss(flow, diameter, 1.0, roughness, cold) * flow

    return flow_for(power, heating, np.asarray(diameter, dtype=float), 1.0)


@units(
    "m",
    flow="m^3/s",
    inlet_temperature="K",
    air_temperature="K",
    resistance="m*K/W",
    gradient="ratio",
)
def ice_free_length(
    flow: Given,
    inlet_temperature: Given,
    air_temperature: Given,
    resistance: Given,
    gradient: Given,
) -> Number:
    r"""How far running water gets before it is at 0 °C.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        :math:`Q`.
    inlet_temperature, air_temperature : Quantity or str [temperature]
    resistance : Quantity or str [length temperature/power]
        :math:`R` of one metre, from :func:`~hydrokit.works.insulation.thermal_resistance`.
    gradient : float
        Head lost to friction per metre, :math:`S_f`.

    Returns
    -------
    Quantity [length]
        Infinite where friction alone keeps it from freezing.

    Raises
    ------
    HydrokitError
        A flow or resistance not above zero, water below 0 °C.

    Notes
    -----
    The water tends to :math:`t_\infty = t_a + \rho g Q S_f R` over lengths of :math:`\rho c Q R`.

    References
    ----------
    .. [1] Energy balance of a metre of pipe, integrated.

    Examples
    --------
    >>> print(f"{ice_free_length('5 L/s', '0.5 degC', '-15 degC', '0.29 m*K/W', 0.02):.0f~P}")
    204 m
    >>> print(f"{ice_free_length('80 gpm', '33 degF', '5 degF', '0.29 m*K/W', 0.02).to('ft'):.0f~P}")
    750 ft
    """
    require("ice_free_length", "above zero", flow=flow, resistance=resistance)
    require("ice_free_length", "zero or more", gradient=gradient)
    warmth = np.asarray(inlet_temperature) - FREEZING_POINT
    if np.any(warmth < -1e-9):
        raise HydrokitError(
            "ice_free_length(): inlet_temperature is below the freezing point; liquid water "
            "in a creek is never colder"
        )
    friction = ICE_COLD_WATER * GRAVITY * np.asarray(flow) * gradient * resistance
    deficit = FREEZING_POINT - np.asarray(air_temperature) - friction
    reach = ICE_COLD_WATER * HEAT_CAPACITY * np.asarray(flow) * resistance
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(
            deficit <= 0,
            np.inf,
            reach * np.log1p(np.maximum(warmth, 0) / np.where(deficit <= 0, 1, deficit)),
        )[()]


@units("delta_K", head="head")
def friction_warming(head: Given) -> Number:
    r"""By how much water is warmed when a head is lost in it.

    Parameters
    ----------
    head : Quantity or str [length]
        Head turned to heat by friction, :math:`h`.

    Returns
    -------
    Quantity [temperature difference]
        :math:`g h/c`: 0.0023 K for each metre.

    References
    ----------
    .. [1] Conservation of energy; heat capacity of water at 0 °C from IAPWS-IF97.

    Examples
    --------
    >>> print(f"{friction_warming('100 m'):.3f~P}")
    0.233 Δ°C
    >>> print(f"{friction_warming('100 ft').to('delta_degF'):.3f~P}")
    0.128 Δ°F
    """
    return GRAVITY * np.asarray(head) / HEAT_CAPACITY
