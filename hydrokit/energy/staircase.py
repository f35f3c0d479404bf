"""The steps of a staircase of upgrades, and what was left out."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from typing import Any, Iterable, Mapping

from ..result import Result

__all__ = ["Left", "Staircase", "Step"]

Numbers = Mapping[str, float]


@dataclass(frozen=True, eq=False)
class Step:
    """One step, given all before it.

    Parameters
    ----------
    names : tuple of str
        One change; or several that are taken together.
    kind : {"alone", "needs", "pair", "together", "chosen"}
        ``needs``: with what it needs. ``pair``: either alone brings less than 15 % of what both
        bring. ``together``: found only by trying all combinations. ``chosen``: by the reader.
    numbers, gain : dict
        What the case is worth after it, and the difference from before.
    cost_money : float
    net_money : float
        Value of the gain a year less annuity and upkeep; NaN where no value is known.
    gain_per_money : float
        Gain in the aim for each unit of cost; infinite for a free one.
    pays : bool or None
        Whether it is worth more than it costs; None where no value is known.
    gain_low, gain_high, numbers_low, numbers_high : dict or None
        Tenth and ninetieth per cent over the worlds.
    """

    names: tuple[str, ...]
    kind: str
    numbers: Numbers
    _: KW_ONLY
    gain: Numbers
    cost_money: float
    net_money: float
    gain_per_money: float
    pays: bool | None
    gain_low: Numbers | None = None
    gain_high: Numbers | None = None
    numbers_low: Numbers | None = None
    numbers_high: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Left:
    """A change that brings nothing once the steps are done.

    Parameters
    ----------
    name : str
    gain : float
        What it would then do to the aim: nothing or less; minus infinity where it cannot be
        combined with the steps.
    """

    name: str
    gain: float


@dataclass(frozen=True, eq=False)
class Staircase(Result):
    """Changes in the order in which to make them.

    Parameters
    ----------
    base : dict
        What the case is worth today.
    base_low, base_high : dict or None
        Tenth and ninetieth per cent over the worlds.
    steps : tuple of Step
        Free ones first as soon as they help, then those that pay, then those that do not.
    left : tuple of Left
    undo : tuple of str
        Changes that helped when they were made and would better be undone after all steps.
    best_names : tuple of str
        The best of all combinations; empty where there were too many to try.
    best_numbers : dict or None
    aim : str
    evaluations : int
        Cases that were worked out to find this, worlds not counted.
    search : object
        What it was found with, for :meth:`made`.
    """

    base: Numbers
    base_low: Numbers | None
    base_high: Numbers | None
    _: KW_ONLY
    steps: tuple[Step, ...]
    left: tuple[Left, ...]
    undo: tuple[str, ...]
    best_names: tuple[str, ...]
    best_numbers: Numbers | None
    aim: str
    evaluations: int
    search: Any = field(default=None, repr=False)

    def made(self, names: Iterable[str]) -> Step:
        """Changes of the reader's own choosing, with what they need, as one step from today."""
        return self.search.step(
            self.search.option(frozenset(), self.search.closure(names), "chosen"), None, 0
        )

    @property
    def end(self) -> Numbers:
        """What the case is worth after all steps."""
        return self.steps[-1].numbers if self.steps else self.base

    @property
    def pairs(self) -> tuple[tuple[str, ...], ...]:
        """Changes that only work together."""
        return tuple(step.names for step in self.steps if step.kind in ("pair", "together"))
