"""Page 01: the rating and the record of stages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ....errors import counted
from ....sentences import capital, plain_number
from ....stream.rating_curve import TRUSTED_FACTOR, rating_stage
from ....study.build.rating import rating_precision
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import (
    BAND,
    CREEK,
    GROUND,
    INK,
    RUST,
    SUN,
    figure,
    legend_above,
)
from ..common import needs

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....site.sheets import FieldGaugings
    from ....stream.rating_curve import Rating
    from ....study.build.rating import RatingPrecision
    from ....study.build.stage import StageRecord

__all__ = ["rating_figure", "rating_words", "residual_figure", "stage_words"]


@needs(Study.rating, Study.gaugings)
def rating_figure(study: Study, view: View, rating: Rating, gauged: FieldGaugings) -> Picture:
    """The rating with its band, the gaugings, and the range that decides the energy shaded."""
    top = max(
        rating.highest_stage_m,
        float(rating_stage.si(1.3 * TRUSTED_FACTOR * rating.highest_flow_m3s, rating)),
    )
    deciding = study.deciding_range
    least = 0.5 * min(rating.lowest_flow_m3s, *(deciding or (np.inf,)))
    bottom = float(rating_stage.si(least, rating))
    stage = bottom + (top - bottom) * np.linspace(0, 1, 200) ** 1.5
    low, high = (each.m_as("m^3/s") for each in rating.band(_metres(stage), 0.95))
    flow = rating.flow_si(stage)
    firm = flow <= rating.trusted_flow_m3s
    with figure(7.4, 4.2) as (made, axes):
        if deciding is not None:
            axes.axvspan(
                *(float(view.number(each, "flow")) for each in deciding),
                color=SUN,
                alpha=0.16,
                linewidth=0,
                label="decides the energy",
            )
        shown = view.number(stage, "stage")
        axes.fill_betweenx(
            shown,
            view.number(low, "flow"),
            view.number(high, "flow"),
            color=CREEK,
            alpha=BAND,
            linewidth=0,
            label="95 % band",
        )
        axes.plot(view.number(flow[firm], "flow"), shown[firm], color=CREEK, label="rating")
        axes.plot(
            view.number(flow[~firm], "flow"),
            shown[~firm],
            color=CREEK,
            linestyle=(0, (2, 2)),
            label="extrapolated",
        )
        staged = np.isfinite(gauged.stage_m)
        for is_ice, colour, label in ((False, INK, "gaugings"), (True, RUST, "with ice, left out")):
            which = staged & (gauged.ice == is_ice)
            if which.any():
                x = view.number(gauged.flow_m3s[which], "flow")
                axes.errorbar(
                    x,
                    view.number(gauged.stage_m[which], "stage"),
                    xerr=1.96 * gauged.uncertainty[which] * x,
                    fmt="o",
                    color=colour,
                    markersize=4.5,
                    capsize=2,
                    linewidth=1,
                    label=label,
                )
        if rating.break_m is not None:
            axes.axhline(
                float(view.number(rating.break_m, "stage")),
                color=GROUND,
                linewidth=0.9,
                linestyle=(0, (6, 3)),
                label="two curves meet",
            )
        axes.set_xscale("log")
        _plain_x(axes)
        axes.set_xlim(*(float(view.number(each, "flow")) for each in (least, 3 * flow[-1])))
        axes.set(xlabel=view.header("flow", "flow"), ylabel=view.header("stage", "stage"))
        legend_above(axes)
    return Picture(
        made,
        f"Rating: stage against flow with a 95 % band, {rating.gaugings} gaugings from {view.range(rating.lowest_flow_m3s, rating.highest_flow_m3s, 'flow', 3)}.",
    )


def _metres(values: Any) -> Any:
    from ....units import Q_

    return Q_(values, "m")


def date_axis(axes: Axes) -> None:
    """No more dates along the axis than can be read."""
    from matplotlib.dates import AutoDateFormatter, AutoDateLocator

    where = AutoDateLocator(minticks=3, maxticks=7)
    axes.xaxis.set_major_locator(where)
    axes.xaxis.set_major_formatter(AutoDateFormatter(where))


def _plain_x(axes: Axes) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator

    axes.xaxis.set_major_locator(LogLocator(base=10, subs=(1, 2, 5)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.6g}"))
    axes.xaxis.set_minor_formatter(FuncFormatter(lambda value, _: ""))


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
        f"$Q = {scale:.4g}\\,{over}^{{{rating.b:.2f}}}$"
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
            f" up to a stage of {view.text(rating.break_m, 'stage')}, and $Q = {upper:.4g}\\,{over}^{{{rating.upper_b:.2f}}}$ above it: "
            "the gaugings bend there, as where the banks open out or another control takes over. "
        )
    text += _leaning(study) if found.few else ""
    if found.decides:
        (low, low_sd), (high, high_sd) = found.at
        text += (
            f"Where the energy is decided the curve is good to {plain_number(100 * low_sd, 2)} % at {view.text(low, 'flow', 2)} and "
            f"{plain_number(100 * high_sd, 2)} % at {view.text(high, 'flow', 2)} (one standard deviation)."
        )
    else:
        ((middle, sd),) = found.at
        text += f"In the middle of what was gauged, at {view.text(middle, 'flow')}, the curve itself is good to {100 * sd:.0f} % (one standard deviation)."
    text += f" Above {view.text(rating.trusted_flow_m3s, 'flow', 2)}, half as much again as the highest gauging, the rating is extrapolated and should not be relied on"
    if found.stages_beyond:
        text += f"; {100 * found.stages_beyond:.1f} % of the stages and {100 * found.water_beyond:.0f} % of their water lie there"
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
        f" **The control has shifted:** gaugings from {day} on lie {100 * abs(change):.0f} % {'above' if change > 0 else 'below'} those before at one stage. "
        "Look for what moved (gravel, wood, a kicked stone), keep two sheets of gaugings, and rate each time by its own."
    )


@needs(Study.rating, Study.gaugings, quiet=True)
def residual_figure(study: Study, view: View, rating: Rating, gauged: FieldGaugings) -> Picture:
    """How far each gauging lies off the rating, through time: a control that moves shows here first."""
    used = np.flatnonzero(np.isfinite(gauged.stage_m))[rating.used]
    off, bar = 100 * np.expm1(rating.residuals), 1.96 * 100 * gauged.uncertainty[used]
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


@needs(Study.stage_record, quiet=True)
def stage_words(study: Study, view: View, record: StageRecord) -> Words:
    """How often the stage was read, and what ice does to it."""
    every = _every(record.step_s)
    if record.daily:
        text = f"These are taken as daily means{'' if every in ('', 'day') else f', one every {every}: the days between are not known'}. "
    else:
        text = f"{counted(len(record.stage), 'reading')}{every and f', one every {every}'}. Each is turned into a flow before the day is averaged: the rating is curved, so the flow of a mean stage would come out too low. "
    told = [
        each for each in record.findings if "highest gauging" not in each.message
    ]  # that is said beside the rating
    text += " ".join(f"{capital(view.told(each))}." for each in told)
    return Words(text.rstrip())


def _every(step_s: float | None) -> str:
    """The usual step of a series in words: ``15 minutes``, ``hour``, ``7 days``; nothing where there is none."""
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
