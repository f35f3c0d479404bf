"""The headline numbers in words: what each is called, and how it is shown."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..energy.levels import SECURE, SECURE_NAME
from ..sentences import Reader
from ..stream.months import MONTH_NAMES

__all__ = ["HEADLINES", "Headline", "headline", "shown_pair"]


@dataclass(frozen=True)
class Headline:
    """One headline number.

    Parameters
    ----------
    words : str
        What it is, as a reader calls it.
    kind : str
        How the view shows it; ``text`` for what is no number.
    """

    words: str
    kind: str


_EXCEEDED = "energy of one year exceeded with {} % probability (P{})"

# Table and name in the results -> words. Where it is an answer, the words are those of its question.
HEADLINES = {
    "site.name": Headline("name of the study", "text"),
    "creek.days": Headline("days on record", "count"),
    "creek.mean_flow_m3s": Headline("mean flow of the creek", "flow"),
    "creek.flow_05_percent_m3s": Headline("flow exceeded on 5 % of the days (Q5)", "flow"),
    "creek.flow_50_percent_m3s": Headline("median flow (Q50)", "flow"),
    "creek.flow_95_percent_m3s": Headline("flow exceeded on 95 % of the days (Q95)", "flow"),
    "creek.usable_mean_m3s": Headline("mean available flow", "flow"),
    "creek.low_7_days_10_years_m3s": Headline("lowest 7 days in 10 years", "flow"),
    "creek.intake_flood_m3s": Headline("flood the intake must survive", "large flow"),
    "creek.gaugings": Headline("gaugings", "count"),
    "creek.lowest_gauged_m3s": Headline("lowest flow gauged", "flow"),
    "works.gross_head_m": Headline("gross head", "head"),
    "works.highest_pressure_pa": Headline("highest pressure in the penstock", "pressure"),
    "works.flood_over_weir_m": Headline("depth of the flood over the intake weir", "length"),
    "works.notch_width_m": Headline("width of the notch for the residual flow", "length"),
    "works.overflow_level_m": Headline("level over the edge of the overflow", "length"),
    "works.line_full_bore_m3s": Headline("flow of the diversion line running full", "flow"),
    "works.line_margin_m": Headline("level margin before the diversion line stalls", "length"),
    "works.line_stalls_at_m": Headline("level at which the diversion line stalls", "length"),
    "plant.full_power_w": Headline("power with all the water it can take", "large power"),
    "plant.full_flow_m3s": Headline("flow with everything open", "flow"),
    "plant.net_head_m": Headline("net head, everything open", "head"),
    "plant.jets_change_m3s": Headline("flow at which the jets are changed", "flow"),
    "plant.cable_current_a": Headline("current in the main cable", "current"),
    "size.flow_m3s": Headline("design flow of the size chosen", "flow"),
    "size.equal_from_m3s": Headline("smallest design flow that is as good", "flow"),
    "size.equal_to_m3s": Headline("largest design flow that is as good", "flow"),
    "size.pipe": Headline("pipe of the size chosen", "text"),
    "size.jets": Headline("jets of the size chosen", "count"),
    "size.kwh": Headline("energy of the size chosen", "kWh"),
    "size.loss_share": Headline("head loss of the size chosen", "share"),
    "today.power_w": Headline("power as the plant runs today", "large power"),
    "today.flow_m3s": Headline("flow as the plant runs today", "flow"),
    "today.efficiency": Headline("efficiency as the plant runs today", "share"),
    "today.loss_m": Headline("head loss as the plant runs today", "head"),
    "log.annual_kwh": Headline("energy of a year by the log", "kWh"),
    "log.low_kwh": Headline("energy of a year by the log, low end", "kWh"),
    "log.high_kwh": Headline("energy of a year by the log, high end", "kWh"),
    "log.healthy_kwh": Headline("energy of a year by the log, were the plant healthy", "kWh"),
    "bracket.low_kwh": Headline("energy of a year from the gaugings alone, low end", "kWh"),
    "bracket.high_kwh": Headline("energy of a year from the gaugings alone, high end", "kWh"),
    "upgrades.aim": Headline("what the changes are put in order by", "text"),
    "upgrades.today": Headline("what the order counts, today", "number"),
    "upgrades.all": Headline("what the order counts, after all changes that pay", "number"),
    "upgrades.first": Headline("change to make first", "text"),
    "energy.annual_kwh": Headline("net energy of a mean year", "kWh"),
    "energy.winter_kwh": Headline("net energy of a mean winter", "kWh"),
    "energy.capacity_factor": Headline("capacity factor", "share"),
    "energy.days_full": Headline("days a year at full power", "days"),
    "energy.days_under_fed": Headline("days a year under-fed", "days"),
    "energy.days_stopped": Headline("days a year stopped", "days"),
    "energy.monthly_kwh": Headline("net energy of a mean {}", "kWh"),
    "energy.useful_kwh": Headline("useful energy of a mean year", "kWh"),
    "uncertainty.annual_p50_kwh": Headline("energy of a median year (P50)", "kWh"),
    **{
        f"uncertainty.annual_p{level}_kwh": Headline(_EXCEEDED.format(level, level), "kWh")
        for level in (75, 90, 95, 99)
    },
    f"uncertainty.ten_years_p{SECURE}_kwh": Headline(
        f"mean of ten years exceeded with {SECURE} % probability ({SECURE_NAME})", "kWh"
    ),
    f"uncertainty.mean_p{SECURE}_kwh": Headline(
        f"mean of many years exceeded with {SECURE} % probability ({SECURE_NAME})", "kWh"
    ),
    "days.jets_cost_kwh": Headline("energy lost by changing jets on visits only", "kWh"),
    "days.ramp_cost_kwh": Headline("energy lost by the limit on how fast the take may rise", "kWh"),
    "days.frost_cost_kwh": Headline("energy lost by frost", "kWh"),
    "days.pond_cost_kwh": Headline("energy lost, or below zero gained, by the pond", "kWh"),
    "money.worth_at_least": Headline("value of the energy of a year, at least", "money"),
    "money.worth_at_most": Headline("value of the energy of a year, at most", "money"),
    "money.worth": Headline("value of the energy of a year", "money"),
    "money.capital_cost": Headline("capital cost", "money"),
    "money.cost_per_kwh": Headline("levelised cost of a kWh", "money per kWh"),
    "money.net_present_value": Headline("net present value", "money"),
    "money.net_present_value_p10": Headline("net present value, tenth per cent of draws", "money"),
    "money.net_present_value_p90": Headline(
        "net present value, ninetieth per cent of draws", "money"
    ),
    "money.net_present_value_all_sold": Headline("net present value if all is sold", "money"),
    "money.payback_years": Headline("payback", "years"),
    "heat.house_w_per_k": Headline("heat loss of the house", "heat loss"),
    "heat.met_share": Headline("share of the heat demand met", "share"),
}

_OF_A_LIST = re.compile(r"(.*)\[(\d+)\]")
_DIGITS, _MOST_DIGITS = 3, 7  # the files hold seven


def headline(name: str) -> Headline:
    """What a headline number is called, by its name in the results; ``energy.monthly_kwh[3]`` is
    that of March.

    >>> headline("plant.jets_change_m3s[2]").words, headline("energy.monthly_kwh[3]").words
    ('flow at which the jets are changed, number 2', 'net energy of a mean March')
    """
    listed = _OF_A_LIST.fullmatch(name)
    whole = listed[1] if listed else name
    found = HEADLINES.get(whole, Headline(whole, "text"))
    if listed is None:
        return found
    number = int(listed[2])
    if "{}" in found.words and 1 <= number <= len(MONTH_NAMES):
        return Headline(found.words.format(MONTH_NAMES[number - 1]), found.kind)
    return Headline(f"{found.words}, number {number}", found.kind)


def shown_pair(old: object, new: object, kind: str, view: Reader) -> tuple[str, str]:
    """Two values in the reader's units, with as many digits as tell them apart.

    >>> shown_pair(25308.0, 25312.0, "kWh", Reader("metric")), shown_pair(0.016, 0.018, "flow", Reader("us"))
    (('25,308 kWh', '25,312 kWh'), ('254 gpm', '285 gpm'))
    """
    for digits in range(_DIGITS, _MOST_DIGITS + 1):
        before, after = (_shown(each, kind, view, digits) for each in (old, new))
        if before != after:
            break
    return before, after


def _shown(value: Any, kind: str, view: Reader, digits: int) -> str:
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    number = isinstance(value, (int, float))
    if kind == "text":
        kind = "number" if number else "text"
    elif not number or not np.isfinite(value):
        return str(value)
    return view.amount(value, kind, digits)
