"""What to buy and build, at the end of the page on size."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ....sentences import plain_number
from ....study.study import Study
from ....study.view import View
from ...display import Table
from ...parts_list import parts_list
from ..common import needs

if TYPE_CHECKING:
    from ....plant.chain import Chain

__all__ = ["buying_table"]


@needs(Study.plant)
def buying_table(study: Study, view: View, plant: Chain) -> Table:
    """The list, each line with the number it follows from."""
    rows = []
    for each in parts_list(study, view):
        amount = view.text(each.amount, each.kind) if each.kind else plain_number(each.amount, 4)
        rows.append((each.group, each.what, amount, each.follows))
    return Table(
        ("part of the plant", "what", "how much", "follows from"),
        rows,
        f"What to buy and build {_for_what(study, view)}",
    )


def _for_what(study: Study, view: View) -> str:
    if study.exists:
        return "for the plant that runs today: spares and repairs"
    if study.plan is None:
        return "for the plant as the site file describes it"
    chosen = (
        "the size chosen for it above"
        if study.described is None and study.baseline is None
        else "as the site file describes it"
    )
    return f"for the plan, {chosen}: {view.shown(study.answer('plan.flow'))}"
