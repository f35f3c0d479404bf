"""The forebay and what leads to it: a gravel trap, a transition, the water stored, the cover over
the pipe inlet."""

from __future__ import annotations

import math

import numpy as np

from ..units import Given, Number, units
from ..water import GRAVITY
from .solve import require

__all__ = ["gravel_trap", "inlet_cover", "storage_time", "transition_length"]


@units(("m", "m"), flow="m^3/s", depth="m", channel_width="m", speed="m/s")
def gravel_trap(
    flow: Given, depth: Given, channel_width: Given, speed: Given = "0.6 m/s"
) -> tuple[Number, Number]:
    """Width and length of a pit before the channel that catches gravel.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    depth : Quantity or str [length]
        Of the water.
    channel_width : Quantity or str [length]
        Of the channel behind.
    speed : Quantity or str [velocity]
        At which gravel stays behind.

    Returns
    -------
    tuple of Quantity [length]
        Width, and length of three channel widths.

    Raises
    ------
    HydrokitError
        A depth, width or speed not above zero.

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 77, Example 5.1.

    Examples
    --------
    >>> width, length = gravel_trap("455 L/s", "0.5 m", "0.6 m")
    >>> print(f"{width:.2f~P}, {length:.1f~P}")
    1.52 m, 1.8 m
    >>> print(f"{gravel_trap('2 cfs', '1 ft', '1.5 ft')[0].to('ft'):.2f~P}")
    1.02 ft
    """
    require("gravel_trap", "above zero", depth=depth, channel_width=channel_width, speed=speed)
    width = np.asarray(flow) / (np.asarray(speed) * depth)
    width, length = np.broadcast_arrays(width, 3.0 * np.asarray(channel_width))
    return width[()], length[()]


@units("m", wide="m", narrow="m", angle="rad")
def transition_length(wide: Given, narrow: Given, angle: Given = "26 deg") -> Number:
    """Length over which a channel widens into a basin.

    Parameters
    ----------
    wide, narrow : Quantity or str [length]
    angle : Quantity or str [angle]
        Each side turns outward.

    Returns
    -------
    Quantity [length]

    Raises
    ------
    HydrokitError
        An angle not above zero, a wide end narrower than the narrow one.

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 77, Example 5.1.

    Examples
    --------
    >>> print(f"{transition_length('2.5 m', '0.6 m'):.2f~P}")
    1.95 m
    >>> print(f"{transition_length('8 ft', '2 ft').to('ft'):.1f~P}")
    6.2 ft
    """
    require("transition_length", "above zero", angle=angle)
    require("transition_length", "zero or more", widening=np.asarray(wide) - narrow)
    return (np.asarray(wide) - narrow) / (2 * np.tan(angle))


@units("s", volume="m^3", flow="m^3/s", inflow="m^3/s")
def storage_time(volume: Given, flow: Given, inflow: Given = "0 L/s") -> Number:
    """How long a pond or forebay feeds the plant when less comes in than goes out.

    Parameters
    ----------
    volume : Quantity or str [volume]
        Between the highest and the lowest working level.
    flow : Quantity or str [length³/time]
        Drawn by the plant.
    inflow : Quantity or str [length³/time]
        Still arriving.

    Returns
    -------
    Quantity [time]
        Infinite when as much comes in.

    Raises
    ------
    HydrokitError
        A negative volume or flow.

    References
    ----------
    .. [1] Continuity.

    Examples
    --------
    >>> print(f"{storage_time('6 m^3', '22 L/s').to('min'):.1f~P}")
    4.5 min
    >>> print(f"{storage_time('1500 gal', '350 gpm', '100 gpm').to('min'):.1f~P}")
    6.0 min
    """
    require("storage_time", "zero or more", volume=volume, flow=flow, inflow=inflow)
    short = np.asarray(flow, dtype=float) - inflow
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(short > 0, volume / short, np.where(np.isnan(short), np.nan, np.inf))[()]


@units("m", flow="m^3/s", diameter="m")
def inlet_cover(flow: Given, diameter: Given) -> Number:
    r"""Water needed over a pipe inlet so that it draws in no air.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    diameter : Quantity or str [length]
        Inside, at the inlet itself: a bellmouth counts with its edge.

    Returns
    -------
    Quantity [length]
        Over the inlet; over its middle for a lying pipe. A raft of planks on the water, or a
        larger inlet, saves some of it (common practice).

    Raises
    ------
    HydrokitError
        A diameter not above zero, a negative flow.

    Notes
    -----
    .. math:: S = D\,(1 + 2.3\,F_D), \quad F_D = \frac{V}{\sqrt{gD}}

    References
    ----------
    .. [1] G. E. Hecker, 1987, as in ANSI/HI 9.8 and the Hydraulic Institute's Engineering Data
       Book, "Submergence", 2023.

    Examples
    --------
    >>> print(f"{inlet_cover('22 L/s', '150 mm'):.2f~P}")
    0.50 m
    >>> print(f"{inlet_cover('350 gpm', '6 in').to('ft'):.2f~P}")
    1.64 ft
    """
    require("inlet_cover", "above zero", diameter=diameter)
    require("inlet_cover", "zero or more", flow=flow)
    diameter = np.asarray(diameter, dtype=float)
    froude = flow / (math.pi / 4 * diameter**2) / np.sqrt(GRAVITY * diameter)
    return diameter * (1 + 2.3 * froude)
