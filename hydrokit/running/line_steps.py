"""Steps to fill and to drain a diversion line."""

from __future__ import annotations

import numpy as np

from ..works.air import high_points
from ..works.diversion import LineAir
from .steps import Step, left_below, numbered, pools, tops, vented

__all__ = ["diversion_steps"]


def diversion_steps(
    air: LineAir, gated: bool = True, standing_s: float = float("inf"), frosty: bool = True
) -> tuple[Step, ...]:
    """The steps for the line from creek to pond, from its high points, low points and vents.

    Parameters
    ----------
    air : LineAir
    gated : bool
        Whether a gate stands at its end; without one it fills with its end open.
    standing_s : float
        How long water may stand in it on a cold day.
    frosty : bool
        Whether ice is a question there at all.
    """
    line = air.line
    rows: list[tuple[str, dict]] = [
        (
            "shut down",
            {
                "action": "Shut the line at the creek, not at its end",
                "why": "shut at its end it would stand full, under its whole head"
                + (" and in the frost" if frosty else ""),
                "caution": "water",
            },
        )
    ]
    if np.isfinite(standing_s):
        rows.append(
            (
                "shut down",
                {
                    "action": "If the stop will last longer than this in frost: drain",
                    "why": (
                        "in the hardest frost known its worst stretch is blocked by then, whether "
                        "snow lies or not"
                    ),
                    "question": "freeze.line.diversion",
                    "value": standing_s,
                    "kind": "hours",
                    "caution": "ice",
                },
            )
        )
    high = tops(line)
    rows += [("drain", vented(place)) for place, _ in high]
    rows.append(
        (
            "drain",
            {
                "action": f"Open every {'other ' if high else ''}vent, then "
                + ("the gate at its end" if gated else "see that its end runs free"),
                "why": "air must follow the water, or the pipe is pulled flat",
                "caution": "vacuum",
            },
        )
    )
    rows += [("drain", left_below(each, frosty)) for each in pools(line.profile, line.line)]
    cut = line.reaches
    falls_to_open_end = [
        float(cut.distance_m[top])
        for top, dip in high_points(line)
        if dip is None and cut.elevation_m[top] <= line.source_level_m
    ]
    for step in air.steps:
        if not gated and (
            step.kind in ("shut gate", "wait", "open gate") or step.place_m in falls_to_open_end
        ):
            continue
        value, kind = (
            (step.flow_m3s, "flow")
            if step.flow_m3s is not None
            else (step.head_m, "head")
            if step.head_m is not None
            else (float("nan"), "")
        )
        part = "restart" if step.kind in ("open gate", "watch") else "fill and vent"
        text, _, why = step.text.partition(": ") if ": " in step.text else (step.text, "", "")
        caution = {"vent": "air", "shut gate": "pressure", "fill": "pressure"}.get(step.kind, "")
        question = {"fill": "filling.diversion", "open gate": "filling.gate"}.get(step.kind, "")
        rows.append(
            (
                part,
                {
                    "action": text[0].upper() + text[1:],
                    "why": why,
                    "value": float(value),
                    "kind": kind,
                    "place_m": step.place_m,
                    "caution": caution,
                    "question": question,
                },
            )
        )
    return numbered(rows)
