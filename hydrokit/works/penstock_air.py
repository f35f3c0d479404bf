"""Air that a penstock keeps behind its own high points when nobody lets it out: what it takes of the head."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass

import numpy as np

from .air import compressed, down_the_leg, high_points
from .falling import FallingLine
from .venting import clearing_flows

__all__ = ["ShutIn", "shut_in"]


@dataclass(frozen=True, eq=False)
class ShutIn:
    """The pocket behind one high point, the line filled with its jets shut and no vent open there.

    Parameters
    ----------
    at_m, behind_m : float
        The high point, as distance along the slope, and the pipe behind it down to the next low point.
    head_m : float
        What the pocket takes of the head while the plant runs, its air squeezed by the pressure there.
    low_m3s, high_m3s : float
        Band of the published laws between which a flow carries the air away; see
        :func:`hydrokit.works.clearing.clearing_band`.
    flow_m3s : float
        The plant's.
    """

    at_m: float
    behind_m: float
    head_m: float
    _: KW_ONLY
    low_m3s: float
    high_m3s: float
    flow_m3s: float

    @property
    def verdict(self) -> str:
        """Whether the plant's flow clears it: ``"goes"``, ``"stays"`` or ``"not settled"``."""
        if self.flow_m3s > self.high_m3s:
            return "goes"
        return "stays" if self.flow_m3s < self.low_m3s else "not settled"


def shut_in(line: FallingLine, flow_m3s: float) -> tuple[ShutIn, ...]:
    """The pockets that a penstock keeps behind its high points, in filling order.

    Water that runs over a high point into a leg whose foot is shut fills it from below, and all the
    air of the leg stays, at the pressure of the open air. Full pressure then squeezes it to
    V₀·p_a/(p_a + p), and its height is head that the jets do not get.

    Parameters
    ----------
    line : FallingLine
        The penstock under its pond; see :func:`hydrokit.works.falling.penstock_line`.
    flow_m3s : float
        While it runs: friction leaves less pressure on the air, which grows.
    """
    cut, volume = line.reaches, line.reaches.volume_m3
    lost = line.spent_si(flow_m3s) + cut.velocity_head(flow_m3s)
    found, carried = [], 0.0
    for top, dip in high_points(line):
        end = len(cut.elevation_m) - 1 if dip is None else dip
        volumes, drops = down_the_leg(
            volume[top : end + 1] - volume[top],
            cut.elevation_m[top] - cut.elevation_m[top : end + 1],
        )
        presses = line.source_level_m - float(cut.elevation_m[top]) - float(lost[top]) - carried
        held = float(compressed(volumes[-1], presses, line.air_head_m))
        height = float(np.interp(min(held, float(volumes[-1])), volumes, drops))
        low, high = clearing_flows(line, top, end) if drops[-1] > 0 else (math.inf, math.inf)
        found.append(
            ShutIn(
                float(cut.distance_m[top]),
                float(cut.distance_m[end] - cut.distance_m[top]),
                height,
                low_m3s=low,
                high_m3s=high,
                flow_m3s=flow_m3s,
            )
        )
        carried += height
    return tuple(found)
