"""What to buy and build, at the end of the page on size."""

from __future__ import annotations

from typing import Any

from ..display import Table, View, Words, plain_number
from ..parts_list import parts_list
from .common import needs

__all__ = ["buying_table", "buying_words"]


@needs("plant")
def buying_words(study: Any, view: View) -> Words:
    """What the list is, and what it is not."""
    if study.exists:
        first = "The plant runs: this is what it is made of, for spares and repairs."
    elif study.sizing is not None and not {"design_flow", "jet_diameter"} & set(study.site["turbine"]):
        first = f"For the size chosen above, {view.text(study.sizing.choice.flow_m3s, 'flow', 2)}."
    else:
        first = "For the plant as the site file describes it."
    return Words(f"{first} Amounts follow from the numbers beside them; change a number in the site file and the list changes with it. Take it to a dealer for prices, and to whoever is licensed for pipes under pressure and for wiring before you order.")


@needs("plant")
def buying_table(study: Any, view: View) -> Table:
    """The list, each line with the number it follows from."""
    rows = []
    for each in parts_list(study, view):
        amount = view.text(each.amount, each.kind) if each.kind else plain_number(each.amount, 4)
        rows.append((each.group, each.what, amount, each.follows))
    return Table(("part of the plant", "what", "how much", "follows from"), rows, "What to buy and build")
