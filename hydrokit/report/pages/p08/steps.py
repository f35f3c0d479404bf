"""Page 08: the changes drawn, by what each is worth and as a staircase from today."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import (
    CREEK,
    INK,
    PALE,
    SMALL,
    figure,
    plain_label,
    thousands,
)
from ..common import needs
from .upgrades import COLOURS, amount, steps_that_help, unit_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....energy.staircase import Staircase, Step

__all__ = ["staircase_figure", "worth_figure"]

_OTHERS = [
    colour for colour in COLOURS if colour not in (CREEK, INK)
]  # those are today's and the lines'


def _colour(study: Study, step: Step) -> str:
    """A change keeps its colour wherever it stands; of several at once that of the first."""
    place = next(at for at, each in enumerate(study.changes) if each.name in step.names)
    return _OTHERS[place % len(_OTHERS)]


def _hatch(step: Step) -> str:
    return "////" if step.pays is False else ""


def _label(step: Step) -> str:
    return _wrapped(plain_label(" with ".join(step.names), 100))


def _wrapped(text: str, width: int = 34) -> str:
    return "\n".join(textwrap.wrap(text, width))


def _cost(step: Step, view: View) -> str:
    return "free" if step.cost_money == 0 else view.money(step.cost_money, 2)


# --- what each is worth ---------------------------------------------------------------------------


@needs(Study.upgrades)
def worth_figure(study: Study, view: View, found: Staircase) -> Picture | Words:
    """Net annual benefit of each step, the most first; hatched where it does not pay."""
    steps = [each for each in found.steps if np.isfinite(each.net_money)]
    if not steps:
        return Words("")
    steps.sort(key=lambda each: -each.net_money)
    worth = np.array([each.net_money for each in steps])
    with figure(7.4, 1.0 + 0.44 * len(steps)) as (made, axes):
        for place, step in enumerate(steps):
            axes.barh(
                place,
                step.net_money,
                0.62,
                color=_colour(study, step),
                hatch=_hatch(step),
                edgecolor=INK,
                linewidth=0.6,
            )
            _beside(
                axes,
                max(step.net_money, 0.0),
                place,
                f"{plain_number(step.net_money, 2)}; costs {_cost(step, view)}"
                if step.cost_money
                else f"{plain_number(step.net_money, 2)}; free",
            )
        axes.axvline(0, color=INK, linewidth=1)
        wide = max(worth.max(), 0.0) - min(worth.min(), 0.0) or 1.0
        axes.set(
            xlim=(min(worth.min(), 0.0) - 0.03 * wide, max(worth.max(), 0.0) + 0.42 * wide),
            ylim=(len(steps) - 0.4, -0.6),
            xlabel=f"net annual benefit [{view.currency}]; hatched: does not pay",
        )
        axes.set_yticks(np.arange(len(steps)), [_label(step) for step in steps])
        axes.grid(axis="y", visible=False)
        thousands(axes.xaxis)
    said = "; ".join(
        f"{' with '.join(step.names)} "
        f"{view.money(step.net_money, 2)}{', does not pay' if step.pays is False else ''}"
        for step in steps
    )
    return Picture(made, f"Net annual benefit of each change, given those made before it: {said}.")


def _beside(axes: Axes, x: float, y: float, text: str) -> None:
    axes.annotate(
        text, (x, y), xytext=(5, 0), textcoords="offset points", va="center", fontsize=SMALL
    )


# --- the staircase --------------------------------------------------------------------------------


@needs(Study.upgrades)
def staircase_figure(study: Study, view: View, found: Staircase) -> Picture | Words:
    """The changes as a staircase from today, each given those before it."""
    aim, steps = found.aim, steps_that_help(found)
    if not found.steps:
        return Words("")
    today = "today" if study.exists else "as planned"
    base = found.base[aim]
    levels = np.array([0.0] + [step.numbers[aim] - base for step in steps])  # above the base
    y = np.arange(len(levels))[::-1]
    with figure(7.4, 1.2 + 0.46 * len(levels)) as (made, axes):
        axes.plot([0, 0], [y[0] - 0.31, y[0] + 0.31], color=CREEK, linewidth=4)
        reached = [0.0, *levels]
        for number, step in enumerate(steps, 1):
            before = levels[number - 1]
            axes.barh(y[number], before, 0.62, color=PALE, alpha=0.6)
            axes.barh(
                y[number],
                levels[number] - before,
                0.62,
                left=before,
                color=_colour(study, step),
                hatch=_hatch(step),
                edgecolor=INK,
                linewidth=0.6,
            )
            axes.plot(
                [before] * 2, [y[number] - 0.31, y[number - 1] + 0.31], color=INK, linewidth=0.7
            )
            if step.gain_low is not None and step.gain_high is not None:
                low, high = (before + each[aim] for each in (step.gain_low, step.gain_high))
                axes.plot([low, high], [y[number]] * 2, color=INK, linewidth=1.4)
                reached += [low, high]
        least, highest = min(reached), max(reached) or 1.0
        wide = highest - least
        _beside(axes, 0.0, y[0], amount(found, base))
        for number, step in enumerate(steps, 1):
            told = f"{plain_number(step.gain[aim])} {unit_of(found)}, {_cost(step, view)}"
            _beside(axes, highest, y[number], told)
        axes.set_yticks(y, [today, *(_label(step) for step in steps)])
        axes.set(
            xlim=(least - 0.02 * wide, highest + 0.42 * wide),
            xlabel=(
                f"{_axis(found)} above {'today' if study.exists else 'the plan'} "
                f"[{unit_of(found)}]; hatched: does not pay"
            ),
        )
        thousands(axes.xaxis)
        axes.grid(axis="y", visible=False)
    each = "; ".join(
        f"{' with '.join(step.names)} "
        f"{plain_number(step.gain[aim])}{', does not pay' if step.pays is False else ''}"
        for step in steps
    )
    return Picture(
        made,
        (
            f"Staircase of changes: from {amount(found, base)} {today} to "
            f"{amount(found, base + levels[-1])}; {each}."
        ),
    )


def _axis(found: Staircase) -> str:
    if unit_of(found) == "W":
        return "useful power" if found.aim == "useful_w" else "power"
    return f"{'useful ' if found.aim == 'useful_kwh' else ''}energy of a year"
