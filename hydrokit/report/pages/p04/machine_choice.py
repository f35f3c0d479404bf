"""Page 04: which kind of machine, and how high it may be set."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ....plant.turbine import kind_text
from ....sentences import plain_number
from ....study.build.machine_choice import CAVITATION, HIGHEST_M, LOW_FLOW, MARGIN_M
from ....study.study import Study
from ....study.view import View
from ...display import Table, Words
from ..common import needs

if TYPE_CHECKING:
    from ....site.values import Measured

__all__ = ["machines_table", "setting_table", "setting_words"]


@needs(Study.head)
def machines_table(study: Study, view: View, head: Measured) -> Table | Words:
    """Which kinds of machine suit this head and flow, with reasons."""
    found = study.machine_choice
    if found is None:
        return Words("*Without a flow no machine can be chosen.*")
    rows = [
        (
            kind_text(each.kind),
            f"{100 * each.score:.0f}",
            "; ".join(map(view.told, each.reasons)),
            "; ".join(map(view.told, each.cautions[:2])),
        )
        for each in found.kinds
    ]
    low = (
        ""
        if found.low_m3s is None
        else (
            f" The low flow is what may be taken {_when(study)}, "
            f"{view.text(found.low_m3s, 'flow')}."
        )
    )
    return Table(
        ("machine", "score, 0 to 100", "why", "watch for"),
        rows,
        (
            f"Machines for {view.text(found.flow_m3s, 'flow')} and "
            f"{view.shown(study.answer('head.gross'))}. Score: marks for head, flow, efficiency, part "
            "load, speed and silt multiplied, 100 for the best in all of them, 0 far outside one "
            f"(our weighting).{low} Ask manufacturers; spare parts count too"
        ),
    )


def _when(study: Study) -> str:
    """On what days, or in which month, the low flow is to be had."""
    if study.usable is None:
        return "in the driest month that is known"
    return f"on {100 * (1 - LOW_FLOW):.0f} % of the days"


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


@needs(Study.head, quiet=True)
def setting_table(study: Study, view: View, head: Measured) -> Table | Words:
    """How high over its tail water each reaction machine may stand at this altitude."""
    if study.settings is None:
        return Words("")
    rows = []
    for each in study.settings.machines:
        low, high = (plain_number(number, 2) for number in each.cavitation)
        numbers = low if low == high else f"{low} to {high}"
        rows.append((kind_text(each.kind), numbers, _height(view, *each.height_m)))
    return Table(
        ("machine", "cavitation number", "highest setting, from the tail water"),
        rows,
        "How high a reaction machine may stand before it cavitates",
    )


@needs(Study.head, quiet=True)
def setting_words(study: Study, view: View, head: Measured) -> Words:
    """What the setting rests on."""
    found = study.settings
    if found is None:
        lacking = study.altitude_m is None and study.site.turbine.kind in CAVITATION
        return Words(
            "*The highest setting of the runner above its tail water is not known: the "
            "altitude of the site is lacking.*"
            if lacking
            else ""
        )
    text = (
        "The pressure below a reaction machine is lower than that of the air, and falls with the "
        "height of the runner above the tail water: at the power house, "
        f"{view.text(found.house_m, 'length')} above sea level, the air carries a column of "
        f"{view.text(found.carried_m, 'head')} of water. A jet machine has no such limit: its "
        "runner must hang free above the water. "
    )
    if study.site.turbine.cavitation is None:
        text += (
            "The cavitation numbers are usual ones, slow runner to fast (common practice): **use "
            "the manufacturer's value**. "
        )
    return Words(
        text + f"No setting above {view.text(HIGHEST_M, 'head', 2)} is shown: there air leaves the "
        "water in the draft tube. Calculated for the gross head, water of "
        f"{view.text(found.water_k, 'temperature', 2)} and a margin of "
        f"{view.text(MARGIN_M, 'head', 2)}."
    )
