"""How learners answer: right, wrong, in a wrong unit, mistyped, out of order; for each exercise of the lessons."""

import ast
import re
from dataclasses import dataclass
from pathlib import Path

import nbformat

from hydrokit.units import Q_

LESSONS = Path(__file__).resolve().parents[2] / "notebooks" / "lessons"


@dataclass(frozen=True)
class Exercise:
    """An exercise: its number, the places of its cells, its right answer, and the answers it offers."""

    number: str
    answer: int
    check: int
    solution: int
    right: object
    choices: tuple[str, ...]


@dataclass(frozen=True)
class Attempt:
    """What is typed into the answer's cell, and what the check must then say."""

    kind: str
    typed: str
    said: str
    told_first: str = ""  # by the cell of the answer itself


def exercises(path):
    """The exercises of a lesson."""
    cells = nbformat.read(path, as_version=4).cells
    for at, cell in enumerate(cells):
        if "exercise" not in cell.metadata.get("tags", []):
            continue
        number, right = re.search(r"^# check_(\d)\((.+)\)$", cells[at + 3].source, re.M).groups()
        offered = ()
        if "check_choice(" in cells[at + 1].source:
            found = next(
                each
                for each in ast.walk(ast.parse(cells[at + 1].source))
                if isinstance(each, ast.Dict)
            )
            offered = tuple(each.value for each in found.keys)
        yield Exercise(number, at, at + 1, at + 3, ast.literal_eval(right), offered)


def attempts(exercise):
    """Four ways to answer; the right one comes last, so that what is wrong is never judged by it."""
    name, right = f"answer_{exercise.number}", exercise.right
    if exercise.choices:
        wrong = next(each for each in exercise.choices if each != right)
        alien, told = "7 m", "none of the choices"
        off = "Not yet."
    else:
        quantity = Q_(right)
        wrong = f"{1.37 * quantity.magnitude:.5g} {quantity.units:~C}".strip()
        alien, told = (
            ("7 m", "asked for is")
            if quantity.check("[temperature]")
            else ("7 degC", "asked for is")
        )
        off = "too high"
    bare = right if isinstance(right, str) else f'"{right}'
    slip = "Quotes are missing" if isinstance(right, str) else "A quote is missing at one end"
    yield Attempt("wrong", f"{name} = {wrong!r}", off)
    yield Attempt("wrong unit", f"{name} = {alien!r}", told)
    yield Attempt("typo", f"{name} = {bare}", "Not answered yet:", slip)
    yield Attempt("right", f"{name} = {right!r}", "Right")


def misjudged(attempt, said, first=""):
    """What is wrong with what was said; empty where nothing is."""
    if attempt.said not in said:
        return f"{attempt.kind}: {attempt.typed}: {said[:200]!r} lacks {attempt.said!r}"
    if attempt.kind != "right" and "Right" in said:
        return f"{attempt.kind}: {attempt.typed} was called right"
    if attempt.told_first not in first:
        return f"{attempt.kind}: {attempt.typed}: {first[:200]!r} lacks {attempt.told_first!r}"
    return ""
