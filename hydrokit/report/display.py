"""How results are shown: units of the reader, numbers, words, tables, pictures.

Changes what is read, never a result. Everything that came from a file is escaped here.
"""

from __future__ import annotations

import html
import io
import re
import warnings
from dataclasses import KW_ONLY, dataclass, field
from typing import Any, Sequence

import numpy as np

from ..errors import Finding, printable
from ..files import no_formula
from ..sentences import plain_number
from ..study.attended import in_browser
from ..study.keyed import Keyed, as_markup, plain
from ..study.view import View

__all__ = [
    "Cautions",
    "Picture",
    "Rough",
    "Table",
    "Words",
    "csv_number",
    "csv_text",
    "escape_markdown",
    "formula",
]


def escape_markdown(text: object) -> str:
    """Text from a file as text: no mark-up of HTML or Markdown is left alive in it.

    >>> escape_markdown("<b>*x*</b>")
    '&lt;b&gt;\\\\*x\\\\*&lt;/b&gt;'
    """
    flat = " ".join(str(text).split())
    return re.sub(r"([\\`*_{}\[\]()#!|$~]|^[-+])", r"\\\1", html.escape(flat, quote=False))


_BARE_NUMBER = re.compile(r"[-−]?\d[\d,]*(\.\d+)?$")  # of a text, so that it stands as numbers do
_NUMBER_FIRST = re.compile(r"[-−±]?\d")  # of an answer, its unit behind it
_FORMULA_MARK = "\ue003"  # so that a sign of money in a paragraph begins no formula


def formula(latex: str) -> str:
    """A formula within a paragraph, in LaTeX."""
    return f"{_FORMULA_MARK}{latex}{_FORMULA_MARK}"


def csv_text(text: object) -> str:
    """Text for a cell of a CSV, which a spreadsheet shall not take for a formula.

    A semicolon parts cells where commas stand in numbers, so a formula behind one is defused too.

    >>> csv_text("=1+1"), csv_text("Alder Burn"), csv_text("a;=1+1"), csv_text("\uff1d1+1")
    ("'=1+1", 'Alder Burn', "a;'=1+1", "'＝1+1")
    """
    flat = printable(" ".join(plain(str(text)).split()))
    return no_formula(flat)


def csv_number(value: float) -> str:
    """A number for a cell of a CSV: four significant digits, no thousands parted, empty where not known.

    >>> csv_number(0.123456), csv_number(26616.6), csv_number(float("nan"))
    ('0.1235', '26617', '')
    """
    return "" if not np.isfinite(value) else f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"


@dataclass(frozen=True)
class Words:
    """A paragraph written from the numbers, in Markdown; numbers in it may carry the key of their
    question."""

    marked: str

    @property
    def text(self) -> str:
        """The paragraph without keys."""
        return plain(self.marked).replace(_FORMULA_MARK, "$")

    def _repr_markdown_(self) -> str:
        money = re.sub(r"(?<!\\)\$", r"\\$", self.marked)
        return as_markup(money).replace(_FORMULA_MARK, "$")

    def __repr__(self) -> str:
        return f"Words(text={self.text!r})"

    def __str__(self) -> str:
        return self.text


class Whole(int):
    """A whole amount in a table, its thousands parted; a bare int may be a year, whose are not."""


class Rough(float):
    """A number in a table that is known to two digits, whatever the others are shown to."""


@dataclass(frozen=True, eq=False)
class Table:
    """A table to read and to copy.

    Parameters
    ----------
    columns : sequence of str
        Titles, with units.
    rows : sequence of sequences
        Text or numbers; numbers are shown to `digits` significant digits.
    caption : str
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[object]]
    caption: str = ""
    _: KW_ONLY
    digits: int = 3
    mark: Sequence[int] = field(default_factory=tuple)  # rows to stress
    kind: str = ""  # a class of report.css, for a table that paper sets in its own way

    def cell(self, value: object) -> tuple[str, bool]:
        """The text of a cell, with the keys of its numbers, and whether it is a number."""
        if isinstance(value, (bool, np.bool_)):
            return ("yes" if value else "no"), False
        if isinstance(value, Whole):
            return f"{int(value):,}", True
        if isinstance(value, Rough):
            return ("" if np.isnan(value) else plain_number(float(value), 2)), True
        if isinstance(value, (int, np.integer)):
            return f"{value:,}" if abs(int(value)) >= 10000 else str(value), True
        if isinstance(value, (float, np.floating)):
            return ("" if np.isnan(value) else plain_number(float(value), self.digits)), True
        text = "" if value is None else str(value)
        number = _NUMBER_FIRST if isinstance(value, Keyed) else _BARE_NUMBER
        return text, bool(number.match(plain(text)))

    def _repr_html_(self) -> str:
        out = [f"<table class='hk-table{f' {self.kind}' if self.kind else ''}'>"]
        if self.caption:
            out.append(f"<caption>{as_markup(html.escape(self.caption))}</caption>")
        rows = [[self.cell(value) for value in row] for row in self.rows]
        # a column in which this study has nothing to say would only take paper
        told = [
            place
            for place in range(len(self.columns))
            if place == 0 or not rows or any(row[place][0] for row in rows)
        ]
        out.append(
            "<thead><tr>"
            + "".join(
                f"<th scope='col'>{as_markup(html.escape(str(self.columns[place])))}</th>"
                if self.columns[place]
                else "<td></td>"
                for place in told
            )
            + "</tr></thead><tbody>"
        )
        right = {
            place
            for place in told
            if 2 * sum(row[place][1] for row in rows) >= sum(bool(row[place][0]) for row in rows)
        }  # a column stands to one side: to the right where most of it are numbers
        for number, row in enumerate(rows):
            stressed = " class='hk-mark'" if number in self.mark else ""
            cells = [(row[place][0], row[place][1] and place in right) for place in told]
            out.append(
                f"<tr{stressed}>"
                + "".join(
                    f"<td{' class=hk-number' if numeric else ''}>{as_markup(html.escape(text))}</td>"
                    for text, numeric in cells
                )
                + "</tr>"
            )
        return "".join(out) + "</tbody></table>"

    def __repr__(self) -> str:
        lines = [" | ".join(str(each) for each in self.columns)]
        lines += [" | ".join(self.cell(value)[0] for value in row) for row in self.rows]
        return plain("\n".join(lines))


@dataclass(frozen=True, eq=False)
class Picture:
    """A figure with the words that stand for it where it cannot be seen."""

    figure: Any
    alt: str

    def png(self) -> str:
        """The figure, as text that stands for its bytes."""
        from base64 import b64encode

        buffer = io.BytesIO()
        with warnings.catch_warnings():
            warnings.filterwarnings(
                "ignore", "Glyph .* missing from font"
            )  # a name in letters the font lacks; the words beside the figure have it
            self.figure.savefig(
                buffer, format="png", dpi=144, facecolor="white", metadata={"Software": None}
            )
        return b64encode(buffer.getvalue()).decode()

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> tuple[dict, dict]:
        alt, picture = plain(self.alt), self.png()
        if in_browser():
            told = html.escape(alt, quote=True)
            shown = (
                f'<img alt="{told}" style="max-width:100%" src="data:image/png;base64,{picture}">'
            )
            return {"text/html": shown, "text/plain": alt}, {}
        return {"image/png": picture, "text/plain": alt}, {"image/png": {"alt": alt}}


@dataclass(frozen=True)
class Cautions:
    """Warnings for people's safety, in a box."""

    lines: Sequence[str]
    title: str = "Caution"

    def _repr_html_(self) -> str:
        items = "".join(f"<li>{html.escape(line)}</li>" for line in self.lines)
        return (
            "<div class='hk-caution' "
            f"role='note'><strong>{html.escape(self.title)}</strong><ul>{items}</ul></div>"
        )

    def __repr__(self) -> str:
        return self.title + ": " + " ".join(self.lines)


def findings_table(findings: Sequence[Finding], view: View, caption: str = "") -> Table:
    """Findings as a table, the gravest first, in the reader's units."""
    order = {"problem": 0, "caution": 1, "note": 2}
    rows = [
        (each.level, each.where, view.told(each))
        for each in sorted(findings, key=lambda each: order[each.level])
    ]
    return Table(
        ("level", "where", "what"), rows or [("note", "all", "nothing to remark")], caption
    )
