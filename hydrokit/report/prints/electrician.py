"""The sheet to hand to a licensed electrician: circuits and breakers, and the list of what protects
people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..display import Table
from ..pages.common import caution_text
from ..pages.p06.electrician import list_table, list_words, protection_table
from .sheet import Sheet, care, cells_of, fill, fitted, grid

if TYPE_CHECKING:
    from ...study.study import Study
    from ...study.view import View

__all__ = ["electrician_sheets"]

_ROOM_MM = 176.0  # for the rows of the list on a sheet
_LIST = (("point", 22.0), ("known", 52.0), ("owed", 56.0), ("status", 20.0), ("done", 10.0))
_CIRCUITS = (
    ("circuit", 26.0),
    ("breaker [A]", 12.0),
    ("conductor", 28.0),
    ("it bears [A]", 12.0),
    ("breaker protects it", 14.0),
    ("short circuit at its end [A]", 18.0),
    ("trips at once at 5 × rating", 14.0),
)
_CELLS = (0, 1, 2, 3, 4, 6, 7)  # of the page's table
_CIRCUIT_ROOM_MM = 190.0


def electrician_sheets(study: Study, view: View) -> list[Sheet]:
    """The list, then the circuits; none where the wires are not known."""
    points, words = list_table(study, view), list_words(study, view)
    if not isinstance(points, Table) or not points.rows or study.electrical is None:
        return []
    rows = [[*cells, ""] for cells in cells_of(points, (0, 1, 2, 3))]
    parts = fitted([share for _, share in _LIST], rows, _ROOM_MM)
    bodies = [
        (care([words.text]) if number == 0 else "") + grid(_LIST, shown, size_pt=size)
        for number, (size, shown) in enumerate(parts)
    ]
    circuits = protection_table(study, view)
    if isinstance(circuits, Table):
        held = cells_of(circuits, _CELLS)
        bodies += [
            grid(_CIRCUITS, shown, "Breakers and conductors, for planning", size_pt=size)
            + fill(("Electrician, licence", "Date", "Signature"), thirds=True)
            + care((caution_text("electric"),))
            for size, shown in fitted([share for _, share in _CIRCUITS], held, _CIRCUIT_ROOM_MM)
        ]
    return [
        Sheet(
            "electrician" + (f"_{number}" if number > 1 else ""),
            "For the electrician"
            + (f": sheet {number} of {len(bodies)}" if len(bodies) > 1 else ""),
            "to hand to a licensed electrician",
            about="What this study knows, and what it asks; local codes decide",
            body=body,
        )
        for number, body in enumerate(bodies, 1)
    ]
