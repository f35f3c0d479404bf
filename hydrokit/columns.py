"""A CSV file of named columns, each with its unit in the header."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .cells import Doubt, dates, decimal_mark, numbers, without_missing
from .errors import Finding, InputError, Mistake, counted, one_line
from .files import LONGEST_LINE, read_text, shown_path, wrong
from .headers import (
    KINDS,
    NOTES,
    Column,
    Header,
    column_named,
    find_header,
    is_unit_of,
    read_header,
    unit_of,
)

if TYPE_CHECKING:
    import pandas as pd

    from .units import Alike


__all__ = ["believable", "header_of", "read_csv"]

# No measurement in SI lies beyond these; squares and fifth powers of what lies within stay finite.
_SMALLEST, _LARGEST = 1e-18, 1e18

_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}

_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}

_MOST_LISTED = 5


def believable(values: Alike) -> Alike:
    """Whether numbers are of a size that something measured can have; those that are none are not.

    >>> believable(0.0), believable(1e300), believable(float("nan"))
    (True, False, False)
    """
    size = abs(values)
    return (size <= _LARGEST) & ((size >= _SMALLEST) | (size == 0))


def read_csv(
    path: str | Path,
    wanted: dict[str, str],
    optional: dict[str, str] | None = None,
    unread: list | None = None,
    notes: list[Finding] | None = None,
) -> Any:
    """A CSV table with units in its header, as a DataFrame in SI.

    Parameters
    ----------
    path : path
        A file of text with commas between the columns (or semicolons, or tabs). Lines that begin
        with ``#`` are comments, and so are lines above the header. The header names each column
        with its unit: ``date, flow [L/s]``. Decimal commas, thousands and dates in another order
        are read where the file as a whole leaves no doubt of them (:mod:`hydrokit.cells`).
    wanted : dict
        Column name to kind: a unit (``"m^3/s"``: the values are converted to it), ``"K"``,
        ``"date"`` (2024-03-01), ``"time"`` (2024-03-01 07:40), ``"text"``, ``"yes/no"``,
        ``"count"``, ``"ratio"`` (plain or ``[%]``).
    optional : dict, optional
        The same, for columns that may be absent.
    unread : list, optional
        Where it is given, cells that cannot be read are left empty instead of refused, and told
        here as (column, lines, first of them): a long log is not worthless for one blot.
    notes : list of Finding, optional
        Where it is given, what was understood otherwise than it stands there is told here:
        columns passed over, decimal commas, the order of dates.

    Returns
    -------
    DataFrame
        One column per name, and ``line``: the line of the file each row stands in. Empty cells
        are NaN, NaT or ``""``. Its ``attrs["units"]`` are those of the header. Columns called note,
        remark or comment may stand there too; they are kept only where they are asked for.

    Raises
    ------
    InputError
        All mistakes at once, each with its line and what to write.
    """
    optional = optional or {}
    told: list[str] = []
    kinds = {**wanted, **optional}
    numbered, above = _from_header(path, kinds, wanted, told)
    separator = _separator(numbered[0][1])
    numbered = _without_spare_columns(numbered, separator)
    header_line, title = numbered[0]
    titles = _fields(title, separator)
    noted = titles[-1].strip().lower() in NOTES
    cells, lines, mistakes = _split_rows(path, numbered[1:], len(titles), separator, noted)
    titles, cells, lines = _units_below(titles, cells, lines, kinds, told)
    titles, cells = _units_from_cells(titles, cells, kinds, told)
    header = read_header(path, header_line, titles, kinds, wanted)
    if header.mistakes:
        raise InputError(header.mistakes)
    if not lines and not mistakes:
        mistakes.append(Mistake(shown_path(path), "", "the file has a header but no rows"))
    if above:
        told.append(f"{counted(above, 'line')} above the header passed over")
    if header.spare:
        told.append(
            f"the column{'s' * (len(header.spare) > 1)} {', '.join(header.spare)} passed "
            "over: nothing here asks for it"
        )
    table = _frame(path, header, kinds, cells, lines, mistakes, unread, told)
    if notes is not None:
        notes += [Finding("note", Path(path).name, each) for each in told]
    return table


def header_of(
    path: str | Path, wanted: dict[str, str], optional: dict[str, str] | None = None
) -> tuple[str, int, Header]:
    """What parts the columns of a table, how many its lines have, and which of them are read.

    Raises
    ------
    InputError
        Every mistake of the header.
    """
    kinds = {**wanted, **(optional or {})}
    numbered, _ = _from_header(path, kinds, wanted, [])
    separator = _separator(numbered[0][1])
    line, title = _without_spare_columns(numbered, separator)[0]
    header = read_header(path, line, _fields(title, separator), kinds, wanted)
    if header.mistakes:
        raise InputError(header.mistakes)
    return separator, len(_fields(numbered[0][1], separator)), header


def _from_header(
    path: str | Path, kinds: dict[str, str], wanted: dict[str, str], told: list[str]
) -> tuple[list[tuple[int, str]], int]:
    """The lines of a table with their numbers, the header first, and how many stand above it."""
    text = _straight_quotes(read_text(path, told))
    # A row of empty cells is a row a spreadsheet has left behind: as good as a blank line.
    numbered = [
        (number, line)
        for number, line in enumerate(text.split("\n"), 1)
        if line.strip(" \t,;") and not _COMMENT.match(line)
    ]
    if not numbered:
        raise wrong(path, "", "the file has no header line; write for example: date, flow [L/s]")
    long = next((number for number, line in numbered if len(line) > LONGEST_LINE), None)
    if long is not None:
        raise wrong(
            path, f"line {long}", "is longer than a line of a table can be; is this the right file?"
        )
    above = find_header([_cells(line) for _, line in numbered[:_LOOKED_AT]], kinds, wanted)
    return numbered[above:], above


# A remark; a # alone in the first cell is the title of a column of numbers, as loggers write it.
_COMMENT = re.compile(r"\s*#(?![\t,;])")
_LOOKED_AT = 40  # lines in which a header is looked for


_CURLY = re.compile(r"(?m)(?:(?<=[,;\t])|^)( *)[“„]([^“”„\"\n]*)[”“](?= *(?:[,;\t]|$))")


def _straight_quotes(text: str) -> str:
    """Curly quotes round a whole cell as the straight ones they were; those within a note stay."""
    return _CURLY.sub(r'\1"\2"', text) if "“" in text else text


def _separator(line: str) -> str:
    return max(",;\t", key=line.count)


def _cells(line: str) -> list[str]:
    return _fields(line, _separator(line)) if line.count('"') % 2 == 0 else [line]


def _fields(line: str, separator: str) -> list[str]:
    return next(csv.reader([line], delimiter=separator, skipinitialspace=True))


def _without_spare_columns(numbered: list, separator: str) -> list:
    """The lines without the columns at the right that have neither a name nor a value."""
    while all(line.rstrip(" ").endswith(separator) for _, line in numbered):
        numbered = [(number, line.rstrip(" ")[:-1]) for number, line in numbered]
    return numbered


def _split_rows(
    path: str | Path, numbered: list, fields: int, separator: str, noted: bool
) -> tuple[list, list, list]:
    """The cells column by column, the line of each row, and the mistakes; a note at the end may
    hold separators."""
    cells = _split_whole(numbered, fields, separator)
    if cells is not None:
        return cells, [number for number, _ in numbered], []
    rows, lines, odd, open_quote = [], [], [], []
    for number, line in numbered:
        row = _fields(line, separator)
        # A note goes to the end of its line; 12,5 with a comma in it is no note.
        if noted and len(row) > fields and not row[fields - 1].strip().isdigit():
            plain = '"' not in line
            row = (
                line.split(separator, fields - 1)
                if plain
                else [*row[: fields - 1], separator.join(row[fields - 1 :])]
            )
        inches = line.split(separator, fields - 1)
        if (
            noted
            and line.count('"') % 2
            and len(inches) == fields
            and '"' not in "".join(inches[:-1])
        ):
            row = inches  # an inch mark in a note
        elif line.count('"') % 2:
            open_quote.append(number)
            continue
        if len(row) == fields:
            rows.append(row)
            lines.append(number)
        else:
            odd.append((number, len(row)))
    mistakes = []
    if open_quote:
        mistakes.append(
            Mistake(
                shown_path(path),
                f"line {open_quote[0]}",
                'has a " that is not closed on the same line; keep each row on one line',
            )
        )
    if odd:
        number, found = odd[0]
        more = f" (and {len(odd) - 1} more such lines)" if len(odd) > 1 else ""
        mistakes.append(
            Mistake(
                shown_path(path),
                f"line {number}",
                f"has {counted(found, 'field')} where the header has {fields}{more}; "
                + (
                    "a comma inside a number? write 12.5, not 12,5"
                    if found > fields
                    else f"an empty cell needs its {_SEPARATORS[separator]} too"
                ),
            )
        )
    return list(zip(*rows)), lines, mistakes


def _split_whole(numbered: list, fields: int, separator: str) -> list | None:
    """The cells column by column, if no row needs more than parting at its separators: quick, for
    long records."""
    whole = [line for _, line in numbered if line.count(separator) == fields - 1]
    if not numbered or len(whole) < len(numbered):
        return None
    joined = separator.join(whole)
    if '"' in joined:
        return None
    cells = joined.split(separator)
    return [cells[position::fields] for position in range(fields)]


_WITH_UNIT = re.compile(r"([-+\u2212]?\d[\d.,'\u2019\u00a0 ]*?)\s*([^\W\d_][^\d,;]{0,11}|%)")


def _units_from_cells(
    titles: list[str], cells: list, kinds: dict[str, str], told: list[str]
) -> tuple[list[str], list]:
    """Titles and cells where each cell of a column carries one and the same unit: ``5 gal``; it
    goes into the title."""
    titles, cells = list(titles), list(cells)
    for position, held in enumerate(cells):
        first = next((each for each in held if each.strip()), "").strip()
        if not _WITH_UNIT.fullmatch(first):
            continue
        stated, kind = column_named(titles[position], kinds)
        if kind is None or kind in KINDS:
            continue
        kept = [each.strip() for each in held]
        parted = [_WITH_UNIT.fullmatch(each) if each else None for each in without_missing(kept)]
        there = [number for number, each in enumerate(without_missing(kept)) if each]
        units = {match[2].strip() if (match := parted[number]) else "" for number in there}
        if len(units) != 1 or "" in units or stated not in (None, "", *units):
            continue
        unit = units.pop()
        if not stated:
            titles[position] = f"{titles[position].strip().rstrip('[]() ')} [{unit}]"
            told.append(
                f"the unit of the column '{one_line(titles[position])}' is taken from its cells"
            )
        cells[position] = [match[1] if match else "" for match in parted]
    return titles, cells


def _units_below(
    titles: list[str], cells: list, lines: list, kinds: dict[str, str], told: list[str]
) -> tuple[list[str], list, list]:
    """Titles, cells and lines where the units stand in a line of their own below the titles."""
    row = [held[0].strip().strip("[]()") for held in cells]
    bare = [
        position
        for position, title in enumerate(titles)
        for unit, kind in [column_named(title, kinds)]
        if kind is not None and kind not in KINDS and not unit
    ]
    needed = [column_named(titles[position], kinds)[1] or "" for position in bare]
    fits = [is_unit_of(row[position], kind) for position, kind in zip(bare, needed)] if row else []
    if not fits or not all(fits) or any(_ANY_NUMBER.match(each) for each in row):
        return titles, cells, lines
    told.append("the units are taken from the line below the titles")
    titled = [
        f"{title.strip().rstrip('[]() ')} [{row[position]}]" if position in bare else title
        for position, title in enumerate(titles)
    ]
    return titled, [held[1:] for held in cells], lines[1:]


_ANY_NUMBER = re.compile(r"[-+]?\d")


def _frame(
    path: str | Path,
    header: Header,
    kinds: dict[str, str],
    cells: list,
    lines: list,
    mistakes: list,
    unread: list | None,
    told: list[str],
) -> pd.DataFrame:
    import pandas as pd

    data = {"line": lines}
    if lines and unread is None:
        _refuse_swapped(path, header.columns, cells, lines[0])
    texts = {}
    for column in header.columns:
        held = [cell.strip() for cell in cells[column.position]] if cells else []
        held = held if column.kind == "text" else without_missing(held)
        texts[column] = pd.Series(held, dtype=object)
    texts = _with_clock(texts, kinds)
    mark = decimal_mark([each for column, each in texts.items() if column.kind not in _NO_NUMBERS])
    if isinstance(mark, Doubt):
        mistakes.append(_doubted(path, lines, mark))
        mark = "."
    elif mark == ",":
        told.append("numbers are read with decimal commas")
    for column, each in texts.items():
        data[column.name], bad, wish, said = _convert(each, column, mark)
        if isinstance(said, Doubt):
            mistakes.append(_doubted(path, lines, said))
        elif said:
            told.append(
                f"dates are read with the {said}"
                if said != "year first"
                else "dates are read with the year first"
            )
        if len(bad) and unread is not None:
            unread.append(
                (column.name, tuple(lines[index] for index in bad), one_line(each[bad[0]]))
            )
        elif len(bad) and not isinstance(said, Doubt):
            listed = ", ".join(str(lines[index]) for index in bad[:_MOST_LISTED])
            more = f" and {len(bad) - _MOST_LISTED} more" if len(bad) > _MOST_LISTED else ""
            mistakes.append(
                Mistake(
                    shown_path(path),
                    f"line{'s' if len(bad) > 1 else ''} {listed}{more}",
                    f"'{one_line(each[bad[0]])}' in the column '{column.name}' is not {wish}",
                )
            )
    if mistakes:
        raise InputError(mistakes)
    frame = pd.DataFrame(data)
    frame.attrs["units"] = {column.name: column.unit for column in header.columns if column.unit}
    return frame


_NO_NUMBERS = ("date", "time", "text", "yes/no")


def _doubted(path: str | Path, lines: list, doubt: Doubt) -> Mistake:
    return Mistake(shown_path(path), f"line {lines[doubt.position]}", doubt.text)


_HOUR = r"\d[ T]+(?!00:00(?::00)?$)\d{1,2}:\d\d"  # behind a date, other than midnight


def _with_clock(texts: dict[Column, Any], kinds: dict[str, str]) -> dict[Column, Any]:
    """The day in one column and its hour in another made one; a date with its hour is a time."""
    by_name = {column.name: column for column in texts}
    day, hour = by_name.get("date"), by_name.get("time")
    if day is None or kinds.get("time") != "time" or not len(texts[day]):
        return texts
    if hour is None:
        # A logger shows an hour within its first day: the whole of a long record is looked at only
        # where it does not.
        if any(
            part.str.contains(_HOUR, regex=True).any()
            for part in (texts[day].iloc[:48], texts[day])
        ):
            as_time = Column(day.position, "time", "time", unit=None)
            return {as_time if column is day else column: each for column, each in texts.items()}
        return texts
    if texts[hour].str.fullmatch(r"\d{1,2}:\d{2}(?::\d{2})?(?: ?[AaPp][Mm])?").all():
        both = texts[day].str.cat(texts[hour], sep=" ")
        return {
            column: both if column is hour else each
            for column, each in texts.items()
            if column is not day
        }
    return texts


def _refuse_swapped(path: str | Path, columns: tuple[Column, ...], cells: list, line: int) -> None:
    """Refuse a table whose first row has its date under another column's title."""
    dated = {
        each.name: bool(re.match(r"(?:1[89]|2[01])\d\d-\d\d-\d\d", cells[each.position][0].strip()))
        for each in columns
    }
    wanting = [
        each.name for each in columns if each.kind in ("date", "time") and not dated[each.name]
    ]
    found = [
        each.name
        for each in columns
        if each.kind not in ("date", "time", "text") and dated[each.name]
    ]
    if wanting and found:
        raise wrong(
            path,
            f"line {line}",
            (
                f"a date stands in the column '{found[0]}', not in '{wanting[0]}'; put the "
                "columns in the order of the header"
            ),
        )


def _convert(texts: pd.Series, column: Column, mark: str) -> tuple[Any, Any, str, str | Doubt]:
    """Values, positions of cells that could not be read, what they should have been, and how they
    were read."""
    import numpy as np

    from .units import Quantity, parse_unit

    kind, unit = column.kind, column.unit
    empty = (texts == "").to_numpy(dtype=bool)
    if kind == "text":
        return texts, [], "", ""
    if kind == "yes/no":
        said = texts.str.lower().map(_YES)
        return said, np.flatnonzero(said.isna().to_numpy() & ~empty), "yes or no", ""
    if kind in ("date", "time"):
        days, order, doubt = dates(texts, kind == "time")
        wish = (
            "a date; write 2024-03-01 (year-month-day)"
            if kind == "date"
            else "a time; write 2024-03-01 07:40 (year-month-day, no time zone)"
        )
        return days, np.flatnonzero(days.isna().to_numpy() & ~empty), wish, doubt or order
    values, per_cent = numbers(texts, mark)
    if kind != "ratio":
        values = np.where(per_cent, np.nan, values)
    if kind == "ratio":
        values = np.where((unit == "%") | per_cent, values / 100, values)
    elif kind != "count":
        with np.errstate(over="ignore", invalid="ignore"):
            values = Quantity(values, parse_unit(unit)).m_as(unit_of(kind))
    bad = np.flatnonzero(~believable(values) & ~empty)
    values = np.array(values)  # pandas hands out arrays that may not be written to
    wish = _number_wish(texts[bad[0]], bool(np.isfinite(values[bad[0]]))) if len(bad) else ""
    values[bad] = np.nan
    return values, bad, wish, ""


def _number_wish(text: str, oversized: bool) -> str:
    """What a cell that is no number should have been."""
    if oversized:
        return "of a size that can be measured"
    if "," in text:
        return (
            "a number; write 12.5 with a point, and no comma between thousands (replace every "
            "comma of these cells)"
        )
    if "[" in text:
        return "a number; units stand in the header line, not below it"
    if not any(each.isdigit() for each in text):
        return "a number; leave the cell empty where nothing was measured"
    return "a number; write for example 12.5 (a point, no unit in the cell)"
