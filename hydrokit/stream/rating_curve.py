"""The rating curve itself: flow, stage, bands and uncertainty of a fitted rating."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Iterator

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Floats, Given, Number, Outside, Quantity, units
from .rating_fit import curve, sensitivity

if TYPE_CHECKING:
    from ..units import Alike

__all__ = [
    "Rating",
    "TRUSTED_FACTOR",
    "level_uncertainty",
    "rating_band",
    "rating_flow",
    "rating_stage",
]

TRUSTED_FACTOR = 1.5  # of the highest gauged flow, common practice


@dataclass(frozen=True, eq=False)
class Rating(Result):
    """Flow from stage, :math:`Q = a(h-c)^b`, in SI.

    ``a``, ``c``, ``b`` are those of the lower piece; above ``break_m``, if there is one, the
    exponent is ``upper_b``. ``covariance`` is of (ln a, b, c, upper b, break). ``scatter`` is the
    standard deviation of ln Q of a gauging about the curve, ``freedom`` its degrees of freedom.
    ``residuals`` are ln(gauged/rated) of the gaugings used, in the order given. ``bends`` says that
    two pieces fit them far better than the one that was fitted; ``shift`` is the day from which
    the gaugings lie off those before, and by what share, where they do beyond chance.
    """

    a: float
    c: float
    b: float
    _: KW_ONLY
    covariance: np.ndarray
    scatter: float
    freedom: int
    gauged_stage_m: np.ndarray
    gauged_flow_m3s: np.ndarray
    residuals: np.ndarray
    used: np.ndarray
    upper_b: float | None = None
    break_m: float | None = None
    bends: bool = False
    shift: tuple[str, float] | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def gaugings(self) -> int:
        """How many gaugings made the curve."""
        return len(self.gauged_stage_m)

    @property
    def lowest_stage_m(self) -> float:
        """Lowest gauged stage."""
        return float(self.gauged_stage_m.min())

    @property
    def highest_stage_m(self) -> float:
        """Highest gauged stage."""
        return float(self.gauged_stage_m.max())

    @property
    def lowest_flow_m3s(self) -> float:
        """Least gauged flow."""
        return float(self.gauged_flow_m3s.min())

    @property
    def highest_flow_m3s(self) -> float:
        """Largest gauged flow."""
        return float(self.gauged_flow_m3s.max())

    @property
    def trusted_flow_m3s(self) -> float:
        """Flow above which the curve is extrapolation: 1.5 times the highest gauging."""
        return TRUSTED_FACTOR * self.highest_flow_m3s

    @property
    def off_percent(self) -> np.ndarray:
        """How far each gauging used lies above the curve, in per cent of the rated flow."""
        return 100 * np.expm1(self.residuals)

    @property
    def parameters(self) -> np.ndarray:
        """(ln a, b, c) and, with two pieces, (upper b, break)."""
        upper = () if self.break_m is None else (self.upper_b, self.break_m)
        return np.array((np.log(self.a), self.b, self.c, *upper))

    def flow(self, stage: str) -> Quantity:
        """The flow at a stage, as a quantity; see :func:`rating_flow`."""
        return rating_flow(stage, self)

    def flow_si(self, stage_m: Alike) -> Alike:
        """The flow in m³/s at a stage in m; zero at and below cease-to-flow, NaN kept."""
        return curve(self.parameters, stage_m)

    def stage(self, flow: object) -> Quantity:
        """The stage at which the curve gives a flow, as a quantity."""
        return rating_stage(flow, self)

    def slopes(self, stage_m: Number) -> Floats:
        """Change of ln flow with each of `parameters` at a stage in m."""
        # Towards cease-to-flow the logarithm runs away while the flow vanishes; there it is held.
        return sensitivity(
            self.parameters, np.maximum(stage_m, self.c + 0.1 * (self.lowest_stage_m - self.c))
        )

    def log_sd(self, stage_m: Number) -> Number:
        """Standard deviation of ln flow of the curve at a stage in m, from the fit alone."""
        slopes = self.slopes(np.asarray(stage_m, dtype=float))
        variance = np.einsum("...i,ij,...j->...", slopes, self.covariance, slopes)
        return np.sqrt(np.maximum(variance, 0.0))

    def band(self, stage: Quantity, level: float = 0.95) -> tuple[Quantity, Quantity]:
        """Lower and upper limit of the curve at a stage, as quantities; see :func:`rating_band`."""
        return rating_band(stage, self, level)

    def extrapolated(self, stage_m: Number) -> np.ndarray | np.bool:
        """Where a stage in m lies beyond 1.5 times the highest gauged flow."""
        return self.flow_si(stage_m) > self.trusted_flow_m3s

    def check(self, stage: object) -> list[Finding]:
        """What a reader must know of flows rated from these stages."""
        return rating_flow.check(stage, self)


@units("m^3/s", stage="m")
def rating_flow(stage: Given, rating: Rating) -> Number:
    """Flow that a rating gives at a stage.

    Parameters
    ----------
    stage : Quantity or str [length]
        From the datum of the gaugings. Scalar or array.
    rating : Rating

    Returns
    -------
    Quantity [length³/time]
        Zero at and below cease-to-flow.

    Warns
    -----
    RangeWarning
        A flow beyond 1.5 times the highest gauging; a stage at or below cease-to-flow.

    References
    ----------
    .. [1] ISO 18320:2020, Hydrometry: determination of the stage-discharge relationship.

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> print(f"{rating_flow('0.40 m', rating).to('L/s'):.0f~P}")
    45 L/s
    >>> print(f"{rating_flow('1.2 ft', rating).to('cfs'):.2f~P}")
    1.25 cfs
    """
    return rating.flow_si(stage)


@rating_flow.valid
def _(stage: Given, rating: Given) -> Iterator[Outside]:
    beyond = rating.extrapolated(stage)
    share = np.mean(beyond)
    yield (
        share > 0,
        (
            f"{100 * share:.1f} % of the stages give more than 1.5 times the highest gauging, "
            "which is extrapolation; gauge a higher flow"
        ),
    )
    dry = np.mean(np.asarray(stage) <= rating.c)
    yield (
        dry > 0,
        (
            f"{100 * dry:.1f} % of the stages stand at or below cease-to-flow and give no water; "
            "check the gauge's zero"
        ),
    )


@units("m", flow="m^3/s")
def rating_stage(flow: Given, rating: Rating) -> Number:
    """Stage at which a rating gives a flow.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Above zero. Scalar or array.
    rating : Rating

    Returns
    -------
    Quantity [length]
        NaN where the flow is below zero.

    References
    ----------
    .. [1] The curve of :func:`rating_flow`, solved for the stage.

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> print(f"{rating_stage('45 L/s', rating):.2f~P}")
    0.40 m
    >>> print(f"{rating_stage('1 cfs', rating).to('ft'):.2f~P}")
    1.11 ft
    """
    flow = np.asarray(flow, dtype=float)
    with np.errstate(invalid="ignore"):
        stage = rating.c + (flow / rating.a) ** (1 / rating.b)
        if rating.break_m is not None and rating.upper_b is not None:
            at_break = rating.flow_si(rating.break_m)
            above = rating.c + (rating.break_m - rating.c) * (flow / at_break) ** (
                1 / rating.upper_b
            )
            stage = np.where(flow > at_break, above, stage)
    return stage


@units(("m^3/s", "m^3/s"), stage="m", level="ratio")
def rating_band(stage: Given, rating: Rating, level: Given = 0.95) -> tuple[Number, Number]:
    """Limits within which the curve itself lies at a stage, with a given probability.

    Parameters
    ----------
    stage : Quantity or str [length]
        Scalar or array.
    rating : Rating
    level : ratio
        Two-sided probability, 0.95 or ``"95 %"``.

    Returns
    -------
    tuple of Quantity [length³/time]
        Lower and upper limit, from Student's t on ln Q.

    Raises
    ------
    HydrokitError
        A level that is not between 0 and 1.

    References
    ----------
    .. [1] N. R. Draper, H. Smith, Applied Regression Analysis, 3rd ed., Wiley, 1998, ch. 24: linearised
       limits of a non-linear fit.

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> low, high = rating_band("0.40 m", rating, "68 %")
    >>> print(f"{low.to('L/s'):.0f~P} to {high.to('L/s'):.0f~P}")
    42 L/s to 48 L/s
    >>> print(f"{rating_band('1.2 ft', rating)[1].to('cfs'):.2f~P}")
    2.04 cfs
    """
    if not 0 < level < 1:
        raise HydrokitError(
            f'rating_band(): level must lie between 0 and 1, such as 0.95 or "95 %"; got {level:g}'
        )
    from scipy.special import ndtri, stdtrit

    probability = (1 + level) / 2
    factor = stdtrit(rating.freedom, probability) if rating.freedom > 0 else ndtri(probability)
    flow, width = rating.flow_si(stage), np.exp(factor * rating.log_sd(stage))
    return flow / width, flow * width


def level_uncertainty(rating: Rating, flow_m3s: Alike, shared: float = 0.0) -> float:
    r"""How far a whole record may be off because the curve is: relative standard deviation of its sum.

    Parameters
    ----------
    rating : Rating
    flow_m3s : pandas.Series or array
        Flows of the record, in m³/s; NaN is left out.
    shared : float
        Relative standard uncertainty that all gaugings have in common beside what the covariance
        of the rating holds of it already; more gaugings do not lessen it.

    Returns
    -------
    float

    Raises
    ------
    HydrokitError
        A record without a flow above zero.

    Notes
    -----
    With :math:`s_i` the change of ln Q with the parameters and :math:`w_i = Q_i/\sum Q`,
    :math:`u^2 = \left(\sum w_i s_i\right)^T C \left(\sum w_i s_i\right) + u_{shared}^2`: one error
    of the curve for the whole record, not one a day.

    References
    ----------
    .. [1] JCGM 102:2011, extension of the GUM to any number of output quantities, 6.2.

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> print(f"{level_uncertainty(rating, [0.030, 0.045, 0.060]):.1%}")
    4.1%
    """
    flow = np.asarray(flow_m3s, dtype=float)
    flow = flow[flow > 0]
    if len(flow) == 0:
        raise HydrokitError("level_uncertainty(): the record has no flow above zero")
    slopes = rating.slopes(rating_stage.si(flow, rating))
    mean = (flow / flow.sum()) @ slopes
    return float(np.hypot(np.sqrt(mean @ rating.covariance @ mean), shared))
