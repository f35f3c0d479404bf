"""Page 09, the log: what happened, what it cost, when a walk is worth it, what drifts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ....errors import counted
from ....running.history import CAUSES
from ....sentences import plain_number, series_text
from ....study.build.metering import metered_at
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    CREEK,
    GROUND,
    ICE,
    INK,
    LEAF,
    MONTH_NAMES,
    PALE,
    RUST,
    SUN,
    WARNING,
    figure,
)
from ..common import needs, sources

if TYPE_CHECKING:
    from ....running.history import History
    from ....running.log import Log
    from ....study.build.log import LogTold
    from ....study.build.upkeep import Upkeep

__all__ = [
    "event_table",
    "log_figure",
    "log_words",
    "month_table",
    "month_words",
    "references",
    "trouble_table",
]

_COLOURS = {
    "clogging": LEAF, "sudden drop": RUST, "frazil": CREEK, "ice stop": ICE, "stop": INK, "shut off": PALE, "no load": WARNING,
    "too many jets": SUN, "short of water": GROUND, "low though spilling": WARNING,
}  # fmt: skip
_SHOWN_EVENTS, _SHOWN_MONTHS, _SHOWN_CAUSES = 30, 24, 5
KWH = 3.6e6
_OF_WATTS = ("slow decline", "below commissioning")
_NAMES = {"gauge off": "gauge differs"}
_LEAST_TOLD = 1.0 * KWH


def day_words(moment: Any) -> str:
    return f"{pd.Timestamp(moment):%Y-%m-%d}"


def kwh_words(joules: float, digits: int = 2) -> str:
    if 0 < joules < 0.5 * KWH:
        return "less than 1 kWh"
    return f"{plain_number(joules / KWH, digits)} kWh"


_WHOLE_YEAR = 0.95  # years of a log from which on each season is in it
_WELL_BELOW = 0.03  # of the commissioned watts: more than meters differ by


@needs(Study.log, Study.history, Study.log_told, headline=True)
def log_words(study: Study, view: View, log: Log, happened: History, told: LogTold) -> Words:
    """What the log holds and how far it can be believed."""
    what = "watts" if happened.reference.basis == "watts" else "pressure"
    text = (
        f"The log holds {len(log):,} readings from {day_words(log.time[0])} to {day_words(log.time[-1])}. {told.healthy:,} of them show the plant healthy; "
        f"the repeatability of the {what} is then {100 * told.repeatability:.1f} % (one standard deviation), so that nothing smaller can be seen. "
        f"What happened cost about {kwh_words(told.lost_j_a)} a year compared with the healthy {what}"
    )
    if happened.reference.from_card:
        text += f"With {series_text([counted(n, 'jet') for n in sorted(happened.reference.from_card)])} open the log holds no watts: those of the gauge card are taken. "
    at = f"at the meter, at the {metered_at(study.site)}"
    text += (
        f", beside {kwh_words(told.made_j_a)} made, both {at}. "
        if told.made_j_a > 0
        else f", {at}. "
    )
    if happened.years < _WHOLE_YEAR:
        text += f"**The log covers {365.25 * happened.years:.0f} days: figures for a year assume that the other seasons are like these.** "
    if told.below_baseline > _WELL_BELOW:
        text += f"**Even the best readings of the log lie {100 * told.below_baseline:.0f} % below the commissioned baseline**: what that cost stands among the losses as 'below commissioning'. "
    troubles = log.troubles
    text += (
        "Every line could be used."
        if not troubles
        else f"{counted(len(troubles), 'kind')} of error {'was' if len(troubles) == 1 else 'were'} corrected or left out; the table lists every line."
    )
    return Words(text)


@needs(Study.log, quiet=True)
def trouble_table(study: Study, view: View, log: Log) -> Table | Words:
    """What could not be believed, and what was done."""
    troubles = log.troubles
    if not troubles:
        return Words("*No line of the log had to be corrected.*")
    return Table(
        ("what", "lines", "done"),
        [(each.kind, each.where, each.done) for each in troubles],
        "Errors in the log",
    )


@needs(Study.history, Study.upkeep, quiet=True)
def log_figure(study: Study, view: View, happened: History, upkeep: Upkeep) -> Picture:
    """Watts or pressure through time, against the healthy ones, with what happened."""
    log, usual = happened.log, happened.reference
    watts = usual.basis == "watts"
    values, healthy = (
        (log.power_w, usual.power_w) if watts else (log.pressure_pa, usual.pressure_pa)
    )
    kind, name = ("power", "power") if watts else ("pressure", "pressure")
    time, values, healthy, pressure = _thinned_for_figure(
        log.time, values, healthy, log.pressure_pa
    )
    rows = 2 if watts and np.isfinite(pressure).any() else 1
    with figure(
        7.4, 3.6 if rows == 2 else 2.8, rows, 1, sharex=True, height_ratios=[2, 1][:rows]
    ) as (made, axes):
        top = axes[0] if rows == 2 else axes
        top.plot(
            time,
            view.number(healthy, kind),
            color=PALE,
            linewidth=3,
            label="healthy, for the jets open",
            zorder=1,
        )
        top.plot(
            time,
            view.number(values, kind),
            color=INK,
            linewidth=0.7,
            marker=".",
            markersize=3,
            label="read",
            zorder=3,
        )
        named: set[str] = set()
        for event in happened.events:
            if event.kind in _COLOURS and event.energy_j > 0:
                label = None if event.kind in named else event.kind
                named.add(event.kind)
                top.axvspan(
                    event.start,
                    event.end,
                    color=_COLOURS[event.kind],
                    alpha=0.45,
                    linewidth=0,
                    label=label,
                    zorder=0,
                )
        cleans = [event.start for event in happened.of("clean")]
        if cleans:
            top.plot(
                cleans,
                np.full(len(cleans), 0.02),
                linestyle="",
                marker="^",
                color=LEAF,
                markersize=5,
                transform=top.get_xaxis_transform(),
                label="screen cleaned",
                zorder=4,
            )
        top.set(ylabel=view.header(name, kind), ylim=(0, None))
        handles, labels = top.get_legend_handles_labels()
        top.legend(
            handles,
            labels,
            loc="lower left",
            bbox_to_anchor=(0, 1.0),
            ncols=4,
            borderaxespad=0.2,
            columnspacing=1.2,
            fontsize=8.5,
        )
        if rows == 2:
            axes[1].plot(
                time,
                view.number(pressure, "pressure"),
                color=CREEK,
                linewidth=0.7,
                marker=".",
                markersize=3,
            )
            for event in upkeep.gauge:
                if event.kind == "gauge off":
                    axes[1].axvspan(event.start, event.end, color=WARNING, alpha=0.15, linewidth=0)
                    middle = event.start + (event.end - event.start) / 2
                    axes[1].annotate(
                        "gauge differs",
                        (middle, 0.06),
                        xycoords=("data", "axes fraction"),
                        ha="center",
                        fontsize=8.5,
                        color=WARNING,
                    )
            axes[1].set(ylabel=view.header("pressure", "pressure"), ylim=(0, None))
    told = series_text(
        [f"{kind} {kwh_words(lost)}" for kind, lost in list(happened.lost_j().items())[:4]]
    )
    return Picture(
        made,
        f"Readings of {study.name} from {day_words(log.time[0])} to {day_words(log.time[-1])} against the healthy ones; lost to: {told}.",
    )


def _thinned_for_figure(time: np.ndarray, *series: np.ndarray) -> tuple[np.ndarray, ...]:
    """Long logs drawn by the mean of each sixth of a day."""
    if len(time) < 5000:
        return (time, *series)
    frame = (
        pd.DataFrame(dict(enumerate(series)), index=pd.DatetimeIndex(time)).resample("4h").mean()
    )
    return (frame.index.to_numpy(), *(frame[number].to_numpy() for number in range(len(series))))


@needs(Study.history, Study.upkeep, quiet=True)
def event_table(study: Study, view: View, happened: History, upkeep: Upkeep) -> Table:
    """What happened, in order of time; of many only the costliest."""
    told = [event for event in happened.events if event.kind in CAUSES]
    costly = sorted(
        (event for event in told if event.energy_j >= _LEAST_TOLD),
        key=lambda event: -event.energy_j,
    )[:_SHOWN_EVENTS]
    gauge = [event for event in upkeep.gauge if event.kind == "gauge off" or event.size == 0]
    rows = []
    for event in sorted([*costly, *gauge], key=lambda event: event.start):
        if event.kind in CAUSES:
            size = (
                "all"
                if event.kind in ("ice stop", "stop", "shut off", "no load")
                else f"{100 * event.size:.0f} % of the {'watts' if event.kind in _OF_WATTS else 'flow'}"
            )
        else:
            size = (
                "reads as in the rest of the log again"
                if event.size == 0
                else f"reads {view.text(abs(event.size), 'pressure', 2)} {'lower' if event.size < 0 else 'higher'} than in the rest of the log"
            )
        lost = round(event.energy_j / KWH, 1) if event.kind in CAUSES else ""
        rows.append(
            (
                day_words(event.start),
                day_words(event.end),
                _NAMES.get(event.kind, event.kind),
                size,
                lost,
                event.note,
            )
        )
    left = len(told) - len(costly)
    caption = "What happened" + (
        f"; {left} smaller or shorter events are not shown" if left > 0 else ""
    )
    return Table(
        ("from", "to", "what", "at the worst", "lost [kWh]", "the owner's words"),
        rows or [("", "", "nothing", "", "", "")],
        caption,
    )


@needs(Study.log_told, quiet=True)
def month_table(study: Study, view: View, told: LogTold) -> Table:
    """Energy made and lost, month by month, the last first."""
    months = told.months[::-1][:_SHOWN_MONTHS]
    causes = [kind for kind in told.lost_by_cause if any(kind in each.lost_j for each in months)][
        :_SHOWN_CAUSES
    ]
    rows = [
        (
            f"{MONTH_NAMES[each.month - 1][:3]}\u00a0{each.year}",
            each.made_j / KWH,
            *(
                each.lost_j[kind] / KWH if each.lost_j.get(kind, 0.0) >= 0.5 * KWH else ""
                for kind in causes
            ),
            each.cleanings or "",
        )
        for each in months
    ]
    return Table(
        ("month", "made", *causes, "cleanings"),
        rows,
        "Made, and lost to each cause, month by month, at the meter [kWh]",
    )


@needs(Study.log_told, quiet=True)
def month_words(study: Study, view: View, told: LogTold) -> Words:
    """The page for the month: the last one in the log."""
    if not told.months:
        return Words("Without watts in the log no month can be added up.")
    last = told.months[-1]
    text = f"**{MONTH_NAMES[last.month - 1]} {last.year}**: {kwh_words(last.made_j, 3)} made"
    lost = [f"{kwh_words(value)} lost to {kind}" for kind, value in last.lost_j.items()]
    text += f", {series_text(lost)}" if lost else ", nothing lost"
    if last.cleanings:
        text += f"; the screen was cleaned {counted(last.cleanings, 'time')}"
    text += f". A year before: {kwh_words(last.before_j, 3)}" if np.isfinite(last.before_j) else ""
    seen = last.last_seen
    text += f". Last seen: {seen.kind}, until {day_words(seen.end)}" if seen is not None else ""
    return Words(text + ".")


def log_columns(view: View) -> tuple[str, ...]:
    """Titles of a sheet to fill in, which are those of the file."""
    return (
        "time",
        "jets [-]",
        view.header("pressure", "pressure"),
        "volts [V]",
        "amps [A]",
        "spilling",
        "needle",
        *(view.header(of, "temperature").replace("°", "deg") for of in ("air", "water")),
        "note",
    )


def references() -> Words:
    """What the pages on log and winter rest on."""
    return sources(
        "Under-fed fixed jets: orifice law; the interval between cleanings: F. W. Harris, Factory 10(2), 1913, the same sum for stocks.",
        "Densest reading: D. R. Bickel, R. Frühwirth, Computational Statistics & Data Analysis 50, 2006 (half-sample mode).",
        "Freezing of still water: ASHRAE Handbook, Fundamentals, 2009, ch. 23; H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, ch. 11.",
        "Weather for frazil: articles citing S. F. Daly, 1994; depth of frost: J. Stefan, 1891.",
        "Filling speed of 0.3 m/s (1 ft/s): AWWA M51, as quoted in public code that cites it. Closing of valves: J. Michaud, 1878.",
        "Common practice, no source: mesh of window screen wears through in about a year; ice is lifted off an intake by hand; a running pressure below its usual value means the pipe is not full.",
    )
