"""Page 01: the rating and the record of stages."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....sentences import capital, plain_number
from ....study.build.rating import rating_drawn, rating_precision
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, formula
from ...style import (
    BAND,
    CREEK,
    GROUND,
    INK,
    MONTH_NAMES,
    RUST,
    SMALL,
    SUN,
    figure,
    legend_above,
    plain_log,
)
from ..common import needs

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....site.sheets import FieldGaugings
    from ....stream.rating_curve import Rating
    from ....study.build.one_gauging import OneGauging
    from ....study.build.rating import RatingDrawn, RatingPrecision
    from ....study.build.stage import StageRecord
    from ....units import Floats, Quantity

__all__ = ["one_gauging_table", "rating_figure", "rating_words", "residual_figure", "stage_words"]


@needs(Study.rating, Study.gaugings, rating_drawn)
def rating_figure(
    study: Study, view: View, rating: Rating, gauged: FieldGaugings, drawn: RatingDrawn
) -> Picture:
    """The rating on logarithmic axes, where it is straight, with its band, and under it how far
    each gauging lies off it."""
    with figure(7.4, 5.55, 2, 1, height_ratios=(2.1, 1), sharex=True) as (made, (axes, below)):
        _draw_curve(axes, study, view, rating, gauged, drawn)
        _stage_axis(below, view, rating, drawn)
        told = _draw_residuals(below, view, rating, gauged)
    return Picture(
        made,
        f"Rating on logarithmic axes with a 95 % band, {rating.gaugings} gaugings from "
        f"{view.range(rating.lowest_flow_m3s, rating.highest_flow_m3s, 'flow', 3)}. Below, how "
        f"far each lies off it: {told}.",
    )


def _draw_curve(
    axes: Axes,
    study: Study,
    view: View,
    rating: Rating,
    gauged: FieldGaugings,
    found: RatingDrawn,
) -> None:
    stage, over = found.stage_m, found.stage_m - rating.c
    low, high = (each.m_as("m^3/s") for each in rating.band(_metres(stage), 0.95))
    flow = rating.flow_si(stage)
    firm = flow <= rating.trusted_flow_m3s
    if study.deciding_range is not None:
        from matplotlib.colors import to_rgba

        axes.axhspan(
            *(float(view.number(each, "flow")) for each in study.deciding_range),
            facecolor=to_rgba(SUN, 0.16),
            edgecolor=to_rgba(SUN, 0.7),
            hatch="///",
            linewidth=0,
            label="decides the energy",
        )
    axes.fill_between(
        over,
        view.number(low, "flow"),
        view.number(high, "flow"),
        color=CREEK,
        alpha=BAND,
        linewidth=0,
        label="95 % band",
    )
    for which, style, label in ((firm, "-", "rating"), (~firm, (0, (2, 2)), "extrapolated")):
        axes.plot(
            over[which],
            view.number(flow[which], "flow"),
            color=CREEK,
            linestyle=style,
            label=label,
        )
    above = np.isfinite(gauged.stage_m) & (gauged.stage_m > rating.c)
    for is_ice, colour, label in ((False, INK, "gaugings"), (True, RUST, "with ice, left out")):
        which = above & (gauged.ice == is_ice)
        if which.any():
            y = view.number(gauged.flow_m3s[which], "flow")
            axes.errorbar(
                gauged.stage_m[which] - rating.c,
                y,
                yerr=1.96 * gauged.uncertainty[which] * y,
                fmt="o",
                color=colour,
                markersize=4.5,
                capsize=2,
                linewidth=1,
                label=label,
            )
    if rating.break_m is not None:
        axes.axvline(
            rating.break_m - rating.c,
            color=GROUND,
            linewidth=0.9,
            linestyle=(0, (6, 3)),
            label="two curves meet",
        )
    axes.set_xscale("log")
    plain_log(axes)
    axes.set(
        ylim=tuple(float(view.number(each, "flow")) for each in found.flows_m3s),
        ylabel=view.header("flow", "flow"),
    )
    legend_above(axes)


_NAMED = 4  # gaugings named by their dates: those farthest off


def _draw_residuals(axes: Axes, view: View, rating: Rating, gauged: FieldGaugings) -> str:
    """How far each gauging lies off the curve, named by its date; in words, which lies farthest."""
    used = np.flatnonzero(np.isfinite(gauged.stage_m))[rating.used]
    off = rating.off_percent
    axes.axhline(0, color=CREEK, linewidth=1.2)
    axes.errorbar(
        rating.gauged_stage_m - rating.c,
        off,
        yerr=1.96 * 100 * gauged.uncertainty[used],
        fmt="o",
        color=INK,
        markersize=4.5,
        capsize=2,
        linewidth=1,
    )
    farthest = np.argsort(-np.abs(off), kind="stable")
    right = _freer_right_for_figure(
        np.log(rating.gauged_stage_m - rating.c), np.log(axes.get_xlim())
    )
    for each in farthest[:_NAMED]:
        above = off[each] >= 0
        axes.annotate(
            str(np.datetime64(gauged.date[used[each]], "D")),
            (rating.gauged_stage_m[each] - rating.c, off[each]),
            xytext=(5 if right[each] else -5, 2 if above else -2),
            textcoords="offset points",
            fontsize=SMALL,
            color=INK,
            ha="left" if right[each] else "right",
            va="bottom" if above else "top",
        )
    axes.set_ylabel("off the rating [%]")
    axes.margins(x=0.08, y=0.3)
    first = farthest[0]
    return f"the one of {np.datetime64(gauged.date[used[first]], 'D')} by {off[first]:+.0f} %, the most"


def _freer_right_for_figure(places: np.ndarray, ends: np.ndarray) -> np.ndarray:
    """Whether there is more room to the right of each mark than to its left, up to the next."""
    order = np.argsort(places, kind="stable")
    along = np.concatenate([ends[:1], places[order], ends[1:]])
    room = np.diff(along)
    right = np.empty(len(places), dtype=bool)
    right[order] = room[1:] > room[:-1]
    return right


def _stage_axis(axes: Axes, view: View, rating: Rating, found: RatingDrawn) -> None:
    """The axis reads the staff gauge, and is drawn by the height over cease-to-flow, where the
    rating is straight."""
    from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator

    axes.xaxis.set_minor_locator(NullLocator())
    stages = found.ticks_m(view.system)
    axes.xaxis.set_major_locator(FixedLocator((stages - rating.c).tolist()))
    labels = [f"{view.number(each, 'stage'):.2f}" for each in stages]
    axes.xaxis.set_major_formatter(FixedFormatter(labels))
    axes.set_xlim(*(found.stage_m[[0, -1]] - rating.c))
    axes.set_xlabel(
        f"stage [{view.label('stage')}], by its height over cease-to-flow at "
        f"{view.text(rating.c, 'stage', 2)}"
    )


def _metres(values: Floats) -> Quantity:
    from ....units import Q_

    return Q_(values, "m")


def date_axis(axes: Axes) -> None:
    """No more dates along the axis than can be read."""
    from matplotlib.dates import AutoDateFormatter, AutoDateLocator

    where = AutoDateLocator(minticks=3, maxticks=7)
    axes.xaxis.set_major_locator(where)
    axes.xaxis.set_major_formatter(AutoDateFormatter(where))


@needs(Study.rating, rating_precision, quiet=True)
def rating_words(study: Study, view: View, rating: Rating, found: RatingPrecision) -> Words:
    """What the rating says, how sure it is where it matters, and what would help."""
    stage_unit = 1 / float(view.number(1.0, "stage"))
    scale, cease = (
        float(view.number(rating.a * stage_unit**rating.b, "flow")),
        float(view.number(rating.c, "stage")),
    )
    over = f"(h {'+' if cease < 0 else '-'} {abs(cease):.3f})"
    text = (
        f"With the stage h in {view.label('stage')} and the flow Q in {view.label('flow')} the rating is "
        + formula(f"Q = {scale:.4g}\\,{over}^{{{rating.b:.2f}}}")
    )
    if rating.break_m is None or rating.upper_b is None:
        text += ". "
    else:
        upper = float(
            view.number(
                rating.a
                * (rating.break_m - rating.c) ** (rating.b - rating.upper_b)
                * stage_unit**rating.upper_b,
                "flow",
            )
        )
        text += (
            f" up to a stage of {view.text(rating.break_m, 'stage')}, and "
            + formula(f"Q = {upper:.4g}\\,{over}^{{{rating.upper_b:.2f}}}")
            + (
                " above it: the gaugings bend there, as where the banks open out or another "
                "control takes over. "
            )
        )
    text += _leaning(study) if found.few else ""
    if found.decides:
        (low, low_sd), (high, high_sd) = found.at
        text += (
            f"Where the energy is decided the curve is good to {plain_number(100 * low_sd, 2)} % "
            f"at {view.text(low, 'flow', 2)} and {plain_number(100 * high_sd, 2)} % at "
            f"{view.text(high, 'flow', 2)} (one standard deviation)."
        )
    else:
        ((middle, sd),) = found.at
        text += (
            f"In the middle of what was gauged, at {view.text(middle, 'flow')}, the curve itself "
            f"is good to {100 * sd:.0f} % (one standard deviation)."
        )
    text += (
        f" Above {view.text(rating.trusted_flow_m3s, 'flow', 2)}, half as much again as the "
        "highest gauging, the rating is extrapolated and should not be relied on"
    )
    if found.stages_beyond:
        text += (
            f"; {100 * found.stages_beyond:.1f} % of the stages and "
            f"{100 * found.water_beyond:.0f} % of their water lie there"
        )
    return Words(f"{text}.{_shifted(rating)}")


_CONTROL_TOLD = {"rectangular": "rectangular control", "v-notch": "V-notch"}


def _leaning(study: Study) -> str:
    """What a rating of few gaugings rests on."""
    control = study.site.stream.control
    shape = (
        f"taken as that of a {_CONTROL_TOLD.get(control, control)}"
        if control
        else "assumed, for the shape of the control is not given"
    )
    leans = (
        ", and the curve rests on the surveyed stage of no flow"
        if study.site.stream.given("cease_to_flow")
        else ""
    )
    return (
        f"With gaugings at fewer than five stages the exponent is not fitted but {shape}{leans}. "
    )


def _shifted(rating: Rating) -> str:
    if rating.shift is None:
        return ""
    day, change = rating.shift
    return (
        f" **The control has shifted:** gaugings from {day} on lie {100 * abs(change):.0f} % "
        f"{'above' if change > 0 else 'below'} those before at one stage. Look for what moved "
        "(gravel, wood, a kicked stone), keep two sheets of gaugings, and rate each time by its "
        "own."
    )


@needs(Study.rating, Study.gaugings, quiet=True)
def residual_figure(study: Study, view: View, rating: Rating, gauged: FieldGaugings) -> Picture:
    """How far each gauging lies off the rating, through time: a control that moves shows here first."""
    used = np.flatnonzero(np.isfinite(gauged.stage_m))[rating.used]
    off, bar = rating.off_percent, 1.96 * 100 * gauged.uncertainty[used]
    with figure(7.4, 2.4) as (made, axes):
        axes.axhline(0, color=CREEK, linewidth=1.2)
        axes.errorbar(
            gauged.date[used],
            off,
            yerr=bar,
            fmt="o",
            color=INK,
            markersize=4.5,
            capsize=2,
            linewidth=1,
            label="gauging, with its own 95 %",
        )
        if rating.shift is not None:
            axes.axvline(
                np.datetime64(rating.shift[0]),
                color=RUST,
                linestyle=(0, (4, 2)),
                label="the control shifted",
            )
        axes.set_ylabel("off the rating [%]")
        legend_above(axes)
        date_axis(axes)
    told = (
        "no shift stands out"
        if rating.shift is None
        else f"the control shifted about {rating.shift[0]}"
    )
    return Picture(made, f"Deviation of {len(used)} gaugings from the rating through time; {told}.")


@needs(Study.one_gauging, quiet=True)
def one_gauging_table(study: Study, view: View, one_gauging: tuple[OneGauging, ...]) -> Table:
    """What one more gauging would narrow, stage by stage; the energy as the list of what to measure
    next has it."""
    rows = [
        (
            float(view.number(each.stage_m, "stage")),
            float(view.number(each.flow_m3s, "flow")),
            ", ".join(MONTH_NAMES[month - 1] for month in each.months[:3]),
            *(
                f"± {100 * now:.1f} to {100 * after:.1f} %"
                for now, after in (each.low, each.median)
            ),
            f"{100 * each.narrowed:.0f} %",
            "beyond every gauging" if each.extrapolated else "",
        )
        for each in one_gauging
    ]
    at = study.answer("gauging.next")
    best = "" if at is None else f" Best: stage {view.shown(at)}"
    return Table(
        (
            view.header("stage", "stage"),
            view.header("flow", "flow"),
            "best met in",
            "lean flow (Q95), one standard deviation",
            "median flow (Q50)",
            "narrows the uncertainty of the long-run annual energy by",
            "",
        ),
        rows,
        f"What one more gauging would narrow, by the stage it is made at.{best}",
        mark=() if at is None else (0,),
    )


@needs(Study.stage_record, quiet=True)
def stage_words(study: Study, view: View, record: StageRecord) -> Words:
    """How often the stage was read, and what ice does to it."""
    every = _every(record.step_s)
    if record.daily:
        text = (
            "These are taken as daily "
            f"means{'' if every in ('', 'day') else f', one every {every}: the days between are not known'}. "
        )
    else:
        text = (
            f"{counted(len(record.stage), 'reading')}{every and f', one every {every}'}. Each is "
            "turned into a flow before the day is averaged: the rating is curved, so the flow of "
            "a mean stage would come out too low. "
        )
    told = [
        each for each in record.findings if "highest gauging" not in each.message
    ]  # that is said beside the rating
    text += " ".join(f"{capital(view.told(each))}." for each in told)
    return Words(text.rstrip())


def _every(step_s: float | None) -> str:
    """The usual step of a series in words: ``15 minutes``, ``hour``, ``7 days``; nothing where
    there is none."""
    if step_s is None:
        return ""
    size, unit = (
        (60.0, "minute")
        if step_s < 3600
        else (3600.0, "hour")
        if step_s < 86400
        else (86400.0, "day")
    )
    number = plain_number(step_s / size)
    return unit if number == "1" else f"{number} {unit}s"
