"""Page 03: the long section of the penstock, and what it must hold."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ....errors import sure
from ....sentences import series_text
from ....study.build.head_loss import levels_above_gauge
from ....study.build.judged import inlet
from ....study.build.machines import users
from ....study.build.penstock_pressures import column_breaks, ground, high_points, too_hot
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words, escape_markdown
from ...style import (
    CREEK,
    GROUND,
    ICE,
    INK,
    LEAF,
    RUST,
    SMALL,
    SUN,
    WARNING,
    figure,
    legend_above,
    plain_label,
    thousands,
)
from ..common import needs, value
from .holding import water_speed
from .phrases import shown_flow
from .water_way import siphon_sentence, stretch_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes

    from ....site.values import Measured
    from ....units import Number
    from ....works.pressures import Pressures
    from ....works.profile import LongSection

__all__ = ["section_figure", "section_words"]


# --- the penstock drawn -----------------------------------------------------------------------


@needs(Study.section, Study.pressures, Study.head)
def section_figure(
    study: Study, view: View, section: LongSection, held: Pressures, head: Measured
) -> Picture:
    """Pipe, ground, grade lines; below them pressure against rating."""
    x = view.number(section.distance_m, "length")

    def shown(metres: Number) -> Any:
        return view.number(metres, "length")

    weight = float(
        (section.static_pressure_pa[-1]) / (section.static_grade_m[-1] - section.elevation_m[-1])
    )
    with figure(7.4, 4.8, 2, 1, sharex=True, height_ratios=(3, 2)) as (made, (axes, below)):
        floor = section.elevation_m.min() - 0.08 * float(np.ptp(section.elevation_m))
        surveyed = ground(study.folder, study.site["penstock"])
        soil = (
            section.elevation_m + study.site.penstock.cover
            if surveyed is None or study.profile is None
            else np.interp(section.distance_m, study.profile.distance_m, surveyed)
        )
        axes.fill_between(
            x,
            shown(floor),
            shown(soil),
            color=GROUND,
            alpha=0.18,
            linewidth=0,
            label="ground" if surveyed is not None else "ground, from the pipe's cover",
        )
        axes.plot(
            x,
            shown(section.static_grade_m),
            color=ICE,
            linewidth=1.2,
            linestyle=(0, (5, 2)),
            label="static grade",
        )
        axes.plot(
            x,
            shown(section.running_grade_m),
            color=LEAF,
            linewidth=1.4,
            linestyle=(0, (5, 2, 1, 2)),
            label=f"running grade at {view.text(study.full_flow_m3s, 'flow')}",
        )
        if held.closing_time_s is not None:
            axes.plot(
                x,
                shown(section.elevation_m + held.highest_pa / weight),
                color=RUST,
                linewidth=1.0,
                linestyle=(0, (2, 1.5)),
                label="highest, valve closing",
            )
            lowest = section.elevation_m + held.lowest_pa / weight
            if np.any(
                lowest < section.running_grade_m - 0.01 * head.value
            ):  # slower closings never go below the running grade
                axes.plot(
                    x,
                    shown(lowest),
                    color=INK,
                    linewidth=0.9,
                    linestyle=(0, (1, 2)),
                    label="lowest, valve closing",
                )
        axes.plot(x, shown(section.elevation_m), color=CREEK, linewidth=2.6, label="pipe")
        _mark_stretches(study, axes, section, shown)
        labelled = False
        for start, end in section.below_atmosphere:
            inside = np.linspace(start, end, 20)
            axes.plot(
                shown(inside),
                shown(np.interp(inside, section.distance_m, section.elevation_m)),
                color=WARNING,
                linewidth=4,
                label=None if labelled else "crown above the hydraulic grade line",
            )
            labelled = True
        axes.set(ylabel=view.header("level", "length"), xlim=(0, float(x[-1]) * 1.01))
        axes.set_ylim(bottom=float(shown(floor)))
        thousands(axes.yaxis)
        legend_above(axes, 3)
        _pressure_panel(view, below, x, held)
    foot = view.shown(study.answer("pressure.highest"))
    return Picture(
        made,
        (
            f"Long section of the penstock, {view.text(section.distance_m[-1], 'length')} long "
            f"with {view.text(head.value, 'head')} of head, and the pressure along it, up to "
            f"{foot}, against the pipe's rating."
        ),
    )


def _mark_stretches(
    study: Study, axes: Axes, section: LongSection, shown: Callable[[Any], Any]
) -> None:
    """Pipe that hangs free or lies bare, where frost bites first."""
    if study.frost is None:
        return
    spans = {each.name for each in study.bridges}
    seen = set()
    for told in study.frost.stretches:
        stretch = told.stretch
        if stretch.line != "penstock" or not (stretch.bare or stretch.name in spans):
            continue
        if stretch.end_m - stretch.start_m > 0.9 * float(section.distance_m[-1]):
            continue  # a line that lies bare all along is told in words
        inside = np.linspace(stretch.start_m, stretch.end_m, 12)
        levels = np.interp(inside, section.distance_m, section.elevation_m)
        label = "hangs free, bare to frost" if stretch.name in spans else "bare to frost"
        axes.plot(
            shown(inside),
            shown(levels),
            color=SUN,
            linewidth=5,
            solid_capstyle="butt",
            label=None if label in seen else label,
        )
        axes.annotate(
            plain_label(stretch.name),
            (float(shown(inside[0])), float(shown(levels[0]))),
            xytext=(0, -20),
            textcoords="offset points",
            ha="right",
            fontsize=SMALL,
        )
        seen.add(label)


def _pressure_panel(view: View, axes: Axes, x: np.ndarray, held: Pressures) -> None:
    axes.plot(x, view.number(held.static_pa, "pressure"), color=CREEK, label="at rest")
    if held.closing_time_s is not None:
        axes.plot(
            x,
            view.number(held.highest_pa, "pressure"),
            color=RUST,
            label=f"highest, closed in {view.text(held.closing_time_s, 'time', 2)}",
        )
    known = np.isfinite(held.rating_pa)
    if known.any():
        rating = view.number(held.rating_pa, "pressure")
        axes.plot(
            x,
            rating,
            color=INK,
            linestyle=(0, (6, 2)),
            linewidth=1.3,
            drawstyle="steps-mid",
            label="rating, derated",
        )
        over = known & (held.highest_pa > held.rating_pa)
        axes.fill_between(
            x,
            rating,
            view.number(held.highest_pa, "pressure"),
            where=over,
            color=WARNING,
            alpha=0.5,
            linewidth=0,
            label="above the rating" if over.any() else None,
        )
    axes.set(
        xlabel=view.header("distance along the pipe", "length"),
        ylabel=view.header("gauge pressure", "pressure"),
    )
    thousands(axes.xaxis)
    thousands(axes.yaxis)
    axes.set_ylim(bottom=0)
    legend_above(axes, 4)


@needs(Study.section, Study.pressures, Study.head, quiet=True)
def section_words(
    study: Study, view: View, section: LongSection, held: Pressures, head: Measured
) -> Words:
    """Losses, pressure against rating, suction, inlet."""
    lost = section.lost_head_m
    guessed = (
        ""
        if study.plant is not None
        else (
            " (no jets are described: this is the least of the licence, the intake and what costs "
            "a tenth of the head)"
        )
    )
    text = (
        f"At {shown_flow(view, study.answer('capacity.jets'), study.full_flow_m3s)}{guessed} the "
        f"head loss of the penstock is {view.shown(study.answer('loss.penstock'))} of the gross "
        f"head of {view.shown(study.answer('head.gross'))} ({100 * lost / head.value:.0f} "
        f"%){_left(study, view)}{_beside(study, view)}; the water runs at "
        f"{water_speed(view, held)}. At rest the foot stands under "
        f"{view.shown(study.answer('pressure.rest'))} by its levels"
        + (
            f"; the gauge shows {view.shown(study.answer('pressure.shut_off'))} with the jets shut. "
            if study.baseline is not None
            else ". "
        )
    )
    if too_hot(study):
        text += (
            f"**At its warmest its pipe ({escape_markdown(series_text(list(too_hot(study))))}) is "
            "hotter than its material is made for: no pressure rating holds then.** Shade or bury "
            "it, or keep it full of running water. "
        )
    elif not np.isfinite(held.use_of_rating):
        text += (
            "No rating is known for its pipe: find out what is printed on it before it is filled. "
        )
    else:
        peak = (
            "static pressure and surge"
            if held.closing_time_s is not None
            else "static pressure alone"
        )
        text += (
            f"Its rating, derated for temperature, is used by {peak} to "
            f"{view.shown(study.answer('pressure.share_of_rating'))} at the most, at "
            f"{view.text(held.worst_m, 'length')}; "
        )
        text += (
            "that is **too much**: stronger pipe, or a slower valve. "
            if held.use_of_rating > 1
            else "that leaves room. "
            if held.use_of_rating < 0.8
            else "that leaves little room. "
        )
    if section.below_atmosphere:
        text += (
            "In operation the crown stands above the hydraulic grade line from "
            f"{stretch_words(view, section.below_atmosphere)}: the pressure there is below "
            "atmospheric, and any leak lets air in. "
        )
        if column_breaks(study):
            text += "**The water column breaks there: the line cannot run so.** "
        text += f"{siphon_sentence(study, view)} ".lstrip()
    else:
        text += (
            "The hydraulic grade line of the running pipe stays above the crown all along: no "
            "suction anywhere. "
        )
    if study.profile is None:
        text += "No profile was surveyed: it is drawn straight, so that high points are not seen. "
    text += _high_points(study, view)
    return Words(text + _inlet(study, view))


_TOLD_HEAD_M = 0.05  # of head that air takes


def _high_points(study: Study, view: View) -> str:
    """Where the penstock holds air of its own, and what lets it out."""
    tops = high_points(study)
    if not tops:
        return ""
    told = series_text(
        [
            f"{view.text(each.at_m, 'length')} ({view.text(each.behind_m, 'length', 2)} of pipe behind it)"
            for each in tops
        ]
    )
    it = "a high point" if len(tops) == 1 else "high points"
    bare = [each for each in tops if not each.vented]
    if not bare:
        return (
            f"**It has {it} of its own at {told}**, with a vent at each: the sheets for filling "
            "and draining treat them in their order. "
        )
    text = (
        f"**It has {it} of its own at {told}.** Filled with the jets shut, the pipe behind stays "
        "full of air unless a vent there is open, and drained without one it is pulled flat: the "
        "sheets for filling and draining treat each in its order. "
    )
    costly = [each for each in bare if each.head_m >= _TOLD_HEAD_M]
    if costly:
        clears = {
            "goes": "the flow carries it away",
            "stays": "the flow that is left does not carry it away",
            "not settled": "whether the flow that is left carries it away, the published laws do not agree",
        }
        text += "".join(
            f"Air left behind {view.text(each.at_m, 'length')} takes "
            f"{view.text(each.head_m, 'head', 2)} of the head, {100 * each.power_share:.0f} % "
            f"of the power; {clears[each.verdict]} (by every published law from "
            f"{view.text(each.clears_m3s, 'flow', 2)} on). "
            for each in costly
        )
        kept = [each for each in costly if each.kept]
        if study.baseline is not None:
            text += "It is not taken off the power, for the readings hold whatever is there. "
        elif not kept:
            text += "It is not taken off the power, for the flow clears it. "
        else:
            text += (
                "**It is taken off the head, the power and the year**; a vent at each high point, "
                "told under [penstock] vents, brings them back. "
            )
    return text


def _left(study: Study, view: View) -> str:
    """The net head at the jets, where the plant is known and nothing above holds its water back."""
    full, jets = study.answer("plant.full_flow"), study.answer("capacity.jets")
    if full is None or jets is None or not np.isclose(full.value, jets.value, rtol=1e-6):
        return ""
    left = f", which leaves {view.shown(study.answer('head.net'))} at the {users(study)}"
    apart = levels_above_gauge(study)
    if not apart:
        return left
    read = sure(study.head).value - apart
    return f"{left} of the {view.text(read, 'head', 3)} that the gauge shows at rest"


def _beside(study: Study, view: View) -> str:
    """The loss of the clean pipe beside that in use, where readings show it."""
    if study.baseline is None:
        return ""
    return (
        f", as its readings show{_at_rest(study, view)}; for a clean pipe of that size and length "
        f"it would be {view.shown(study.answer('loss.penstock_clean'))}"
    )


_SAME_M = 0.05  # of head: less apart is told as one


def _at_rest(study: Study, view: View) -> str:
    """The head at rest from which the gauge counts, where the survey has another."""
    net, lost = study.answer("head.net"), study.answer("loss.penstock")
    if net is None or lost is None or not _left(study, view) or levels_above_gauge(study):
        return ""
    rest = net.value + lost.value
    if abs(rest - value(study, "head.gross")) < _SAME_M:
        return ""
    return f", from the {view.text(rest, 'head', 4)} at rest by the gauge"


def _inlet(study: Study, view: View) -> str:
    cover = inlet(study)
    if cover is None:
        return ""
    has, needs_m = cover
    verdict = (
        "enough"
        if has >= needs_m
        else (
            "too little: a vortex will draw air in, so deepen it, widen it to a bell, or float "
            "planks over it"
        )
    )
    return (
        f"Over the middle of its inlet stand {view.text(has, 'stage', 2)} of water, and about "
        f"{view.text(needs_m, 'stage', 2)} are needed: {verdict}."
    )
