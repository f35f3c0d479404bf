"""Page 07: the tables of costs and of what is paid."""

from __future__ import annotations

from typing import Any

import numpy as np

from ....sentences import plain_number
from ....study.build.useful_energy import FEW_GAUGINGS
from ....study.view import View
from ...display import Table, Words
from ..common import needs
from .money import CASES, of_use_words, rate_words, three_points, years_words

__all__ = ["cost_table", "pay_table"]


# --- tables ---------------------------------------------------------------------------------


@needs("money", quiet=True)
def cost_table(study: Any, view: View) -> Any:
    """What the capital cost is made of, and what wears out before the plant."""
    found = study.money
    if not found.items:
        return Words("")
    total = found.first_money
    rows = [(name, cost, f"{100 * cost / total:.0f} %", "") for name, cost in found.items]
    low, _, high = three_points(total * found.costs.factors(4000, 2))
    doubt = (
        f"{plain_number(low, 2)} to {plain_number(high, 2)}, 80 % interval"
        if found.costs.uncertainty
        else "no uncertainty is given"
    )
    rows.append(
        ("capital cost", view.shown(study.answer("money.capital"), unit=False), "100 %", doubt)
    )
    mark = len(rows) - 1
    rows += [
        (f"again: {each.name}", each.cost_money, "", f"every {years_words(each.every_years)}")
        for each in found.costs.replacements
    ]
    if found.costs.yearly_share:
        rows.append(
            (
                "upkeep in a year",
                found.costs.yearly_share * total,
                f"{plain_number(100 * found.costs.yearly_share, 2)} %",
                "of the capital cost",
            )
        )
    return Table(
        ("what", f"cost [{view.currency}]", "share", ""), rows, "What it costs", mark=(mark,)
    )


@needs("money", quiet=True)
def pay_table(study: Any, view: View) -> Any:
    """Each number with its range: one draw in ten below, the median, one in ten above."""
    found = study.money
    if not found.items:
        return _keeping_table(study, view)
    kwh, money = found.case.draws_kwh, f" [{view.currency}]"
    rows = [
        (f"capital cost{money}", *three_points(found.draws[0])),
        (f"energy {of_use_words(study)} in a mean year [kWh]", *three_points(kwh)),
        (f"levelised cost of a kWh{money}", *three_points(found.drawn.levelised_money_per_kwh)),
    ]
    if found.valued:
        for case in found.cases:
            told = "" if len(found.cases) == 1 else f", {CASES[case.name]}"
            rows += [
                (
                    f"what the energy of a year is worth{told}{money}",
                    *three_points(case.draws_money),
                ),
                (f"less upkeep and replacements{told}{money}", *three_points(case.drawn.net_money)),
                (
                    f"payback{told} [years]",
                    *map(_year_cell, three_points(case.flows.payback_years)),
                ),
                (
                    f"discounted payback{told} [years]",
                    *map(_year_cell, three_points(case.flows.discounted_payback_years)),
                ),
                (f"net present value{told}{money}", *three_points(case.drawn.npv_money)),
                (
                    f"internal rate of return{told} [%]",
                    *map(
                        _rate_cell,
                        three_points(np.nan_to_num(case.flows.internal_rate, nan=-np.inf)),
                    ),
                ),
            ]
    columns = ("", "one draw in ten is below", "median draw", "one in ten is above")
    return Table(
        columns,
        rows,
        f"What it pays, over {years_words(found.costs.life_years)} at {rate_words(found)}; each line by itself: a draw that is low in one is not low in another",
    )


def _year_cell(value: float) -> Any:
    return round(value, 1) if np.isfinite(value) else "never"


def _rate_cell(value: float) -> Any:
    return (
        "none" if not np.isfinite(value) else "over 100" if value > 0.999 else round(100 * value, 1)
    )


def _keeping_table(study: Any, view: View) -> Any:
    """What the plant brings by the year, the day and the walk."""
    found = study.money
    energy, case = found.energy, found.case
    value, known = case.value_money_per_kwh, energy.source != FEW_GAUGINGS
    worth = (
        f"worth of it [{view.currency}]"
        if len(found.cases) == 1
        else f"worth of it, all used [{view.currency}]"
    )
    rows = (
        [("energy in a year [kWh]", energy.low_kwh, energy.high_kwh)]
        if not known
        else [(f"energy {of_use_words(study)} in a mean year [kWh]", case.kwh, "")]
    )
    rows += (
        [(worth, value * energy.low_kwh, value * energy.high_kwh)]
        if not known
        else [
            (
                worth,
                view.shown(study.answer("money.worth"), unit=False)
                if len(found.cases) == 1
                else found.worth_money,
                "",
            )
        ]
    )
    for other in found.cases[1:]:
        rows.append(
            (
                f"worth of it, all sold [{view.currency}]",
                *(
                    (
                        other.value_money_per_kwh * energy.low_kwh,
                        other.value_money_per_kwh * energy.high_kwh,
                    )
                    if not known
                    else (other.income_money, "")
                ),
            )
        )
    if known:
        rows.append((f"worth of a mean day [{view.currency}]", found.worth_money / 365.25, ""))
    first = found.costs.first_si(0.0, 0.0)
    upkeep = float(found.costs.upkeep_si(first if not found.costs.silent else 0.0))
    if upkeep > 0:
        rows.append((f"upkeep and replacements as given, a year [{view.currency}]", upkeep, ""))
    if "visit" in study.site["costs"]:
        visit = study.site["costs"]["visit"]
        rows += [
            (f"one walk to the intake [{view.currency}]", visit, ""),
            ("which is earned by [kWh]", visit / value if value > 0 else np.nan, ""),
        ]
    columns = ("", "at least", "at most") if not known else ("", "number", "")
    return Table(columns, rows, "What the plant brings", digits=2)
