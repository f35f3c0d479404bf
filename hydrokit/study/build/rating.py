"""From gaugings to the rating of the creek."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ...stream.rating_curve import Rating
    from ..study import Study

__all__ = ["RatingDrawn", "RatingPrecision", "rating", "rating_drawn", "rating_precision"]

# A staff gauge read at a gauging, one standard deviation: 0.01 ft, the accuracy that the U.S.
# Geological Survey asks of a stage (Office of Surface Water, technical memorandum 93.07, restated
# in 96.05).
STAGE_READING_M = 0.00305


def rating(study: Study) -> Rating | None:
    """Rating through the gaugings that have a stage; None where they are too few to make one.

    Of two pieces where the site file says so, or where it leaves that open and the gaugings bend.
    """
    folder, stream, gauged = study.folder, study.site.stream, study.gaugings
    if gauged is None:
        return None
    from ...stream.rating import FREE_GAUGINGS, TWO_PIECE_GAUGINGS, fit_rating

    staged = np.isfinite(gauged.stage_m)
    used = int((staged & ~gauged.ice).sum())
    if used < 2 or (used < FREE_GAUGINGS and "cease_to_flow" not in stream):
        return None
    few = (
        len(np.unique(gauged.stage_m[staged & ~gauged.ice])) < FREE_GAUGINGS
    )  # as fit_rating counts them

    def fitted(pieces: int) -> Rating:
        return fit_rating.si(
            gauged.stage_m[staged],
            gauged.flow_m3s[staged],
            gauged.uncertainty[staged],
            cease_to_flow=stream.get("cease_to_flow"),
            control=stream.get("control") if few else None,
            pieces=pieces,
            ice=gauged.ice[staged],
            dates=gauged.date[staged],
            stage_uncertainty=STAGE_READING_M,
            methods=[name for name, kept in zip(gauged.method, staged) if kept],
        )

    wanted = stream.get("pieces")
    if wanted == 2 and (used < TWO_PIECE_GAUGINGS or few):
        raise folder.wrong(
            "[stream] pieces",
            (
                f"two curves need {TWO_PIECE_GAUGINGS} gaugings without ice or more, at five "
                f"stages or more; there are {used}; leave pieces out"
            ),
        )
    found = folder.sentence("[stream] gaugings", lambda: fitted(int(wanted or 1)))
    return (
        folder.sentence("[stream] pieces", lambda: fitted(2))
        if wanted is None and found.bends
        else found
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class RatingPrecision:
    """How sure the rating is where it matters.

    Parameters
    ----------
    decides : bool
        Whether `at` are the ends of the range that decides the energy; else the middle of what was gauged.
    at : tuple of (float, float)
        Flow in m³/s, and relative standard deviation of the curve there.
    few : bool
        Gaugings at too few stages to fit the exponent.
    stages_beyond, water_beyond : float
        Share of the logged stages, and of their water, beyond what the gaugings bear; nought without a log.
    """

    decides: bool
    at: tuple[tuple[float, float], ...]
    few: bool
    stages_beyond: float
    water_beyond: float


def rating_precision(study: Study) -> RatingPrecision | None:
    """How sure the rating is where it matters, or None without one."""
    from ...stream.rating import FREE_GAUGINGS
    from ...stream.rating_curve import rating_stage

    curve, deciding = study.rating, study.deciding_range
    if curve is None:
        return None
    middle = float(np.sqrt(curve.lowest_flow_m3s * curve.highest_flow_m3s))
    flows = (middle,) if deciding is None else deciding
    stages = beyond = 0.0
    if study.stage is not None:
        flow = curve.flow_si(study.stage.dropna().to_numpy())
        past = flow > curve.trusted_flow_m3s
        if past.any():
            stages, beyond = float(past.mean()), float(flow[past].sum() / flow.sum())
    return RatingPrecision(
        decides=deciding is not None,
        at=tuple((each, float(curve.log_sd(rating_stage.si(each, curve)))) for each in flows),
        few=len(np.unique(curve.gauged_stage_m)) < FREE_GAUGINGS,
        stages_beyond=stages,
        water_beyond=beyond,
    )


_TICKS = 7  # stages named along an axis, at most
_STEPS = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
_FOOT_M = 0.3048


@dataclass(frozen=True, eq=False)
class RatingDrawn:
    """The stretch of a rating that is drawn.

    Parameters
    ----------
    stage_m : ndarray
        Rising, dense below, where the curve is steep.
    flows_m3s : (float, float)
        Flows between which it is shown.
    """

    stage_m: np.ndarray
    flows_m3s: tuple[float, float]

    def ticks_m(self, system: str) -> np.ndarray:
        """Round stages to name along an axis of the height over cease-to-flow, evenly spread on it."""
        unit = _FOOT_M if system == "us" else 1.0
        even = self.stage_m[:: max(len(self.stage_m) // _TICKS, 1)] / unit
        found: list[float] = []
        for number, each in enumerate(even[1:], 1):
            gap = each - even[number - 1]
            step = max((size for size in _STEPS if size <= gap), default=_STEPS[0])
            found.append(float(np.round(each / step) * step) * unit)
        return np.unique(np.array(found))


def rating_drawn(study: Study) -> RatingDrawn | None:
    """How much of the rating is shown: from half the least flow that matters to well above the
    highest gauging; None without one."""
    from ...stream.rating_curve import TRUSTED_FACTOR, rating_stage

    curve, deciding = study.rating, study.deciding_range
    if curve is None:
        return None
    top = max(
        curve.highest_stage_m,
        float(rating_stage.si(1.3 * TRUSTED_FACTOR * curve.highest_flow_m3s, curve)),
    )
    least = 0.5 * min(curve.lowest_flow_m3s, *(deciding or (np.inf,)))
    bottom = float(rating_stage.si(least, curve))
    over = np.geomspace(bottom - curve.c, top - curve.c, 200)
    stage = curve.c + over
    return RatingDrawn(stage, (least, 1.5 * float(curve.flow_si(stage[-1]))))
