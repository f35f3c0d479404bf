"""The only reader of CSV and TOML: encodings, headers with units, dates, all mistakes at once."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from pathlib import Path
from typing import Any

from .errors import InputError, Mistake, counted, did_you_mean, one_line

__all__ = ["believable", "read_csv", "read_text", "read_toml", "shown_path", "text_hash"]

_HEADER = re.compile(r"\s*([^\[\]]+?)\s*(?:\[\s*([^\[\]]*?)\s*\])?\s*")
_NOTES = ("note", "notes", "remark", "remarks", "comment", "comments")
_KINDS = ("date", "time", "text", "yes/no", "count", "ratio")
_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_MOST_LISTED = 5
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f]")
_LONGEST_LINE = 20_000  # characters; a table of measurements has no such line
# No measurement in SI lies beyond these; squares and fifth powers of what lies within stay finite.
_SMALLEST, _LARGEST = 1e-18, 1e18
_DATE = r"(?:1[89]|2[01])\d\d-\d\d-\d\d"


def believable(values: Any) -> Any:
    """Whether numbers are of a size that something measured can have; those that are none are not.

    >>> believable(0.0), believable(1e300), believable(float("nan"))
    (True, False, False)
    """
    size = abs(values)
    return (size <= _LARGEST) & ((size >= _SMALLEST) | (size == 0))


def shown_path(path: Any) -> str:
    """The path as a reader would type it: relative to the working folder where that is shorter."""
    path = Path(path)
    try:
        return path.resolve().relative_to(Path.cwd()).as_posix()
    except ValueError:
        return path.as_posix()


def read_text(path: Any) -> str:
    """The text of a UTF-8 file, a byte-order mark dropped, line ends as ``\\n``.

    Raises
    ------
    InputError
        No such file, a folder, not readable, empty, or bytes that are not UTF-8.
    """
    path = Path(path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        siblings = [each.name for each in path.parent.iterdir()] if path.parent.is_dir() else []
        raise _bad(path, "", f"there is no such file{did_you_mean(path.name, siblings)}") from None
    except IsADirectoryError:
        raise _bad(path, "", "this is a folder; a file is needed") from None
    except OSError as error:
        raise _bad(path, "", f"the file cannot be read ({error.strerror or error})") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise _bad(
            path, f"line {line}", "has bytes that are not UTF-8 text; save the file as 'UTF-8' (in a spreadsheet: 'CSV UTF-8')"
        ) from None
    if not text.strip():
        raise _bad(path, "", "the file is empty")
    text = text.rstrip("\x1a").replace("\r\n", "\n").replace("\r", "\n")  # \x1a: an old mark for the end of a file
    if "\0" in text:
        raise _bad(path, f"line {text.count(chr(10), 0, text.index(chr(0))) + 1}", "has a NUL byte; this is not a text file (a spreadsheet is saved as 'CSV UTF-8')")
    control = _CONTROL.search(text)
    if control:
        line = text.count("\n", 0, control.start()) + 1
        raise _bad(path, f"line {line}", f"has a control character ({one_line(control[0])}); save the file as plain text")
    return text


def text_hash(path: Any) -> str:
    """SHA-256 of a text file with its line ends normalised, so that it is the same on every system."""
    return hashlib.sha256(Path(path).read_bytes().replace(b"\r\n", b"\n").replace(b"\r", b"\n")).hexdigest()


def read_toml(path: Any) -> dict:
    """A TOML file as a dict.

    Raises
    ------
    InputError
        As :func:`read_text`, or text that is not TOML, with its line.
    """
    import tomllib

    text = read_text(path)
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _bad(path, "", "brackets stand within brackets too deep; a list or table needs one pair") from None
    except ValueError as error:  # with tomllib's own, that of a number of thousands of digits
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        where = f"line {found[1]}" if found else ""
        what = one_line(str(error).split(" (at ")[0] if isinstance(error, tomllib.TOMLDecodeError) else "a number has too many digits", 120)
        raise _bad(
            path, where, f'this is not TOML: {what}; values with a unit stand in quotes, for example length = "380 m"'
        ) from None


def read_csv(path: Any, wanted: dict[str, str], optional: dict[str, str] | None = None, unread: list | None = None) -> Any:
    """A CSV table with units in its header, as a DataFrame in SI.

    Parameters
    ----------
    path : path
        A comma-separated UTF-8 file. Lines that begin with ``#`` are comments. The header names
        each column with its unit: ``date, flow [L/s]``.
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
    numbered = [(number, line) for number, line in enumerate(text.split("\n"), 1) if line.strip() and not line.lstrip().startswith("#")]
    if not numbered:
        raise _bad(path, "", "the file has no header line; write for example: date, flow [L/s]")
    header_line, header = numbered[0]
    long = next((number for number, line in numbered if len(line) > _LONGEST_LINE), None)
    if long is not None:
        raise _bad(path, f"line {long}", "is longer than a line of a table can be; is this the right file?")
    if ";" in header and "," not in header:
        raise _bad(path, f"line {header_line}", "columns are parted by semicolons; save it with commas between columns and a point in numbers")
    columns, mistakes = _read_header(path, header_line, header, {**wanted, **optional}, wanted)
    if mistakes:
        raise InputError(mistakes)
    cells, lines, mistakes = _split_rows(path, numbered[1:], len(_fields(header)))
    if not lines and not mistakes:
        mistakes.append(Mistake(shown_path(path), "", "the file has a header but no rows"))
    return _frame(path, columns, cells, lines, mistakes, unread)


def _bad(path: Any, where: str, text: str) -> InputError:
    return InputError(Mistake(shown_path(path), where, text))


def _fields(line: str) -> list[str]:
    return next(csv.reader([line], skipinitialspace=True))


def _read_header(path: Any, line: int, header: str, kinds: dict, wanted: dict) -> tuple[list, list]:
    """[(position, name, kind, unit text)], and the mistakes of the header."""
    from .units import UnitsError, parse_unit

    shown, where = shown_path(path), f"line {line}"
    columns, mistakes, seen = [], [], set()
    for position, cell in enumerate(_fields(header)):
        match = _HEADER.fullmatch(cell)
        name, unit = (match[1].strip().lower(), match[2]) if match else (cell.strip(), None)
        if name in _NOTES and name not in kinds:
            continue
        if name not in kinds:
            known = did_you_mean(name, kinds) or "; known are " + ", ".join(kinds)
            mistakes.append(Mistake(shown, where, f"there is no use for a column '{one_line(name)}' here{known}" if name else f"a column has no name{known}"))
            continue
        if name in seen:
            mistakes.append(Mistake(shown, where, f"the column '{name}' stands there twice"))
        seen.add(name)
        kind = kinds[name]
        if kind in _KINDS:
            if kind == "ratio" and unit not in (None, "", "-", "1", "%"):
                mistakes.append(Mistake(shown, where, f"the column '{name}' is a share; write {name} [%] or {name} [-], not [{one_line(unit)}]"))
        elif not unit:
            mistakes.append(Mistake(shown, where, f"the column '{name}' has no unit in its header; write for example {name} [{_example_unit(kind)}]"))
            continue
        else:
            try:
                if parse_unit(unit).dimensionality != _unit_of(kind).dimensionality:
                    mistakes.append(Mistake(shown, where, f"the column '{name}' is in [{one_line(unit)}]; needed is a unit such as [{_example_unit(kind)}]"))
            except UnitsError as error:
                mistakes.append(Mistake(shown, where, f"the column '{name}': {error}"))
        columns.append((position, name, kind, unit))
    for name in wanted:
        if name not in seen:
            example = name if wanted[name] in _KINDS else f"{name} [{_example_unit(wanted[name])}]"
            mistakes.append(Mistake(shown, where, f"there is no column '{name}'; write for example {example}"))
    return columns, mistakes


def _unit_of(kind: str) -> Any:
    from .units import parse_unit

    return parse_unit("m" if kind == "head" else kind)


def _example_unit(kind: str) -> str:
    return {"m^3/s": "L/s", "Pa": "psi", "K": "degC", "head": "m", "m^3": "L", "S/m": "uS/cm"}.get(kind, kind)


def _split_rows(path: Any, numbered: list, fields: int) -> tuple[list, list, list]:
    """The cells column by column, the line of each row, and the mistakes."""
    cells = _split_whole(numbered, fields)
    if cells is not None:
        return cells, [number for number, _ in numbered], []
    rows, lines, odd, open_quote = [], [], [], []
    for number, line in numbered:
        row = _fields(line)
        if line.count('"') % 2:
            open_quote.append(number)
        elif len(row) == fields:
            rows.append(row)
            lines.append(number)
        else:
            odd.append((number, len(row)))
    mistakes = []
    if open_quote:
        mistakes.append(Mistake(shown_path(path), f"line {open_quote[0]}", 'has a " that is not closed on the same line; keep each row on one line'))
    if odd:
        number, found = odd[0]
        more = f" (and {len(odd) - 1} more such lines)" if len(odd) > 1 else ""
        mistakes.append(
            Mistake(
                shown_path(path), f"line {number}",
                f"has {counted(found, 'field')} where the header has {fields}{more}; "
                + ("a comma inside a number? write 12.5, not 12,5" if found > fields else "an empty cell needs its comma too"),
            )
        )  # fmt: skip
    return list(zip(*rows)), lines, mistakes


def _split_whole(numbered: list, fields: int) -> list | None:
    """The cells column by column, if no row needs more than parting at its commas: quick, for long records."""
    if not numbered or any('"' in line or line.count(",") != fields - 1 for _, line in numbered):
        return None
    cells = ",".join(line for _, line in numbered).split(",")
    return [cells[position::fields] for position in range(fields)]


def _frame(path: Any, columns: list, cells: list, lines: list, mistakes: list, unread: list | None) -> Any:
    import pandas as pd

    data = {"line": lines}
    for position, name, kind, unit in columns:
        texts = pd.Series([cell.strip() for cell in cells[position]] if cells else [], dtype=object)
        data[name], bad, wish = _convert(texts, kind, unit)
        if len(bad) and unread is not None:
            unread.append((name, tuple(lines[index] for index in bad), one_line(texts[bad[0]])))
        elif len(bad):
            listed = ", ".join(str(lines[index]) for index in bad[:_MOST_LISTED])
            more = f" and {len(bad) - _MOST_LISTED} more" if len(bad) > _MOST_LISTED else ""
            mistakes.append(
                Mistake(shown_path(path), f"line{'s' if len(bad) > 1 else ''} {listed}{more}", f"'{one_line(texts[bad[0]])}' in the column '{name}' is not {wish}")
            )
    if mistakes:
        raise InputError(mistakes)
    return pd.DataFrame(data)


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
        pattern = _DATE if kind == "date" else _DATE + r"[ T]\d{1,2}:\d{2}(?::\d{2})?"
        fits = texts.str.fullmatch(pattern).to_numpy(dtype=bool)
        values = pd.to_datetime(texts.where(fits), errors="coerce", format="ISO8601")
        wish = "a date; write 2024-03-01" if kind == "date" else "a time; write 2024-03-01 07:40 (no time zone)"
        return values, np.flatnonzero(values.isna().to_numpy() & ~empty), wish
    values = pd.to_numeric(texts.where(~empty), errors="coerce").to_numpy(dtype=float)
    if kind == "ratio":
        values = values / 100 if unit == "%" else values
    elif kind != "count":
        with np.errstate(over="ignore", invalid="ignore"):
            values = Quantity(values, parse_unit(unit)).m_as(_unit_of(kind))
    bad = np.flatnonzero(~believable(values) & ~empty)
    values = np.array(values)  # pandas hands out arrays that may not be written to
    oversized = len(bad) and np.isfinite(values[bad[0]])
    values[bad] = np.nan
    return values, bad, "of a size that can be measured" if oversized else "a number; write for example 12.5 (a point, no unit in the cell)"


def write_csv_text(header: list[str], rows: list) -> str:
    """CSV text with a header, ``\\n`` at line ends; numbers as Python writes them."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()
