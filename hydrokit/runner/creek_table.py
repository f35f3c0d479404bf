"""The table of creeks, read in pieces; what is wrong with a row stays with that row."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from ..columns import read_csv
from ..energy.creeks import Creek, Sifted
from ..errors import InputError, Mistake, Told
from ..files import shown_path
from ..site.sheets import Folder
from ..stream.record import read_record

__all__ = ["CreekTable", "Piece"]

_WANTED = {
    "name": "text",
    "head": "head",
    "length": "m",
    "catchment": "m^2",
    "neighbour record": "text",
    "neighbour catchment": "m^2",
}
_OPTIONAL = {"licence": "m^3/s", "residual": "ratio"}
_PIECE = 256  # rows worked out together: enough to share the work, few enough to be held at once
_RECORDS = 32  # that are kept while the table is gone through


@dataclass(frozen=True, eq=False)
class Piece:
    """Some rows of the table.

    Parameters
    ----------
    rows : tuple of Creek or Sifted
        A creek to be worked out, or one that has mistakes, told already.
    records : tuple of pandas.Series
        Of the neighbours of those to be worked out.
    which : tuple of int
        For each of those the place of its neighbour.
    """

    rows: tuple[Creek | Sifted, ...]
    records: tuple[pd.Series, ...]
    which: tuple[int, ...]

    @property
    def job(self) -> tuple[list[Creek], tuple[pd.Series, ...], tuple[int, ...]]:
        """What ``sieve.sieved`` is given."""
        return [each for each in self.rows if isinstance(each, Creek)], self.records, self.which

    def joined(self, found: Sequence[Sifted]) -> Iterator[Sifted]:
        """What was found, with the rows that have mistakes in their places."""
        following = iter(found)
        for each in self.rows:
            yield each if isinstance(each, Sifted) else next(following)


class CreekTable:
    """A table of creeks.

    Parameters
    ----------
    path : path
        CSV with the columns name, head [m], length [m], catchment [km2], neighbour record (a file,
        named as seen from the table), neighbour catchment [km2]; and, where known, licence [L/s]
        and residual [%], the share of the mean flow that stays.

    Raises
    ------
    InputError
        No such file, a column that is missing, a row with too many cells: what no single row can tell.
    """

    def __init__(self, path: str | Path) -> None:
        unread: list[tuple[str, tuple[int, ...], str]] = []
        self.path = Path(path)
        self.table = read_csv(path, _WANTED, _OPTIONAL, unread)
        self.unread: dict[int, dict[str, str]] = {}
        for column, lines, text in unread:
            for line in lines:
                shown = f"'{text}' in the column" if line == lines[0] else "the cell of the column"
                self.unread.setdefault(line, {})[column] = f"{shown} '{column}' is not a number"
        self.folder = _Beside(self.path)
        self.records: OrderedDict[str, pd.Series | tuple[Mistake, ...]] = OrderedDict()
        self.mistakes: dict[Mistake, None] = {}  # of all rows so far, each once, in their order

    def __len__(self) -> int:
        return len(self.table)

    def pieces(self, size: int = _PIECE) -> Iterator[Piece]:
        """The rows, some at a time."""
        for start in range(0, len(self.table), size):
            rows: list[Creek | Sifted] = []
            records: dict[str, pd.Series] = {}
            which: list[int] = []
            for row in self.table.iloc[start : start + size].to_dict("records"):
                each, record = self._row(row)
                rows.append(each)
                if record is not None:
                    name = row["neighbour record"]
                    records.setdefault(name, record)
                    which.append(list(records).index(name))
            yield Piece(tuple(rows), tuple(records.values()), tuple(which))

    def _row(self, row: dict[str, Any]) -> tuple[Creek | Sifted, pd.Series | None]:
        bad = dict(self.unread.get(row["line"], {}))
        for column, text in _wrong(row):
            bad.setdefault(column, text)
        where = f"line {row['line']}"
        mistakes = [Mistake(shown_path(self.path), where, text) for text in bad.values()]
        record = self._record(row["neighbour record"]) if row["neighbour record"] else ()
        if isinstance(record, tuple):
            mistakes += record
        creek = _creek(row)
        if not mistakes and not isinstance(record, tuple):
            return creek, record
        self.mistakes.update(dict.fromkeys(mistakes))
        texts = [*bad.values(), *_of_record(record)]
        return Sifted(creek, mistakes=tuple(texts)), None

    def _record(self, name: str) -> pd.Series | tuple[Mistake, ...]:
        """A neighbour's record, or what is wrong with it."""
        if name not in self.records:
            try:
                self.records[name] = read_record(self.folder.file(name, ""))
            except InputError as error:
                self.records[name] = error.mistakes
            while len(self.records) > _RECORDS:
                self.records.popitem(last=False)
        self.records.move_to_end(name)
        return self.records[name]


def _of_record(record: Any) -> list[str | Told]:
    return [each.sentence for each in record] if isinstance(record, tuple) else []


def _creek(row: dict[str, Any]) -> Creek:
    def given(column: str) -> float | None:
        value = row.get(column)
        return None if value is None or np.isnan(value) else float(value)

    return Creek(
        row["name"] or f"line {row['line']}",
        row["head"],
        row["length"],
        catchment_m2=row["catchment"],
        neighbour_catchment_m2=row["neighbour catchment"],
        licence_m3s=given("licence"),
        residual_share=given("residual"),
    )


class _Beside(Folder):
    """The folder of a table: records are named as seen from it, and lie where a study's files may lie."""

    def __init__(self, table: Path) -> None:
        super().__init__(table.parent)
        self.table = table

    def wrong(self, where: str, text: str | Told) -> InputError:
        return InputError(Mistake(shown_path(self.table), "the column 'neighbour record'", text))


def _wrong(row: dict[str, Any]) -> Iterator[tuple[str, str]]:
    """Column and what is wrong with it."""
    for column in ("name", "neighbour record"):
        if not row[column]:
            yield column, f"the column '{column}' is empty"
    for column in ("head", "length", "catchment", "neighbour catchment"):
        if np.isnan(row[column]):
            yield column, f"the column '{column}' is empty"
        elif not row[column] > 0:
            yield column, f"the column '{column}' must be above zero"
    if row["length"] < row["head"]:
        yield "length", "the pipe is shorter than its fall; are feet mixed with metres?"
    if row.get("licence", 1.0) <= 0:
        yield "licence", "the licence must be above zero; leave it empty where there is none"
    if not 0 <= np.nan_to_num(row.get("residual", 0.0)) < 1:
        yield "residual", "the residual is a share of the mean flow, from 0 to less than 100 %"
