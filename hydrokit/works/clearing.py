"""Does running water carry air down a pipe, and does its open end let air in: the published criteria."""

from __future__ import annotations

import math
from typing import Any, Iterator

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Given, Number, Outside, units
from ..water import GRAVITY
from .solve import bracketed_root, require

__all__ = [
    "CLEARING_RELATIONS",
    "cavity_limit",
    "clearing_band",
    "clearing_velocity",
    "froude",
    "outlet_depth",
    "outlet_event",
    "outlet_flows",
]

SMALL_BORE_M = 0.1  # below it surface tension counts and most of the laws were not tested
SELF_VENTING = 0.3  # V/√(gD): up to here a falling line lets its air escape upwards
FULL_SECTION = 2.544  # V/√(gD) from which the end section is wholly full: Q[gpm] = 10.2·d[in]^2.5
_GPM, _INCH = 3.785411784e-3 / 60, 0.0254


def _from_flow_number(number: Number) -> Number:
    """V/√(gD) of a criterion written as Q²/(gD⁵)."""
    return 4 / math.pi * np.sqrt(number)


# V/√(gD) that carries air down a slope, from its angle in radians. They disagree by up to six times
# on gentle slopes; four readings of one experiment alone (Kalinske and Bliss 1943) by four.
CLEARING_RELATIONS = {
    "Wisner 1975": lambda angle: 0.825 + 0.25 * np.sqrt(np.sin(angle)),
    "Escarameia 2007, small pockets": lambda angle: 0.45 + 0.56 * np.sqrt(np.sin(angle)),
    "Escarameia 2007, large pockets": lambda angle: 0.61 + 0.56 * np.sqrt(np.sin(angle)),
    "Kent 1952": lambda angle: 1.62 * np.sqrt(np.sin(angle)),
    "Kalinske and Bliss 1943": lambda angle: _from_flow_number(0.707 * np.tan(angle)),
    "Kalinske and Bliss, 0.81 S": lambda angle: 1.146 * np.sqrt(np.tan(angle)),
    "Kalinske and Bliss, 0.35 S + 0.18": lambda angle: _from_flow_number(
        0.35 * np.tan(angle) + 0.18
    ),
    "flow number equal to slope": lambda angle: _from_flow_number(np.tan(angle)),
    "power of the angle": lambda angle: 0.2148 * np.degrees(angle) ** 0.3716,
}


@units("m/s", diameter="m", angle="rad")
def clearing_velocity(diameter: Given, angle: Given, relation: str = "Wisner 1975") -> Number:
    r"""Mean speed at which one published relation says that air is carried down a sloping pipe.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.
    angle : Quantity or str [angle]
        Of the slope downwards, :math:`\theta`; its tangent is S.
    relation : str
        A key of ``CLEARING_RELATIONS``. One relation alone is no answer: see :func:`clearing_band`.

    Returns
    -------
    Quantity [speed]
        :math:`V_c`, in m/s.

    Raises
    ------
    HydrokitError
        An unknown relation, an angle outside 0 to 90 degrees.

    Warns
    -----
    RangeWarning
        Bore under 100 mm; slope over 30 degrees.

    Notes
    -----
    As :math:`V_c/\sqrt{gD}`: Wisner [1]_ :math:`0.825 + 0.25\sqrt{\sin\theta}`; Escarameia [2]_
    :math:`a + 0.56\sqrt{\sin\theta}`, a from 0.45 to 0.61 with the size of the pocket (the a from
    memory); Kent :math:`1.62\sqrt{\sin\theta}` (from memory); Kalinske and Bliss 1943, of which
    public sources print :math:`Q_c^2/(gD^5) = 0.707\,S` (from memory), :math:`0.81\,S` [3]_ and
    :math:`0.35\,S + 0.18` [3]_; :math:`Q_c^2/(gD^5) = S` [4]_; :math:`0.2148\,\theta^{0.3716}`,
    θ in degrees [5]_.

    References
    ----------
    .. [1] P. E. Wisner, F. N. Mohsen, N. Kouwen, J. Hydraul. Div. ASCE 101(HY2):243, 1975, as
       quoted from R. L. Sanks, *Pumping Station Design*.
    .. [2] M. Escarameia, Proc. ICE Water Management 160(1):25, 2007; form as quoted.
    .. [3] As carried by public code that cites A. A. Kalinske, P. H. Bliss 1943.
    .. [4] UNAM, Instituto de Ingeniería, design manual, eq. 3.6, as carried by public code.
    .. [5] *Surge Analysis and the Wave Plan Method*, appendix E, problem 2.

    Examples
    --------
    >>> print(f"{clearing_velocity('200 mm', '5 deg'):.2f~P}")
    1.26 m/s
    >>> print(f"{clearing_velocity('8 in', '5 deg', 'Kalinske and Bliss 1943').to('ft/s'):.2f~P}")
    1.47 ft/s
    """
    require("clearing_velocity", "above zero", diameter=diameter)
    if relation not in CLEARING_RELATIONS:
        raise HydrokitError(
            f"clearing_velocity(): relation '{relation}' is not one of {', '.join(CLEARING_RELATIONS)}"
        )
    return _relative(angle, relation) * np.sqrt(GRAVITY * np.asarray(diameter))


def _relative(angle: Number, relation: str) -> Number:
    angle = np.asarray(angle, dtype=float)
    if np.any((angle < 0) | (angle >= math.pi / 2)):
        raise HydrokitError(
            "clearing_velocity(): angle lies between 0 and 90 degrees, measured downwards from level"
        )
    return CLEARING_RELATIONS[relation](angle)


@units(("m/s", "m/s"), diameter="m", angle="rad")
def clearing_band(diameter: Given, angle: Given) -> tuple[Number, Number]:
    r"""Between which speeds the published relations place the clearing of air down a slope.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.
    angle : Quantity or str [angle]
        Of the slope downwards, :math:`\theta`.

    Returns
    -------
    low, high : Quantity [speed]
        Below `low` every relation says the air stays, above `high` every one says it goes; in
        between nobody knows.

    Raises
    ------
    HydrokitError
        A bore not above zero, an angle outside 0 to 90 degrees.

    Warns
    -----
    RangeWarning
        Bore under 100 mm; slope over 30 degrees.

    References
    ----------
    .. [1] As :func:`clearing_velocity`, all relations.

    Examples
    --------
    >>> print("{:.2f~P} to {:.2f~P}".format(*clearing_band('200 mm', '1 deg')))
    0.20 m/s to 1.20 m/s
    >>> print("{:.1f~P}".format(clearing_band('8 in', '10 deg')[1].to('ft/s')))
    4.3 ft/s
    """
    require("clearing_band", "above zero", diameter=diameter)
    scale = np.sqrt(GRAVITY * np.asarray(diameter))
    each = [_relative(angle, relation) * scale for relation in CLEARING_RELATIONS]
    return np.min(each, axis=0), np.max(each, axis=0)


for _function in (clearing_velocity, clearing_band):

    @_function.valid
    def _(diameter: Given, angle: Given) -> Iterator[Outside]:
        yield (
            np.asarray(diameter) < SMALL_BORE_M,
            Sentence(
                "bore under {small}: surface tension counts and most clearing laws were not tested",
                small=Amount(SMALL_BORE_M, "diameter"),
            ),
        )
        yield (
            np.asarray(angle) > math.radians(30),
            "slope over 30 degrees: beyond the tests of most clearing laws",
        )


@units("number", flow="m^3/s", diameter="m")
def froude(flow: Given, diameter: Given) -> Number:
    r"""Speed of a full pipe in units of :math:`\sqrt{gD}`.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        :math:`Q`.
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.

    Returns
    -------
    float or ndarray
        :math:`V/\sqrt{gD}`.

    Raises
    ------
    HydrokitError
        A bore not above zero.

    References
    ----------
    .. [1] Definition.

    Examples
    --------
    >>> round(froude("11.6 L/s", "150 mm"), 2)
    0.54
    >>> round(froude("184 gpm", "5.9 in"), 2)
    0.54
    """
    require("froude", "above zero", diameter=diameter)
    diameter = np.asarray(diameter)
    return flow / (math.pi / 4 * diameter**2 * np.sqrt(GRAVITY * diameter))


@units(("number", "number"))
def cavity_limit() -> tuple[Number, Number]:
    r"""Speed that just holds an air cavity still at the open end of a level pipe running full.

    Returns
    -------
    relative_speed, relative_depth : float
        :math:`V/\sqrt{gD} = 0.542` and the depth h/D of the water under the far end of the cavity.
        A faster pipe runs full to its end, in a slower one air creeps up along the crown.

    Notes
    -----
    A cavity of air at rest over flowing water, no losses. With depth h, area :math:`A_2` and centroid
    depth :math:`\bar y_2` behind it: energy along the free surface from the stagnation point at the crown
    :math:`u_2^2 = 2g(D-h)`, continuity :math:`V A = u_2 A_2`, momentum
    :math:`\tfrac12 V^2 A + g A D/2 = u_2^2 A_2 + g A_2 \bar y_2`.

    References
    ----------
    .. [1] T. B. Benjamin, "Gravity currents and related phenomena", J. Fluid Mech. 31:209-248, 1968,
       section 3 (circular pipe).

    Examples
    --------
    >>> "{:.4f} {:.4f}".format(*cavity_limit())
    '0.5421 0.5628'
    """

    def speed_squared(depth: Number) -> float:
        area, _ = _below(depth)
        return (area / (math.pi / 4)) ** 2 * 2 * (1 - depth)

    def unbalanced(depth: Number) -> float:
        area, moment = _below(depth)
        arriving = math.pi / 4 * (speed_squared(depth) / 2 + 0.5)
        return arriving - 2 * (1 - depth) * area - moment

    # Depth one, no cavity at all, balances too; the cavity's lies well below it.
    depth = bracketed_root(unbalanced, 0.3, 0.8, steps=40)
    return np.sqrt(speed_squared(depth)), depth


def _below(depth: Number) -> Any:
    """Area under a depth in a circle of diameter one, and its moment about the water surface."""
    half = np.arccos(1 - 2 * depth)  # half the angle of the wetted arc
    area = (half - np.sin(half) * np.cos(half)) / 4
    return area, (depth - 0.5) * area + np.sin(half) ** 3 / 12


@units(("m^3/s", "m^3/s", "m^3/s"), diameter="m")
def outlet_flows(diameter: Given) -> tuple[Number, Number, Number]:
    r"""Flows at which the open end of a level pipe changes what it does with air.

    Parameters
    ----------
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.

    Returns
    -------
    self_venting, cavity_held, end_full : Quantity [length³/time]
        Three different events, all sold as "runs full": up to the first, air just escapes up the
        line; from the second, air cannot creep in at the end; from the third, the end section
        itself is completely filled.

    Raises
    ------
    HydrokitError
        A bore not above zero.

    Notes
    -----
    :math:`V/\sqrt{gD}` = 0.3 [1]_, 0.542 [2]_ and 2.544 [3]_.

    References
    ----------
    .. [1] Criterion of Hills (1974) for self-venting lines, as quoted in a gravity-flow design sheet.
    .. [2] T. B. Benjamin 1968, see :func:`cavity_limit`.
    .. [3] Method of Durand in C. Branan, *Rules of Thumb for Chemical Engineers*, p. 5.

    Examples
    --------
    >>> print("{:.1f~P}, {:.1f~P}, {:.1f~P}".format(*(each.to('L/s') for each in outlet_flows('150 mm'))))
    6.4 L/s, 11.6 L/s, 54.5 L/s
    >>> print("{:.0f~P}".format(outlet_flows('4 in')[1].to('gpm')))
    70 gpm
    """
    require("outlet_flows", "above zero", diameter=diameter)
    diameter = np.asarray(diameter)
    scale = math.pi / 4 * np.sqrt(GRAVITY * diameter**5)
    return SELF_VENTING * scale, cavity_limit.si()[0] * scale, FULL_SECTION * scale


@units(None, flow="m^3/s", diameter="m")
def outlet_event(flow: Given, diameter: Given) -> np.ndarray:
    r"""What the freely discharging, level end of a pipe does with air, by name.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        :math:`Q`.
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.

    Returns
    -------
    str, or ndarray of str
        "air escapes upwards", "air can creep in", "air is kept out", "the end runs full".

    Raises
    ------
    HydrokitError
        A bore not above zero.

    References
    ----------
    .. [1] As :func:`outlet_flows`.

    Examples
    --------
    >>> str(outlet_event("8 L/s", "150 mm"))
    'air can creep in'
    >>> str(outlet_event("200 gpm", "4 in"))
    'air is kept out'
    """
    names = np.array(
        ["air escapes upwards", "air can creep in", "air is kept out", "the end runs full"]
    )
    limits = [SELF_VENTING, cavity_limit.si()[0], FULL_SECTION]
    return names[np.searchsorted(limits, froude.si(flow, diameter))]


@units("m", flow="m^3/s", diameter="m")
def outlet_depth(flow: Given, diameter: Given) -> Number:
    r"""Depth of water in the open, level end of a pipe.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        :math:`Q`.
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.

    Returns
    -------
    Quantity [length]
        At the brink: with a rule laid in the end of the pipe it gives a rough gauging.

    Raises
    ------
    HydrokitError
        A flow or bore not above zero.

    Warns
    -----
    RangeWarning
        Flow outside 1 to 10.2 gpm/in^2.5.

    Notes
    -----
    With :math:`x = \ln(Q/d^{2.5})`, gpm and inches:
    :math:`h/D = 0.446 + 0.272x + 0.0397x^2 - 0.0153x^3 - 0.003575x^4`, one from 10.2 on. A true
    end-depth gauging (ISO 4371:1984) asks for h/D from 0.095 to 0.5, h over 50 mm, a pipe over
    300 mm and slopes to 1 in 2,000.

    References
    ----------
    .. [1] Method of Durand in C. Branan, *Rules of Thumb for Chemical Engineers*, p. 5.

    Examples
    --------
    >>> print(f"{outlet_depth('16 L/s', '150 mm').to('mm'):.0f~P}")
    115 mm
    >>> print(f"{outlet_depth('96 gpm', '4 in').to('in'):.2f~P}")
    3.07 in
    """
    require("outlet_depth", "above zero", flow=flow, diameter=diameter)
    x = np.log(_durand_number(flow, diameter))
    share = 0.446 + x * (0.272 + x * (0.0397 + x * (-0.0153 - 0.003575 * x)))
    return np.clip(np.where(x > math.log(10.2), 1.0, share), 0.0, 1.0) * diameter


@outlet_depth.valid
def _(flow: Given, diameter: Given) -> Iterator[Outside]:
    number = _durand_number(flow, diameter)
    yield (
        (number < 1) | (number > 10.2),
        "flow outside 1 to 10.2 gpm/in^2.5: beyond the curve of the end depth",
    )


def _durand_number(flow: float, diameter: float) -> Number:
    return np.asarray(flow) / _GPM / (np.asarray(diameter) / _INCH) ** 2.5
