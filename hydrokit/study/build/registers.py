"""What a study rests on and what it still needs: every input as it was given, and every permit with
its status."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

from ...files import read_text
from ...site.schema_permits import Permit

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["Input", "PermitState", "inputs", "permits"]

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
        What the owner wrote beside it: where it comes from, who read it, when, with what.
    """

    key: str
    value: str
    uncertainty: str
    _: KW_ONLY
    source: str


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
    """Every value of the site file with what stands beside it, in the order of the file."""
    import tomlkit

    document = tomlkit.parse(read_text(study.path / "site.toml"))
    return tuple(_inputs(document, ""))


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
        elif not key.startswith(("permit ", "safeguard ")):
            value, _, uncertainty = _written(item).partition("±")
            yield Input(
                key, value.strip(), uncertainty.strip(), source=item.trivia.comment.lstrip("# ")
            )


def _written(item: Any) -> str:
    """A value as it stands in the file, without quotes."""
    return re.sub(r"\s+", " ", item.as_string()).replace('"', "").strip("'")
