"""The page that lays several studies side by side."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...energy.levels import MEDIAN, SECURE, SECURE_NAME, level_name
from ...sentences import money_text, plain_number, series_text
from ...study.view import View
from ..comparison import Candidate, Order, limiting_text
from ..display import Picture, Table, Words, escape_markdown
from ..style import CREEK, ICE, INK, RUST, figure, plain_label, thousands
from .common import cautions

__all__ = [
    "HEADING",
    "headline",
    "numbers_table",
    "order_words",
    "sections",
    "picture",
    "reasons",
    "unknown_table",
]

HEADING = "Which creek first, and why?"
_RANKED = {
    "kwh": "energy of a median year (P50)",
    "benefit": "net annual benefit",
    "winter": f"winter energy, exceeded with {SECURE} % probability ({SECURE_NAME}),",
}
_COLUMN = {"benefit": ("net annual benefit",), "winter": (f"winter, {SECURE_NAME}",)}


def headline(order: Order, view: View) -> Words:
    """Which creek first, in two sentences."""
    if not order.ranked:
        waiting = f" {_listed(order.waiting)} must be measured first." if order.waiting else ""
        asked = {
            "benefit": "the net annual benefit of none of these is known",
            "winter": "the winter energy of none of these is known",
            "kwh": "the annual energy of none of these is known",
        }
        why = asked.get(order.by, "the annual energy of no planned plant among these is known")
        return Words(f"**None can be ranked yet**: {why}.{waiting}")
    first = order.ranked[0]
    if len(order.ranked) == 1 and order.by in _RANKED:
        text = (
            f"**{_name(first)}** is the only one whose {_RANKED[order.by]} is known: "
            f"{_ranked_by(first, order.by)}."
        )
    elif len(order.ranked) == 1:
        text = f"**{_name(first)}** is the only planned plant whose annual energy is known: {_energy(first)}."
    elif order.apart[0]:
        text = f"**{_name(first)}** first: {_why_first(order)}."
    else:
        text = (
            f"**{_name(first)}** is ahead of {_name(order.ranked[1])} by less than the "
            f"uncertainty of the figures: {_why_first(order)}."
        )
    if order.waiting:
        text += f" {_listed(order.waiting)} cannot be compared yet."
    return Words(text)


def _why_first(order: Order) -> str:
    first, second = order.ranked[:2]
    if order.by in _RANKED:
        return (
            f"its {_RANKED[order.by]} is {_ranked_by(first, order.by)}, compared with "
            f"{_ranked_by(second, order.by)}"
        )
    if order.by == "energy":
        return (
            f"its {SECURE_NAME} (exceeded with {SECURE} % probability in one year) is "
            f"{_kwh(first.secure_kwh)}, compared with {_kwh(second.secure_kwh)}"
        )
    return f"its levelised cost is {_cost(first)} per kWh, compared with {_cost(second)}"


def reasons(order: Order) -> list[str]:
    """Why each stands where it stands, in plain text, in the order of ``order.every``."""
    told = [_reason(order, place) for place in range(len(order.ranked))]
    told += [
        f"runs today, so it is not ranked with the plants to be built; {_energy(each)}"
        for each in order.running
    ]
    return told + [_waiting(each, order.by) for each in order.waiting]


def _reason(order: Order, place: int) -> str:
    this, ranked = order.ranked[place], order.ranked
    parts = [_energy(this)]
    if order.by == "benefit":
        parts.insert(0, f"its net annual benefit is {_benefit(this)}")
    elif order.by == "winter":
        parts.insert(
            0,
            (
                f"its winter brings at least {_kwh(this.winter_secure_kwh)} with {SECURE} % "
                f"probability ({SECURE_NAME})"
            ),
        )
    if order.by == "cost":
        share = this.cost_money_per_kwh / ranked[0].cost_money_per_kwh - 1
        parts.insert(
            0,
            f"its levelised cost is {_cost(this)} per kWh"
            + (f", {100 * share:.0f} % more than the first" if place and share >= 0.005 else ""),
        )
    elif np.isfinite(this.cost_money_per_kwh):
        parts.append(f"its levelised cost is {_cost(this)} per kWh")
    parts.append(f"{100 * this.winter_share:.0f} % of the energy of a mean year comes in winter")
    if place + 1 < len(ranked):
        other = ranked[place + 1]
        if not order.apart[place]:
            parts.append(
                f"the uncertainty of the figures is larger than its lead over {other.name}"
            )
        if order.by == "cost" and other.secure_kwh > this.secure_kwh:
            parts.append(
                f"{other.name} has the higher {SECURE_NAME} ({_kwh(other.secure_kwh)}), but "
                "each kWh costs more"
            )
    return "; ".join(parts)


def _waiting(this: Candidate, by: str = "") -> str:
    if by in _RANKED and this.comparable:
        return f"cannot be ranked: its {_RANKED[by]} is not known; {_energy(this)}"
    bracket = (
        f", only that it lies between {_kwh(this.low_kwh)} and {_kwh(this.high_kwh)}"
        if np.isfinite(this.low_kwh)
        else ""
    )
    runs = "runs today; " if this.exists else ""
    without = f"without {series_text(this.lacking)} " if this.lacking else ""
    return f"{runs}not comparable yet: {without}its annual energy is not known{bracket}"


def order_words(order: Order, view: View) -> Words:
    """The order, each with its reason; then those that cannot be ordered."""
    every, told = order.every, reasons(order)
    lines = [
        f"{place}. **{_name(each)}**: {escape_markdown(reason)}."
        for place, (each, reason) in enumerate(zip(every, told), 1)
        if place <= len(order.ranked)
    ]
    lines += [""] if lines else []
    lines += [
        f"- **{_name(each)}**: {escape_markdown(reason)}."
        for each, reason in list(zip(every, told))[len(order.ranked) :]
    ]
    by = {
        "cost": "The order is by the levelised cost per kWh over the life of the plant.",
        "energy": (
            f"The order is by the {SECURE_NAME} energy of one year, since costs are not known for all of "
            "them in one currency."
        ),
        "kwh": "The order is by the net energy of a median year (P50), as asked.",
        "benefit": (
            "The order is by the net annual benefit, as asked: what the energy of a mean year is "
            "worth, less the annuity of the capital cost and upkeep."
        ),
        "winter": (
            f"The order is by the net energy of one winter, exceeded with {SECURE} % probability "
            f"({SECURE_NAME}), as asked."
        ),
    }[order.by]
    winters = (
        ""
        if len({each.winter for each in every}) == 1
        else " The winter months differ between them, so their winters compare only roughly."
    )
    basis = f" {order.basis}" if order.basis else ""
    return Words((f"{by}{basis}{winters}\n\n" if order.ranked else "") + "\n".join(lines))


def numbers_table(order: Order, view: View) -> Table:
    """The numbers side by side."""
    columns = (
        "creek or plant",
        view.header("gross head", "head"),
        view.header("full flow", "flow"),
        view.header("full power", "large power"),
        "median year, P50 [kWh]",
        f"dry year, {SECURE_NAME} [kWh]",
        "winter share",
        "levelised cost per kWh",
        *(_COLUMN[order.by] if order.by in _COLUMN else ()),
        "limiting component",
    )
    rows = []
    for each in order.every:
        shown = [
            float(view.number(value, kind))
            for value, kind in (
                (each.head_m, "head"),
                (each.flow_m3s, "flow"),
                (each.power_w, "large power"),
            )
        ]
        energy: list[Any] = [each.p50_kwh, each.secure_kwh]
        if np.isfinite(each.low_kwh):
            energy = [
                f"between {plain_number(each.low_kwh, 2)}",
                f"and {plain_number(each.high_kwh, 2)}",
            ]
        winter = f"{100 * each.winter_share:.0f} %" if np.isfinite(each.winter_share) else ""
        cost = (
            f"{_cost(each)} ± {100 * each.cost_sd:.0f} %"
            if np.isfinite(each.cost_money_per_kwh)
            else "runs already"
            if each.exists
            else "not known"
        )
        asked = [_ranked_by(each, order.by)] if order.by in _COLUMN else []
        rows.append([each.name, *shown, *energy, winter, cost, *asked, limiting_text(each)])
    caption = (
        f"Side by side. Full flow and power are those with everything open; {SECURE_NAME} is exceeded with "
        f"{SECURE} % probability in one year, the uncertainty of the measurements included"
    )
    return Table(columns, rows, caption, mark=(0,) if order.ranked else ())


def unknown_table(order: Order, view: View) -> Table:
    """What is not known yet, and what to measure next."""
    rows = [
        (each.name, "; ".join(map(view.told, each.unknown)) or "nothing that matters here")
        for each in order.every
    ]
    return Table(
        ("creek or plant", "missing, and what to measure next"), rows, "What is not known yet"
    )


def picture(order: Order, view: View) -> Picture:
    """Secure level and median of the energy of one year, and brackets where there is no record."""
    every = order.every
    with figure(7.4, 0.9 + 0.55 * len(every)) as (made, axes):
        for row, each in enumerate(every):
            if np.isfinite(each.secure_kwh):
                axes.plot(
                    [each.secure_kwh, each.p50_kwh],
                    [row, row],
                    color=CREEK,
                    linewidth=7,
                    solid_capstyle="butt",
                    label=f"one year, {SECURE_NAME} to {level_name(MEDIAN)}",
                )
                axes.plot(each.secure_kwh, row, "|", color=INK, markersize=16, markeredgewidth=2)
                axes.plot(
                    each.winter_secure_kwh,
                    row,
                    "D",
                    color=ICE,
                    markeredgecolor=INK,
                    markersize=6,
                    label=f"winter alone, {SECURE_NAME}",
                )
            elif np.isfinite(each.low_kwh):
                axes.plot(
                    [each.low_kwh, each.high_kwh],
                    [row, row],
                    color=RUST,
                    linewidth=3,
                    linestyle=(0, (1, 0.6)),
                    label="bracket, no record",
                )
            else:
                axes.annotate(
                    "not known",
                    (0, row),
                    xytext=(6, 0),
                    textcoords="offset points",
                    va="center",
                    color=RUST,
                )
        axes.set_yticks(range(len(every)), [plain_label(each.name, 26) for each in every])
        axes.set(ylim=(len(every) - 0.4, -0.6), xlim=(0, None), xlabel="energy of a year [kWh]")
        axes.tick_params(axis="y", length=0)
        thousands(axes.xaxis)
        handles = dict(zip(*reversed(axes.get_legend_handles_labels())))
        if handles:
            axes.legend(
                handles.values(),
                handles.keys(),
                loc="lower left",
                bbox_to_anchor=(0, 1.0),
                ncols=3,
                borderaxespad=0.2,
            )
    told = "; ".join(
        f"{each.name} {plain_number(each.secure_kwh)} to {plain_number(each.p50_kwh)} kWh"
        for each in every
        if each.comparable
    )
    return Picture(
        made,
        f"Energy of one year, {SECURE_NAME} to {level_name(MEDIAN)}: {told or 'not known for any'}.",
    )


def sections(order: Order, view: View) -> list[object]:
    """What stands below the headline, as the page has it from top to bottom."""
    return [
        "## In which order?",
        order_words(order, view),
        picture(order, view),
        "## What are the numbers?",
        numbers_table(order, view),
        "## What is not known yet?",
        unknown_table(order, view),
        cautions("rights", "estimate"),
        (
            "Energies, and costs unless said otherwise above, are those of each study's own page; "
            "run `hydrokit run` there for the working. Units shown: "
            f"{'US' if view.system == 'us' else 'metric'}."
        ),
    ]


def _name(this: Candidate) -> str:
    return escape_markdown(this.name)


def _listed(these: tuple[Candidate, ...]) -> str:
    names = [_name(each) for each in these]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def _kwh(value: float) -> str:
    return f"{plain_number(value)} kWh"


def _energy(this: Candidate) -> str:
    return (
        f"P50 {_kwh(this.p50_kwh)} (median year), {SECURE_NAME} {_kwh(this.secure_kwh)} (exceeded "
        f"with {SECURE} % probability in one year)"
    )


def _ranked_by(this: Candidate, by: str) -> str:
    """The number that a reader asked to rank by."""
    if by == "benefit":
        return _benefit(this)
    return _kwh_known(this.winter_secure_kwh if by == "winter" else this.p50_kwh)


def _benefit(this: Candidate) -> str:
    if not np.isfinite(this.benefit_money):
        return "not known"
    return money_text(this.benefit_money, this.currency, 2)


def _kwh_known(value: float) -> str:
    return _kwh(value) if np.isfinite(value) else "not known"


def _cost(this: Candidate) -> str:
    return money_text(this.cost_money_per_kwh, this.currency, 2)
