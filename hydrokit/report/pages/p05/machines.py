"""Several machines on one pipe: which of them run at which flow."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.build.part_load import PartLoad, part_load
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import (
    CREEK,
    INK,
    LEAF,
    RUST,
    STROKES,
    SUN,
    WIDE,
    figure,
    legend_above,
    plain_label,
    thousands,
)
from ..common import needs

if TYPE_CHECKING:
    from ....plant.chain import Chain
    from ....plant.operation import Running
    from ....study.build.machine_sets import MachineSets, SharedJets

__all__ = ["part_load_figure", "sets_figure", "sets_table", "sets_words"]


def sets_words(study: Study, view: View) -> Words:
    """When the second machine runs, in the numbers of this creek."""
    if study.shared_jets:
        return Words(_shared_words(study.shared_jets, view))
    found = study.machine_sets
    if found is None:
        return Words("")
    text = (
        "**Several machines on one pipe:** they share the head loss of the penstock, so each runs "
        "at the net head that the flow of all of them leaves. The plant runs from "
        f"{view.text(found.begins_m3s, 'flow', 3)} on"
    )
    text += (
        f", with all machines from {view.text(found.all_from_m3s, 'flow', 3)}. "
        if np.isfinite(found.all_from_m3s)
        else "; at no flow do all of them together give most. "
    )
    most = found.busiest
    if most is not None:
        text += (
            f"Most of the energy, {plain_number(100 * most.share, 2)} %, is made while "
            f"{escape_markdown(series_text(most.names))} "
            f"{'runs' if len(most.names) == 1 else 'run'}."
        )
    return Words(text)


def _shared_words(shared: tuple[SharedJets, ...], view: View) -> str:
    """Which jets are whose where machines share jets of one bore, and what opening them in turn gives."""
    whose = [f"the {escape_markdown(each.name)} has {each.jets}" for each in shared]
    text = (
        f"**Several machines on one pipe:** {series_text(whose)}; they are opened in that order. "
    )
    first, *others = shared
    text += (
        f"The {escape_markdown(first.name)} alone takes {view.text(first.flow_m3s, 'flow')} and "
        f"gives {view.text(first.power_w, 'power')}. "
    )
    for each in others:
        name = "all of them" if each is shared[-1] else f"the {escape_markdown(each.name)}"
        text += (
            f"With {name} open, they take {view.text(each.flow_m3s, 'flow')} and give "
            f"{view.text(each.power_w, 'power')}. "
        )
    return text + (
        "They share the head loss of the penstock, so every jet opened lowers the net head of "
        "those that run. "
    )


@needs(Study.machine_sets, Study.plant, quiet=True)
def sets_figure(study: Study, view: View, machine_sets: MachineSets, plant: Chain) -> Picture:
    """Power against flow of each set of machines, and of the best at each flow."""
    sets = [each.names for each in machine_sets.sets]
    running = plant.running()
    flow = np.linspace(0, 1.1 * running.highest_m3s, 600)
    found, shown = running.at_si(flow), view.number(flow, "flow")
    with figure(7.4, 3.4) as (made, axes):
        axes.plot(
            shown, found.power_w, color=INK, linewidth=4, alpha=0.25, label="the best at each flow"
        )
        for number, names in enumerate(sets):
            alone = _alone(running, number).at_si(flow)
            axes.plot(
                shown,
                np.where(alone.power_w > 0, alone.power_w, np.nan),
                color=(CREEK, RUST, LEAF, SUN)[number % 4],
                linestyle=("-", (0, (5, 2)), (0, (1, 1.5)))[number // 4 % 3],
                linewidth=1.3,
                label=plain_label(series_text(names), 30),
            )
        axes.set(
            xlabel=view.header("usable flow", "flow"),
            ylabel=view.header("power at the loads", "power"),
        )
        axes.set_xlim(left=0)
        axes.set_ylim(bottom=0)
        thousands(axes.xaxis)
        thousands(axes.yaxis)
        legend_above(axes, min(len(sets) + 1, 3))
    return Picture(
        made,
        (
            f"Power at the loads against flow for each of {len(sets)} sets of machines; at most "
            f"{view.text(float(found.power_w.max()), 'power')}."
        ),
    )


def _alone(running: Running, number: int) -> Running:
    return replace(
        running,
        openings=running.openings[number : number + 1],
        full_m3s=running.full_m3s[number : number + 1],
        suited_m=running.suited_m[number : number + 1],
    )


def sets_table(study: Study, view: View) -> Table | Words:
    """For each set: flows at which it gives most, power, days and energy of a mean year."""
    found = study.machine_sets
    if found is None:
        return Words("")

    def number(value: float, kind: str) -> float | str:
        return float(view.number(value, kind)) if np.isfinite(value) else ""

    def whole(value: float) -> int | str:
        return int(round(value)) if np.isfinite(value) else ""

    rows = [
        (
            series_text(each.names),
            number(each.from_m3s, "flow"),
            number(each.to_m3s, "flow"),
            number(each.most_w, "power"),
            whole(each.days),
            float(whole(each.kwh)) if np.isfinite(each.kwh) else "",
        )
        for each in found.sets
    ]
    columns = (
        "running",
        view.header("gives most from", "flow"),
        view.header("to", "flow"),
        view.header("power at most", "power"),
        "days a year",
        "kWh a year",
    )
    return Table(
        columns,
        rows,
        "Which machines to run, all parts clean; days and energy by the record, stops not counted",
    )


@needs(part_load, quiet=True)
def part_load_figure(study: Study, view: View, found: PartLoad) -> Picture:
    """What share of the water's power is left behind the pipe, behind the machine, and at the
    loads, by flow."""
    flow = view.number(found.flow_m3s, "flow")
    with figure(WIDE, 3.0) as (made, axes):
        for (colour, dashes), name, share in zip(
            (STROKES[1], STROKES[2], STROKES[0]),
            (
                "pipe: net over gross head",
                "runner, generator and wires",
                "together, water to loads",
            ),
            (found.pipe, found.machine, found.together),
        ):
            axes.plot(flow, 100 * share, color=colour, linestyle=dashes, label=name)
        best, full = found.best, len(flow) - 1
        axes.plot(flow[best], 100 * found.together[best], "o", color=INK, markersize=5)
        axes.set(
            xlabel=view.header("available flow", "flow"),
            ylabel="efficiency [%]",
            xlim=(0, float(flow[-1]) * 1.01),
            ylim=(0, 102),
        )
        legend_above(axes)
    return Picture(
        made,
        f"Efficiency by flow: of the water's power {100 * found.together[full]:.0f} % arrives at "
        f"the loads at full flow, most, {100 * found.together[best]:.0f} %, at "
        f"{view.text(found.flow_m3s[best], 'flow')}.",
    )
