"""A weir plate in the creek: its gauging, the head at a flow, and which notch to cut."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Given, Number, Quantity, units
from ..water import GRAVITY
from . import weirs
from .gauging import Gauging, findings_from
from .v_notch import v_notch

__all__ = [
    "PLATE_NEEDS",
    "WeirDesign",
    "WeirOption",
    "design_weir",
    "weir_coefficient",
    "weir_gauging",
    "weir_head",
]

_SHAPE = ("kind", "angle", "width", "channel_width", "crest_height")
PLATE_NEEDS = {
    "v-notch": ("angle",),
    "rectangular": ("width", "channel_width", "crest_height"),
    "cipolletti": ("width",),
    "broad-crested": ("width",),
}
# Standard uncertainty of the coefficient of a plate made in the field: common practice, but for
# Cipolletti, whose printed ±5 % is read as two standard deviations.
_COEFFICIENT = {"v-notch": 0.02, "rectangular": 0.02, "cipolletti": 0.025, "broad-crested": 0.05}
CLEARANCE_M = (
    0.06  # of the crest above the water below it: USBR Water Measurement Manual, ch. 7 (0.2 ft)
)


def _weir(kind: str, given: dict[str, Any]) -> Any:
    """The public flow function of a kind of weir, and its arguments beside the head."""
    if kind not in PLATE_NEEDS:
        raise HydrokitError(f"kind of weir must be one of {', '.join(PLATE_NEEDS)}; got {kind!r}")
    missing = [name for name in PLATE_NEEDS[kind] if given.get(name) is None]
    if missing:
        raise HydrokitError(f"a {kind} weir needs {' and '.join(missing)}")
    function = {
        "v-notch": v_notch,
        "rectangular": weirs.rectangular_weir,
        "cipolletti": weirs.cipolletti,
        "broad-crested": weirs.broad_crested,
    }[kind]
    optional = {
        "v-notch": ("crest_height", "channel_width", "notch_depth"),
    }.get(kind, ())
    wanted = PLATE_NEEDS[kind] + tuple(name for name in optional if given.get(name) is not None)
    return function, {name: given[name] for name in wanted}


@units("m", flow="m^3/s", angle="rad", width="m", channel_width="m", crest_height="m")
def weir_head(
    flow: Given,
    kind: str = "v-notch",
    angle: Given = None,
    width: Given = None,
    channel_width: Given = None,
    crest_height: Given = None,
) -> Number:
    """The head at which a weir passes a flow.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Flow, at most what a head of 10 m would give. Scalar or array.
    kind : {"v-notch", "rectangular", "cipolletti", "broad-crested"}
    angle : Quantity or str [angle], optional
        Of a V-notch.
    width, channel_width, crest_height : Quantity or str [length], optional
        Of the others, as in their flow functions.

    Returns
    -------
    Quantity [length]

    Raises
    ------
    HydrokitError
        A measure of the weir that is missing; a flow below zero.

    Notes
    -----
    Bisection on the flow function, which rises with the head.

    References
    ----------
    .. [1] The flow functions of :mod:`hydrokit.stream.weirs`, solved for the head.

    Examples
    --------
    >>> print(f"{weir_head('4.413 L/s', angle='90 deg').to('mm'):.1f~P}")
    100.0 mm
    >>> print(f"{weir_head('2.3808 cfs', 'cipolletti', width='2 ft').to('ft'):.3f~P}")
    0.500 ft
    """
    function, shape = _weir(
        kind, dict(zip(_SHAPE[1:], (angle, width, channel_width, crest_height)))
    )
    flow = np.asarray(flow, dtype=float)
    if np.any(flow < 0):
        raise HydrokitError("weir_head(): the flow must not be below zero")
    low, high = np.full(flow.shape, 0.0), np.full(flow.shape, 10.0)
    for _ in range(60):
        middle = (low + high) / 2
        enough = function.si(middle, **shape) >= flow
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return np.where(flow == 0, 0.0, np.where(np.isnan(flow), np.nan, high))


@units(
    None,
    head="head",
    head_uncertainty="head",
    angle="rad",
    width="m",
    channel_width="m",
    crest_height="m",
    notch_depth="m",
    angle_uncertainty="rad",
    width_uncertainty="m",
    coefficient_uncertainty="ratio",
)
def weir_gauging(
    head: Given,
    head_uncertainty: Given = "2 mm",
    kind: str = "v-notch",
    angle: Given = None,
    width: Given = None,
    channel_width: Given = None,
    crest_height: Given = None,
    notch_depth: Given = None,
    angle_uncertainty: Given = "1 deg",
    width_uncertainty: Given = "3 mm",
    coefficient_uncertainty: Given = None,
) -> Gauging:
    r"""Flow over a weir plate, with its uncertainty.

    Parameters
    ----------
    head : Quantity, str or list of them [length]
        Head read on the gauge; several readings are averaged.
    head_uncertainty : Quantity or str [length]
        Standard uncertainty of the head, that of the gauge's zero included.
    kind : {"v-notch", "rectangular", "cipolletti", "broad-crested"}
    angle, width, channel_width, crest_height, notch_depth : Quantity or str, optional
        Measures of the weir, as its flow function takes them.
    angle_uncertainty, width_uncertainty : Quantity or str
        Standard uncertainty of the opening.
    coefficient_uncertainty : ratio, optional
        Standard; by default 2 % for a thin plate made in the field, 2.5 % for Cipolletti, 5 % for
        a broad crest (common practice).

    Returns
    -------
    Gauging
        Parts ``head``, ``opening``, ``coefficient``.

    Raises
    ------
    HydrokitError
        A head that is not above zero; a measure of the weir that is missing.

    Notes
    -----
    The head's part is half the change of flow between one uncertainty above and one below.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.3, note 2: sensitivities by difference.

    Examples
    --------
    >>> g = weir_gauging("100 mm", angle="90 deg")
    >>> print(f"{g.flow.to('L/s'):.2f~P} ± {g.uncertainty:.1%}")
    4.41 L/s ± 5.6%
    >>> g = weir_gauging("0.5 ft", "0.01 ft", "cipolletti", width="2 ft")
    >>> print(f"{g.flow.to('cfs'):.2f~P} ± {g.uncertainty:.1%}")
    2.38 cfs ± 3.9%
    """
    heads = np.atleast_1d(head)
    if not np.all(heads > 0):
        raise HydrokitError(
            "weir_gauging(): the head must be above zero; a crest without water has no gauging"
        )
    function, shape = _weir(
        kind,
        {
            "angle": angle,
            "width": width,
            "channel_width": channel_width,
            "crest_height": crest_height,
            "notch_depth": notch_depth,
        },
    )
    head = float(heads.mean())
    flow = float(function.si(head, **shape))
    opening = (
        {"angle": angle + angle_uncertainty}
        if kind == "v-notch"
        else {"width": width + width_uncertainty}
    )
    if kind == "rectangular":  # a plate as wide as the channel stays so
        opening["channel_width"] = max(channel_width, opening["width"])
    parts = {
        "head": _head_share(function, shape, head, head_uncertainty, flow),
        "opening": abs(float(function.si(head, **(shape | opening))) / flow - 1),
        "coefficient": _COEFFICIENT[kind]
        if coefficient_uncertainty is None
        else coefficient_uncertainty,
    }
    findings = [
        Finding("caution", "weir", each.sentence) for each in function.check_si((head,), shape)
    ]
    if notch_depth is not None and head > notch_depth:
        findings = findings_from(
            "weir",
            (True, "problem", "the head stands above the notch: part of the water is not measured"),
        ) + [each for each in findings if "top of the notch" not in each.message]
    return Gauging.from_parts(flow, parts, "weir", findings, {"head_m": head})


weir_gauging.measurement = ("head",)


def _head_share(
    function: Any, shape: dict[str, Any], head: float, head_uncertainty: float, flow: float
) -> float:
    above = function.si(head + head_uncertainty, **shape)
    below = function.si(max(head - head_uncertainty, 0.0), **shape)
    return float((above - below) / (2 * flow))


@dataclass(frozen=True, eq=False)
class WeirOption:
    """One plate: its heads over the range of flows, and what a head error does there.

    ``head_error`` is the relative error of flow from the head's uncertainty alone,
    ``uncertainty`` that of head and coefficient together, ``rise_m`` how far the pond stands
    above the water below the weir.
    """

    kind: str
    angle_rad: float | None
    width_m: float | None
    _: KW_ONLY
    flow_m3s: np.ndarray
    head_m: np.ndarray
    head_error: np.ndarray
    uncertainty: np.ndarray
    rise_m: np.ndarray
    findings: tuple[Finding, ...]

    @property
    def opening(self) -> Quantity:
        """The angle or the crest length, as a quantity."""
        return (
            Quantity(self.width_m, "m")
            if self.angle_rad is None
            else Quantity(round(float(np.degrees(self.angle_rad)), 6), "deg")
        )

    @property
    def head(self) -> Quantity:
        """The heads, as a quantity."""
        return Quantity(self.head_m, "m")


@dataclass(frozen=True, eq=False)
class WeirDesign(Result):
    """Plates that were tried, the best first."""

    options: tuple[WeirOption, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def chosen(self) -> WeirOption:
        """The plate to cut."""
        return self.options[0]


_ANGLES_DEG = (30, 45, 60, 90)
_WIDTHS_M = (0.2, 0.3, 0.4, 0.6, 0.8, 1.0, 1.5, 2.0, 3.0)
_OUTSIDE_LIMITS = (
    0.05  # extra uncertainty of a flow outside the formula's limits, only to rank plates
)


@units(
    None,
    lowest="m^3/s",
    highest="m^3/s",
    channel_width="m",
    crest_height="m",
    available_rise="m",
    head_uncertainty="head",
)
def design_weir(
    lowest: Given,
    highest: Given,
    channel_width: Given,
    crest_height: Given = "0.3 m",
    available_rise: Given = "0.5 m",
    head_uncertainty: Given = "2 mm",
) -> WeirDesign:
    """Which notch to cut for an expected range of flow.

    Parameters
    ----------
    lowest, highest : Quantity or str [length³/time]
        The flows that must be read.
    channel_width : Quantity or str [length]
        Width of the pool behind the plate.
    crest_height : Quantity or str [length]
        Crest, or point of the notch, above the pool's floor.
    available_rise : Quantity or str [length]
        How far the pond may stand above the water below the plate.
    head_uncertainty : Quantity or str [length]
        Standard uncertainty of a head reading.

    Returns
    -------
    WeirDesign
        V-notches of 30° to 90°, rectangular and Cipolletti crests: first those that fit the place,
        in order of their largest uncertainty over the range; then the others, the nearest to fitting first.

    Raises
    ------
    HydrokitError
        A range that is no range.

    Notes
    -----
    The pond rises by the head and by 60 mm, which the water below must stay under the crest. To
    rank plates, a flow outside a formula's limits counts 5 % more uncertainty (common practice).

    References
    ----------
    .. [1] USBR, Water Measurement Manual, 3rd ed., 2001, ch. 7.

    Examples
    --------
    >>> plate = design_weir("1.5 L/s", "30 L/s", "1.5 m").chosen
    >>> print(plate.kind, f"{plate.opening:.0f~P},", f"{1000 * plate.head_m[0]:.0f} to {1000 * plate.head_m[-1]:.0f} mm")
    v-notch 45 °, 92 to 307 mm
    >>> plate = design_weir("1 cfs", "12 cfs", "8 ft", "1.5 ft").chosen
    >>> print(plate.kind, f"{plate.opening.to('ft'):.2f~P}")
    rectangular 2.62 ft
    """
    if not 0 < lowest < highest:
        raise HydrokitError("design_weir(): lowest must be above zero and below highest")
    flows = np.geomspace(lowest, highest, 6)
    room = {"channel_width": channel_width, "crest_height": crest_height}
    plates = [("v-notch", {"angle": np.radians(angle), **room}) for angle in _ANGLES_DEG]
    for width in (width for width in _WIDTHS_M if width <= 0.8 * channel_width):
        plates += [("rectangular", {"width": width, **room}), ("cipolletti", {"width": width})]
    ranked = sorted(
        (
            _option(kind, given, flows, channel_width, available_rise, head_uncertainty)
            for kind, given in plates
        ),
        key=lambda ranked_option: ranked_option[0],
    )
    options = tuple(option for _, option in ranked)
    findings = findings_from(
        "weir design",
        (
            all(option.findings for option in options),
            "caution",
            "no plate keeps its limits over the whole range; the first is the least bad, or cut two plates",
        ),
    )
    return WeirDesign(options, tuple(findings))


def _option(
    kind: str,
    given: dict[str, Any],
    flows: np.ndarray,
    channel_width: float,
    available_rise: float,
    head_uncertainty: float,
) -> Any:
    """A plate and its rank: does it fit the place, then its largest uncertainty."""
    function, shape = _weir(kind, given)
    heads = weir_head.si(flows, kind, *(given.get(name) for name in _SHAPE[1:]))
    errors = np.array(
        [
            _head_share(function, shape, head, head_uncertainty, flow)
            for head, flow in zip(heads, flows)
        ]
    )
    uncertainties = np.hypot(errors, _COEFFICIENT[kind])
    angle, width = given.get("angle"), given.get("width")
    side = {"v-notch": np.tan((angle or 0) / 2), "rectangular": 0.0, "cipolletti": 0.25}[kind]
    top = (width or 0) + 2 * side * heads[-1]
    rise = heads + CLEARANCE_M
    misfits = findings_from(
        "weir design",
        (top > channel_width, "problem", "the opening is wider than the pool"),
        (
            rise[-1] > available_rise,
            "problem",
            Sentence(
                "the water above the weir would stand {rise} above the water below it, more "
                "than there is room for",
                rise=Amount(rise[-1], "stage", 2),
            ),
        ),
    )
    outside = np.array([bool(function.check_si((head,), shape)) for head in heads])
    # A plate that does not fit is worth the less the farther it is from fitting, however well it
    # would be read.
    excess = max(float(rise[-1]) / available_rise, float(top) / channel_width) if misfits else 0.0
    rank = (excess, float(np.max(np.hypot(uncertainties, _OUTSIDE_LIMITS * outside))))
    findings = tuple(misfits + function.check_si((heads,), shape))
    return rank, WeirOption(
        kind,
        angle,
        width,
        flow_m3s=flows,
        head_m=heads,
        head_error=errors,
        uncertainty=uncertainties,
        rise_m=rise,
        findings=findings,
    )


@units("number", flow="m^3/s", head="head", width="m")
def weir_coefficient(flow: Given, head: Given, width: Given) -> Number:
    r"""Coefficient of a rectangular weir from a flow measured otherwise, by bucket say.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Measured flow, :math:`Q`. Scalar or array.
    head : Quantity or str [length]
        Head on the crest, :math:`h`.
    width : Quantity or str [length]
        Crest length, :math:`b`.

    Returns
    -------
    float
        :math:`C_d`; between 0.58 and 0.70 for a sound thin plate.

    Raises
    ------
    HydrokitError
        A head or width that is not above zero.

    Notes
    -----
    .. math:: C_d = \frac{Q}{\tfrac23\sqrt{2g}\,b\,h^{3/2}}

    References
    ----------
    .. [1] J. D. Fenton, Alternative Hydraulics Paper 6, 2015: the same form, its coefficient 0.59 to
       0.68.

    Examples
    --------
    >>> round(weir_coefficient("25 L/s", "0.10 m", "0.40 m"), 3)
    0.669
    >>> round(weir_coefficient("1 cfs", "0.4 ft", "1.2 ft"), 3)
    0.616
    """
    if not (np.all(np.asarray(head) > 0) and np.all(np.asarray(width) > 0)):
        raise HydrokitError("weir_coefficient(): head and width must be above zero")
    return np.asarray(flow) / (
        2 / 3 * np.sqrt(2 * GRAVITY) * np.asarray(width) * np.asarray(head) ** 1.5
    )
