"""Page 06, the answer: what the power does, and the one-line diagram from generator to loads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.build.demand import demand_is_stated
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import (
    CREEK,
    INK,
    LEAF,
    PALE,
    RUST,
    SMALL,
    figure,
    plain_label,
)
from ..common import in_picture, needs
from .warmth import of_known_months

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....plant.chain import Chain
    from ....study.build.wiring import Wires

__all__ = ["headline", "one_line_figure"]

_LONGEST = 22  # letters of a load's name in the diagram
_MOST = 7  # loads in the diagram


@needs(Study.plant, headline=True)
def headline(study: Study, view: View, plant: Chain) -> Words:
    """What reaches the loads at full power, and how much of the demand it meets in a year."""
    answer = study.answer
    if answer("power.loads") is None:
        return Words(
            "**Not known yet.** The voltage of the plant is missing, so its wires cannot be "
            "calculated; give voltage under [cable]."
        )
    text = (
        "With all the water it can take the plant gives "
        f"**{view.shown(answer('power.terminals'))}** at the generator terminals, and "
        f"**{view.shown(answer('power.loads'))}** reach the loads. "
    )
    if answer("demand.met") is None:
        text += (
            "How much of the demand it meets in a year is not known, because the power of each "
            "month is not: that takes a daily record, or a log of a year. "
            if demand_is_stated(study)
            else "How much of it is used is not known, because no demand is given. Give demand "
            "under [loads], or base_power under [loads] with the heat loss of the rooms. "
        )
    else:
        text += (
            f"In a mean year it meets **{view.shown(answer('demand.met'))}** of a demand of "
            f"{view.shown(answer('demand.annual'))}. "
        )
    if answer("heat.met") is not None:
        text += (
            f"Of the heat of the rooms{of_known_months(study)}, "
            f"{view.shown(answer('heat.needed'))}, it meets {view.shown(answer('heat.met'))}. "
        )
    return Words(text.rstrip())


@needs(Study.wires, quiet=True)
def one_line_figure(study: Study, view: View, wires: Wires) -> Picture:
    """Generator, what stands between, main cable, circuits, ballast and battery, as one line."""
    answer = study.answer
    loads = [
        (plain_label(each.name, _LONGEST), f"{_watts(each.power_w)}")
        for each in wires.circuits[:_MOST]
    ]
    left = len(wires.circuits) - len(loads)
    if left > 0:
        loads.append((f"and {left} more", ""))
    if not loads:
        loads = [("loads", "")]
    powerhouse = [each.name for each in wires.between if each.at == "powerhouse"]
    at_loads = [each.name for each in wires.between if each.at == "loads"]
    with figure(7.2, max(2.6, 1.2 + 0.42 * len(loads))) as (made, axes):
        top = 0.5 * (len(loads) - 1)
        x = 0.0
        _machine(axes, x, top)
        _beside(axes, x, top, "generator", -17, INK)
        _beside(axes, x, top, in_picture(view, answer("power.terminals")), 17, CREEK)
        x = _boxes(axes, x + 0.27, top, powerhouse)
        start, end = x, x + 2.6
        axes.plot([start, end], [top, top], color=INK, linewidth=2.2)
        main = wires.main
        laid = "main cable"
        if main.run is not None:
            size = main.run.conductor.trade
            laid = f"{size}, {view.text(main.length_m, 'length')}, {plain_number(main.voltage_v)} V"
        _beside(axes, (start + end) / 2, top, laid, 5, INK)
        sent, arrive = (
            in_picture(view, answer("power.sending")),
            in_picture(view, answer("power.receiving")),
        )
        _beside(axes, (start + end) / 2, top, f"sent {sent}, arrive {arrive}", -5, CREEK)
        bus = _boxes(axes, end, top, at_loads) + 0.25
        axes.plot([end, bus], [top, top], color=INK, linewidth=1.4)
        low, high = min(0, top) - 0.25, max(len(loads) - 1, top) + 0.25
        axes.plot([bus, bus], [low, high], color=INK, linewidth=3.2)
        for place, (name, power) in enumerate(reversed(loads)):
            axes.plot([bus, bus + 0.55], [place, place], color=INK, linewidth=1.2)
            axes.plot(bus + 0.6, place, marker=">", color=LEAF, markersize=6)
            axes.text(bus + 0.78, place, f"{name}  {power}".rstrip(), va="center", fontsize=SMALL)
        _below(axes, bus, low, _ballast(view, study, wires), wires.store is not None)
        axes.set_xlim(-0.6, bus + 3.0)
        axes.set_ylim(low - 1.3, high + 0.7)
        axes.set_axis_off()
        axes.set_title("From the generator to the loads, all the water taken")
    named = ", ".join(f"{name} {power}".strip() for name, power in loads)
    alt = (
        f"One line from generator to loads: {in_picture(view, answer('power.terminals'))} at the terminals, "
        f"{in_picture(view, answer('power.receiving'))} at the end of the main cable; circuits: {named}."
    )
    return Picture(made, alt)


def _watts(power_w: float) -> str:
    return f"{plain_number(power_w)} W"


def _beside(axes: Axes, x: float, y: float, text: str, points: float, colour: str) -> None:
    """A word above or below what is drawn, so many points away on paper."""
    axes.annotate(
        text,
        (x, y),
        (0, points),
        textcoords="offset points",
        ha="center",
        va="bottom" if points > 0 else "top",
        fontsize=SMALL,
        color=colour,
    )


def _machine(axes: Axes, x: float, y: float) -> None:
    """A generator as IEC 60617 draws it: a circle with its letter."""
    axes.plot(x, y, marker="o", markersize=26, markerfacecolor="white", markeredgecolor=INK)
    axes.text(x, y, "G", ha="center", va="center", fontsize=11, weight="bold")


def _boxes(axes: Axes, x: float, y: float, names: list[str]) -> float:
    """What stands in the line, one box after the other; where the line goes on."""
    for name in names:
        axes.plot([x, x + 0.3], [y, y], color=INK, linewidth=1.4)
        axes.text(
            x + 0.75,
            y,
            name,
            ha="center",
            va="center",
            fontsize=SMALL,
            bbox={"boxstyle": "square,pad=0.4", "facecolor": PALE, "edgecolor": INK},
        )
        x += 1.3
    axes.plot([x, x + 0.2], [y, y], color=INK, linewidth=1.4)
    return x + 0.2


def _ballast(view: View, study: Study, wires: Wires) -> str:
    """Watts of the ballast that is there; else of that which must be."""
    there_w = wires.ballast.there_w
    return (
        view.text(there_w, "power")
        if np.isfinite(there_w)
        else in_picture(view, study.answer("ballast.power"))
    )


def _below(axes: Axes, bus: float, low: float, ballast: str, battery: bool) -> None:
    """Ballast and battery under the bus bar."""
    axes.plot([bus, bus], [low, low - 0.45], color=RUST, linewidth=1.2)
    axes.text(
        bus,
        low - 0.52,
        f"ballast {ballast}" + (" and battery" if battery else ""),
        ha="center",
        va="top",
        fontsize=SMALL,
        color=RUST if not battery else INK,
    )
