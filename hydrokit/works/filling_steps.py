"""The steps by which a line is filled and its air let out, in their order."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass

import numpy as np

from .air import high_points
from .falling import FallingLine
from .filling import Filling, filling
from .venting import running_grade, throttle

__all__ = ["DRAINING_SPEED", "FILLING_SPEED", "Step", "filling_steps"]

# AWWA M51, Air Valves, 2016, as quoted in public code that cites it: fill at 1 ft/s at the most,
# drain at 1 to 2 ft/s.
FILLING_SPEED = 0.30  # m/s

DRAINING_SPEED = (0.30, 0.60)


@dataclass(frozen=True, eq=False)
class Step:
    """One step of filling and venting a line.

    Parameters
    ----------
    kind : {"shut gate", "fill", "vent", "wait", "open gate", "watch"}
    text : str
    place_m : float or None
        Where, as distance along the slope.
    head_m, flow_m3s : float or None
        The figure that goes with it: static head on the line, flow not to exceed.
    """

    kind: str
    text: str
    place_m: float | None = None
    _: KW_ONLY
    head_m: float | None = None
    flow_m3s: float | None = None


def filling_steps(
    line: FallingLine, flow_m3s: float, started: Filling | None = None
) -> tuple[Step, ...]:
    """The order in which this line is filled and vented, for a line with a gate at its end.

    Vents are those of the line, those that :func:`hydrokit.works.filling.filling` asks for, and every
    high point: the one behind which the pipe falls to the gate as well.

    Parameters
    ----------
    line : FallingLine
    flow_m3s : float
        At which it will run.
    started : Filling, optional
        If it was walked before.
    """
    cut = line.reaches
    started = filling(line) if started is None else started
    # With the gate shut the last leg holds air too, although its end is open while it runs.
    tops = {float(cut.distance_m[top]) for top, _ in high_points(line)}
    vents = sorted({*line.vents_m, *(started.vents_m or ())} | tops)
    level = np.interp(vents, cut.distance_m, cut.elevation_m)
    room = np.interp(vents, cut.distance_m, running_grade(line, flow_m3s) - cut.crown_m)
    lowest = int(np.argmin(cut.elevation_m))
    steps = [
        Step(
            "shut gate",
            (
                "shut the gate at the end; the whole static head will come on the line, so check "
                "ratings and couplings first"
            ),
            float(cut.distance_m[lowest]),
            head_m=line.source_level_m - float(cut.elevation_m[lowest]),
        ),
        Step(
            "fill",
            "let water in no faster than this, so that air can get out ahead of it",
            0.0,
            flow_m3s=FILLING_SPEED * math.pi / 4 * float(cut.diameter_m.min()) ** 2,
        ),
    ]
    for index in np.argsort(level, kind="stable"):
        if level[index] > line.source_level_m:
            text = (
                "this high point stands above the pond: it fills only by pump or suction, with "
                "the gate shut"
            )
        elif room[index] < 0:
            text = (
                "open the vent slowly, shut and plug it as soon as it runs solid water: running, "
                "it would draw air in"
            )
        else:
            text = (
                "open the vent slowly, shut it as soon as it runs solid water; an automatic valve "
                "may stay here"
            )
        steps.append(Step("vent", text, float(vents[index])))
    limit = throttle(line)
    steps.append(Step("wait", "wait until the pond spills and no vent gives air when opened again"))
    if 0 < limit.flow_m3s < flow_m3s:
        text = (
            "open the gate slowly, and no further than this flow: beyond it the hydraulic grade "
            "line sinks below the crown"
        )
        steps.append(
            Step(
                "open gate",
                text,
                limit.decides_m,
                head_m=limit.gate_head_m,
                flow_m3s=limit.flow_m3s,
            )
        )
    else:
        steps.append(
            Step("open gate", "open the gate slowly", float(cut.distance_m[-1]), flow_m3s=flow_m3s)
        )
    steps.append(
        Step(
            "watch",
            (
                "watch the pond: the full line pulls more than the filling did; a pipe inlet laid "
                "bare takes the air back in"
            ),
            0.0,
        )
    )
    return tuple(steps)
