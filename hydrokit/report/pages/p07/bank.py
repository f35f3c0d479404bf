"""Page 07: the accounts that a bank reads, and how a loan is covered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Whole, Words
from ...style import CREEK, INK, RUST, figure, legend_above
from ..common import needs

if TYPE_CHECKING:
    from ....energy.accounts import Accounts
    from ....study.build.accounts import Cover, DebtCover

__all__ = [
    "accounts_table",
    "accounts_words",
    "cover_figure",
    "cover_table",
    "cover_words",
    "lines_table",
    "yearly_table",
]

_CASES = {
    "p50": "P50, one year",
    "p90_ten": "P90, mean of ten years",
    "p90": "P90, one year",
    "p99": "P99, one year",
}


def _money(value: float) -> Whole | str:
    """Whole money in a table of accounts, nothing for nothing."""
    return "" if abs(value) < 0.5 else Whole(round(float(value)))


# --- a year ---------------------------------------------------------------------------------------


@needs(Study.accounts, quiet=True)
def yearly_table(study: Study, view: View, found: Accounts) -> Table:
    """What a year earns and takes, line by line, in prices of today."""
    rows = [(name, _money(float(each[1])), "earned") for name, each in found.income.items()]
    rows += [(name, _money(float(each[1])), "paid") for name, each in found.running.items()]
    rows.append(
        (
            "left before replacements, loan and tax",
            _money(float(found.earned[1] - found.paid[1])),
            "",
        )
    )
    return Table(
        ("a year", f"money [{view.currency}]", ""),
        rows,
        "What a mean year earns and takes, in prices of today",
        mark=(len(rows) - 1,),
    )


# --- year by year ---------------------------------------------------------------------------------


@needs(Study.accounts, quiet=True)
def accounts_table(study: Study, view: View, found: Accounts) -> Table:
    """The accounts in money of its day, as a bank reads them."""
    taxed, lent = bool(np.any(found.tax)), found.loan is not None
    prices = found.prices
    so_far = found.owner_flow.cumulated
    columns = ["year", "earned", "running costs", "replacements"]
    columns += (["tax"] if taxed else []) + ["left"]
    columns += ["interest", "principal"] if lent else []
    columns += ["own money, end", "to the owner", "so far"]
    rows = []
    for at, year in enumerate(found.years):
        row = [plain_number(float(year), 3), _money(found.earned[at] * prices[at])]
        row += [_money(-found.paid[at] * prices[at]), _money(-found.replacements[at] * prices[at])]
        row += ([_money(-found.tax[at])] if taxed else []) + [_money(found.available[at])]
        row += [_money(-found.interest[at]), _money(-found.principal[at])] if lent else []
        ends = found.residual[at] - found.removal[at] - found.built[at]
        borrowed = found.borrowed_money if at == 0 else 0.0
        row += [_money(ends * prices[at] + borrowed), _money(found.owner[at]), _money(so_far[at])]
        rows.append(tuple(row))
    return Table(
        tuple(columns),
        rows,
        (
            f"Accounts by year in {view.currency} of its day, prices rising "
            f"{plain_number(100 * found.inflation, 2)} % a year; what is paid stands with a minus"
        )
        if found.inflation
        else (
            f"Accounts by year in {view.currency}, with no inflation given; what is paid stands "
            "with a minus"
        ),
        kind="whole",
    )


@needs(Study.accounts, quiet=True)
def accounts_words(study: Study, view: View, found: Accounts) -> Words:
    """What the accounts rest on, and what they come to."""
    # A dry year is weighed against the loan; without one it stands with the energy.
    where = "with the cover of the loan" if found.loan is not None else "on page 05"
    text = f"Every year brings what a mean year brings; how years differ stands {where}. "
    if found.grant_money:
        text += f"A grant of {view.money(found.grant_money, 3)} pays a part of the capital cost"
        text += f", the owner {view.money(found.own_money)}. " if found.loan is not None else ". "
    elif found.loan is not None and found.own_money > 0.5:
        text += f"The owner pays {view.money(found.own_money)} of the capital cost. "
    owner = study.answer("money.npv_owner")
    if owner is not None:
        text += (
            f"To the owner, after loan and tax, the net present value is {view.shown(owner)}, "
            f"discounted at {plain_number(100 * found.nominal_discount_rate, 3)} "
            f"%{' with inflation' if found.inflation else ''}. "
        )
    if study.site.costs.tax_rate:
        text += (
            "Tax is taken on what the plant earns and saves less its costs, interest and "
            "straight-line depreciation; ask a tax adviser what holds where the plant stands. "
        )
    rates = found.project_flow.all_rates
    if len(rates) > 1:
        text += (
            "More than one internal rate of return fits these accounts "
            f"({', '.join(f'{plain_number(100 * each, 2)} %' for each in rates)}): judge by the "
            "net present value. "
        )
    return Words(text.rstrip())


@needs(Study.accounts, quiet=True)
def lines_table(study: Study, view: View, found: Accounts) -> Table:
    """Every line of the accounts in prices of today."""
    lines = {
        **found.income,
        **{name: -each for name, each in found.running.items()},
        "replacements": -found.replacements,
        "capital cost less grant": -found.built,
        "residual value": found.residual,
        "removal": -found.removal,
    }
    shown = {name: each for name, each in lines.items() if np.any(each)}
    totals = found.project, found.project_flow.cumulated, found.project_flow.discounted
    rows = [
        (
            plain_number(float(year), 3),
            *(_money(each[at]) for each in shown.values()),
            *(_money(each[at]) for each in totals),
        )
        for at, year in enumerate(found.years)
    ]
    return Table(
        ("year", *shown, "all", "so far", "so far, discounted"),
        rows,
        (
            f"Every line in {view.currency} of today, before loan and tax; the last number is the "
            "net present value"
        ),
    )


# --- the loan -------------------------------------------------------------------------------------


def _kept(case: Cover) -> str:
    return {True: "kept", False: "not kept", None: ""}[case.kept]


@needs(Study.debt_cover, quiet=True)
def cover_table(study: Study, view: View, found: DebtCover) -> Table:
    """Debt service cover ratio by case of the energy."""
    rows = [
        (
            _CASES[each.key],
            each.income_money,
            view.shown(study.answer(f"money.cover.{each.key}.least")),
            each.least_year,
            view.shown(study.answer(f"money.cover.{each.key}.mean")),
            "none" if each.asked is None else f"{each.asked:.2f}",
            _kept(each),
        )
        for each in found.cases
    ]
    columns = (
        "energy",
        f"earned in a year [{view.currency} of today]",
        "least cover",
        "in year",
        "average cover",
        "asked",
        "",
    )
    return Table(
        columns,
        rows,
        (
            "Debt service cover ratio (DSCR): what is left after running costs, replacements and "
            "tax, over interest and principal"
        ),
        mark=tuple(at for at, each in enumerate(found.cases) if each.kept is False),
    )


@needs(Study.debt_cover, quiet=True)
def cover_figure(study: Study, view: View, found: DebtCover) -> Picture:
    """Least and average cover by case, with what a bank asks."""
    with figure(7.4, 2.5) as (made, axes):
        for place, each in enumerate(found.cases):
            axes.barh(
                place,
                each.least,
                0.5,
                color=CREEK,
                edgecolor=INK,
                linewidth=0.6,
                hatch="////" if each.kept is False else "",
                label="worst year (hatched: less than asked)" if place == 0 else None,
            )
            axes.plot(
                each.mean,
                place,
                "D",
                color="white",
                markeredgecolor=INK,
                markersize=6,
                label="average" if place == 0 else None,
            )
            if each.asked is not None:
                axes.plot(
                    [each.asked] * 2,
                    [place - 0.4, place + 0.4],
                    color=RUST,
                    linewidth=2.6,
                    label="asked by a bank" if place == 0 else None,
                )
        axes.axvline(1, color=INK, linewidth=1, linestyle=(0, (4, 3)))
        axes.set(
            ylim=(len(found.cases) - 0.4, -0.6),
            xlabel="debt service cover ratio; dashed: just enough",
        )
        axes.set_yticks(np.arange(len(found.cases)), [_CASES[each.key] for each in found.cases])
        axes.grid(axis="y", visible=False)
        legend_above(axes)
    said = "; ".join(
        f"{_CASES[each.key]}: worst year {plain_number(each.least)}"
        + ("" if each.asked is None else f", asked {plain_number(each.asked)}")
        for each in found.cases
    )
    return Picture(made, f"Debt service cover ratio by case of the energy: {said}.")


@needs(Study.debt_cover, quiet=True)
def cover_words(study: Study, view: View, found: DebtCover) -> Words:
    """Whether the loan holds, and how large a loan would."""
    least = found.cases[0]
    shown = {
        each.key: view.shown(study.answer(f"money.cover.{each.key}.least")) for each in found.cases
    }
    text = (
        f"A loan of {view.shown(study.answer('money.loan'))} is covered {shown['p50']} times in "
        f"the worst of median (P50) years and {shown['p99']} times if each year were one exceeded "
        "with 99 % probability (P99). "
    )
    if found.kept:
        text += "All that is asked is kept in every year. "
    else:
        missed = [_CASES[each.key] for each in found.cases if each.kept is False]
        text += f"What is asked is not kept at {' and '.join(missed)}. "
    text += (
        "The largest loan of this kind that keeps to it is "
        f"**{view.shown(study.answer('money.loan_largest'))}**. "
    )
    if least.by_year[least.least_year - 1] < 0.9 * least.mean:
        text += (
            f"In year {least.least_year} replacements fall due: what is put aside for them in "
            "other years carries it. "
        )
    given = [key for key in ("cover_p50", "cover_p90", "cover_p99") if study.site.costs.given(key)]
    if len(given) < 3:
        text += (
            "What is asked is common practice for larger projects (1.35 times at P50, 1.20 at P90 "
            "of ten years, 1.00 at P99), not of any one bank; a household's loan rests on its "
            "income and security. "
        )
    return Words(text.rstrip())
