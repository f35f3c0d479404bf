"""Page 03, the pond: what sinks in it, how long its water lasts, how much silt it holds, the mouth below it."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...works.basin import basin_area, basin_speed, flushing_interval, mouth_cover, settling_velocity, storage_time, trap_efficiency
from ..display import Table, View, Words, plain_number
from ..pond_site import pond
from .common import needs

__all__ = ["silt_table", "silt_words"]

GRAINS = np.array([0.1e-3, 0.2e-3, 0.3e-3, 0.5e-3])
USUAL_GRAIN = 0.3e-3  # that wears jets and runner at moderate heads, common practice


def mouth(study: Any) -> tuple[float, float] | None:
    """Water over the penstock's mouth, and what its full flow needs; None without a survey of the mouth."""
    section = study.section
    if study.profile is None or section is None or section.static_grade_m[0] <= section.elevation_m[0]:
        return None
    return float(section.static_grade_m[0] - section.elevation_m[0]), float(mouth_cover.si(study.full_flow_m3s, study.penstock.pipes[0].diameter_m))


def _deep(found: dict) -> float:
    return found["depth"] + found.get("silt_depth", 0.0)


@needs("full_flow_m3s", quiet=True)
def silt_table(study: Any, view: View) -> Any:
    """Share of each grain that the pond keeps at full flow."""
    found = pond(study)
    if found is None:
        return Words("")
    flow, temperature = study.full_flow_m3s, study.water_temperature_k
    grains = np.unique(np.append(GRAINS, found.get("grain", USUAL_GRAIN)))
    sinks = settling_velocity.si(grains, temperature)
    worst, best = trap_efficiency.si(sinks, found["area"], flow), trap_efficiency.si(sinks, found["area"], flow, "still")
    area = basin_area.si(flow, sinks)
    rows = [
        (view.text(grain, "diameter", 2), f"{view.text(sink, 'velocity', 2)}", f"{100 * high:.0f} %" if high - low < 0.005 else f"{100 * low:.0f} to {100 * high:.0f} %", view.text(each, "area", 2))
        for grain, sink, low, high, each in zip(grains, sinks, worst, best, area)
    ]
    return Table(("grain", "sinks at", "kept by the pond: stirred through, to quite still", "surface that keeps it, stirred"), rows, f"What settles at {view.text(flow, 'flow')}")


@needs("full_flow_m3s")
def silt_words(study: Any, view: View) -> Words:
    """How the pond does as a settling basin and as a store."""
    found = pond(study)
    if found is None:
        return Words("*Not shown: no pond or tank is listed. Give its area and the depth that may be drawn as a part, kind pond, and it is judged as a settling basin and as a store.*")
    flow, grain = study.full_flow_m3s, found.get("grain", USUAL_GRAIN)
    sink = float(settling_velocity.si(grain, study.water_temperature_k))
    needed, has = float(basin_area.si(flow, sink)), found["area"]
    lasts = float(storage_time.si(has * found["depth"], flow))
    speed, limit = flow / (np.sqrt(has / 4) * _deep(found)), float(basin_speed.si(grain))
    verdict = "large enough" if has >= needed else "too small"
    text = (
        f"To keep grains of {view.text(grain, 'diameter', 2)} from the jets at {view.text(flow, 'flow')} a basin needs about {view.text(needed, 'area', 2)} of surface, four to ten times as long as wide; "
        f"this pond has {view.text(has, 'area', 2)} and is {verdict}. Were it four times as long as wide, its water would run at {view.text(speed, 'velocity', 2)}; below {view.text(limit, 'velocity', 2)} what has settled stays down. "
        f"With nothing coming in, the depth that may be drawn lasts {span(view, lasts)} at full flow. "
    )
    if "silt" in found and found.get("silt_depth"):
        trapped = float(trap_efficiency.si(sink, has, flow))
        full = float(flushing_interval.si(has * found["silt_depth"], flow, found["silt"], trapped))
        text += f"With brown water as it was sampled, the room for silt is full after {span(view, full)} of full flow: flush before that."
    else:
        text += "Let a jar of brown water stand overnight: the silt in it tells how often the pond must be flushed."
    return Words(text)


def span(view: View, seconds: float) -> str:
    """A time in the unit in which people would say it."""
    if seconds < 5400:
        return view.text(seconds, "minutes", 2)
    return view.text(seconds, "hours", 2) if seconds < 2 * 86400 else f"{plain_number(seconds / 86400, 2)} days"


def changes(study: Any, view: View) -> list[tuple[str, str, str, str]]:
    """What to build or change at the pond."""
    rows, found, cover = [], pond(study), mouth(study)
    if found is not None and study.full_flow_m3s is not None:
        grain = found.get("grain", USUAL_GRAIN)
        needed = float(basin_area.si(study.full_flow_m3s, settling_velocity.si(grain, study.water_temperature_k)))
        if needed > found["area"]:
            rows.append(("a larger settling basin", found.get("name", "pond"), f"{view.text(found['area'], 'area', 2)} becomes {view.text(needed, 'area', 2)}", f"grains of {view.text(grain, 'diameter', 2)} reach the jets"))
    if cover is not None and cover[0] < cover[1]:
        rows.append(("a deeper mouth of the penstock", "pond", f"{view.text(cover[1] - cover[0], 'stage', 2)} deeper", "it will draw air"))
    return rows
