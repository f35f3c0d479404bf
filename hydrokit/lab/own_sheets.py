"""The sheets that lessons write for a learner: rows of values with units, in the units of their report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from ..errors import HydrokitError, InputError, Mistake, one_line
from ..report.display import csv_text
from ..sentences import plain_number
from ..stream.gauging import Gauging
from ..units import Q_

__all__ = ["SHEETS", "Column", "Sheet", "sheet_text"]

Kind = Literal["text", "date", "count", "share", "yes or no", "flow", "length", "pressure", "power"]
# Kind -> unit in a metric and in a US sheet, and an example of each.
_UNITS: dict[str, tuple[tuple[str, str], tuple[str, str]]] = {
    "flow": (("L/s", "8.4 L/s"), ("gpm", "130 gpm")),
    "length": (("m", "42 m"), ("ft", "138 ft")),
    "pressure": (("bar", "4.1 bar"), ("psi", "60 psi")),
    "power": (("W", "950 W"), ("W", "950 W")),
}


@dataclass(frozen=True)
class Column:
    """A column of a sheet: its name, and what stands in it."""

    name: str
    kind: Kind = "text"


@dataclass(frozen=True)
class Sheet:
    """A sheet: its file and its columns."""

    file: str
    columns: tuple[Column, ...]


# Key of the site file -> the sheet that it names.
SHEETS = {
    "stream.gaugings": Sheet(
        "gaugings.csv",
        (
            Column("date", "date"),
            Column("flow", "flow"),
            Column("uncertainty", "share"),
            Column("method"),
        ),
    ),
    "penstock.profile": Sheet(
        "penstock.csv", (Column("chainage", "length"), Column("elevation", "length"))
    ),
    "readings.file": Sheet(
        "readings.csv",
        (
            Column("date", "date"),
            Column("jets", "count"),
            Column("pressure", "pressure"),
            Column("watts", "power"),
            Column("spilling", "yes or no"),
        ),
    ),
}


def sheet_text(sheet: Sheet, rows: Sequence[object], display: str) -> str:
    """A sheet as a CSV.

    Parameters
    ----------
    sheet : Sheet
    rows : sequence of tuples
        A value a column, with its unit; None where there is none. A gauging may stand in place of
        flow, uncertainty and method.
    display : {"metric", "us"}

    Raises
    ------
    InputError
        Every value that cannot be read, by its line and column.
    """
    us = display == "us"
    lines, mistakes = [], []
    for number, row in enumerate(rows, 1):
        values = _spread(row)
        if len(values) != len(sheet.columns):
            named = ", ".join(each.name for each in sheet.columns)
            what = f"has {len(values)} values; it takes {len(sheet.columns)}: {named}"
            mistakes.append(Mistake(sheet.file, f"line {number}", what))
            continue
        cells = []
        for column, value in zip(sheet.columns, values):
            try:
                cells.append(_cell(value, column.kind, us))
            except (HydrokitError, ValueError, TypeError, AttributeError):
                what = f"is {one_line(value)}; write for example {_example(column.kind, us)}"
                mistakes.append(Mistake(sheet.file, f"line {number}, {column.name}", what))
        lines.append(",".join(cells))
    if mistakes:
        raise InputError(mistakes)
    title = ",".join(_title(each, us) for each in sheet.columns)
    return "\n".join([title, *lines]) + "\n"


def _spread(row: Any) -> list[Any]:
    """The values of a row, a gauging spread into its flow, uncertainty and method."""
    values: list[Any] = []
    for each in row if isinstance(row, (list, tuple)) else [row]:
        values += (
            [each.flow, each.uncertainty, each.method] if isinstance(each, Gauging) else [each]
        )
    return values


def _cell(value: Any, kind: Kind, us: bool) -> str:
    if value is None:
        return ""
    if kind in _UNITS:
        found = float(Q_(value).m_as(_UNITS[kind][us][0]))
        return plain_number(found, 4).replace(",", "")
    if kind == "date":
        return date.fromisoformat(str(value)).isoformat()
    if kind == "count":
        return str(int(value))
    if kind == "share":
        share = float(Q_(value).m_as(""))
        if not 0 < share < 1:
            raise ValueError(share)  # 4, where 4 % was meant
        return f"{100 * share:.3g}"
    if kind == "yes or no":
        word = {True: "yes", False: "no"}.get(value, value)
        if word not in ("yes", "no"):
            raise ValueError(word)
        return str(word)
    return csv_text(value).replace(",", ";")


def _example(kind: Kind, us: bool) -> str:
    if kind in _UNITS:
        return f'"{_UNITS[kind][us][1]}"'
    plainly = {"date": '"2026-06-01"', "count": "2", "share": '"4 %"', "yes or no": '"yes"'}
    return plainly.get(kind, '"bucket"')


def _title(column: Column, us: bool) -> str:
    unit = _UNITS[column.kind][us][0] if column.kind in _UNITS else ""
    unit = "%" if column.kind == "share" else unit
    return f"{column.name} [{unit}]" if unit else column.name
