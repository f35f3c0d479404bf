"""Parts to buy below the penstock: machine, wires, gauge."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

from ...errors import one_line
from ...sentences import plain_number
from ..view import View
from .parts_item import SPARE, Item, static_pressure_pa

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ...plant.operation import Operation
    from ..study import Study

__all__ = ["electric_items", "gauge_items", "machine_items"]


# --- power ----------------------------------------------------------------------------------


def machine_items(study: Study, plant: Chain, view: View, full: Operation) -> Iterator[Item]:
    """Jets, machines or units."""
    from ...plant.machines import Machines
    from ...plant.parts import FixedJets
    from ...plant.turbine import kind_text

    turbine, jets = study.site["turbine"], plant.jets
    flow, head = view.text(float(full.used_m3s), "flow"), view.text(float(full.net_head_m), "head")
    if isinstance(jets, FixedJets):
        why = (
            f"{flow} under {head} through {jets.count} of them, discharge coefficient "
            f"{jets.coefficient:.2f}"
        )
        for bore, count in sorted(Counter(jets.diameters_m).items()):
            yield Item(
                "Machine", f"jet, {view.text(bore, 'diameter')} bore", count, kind="", follows=why
            )
    runner = (
        f", runner of {view.text(turbine['runner_diameter'], 'diameter')}"
        if "runner_diameter" in turbine
        else ""
    )
    speed = f", {view.text(turbine['speed'], 'speed')}" if "speed" in turbine else ""
    if isinstance(jets, Machines):
        for each in jets.machines:
            yield Item(
                "Machine",
                (
                    f"{kind_text(each.part_load.kind)} turbine '{one_line(each.name)}' for "
                    f"{view.text(each.design_flow_m3s, 'flow')}"
                ),
                1,
                kind="",
                follows=f"one of {jets.count} on the penstock, under {head} net when all run",
            )
        return
    one = isinstance(jets, FixedJets) or jets.count == 1
    units = "" if one else f" with {jets.count} units"
    power = view.text(float(full.power_w), "large power")
    yield Item(
        "Machine",
        f"{kind_text(turbine['kind'])} turbine{units} for {flow} under {head} net{runner}{speed}",
        1,
        kind="",
        follows=f"everything open; {power} then at the loads (receiving end)",
    )


def electric_items(study: Study, plant: Chain, view: View, power_w: float) -> Iterator[Item]:
    """Generator, cable, what protects and measures, ballast."""
    from ...plant.parts import part_name

    section, cable = study.site["generator"], study.site["cable"]
    machine = next((part for part in plant.electric if part_name(part) == "generator"), None)
    sized = getattr(machine, "size_w", power_w)  # of one that is made for the plant
    if section.rating is not None:
        rated, why = section.rating, "its rating in the site file"
    elif hasattr(machine, "size_w"):
        rated, why = sized, "for the most water the plant can take, under the gross head"
    else:
        rated, why = getattr(machine, "rated_w", power_w), "the power at full flow"
    yield Item(
        "Electrics",
        (
            f"generator, {section.kind}{'' if section.given('kind') else ' (assumed)'}, "
            f"{view.text(rated, 'large power')}"
        ),
        1,
        kind="",
        follows=f"{why}; it must withstand the runaway speed of the turbine",
    )
    if "length" in cable:
        wires = {"dc": "direct current", "one": "one phase", "three": "three phases"}[cable.phases]
        size = f"cable {cable['size']}" if "size" in cable else "cable, size not given"
        yield Item(
            "Electrics",
            f"{size}, {cable.material}, {wires}",
            cable["length"] * (1 + SPARE),
            kind="length",
            follows=f"{view.text(cable['length'], 'length')} one way, and {100 * SPARE:.0f} % spare",
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
        kind="",
        follows=f"{at}, and 25 % more for continuous load; the local code decides",
    )
    yield Item("Electrics", f"ammeter to {meters.ammeter_a:g} A", 1, kind="", follows=at)
    yield Item(
        "Electrics",
        f"voltmeter to {meters.voltmeter_v:g} V",
        1,
        kind="",
        follows=f"{voltage:.0f} V, more at runaway",
    )
    yield Item(
        "Electrics",
        f"wattmeter to {view.text(meters.wattmeter_w, 'large power', 2)}, with a counter of kWh",
        1,
        kind="",
        follows=f"{view.text(sent_w, 'large power')} at full flow",
    )
    held, there = found.ballast.fitted, found.ballast.there_w > 0
    more = held.total_w / sent_w - 1
    stages = ", ".join(f"{plain_number(each)} W" for each in held.stages_w)
    yield Item(
        "Electrics",
        f"heaters as ballast, in stages of {stages}",
        len(held.stages_w),
        kind="",
        follows=(
            f"{view.text(held.total_w, 'large power')}{' in the site file' * there}: "
            + (
                f"the full power and {100 * more:.0f} % more"
                if more >= 0
                else f"{-100 * more:.0f} % less than the full power"
            )
            + "; none where the plant is connected to a grid"
        ),
    )


def gauge_items(study: Study, plant: Chain, view: View) -> Iterator[Item]:
    """Pressure gauge and staff gauge."""
    from ...plant.electric import meter_range

    rest_pa = static_pressure_pa(study, plant)
    rest = float(view.number(rest_pa, "pressure"))
    yield Item(
        "Meters",
        f"pressure gauge to {meter_range(rest):g} {view.label('pressure')}, filled, with a cock",
        1,
        kind="",
        follows=(
            f"{view.text(rest_pa, 'pressure')} at rest; so the usual reading lies in the upper "
            "half of the scale"
        ),
    )
    yield Item(
        "Meters",
        "staff gauge at the intake",
        1,
        kind="",
        follows="each gauging needs a stage, read at the same time",
    )
