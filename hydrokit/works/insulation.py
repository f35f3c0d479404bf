"""Heat that leaves a pipe: films of air, wind and radiation, and the layers around the water."""

from __future__ import annotations

import math
from typing import Iterator

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, Outside, units
from .solve import require

__all__ = [
    "film_in_still_air",
    "film_in_wind",
    "film_of_radiation",
    "heat_loss",
    "thermal_resistance",
]

_STEFAN_BOLTZMANN = 5.670374e-8  # W/(m² K⁴)


@units("W/m^2/K", diameter="m", temperature_difference="delta_K")
def film_in_still_air(
    diameter: Given, temperature_difference: Given, vertical: bool = False
) -> Number:
    r"""Heat passed by calm air at the outside of a pipe, without radiation.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Outside diameter over the insulation, :math:`D`.
    temperature_difference : Quantity or str [temperature difference]
        Between surface and air, :math:`\Delta\theta`; write "5 delta_degC".
    vertical : bool

    Returns
    -------
    Quantity [power/area/temperature]
        In W/(m²K).

    Raises
    ------
    HydrokitError
        A diameter not above zero.

    Notes
    -----
    Laminar up to :math:`D^3\Delta\theta = 10` (m³K): :math:`1.25\,(\Delta\theta/D)^{1/4}`, vertical
    1.32; beyond: :math:`1.21\,\Delta\theta^{1/3}`, vertical 1.74.

    References
    ----------
    .. [1] ISO 12241:2008, surface coefficients, as carried by public code that cites it.

    Examples
    --------
    >>> print(f"{film_in_still_air('210 mm', '5 delta_degC'):.2f~P}")
    2.76 W/K/m²
    >>> print(f"{film_in_still_air('8.27 in', '9 delta_degF').to('Btu/h/ft^2/delta_degF'):.2f~P}")
    0.49 Btu/Δ°F/ft²/h
    """
    require("film_in_still_air", "above zero", diameter=diameter)
    difference, diameter = np.abs(temperature_difference), np.asarray(diameter)
    laminar = np.where(vertical, 1.32, 1.25) * (difference / diameter) ** 0.25
    turbulent = np.where(vertical, 1.74, 1.21) * difference ** (1 / 3)
    return np.where(diameter**3 * difference <= 10, laminar, turbulent)[()]


@units("W/m^2/K", diameter="m", wind_speed="m/s")
def film_in_wind(diameter: Given, wind_speed: Given) -> Number:
    r"""Heat passed by wind across a pipe, without radiation.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Outside diameter over the insulation, :math:`D`.
    wind_speed : Quantity or str [speed]
        :math:`v`.

    Returns
    -------
    Quantity [power/area/temperature]
        In W/(m²K).

    Raises
    ------
    HydrokitError
        A diameter not above zero, a negative speed.

    Notes
    -----
    Laminar up to :math:`vD = 8.55\times10^{-3}` m²/s: :math:`8.1\times10^{-3}/D + 3.14\sqrt{v/D}`;
    beyond: :math:`8.9\,v^{0.9}/D^{0.1}`. The two do not meet: the second starts at less than half of the
    first. Here the first's last value is kept until the second has passed it (some 0.2 m/s), so
    that more wind never takes less heat.

    References
    ----------
    .. [1] ISO 12241:2008, surface coefficients outdoors, as carried by public code that cites it.

    Examples
    --------
    >>> print(f"{film_in_wind('110 mm', '1 m/s'):.1f~P}")
    11.1 W/K/m²
    >>> print(f"{film_in_wind('4.33 in', '11.2 ft/s').to('W/m^2/K'):.1f~P}")
    33.5 W/K/m²
    """
    require("film_in_wind", "above zero", diameter=diameter)
    require("film_in_wind", "zero or more", wind_speed=wind_speed)
    diameter, wind = np.asarray(diameter), np.asarray(wind_speed)
    laminar = 8.1e-3 / diameter + 3.14 * np.sqrt(np.minimum(wind, 8.55e-3 / diameter) / diameter)
    return np.maximum(laminar, 8.9 * wind**0.9 / diameter**0.1)


@units("W/m^2/K", surface="K", surroundings="K", emissivity="ratio")
def film_of_radiation(surface: Given, surroundings: Given, emissivity: Given = 0.9) -> Number:
    r"""Heat radiated by a surface, as a film coefficient to add to that of the air.

    Parameters
    ----------
    surface, surroundings : Quantity or str [temperature]
        :math:`T_1` and :math:`T_2`. A clear night sky is about 20 K colder than the air (common
        practice).
    emissivity : float
        :math:`\varepsilon`: plastics, paint and rust 0.9, bright metal 0.1 to 0.3.

    Returns
    -------
    Quantity [power/area/temperature]
        In W/(m²K).

    Notes
    -----
    .. math:: h_r = \varepsilon\sigma\,\frac{T_1^4 - T_2^4}{T_1 - T_2}

    References
    ----------
    .. [1] ISO 12241:2008, radiation term.

    Examples
    --------
    >>> print(f"{film_of_radiation('-5 degC', '-10 degC'):.2f~P}")
    3.83 W/K/m²
    >>> print(f"{film_of_radiation('23 degF', '14 degF'):.2f~P}")
    3.83 W/K/m²
    """
    require("film_of_radiation", "a share from 0 to 1", emissivity=emissivity)
    warm, cold = np.asarray(surface), np.asarray(surroundings)
    return emissivity * _STEFAN_BOLTZMANN * (warm + cold) * (warm**2 + cold**2)


@units(
    "m*K/W",
    outside_diameter="m",
    inside_diameter="m",
    film="W/m^2/K",
    insulation="m",
    insulation_conductivity="W/m/K",
    wall_conductivity="W/m/K",
    cover="m",
    cover_conductivity="W/m/K",
)
def thermal_resistance(
    outside_diameter: Given,
    inside_diameter: Given = None,
    film: Given = None,
    insulation: Given = "0 m",
    insulation_conductivity: Given = "0.04 W/m/K",
    wall_conductivity: Given = None,
    cover: Given = "0 m",
    cover_conductivity: Given = "1.5 W/m/K",
) -> Number:
    r"""Resistance to heat between the water and the air, for one metre of pipe.

    Parameters
    ----------
    outside_diameter : Quantity or str [length]
        Of the bare pipe, :math:`D_2`.
    inside_diameter, wall_conductivity : Quantity or str, optional
        With both, the wall counts: :math:`D_1`, :math:`k_w` (PVC 0.15, polyethylene 0.4,
        steel 50 W/(m K)).
    film : Quantity or str [power/area/temperature], optional
        Heat passed at the outer surface, :math:`h`: wind or still air plus radiation. Left out,
        the surface is as cold as the air (cautious).
    insulation, insulation_conductivity : Quantity or str
        Thickness and :math:`k` (dry foam 0.03 to 0.04; wet, far more).
    cover, cover_conductivity : Quantity or str
        Depth of soil or snow over the pipe's axis, :math:`z`, and its :math:`k_c` (moist soil
        about 1.5; for snow see :func:`hydrokit.works.snow.snow_conductivity`).

    Returns
    -------
    Quantity [length temperature/power]
        In m·K/W.

    Raises
    ------
    HydrokitError
        A size or conductivity that cannot be.

    Warns
    -----
    RangeWarning
        Insulation on so small a pipe in so weak a wind that a thin layer loses more than none.

    Notes
    -----
    .. math:: R = \frac{\ln(D_2/D_1)}{2\pi k_w} + \frac{\ln(D_3/D_2)}{2\pi k}
              + \max\left(\frac{1}{\pi D_3 h},\
              \frac{\operatorname{arcosh}(2(z + k_c/h)/D_3)}{2\pi k_c}\right)

    The cover's form is that of a long cylinder under an even surface, the film counted as k_c/h of
    extra cover; the second term only where there is cover. Warmth that rises from the ground and
    the heat stored in it are left out, which is cautious.

    References
    ----------
    .. [1] ASHRAE Handbook, Fundamentals, 2009, ch. 23 eq. 1 (cylindrical layer).
    .. [2] F. P. Incropera et al., *Fundamentals of Heat and Mass Transfer*, table of conduction
       shape factors, horizontal cylinder in a semi-infinite medium.

    Examples
    --------
    >>> print(f"{thermal_resistance('110 mm', film='10 W/m^2/K', insulation='50 mm').m_as('m*K/W'):.2f} m K/W")
    2.72 m K/W
    >>> print(f"{thermal_resistance('4.5 in', film='10 W/m^2/K', cover='2 ft', cover_conductivity='0.1 W/m/K').m_as('m*K/W'):.2f} m K/W")
    4.89 m K/W
    """
    require(
        "thermal_resistance",
        "above zero",
        outside_diameter=outside_diameter,
        insulation_conductivity=insulation_conductivity,
    )
    require("thermal_resistance", "above zero", cover_conductivity=cover_conductivity)
    require("thermal_resistance", "zero or more", insulation=insulation, cover=cover)
    bare = np.asarray(outside_diameter, dtype=float)
    outer = bare + 2 * np.asarray(insulation)
    resistance = np.log(outer / bare) / (2 * math.pi * np.asarray(insulation_conductivity))
    if inside_diameter is not None and wall_conductivity is not None:
        require(
            "thermal_resistance",
            "above zero",
            inside_diameter=inside_diameter,
            wall_conductivity=wall_conductivity,
        )
        if np.any(np.asarray(inside_diameter) >= bare):
            raise HydrokitError(
                "thermal_resistance(): inside_diameter must be smaller than outside_diameter"
            )
        resistance = resistance + np.log(bare / inside_diameter) / (
            2 * math.pi * np.asarray(wall_conductivity)
        )
    if film is not None:
        require("thermal_resistance", "above zero", film=film)
    extra = 0.0 if film is None else cover_conductivity / np.asarray(film)
    depth = np.maximum(2 * (np.asarray(cover) + extra) / outer, 1.0)
    covered = np.where(
        np.asarray(cover) > 0,
        np.arccosh(depth) / (2 * math.pi * np.asarray(cover_conductivity)),
        0.0,
    )
    at_surface = 0.0 if film is None else 1 / (math.pi * outer * film)
    return resistance + np.maximum(at_surface, covered)


@thermal_resistance.valid
def _(
    outside_diameter: Given, film: Given, insulation: Given, insulation_conductivity: Given
) -> Iterator[Outside]:
    if film is not None:
        thin = np.asarray(film) * outside_diameter / 2 < insulation_conductivity
        yield (
            thin & (np.asarray(insulation) > 0),
            "pipe thinner than the critical radius: a thin layer of insulation loses more than none",
        )


@units("W/m", resistance="m*K/W", air_temperature="K", water_temperature="K")
def heat_loss(
    resistance: Given, air_temperature: Given, water_temperature: Given = "0 degC"
) -> Number:
    r"""Heat that one metre of pipe loses.

    Parameters
    ----------
    resistance : Quantity or str [length temperature/power]
        :math:`R`, from :func:`thermal_resistance`.
    air_temperature, water_temperature : Quantity or str [temperature]

    Returns
    -------
    Quantity [power/length]
        In W/m; negative when the air warms the water.

    Raises
    ------
    HydrokitError
        A resistance not above zero.

    References
    ----------
    .. [1] Steady conduction, :math:`q = \Delta t/R`.

    Examples
    --------
    >>> print(f"{heat_loss('0.29 m*K/W', '-15 degC'):.0f~P}")
    52 W/m
    >>> print(f"{heat_loss('0.29 m*K/W', '5 degF').to('Btu/h/ft'):.0f~P}")
    54 Btu/ft/h
    """
    require("heat_loss", "above zero", resistance=resistance)
    return (np.asarray(water_temperature) - air_temperature) / resistance
