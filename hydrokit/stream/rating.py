r"""Fitting a rating: :math:`Q = a(h-c)^b` through gaugings of stage and flow.

Above the cease-to-flow level c; with two pieces the exponent changes at a break, the curve
staying whole. By weighted least squares of ln Q.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import Finding, HydrokitError, counted
from ..sentences import Amount, Sentence
from ..units import Floats, Given, units
from .gauging import findings_from, method_called
from .rating_curve import Rating, level_uncertainty, rating_band, rating_flow, rating_stage
from .rating_fit import CEASE, EXPONENT, fit

if TYPE_CHECKING:
    from .rating_fit import Fit

__all__ = [
    "CONTROLS",
    "FREE_GAUGINGS",
    "Rating",
    "TWO_PIECE_GAUGINGS",
    "fit_rating",
    "level_uncertainty",
    "rating_band",
    "rating_flow",
    "rating_stage",
]

# Exponent of the flow over a control of each shape: critical flow through a rectangle, a parabola
# and a triangle gives 3/2, 2 and 5/2; a wide channel by Manning 5/3. How far a real control
# departs from its shape is common practice.
CONTROLS = {
    "rectangular": (1.5, 0.1),
    "channel": (5 / 3, 0.15),
    "riffle": (2.0, 0.25),
    "v-notch": (2.5, 0.1),
}
_UNNAMED_CONTROL = (2.0, 0.4)  # spans all shapes above
FREE_GAUGINGS = 5  # at fewer stages the gaugings do not decide three parameters
TWO_PIECE_GAUGINGS = 10  # nor at fewer than these the five of two pieces
_ASSUMED_SCATTER = 0.10  # relative, of one gauging when nothing tells it (common practice)
_LEAST_SCATTER = 0.05  # what fewer than three spare gaugings may claim at best


def _held_exponent(exponent: Any, control: str | None, sd: Any, few: bool) -> Any:
    """The exponent to hold and its standard uncertainty, or (None, 0) to fit it."""
    if exponent is not None and control is not None:
        raise HydrokitError("fit_rating(): give the exponent or the control's shape, not both")
    if control is not None and control not in CONTROLS:
        raise HydrokitError(
            f"fit_rating(): control must be one of {', '.join(CONTROLS)}; got {control!r}"
        )
    if exponent is not None:
        if not 0.5 <= exponent <= 5:
            raise HydrokitError(
                f"fit_rating(): exponent must lie between 0.5 and 5, got {exponent:g}"
            )
        return exponent, sd or 0.0
    if control is None and not few:
        return None, 0.0
    value, usual = _UNNAMED_CONTROL if control is None else CONTROLS[control]
    return value, usual if sd is None else sd


@units(
    None,
    stage="m",
    flow="m^3/s",
    uncertainty="ratio",
    cease_to_flow="m",
    exponent="count",
    cease_to_flow_uncertainty="m",
    exponent_uncertainty="count",
    stage_uncertainty="m",
)
def fit_rating(
    stage: Given,
    flow: Given,
    uncertainty: Given = None,
    cease_to_flow: Given = None,
    exponent: Given = None,
    control: str | None = None,
    pieces: int = 1,
    ice: np.ndarray | None = None,
    dates: np.ndarray | None = None,
    cease_to_flow_uncertainty: Given = "5 mm",
    exponent_uncertainty: Given = None,
    stage_uncertainty: Given = "0 mm",
    methods: Sequence[str] | None = None,
) -> Rating:
    r"""Fit :math:`Q = a(h-c)^b` to gaugings.

    Parameters
    ----------
    stage : array Quantity or list [length]
        Stage, :math:`h`, at each gauging, from one datum.
    flow : array Quantity or list [length³/time]
        Gauged flow, :math:`Q`.
    uncertainty : ratio or list, optional
        Relative standard uncertainty of each gauging. Its square, together with whatever scatter
        is left over and common to all, weighs the gauging.
    cease_to_flow : Quantity or str [length], optional
        Surveyed stage at which the creek stops flowing, :math:`c`; held fixed. Should be had with
        fewer than five gaugings, and must with one.
    exponent : count, optional
        :math:`b`, held fixed.
    control : {"rectangular", "channel", "riffle", "v-notch"}, optional
        Shape of what holds the water back below the gauge; holds the exponent at 1.5, 1.67, 2 or
        2.5. With fewer than five gauged stages, and neither given, 2 ± 0.4 is held.
    pieces : {1, 2}
        One curve, or two that meet at a fitted break.
    ice : list of bool, optional
        Gaugings taken with ice at the control: left out, for the stage then reads high.
    dates : list, optional
        Dates of the gaugings, anything numpy takes as datetime64; with them shifts are looked for.
    cease_to_flow_uncertainty : Quantity or str [length]
        Standard uncertainty of a surveyed :math:`c`; it widens the bands.
    exponent_uncertainty : count, optional
        Standard uncertainty of a held exponent; by default that of its shape, none for a number.
    stage_uncertainty : Quantity or str [length]
        Standard uncertainty of the stage read at a gauging, :math:`u_h`.
    methods : list of str, optional
        How each flow was gauged, such as "float": what all gaugings of one method have in common, up
        to `uncertainty`, is then one error of the whole curve.

    Returns
    -------
    Rating

    Raises
    ------
    HydrokitError
        Arrays of unequal length, a flow that is not above zero, a gauging below cease-to-flow, too
        few gaugings for what is asked.

    Notes
    -----
    The sum of squared residuals of ln Q, over the gauging variances :math:`u_i^2+\tau^2`, is least;
    :math:`\tau` is such that the sum equals its degrees of freedom. The covariance is that of the
    linearised fit; held parameters add their own uncertainty through what the others would do in answer.
    A stage that is read :math:`u_h` off moves ln Q by :math:`b\,u_h/(h-c)`, which counts in
    :math:`u_i` by its square. Of :math:`u_i` the part :math:`u_m` that is one and the same error in
    all gaugings of a method does not scatter: it is taken off the weights and added to the
    covariance as :math:`J(\sum_m u_m^2 1_m 1_m^T)J^T`, J the change of the parameters with each ln
    Q [3]_.

    References
    ----------
    .. [1] ISO 18320:2020, Hydrometry: determination of the stage-discharge relationship.
    .. [2] R. C. Paule, J. Mandel, "Consensus values and weighting factors", J. Res. NBS 87(5):377-385,
       1982: the common scatter.
    .. [3] JCGM 102:2011, extension of the GUM to any number of output quantities, 6.2.

    Examples
    --------
    >>> rating = fit_rating(["0.22 m", "0.27 m", "0.31 m", "0.38 m", "0.45 m", "0.60 m"],
    ...                     ["14 L/s", "29 L/s", "44 L/s", "78 L/s", "123 L/s", "250 L/s"])
    >>> print(f"b = {rating.b:.2f}, c = {rating.c:.2f} m, {rating.flow('0.5 m').to('L/s'):.0f~P}")
    b = 1.95, c = 0.11 m, 160 L/s
    >>> rating = fit_rating(["1.0 ft", "1.5 ft"], ["0.8 cfs", "2.4 cfs"], cease_to_flow="0.4 ft", control="riffle")
    >>> print(f"{rating.flow('1.2 ft').to('cfs'):.2f~P}")
    1.34 cfs
    """
    stage, flow, sd, used = _gaugings(stage, flow, uncertainty, ice)
    if dates is not None and len(np.atleast_1d(dates)) != len(used):
        raise HydrokitError(f"fit_rating(): needs one date for each of the {len(used)} gaugings")
    few = len(np.unique(stage)) < FREE_GAUGINGS
    shapeless = few and exponent is None and control is None
    exponent, exponent_uncertainty = _held_exponent(exponent, control, exponent_uncertainty, few)
    if cease_to_flow is None and len(np.unique(stage)) < 2:
        raise HydrokitError(
            "fit_rating(): one stage alone makes no rating; survey the stage at which the creek "
            "stops flowing (cease_to_flow), or gauge at another stage"
        )
    if cease_to_flow is not None and cease_to_flow >= stage.min():
        raise HydrokitError(
            Sentence(
                "fit_rating(): a gauging at stage {stage} does not lie above cease-to-flow "
                "{cease}; check the datum of both",
                stage=Amount(stage.min(), "stage"),
                cease=Amount(cease_to_flow, "stage"),
            )
        )
    if pieces not in (1, 2) or (
        pieces == 2 and (len(stage) < TWO_PIECE_GAUGINGS or exponent is not None)
    ):
        raise HydrokitError(
            "fit_rating(): pieces is 1, or 2 with ten gaugings or more and the exponent free"
        )

    held = {
        EXPONENT: (exponent, exponent_uncertainty),
        CEASE: (cease_to_flow, cease_to_flow_uncertainty),
    }
    held = {index: each for index, each in held.items() if each[0] is not None}
    least = 0.0
    if not np.any(sd):
        freedom = len(stage) + len(held) - (3 if pieces == 1 else 5)
        least = _ASSUMED_SCATTER if freedom < 1 else _LEAST_SCATTER if freedom < 3 else 0.0
    together = _together(methods, sd, used)
    result = fit(stage, flow, sd, held, pieces, least, stage_uncertainty, together)
    rating = Rating(
        a=float(np.exp(result.parameters[0])),
        b=float(result.parameters[1]),
        c=float(result.parameters[2]),
        upper_b=float(result.parameters[3]) if pieces == 2 else None,
        break_m=float(result.parameters[4]) if pieces == 2 else None,
        covariance=result.covariance,
        scatter=result.scatter,
        freedom=result.freedom,
        gauged_stage_m=stage,
        gauged_flow_m3s=flow,
        residuals=result.residuals,
        used=used,
        bends=result.bends,
        shift=None
        if dates is None
        else _shift(result.residuals, np.asarray(dates, dtype="datetime64[s]")[used]),
    )
    findings = _findings(rating, held, shapeless, ~used, result)
    return replace(rating, findings=tuple(findings))


fit_rating.measurement = ("stage", "flow")


def _gaugings(
    stage: Floats, flow: Floats, uncertainty: Floats | None, ice: np.ndarray | None
) -> Any:
    stage, flow = np.atleast_1d(stage), np.atleast_1d(flow)
    if len(stage) != len(flow) or len(stage) == 0:
        raise HydrokitError(
            f"fit_rating(): needs a stage for each flow, got {len(stage)} and {len(flow)}"
        )
    used = np.ones(len(stage), dtype=bool) if ice is None else ~np.asarray(ice, dtype=bool)
    sd = (
        np.zeros(len(stage))
        if uncertainty is None
        else np.broadcast_to(uncertainty, stage.shape).astype(float)
    )
    if len(used) != len(stage):
        raise HydrokitError(
            f"fit_rating(): needs one ice mark for each of the {len(stage)} gaugings, got {len(used)}"
        )
    if not used.any():
        raise HydrokitError(
            "fit_rating(): every gauging is marked as taken under ice; gauge in open water"
        )
    bad = used & ~((flow > 0) & np.isfinite(stage))
    if np.any(bad):
        raise HydrokitError(
            f"fit_rating(): gauging {int(np.argmax(bad)) + 1} needs a stage and a flow above "
            "zero; give cease_to_flow for a dry creek"
        )
    if uncertainty is not None and not np.all(sd > 0):
        raise HydrokitError(
            "fit_rating(): every uncertainty must be above zero; leave them out if unknown"
        )
    return stage[used].astype(float), flow[used].astype(float), sd[used], used


def _together(methods: Any, sd: np.ndarray, used: np.ndarray) -> np.ndarray:
    """What all gaugings of one method have in common: a row a method, the relative error it makes
    in each of them."""
    if methods is None or not np.any(sd):
        return np.zeros((0, len(sd)))
    names = np.asarray(methods, dtype=object)
    if len(names) != len(used):
        raise HydrokitError(f"fit_rating(): needs one method for each of the {len(used)} gaugings")
    names = names[used]
    most = np.minimum([method_called(str(each)).shared for each in names], sd)
    return np.stack([np.where(names == each, most, 0.0) for each in dict.fromkeys(names)])


def _findings(
    rating: Rating,
    held: dict[int, tuple[float, float]],
    shapeless: bool,
    iced: np.ndarray,
    result: Fit,
) -> list[Finding]:
    stages = len(np.unique(rating.gauged_stage_m))
    few = stages < FREE_GAUGINGS
    expected = np.sqrt(result.own**2 + result.common_scatter**2)
    surprise = np.abs(rating.residuals) / np.where(expected > 0, expected, np.inf)
    odd = int(np.argmax(surprise))
    span = rating.highest_flow_m3s / rating.lowest_flow_m3s
    cease_uncertainty = np.sqrt(rating.covariance[CEASE, CEASE])
    findings = findings_from(
        "rating",
        (
            np.any(iced),
            "note",
            (
                f"{counted(int(np.sum(iced)), 'gauging')} with ice at the control left out: ice "
                "holds the water up, so the stage reads high"
            ),
        ),
        (
            few,
            "caution",
            (
                f"gaugings at {counted(stages, 'stage')}: the curve leans on cease-to-flow and "
                "the control's shape; five free it"
            ),
        ),
        (
            shapeless,
            "problem",
            f"the control's shape is not said and an exponent of 2 assumed; name it: {', '.join(CONTROLS)}",
        ),
        (
            EXPONENT not in held and not 1.2 <= rating.b <= 4,
            "caution",
            f"an exponent of {rating.b:.2f} fits no common control; check the datum or survey cease-to-flow",
        ),
        (
            CEASE not in held
            and (result.at_limit or cease_uncertainty > 0.5 * (rating.lowest_stage_m - rating.c)),
            "caution",
            "the gaugings hardly tell at what stage the creek stops flowing; survey it, or gauge lower",
        ),
        (
            not few and surprise[odd] > 3,
            "caution",
            Sentence(
                "the gauging at stage {stage} lies {share} {side} the curve; look at its field sheet",
                stage=Amount(rating.gauged_stage_m[odd], "stage"),
                **_off(float(np.expm1(rating.residuals[odd]))),
            ),
        ),
        (
            result.bends,
            "note",
            "the gaugings bend away from one curve; two pieces fit them far better",
        ),
        (
            span < 3,
            "note",
            f"the gaugings span flows of only 1 to {span:.1f}; gauge lower and higher water",
        ),
    )
    if rating.shift is not None:
        date, change = rating.shift
        findings.append(
            Finding(
                "problem",
                "rating",
                Sentence(
                    "gaugings from {date} on lie {share} {side} those before at one stage: the "
                    "control has shifted; fit the two periods apart",
                    date=date,
                    **_off(change),
                ),
            )
        )
    return findings


def _off(change: float) -> dict[str, Any]:
    """How far, and on which side, as parts of a sentence."""
    return {"share": Amount(abs(change), "share", 2), "side": "above" if change > 0 else "below"}


def _shift(residuals: np.ndarray, when: np.ndarray) -> Any:
    """The date from which residuals differ most from those before, if that is beyond chance."""
    order = np.argsort(when, kind="stable")
    residuals, when, count = residuals[order], when[order], len(residuals)
    if count < 6:
        return None
    # Sums up to each split instead of two slices at each: the time grows with the gaugings, not
    # with their square.
    centred = residuals - residuals.mean()
    split = np.arange(3, count - 2)
    total, squares = np.cumsum(centred), np.cumsum(centred**2)
    below, above = total[split - 1] / split, (total[-1] - total[split - 1]) / (count - split)
    spread = np.maximum(squares[split - 1] - split * below**2, 0) + np.maximum(
        squares[-1] - squares[split - 1] - (count - split) * above**2, 0
    )
    jump = above - below
    strength = np.abs(jump) / np.maximum(
        np.sqrt(spread / (count - 2)) * np.sqrt(1 / split + 1 / (count - split)), 1e-9
    )
    strength[np.abs(jump) <= 0.05] = 0.0
    at = int(np.argmax(strength))
    # the largest t of some twenty splits passes four by chance in one series of two hundred
    return (
        (str(when[split[at]].astype("datetime64[D]")), float(np.expm1(jump[at])))
        if strength[at] > 4.0
        else None
    )
