"""The reader's units: numbers, ranges, answers and sentences as text."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..sentences import Reader
from .answer import Answer
from .keyed import keyed

__all__ = ["View"]


@dataclass(frozen=True)
class View(Reader):
    """The reader's units, and the answers of a study in them.

    Parameters
    ----------
    system : {"metric", "us"}
    large_flows : bool
        Show flows in m³/s or ft³/s rather than L/s or gpm.
    currency : str
        Name of the money of this study.
    """

    def shown(self, answer: Answer | None, unit: bool = True) -> str:
        """An answer as text that carries its key; without its unit where a column's title has it.

        >>> from .keyed import keys
        >>> keys(View("us").shown(Answer("head.gross", 50.0, "head")))
        [('head.gross', '164 ft')]
        """
        if answer is None:
            return "not known"
        return keyed(answer.key, self.amount(answer.value, answer.kind, answer.digits, unit))

    def interval(self, answer: Answer | None) -> str:
        """The 90 % interval of an answer, as ``11 to 15 L/s``; ``not known`` where it is not."""
        if answer is None or not np.all(np.isfinite([answer.low, answer.high])):
            return "not known"
        low, high = (
            self.amount(each, answer.kind, answer.digits, False)
            for each in (answer.low, answer.high)
        )
        return keyed(f"{answer.key}.interval", self.with_unit(f"{low} to {high}", answer.kind))
