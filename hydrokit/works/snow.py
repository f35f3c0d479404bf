"""Snow and frozen ground over a pipe: how they insulate, and how deep frost goes."""

from __future__ import annotations

from typing import Iterator

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Given, Number, Outside, units
from .frost import FREEZING_POINT
from .solve import require

__all__ = [
    "DAYS_TO_USUAL",
    "MELT_M",
    "SETTLED_SNOW",
    "frost_depth",
    "snow_as_soil",
    "snow_by_day",
    "snow_conductivity",
    "stefan_depth",
]

SETTLED_SNOW = 250.0  # kg/m³; common practice
_DAY = 86400.0
DAYS_TO_USUAL = 30  # of frost, until the usual depth lies
MELT_M = 0.016  # m of settled snow a degree-day: 4 mm of water


@units("W/m/K", density="kg/m^3")
def snow_conductivity(density: Given, form: str = "quadratic") -> Number:
    r"""How well snow conducts heat.

    Parameters
    ----------
    density : Quantity or str [mass/volume]
        Of the snow, :math:`\rho`: fresh 100, settled 200 to 300, wind-packed 350 to 450 kg/m³.
    form : {"quadratic", "log"}
        Which of the two fits of the source.

    Returns
    -------
    Quantity [power/length/temperature]
        :math:`k`, in W/(m K).

    Raises
    ------
    HydrokitError
        An unknown form, a density not above zero.

    Warns
    -----
    RangeWarning
        Denser than 600 kg/m³: outside the data.

    Notes
    -----
    ρ in g/cm³. Quadratic: :math:`0.138 - 1.01\rho + 3.233\rho^2` from 0.156, below it
    :math:`0.023 + 0.234\rho`. Log: :math:`10^{2.650\rho - 1.652}`. The quadratic explains 79 % of
    the variance of 488 samples: a single snow differs by a factor of about 1.5 either way.

    References
    ----------
    .. [1] M. Sturm, J. Holmgren, M. König, K. Morris, "The thermal conductivity of seasonal snow",
       J. Glaciology 43(143):26-41, 1997; equations as carried by public model code citing it.

    Examples
    --------
    >>> print(f"{snow_conductivity('250 kg/m^3'):.3f~P}")
    0.088 W/K/m
    >>> print(f"{snow_conductivity('15.6 lb/ft^3').to('Btu/h/ft/delta_degF'):.3f~P}")
    0.051 Btu/Δ°F/ft/h
    """
    require("snow_conductivity", "above zero", density=density)
    relative = np.asarray(density) / 1000
    if form == "log":
        return 10 ** (2.650 * relative - 1.652)
    if form != "quadratic":
        raise HydrokitError(f'snow_conductivity(): form must be "quadratic" or "log", got {form!r}')
    dense = 0.138 - 1.01 * relative + 3.233 * relative**2
    return np.where(relative >= 0.156, dense, 0.023 + 0.234 * relative)[()]


@snow_conductivity.valid
def _(density: Given) -> Iterator[Outside]:
    yield (
        np.asarray(density) > 600,
        Sentence(
            "snow denser than {most}: outside the data of the fit", most=Amount(600.0, "density", 2)
        ),
    )


@units("m", depth="m", conductivity="W/m/K", soil_conductivity="W/m/K")
def snow_as_soil(
    depth: Given, conductivity: Given, soil_conductivity: Given = "1.5 W/m/K"
) -> Number:
    r"""Extra depth of soil that keeps frost out as well as a layer of snow does.

    Parameters
    ----------
    depth : Quantity or str [length]
        Of the snow.
    conductivity, soil_conductivity : Quantity or str [power/length/temperature]
        Of snow and soil.

    Returns
    -------
    Quantity [length]
        To add to the cover of a buried pipe.

    Raises
    ------
    HydrokitError
        A conductivity not above zero, a negative depth.

    References
    ----------
    .. [1] Layers in series: :math:`d\,k_{soil}/k_{snow}`.

    Examples
    --------
    >>> print(f"{snow_as_soil('0.3 m', '0.1 W/m/K'):.1f~P}")
    4.5 m
    >>> print(f"{snow_as_soil('1 ft', '0.1 W/m/K').to('ft'):.0f~P}")
    15 ft
    """
    require("snow_as_soil", "zero or more", depth=depth)
    require(
        "snow_as_soil", "above zero", conductivity=conductivity, soil_conductivity=soil_conductivity
    )
    return np.asarray(depth) * soil_conductivity / conductivity


@units("m", air_temperature="K", usual_depth="m")
def snow_by_day(air_temperature: Given, usual_depth: Given) -> Number:
    r"""Depth of snow on each day, where only its usual depth in mid winter is known.

    Parameters
    ----------
    air_temperature : list or ndarray of Quantity [temperature]
        Of each day, its mean.
    usual_depth : Quantity or str [length]
        In mid winter, settled.

    Returns
    -------
    Quantity [length]
        In the evening of each day; none before the first.

    Raises
    ------
    HydrokitError
        A negative depth.

    Notes
    -----
    A rule, not a forecast: thirty days at or below 0 °C bring the usual depth, evenly, and no more
    than that lies; each degree-day above 0 °C melts 16 mm of it (4 mm of water). So early winter
    and thaws leave little. Days whose temperature is not known change nothing.

    References
    ----------
    .. [1] Degree-day factor of 2 to 6 mm of water a degree-day, and the thirty days: common practice.

    Examples
    --------
    >>> depth = snow_by_day(["-5 degC"] * 15 + ["5 degC"] * 2, "60 cm")
    >>> print(f"{depth[14].to('cm'):.0f~P}, then {depth[16].to('cm'):.0f~P}")
    30 cm, then 14 cm
    >>> print(f"{snow_by_day(['20 degF'] * 40, '2 ft')[-1].to('ft'):.0f~P}")
    2 ft
    """
    require("snow_by_day", "zero or more", usual_depth=usual_depth)
    air, usual = np.asarray(air_temperature, dtype=float) - FREEZING_POINT, float(usual_depth)
    change = np.where(air > 0, -MELT_M * air, usual / DAYS_TO_USUAL)
    depth, lies = np.empty(len(air)), 0.0
    for day, more in enumerate(np.where(np.isnan(air), 0.0, change).tolist()):
        lies = min(max(lies + more, 0.0), usual)
        depth[day] = lies
    return depth


snow_by_day.measurement = ("air_temperature",)


@units("m", ground_temperature="K", surface_temperature="K", duration="s", diffusivity="m^2/s")
def frost_depth(
    ground_temperature: Given,
    surface_temperature: Given,
    duration: Given,
    diffusivity: Given = "0.5e-6 m^2/s",
) -> Number:
    r"""Depth that 0 °C reaches in dry ground whose surface turns cold and stays so.

    Parameters
    ----------
    ground_temperature : Quantity or str [temperature]
        Of the ground at the start, :math:`T_i`.
    surface_temperature : Quantity or str [temperature]
        Of the surface from then on, :math:`T_s`; under snow that is far warmer than the air.
    duration : Quantity or str [time]
        :math:`t`.
    diffusivity : Quantity or str [length²/time]
        Of the ground, :math:`\alpha`: dry soil 0.15 to 0.3, moist soil 0.5 to 0.8, rock 1 to
        1.5 mm²/s.

    Returns
    -------
    Quantity [length]
        Without the heat that water in the soil gives off in freezing, so deeper than in moist
        soil (cautious): for that see :func:`stefan_depth`.

    Raises
    ------
    HydrokitError
        A negative duration, ground not warmer than 0 °C.

    Notes
    -----
    .. math:: z = 2\sqrt{\alpha t}\,\operatorname{erf}^{-1}\frac{0 - T_s}{T_i - T_s}

    References
    ----------
    .. [1] Y. A. Çengel, *Heat and Mass Transfer*, example 4.6 (semi-infinite solid).

    Examples
    --------
    >>> print(f"{frost_depth('15 degC', '-10 degC', '90 d', '0.15e-6 m^2/s'):.2f~P}")
    0.80 m
    >>> print(f"{frost_depth('50 degF', '20 degF', '90 d').to('ft'):.1f~P}")
    4.8 ft
    """
    from scipy.special import erfinv

    require("frost_depth", "zero or more", duration=duration)
    require("frost_depth", "above zero", diffusivity=diffusivity)
    warmth, cold = (
        np.asarray(ground_temperature) - FREEZING_POINT,
        FREEZING_POINT - np.asarray(surface_temperature),
    )
    if np.any(warmth <= 0):
        raise HydrokitError(
            "frost_depth(): ground_temperature must be above the freezing point; ground at or "
            "below it is frozen throughout"
        )
    share = np.maximum(cold, 0.0) / (np.maximum(cold, 0.0) + warmth)
    return 2 * np.sqrt(np.asarray(diffusivity) * duration) * erfinv(share)


@units("m", freezing_index="delta_degC*d", conductivity="W/m/K", latent_heat="J/m^3")
def stefan_depth(
    freezing_index: Given, conductivity: Given = "2.2 W/m/K", latent_heat: Given = "305.865e6 J/m^3"
) -> Number:
    r"""Depth that freezes when all heat drawn from the freezing front is latent (Stefan).

    Parameters
    ----------
    freezing_index : Quantity or str [temperature difference · time]
        Sum of the degrees below 0 °C over the days, :math:`F`, at the *surface*; write
        "500 delta_degC*d" or "900 delta_degF*d".
    conductivity : Quantity or str [power/length/temperature]
        Of the frozen layer, :math:`k`; the default is ice.
    latent_heat : Quantity or str [energy/volume]
        Of the freezing layer, :math:`\lambda`; the default is ice. For soil: dry density × water
        content by mass × 333.55 kJ/kg.

    Returns
    -------
    Quantity [length]
        What the air alone could freeze at the most: snow, wind, flow and stored heat leave less.

    Raises
    ------
    HydrokitError
        A conductivity or latent heat not above zero.

    Notes
    -----
    .. math:: z = \sqrt{2 k F/\lambda}

    References
    ----------
    .. [1] J. Stefan, Ann. Phys. 278:269-286, 1891.

    Examples
    --------
    >>> print(f"{stefan_depth('100 delta_degC*d').to('cm'):.1f~P}")
    35.3 cm
    >>> print(f"{stefan_depth('900 delta_degF*d', '1.8 W/m/K', '1e8 J/m^3').to('ft'):.1f~P}")
    4.1 ft
    """
    require("stefan_depth", "above zero", conductivity=conductivity, latent_heat=latent_heat)
    return np.sqrt(2 * conductivity * _DAY * np.maximum(freezing_index, 0.0) / latent_heat)
