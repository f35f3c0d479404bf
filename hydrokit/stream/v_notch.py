"""Flow over a sharp-crested V-notch."""

from __future__ import annotations

from typing import TYPE_CHECKING, Iterator

import numpy as np

from ..sentences import Sentence
from ..units import Given, Number, Outside, units
from ..water import GRAVITY
from .weirs import FOOT, LEAST_HEAD_M, flow_over, shown, wet_head

if TYPE_CHECKING:
    from ..units import Alike

__all__ = ["v_notch", "v_notch_coefficients"]


@units(("number", "m"), angle="rad")
def v_notch_coefficients(angle: Given) -> Alike:
    r"""Coefficient and head correction of a fully contracted V-notch.

    Parameters
    ----------
    angle : Quantity or str [angle]
        Opening angle, :math:`\theta`. Scalar or array.

    Returns
    -------
    tuple of (float, Quantity [length])
        :math:`C_e` and :math:`k_h`.

    Warns
    -----
    RangeWarning
        An angle outside 20° to 100°.

    Notes
    -----
    Polynomials through the published curves, θ in degrees, :math:`k_h` in feet:
    :math:`C_e = 0.607165052 - 8.74466963\cdot10^{-4}\theta + 6.10393334\cdot10^{-6}\theta^2`,
    :math:`k_h = 0.0144902648 - 3.3955535\cdot10^{-4}\theta + 3.29819003\cdot10^{-6}\theta^2
    - 1.06215442\cdot10^{-8}\theta^3`.

    References
    ----------
    .. [1] G. Kulin, P. R. Compton, A Guide to Methods and Standards for the Measurement of Water
       Flow, NBS Special Publication 421, 1975: the curves; the polynomials as reproduced in
       several open computations.

    Examples
    --------
    >>> coefficient, correction = v_notch_coefficients("90 deg")
    >>> print(f"{coefficient:.3f}, {correction.to('mm'):.2f~P}")
    0.578, 0.88 mm
    >>> print(f"{v_notch_coefficients('60 deg')[1].to('ft'):.4f~P}")
    0.0037 ft
    """
    degrees = np.degrees(angle)
    coefficient = np.polynomial.polynomial.polyval(
        degrees, (0.607165052, -0.000874466963, 6.10393334e-6)
    )
    correction = np.polynomial.polynomial.polyval(
        degrees, (0.0144902648, -0.00033955535, 3.29819003e-6, -1.06215442e-8)
    )
    return coefficient, correction * FOOT


@v_notch_coefficients.valid
def _(angle: Given) -> Iterator[Outside]:
    degrees = np.degrees(angle)
    yield (degrees < 19.999) | (degrees > 100.001), "the curves run from 20° to 100°"


@units("m^3/s", head="head", angle="rad", crest_height="m", channel_width="m", notch_depth="m")
def v_notch(
    head: Given,
    angle: Given = "90 deg",
    crest_height: Given = None,
    channel_width: Given = None,
    notch_depth: Given = None,
) -> Number:
    r"""Flow over a thin-plate V-notch, fully contracted (Kindsvater-Shen).

    Parameters
    ----------
    head : Quantity or str [length]
        Still-water level above the point of the notch, :math:`h`, read upstream at a distance of
        three to four heads. Scalar or array.
    angle : Quantity or str [angle]
        Opening angle, :math:`\theta`.
    crest_height : Quantity or str [length], optional
        Point of the notch above the pool's floor, :math:`p`; only to check the contraction.
    channel_width : Quantity or str [length], optional
        Width of the approach, :math:`B`; only to check the contraction.
    notch_depth : Quantity or str [length], optional
        Height of the plate above the point; only to check the head.

    Returns
    -------
    Quantity [length³/time]
        Flow; zero at and below the point.

    Warns
    -----
    RangeWarning
        Head below 50 mm (the water clings to the plate) or above 0.38 m, head above the notch,
        angle outside 20° to 100° (25° to 100° in [1]_), h/p above 0.4, h/B above 0.2.

    Notes
    -----
    .. math:: Q = \tfrac{8}{15} C_e \sqrt{2g}\,\tan\tfrac{\theta}{2}\,(h + k_h)^{5/2}

    The water below must stay at least 60 mm under the point.

    References
    ----------
    .. [1] USBR, Water Measurement Manual, 3rd ed., 2001, ch. 7, sec. 7, eq. 7-3.
    .. [2] ISO 1438:2017, Hydrometry: open channel flow measurement using thin-plate weirs, 20° to 100°.
    .. [3] Limits of head and contraction from memory of [1]_.

    Examples
    --------
    >>> print(f"{v_notch('100 mm').to('L/s'):.2f~P}")
    4.41 L/s
    >>> print(f"{v_notch('0.5 ft', '60 deg').to('cfs'):.3f~P}")
    0.256 cfs
    """
    coefficient, correction = v_notch_coefficients.si(angle)
    flow = (
        8
        / 15
        * coefficient
        * np.sqrt(2 * GRAVITY)
        * np.tan(np.asarray(angle) / 2)
        * (wet_head(head) + correction) ** 2.5
    )
    return flow_over(head, flow)


@v_notch.valid
def _(
    head: Given, angle: Given, crest_height: Given, channel_width: Given, notch_depth: Given
) -> Iterator[Outside]:
    head, degrees = np.asarray(head), np.degrees(angle)
    yield (
        (head > 0) & (head < LEAST_HEAD_M),
        Sentence("head below {least}: the water clings to the plate", least=shown(LEAST_HEAD_M)),
    )
    yield (
        head > 0.381,
        Sentence("head above {most}, where the coefficient was not measured", most=shown(0.381)),
    )
    yield (degrees < 19.999) | (degrees > 100.001), "angle outside 20° to 100°"
    if notch_depth is not None:
        yield (
            head > notch_depth,
            "head above the top of the notch: water passes beside it; read it as a flood",
        )
    if crest_height is not None:
        yield (
            head / crest_height > 0.4,
            "head above 0.4 of the height of the notch over the floor: not fully contracted",
        )
    if channel_width is not None:
        yield (
            head / channel_width > 0.2,
            "head above 0.2 of the approach width: not fully contracted",
        )
