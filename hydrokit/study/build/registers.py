"""What a study rests on and what it still needs: every input as it was given, and every permit with
its status."""

from __future__ import annotations

import datetime
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

from ...errors import Finding, one_line
from ...files import read_text
from ...sentences import Sentence
from ...site.schema import SECTIONS
from ...site.schema_permits import Permit
from ...site.schema_sources import Source, covers

if TYPE_CHECKING:
    from ..study import Study

__all__ = [
    "DefaultValue",
    "Input",
    "PermitState",
    "defaults",
    "inputs",
    "permits",
    "source_findings",
    "source_of",
]

NOT_SAID = "not said"
OTHER = "other"


@dataclass(frozen=True, eq=False)
class Input:
    """A value of the site file.

    Parameters
    ----------
    key : str
        As ``hydrokit explain`` takes it.
    value : str
        As it is written, without its uncertainty.
    uncertainty : str
        One standard deviation, as it is written; empty where none is given.
    source : str
        What the owner wrote beside it, else the first sentence of comment of the file that it names.
    file : str
        Of a file, what it says itself: the days from its first line to its last, the methods of gaugings.
    number : int
        Of the [[source]] that names it, from 1; 0 where none does.
    by, when, instrument : str
        Who read or gave it, when, and with what, by that source.
    """

    key: str
    value: str
    uncertainty: str
    _: KW_ONLY
    source: str
    file: str = ""
    number: int = 0
    by: str = ""
    when: str = ""
    instrument: str = ""


@dataclass(frozen=True, eq=False)
class DefaultValue:
    """A value of the schema that holds because the site file leaves its key out.

    Parameters
    ----------
    key, value, meaning : str
        As ``hydrokit explain`` takes it; as it would be written; what it says.
    """

    key: str
    value: str
    meaning: str


@dataclass(frozen=True, eq=False)
class PermitState:
    """A permit and how far it is.

    Parameters
    ----------
    subject, status, by, note : str
    date, until : datetime.date or None
    """

    subject: str
    status: str
    by: str = ""
    _: KW_ONLY
    date: datetime.date | None = None
    until: datetime.date | None = None
    note: str = ""


def permits(study: Study) -> tuple[PermitState, ...]:
    """Each permit of the site file, and each that a plant usually needs and the site file does not name."""
    given = study.site.permit
    named = {each.subject for each in given}
    usual = [each for each in Permit.schema["subject"].choices if each != OTHER]
    states = [
        PermitState(
            each.subject,
            each.status,
            each.of or "",
            date=each.date,
            until=each.until,
            note=each.note or "",
        )
        for each in given
    ]
    missing = [PermitState(each, NOT_SAID) for each in usual if each not in named]
    order = {subject: place for place, subject in enumerate([*usual, OTHER])}
    return tuple(sorted([*states, *missing], key=lambda each: order[each.subject]))


def inputs(study: Study) -> tuple[Input, ...]:
    """Every value of the site file with where it comes from, in the order of the file."""
    return tuple(
        _traced(study, each)
        for each in _written_values(study)
        if not each.key.startswith(_NOT_INPUTS)
    )


def source_of(study: Study, key: str) -> int:
    """The number, from 1, of the source that names a key most closely, the later of two that are as
    close; 0 where none does."""
    named = [
        (len(name), number)
        for number, source in enumerate(study.site.source, 1)
        for name in source.of
        if covers(name, key)
    ]
    return max(named)[1] if named else 0


def source_findings(study: Study) -> tuple[Finding, ...]:
    """Sources of what the site file does not give."""
    if not study.site.source:
        return ()
    given = [each.key for each in _written_values(study)]
    return tuple(
        Finding(
            "note",
            f"[[source]] {number}",
            Sentence(
                "it is the source of {name}, which the site file does not give",
                name=one_line(name),
            ),
        )
        for number, source in enumerate(study.site.source, 1)
        for name in source.of
        if not any(covers(name, key) for key in given)
    )


def defaults(study: Study) -> tuple[DefaultValue, ...]:
    """Every default that holds in the sections that the site file has."""
    return tuple(
        DefaultValue(f"{name}.{key}", known.default, known.meaning)
        for name, keys in SECTIONS.items()
        if len(study.site[name])
        for key, known in keys.items()
        if known.default not in ("", "[]") and not study.site[name].given(key)
    )


_NOT_INPUTS = ("permit ", "safeguard ", "source ")


def _written_values(study: Study) -> Iterator[Input]:
    import tomlkit

    return _inputs(tomlkit.parse(read_text(study.path / "site.toml")), "")


def _inputs(table: Any, above: str) -> Iterator[Input]:
    from tomlkit.items import AoT, Table

    for name in table:
        # Of a true or false only the item has what is written beside it.
        item, key = table.item(name), f"{above}.{name}" if above else name
        if isinstance(item, (Table, Mapping)) and hasattr(item, "items"):
            yield from _inputs(item, key)
        elif isinstance(item, AoT):
            for number, entry in enumerate(item, 1):
                yield from _inputs(entry, f"{key} {number}")
        else:
            value, _, uncertainty = _written(item).partition("±")
            yield Input(
                key, value.strip(), uncertainty.strip(), source=item.trivia.comment.lstrip("# ")
            )


def _written(item: Any) -> str:
    """A value as it stands in the file, without quotes."""
    return re.sub(r"\s+", " ", item.as_string()).replace('"', "").strip("'")


def _traced(study: Study, given: Input) -> Input:
    """The same with what its source and the file it names say of it."""
    number = source_of(study, given.key)
    source = study.site.source[number - 1] if number else Source(of=())
    told = [_days(study, given.key), _methods(study) if given.key == "stream.gaugings" else ""]
    return replace(
        given,
        source=given.source or _first_comment(study, given),
        file=", ".join(filter(None, told)),
        number=number,
        by=source.by or "",
        when=source.date.isoformat() if source.date else "",
        instrument=source.instrument or "",
    )


def _first_comment(study: Study, given: Input) -> str:
    """The first sentence of the comment that the CSV file which a value names begins with; of a
    file only that the study itself read, so that no text leads out of it."""
    path = (study.path / given.value).resolve() if given.value.endswith(".csv") else None
    if path is None or path not in study.folder.read or not path.is_file():
        return ""
    first = read_text(path).split("\n", 1)[0]
    return first.lstrip("# ").strip().split(". ")[0] if first.startswith("#") else ""


def _dated(study: Study, key: str) -> Any:
    """The days of the lines of the file that a key names; None where it has none."""
    if key == "stream.gaugings":
        return study.gaugings and study.gaugings.date
    if key == "readings.file":
        return study.readings and study.readings.date
    if key == "readings.log":
        return study.log and study.log.time
    series = {
        "stream.record": "own_record",
        "stream.stage": "stage",
        "stream.temperature": "temperature",
        "stream.snow": "snow",
    }
    held = getattr(study, series[key]) if key in series else None
    return None if held is None else held.index


def _days(study: Study, key: str) -> str:
    """From the first to the last day of the file that a key names, where it has days."""
    import pandas as pd

    held = _dated(study, key)
    days = pd.DatetimeIndex([] if held is None else pd.to_datetime(list(held))).dropna()
    if not len(days):
        return ""
    first, last = days.min().date().isoformat(), days.max().date().isoformat()
    return first if first == last else f"{first} to {last}"


def _methods(study: Study) -> str:
    """How often each method of gauging was used."""
    used = Counter(study.gaugings.method if study.gaugings is not None else ())
    return ", ".join(f"{method} ({number})" for method, number in used.most_common() if method)
