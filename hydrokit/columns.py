"""A CSV file of named columns, each with its unit in the header."""

from __future__ import annotations

import csv
import re
from typing import Any

from .errors import InputError, Mistake, counted, did_you_mean, one_line
from .files import LONGEST_LINE, read_text, shown_path, wrong

__all__ = ["believable", "read_csv"]

# No measurement in SI lies beyond these; squares and fifth powers of what lies within stay finite.
_SMALLEST, _LARGEST = 1e-18, 1e18

_HEADER = re.compile(r"\s*([^\[\]()]+?)\s*(?:[\[(]\s*([^\[\]()]*?)\s*[\])])?\s*")

_NOTES = ("note", "notes", "remark", "remarks", "comment", "comments")

_KINDS = ("date", "time", "text", "yes/no", "count", "ratio")

_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}

_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}

_MOST_LISTED = 5

_DATE = r"(?:1[89]|2[01])\d\d-\d\d-\d\d"


def believable(values: Any) -> Any:
    """Whether numbers are of a size that something measured can have; those that are none are not.

    >>> believable(0.0), believable(1e300), believable(float("nan"))
    (True, False, False)
    """
    size = abs(values)
    return (size <= _LARGEST) & ((size >= _SMALLEST) | (size == 0))


def read_csv(
    path: Any,
    wanted: dict[str, str],
    optional: dict[str, str] | None = None,
    unread: list | None = None,
) -> Any:
    """A CSV table with units in its header, as a DataFrame in SI.

    Parameters
    ----------
    path : path
        A UTF-8 file with commas between the columns (or semicolons, or tabs) and points in the
        numbers. Lines that begin with ``#`` are comments. The header names each column with its
        unit: ``date, flow [L/s]``.
    wanted : dict
        Column name to kind: a unit (``"m^3/s"``: the values are converted to it), ``"K"``,
        ``"date"`` (2024-03-01), ``"time"`` (2024-03-01 07:40), ``"text"``, ``"yes/no"``,
        ``"count"``, ``"ratio"`` (plain or ``[%]``).
    optional : dict, optional
        The same, for columns that may be absent.
    unread : list, optional
        Where it is given, cells that cannot be read are left empty instead of refused, and told
        here as (column, lines, first of them): a long log is not worthless for one blot.

    Returns
    -------
    DataFrame
        One column per name, and ``line``: the line of the file each row stands in. Empty cells
        are NaN, NaT or ``""``. Columns called note, remark or comment may stand there too; they
        are kept only where they are asked for.

    Raises
    ------
    InputError
        All mistakes at once, each with its line and what to write.
    """
    optional = optional or {}
    text = read_text(path)
    # A row of empty cells is a row a spreadsheet has left behind: as good as a blank line.
    numbered = [
        (number, line)
        for number, line in enumerate(text.split("\n"), 1)
        if line.strip().strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not numbered:
        raise wrong(path, "", "the file has no header line; write for example: date, flow [L/s]")
    header_line, header = numbered[0]
    long = next((number for number, line in numbered if len(line) > LONGEST_LINE), None)
    if long is not None:
        raise wrong(
            path, f"line {long}", "is longer than a line of a table can be; is this the right file?"
        )
    separator = max(",;\t", key=header.count)
    numbered = _without_spare_columns(numbered, separator)
    header = numbered[0][1]
    columns, mistakes = _read_header(
        path, header_line, _fields(header, separator), {**wanted, **optional}, wanted
    )
    if mistakes:
        raise InputError(mistakes)
    cells, lines, mistakes = _split_rows(
        path, numbered[1:], len(_fields(header, separator)), separator
    )
    if not lines and not mistakes:
        mistakes.append(Mistake(shown_path(path), "", "the file has a header but no rows"))
    return _frame(path, columns, cells, lines, mistakes, unread)


def _fields(line: str, separator: str) -> list[str]:
    return next(csv.reader([line], delimiter=separator, skipinitialspace=True))


def _without_spare_columns(numbered: list, separator: str) -> list:
    """The lines without the columns at the right that have neither a name nor a value."""
    while all(line.rstrip(" ").endswith(separator) for _, line in numbered):
        numbered = [(number, line.rstrip(" ")[:-1]) for number, line in numbered]
    return numbered


def _read_header(
    path: Any, line: int, header: list, kinds: dict, wanted: dict
) -> tuple[list, list]:
    """[(position, name, kind, unit text)], and the mistakes of the header."""
    from .units import UnitsError, parse_unit

    shown, where = shown_path(path), f"line {line}"
    columns, mistakes, seen, unknown = [], [], set(), []
    for position, cell in enumerate(header):
        match = _HEADER.fullmatch(cell)
        name, unit = (match[1].strip().lower(), match[2]) if match else (cell.strip(), None)
        if name in _NOTES and name not in kinds:
            continue
        if name not in kinds:
            unknown.append(name)
            continue
        if name in seen:
            mistakes.append(Mistake(shown, where, f"the column '{name}' stands there twice"))
        seen.add(name)
        kind = kinds[name]
        if kind in _KINDS:
            if kind == "ratio" and unit not in (None, "", "-", "1", "%"):
                mistakes.append(
                    Mistake(
                        shown,
                        where,
                        f"the column '{name}' is a share; write {name} [%] or {name} [-], not [{one_line(unit)}]",
                    )
                )
        elif not unit:
            mistakes.append(
                Mistake(
                    shown,
                    where,
                    f"the column '{name}' has no unit in its header; write for example {name} [{_example_unit(kind)}]",
                )
            )
            continue
        else:
            try:
                if parse_unit(unit).dimensionality != _unit_of(kind).dimensionality:
                    mistakes.append(
                        Mistake(
                            shown,
                            where,
                            f"the column '{name}' is in [{one_line(unit)}]; needed is a unit such as [{_example_unit(kind)}]",
                        )
                    )
            except UnitsError as error:
                mistakes.append(Mistake(shown, where, f"the column '{name}': {error}"))
        columns.append((position, name, kind, unit))
    missing = [name for name in wanted if name not in seen]
    return columns, mistakes + [
        Mistake(shown, where, text)
        for text in _odd_columns(unknown, missing, header, kinds, wanted)
    ]


def _odd_columns(
    unknown: list, missing: list, header: list, kinds: dict, wanted: dict
) -> list[str]:
    """What to say of columns that are not known, and of those that are not there."""
    known = ", ".join(_title(name, kind) for name, kind in kinds.items())
    if len(unknown) == len(header):
        example = ",".join(_title(name, kind) for name, kind in wanted.items())
        found = one_line(",".join(cell.strip() for cell in header))
        return [
            f"'{found}' names no column known here ({known}); the first line is the header, such as {example}; put # before a line of title or remark"
        ]
    meant = {name: re.split(r"[\W_]", name)[0] for name in unknown}
    titled = [name for name in unknown if meant[name] in kinds]  # "stage m"
    unknown = [name for name in unknown if name not in titled]
    missing = [name for name in missing if name not in meant.values()]
    told = [
        f"write the column '{one_line(name)}' as {_title(meant[name], kinds[meant[name]])}, the unit in square brackets"
        for name in titled
    ]
    if len(unknown) == len(missing) == 1 and unknown[0]:
        return told + [
            f"there is no column '{missing[0]}', but one '{one_line(unknown[0])}'; if that is it, write {_title(missing[0], kinds[missing[0]])}"
        ]
    for name in unknown:
        told.append(
            f"there is no use for a column '{one_line(name)}' here{did_you_mean(name, kinds) or '; known are ' + known}"
            if name
            else f"a column has no name; known are {known}"
        )
    return told + [
        f"there is no column '{name}'; write for example {_title(name, kinds[name])}"
        for name in missing
    ]


def _title(name: str, kind: str) -> str:
    """A column's title as it is to be written: ``flow [L/s]``."""
    return (
        f"{name} [%]"
        if kind == "ratio"
        else name
        if kind in _KINDS
        else f"{name} [{_example_unit(kind)}]"
    )


def _unit_of(kind: str) -> Any:
    from .units import parse_unit

    return parse_unit("m" if kind == "head" else kind)


def _example_unit(kind: str) -> str:
    return {"m^3/s": "L/s", "Pa": "psi", "K": "degC", "head": "m", "m^3": "L", "S/m": "uS/cm"}.get(
        kind, kind
    )


def _split_rows(path: Any, numbered: list, fields: int, separator: str) -> tuple[list, list, list]:
    """The cells column by column, the line of each row, and the mistakes."""
    cells = _split_whole(numbered, fields, separator)
    if cells is not None:
        return cells, [number for number, _ in numbered], []
    rows, lines, odd, open_quote = [], [], [], []
    for number, line in numbered:
        row = _fields(line, separator)
        if line.count('"') % 2:
            open_quote.append(number)
        elif len(row) == fields:
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
    """The cells column by column, if no row needs more than parting at its separators: quick, for long records."""
    if not numbered or any(
        '"' in line or line.count(separator) != fields - 1 for _, line in numbered
    ):
        return None
    cells = separator.join(line for _, line in numbered).split(separator)
    return [cells[position::fields] for position in range(fields)]


def _frame(
    path: Any, columns: list, cells: list, lines: list, mistakes: list, unread: list | None
) -> Any:
    import pandas as pd

    data = {"line": lines}
    if lines and unread is None:
        _refuse_swapped(path, columns, cells, lines[0])
    for position, name, kind, unit in columns:
        texts = pd.Series([cell.strip() for cell in cells[position]] if cells else [], dtype=object)
        data[name], bad, wish = _convert(texts, kind, unit)
        if len(bad) and unread is not None:
            unread.append((name, tuple(lines[index] for index in bad), one_line(texts[bad[0]])))
        elif len(bad):
            listed = ", ".join(str(lines[index]) for index in bad[:_MOST_LISTED])
            more = f" and {len(bad) - _MOST_LISTED} more" if len(bad) > _MOST_LISTED else ""
            mistakes.append(
                Mistake(
                    shown_path(path),
                    f"line{'s' if len(bad) > 1 else ''} {listed}{more}",
                    f"'{one_line(texts[bad[0]])}' in the column '{name}' is not {wish}",
                )
            )
    if mistakes:
        raise InputError(mistakes)
    return pd.DataFrame(data)


def _refuse_swapped(path: Any, columns: list, cells: list, line: int) -> None:
    """Refuse a table whose first row has its date under another column's title."""
    dated = {
        name: bool(re.match(_DATE, cells[position][0].strip())) for position, name, _, _ in columns
    }
    wanting = [name for _, name, kind, _ in columns if kind in ("date", "time") and not dated[name]]
    found = [
        name for _, name, kind, _ in columns if kind not in ("date", "time", "text") and dated[name]
    ]
    if wanting and found:
        raise wrong(
            path,
            f"line {line}",
            f"a date stands in the column '{found[0]}', not in '{wanting[0]}'; put the columns in the order of the header",
        )


def _convert(texts: Any, kind: str, unit: str | None) -> tuple[Any, Any, str]:
    """Values, positions of cells that could not be read, and what they should have been."""
    import numpy as np
    import pandas as pd

    from .units import Quantity, parse_unit

    empty = (texts == "").to_numpy(dtype=bool)
    if kind == "text":
        return texts, [], ""
    if kind == "yes/no":
        values = texts.str.lower().map(_YES)
        return values, np.flatnonzero(values.isna().to_numpy() & ~empty), "yes or no"
    if kind in ("date", "time"):
        pattern = (
            _DATE + "(?:[ T]00:00(?::00)?)?"
            if kind == "date"
            else _DATE + r"[ T]\d{1,2}:\d{2}(?::\d{2})?"
        )
        fits = texts.str.fullmatch(pattern).to_numpy(dtype=bool)
        values = pd.to_datetime(texts.where(fits), errors="coerce", format="ISO8601")
        wish = (
            "a date; write 2024-03-01 (year-month-day)"
            if kind == "date"
            else "a time; write 2024-03-01 07:40 (year-month-day, no time zone)"
        )
        return values, np.flatnonzero(values.isna().to_numpy() & ~empty), wish
    texts = texts.str.replace("\u2212", "-", regex=False)  # the minus sign of print
    values = pd.to_numeric(texts.where(~empty), errors="coerce").to_numpy(dtype=float)
    if kind == "ratio":
        values = values / 100 if unit == "%" else values
    elif kind != "count":
        with np.errstate(over="ignore", invalid="ignore"):
            values = Quantity(values, parse_unit(unit)).m_as(_unit_of(kind))
    bad = np.flatnonzero(~believable(values) & ~empty)
    values = np.array(values)  # pandas hands out arrays that may not be written to
    wish = _number_wish(texts[bad[0]], bool(np.isfinite(values[bad[0]]))) if len(bad) else ""
    values[bad] = np.nan
    return values, bad, wish


def _number_wish(text: str, oversized: bool) -> str:
    """What a cell that is no number should have been."""
    if oversized:
        return "of a size that can be measured"
    if "," in text:
        return "a number; write 12.5 with a point, and no comma between thousands (replace every comma of these cells)"
    if "[" in text:
        return "a number; units stand in the header line, not below it"
    if not any(each.isdigit() for each in text):
        return "a number; leave the cell empty where nothing was measured"
    return "a number; write for example 12.5 (a point, no unit in the cell)"
