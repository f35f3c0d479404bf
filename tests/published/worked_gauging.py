"""Worked examples of gauging that take more than one call."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from hydrokit.stream.conductivity import conductivity_at_25, relative_calibration, salt_calibration
from hydrokit.stream.salt import salt_slug
from hydrokit.stream.v_notch import v_notch, v_notch_coefficients
from hydrokit.stream.verticals import velocity_area
from hydrokit.stream.weir_plate import weir_coefficient
from hydrokit.stream.weirs import rectangular_weir
from hydrokit.units import Q_

DATA = Path(__file__).parents[1] / "data"


def current_meter(**options):
    """The current-meter notes of USGS TM 3-A8, fig. 2."""
    distance, depth, velocity = np.loadtxt(
        DATA / "currentmeter_usgs_tm3a8_fig2.csv", delimiter=",", skiprows=1
    ).T
    return velocity_area(Q_(distance, "ft"), Q_(depth, "ft"), Q_(velocity, "ft/s"), **options)


def current_meter_area():
    """Their wetted area."""
    return Q_(current_meter().details["area_m2"], "m^2")


def current_meter_panels():
    """Their panels between the edges."""
    return Q_(current_meter().details["panel_m3s"][1:-1], "m^3/s")


def current_meter_largest_share():
    """The largest panel's share of the flow."""
    found = current_meter()
    return float(found.details["panel_m3s"].max() / found.flow_m3s)


def current_meter_share():
    """Root of the sum of squared panel shares, through the part that the width makes (0.5 % a panel)."""
    return current_meter().parts["width"] / 0.005


def current_meter_parts(names, **options):
    """Named parts of the uncertainty."""
    found = current_meter(**options)
    return [found.parts[name] for name in names]


def current_meter_deviations():
    """Standard deviations of depth in ft and velocity in ft/s by interpolation."""
    details = current_meter(uncertainty_method="interpolated variance").details
    return [
        Q_(details["depth_deviation_m"], "m").to("ft").magnitude,
        Q_(details["velocity_deviation_ms"], "m/s").to("ft/s").magnitude,
    ]


def v_notch_without_head_correction(head, angle):
    """Flow over a V-notch for comparison with formulas in the bare head."""
    head, (_, correction) = Q_(head), v_notch_coefficients(angle)
    return v_notch(head, angle) * (head / (head + correction)) ** 2.5


def rectangular_coefficient(contraction, height_ratio, method):
    """Coefficient of a weir 1 m wide under 1 m of head, from its flow."""
    head, correction = 1.0, 0.001
    contraction, height_ratio = (np.maximum(each, 1e-9) for each in (contraction, height_ratio))
    flow = rectangular_weir(
        f"{head} m", "1 m", Q_(1 / contraction, "m"), Q_(head / height_ratio, "m"), method
    )
    return weir_coefficient(flow, Q_(head + correction, "m"), "1 m")


def corrected_conductivity(**steps):
    """Readings of a calibration after the correction for the thinned background."""
    return Q_(salt_calibration(**steps).conductivity_sm, "S/m")


def slug(first, step, conductivity, **options):
    """A salt slug read as means of equal steps, in s and µS/cm."""
    time = first + step * np.arange(len(conductivity))
    return salt_slug(Q_(time, "s"), Q_(conductivity, "uS/cm"), **options)


def field_calibration(conductivity, step, temperature=None, **volumes):
    """Calibration of a salt solution by equal additions, read in µS/cm."""
    read = Q_(conductivity, "uS/cm")
    if temperature is not None:
        read = conductivity_at_25(read, temperature)
    return relative_calibration(Q_(step) * np.arange(len(conductivity)), read, **volumes)
