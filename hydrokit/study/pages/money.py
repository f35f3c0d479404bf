"""What the plant pays: its cost, what its energy is worth, when the money is back; what upkeep may cost."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..display import Picture, Table, View, Words, escape_markdown, plain_number, series_text
from ..style import BAND, CREEK, INK, LEAF, figure, legend_above, thousands
from .common import needs

__all__ = ["cash_figure", "cost_table", "pay_table", "pay_words", "terms_words"]


def _kwh(value: float, digits: int = 3) -> str:
    return f"{plain_number(value, digits)} kWh"


def _price(value: float, view: View) -> str:
    return f"{plain_number(value, 2)} {view.currency}"


def _years(value: float, digits: int = 2) -> str:
    return f"{plain_number(value, digits)} {'year' if value == 1 else 'years'}" if np.isfinite(value) else "not within its life"


def _ranged(low: float, high: float, view: View) -> str:
    """Two sums of money, one currency."""
    return f"{plain_number(low, 2)} to {view.money(high, 2)}"


def _three(values: Any) -> list[float]:
    """Tenth, middle and ninetieth of a hundred draws, in order; a payback that never comes stays infinite."""
    return np.quantile(np.atleast_1d(values), [0.1, 0.5, 0.9], method="inverted_cdf").tolist()


def _of_use(study: Any) -> str:
    """How energy is called here: that which somebody can use, where it is known what is wanted."""
    found = study.money.energy
    return "of use" if found.kwh < 0.999 * found.made_kwh else "made"


# --- in words -------------------------------------------------------------------------------


@needs("money", headline=True)
def pay_words(study: Any, view: View) -> Words:
    """The answer: what it costs, what it brings, when the money is back."""
    found = study.money
    if not found.items:
        return _worth_words(study, view)
    if not found.valued:
        low, middle, high = _three(found.drawn.levelised_money_per_kwh)
        return Words(
            f"The plant costs about **{view.money(found.first_money)}**, and a kWh {_of_use(study)} costs **{_price(middle, view)}** over its {_life(found)} ({plain_number(low, 2)} to {_price(high, view)} in eight cases of ten). "
            'Nobody has said what a kWh is worth here; write value = "0.22 per kWh" under [costs], the price of what it replaces, and this page says when the money is back.'
        )
    low, _, high = _three(found.drawn.npv_money)
    back, with_interest = found.flow.payback_years, found.flow.discounted_payback_years
    if np.isfinite(back):
        text = f"The plant costs about **{view.money(found.first_money)}** and has brought that back after **{_years(back)}**, "
        text += f"with interest after {_years(with_interest)}. " if np.isfinite(with_interest) else f"but with interest not within its {_life(found)}. "
    else:
        text = f"The plant costs about **{view.money(found.first_money)}** and does not bring that back within its {_life(found)}. "
    npv = float(found.stands.npv_money)
    text += f"Over its life it is worth **{view.money(abs(npv), 2)} {'more' if npv >= 0 else 'less'} than it costs**, all brought back to today at {plain_number(100 * found.costs.discount_rate, 2)} %"
    text += f"; eight cases in ten lie in the range of {_ranged(low, high, view)}. " if found.energy.draws_kwh is not None else "; how sure that is cannot be said without the doubt of the energy. "
    text += f"A kWh {_of_use(study)} costs {_price(float(found.stands.levelised_money_per_kwh), view)} and is worth {_price(found.costs.value_money_per_kwh, view)}{_replaced(study)}. "
    if found.energy.draws_kwh is not None:
        text += _chances(found.pays)
    return Words(text + _idle(study, view))


def _life(found: Any) -> str:
    return _years(found.costs.life_years)


def _replaced(study: Any) -> str:
    told = study.site["costs"].get("replaces")
    return f", the price of {escape_markdown(told)}" if told else ""


def _chances(share: float) -> str:
    if share >= 0.995:
        return "Within the doubt of costs and energy it pays in every case. "
    if share <= 0.005:
        return "Within the doubt of costs and energy it pays in no case. "
    return f"Within the doubt of costs and energy it pays in {100 * share:.0f} cases of a hundred. "


def _idle(study: Any, view: View) -> str:
    """What is made and finds no use."""
    found = study.money
    spare = found.energy.made_kwh - found.energy.kwh
    if spare < 0.02 * found.energy.made_kwh or not found.valued:
        return ""
    text = f"Another {_kwh(spare, 2)} a year find no use and count for nothing here"
    if not study.exists:
        text += f"; sold for half of what a kWh is worth, they would bring {view.money(0.5 * found.costs.value_money_per_kwh * spare, 2)} a year"
    return text + "."


def _worth_words(study: Any, view: View) -> Words:
    """What the energy is worth, and what keeping or building the plant may cost at most."""
    found = study.money
    energy, costs = found.energy, found.costs
    value = costs.value_money_per_kwh
    spread = energy.high_kwh > energy.low_kwh
    digits = 2 if not spread or energy.draws_kwh is None else 3
    if energy.source == "a few gaugings":
        text = f"A year's energy is worth something in the range of **{_ranged(value * energy.low_kwh, value * energy.high_kwh, view)}**, at {_price(value, view)} a kWh{_replaced(study)}: the year is not known better than that. "
        return Words(text + "Whatever is done to the plant should be paid for by the lower figure.")
    text = f"A mean year's energy {_of_use(study)}, {_kwh(energy.kwh, digits)}, is worth **{view.money(found.worth_money, digits)}**, at {_price(value, view)} a kWh{_replaced(study)}"
    text += f" ({_ranged(value * energy.low_kwh, value * energy.high_kwh, view)} in eight cases of ten)" if spread else ""
    text += f". This rests on {energy.source}" + ("; good and bad years are not in it. " if energy.draws_kwh is None else ". ")
    text += f"Upkeep, repairs and replacements may come to that each year, and no more, before the plant costs more than it brings. {_idle(study, view)} "
    whole = f"keeps it running for {_life(found)} more" if study.exists else f"lasts {_life(found)}"
    thing = "An overhaul that" if study.exists else "A plant that"
    upkeep = f", with {plain_number(100 * costs.yearly_share, 2)} % of it a year for upkeep" if costs.yearly_share else ""
    return Words(text + f"{thing} {whole} is worth its cost up to **{view.money(found.most_money, 2)}**, with interest at {plain_number(100 * costs.discount_rate, 2)} %{upkeep}.")


# --- the figure -----------------------------------------------------------------------------


@needs("money", quiet=True)
def cash_figure(study: Any, view: View) -> Any:
    """All money paid and earned so far, year by year, with its band."""
    found = study.money
    if found.flow is None:
        return Words("")
    years, drawn = found.flow.years, found.flows.cumulated
    with figure(7.4, 3.6) as (made, axes):
        if found.energy.draws_kwh is not None:
            low, high = np.quantile(drawn, [0.1, 0.9], axis=0)
            axes.fill_between(years, low, high, color=CREEK, alpha=BAND, linewidth=0, label="eight in ten")
        axes.plot(years, found.flow.cumulated, color=CREEK, label="paid and earned so far")
        axes.plot(years, found.flow.discounted, color=LEAF, linestyle=(0, (5, 2)), label="with interest")
        axes.axhline(0, color=INK, linewidth=1)
        _mark(axes, found.flow.payback_years, CREEK)
        _mark(axes, found.flow.discounted_payback_years, LEAF)
        axes.set(xlim=(0, years[-1]), xlabel="years from building", ylabel=f"money so far [{view.currency}]")
        thousands(axes.yaxis)
        legend_above(axes)
    back = found.flow.payback_years
    crossing = f"It crosses zero after {_years(back)}" if np.isfinite(back) else "It stays below zero"
    return Picture(made, f"Money paid and earned so far against the years, from {view.money(-found.first_money)} at first to {view.money(float(found.flow.cumulated[-1]), 2)} after {_life(found)}. {crossing}.")


def _mark(axes: Any, year: float, colour: str) -> None:
    if np.isfinite(year):
        axes.plot([year], [0], "o", color="white", markeredgecolor=colour, markersize=7, zorder=5, clip_on=False)


# --- tables ---------------------------------------------------------------------------------


@needs("money", quiet=True)
def cost_table(study: Any, view: View) -> Any:
    """What the first cost is made of, and what wears out before the plant."""
    found = study.money
    if not found.items:
        return Words("")
    total = found.first_money
    rows = [(name, cost, f"{100 * cost / total:.0f} %", "") for name, cost in found.items]
    low, _, high = _three(total * found.costs.factors(4000, 2))
    doubt = f"{plain_number(low, 2)} to {plain_number(high, 2)}, eight cases of ten" if found.costs.doubt else "no doubt is given"
    rows.append(("first cost", total, "100 %", doubt))
    mark = len(rows) - 1
    rows += [(f"again: {each.name}", each.cost_money, "", f"every {_years(each.every_years)}") for each in found.costs.replacements]
    if found.costs.yearly_share:
        rows.append(("upkeep in a year", found.costs.yearly_share * total, f"{plain_number(100 * found.costs.yearly_share, 2)} %", "of the first cost"))
    return Table(("what", f"cost [{view.currency}]", "share", ""), rows, "What it costs", mark=(mark,))


@needs("money", quiet=True)
def pay_table(study: Any, view: View) -> Any:
    """Each number with its range: one case in ten below, the middle, one in ten above."""
    found = study.money
    if not found.items:
        return _keeping_table(study, view)
    first, kwh = found.draws
    drawn, money = found.drawn, f" [{view.currency}]"
    rows = [
        (f"first cost{money}", *_three(first)), (f"energy {_of_use(study)} in a mean year [kWh]", *_three(kwh)),
        (f"cost of a kWh{money}", *_three(drawn.levelised_money_per_kwh)),
    ]  # fmt: skip
    if found.valued:
        rows += [
            (f"what the energy of a year is worth{money}", *_three(found.costs.value_money_per_kwh * kwh)),
            (f"less upkeep and replacements{money}", *_three(drawn.net_money)),
            ("paid back after [years]", *map(_year_cell, _three(found.flows.payback_years))),
            ("with interest after [years]", *map(_year_cell, _three(found.flows.discounted_payback_years))),
            (f"worth over its life, less its cost{money}", *_three(drawn.npv_money)),
            ("interest it earns on its cost [%]", *map(_rate_cell, _three(np.nan_to_num(found.flows.internal_rate, nan=-np.inf)))),
        ]
    columns = ("", "one case in ten is below", "middle", "one in ten is above")
    return Table(columns, rows, f"What it pays, over {_life(found)} at {plain_number(100 * found.costs.discount_rate, 2)} %; each line by itself: a case that is low in one is not low in another")


def _year_cell(value: float) -> Any:
    return round(value, 1) if np.isfinite(value) else "never"


def _rate_cell(value: float) -> Any:
    return "none" if not np.isfinite(value) else "over 100" if value > 0.999 else round(100 * value, 1)


def _keeping_table(study: Any, view: View) -> Any:
    """What the plant brings by the year, the day and the walk."""
    found = study.money
    value, energy = found.costs.value_money_per_kwh, found.energy
    known = energy.source != "a few gaugings"
    rows = [("energy of use in a year [kWh]", energy.low_kwh, energy.high_kwh)] if not known else [(f"energy {_of_use(study)} in a mean year [kWh]", energy.kwh, "")]
    rows += [(f"worth of it [{view.currency}]", value * energy.low_kwh, value * energy.high_kwh)] if not known else [(f"worth of it [{view.currency}]", found.worth_money, "")]
    if known:
        rows.append((f"worth of a mean day [{view.currency}]", found.worth_money / 365.25, ""))
    first = found.costs.first_si(0.0, 0.0)
    upkeep = float(found.costs.upkeep_si(first if not found.costs.silent else 0.0))
    if upkeep > 0:
        rows.append((f"upkeep and replacements as given, a year [{view.currency}]", upkeep, ""))
    if "visit" in study.site["costs"]:
        visit = study.site["costs"]["visit"]
        rows += [(f"one walk to the intake [{view.currency}]", visit, ""), ("which is earned by [kWh]", visit / value if value > 0 else np.nan, "")]
    columns = ("", "at least", "at most") if not known else ("", "number", "")
    return Table(columns, rows, "What the plant brings", digits=2)


# --- what would change it -------------------------------------------------------------------


@needs("money", quiet=True)
def terms_words(study: Any, view: View) -> Words:
    """At what terms it would just pay, which doubt weighs most, what a loan would take."""
    found = study.money
    if not found.items or not found.valued:
        return Words("")
    levelised, rate = float(found.stands.levelised_money_per_kwh), float(found.flow.internal_rate)
    text = f"It would just pay if a kWh were worth {_price(levelised, view)}, or if the plant cost {view.money(found.most_money, 2)}"
    text += f", or at an interest of {'more than ' if rate > 0.999 else ''}{plain_number(100 * rate, 2)} % above inflation. " if np.isfinite(rate) else ". At no interest does it pay. "
    if found.energy.draws_kwh is not None:
        wide = {name: high - low for name, (low, high) in found.spread.items()}
        if found.costs.doubt:
            text += (
                f"Of the doubt, the cost alone moves what it is worth by {view.money(wide['cost'], 2)} (from an unlucky tenth to a lucky one), the energy by {view.money(wide['energy'], 2)}: "
                + ("offers in writing narrow it most. " if wide["cost"] >= wide["energy"] else "measuring narrows it most. ")
            )
        else:
            text += f"The doubt of the energy moves what it is worth by {view.money(wide['energy'], 2)} (from an unlucky tenth to a lucky one); how sure the costs are is not said (doubt under [costs]), and they are taken as certain. "
        text += "What a kWh will be worth in years to come is not in that doubt. "
    return Words(text + _parts(study, view) + _loan(study, view))


def _parts(study: Any, view: View) -> str:
    costs = study.money.costs
    if not costs.replacements:
        return 'No part is said to wear out before the plant does; list bearings, jets, runner under `[[costs.replacement]]` with their years. '
    yearly = float(costs.upkeep_si(0.0))
    return f"New {series_text([escape_markdown(each.name) for each in costs.replacements])} come to {view.money(yearly, 2)} a year. "


def _loan(study: Any, view: View) -> str:
    """What borrowing the first cost would take, against a mean and a bad year."""
    from ...energy.money import capital_recovery

    found, section = study.money, study.site["costs"]
    if "loan_years" not in section:
        return ""
    years, rate = section["loan_years"], section.get("loan_rate", found.costs.discount_rate)
    instalment = found.first_money * float(capital_recovery.si(years, rate))
    left = found.costs.value_money_per_kwh * found.energy.kwh - found.costs.yearly_share * found.first_money
    text = f"Borrowed over {_years(years)} at {plain_number(100 * rate, 2)} % above inflation, the first cost takes {view.money(instalment, 2)} a year; after upkeep a mean year brings {view.money(left, 2)}"
    bad = found.energy.bad_year_kwh
    if np.isfinite(bad):
        left_bad = found.costs.value_money_per_kwh * bad - found.costs.yearly_share * found.first_money
        text += f", a bad one (one in ten) {view.money(left_bad, 2)}, which is {'enough' if left_bad >= instalment else 'too little'}"
    return text + "."
