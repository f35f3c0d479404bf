"""Page 09, the sheets to print: which this study has, and what each is for."""

from __future__ import annotations

from ....study.study import Study
from ....study.view import View
from ...display import Words
from ...prints.print_set import CALENDAR, sheets_of

__all__ = ["sheets_words"]


def sheets_words(study: Study, view: View) -> Words:
    """The sheets that a run writes beside this page, with links to them."""
    links = [f"[{each.title}]({each.file}), {each.use}" for each in sheets_of(study, view)]
    if study.jobs:
        links.append(
            f"[Calendar]({CALENDAR}), the year's jobs, to open with the calendar of a phone"
        )
    return Words(
        f"A run writes these beside this page, each one sheet of A4 or Letter: {'; '.join(links)}."
    )
