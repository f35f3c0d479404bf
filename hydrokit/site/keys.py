"""One key of the site file: what kind of value it takes, what it means, what is taken where it is
left out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, TypeAlias, TypedDict, Unpack, get_args

__all__ = [
    "Key",
    "choice",
    "day",
    "each",
    "file",
    "measured",
    "monthly",
    "months",
    "number",
    "numbers",
    "text",
    "texts",
    "when",
    "word",
    "yes_no",
]


@dataclass(frozen=True, kw_only=True, eq=False)
class Key:
    """One key of a section.

    It is written as an attribute of its section's class, with the type of its value.

    Parameters
    ----------
    kind : str
        ``text``, ``word``, ``file``, ``yes/no``, ``months``, ``date``, ``time`` (a date, or one with its
        hour), ``choice``, ``number``,
        ``measured`` (a number that may have its ± behind it), ``by month`` (one value, twelve, or a
        table of months), ``numbers`` or ``texts`` (a list),
        ``each`` (one value, or a list where they differ).
    meaning : str
        What it says, in one line.
    unit : str
        Of a number: a unit of its dimension, or ``count``, ``ratio``, ``share`` (a ratio of 1 at
        most), ``exceedance``, ``money``, ``money/W``.
    choices : tuple of str
        The words it may be; taken from its type.
    default : str
        What is taken where it is left out, written as in a site file; empty where nothing is.
    example : str
        As in a site file.
    required : bool
    within : str
        Bounds, ``low to high``, where the usual ones of its unit do not hold.
    usual : tuple of str
        Bounds between which it usually lies, and what is found there; a value outside is told, not
        refused. Common practice.
    whole, positive : bool
        Whether it must be a whole number; whether it cannot lie below zero.
    shared_with_neighbour : bool
        Whether it holds for another creek of the neighbourhood too.
    columns, optional : dict
        Of a file that only other keys make use of: columns that must and may stand in it -> unit.
    """

    kind: str
    meaning: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    default: str = ""
    example: str = ""
    required: bool = False
    within: str = ""
    usual: tuple[str, str] | None = None
    whole: bool = False
    positive: bool = True
    shared_with_neighbour: bool = False
    columns: dict[str, str] | None = None
    optional: dict[str, str] | None = None

    def typed(self, annotation: object) -> Key:
        """The same with the words that its type allows."""
        if self.kind != "choice" or self.choices:
            return self
        words = _words(annotation)
        return replace(self, choices=words, example=self.example or f'"{words[0]}"')


def _words(annotation: object) -> tuple[str, ...]:
    """The words of a Literal, alone or beside None."""
    return tuple(
        word
        for part in get_args(annotation)
        for word in ((part,) if isinstance(part, str) else _words(part))
    )


class Details(TypedDict, total=False):
    """What more may be said of a key, by name; see :class:`Key`."""

    choices: tuple[str, ...]
    default: str
    required: bool
    within: str
    usual: tuple[str, str] | None
    whole: bool
    positive: bool
    shared_with_neighbour: bool
    columns: dict[str, str] | None
    optional: dict[str, str] | None


# Each gives a Key, that stands where the type of its value is declared: no type says that.
Standing: TypeAlias = Any


def text(meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """Words of the owner's own, in quotes."""
    return Key(kind="text", meaning=meaning, example=example, **more)


def word(meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """One short word."""
    return Key(kind="word", meaning=meaning, example=example, **more)


def file(meaning: str, example: str, **more: Unpack[Details]) -> Standing:
    """The name of a file beside the site file."""
    return Key(kind="file", meaning=meaning, example=example, **more)


def yes_no(meaning: str, example: str = "true", **more: Unpack[Details]) -> Standing:
    """True or false."""
    return Key(kind="yes/no", meaning=meaning, example=example, **more)


def months(meaning: str, example: str, **more: Unpack[Details]) -> Standing:
    """A list of months, 1 to 12."""
    return Key(kind="months", meaning=meaning, example=example, **more)


def day(meaning: str, example: str, **more: Unpack[Details]) -> Any:
    """A date."""
    return Key(kind="date", meaning=meaning, example=example, **more)


def when(meaning: str, example: str, **more: Unpack[Details]) -> Any:
    """A date, or a date with the time of day."""
    return Key(kind="time", meaning=meaning, example=example, **more)


def choice(meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """One of the words of its type."""
    return Key(kind="choice", meaning=meaning, example=example, **more)


def number(unit: str, meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """One number with its unit."""
    return Key(kind="number", unit=unit, meaning=meaning, example=example, **more)


def measured(unit: str, meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """One number that may have its standard deviation behind it."""
    return Key(kind="measured", unit=unit, meaning=meaning, example=example, **more)


def monthly(unit: str, meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """One number for all months, twelve, or a table of months."""
    return Key(kind="by month", unit=unit, meaning=meaning, example=example, **more)


def each(unit: str, meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """One number for all of a kind, or a list with one for each."""
    return Key(kind="each", unit=unit, meaning=meaning, example=example, **more)


def numbers(unit: str, meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """A list of numbers with their units."""
    return Key(kind="numbers", unit=unit, meaning=meaning, example=example, **more)


def texts(meaning: str, example: str = "", **more: Unpack[Details]) -> Standing:
    """A list of words of the owner's own."""
    return Key(kind="texts", meaning=meaning, example=example, **more)
