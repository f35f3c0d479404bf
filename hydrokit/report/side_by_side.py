"""Variants of a study beside each other: one row a question, one column a variant."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..energy.levels import MEDIAN, SECURE, SECURE_NAME, level_name
from ..study.variant import told
from .display import Table

if TYPE_CHECKING:
    from ..study.study import Study
    from ..study.view import View

__all__ = ["side_by_side"]

# Question, in words. Those that no variant answers are left out.
_ASKED = {
    "head.gross": "gross head",
    "head.net": "net head, everything open",
    "loss.penstock": "head loss of the penstock",
    "plant.full_power": "power with all the water it can take",
    "limiting.component": "limiting component",
    f"energy.annual.p{MEDIAN}": f"energy of a median year ({level_name(MEDIAN)})",
    f"energy.annual.p{SECURE}": f"energy exceeded in {SECURE} % of years ({SECURE_NAME})",
    "demand.met": "demand met",
    "money.capital": "capital cost",
    "money.npv": "net present value",
    "money.payback": "payback",
    "money.lcoe": "levelised cost of a kWh",
}


def side_by_side(*studies: Study, view: View | None = None) -> Table:
    """The headline answers of variants of a study, one column each.

    Parameters
    ----------
    studies : Study
        Such as ``s, s.changed({"costs.value": "0.30 per kWh"})``.
    view : View, optional
        The reader's units; those of the first study where it is left out.

    Returns
    -------
    Table
    """
    shown = view or studies[0].view()
    rows = []
    for key, words in _ASKED.items():
        answers = [study.answer(key) for study in studies]
        if any(answers):
            rows.append(
                (
                    words,
                    *(
                        "not known"
                        if each is None
                        else shown.amount(each.value, each.kind, each.digits)
                        for each in answers
                    ),
                )
            )
    titles = [
        told(study.variant) if study.variant else f"{study.name} as it is" for study in studies
    ]
    return Table(("", *titles), rows, "Variants side by side")
