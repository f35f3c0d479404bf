"""[[source]]: who read or gave the values of a site file, when, and with what."""

import datetime
import re

from . import keys as key
from .section import Section

__all__ = ["Source", "covers", "without_numbers"]


class Source(Section):
    """[[source]]: where some values of this file come from."""

    of: tuple[str, ...] = key.texts(
        "keys or whole sections that it is the source of; a key counts before its section",
        '["intake", "penstock.static_pressure"]',
        required=True,
    )
    by: str | None = key.text("who read it, or who gave it", '"the owner"')
    date: datetime.date | None = key.day("day on which it was read or given", "2026-03-14")
    instrument: str | None = key.text(
        "what it was read with, or the paper that says it", '"test gauge, class 1.0"'
    )
    note: str | None = key.text("what else is to be known of it", '"read three times, pump off"')


_NUMBER = re.compile(r" \d+")


def without_numbers(name: str) -> str:
    """The name of a key without the numbers of the entries it stands in.

    >>> without_numbers("penstock.pipe 2.size")
    'penstock.pipe.size'
    """
    return _NUMBER.sub("", name)


def covers(name: str, key: str) -> bool:
    """Whether a name given under ``of`` covers a key, with or without the number of a list's entry.

    >>> covers("penstock", "penstock.pipe 2.size"), covers("penstock.pipe.size", "penstock.pipe 2.size")
    (True, True)
    >>> covers("penstock.pipe 1", "penstock.pipe 2.size"), covers("pen", "penstock.cover")
    (False, False)
    """
    return any(each == name or each.startswith(f"{name}.") for each in (key, without_numbers(key)))
