"""A panel on the gaugings: where one more is made and how well, against how sure the rating is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..report.pages.common import needs
from ..report.style import CREEK, LEAF, RUST, figure, legend_above
from ..stream.one_more_gauging import one_more_gauging
from ..study.study import Study
from .knobs import DASHED, Knob, Panel, levels, moving, shares, shown

if TYPE_CHECKING:
    from ..report.display import Picture
    from ..stream.rating_curve import Rating
    from ..study.view import View

__all__ = ["panel_gauging"]

_MOST = 4  # gaugings that a person makes before looking again


@needs(Study.rating)
def panel_gauging(study: Study, view: View, rating: Rating) -> Panel | Picture:
    """Stage, uncertainty and number of further gaugings against the uncertainty of the rating.

    No variant is written: gaugings that nobody made belong in no site file.
    """
    low, high = rating.lowest_stage_m, rating.highest_stage_m
    reach = high - rating.c
    stages = np.linspace(rating.c + 0.3 * (low - rating.c), rating.c + 1.3 * reach, 120)
    along = view.number(stages, "stage")
    before = 100 * np.asarray(rating.log_sd(stages))
    asked = study.answer("gauging.next")
    start = low if asked is None or not asked.known else float(asked.value)
    start = float(np.clip(start, stages[0], stages[-1]))
    with figure(7.4, 3.5) as (made, axes):
        axes.plot(along, before, color=CREEK, linestyle=DASHED, label="as it stands")
        (after,) = moving(axes.plot(along, before, color=LEAF, label="with them"))
        (dot,) = moving(axes.plot([1], [0], "o", color=RUST, markersize=9, label="gauged there"))
        gauged = view.number(rating.gauged_stage_m, "stage")
        axes.plot(gauged, np.zeros_like(gauged), "|", color=CREEK, markersize=12, label="gaugings")
        axes.set(
            xlim=(float(along[0]), float(along[-1])),
            ylim=(0, 1.1 * float(before.max())),
            xlabel=view.header("stage", "stage"),
            ylabel="standard deviation of the rating [%]",
        )
        legend_above(axes)

    def sharper(stage: float, sure: float, count: int) -> Rating:
        found = rating
        for _ in range(count):
            found = one_more_gauging.si(found, stage, sure)
        return found

    def turn(stage: float, sure: float, count: int) -> list[tuple[str, str]]:
        found = sharper(stage, sure, count)
        after.set_ydata(100 * found.log_sd(stages))
        dot.set_data([float(view.number(stage, "stage"))], [100 * float(found.log_sd(stage))])
        places = {"there": stage, "at the lowest gauged": low, "at the highest gauged": high}
        return [
            ("flow there, by the rating", view.text(float(rating.flow_si(stage)), "flow")),
            *(
                (f"standard deviation {name}", f"{100 * float(found.log_sd(each)):.1f} %")
                for name, each in places.items()
            ),
        ]

    knobs = (
        Knob.over(
            "stage",
            "stage of the next gauging",
            levels(view, "stage", float(stages[0]), float(stages[-1]), start),
        ),
        Knob.over("sure", "its standard deviation", shares(0.02, 0.2, 0.01, 0.05)),
        Knob(
            "count",
            "gaugings made there",
            range(_MOST + 1),
            texts=["none", *(str(each) for each in range(1, _MOST + 1))],
            start=1,
        ),
    )
    against: dict[str, Any] = {"count": 0}
    what = f"How sure the rating of {study.name} is, with further gaugings"
    return shown(
        Panel(what, knobs, made, turn=turn, against="as it stands", against_values=against)
    )
