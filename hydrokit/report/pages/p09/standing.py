"""Page 09, frost: how long water may stand in each stretch, month by month."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....stream.months import MONTH_NAMES
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import CREEK, MONTH_LETTERS, SMALL, TALLEST, WIDE, figure, plain_label
from ..common import in_frost, needs

if TYPE_CHECKING:
    from ....running.winter import Standing

__all__ = ["standing_figure"]

_ORDER = np.roll(np.arange(12), -9)  # October first: the season as it comes
_LONGEST_SHOWN_H, _MOST, _ABREAST = 720.0, 8, 4
_TICKS = {0.5: "½", 2: "2", 6: "6", 24: "24", 72: "72", 240: "240", 720: "720"}


@in_frost
@needs(Study.standing, quiet=True)
def standing_figure(study: Study, view: View, found: Standing) -> Picture | Words:
    """A small panel for each stretch: the hours that all but one day in ten of a month leave water
    standing."""
    hours = found.by_month_s[_ORDER] / 3600
    drawn = [
        number for number in range(hours.shape[1]) if np.any(hours[:, number] <= _LONGEST_SHOWN_H)
    ][:_MOST]
    if not drawn:
        return Words("")
    rows = -(-len(drawn) // _ABREAST)
    months, shown = np.arange(12), hours[:, drawn]
    least = float(shown.min())
    with figure(
        WIDE,
        min(0.6 + 1.5 * rows, TALLEST),
        rows,
        min(len(drawn), _ABREAST),
        sharex=True,
        sharey=True,
        squeeze=False,
    ) as (made, grid):
        for axes in grid.flat[len(drawn) :]:
            axes.set_visible(False)
        for place, (axes, number) in enumerate(zip(grid.flat, drawn)):
            freezes = hours[:, number] <= _LONGEST_SHOWN_H
            floor = 0.6 * min(least, _LONGEST_SHOWN_H)
            axes.bar(
                months[freezes], hours[freezes, number] - floor, 0.75, bottom=floor, color=CREEK
            )
            axes.set_yscale("log")
            axes.set_ylim(floor, 1.6 * float(shown[shown <= _LONGEST_SHOWN_H].max()))
            axes.set_yticks(list(_TICKS), list(_TICKS.values()))
            axes.minorticks_off()
            axes.set_ylim(floor, 1.6 * float(shown[shown <= _LONGEST_SHOWN_H].max()))
            every = 1 if len(drawn) < 3 else 2  # letters that have room
            axes.set(xticks=months[::every], xlim=(-0.5, 11.5))
            axes.set_xticklabels(
                [MONTH_LETTERS[month] for month in _ORDER[::every]], fontsize=SMALL
            )
            axes.tick_params(labelbottom=place + _ABREAST >= len(drawn))
            axes.grid(axis="x", visible=False)
            axes.set_title(plain_label(found.stretches[number].name, 22), fontsize=SMALL)
        made.supylabel("hours water may stand", fontsize=SMALL)
    month, first = np.unravel_index(np.argmin(shown), shown.shape)
    return Picture(
        made,
        "Hours that water may stand on 90 % of the days of each month before it freezes, stretch "
        "by stretch, log scale; a month without a bar has none to fear. The shortest is "
        f"{view.duration(3600 * shown[month, first])} in {MONTH_NAMES[_ORDER[month]]}, "
        f"{found.stretches[drawn[first]].name}.",
    )
