"""What one more gauging would narrow, at each of a handful of stages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["OneGauging", "best_stage", "one_gauging"]

_SHARES = (0.95, 0.50)  # exceedances at which the flow is told


@dataclass(frozen=True, eq=False, kw_only=True)
class OneGauging:
    """One more gauging at one stage.

    Parameters
    ----------
    stage_m, flow_m3s : float
    months : tuple of int
        In which such water is met most often, most often first.
    low : (float, float)
        Relative standard deviation of the flow exceeded on 95 % of the days, from the rating: now,
        and after it.
    median : (float, float)
        The same of the median flow.
    narrowed : float
        Share by which the uncertainty of the long-run annual energy shrinks: that of the list of
        what to measure next.
    extrapolated : bool
        Whether no gauging yet comes near.
    """

    stage_m: float
    flow_m3s: float
    months: tuple[int, ...]
    low: tuple[float, float]
    median: tuple[float, float]
    narrowed: float
    extrapolated: bool


def one_gauging(study: Study) -> tuple[OneGauging, ...] | None:
    """One more gauging at each stage of the list of what to measure next, what narrows most first;
    None where no rating is behind the record.

    The list is asked for all stages, those among them that hardly narrow anything.
    """
    rating, ranked = study.rating, study.measurements
    if rating is None or ranked is None or study.duration is None:
        return None
    from ...stream.one_more_gauging import one_more_gauging
    from ...stream.rating_curve import rating_stage

    stages = [
        float(rating_stage.si(float(study.duration.flow_at_si(share)), rating)) for share in _SHARES
    ]
    found = []
    for each in ranked:
        if each.what != "rating" or not each.stage_m > rating.c:
            continue
        sharper = one_more_gauging.si(rating, each.stage_m)
        low, median = (
            (float(rating.log_sd(stage)), float(sharper.log_sd(stage))) for stage in stages
        )
        found.append(
            OneGauging(
                stage_m=each.stage_m,
                flow_m3s=float(rating.flow_si(each.stage_m)),
                months=each.months,
                low=low,
                median=median,
                narrowed=each.narrowed,
                extrapolated=each.extrapolated,
            )
        )
    return tuple(found) or None


def best_stage(study: Study) -> Answer | None:
    """Where one more gauging narrows the annual energy most; none where it narrows hardly anything."""
    stages = [
        each.stage_m
        for each in study.measure_next or ()
        if each.what == "rating" and np.isfinite(each.stage_m)
    ]
    if not stages:
        return None
    return Answer(
        "gauging.next",
        stages[0],
        "stage",
        evidence=Evidence.CALCULATED,
        source=(
            "the spread of the rating's parameters with one more gauging, and the energy that "
            "hangs on them"
        ),
    )
