"""Two days of a workshop, with the times that the lessons' own pages for the teacher add up to."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import nbformat

__all__ = ["DAYS", "Block", "minutes_of", "timed", "title_of"]

_MINUTES = re.compile(r"^\| *\d+–(\d+) *\|", re.M)


@dataclass(frozen=True)
class Block:
    """A part of a day.

    Parameters
    ----------
    what : str
        In plain text; for a lesson the stem of its notebook.
    minutes : int
        How long; 0 for a lesson, whose own page tells.
    """

    what: str
    minutes: int = 0


_OWN = Block("Your own creek: each writes the lesson's piece of their study", 15)
# When each day begins, in minutes from midnight, and what it holds.
DAYS: tuple[tuple[int, tuple[Block, ...]], ...] = (
    (
        9 * 60,
        (
            Block("Arrival, names, what each wants to know; cautions", 30),
            Block("01_measure"),
            _OWN,
            Block("Lunch", 60),
            Block("02_head_and_pipe"),
            _OWN,
            Block("Break", 20),
            Block("From flow and head to watts: each group tells theirs to the others", 30),
            Block("What was learned, what stays open", 15),
        ),
    ),
    (
        8 * 60 + 30,
        (
            Block("03_duration_and_rights"),
            _OWN,
            Block("Break", 15),
            Block("04_air_ice_and_screens"),
            _OWN,
            Block("Lunch", 60),
            Block("05_size_it"),
            _OWN,
            Block("Break", 15),
            Block("06_run_it"),
            _OWN,
            Block("hydrokit check mine, hydrokit run mine: each looks at their own report", 25),
        ),
    ),
)


def minutes_of(lesson: Path) -> int:
    """How long a lesson takes: where the last line of its teacher's timetable ends."""
    text = "\n".join(
        each.source
        for each in nbformat.read(lesson, as_version=4).cells
        if each.cell_type == "markdown"
    )
    return max(int(each) for each in _MINUTES.findall(text))


def title_of(lesson: Path) -> str:
    """The first heading: ``Lesson 1: How much water is there?``."""
    first = nbformat.read(lesson, as_version=4).cells[0].source
    return str(first.partition("\n")[0].lstrip("# ").strip())


def timed(
    begin: int, blocks: Sequence[Block], lessons: dict[str, Path]
) -> Iterator[tuple[str, str, str]]:
    """Each block of a day: from, to, what.

    Parameters
    ----------
    begin : int
        Minutes from midnight.
    blocks : sequence of Block
    lessons : dict
        Stem to file.
    """
    at = begin
    for each in blocks:
        lesson = lessons.get(each.what)
        until = at + (minutes_of(lesson) if lesson else each.minutes)
        yield _clock(at), _clock(until), title_of(lesson) if lesson else each.what
        at = until


def _clock(minutes: int) -> str:
    return f"{minutes // 60}:{minutes % 60:02}"
