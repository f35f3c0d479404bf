"""A cross-section of the creek from a tape and a rod: its area and how much of it is wetted."""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, units

__all__ = ["cross_section"]


@units(("m^2", "m"), across="m", depth="m")
def cross_section(across: Given, depth: Given) -> tuple[Number, Number]:
    r"""Area and wetted perimeter of a cross-section, straight between the points measured.

    Parameters
    ----------
    across : array Quantity or list [length]
        Place of each point along the tape, :math:`x`, from edge to edge.
    depth : array Quantity or list [length]
        Depth of the bed there below the water or below the flood mark, :math:`d`.

    Returns
    -------
    tuple of Quantity [length²], Quantity [length]
        Area, :math:`A`, and wetted perimeter, :math:`P`; an edge that falls steeply counts as wetted.

    Raises
    ------
    HydrokitError
        Fewer than three points, points that do not run one way, depths below zero or all zero.

    Notes
    -----
    .. math:: A = \sum \tfrac12(d_i+d_{i+1})(x_{i+1}-x_i), \quad
              P = d_1 + d_n + \sum\sqrt{(x_{i+1}-x_i)^2+(d_{i+1}-d_i)^2}

    References
    ----------
    .. [1] T. Dalrymple, M. A. Benson, Measurement of Peak Discharge by the Slope-Area Method, USGS
       Techniques of Water-Resources Investigations 3-A2, 1967.

    Examples
    --------
    >>> area, perimeter = cross_section(["0 m", "3 m", "6 m"], ["0 m", "4 m", "0 m"])
    >>> print(f"{area:.0f~P}, {perimeter:.0f~P}")
    12 m², 10 m
    >>> area, _ = cross_section(["0 ft", "2 ft", "4 ft"], ["1 ft", "1 ft", "1 ft"])
    >>> print(f"{area.to('ft^2'):.1f~P}")
    4.0 ft²
    """
    across, depth = (
        np.atleast_1d(np.asarray(across, dtype=float)),
        np.atleast_1d(np.asarray(depth, dtype=float)),
    )
    if len(across) != len(depth) or len(across) < 3:
        raise HydrokitError(
            "cross_section(): needs a depth at each of at least three points, edges included; "
            f"got {len(across)} and {len(depth)}"
        )
    if across[-1] < across[0]:
        across, depth = across[::-1], depth[::-1]
    steps = np.diff(across)
    if not np.all(steps > 0):
        raise HydrokitError(
            "cross_section(): the points must run one way across the creek, none twice; give "
            "only the depth at its foot for an upright bank"
        )
    if not np.all(depth >= 0) or not np.any(depth > 0):
        raise HydrokitError(
            "cross_section(): depths must not be negative, and some must be above zero"
        )
    area = np.sum((depth[1:] + depth[:-1]) / 2 * steps)
    perimeter = depth[0] + depth[-1] + np.sum(np.hypot(steps, np.diff(depth)))
    return area, perimeter


cross_section.measurement = ("across", "depth")
