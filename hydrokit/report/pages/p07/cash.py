"""Page 07: the cash flow by year, drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....study.study import Study
from ....study.view import View
from ...display import Picture, Words
from ...style import BAND, CREEK, GROUND, INK, LEAF, figure, legend_above, thousands
from ..common import needs
from .money import life_words, years_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from ....study.build.money import Money

__all__ = ["cash_figure"]


@needs(Study.money, quiet=True)
def cash_figure(study: Study, view: View, found: Money) -> Picture | Words:
    """Cash flow: all money paid and earned so far, year by year, with its 80 % interval."""
    flow, flows = found.flow, found.flows
    if flow is None or flows is None:
        return Words("")
    years, drawn = flow.years, flows.cumulated
    with figure(7.4, 3.6) as (made, axes):
        if found.energy.draws_kwh is not None:
            low, high = np.quantile(drawn, [0.1, 0.9], axis=0)
            axes.fill_between(
                years, low, high, color=CREEK, alpha=BAND, linewidth=0, label="80 % interval"
            )
        axes.bar(
            years,
            flow.money,
            0.7,
            color=GROUND,
            edgecolor=INK,
            linewidth=0.5,
            hatch=["////" if money < 0 else "" for money in flow.money],
            label="of the year (hatched: paid)",
        )
        axes.plot(years, flow.cumulated, color=CREEK, label="so far")
        axes.plot(
            years, flow.discounted, color=LEAF, linestyle=(0, (5, 2)), label="so far, discounted"
        )
        axes.axhline(0, color=INK, linewidth=1)
        _mark(axes, flow.payback_years, CREEK)
        _mark(axes, flow.discounted_payback_years, LEAF)
        axes.set(
            xlim=(-0.6, years[-1] + 0.6),
            xlabel="years from building",
            ylabel=f"money [{view.currency} of today]",
        )
        thousands(axes.yaxis)
        legend_above(axes)
    if len(found.cases) > 1:
        return Picture(
            made,
            (
                "Money paid and earned so far against the years with all of the energy used, from "
                f"{view.money(float(flow.money[0]))} on the day of building to "
                f"{view.money(float(flow.cumulated[-1]), 2)} at the end."
            ),
        )
    back = flow.payback_years
    crossing = (
        f"It crosses zero after {years_words(back)}" if np.isfinite(back) else "It stays below zero"
    )
    return Picture(
        made,
        (
            "Money paid and earned so far against the years, from "
            f"{view.money(float(flow.money[0]))} on the day of building to "
            f"{view.money(float(flow.cumulated[-1]), 2)} after {life_words(found)}. {crossing}."
        ),
    )


def _mark(axes: Axes, year: float, colour: str) -> None:
    if np.isfinite(year):
        axes.plot(
            [year],
            [0],
            "o",
            color="white",
            markeredgecolor=colour,
            markersize=7,
            zorder=5,
            clip_on=False,
        )
