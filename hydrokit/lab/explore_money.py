"""A control panel for the money: what a kWh is worth, what the plant costs, and the interest."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ..energy.cash import cash_flow
from ..energy.money import appraise
from ..report.display import Words
from ..report.pages.common import needs
from ..report.style import CREEK, INK, LEAF, figure, legend_above, thousands
from ..sentences import plain_number
from ..study.study import Study
from .knobs import DASHED, Knob, Panel, like, moving, shares, shown

if TYPE_CHECKING:
    from ..report.display import Picture
    from ..study.build.money import Money
    from ..study.view import View

__all__ = ["panel_money"]

_RATES = [0.01 * each for each in range(16)]


@needs(Study.money)
def panel_money(study: Study, view: View, found: Money) -> Panel | Picture | Words:
    """Value of a kWh, capital cost and discount rate against the net present value and the payback."""
    case = found.case
    value, rate = case.costs.value_money_per_kwh, case.costs.discount_rate
    if not found.items or not found.valued or value is None or not np.isfinite(case.first_money):
        costed = bool(found.items) and np.isfinite(case.first_money)
        lacks = ["what the plant costs"] * (not costed) + ["what a kWh is worth"] * (
            value is None or not found.valued
        )
        return Words(f"*Not shown: {' and '.join(lacks)} is lacking.*")
    standing = case.flow
    with figure(7.4, 3.4) as (made, axes):
        axes.plot(
            standing.years,
            standing.cumulated,
            linestyle=DASHED,
            color=INK,
            linewidth=1.2,
            label="as it stands",
        )
        so_far = moving(axes.plot(standing.years, standing.cumulated, color=CREEK, label="so far"))[
            0
        ]
        worth = moving(
            axes.plot(
                standing.years,
                standing.discounted,
                color=LEAF,
                linestyle="-.",
                label="so far, discounted",
            )
        )[0]
        axes.axhline(0, color=INK, linewidth=0.8)
        best = cash_flow(
            0.7 * case.first_money, case.kwh, replace(case.costs, value_money_per_kwh=1.5 * value)
        )
        axes.set(
            xlim=(0, standing.years[-1]),
            ylim=(-1.6 * case.first_money, 1.05 * max(float(best.cumulated[-1]), case.first_money)),
            xlabel="years from building",
            ylabel=f"money [{view.currency}]",
        )
        thousands(axes.yaxis)
        legend_above(axes)

    def turn(value: float, first: float, rate: float) -> list[tuple[str, str]]:
        costs = replace(case.costs, value_money_per_kwh=value, discount_rate=rate)
        flow = cash_flow(first, case.kwh, costs)
        so_far.set_ydata(flow.cumulated)
        worth.set_ydata(flow.discounted)
        told = appraise(first, case.kwh, costs)
        return [
            ("net present value", like(study, view, "money.npv", float(told.npv_money), "money")),
            ("payback", _years(study, view, float(flow.payback_years))),
            (
                "levelised cost of a useful kWh",
                like(
                    study, view, "money.lcoe", float(told.levelised_money_per_kwh), "money per kWh"
                ),
            ),
            ("net annual benefit", view.money(float(told.worth_money), 3)),
        ]

    factors, percent, start = shares(0.7, 1.5, 0.05, 1.0)
    values, _, valued = shares(0.5, 1.5, 0.05, 1.0)
    rates = sorted({*_RATES, rate})
    knobs = (
        Knob(
            "value",
            "value of a kWh",
            [value * each for each in values],
            texts=[view.amount(value * each, "money per kWh") for each in values],
            start=valued,
            # one price for each use of the energy is one key; several are not told by one knob
            writes=(lambda new: {"costs.value": f"{new:.6g} per kWh"})
            if study.site.costs.given("value")
            else None,
        ),
        Knob(
            "first",
            "capital cost",
            [case.first_money * each for each in factors],
            texts=[
                f"{view.money(case.first_money * each, 3)} ({of})"
                for each, of in zip(factors, percent)
            ],
            start=start,
        ),
        Knob(
            "rate",
            "discount rate, above inflation",
            rates,
            texts=[f"{plain_number(100 * each, 3)} %" for each in rates],
            start=rates.index(rate),
            writes=lambda new: {"costs.discount_rate": f"{100 * new:.4g} %"},
        ),
    )
    return shown(Panel("Money so far by year", knobs, made, turn=turn, study=study))


def _years(study: Study, view: View, years: float) -> str:
    return like(study, view, "money.payback", years, "years") if np.isfinite(years) else "never"
