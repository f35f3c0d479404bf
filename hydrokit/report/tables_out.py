"""The tables of a page as files for a spreadsheet: plain numbers, units in the header, one file a table."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass

from bs4 import BeautifulSoup, Tag

from ..files import write_csv_text
from .arranged import ONCE
from .display import csv_text

__all__ = ["TableOut", "tables_of"]

_LONGEST_NAME = 60  # letters of a file's name
_NUMBER = r"[-\u2212]?\d[\d,]*(?:\.\d+)?"
_UNIT = r"%|[^\s\d,;:()%]+(?: (?:a|an|per) [^\s\d,;:()%]+| h)?"
_ONE = re.compile(rf"(?P<sign>± ?)?(?P<value>{_NUMBER})(?: ?(?P<unit>{_UNIT}))?")
_RANGE = re.compile(
    rf"(?P<low>{_NUMBER})(?: ?(?P<first>{_UNIT}))? to (?P<high>{_NUMBER})(?: ?(?P<unit>{_UNIT}))?"
)
_AROUND = re.compile(
    rf"(?P<value>{_NUMBER})(?: ?(?P<first>{_UNIT}))? \((?P<low>{_NUMBER}) to (?P<high>{_NUMBER})(?: ?(?P<unit>{_UNIT}))?\)"
)
# What follows a number and is no unit.
_NO_UNITS = {
    "or",
    "of",
    "to",
    "at",
    "and",
    "by",
    "if",
    "on",
    "open",
    "from",
    "more",
    "below",
    "above",
    "x",
    "×",
}


@dataclass(frozen=True)
class TableOut:
    """A table as a file.

    Parameters
    ----------
    name : str
        The file's: ``05-02 net energy by month.csv``.
    header : sequence of str
    rows : sequence of sequences of str
        Numbers without a unit and with no thousands parted; text that no spreadsheet takes for a formula.
    """

    name: str
    header: Sequence[str]
    rows: Sequence[Sequence[str]]

    @property
    def text(self) -> str:
        """The file's text."""
        return write_csv_text(list(self.header), [list(row) for row in self.rows])


def tables_of(page: str, text: str) -> list[TableOut]:
    """Every table of a page, in order; those that stand once a study only of the page of the whole story.

    Parameters
    ----------
    page : str
        The page's number of two digits, which begins the names.
    text : str
        The page, as HTML.

    Returns
    -------
    list of TableOut
    """
    made: list[TableOut] = []
    for table in BeautifulSoup(text, "html.parser").find_all("table"):
        if any(ONCE in each.get_attribute_list("class") for each in table.parents):
            continue
        rows = [
            [_words(cell) for cell in row.find_all(["th", "td"])] for row in table.find_all("tr")
        ]
        if not rows or not any(any(row) for row in rows[1:]):
            continue  # nothing in it, as in a sheet to fill in by hand
        width = len(rows[0])
        body = [(row + [""] * width)[:width] for row in rows[1:]]
        columns = [
            column
            for place, title in enumerate(rows[0])
            for column in _columns(title, [row[place] for row in body])
        ]
        made.append(
            TableOut(
                f"{page}-{len(made) + 1:02d} {_name(table)}.csv",
                [title for title, _ in columns],
                [[cells[row] for _, cells in columns] for row in range(len(body))],
            )
        )
    return made


def _words(tag: Tag) -> str:
    return " ".join(tag.get_text().split())


def _name(table: Tag) -> str:
    """What a table shows, in a few words that any file system takes."""
    caption = table.caption or table.find_previous(["h2", "h3", "h4", "summary"])
    told = re.split(r"[;:,(]|\.(?:\s|$)", _words(caption))[0] if isinstance(caption, Tag) else ""
    plain = " ".join(re.sub(r"[^\w.-]+", " ", told).split()).strip(" .-_")
    if len(plain) > _LONGEST_NAME:
        plain = plain[:_LONGEST_NAME].rpartition(" ")[0] or plain[:_LONGEST_NAME]
    if not plain:
        return "table"
    return plain[0].lower() + plain[1:] if plain[1:2].islower() or plain[1:2] == " " else plain


# ---------------------------------------------------------------- one column


@dataclass(frozen=True)
class _Cell:
    """What a cell holds: a number, a range, a number within a range, or text."""

    text: str = ""
    value: str = ""
    low: str = ""
    _: KW_ONLY
    high: str = ""
    unit: str = ""
    sign: str = ""

    @property
    def known(self) -> bool:
        return bool(self.value or self.low)

    @property
    def counts(self) -> bool:
        """Whether it is another number than nothing, which needs no unit."""
        return any(set(each) - set("-0.") for each in (self.value, self.low, self.high))


def _read(text: str) -> _Cell:
    for pattern in (_AROUND, _RANGE, _ONE):
        found = pattern.fullmatch(text)
        if found:
            part = {name: each or "" for name, each in found.groupdict().items()}
            unit = part["unit"] or part.get("first", "")
            if unit.partition(" ")[0].lower() in _NO_UNITS or part.get("first", unit) not in (
                "",
                unit,
            ):
                break
            plain = {
                name: part[name].replace(",", "").replace("\u2212", "-")
                for name in ("value", "low", "high")
                if name in part
            }
            return _Cell(text, unit=unit, sign=part.get("sign", "").strip(), **plain)
    return _Cell(text)


def _columns(title: str, cells: Sequence[str]) -> list[tuple[str, list[str]]]:
    """A column of a page as one or several of a file: value, limits, and a unit where the rows
    differ in it."""
    stated = re.search(r" ?\[([^\]]*)\]", title)
    read = [_read(each) for each in cells]
    known = [each for each in read if each.known]
    around = any(each.value and each.low for each in known)
    ranged = any(each.low for each in known)
    units = {each.unit for each in known if each.unit}
    for unit in [each for each in units if each.endswith("s")]:
        units.discard(unit.removesuffix("s"))  # "1 day" among days
    if not known or (ranged and not (units or stated or around or "%" in title)):
        return [(csv_text(title), [csv_text(each) for each in cells])]
    unit = ""
    if len(units) > 1 or (units and any(not each.unit and each.counts for each in known)):
        title = title.replace(stated[0], "") if stated else title
    elif units and not stated:
        unit = f" [{units.pop()}]"
    elif stated:
        title, unit = title.replace(stated[0], ""), f" [{stated[1]}]"
        units = units if units - {stated[1]} else set()
    sign = "± " if any(each.sign for each in known) else ""

    def column(more: str, part: str) -> tuple[str, list[str]]:
        first = part == ("low" if ranged and not around else "value")
        shown = []
        for each in read:
            number = getattr(each, part) or ("" if around else each.value)
            shown.append(number if each.known else csv_text(each.text) if first else "")
        return csv_text(f"{sign}{title}{more}{unit}".strip()), shown

    made = [column("", "value")] if around or not ranged else []
    made += [column(", low", "low"), column(", high", "high")] if ranged else []
    if units:
        usual = stated[1] if stated else ""
        told = f"{title}, unit".removeprefix(", ")
        made.append((csv_text(told), [each.unit or (usual if each.known else "") for each in read]))
    return made
