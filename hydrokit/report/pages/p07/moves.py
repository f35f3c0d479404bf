"""Page 07: what moves the net present value."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import (
    CREEK,
    INK,
    SMALL,
    SUN,
    figure,
    legend_above,
    thousands,
)
from ..common import needs

if TYPE_CHECKING:
    from ....study.build.accounts import Moved
    from ....study.build.money import Money

__all__ = ["tornado_figure", "tornado_words"]

_NAMES = {
    "value": "value of a kWh",
    "energy": "energy that earns",
    "capital": "capital cost",
    "rate": "discount rate",
    "running": "yearly costs",
    "labour": "owner's labour",
}


def _ends(moved: Moved, view: View, found: Money) -> tuple[str, str]:
    """The input where it is low and high, as a reader says it."""
    if moved.key == "rate":
        return f"{plain_number(100 * moved.low, 2)} %", f"{plain_number(100 * moved.high, 2)} %"
    base = {
        "value": found.case.value_money_per_kwh,
        "capital": found.first_money,
        "energy": found.case.kwh,
    }.get(moved.key)
    if base is None:
        return f"{100 * (moved.low - 1):+.0f} %", f"{100 * (moved.high - 1):+.0f} %"
    low, high = base * moved.low, base * moved.high
    if moved.key == "energy":
        return f"{plain_number(low, 2)} kWh", f"{plain_number(high, 2)} kWh"
    return view.money(low, 2), view.money(high, 2)


@needs(Study.money, quiet=True)
def tornado_figure(study: Study, view: View, found: Money) -> Picture | Words:
    """Each input moved alone either way: what the net present value then is."""
    moves = study.npv_moves
    if not moves:
        return Words("")
    base = float(found.case.stands.npv_money)
    with figure(7.4, 1.1 + 0.52 * len(moves)) as (made, axes):
        for place, each in enumerate(moves):
            low, high = _ends(each, view, found)
            for npv, told, colour, hatch, name in (
                (each.low_money, low, SUN, "////", "input lower (hatched)"),
                (each.high_money, high, CREEK, "", "input higher (plain)"),
            ):
                axes.barh(
                    place,
                    npv - base,
                    0.62,
                    left=base,
                    color=colour,
                    hatch=hatch,
                    edgecolor=INK,
                    linewidth=0.6,
                    label=name if place == 0 else None,
                )
                right = npv > base
                axes.annotate(
                    told,
                    (npv, place),
                    xytext=(4 if right else -4, 0),
                    textcoords="offset points",
                    ha="left" if right else "right",
                    va="center",
                    fontsize=SMALL,
                )
        axes.axvline(base, color=INK, linewidth=1.2)
        axes.axvline(0, color=INK, linewidth=1, linestyle=(0, (4, 3)))
        ends = [
            0.0,
            base,
            *(each.low_money for each in moves),
            *(each.high_money for each in moves),
        ]
        wide = max(ends) - min(ends)
        axes.set(
            xlim=(min(ends) - 0.24 * wide, max(ends) + 0.24 * wide),
            ylim=(len(moves) - 0.4, -0.6),
            xlabel=f"net present value [{view.currency}]; dashed: nothing gained",
        )
        axes.set_yticks(np.arange(len(moves)), [_NAMES[each.key] for each in moves])
        axes.grid(axis="y", visible=False)
        thousands(axes.xaxis)
        legend_above(axes)
    return Picture(
        made, f"Net present value with one input moved at a time. {_said(moves, view, found)}"
    )


def _said(moves: tuple[Moved, ...], view: View, found: Money) -> str:
    """The strongest in words, and those that turn the sign."""
    first = moves[0]
    low, high = _ends(first, view, found)
    text = (
        f"The {_NAMES[first.key]} moves it most: from {view.money(first.low_money, 2)} at {low} "
        f"to {view.money(first.high_money, 2)} at {high}."
    )
    sign = float(found.case.stands.npv_money) > 0
    turned = [
        _NAMES[each.key]
        for each in moves
        if (each.low_money > 0) != sign or (each.high_money > 0) != sign
    ]
    if turned:
        return (
            f"{text} {'It falls below zero' if sign else 'It comes above zero'} within the range "
            f"of: {series_text(turned)}."
        )
    return f"{text} It stays {'above' if sign else 'below'} zero in each of these."


@needs(Study.money, quiet=True)
def tornado_words(study: Study, view: View, found: Money) -> Words:
    """How far each input is moved, and what that does."""
    moves = study.npv_moves
    if not moves:
        return Words("")
    text = f"{_said(moves, view, found)} Each input is moved alone, as is common practice: "
    sure = [
        name
        for name, known in (
            ("energy", len(found.case.draws_money) > 1),
            ("capital cost", bool(found.costs.uncertainty)),
        )
        if known
    ]
    if sure:
        text += f"{' and '.join(sure)} to the ends of {'their' if len(sure) > 1 else 'its'} 80 % interval, "
    text += "prices, yearly costs and what has no interval by 20 %, the discount rate by 2 percentage points"
    if any(each.key == "labour" for each in moves):
        return Words(f"{text}, the owner's labour by half.")
    return Words(f"{text}. The owner's labour is not counted (labour_rate under [costs]).")
