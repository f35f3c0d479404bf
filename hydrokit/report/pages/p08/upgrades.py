"""Page 08: which change is worth most."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number, series_text
from ....study.study import Study
from ....study.view import View
from ...display import Picture, Table, Words, escape_markdown
from ...style import (
    FILLS,
    MONTH_LETTERS,
    MONTH_NAMES,
    figure,
    legend_above,
    plain_label,
)
from ..common import needs, sources
from ..p03.phrases import limits_verb

if TYPE_CHECKING:
    from ....energy.cases import Case
    from ....energy.staircase import Staircase, Step
    from ....energy.worth import GivenUp
    from ....plant.chain import Chain
    from ....study.build.limiting import LimitingDays

__all__ = [
    "limiting_figure",
    "limiting_words",
    "headline",
    "left_words",
    "references",
    "rules_table",
    "staircase_table",
    "staircase_words",
]

_ASKED = 24  # steps that are asked for by number
COLOURS = [colour for colour, _ in FILLS]


def unit_of(found: Staircase) -> str:
    """What the staircase counts in: kWh a year, or watts where there is no record."""
    return "W" if found.aim.endswith("_w") else "kWh"


def amount(found: Staircase, value: float) -> str:
    return f"{plain_number(value)} {unit_of(found)}" + ("" if unit_of(found) == "W" else " a year")


def steps_that_help(found: Staircase) -> list[Step]:
    return [step for step in found.steps if step.gain[found.aim] > 0]


@needs(Study.plant, headline=True)
def headline(study: Study, view: View, _: Chain) -> Words:
    """One sentence an owner can act on."""
    found, limiting = study.upgrades, study.limiting_days
    if study.base_case is None or limiting is None:
        return Words(
            "**Not known yet.** The energy of this plant is not known: a daily record, a few "
            "gaugings or a log are needed."
        )
    if found is None and "upgrades" in study.refused:
        return Words(
            f"{_limiting_sentence(limiting)} The changes listed could not be weighed: "
            f"{escape_markdown(view.told(study.refused['upgrades']))}."
        )
    if found is None:
        return Words(
            f"{_limiting_sentence(limiting)} No changes are listed to weigh; name them under "
            "[[upgrade]] in the site file, with what they cost."
        )
    steps = steps_that_help(found)
    if not steps:
        return Words(
            "**None of the changes listed brings anything**: none of them changes the limiting component. "
            + _limiting_sentence(limiting)
        )
    first, base = study.answer("upgrade.first"), found.base[found.aim]
    if first is None:
        return Words(
            "**None of the changes listed pays**: the energy each adds is worth less than its "
            "cost. Nearest to it: "
            f"{_told(study, view, found, max(steps, key=lambda step: step.net_money))}. "
            f"{_limiting_sentence(limiting)}"
        )
    step = next(each for each in steps if " with ".join(each.names) == first.value)
    text = (
        f"First: **{escape_markdown(view.shown(first))}**, "
        f"{_told(study, view, found, step, named=False)}, "
        f"{_percent(step.gain[found.aim], base)}{(' of today' if study.exists else ' of the plan') if base > 0 else ''}."
    )
    paying = [each for each in steps if each.pays is not False and each is not step]
    if paying:
        text += f" Then {series_text([_told(study, view, found, each) for each in paying[:3]])}."
    return Words(text)


def _told(study: Study, view: View, found: Staircase, step: Step, named: bool = True) -> str:
    """A step with its net annual benefit, what it brings and its cost."""
    number = found.steps.index(step) + 1
    free = "free" if step.cost_money == 0 else view.money(step.cost_money, 2)
    benefit, gain = (
        study.answer(f"upgrade.{number}.{name}") if number <= _ASKED else None
        for name in ("benefit", "gain")
    )
    brings = (
        amount(found, step.gain[found.aim])
        if gain is None
        else view.shown(gain) + ("" if unit_of(found) == "W" else " a year")
    )
    worth = "" if benefit is None else f", net annual benefit {view.shown(benefit)}"
    return (
        (f"{_names(step)} (" if named else "")
        + f"{free}{worth}, {brings}{' of useful energy' if useful(found) and unit_of(found) == 'kWh' else ''}"
        + (")" if named else "")
    )


def useful(found: Staircase) -> bool:
    return found.aim.startswith("useful")


def _percent(gain: float, base: float) -> str:
    return f"{100 * gain / base:+.0f} %" if base > 0 else "where there was nothing"


def _names(step: Step) -> str:
    return escape_markdown(" with ".join(step.names))


def _sizes(study: Study, view: View, name: str) -> str:
    """What a change is, in numbers: the size that is bought, whether it pays or not."""
    number = next(place for place, each in enumerate(study.changes, 1) if each.name == name)
    return ", ".join(
        f"{what} {view.shown(study.answer(f'change.{number}.{key}'))}"
        for key, what, _, _ in study.changes[number - 1].sizes
    )


def _alone(study: Study, view: View, found: Staircase, name: str) -> str:
    """A change that brings nothing beside the others: its size, and what it would bring alone."""
    number = next(place for place, each in enumerate(study.changes, 1) if each.name == name)
    told = [_sizes(study, view, name)]
    gain, benefit = (study.answer(f"change.{number}.{each}") for each in ("gain", "benefit"))
    if gain is not None:
        told.append(f"alone {view.shown(gain)}{'' if unit_of(found) == 'W' else ' a year'}")
    if benefit is not None:
        told.append(f"net annual benefit {view.shown(benefit)}")
    return f"{escape_markdown(name)} ({'; '.join(each for each in told if each)})"


def _limiting_sentence(found: LimitingDays) -> str:
    when = "Over the year" if found.whole_record else "In the months whose flow is known"
    (first, share), *others = found.share.items()
    mostly, much = ("", "all") if share > 0.995 else ("mostly ", f"{100 * share:.0f} %")
    of_what = "of the time" if found.whole_record else "of them"
    text = f"{when} the power is limited {mostly}by **the {escape_markdown(first)}** ({much} {of_what})"
    if not others:
        return text + "."
    second, share = others[0]
    return f"{text}, then by the {escape_markdown(second)} ({100 * share:.0f} %)."


@needs(Study.base_case, Study.limiting_days)
def limiting_figure(study: Study, view: View, _: Case, found: LimitingDays) -> Picture:
    """The limiting component, month by month."""
    months = np.arange(1, 13)
    with figure(7.4, 2.9) as (made, axes):
        bottom = np.zeros(12)
        for number, (part, share) in enumerate(found.by_month.items()):
            axes.bar(
                months,
                100 * share,
                0.75,
                bottom=bottom,
                color=FILLS[number % len(FILLS)][0],
                hatch=FILLS[number % len(FILLS)][1],
                label=plain_label(part),
                edgecolor="white",
                linewidth=0.5,
            )
            bottom = bottom + 100 * share
        axes.set(xlim=(0.5, 12.5), ylim=(0, 101), xticks=months)
        axes.set_ylabel(
            "share of the days [%]" if found.whole_record else "on the median day of the month [%]"
        )
        axes.set_xticklabels(MONTH_LETTERS)
        axes.grid(axis="x", visible=False)
        legend_above(axes)
    said = "; ".join(f"{part} {100 * share:.0f} %" for part, share in found.mean_of_known.items())
    return Picture(made, f"The limiting component of the plant by month: {said}.")


@needs(Study.limiting_days, quiet=True)
def limiting_words(study: Study, view: View, found: LimitingDays) -> Words:
    """The limiting component, and how far the next is behind."""
    text = (
        f"{_limiting_sentence(found)} At the median available flow of "
        f"{view.text(found.median_flow_m3s, 'flow')} the limiting component is the "
        f"{escape_markdown(found.part)}; "
    )
    text += (
        "another part limits alike, so mending either alone brings nothing."
        if found.alike
        else (
            f"past {view.text(found.behind_w, 'power', 2)} more, the "
            f"{escape_markdown(found.next_part)} {limits_verb(found.next_part)} it."
        )
    )
    if not found.whole_record and len(found.known_months) < 12:
        known = series_text([MONTH_NAMES[each - 1] for each in found.known_months])
        text += f" Only the months whose flow is known are shown: {known}."
    return Words(text)


@needs(Study.upgrades, quiet=True)
def staircase_table(study: Study, view: View, found: Staircase) -> Table | Words:
    """Each step: what it brings given the steps before, its range, its price, whether it pays."""
    if not found.steps:
        return Words("")
    aim, unit = found.aim, unit_of(found)
    winter = ("useful_" if useful(found) else "") + ("winter_w" if unit == "W" else "winter_kwh")
    kinds = {
        "alone": "",
        "needs": "with what it needs",
        "pair": "a pair: one alone brings little",
        "together": "only together",
    }
    rows = []
    for number, step in enumerate(found.steps, 1):
        span = (
            ""
            if step.gain_low is None or step.gain_high is None
            else f"{plain_number(step.gain_low[aim], 2)} to {plain_number(step.gain_high[aim], 2)}"
        )
        benefit, gain = (
            study.answer(f"upgrade.{number}.{name}") if number <= _ASKED else None
            for name in ("benefit", "gain")
        )
        rows.append(
            (
                " + ".join(step.names),
                ""
                if np.isnan(step.net_money)
                else step.net_money
                if benefit is None
                else view.shown(benefit, unit=False),
                {True: "yes", False: "no", None: "not known"}[step.pays],
                step.gain[aim] if gain is None else view.shown(gain, unit=False),
                span,
                step.gain.get(winter, np.nan),
                "free" if step.cost_money == 0 else step.cost_money,
                number,
                "; ".join(
                    each
                    for each in (
                        *(_sizes(study, view, name) for name in step.names),
                        kinds[step.kind],
                    )
                    if each
                ),
            )
        )
    order = sorted(
        range(len(rows)),
        key=lambda place: (
            np.isnan(found.steps[place].net_money),
            -np.nan_to_num(found.steps[place].net_money),
            place,
        ),
    )
    what = f"useful {unit}" if useful(found) else unit
    columns = (
        "change",
        f"net annual benefit [{view.currency}]",
        "pays",
        f"brings [{what}]",
        "80 % of outcomes lie in",
        f"in winter [{what}]",
        f"capital cost [{view.currency}]",
        "step",
        "remark",
    )
    return Table(
        columns,
        [rows[place] for place in order],
        "Changes by their net annual benefit, each given the steps before it",
    )


@needs(Study.upgrades, quiet=True)
def staircase_words(study: Study, view: View, found: Staircase) -> Words:
    """What the staircase means."""
    aim = found.aim
    if not found.steps:
        return Words("")
    end, base = found.end[aim], found.base[aim]
    text = (
        f"All steps together bring the plant from {amount(found, base)} to "
        f"{amount(found, end)}{' of useful energy' if useful(found) and unit_of(found) == 'kWh' else ''}. "
        "Each step is counted on top of those before it: in another order each would bring another amount, and changes to two parts that limit alike bring much "
        "only together. "
    )
    paying = [step for step in found.steps if step.pays]
    if found.steps and all(step.pays is None for step in found.steps):
        text += "Their worth in money is not known: give [costs] value, what a kWh is worth here. "
    elif paying:
        text += f"Worth their cost: {'; '.join(_names(step) for step in paying)}. "
    elif found.steps:
        text += "None of them is worth its cost. "
    if found.undo:
        text += (
            "Once all steps are made, undo "
            f"{series_text([escape_markdown(name) for name in found.undo])}: without it the plant "
            "gives more. "
        )
    if useful(found):
        text += (
            "Only useful energy (demand met) counts: more energy in months that have enough is "
            "worth nothing"
        )
        text += ", except for what is sold. " if found.search.spare else ". "
    if study.logged_months is not None:
        text += (
            "The steps start from what the plant made by its own log: a cleaner screen and fewer "
            "stops can bring back no more than the log lost to them."
        )
    elif unit_of(found) == "W":
        text += (
            "Without a daily record the steps are counted in watts: the mean over the months "
            "whose flow is known."
        )
    return Words(text)


@needs(Study.upgrades, quiet=True)
def left_words(study: Study, view: View, upgrades: Staircase) -> Words:
    """Changes that would bring nothing."""
    left = upgrades.left
    if not left:
        return Words("Every change listed brings something.")
    once = " once the others are done" if upgrades.steps else ""
    return Words(
        f"Brings nothing{once}: "
        f"{'; '.join(_alone(study, view, upgrades, each.name) for each in left)}. What they "
        "change does not limit the power."
    )


@needs(Study.rules_price)
def rules_table(study: Study, view: View, found: GivenUp) -> Table | Words:
    """Energy given up to each rule on the creek's water."""
    if not found.prices:
        return Words(
            "*No residual flow (environmental flow) is given, so no energy is given up to "
            "one. Ask the authority what must stay in the creek, and write it under "
            "`[[rights.residual]]`.*"
        )
    rows = [(view.told(each.text), each.kwh, each.winter_kwh) for each in found.prices]
    rows.append(("all together", found.together_kwh, found.together_winter_kwh))
    overlap = (
        "; each line without that rule alone: where several hold at once the others still do, so "
        "the lines do not add up"
        if len(found.prices) > 1
        else ""
    )
    return Table(
        ("rule", "a year [kWh]", "in winter [kWh]"),
        rows,
        "Energy given up to each rule on the creek's water: residual flow, licence, yearly volume"
        + overlap,
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "Limiting component: each part's limit is the power the plant would give if that part "
        "alone limited it; the least of them is the power.",
        "Staircase: all subsets of the changes are tried, so pairs that only work together are found.",
    )
