"""Slope-area: the flow of a flood from its marks, after the water has fallen."""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError
from ..sentences import Amount, Sentence
from ..units import Given, units
from ..water import GRAVITY
from .gauging import Gauging, findings_from

__all__ = ["slope_area"]

_LEAST_FALL_M = 0.15

_EXPANSION_LOSS = 0.5  # share of the velocity head regained that is lost where the reach widens


@units(
    None,
    area="m^2",
    wetted_perimeter="m",
    water_level="m",
    distance="m",
    manning="count",
    velocity_coefficient="count",
    level_uncertainty="m",
    manning_uncertainty="ratio",
    area_uncertainty="ratio",
)
def slope_area(
    area: Given,
    wetted_perimeter: Given,
    water_level: Given,
    distance: Given,
    manning: Given,
    velocity_coefficient: Given = 1.0,
    level_uncertainty: Given = "20 mm",
    manning_uncertainty: Given = "20 %",
    area_uncertainty: Given = "5 %",
) -> Gauging:
    r"""Flow from flood marks, cross-sections and roughness of a reach (slope-area method).

    Parameters
    ----------
    area : list or array Quantity [length²]
        Wetted area, :math:`A`, of each section, from upstream to downstream.
    wetted_perimeter : list or array Quantity [length]
        :math:`P` of each section.
    water_level : list or array Quantity [length]
        Level of the flood marks at each section, from one datum.
    distance : list or array Quantity [length]
        Of each section along the creek, rising downstream.
    manning : count or list
        Manning's :math:`n`, one or one for each section.
    velocity_coefficient : count or list
        Kinetic energy coefficient, :math:`\alpha`: 1 for a simple section, more with overbank flow.
    level_uncertainty : Quantity or str [length]
        Standard uncertainty of one flood mark.
    manning_uncertainty, area_uncertainty : ratio
        Standard; 20 % for a roughness judged by eye (common practice).

    Returns
    -------
    Gauging
        Parts ``fall``, ``roughness``, ``area``; ``details`` has ``conveyance_m3s``,
        ``velocity_ms`` and ``froude`` of each section.

    Raises
    ------
    HydrokitError
        Arrays of unequal length, fewer than two sections, marks that do not fall.

    Notes
    -----
    With :math:`K = A R^{2/3}/n` and :math:`k` = 0 where the reach contracts, 0.5 where it widens,
    the fall is

    .. math:: \Delta h = Q^2 \sum\left[\frac{L}{K_1K_2} + \frac{1-k}{2g}
              \left(\frac{\alpha_2}{A_2^2} - \frac{\alpha_1}{A_1^2}\right)\right]

    over the stretches between neighbouring sections, which for two sections is the published closed
    form. Asked for (from memory of [1]_): a reach of 75 mean depths, a fall of 0.15 m and of no
    less than the velocity head, not widening.

    References
    ----------
    .. [1] T. Dalrymple, M. A. Benson, Measurement of Peak Discharge by the Slope-Area Method, USGS
       Techniques of Water-Resources Investigations 3-A2, 1967.

    Examples
    --------
    >>> g = slope_area(["30 m^2", "29 m^2"], ["16 m", "15.8 m"], ["10.12 m", "10 m"], ["0 m", "200 m"], 0.025)
    >>> print(f"{g.flow:.1f~P}")
    42.3 m³/s
    >>> g = slope_area(["323 ft^2", "312 ft^2"], ["52.5 ft", "51.8 ft"], ["33.2 ft", "32.8 ft"], ["0 ft", "656 ft"], 0.025)
    >>> print(f"{g.flow.to('cfs'):.0f~P}")
    1506 cfs
    """
    area, perimeter, level, distance = (
        np.atleast_1d(each) for each in (area, wetted_perimeter, water_level, distance)
    )
    sections = len(area)
    if sections < 2 or not sections == len(perimeter) == len(level) == len(distance):
        raise HydrokitError(
            "slope_area(): needs area, wetted_perimeter, water_level and distance of the same "
            f"sections, at least two; got {sections}, {len(perimeter)}, {len(level)} and "
            f"{len(distance)}"
        )
    lengths, fall = np.diff(distance), float(level[0] - level[-1])
    if np.any(lengths <= 0) or not fall > 0:
        raise HydrokitError(
            "slope_area(): distances must rise and levels must fall from the first section to the last"
        )
    if not (np.all(area > 0) and np.all(perimeter > 0) and np.all(np.asarray(manning) > 0)):
        raise HydrokitError("slope_area(): area, wetted_perimeter and manning must be above zero")
    conveyance = area * (area / perimeter) ** (2 / 3) / manning
    velocity_head = np.broadcast_to(velocity_coefficient, sections) / (
        2 * GRAVITY * area**2
    )  # over Q²
    gained = np.diff(velocity_head)
    loss = np.where(gained < 0, _EXPANSION_LOSS, 0.0)
    friction = np.sum(lengths / (conveyance[:-1] * conveyance[1:]))
    resistance = friction + np.sum((1 - loss) * gained)
    if not resistance > 0:
        raise HydrokitError(
            "slope_area(): the reach widens so much that no flow fits the marks; choose another reach"
        )
    flow = np.sqrt(fall / resistance)
    parts = {
        "fall": level_uncertainty * np.sqrt(2) / fall / 2,
        "roughness": manning_uncertainty * friction / resistance,
        "area": area_uncertainty,
    }
    velocity, depth = flow / area, np.mean(area / perimeter)
    froude = velocity / np.sqrt(GRAVITY * area / perimeter)
    reach = distance[-1] - distance[0]
    findings = findings_from(
        "slope-area",
        (
            reach < 75 * depth,
            "caution",
            f"the reach is {reach / depth:.0f} mean depths long; 75 are asked for",
        ),
        (
            fall < _LEAST_FALL_M,
            "caution",
            Sentence(
                "the marks fall {fall}; at least {least} is asked for",
                fall=Amount(fall, "stage", 2),
                least=Amount(_LEAST_FALL_M, "stage", 2),
            ),
        ),
        (
            fall < np.max(velocity_head) * flow**2,
            "caution",
            "the fall is less than the velocity head",
        ),
        (
            bool(np.any(gained < 0)),
            "caution",
            "the reach widens: half the velocity head regained is guessed to be lost",
        ),
        (
            np.max(froude) > 1,
            "caution",
            "faster than critical somewhere: a steep creek, where Manning's n runs low",
        ),
        (sections < 3, "note", "two sections; a third shows whether the stretches agree"),
    )
    details = {"conveyance_m3s": conveyance, "velocity_ms": velocity, "froude": froude}
    return Gauging.from_parts(flow, parts, "slope-area", findings, details)


slope_area.measurement = ("area", "wetted_perimeter", "water_level", "distance")
