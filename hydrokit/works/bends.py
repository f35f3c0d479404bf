"""Bends of a pipe, from its profile."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..result import Result
from ..units import Floats
from ..water import head_to_pressure
from .pipe import Line
from .pressures import Pressures
from .support import bend_thrust

__all__ = ["Bend", "profile_bends"]


@dataclass(frozen=True, eq=False)
class Bend(Result):
    """A bend, and the force with which it is pushed outwards.

    Parameters
    ----------
    distance_m : float
        Along the slope.
    angle_rad : float
    pressure_pa, thrust_n : float
        In the worst case, the whole flow stopped at once.
    slow_pressure_pa, slow_thrust_n : float
        While the valve closes as slowly as given; at rest where no closing time is.
    rejoined_thrust_n : float or None
        The most where, stopped at once, the water column parts and rejoins: the blow at the valve
        (:func:`hydrokit.works.transient.rejoining`) taken to reach the bend whole. None where the
        column stays whole.
    """

    distance_m: float
    angle_rad: float
    pressure_pa: float
    _: KW_ONLY
    thrust_n: float
    slow_pressure_pa: float
    slow_thrust_n: float
    rejoined_thrust_n: float | None = None

    @property
    def most_n(self) -> float:
        """What a block must hold."""
        return self.thrust_n if self.rejoined_thrust_n is None else self.rejoined_thrust_n


def profile_bends(
    pressures: Pressures, line: Line, flow_m3s: float, distance_m: Floats, angle_rad: Floats
) -> tuple[Bend, ...]:
    """The bends of a penstock with their thrust, those first that push hardest.

    Parameters
    ----------
    pressures : Pressures
    line : Line
    flow_m3s : float
    distance_m, angle_rad : ndarray
        Of the bends.
    """
    ends = np.cumsum([float(pipe.length_m) for pipe in line.pipes])
    ends = ends / ends[-1] * float(pressures.distance_m[-1])
    made, rejoined = [], pressures.rejoined_m
    more = 0.0 if rejoined is None else float(head_to_pressure.si(rejoined[1] - rejoined[0]))
    for where, angle in zip(np.atleast_1d(distance_m), np.atleast_1d(angle_rad)):
        pipe = line.pipes[min(int(np.searchsorted(ends, where)), len(line.pipes) - 1)]
        width = pipe.outside_diameter_m or pipe.diameter_m
        at_once, slow = (
            float(np.interp(where, pressures.distance_m, each))
            for each in (pressures.at_once_pa, pressures.highest_pa)
        )
        thrusts = (float(bend_thrust.si(each, width, angle, flow_m3s)) for each in (at_once, slow))
        made.append(
            Bend(
                float(where),
                float(angle),
                at_once,
                thrust_n=next(thrusts),
                slow_pressure_pa=slow,
                slow_thrust_n=next(thrusts),
                rejoined_thrust_n=None
                if rejoined is None
                else float(bend_thrust.si(at_once + more, width, angle, flow_m3s)),
            )
        )
    return tuple(sorted(made, key=lambda each: -each.most_n))
