"""The earth electrode: how small it must be for the device that protects people."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..units import Given, units
from ..works.solve import require

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["largest_electrode"]


@units("ohm", residual_current="A", touch_limit="V")
def largest_electrode(residual_current: Given, touch_limit: Given = "50 V") -> Number:
    r"""Largest resistance of an earth electrode with which a residual-current device protects people.

    Parameters
    ----------
    residual_current : Quantity or str [current]
        Rated, of the device, :math:`I_{\Delta n}`.
    touch_limit : Quantity or str [voltage]
        On metal that can be touched, :math:`U_L`: 50 V in the dry, 25 V in the wet and for animals.

    Returns
    -------
    Quantity [resistance]

    Notes
    -----
    .. math:: R_A = U_L / I_{\Delta n}

    An electrode is far better than that in practice: a dry summer multiplies its resistance.

    References
    ----------
    .. [1] IEC 60364-4-41:2005, 411.5.3.

    Examples
    --------
    >>> print(f"{largest_electrode('30 mA'):.0f~P}")
    1667 ohm
    >>> print(f"{largest_electrode('300 mA', '25 V'):.1f~P}")
    83.3 ohm
    """
    require("largest_electrode", "above zero", residual_current=residual_current)
    return np.asarray(touch_limit) / residual_current
