"""The page of registers: permits and rights, risks, measurements owed, inputs, assumptions, and
what the owner adds."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ..errors import counted
from ..sentences import series_text
from ..site.example_units import in_both
from ..site.schema import SECTIONS
from ..study.build.registers import NOT_SAID, Input, defaults, inputs, permits
from ..study.build.risks import RIGHTS, Risk, risks
from .display import Table, Words
from .next_measurements import everything
from .owners_matter import notes, pictures
from .sketch_map import profile_parts, survey_parts

if TYPE_CHECKING:
    from ..study.study import Study
    from ..study.view import View

__all__ = ["TITLE", "headline", "page_name", "sections"]

_DEFAULTS = "Defaults that hold"
_PROFILE = "Profile of the owner's survey"
DETAILS = (_DEFAULTS, _PROFILE)  # sections that are folded, and printed when opened
_MOST_FINDINGS = 3  # of one risk in its cell
TITLE = "What does this study rest on, and what must still be granted?"


def page_name(notebooks: Iterable[str]) -> str:
    """The page's name, numbered behind these notebooks.

    >>> page_name(["01_stream_gauging", "09_running_it"])
    '10_registers'
    """
    last = max(int(number[0]) for each in notebooks if (number := re.match(r"\d+", each)))
    return f"{last + 1:02d}_registers"


def headline(study: Study, view: View) -> Words:
    """How much is given, how much assumed, and how far the permits are."""
    states = Counter(each.status for each in permits(study))
    silent = states.pop(NOT_SAID, 0)
    told = [
        f"{number} {'is' if number == 1 else 'are'} {status}" for status, number in states.items()
    ]
    if silent:
        told.append(f"the site file says nothing of {silent}")
    return Words(
        f"The study rests on **{counted(len(_values(study)), 'given value')}** and "
        f"**{counted(len(study.assumptions), 'assumption')}**. Of the permits and rights that a "
        f"plant may need, {series_text(told)}."
    )


def sections(study: Study, view: View) -> list[tuple[str, Sequence[object]]]:
    """Headings, each with what stands below it."""
    found: list[tuple[str, Sequence[object]]] = [
        ("Permits and rights", [_permit_words(), permit_table(study)]),
        ("Risks, and what was found", [_risk_words(), risk_table(study, view)]),
        ("Measurements still owed", [owed(study, view)]),
        ("Values assumed", [assumed_table(study, view)]),
        ("Values given", [source_table(study), input_table(study), _source_words(study)]),
        (_DEFAULTS, [default_table(study, view)]),
        ("The owner's survey", survey_parts(study, view)),
        (_PROFILE, profile_parts(study, view)),
        ("The owner's notes", [notes(study.path)]),
        ("The owner's pictures", pictures(study.path)),
    ]
    return [(heading, [each for each in shown if each]) for heading, shown in found if any(shown)]


def _permit_words() -> Words:
    return Words(
        "What is needed is decided by law and by each authority; this list only keeps what "
        "the site file says ([[permit]]). A row that says nothing is a question still to be "
        "asked."
    )


def permit_table(study: Study) -> Table:
    """Each permit with its status, who grants it, and its dates."""
    rows = [
        (
            each.subject,
            each.status,
            each.by,
            "" if each.date is None else each.date.isoformat(),
            "" if each.until is None else each.until.isoformat(),
            each.note,
        )
        for each in permits(study)
    ]
    marked = [row for row, each in enumerate(rows) if each[1] in (NOT_SAID, "refused")]
    return Table(
        ("permit or right", "status", "granted by", "date", "until", "note"),
        rows,
        "Permits and rights",
        kind="permits",
        mark=marked,
    )


def _risk_words() -> Words:
    return Words(
        "Every plant has these risks; the table says what this study found of each, the "
        "gravest first, and what is commonly done about it. Where nothing was found, nothing "
        "was looked for beyond what the pages show."
    )


def risk_table(study: Study, view: View) -> Table:
    """Each risk with its numbers, its gravest findings, and what is done about it."""
    found = risks(study)
    rows = [(each.name, each.level, _found(study, view, each), each.answered) for each in found]
    return Table(
        ("risk", "gravest finding", "what was found", "what answers it (common practice)"),
        rows,
        "Risks",
        kind="risks",
        mark=[row for row, each in enumerate(found) if each.level == "problem"],
    )


def _found(study: Study, view: View, risk: Risk) -> str:
    """Numbers of a risk, then its findings, as many as a cell holds."""
    parts = [f"{words} {view.shown(study.answer(key))}" for words, key in risk.told]
    if risk.name == RIGHTS:
        unsaid = sum(each.status == NOT_SAID for each in permits(study))
        parts.append(f"{counted(unsaid, 'permit')} not said")
    parts += [f"{each.where}: {view.told(each)}" for each in risk.findings[:_MOST_FINDINGS]]
    more = len(risk.findings) - _MOST_FINDINGS
    if more > 0:
        parts.append(f"{counted(more, 'more finding')} in the checks of the index")
    return "; ".join(parts) or "nothing tells of it yet"


def owed(study: Study, view: View) -> Words | None:
    """What is worth measuring, as the index has it."""
    lines = everything(study, view)
    return (
        Words("\n".join(f"{number}. {line}" for number, line in enumerate(lines, 1)))
        if lines
        else None
    )


def assumed_table(study: Study, view: View) -> Table | None:
    """Values that nobody gave or measured, each with where it comes from and the key that would say
    otherwise."""
    rows = [
        (each.what, view.shown(each.answer), each.answer.source, each.key or "fixed")
        for each in study.assumptions
    ]
    return Table(("what", "value", "from", "key"), rows, "Values assumed") if rows else None


def input_table(study: Study) -> Table:
    """Every value of the site file, with its uncertainty and where it comes from."""
    rows = [
        (
            each.key,
            each.value,
            each.uncertainty,
            "; ".join(filter(None, (each.source, each.file))),
            each.number or "",
        )
        for each in _values(study)
    ]
    return Table(
        ("key", "value", "±, one standard deviation", "what stands beside it", "source"),
        rows,
        "Values given in site.toml, as they are written there",
        kind="inputs",
    )


def source_table(study: Study) -> Table | None:
    """Who read or gave values, when and with what, by the number that stands beside the values."""
    rows = [
        (
            number,
            each.by or "",
            "" if each.date is None else each.date.isoformat(),
            each.instrument or "",
            each.note or "",
            ", ".join(each.of),
        )
        for number, each in enumerate(study.site.source, 1)
    ]
    return (
        Table(
            ("no.", "by", "when", "read with", "note", "of"),
            rows,
            "Sources of the values given, by the number that stands beside each",
            kind="sources",
        )
        if rows
        else None
    )


def _source_words(study: Study) -> Words | None:
    """How many values nobody's word stands behind, and how to say it."""
    asked = _values(study)
    bare = sum(not (each.source or each.number) for each in asked)
    if not bare:
        return None
    return Words(
        f"{counted(bare, 'value')} of {len(asked)} {'has' if bare == 1 else 'have'} no source "
        "yet. A comment behind a value in site.toml is shown here; a [[source]] names who read "
        "several values, when and with what."
    )


def _values(study: Study) -> list[Input]:
    """Every value given but those that only name or set the study: page by page they stand on top."""
    return [each for each in inputs(study) if not _setting(each.key)]


def _setting(key: str) -> bool:
    """Whether a key only names or sets the study, so that nobody asks for its source."""
    section, _, name = key.partition(".")
    return section == "site" and SECTIONS["site"][name].kind != "number"


def default_table(study: Study, view: View) -> Table | None:
    """Defaults that hold in the sections of the site file, each with what it says."""
    rows = [
        (each.key, each.value.replace('"', ""), view.told(in_both(each.meaning)))
        for each in defaults(study)
    ]
    return (
        Table(
            ("key", "default", "what it says"),
            rows,
            "Defaults that hold, as they would be written in site.toml",
            kind="defaults",
        )
        if rows
        else None
    )
