"""Adds a line to a log that is its owner's: whatever else stands in the file stays to the last byte."""

from __future__ import annotations

import codecs
import csv
import io
import itertools
import re
import tempfile
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from ..columns import header_of, read_csv
from ..errors import InputError, Mistake
from ..files import shown_path
from ..running.log import OPTIONAL, WANTED
from ..site.whole import write_whole

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["with_line"]

_ISO = "%Y-%m-%d %H:%M"
_DAYS = [
    f"%{first}{mark}%{second}{mark}%{year}"
    for first, second in ("dm", "md")
    for mark in "./-"
    for year in "Yy"
] + ["%Y/%m/%d", "%Y.%m.%d", "%d %b %Y", "%d-%b-%Y", "%b %d %Y", "%b %d, %Y"]
_CLOCKS = ("%H:%M", "%H:%M:%S", "%I:%M %p", "%I:%M:%S %p")


def with_line(path: Path, given: Mapping[str, str], now: datetime) -> None:
    """Write a reading into a log as its last line: the file is the old one or the new one, never half.

    The line has the columns, units, decimal marks, dates and line ends of those above it.

    Parameters
    ----------
    path : Path
    given : mapping
        Column to value, with its unit where it has one; empty where nothing was read.
    now : datetime

    Raises
    ------
    InputError
        The log cannot be read, lacks a column, or would not be read with the line in it.
    """
    table, now = read_csv(path, WANTED, OPTIONAL, []), now.replace(second=0, microsecond=0)
    separator, width, header = header_of(path, WANTED, OPTIONAL)
    raw = path.read_bytes()
    coding = _coding(raw)
    text = raw.decode(coding)
    columns = {each.name: each for each in header.columns}
    lacking = [name for name, value in given.items() if value and name not in columns]
    if lacking:
        what = f"there is no column {', '.join(lacking)}; add it to the log"
        raise InputError(Mistake(shown_path(path), "title line", what))
    rows = list(_rows(text, separator, set(table["line"])))
    cells = [""] * width
    for name, value in given.items():
        if value:
            cells[columns[name].position] = _in_unit(value, columns[name].unit)
    decimal_comma = separator != "," and any(
        re.fullmatch(r"[+-]?\d+,\d+", row[each.position].strip())
        for row in rows
        for each in header.columns
        if each.unit and each.position < len(row)
    )
    if decimal_comma:
        cells = [each.replace(".", ",") for each in cells]
    at = columns["time"].position
    cells[at] = now.strftime(_form([row[at] for row in rows if at < len(row)], table["time"]))
    end = next((each for each in ("\r\n", "\n", "\r") if each in text), "\n")
    line = io.StringIO()
    csv.writer(line, delimiter=separator, lineterminator=end).writerow(cells)
    data = (text.rstrip("\r\n\x1a") + end + line.getvalue()).encode(coding)
    if not _reads_so(path.name, data, table["time"], now):
        what = (
            "a line added to it would not be read, as its times are written in more than one way; "
            "write the reading into it by hand"
        )
        raise InputError(Mistake(shown_path(path), "", what))
    write_whole(path, data)


def _coding(raw: bytes) -> str:
    """In what the bytes can be taken apart and put together again, and a plain line be written."""
    if raw.startswith(codecs.BOM_UTF16_LE) or raw[1:2] == b"\0":
        return "utf-16-le"
    if raw.startswith(codecs.BOM_UTF16_BE) or raw[:1] == b"\0":
        return "utf-16-be"
    return "latin-1"  # a letter a byte, whatever letters they are; the line has plain ones only


def _rows(text: str, separator: str, lines: set[int]) -> Iterator[list[str]]:
    plain = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for number in sorted(lines):
        yield next(csv.reader([plain[number - 1]], delimiter=separator, skipinitialspace=True))


def _in_unit(value: str, unit: str | None) -> str:
    """A value as it stands in a column of this unit."""
    from ..units import Q_

    if unit in (None, "", "-"):
        return value
    return f"{Q_(value).m_as(unit):.6g}"


def _form(texts: list[str], times: pd.Series) -> str:
    """How the times of a log are written: the form in which each of them says what it was read as."""
    known = [
        (text.strip(), time.to_pydatetime())
        for text, time in zip(texts, times)
        if text.strip() and time == time
    ]
    forms = [_ISO, *(f"{day} {clock}" for day, clock in itertools.product(_DAYS, _CLOCKS))]
    return next((each for each in forms if all(_says(*one, each) for one in known)), _ISO)


def _says(text: str, time: datetime, form: str) -> bool:
    try:
        return datetime.strptime(text, form) == time
    except ValueError:
        return False


def _reads_so(name: str, data: bytes, times: pd.Series, now: datetime) -> bool:
    """Whether the log with the line in it has the times that it had, and this one."""
    with tempfile.TemporaryDirectory(prefix="hydrokit-log-") as scratch:
        copy = Path(scratch, name)
        copy.write_bytes(data)
        try:
            read = read_csv(copy, WANTED, OPTIONAL, [])["time"]
        except InputError:
            return False
    return len(read) == len(times) + 1 and list(read.dropna()) == [*times.dropna(), now]
