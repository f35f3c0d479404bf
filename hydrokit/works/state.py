"""What every part of the water's way answers, and the state it is in when it answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from ..errors import HydrokitError
from ..result import Result

if TYPE_CHECKING:
    from ..units import Alike, Number

__all__ = ["CLEAN", "Part", "State"]


@dataclass(frozen=True, eq=False)
class State(Result):
    """How far a part is from clean, full of water and free of ice.

    Parameters
    ----------
    clogged : float or ndarray
        Share of the openings that is blocked, 0 to 1.
    air_m : float or ndarray
        Head lost to trapped air, in metres of water.
    ice : float or ndarray
        Share of the openings or of the bore that is closed by ice, 0 to 1.
    """

    clogged: Number = 0.0
    air_m: Number = 0.0
    ice: Alike = 0.0

    def __post_init__(self) -> None:
        for name in ("clogged", "ice"):
            share = np.asarray(getattr(self, name))
            if np.any((share < 0) | (share > 1)):
                raise HydrokitError(
                    f"State: {name} is a share between 0 and 1, got {getattr(self, name)!r}"
                )
        if np.any(np.asarray(self.air_m) < 0):
            raise HydrokitError(f"State: air_m is a head lost, never negative, got {self.air_m!r}")

    @property
    def open(self) -> Number:
        """Share of the openings still free: blocked and frozen openings are taken as independent."""
        return (1.0 - self.clogged) * (1.0 - self.ice)


CLEAN = State()


class Part(Protocol):
    """What every part of the water's way answers. No base class: having the two methods, frozen, is
    enough."""

    name: str

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s the part passes in that state."""

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Head in m the part takes from a flow; infinite where it cannot pass it."""

    def __hash__(self) -> int:
        """A part never changes, so what was found of it may be kept."""
