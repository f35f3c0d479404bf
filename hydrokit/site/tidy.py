"""A clean copy of a file as it was exported: what it was understood to be, and the same in plain form."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from ..columns import read_csv
from ..errors import Finding, InputError, counted
from ..files import no_formula, write_csv_text
from ..headers import NOTES, column_title, unit_of
from ..running import log
from . import readings, sheets
from .field_sheets import KINDS, FieldSheets

__all__ = ["Tidied", "tidied"]

_NOTE = {name: "text" for name in NOTES}
# What a table may be: columns that must and may stand in it. The fullest that fits is taken.
_TABLES: dict[str, tuple[dict[str, str], dict[str, str]]] = {
    "daily flows": ({"date": "date", "flow": "m^3/s"}, {}),
    "gaugings": (sheets.GAUGED, sheets.ALSO_GAUGED),
    "daily stages": ({"date": "date", "stage": "m"}, {"ice": "yes/no"}),
    # A logger may write its hour under the title "Date" too, or in two columns.
    "stages of a logger": ({"stage": "m"}, {"time": "time", "date": "date", "ice": "yes/no"}),
    "daily air temperatures": (
        {"date": "date", "temperature": "K"},
        {"ice": "yes/no", "snow": "m"},
    ),
    "the log of a plant": (log.WANTED, log.OPTIONAL),
    "readings of a plant": (
        readings.READ,
        readings.ALSO_READ,
    ),
    "a surveyed profile": ({"chainage": "m", "elevation": "m"}, {"ground": "m"}),
    **{
        kind.rows: (dict(sheet.columns or {}), dict(sheet.optional or {}))
        for kind in KINDS.values()
        for sheet in [FieldSheets.schema[kind.key]]
    },
    "prices": ({"size": "text", "price": "money/m"}, {}),
}


@dataclass(frozen=True, eq=False)
class Tidied:
    """A file as it was understood.

    Parameters
    ----------
    what : str
        What kind of table it is.
    told : tuple of str
        What was understood, line by line.
    text : str
        The clean copy.
    """

    what: str
    told: tuple[str, ...]
    text: str


def tidied(path: Path) -> Tidied:
    """Read a table as people export it and write it plainly.

    Raises
    ------
    InputError
        No table that is known here, or one that can be read in two ways: each mistake with its line.
    """
    best: tuple[int, str, Any, list[Finding]] | None = None
    refused: list[tuple[dict[str, str], bool, int, InputError]] = []
    for what, (wanted, optional) in _TABLES.items():
        notes: list[Finding] = []
        try:
            table = read_csv(path, wanted, {**_NOTE, **optional}, notes=notes)
        except InputError as error:
            # What fails below the header was the right table all the same.
            kinds = {**wanted, **optional}
            refused.append((kinds, _of_the_header(error), len(error.mistakes), error))
            continue
        if best is None or len(table.columns) > best[0]:
            best = len(table.columns), what, table, notes
    if best is None:
        raise min((each[1:] for each in refused), key=lambda each: each[:2])[2]
    for kinds, *_, lacking in refused:  # all that was read and more, but for a unit
        if _lacks_units_only(lacking) and {*best[2].columns} - {"line"} < {*kinds}:
            raise lacking
    _, what, table, notes = best
    wanted, optional = _TABLES[what]
    kinds = {**_NOTE, **wanted, **optional}
    names = [name for name in table.columns if name != "line"]
    titles = [_title(name, kinds[name], table.attrs["units"].get(name)) for name in names]
    cells = [_written(table[name], kinds[name], table.attrs["units"].get(name)) for name in names]
    told = [f"{what}, {counted(len(table), 'line')}: {', '.join(titles)}"]
    told += [each.message for each in notes]
    told += [
        _span(table[name], kinds[name], title, column)
        for name, title, column in zip(names, titles, cells)
        if kinds[name] not in ("text", "yes/no")
    ]
    return Tidied(what, tuple(told), write_csv_text(titles, list(zip(*cells))))


def _lacks_units_only(error: InputError) -> bool:
    return all("has no unit in its header" in str(each) for each in error.mistakes)


def _of_the_header(error: InputError) -> bool:
    text = str(error)
    return "there is no column" in text or "names no column" in text or "has no unit" in text


def _title(name: str, kind: str, unit: str | None) -> str:
    return f"{name} [{unit}]" if unit else column_title(name, kind)


def _written(column: pd.Series, kind: str, unit: str | None) -> list[str]:
    """The cells of a column in the unit of its title; empty where nothing was read."""
    from ..units import Quantity, parse_unit

    if kind == "text":
        return [no_formula(each) for each in column]
    if kind == "yes/no":
        return ["" if pd.isna(each) else "yes" if each else "no" for each in column]
    if kind in ("date", "time"):
        seconds = kind == "time" and bool((column.dt.second > 0).any())
        form = "%Y-%m-%d" + (" %H:%M" + ":%S" * seconds if kind == "time" else "")
        return ["" if pd.isna(each) else f"{each:{form}}" for each in column]
    values = column.to_numpy(dtype=float)
    if kind == "ratio":
        values = values * 100 if unit in (None, "%") else values
    elif kind != "count":
        values = Quantity(values, unit_of(kind)).m_as(parse_unit(unit or kind))
    return ["" if np.isnan(each) else f"{each:.10g}" for each in values]


def _span(column: pd.Series, kind: str, title: str, cells: list[str]) -> str:
    """From where to where a column goes, and what of it is missing."""
    there = [cell for cell, known in zip(cells, column.notna()) if known]
    if not there:
        return f"{title}: empty"
    if kind in ("date", "time"):
        low, high = min(there), max(there)
    else:
        low, high = min(there, key=float), max(there, key=float)
    missing = len(cells) - len(there)
    return f"{title}: {low} to {high}" + (f", {missing:,} missing" if missing else "")
