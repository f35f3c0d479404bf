"""Page 01: how much water is in the creek, and how sure that is."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...errors import counted
from ...sentences import capital
from ...stream.rating_curve import TRUSTED_FACTOR, rating_stage
from .. import measuring
from ..display import Picture, Table, View, Words, plain_number, series_text
from ..field_sheets import is_listed
from ..style import (
    BAND,
    CREEK,
    GROUND,
    ICE,
    INK,
    MONTH_NAMES,
    RUST,
    SUN,
    figure,
    legend_above,
    plain_log,
)
from .common import needs, sources

__all__ = [
    "gaugings_figure",
    "gaugings_table",
    "headline",
    "next_words",
    "rating_figure",
    "rating_words",
    "references",
    "residual_figure",
    "sheets_table",
    "stage_figure",
    "stage_words",
    "worth_table",
]


def headline(study: Any, view: View) -> Words:
    """The answer in two sentences; without a line of gaugings, what the field sheets come to."""
    if study.gaugings is None and study.field_sheets.keys() - {"flood marks"}:
        return _of_sheets(study, view)
    return _of_gaugings(study, view)


def _of_sheets(study: Any, view: View) -> Words:
    told = series_text(
        [
            f"the {name} sheet gives **{view.text(each.flow_m3s, 'flow')}** ± {100 * each.uncertainty:.0f} % (one standard deviation)"
            for name, each in study.field_sheets.items()
            if name != "flood marks"
        ]
    )
    return Words(
        f"{told[0].upper()}{told[1:]}. No sheet says its day: give it a column date, or write its flow into a list of gaugings with date and stage, so that it tells of a month."
    )


@needs("gaugings", headline=True)
def _of_gaugings(study: Any, view: View) -> Words:
    gauged = study.gaugings
    lowest = int(np.argmin(gauged.flow_m3s))
    several = len(gauged) > 1
    sure = f"good to about {100 * np.median(gauged.uncertainty):.0f} % (one standard deviation)"
    if several:
        first = f"{len(gauged)} gaugings span **{view.range(gauged.flow_m3s.min(), gauged.flow_m3s.max(), 'flow', 3)}**, each {sure}."
    else:
        first = f"One gauging only: **{view.text(gauged.flow_m3s[0], 'flow')}**, {sure}."
    return Words(f"{first} {_where_next(study, view, lowest, several)}")


def _where_next(study: Any, view: View, lowest: int, several: bool) -> str:
    """Where the next gauging is worth most; without a record, how low the creek is known to fall."""
    gauged, following = (
        study.gaugings,
        [each for each in study.measure_next or () if each.flows_m3s],
    )
    if following:
        best = following[0]
        return f"The next gauging is worth most at {view.range(*best.flows_m3s, 'flow')}: {counted(best.gaugings, 'gauging')} there narrow{'s' if best.gaugings == 1 else ''} the uncertainty of the long-run annual energy by {100 * best.narrowed:.0f} %."
    if study.measure_next is not None:
        return "No further gauging narrows the annual energy by as much as a half per cent."
    deciding = study.deciding_range
    if deciding is None:
        known = study.site["stream"].get("lowest_known_flow")
        which = (
            f"The lowest is {view.text(gauged.flow_m3s[lowest], 'flow')}, of"
            if several
            else "It is of"
        )
        if known is not None:
            return f"{which} {_month(gauged.date[lowest])}; the lowest flow known of this creek is {view.text(known, 'flow')}, as the site file says."
        return f"{which} {_month(gauged.date[lowest])}: whether the creek falls lower in another season is not known; gauge again in the leanest month."
    few = int(np.sum(gauged.flow_m3s < deciding[0]))
    told = {0: "there is no reading", 1: "there is one reading"}.get(
        few, f"there are {few} readings"
    )
    return f"Below {view.text(deciding[0], 'flow', 2)}, where the lean days lie, {told}."


def _month(day: Any) -> str:
    stamp = np.datetime64(day, "D").item()
    return f"{MONTH_NAMES[stamp.month - 1]} {stamp.year}"


@needs("gaugings", quiet=True)
def gaugings_table(study: Any, view: View) -> Table:
    """Every gauging as it is taken into account."""
    gauged, rows = study.gaugings, []
    for index in range(len(gauged)):
        stage = gauged.stage_m[index]
        rows.append(
            (
                str(np.datetime64(gauged.date[index], "D")),
                "" if np.isnan(stage) else float(view.number(stage, "stage")),
                float(view.number(gauged.flow_m3s[index], "flow")),
                f"± {100 * gauged.uncertainty[index]:.0f} %",
                gauged.method[index],
                "left out of the rating" if gauged.ice[index] else "",
            )
        )
    return Table(
        (
            "date",
            view.header("stage", "stage"),
            view.header("flow", "flow"),
            "one standard deviation",
            "method",
            "ice",
        ),
        rows,
        "Gaugings",
    )


@needs("gaugings")
def gaugings_figure(study: Any, view: View) -> Picture:
    """The gaugings through time, with their bars."""
    gauged = study.gaugings
    flow, bar = view.number(gauged.flow_m3s, "flow"), 1.96 * gauged.uncertainty
    # Bars on the logarithm, so that they never reach below zero.
    low, high = flow * (1 - np.exp(-bar)), flow * (np.exp(bar) - 1)
    with figure(7.4, 3.2) as (made, axes):
        for is_ice, colour, label in ((False, CREEK, "open water"), (True, ICE, "with ice")):
            which = gauged.ice == is_ice
            if which.any():
                axes.errorbar(
                    gauged.date[which],
                    flow[which],
                    yerr=[low[which], high[which]],
                    fmt="o",
                    color=colour,
                    markersize=5,
                    capsize=3,
                    linewidth=1.2,
                    label=f"{label}, 95 %",
                )
        if study.record is not None:
            span = study.record.loc[str(gauged.date.min())[:10] : str(gauged.date.max())[:10]]
            axes.plot(
                span.index,
                view.number(span.to_numpy(), "flow"),
                color=INK,
                linewidth=0.5,
                alpha=0.6,
                label="daily record",
                zorder=1,
            )
        plain_log(axes)
        axes.set_ylabel(view.header("flow", "flow"))
        legend_above(axes)
        _dates(axes)
    return Picture(
        made,
        f"{counted(len(gauged), 'gauging')}{' from' if len(gauged) > 1 else ':'} {view.range(gauged.flow_m3s.min(), gauged.flow_m3s.max(), 'flow', 3)} with 95 % bars.",
    )


@needs("field_sheets", quiet=True)
def sheets_table(study: Any, view: View) -> Any:
    """What the field sheets come to, and where their doubt comes from."""
    if not study.field_sheets:
        return Words(
            "*No field sheets are named. A sheet (bucket fills, float runs, heads over a board, current-meter verticals, salt readings, flood marks) lets others check a gauging line by line.*"
        )
    rows = []
    for name, gauging in study.field_sheets.items():
        parts = sorted(gauging.parts.items(), key=lambda item: -item[1])[:3]
        rows.append(
            (
                name,
                float(view.number(gauging.flow_m3s, "flow")),
                f"± {100 * gauging.uncertainty:.1f} %",
                series_text([f"{part} {100 * share:.1f} %" for part, share in parts]),
                "; ".join(
                    [
                        *_unlisted(study, gauging, name),
                        *(
                            [
                                f"by Francis's formula {view.text(gauging.details['francis_m3s'], 'flow')}"
                            ]
                            if "francis_m3s" in gauging.details
                            else []
                        ),
                        *(view.told(each) for each in gauging.findings),
                    ]
                ),
            )
        )
    return Table(
        ("sheet", view.header("flow", "flow"), "one standard deviation", "mostly from", "remark"),
        rows,
        "Worked out from the field sheets",
    )


def _unlisted(study: Any, gauging: Any, name: str) -> list[str]:
    """That a sheet's flow stands in no line of the gaugings yet, so that nothing rests on it."""
    return (
        []
        if is_listed(study.gaugings, gauging) or name == "flood marks"
        else ["not in the list of gaugings yet: write it there, with its date and stage"]
    )


@needs("rating")
def rating_figure(study: Any, view: View) -> Picture:
    """The rating with its band, the gaugings, and the range that decides the energy shaded."""
    rating, gauged = study.rating, study.gaugings
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
            label="beyond what was gauged",
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
    from ...units import Q_

    return Q_(values, "m")


def _dates(axes: Any) -> None:
    """No more dates along the axis than can be read."""
    from matplotlib.dates import AutoDateFormatter, AutoDateLocator

    where = AutoDateLocator(minticks=3, maxticks=7)
    axes.xaxis.set_major_locator(where)
    axes.xaxis.set_major_formatter(AutoDateFormatter(where))


def _plain_x(axes: Any) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator

    axes.xaxis.set_major_locator(LogLocator(base=10, subs=(1, 2, 5)))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.6g}"))
    axes.xaxis.set_minor_formatter(FuncFormatter(lambda value, _: ""))


@needs("rating", quiet=True)
def rating_words(study: Any, view: View) -> Words:
    """What the rating says, how sure it is where it matters, and what would help."""
    rating = study.rating
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
    if rating.break_m is None:
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
    text += _leaning(study)
    deciding = study.deciding_range
    if deciding is None:
        middle = float(np.sqrt(rating.lowest_flow_m3s * rating.highest_flow_m3s))
        sd = float(rating.log_sd(rating_stage.si(middle, rating)))
        text += f"In the middle of what was gauged, at {view.text(middle, 'flow')}, the curve itself is good to {100 * sd:.0f} % (one standard deviation)."
    else:
        low, high = (100 * float(rating.log_sd(rating_stage.si(each, rating))) for each in deciding)
        text += (
            f"Where the energy is decided the curve is good to {plain_number(low, 2)} % at {view.text(deciding[0], 'flow', 2)} and "
            f"{plain_number(high, 2)} % at {view.text(deciding[1], 'flow', 2)} (one standard deviation)."
        )
    text += f" Above {view.text(rating.trusted_flow_m3s, 'flow', 2)}, half as much again as the highest gauging, it is drawn beyond what was measured and should not be leaned on"
    if study.stage is not None:
        flow = rating.flow_si(study.stage.dropna().to_numpy())
        beyond = flow > rating.trusted_flow_m3s
        if beyond.any():
            text += f"; {100 * beyond.mean():.1f} % of the stages and {100 * flow[beyond].sum() / flow.sum():.0f} % of their water lie there"
    return Words(f"{text}.{_shifted(rating)}")


_CONTROL_TOLD = {"rectangular": "rectangular control", "v-notch": "V-notch"}


def _leaning(study: Any) -> str:
    """What a rating of few gaugings leans on."""
    from ...stream.rating import FREE_GAUGINGS

    rating = study.rating
    if len(np.unique(rating.gauged_stage_m)) >= FREE_GAUGINGS:
        return ""
    control = study.site["stream"].get("control")
    shape = (
        f"taken as that of a {_CONTROL_TOLD.get(control, control)}"
        if control
        else "assumed, for the shape of the control is not said"
    )
    leans = (
        ", and the curve leans on the surveyed stage of no flow"
        if "cease_to_flow" in study.site["stream"]
        else ""
    )
    return (
        f"With gaugings at fewer than five stages the exponent is not fitted but {shape}{leans}. "
    )


def _shifted(rating: Any) -> str:
    if rating.shift is None:
        return ""
    day, change = rating.shift
    return (
        f" **The control has shifted:** gaugings from {day} on lie {100 * abs(change):.0f} % {'above' if change > 0 else 'below'} those before at one stage. "
        "Look for what moved (gravel, wood, a kicked stone), keep two sheets of gaugings, and rate each time by its own."
    )


@needs("rating", quiet=True)
def residual_figure(study: Any, view: View) -> Picture:
    """How far each gauging lies off the rating, through time: a control that moves shows here first."""
    rating, gauged = study.rating, study.gaugings
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
        _dates(axes)
    told = (
        "no shift stands out"
        if rating.shift is None
        else f"the control shifted about {rating.shift[0]}"
    )
    return Picture(made, f"Deviation of {len(used)} gaugings from the rating through time; {told}.")


@needs("stage", quiet=True)
def stage_figure(study: Any, view: View) -> Picture:
    """The stage as it was logged, without what ice spoils."""
    stage, record = study.stage, study.stage_record
    with figure(7.4, 2.6) as (made, axes):
        axes.plot(stage.index, view.number(stage.to_numpy(), "stage"), color=CREEK, linewidth=1)
        if record.lowered.any():
            axes.plot(
                stage.index[record.lowered],
                view.number(stage.to_numpy()[record.lowered], "stage"),
                ".",
                color=ICE,
                markersize=4,
                label="under ice, corrected",
            )
        gauged = study.gaugings
        if gauged is not None:
            axes.plot(
                gauged.date,
                view.number(gauged.stage_m, "stage"),
                "o",
                color=RUST,
                markersize=4,
                label="gaugings",
            )
            if stage.index[0] < stage.index[-1]:
                axes.set_xlim(stage.index[0], stage.index[-1])
            legend_above(axes)
        _dates(axes)
        axes.set_ylabel(view.header("stage", "stage"))
    missing, unit = int(stage.isna().sum()), "day" if record.daily else "reading"
    left_out = f"{counted(missing, unit)} missing or left out for ice" if missing else "whole"
    return Picture(
        made,
        f"{'Daily stage' if record.daily else 'Stage as logged'} from {stage.index[0]:%Y-%m-%d} to {stage.index[-1]:%Y-%m-%d}, {left_out}.",
    )


@needs("stage", quiet=True)
def stage_words(study: Any, view: View) -> Words:
    """How often the stage was read, and what ice does to it."""
    stage, record = study.stage, study.stage_record
    every = _every(stage.index if not record.daily else stage.dropna().index)
    if record.daily:
        text = f"These are taken as daily means{'' if every in ('', 'day') else f', one every {every}: the days between are not known'}. "
    else:
        text = f"{counted(len(stage), 'reading')}{every and f', one every {every}'}. Each is turned into a flow before the day is averaged: the rating is curved, so the flow of a mean stage would come out too low. "
    told = [
        each for each in record.findings if "highest gauging" not in each.message
    ]  # that is said beside the rating
    text += " ".join(f"{capital(view.told(each))}." for each in told)
    return Words(text.rstrip())


def _every(times: Any) -> str:
    """The usual step of a series in words: ``15 minutes``, ``hour``, ``7 days``; nothing where there is none."""
    if len(times) < 2:
        return ""
    minutes = (
        float(np.median(np.diff(times.to_numpy()).astype("timedelta64[s]").astype(float))) / 60
    )
    number, unit = (
        (minutes, "minute")
        if minutes < 60
        else (minutes / 60, "hour")
        if minutes < 1440
        else (minutes / 1440, "day")
    )
    return unit if plain_number(number) == "1" else f"{plain_number(number)} {unit}s"


def next_words(study: Any, view: View) -> Words:
    """What to measure next, and why."""
    gauged, steps = study.gaugings, []
    if gauged is None:
        steps.append(
            "Write the field sheets' flows into a list of gaugings, each with its date and stage."
            if study.field_sheets
            else "Gauge the creek once, today, with whatever there is: a bucket or a float beats a guess."
        )
    deciding = study.deciding_range
    if gauged is not None and deciding is not None and study.measure_next is None:
        between = int(np.sum((gauged.flow_m3s >= deciding[0]) & (gauged.flow_m3s <= deciding[1])))
        if between < 6:
            steps.append(
                f"Gauge in the range {view.range(*deciding, 'flow')} ({between} so far): most of the energy is made there."
            )
    if gauged is not None and np.isnan(gauged.stage_m).any():
        steps.append(
            "Read the stage at every gauging, from a staff gauge that does not move: a flow without a stage tells of one day only."
        )
    if gauged is not None and study.record is None:
        steps += _months_without(study)
        steps.append(
            "Put up a staff gauge and read it once a week; after a year, and with a long gauge nearby, that becomes a record."
        )
    if study.rating is not None and "cease_to_flow" not in study.site["stream"]:
        steps.append(
            "Survey the level at which the creek would stop flowing: it fixes the low end of the rating for the price of an hour."
        )
    steps = [f"{each[0].upper()}{each[1:]}." for each in measuring.lines(study, view)] + steps
    if not steps:
        steps.append(
            "The gaugings cover what decides the energy. One a year, low, will show whether the control has moved."
        )
    return Words("\n".join(f"{number}. {step}" for number, step in enumerate(steps, 1)))


def _months_without(study: Any) -> list[str]:
    """That some months hold no reading, the winter's among them."""
    seen = {int(str(np.datetime64(day, "M"))[5:7]) for day in study.gaugings.date}
    without = [month for month in range(1, 13) if month not in seen]
    if not without:
        return []
    winter = [month for month in without if month in study.winter]
    last = "; in a creek under snow the lowest flow is often just before the thaw" if winter else ""
    return [
        f"No reading in {counted(len(without), 'month')} of 12 ({series_text([MONTH_NAMES[month - 1] for month in without])}): of these nothing is known{last}."
    ]


@needs("measure_next")
def worth_table(study: Any, view: View) -> Table:
    """What each measurement would narrow the annual energy by."""
    rows = [
        (
            measuring.told(study, view, each),
            each.gaugings or "",
            f"{100 * each.share:.0f} %" if each.flows_m3s and np.isfinite(each.share) else "",
            f"{100 * each.narrowed:.0f} %",
        )
        for each in study.measure_next[:8]
    ]
    return Table(
        (
            "what",
            "how many gaugings",
            "energy that hangs on these flows",
            "narrows the uncertainty of the long-run annual energy by",
        ),
        rows,
        "What to measure next, by what it would narrow; year-to-year variability left out",
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "ISO 748:2021, Hydrometry: measurement of liquid flow in open channels, velocity-area methods.",
        "ISO 1438:2017, Hydrometry: open channel flow measurement using thin-plate weirs; C. E. Kindsvater and B. L. Shen's formula.",
        "ISO 9555-1:1994, Liquid flow in open channels: tracer dilution methods; M. Richardson et al., Confluence 1(2), 2017, for salt.",
        "ISO 18320:2020, Hydrometry: determination of the stage-discharge relationship.",
        "T. A. Cohn, J. E. Kiang and R. R. Mason, J. Hydraul. Eng. 139(5), 2013: the uncertainty of a current-meter gauging from its own verticals.",
        "S. E. Rantz and others, USGS Water-Supply Paper 2175, 1982: floats, shifts of the control, stages under ice.",
        "T. Dalrymple and M. A. Benson, USGS TWRI 3-A2, 1967: floods from their marks. U.S. Bureau of Reclamation, Water Measurement Manual, 2001: weir boards.",
    )
