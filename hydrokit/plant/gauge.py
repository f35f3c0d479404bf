"""American wire gauge: diameter, section and circular mils of a gauge, by the law that defines it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..units import Q_, Given, Quantity, units

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["circular_mils", "gauge_diameter"]

_MIL = 0.0254e-3  # a thousandth of an inch, in m
_LARGEST = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3}


def gauge_diameter(gauge: str) -> Quantity:
    r"""Diameter of the solid wire of an American gauge.

    Parameters
    ----------
    gauge : str
        ``"6 AWG"``, ``"2/0 AWG"``: 40 to 4/0.

    Returns
    -------
    Quantity [length]
        In mm.

    Raises
    ------
    HydrokitError
        What is no such gauge.

    Notes
    -----
    .. math:: d = 0.005\,\mathrm{in} \cdot 92^{(36-n)/39}

    with :math:`n` = 0, -1, -2, -3 for 1/0 to 4/0. A stranded conductor of the gauge has the same
    section of metal and a larger diameter.

    References
    ----------
    .. [1] ASTM B258, standard nominal diameters and cross-sectional areas of AWG sizes.

    Examples
    --------
    >>> print(f"{gauge_diameter('6 AWG'):.3f~P}")
    4.115 mm
    >>> print(f"{gauge_diameter('4/0 AWG').to('inch'):.4f~P}")
    0.4600 in
    """
    number = str(gauge).upper().replace("AWG", "").replace("#", "").strip()
    size = _LARGEST.get(number, int(number) if number.isdecimal() else None)
    if size is None or not -3 <= size <= 40:
        raise HydrokitError(
            'gauge_diameter(): a gauge from "40 AWG" to "1 AWG" or "1/0 AWG" to "4/0 AWG" is '
            f"needed, got {gauge!r}."
        )
    return Q_(5 * 92 ** ((36 - size) / 39) * _MIL * 1e3, "mm")


@units("number", section="m^2")
def circular_mils(section: Given) -> Number:
    r"""Section of a conductor in circular mils, as the US trade counts it.

    Parameters
    ----------
    section : Quantity or str [area]
        Of the metal, :math:`A`.

    Returns
    -------
    float or array

    Notes
    -----
    A circular mil is the area of a circle of one thousandth of an inch: :math:`A/(\pi/4\,(25.4\,\mu m)^2)`.
    A thousand are a kcmil.

    References
    ----------
    .. [1] ASTM B258.

    Examples
    --------
    >>> print(f"{circular_mils('16 mm^2'):,.0f}")
    31,576
    >>> print(f"{circular_mils('1 in^2'):,.0f}")
    1,273,240
    """
    return np.asarray(section, dtype=float) / (np.pi / 4 * _MIL**2)
