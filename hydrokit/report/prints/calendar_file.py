"""The year's jobs as an iCalendar file (RFC 5545), for the calendar of a phone."""

from __future__ import annotations

import math
import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from icalendar import Calendar, Event

from ... import __version__
from ...study.keyed import plain
from ..pages.common import caution_text
from ..pages.p09.told import step_number

if TYPE_CHECKING:
    from ...running.jobs import Job
    from ...study.study import Study
    from ...study.view import View

__all__ = ["calendar_text"]

_SPACE = uuid.uuid5(uuid.NAMESPACE_URL, "hydrokit:calendar")


@dataclass(frozen=True)
class _Entry:
    """One entry of the calendar: a job in the months in which it comes."""

    job: Job
    months: tuple[int, ...]


def calendar_text(study: Study, view: View, made: datetime) -> str:
    """The file: one entry for each job, which comes again each year.

    Parameters
    ----------
    study : Study
    view : View
        Of the numbers in it.
    made : datetime
        In UTC; the entries begin on or after its day.

    Notes
    -----
    A job of a month stands on its first day, one with a date on that date; one to be done every so
    many days comes so often in its months. The same job in the same months keeps its identity from
    run to run, so that a calendar which reads the file again replaces its entries.
    """
    calendar = Calendar()
    calendar.add("prodid", f"-//hydrokit//hydrokit {__version__}//EN")
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("x-wr-calname", f"{study.name}: the plant's year")
    for entry in _entries(study):
        calendar.add_component(_event(study, view, entry, made))
    return calendar.to_ical().decode("utf-8")


def _entries(study: Study) -> list[_Entry]:
    """Jobs with all their months: the same job with the same figure in several months is one entry."""
    found: dict[tuple[str, str, str], list[Job]] = {}
    for job in study.jobs:
        found.setdefault((job.job, job.reason, f"{job.kind} {job.value:.6g}"), []).append(job)
    return [_Entry(jobs[0], tuple(sorted(each.month for each in jobs))) for jobs in found.values()]


def _event(study: Study, view: View, entry: _Entry, made: datetime) -> Event:
    job, first = entry.job, _first(entry, made.date())
    event = Event()
    named = f"{study.name}|{job.job}|{job.kind}|{','.join(map(str, entry.months))}"
    event.add("uid", f"{uuid.uuid5(_SPACE, named)}@hydrokit")
    event.add("dtstamp", made)
    event.add("dtstart", first)
    event.add("dtend", first + timedelta(days=1))
    event.add("rrule", _rule(entry))
    event.add("summary", f"{job.job} ({study.name})")
    event.add("description", _described(study, view, job))
    event.add("transp", "TRANSPARENT")
    return event


def _often(job: Job) -> bool:
    """Whether it comes every so many days."""
    return job.kind == "days" and math.isfinite(job.value)


def _day(entry: _Entry) -> tuple[int, int]:
    """Month and day on which it first stands in a year."""
    job = entry.job
    if job.due and math.isfinite(job.value):
        by = date(2023, 1, 1) + timedelta(days=round(job.value) - 1)
        return by.month, by.day
    return entry.months[0], 1


def _rule(entry: _Entry) -> dict[str, object]:
    """The rule of its recurrence (RFC 5545, 3.3.10)."""
    if _often(entry.job):
        days = max(round(entry.job.value), 1)
        return {"freq": "daily", "interval": days, "bymonth": list(entry.months)}
    month, day = _day(entry)
    months = [month] if entry.job.due else list(entry.months)
    return {"freq": "yearly", "bymonth": months, "bymonthday": day}


def _first(entry: _Entry, made: date) -> date:
    """The first day of the rule that is not past."""
    month, day = _day(entry)
    months = (month,) if entry.job.due else entry.months
    if _often(entry.job) and made.month in months:
        return made
    days = [date(made.year + more, each, day) for more in (0, 1) for each in months]
    return min(each for each in days if each >= made)


def _described(study: Study, view: View, job: Job) -> str:
    number = plain(step_number(study, job, view))
    lines = [f"{job.reason}{f': {number}' if number else ''}."]
    if job.caution:
        lines.append(f"Watch for: {caution_text(job.caution)}")
    return "\n".join(line[:1].upper() + line[1:] for line in lines)
