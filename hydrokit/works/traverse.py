"""A walk with compass and tape: where its points lie, and how far it misses its beginning."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Given, units
from .solve import require

__all__ = ["Traverse", "traverse"]


@dataclass(frozen=True, eq=False)
class Traverse:
    """Points of a walk, the first at nought.

    Parameters
    ----------
    x_m, y_m : ndarray
        East and north of the beginning, one more than there are legs.
    """

    x_m: np.ndarray
    y_m: np.ndarray

    @property
    def length_m(self) -> float:
        """Of all legs together."""
        return float(np.hypot(np.diff(self.x_m), np.diff(self.y_m)).sum())

    @property
    def closure_m(self) -> float:
        """From the last point to the first: what a walk around misses."""
        return float(np.hypot(self.x_m[-1] - self.x_m[0], self.y_m[-1] - self.y_m[0]))


@units(None, bearing="rad", distance="m")
def traverse(bearing: Given, distance: Given) -> Traverse:
    r"""Where the points of a walk lie, from bearings and level distances.

    Parameters
    ----------
    bearing : Quantity, str or list of them [angle]
        Of each leg, clockwise from north, :math:`\beta`.
    distance : Quantity, str or list of them [length]
        Of each leg, level, :math:`s`.

    Returns
    -------
    Traverse

    Raises
    ------
    HydrokitError
        A distance below zero.

    Notes
    -----
    .. math:: x_n = \sum_{k \le n} s_k \sin\beta_k, \qquad y_n = \sum_{k \le n} s_k \cos\beta_k

    A compass is good to a degree or two, away from iron: 2 to 4 m in a hundred.

    References
    ----------
    .. [1] Latitudes and departures of a traverse, any textbook of surveying.

    Examples
    --------
    >>> walk = traverse(["0 deg", "90 deg", "233.13 deg"], ["30 m", "40 m", "50 m"])
    >>> f"{walk.closure_m:.2f} m in {walk.length_m:.0f} m"
    '0.00 m in 120 m'
    >>> walk = traverse(["45 deg"], ["100 ft"])
    >>> f"{walk.x_m[-1]:.1f} m east"
    '21.6 m east'
    """
    require("traverse", "zero or more", distance=distance)
    turned, legs = np.broadcast_arrays(
        np.atleast_1d(np.asarray(bearing, dtype=float)), np.asarray(distance, dtype=float)
    )
    return Traverse(
        np.concatenate([[0.0], np.cumsum(legs * np.sin(turned))]),
        np.concatenate([[0.0], np.cumsum(legs * np.cos(turned))]),
    )


traverse.measurement = ("bearing", "distance")  # the legs of one walk, not one walk each
