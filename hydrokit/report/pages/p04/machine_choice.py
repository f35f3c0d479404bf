"""Page 04: which kind of machine, and how high it may be set."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import plain_number
from ....study.view import View
from ...display import Table, Words
from ..common import needs
from .sizing import HIGHEST_M, IN_HAND_M

__all__ = ["machines_table", "setting_table", "setting_words"]


@needs("head")
def machines_table(study: Any, view: View) -> Any:
    """Which kinds of machine suit this head and flow, with reasons."""
    flow, found = _machines(study)
    if flow is None:
        return Words("*Without a flow no machine can be judged.*")
    rows = [
        (
            each.kind,
            f"{100 * each.score:.0f}",
            "; ".join(map(view.told, each.reasons[:3])),
            "; ".join(map(view.told, list(each.cautions)[:2])),
        )
        for each in found
    ]
    return Table(
        ("machine", "fit of 100", "why", "mind"),
        rows,
        f"Machines for {view.text(flow, 'flow', 2)} and {view.text(study.head.value, 'head')}; no verdict: makers, silt and spare parts decide",
    )


def _machines(study: Any) -> tuple[float | None, tuple[Any, ...]]:
    """Flow of the machine, and the kinds that suit it best; None without a flow."""
    from ....plant.choice import turbine_choice

    flow = (
        study.plan.flow_m3s
        if study.plan is not None
        else study.sizing.choice.flow_m3s
        if study.sizing is not None
        else None
    )
    if not flow:  # not known, or the way lets none through
        return None, ()
    low = None if study.usable is None else float(np.nanquantile(study.usable, 0.1))
    found = turbine_choice.si(flow, study.head.value, low_flow=min(low, flow) if low else None)
    own = [each for each in found[6:] if each.kind == study.site["turbine"].get("kind")]
    return flow, (*found[:6], *own)


# Cavitation numbers at which machines of these kinds begin to suffer: low and high specific speed. Common practice.
_CAVITATION = {
    "francis": (0.05, 0.35),
    "kaplan": (0.4, 1.2),
    "propeller": (0.4, 1.2),
    "pump run backwards": (0.1, 0.4),
}
_WARM_K = 293.15  # water of a summer, where the site file has no warmer; it boils the sooner


def _settings(study: Any) -> tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]:
    """Reaction machines with their cavitation numbers and the lowest and highest setting these allow, over the tail water."""
    from ....plant.reaction import setting_height

    kind, given = study.site["turbine"].get("kind", ""), study.site["turbine"].get("cavitation")
    kinds = (
        [kind]
        if kind in _CAVITATION
        else [
            each.kind for each in _machines(study)[1] if each.kind in _CAVITATION and each.score > 0
        ]
    )
    if study.altitude_m is None or study.exists and kind not in _CAVITATION:
        return ()
    rows = []
    for each in kinds:
        numbers = (given, given) if given is not None and each == kind else _CAVITATION[each]
        heights = setting_height.si(
            study.head.value,
            np.array(numbers),
            _house_m(study),
            max(study.water_temperature_k, _WARM_K),
            IN_HAND_M,
        )
        rows.append((each, numbers, tuple(np.minimum(heights[::-1], HIGHEST_M).tolist())))
    return tuple(rows)


def _house_m(study: Any) -> float:
    """Altitude of the power house: the site file gives that of the intake."""
    return max(study.altitude_m - study.head.value, -430.0)


def _height(view: View, low: float, high: float) -> str:
    if low == high:
        return f"{view.text(abs(high), 'head', 2)} {'above' if high >= 0 else 'below'}"
    if high < 0:
        return f"{view.range(-high, -low, 'head')} below"
    return (
        f"{view.range(low, high, 'head')} above"
        if low >= 0
        else f"from {view.text(-low, 'head', 2)} below to {view.text(high, 'head', 2)} above"
    )


@needs("head", quiet=True)
def setting_table(study: Any, view: View) -> Any:
    """How high over its tail water each reaction machine may stand at this altitude."""
    rows = _settings(study)
    if not rows:
        return Words("")
    told = [
        (
            kind,
            plain_number(low, 2)
            if low == high
            else f"{plain_number(low, 2)} to {plain_number(high, 2)}",
            _height(view, *heights),
        )
        for kind, (low, high), heights in rows
    ]
    return Table(
        ("machine", "cavitation number", "highest setting, from the tail water"),
        told,
        "How high a reaction machine may stand before it cavitates",
    )


@needs("head", quiet=True)
def setting_words(study: Any, view: View) -> Words:
    """What the setting rests on."""
    from ....water import air_pressure, pressure_to_head

    rows = _settings(study)
    if not rows:
        lacking = study.altitude_m is None and study.site["turbine"].get("kind", "") in _CAVITATION
        return Words(
            "*How high the runner may stand over its tail water is not said: the altitude of the site is lacking.*"
            if lacking
            else ""
        )
    carried = float(pressure_to_head.si(air_pressure.si(_house_m(study))))
    text = (
        f"A reaction machine hangs over its tail water by suction, and thin air holds up less of it: at the power house, {view.text(_house_m(study), 'length')} above sea level, air carries {view.text(carried, 'head')} of water. "
        "A jet machine does not care: it only must hang free above the water. "
    )
    if study.site["turbine"].get("cavitation") is None:
        text += "The cavitation numbers are usual ones, slow runner to fast (common practice): **use the manufacturer's value**. "
    text += f"More than {view.text(HIGHEST_M, 'head', 2)} is never shown: air leaves the water in the draft tube. "
    return Words(
        text
        + f"Calculated for the whole head, water of {view.text(max(study.water_temperature_k, _WARM_K), 'temperature', 2)} and {view.text(IN_HAND_M, 'head', 2)} of margin."
    )
