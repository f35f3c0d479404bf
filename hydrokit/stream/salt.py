"""Salt slug: flow from how much a known mass of salt is thinned, read by conductivity."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError, counted
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Floats, Given, Number, Quantity, units
from .gauging import Gauging, findings_from

__all__ = [
    "SaltDose",
    "mixing_check",
    "salt_dose",
    "salt_slug",
    "solution_slug",
]

# 0.486 mg/L for each µS/cm at 25 °C, ±2.8 % (Richardson and others 2017), when not calibrated.
USUAL_FACTOR = 4.86  # kg/m³ for each S/m
USUAL_FACTOR_UNCERTAINTY = 0.028
CHLORIDE_SHARE = 35.453 / 58.443  # of sodium chloride by mass
# Chloride in fresh water, kg/m³, from memory: US EPA 1988 criteria, and taste in drinking water.
CHLORIDE_ACUTE, CHLORIDE_CHRONIC = 0.860, 0.230
_SETTLED = 0.03  # of the peak: what may be left at the end
_ONE_PROBE = "one probe cannot see whether the salt had mixed; log near both banks"
_SLUG_UNITS = {
    "time": "s",
    "conductivity": "S/m",
    "background": "S/m",
    "background_uncertainty": "S/m",
    "calibration_uncertainty": "ratio",
    "mixing_uncertainty": "ratio",
}


@units(None, mass="kg", calibration="kg/m^2/S", mass_uncertainty="ratio", **_SLUG_UNITS)
def salt_slug(
    time: Floats,
    conductivity: Floats,
    mass: Given,
    background: float | None = None,
    calibration: Given = None,
    calibration_uncertainty: object = None,
    mass_uncertainty: Given = "1 %",
    background_uncertainty: str = "0.5 uS/cm",
    mixing_uncertainty: str = "5 %",
    tail: str = "measured",
) -> Gauging:
    r"""Flow from a slug of dry salt and the conductivity as it passes below.

    Parameters
    ----------
    time : array Quantity or list [time]
        Of each reading, from any zero, rising; steps may be uneven.
    conductivity : array Quantity or list [conductance/length]
        :math:`EC`, compensated as the calibration was. Missing readings (NaN) are bridged.
    mass : Quantity or str [mass]
        Salt, :math:`M`.
    background : Quantity, str or list of two [conductance/length], optional
        :math:`EC_0`: one value, or one before and one after between which it drifts in a straight
        line. Without it, the first five readings stand for it.
    calibration : Quantity or str, optional
        :math:`C_F`, from :func:`~hydrokit.stream.conductivity.salt_calibration`, or written
        ``"0.486 mg/L/uS*cm"``. Without it 0.486 ± 2.8 % at 25 °C is used.
    calibration_uncertainty : ratio, optional
        Standard; 2 % with a calibration of one's own.
    mass_uncertainty : ratio
    background_uncertainty : Quantity or str [conductance/length]
        How far the whole background may be off; it works on the whole length of the pulse.
    mixing_uncertainty : ratio
        What incomplete mixing may do, unseen by one probe; see :func:`mixing_check`.
    tail : {"measured", "exponential"}
        End with the last reading, or add the tail that the falling limb foretells.

    Returns
    -------
    Gauging
        Parts ``calibration``, ``mass``, ``background``, ``tail``, ``mixing``; ``details`` has the
        pulse's ``area_ssm`` (S·s/m), ``peak_sm``, ``passage_s`` (area over peak) and the missing
        ``tail_share``.

    Raises
    ------
    HydrokitError
        Times that do not rise; no pulse above the background; too few readings.

    Notes
    -----
    .. math:: Q = \frac{M}{C_F \int (EC - EC_0)\,dt}

    by the trapezoidal rule. The tail is an exponential through the readings below three tenths of
    the peak. Salt that is lost or not yet mixed makes the flow come out too high.

    References
    ----------
    .. [1] M. Richardson, G. Sentlinger, R. D. Moore, A. Zimmermann, Confluence: J. Watershed Sci.
       Mgmt 1(2), 2017.
    .. [2] ISO 9555, Measurement of liquid flow in open channels: tracer dilution methods.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> g = salt_slug(Q_([0, 30, 60, 90, 120, 150], "s"), Q_([100, 100, 150, 120, 100.5, 100], "uS/cm"),
    ...               "200 g", "100 uS/cm", "0.486 mg/L/uS*cm")
    >>> print(f"{g.flow.to('L/s'):.0f~P}")
    195 L/s
    >>> g = salt_slug(Q_([0, 30, 60, 90, 120, 150], "s"), Q_([100, 100, 150, 120, 100.5, 100], "uS/cm"),
    ...               "1 lb", "100 uS/cm", "0.486 mg/L/uS*cm")
    >>> print(f"{g.flow.to('cfs'):.1f~P}")
    15.6 cfs
    """
    findings = []
    if calibration is None:
        calibration, calibration_uncertainty = (
            USUAL_FACTOR,
            calibration_uncertainty or USUAL_FACTOR_UNCERTAINTY,
        )
        findings = findings_from(
            "salt slug",
            (
                True,
                "note",
                Sentence(
                    "the usual factor at {reference} was used; calibrate with the creek's own water",
                    reference=Amount(298.15, "temperature"),
                ),
            ),
        )
    own = {
        "calibration": 0.02 if calibration_uncertainty is None else calibration_uncertainty,
        "mass": mass_uncertainty,
        "mixing": mixing_uncertainty,
    }
    return _slug(
        time,
        conductivity,
        mass / calibration,
        background,
        background_uncertainty,
        tail,
        own,
        findings,
    )


salt_slug.measurement = ("time", "conductivity", "background")


@units(None, volume="m^3", calibration="m/S", volume_uncertainty="ratio", **_SLUG_UNITS)
def solution_slug(
    time: Given,
    conductivity: Given,
    volume: Given,
    calibration: Given,
    background: Given = None,
    calibration_uncertainty: str = "2 %",
    volume_uncertainty: Given = "1 %",
    background_uncertainty: str = "0.5 uS/cm",
    mixing_uncertainty: str = "5 %",
    tail: str = "measured",
) -> Gauging:
    r"""Flow from a slug of salt solution, calibrated by dilution of that solution.

    Parameters
    ----------
    time, conductivity, background, background_uncertainty, mixing_uncertainty, tail :
        As in :func:`salt_slug`.
    volume : Quantity or str [length³]
        Solution poured in, :math:`V`.
    calibration : Quantity
        :math:`k`, from :func:`~hydrokit.stream.conductivity.relative_calibration`.
    calibration_uncertainty, volume_uncertainty : ratio

    Returns
    -------
    Gauging

    Raises
    ------
    HydrokitError
        As in :func:`salt_slug`.

    Notes
    -----
    .. math:: Q = \frac{V}{k \int (EC - EC_0)\,dt}

    References
    ----------
    .. [1] R. D. Moore, "Slug injection using salt in solution", Streamline Watershed Management
       Bulletin 8(2), 2005.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> g = solution_slug(Q_([0, 30, 60, 90, 120, 150], "s"), Q_([100, 100, 150, 120, 100.5, 100], "uS/cm"),
    ...                   "2 L", Q_(5e-6, "cm/uS"), "100 uS/cm")
    >>> print(f"{g.flow.to('L/s'):.0f~P}")
    189 L/s
    >>> g = solution_slug(Q_([0, 30, 60, 90, 120, 150], "s"), Q_([100, 100, 150, 120, 100.5, 100], "uS/cm"),
    ...                   "1 gal", Q_(5e-6, "cm/uS"), "100 uS/cm")
    >>> print(f"{g.flow.to('cfs'):.1f~P}")
    12.6 cfs
    """
    own = {
        "calibration": calibration_uncertainty,
        "volume": volume_uncertainty,
        "mixing": mixing_uncertainty,
    }
    return _slug(
        time, conductivity, volume / calibration, background, background_uncertainty, tail, own, []
    )


solution_slug.measurement = ("time", "conductivity", "background")


def _slug(
    time: np.ndarray,
    conductivity: np.ndarray,
    injected: float,
    background: Number | None,
    background_uncertainty: Any,
    tail: str,
    own: dict[str, float],
    findings: list[Finding],
) -> Gauging:
    """`injected` is the salt in units of conductivity times volume, so Q is it over the pulse's area."""
    if tail not in ("measured", "exponential"):
        raise HydrokitError(f'salt_slug(): tail must be "measured" or "exponential", got {tail!r}')
    time, conductivity, missing = _readings(time, conductivity)
    excess = conductivity - _background(time, conductivity, background)
    area, peak = float(np.trapezoid(excess, time)), float(excess.max())
    if not (area > 0 and peak > 2 * background_uncertainty):
        raise HydrokitError(
            "salt_slug(): no pulse stands out of the background; check the background and the "
            "times, or use more salt"
        )
    share = _tail_share(time, excess, peak, area)
    left = float(np.median(excess[-3:])) / peak
    if tail == "exponential" and share is not None:
        area *= 1 + share
    parts = own | {
        "background": background_uncertainty * float(np.ptp(time)) / area,
        "tail": (share or 0.0) * (0.5 if tail == "exponential" else 1.0),
    }
    in_pulse = int(np.sum(excess > 0.05 * peak))
    findings = findings + findings_from(
        "salt slug",
        (missing > 0, "note", f"{counted(missing, 'missing reading')} bridged"),
        (
            left > _SETTLED,
            "problem",
            f"the conductivity ends {100 * left:.0f} % of the peak above the background: the flow comes out too high; log until "
            'it has returned, give the background before and after, or use tail="exponential"',
        ),
        (
            left < -_SETTLED,
            "problem",
            (
                f"the conductivity ends {-100 * left:.0f} % of the peak below the background: "
                "give the background before and after"
            ),
        ),
        (
            excess[0] > 0.1 * peak,
            "problem",
            "the first reading is already in the pulse; begin to log before the salt",
        ),
        (
            in_pulse < 20,
            "caution",
            f"{in_pulse} readings in the pulse; 20 or more are needed to catch its shape",
        ),
        (True, "note", _ONE_PROBE),
        (
            peak < 20 * background_uncertainty,
            "caution",
            "a low pulse: more salt would drown the noise",
        ),
    )
    details = {"area_ssm": area, "peak_sm": peak, "passage_s": area / peak, "tail_share": share}
    return Gauging.from_parts(injected / area, parts, "salt slug", findings, details)


def _readings(time: np.ndarray, conductivity: np.ndarray) -> Any:
    time, conductivity = np.atleast_1d(time), np.atleast_1d(conductivity)
    if len(time) != len(conductivity):
        raise HydrokitError(
            f"salt_slug(): needs a time for each conductivity, got {len(time)} and {len(conductivity)}"
        )
    read = ~(np.isnan(conductivity) | np.isnan(time))
    if read.sum() < 5:
        raise HydrokitError(f"salt_slug(): needs at least five readings, got {int(read.sum())}")
    time, conductivity = time[read], conductivity[read]
    if np.any(np.diff(time) <= 0):
        where = int(np.argmax(np.diff(time) <= 0)) + 2
        raise HydrokitError(
            f"salt_slug(): times must rise; look at reading {where} (a clock that passed midnight?)"
        )
    return time, conductivity, int((~read).sum())


def _background(time: np.ndarray, conductivity: np.ndarray, background: Number | None) -> Number:
    if background is None:
        return float(np.mean(conductivity[:5]))
    background = np.atleast_1d(background)
    if len(background) > 2:
        raise HydrokitError(
            f"salt_slug(): background is one value, or one before and one after; got {len(background)}"
        )
    return np.interp(time, time[[0, -1]], background[[0, -1]])


def _tail_share(time: np.ndarray, excess: np.ndarray, peak: float, area: float) -> float | None:
    """What the pulse would still bring, as a share of its area; None where it does not fall."""
    after = np.arange(len(time)) > np.argmax(excess)
    low = after & (np.cumsum(after & (excess < 0.3 * peak)) > 0) & (excess > 0)
    if low.sum() < 3:
        return 0.0 if abs(excess[-1]) <= 0.01 * peak else None
    rate = -np.polyfit(time[low] - time[-1], np.log(excess[low]), 1)
    if rate[0] <= 0:
        return None
    return float(np.exp(-rate[1]) / rate[0] / area) if excess[-1] > 0 else 0.0


def mixing_check(first: Gauging, second: Gauging) -> Gauging:
    """The flow from two probes of one slug, and whether the salt had mixed.

    Parameters
    ----------
    first, second : Gauging
        From :func:`salt_slug` with probes near opposite banks, or one farther down.

    Returns
    -------
    Gauging
        The mean, also of area, peak and passage; the part ``mixing`` is half the difference, at least 1 %.

    Raises
    ------
    HydrokitError
        Gaugings that are not salt slugs.

    Notes
    -----
    Both share salt and calibration, so those parts do not shrink. Agreement within 10 % is asked
    for (common practice).

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> time, pulse = Q_([0, 30, 60, 90, 120, 150], "s"), np.array([0, 0, 50, 20, 0.5, 0])
    >>> left = salt_slug(time, Q_(100 + pulse, "uS/cm"), "200 g", "100 uS/cm")
    >>> right = salt_slug(time, Q_(100 + 0.96 * pulse, "uS/cm"), "200 g", "100 uS/cm")
    >>> print(f"{mixing_check(left, right).parts['mixing']:.3f}")
    0.020
    """
    if {first.method, second.method} != {"salt slug"}:
        raise HydrokitError("mixing_check(): needs two salt-slug gaugings of one slug")
    flow = (first.flow_m3s + second.flow_m3s) / 2
    apart = abs(first.flow_m3s - second.flow_m3s) / flow
    parts = {
        name: np.hypot(first.parts[name], second.parts[name]) / np.sqrt(2)
        for name in first.parts
        if name in second.parts
    }
    parts["mixing"] = max(apart / 2, 0.01)
    findings = [each for each in first.findings + second.findings if each.message != _ONE_PROBE]
    findings += findings_from(
        "salt slug",
        (apart <= 0.1, "note", f"the two probes agree within {100 * apart:.0f} %"),
        (
            apart > 0.1,
            "problem",
            (
                f"the two probes differ by {100 * apart:.0f} %: the salt had not mixed; pour it "
                "in farther up, in the middle"
            ),
        ),
    )
    details = {
        name: (first.details[name] + second.details[name]) / 2
        for name in ("area_ssm", "peak_sm", "passage_s")
    }
    return Gauging.from_parts(flow, parts, "salt slug", dict.fromkeys(findings), details)


@dataclass(frozen=True, eq=False)
class SaltDose(Result):
    """Salt for an expected flow, and the salt and chloride at the pulse's peak."""

    mass_kg: float
    peak_kgm3: float
    chloride_kgm3: float
    _: KW_ONLY
    findings: tuple[Finding, ...]

    @property
    def mass(self) -> Quantity:
        """The salt as a quantity."""
        return Quantity(self.mass_kg, "kg")


@units(None, flow="m^3/s", rise="S/m", passage="s", calibration="kg/m^2/S")
def salt_dose(
    flow: Given,
    rise: Given = "100 uS/cm",
    passage: Given = "120 s",
    calibration: Given = "0.486 mg/L/uS*cm",
) -> SaltDose:
    r"""Salt to pour in for an expected flow, and whether it may harm.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Flow expected, :math:`Q`.
    rise : Quantity or str [conductance/length]
        Rise of conductivity wanted at the peak.
    passage : Quantity or str [time]
        Area of the pulse over its peak, :math:`T`; 120 s is that of a published 12 m³/s gauging.
        Short, fast reaches have less.
    calibration : Quantity or str
        :math:`C_F`, as in :func:`salt_slug`.

    Returns
    -------
    SaltDose

    Raises
    ------
    HydrokitError
        A flow, rise or passage that is not above zero.

    Notes
    -----
    .. math:: M = C_F\,\Delta EC\,Q\,T

    Near the point of injection the water is saltier by far than at the probe.

    References
    ----------
    .. [1] The mass balance of :func:`salt_slug` turned round. Chloride limits (860 mg/L for an hour,
       230 mg/L for days): US EPA, Ambient Water Quality Criteria for Chloride, 1988, from memory.

    Examples
    --------
    >>> print(f"{salt_dose('20 L/s').mass.to('g'):.0f~P}")
    117 g
    >>> print(f"{salt_dose('2 cfs', '200 uS/cm').mass.to('lb'):.2f~P}")
    1.46 lb
    """
    if not (flow > 0 and rise > 0 and passage > 0):
        raise HydrokitError("salt_dose(): flow, rise and passage must be above zero")
    peak = calibration * rise
    chloride = peak * CHLORIDE_SHARE
    findings = findings_from(
        "salt dose",
        (
            chloride > CHLORIDE_ACUTE,
            "problem",
            Sentence(
                "chloride peaks at {peak}, above {limit}, which harms water life within an hour",
                peak=Amount(chloride, "concentration"),
                limit=Amount(CHLORIDE_ACUTE, "concentration"),
            ),
        ),
        (
            CHLORIDE_CHRONIC < chloride <= CHLORIDE_ACUTE,
            "caution",
            Sentence(
                "chloride peaks at {peak}, above {limit}, the limit for long exposure and for taste",
                peak=Amount(chloride, "concentration"),
                limit=Amount(CHLORIDE_CHRONIC, "concentration"),
            ),
        ),
        (
            True,
            "note",
            "upstream of the mixing reach the water is much saltier; local rules on salt come first",
        ),
    )
    return SaltDose(peak * flow * passage, peak, chloride, findings=tuple(findings))
