"""From gaugings to the rating of the creek."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ...stream.rating_curve import Rating
    from ..study import Study

__all__ = ["RatingPrecision", "rating", "rating_precision"]

# A staff gauge read at a gauging, one standard deviation: 0.01 ft, the accuracy that the U.S. Geological Survey
# asks of a stage (Office of Surface Water, technical memorandum 93.07, restated in 96.05).
STAGE_READING_M = 0.00305


def rating(study: Study) -> Rating | None:
    """Rating through the gaugings that have a stage; None where they are too few to make one.

    Of two segments where the site file says so, or where it leaves that open and the gaugings bend.
    """
    folder, stream, gauged = study.folder, study.site.stream, study.gaugings
    if gauged is None:
        return None
    from ...stream.rating import FREE_GAUGINGS, TWO_SEGMENT_GAUGINGS, fit_rating

    staged = np.isfinite(gauged.stage_m)
    used = int((staged & ~gauged.ice).sum())
    if used < 2 or (used < FREE_GAUGINGS and "cease_to_flow" not in stream):
        return None
    few = (
        len(np.unique(gauged.stage_m[staged & ~gauged.ice])) < FREE_GAUGINGS
    )  # as fit_rating counts them

    def fitted(segments: int) -> Rating:
        return fit_rating.si(
            gauged.stage_m[staged],
            gauged.flow_m3s[staged],
            gauged.uncertainty[staged],
            cease_to_flow=stream.get("cease_to_flow"),
            control=stream.get("control") if few else None,
            segments=segments,
            ice=gauged.ice[staged],
            dates=gauged.date[staged],
            stage_uncertainty=STAGE_READING_M,
            methods=[name for name, kept in zip(gauged.method, staged) if kept],
        )

    wanted = stream.get("pieces")
    if wanted == 2 and (used < TWO_SEGMENT_GAUGINGS or few):
        raise folder.wrong(
            "[stream] pieces",
            f"two curves need {TWO_SEGMENT_GAUGINGS} gaugings without ice or more, at five stages or more; there are {used}; leave segments out",
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
