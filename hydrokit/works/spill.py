"""What leaves a pond beside the plant: an upright overflow pipe, a low edge, and the pipe pulled to
flush silt."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..errors import Finding
from ..result import Result
from ..sentences import Amount, Sentence
from ..water import GRAVITY
from .intake import crest, drain_time, standpipe
from .solve import bracketed_root, require

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["LAST_DEPTH_M", "Overflow", "SideSpill", "OverflowPipe"]

_FRICTION = 0.02  # of the short pipe; common practice
_CREST, _BEND = 0.8, 0.5  # sharp crest; one bend into the drain below
_HOLE = 0.5  # loss of the hole as the square inlet of the drain
_PULLED = 0.61  # the hole in the floor when the pipe is pulled out
LAST_DEPTH_M = 0.05  # to which a pond is counted as drained
_SIDE_SHARE = 0.8  # of what a weir across passes, by water that runs past it: a tenth to a third less, common practice


@dataclass(frozen=True, eq=False)
class OverflowPipe:
    """An open pipe standing in the pond: its crest keeps the level, pulled out it empties the pond.

    Parameters
    ----------
    diameter_m : float
        Inside.
    crest_m : float
        Height of its crest (overflow edge) over the floor of the pond.
    fall_m : float
        From the crest down to the free end of the drain behind it.
    """

    diameter_m: float
    crest_m: float
    fall_m: float

    def __post_init__(self) -> None:
        require("OverflowPipe", "above zero", diameter_m=self.diameter_m, crest_m=self.crest_m)
        require("OverflowPipe", "zero or more", fall_m=self.fall_m)

    @property
    def area_m2(self) -> float:
        """Of its bore."""
        return math.pi / 4 * self.diameter_m**2

    @property
    def friction(self) -> float:
        """Loss coefficient of its length and one bend."""
        return _FRICTION * self.fall_m / self.diameter_m + _BEND

    def flow_si(self, head_m: Number) -> Number:
        """Flow in m³/s at a level over the crest."""
        return standpipe.si(head_m, self.diameter_m, self.fall_m, _CREST, self.friction)

    def regime_si(self, head_m: float) -> str:
        """What governs at a level over the crest: ``edge as a weir``, ``edge as a hole``,
        ``pipe running full``."""
        flow = float(self.flow_si(head_m))
        full = self.area_m2 * math.sqrt(
            2 * GRAVITY * (max(head_m, 0.0) + self.fall_m) / (1 + _CREST + self.friction)
        )
        if flow >= full * (1 - 1e-12):
            return "pipe running full"
        return (
            "edge as a weir"
            if flow >= 1.44 * math.pi * self.diameter_m * head_m**1.5 * (1 - 1e-12)
            else "edge as a hole"
        )

    def emptying_time_si(
        self, area_m2: float, inflow_m3s: float = 0.0, left_m: float = LAST_DEPTH_M
    ) -> float:
        """Time in s in which the pond falls from the crest to a last depth when the pipe is
        pulled; infinite where the inflow holds it up."""
        left = min(left_m, self.crest_m)
        return float(drain_time.si(area_m2, self.crest_m, left, self.area_m2, _PULLED, inflow_m3s))

    def full_drain_time_si(self, area_m2: float, left_m: float = LAST_DEPTH_M) -> float:
        """The same with the drain behind the hole running full to its free end, whose fall then
        pulls as well."""
        below = max(self.fall_m - self.crest_m, 0.0)  # from the floor down to the free end
        passes = 1 / math.sqrt(1 + _HOLE + self.friction)
        left = min(left_m, self.crest_m)
        return float(
            drain_time.si(area_m2, self.crest_m + below, left + below, self.area_m2, passes)
        )

    def pulled_flow_si(self, depth_m: Number) -> Number:
        """Flow in m³/s out of the pulled pipe's hole, the first rush that takes the silt along."""
        return _PULLED * self.area_m2 * np.sqrt(2 * GRAVITY * np.maximum(depth_m, 0.0))


@dataclass(frozen=True, eq=False)
class SideSpill:
    """A low stretch of the edge over which the pond spills, its water running past.

    Parameters
    ----------
    length_m : float
    """

    length_m: float

    def __post_init__(self) -> None:
        require("SideSpill", "above zero", length_m=self.length_m)

    def flow_si(self, head_m: Number) -> Number:
        """Flow in m³/s at a level over it."""
        return _SIDE_SHARE * crest.si(head_m, self.length_m)


@dataclass(frozen=True, eq=False)
class Overflow(Result):
    """All that spills from a pond over one overflow edge.

    Parameters
    ----------
    ways : tuple of OverflowPipe or SideSpill
    arriving_m3s : float
        Most that must spill: what comes down with the jets shut. NaN where not known.
    bank_m : float
        Height of the bank over the overflow edge; NaN where not known.
    name : str
    """

    ways: tuple[OverflowPipe | SideSpill, ...]
    arriving_m3s: float
    bank_m: float
    _: KW_ONLY
    name: str = "pond"

    def flow_si(self, head_m: Number) -> Number:
        """Flow in m³/s that spills at a level over the crest."""
        return sum(each.flow_si(head_m) for each in self.ways)

    def level_si(self, flow_m3s: float) -> float:
        """Level in m over the overflow edge at which a flow spills."""
        high = 1.0
        while self.flow_si(high) < flow_m3s:
            high *= 2
        return float(
            bracketed_root(lambda head: self.flow_si(head) - flow_m3s, 0.0, high, steps=40)
        )

    @property
    def level_m(self) -> float:
        """Level over the overflow edge with all that arrives spilling; NaN where that is not known."""
        return (
            self.level_si(self.arriving_m3s) if math.isfinite(self.arriving_m3s) else float("nan")
        )

    @property
    def half_closed_m(self) -> float:
        """The same with leaves over half of every way out: the rest must pass twice as much."""
        return (
            self.level_si(2 * self.arriving_m3s)
            if math.isfinite(self.arriving_m3s)
            else float("nan")
        )

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Where the bank is too low."""
        if not self.level_m > self.bank_m:
            if not self.half_closed_m > self.bank_m:
                return ()
            text = Sentence(
                "half closed by leaves it spills what comes down at {level}, above the bank of "
                "{bank}: add a low edge beside it, or a guard against leaves",
                level=Amount(self.half_closed_m, "head"),
                bank=Amount(self.bank_m, "head"),
            )
            return (Finding("caution", self.name, text),)
        text = Sentence(
            "with the jets shut {arriving} come down, and only {spilled} spill before the bank is "
            "overtopped: widen the overflow before the bank washes away",
            arriving=Amount(self.arriving_m3s, "flow"),
            spilled=Amount(self.flow_si(self.bank_m), "flow"),
        )
        return (Finding("problem", self.name, text),)
