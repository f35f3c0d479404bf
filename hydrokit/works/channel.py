"""Open channels and part-full pipes: uniform flow by Manning, and the depth it takes."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Iterator

import numpy as np

from ..result import Result
from ..units import Floats, Given, Number, Outside, Quantity, units
from ..water import GRAVITY
from .intake import segment
from .solve import bracketed_root, require, root_by_power

if TYPE_CHECKING:
    from ..units import Alike

__all__ = ["ChannelFlow", "manning", "normal_depth", "part_full", "part_full_depth"]

FULLEST = 0.93818  # share of the diameter at which a round pipe carries most


@dataclass(frozen=True, eq=False)
class ChannelFlow(Result):
    """Uniform flow in a section.

    Parameters
    ----------
    flow_m3s, velocity_ms, area_m2, hydraulic_radius_m, top_width_m : float or ndarray
    froude : float or ndarray
        Below 1 tranquil; above it shooting.
    """

    flow_m3s: Alike
    velocity_ms: Number
    area_m2: Number
    _: KW_ONLY
    hydraulic_radius_m: Floats
    top_width_m: Number
    froude: Floats

    @property
    def flow(self) -> Quantity:
        """Discharge, a quantity."""
        return Quantity(self.flow_m3s, "m^3/s")

    @property
    def velocity(self) -> Quantity:
        """Mean velocity, a quantity."""
        return Quantity(self.velocity_ms, "m/s")

    @property
    def area(self) -> Quantity:
        """Wetted area, a quantity."""
        return Quantity(self.area_m2, "m^2")

    @property
    def hydraulic_radius(self) -> Quantity:
        """Area over wetted perimeter, a quantity."""
        return Quantity(self.hydraulic_radius_m, "m")

    @property
    def top_width(self) -> Quantity:
        """Width of the water surface, a quantity."""
        return Quantity(self.top_width_m, "m")


@units(None, depth="m", width="m", slope="ratio", manning="count", side_slope="ratio")
def manning(
    depth: Given, width: Given, slope: Given, manning: Given, side_slope: Given = 0.0
) -> ChannelFlow:
    r"""Uniform flow in a rectangular, trapezoidal or triangular channel.

    Parameters
    ----------
    depth : Quantity or str [length]
        Of the water, :math:`y`.
    width : Quantity or str [length]
        Of the floor, :math:`b`; zero for a triangle.
    slope : float
        Fall over length, :math:`S`.
    manning : float
        Manning's :math:`n` in metric units, such as 0.030; see the table ``manning``.
    side_slope : float
        Across to one up, :math:`z`.

    Returns
    -------
    ChannelFlow
        ``.flow``, ``.velocity``, ``.area``, ``.hydraulic_radius``, ``.top_width``, ``.froude``.

    Raises
    ------
    HydrokitError
        A negative depth, width or slope, an n not above zero.

    Warns
    -----
    RangeWarning
        n outside 0.008 to 0.2, a slope above 0.1.

    Notes
    -----
    .. math:: Q = \frac{A}{n} R^{2/3} S^{1/2}

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, ch. 12.

    Examples
    --------
    >>> print(f"{manning('0.2 m', '0.4 m', 0.005, 0.025).flow.to('L/s'):.0f~P}")
    49 L/s
    >>> print(f"{manning('8 in', '16 in', 0.005, 0.025).velocity.to('ft/s'):.2f~P}")
    2.02 ft/s
    """
    require("manning", "zero or more", depth=depth, width=width, slope=slope, side_slope=side_slope)
    require("manning", "above zero", manning=manning)
    return uniform(*trapezoid(np.asarray(depth, dtype=float), width, side_slope), slope, manning)


@manning.valid
def _manning_range(slope: Given, manning: Given) -> Iterator[Outside]:
    yield (
        (np.asarray(manning) < 0.008) | (np.asarray(manning) > 0.2),
        "Manning n outside 0.008 to 0.2",
    )
    yield (
        np.asarray(slope) > 0.1,
        "steeper than 0.1: air and waves in the water make Manning a rough guide",
    )


@units(None, depth="m", diameter="m", slope="ratio", manning="count")
def part_full(depth: Given, diameter: Given, slope: Given, manning: Given) -> ChannelFlow:
    r"""Uniform flow in a round pipe, part full or just full.

    Parameters
    ----------
    depth : Quantity or str [length]
        Of the water, :math:`y`, up to the diameter.
    diameter : Quantity or str [length]
        Inside, :math:`D`.
    slope : float
        Fall over length.
    manning : float
        Manning's :math:`n`, taken the same at all depths: 0.010 smooth plastic.

    Returns
    -------
    ChannelFlow
        A pipe carries most, 7.6 % more than just full, at 0.938 of its height: near there the
        smallest wave makes it run full.

    Raises
    ------
    HydrokitError
        A depth above the diameter, a negative depth or slope, an n or diameter not above zero.

    Warns
    -----
    RangeWarning
        n outside 0.008 to 0.2, a slope above 0.1.

    Notes
    -----
    :math:`\theta = 2\arccos(1 - 2y/D)`, :math:`A = D^2(\theta - \sin\theta)/8`,
    :math:`R = D(1 - \sin\theta/\theta)/4`.

    References
    ----------
    .. [1] Geometry of the circle with Manning's formula.

    Examples
    --------
    >>> print(f"{part_full('75 mm', '150 mm', 0.02, 0.010).flow.to('L/s'):.1f~P}")
    14.0 L/s
    >>> print(f"{part_full('3 in', '6 in', 0.02, 0.010).velocity.to('ft/s'):.2f~P}")
    5.25 ft/s
    """
    require("part_full", "above zero", diameter=diameter, manning=manning)
    require("part_full", "zero or more", depth=depth, slope=slope)
    filling = np.asarray(depth, dtype=float) / diameter
    require("part_full", "a share from 0 to 1", depth_over_diameter=filling)
    return uniform(*circle(filling, diameter), slope, manning)


part_full.valid(_manning_range)


@units("m", flow="m^3/s", width="m", slope="ratio", manning="count", side_slope="ratio")
def normal_depth(
    flow: Given, width: Given, slope: Given, manning: Given, side_slope: Given = 0.0
) -> Number:
    """Depth of uniform flow in a channel: the inverse of :func:`manning`.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    width, slope, manning, side_slope
        As in :func:`manning`.

    Returns
    -------
    Quantity [length]
        Zero for no flow.

    Raises
    ------
    HydrokitError
        A slope or n not above zero, a channel without floor and sides, a negative flow.

    Warns
    -----
    RangeWarning
        As :func:`manning`.

    References
    ----------
    .. [1] As :func:`manning`.

    Examples
    --------
    >>> print(f"{normal_depth('50 L/s', '0.4 m', 0.005, 0.025):.3f~P}")
    0.204 m
    >>> print(f"{normal_depth('2 cfs', '16 in', 0.005, 0.025).to('in'):.1f~P}")
    8.7 in
    """
    require(
        "normal_depth",
        "above zero",
        slope=slope,
        manning=manning,
        width_or_side_slope=np.asarray(width) + side_slope,
    )
    require("normal_depth", "zero or more", flow=flow, width=width, side_slope=side_slope)
    flow = np.asarray(flow, dtype=float)
    wanted = np.log(np.where(flow > 0, flow, np.nan))

    def miss(log_depth: Number) -> Number:
        return (
            np.log(
                uniform(*trapezoid(np.exp(log_depth), width, side_slope), slope, manning).flow_m3s
            )
            - wanted
        )

    # Flow grows with depth to a power from 1 (deep slot) to 8/3 (triangle).
    depth = np.exp(root_by_power(miss, wanted * 0.5, 1.0, 2.7))
    return np.where(flow == 0, 0.0, depth)[()]


normal_depth.valid(_manning_range)


@units("m", flow="m^3/s", diameter="m", slope="ratio", manning="count")
def part_full_depth(flow: Given, diameter: Given, slope: Given, manning: Given) -> Number:
    """Depth of uniform flow in a round pipe: the inverse of :func:`part_full`.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    diameter, slope, manning
        As in :func:`part_full`.

    Returns
    -------
    Quantity [length]
        The lower of two depths; NaN where the pipe must run full and under pressure.

    Raises
    ------
    HydrokitError
        A slope, n or diameter not above zero, a negative flow.

    Warns
    -----
    RangeWarning
        More flow than the pipe carries part full.

    References
    ----------
    .. [1] As :func:`part_full`.

    Examples
    --------
    >>> print(f"{part_full_depth('14 L/s', '150 mm', 0.02, 0.010).to('mm'):.0f~P}")
    75 mm
    >>> print(f"{part_full_depth('200 gpm', '6 in', 0.02, 0.010).to('in'):.2f~P}")
    2.76 in
    """
    require("part_full_depth", "above zero", slope=slope, manning=manning, diameter=diameter)
    require("part_full_depth", "zero or more", flow=flow)
    flow, diameter = np.broadcast_arrays(
        np.asarray(flow, dtype=float), np.asarray(diameter, dtype=float)
    )

    def miss(filling: Number) -> float:
        return uniform(*circle(filling, diameter), slope, manning).flow_m3s - flow

    shape = np.broadcast_shapes(flow.shape, np.shape(slope), np.shape(manning))
    filling = bracketed_root(miss, np.full(shape, 1e-9), np.full(shape, FULLEST), steps=40)
    return np.where(flow == 0, 0.0, filling * diameter)[()]


@part_full_depth.valid
def _(flow: Given, diameter: Given, slope: Given, manning: Given) -> Iterator[Outside]:
    most = uniform(*circle(FULLEST, np.asarray(diameter, dtype=float)), slope, manning).flow_m3s
    yield (
        np.asarray(flow) > most,
        "more than the pipe carries part full: it fills and comes under pressure",
    )


def trapezoid(depth: Number, width: float, side_slope: float) -> tuple[Number, Number, Number]:
    """Area, wetted perimeter and top width of a trapezoid of water."""
    area = (width + side_slope * depth) * depth
    perimeter = width + 2 * depth * np.sqrt(1 + np.asarray(side_slope, dtype=float) ** 2)
    return area, perimeter, width + 2 * side_slope * depth


def circle(filling: Number, diameter: Number) -> tuple[Number, Number, Number]:
    """Area, wetted perimeter and top width of a round pipe filled to a share of its height."""
    area, top = segment(filling)
    return area * diameter**2, np.arccos(1 - 2 * np.asarray(filling)) * diameter, top * diameter


def uniform(
    area: Number, perimeter: Number, top: Number, slope: float, manning: float
) -> ChannelFlow:
    """Manning's flow in a section."""
    with np.errstate(divide="ignore", invalid="ignore"):
        radius = np.where(perimeter > 0, area / perimeter, 0.0)
        velocity = radius ** (2 / 3) * np.sqrt(slope) / manning
        froude = np.where(area > 0, velocity / np.sqrt(GRAVITY * area / top), 0.0)
    return ChannelFlow(
        velocity * area, velocity, area, hydraulic_radius_m=radius, top_width_m=top, froude=froude
    )
