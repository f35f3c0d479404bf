"""Head loss by the rule of Hazen and Williams, which old tables use."""

from __future__ import annotations

import math
from typing import Iterator

import numpy as np

from ..sentences import Amount, Sentence
from ..units import Given, Number, Outside, units
from .solve import require

__all__ = ["hazen_williams"]


@units("m", flow="m^3/s", diameter="m", length="m", coefficient="ratio")
def hazen_williams(flow: Given, diameter: Given, length: Given, coefficient: Given) -> Number:
    r"""Head lost in a full pipe by the Hazen-Williams rule, for comparison.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Discharge, :math:`Q`.
    diameter : Quantity or str [length]
        Inside diameter, :math:`D`.
    length : Quantity or str [length]
        Length along the slope, :math:`L`.
    coefficient : float
        :math:`C`: 150 smooth plastic, 100 old iron.

    Returns
    -------
    Quantity [length]
        Head loss, in m.

    Raises
    ------
    HydrokitError
        A bore or coefficient not above zero, a negative length.

    Warns
    -----
    RangeWarning
        C outside 40 to 160, bore under 50 mm, speed above 3 m/s: outside the rule's data.

    Notes
    -----
    .. math:: h = 10.67\,\frac{L\,Q^{1.852}}{C^{1.852} D^{4.8704}}

    An empirical rule for cool water in rough turbulent-transition flow; :func:`pipe_loss` holds
    for any size and speed and is what the rest of hydrokit uses.

    References
    ----------
    .. [1] G. S. Williams, A. Hazen, *Hydraulic Tables*, 3rd ed., Wiley, 1920; SI constants as in
       the open network-solver literature (exponent 1.852, factor 10.67, bore exponent 4.871).

    Examples
    --------
    >>> print(f"{hazen_williams('22 L/s', '102 mm', '350 m', 150):.1f~P}")
    20.0 m
    >>> print(f"{hazen_williams('350 gpm', '3.998 in', '1150 ft', 150).to('ft'):.0f~P}")
    68 ft
    """
    require("hazen_williams", "above zero", diameter=diameter, coefficient=coefficient)
    require("hazen_williams", "zero or more", length=length)
    flow = np.asarray(flow, dtype=float)
    return np.sign(flow) * 10.67 * length * (np.abs(flow) / coefficient) ** 1.852 / diameter**4.8704


@hazen_williams.valid
def _(flow: Given, diameter: Given, coefficient: Given) -> Iterator[Outside]:
    c, speed = np.asarray(coefficient), np.abs(flow) / (math.pi / 4 * np.asarray(diameter) ** 2)
    yield (c < 40) | (c > 160), "Hazen-Williams coefficient outside 40 to 160"
    yield (
        np.asarray(diameter) < 0.05,
        Sentence(
            "bore under {least}: outside the data of the Hazen-Williams rule",
            least=Amount(0.05, "diameter", 2),
        ),
    )
    yield (
        speed > 3.0,
        Sentence(
            "speed above {most}: outside the data of the Hazen-Williams rule",
            most=Amount(3.0, "velocity"),
        ),
    )
