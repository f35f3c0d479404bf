"""Page 09, the log: what happened, what it cost, when a walk is worth it, what drifts."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from ....errors import counted
from ....running.history import CAUSES
from ....sentences import plain_number, series_text
from ....study.build.metering import metered_at
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

__all__ = [
    "event_table",
    "log_figure",
    "log_sheet",
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
_SHOWN_EVENTS, _SHOWN_MONTHS, _SHEET_LINES = 30, 24, 18
KWH = 3.6e6
_LEAST_TOLD = 1.0 * KWH


def day_words(moment: Any) -> str:
    return f"{pd.Timestamp(moment):%Y-%m-%d}"


def kwh_words(joules: float, digits: int = 2) -> str:
    if 0 < joules < 0.5 * KWH:
        return "less than 1 kWh"
    return f"{plain_number(joules / KWH, digits)} kWh"


_WHOLE_YEAR = 0.95  # years of a log from which on each season is in it


@needs("log", headline=True)
def log_words(study: Any, view: View) -> Words:
    """What the log holds and how far it can be believed."""
    log, happened = study.log, study.history
    usual = happened.reference
    healthy = int(usual.healthy.sum())
    what = "watts" if usual.basis == "watts" else "pressure"
    spread = usual.power_spread if usual.basis == "watts" else usual.pressure_spread
    lost = sum(happened.lost_j().values()) / max(happened.years, 1 / 12)
    text = (
        f"The log holds {len(log):,} readings from {day_words(log.time[0])} to {day_words(log.time[-1])}. {healthy:,} of them show the plant healthy; "
        f"the {what} then repeat to {100 * spread:.1f} %, so that nothing smaller can be seen. "
        f"What happened cost about {kwh_words(lost)} a year against the healthy {what}"
    )
    made = happened.monthly()["made_j"].sum() / max(happened.years, 1 / 12)
    at = f"at the meter, at the {metered_at(study.site)}"
    text += f", beside {kwh_words(made)} made, both {at}. " if made > 0 else f", {at}. "
    if happened.years < _WHOLE_YEAR:
        text += f"**The log covers {365.25 * happened.years:.0f} days: what is said here of a year takes the other seasons to be like these.** "
    short = _below_baseline(study)
    if np.isfinite(short) and short > 0.03:
        text += f"**Even the best of the log lies {100 * short:.0f} % below the commissioned baseline**: what ails it lasted through the whole log and is not among the losses here. "
    troubles = log.troubles
    text += (
        "Every line could be used."
        if not troubles
        else f"{counted(len(troubles), 'kind')} of slips {'was' if len(troubles) == 1 else 'were'} mended or set aside; the table lists every line."
    )
    return Words(text)


def _below_baseline(study: Any) -> float:
    """By what share the log's healthy watts, the mean over its jet counts, lie below the commissioned ones."""
    if study.baseline is None:
        return np.nan
    known = dict(zip(study.baseline.jets.tolist(), study.baseline.power_w.tolist()))
    shares = [
        1 - level[1] / known[count]
        for count, level in study.history.reference.levels.items()
        if level[2] and known.get(count, 0) > 0
    ]
    return float(np.mean(shares)) if shares else np.nan


@needs("log", quiet=True)
def trouble_table(study: Any, view: View) -> Table | Words:
    """What could not be believed, and what was done."""
    troubles = study.log.troubles
    if not troubles:
        return Words("*No line of the log had to be mended.*")
    return Table(
        ("what", "lines", "done"),
        [(each.kind, each.where, each.done) for each in troubles],
        "Slips in the log",
    )


@needs("log", quiet=True)
def log_figure(study: Any, view: View) -> Picture:
    """Watts or pressure through time, against the healthy ones, with what happened."""
    happened = study.history
    log, usual = happened.log, happened.reference
    watts = usual.basis == "watts"
    values, healthy = (
        (log.power_w, usual.power_w) if watts else (log.pressure_pa, usual.pressure_pa)
    )
    kind, name = ("power", "power") if watts else ("pressure", "pressure")
    time, values, healthy, pressure = _thinned(log.time, values, healthy, log.pressure_pa)
    rows = 2 if watts and np.isfinite(pressure).any() else 1
    with figure(
        7.4, 4.6 if rows == 2 else 3.2, rows, 1, sharex=True, height_ratios=[2, 1][:rows]
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
            fontsize=7.5,
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
            for event in study.upkeep.gauge:
                if event.kind == "gauge off":
                    axes[1].axvspan(event.start, event.end, color=WARNING, alpha=0.15, linewidth=0)
                    middle = event.start + (event.end - event.start) / 2
                    axes[1].annotate(
                        "gauge off",
                        (middle, 0.06),
                        xycoords=("data", "axes fraction"),
                        ha="center",
                        fontsize=8,
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


def _thinned(time: np.ndarray, *series: np.ndarray) -> tuple[np.ndarray, ...]:
    """Long logs drawn by the mean of each sixth of a day."""
    if len(time) < 5000:
        return (time, *series)
    frame = (
        pd.DataFrame(dict(enumerate(series)), index=pd.DatetimeIndex(time)).resample("4h").mean()
    )
    return (frame.index.to_numpy(), *(frame[number].to_numpy() for number in range(len(series))))


@needs("log", quiet=True)
def event_table(study: Any, view: View) -> Table:
    """What happened, in order of time; of many only the costliest."""
    happened = study.history
    told = [event for event in happened.events if event.kind in CAUSES]
    costly = sorted(
        (event for event in told if event.energy_j >= _LEAST_TOLD),
        key=lambda event: -event.energy_j,
    )[:_SHOWN_EVENTS]
    gauge = [event for event in study.upkeep.gauge if event.kind == "gauge off" or event.size == 0]
    rows = []
    for event in sorted([*costly, *gauge], key=lambda event: event.start):
        if event.kind in CAUSES:
            size = (
                f"{100 * event.size:.0f} % of the flow"
                if event.kind not in ("ice stop", "stop", "shut off", "no load")
                else "all"
            )
        else:
            size = (
                "reads right again"
                if event.size == 0
                else f"reads {view.text(abs(event.size), 'pressure', 2)} {'low' if event.size < 0 else 'high'}"
            )
        lost = round(event.energy_j / KWH, 1) if event.kind in CAUSES else ""
        rows.append(
            (day_words(event.start), day_words(event.end), event.kind, size, lost, event.note)
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


@needs("log", quiet=True)
def month_table(study: Any, view: View) -> Table:
    """Energy made and lost, month by month, the last first."""
    table = study.history.monthly().iloc[::-1][:_SHOWN_MONTHS]
    causes = (
        [kind for kind in study.history.lost_j() if table[kind].sum() > 0][:5] if len(table) else []
    )
    rows = [
        (
            f"{MONTH_NAMES[month.month - 1][:3]}\u00a0{month.year}",
            float(row["made_j"]) / KWH,
            *(float(row[kind]) / KWH if row[kind] >= 0.5 * KWH else "" for kind in causes),
            int(row["cleans"]) or "",
        )
        for month, row in table.iterrows()
    ]
    return Table(
        ("month", "made", *causes, "cleanings"),
        rows,
        "Made, and lost to each cause, month by month, at the meter [kWh]",
    )


@needs("log", quiet=True)
def month_words(study: Any, view: View) -> Words:
    """The page for the month: the last one in the log."""
    happened = study.history
    table = happened.monthly()
    if not len(table):
        return Words("Without watts in the log no month can be added up.")
    month, row = table.index[-1], table.iloc[-1]
    lost = {kind: row[kind] for kind in happened.lost_j() if row[kind] > 0}
    here = [
        event
        for event in happened.events
        if event.kind in CAUSES and pd.Timestamp(event.end).to_period("M") == month
    ]
    text = f"**{MONTH_NAMES[month.month - 1]} {month.year}**: {kwh_words(row['made_j'], 3)} made"
    text += (
        f", {series_text([f'{kwh_words(value)} lost to {kind}' for kind, value in lost.items()])}"
        if lost
        else ", nothing lost"
    )
    text += f"; the screen was cleaned {int(row['cleans'])} times" if row["cleans"] else ""
    before = table[table.index == month - 12]
    text += f". A year before: {kwh_words(before['made_j'].iloc[0], 3)}" if len(before) else ""
    text += f". Last seen: {here[-1].kind}, until {day_words(here[-1].end)}" if here else ""
    return Words(text + ".")


def log_sheet(study: Any, view: View) -> Table:
    """An empty sheet to print; its headings are those of the file."""
    columns = (
        "time",
        "jets [-]",
        view.header("pressure", "pressure"),
        "volts [V]",
        "amps [A]",
        "spilling",
        "needle",
        view.header("air", "temperature").replace("°", "deg"),
        "note",
    )
    return Table(
        columns,
        [("",) * len(columns)] * _SHEET_LINES,
        f"Log of {study.name}. Time as 2026-07-04 07:40; spilling yes or no; needle steady or fluctuates; one line before and one after a change.",
    )


def references() -> Words:
    """What the pages on log and winter rest on."""
    return sources(
        "Starved fixed jets: orifice law; the interval between cleanings: F. W. Harris, Factory 10(2), 1913, the same sum for stocks.",
        "Densest reading: D. R. Bickel, R. Frühwirth, Computational Statistics & Data Analysis 50, 2006 (half-sample mode).",
        "Freezing of still water: ASHRAE Handbook, Fundamentals, 2009, ch. 23; H. S. Carslaw, J. C. Jaeger, Conduction of Heat in Solids, ch. 11.",
        "Weather for frazil: articles citing S. F. Daly, 1994; depth of frost: J. Stefan, 1891.",
        "Filling speed of 0.3 m/s (1 ft/s): AWWA M51, as quoted in public code that cites it. Closing of valves: J. Michaud, 1878.",
        "Common practice, no source: mesh of window screen wears through in about a year; ice is lifted off an intake by hand; a running pressure below its usual value means the pipe is not full.",
    )
