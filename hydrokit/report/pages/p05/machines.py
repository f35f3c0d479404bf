"""Several machines on one pipe: which of them run at which flow."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import plain_number, series_text
from ....study.build.machines import by_set, groups
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import CREEK, INK, LEAF, RUST, SUN, figure, legend_above, plain_label, thousands

__all__ = ["sets_figure", "sets_table", "sets_words"]


def _sets(study: Any) -> tuple[tuple[str, ...], ...]:
    """Names of the machines of each set; nothing where there is one machine, or all are alike."""
    return (
        getattr(study.plant.jets, "sets", ())
        if study.site["machine"] and study.plant is not None
        else ()
    )


def _edges(study: Any) -> tuple[np.ndarray, Any]:
    """Flows among which is every one at which another set begins to give most, and how the plant runs there."""
    flow = np.unique(study.plant.curve().flow_m3s)
    return flow, study.plant.running().at_si(flow)


def sets_words(study: Any, view: View) -> Words:
    """What the second machine is for, in the numbers of this creek."""
    sets, shared = _sets(study), groups(study)
    if shared and study.expectation is not None:
        return Words(_shared_words(study, view, shared))
    if len(sets) < 2:
        return Words("")
    flow, found = _edges(study)
    begins = float(flow[np.argmax(found.opening >= 0)])
    all_of_them = flow[found.opening == len(sets) - 1]
    text = f"**Several machines on one pipe:** they share the penstock's loss, so each runs at the head that the water of all leaves. The plant runs from {view.text(begins, 'flow', 2)} on"
    text += (
        f", all of its machines together from {view.text(float(all_of_them[0]), 'flow', 2)}. "
        if len(all_of_them)
        else "; all of them together never give most. "
    )
    known = by_set(study)
    if known is not None and known[0].sum() > 0:
        best = int(np.argmax(known[0]))
        text += f"Most of the energy, {plain_number(100 * known[0][best] / known[0].sum(), 2)} %, comes while {escape_markdown(series_text(sets[best]))} {'runs' if len(sets[best]) == 1 else 'run'}."
    return Words(text)


def _shared_words(study: Any, view: View, shared: tuple[Any, ...]) -> str:
    """Which jets are whose where machines share jets of one bore, and what opening them in turn gives."""
    whose = [f"the {escape_markdown(each.name)} has {each.jets}" for each in shared]
    known, text = (
        study.expectation,
        f"**Several machines on one pipe:** {series_text(whose)}; they are opened in that order. ",
    )
    for each in shared:
        place = int(np.flatnonzero(known.jets == each.last)[0])
        who = (
            f"the {escape_markdown(each.name)} alone"
            if each is shared[0]
            else f"with {'all of them' if each is shared[-1] else f'the {escape_markdown(each.name)}'} open, they"
        )
        text += f"{who[0].upper()}{who[1:]} {'takes' if each is shared[0] else 'take'} {view.text(float(known.flow_m3s[place]), 'flow')} and {'gives' if each is shared[0] else 'give'} {view.text(float(known.power_w[place]), 'power')}. "
    return (
        text
        + "They share the penstock's loss, so every jet opened takes head from those that run. "
    )


def sets_figure(study: Any, view: View) -> Any:
    """Power against flow of each set of machines, and of the best at each flow."""
    sets = _sets(study)
    if len(sets) < 2:
        return Words("")
    running = study.plant.running()
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
        f"Power at the loads against flow for each of {len(sets)} sets of machines; at most {view.text(float(found.power_w.max()), 'power')}.",
    )


def _alone(running: Any, number: int) -> Any:
    from dataclasses import replace

    return replace(
        running,
        openings=running.openings[number : number + 1],
        full_m3s=running.full_m3s[number : number + 1],
    )


def sets_table(study: Any, view: View) -> Any:
    """For each set: flows at which it gives most, power, days and energy of a mean year."""
    sets = _sets(study)
    if len(sets) < 2:
        return Words("")
    flow, found = _edges(study)
    known, rows = by_set(study), []
    for number, names in enumerate(sets):
        here = np.flatnonzero(found.opening == number)
        ends = (
            [
                float(view.number(flow[each], "flow")) if each < len(flow) else ""
                for each in (here[0], here[-1] + 1)
            ]
            if len(here)
            else ["", ""]
        )
        most = float(view.number(found.power_w[here].max(), "power")) if len(here) else ""
        rows.append(
            (
                series_text(names),
                *ends,
                most,
                *(
                    (int(round(known[1][number])), float(round(known[0][number])))
                    if known is not None
                    else ("", "")
                ),
            )
        )
    columns = (
        "running",
        view.header("best from", "flow"),
        view.header("to", "flow"),
        view.header("at most", "power"),
        "days a year",
        "kWh a year",
    )
    return Table(
        columns,
        rows,
        "Which machines to run, parts clean; days and energy by the record, stops not counted",
    )
