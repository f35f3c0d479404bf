"""Shape of a channel: the slope it needs, critical depth, the section with the least wall."""

from __future__ import annotations

import numpy as np

from ..units import Given, Number, units
from ..water import GRAVITY
from .channel import circle, trapezoid, uniform
from .solve import bracketed_root, require, root_by_power

__all__ = [
    "best_section",
    "channel_slope",
    "critical_depth",
    "critical_depth_pipe",
    "freeboard",
]


@units("number", flow="m^3/s", depth="m", width="m", manning="count", side_slope="ratio")
def channel_slope(
    flow: Given, depth: Given, width: Given, manning: Given, side_slope: Given = 0.0
) -> Number:
    """Slope that a channel needs to carry a flow at a depth.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    depth, width, manning, side_slope
        As in :func:`hydrokit.works.channel.manning`.

    Returns
    -------
    float or ndarray
        Fall over length.

    Raises
    ------
    HydrokitError
        A depth or n not above zero, a negative flow.

    References
    ----------
    .. [1] As :func:`hydrokit.works.channel.manning`.

    Examples
    --------
    >>> f"{channel_slope('100 m^3/s', '3 m', '10 m', 0.015, 1.5):.3e}"
    '4.451e-04'
    >>> round(channel_slope("2 cfs", "8.6 in", "16 in", 0.025), 4)
    0.0051
    """
    require("channel_slope", "above zero", depth=depth, manning=manning)
    require("channel_slope", "zero or more", flow=flow, width=width, side_slope=side_slope)
    at_one = uniform(
        *trapezoid(np.asarray(depth, dtype=float), width, side_slope), 1.0, manning
    ).flow_m3s
    return (np.asarray(flow) / at_one) ** 2


@units("m", flow="m^3/s", width="m", side_slope="ratio")
def critical_depth(flow: Given, width: Given, side_slope: Given = 0.0) -> Number:
    r"""Depth at which a flow has the least energy: over a sill, at a free fall.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    width : Quantity or str [length]
        Of the floor.
    side_slope : float

    Returns
    -------
    Quantity [length]
        A channel whose normal depth lies near it runs in waves.

    Raises
    ------
    HydrokitError
        A negative flow, a channel without floor and sides.

    Notes
    -----
    :math:`Q^2 T = g A^3`; in a rectangle :math:`y_c = (q^2/g)^{1/3}`.

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, problem 12.25.

    Examples
    --------
    >>> print(f"{critical_depth('6 m^3/s', '2 m'):.3f~P}")
    0.972 m
    >>> print(f"{critical_depth('2 cfs', '16 in').to('in'):.2f~P}")
    4.94 in
    """
    require("critical_depth", "above zero", width_or_side_slope=np.asarray(width) + side_slope)
    require("critical_depth", "zero or more", flow=flow, width=width, side_slope=side_slope)
    flow = np.asarray(flow, dtype=float)
    wanted = np.log(np.where(flow > 0, flow, np.nan))

    def miss(log_depth: Number) -> Number:
        area, _, top = trapezoid(np.exp(log_depth), width, side_slope)
        return 0.5 * np.log(GRAVITY * area**3 / top) - wanted

    # From 3/2 in a rectangle to 5/2 in a triangle.
    depth = np.exp(root_by_power(miss, wanted * 0.5, 1.5, 2.5))
    return np.where(flow == 0, 0.0, depth)[()]


@units("m", flow="m^3/s", diameter="m")
def critical_depth_pipe(flow: Given, diameter: Given) -> Number:
    """Critical depth in a round pipe running part full.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    diameter : Quantity or str [length]
        Inside.

    Returns
    -------
    Quantity [length]
        Always below the diameter.

    Raises
    ------
    HydrokitError
        A negative flow, a diameter not above zero.

    References
    ----------
    .. [1] As :func:`critical_depth`.

    Examples
    --------
    >>> print(f"{critical_depth_pipe('10 L/s', '150 mm').to('mm'):.0f~P}")
    92 mm
    >>> print(f"{critical_depth_pipe('150 gpm', '6 in').to('in'):.2f~P}")
    3.52 in
    """
    require("critical_depth_pipe", "above zero", diameter=diameter)
    require("critical_depth_pipe", "zero or more", flow=flow)
    flow, diameter = np.broadcast_arrays(
        np.asarray(flow, dtype=float), np.asarray(diameter, dtype=float)
    )

    def miss(filling: Number) -> float:
        area, _, top = circle(filling, diameter)
        return np.sqrt(GRAVITY * area**3 / top) - flow

    filling = bracketed_root(
        miss, np.full(flow.shape, 1e-9), np.full(flow.shape, 1 - 1e-12), steps=50
    )
    # Beyond what the last sliver of free surface allows, the pipe is full to the crown.
    return np.where(
        flow == 0, 0.0, np.where(np.isnan(filling) & (flow > 0), 1.0, filling) * diameter
    )[()]


@units(("m", "m", "m"), area="m^2", side_slope="ratio")
def best_section(area: Given, side_slope: Given = 0.0) -> tuple[Number, Number, Number]:
    r"""The section of an area with the least wetted wall: cheapest to line, least friction.

    Parameters
    ----------
    area : Quantity or str [area]
    side_slope : float
        Across to one up; 0.577 makes half a hexagon.

    Returns
    -------
    tuple of Quantity [length]
        Depth, width of the floor, wetted perimeter.

    Raises
    ------
    HydrokitError
        A negative area or side slope.

    Notes
    -----
    :math:`A = y^2(2\sqrt{1+z^2} - z)`, :math:`b = 2y(\sqrt{1+z^2} - z)`.

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, problem 12.18.

    Examples
    --------
    >>> print(", ".join(f"{each:.1f~P}" for each in best_section("8 m^2")))
    2.0 m, 4.0 m, 8.0 m
    >>> print(f"{best_section('2 ft^2')[0].to('ft'):.1f~P}")
    1.0 ft
    """
    require("best_section", "zero or more", area=area, side_slope=side_slope)
    slant = np.sqrt(1 + np.asarray(side_slope, dtype=float) ** 2)
    depth = np.sqrt(np.asarray(area) / (2 * slant - side_slope))
    width = 2 * depth * (slant - side_slope)
    return depth, width, width + 2 * depth * slant


@units("m", depth="m")
def freeboard(depth: Given) -> Number:
    """Wall above the water in a small channel.

    Parameters
    ----------
    depth : Quantity or str [length]
        Of the water at the highest flow.

    Returns
    -------
    Quantity [length]
        A third of the depth, at least 0.15 m (common practice); 0.3 m beside settling basins.

    References
    ----------
    .. [1] Common practice; the basin's 0.3 m in *Civil Works Guidelines for Micro-Hydropower in
       Nepal*, p. 77.

    Examples
    --------
    >>> print(f"{freeboard('0.6 m'):.2f~P}")
    0.20 m
    >>> print(f"{freeboard('6 in').to('in'):.1f~P}")
    5.9 in
    """
    return np.maximum(np.asarray(depth) / 3, 0.15)
