"""One sheet to print: its page, and the parts it is put together from.

A sheet is as narrow as A4 and as short as Letter, so that it fills one of either. Tables whose length
hangs on the site choose the size of their letters, and go on to a further sheet where that is not enough.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from dataclasses import KW_ONLY, dataclass
from datetime import date
from functools import cache
from typing import TYPE_CHECKING

import jinja2

from ... import __version__
from ...study.keyed import as_markup, plain
from ..display import Table
from ..html import CONTENT_POLICY, TEMPLATES

if TYPE_CHECKING:
    from ...study.study import Study
    from ...study.view import View

__all__ = [
    "PAPERS",
    "Sheet",
    "care",
    "cells_of",
    "fill",
    "fitted",
    "grid",
    "marked",
    "numbered",
    "page_of",
]

PAPERS = {"metric": "A4", "us": "Letter"}
WIDTH_MM = 184.0
_MM_PER_PT = 25.4 / 72
_LETTER = 0.52  # mean width of a letter over the size of its type, of the widest of these faces
_LINE = 1.3  # height of a line likewise
_SIZES = (10.5, 10.0, 9.5, 9.0, 8.5, 8.0, 7.5)  # pt


@dataclass(frozen=True)
class Sheet:
    """One sheet.

    Parameters
    ----------
    name : str
        Of its file, without ``print_`` and ending.
    title, use : str
        Its heading, and in a few words what it is for.
    about : str
        The line under the heading.
    body : str
        HTML, made from escaped text.
    """

    name: str
    title: str
    use: str
    _: KW_ONLY
    about: str
    body: str

    @property
    def file(self) -> str:
        """Name of its file."""
        return f"print_{self.name}.html"


def page_of(sheet: Sheet, study: Study, view: View, day: date, paper: str = "") -> str:
    """The whole page of a sheet.

    Parameters
    ----------
    sheet : Sheet
    study : Study
    view : View
        Names the paper where it is not told.
    day : date
        On which it is made.
    paper : {"", "A4", "Letter"}
    """
    return _template().render(
        title=sheet.title,
        about=plain(sheet.about),
        body=sheet.body,
        study=study.name,
        place=study.site.site.place or "",
        policy=CONTENT_POLICY,
        paper=paper or PAPERS[view.system],
        day=day.isoformat(),
        version=__version__,
    )


@cache
def _template() -> jinja2.Template:
    room = jinja2.Environment(
        loader=jinja2.FileSystemLoader(TEMPLATES),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return room.get_template("sheet.html.j2")


# --- parts ------------------------------------------------------------------------------------


def marked(text: object) -> str:
    """Text as HTML: escaped, with the keys of its numbers."""
    return as_markup(html.escape(str(text), quote=False))


def care(lines: Iterable[str]) -> str:
    """What to be careful of, in a box."""
    return f'<ul class="care">{"".join(f"<li>{marked(each)}</li>" for each in lines)}</ul>'


def numbered(lines: Iterable[str]) -> str:
    """A numbered list."""
    return f"<ol>{''.join(f'<li>{marked(each)}</li>' for each in lines)}</ol>"


def fill(names: Iterable[str], thirds: bool = False) -> str:
    """Lines to write on, each with its name."""
    spans = "".join(f"<span>{marked(each)}</span>" for each in names)
    return f'<div class="fill{" thirds" if thirds else ""}">{spans}</div>'


def grid(
    columns: Sequence[tuple[str, float]],
    rows: Iterable[Sequence[object]],
    caption: str = "",
    size_pt: float = 9.5,
    kind: str = "",
) -> str:
    """A table with ruled cells.

    Parameters
    ----------
    columns : sequence of (str, float)
        Titles, and their shares of the width.
    rows : iterable of sequences
        What stands in the cells, as text.
    caption : str
    size_pt : float
        Of the letters.
    kind : str
        Class of the table; where it is ``"steps"`` the first column is a number.
    """
    whole = sum(share for _, share in columns)
    head = "".join(
        f'<th scope="col" style="width:{100 * share / whole:.1f}%">{marked(title)}</th>'
        for title, share in columns
    )
    first = ' class="step"' if kind == "steps" else ""
    body = "".join(
        "<tr>"
        + "".join(
            f"<td{'' if place else first}>{marked(cell)}</td>" for place, cell in enumerate(row)
        )
        + "</tr>"
        for row in rows
    )
    told = f"<caption>{marked(caption)}</caption>" if caption else ""
    named = f' class="{kind}"' if kind else ""
    return (
        f'<div class="wide" tabindex="0"><table{named} '
        f'style="font-size:{size_pt:g}pt">{told}<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def cells_of(table: Table, columns: Sequence[int]) -> list[list[str]]:
    """Cells of a page's table as they read there: one number has the same digits on page and sheet."""
    return [[table.cell(row[each])[0] for each in columns] for row in table.rows]


# --- how much goes on a sheet -----------------------------------------------------------------


def fitted(
    shares: Sequence[float], rows: Sequence[Sequence[object]], height_mm: float
) -> list[tuple[float, list[Sequence[object]]]]:
    """Rows of a table parted among sheets: the size of the letters and the rows of each.

    Parameters
    ----------
    shares : sequence of float
        Of the width, by column.
    rows : sequence of sequences
        Text of the cells.
    height_mm : float
        Of the room for the rows on a sheet.

    Returns
    -------
    list of (float, list)
        One sheet in letters as large as fit; several in the smallest where even these do not.
    """
    widths = [WIDTH_MM * each / sum(shares) for each in shares]
    for size in _SIZES:
        if sum(_height(row, widths, size) for row in rows) <= height_mm:
            return [(size, list(rows))]
    size, parted, room = _SIZES[-1], [], 0.0
    for row in rows:
        tall = _height(row, widths, size)
        if tall > room:
            parted.append((size, list[Sequence[object]]()))
            room = height_mm
        parted[-1][1].append(row)
        room -= tall
    return parted


def _height(row: Sequence[object], widths: Sequence[float], size_pt: float) -> float:
    """Of a row in mm, as high as its highest cell."""
    lines = max(_lines(plain(str(cell)), wide, size_pt) for cell, wide in zip(row, widths))
    return lines * _LINE * size_pt * _MM_PER_PT + 1.9


def _lines(text: str, width_mm: float, size_pt: float) -> int:
    """How many lines a text takes, its words kept whole."""
    room = max((width_mm - 3.2) / (_LETTER * size_pt * _MM_PER_PT), 1.0)
    count, filled = 1, 0.0
    for word in text.split():
        if filled and filled + 1 + len(word) > room:
            count, filled = count + 1, 0.0
        count += max(math.ceil(len(word) / room) - 1, 0)
        filled += len(word) + bool(filled)
    return count
