"""Page 03, the pond: what sinks in it, how long its water lasts, how much silt it holds, the mouth below it."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import plain_number
from ....study.build.forebay import ponds
from ....study.build.judged import USUAL_GRAIN, basin_needed, mouth
from ....study.build.part_names import part_name
from ....study.view import View
from ....works.basin import (
    basin_area,
    basin_speed,
    flushing_interval,
    settling_velocity,
    trap_efficiency,
)
from ....works.forebay import storage_time
from ...display import Table, Words, escape_markdown
from ..common import needs

__all__ = ["silt_table", "silt_words"]

GRAINS = np.array([0.1e-3, 0.2e-3, 0.3e-3, 0.5e-3])


def _deep(found: dict) -> float:
    return found["depth"] + found.get("silt_depth", 0.0)


@needs("full_flow_m3s", quiet=True)
def silt_table(study: Any, view: View) -> Any:
    """Share of each grain that each pond keeps at full flow."""
    found = ponds(study)
    if not found:
        return Words("")
    flow, temperature = study.full_flow_m3s, study.water_temperature_k
    grains = np.unique([*GRAINS, *(each.get("grain", USUAL_GRAIN) for each in found)])
    sinks = settling_velocity.si(grains, temperature)
    kept = [_kept(sinks, each["area"], flow) for each in found]
    area = basin_area.si(flow, sinks)
    rows = [
        (
            view.text(grain, "diameter", 2),
            view.text(sink, "velocity", 2),
            *shares,
            view.text(each, "area", 2),
        )
        for grain, sink, shares, each in zip(grains, sinks, zip(*kept), area)
    ]
    names = [
        f"kept by the {part_name(each) if len(found) > 1 else 'pond'}: stirred through, to quite still"
        for each in found
    ]
    return Table(
        ("grain", "sinks at", *names, "surface that keeps it, stirred"),
        rows,
        f"What settles at {view.text(flow, 'flow')}",
    )


def _kept(sinks: np.ndarray, area_m2: float, flow_m3s: float) -> list[str]:
    """Share of each grain that stays in a surface."""
    both = zip(
        trap_efficiency.si(sinks, area_m2, flow_m3s),
        trap_efficiency.si(sinks, area_m2, flow_m3s, "still"),
    )
    return [
        f"{100 * high:.0f} %" if high - low < 0.005 else f"{100 * low:.0f} to {100 * high:.0f} %"
        for low, high in both
    ]


@needs("full_flow_m3s")
def silt_words(study: Any, view: View) -> Words:
    """How each pond does as a settling basin, and the last as a store."""
    found = ponds(study)
    if not found:
        return Words(
            "*Not shown: no pond or tank is listed. Give its area and the depth that may be drawn as a part, kind pond, and it is judged as a settling basin and as a store.*"
        )
    names = [escape_markdown(part_name(each)) for each in found]
    heads = [f"**{name[0].upper()}{name[1:]}.** " if len(found) > 1 else "" for name in names]
    return Words(
        " ".join(
            head + _settles(study, view, each, each is found[-1])
            for head, each in zip(heads, found)
        )
    )


def _settles(study: Any, view: View, found: dict, last: bool) -> str:
    flow, grain = study.full_flow_m3s, found.get("grain", USUAL_GRAIN)
    sink = float(settling_velocity.si(grain, study.water_temperature_k))
    needed, has = basin_needed(study, found), found["area"]
    lasts = float(storage_time.si(has * found["depth"], flow))
    speed, limit = flow / (np.sqrt(has / 4) * _deep(found)), float(basin_speed.si(grain))
    verdict = "large enough" if has >= needed else "too small"
    text = (
        f"To keep grains of {view.text(grain, 'diameter', 2)} from the jets at {view.text(flow, 'flow')} a basin needs about {view.text(needed, 'area', 2)} of surface, four to ten times as long as wide; "
        f"this pond has {view.text(has, 'area', 2)} and is {verdict}. Were it four times as long as wide, its water would run at {view.text(speed, 'velocity', 2)}; below {view.text(limit, 'velocity', 2)} what has settled stays down. "
    )
    if last:
        text += f"With nothing coming in, the depth that may be drawn lasts {span(view, lasts)} at full flow. "
    if "silt" in found and found.get("silt_depth"):
        trapped = float(trap_efficiency.si(sink, has, flow))
        full = float(flushing_interval.si(has * found["silt_depth"], flow, found["silt"], trapped))
        text += f"With brown water as it was sampled, the room for silt is full after {span(view, full)} of full flow: flush before that."
    elif "silt" in found:
        text += "Give the room for silt below the depth that is drawn (silt_depth), and this tells how often the pond must be flushed."
    elif last:
        text += "Let a jar of brown water stand overnight: the silt in it tells how often the pond must be flushed."
    return text.strip()


def span(view: View, seconds: float) -> str:
    """A time in the unit in which people would say it."""
    if seconds < 90:
        return view.text(seconds, "time", 2)
    if seconds < 5400:
        return view.text(seconds, "minutes", 2)
    return (
        view.text(seconds, "hours", 2)
        if seconds < 2 * 86400
        else f"{plain_number(seconds / 86400, 2)} days"
    )


def changes(study: Any, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change at the pond."""
    rows, cover = [], mouth(study)
    if study.full_flow_m3s is not None and ponds(study):
        # One pond that is large enough spares the others.
        found = min(ponds(study), key=lambda each: basin_needed(study, each) / each["area"])
        if basin_needed(study, found) > found["area"]:
            becomes = f"{view.text(found['area'], 'area', 2)} becomes {view.text(basin_needed(study, found), 'area', 2)}"
            rows.append(
                (
                    "a larger settling basin",
                    part_name(found),
                    becomes,
                    f"grains of {view.text(found.get('grain', USUAL_GRAIN), 'diameter', 2)} reach the jets",
                )
            )
    if cover is not None and cover[0] < cover[1]:
        rows.append(
            (
                "a deeper mouth of the penstock",
                part_name(ponds(study)[-1]) if ponds(study) else "pond",
                f"{view.text(cover[1] - cover[0], 'stage', 2)} deeper",
                "it will draw air",
            )
        )
    return rows
