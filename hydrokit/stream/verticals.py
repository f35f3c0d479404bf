"""Current meter: flow from depths and velocities in verticals across the creek."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError
from ..sentences import Amount, Sentence
from ..units import Given, Number, units
from .gauging import Gauging, findings_from

__all__ = ["interpolated_variance", "velocity_area", "vertical_velocity"]

WADING_LIMIT_M2S = 0.9  # depth times velocity, common practice (10 ft²/s)

# ISO 748:2007, standard uncertainties in per cent: number of verticals (table D.6), points in
# each vertical. Three points are not in the table as read; they are interpolated.
_VERTICALS = ((5, 10, 15, 20, 25, 30, 35), (7.5, 4.5, 3.0, 2.5, 2.0, 1.5, 1.0))
_POINTS = ((1, 2, 5, 10), (7.5, 3.5, 2.5, 0.5))
_WIDTH, _DEPTH, _SHALLOW, _SHALLOW_DEPTH_M = 0.005, 0.005, 0.015, 0.3

# Weights of the velocities in one vertical, from the surface down.
_WEIGHTS = {
    1: (1.0,),  # at 0.6 of the depth
    2: (0.5, 0.5),  # 0.2 and 0.8
    3: (0.25, 0.5, 0.25),  # 0.2, 0.6 and 0.8
    5: (0.1, 0.3, 0.3, 0.2, 0.1),  # surface, 0.2, 0.6, 0.8 and bed
}


@units("m/s", velocity="m/s")
def vertical_velocity(velocity: Given, points: int = 1) -> Number:
    r"""Mean velocity of verticals from the points measured in each.

    Parameters
    ----------
    velocity : Quantity or list [length/time]
        From the surface down, along the last axis: one point at 0.6 of the depth; two at 0.2 and
        0.8; three at 0.2, 0.6 and 0.8; five at the surface, 0.2, 0.6, 0.8 and the bed.
    points : {1, 2, 3, 5}
        How many.

    Returns
    -------
    Quantity [length/time]
        One mean for each vertical; with one point the velocities as they are.

    Raises
    ------
    HydrokitError
        Another number of points than said.

    Notes
    -----
    .. math::
       \bar v_2 = \tfrac12(v_{.2}+v_{.8}),\;
       \bar v_3 = \tfrac14(v_{.2}+2v_{.6}+v_{.8}),\;
       \bar v_5 = \tfrac1{10}(v_s+3v_{.2}+3v_{.6}+2v_{.8}+v_b)

    References
    ----------
    .. [1] ISO 748:2007, Measurement of liquid flow in open channels using current-meters or
       floats, reduced-point methods.

    Examples
    --------
    >>> print(f"{vertical_velocity(['0.50 m/s', '0.30 m/s'], points=2):.2f~P}")
    0.40 m/s
    >>> print(f"{vertical_velocity(['1.5 ft/s', '1.2 ft/s', '0.9 ft/s'], points=3).to('ft/s'):.2f~P}")
    1.20 ft/s
    """
    if points not in _WEIGHTS:
        raise HydrokitError(f"vertical_velocity(): points must be 1, 2, 3 or 5, got {points!r}")
    velocity = np.asarray(velocity, dtype=float)
    if points == 1:
        return velocity
    if velocity.ndim == 0 or velocity.shape[-1] != points:
        raise HydrokitError(
            f"vertical_velocity(): needs {points} velocities in each vertical, from the surface down; "
            f"got an array of shape {velocity.shape}"
        )
    return velocity @ np.array(_WEIGHTS[points])


vertical_velocity.measurement = ("velocity",)


@units(
    None,
    distance="m",
    depth="m",
    velocity="m/s",
    points="count",
    systematic="ratio",
    velocity_uncertainty="ratio",
)
def velocity_area(
    distance: Given,
    depth: Given,
    velocity: Given,
    method: str = "mid-section",
    points: Given = 1,
    uncertainty_method: str = "ISO 748",
    systematic: Given = "1.4142 %",
    velocity_uncertainty: Given = "3 %",
) -> Gauging:
    r"""Flow from depth and mean velocity in verticals across the creek.

    Parameters
    ----------
    distance : array Quantity or list [length]
        Place of each vertical along the tape, :math:`x`, both water's edges included.
    depth : array Quantity or list [length]
        Depth, :math:`d`; zero at a shelving edge.
    velocity : array Quantity or list [length/time]
        Mean velocity, :math:`v` (see :func:`vertical_velocity`). May be missing (NaN) only where
        the depth is zero.
    method : {"mid-section", "mean-section"}
        How the panels are cut.
    points : count
        Points measured in each vertical.
    uncertainty_method : {"ISO 748", "interpolated variance"}
        ISO 748 reads the effect of verticals and points from tables; the interpolated variance
        reads it from the measurement itself.
    systematic : ratio
        Instrument and other systematic parts together; 1 % each by default.
    velocity_uncertainty : ratio
        Meter rating and pulsation at one point, random (used by ISO 748 only).

    Returns
    -------
    Gauging
        ``details`` has ``area_m2``, ``width_m``, ``panel_m3s`` and, for the interpolated variance,
        the standard deviations it found.

    Raises
    ------
    HydrokitError
        A vertical with depth but no velocity, a repeated distance, arrays of unequal length.

    Notes
    -----
    Mid-section: :math:`q_i = v_i d_i (x_{i+1}-x_{i-1})/2`, half a width at the ends. Mean-section:
    :math:`q_i = \tfrac14(v_i+v_{i+1})(d_i+d_{i+1})(x_{i+1}-x_i)`.

    ISO 748: :math:`u^2 = u_m^2 + u_s^2 + \sum q_i^2(u_b^2+u_d^2+u_p^2+u_c^2/n)/Q^2`. Under five verticals
    :math:`u_m` is taken to grow as one over their number.

    References
    ----------
    .. [1] USBR, Water Measurement Manual, 3rd ed., 2001, ch. 10, sec. 15, midsection method.
    .. [2] ISO 748:2007, annexes D and E.
    .. [3] T. A. Cohn, J. E. Kiang, R. R. Mason, "Estimating discharge measurement uncertainty using
       the interpolated variance estimator", J. Hydraul. Eng. 139(5):502-510, 2013, eqs 14 and 17.

    Examples
    --------
    >>> g = velocity_area(["0 m", "0.5 m", "1 m", "1.5 m"], ["0 m", "0.2 m", "0.3 m", "0 m"],
    ...                   ["0 m/s", "0.3 m/s", "0.4 m/s", "0 m/s"])
    >>> print(f"{g.flow.to('L/s'):.1f~P}")
    90.0 L/s
    >>> g = velocity_area(["0 ft", "2 ft", "4 ft"], ["0 ft", "1 ft", "0 ft"], ["0 ft/s", "1.5 ft/s", "0 ft/s"])
    >>> print(f"{g.flow.to('cfs'):.2f~P}")
    3.00 cfs
    """
    distance, depth, velocity = _checked(distance, depth, velocity)
    areas = depth * np.gradient(distance) * np.r_[0.5, np.ones(len(distance) - 2), 0.5]
    # The uncertainty is of the measurement, not of how panels are cut, so both cuts share it.
    panels = velocity * areas
    weights = panels / panels.sum() if panels.sum() > 0 else panels
    if method == "mean-section":
        areas = (depth[1:] + depth[:-1]) / 2 * np.diff(distance)
        panels = (velocity[1:] + velocity[:-1]) / 2 * areas
    elif method != "mid-section":
        raise HydrokitError(
            f'velocity_area(): method must be "mid-section" or "mean-section", got {method!r}'
        )
    flow = panels.sum()
    if not flow > 0:
        raise HydrokitError(
            "velocity_area(): the panels add up to no flow; check depths and velocities"
        )
    wet = int(np.sum(depth[1:-1] > 0))
    details = {
        "area_m2": float(areas.sum()),
        "width_m": float(np.ptp(distance)),
        "panel_m3s": panels,
        "panel_m2": areas,
    }
    if uncertainty_method == "ISO 748":
        parts = _iso748(depth, weights, wet, points, velocity_uncertainty)
    elif uncertainty_method == "interpolated variance":
        parts, found = interpolated_variance(distance, depth, velocity, weights)
        details |= found
    else:
        raise HydrokitError(
            'velocity_area(): uncertainty_method must be "ISO 748" or "interpolated '
            f'variance", got {uncertainty_method!r}'
        )
    parts["systematic"] = systematic
    findings = _findings(depth, velocity, panels / flow, wet)
    return Gauging.from_parts(flow, parts, "current meter", findings, details)


velocity_area.measurement = ("distance", "depth", "velocity")


def _checked(distance: np.ndarray, depth: np.ndarray, velocity: np.ndarray) -> Any:
    distance, depth, velocity = (
        np.atleast_1d(np.asarray(each, dtype=float)) for each in (distance, depth, velocity)
    )
    if not len(distance) == len(depth) == len(velocity) or len(distance) < 3:
        raise HydrokitError(
            "velocity_area(): needs distance, depth and velocity for the same verticals, edges included, at "
            f"least three; got {len(distance)}, {len(depth)} and {len(velocity)}"
        )
    if np.any(np.isnan(distance)) or np.any(np.isnan(depth)):
        raise HydrokitError(
            "velocity_area(): every vertical needs a distance and a depth; leave out the line without"
        )
    if distance[-1] < distance[0]:
        distance, depth, velocity = distance[::-1], depth[::-1], velocity[::-1]
    steps = np.diff(distance)
    if np.any(steps <= 0):
        at = distance[1:][steps <= 0][0]
        raise HydrokitError(
            Sentence(
                "velocity_area(): distances must run one way across the creek; look at {place}",
                place=Amount(at, "length"),
            )
        )
    if np.any(depth < 0):
        raise HydrokitError(
            Sentence(
                "velocity_area(): depths must not be negative, got {depth}",
                depth=Amount(depth.min(), "length"),
            )
        )
    blind = (depth > 0) & np.isnan(velocity)
    if np.any(blind):
        raise HydrokitError(
            Sentence(
                "velocity_area(): the vertical at {place} has a depth but no velocity; enter its "
                "velocity (0 if the water stood still), or leave the vertical out",
                place=Amount(distance[blind][0], "length"),
            )
        )
    return distance, depth, np.where(depth > 0, velocity, 0.0)


def _iso748(
    depth: np.ndarray, weights: np.ndarray, wet: int, points: int, velocity_uncertainty: float
) -> Any:
    verticals = np.interp(wet, *_VERTICALS) * max(5 / max(wet, 1), 1)
    in_depth = np.where(depth > _SHALLOW_DEPTH_M, _DEPTH, _SHALLOW)
    share = np.sqrt(np.sum(weights**2))
    return {
        "verticals": verticals / 100,
        "width": _WIDTH * share,
        "depth": np.sqrt(np.sum((weights * in_depth) ** 2)),
        "points": np.interp(points, *_POINTS) / 100 * share,
        "meter": velocity_uncertainty / np.sqrt(points) * share,
    }


def interpolated_variance(
    distance: np.ndarray, depth: np.ndarray, velocity: np.ndarray, weights: np.ndarray
) -> tuple[dict[str, float], dict[str, float]]:
    """Parts of the uncertainty read from how well neighbours foretell each vertical.

    Parameters
    ----------
    distance, depth, velocity : array
        In SI, from one edge to the other.
    weights : array
        Each panel's share of the flow.

    Returns
    -------
    tuple of dict
        Relative parts ``depth``, ``velocity``, ``width``; the standard deviations behind them.

    Raises
    ------
    HydrokitError
        Fewer than eight verticals.
    """
    count = len(distance)
    if count < 8:
        raise HydrokitError(
            "velocity_area(): the interpolated variance needs at least eight verticals, got "
            f'{count}; use "ISO 748"'
        )
    wet = depth > 0
    found = {}
    for name, values in (("depth", depth), ("velocity", velocity)):
        left = (distance[2:] - distance[1:-1]) / (distance[2:] - distance[:-2])
        missed = values[1:-1] - (left * values[:-2] + (1 - left) * values[2:])
        # The verticals next to the edges are left out: there the bed is not straight.
        squares = (missed**2 / (2 * (1 - left + left**2)))[1:-1]
        found[name] = np.sqrt(squares.sum() / (count - 5))
    moving = wet & (velocity != 0)
    parts = {
        "depth": np.sqrt(np.sum((weights[wet] * found["depth"] / depth[wet]) ** 2)),
        "velocity": np.sqrt(np.sum((weights[moving] * found["velocity"] / velocity[moving]) ** 2)),
        "width": _WIDTH * np.sqrt(np.sum(weights**2)),
    }
    return parts, {
        "depth_deviation_m": float(found["depth"]),
        "velocity_deviation_ms": float(found["velocity"]),
    }


def _findings(
    depth: np.ndarray, velocity: np.ndarray, shares: np.ndarray, wet: int
) -> list[Finding]:
    return findings_from(
        "current meter",
        (
            wet < 20,
            "note",
            (
                f"{wet} verticals in the water; about 20 or more are the custom, each with at "
                "most 5 % of the flow"
            ),
        ),
        (
            np.max(shares) > 0.10,
            "caution",
            f"one panel carries {100 * np.max(shares):.0f} % of the flow; add verticals beside it",
        ),
        (
            np.any(velocity < 0),
            "note",
            "water runs backwards in places; it is counted as negative flow",
        ),
        (
            np.max(depth * np.abs(velocity)) > WADING_LIMIT_M2S,
            "caution",
            Sentence(
                "depth times velocity exceeds {limit}: by common practice not water to wade in",
                limit=Amount(WADING_LIMIT_M2S, "flow per width", 1),
            ),
        ),
    )
