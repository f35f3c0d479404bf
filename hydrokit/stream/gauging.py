"""A gauging: how much water passes now, and how sure we are. Bucket, float, gain or loss.

The current meter is in ``verticals``, the weir plate in ``weirs`` and ``weir_board``, the salt
slug in ``salt``, flood marks in ``slope_area``; all of them give the same :class:`Gauging`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Mapping

import numpy as np

from ..errors import Finding, HydrokitError, counted
from ..units import Quantity, units

__all__ = [
    "BEDS",
    "CAUTIONS",
    "Gauging",
    "GainOrLoss",
    "bucket",
    "combined",
    "float_coefficient",
    "float_gauging",
    "gain_or_loss",
    "total",
]

CAUTIONS = {
    "wading": (
        "Wade only where you could fall and get up again: as common practice not where depth times "
        "velocity exceeds 0.9 m²/s (10 ft²/s), and far less on slick stones; never alone, never above "
        "a drop or a screen, with a staff and a life jacket."
    ),
    "cold water": (
        "Water near freezing takes the strength from hands and legs within minutes, even of good "
        "swimmers; keep dry clothes at hand and stay off ice over moving water."
    ),
    "flood": "Survey flood marks after the water has fallen; banks undercut by a flood can still give way.",
    "salt": (
        "Salt harms fish, eggs and drinking water where it is not yet mixed: use the least that can be "
        "read, dissolve it first, keep clear of spawning beds and of intakes in use, and ask the local "
        "authority whether a permit is needed."
    ),
}
_CAUTIONS_OF = {
    "bucket": ("cold water",),
    "float": ("wading", "cold water"),
    "current meter": ("wading", "cold water"),
    "weir": ("cold water",),
    "salt slug": ("salt", "cold water"),
    "slope-area": ("flood",),
}


@dataclass(frozen=True, eq=False)
class Gauging:
    """A measured flow with its standard uncertainty and where that comes from.

    ``uncertainty`` is one standard deviation relative to the flow; ``parts`` names its shares,
    which add up in squares. ``details`` holds what else the method found, in SI, unit in the name.
    """

    flow_m3s: float
    uncertainty: float
    parts: Mapping[str, float]
    method: str
    findings: tuple[Finding, ...] = ()
    details: Mapping[str, Any] = field(default_factory=dict)

    @property
    def flow(self) -> Any:
        """The flow as a quantity."""
        return Quantity(self.flow_m3s, "m^3/s")

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt someone who gauges this way."""
        return tuple(CAUTIONS[name] for name in _CAUTIONS_OF.get(self.method, ()))

    @classmethod
    def from_parts(cls, flow_m3s, parts, method, findings=(), details=None) -> Gauging:
        """A gauging whose uncertainty is its parts, combined."""
        parts = {name: float(share) for name, share in parts.items()}
        return cls(float(flow_m3s), combined(parts), parts, method, tuple(findings), details or {})


def combined(parts: Mapping[str, float]) -> float:
    """The relative standard uncertainty that independent relative parts make together.

    Parameters
    ----------
    parts : mapping of str to float
        Relative standard shares by name.

    Returns
    -------
    float

    References
    ----------
    .. [1] JCGM 100:2008, Evaluation of measurement data (GUM), 5.1.2, eq. 10.

    Examples
    --------
    >>> combined({"head": 0.03, "coefficient": 0.04})
    0.05
    """
    return float(np.sqrt(sum(share**2 for share in parts.values())))


def findings_from(where, *conditions):
    """Findings for those ``(holds, level, sentence)`` that hold."""
    return [Finding(level, where, sentence) for holds, level, sentence in conditions if holds]


def _scatter_of_mean(values, single):
    """Relative standard uncertainty of a mean; `single` is one reading's, where too few tell."""
    if len(values) < 3:
        return single / np.sqrt(len(values))
    return np.std(values, ddof=1) / np.sqrt(len(values)) / np.mean(values)


def _positive(where, name, values):
    values = np.atleast_1d(values)
    if not np.all(values > 0):
        raise HydrokitError(
            f"{where}(): {name} must be above zero in every reading, got {values.tolist()}"
        )
    return values


@units(None, volume="m^3", time="s", volume_uncertainty="ratio", time_uncertainty="s")
def bucket(volume, time, volume_uncertainty="2 %", time_uncertainty="0.2 s"):
    r"""Flow from the time a container of known volume takes to fill.

    Parameters
    ----------
    volume : Quantity or str [length³]
        Volume caught, :math:`V`; one value, or one for each fill.
    time : Quantity, str or list of them [time]
        Filling time, :math:`t`, of each fill.
    volume_uncertainty : ratio
        Standard uncertainty of the container's mark.
    time_uncertainty : Quantity or str [time]
        Standard uncertainty of starting and stopping the watch, taken as alike in every fill.

    Returns
    -------
    Gauging
        Parts ``volume``, ``timing``, ``repeats``. For an overflow bucket beside an intake, add
        what the pipe takes with :func:`total`.

    Raises
    ------
    UnitsError
        A number without a unit.
    HydrokitError
        A volume or time that is not above zero.

    Notes
    -----
    .. math:: Q = \sum V / \sum t

    With fewer than three fills their scatter cannot be judged; 5 % a fill is assumed (common
    practice).

    References
    ----------
    .. [1] State of Colorado, Division of Reclamation, Mining and Safety, plan 717889, p. 37:
       spring into a container, at least three fillings.

    Examples
    --------
    >>> g = bucket("10 L", ["4.9 s", "5.1 s", "5.0 s"])
    >>> print(f"{g.flow.to('L/s'):.2f~P} ± {g.uncertainty:.1%}")
    2.00 L/s ± 4.6%
    >>> print(f"{bucket('5 gal', '60 s').flow.to('gpm'):.2f~P}")
    5.00 gpm
    """
    time = _positive("bucket", "time", time)
    volume = _positive("bucket", "volume", volume)
    if len(volume) not in (1, len(time)):
        raise HydrokitError(
            f"bucket(): give one volume or one for each of the {len(time)} times, got {len(volume)}"
        )
    fills = np.broadcast_to(volume, time.shape) / time
    flow = np.broadcast_to(volume, time.shape).sum() / time.sum()
    spread = np.ptp(fills) / flow
    parts = {
        "volume": volume_uncertainty,
        "timing": time_uncertainty * len(time) / time.sum(),
        "repeats": _scatter_of_mean(fills, 0.05),
    }
    findings = findings_from(
        "bucket",
        (
            len(time) < 3,
            "note",
            f"{counted(len(time), 'fill')}; three or more show whether they agree",
        ),
        (
            np.any(time < 5),
            "caution",
            "a fill takes less than 5 s; use a larger container, or catch part of the flow",
        ),
        (
            spread > 0.2,
            "caution",
            f"the fills differ by {100 * spread:.0f} %; look for water that misses the container",
        ),
    )
    return Gauging.from_parts(flow, parts, "bucket", findings, {"fills_m3s": fills})


bucket.measurement = ("volume", "time")

# Equivalent sand roughness, about three times the stone size that 84 % are smaller than
# (common practice for gravel beds).
BEDS = {
    "planks or concrete": 0.002,
    "fine gravel": 0.02,
    "gravel": 0.1,
    "cobbles": 0.5,
    "boulders": 1.2,
}


def _roughness_of(bed):
    if bed not in BEDS:
        raise HydrokitError(
            f"float_coefficient(): bed must be one of {', '.join(BEDS)}; got {bed!r}"
        )
    return BEDS[bed]


@units("number", depth="m")
def float_coefficient(depth, bed="gravel"):
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
    UnitsError
        A number without a unit.
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
def _(depth, bed):
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
    surface_velocity,
    area,
    coefficient=0.85,
    velocity_uncertainty="10 %",
    area_uncertainty="8 %",
    coefficient_uncertainty="10 %",
):
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
    UnitsError
        A number without a unit.
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
    velocity = _positive("float_gauging", "surface_velocity", surface_velocity)
    area = _positive("float_gauging", "area", area)
    if not 0 < coefficient <= 1:
        raise HydrokitError(
            f"float_gauging(): coefficient must lie between 0 and 1, got {coefficient:g}"
        )
    parts = {
        "velocity": _scatter_of_mean(velocity, velocity_uncertainty),
        "area": np.hypot(area_uncertainty, _scatter_of_mean(area, 0.0)),
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


def total(*gaugings: Gauging) -> Gauging:
    """The flow of several gauged parts of one creek, such as overflow and pipe.

    Parameters
    ----------
    *gaugings : Gauging
        Independent gaugings of waters that add up.

    Returns
    -------
    Gauging
        Parts named by position and method, as shares of the sum.

    Raises
    ------
    HydrokitError
        No gauging given, or no water in any.

    Examples
    --------
    >>> both = total(bucket("10 L", ["5 s"] * 3), bucket("10 L", ["10 s"] * 3))
    >>> print(f"{both.flow.to('L/s'):.1f~P}")
    3.0 L/s
    >>> both = total(bucket("5 gal", "20 s"), bucket("5 gal", "30 s"))
    >>> print(f"{both.flow.to('gpm'):.1f~P}")
    25.0 gpm
    """
    flow = sum(each.flow_m3s for each in gaugings)
    if not flow > 0:
        raise HydrokitError("total(): needs at least one gauging with a flow above zero")
    parts = {
        f"{number} {each.method}": each.uncertainty * each.flow_m3s / flow
        for number, each in enumerate(gaugings, 1)
    }
    return Gauging.from_parts(
        flow, parts, "sum", [finding for each in gaugings for finding in each.findings]
    )


@dataclass(frozen=True, eq=False)
class GainOrLoss:
    """What a reach or a ditch gains (positive) or loses (negative) between two gaugings.

    ``uncertainty_m3s`` is one standard deviation of the change; ``certain`` says whether the
    change is more than twice that.
    """

    change_m3s: float
    uncertainty_m3s: float
    share: float
    certain: bool
    findings: tuple[Finding, ...] = ()

    @property
    def change(self) -> Any:
        """The change as a quantity."""
        return Quantity(self.change_m3s, "m^3/s")


def gain_or_loss(
    upstream: Gauging, downstream: Gauging, shared: tuple[str, ...] = ()
) -> GainOrLoss:
    r"""Whether water is gained or lost between two gaugings: is the ditch leaking?

    Parameters
    ----------
    upstream, downstream : Gauging
        Taken while the flow stood steady.
    shared : tuple of str
        Names of parts that are one and the same error in both, such as the mark of the same
        bucket; they then cancel as far as the flows are equal.

    Returns
    -------
    GainOrLoss

    Raises
    ------
    HydrokitError
        A shared part that one gauging does not have.

    Notes
    -----
    .. math:: u^2 = \sum_{own} (Q_1u_{1i})^2 + (Q_2u_{2i})^2 + \sum_{shared}(Q_2u_{2j} - Q_1u_{1j})^2

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2, eq. 13, correlation 1 for shared parts, 0 for others.

    Examples
    --------
    >>> above, below = bucket("10 L", ["5.0 s"] * 3), bucket("10 L", ["5.6 s"] * 3)
    >>> found = gain_or_loss(above, below, shared=("volume", "timing"))
    >>> print(f"{found.change.to('L/s'):.2f~P}, certain: {found.certain}")
    -0.21 L/s, certain: True
    >>> print(f"{gain_or_loss(above, below).change.to('gpm'):.1f~P}, certain: {gain_or_loss(above, below).certain}")
    -3.4 gpm, certain: False
    """
    missing = [name for name in shared for each in (upstream, downstream) if name not in each.parts]
    if missing:
        raise HydrokitError(
            f"gain_or_loss(): shared part {missing[0]!r} must be in both gaugings' parts"
        )
    change = downstream.flow_m3s - upstream.flow_m3s
    variance = 0.0
    for gauging in (upstream, downstream):
        together = combined({name: gauging.parts[name] for name in shared})
        variance += gauging.flow_m3s**2 * (gauging.uncertainty**2 - together**2)
    for name in shared:
        variance += (
            downstream.flow_m3s * downstream.parts[name] - upstream.flow_m3s * upstream.parts[name]
        ) ** 2
    doubt = float(np.sqrt(max(variance, 0.0)))
    certain = bool(abs(change) > 2 * doubt)
    kind, share = ("gain" if change > 0 else "loss"), change / upstream.flow_m3s
    sentence = (
        f"a {kind} of {100 * abs(share):.0f} % is more than twice its standard uncertainty"
        if certain
        else f"a {kind} of {100 * abs(share):.0f} % is less than twice its standard uncertainty; it may be no {kind} at all"
    )
    return GainOrLoss(change, doubt, share, certain, (Finding("note", "gain or loss", sentence),))
