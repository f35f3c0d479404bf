"""Page 07: the tables of costs and of what is paid."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.build.useful_energy import FEW_GAUGINGS
from ....study.study import Study
from ....study.view import View
from ...display import Rough, Table, Whole, Words
from ..common import needs
from .money import CASES, of_use_words, rate_words, years_words

if TYPE_CHECKING:
    from ....study.build.money import Money
    from ....study.build.money_case import Band

__all__ = ["cost_table", "pay_table"]


# --- tables ---------------------------------------------------------------------------------


@needs(Study.money, quiet=True)
def cost_table(study: Study, view: View, found: Money) -> Table | Words:
    """What the capital cost is made of, and what wears out before the plant."""
    if not found.items:
        return Words("")
    total, whole = found.first_money, found.case.first_band
    rows: list[tuple[float | str, ...]] = [
        (name, cost, f"{100 * cost / total:.0f} %", _counted(view, found, name))
        for name, cost in found.items
    ]
    uncertainty = (
        f"{plain_number(whole.low, 2)} to {plain_number(whole.high, 2)}, 80 % interval"
        if found.costs.uncertainty
        else "no uncertainty is given"
    )
    rows.append(
        (
            "capital cost",
            view.shown(study.answer("money.capital"), unit=False),
            "100 %",
            uncertainty,
        )
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
                found.upkeep_share_money,
                f"{plain_number(100 * found.costs.yearly_share, 2)} %",
                "of the capital cost",
            )
        )
    return Table(
        ("what", f"cost [{view.currency}]", "share", ""), rows, "What it costs", mark=(mark,)
    )


def _counted(view: View, found: Money, name: str) -> str:
    return view.told(found.counted[name]) if name in found.counted else ""


@needs(Study.money, quiet=True)
def pay_table(study: Study, view: View, found: Money) -> Table:
    """Each number with its 80 % interval and its median over the draws."""
    if not found.items:
        return _keeping_table(study, view, found)
    money = f" [{view.currency}]"
    rows: list[tuple[float | str, ...]] = [
        (f"capital cost{money}", *_points(found.case.first_band)),
        (f"energy {of_use_words(found)} in a mean year [kWh]", *_points(found.case.kwh_band)),
        (f"levelised cost of a kWh{money}", *_rough(found.case.levelised_band)),
    ]
    ends = ", residual value and removal spread evenly" if found.costs.end_money else ""
    for place, case in enumerate(found.cases if found.valued else ()):
        told = "" if len(found.cases) == 1 else f", {CASES[case.name]}"
        of_case: list[tuple[float | str, ...]] = [
            (f"value of the energy of a year{told}{money}", *_rough(case.income_band)),
            (f"after upkeep and replacements{ends}{told}{money}", *_rough(case.net_band)),
            (f"payback{told} [years]", *map(_year_cell, _points(case.payback_band))),
            (
                f"discounted payback{told} [years]",
                *map(_year_cell, _points(case.discounted_payback_band)),
            ),
            (f"net present value{told}{money}", *_rough(case.npv_band)),
            (f"internal rate of return{told} [%]", *map(_rate_cell, _points(case.rate_band))),
        ]
        # what the headline says of a case that never pays needs no rows of their own
        rows += [row for row in of_case if place == 0 or set(row[1:]) - {"never", "none"}]
    columns = ("", "10 % of draws are below", "median draw", "10 % are above")
    return Table(
        columns,
        rows,
        (
            f"What it pays, over {years_words(found.costs.life_years)} at {rate_words(found)}; "
            "each line is ranked by itself: a draw that is low in one line may be high in "
            "another. The answer at the top is the case as calculated; the median of the draws "
            "lies a little beside it"
        ),
    )


def _points(found: Band) -> tuple[float, float, float]:
    return found.low, found.median, found.high


def _rough(found: Band) -> tuple[Rough, Rough, Rough]:
    """To the two digits to which the answers above say it."""
    return Rough(found.low), Rough(found.median), Rough(found.high)


def _year_cell(value: float) -> float | str:
    return Rough(value) if np.isfinite(value) else "never"


def _rate_cell(value: float) -> float | str:
    return "none" if not np.isfinite(value) else "over 100" if value > 0.999 else Rough(100 * value)


def _keeping_table(study: Study, view: View, found: Money) -> Table:
    """What the plant brings by the year, the day and the walk."""
    energy, case, known = found.energy, found.case, found.energy.source != FEW_GAUGINGS
    many, money = len(found.cases) > 1, f" [{view.currency}]"
    worth = f"value of the energy{', all used' if many else ''}{money}"
    rows: list[tuple[object, ...]]
    if known:
        own = found.worth_money if many else view.shown(study.answer("money.worth"), unit=False)
        rows = [
            (
                f"energy {of_use_words(found)} in a mean year [kWh]",
                Whole(float(f"{case.kwh:.3g}")),
                "",
            ),
            (worth, own, ""),
        ]
    else:
        rows = [
            ("energy in a year [kWh]", energy.low_kwh, energy.high_kwh),
            (worth, *found.range_money(case)),
        ]
    for other in found.cases[1:]:
        sold = (other.income_money, "") if known else found.range_money(other)
        rows.append((f"value of the energy, all sold{money}", *sold))
    if known:
        rows.append((f"value of a mean day{money}", found.day_money, ""))
    if found.given_upkeep_money > 0:
        rows.append(
            (
                f"upkeep and replacements as given, a year{money}",
                found.given_upkeep_money,
                "",
            )
        )
    if np.isfinite(found.visit_money):
        rows += [
            (f"one walk to the intake{money}", found.visit_money, ""),
            ("energy that pays for one walk [kWh]", found.visit_kwh, ""),
        ]
    columns = ("", "at least", "at most") if not known else ("", "number", "")
    return Table(columns, rows, "What the plant brings", digits=2)
