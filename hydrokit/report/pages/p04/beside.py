"""Page 04, and in a line pages 05, 07 and 08: the plan beside the recommended size."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....study.keyed import plain
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words
from ...style import (
    CREEK,
    INK,
    RUST,
    SMALL,
    figure,
    thousands,
)
from ..common import needs, value

if TYPE_CHECKING:
    from ....study.build.beside import Beside

__all__ = ["beside_figure", "beside_table", "beside_words", "energy_words", "money_words"]


@needs(Study.beside, quiet=True)
def beside_table(study: Study, view: View, found: Beside) -> Table:
    """What each is, makes, costs and brings."""
    rows = [
        (name, *(view.shown(study.answer(key)) for key in (mine, theirs)))
        for name, mine, theirs in found.rows
    ]
    return Table(("", "the plan", "recommended"), rows, "The plan beside the recommended size")


_DRAWN = {
    "power at full flow",
    "energy of a mean year",
    "useful energy of a mean year",
    "capital cost",
    "net annual benefit",
}


@needs(Study.beside, quiet=True)
def beside_figure(study: Study, view: View, found: Beside) -> Picture | Words:
    """The plan as a share of the recommended size, in power, energy, cost and benefit."""
    rows = [
        (
            name,
            100 * value(study, mine) / value(study, theirs),
            view.shown(study.answer(mine)),
            view.shown(study.answer(theirs)),
        )
        for name, mine, theirs in found.rows
        if name in _DRAWN and value(study, theirs) > 0
    ]
    if not rows:
        return Words("")
    shares = np.array([share for _, share, _, _ in rows])
    with figure(7.4, 1.1 + 0.4 * len(rows)) as (made, axes):
        axes.barh(np.arange(len(rows)), shares, 0.6, color=CREEK, edgecolor=INK, linewidth=0.6)
        axes.axvline(100, color=RUST, linewidth=1.6)
        axes.axvline(0, color=INK, linewidth=0.8)
        least, most = min(shares.min(), 0.0), max(shares.max(), 100.0)
        axes.set(
            xlim=(1.05 * least, 1.5 * most),
            ylim=(len(rows) - 0.4, -0.6),
            xlabel="the plan, in per cent of the recommended size (line)",
        )
        for place, (_, share, mine, theirs) in enumerate(rows):
            axes.annotate(
                f"{Words(mine).text} beside {Words(theirs).text}",
                (max(share, 100.0), place),
                xytext=(5, 0),
                textcoords="offset points",
                va="center",
                fontsize=SMALL,
            )
        axes.set_yticks(np.arange(len(rows)), [name for name, _, _, _ in rows])
        axes.grid(axis="y", visible=False)
        thousands(axes.xaxis)
    said = "; ".join(
        f"{name} {Words(mine).text} beside {Words(theirs).text}" for name, _, mine, theirs in rows
    )
    return Picture(made, f"The plan beside the recommended size: {said}.")


@needs(Study.beside, quiet=True)
def beside_words(study: Study, view: View, found: Beside) -> Words:
    """How the plan compares, in a sentence or two."""
    shown = {key: view.shown(study.answer(key)) for row in found.rows for key in row[1:]}
    text = "The plan"
    if "plant.full_power" in shown:
        text += (
            f" gives {shown['plant.full_power']} at full flow beside {shown['recommended.power']} "
            "of the recommended size"
        )
    else:
        text += f" takes {shown['plan.flow']} beside {shown['recommended.flow']} of the recommended size"
    if "demand.met" in shown:
        text += f", and {shown['demand.met']} of useful energy a year beside {shown['recommended.useful']}"
    elif "energy.net" in shown:
        text += f", and {shown['energy.net']} a year beside {shown['recommended.energy']}"
    text += ". "
    if np.isfinite(found.dearer_money) and abs(found.dearer_money) >= 0.5:
        more = "more" if found.dearer_money > 0 else "less"
        text += f"It costs {view.money(abs(found.dearer_money), 2)} {more} to build"
        if np.isfinite(found.better_money):
            less = "less" if found.better_money > 0 else "more"
            text += f" and brings {view.money(abs(found.better_money), 2)} {less} a year, all costs taken off"
        text += ". "
    return Words(text.rstrip())


@needs(Study.beside, quiet=True)
def energy_words(study: Study, view: View, found: Beside) -> Words:
    """What the recommended size would make instead of the plan of this page."""
    shown = {key: view.shown(study.answer(key)) for row in found.rows for key in row[1:]}
    if "energy.net" not in shown:
        return Words("")
    text = (
        f"This page is of the plan, {shown['plan.flow']}. The size recommended on page 04, "
        f"{shown['recommended.flow']}, would make {shown['recommended.energy']} in a mean year "
        f"instead of {shown['energy.net']}"
    )
    if "demand.met" in shown:
        text += (
            f", and {shown['recommended.useful']} instead of {shown['demand.met']} would be useful"
        )
    return Words(f"{text}.")


@needs(Study.beside, quiet=True)
def money_words(study: Study, view: View, found: Beside) -> Words:
    """What the plan brings and how it covers its loan, beside the recommended size."""
    shown = {key: view.shown(study.answer(key)) for row in found.rows for key in row[1:]}
    text = ""
    if "money.npv" in shown:
        plan, best = shown["money.npv"], shown["recommended.npv"]
        text += (
            f"The net present value of the plan is {plan}, to the digits that count the same as "
            f"that of the recommended size, {best}. "
            if plain(plan).split()[:1] == plain(best).split()[:1]
            else f"The net present value of the plan is {plan} beside {best} of the recommended "
            "size. "
        )
    if "recommended.cover" in shown:
        text += (
            f"Its loan is covered {shown['money.cover.p50.least']} times in the worst of median "
            "(P50) years, one on the same terms for the recommended size "
            f"{shown['recommended.cover']} times. "
        )
    return Words(text.rstrip())
