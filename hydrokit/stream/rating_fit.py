"""The least-squares work behind a rating curve, on plain floats.

Parameters are always (ln a, b, c) or, with a break, (ln a, b, c, upper b, break).
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import HydrokitError

if TYPE_CHECKING:
    from ..units import Floats, Number

__all__ = ["CEASE", "EXPONENT", "Fit", "curve", "fit", "sensitivity"]

EXPONENT, CEASE = 1, 2  # their places among the parameters, for those held fixed
_LEAST_OWN = 0.3  # of a gauging's uncertainty, that is its own whatever the gaugings have in common
_EACH_SIDE = 3  # gaugings below and above a break, at least


@dataclass(frozen=True, eq=False)
class Fit:
    """What `fit` found.

    `common_scatter` is the scatter beyond the gaugings' `own` uncertainties, without what they have
    in common; `at_limit` says that cease-to-flow ran to the end of its range, `bends` that two
    pieces fit far better.
    """

    parameters: np.ndarray
    covariance: np.ndarray
    residuals: np.ndarray
    _: KW_ONLY
    scatter: float
    common_scatter: float
    own: np.ndarray
    freedom: int
    at_limit: bool
    bends: bool


def _log_flow(parameters: np.ndarray, log_over: np.ndarray) -> Number:
    """ln Q from height over cease-to-flow."""
    log_a, b = parameters[:2]
    if len(parameters) == 3:
        return log_a + b * log_over
    _, _, c, upper, at = parameters
    log_break = np.log(at - c)
    return (
        log_a + b * np.minimum(log_over, log_break) + upper * np.maximum(log_over - log_break, 0.0)
    )


def curve(parameters: np.ndarray, stage: np.ndarray) -> np.ndarray:
    """Flow at a stage; zero at and below cease-to-flow, NaN kept."""
    over = np.asarray(stage, dtype=float) - parameters[2]
    # -inf where dry: every exponent is above zero, so exp() makes it zero.
    with np.errstate(divide="ignore"):
        log_over = np.log(np.maximum(over, 0.0))
    return np.exp(_log_flow(parameters, log_over))


def sensitivity(parameters: np.ndarray, stage: np.ndarray) -> Floats:
    """Change of ln Q with each parameter; last axis the parameters."""
    _, b, c = parameters[:3]
    over = np.asarray(stage, dtype=float) - c
    log_over, one = np.log(over), np.ones_like(over)
    if len(parameters) == 3:
        return np.stack([one, log_over, -b / over], axis=-1)
    upper, at = parameters[3:]
    log_break, above = np.log(at - c), over > at - c
    return np.stack(
        [
            one,
            np.minimum(log_over, log_break),
            np.where(above, -b / (at - c) + upper / (at - c) - upper / over, -b / over),
            np.maximum(log_over - log_break, 0.0),
            np.where(above, (b - upper) / (at - c), 0.0),
        ],
        axis=-1,
    )


def _residuals(parameters: np.ndarray, stage: np.ndarray, log_flow: np.ndarray) -> Floats:
    return log_flow - _log_flow(parameters, np.log(stage - parameters[2]))


def fit(
    stage: np.ndarray,
    flow: np.ndarray,
    sd: np.ndarray,
    held: dict[int, tuple[float, float]],
    pieces: int,
    least_scatter: float,
    stage_uncertainty: float = 0.0,
    together: np.ndarray | None = None,
) -> Fit:
    """Weighted least squares of ln Q.

    Parameters
    ----------
    stage, flow, sd : array
        Gaugings in SI; relative standard uncertainties, or zeros where unknown.
    held : dict of int to (value, standard uncertainty)
        Parameters that are not fitted, by index.
    pieces : {1, 2}
    least_scatter : float
        Scatter that is never undercut.
    stage_uncertainty : float
        Standard uncertainty of each stage, in m.
    together : array
        Errors that some of the gaugings have in common: a row each, the relative error it makes in
        each gauging.
    """
    log_flow = np.log(flow)
    values = {index: value for index, (value, _) in held.items()}
    weights = np.ones(len(stage)) if not np.any(sd) else 1 / np.maximum(sd, 1e-4) ** 2
    start, at_limit = _search(stage, log_flow, weights, values, pieces)
    together = np.zeros((0, len(stage))) if together is None else together
    if np.any(sd):
        # of the stage's error the flow answers by its slope; what gaugings have in common does not scatter
        slope = -sensitivity(start, stage)[:, CEASE]
        sd = np.sqrt(
            np.maximum(sd**2 - np.sum(together**2, axis=0), (_LEAST_OWN * sd) ** 2)
            + (slope * stage_uncertainty) ** 2
        )
        weights = 1 / np.maximum(sd, 1e-4) ** 2
    free = np.array([index for index in range(len(start)) if index not in held])
    freedom = len(stage) - len(free)

    def polished(common: float) -> Floats:
        return _polish(start, stage, log_flow, 1 / (sd**2 + common**2), free)

    if not np.any(sd):
        parameters = _polish(start, stage, log_flow, weights, free)
        spare = (
            np.sqrt(np.sum(_residuals(parameters, stage, log_flow) ** 2) / freedom)
            if freedom > 0
            else 0.0
        )
        common = max(float(spare), least_scatter, 1e-6)
    else:
        common = _common_scatter(polished, stage, log_flow, sd, freedom)
        parameters = polished(common)
    residuals = _residuals(parameters, stage, log_flow)
    scatter = np.sqrt(np.sum(residuals**2) / freedom) if freedom > 0 else common
    covariance = _covariance(parameters, stage, 1 / (sd**2 + common**2), free, held, together)
    bends = pieces == 1 and _bends(stage, log_flow, weights, values, np.sum(weights * residuals**2))
    return Fit(
        parameters,
        covariance,
        residuals,
        scatter=max(float(scatter), least_scatter),
        common_scatter=common,
        own=sd,
        freedom=freedom,
        at_limit=at_limit,
        bends=bends,
    )


def _common_scatter(
    polished: Any, stage: np.ndarray, log_flow: np.ndarray, sd: np.ndarray, freedom: int
) -> float:
    """The scatter, beyond the gaugings' own, that makes chi-squared equal its degrees of freedom."""
    if freedom < 1:
        return 0.0

    def excess(common: float) -> float:
        left = _residuals(polished(common), stage, log_flow)
        return float(np.sum(left**2 / (sd**2 + common**2)) - freedom)

    if excess(0.0) <= 0:
        return 0.0
    from scipy.optimize import brentq

    high = 0.1
    while excess(high) > 0:
        high *= 2
    return float(brentq(excess, 0.0, high, xtol=1e-12))


def _line(x: np.ndarray, y: np.ndarray, weights: np.ndarray, slope: float | None = None) -> Floats:
    """Weighted squares left by a line of y on each row of x, with the slope fitted or held."""
    total = weights.sum()
    x = x - (x @ weights / total)[..., None]
    y = y - y @ weights / total
    if slope is None:
        slope = (x * y) @ weights / np.maximum((x * x) @ weights, 1e-300)
        # A rating rises; a falling line is no candidate.
        slope = np.maximum(slope, 0.05)
    return ((y - np.asarray(slope)[..., None] * x) ** 2) @ weights


def _search(
    stage: np.ndarray,
    log_flow: np.ndarray,
    weights: np.ndarray,
    values: dict[int, float],
    pieces: int,
) -> Any:
    """Start near the least sum of squares: cease-to-flow on a grid, the rest in closed form."""
    if pieces == 2:
        return _search_break(stage, log_flow, weights, _grid(stage, values, 60)), False
    below = _grid(stage, values, 300)
    left = _line(np.log(stage - below[:, None]), log_flow, weights, values.get(EXPONENT))
    best = int(np.argmin(left))
    c = below[best]
    x = np.log(stage - c)
    b = values[EXPONENT] if EXPONENT in values else _weighted_slope(x, log_flow, weights)
    at_limit = len(below) > 1 and best in (0, len(below) - 1)
    return np.array([(log_flow - b * x) @ weights / weights.sum(), b, c]), at_limit


def _grid(stage: np.ndarray, values: dict[int, float], count: int) -> Floats:
    """Candidate levels of cease-to-flow, or the one that is held."""
    if CEASE in values:
        return np.array([values[CEASE]])
    return stage.min() - max(float(np.ptp(stage)), 0.05) * np.geomspace(1e-3, 20, count)


def _weighted_slope(x: np.ndarray, y: np.ndarray, weights: np.ndarray) -> float:
    x = x - x @ weights / weights.sum()
    return max(float((x * y) @ weights / max((x * x) @ weights, 1e-300)), 0.05)


def _search_break(
    stage: np.ndarray, log_flow: np.ndarray, weights: np.ndarray, below: Floats
) -> Floats:
    """The best rising pair of pieces over a grid of cease-to-flow and break."""
    ordered = np.unique(stage)
    breaks = (
        ordered[_EACH_SIDE - 1 : -_EACH_SIDE] + ordered[_EACH_SIDE : len(ordered) - _EACH_SIDE + 1]
    ) / 2
    breaks = (
        breaks[np.unique(np.linspace(0, len(breaks) - 1, 40).astype(int))]
        if len(breaks)
        else breaks
    )
    if len(breaks) == 0:
        raise HydrokitError(
            "fit_rating(): two pieces need six gaugings or more at different stages"
        )
    root = np.sqrt(weights)
    x = np.log(stage - below[:, None])[:, None, :]
    corner = np.log(breaks - below[:, None])[:, :, None]
    columns = np.stack(
        [
            np.ones(corner.shape[:2] + stage.shape),
            np.minimum(x, corner),
            np.maximum(x - corner, 0.0),
        ],
        axis=-1,
    )
    q, r = np.linalg.qr(columns * root[:, None])
    found = np.linalg.solve(r, np.swapaxes(q, -1, -2) @ (log_flow * root)[:, None])[..., 0]
    left = np.sum(weights * (log_flow - (columns @ found[..., None])[..., 0]) ** 2, axis=-1)
    left = np.where(np.min(found[..., 1:], axis=-1) > 0.05, left, np.inf)
    at = np.unravel_index(np.argmin(left), left.shape)
    if not np.isfinite(left[at]):
        raise HydrokitError("fit_rating(): no rising curve of two pieces fits; use pieces=1")
    log_a, b, upper = found[at]
    return np.array([log_a, b, below[at[0]], upper, breaks[at[1]]])


def _bends(
    stage: np.ndarray,
    log_flow: np.ndarray,
    weights: np.ndarray,
    values: dict[int, float],
    squares: float,
) -> bool:
    """Whether two pieces fit so much better that chance hardly explains it.

    By the corrected information criterion, ten or more in its favour (Burnham and Anderson, Model
    Selection and Multimodel Inference, 2nd ed., 2002, s. 2.6).
    """
    count = len(stage)
    if count < 12 or EXPONENT in values:
        return False
    try:
        parameters = _search_break(stage, log_flow, weights, _grid(stage, values, 60))
    except HydrokitError:
        return False
    bent = np.sum(weights * _residuals(parameters, stage, log_flow) ** 2)

    def criterion(left: float, terms: int) -> float:
        return count * np.log(left / count) + 2 * terms * count / (count - terms - 1)

    return bool(criterion(squares, 4) - criterion(bent, 6) > 10)


def _polish(
    parameters: np.ndarray,
    stage: np.ndarray,
    log_flow: np.ndarray,
    weights: np.ndarray,
    free: np.ndarray,
) -> Floats:
    """Gauss-Newton from a near start, each step cut until the squares fall."""
    parameters = parameters.copy()
    if len(free) == 0:
        return parameters
    root = np.sqrt(weights)
    left = _residuals(parameters, stage, log_flow)
    squares = float(np.sum(weights * left**2))
    for _ in range(60):
        slopes = sensitivity(parameters, stage)[:, free]
        step = np.linalg.lstsq(slopes * root[:, None], left * root, rcond=None)[0]
        for _ in range(40):
            trial = parameters.copy()
            trial[free] += step
            if _possible(trial, stage):
                trial_left = _residuals(trial, stage, log_flow)
                trial_squares = float(np.sum(weights * trial_left**2))
                if trial_squares <= squares:
                    break
            step = step / 2
        else:
            return parameters
        done = np.all(np.abs(step) <= 1e-12 * np.maximum(np.abs(trial[free]), 1e-3))
        parameters, left, squares = trial, trial_left, trial_squares
        if done:
            break
    return parameters


def _possible(parameters: np.ndarray, stage: np.ndarray) -> bool:
    lowest = stage.min()
    if not (parameters[2] < lowest and parameters[1] > 0):
        return False
    if len(parameters) == 3:
        return True
    ordered = np.sort(stage)
    return parameters[3] > 0 and ordered[_EACH_SIDE - 1] < parameters[4] < ordered[-_EACH_SIDE]


def _covariance(
    parameters: np.ndarray,
    stage: np.ndarray,
    weights: np.ndarray,
    free: np.ndarray,
    held: dict[int, tuple[float, float]],
    together: np.ndarray,
) -> Floats:
    """Of all parameters: the free ones from the fit, the held ones from their own uncertainty.

    A held parameter that is off drags the free ones with it, so the two are correlated.
    """
    slopes = sensitivity(parameters, stage)
    fixed = np.array(sorted(held), dtype=int)
    own = slopes[:, free]
    normal = np.linalg.pinv(own.T @ (own * weights[:, None]))
    covariance = np.zeros((len(parameters),) * 2)
    alike = normal @ (own.T @ (weights[:, None] * together.T))
    covariance[np.ix_(free, free)] = normal + alike @ alike.T
    if len(fixed):
        answer = -normal @ (own.T @ (slopes[:, fixed] * weights[:, None]))
        sd = np.diag([held[index][1] ** 2 for index in fixed])
        covariance[np.ix_(free, free)] += answer @ sd @ answer.T
        covariance[np.ix_(free, fixed)] = answer @ sd
        covariance[np.ix_(fixed, free)] = sd @ answer.T
        covariance[np.ix_(fixed, fixed)] = sd
    return covariance
