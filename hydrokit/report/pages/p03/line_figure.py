"""The figure of a line with its air: ground, pipe, pockets and what stalls it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ....study.build.penstock_pressures import ground
from ....study.study import Study
from ....study.view import View
from ....works.venting import running_grade
from ...display import Picture, Words
from ...style import (
    CREEK,
    GROUND,
    ICE,
    INK,
    LEAF,
    SMALL,
    SUN,
    WARNING,
    figure,
    legend_above,
)
from ..lack_words import LACKING
from .phrases import place

if TYPE_CHECKING:
    pass

__all__ = ["line_figure"]


def line_figure(study: Study, view: View) -> Picture | Words:
    """The line as air sees it: pipe, forebay, hydraulic grade line, pockets, vents, the place where
    it stalls."""
    air = study.line_air
    if air is None:
        return Words(f"*{LACKING['line_air']}*")
    line, walked, cut = air.line, air.filling, air.line.reaches
    x, axis = view.number(cut.distance_m, "length"), cut.elevation_m
    throttled, grade = (running_grade(line, flow) for flow in (air.flow_m3s, line.full_bore_m3s))

    def level_of(metres: Any) -> Any:
        return view.number(metres, "length")

    with figure(7.4, 3.6) as (made, axes):
        bottom, top = axis - cut.bore_m / 2, cut.crown_m
        floor = float(level_of(bottom.min())) - 0.12 * float(
            level_of(line.source_level_m) - level_of(bottom.min())
        )
        surveyed = ground(study.folder, study.site["diversion"])
        soil = (
            bottom
            if surveyed is None or study.diversion is None
            else np.interp(cut.distance_m, study.diversion.distance_m, surveyed)
        )
        axes.fill_between(
            x,
            floor,
            level_of(soil),
            color=GROUND,
            alpha=0.18,
            linewidth=0,
            label="ground" if surveyed is not None else "below the pipe",
        )
        axes.fill_between(
            x,
            level_of(bottom),
            level_of(top),
            color=CREEK,
            alpha=0.55,
            linewidth=0,
            label="pipe, crown to bottom",
        )
        axes.axhline(
            float(level_of(line.source_level_m)),
            color=ICE,
            linewidth=1.2,
            linestyle=(0, (5, 2)),
            label="static grade (pond)",
        )
        axes.plot(
            x,
            level_of(grade),
            color=LEAF,
            linewidth=1.4,
            label=f"grade, end open: {view.text(line.full_bore_m3s, 'flow')}",
        )
        if air.flow_m3s < 0.99 * line.full_bore_m3s:
            axes.plot(
                x,
                level_of(throttled),
                color=LEAF,
                linewidth=1.2,
                linestyle=(0, (1, 1.5)),
                label=f"grade, throttled to {view.text(air.flow_m3s, 'flow')}",
            )
        fine = np.linspace(0, cut.distance_m[-1], 600)
        above = np.interp(fine, cut.distance_m, top) > np.interp(fine, cut.distance_m, grade)
        above[0] = False
        if above.any():
            axes.plot(
                level_of(fine),
                level_of(np.where(above, np.interp(fine, cut.distance_m, top), np.nan)),
                color=WARNING,
                linewidth=3,
                label="crown above the hydraulic grade line",
            )
        for number, pocket in enumerate(walked.pockets):
            leg = np.linspace(pocket.high_point_m, pocket.low_m, 200)
            down = np.interp(leg, cut.distance_m, axis)
            held = pocket.high_point_level_m - down <= pocket.height_m
            axes.plot(
                level_of(leg[held]),
                level_of(down[held]),
                color=SUN,
                linewidth=5,
                solid_capstyle="butt",
                label="air held while it fills" if number == 0 else None,
            )
        for number, vent in enumerate(line.vents_m):
            axes.plot(
                level_of(vent),
                level_of(np.interp(vent, cut.distance_m, top)),
                "^",
                color=INK,
                markersize=8,
                label="vent" if number == 0 else None,
            )
        for number, vent in enumerate(() if air.advised is None else air.advised.vents_m):
            axes.plot(
                level_of(vent),
                level_of(np.interp(vent, cut.distance_m, top)),
                "^",
                markerfacecolor="white",
                color=INK,
                markersize=8,
                zorder=6,
                label="new vent advised" if number == 0 else None,
            )
        if walked.stalls_m is not None:
            at = float(np.interp(walked.stalls_m, cut.distance_m, axis))
            axes.plot(
                level_of(walked.stalls_m), level_of(at), "X", color=WARNING, markersize=10, zorder=5
            )
            axes.annotate(
                f"stalls at {place(view, walked.stalls_m)}",
                (level_of(walked.stalls_m), level_of(at)),
                xytext=(4, 12),
                textcoords="offset points",
                color=WARNING,
                fontsize=9,
            )
        if line.upturned:
            end = float(x[-1])
            axes.plot(
                [end, end],
                level_of(np.array([axis[-1], line.outlet_level_m])),
                color=CREEK,
                linewidth=4,
            )
            axes.annotate(
                "crest",
                (end, float(level_of(line.outlet_level_m))),
                xytext=(-14, 6),
                textcoords="offset points",
                fontsize=SMALL,
            )
        axes.set(
            xlabel=view.header("distance along the pipe", "length"),
            ylabel=view.header("level", "length"),
            xlim=(0, float(x[-1]) * 1.01),
        )
        axes.set_ylim(bottom=floor)
        axes.ticklabel_format(axis="y", useOffset=False)
        legend_above(axes, 3)
    told = (
        f"stalls at {place(view, walked.stalls_m)}"
        if walked.stalls_m is not None
        else "starts by itself"
    )
    return Picture(
        made,
        (
            f"Long section of the diversion line, {place(view, line.profile.length_m)} long with "
            f"{view.text(line.head_m, 'head')} of fall; filled from the top it {told}."
        ),
    )
