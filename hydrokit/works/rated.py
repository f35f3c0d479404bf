"""A part of the way known only by what it passes: measured, or promised by its manufacturer."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..result import Result
from .solve import require
from .state import CLEAN, State

if TYPE_CHECKING:
    from ..units import Alike, Number
    from .open_channel import OpenChannel

__all__ = ["Gauged", "Rated", "as_built"]


@dataclass(frozen=True, eq=False)
class Rated(Result):
    """An intake, screen or line of which only the flow it passes when clean is known.

    Parameters
    ----------
    capacity_m3s : float or ndarray
        Most flow it passes, clean.
    share_lost : float
        Share of the water that leaves it on the way: measured at both ends.
    lost_m3s : float
        What leaves it on the way whatever it carries: seepage, evaporation.
    name : str
    """

    capacity_m3s: Alike = np.inf
    share_lost: float = 0.0
    name: str = "intake"
    _: KW_ONLY
    lost_m3s: float = 0.0

    def __post_init__(self) -> None:
        require(
            f"Rated '{self.name}'",
            "zero or more",
            capacity_m3s=self.capacity_m3s,
            lost_m3s=self.lost_m3s,
        )
        require(f"Rated '{self.name}'", "a share from 0 to 1", share_lost=self.share_lost)

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s that leaves its lower end: the blocked share passes nothing."""
        free = np.asarray(state.open)
        # An endless capacity wholly blocked passes nothing, not endless times nothing.
        carried = np.where(free == 0, 0.0, self.capacity_m3s * np.where(free == 0, 1.0, free))
        return np.maximum(carried * (1 - self.share_lost) - self.lost_m3s, 0.0)[()]

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """No head is counted: the capacity says all that is known."""
        return np.zeros_like(np.asarray(flow_m3s, dtype=float))


@dataclass(frozen=True, eq=False)
class Gauged(Result):
    """A screen whose capacity was measured: that counts, and its formula tells only what clogging takes.

    Whatever else is asked of it, the screen itself answers.

    Parameters
    ----------
    part : Part
        As its formula has it.
    capacity_m3s : float
        Measured, clean.
    calculated_m3s : float
        What the formula, or the manufacturer, says instead.
    """

    part: Any
    capacity_m3s: float
    calculated_m3s: float = np.nan

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or name == "part":
            raise AttributeError(name)
        return getattr(self.part, name)

    @property
    def _times(self) -> Any:
        """Measured over calculated, both clean."""
        return self.capacity_m3s / self.part.capacity_si(CLEAN)

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s: the measured one, less the share that the state takes by the formula."""
        return self._times * self.part.capacity_si(state)

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Head in m: that of the formula at the same share of the capacity."""
        return self.part.head_loss_si(np.asarray(flow_m3s, dtype=float) / self._times, state)


def as_built(part: OpenChannel | Rated) -> Any:
    """The part whose kind counts: the screen itself where its capacity was measured."""
    return part.part if isinstance(part, Gauged) else part
