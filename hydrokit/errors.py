"""What can go wrong, and how it is told: one clear sentence, with what to type."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from difflib import get_close_matches
from typing import Any, Protocol, TypeVar

__all__ = [
    "Finding",
    "HydrokitError",
    "InputError",
    "Mistake",
    "RangeWarning",
    "RunError",
    "UnitsError",
    "counted",
    "did_you_mean",
    "figures",
    "one_line",
    "printable",
    "sure",
]

_MOST, _LONGEST_SENTENCE = 60, 360  # characters quoted from a file, and of a whole sentence


Thing = TypeVar("Thing")


def sure(thing: Thing | None) -> Thing:
    """A thing that is there by what was asked before: a plant is known only where its record is."""
    assert thing is not None
    return thing


class HydrokitError(Exception):
    """Anything hydrokit refuses, said in one sentence."""


class UnitsError(HydrokitError, ValueError):
    """A number without a unit, or a unit of another kind."""


class RunError(HydrokitError):
    """A run that could not be finished; the last good reports are untouched."""


class RangeWarning(UserWarning):
    """A result outside the range in which its formula was tested."""


class Teller(Protocol):
    """Who tells a sentence in units of their own: a :class:`hydrokit.sentences.Reader`."""

    def told(self, what: str | Told | Finding | Exception, /) -> str:
        """The sentence."""


class Told(Protocol):
    """What can be told in the units of any reader, such as a :class:`~hydrokit.sentences.Sentence`."""

    def told(self, reader: Any, /) -> str: ...


@dataclass(frozen=True)
class Mistake:
    """One wrong thing in an input file.

    Parameters
    ----------
    file : str
        The file as the reader knows it.
    where : str
        A key such as ``[penstock] length``, or ``line 12``; may be empty.
    sentence : str or Sentence
        What was found, what was expected, an example.
    """

    file: str
    where: str
    sentence: str | Told

    def __post_init__(self) -> None:
        # Text of a file may stand in any of them, and reaches a terminal.
        for name in ("file", "where"):
            object.__setattr__(self, name, one_line(getattr(self, name), _LONGEST_SENTENCE))

    @property
    def text(self) -> str:
        """The sentence in metric units, on one line."""
        return one_line(self.sentence, _LONGEST_SENTENCE)

    def told(self, reader: Teller) -> str:
        """File, place and sentence, in the units of a reader."""
        said = one_line(reader.told(self.sentence), _LONGEST_SENTENCE)
        return ": ".join(part for part in (self.file, self.where, said) if part)

    def __str__(self) -> str:
        return ": ".join(part for part in (self.file, self.where, self.text) if part)


class InputError(HydrokitError):
    """Bad input: every mistake of the files read, told at once.

    Parameters
    ----------
    mistakes : Mistake or sequence of Mistake
        At least one.
    reader : hydrokit.sentences.Reader, optional
        In whose units they are told; metric ones where nobody is known.
    findings : sequence of Finding, optional
        What else was seen in what could be read: it may be the cause of a mistake.
    """

    def __init__(
        self,
        mistakes: Mistake | Iterable[Mistake],
        reader: Teller | None = None,
        findings: Iterable[Finding] = (),
    ) -> None:
        self.mistakes = (mistakes,) if isinstance(mistakes, Mistake) else tuple(mistakes)
        self.reader = reader
        self.findings: tuple[Finding, ...] = tuple(findings)
        super().__init__(self.mistakes)

    @property
    def lines(self) -> list[str]:
        """Each mistake on one line, in the reader's units."""
        return [
            str(each) if self.reader is None else each.told(self.reader) for each in self.mistakes
        ]

    def __str__(self) -> str:
        return "\n".join(self.lines)

    def __reduce__(self) -> tuple[object, ...]:
        return (InputError, (self.mistakes, self.reader, self.findings))

    def _render_traceback_(self) -> list[str]:
        """In a notebook the mistakes alone: where in hydrokit they were found helps nobody mend them."""
        return str(self).splitlines()


@dataclass(frozen=True)
class Finding:
    """Something a reader of the report must know, though the work went on.

    Parameters
    ----------
    level : {"note", "caution", "problem"}
        A note informs, a caution limits trust, a problem must be mended.
    where : str
        The part, function or file it belongs to.
    sentence : str or Sentence
        One sentence; a :class:`~hydrokit.sentences.Sentence` where it holds amounts.
    """

    level: str
    where: str
    sentence: str | Told

    def __post_init__(self) -> None:
        if self.level not in ("note", "caution", "problem"):
            raise ValueError(f'level must be "note", "caution" or "problem", got {self.level!r}')

    @property
    def message(self) -> str:
        """The sentence in metric units."""
        return str(self.sentence)

    def __str__(self) -> str:
        return f"{self.level}: {self.where}: {self.message}"


def figures(value: float, digits: int = 3) -> str:
    """A number to so many significant digits as pages show it, noughts at its end kept.

    >>> figures(4.5), figures(0.5, 2), figures(123.4), figures(1234.0)
    ('4.50', '0.50', '123', '1,230')
    """
    rounded = Decimal(f"{value:.{digits - 1}e}")
    return f"{rounded:,f}"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """``"; did you mean 'x'?"`` for the nearest known word, or nothing."""
    small = {str(each).lower(): str(each) for each in known}
    near = get_close_matches(str(word)[:_MOST].lower(), small, n=1, cutoff=0.6)
    return f"; did you mean '{small[near[0]]}'?" if near else ""


def counted(number: int, thing: str) -> str:
    """A number of things.

    >>> counted(1, "gauging"), counted(3, "gauging")
    ('1 gauging', '3 gaugings')
    """
    return f"{number:,} {thing}{'' if number == 1 else 's'}"


def one_line(text: object, most: int = _MOST) -> str:
    """Text of a file as it may stand in a sentence: on one line, nothing unprintable, cut short where long.

    >>> one_line("a\\tb\\x1b[31m"), one_line("x" * 1000, 8)
    ('a b\\\\x1b[31m', 'xxxxxxx…')
    """
    safe = printable(" ".join(str(text)[: 4 * most].split()))
    return safe if len(safe) <= most else safe[: most - 1] + "…"


def printable(text: object) -> str:
    """Text as one line that a terminal shows as it is: what would move, colour, hide or turn round
    other text is spelt out.

    >>> printable("a\\nb\\x1b[31m\\u202ec")
    'a b\\\\x1b[31m\\\\u202ec'
    """
    spaced = (" " if each.isspace() else each for each in str(text))
    return "".join(
        each if each.isprintable() else each.encode("unicode_escape").decode("ascii")
        for each in spaced
    )
