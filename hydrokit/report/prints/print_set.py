"""Every sheet of a study that is printed and hung up, and the year's jobs for a calendar."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from .calendar_file import calendar_text
from .electrician import electrician_sheets
from .gauge_card import gauge_card
from .records import log_sheet, winter_plan
from .sheet import Sheet, page_of
from .spares import spares_list
from .valves import drain_and_fill, emergency_card

if TYPE_CHECKING:
    from ...study.study import Study
    from ...study.view import View

__all__ = ["CALENDAR", "Printed", "print_set", "sheets_of"]

CALENDAR = "calendar.ics"
_MAKERS = (
    gauge_card,
    log_sheet,
    emergency_card,
    winter_plan,
    drain_and_fill,
    spares_list,
    electrician_sheets,
)


@dataclass(frozen=True)
class Printed:
    """A file of the set: its name, its title, what it is for, its text."""

    file: str
    title: str
    use: str
    _: KW_ONLY
    text: str


def sheets_of(study: Study, view: View) -> list[Sheet]:
    """The sheets that this study has; what it lacks has none."""
    return [sheet for made in _MAKERS for sheet in made(study, view)]


def print_set(
    study: Study, view: View, paper: str = "", now: datetime | None = None
) -> list[Printed]:
    """Every file of the set.

    Parameters
    ----------
    study : Study
    view : View
        The reader's units, which choose the paper too where it is not told.
    paper : {"", "A4", "Letter"}
    now : datetime, optional
        The time of the calendar; that of the clock when not given.
    """
    moment = now or datetime.now(UTC)
    made = [
        Printed(
            each.file, each.title, each.use, text=page_of(each, study, view, moment.date(), paper)
        )
        for each in sheets_of(study, view)
    ]
    if study.jobs:
        made.append(
            Printed(
                CALENDAR,
                "Calendar",
                "the year's jobs, to open with the calendar of a phone",
                text=calendar_text(study, view, moment),
            )
        )
    return made
