"""What holds a runner's speed while its jets slow down, and what under-fed jets then give.

The water's own power in under-fed jets goes with the cube of the flow. What a runner makes of it hangs
on its speed: a grid or a governor holds it, and slow jets then meet buckets that run too fast for them;
a controller that seeks the most power lets it follow the jets; a battery behind a plain rectifier holds
it in part.

>>> [f"{speed.flow_power_si(0.8):.2f}" for speed in (FOLLOWS, BATTERY, HELD)]
['0.51', '0.50', '0.48']
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from .pelton import off_speed_efficiency

if TYPE_CHECKING:
    from ..units import Floats, Number

__all__ = ["BATTERY", "FOLLOWS", "HELD", "UNKNOWN", "RunnerSpeed"]

# A runner away from its head is not quite what any law says of it: standard deviation of the logarithm of
# its efficiency, for each unit of the logarithm of the head. Common practice; it covers a runaway of 1.8
# times the best speed instead of the parabola's 2.
_SCATTER = 0.15
_FINE = 4001  # points between which the flow is read off the power: to 1e-6 of it
_LEAST = 0.05  # of the usual efficiency: under it meters tell no more


@dataclass(frozen=True)
class RunnerSpeed:
    """How far the speed of an impulse runner is held.

    Parameters
    ----------
    held : float
        Share of it that is held, as it is taken: the buckets' speed goes with the jet's to the power of
        one less this. 1: held at one speed; 0: it follows the jets.
    low, high : float
        Between which the share may lie, where nobody said it.
    why : str
        What says so, as the end of a sentence.
    """

    held: float
    low: float
    high: float
    _: KW_ONLY
    why: str = field(default="", compare=False)

    @property
    def sure(self) -> bool:
        """Whether it is known."""
        return self.low == self.high

    def efficiency_si(self, head_ratio: Number) -> Number:
        """Efficiency over that at the head which suits the runner, at a head over that one."""
        if self.held == 0:
            return np.ones(np.shape(head_ratio))[()]
        return off_speed_efficiency.si(head_ratio, self.held)

    def log_sd_si(self, head_ratio: Number) -> Floats:
        """Standard deviation of the logarithm of that efficiency: by what its speed could be, and
        by what runners differ."""
        log = self._log(head_ratio, self.held)
        apart = np.stack(
            [self._log(head_ratio, held) - log for held in (self.low, self.held, self.high)]
        )
        away = np.log(np.maximum(np.asarray(head_ratio, dtype=float), 1e-6))
        return np.asarray(np.sqrt(np.mean(np.square(apart), axis=0) + np.square(_SCATTER * away)))

    def _log(self, head_ratio: Number, held: float) -> np.ndarray:
        return np.log(np.maximum(off_speed_efficiency.si(head_ratio, held), _LEAST))

    def flow_power_si(self, flow_ratio: Number) -> Number:
        """Power of jets over that when fed, at a flow over that when fed: the cube of it is the water's."""
        flow = np.asarray(flow_ratio, dtype=float)
        if self.held == 1:  # the same, q³ r (2 - r) with r = 1/q, in one step
            return (flow * np.maximum(2 * flow - 1, 0.0))[()]
        return (flow**3 * self.efficiency_si(np.square(flow)))[()]

    def flow_of_power_si(self, power_ratio: Number) -> Number:
        """Flow of jets over that when fed, from their power over that when fed; more than fed by
        the water's own cube."""
        power = np.asarray(power_ratio, dtype=float)
        if self.held == 0:
            return np.cbrt(power)[()]
        flow = np.linspace(0.0, 1.0, _FINE)
        given = np.asarray(self.flow_power_si(flow))
        first = (
            int(np.argmax(given > 0)) - 1
        )  # below it a held runner gives nothing, whatever comes
        found = np.interp(power, given[first:], flow[first:])
        return np.where(power >= 1, np.cbrt(power), np.where(power <= 0, 0.0, found))[()]


_NOBODY = "nobody said what holds it"
HELD = RunnerSpeed(1.0, 1.0, 1.0, why="a grid or a governor holds it")
FOLLOWS = RunnerSpeed(
    0.0, 0.0, 0.0, why="a controller that seeks the most power lets it follow the jets"
)
# Behind a plain rectifier the speed at no power is that at full power less what its windings drop
# there, 10 to 20 % of the voltage, common practice: at four fifths to half of the head a share of
# 0.45 to 0.8 is held.
BATTERY = RunnerSpeed(0.65, 0.45, 0.8, why="a battery behind a plain rectifier holds it in part")
UNKNOWN = RunnerSpeed(0.5, 0.0, 1.0, why=_NOBODY)
