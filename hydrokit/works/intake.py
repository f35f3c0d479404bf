"""Openings, crests and inlets at the intake: what each passes at a water level."""

from __future__ import annotations

import math
from typing import Iterator

import numpy as np

from ..units import Given, Number, Outside, units
from ..water import GRAVITY
from .solve import bracketed_root, require

__all__ = [
    "crest",
    "crest_head",
    "crest_length",
    "drain_time",
    "orifice",
    "orifice_head",
    "pipe_inlet",
    "standpipe",
]


@units("m^3/s", head="head", area="m^2", coefficient="ratio")
def orifice(head: Given, area: Given, coefficient: Given = 0.61) -> Number:
    r"""Flow through a submerged opening: orifice, sluice or hole.

    Parameters
    ----------
    head : Quantity or str [length]
        From the water above to the middle of the opening, or to the water behind it, :math:`h`.
    area : Quantity or str [area]
        Of the opening, :math:`A`.
    coefficient : float
        :math:`C`: 0.61 for a sharp edge, about 0.8 for a thick wall, 0.97 for a rounded inlet.

    Returns
    -------
    Quantity [length³/time]
        Zero at and below zero head.

    Raises
    ------
    HydrokitError
        A negative area, a coefficient outside 0 to 1.

    Notes
    -----
    .. math:: Q = C A \sqrt{2 g h}

    References
    ----------
    .. [1] Torricelli's theorem with a measured coefficient, 0.60 to 0.61 for sharp edges.

    Examples
    --------
    >>> print(f"{orifice('0.5 m', '0.04 m^2', 0.60).to('L/s'):.1f~P}")
    75.2 L/s
    >>> print(f"{orifice('2 ft', '0.1 ft^2').to('gpm'):.0f~P}")
    311 gpm
    """
    require("orifice", "zero or more", area=area)
    require("orifice", "a share from 0 to 1", coefficient=coefficient)
    return coefficient * np.asarray(area) * np.sqrt(2 * GRAVITY * _wet(head))


@units("m", flow="m^3/s", area="m^2", coefficient="ratio")
def orifice_head(flow: Given, area: Given, coefficient: Given = 0.61) -> Number:
    r"""Head a submerged opening takes to pass a flow: the inverse of :func:`orifice`.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    area : Quantity or str [area]
    coefficient : float

    Returns
    -------
    Quantity [length]

    Raises
    ------
    HydrokitError
        A negative flow, an area or coefficient not above zero.

    References
    ----------
    .. [1] As :func:`orifice`.

    Examples
    --------
    >>> print(f"{orifice_head('75.2 L/s', '0.04 m^2', 0.60).to('m'):.3f~P}")
    0.501 m
    >>> print(f"{orifice_head('311 gpm', '0.1 ft^2').to('ft'):.2f~P}")
    2.01 ft
    """
    require("orifice_head", "above zero", area=area, coefficient=coefficient)
    require("orifice_head", "zero or more", flow=flow)
    return (np.asarray(flow) / (coefficient * np.asarray(area))) ** 2 / (2 * GRAVITY)


@units("m^3/s", head="head", length="m", coefficient="ratio")
def crest(head: Given, length: Given, coefficient: Given = 0.58) -> Number:
    r"""Flow over a crest: weir, dam, side spill, overflow edge of a standpipe.

    Parameters
    ----------
    head : Quantity or str [length]
        Water level over the crest, a few heads upstream of it, :math:`h`.
    length : Quantity or str [length]
        Of the crest, :math:`L`; for a standpipe its circumference.
    coefficient : float
        :math:`C`: 0.58 broad and square, 0.62 thin plate, 0.75 rounded; 0.49 the overflow edge of an
        upright drain pipe. A side spill, whose water runs past it, passes a tenth to a third
        less (common practice).

    Returns
    -------
    Quantity [length³/time]
        Zero at and below the crest.

    Raises
    ------
    HydrokitError
        A negative length, a coefficient outside 0 to 1.

    Notes
    -----
    .. math:: Q = \tfrac{2}{3} C \sqrt{2g}\, L\, h^{3/2}

    To measure a flow use the plate weirs of :mod:`hydrokit.stream.weirs`, which know their uncertainty.

    References
    ----------
    .. [1] Critical flow over a long crest gives C = 1/√3 = 0.577 [analytic]; overflow edge of a drain pipe:
       Q = 1.44 L h^1.5 in SI, HR Wallingford SR 463 and SR 473.

    Examples
    --------
    >>> print(f"{crest('0.10 m', '1.5 m').to('L/s'):.0f~P}")
    81 L/s
    >>> print(f"{crest('4 in', '5 ft').to('cfs'):.2f~P}")
    2.98 cfs
    """
    require("crest", "zero or more", length=length)
    require("crest", "a share from 0 to 1", coefficient=coefficient)
    return _crest_factor(length, coefficient) * _wet(head) ** 1.5


@units("m", flow="m^3/s", length="m", coefficient="ratio")
def crest_head(flow: Given, length: Given, coefficient: Given = 0.58) -> Number:
    r"""Depth of water over a crest at a flow: flood over the intake, spill over the pond's edge.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
    length : Quantity or str [length]
    coefficient : float
        As in :func:`crest`.

    Returns
    -------
    Quantity [length]
        Add a freeboard before anything is set beside it. What holds the flood back is a dam: its
        spillway needs a licensed engineer and often a permit.

    Raises
    ------
    HydrokitError
        A negative flow, a length or coefficient not above zero.

    References
    ----------
    .. [1] As :func:`crest`.

    Examples
    --------
    >>> print(f"{crest_head('3 m^3/s', '4 m'):.2f~P}")
    0.58 m
    >>> print(f"{crest_head('100 cfs', '13 ft').to('ft'):.2f~P}")
    1.83 ft
    """
    require("crest_head", "above zero", length=length, coefficient=coefficient)
    require("crest_head", "zero or more", flow=flow)
    return (np.asarray(flow) / _crest_factor(length, coefficient)) ** (2 / 3)


@units("m", flow="m^3/s", head="head", coefficient="ratio")
def crest_length(flow: Given, head: Given, coefficient: Given = 0.58) -> Number:
    r"""Length of crest that passes a flow at a depth: a spill, or the notch that leaves the creek its water.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        To be passed.
    head : Quantity or str [length]
        Over the crest when it must pass it. For the notch of the residual flow: from its sill up
        to the crest of the intake, so that the notch is served before the intake takes any.
    coefficient : float
        As in :func:`crest`; 0.62 for a notch cut in a thin plate.

    Returns
    -------
    Quantity [length]

    Raises
    ------
    HydrokitError
        A negative flow, a head or coefficient not above zero.

    References
    ----------
    .. [1] As :func:`crest`.

    Examples
    --------
    >>> print(f"{crest_length('8 L/s', '100 mm', 0.62).to('mm'):.0f~P}")
    138 mm
    >>> print(f"{crest_length('100 gpm', '4 in', 0.62).to('in'):.1f~P}")
    4.2 in
    """
    require("crest_length", "above zero", head=head, coefficient=coefficient)
    require("crest_length", "zero or more", flow=flow)
    return np.asarray(flow) / (_crest_factor(1.0, coefficient) * np.asarray(head) ** 1.5)


@units("m^3/s", depth="head", diameter="m", entrance="ratio")
def pipe_inlet(depth: Given, diameter: Given, entrance: Given = 0.5) -> Number:
    r"""Most that the inlet of a lying pipe takes from a pond, when the pipe behind it runs part full.

    Parameters
    ----------
    depth : Quantity or str [length]
        Pond level over the bottom of the inlet, :math:`d`.
    diameter : Quantity or str [length]
        Inside, :math:`D`.
    entrance : float
        Loss coefficient of the inlet, :math:`K`: 0.5 square, 0.8 sharp, 0.2 bellmouth.

    Returns
    -------
    Quantity [length³/time]
        What the inlet passes on its own. Once the pipe runs full the inlet no longer governs: the
        whole line does, and usually pulls far more.

    Raises
    ------
    HydrokitError
        A diameter not above zero, a negative entrance loss.

    Warns
    -----
    RangeWarning
        Pond between the crown and half a diameter above it: the inlet draws in air and the flow fluctuates.

    Notes
    -----
    The lesser of two: critical depth y in the inlet, :math:`d = y + (1+K) A/2T` with
    :math:`Q = A\sqrt{gA/T}`; and an orifice :math:`Q = C \pi D^2/4 \sqrt{2g(d - D/2)}` with
    :math:`C = 0.62/\sqrt{1 + 0.62^2 (K - 0.5)}`, that is 0.62 for a square inlet.

    References
    ----------
    .. [1] Critical flow in a circular section, as in K. Subramanya, *Flow in Open Channels*.

    Examples
    --------
    >>> print(f"{pipe_inlet('0.10 m', '0.15 m').to('L/s'):.1f~P}")
    4.9 L/s
    >>> print(f"{pipe_inlet('1 ft', '6 in').to('gpm'):.0f~P}")
    380 gpm
    """
    require("pipe_inlet", "above zero", diameter=diameter)
    require("pipe_inlet", "zero or more", entrance=entrance)
    depth, diameter = np.broadcast_arrays(_wet(depth), np.asarray(diameter, dtype=float))
    relative = depth / diameter

    def miss(filling: Number) -> float:
        area, width = segment(filling)
        return filling + (1 + entrance) * area / (2 * width) - relative

    filling = bracketed_root(miss, np.full(relative.shape, 1e-9), 1 - 1e-9, steps=40)
    area, width = segment(np.where(relative > 0, filling, 0.5))
    critical = area * np.sqrt(area / width) * np.sqrt(GRAVITY * diameter**5)
    critical = np.where(relative > 1e-8, critical, 0.0)
    coefficient = 0.62 / np.sqrt(1 + 0.62**2 * (entrance - 0.5))
    drowned = (
        coefficient
        * math.pi
        / 4
        * diameter**2
        * np.sqrt(2 * GRAVITY * np.maximum(depth - diameter / 2, 0))
    )
    return np.where(
        np.isnan(depth), np.nan, np.where(relative > 1, np.fmin(critical, drowned), critical)
    )[()]


@pipe_inlet.valid
def _(depth: Given, diameter: Given) -> Iterator[Outside]:
    relative = np.asarray(depth) / diameter
    yield (
        (relative > 1) & (relative < 1.5),
        "pond barely above the pipe inlet: it draws in air and the flow fluctuates",
    )


@units("m^3/s", head="head", diameter="m", fall="head", entrance="ratio", friction="ratio")
def standpipe(
    head: Given, diameter: Given, fall: Given, entrance: Given = 0.8, friction: Given = 0.0
) -> Number:
    r"""Overflow into an upright open pipe.

    Parameters
    ----------
    head : Quantity or str [length]
        Water over the overflow edge, :math:`h`.
    diameter : Quantity or str [length]
        Inside, :math:`D`.
    fall : Quantity or str [length]
        From the overflow edge down to the free end of the pipe, :math:`z`.
    entrance : float
        Loss coefficient of the overflow edge.
    friction : float
        :math:`fL/D` and the bends below.

    Returns
    -------
    Quantity [length³/time]
        The least of three: edge as a weir, edge as an orifice, pipe running full.

    Raises
    ------
    HydrokitError
        A diameter not above zero, a negative fall or loss.

    Notes
    -----
    .. math:: Q = \min\left(1.44\,\pi D h^{3/2},\; 0.69\,A\sqrt{2gh},\;
              A\sqrt{\frac{2g(h+z)}{1 + K + fL/D}}\right)

    Weir and orifice meet at h = 0.53 D. Leave room for branches: one leaf mat closes a small pipe.

    References
    ----------
    .. [1] HR Wallingford SR 463 and SR 473 (weir and orifice form of an upright drain).

    Examples
    --------
    >>> print(f"{standpipe('50 mm', '150 mm', '1.2 m').to('L/s'):.1f~P}")
    7.6 L/s
    >>> print(f"{standpipe('1 ft', '6 in', '4 ft').to('gpm'):.0f~P}")
    488 gpm
    """
    require("standpipe", "above zero", diameter=diameter)
    require("standpipe", "zero or more", fall=fall, entrance=entrance, friction=friction)
    head, area = _wet(head), math.pi / 4 * np.asarray(diameter) ** 2
    weir = 1.44 * math.pi * diameter * head**1.5
    hole = 0.69 * area * np.sqrt(2 * GRAVITY * head)
    full = area * np.sqrt(2 * GRAVITY * (head + fall) / (1 + entrance + friction))
    return np.minimum(np.minimum(weir, hole), full)


@units(
    "s", area="m^2", start="head", end="head", opening="m^2", coefficient="ratio", inflow="m^3/s"
)
def drain_time(
    area: Given,
    start: Given,
    end: Given,
    opening: Given,
    coefficient: Given = 0.61,
    inflow: Given = "0 L/s",
) -> Number:
    r"""Time in which a tank or forebay empties through an opening, as when it is drained to flush silt.

    Parameters
    ----------
    area : Quantity or str [area]
        Water surface, taken the same at all levels.
    start, end : Quantity or str [length]
        Levels over the opening before and after.
    opening : Quantity or str [area]
    coefficient : float
        As in :func:`orifice`.
    inflow : Quantity or str [length³/time]
        That goes on coming, :math:`Q`.

    Returns
    -------
    Quantity [time]
        Infinite where as much comes in as goes out before the end is reached.

    Raises
    ------
    HydrokitError
        A surface, opening or coefficient not above zero, an end above the start, a negative inflow.

    Notes
    -----
    .. math:: t = \frac{2 A}{k}\left(\sqrt{h_1} - \sqrt{h_2}
              + \frac{Q}{k} \ln\frac{k\sqrt{h_1} - Q}{k\sqrt{h_2} - Q}\right),
              \quad k = C a \sqrt{2g}

    References
    ----------
    .. [1] Torricelli's theorem, integrated.

    Examples
    --------
    >>> print(f"{drain_time('6 m^2', '1.2 m', '0.2 m', '0.0177 m^2').to('min'):.1f~P}")
    2.7 min
    >>> print(f"{drain_time('65 ft^2', '4 ft', '0.5 ft', '0.19 ft^2').to('min'):.1f~P}")
    3.0 min
    """
    require("drain_time", "above zero", area=area, opening=opening, coefficient=coefficient)
    require("drain_time", "zero or more", end=end, start_above_end=np.asarray(start) - end)
    require("drain_time", "zero or more", inflow=inflow)
    before, after = np.sqrt(np.asarray(start, dtype=float)), np.sqrt(np.asarray(end, dtype=float))
    outflow = coefficient * np.asarray(opening) * math.sqrt(2 * GRAVITY)  # under one metre
    spare = outflow * after - inflow
    with np.errstate(divide="ignore", invalid="ignore"):
        slowed = np.where(
            np.asarray(inflow) > 0,
            inflow / outflow * np.log((outflow * before - inflow) / spare),
            0.0,
        )
    never = (spare <= 0) & (np.asarray(inflow) > 0) & (before > after)
    return np.where(
        never,
        np.inf,
        2 * np.asarray(area) / outflow * (before - after + np.where(before == after, 0.0, slowed)),
    )[()]


def segment(filling: Number) -> tuple[Number, Number]:
    """Area and surface width of water in a circle of diameter 1 filled to a share of its height."""
    angle = 2 * np.arccos(1 - 2 * np.clip(filling, 0.0, 1.0))
    return (angle - np.sin(angle)) / 8, np.sin(angle / 2)


def _wet(head: Number) -> Number:
    """Head above the crest or opening; below it nothing flows. NaN stays NaN."""
    return np.maximum(np.asarray(head, dtype=float), 0.0)


def _crest_factor(length: float, coefficient: float) -> float:
    return 2 / 3 * np.asarray(coefficient) * math.sqrt(2 * GRAVITY) * np.asarray(length)
