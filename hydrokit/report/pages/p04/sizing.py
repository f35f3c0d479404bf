"""Page 04: how big the plant should be."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from ....sentences import plain_number
from ....study.build.machines import opened
from ....study.study import Study
from ....study.view import View
from ...display import Rough, Table, Words, escape_markdown
from ..common import needs, sources, value
from .size_figures import along_flows, flow_figure, map_figure, money_figure

if TYPE_CHECKING:
    from ....energy.design import Design
    from ....energy.designs import Sizing
    from ....energy.moves import Move

__all__ = [
    "choice_table",
    "choice_words",
    "flow_figure",
    "headline",
    "limits_words",
    "map_figure",
    "money_figure",
    "references",
]

_AIM = {
    "cost": "the lowest levelised cost of a useful kWh",
    "winter": "the most useful energy in winter that is worth its cost",
    "worth": (
        "the highest net annual benefit: what the useful energy is worth a year less what the "
        "plant costs a year"
    ),
    "knee": "the size past which a little more flow brings little more energy",
}
# What "equal within a share" is a share of, by aim.
_OF_WHAT = {
    "cost": "of its levelised cost",
    "winter": "of its useful winter energy",
    "worth": "of its net annual benefit",
    "knee": "of its useful energy",
}


def _kwh(value: float) -> str:
    return f"{plain_number(value)} kWh"


def _wanted(study: Study) -> bool:
    """Whether a demand takes less than all of it."""
    return study.demand_w is not None


def _opened(study: Study) -> str:
    """What a design has several of."""
    return f"{opened(study)}s"


def _count(study: Study, view: View, key: str) -> str:
    """``one jet``, ``4 jets``, by a question that asks for a number of them."""
    name = _opened(study)
    return f"{view.shown(study.answer(key))} {name if value(study, key) > 1 else name[:-1]}"


def _pipe(design: Design) -> str:
    """``125 mm PVC-U PN 10 pipe``; a pipe that has no size of a catalogue is called one already."""
    name = escape_markdown(design.pipe.name)
    return name if name.startswith("pipe") else f"{name} pipe"


@needs(Study.sizing, headline=True)
def headline(study: Study, view: View, sizing: Sizing) -> Words:
    """The answer in two sentences, and the plan beside it."""
    reason = sizing.reason
    low, high = reason.flat.flows_m3s
    choice, shown = (
        reason.choice,
        {
            name: view.shown(study.answer(f"recommended.{name}"))
            for name in ("flow", "pipe", "power", "energy", "useful")
        },
    )
    first = (
        f"**Recommended: a design flow of {shown['flow']}**, with "
        f"{_count(study, view, 'recommended.jets')} and {escape_markdown(shown['pipe'])}"
    )
    if high > low:
        first += (
            f"; design flows from {view.range(low, high, 'flow')} fall short of the best by at "
            f"most {100 * reason.within:.0f} % {_OF_WHAT[reason.aim]}"
        )
    makes = f"{shown['energy']} in a mean year" + (
        f", {shown['useful']} of it useful" if _wanted(study) else ""
    )
    second = f"It makes about {makes}, at up to {shown['power']}"
    if np.isfinite(choice.levelised_money_per_kwh):
        second += (
            "; the levelised cost of a useful kWh is "
            f"{view.shown(study.answer('recommended.kwh_cost'))}"
        )
    loses = (
        " **No size pays: each costs more than its energy is worth.**"
        if choice.worth_money < 0 and reason.best.worth_money <= 0
        else ""
    )
    return Words(f"{first}. {second}.{loses}{_plan(study, view)}")


def _plan(study: Study, view: View) -> str:
    """The plan of the site file, where it is another than the recommended size."""
    if study.plan is None or study.exists:
        return ""
    shown = (
        f"{view.shown(study.answer('plan.flow'))} through "
        f"{escape_markdown(view.shown(study.answer('plan.pipe')))}, with "
        f"{_count(study, view, 'plan.jets')}"
    )
    if study.beside is None:
        return " That is the plan on which all pages are based."
    gives = "".join(
        f"{before}{view.shown(study.answer(mine))} beside {view.shown(study.answer(theirs))}{after}"
        for before, mine, theirs, after in (
            (": ", "plant.full_power", "recommended.power", ""),
            (", ", "energy.net", "recommended.energy", " in a mean year"),
        )
        if study.answer(mine) is not None and study.answer(theirs) is not None
    )
    return f" **The plan, on which all other pages are based, takes {shown}{gives}.**"


@needs(Study.sizing, quiet=True)
def choice_words(study: Study, view: View, found: Sizing) -> Words:
    """Why this size, in the numbers that decided it."""
    reason = found.reason
    choice, best = reason.choice, reason.best
    text = (
        f"The aim is {_AIM[reason.aim]}. The best of {found.kwh.size:,} designs takes "
        f"{view.text(best.flow_m3s, 'flow')} through {_pipe(best)} with {best.jets} "
        f"{_opened(study) if best.jets > 1 else _opened(study)[:-1]}"
    )
    if choice.index != best.index and np.isfinite(reason.saved_money):
        saved = (
            f"saves {view.money(reason.saved_money, 2)} of capital cost"
            if reason.saved_money >= 0.5
            else "costs no more"
        )
        text += (
            "; recommended is the cheapest that falls short of it by at most "
            f"{100 * reason.within:.0f} % {_OF_WHAT[reason.aim]}: it {saved} and gives up "
            f"{_kwh(best.useful_kwh - choice.useful_kwh)} of useful energy a year"
        )
        if np.isfinite(best.worth_money) and best.worth_money > choice.worth_money:
            text += (
                f" and {view.money(best.worth_money - choice.worth_money, 2)} of net annual benefit"
            )
    text += ". "
    if reason.within_uncertainty is not None:
        low, high = reason.within_uncertainty.flows_m3s
        text += (
            "Within the uncertainty of energy and costs, sizes from "
            f"{view.range(low, high, 'flow')} are as good as the best. "
            if high > low
            else ""
        )
    marginal = choice.marginal_kwh_per_money
    if np.isfinite(marginal) and marginal > 0:
        text += (
            f"The last step in size brings {plain_number(marginal, 2)} useful kWh a year for each "
            f"of the {view.currency} it costs. "
        )
    return Words(
        text
        + f"At full flow the head loss in the pipe is {100 * choice.loss_share:.0f} % of the gross head."
    )


# What may move the choice -> how it is called, and how far it is moved.
_MOVED = {
    "value": ("the value of a kWh", "a quarter"),
    "pipe": ("the price of pipe", "a quarter"),
    "machine": ("the price of machine and jets", "a quarter"),
    "water": ("the flow of the creek", "one standard deviation of the record"),
}


@needs(Study.sizing, quiet=True)
def limits_words(study: Study, view: View, sizing: Sizing) -> Words:
    """The one-third limit, and what would change the choice: only what does."""
    text = (
        "Where the head loss is more than a third of the gross head, more flow gives less power, "
        "so such designs are left out; so are designs for more flow than is ever available. "
    )
    found = study.sizing_moves
    moved, held = [each for each in found if each.moved], [each for each in found if not each.moved]
    for each in moved:
        name, step = _moved(study, each.what)
        text += (
            f"With {name} lower by {step} the recommended size is "
            f"{_short(study, view, sizing, each.less)}; higher by as much, "
            f"{_short(study, view, sizing, each.more)}. "
        )
    for step, names in _by_step(study, held).items():
        text += (
            f"A change in {' or in '.join(names)} by {step} leaves the recommended size as it is. "
        )
    return Words(
        text
        + (
            "The power on 95 % of the days at the recommended size is "
            f"{view.text(sizing.choice.firm_w, 'power', 2)}."
        )
    )


def _moved(study: Study, what: str) -> tuple[str, str]:
    """What is moved, and how far."""
    if what == "machine" and opened(study) != "jet":
        return "the price of the machine", _MOVED[what][1]
    return _MOVED[what]


def _by_step(study: Study, held: Sequence[Move]) -> dict[str, list[str]]:
    """What leaves the choice as it is, by how far it was moved."""
    named: dict[str, list[str]] = {}
    for each in held:
        name, step = _moved(study, each.what)
        named.setdefault(step, []).append(name)
    return named


def _short(study: Study, view: View, sizing: Sizing, design: Design) -> str:
    if design.index == sizing.choice.index:
        return "the same"
    return (
        f"{view.text(design.flow_m3s, 'flow')} in {_pipe(design)} with {design.jets} "
        f"{_opened(study) if design.jets > 1 else _opened(study)[:-1]}"
    )


def _told(study: Study, chosen: bool, name: str, along: float) -> float:
    """A number of a size along the way; of the size recommended, the answer to that question."""
    answer = study.answer(f"recommended.{name}") if chosen else None
    return along if answer is None else float(answer.value)


@needs(Study.sizing, quiet=True)
def choice_table(study: Study, view: View, found: Sizing) -> Table:
    """The sizes along the way, each with its best pipe and jets."""
    rows: list[list[float | str]] = []
    mark: list[int] = []
    valued = bool(np.isfinite(found.choice.worth_money))
    designs = along_flows(found)
    chosen = found.choice
    picked = [
        each
        for number, each in enumerate(designs)
        if number % max(1, len(designs) // 10) == 0 or each.flow_m3s == chosen.flow_m3s
    ]
    for each in picked:
        if each.flow_m3s == chosen.flow_m3s:
            each = chosen
            mark.append(len(rows))
        told = partial(_told, study, each is chosen)
        row: list[float | str] = [
            float(view.number(each.flow_m3s, "flow")),
            each.pipe.name,
            each.jets,
            float(view.number(told("power", each.rated_w), "power")),
            told("energy", each.kwh),
            *([told("useful", each.useful_kwh)] if _wanted(study) else []),
            each.winter_kwh,
            float(view.number(each.firm_w, "power")),
            f"{100 * each.loss_share:.0f} %",
        ]
        rows.append(
            row
            + (
                [
                    told("capital", each.first_money),
                    Rough(told("kwh_cost", each.levelised_money_per_kwh)),
                ]
                if found.costs is not None
                else []
            )
            + ([told("benefit", each.worth_money)] if valued else [])
        )
    columns = [
        view.header("design flow", "flow"),
        "pipe",
        _opened(study),
        view.header("power", "power"),
        "kWh a year",
        *(["useful kWh"] if _wanted(study) else []),
        "kWh in winter",
        view.header("power on 95 % of days", "power"),
        "head loss",
    ]
    columns += (
        [f"capital cost [{view.currency}]", f"levelised cost of a useful kWh [{view.currency}]"]
        if found.costs is not None
        else []
    )
    columns += [f"net annual benefit [{view.currency}]"] if valued else []
    return Table(
        columns,
        rows,
        (
            f"Sizes tried, each with its best pipe and {opened(study)}s, and, marked, the one "
            "recommended. Energy and money are net of operating losses"
        ),
        mark=tuple(mark),
        kind="sizes",
    )


def references() -> Words:
    """What this page rests on."""
    return sources(
        "Greatest power of a given pipe at a head loss of one third: B. R. Munson, D. F. "
        "Young, T. H. Okiishi, Fundamentals of Fluid Mechanics, ch. 12.",
        "Annuity and levelised cost by the usual compound-interest factors.",
        (
            "Ranges of machines: S. L. Dixon, Fluid Mechanics and Thermodynamics of "
            "Turbomachinery, table 9.3; common practice where marked in the tables."
        ),
        (
            "Setting of reaction machines: Thoma's cavitation number (definition); air pressure "
            "at altitude by ISO 2533:1975."
        ),
    )
