"""What holds the pipe: thrust at bends, uplift, and the span between supports."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, units
from ..water import GRAVITY
from .solve import require

__all__ = [
    "bend_thrust",
    "pipe_span",
    "pipe_uplift",
    "pipe_weight",
    "ring_of_ice",
    "sag",
    "snow_on_pipe",
    "support_stress",
]

_WATER = 1000.0  # kg/m³: the usual round figure of structural loads, 0.03 % above water at 10 °C
_ICE = 917.0


@units("N", pressure="Pa", diameter="m", angle="rad", flow="m^3/s")
def bend_thrust(pressure: Given, diameter: Given, angle: Given, flow: Given = "0 L/s") -> Number:
    r"""Force that pushes a bend outwards, to be taken by a thrust block or restrained joints.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Highest gauge pressure in the bend, surge and test pressure included, :math:`p`.
    diameter : Quantity or str [length]
        Diameter on which the joint is free to move: outside diameter of a push-fit pipe, :math:`D`.
    angle : Quantity or str [angle]
        By which the line turns, :math:`\theta`; in the ground plan or upright alike.
    flow : Quantity or str [length³/time]
        Discharge, :math:`Q`; its share is small in penstocks.

    Returns
    -------
    Quantity [force]
        Along the line that halves the bend. A dead end takes :math:`pA` (60 degrees here).

    Raises
    ------
    HydrokitError
        A diameter not above zero.

    Notes
    -----
    .. math:: T = 2 \left(pA + \rho \frac{Q^2}{A}\right) \sin\frac{\theta}{2}

    A block that slides lets the joint open under pressure. Have it designed for the soil by a
    licensed engineer.

    References
    ----------
    .. [1] Momentum equation, as in any fluid mechanics text (Çengel and Cimbala, ch. 6).

    Examples
    --------
    >>> print(f"{bend_thrust('5 bar', '114.3 mm', '45 deg').to('kN'):.2f~P}")
    3.93 kN
    >>> print(f"{bend_thrust('72 psi', '4.5 in', '90 deg', '350 gpm').to('lbf'):.0f~P}")
    1635 lbf
    """
    require("bend_thrust", "above zero", diameter=diameter)
    area = math.pi / 4 * np.asarray(diameter) ** 2
    return (
        2
        * (pressure * area + _WATER * np.asarray(flow) ** 2 / area)
        * np.sin(np.asarray(angle) / 2)
    )


@units("N/m", outside_diameter="m", wall="m", density="kg/m^3", filled="ratio")
def pipe_weight(
    outside_diameter: Given, wall: Given, density: Given = "1400 kg/m^3", filled: Given = 1.0
) -> Number:
    r"""Weight of a metre of pipe with the water in it.

    Parameters
    ----------
    outside_diameter, wall : Quantity or str [length]
    density : Quantity or str [mass/length³]
        Of the wall: PVC 1400, polyethylene 955, steel 7850 kg/m³.
    filled : float
        Share of the bore that holds water.

    Returns
    -------
    Quantity [force/length]

    Raises
    ------
    HydrokitError
        A wall thicker than the radius, a share outside 0 to 1.

    References
    ----------
    .. [1] Geometry; densities of the table ``materials``.

    Examples
    --------
    >>> print(f"{pipe_weight('114.3 mm', '6.02 mm'):.1f~P}")
    108.7 N/m
    >>> print(f"{pipe_weight('4.5 in', '0.237 in', '7850 kg/m^3').to('lbf/ft'):.1f~P}")
    16.3 lbf/ft
    """
    wall_area, bore_area = _areas("pipe_weight", outside_diameter, wall)
    require("pipe_weight", "a share from 0 to 1", filled=filled)
    return GRAVITY * (density * wall_area + _WATER * filled * bore_area)


@units("N/m", outside_diameter="m", wall="m", density="kg/m^3", filled="ratio")
def pipe_uplift(
    outside_diameter: Given, wall: Given, density: Given = "1400 kg/m^3", filled: Given = 0.0
) -> Number:
    r"""Force per metre with which a pipe under water wants to rise; negative when it stays down.

    Parameters
    ----------
    outside_diameter, wall, density
        As in :func:`pipe_weight`.
    filled : float
        Share of the bore that holds water; the rest is air. Empty is the worst case: in a pond, a
        flooded trench, wet ground.

    Returns
    -------
    Quantity [force/length]
        Times the spacing, with a margin of 50 % (common practice), the weight or strap at each tie.

    Raises
    ------
    HydrokitError
        A wall thicker than the radius, a share outside 0 to 1.

    References
    ----------
    .. [1] Archimedes' principle.

    Examples
    --------
    >>> print(f"{pipe_uplift('114.3 mm', '6.02 mm'):.0f~P}")
    73 N/m
    >>> print(f"{pipe_uplift('4.5 in', '0.237 in', filled=1.0).to('lbf/ft'):.1f~P}")
    -0.6 lbf/ft
    """
    lifted = GRAVITY * _WATER * math.pi / 4 * np.asarray(outside_diameter) ** 2
    return lifted - pipe_weight.si(outside_diameter, wall, density, filled)


@units("N/m", outside_diameter="m", thickness="m")
def ring_of_ice(outside_diameter: Given, thickness: Given) -> Number:
    """Weight of ice grown all round a pipe, per metre.

    Parameters
    ----------
    outside_diameter, thickness : Quantity or str [length]
        Of the pipe, and of the ice outward from it.

    Returns
    -------
    Quantity [force/length]

    References
    ----------
    .. [1] Geometry, with ice of 917 kg/m³.

    Examples
    --------
    >>> print(f"{ring_of_ice('114.3 mm', '20 mm'):.1f~P}")
    75.9 N/m
    >>> print(f"{ring_of_ice('4.5 in', '1 in').to('lbf/ft'):.1f~P}")
    6.9 lbf/ft
    """
    inner = np.asarray(outside_diameter)
    return GRAVITY * _ICE * math.pi / 4 * ((inner + 2 * np.asarray(thickness)) ** 2 - inner**2)


@units("N/m", outside_diameter="m", depth="m", density="kg/m^3")
def snow_on_pipe(outside_diameter: Given, depth: Given, density: Given = "350 kg/m^3") -> Number:
    """Weight of the snow standing on a pipe bridge, per metre.

    Parameters
    ----------
    outside_diameter : Quantity or str [length]
        Width that carries snow; more where it bridges to rails or a deck.
    depth : Quantity or str [length]
        Of the snow on top.
    density : Quantity or str [mass/length³]
        Settled snow 200 to 400 kg/m³ (common practice).

    Returns
    -------
    Quantity [force/length]

    References
    ----------
    .. [1] Weight of a column as wide as the pipe.

    Examples
    --------
    >>> print(f"{snow_on_pipe('114.3 mm', '0.5 m'):.0f~P}")
    196 N/m
    >>> print(f"{snow_on_pipe('4.5 in', '2 ft').to('lbf/ft'):.0f~P}")
    16 lbf/ft
    """
    return GRAVITY * np.asarray(density) * outside_diameter * depth


@units("m", load="N/m", span="m", outside_diameter="m", wall="m", modulus="Pa")
def sag(
    load: Given,
    span: Given,
    outside_diameter: Given,
    wall: Given,
    modulus: Given,
    ends: str = "simple",
) -> Number:
    r"""Sag of a pipe in the middle between two supports.

    Parameters
    ----------
    load : Quantity or str [force/length]
        Pipe, water, ice and snow together, :math:`w`.
    span : Quantity or str [length]
        Between supports, :math:`L`.
    outside_diameter, wall : Quantity or str [length]
    modulus : Quantity or str [pressure]
        Elastic modulus :math:`E`: the long-term one for plastic pipe that stays.
    ends : {"simple", "continuous"}
        One span on two supports, or the inner span of many.

    Returns
    -------
    Quantity [length]

    Raises
    ------
    HydrokitError
        A wall thicker than the radius; other ends.

    Notes
    -----
    :math:`5wL^4/384EI` on two supports, :math:`wL^4/384EI` held at both ends.

    References
    ----------
    .. [1] Beam formulas of any strength-of-materials text.

    Examples
    --------
    >>> print(f"{sag('108.7 N/m', '2.286 m', '114.3 mm', '6.02 mm', '2.76 GPa').to('mm'):.2f~P}")
    4.65 mm
    >>> print(f"{sag('16.3 lbf/ft', '20 ft', '4.5 in', '0.237 in', '30000000 psi').to('in'):.2f~P}")
    0.27 in
    """
    share = {"simple": 5 / 384, "continuous": 1 / 384}.get(ends)
    if share is None:
        raise HydrokitError(f'sag(): ends is "simple" or "continuous", not {ends!r}')
    return (
        share * load * np.asarray(span) ** 4 / (modulus * _stiffness("sag", outside_diameter, wall))
    )


@units("Pa", load="N/m", span="m", outside_diameter="m", wall="m")
def support_stress(load: Given, span: Given, outside_diameter: Given, wall: Given) -> Number:
    r"""Bending stress in the wall of a pipe on two supports.

    Parameters
    ----------
    load : Quantity or str [force/length]
        All that the pipe carries, itself included, :math:`w`.
    span : Quantity or str [length]
        Between supports, :math:`L`.
    outside_diameter, wall : Quantity or str [length]

    Returns
    -------
    Quantity [pressure]
        :math:`(wL^2/8)(D/2)/I`, beside the stress from the water's pressure.

    Raises
    ------
    HydrokitError
        A wall thicker than the radius.

    References
    ----------
    .. [1] Beam formulas of any strength-of-materials text.

    Examples
    --------
    >>> print(f"{support_stress('108.7 N/m', '2.286 m', '114.3 mm', '6.02 mm').to('MPa'):.2f~P}")
    1.35 MPa
    >>> print(f"{support_stress('16.3 lbf/ft', '20 ft', '4.5 in', '0.237 in').to('psi'):.0f~P}")
    3042 psi
    """
    moment = np.asarray(load) * np.asarray(span) ** 2 / 8
    return (
        moment
        * np.asarray(outside_diameter)
        / 2
        / _stiffness("support_stress", outside_diameter, wall)
    )


@units(
    "m", load="N/m", outside_diameter="m", wall="m", modulus="Pa", stress="Pa", sag_share="ratio"
)
def pipe_span(
    load: Given,
    outside_diameter: Given,
    wall: Given,
    modulus: Given,
    stress: Given,
    sag_share: Given = "0.2 %",
) -> Number:
    r"""Longest span between supports, held by sag or by stress, whichever is less.

    Parameters
    ----------
    load : Quantity or str [force/length]
        All that the pipe carries, itself included; full of water, with the winter's snow and ice.
    outside_diameter, wall : Quantity or str [length]
    modulus : Quantity or str [pressure]
        Elastic modulus at the pipe's warmest.
    stress : Quantity or str [pressure]
        Allowed in bending, what the water pressure takes already off.
    sag_share : float
        Sag allowed as a share of the span.

    Returns
    -------
    Quantity [length]
        On two supports. A bridge people walk under or on needs a licensed engineer.

    Raises
    ------
    HydrokitError
        A load, modulus or stress not above zero.

    Notes
    -----
    Published spacings of PVC pipe (table ``pvc_support_spacing``), which go first, correspond to
    sags of 0.32 % of the span in 2 in pipe, 0.20 % in 4 in, less in larger, with the short-term
    modulus.

    References
    ----------
    .. [1] Beam formulas of any strength-of-materials text.

    Examples
    --------
    >>> print(f"{pipe_span('108.7 N/m', '114.3 mm', '6.02 mm', '2.76 GPa', '5 MPa'):.2f~P}")
    2.27 m
    >>> print(f"{pipe_span('16.3 lbf/ft', '4.5 in', '0.237 in', '30000000 psi', '10000 psi').to('ft'):.0f~P}")
    24 ft
    """
    require(
        "pipe_span", "above zero", load=load, modulus=modulus, stress=stress, sag_share=sag_share
    )
    stiffness = _stiffness("pipe_span", outside_diameter, wall)
    by_sag = np.cbrt(384 * sag_share * modulus * stiffness / (5 * np.asarray(load)))
    by_stress = np.sqrt(16 * stress * stiffness / (np.asarray(load) * outside_diameter))
    return np.minimum(by_sag, by_stress)


def _areas(function: str, outside_diameter: float, wall: float) -> Any:
    inside = np.asarray(outside_diameter, dtype=float) - 2 * np.asarray(wall)
    require(function, "above zero", wall=wall, bore_that_the_wall_leaves=inside)
    bore_area = math.pi / 4 * inside**2
    return math.pi / 4 * np.asarray(outside_diameter) ** 2 - bore_area, bore_area


def _stiffness(function: str, outside_diameter: Number, wall: Number) -> Number:
    """Second moment of area of the ring, m⁴."""
    inside = np.asarray(outside_diameter, dtype=float) - 2 * np.asarray(wall)
    require(function, "above zero", wall=wall, bore_that_the_wall_leaves=inside)
    return math.pi / 64 * (np.asarray(outside_diameter) ** 4 - inside**4)
