"""What the plant pays: its cost, what its energy is worth, when the money is back; what upkeep may cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....energy.levels import SECURE
from ....sentences import plain_number, series_text
from ....study.build.loan import loan
from ....study.build.useful_energy import FEW_GAUGINGS
from ....study.study import Study
from ....study.view import View
from ...display import Words, escape_markdown
from ..common import needs, sources

if TYPE_CHECKING:
    from ....study.build.money import Money
    from ....study.build.money_case import Band

__all__ = ["pay_words", "terms_words"]


def _kwh(value: float, digits: int = 3) -> str:
    return f"{plain_number(value, digits)} kWh"


def years_words(value: float, digits: int = 2) -> str:
    return (
        f"{plain_number(value, digits)} {'year' if value == 1 else 'years'}"
        if np.isfinite(value)
        else "not within its life"
    )


def _ranged(low: float, high: float, view: View) -> str:
    """Two sums of money, one currency."""
    return f"{plain_number(low, 2)} to {view.money(high, 2)}"


def _in_80(found: Band, view: View) -> str:
    """The middle 80 % of the draws of a sum of money, in brackets."""
    return f"({_ranged(found.low, found.high, view)}, 80 % interval)"


def of_use_words(found: Money) -> str:
    """How the energy counted here is called: useful where a demand is known, else made."""
    if not found.energy.demand_known:
        return "made"
    return "useful" if found.case.kwh < 0.999 * found.energy.made_kwh else "made"


CASES = {
    "as used": "used as the demand has it",
    "all used": "all of it used",
    "all sold": "all of it sold",
}


def rate_words(found: Money) -> str:
    return f"{plain_number(100 * found.costs.discount_rate, 2)} %"


def _uncertain(found: Money) -> bool:
    """Whether the energy is known well enough to say how sure its money is."""
    return found.energy.draws_kwh is not None


# --- in words -------------------------------------------------------------------------------


def pay_words(study: Study, view: View) -> Words:
    """The answer: what it costs, what it brings, when the money is back."""
    section = study.site.costs
    if study.money is None and section and "money" not in study.refused:
        if study.plant is None:
            lacks = "head, penstock and jets (or a design flow) are not all given"
        elif study.year is None and study.bracket is None and study.log is None:
            lacks = "neither a daily record nor a log nor gaugings say what it makes"
        else:
            lacks = (
                'neither the value of a kWh (value = "0.22 per kWh") nor what the plant costs to '
                "build is given"
            )
        return Words(
            "**Not known yet.** Something is said under [costs], but what the plant brings is "
            f"not known: {lacks}."
        )
    return _pays(study, view)


@needs(Study.money, headline=True)
def _pays(study: Study, view: View, found: Money) -> Words:
    if not found.items:
        return _worth_words(study, view, found)
    capital, kwh = view.shown(study.answer("money.capital")), of_use_words(found)
    if not found.valued:
        cost = found.case.levelised_band
        return Words(
            f"The capital cost is about **{capital}**, and the levelised cost of the {kwh} energy **{view.shown(study.answer('money.lcoe'))}** over its {life_words(found)} ({plain_number(cost.low, 2)} to {view.money(cost.high, 2)}, 80 % interval). "
            'The value of a kWh is not given: write value = "0.22 per kWh" under [costs], the price of what it replaces; then this page gives the payback.'
        )
    text = f"The capital cost is about **{capital}**"
    if len(found.cases) > 1:
        return Words(text + ". " + _two_cases(study, view, found))
    back, discounted = found.case.flow.payback_years, found.case.flow.discounted_payback_years
    if np.isfinite(back):
        text += f"; the plant pays it back after **{view.shown(study.answer('money.payback'))}**, "
        text += (
            f"with discounting after {years_words(discounted)}. "
            if np.isfinite(discounted)
            else f"but with discounting not within its {life_words(found)}. "
        )
    else:
        text += f", and the plant does not pay it back within its {life_words(found)}. "
    text += (
        "Its net present value (NPV: all that it earns over its life less all that it costs, "
        f"discounted at {rate_words(found)}) is **{view.shown(study.answer('money.npv'))}**"
    )
    text += (
        f" {_in_80(found.case.npv_band, view)}. "
        if _uncertain(found)
        else "; its interval is not known, because the uncertainty of the energy is not. "
    )
    text += (
        f"The levelised cost of the {kwh} energy, over the life of the plant, is "
        f"{view.shown(study.answer('money.lcoe'))}, its value "
        f"{view.shown(study.answer('value.kwh'))}{_replaced(study)}. "
    )
    if _uncertain(found):
        text += _chances(found.pays)
    return Words(text + _idle(study, view, found) + _common(study))


def _two_cases(study: Study, view: View, found: Money) -> str:
    """What it brings where no demand is given."""
    used, sold = found.cases
    export = (
        "nothing, for no export price is given"
        if not sold.income_money
        else f"{view.money(sold.value_money_per_kwh, 2)} a kWh"
    )
    text = "No demand is given, so two cases bound what it brings. "
    for case, told in (
        (used, f"**all of it used**, at {view.shown(study.answer('value.kwh'))}{_replaced(study)}"),
        (sold, f"**all of it sold**, for {export}"),
    ):
        npv, back = float(case.stands.npv_money), float(case.flow.payback_years)
        shown = view.shown(study.answer("money.npv" if case is used else "money.npv_sold"))
        text += f"With {told}: NPV **{shown}**"
        if _uncertain(found):
            text += f" {_in_80(case.npv_band, view)}"
        text += (
            ", "
            f"{'paid back after ' + years_words(back) if np.isfinite(back) else 'never paid back'}{'' if npv > 0 else '; it does not pay'}. "
        )
    return (
        text
        + (
            f"The levelised cost of the energy made is {view.shown(study.answer('money.lcoe'))}. "
            "Give the demand: demand under [loads]. "
        )
        + _common(study)
    )


def _common(study: Study) -> str:
    return (
        ""
        if study.site.costs.uncertainty
        else "The uncertainty of the costs is not given (uncertainty under [costs]). "
    )


def life_words(found: Money) -> str:
    return (
        f"life of {years_words(found.costs.life_years)}"
        if found.items
        else years_words(found.costs.life_years)
    )


def _replaced(study: Study) -> str:
    told = study.site.costs.replaces
    return f", the price of {escape_markdown(told)}" if told else ""


def _chances(share: float) -> str:
    if share >= 0.995:
        return "Within the uncertainty of costs and energy it pays in more than 99 of 100 draws. "
    if share <= 0.005:
        return "Within the uncertainty of costs and energy it pays in fewer than 1 of 100 draws. "
    return f"Within the uncertainty of costs and energy it pays in {100 * share:.0f} of 100 draws. "


def _idle(study: Study, view: View, found: Money) -> str:
    """What is made and meets no demand."""
    spare = found.energy.spare_kwh
    if spare < 0.02 * found.energy.made_kwh or not found.valued or not found.energy.demand_known:
        return ""
    if found.export_money_per_kwh is not None:
        return (
            f"Another {_kwh(spare)} a year meet no demand and are sold for "
            f"{view.money(found.export_money_per_kwh, 2)} each. "
        )
    if found.energy.extra_heat_kwh > 0 and found.heat_money_per_kwh is not None:
        return (
            f"Another {_kwh(found.energy.extra_heat_kwh)} a year heat the rooms beyond the stated "
            f"need, at {view.money(found.heat_money_per_kwh, 2)} each. "
        )
    return (
        f"Another {_kwh(spare)} a year meet no demand and count for nothing here; if they can be "
        "sold, give export under [costs]. "
    )


def _worth_words(study: Study, view: View, found: Money) -> Words:
    """What the energy is worth, and what keeping or building the plant may cost at most."""
    if len(found.cases) > 1:
        used, sold = found.cases
        text = "No demand is given, so two cases bound what the energy of a year is worth: "
        if found.energy.source == FEW_GAUGINGS:
            low, high = found.range_money(used)
            return Words(
                text
                + (
                    f"with all of it used **{_ranged(low, high, view)}**, at "
                    f"{view.shown(study.answer('value.kwh'))}{_replaced(study)}: a few gaugings "
                    "give no narrower range; with all of it sold "
                    f"{view.money(found.range_money(sold)[0], 2)} or more. Let no change to the "
                    "plant cost more than the lower figure pays for."
                )
            )
        return Words(
            text
            + (
                f"with all of it used **{view.money(used.income_money, 2)}**, at "
                f"{view.shown(study.answer('value.kwh'))}{_replaced(study)}; with all of it sold "
                f"**{view.money(sold.income_money, 2)}**. Upkeep, repairs and replacements must "
                "cost less than that each year. Give the demand: demand under [loads]."
            )
        )
    energy, case = found.energy, found.case
    spread = energy.high_kwh > energy.low_kwh
    price = f"at {view.shown(study.answer('value.kwh'))}{_replaced(study)}"
    if energy.source == FEW_GAUGINGS:
        low, high = found.range_money(case)
        text = (
            f"The energy of a year is worth **{_ranged(low, high, view)}**, {price}: a few "
            "gaugings give no narrower range. "
        )
        return Words(text + "Let no change to the plant cost more than the lower figure pays for.")
    text = (
        f"A mean year's {of_use_words(found)} energy, {_kwh(case.kwh)}, is worth "
        f"**{view.shown(study.answer('money.worth'))}**, {price}"
    )
    text += f" {_in_80(case.income_band, view)}" if spread else ""
    text += f". This rests on {energy.source}, counted at the loads" + (
        "; year-to-year variability is not included. " if energy.draws_kwh is None else ". "
    )
    text += (
        "Upkeep, repairs and replacements must cost less than that each year, or the plant costs "
        f"more than it brings. {_idle(study, view, found)}"
    )
    whole = (
        f"keeps it running for {years_words(found.costs.life_years)} more"
        if study.exists
        else f"lasts {years_words(found.costs.life_years)}"
    )
    thing = "An overhaul that" if study.exists else "A plant that"
    upkeep = (
        f", with {plain_number(100 * found.costs.yearly_share, 2)} % of it a year for upkeep"
        if found.costs.yearly_share
        else ""
    )
    return Words(
        text
        + (
            f"{thing} {whole} is worth its cost up to **{view.money(found.most_money, 2)}**, "
            f"discounted at {rate_words(found)}{upkeep}."
        )
    )


# --- what would change it -------------------------------------------------------------------


@needs(Study.money, quiet=True)
def terms_words(study: Study, view: View, found: Money) -> Words:
    """At what terms it would just pay, which uncertainty weighs most, what a loan would take."""
    if not found.items or not found.valued:
        return Words("")
    rate = float(found.case.flow.internal_rate)
    lead = "" if len(found.cases) == 1 else "With all of the energy used: "
    text = (
        f"{lead}it would just pay at a value of {view.shown(study.answer('money.lcoe'))}, or if "
        f"the capital cost were {view.money(found.most_money, 2)}"
    )
    text += (
        ", or at a discount rate of "
        f"{'more than ' if rate > 0.999 else ''}{view.shown(study.answer('money.irr'))} above "
        "inflation (internal rate of return). "
        if np.isfinite(rate)
        else ". At no discount rate does it pay. "
    )
    text = text[0].upper() + text[1:]
    if _uncertain(found):
        wide = {name: each.width for name, each in found.case.spread.items()}
        if found.costs.uncertainty:
            text += (
                "Of the uncertainty, that of the cost alone moves the net present value by "
                f"{view.money(wide['cost'], 2)} (80 % interval), that of the energy by "
                f"{view.money(wide['energy'], 2)}: "
                + (
                    "offers in writing narrow it most. "
                    if wide["cost"] >= wide["energy"]
                    else "measuring narrows it most. "
                )
            )
        else:
            text += (
                "The uncertainty of the energy moves the net present value by "
                f"{view.money(wide['energy'], 2)} (80 % interval); the uncertainty of the costs "
                "is not given (uncertainty under [costs]), and they are taken as certain. "
            )
        text += "The value of a kWh in years to come is not part of that uncertainty. "
    return Words(text + _parts(study, view, found) + _loan(study, view, found))


def _parts(study: Study, view: View, found: Money) -> str:
    costs = found.costs
    if not costs.replacements:
        return (
            "No replacements are given; list bearings, belts and runner under "
            "`[[costs.replacement]]` with their years. "
        )
    return (
        f"Replacing {series_text([escape_markdown(each.name) for each in costs.replacements])} "
        f"costs {view.money(found.replacements_money, 3)} a year. "
    )


def _loan(study: Study, view: View, found: Money) -> str:
    """What borrowing the capital cost would take, against a mean and a bad year of each case."""
    borrowed = loan(study)
    if borrowed is None:
        return ""
    years, rate, instalment = borrowed.years, borrowed.rate, borrowed.instalment_money
    after = "upkeep and replacements" if found.costs.replacements else "upkeep"
    whole = study.site.costs.loan_share == 1 and not found.costs.grant_money
    what = "the capital cost" if whole else f"a loan of {view.money(borrowed.borrowed_money)}"
    takes = "a year" if borrowed.level else "in the first year, less in each later one"
    text = (
        f"Borrowed over {years_words(years)} at {plain_number(100 * rate, 2)} % as the bank "
        f"writes it, {what} takes {view.money(instalment, 3)} {takes}. "
    )
    for case in found.cases:
        told = "" if len(found.cases) == 1 else f"With {CASES[case.name]}, "
        left = borrowed.left_money[case.name]
        mean = (
            f"{told}{_first_year(study)}after {after} a mean year leaves "
            f"{view.money(left, 3)}, which {_covers(left, instalment)}"
        )
        bad = borrowed.bad_money[case.name]
        if np.isfinite(bad):
            mean += f"; a bad one (exceeded with {SECURE} % probability) {view.money(bad, 3)}, " + (
                "too little as well" if left < instalment else f"which {_covers(bad, instalment)}"
            )
        text += mean[0].upper() + mean[1:] + ". "
    return text.rstrip()


def _first_year(study: Study) -> str:
    """Whose prices the sums beside an instalment are in."""
    rising = study.site.costs.inflation
    return (
        f"in its first year, at prices {plain_number(100 * rising, 2)} % above today's, "
        if rising
        else ""
    )


def _covers(left: float, instalment: float) -> str:
    return "is enough" if left >= instalment else "is too little"


def references() -> Words:
    """What this page rests on."""
    return sources(
        "Net present value, payback and levelised cost: sums over the years of the plant, "
        "each discounted to the year of building, in prices of today (ISO 15686-5:2017, "
        "life-cycle costing).",
        "The internal rate of return is the discount rate at which the net present value is zero.",
        (
            "Capital recovery factor i / (1 − (1 + i)⁻ⁿ): the yearly share of a capital cost over "
            "n years at interest i."
        ),
    )
