"""Gauging by floats: the speed of the surface times what the mean speed is of it."""

from __future__ import annotations

from typing import Iterator

import numpy as np

from ..errors import HydrokitError, counted
from ..units import Given, Number, Outside, units
from .gauging import Gauging, findings_from, positive, scatter_of_mean

__all__ = ["BEDS", "float_coefficient", "float_gauging"]

# Equivalent sand roughness, about three times the stone size that 84 % are smaller than
# (common practice for gravel beds).
BEDS = {
    "planks or concrete": 0.002,
    "fine gravel": 0.02,
    "gravel": 0.1,
    "cobbles": 0.5,
    "boulders": 1.2,
}


def _roughness_of(bed: str) -> float:
    if bed not in BEDS:
        raise HydrokitError(
            f"float_coefficient(): bed must be one of {', '.join(BEDS)}; got {bed!r}"
        )
    return BEDS[bed]


@units("number", depth="m")
def float_coefficient(depth: Given, bed: str = "gravel") -> Number:
    r"""Mean velocity over surface velocity in one vertical, by depth and bed.

    Parameters
    ----------
    depth : Quantity or str [length]
        Mean depth, :math:`d`. Scalar or array.
    bed : str
        ``"planks or concrete"``, ``"fine gravel"``, ``"gravel"``, ``"cobbles"`` or ``"boulders"``.

    Returns
    -------
    float
        Coefficient, not below that of stones four times as high as the water is deep.

    Raises
    ------
    HydrokitError
        An unknown bed.

    Warns
    -----
    RangeWarning
        Depth less than the roughness height: the stones reach through the water.

    Notes
    -----
    The mean of the logarithmic profile over a fully rough bed, :math:`u/u_* = 2.5\ln(z/k_s)+8.5`,
    over its value at the surface:

    .. math:: C = 1 - \frac{1}{\ln(d/k_s) + 3.4}

    It holds for floats spread over the whole width. Floats sent down the middle alone see the
    fastest water, and 0.66 (0.3 m deep) to 0.80 (6 m deep) are then in use (from memory, USBR
    Water Measurement Manual, table 13-1).

    References
    ----------
    .. [1] H. Schlichting, Boundary-Layer Theory, 7th ed., McGraw-Hill, 1979, ch. 20, fully rough
       wall, constant 8.5.
    .. [2] S. E. Rantz and others, USGS Water-Supply Paper 2175, 1982, vol. 1: 0.85 for natural
       channels.

    Examples
    --------
    >>> round(float_coefficient("0.6 m", "gravel"), 3)
    0.807
    >>> round(float_coefficient("2 ft", "planks or concrete"), 3)
    0.89
    """
    ratio = np.maximum(np.asarray(depth, dtype=float) / _roughness_of(bed), 0.25)
    return 1 - 1 / (np.log(ratio) + 3.4)


@float_coefficient.valid
def _(depth: Given, bed: Given) -> Iterator[Outside]:
    yield (
        np.asarray(depth) < BEDS[bed],
        "the stones reach through the water; a float says little here",
    )


@units(
    None,
    surface_velocity="m/s",
    area="m^2",
    coefficient="ratio",
    velocity_uncertainty="ratio",
    area_uncertainty="ratio",
    coefficient_uncertainty="ratio",
)
def float_gauging(
    surface_velocity: Given,
    area: Given,
    coefficient: Given = 0.85,
    velocity_uncertainty: Given = "10 %",
    area_uncertainty: Given = "8 %",
    coefficient_uncertainty: Given = "10 %",
) -> Gauging:
    r"""Flow from timed floats and the area of the reach they cross.

    For floats in lanes of known depth use the current-meter sum with the lane velocities times
    the coefficient.

    Parameters
    ----------
    surface_velocity : Quantity, str or list of them [length/time]
        Velocity of each float run, :math:`v_s`.
    area : Quantity, str or list of them [length²]
        Wetted cross-section, :math:`A`; several sections of the reach are averaged.
    coefficient : ratio
        Mean over surface velocity, :math:`C`; see :func:`float_coefficient`.
    velocity_uncertainty : ratio
        Standard uncertainty of one run, used when fewer than three tell it.
    area_uncertainty, coefficient_uncertainty : ratio
        Standard uncertainties.

    Returns
    -------
    Gauging
        Parts ``velocity``, ``area``, ``coefficient``.

    Raises
    ------
    HydrokitError
        A velocity, area or coefficient that is not above zero.

    Notes
    -----
    .. math:: Q = C\,\bar v_s\,\bar A

    The coefficient is rarely known to better than 5 to 15 %.

    References
    ----------
    .. [1] S. E. Rantz and others, Measurement and Computation of Streamflow, USGS Water-Supply
       Paper 2175, 1982, vol. 1.

    Examples
    --------
    >>> g = float_gauging(["0.50 m/s", "0.46 m/s", "0.48 m/s"], "0.25 m^2")
    >>> print(f"{g.flow.to('L/s'):.0f~P} ± {g.uncertainty:.0%}")
    102 L/s ± 13%
    >>> print(f"{float_gauging('2 ft/s', '3 ft^2', 0.8).flow.to('cfs'):.2f~P}")
    4.80 cfs
    """
    velocity = positive("float_gauging", "surface_velocity", surface_velocity)
    area = positive("float_gauging", "area", area)
    if not 0 < coefficient <= 1:
        raise HydrokitError(
            f"float_gauging(): coefficient must lie between 0 and 1, got {coefficient:g}"
        )
    parts = {
        "velocity": scatter_of_mean(velocity, velocity_uncertainty),
        "area": np.hypot(area_uncertainty, scatter_of_mean(area, 0.0)),
        "coefficient": coefficient_uncertainty,
    }
    findings = findings_from(
        "float",
        (
            not 0.6 <= coefficient <= 0.95,
            "caution",
            f"a coefficient of {coefficient:.2f} lies outside 0.6 to 0.95",
        ),
        (
            len(velocity) < 3,
            "note",
            f"{counted(len(velocity), 'run')}; three or more across the width show the scatter",
        ),
        (
            np.ptp(velocity) > 0.5 * velocity.mean(),
            "caution",
            "the runs differ by more than half; time floats in lanes",
        ),
    )
    return Gauging.from_parts(coefficient * velocity.mean() * area.mean(), parts, "float", findings)


float_gauging.measurement = ("surface_velocity", "area")
