"""Every question a reader may ask of a study, and who answers it.

One module a subject, along the water; each has its part of the table: key of the question -> a
function that takes the study and gives an :class:`~hydrokit.study.answer.Answer`, or None where
the study cannot say. Pages, panels, results, parts list, comparison and command line read answers;
they never work one out.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING

from ...errors import HydrokitError, did_you_mean
from ..answer import Answer

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["SUBJECTS", "ask", "families", "questions"]

SUBJECTS = (
    "creek",
    "floods",
    "works",
    "pressures",
    "winter",
    "plant",
    "year",
    "energy",
    "using",
    "electrical",
    "sizing",
    "money",
    "changes",
    "running",
)


@cache
def questions() -> dict[str, Callable[[Study], Answer | None]]:
    """The whole table: key of a question -> who answers it."""
    table: dict[str, Callable[[Study], Answer | None]] = {}
    for subject in SUBJECTS:
        part = import_module(f"{__name__}.{subject}").QUESTIONS
        twice = table.keys() & part.keys()
        if twice:
            raise ValueError(f"two subjects answer {sorted(twice)}")
        table.update(part)
    return table


@cache
def families() -> dict[str, Callable[[Study, str], Answer | None]]:
    """Questions asked of each of several things, such as every stretch of pipe: first word of the
    key -> who answers, given the key."""
    found: dict[str, Callable[[Study, str], Answer | None]] = {}
    for subject in SUBJECTS:
        found.update(getattr(import_module(f"{__name__}.{subject}"), "FAMILIES", {}))
    return found


def ask(study: Study, key: str) -> Answer | None:
    """The answer of a study to one question, or None where it cannot say.

    Raises
    ------
    HydrokitError
        A question nobody answers.
    """
    table, family = questions(), families().get(key.partition(".")[0])
    if key not in table and family is None:
        raise HydrokitError(f"there is no question {key!r}{did_you_mean(key, table)}")
    found = family(study, key) if family is not None and key not in table else table[key](study)
    if found is not None and found.key != key:
        raise ValueError(f"the answer to {key} calls itself {found.key}")
    return found if found is not None and found.known else None
