"""One rule of residual flow, whatever it goes by."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Callable, Protocol

import numpy as np

from ..errors import HydrokitError
from ..sentences import Sentence
from ..units import Number
from .months import MONTHS

__all__ = ["Rule", "Statistics"]


class Statistics(Protocol):
    """What a rule may ask of a creek's daily record."""

    @property
    def mean_m3s(self) -> float:
        """Mean flow."""

    def exceeded_m3s(self, share: float) -> float:
        """The flow that is reached or exceeded in a share of the time."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Rule:
    """One rule of residual flow; made by the functions of this module.

    Parameters
    ----------
    kind : str
    text : str or Sentence
        The rule in words, for reports.
    months : tuple of int
        Calendar months in which it holds.
    flow_m3s : ndarray of 12
        Residual flow of each month.
    share : ndarray of 12
        Share of the flow of the day that stays.
    hands_off_m3s : ndarray of 12
        Natural flow below which nothing is taken.
    from_statistics : callable, optional
        Residual flow, one or twelve, from the creek's :class:`Statistics`; added to none of the others.
    """

    kind: str
    text: str | Sentence
    months: tuple[int, ...] = MONTHS
    flow_m3s: np.ndarray = field(default_factory=lambda: np.zeros(12))
    share: np.ndarray = field(default_factory=lambda: np.zeros(12))
    hands_off_m3s: np.ndarray = field(default_factory=lambda: np.zeros(12))
    from_statistics: Callable[[Statistics], Number] | None = None

    def __post_init__(self) -> None:
        if not self.months or set(self.months) - set(MONTHS):
            raise HydrokitError(
                f"{self.kind}(): months must be numbers from 1 to 12, got {self.months!r}"
            )
        stated = (self.flow_m3s, self.share, self.hands_off_m3s)
        if any(np.any(np.asarray(each) < 0) for each in stated):
            raise HydrokitError(f"{self.kind}(): a residual flow cannot be negative")

    @property
    def needs_record(self) -> bool:
        """Whether the rule is stated in terms of the creek's own flow statistics."""
        return self.from_statistics is not None
