"""Page 01: the logger as it was read, what is suspect in it, and the staff gauge against it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....errors import counted
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import CREEK, GROUND, ICE, INK, RUST, SUN, WARNING, figure, legend_above
from ..common import needs
from .rating import date_axis

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....study.build.stage import StageRecord

__all__ = ["instruments_words", "record_figure", "staff_table", "suspects_table"]

_MOST_ROWS = 30
_NAMES = {
    "range": "beyond all others",
    "spike": "spike",
    "rate": "fast",
    "flat": "stays the same",
    "step": "step that stays",
}


@needs(Study.stage_record)
def record_figure(study: Study, view: View, record: StageRecord) -> Picture:
    """The stage as it was logged and as it is used, the staff readings, suspects, gaps and shifts."""
    tested = record.tested
    with figure(7.4, 3.0) as (made, axes):
        raw = tested.raw
        axes.plot(
            raw.index,
            view.number(raw.to_numpy(), "stage"),
            color=INK,
            linewidth=0.6,
            alpha=0.55,
            label="as logged",
        )
        used = record.stage
        axes.plot(
            used.index,
            view.number(used.to_numpy(), "stage"),
            color=CREEK,
            linewidth=1,
            label="used",
        )
        if record.lowered.any():
            axes.plot(
                used.index[record.lowered],
                view.number(used.to_numpy()[record.lowered], "stage"),
                ".",
                color=ICE,
                markersize=4,
                label="under ice, corrected",
            )
        if study.gaugings is not None:
            axes.plot(
                study.gaugings.date,
                view.number(study.gaugings.stage_m, "stage"),
                "o",
                color=RUST,
                markersize=4,
                label="staff gauge",
            )
        _marked_axes(axes, record, view)
        if raw.index[0] < raw.index[-1]:
            axes.set_xlim(raw.index[0], raw.index[-1])
        legend_above(axes)
        date_axis(axes)
        axes.set_ylabel(view.header("stage", "stage"))
    kind = "Daily stage" if record.daily else "Stage as logged"
    return Picture(
        made,
        f"{kind} from {raw.index[0]:%Y-%m-%d} to {raw.index[-1]:%Y-%m-%d}: {_told(record)}.",
    )


def _marked_axes(axes: Axes, record: StageRecord, view: View) -> None:
    """Suspects, gaps and shifts; a stage far beyond the others is drawn at the edge, so that these
    can be read."""
    from matplotlib.dates import date2num

    tested = record.tested
    stages = tested.stage.dropna().to_numpy()
    if tested.staff is not None:
        stages = np.concatenate([stages, tested.staff.staff_m])
    used = view.number(stages, "stage")
    if len(used):
        low, high = float(np.min(used)), float(np.max(used))
        room = 0.08 * max(high - low, 0.01)
        axes.set_ylim(low - room, high + 2 * room)
        for label, marker, colour, which in (
            ("suspect, left out", "x", WARNING, True),
            ("suspect, used", "d", SUN, False),
        ):
            shown = [each for each in tested.suspects if each.failed == which]
            if shown:
                beyond = view.number(np.array([each.stage_m for each in shown]), "stage")
                axes.plot(
                    date2num([each.first for each in shown]),
                    np.clip(beyond, low - 0.5 * room, high + room),
                    marker,
                    color=colour,
                    markersize=6,
                    linestyle="none",
                    label=label,
                )
    for number, gap in enumerate(tested.gaps):
        axes.axvspan(
            date2num(gap.first),
            date2num(gap.last),
            color=GROUND,
            alpha=0.25,
            linewidth=0,
            label="_" * bool(number) + "gap",
        )
    for number, (when, _) in enumerate(tested.applied):
        axes.axvline(
            date2num(when),
            color=CREEK,
            linestyle=(0, (4, 2)),
            label="_" * bool(number) + "shift mended",
        )
    for number, each in enumerate(tested.to_mend):
        axes.axvline(
            date2num(each.first),
            color=WARNING,
            linestyle=(0, (2, 2)),
            label="_" * bool(number) + "shift to be mended",
        )


def _told(record: StageRecord) -> str:
    """What the figure marks, in words."""
    tested = record.tested
    told = [
        counted(number, name)
        for number, name in (
            (len(tested.to_mend), "shift to be mended"),
            (len(tested.applied), "shift mended"),
            (len(tested.suspects), "suspect"),
            (len(tested.gaps), "gap"),
        )
        if number
    ]

    told = [each.replace("mendeds", "mended") for each in told]
    return ", ".join(told) if told else "nothing in it is suspect"


@needs(Study.stage_record, quiet=True)
def instruments_words(study: Study, view: View, record: StageRecord) -> Words:
    """Whether the logger can be believed."""
    tested = record.tested
    staff, shifts = tested.staff, tested.to_mend
    if staff is None or not len(staff):
        text = (
            "No gauging has a stage on a day of the logger, so nothing holds the logger against "
            "the staff gauge: read the staff gauge at every visit."
        )
    elif shifts:
        text = (
            f"Staff gauge and logger differ ({counted(len(staff), 'reading')} of both): the flows "
            "behind a shift are wrong until it is written into the site file."
        )
    else:
        text = f"Staff gauge and logger agree in {counted(len(staff), 'reading')} of both."
    text += (
        f" The tests name {counted(len(tested.suspects), 'place')} in the record."
        if tested.suspects
        else " No spike, jump, step or flat stretch is suspect."
    )
    return Words(text)


@needs(Study.stage_record, quiet=True)
def staff_table(study: Study, view: View, record: StageRecord) -> Table | Words:
    """Every staff reading beside the logger's of that day."""
    tested = record.tested
    staff = tested.staff
    if staff is None or not len(staff):
        return Words("")
    rows = [
        (
            str(np.datetime64(day, "D")),
            float(view.number(read, "stage")),
            float(view.number(logged, "stage")),
            view.text(off, "small length", 2),
            f"± {view.text(spread, 'small length', 1)}",
        )
        for day, read, logged, off, spread in zip(
            staff.date, staff.staff_m, staff.logger_m, staff.difference_m, staff.uncertainty_m
        )
    ]
    return Table(
        (
            "date",
            view.header("staff gauge", "stage"),
            view.header("logger that day", "stage"),
            "staff less logger",
            "one standard deviation",
        ),
        rows,
        "Staff gauge against logger, shifts of the site file added",
        mark=tested.off_the_staff,
    )


@needs(Study.stage_record, quiet=True)
def suspects_table(study: Study, view: View, record: StageRecord) -> Table | Words:
    """What the tests named, and whether it is used."""
    tested = record.tested
    if not tested.suspects:
        return Words("")
    used = study.site.stream.suspect_stages == "used"
    rows = [
        (
            f"{each.first:%Y-%m-%d %H:%M}",
            f"{each.last:%Y-%m-%d %H:%M}",
            _NAMES[each.kind],
            each.readings,
            float(view.number(each.stage_m, "stage")),
            view.text(each.size_m, "small length", 2) if each.size_m else "",
            "left out" if each.failed and not used else "used",
        )
        for each in tested.suspects[:_MOST_ROWS]
    ]
    more = len(tested.suspects) - len(rows)
    return Table(
        ("from", "to", "what", "readings", view.header("stage", "stage"), "by", ""),
        rows,
        "Suspect stages" + (f"; {more} more are not listed" if more else ""),
    )
