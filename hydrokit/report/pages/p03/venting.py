"""Page 03: vents of the line, how it is cleared of air, how it is filled."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ....study.study import Study
from ....study.view import View
from ....works.venting import VENTING_CAUTION
from ...display import Cautions, Table, Words
from ..common import needs
from .line_air import places
from .phrases import place

if TYPE_CHECKING:
    from ....works.diversion import LineAir

__all__ = ["clearing_words", "steps_table", "venting_cautions", "ventings_table"]


@needs(Study.line_air, quiet=True)
def ventings_table(study: Study, view: View, line_air: LineAir) -> Table | Words:
    """Start and flow, vent by vent."""
    ventings = line_air.ventings
    if len(ventings) == 1 and not line_air.filling.pockets:
        return Words("")
    rows = [
        (
            places(view, each.vents_m) if each.vents_m else "none",
            "starts" if each.starts else "stalls",
            float(view.number(each.margin_m, "head")),
            float(view.number(each.flow_m3s, "flow")),
            float(view.number(each.air_m, "head")) if each.starts else float("nan"),
        )
        for each in ventings
    ]
    head = view.label("head")
    return Table(
        (
            "new vents, opened while it fills",
            "",
            f"head to spare at the tightest place [{head}]",
            view.header("flow then", "flow"),
            f"head the air still takes [{head}]",
        ),
        rows,
        "New vents, in order of worth",
    )


@needs(Study.line_air, quiet=True)
def clearing_words(study: Study, view: View, air: LineAir) -> Words:
    """Question 4: whether the flow clears the air."""
    flow = view.text(air.flow_m3s, "flow")
    said = []
    for leg in air.clearing:
        verdict = {"stays": "it stays", "goes": "it goes", "not settled": "the laws disagree"}[
            leg.verdict
        ]
        said.append(
            f"behind {place(view, leg.high_point_m)}, from "
            f"{view.range(leg.low_m3s, leg.high_m3s, 'flow')}: at {flow} {verdict}"
        )
    text = "There is no falling leg in which air could sit."
    if said:
        told = "; ".join(said)
        text = (
            "The published laws differ by several times on the flow that carries air down a "
            "slope; below the first figure all of them say it stays, above the second all say it "
            f"goes. {told[0].upper()}{told[1:]}."
        )
    if any(leg.verdict != "goes" for leg in air.clearing):
        text += " Trust a vent, not the flow."
    if air.siphons:
        worst = max(air.siphons, key=lambda each: each.suction_m)
        text += (
            f" Running full with its end open, the crown at {place(view, worst.high_point_m)} "
            f"stands {view.text(worst.suction_m, 'head', 2)} above the hydraulic grade line: a "
            f"vent left open there lets air in and leaves {view.text(worst.vented_m3s, 'flow')}, "
            "so it must be plugged. At this altitude the water itself would part at "
            f"{view.text(worst.limit_m, 'head', 2)} of suction."
        )
    return Words(f"**4. Will it clear, and stay clear?** {text}")


@needs(Study.line_air, quiet=True)
def steps_table(study: Study, view: View, line_air: LineAir) -> Table:
    """How to fill and vent this line."""
    rows = []
    for number, step in enumerate(line_air.steps, 1):
        figures = []
        spot = "" if step.place_m is None else place(view, step.place_m)
        spot = "the pipe inlet" if step.place_m == 0 else spot
        if step.head_m is not None:
            figures.append(
                f"{view.text(step.head_m, 'head', 2)} at the gate"
                if step.kind == "open gate"
                else f"{view.text(step.head_m, 'head', 2)} on the line at {spot}"
            )
        if step.flow_m3s is not None:
            question = {"fill": "filling.diversion", "open gate": "filling.gate"}.get(step.kind)
            flow = (
                view.text(step.flow_m3s, "flow", 2)
                if question is None
                else view.shown(study.answer(question))
            )
            figures.append(f"up to {flow}")
        if step.kind == "open gate" and step.head_m is not None:
            figures.append(f"the crown at {spot} decides")
        where = "at the gate" if spot and step.kind in ("shut gate", "open gate") else spot
        rows.append((number, step.text, where, ", ".join(figures)))
    return Table(
        ("step", "what to do", "where", "how much"),
        rows,
        "Filling and venting, with a gate at the end",
    )


@needs(Study.line_air, quiet=True)
def venting_cautions(study: Study, view: View, line_air: LineAir) -> Cautions:
    """Before anyone opens a vent."""
    return Cautions([VENTING_CAUTION])
