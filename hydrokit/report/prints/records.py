"""The log sheet and the winter plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...stream.months import MONTH_NAMES
from ...study.build.winter import FRAZIL_TOLD
from ..display import Table
from ..pages.common import caution_text, of_month
from ..pages.p09.seasons import log_columns
from ..pages.p09.told import months_told, numbers_told
from ..pages.p09.winter import alarm_table
from .sheet import Sheet, care, cells_of, fill, fitted, grid

if TYPE_CHECKING:
    from ...running.jobs import Job
    from ...running.winter import Climate
    from ...study.study import Study
    from ...study.view import View

__all__ = ["log_sheet", "winter_plan"]

_LINES = 22  # rows of 8 mm on a sheet
_WIDE = {
    "note": 34.0,
    "time": 25.0,
    "jets": 11.0,
    "volts": 13.0,
    "amps": 13.0,
    "air": 17.0,
    "water": 17.0,
}
_COLUMN = 19.0
_ROOM_MM = 176.0  # for the tables of the winter plan
_SUMMER = 7  # month from which winters are told apart


def log_sheet(study: Study, view: View) -> list[Sheet]:
    """A sheet to write on at the powerhouse; its columns are those of the file."""
    columns = [
        (name.replace(" [-]", ""), _WIDE.get(name.partition(" ")[0], _COLUMN))
        for name in log_columns(view)
    ]
    head = fill(
        (
            "Month and year",
            f"Gauge with no pressure on it [{view.label('pressure')}]",
            f"Gauge with everything shut [{view.label('pressure')}]",
        ),
        thirds=True,
    )
    return [
        Sheet(
            "log",
            "Log",
            "one line a visit, to be typed into the log",
            about=(
                "Time as 2026-07-04 07:40; spilling yes or no; needle steady or fluctuates. One "
                "line before and one after a change"
            ),
            body=head
            + grid(columns, [("",) * len(columns)] * _LINES, size_pt=8.5, kind="lines")
            + care([caution_text("pressure")]),
        )
    ]


# --- winter -----------------------------------------------------------------------------------


def winter_plan(study: Study, view: View) -> list[Sheet]:
    """What winter asks, on a sheet; none where no month brings frost or the weather for frazil."""
    seen = study.winter_outlook
    if seen is None or not study.frosty:
        return []
    months = _winter_months(seen.climate)
    if not months:
        return []
    blocks = []
    stands = [
        (
            each.stretch.name,
            *(
                view.shown(study.answer(f"freeze.{each.slug}.{state}"))
                for state in ("snow", "bare")
            ),
        )
        for each in study.freeze
    ]
    if stands:
        blocks.append(
            grid(
                (("stretch", 44.0), ("as it lies", 30.0), ("without snow", 30.0)),
                stands,
                "How long water may stand on the coldest day known",
                9.0,
            )
        )
    alarm = alarm_table(study, view)
    if isinstance(alarm, Table):
        blocks.append(
            grid(
                tuple((str(title), 30.0) for title in alarm.columns),
                cells_of(alarm, range(len(alarm.columns))),
                "Walk up",
                9.0,
            )
        )
    columns = (("month", 23.0), ("do", 68.0), ("why, how much", 64.0), ("done, who", 18.0))
    used = 8.0 * len(blocks) + 6.0 * sum(block.count("<tr>") for block in blocks)
    jobs = _jobs(study, view, months)
    parts = fitted([share for _, share in columns], jobs, _ROOM_MM - used)
    call = fill(
        (
            "Who goes up by day",
            "Who goes up by night",
            "Key, lamp, tools lie at",
            "Call if nobody is back by",
        )
    )
    return [
        Sheet(
            "winter" + (f"_{number}" if number > 1 else ""),
            "Winter plan" + (f": sheet {number} of {len(parts)}" if len(parts) > 1 else ""),
            "from the first night of frost to the thaw",
            about=_frazil(study, view, seen.climate),
            body=(call + "".join(blocks) if number == 1 else "")
            + grid(columns, rows, "Jobs", size)
            + care((caution_text("ice"), caution_text("height"))),
        )
        for number, (size, rows) in enumerate(parts, 1)
    ]


def _jobs(study: Study, view: View, months: tuple[int, ...]) -> list[tuple[str, str, str, str]]:
    """The jobs of these months from autumn on, each once with all of them, why, and its figures."""
    found = [[job for job in jobs if job.month in months] for jobs in study.jobs_together]
    found = [sorted(jobs, key=lambda job: months.index(job.month)) for jobs in found if jobs]
    found.sort(key=lambda jobs: months.index(jobs[0].month))
    return [(months_told(jobs), jobs[0].job, _why(study, view, jobs), "") for jobs in found]


def _why(study: Study, view: View, jobs: list[Job]) -> str:
    """The reason of a job, and the figures that belong to it."""
    told, reason = numbers_told(study, jobs, view), jobs[0].reason
    return f"{reason}: {told}" if told else reason


def _winter_months(air: Climate) -> tuple[int, ...]:
    """Months with frost or the weather for frazil, and the one before the first, in the order of a winter."""
    cold = {
        *air.frost_months,
        *(month for month in range(1, 13) if air.frazil_nights[month - 1] >= FRAZIL_TOLD),
    }
    before = {(month - 2) % 12 + 1 for month in cold}
    order = sorted(range(1, 13), key=lambda month: (month - _SUMMER) % 12)
    return tuple(month for month in order if month in cold | before)


def _frazil(study: Study, view: View, air: Climate) -> str:
    """Nights of frazil weather by month."""
    nights = study.answer("frazil.nights")
    told = [
        f"{view.shown(of_month(nights, month))} ({MONTH_NAMES[month - 1]})"
        for month in _winter_months(air)
        if air.frazil_nights[month - 1] >= FRAZIL_TOLD
    ]
    return f"Nights with the weather for frazil, at the most: {', '.join(told)}" if told else ""
