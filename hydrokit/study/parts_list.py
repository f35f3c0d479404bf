"""What to buy and build: each line of the list with the number it follows from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import one_line
from ..files import write_csv_text
from .display import View, csv_number, csv_text, plain_number
from .works_site import spans, stretch_name

__all__ = ["Item", "parts_list", "table_text"]

# All common practice.
SPARE = 0.05  # of pipe and cable
STICK_M = {"metric": 6.0, "us": 20 * 0.3048}
SHARP_RAD = math.radians(
    5.6
)  # half of the gentlest bend to be had, 11¼ degrees; less is laid in the joints
BLOCKED = 0.5  # of a screen, while it still passes the flow


@dataclass(frozen=True, eq=False)
class Item:
    """One line of the list.

    Parameters
    ----------
    group : str
        Part of the plant it belongs to.
    what : str
        The thing, with its size and class.
    amount : float
        How many or how much, in SI.
    kind : str
        Display kind of the amount; empty for a number of pieces.
    follows : str
        The number it follows from, in the reader's units.
    """

    group: str
    what: str
    amount: float
    kind: str
    follows: str


def parts_list(study: Any, view: View) -> tuple[Item, ...]:
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
    if study.plant is None:
        raise study.folder.wrong(
            "",
            "the plant is not described well enough for a list of parts: head, penstock and jets (or a design flow) are needed",
        )
    full = study.plant.running().at_si(np.inf)
    return (
        *_intake(study, view, float(full.used_m3s)),
        *_diversion(study, view),
        *_penstock(study, view),
        *_bends(study, view),
        *_valves(study, view),
        *_supports(study, view),
        *_machine(study, view, full),
        *_electric(study, view, float(full.power_w)),
        *_gauge(study, view),
    )


# --- water ----------------------------------------------------------------------------------


def _intake(study: Any, view: View, flow_m3s: float) -> Iterator[Item]:
    from ..works.screens import fish_screen_area

    listed = False
    for entry in study.site["part"]:
        name, kind = entry.get("name", entry["kind"]), entry["kind"]
        if kind == "screen":
            yield Item(
                "Intake",
                f"{name}: mesh or plate, {100 * entry['open']:.0f} % open",
                entry["area"],
                "area",
                "the site file",
            )
        elif kind == "drilled pipe":
            yield Item(
                "Intake",
                f"{name}: holes of {view.text(entry['hole'], 'diameter')} drilled in a pipe",
                entry["holes"],
                "",
                "the site file",
            )
        elif kind == "bar rack":
            yield Item(
                "Intake",
                f"{name}: bars of {view.text(entry['bar'], 'diameter')}, gaps of {view.text(entry['gap'], 'diameter')}",
                entry["width"] * entry["depth"],
                "area",
                "width and depth in the site file",
            )
        elif kind == "tilted screen":
            yield Item(
                "Intake",
                f"{name}: tilted screen rated {view.text(entry['rating'], 'flow')}",
                1,
                "",
                "the site file",
            )
        elif kind == "bottom rack":
            yield Item(
                "Intake",
                f"{name}: bars of {view.text(entry['bar'], 'diameter')}, gaps of {view.text(entry['gap'], 'diameter')}, over a trough",
                entry["width"] * entry["length"],
                "area",
                "width and length in the site file",
            )
        listed = listed or kind in (
            "screen",
            "drilled pipe",
            "bar rack",
            "tilted screen",
            "bottom rack",
        )
        if kind == "channel":
            yield Item(
                "Intake",
                f"{name}: {'pipe that runs part full' if 'diameter' in entry else 'channel'}",
                entry["length"],
                "length",
                "the site file",
            )
        if kind == "gate":
            yield Item(
                "Intake",
                f"{name}: gate, {view.text(entry['width'], 'diameter')} wide",
                1,
                "",
                "the site file",
            )
        if "standpipe" in entry:
            yield Item(
                "Intake",
                f"{name}: standpipe, {view.text(entry['standpipe'], 'diameter')} inside",
                1,
                "",
                "the site file",
            )
        if kind == "pond":
            yield Item(
                "Intake",
                f"{name}: room to be drawn",
                entry["area"] * entry["depth"],
                "volume",
                f"{view.text(entry['area'], 'area')} of {view.text(entry['depth'], 'length')} depth in the site file",
            )
    if not listed and flow_m3s > 0:
        clean = float(fish_screen_area.si(flow_m3s))
        why = f"{view.text(flow_m3s, 'flow')} at {view.text(flow_m3s / clean, 'velocity', 2)} before the screen, the least area that spares young salmon by a US rule (your authority's goes first), with {100 * BLOCKED:.0f} % blocked"
        yield Item("Intake", "screen, wetted area", clean / (1 - BLOCKED), "area", why)


def _pipe(group: str, pipe: Any, view: View, follows: str) -> Iterator[Item]:
    length = float(pipe.length_m) * (1 + SPARE)
    name = pipe.name if pipe.name.startswith("pipe") else f"pipe {pipe.name}"
    yield Item(
        group,
        f"{name}, {view.text(pipe.diameter_m, 'diameter')} inside",
        length,
        "length",
        f"{view.text(pipe.length_m, 'length')} {follows}, and {100 * SPARE:.0f} % spare",
    )
    stick = STICK_M[view.system]
    yield Item(
        group,
        f"joints for it, in sticks of {view.text(stick, 'length', 2)}",
        math.ceil(length / stick),
        "",
        f"{view.text(length, 'length')} of pipe; fewer where it comes in coils",
    )


def _diversion(study: Any, view: View) -> Iterator[Item]:
    line = study.diversion_line
    if line is None:
        return
    for pipe in line.line.pipes:
        yield from _pipe("Diversion line", pipe, view, "along the surveyed slope")
    there = len(line.vents_m)
    if there:
        yield Item("Diversion line", "vent that is there or planned", there, "", "the site file")
    advised = None if study.line_air is None else study.line_air.advised
    for vent in () if advised is None else advised.vents_m:
        yield Item(
            "Diversion line",
            f"vent at {view.text(vent, 'length')} along the slope",
            1,
            "",
            f"with it {view.text(advised.flow_m3s, 'flow')} pass, where air would hold them back",
        )


def _penstock(study: Any, view: View) -> Iterator[Item]:
    line = study.plant.penstock.line
    how = "along the surveyed slope" if study.profile is not None else "as given in the site file"
    rest_pa = _static_pa(study)
    for pipe in getattr(line, "pipes", (line,) if hasattr(line, "diameter_m") else ()):
        rated = (
            ""
            if pipe.rating_pa is None
            else f"; rated {view.text(pipe.rating_pa, 'pressure')}, and {view.text(rest_pa, 'pressure')} stand on its foot at rest"
        )
        yield from (
            Item(
                each.group,
                each.what,
                each.amount,
                each.kind,
                each.follows + (rated if each.kind else ""),
            )
            for each in _pipe("Penstock", pipe, view, how)
        )


def _static_pa(study: Any) -> float:
    from ..water import head_to_pressure

    head_m = study.plant.penstock.head_gross_m if study.head is None else study.head.value
    return float(head_to_pressure.si(head_m, study.water_temperature_k))


def _bends(study: Any, view: View) -> Iterator[Item]:
    from .works_site import breaks

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
        "",
        f"the line turns by {shown}; bends in plan that were not surveyed come on top",
    )
    worst = max(study.bends, key=lambda each: each.thrust_n, default=None)
    if worst is not None:
        why = f"largest push {view.text(worst.thrust_n, 'force', 2)} at {view.text(worst.distance_m, 'length')}, under {view.text(worst.pressure_pa, 'pressure')} if all stops at once; to be designed for the soil"
        yield Item("Penstock", "thrust blocks or held joints", len(sharp), "", why)


def _valves(study: Any, view: View) -> Iterator[Item]:
    line = study.plant.penstock.line
    pipes = getattr(line, "pipes", (line,))
    top, foot = (
        view.text(pipe.diameter_m, "diameter") if hasattr(pipe, "diameter_m") else "the pipe's"
        for pipe in (pipes[0], pipes[-1])
    )
    yield Item(
        "Valves and vents",
        f"valve at the mouth of the penstock, {top} bore",
        1,
        "",
        "the line must be shut to be worked on",
    )
    yield Item(
        "Valves and vents",
        "air inlet below that valve",
        1,
        "",
        "without it a line that empties with its mouth shut is sucked flat",
    )
    slow = study.answer("closing_time")
    yield Item(
        "Valves and vents",
        f"main valve at the foot, {foot} bore",
        1,
        "",
        f"takes {view.shown(slow)} or more over its whole travel"
        if slow
        else "close it slowly; the page on the water's way says how slowly",
    )
    if getattr(study.plant.jets, "diameters_m", ()) and study.plant.jets.count > 1:
        yield Item(
            "Valves and vents",
            "valve for each jet",
            study.plant.jets.count,
            "",
            f"{study.plant.jets.count} jets, shut one by one in lean months",
        )
    yield Item(
        "Valves and vents",
        "drain and flushing valve at the lowest point",
        1,
        "",
        "to empty the line before hard frost and to flush silt",
    )


def _supports(study: Any, view: View) -> Iterator[Item]:
    entries = {stretch_name(*told): told[2] for told in spans(study)}
    for bridge in study.bridges:
        entry = entries[bridge.name]
        length, span = entry["to"] - entry["from"], min(bridge.span_m, bridge.longest_m)
        why = f"{view.text(length, 'length')} in spans of {view.text(span, 'length', 2)}"
        if span < bridge.span_m:
            why += f": the pipe does not bear the {view.text(bridge.span_m, 'length', 2)} of the site file"
        yield Item(
            "Supports",
            f"{bridge.name}: posts or saddles with straps",
            _supports_on(length, span),
            "",
            why,
        )
    line = study.plant.penstock.line
    pipes = getattr(line, "pipes", (line,) if hasattr(line, "diameter_m") else ())
    if not pipes or study.site["penstock"].get("cover"):
        return
    longest = _longest_span(pipes[0], _static_pa(study))
    if longest is not None:
        length = sum(float(pipe.length_m) for pipe in pipes)
        why = f"{view.text(length, 'length')} above ground at {view.text(longest, 'length', 2)}, where the pipe would not rest on the ground; none where it is buried"
        yield Item(
            "Supports",
            "saddles with straps along the penstock, at most",
            _supports_on(length, longest),
            "",
            why,
        )


def _supports_on(length_m: float, span_m: float) -> int:
    """One at each end and between the spans."""
    return math.ceil(length_m / span_m - 1e-9) + 1


def _longest_span(pipe: Any, pressure_pa: float) -> float | None:
    from ..works.bridge import pipe_bridge

    found = pipe_bridge("penstock", pipe, 1.0, pressure_pa)
    return None if found is None else found.longest_m


# --- power ----------------------------------------------------------------------------------


def _machine(study: Any, view: View, full: Any) -> Iterator[Item]:
    plant, turbine = study.plant, study.site["turbine"]
    flow, head = view.text(float(full.used_m3s), "flow"), view.text(float(full.net_head_m), "head")
    bores = getattr(plant.jets, "diameters_m", ())
    sizes = sorted(set(bores))
    for bore in sizes:
        why = f"{flow} under {head} through {len(bores)} of them, each passing {plant.jets.coefficient:.2f} of its bore"
        yield Item(
            "Machine", f"jet, {view.text(bore, 'diameter')} bore", bores.count(bore), "", why
        )
    runner = (
        f", runner of {view.text(turbine['runner_diameter'], 'diameter')}"
        if "runner_diameter" in turbine
        else ""
    )
    speed = f", {view.text(turbine['speed'], 'speed')}" if "speed" in turbine else ""
    for each in getattr(plant.jets, "machines", ()):
        yield Item(
            "Machine",
            f"{each.part_load.kind} turbine '{one_line(each.name)}' for {view.text(each.design_flow_m3s, 'flow')}",
            1,
            "",
            f"one of {plant.jets.count} on the penstock, under {head} net when all run",
        )
    if hasattr(plant.jets, "machines"):
        return
    units = "" if bores or plant.jets.count == 1 else f" with {plant.jets.count} units"
    power = view.text(float(full.power_w), "large power")
    yield Item(
        "Machine",
        f"{turbine['kind']} turbine{units} for {flow} under {head} net{runner}{speed}",
        1,
        "",
        f"everything open; {power} then reach the loads",
    )


def _electric(study: Any, view: View, power_w: float) -> Iterator[Item]:
    from ..plant.parts import part_name

    section, cable = study.site["generator"], study.site["cable"]
    reckoned = next(
        (
            float(getattr(part, "rated_w", getattr(part, "size_w", power_w)))
            for part in study.plant.electric
            if part_name(part) == "generator"
        ),
        power_w,
    )
    rated, why = (
        section.get("rating", reckoned),
        "its plate in the site file" if "rating" in section else "the power at full flow",
    )
    yield Item(
        "Electrics",
        f"generator, {section.get('kind', 'kind not said')}, {view.text(rated, 'large power')}",
        1,
        "",
        f"{why}; it must bear the turbine's runaway speed",
    )
    if "length" in cable:
        wires = {"dc": "direct current", "one": "one phase", "three": "three phases"}[
            cable.get("phases", "one")
        ]
        size = f"cable {cable['size']}" if "size" in cable else "cable, size not said"
        yield Item(
            "Electrics",
            f"{size}, {cable.get('material', 'copper')}, {wires}",
            cable["length"] * (1 + SPARE),
            "length",
            f"{view.text(cable['length'], 'length')} one way, and {100 * SPARE:.0f} % spare",
        )
    found = study.wires
    if found is None or found.main.asks is None:
        return
    meters, voltage, sent_w = found.main.asks, found.main.voltage_v, found.sent_w
    at = f"{view.text(sent_w, 'large power')} at {voltage:.0f} V make {plain_number(meters.current_a)} A"
    yield Item(
        "Electrics",
        f"breaker or fuse, {meters.breaker_a:g} A",
        1,
        "",
        f"{at}, and a quarter more since they flow all day; the local code decides",
    )
    yield Item("Electrics", f"ammeter to {meters.ammeter_a:g} A", 1, "", at)
    yield Item(
        "Electrics",
        f"voltmeter to {meters.voltmeter_v:g} V",
        1,
        "",
        f"{voltage:.0f} V, more at runaway",
    )
    yield Item(
        "Electrics",
        f"wattmeter to {view.text(meters.wattmeter_w, 'large power', 2)}, with a counter of kWh",
        1,
        "",
        f"{view.text(sent_w, 'large power')} at full flow",
    )
    held = found.ballast.asked
    stages = ", ".join(f"{plain_number(each)} W" for each in held.stages_w)
    yield Item(
        "Electrics",
        f"heaters as ballast, in stages of {stages}",
        len(held.stages_w),
        "",
        f"{view.text(held.total_w, 'large power')}: the full power and {100 * (held.total_w / sent_w - 1):.0f} % more; none where the plant feeds a grid",
    )


def _gauge(study: Any, view: View) -> Iterator[Item]:
    from ..plant.electric import meter_range

    rest = float(view.number(_static_pa(study), "pressure"))
    yield Item(
        "Meters",
        f"pressure gauge to {meter_range(rest):g} {view.label('pressure')}, filled, with a cock",
        1,
        "",
        f"{view.text(_static_pa(study), 'pressure')} at rest; the usual reading in the upper half of the scale",
    )
    yield Item(
        "Meters",
        "stage board at the intake",
        1,
        "",
        "each gauging needs a stage read at the same time",
    )


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
