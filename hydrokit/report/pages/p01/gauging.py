"""Page 01: how much water is in the creek, and how sure that is."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....sentences import series_text
from ....site import field_visits
from ....site.field_visits import Visit
from ....study.build.gauging_plans import GaugedFlows, gauged_flows
from ....study.study import Study
from ....study.view import View
from ... import next_measurements
from ...display import Picture, Table, Words
from ...style import (
    CREEK,
    ICE,
    INK,
    MONTH_NAMES,
    figure,
    legend_above,
    plain_log,
)
from ..common import needs, sources
from .rating import date_axis

if TYPE_CHECKING:
    from ....energy.measuring import Measurement
    from ....site.sheets import FieldGaugings

__all__ = [
    "gaugings_figure",
    "gaugings_table",
    "headline",
    "next_words",
    "references",
    "sheets_table",
    "worth_table",
]


def headline(study: Study, view: View) -> Words:
    """The answer in two sentences; without a line of gaugings, what the field sheets come to."""
    if study.gaugings is None and study.field_sheets.keys() - {"flood marks"}:
        return _of_sheets(study, view)
    return _of_gaugings(study, view)


def _of_sheets(study: Study, view: View) -> Words:
    told = series_text(
        [
            (
                f"the {name} sheet gives **{view.text(each.flow_m3s, 'flow')}** ± "
                f"{100 * each.uncertainty:.0f} % (one standard deviation)"
            )
            for name, each in study.field_sheets.items()
            if name != "flood marks"
        ]
    )
    return Words(
        f"{told[0].upper()}{told[1:]}. No sheet says its day: give it a column date, and a "
        "stage where one was read, so that it tells of a month."
    )


@needs(Study.gaugings, gauged_flows, headline=True)
def _of_gaugings(study: Study, view: View, gaugings: FieldGaugings, found: GaugedFlows) -> Words:
    count = len(gaugings)
    sure = f"good to about {100 * found.uncertainty:.0f} % (one standard deviation)"
    if count > 1:
        first = (
            f"{count} gaugings span "
            f"**{view.range(found.lowest_m3s, found.highest_m3s, 'flow', 3)}**, each {sure}."
        )
    else:
        first = f"One gauging only: **{view.text(found.lowest_m3s, 'flow')}**, {sure}."
    return Words(f"{first} {_where_next(study, view, found, count > 1)}")


def _where_next(study: Study, view: View, found: GaugedFlows, several: bool) -> str:
    """Where the next gauging is worth most; without a record, how low the creek is known to fall."""
    following = [each for each in study.measure_next or () if each.flows_m3s]
    if following:
        best = following[0]
        low, high = best.flows_m3s
        at = study.answer("gauging.next")
        stage = "" if at is None else f" (stage about {view.shown(at)})"
        more = (
            f", {counted(best.gaugings, 'gauging')} by {100 * best.narrowed_by_all:.0f} %"
            if best.gaugings > 1
            else ""
        )
        return (
            f"The next gauging is worth most at {view.range(low, high, 'flow')}{stage}: one there "
            f"narrows the uncertainty of the long-run annual energy by {100 * best.narrowed:.0f} "
            f"%{more}."
        )
    if study.measure_next is not None:
        return "No further gauging narrows the annual energy by as much as a half per cent."
    deciding = study.deciding_range
    if deciding is None:
        known = study.site.stream.lowest_known_flow
        which = (
            f"The lowest is {view.text(found.lowest_m3s, 'flow')}, of" if several else "It is of"
        )
        if known is not None:
            return (
                f"{which} {_month(found.lowest_on)}; the lowest flow known of this creek is "
                f"{view.text(known, 'flow')}, as the site file says."
            )
        return (
            f"{which} {_month(found.lowest_on)}: whether the creek falls lower in another season "
            "is not known; gauge again in the leanest month."
        )
    told = {0: "there is no gauging", 1: "there is one gauging"}.get(
        found.below_deciding, f"there are {found.below_deciding} gaugings"
    )
    return f"Below {view.text(deciding[0], 'flow', 2)}, where the lean days lie, {told}."


def _as_read(view: View, stage_m: float) -> str:
    """A stage to what a staff gauge is read to: a millimetre, or a hundredth of a foot."""
    return f"{float(view.number(stage_m, 'stage')):.{3 if view.system == 'metric' else 2}f}"


def _month(day: date) -> str:
    return f"{MONTH_NAMES[day.month - 1]} {day.year}"


@needs(Study.gaugings, quiet=True)
def gaugings_table(study: Study, view: View, gauged: FieldGaugings) -> Table:
    """Every gauging as it is taken into account."""
    rows = []
    for index in range(len(gauged)):
        stage = gauged.stage_m[index]
        rows.append(
            (
                str(np.datetime64(gauged.date[index], "D")),
                "" if np.isnan(stage) else _as_read(view, stage),
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


@needs(Study.gaugings)
def gaugings_figure(study: Study, view: View, gauged: FieldGaugings) -> Picture:
    """The gaugings through time, with their bars."""
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
        date_axis(axes)
    return Picture(
        made,
        (
            f"{counted(len(gauged), 'gauging')}{' from' if len(gauged) > 1 else ':'} "
            f"{view.range(gauged.flow_m3s.min(), gauged.flow_m3s.max(), 'flow', 3)} with 95 % "
            "bars."
        ),
    )


def sheets_table(study: Study, view: View) -> Table | Words:
    """What the field sheets come to, and where their uncertainty comes from."""
    if not study.field_sheets:
        return Words(
            "*No field sheets are named. A sheet (bucket fills, float runs, heads over a weir "
            "plate, current-meter verticals, salt readings, flood marks) lets others check a "
            "gauging line by line.*"
        )
    rows = []
    for visit, (name, gauging) in zip(study.visits_gauged, study.field_sheets.items()):
        parts = sorted(gauging.parts.items(), key=lambda item: -item[1])[:3]
        rows.append(
            (
                name,
                float(view.number(gauging.flow_m3s, "flow")),
                f"± {100 * gauging.uncertainty:.1f} %",
                series_text([f"{part} {100 * share:.1f} %" for part, share in parts]),
                "; ".join(
                    [
                        *_standing(study, visit),
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


def _standing(study: Study, visit: Visit) -> list[str]:
    """Whether a sheet's flow counts, and as what."""
    if visit.kind == "flood marks":
        return []
    gaugings, said = study.gaugings, [] if visit.day is None else [f"a gauging of {visit.on}"]
    line = field_visits.line_of(gaugings, visit)
    if gaugings is None or line is None:
        return said or ["counts for nothing yet: give the sheet a column date"]
    listed = f"{100 * gaugings.uncertainty[line]:.2g} %"
    if listed != f"{100 * visit.gauging.uncertainty:.2g} %":
        said.append(f"the list of gaugings gives it ± {listed}, which counts")
    return said


def next_words(study: Study, view: View) -> Words:
    """What to measure next, and why."""
    gauged, steps = study.gaugings, []
    if gauged is None:
        steps.append(
            "Give each field sheet a column date, and the stage where one was read: then it is a gauging."
            if study.field_sheets
            else "Gauge the creek once, today, with whatever there is: a bucket or a float beats a guess."
        )
    deciding, flows = study.deciding_range, gauged_flows(study)
    if flows is not None and deciding is not None and study.measure_next is None:
        between = flows.within_deciding
        if between < 6:
            steps.append(
                f"Gauge in the range {view.range(*deciding, 'flow')} ({between} so far): most "
                "of the energy is made there."
            )
    if gauged is not None and np.isnan(gauged.stage_m).any():
        steps.append(
            "Read the stage at every gauging, from a staff gauge that does not move: a flow "
            "without a stage tells of one day only."
        )
    if gauged is not None and study.record is None:
        steps += _months_without(study, gauged)
        read = np.isfinite(gauged.stage_m).any()
        steps.append(
            f"{'Read the staff gauge' if read else 'Put up a staff gauge and read it'} once a "
            "week; after a year, and with a long gauge nearby, that becomes a record."
        )
    if study.rating is not None and not study.site.stream.given("cease_to_flow"):
        steps.append(
            "Survey the level at which the creek would stop flowing: it fixes the low end of "
            "the rating for the price of an hour."
        )
    steps = [
        f"{each[0].upper()}{each[1:]}." for each in next_measurements.lines(study, view)
    ] + steps
    if not steps:
        steps.append(
            "The gaugings cover what decides the energy. One a year, low, will show whether "
            "the control has moved."
        )
    return Words("\n".join(f"{number}. {step}" for number, step in enumerate(steps, 1)))


def _months_without(study: Study, gauged: FieldGaugings) -> list[str]:
    """That some months hold no reading, the winter's among them."""
    seen = {int(str(np.datetime64(day, "M"))[5:7]) for day in gauged.date}
    without = [month for month in range(1, 13) if month not in seen]
    if not without:
        return []
    winter = [month for month in without if month in study.winter]
    last = "; in a creek under snow the lowest flow is often just before the thaw" if winter else ""
    return [
        (
            f"No reading in {counted(len(without), 'month')} of 12 "
            f"({series_text([MONTH_NAMES[month - 1] for month in without])}): of these nothing is "
            f"known{last}."
        )
    ]


@needs(Study.measure_next)
def worth_table(study: Study, view: View, measure_next: tuple[Measurement, ...]) -> Table:
    """What each measurement would narrow the annual energy by."""
    rows = [
        (
            next_measurements.told(study, view, each),
            f"{100 * each.narrowed:.0f} %",
            each.gaugings or "",
            f"{100 * each.narrowed_by_all:.0f} %" if each.gaugings else "",
            f"{100 * each.share:.0f} %" if each.flows_m3s and np.isfinite(each.share) else "",
        )
        for each in measure_next[:8]
    ]
    return Table(
        (
            "what",
            "narrows the uncertainty of the long-run annual energy by",
            "gaugings worth making there",
            "all of them narrow it by",
            "energy that hangs on these flows",
        ),
        rows,
        (
            "What to measure next, by what it would narrow; year-to-year variability left out. A "
            "gauging counts once in the first column"
        ),
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "ISO 748:2021, Hydrometry: measurement of liquid flow in open channels, velocity-area methods.",
        (
            "ISO 1438:2017, Hydrometry: open channel flow measurement using thin-plate weirs; C. "
            "E. Kindsvater and B. L. Shen's formula."
        ),
        (
            "ISO 9555-1:1994, Liquid flow in open channels: tracer dilution methods; M. "
            "Richardson et al., Confluence 1(2), 2017, for salt."
        ),
        "ISO 18320:2020, Hydrometry: determination of the stage-discharge relationship.",
        (
            "T. A. Cohn, J. E. Kiang and R. R. Mason, J. Hydraul. Eng. 139(5), 2013: the "
            "uncertainty of a current-meter gauging from its own verticals."
        ),
        (
            "S. E. Rantz and others, USGS Water-Supply Paper 2175, 1982: floats, shifts of the "
            "control, stages under ice."
        ),
        (
            "T. Dalrymple and M. A. Benson, USGS TWRI 3-A2, 1967: floods from their marks. U.S. "
            "Bureau of Reclamation, Water Measurement Manual, 2001: weir plates."
        ),
    )
