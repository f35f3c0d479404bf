"""Page 09, the log: what happened, what it cost, when a walk is worth it, what drifts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    INK,
    LEAF,
    MONTH_NAMES,
    SMALL,
    SUN,
    WARNING,
    WIDE,
    figure,
    legend_above,
    thousands,
)
from ..common import needs, sources

if TYPE_CHECKING:
    from matplotlib.axes import Axes

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

_DRAWN = (
    "short of water",
    "too many jets",
    "clogging",
    "low though spilling",
    "sudden drop",
    "frazil",
    "ice stop",
    "stop",
    "no load",
    "shut off",
)
_SHOWN_EVENTS, _SHOWN_MONTHS, _SHOWN_CAUSES = 30, 24, 5
KWH = 3.6e6
_OF_WATTS = ("slow decline", "below commissioning")
_NAMES = {"gauge off": "gauge differs"}
_LEAST_TOLD = 1.0 * KWH


def day_words(moment: np.datetime64) -> str:
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
        f"The log holds {len(log):,} readings from {day_words(log.time[0])} to "
        f"{day_words(log.time[-1])}. {told.healthy:,} of them show the plant healthy; the "
        f"repeatability of the {what} is then {100 * told.repeatability:.1f} % (one standard "
        "deviation), so that nothing smaller can be seen. What happened cost about "
        f"{kwh_words(told.lost_j_a)} a year compared with the healthy {what}"
    )
    if happened.reference.from_card:
        text += (
            "With "
            f"{series_text([counted(n, 'jet') for n in sorted(happened.reference.from_card)])} "
            "open the log holds no watts: those of the gauge card are taken. "
        )
    at = f"at the meter, at the {metered_at(study.site)}"
    made = study.answer("energy.log.metered")  # what is not known of it is filled in there
    text += (
        f", beside {view.shown(made)} made, both {at}. "
        if made is not None
        else f", beside {kwh_words(told.made_j_a)} made, both {at}. "
        if told.made_j_a > 0
        else f", {at}. "
    )
    if happened.years < _WHOLE_YEAR:
        text += (
            f"**The log covers {365.25 * happened.years:.0f} days: figures for a year assume that "
            "the other seasons are like these.** "
        )
    if told.below_baseline > _WELL_BELOW:
        text += (
            f"**Even the best readings of the log lie {100 * told.below_baseline:.0f} % below the "
            "commissioned baseline**: what that cost stands among the losses as 'below "
            "commissioning'. "
        )
    troubles = log.troubles
    text += (
        "Every line could be used."
        if not troubles
        else (
            f"{counted(len(troubles), 'kind')} of error {'was' if len(troubles) == 1 else 'were'} "
            "corrected or left out; the table lists every line."
        )
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
    """Watts and pressure through time against the healthy ones; below them, a line for each thing
    that happened."""
    log, usual = happened.log, happened.reference
    watts = usual.basis == "watts"
    values, healthy = (
        (log.power_w, usual.power_w) if watts else (log.pressure_pa, usual.pressure_pa)
    )
    kind = "power" if watts else "pressure"
    time, values, healthy, pressure = _thinned_for_figure(
        log.time, values, healthy, log.pressure_pa
    )
    spans = _spans(happened, upkeep)
    two = watts and bool(np.isfinite(pressure).any())
    tall = [2.0, *([1.1] if two else []), *([0.25 + 0.19 * len(spans)] if spans else [])]
    with figure(
        WIDE, 0.8 + sum(tall), len(tall), 1, sharex=True, height_ratios=tall, squeeze=False
    ) as (made, grid):
        top, *below = grid[:, 0]
        top.plot(
            time,
            view.number(healthy, kind),
            color=SUN,
            alpha=0.6,
            linewidth=3,
            label="healthy, for the jets open",
        )
        top.plot(time, view.number(values, kind), label="read", **_READ)
        top.set(ylabel=view.header(kind, kind), ylim=(0, None))
        legend_above(top)
        thousands(top.yaxis)
        if two:
            below[0].plot(time, view.number(pressure, "pressure"), **_READ)
            below[0].set(ylabel=view.header("pressure", "pressure"), ylim=(0, None))
        if spans:
            _draw_spans(below[-1], spans)
    told = series_text(
        [f"{kind} {kwh_words(lost)}" for kind, lost in list(happened.lost_j().items())[:4]]
    )
    return Picture(
        made,
        (
            f"Readings of {study.name} from {day_words(log.time[0])} to {day_words(log.time[-1])} "
            f"against the healthy ones; lost to: {told}."
        ),
    )


_READ: dict[str, Any] = {"color": INK, "linewidth": 0.7, "marker": ".", "markersize": 3}
_CLEANED, _GAUGE = "screen cleaned", "gauge differs"


def _spans(happened: History, upkeep: Upkeep) -> dict[str, list[Any]]:
    """What happened, by kind, in the order in which the kinds are told."""
    spans: dict[str, list[Any]] = {}
    for kind in _DRAWN:
        found = [each for each in happened.of(kind) if each.energy_j > 0]
        if found:
            spans[kind] = found
    for name, events in (
        (_CLEANED, list(happened.of("clean"))),
        (_GAUGE, [each for each in upkeep.gauge if each.kind == "gauge off"]),
    ):
        if events:
            spans[name] = events
    return spans


def _draw_spans(axes: Axes, spans: Mapping[str, Sequence[Any]]) -> None:
    """One line for each kind: bars from start to end, a mark where it is a moment."""
    for row, (name, events) in enumerate(spans.items()):
        if name == _CLEANED:
            times = [each.start for each in events]
            axes.plot(
                times, np.full(len(times), row), color=LEAF, marker="^", markersize=5, linestyle=""
            )
            continue
        for each in events:
            axes.barh(
                row,
                each.end - each.start,
                0.6,
                left=each.start,
                color=WARNING if name == _GAUGE else CREEK,
                edgecolor=WARNING if name == _GAUGE else CREEK,
                linewidth=0.8,
            )
    axes.set_yticks(range(len(spans)), list(spans), fontsize=SMALL)
    axes.set_ylim(len(spans) - 0.4, -0.6)


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
                else (
                    f"reads {view.text(abs(event.size), 'pressure', 2)} "
                    f"{'lower' if event.size < 0 else 'higher'} than in the rest of the log"
                )
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
        "Under-fed fixed jets: orifice law; the interval between cleanings: F. W. Harris, "
        "Factory 10(2), 1913, the same sum for stocks.",
        (
            "Densest reading: D. R. Bickel, R. Frühwirth, Computational Statistics & Data "
            "Analysis 50, 2006 (half-sample mode)."
        ),
        (
            "Freezing of still water: ASHRAE Handbook, Fundamentals, 2009, ch. 23; H. S. Carslaw, "
            "J. C. Jaeger, Conduction of Heat in Solids, ch. 11."
        ),
        "Weather for frazil: articles citing S. F. Daly, 1994; depth of frost: J. Stefan, 1891.",
        (
            "Filling speed of 0.3 m/s (1 ft/s): AWWA M51, as quoted in public code that cites it. "
            "Closing of valves: J. Michaud, 1878."
        ),
        (
            "Common practice, no source: a fine mesh over an intake wears through in about a year; ice "
            "is lifted off an intake by hand; a running pressure below its usual value means the "
            "pipe is not full."
        ),
    )
