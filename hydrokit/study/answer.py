"""The answer to one question that a reader may ask: its value, how sure it is, and where it comes from.

Evidence has an order. What was measured on this plant comes before what was measured elsewhere and
carried here, that before what is calculated, that before what the site file assumes, and common
practice comes last. A formula never overrules a measurement: it stands beside it.

>>> measured = Answer("capacity.intake", 0.006, "flow", low=0.0052, high=0.0068, evidence=Evidence.MEASURED_ON_THE_PLANT, source="the site file, as gauged")
>>> formula = Answer("capacity.intake", 0.0193, "flow", low=0.015, high=0.024, evidence=Evidence.CALCULATED, source="the formula of a screen")
>>> found = best(formula, None, measured)
>>> found.value, [each.source for each in found.set_aside], len(found.findings)
(0.006, ['the formula of a screen'], 1)
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, replace
from enum import IntEnum
from typing import Any

import numpy as np

from ..errors import Finding
from ..result import Result

__all__ = ["Answer", "Evidence", "best"]

MONTHS_IN_A_YEAR = 12


class Evidence(IntEnum):
    """What an answer rests on, the best first."""

    MEASURED_ON_THE_PLANT = 1
    MEASURED_HERE = 2
    CALCULATED = 3
    ASSUMED = 4
    COMMON_PRACTICE = 5

    @property
    def words(self) -> str:
        """As a reader is told."""
        return _WORDS[self]


_WORDS = {
    Evidence.MEASURED_ON_THE_PLANT: "measured on this plant",
    Evidence.MEASURED_HERE: "measured here, or measured nearby and transferred",
    Evidence.CALCULATED: "calculated from measured inputs",
    Evidence.ASSUMED: "assumed in the site file",
    Evidence.COMMON_PRACTICE: "common practice",
}


@dataclass(frozen=True, eq=False)
class Answer(Result):
    """The answer to one question.

    Parameters
    ----------
    key : str
        The question, dotted and in lower case: ``"energy.annual.p50"``.
    value : float, str, or ndarray of 12
        In SI, energy of a year in kWh; by month, January first, where it is an array. NaN: not known.
    kind : str
        How it is shown: a kind of the view (``"flow"``, ``"head"``, …), or ``"kWh"``, ``"money"``,
        ``"money per kWh"``, ``"share"``, ``"days"``, ``"count"``, ``"text"``.
    digits : int
        Significant digits its uncertainty supports, the same wherever it is shown.
    low, high : float or ndarray
        Between them it lies with 90 % probability; NaN where that is not known.
    evidence : Evidence
    source : str
        Where it comes from, as part of a sentence.
    set_aside : tuple of Answer
        Answers to the same question with weaker evidence.
    findings : tuple of Finding
    """

    key: str
    value: Any
    kind: str
    _: KW_ONLY
    digits: int = 3
    low: Any = np.nan
    high: Any = np.nan
    evidence: Evidence = Evidence.CALCULATED
    source: str = ""
    set_aside: tuple[Answer, ...] = field(default=())
    findings: tuple[Finding, ...] = field(default=())

    def month(self, month: int) -> Answer:
        """The answer for one month, 1 to 12, of an answer by month."""
        if np.shape(self.value) != (MONTHS_IN_A_YEAR,):
            raise ValueError(f"{self.key} is not by month")
        low, high = (
            np.broadcast_to(each, MONTHS_IN_A_YEAR)[month - 1] for each in (self.low, self.high)
        )
        return replace(
            self,
            key=f"{self.key}.{month}",
            value=np.asarray(self.value)[month - 1],
            low=low,
            high=high,
            set_aside=(),
            findings=(),
        )

    def beside(self, number: int = 0) -> Answer:
        """One of the answers set aside, under a key of its own, to be shown beside this one."""
        return replace(
            self.set_aside[number], key=f"{self.key}.beside{number + 1 if number else ''}"
        )

    @property
    def known(self) -> bool:
        """Whether it, or one of its months, is known."""
        return (
            bool(self.value)
            if isinstance(self.value, str)
            else bool(np.any(np.isfinite(np.asarray(self.value, dtype=float))))
        )


def best(*candidates: Answer | None) -> Answer | None:
    """The answer with the best evidence, the others set aside.

    Parameters
    ----------
    *candidates : Answer or None
        Answers to one question. Of two with like evidence the first counts.

    Returns
    -------
    Answer or None
        With a caution for each of the others that lies apart from it by more than both are uncertain.
    """
    known = sorted(
        (each for each in candidates if each is not None and each.known),
        key=lambda each: each.evidence,
    )
    if not known:
        return None
    first, others = known[0], tuple(known[1:])
    apart = tuple(_differ(first, each) for each in others if _are_apart(first, each))
    return replace(first, set_aside=(*first.set_aside, *others), findings=(*first.findings, *apart))


def _are_apart(first: Answer, other: Answer) -> bool:
    """Whether two single numbers differ by more than both are uncertain."""
    if isinstance(first.value, str) or np.ndim(first.value):
        return False
    ends = [float(each) for answer in (first, other) for each in (answer.low, answer.high)]
    if not all(np.isfinite(ends)):
        return False
    return ends[0] > ends[3] or ends[2] > ends[1]


def _differ(first: Answer, other: Answer) -> Finding:
    name = first.key.replace(".", " ").replace("_", " ")
    share = float(other.value) / float(first.value) - 1 if first.value else np.inf
    size = (
        f"{100 * abs(share):.0f} % {'more' if share > 0 else 'less'}"
        if abs(share) < 10
        else "many times more"
    )
    return Finding(
        "caution",
        name,
        (
            f"{other.source} gives {size} than {first.source}, and that is more than both are "
            f"uncertain; what is used comes from {first.source}: find out which is wrong"
        ),
    )
