"""What to buy and build: each line of the list with the number it follows from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from ..energy.machine_size import once_it_runs
from ..files import write_csv_text
from ..study.build.electric_parts import electric_items, gauge_items, machine_items
from ..study.build.laid_pipes import spans
from ..study.build.part_names import stretch_name
from ..study.build.parts_item import SPARE, Item, static_pressure_pa
from ..study.build.penstock_pressures import high_points
from ..study.view import View
from .display import csv_number, csv_text

if TYPE_CHECKING:
    from ..plant.chain import Chain
    from ..study.study import Study
    from ..works.pipe import Pipe

__all__ = ["STICK_M", "parts_list", "pipes_of", "table_text"]
STICK_M = {"metric": 6.0, "us": 20 * 0.3048}
SHARP_RAD = math.radians(
    5.6
)  # half of the gentlest bend to be had, 11¼ degrees; less is laid in the joints
BLOCKED = 0.5  # of a screen, while it still passes the flow


def parts_list(study: Study, view: View) -> tuple[Item, ...]:
    """The parts of a study's plant, from the creek to the loads.

    Parameters
    ----------
    study : Study
        With a plant.
    view : View
        Units of the reasons; sticks of pipe are 6 m or 20 ft long.

    Returns
    -------
    tuple of Item
        Parts whose size nothing in the study says are left out.

    Raises
    ------
    InputError
        A study whose plant is not described well enough to compute.
    """
    plant = study.plant
    if plant is None:
        raise study.folder.wrong(
            "",
            (
                "the plant is not described well enough for a list of parts: head, penstock and "
                "jets (or a design flow) are needed"
            ),
        )
    # what is bought is bought for the day on which it runs, be the way still stopped
    full = once_it_runs(plant).running().at_si(np.inf)
    return (
        *_intake(study, view, float(full.used_m3s)),
        *_diversion(study, view),
        *_penstock(study, plant, view),
        *_bends(study, view),
        *_valves(study, plant, view),
        *_supports(study, plant, view),
        *machine_items(study, plant, view, full),
        *electric_items(study, plant, view, float(full.power_w)),
        *gauge_items(study, plant, view),
    )


# --- water ----------------------------------------------------------------------------------


def _intake(study: Study, view: View, flow_m3s: float) -> Iterator[Item]:
    from ..works.screens import fish_screen_area

    listed = False
    for entry in study.site["part"]:
        name, kind = entry.kind if entry.name is None else entry.name, entry.kind
        if kind == "screen":
            yield Item(
                "Intake",
                f"{name}: mesh or plate, {100 * entry['open']:.0f} % open",
                entry["area"],
                kind="area",
                follows="the site file",
            )
        elif kind == "drilled pipe":
            yield Item(
                "Intake",
                f"{name}: holes of {view.text(entry['hole'], 'diameter')} drilled in a pipe",
                entry["holes"],
                kind="",
                follows="the site file",
            )
        elif kind == "trash rack":
            yield Item(
                "Intake",
                (
                    f"{name}: bars of {view.text(entry['bar'], 'diameter')}, gaps of "
                    f"{view.text(entry['gap'], 'diameter')}"
                ),
                entry["width"] * entry["depth"],
                kind="area",
                follows="width and depth in the site file",
            )
        elif kind == "inclined screen":
            yield Item(
                "Intake",
                f"{name}: inclined screen rated {view.text(entry['rating'], 'flow')}",
                1,
                kind="",
                follows="the site file",
            )
        elif kind == "bottom intake":
            yield Item(
                "Intake",
                (
                    f"{name}: bars of {view.text(entry['bar'], 'diameter')}, gaps of "
                    f"{view.text(entry['gap'], 'diameter')}, over a trough"
                ),
                entry["width"] * entry["length"],
                kind="area",
                follows="width and length in the site file",
            )
        listed = listed or kind in (
            "screen",
            "drilled pipe",
            "trash rack",
            "inclined screen",
            "bottom intake",
        )
        if kind == "channel":
            yield Item(
                "Intake",
                f"{name}: {'pipe that runs part full' if 'diameter' in entry else 'channel'}",
                entry["length"],
                kind="length",
                follows="the site file",
            )
        if kind == "gate":
            yield Item(
                "Intake",
                f"{name}: gate, {view.text(entry['width'], 'diameter')} wide",
                1,
                kind="",
                follows="the site file",
            )
        if "standpipe" in entry:
            yield Item(
                "Intake",
                f"{name}: standpipe, {view.text(entry['standpipe'], 'diameter')} inside",
                1,
                kind="",
                follows="the site file",
            )
        if kind == "forebay":
            yield Item(
                "Intake",
                f"{name}: room to be drawn",
                entry["area"] * entry["depth"],
                kind="volume",
                follows=(
                    f"{view.text(entry['area'], 'area')} of {view.text(entry['depth'], 'length')} "
                    "depth in the site file"
                ),
            )
    if not listed and flow_m3s > 0:
        clean = float(fish_screen_area.si(flow_m3s))
        why = (
            f"{view.text(flow_m3s, 'flow')} at {view.text(flow_m3s / clean, 'velocity', 2)} "
            "before the screen, the least area that protects young salmon by a US rule (the rule "
            f"of your authority comes first), with {100 * BLOCKED:.0f} % blocked"
        )
        yield Item("Intake", "screen, wetted area", clean / (1 - BLOCKED), kind="area", follows=why)


def _pipe(group: str, pipe: Pipe, view: View, follows: str) -> Iterator[Item]:
    length = float(pipe.length_m) * (1 + SPARE)
    name = pipe.name if pipe.name.startswith("pipe") else f"pipe {pipe.name}"
    yield Item(
        group,
        f"{name}, {view.text(pipe.diameter_m, 'diameter')} inside",
        length,
        kind="length",
        follows=f"{view.text(pipe.length_m, 'length')} {follows}, and {100 * SPARE:.0f} % spare",
    )
    stick = STICK_M[view.system]
    yield Item(
        group,
        f"joints for it, in sticks of {view.text(stick, 'length', 2)}",
        math.ceil(length / stick),
        kind="",
        follows=f"{view.text(length, 'length')} of pipe; fewer where it comes in coils",
    )


def _diversion(study: Study, view: View) -> Iterator[Item]:
    line = study.diversion_line
    if line is None:
        return
    for pipe in line.line.pipes:
        yield from _pipe("Diversion line", pipe, view, "along the surveyed slope")
    there = len(line.vents_m)
    if there:
        yield Item(
            "Diversion line",
            "vent that is there or planned",
            there,
            kind="",
            follows="the site file",
        )
    advised = None if study.line_air is None else study.line_air.advised
    if advised is None:
        return
    for vent in advised.vents_m:
        yield Item(
            "Diversion line",
            f"vent at {view.text(vent, 'length')} along the slope",
            1,
            kind="",
            follows=(
                f"with it the line passes {view.text(advised.flow_m3s, 'flow')}; without it air "
                "limits the flow"
            ),
        )


def pipes_of(plant: Chain) -> tuple[Pipe, ...]:
    """The pipes of the penstock; none where only its loss is known."""
    from ..works.pipe import Line, Pipe

    line = plant.penstock.line
    return line.pipes if isinstance(line, Line) else (line,) if isinstance(line, Pipe) else ()


def _penstock(study: Study, plant: Chain, view: View) -> Iterator[Item]:
    how = "along the surveyed slope" if study.profile is not None else "as given in the site file"
    rest_pa = static_pressure_pa(study, plant)
    for pipe in pipes_of(plant):
        rated = (
            ""
            if pipe.rating_pa is None
            else (
                f"; rated {view.text(pipe.rating_pa, 'pressure')}, and "
                f"{view.text(rest_pa, 'pressure')} of static pressure at its foot"
            )
        )
        yield from (
            Item(
                each.group,
                each.what,
                each.amount,
                kind=each.kind,
                follows=each.follows + (rated if each.kind else ""),
            )
            for each in _pipe("Penstock", pipe, view, how)
        )


def _bends(study: Study, view: View) -> Iterator[Item]:
    from ..study.build.penstock_pressures import breaks

    angles = [entry["angle"] for entry in study.site["penstock.bend"]]
    if study.profile is not None:
        angles += breaks(study.profile)[1].tolist()
    sharp = sorted((math.degrees(each) for each in angles if each >= SHARP_RAD), reverse=True)
    if not sharp:
        return
    shown = ", ".join(f"{each:.0f}°" for each in sharp[:6]) + (" …" if len(sharp) > 6 else "")
    yield Item(
        "Penstock",
        "bends or deflected joints",
        len(sharp),
        kind="",
        follows=f"the line turns by {shown}; add bends in plan that were not surveyed",
    )
    worst = max(study.bends, key=lambda each: each.most_n, default=None)
    if worst is not None:
        why = (
            f"largest thrust {view.text(worst.thrust_n, 'force', 2)} at "
            f"{view.text(worst.distance_m, 'length')}, under "
            f"{view.text(worst.pressure_pa, 'pressure')} if the flow is stopped at once"
        )
        if worst.rejoined_thrust_n is not None:
            most = view.text(worst.rejoined_thrust_n, "force", 2)
            why += f", as much as {most} where the water column then parts and rejoins"
        why += "; have them designed for the soil"
        yield Item("Penstock", "thrust blocks or held joints", len(sharp), kind="", follows=why)


def _valves(study: Study, plant: Chain, view: View) -> Iterator[Item]:
    from ..plant.parts import FixedJets

    bores = [view.text(pipe.diameter_m, "diameter") for pipe in pipes_of(plant)] or ["the pipe's"]
    top, foot = bores[0], bores[-1]
    yield Item(
        "Valves and vents",
        f"valve at the inlet of the penstock, {top} bore",
        1,
        kind="",
        follows="the line must be shut to be worked on",
    )
    yield Item(
        "Valves and vents",
        "air inlet below that valve",
        1,
        kind="",
        follows="without it the vacuum flattens a line that empties while its inlet is shut",
    )
    tops = high_points(study)
    if tops:
        yield Item(
            "Valves and vents",
            "vent at each high point of the penstock",
            len(tops),
            kind="",
            follows=(
                "air stays behind it when the line is filled, and a vacuum pulls there when it is "
                "drained"
            ),
        )
    slow = study.answer("closing_time")
    yield Item(
        "Valves and vents",
        f"main valve at the foot, {foot} bore",
        1,
        kind="",
        follows=f"close it over {view.shown(slow)} or more, from open to shut"
        if slow
        else "close it slowly; the page on the water's way says how slowly",
    )
    if isinstance(plant.jets, FixedJets) and plant.jets.count > 1:
        yield Item(
            "Valves and vents",
            "valve for each jet",
            plant.jets.count,
            kind="",
            follows=f"{plant.jets.count} jets, closed one by one in months of low flow",
        )
    yield Item(
        "Valves and vents",
        "drain and flushing valve at the lowest point",
        1,
        kind="",
        follows="to empty the line before hard frost and to flush silt",
    )


def _supports(study: Study, plant: Chain, view: View) -> Iterator[Item]:
    entries = {stretch_name(*told): told[2] for told in spans(study)}
    for bridge in study.bridges:
        entry = entries[bridge.name]
        length, span = entry["to"] - entry["from"], min(bridge.span_m, bridge.longest_m)
        why = f"{view.text(length, 'length')} in spans of {view.text(span, 'length', 2)}"
        if span < bridge.span_m:
            why += (
                f": the pipe does not carry the span of {view.text(bridge.span_m, 'length', 2)} "
                "in the site file"
            )
        yield Item(
            "Supports",
            f"{bridge.name}: posts or saddles with straps",
            _supports_on(length, span),
            kind="",
            follows=why,
        )
    pipes = pipes_of(plant)
    if not pipes or study.site.penstock.cover:
        return
    longest = _longest_span(pipes[0], static_pressure_pa(study, plant))
    if longest is not None:
        length = sum(float(pipe.length_m) for pipe in pipes)
        why = (
            f"{view.text(length, 'length')} above ground at {view.text(longest, 'length', 2)}, "
            "where the pipe does not rest on the ground; none where it is buried"
        )
        yield Item(
            "Supports",
            "saddles with straps along the penstock, at most",
            _supports_on(length, longest),
            kind="",
            follows=why,
        )


def _supports_on(length_m: float, span_m: float) -> int:
    """One at each end and between the spans."""
    return math.ceil(length_m / span_m - 1e-9) + 1


def _longest_span(pipe: Pipe, pressure_pa: float) -> float | None:
    from ..works.bridge import pipe_bridge

    found = pipe_bridge("penstock", pipe, 1.0, pressure_pa)
    return None if found is None else found.longest_m


# --- as a table -----------------------------------------------------------------------------


def table_text(items: tuple[Item, ...], view: View) -> str:
    """The list as CSV."""
    rows = [
        (
            csv_text(each.group),
            csv_text(each.what),
            csv_number(float(view.number(each.amount, each.kind)) if each.kind else each.amount),
            view.label(each.kind) if each.kind else "pieces",
            csv_text(each.follows),
        )
        for each in items
    ]
    return write_csv_text(["part of the plant", "what", "amount", "unit", "follows from"], rows)
