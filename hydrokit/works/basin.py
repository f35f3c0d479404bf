"""Settling basin: how fast grains sink, how much a basin holds back, how much silt it fills with."""

from __future__ import annotations

from typing import Iterator

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Given, Number, Outside, units
from ..water import GRAVITY
from ..water import viscosity as water_viscosity
from .solve import require

__all__ = [
    "basin_area",
    "basin_speed",
    "flushing_interval",
    "settling_velocity",
    "silt_volume",
    "trap_efficiency",
]

# Ferguson and Church: drag of slow fall C1 and of fast fall C2, by grain shape.
GRAIN_SHAPES = {"sphere": (18.0, 0.4), "natural": (18.0, 1.0), "angular": (22.0, 1.15)}


@units("m/s", grain="m", temperature="K", viscosity="m^2/s", excess_density="ratio")
def settling_velocity(
    grain: Given,
    temperature: Given = "10 degC",
    viscosity: Given = None,
    excess_density: Given = 1.65,
    shape: str = "natural",
) -> Number:
    r"""Speed at which a grain of sand or silt sinks in still water (Ferguson and Church).

    Parameters
    ----------
    grain : Quantity or str [length]
        Sieve diameter, :math:`D`.
    temperature : Quantity or str [temperature]
        Of the water; cold water holds fine sand a third longer than warm.
    viscosity : Quantity or str [length²/time], optional
        Kinematic, :math:`\nu`, instead of the temperature.
    excess_density : float
        :math:`R = (\rho_s - \rho)/\rho`: 1.65 quartz.
    shape : {"natural", "sphere", "angular"}

    Returns
    -------
    Quantity [velocity]

    Raises
    ------
    HydrokitError
        A negative grain, an excess density not above zero, an unknown shape.

    Warns
    -----
    RangeWarning
        Finer than 0.01 mm, where silt clings together.

    Notes
    -----
    .. math:: w = \frac{R g D^2}{C_1 \nu + \sqrt{0.75\,C_2 R g D^3}}

    :math:`C_1, C_2` = 18, 1.0 natural sand; 18, 0.4 spheres; 22, 1.15 the middle of the range
    given for angular grains.

    References
    ----------
    .. [1] R. I. Ferguson, M. Church, "A simple universal equation for grain settling velocity",
       J. Sedimentary Research 74(6):933-937, 2004, eq. 4.

    Examples
    --------
    >>> print(f"{settling_velocity('0.2 mm', '10 degC').to('mm/s'):.1f~P}")
    19.4 mm/s
    >>> print(f"{settling_velocity('0.3 mm', '59 degF').to('ft/s'):.3f~P}")
    0.124 ft/s
    """
    require("settling_velocity", "zero or more", grain=grain)
    require("settling_velocity", "above zero", excess_density=excess_density)
    if shape not in GRAIN_SHAPES:
        raise HydrokitError(
            f"settling_velocity(): shape is natural, sphere or angular, not {shape!r}"
        )
    slow, fast = GRAIN_SHAPES[shape]
    nu = water_viscosity.si(temperature) if viscosity is None else viscosity
    grain, weight = np.asarray(grain, dtype=float), np.asarray(excess_density) * GRAVITY
    return weight * grain**2 / (slow * nu + np.sqrt(0.75 * fast * weight * grain**3))


@settling_velocity.valid
def _(grain: Given) -> Iterator[Outside]:
    yield (
        np.asarray(grain) < 1e-5,
        Sentence(
            "finer than {least}: silt that fine sticks together or stays in the water",
            least=Amount(1e-5, "small length", 1),
        ),
    )


@units("m^2", flow="m^3/s", velocity="m/s", turbulence="ratio")
def basin_area(flow: Given, velocity: Given, turbulence: Given = 2.0) -> Number:
    r"""Water surface of a settling basin that catches a grain.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        With what is needed for flushing, :math:`Q`.
    velocity : Quantity or str [velocity]
        At which the grain to be caught sinks, :math:`w`.
    turbulence : float
        Times the still-water area; 2 is the handbook's figure for small basins.

    Returns
    -------
    Quantity [area]
        :math:`2Q/w`; four to ten times as long as wide (common practice).

    Raises
    ------
    HydrokitError
        A negative flow, a velocity or factor not above zero.

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 77, Example 5.1.

    Examples
    --------
    >>> print(f"{basin_area('455 L/s', '0.037 m/s'):.1f~P}")
    24.6 m²
    >>> print(f"{basin_area('1 cfs', '0.12 ft/s').to('ft^2'):.1f~P}")
    16.7 ft²
    """
    require("basin_area", "above zero", velocity=velocity, turbulence=turbulence)
    require("basin_area", "zero or more", flow=flow)
    return np.asarray(turbulence) * flow / velocity


@units("m/s", grain="m")
def basin_speed(grain: Given) -> Number:
    r"""Highest speed along a settling basin at which a settled grain stays down.

    Parameters
    ----------
    grain : Quantity or str [length]

    Returns
    -------
    Quantity [velocity]
        :math:`0.44\sqrt{d}`, d in mm.

    Raises
    ------
    HydrokitError
        A negative grain.

    Warns
    -----
    RangeWarning
        Outside 0.1 to 1 mm.

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 77, Example 5.1 (after Camp).

    Examples
    --------
    >>> print(f"{basin_speed('0.3 mm'):.2f~P}")
    0.24 m/s
    >>> print(f"{basin_speed('0.012 in').to('ft/s'):.2f~P}")
    0.80 ft/s
    """
    require("basin_speed", "zero or more", grain=grain)
    return 0.44 * np.sqrt(np.asarray(grain) * 1000)


@basin_speed.valid
def _(grain: Given) -> Iterator[Outside]:
    yield (
        (np.asarray(grain) < 1e-4) | (np.asarray(grain) > 1e-3),
        Sentence(
            "grain outside {range}: outside the rule's data",
            range=Amount((1e-4, 1e-3), "small length", 1),
        ),
    )


@units("number", velocity="m/s", area="m^2", flow="m^3/s", basins="count")
def trap_efficiency(
    velocity: Given, area: Given, flow: Given, method: str = "vetter", basins: Given = 1
) -> Number:
    r"""Share of a grain size that a basin keeps.

    Parameters
    ----------
    velocity : Quantity or str [velocity]
        At which the grain sinks, :math:`w`.
    area : Quantity or str [area]
        Water surface, :math:`A`.
    flow : Quantity or str [length³/time]
        Through the basin, :math:`Q`.
    method : {"vetter", "hazen", "still"}
        Fully turbulent; `basins` mixed basins one after the other; no turbulence at all.
    basins : float
        For Hazen: 1 poor inlet, 3 good, 8 with baffles (common practice).

    Returns
    -------
    float or ndarray
        0 to 1.

    Raises
    ------
    HydrokitError
        A negative velocity or area, a flow or number of basins not above zero, an unknown method.

    Notes
    -----
    With :math:`x = wA/Q`: Vetter :math:`1 - e^{-x}`; Hazen :math:`1 - (1 + x/n)^{-n}`, which
    becomes Vetter's as n grows; still water :math:`\min(x, 1)`.

    References
    ----------
    .. [1] A. Hazen, "On sedimentation", Trans. ASCE 53, 1904; M. Vetter, 1940, as in
       H. Garbrecht, G. Vittal and others; forms from memory, limits analytic.

    Examples
    --------
    >>> round(trap_efficiency("37 mm/s", "24.6 m^2", "455 L/s"), 2)
    0.86
    >>> round(trap_efficiency("0.12 ft/s", "17 ft^2", "1 cfs", method="hazen"), 2)
    0.67
    """
    require("trap_efficiency", "zero or more", velocity=velocity, area=area)
    require("trap_efficiency", "above zero", flow=flow, basins=basins)
    load = np.asarray(velocity) * area / flow
    if method == "vetter":
        return -np.expm1(-load)
    if method == "hazen":
        return 1 - (1 + load / basins) ** -np.asarray(basins, dtype=float)
    if method == "still":
        return np.minimum(load, 1.0)
    raise HydrokitError(f"trap_efficiency(): method is vetter, hazen or still, not {method!r}")


@units(
    "m^3",
    flow="m^3/s",
    concentration="kg/m^3",
    time="s",
    trapped="ratio",
    density="kg/m^3",
    packing="ratio",
)
def silt_volume(
    flow: Given,
    concentration: Given,
    time: Given,
    trapped: Given = 1.0,
    density: Given = "2600 kg/m^3",
    packing: Given = 0.5,
) -> Number:
    r"""Room that the silt of a time takes in a basin.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    concentration : Quantity or str [mass/length³]
        Silt in the water, :math:`C`; a jar of flood water left to stand tells.
    time : Quantity or str [time]
    trapped : float
        Share caught.
    density : Quantity or str [mass/length³]
        Of the grains.
    packing : float
        Grains in a volume of settled silt.

    Returns
    -------
    Quantity [volume]

    Raises
    ------
    HydrokitError
        A negative amount, a share outside 0 to 1, a density or packing not above zero.

    Notes
    -----
    .. math:: V = \eta\,\frac{Q C T}{\rho_s\,p}

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 77, Example 5.1.

    Examples
    --------
    >>> print(f"{silt_volume('455 L/s', '2 kg/m^3', '8 h'):.2f~P}")
    20.16 m³
    >>> print(f"{silt_volume('1 cfs', '0.1 lb/ft^3', '1 d').to('ft^3'):.0f~P}")
    106 ft³
    """
    require("silt_volume", "zero or more", flow=flow, concentration=concentration, time=time)
    require("silt_volume", "a share from 0 to 1", trapped=trapped, packing=packing)
    require("silt_volume", "above zero", density=density, packing=packing)
    return np.asarray(trapped) * flow * concentration * time / (np.asarray(density) * packing)


@units(
    "s",
    room="m^3",
    flow="m^3/s",
    concentration="kg/m^3",
    trapped="ratio",
    density="kg/m^3",
    packing="ratio",
)
def flushing_interval(
    room: Given,
    flow: Given,
    concentration: Given,
    trapped: Given = 1.0,
    density: Given = "2600 kg/m^3",
    packing: Given = 0.5,
) -> Number:
    """Time until the room for silt is full: the inverse of :func:`silt_volume`.

    Parameters
    ----------
    room : Quantity or str [volume]
        Below the level at which settled silt is swept on.
    flow, concentration, trapped, density, packing
        As in :func:`silt_volume`.

    Returns
    -------
    Quantity [time]
        Infinite for clear water.

    Raises
    ------
    HydrokitError
        A negative room, or as :func:`silt_volume`.

    References
    ----------
    .. [1] As :func:`silt_volume`.

    Examples
    --------
    >>> print(f"{flushing_interval('20.16 m^3', '455 L/s', '2 kg/m^3').to('h'):.2f~P}")
    8.00 h
    >>> print(f"{flushing_interval('106 ft^3', '1 cfs', '0.1 lb/ft^3').to('d'):.2f~P}")
    1.00 d
    """
    require("flushing_interval", "zero or more", room=room)
    with np.errstate(divide="ignore"):
        return np.asarray(room) / silt_volume.si(
            flow, concentration, 1.0, trapped, density, packing
        )
