"""The only reader of CSV and TOML: encodings, headers with units, dates, all mistakes at once."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TypeAlias

from .errors import InputError, Mistake, did_you_mean, one_line

__all__ = ["Entries", "read_text", "read_toml", "resolved", "shown_path", "text_hash"]

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0e-\x1f\x7f]")
_LARGEST_FILE = 100_000_000  # bytes
LONGEST_LINE = 20_000  # characters; a table of measurements has no such line


# A table of a file of TOML or JSON, by its keys: whoever reads it knows what is in it.
Entries: TypeAlias = dict[str, Any]


def shown_path(path: str | Path) -> str:
    """The path as a reader would type it: relative to the working folder where that is shorter."""
    path = Path(path)
    try:
        return path.resolve().relative_to(Path.cwd()).as_posix()
    except (
        ValueError,
        OSError,
        RuntimeError,
    ):  # elsewhere; or a working folder that is gone, or a link that leads to itself
        return path.as_posix()


def resolved(path: Path) -> Path | None:
    """Where a path leads once its links are followed; None where one of them leads to itself."""
    try:
        return path.resolve()
    except (OSError, RuntimeError):
        return None


# What a Western spreadsheet writes beyond ASCII; any other byte above shows another encoding.
_WESTERN = frozenset("°±²³µ·½¼¾€£¥§©®™–—‘’“”„…«»¿¡×÷ \u00a0ºª´") | frozenset(
    chr(each) for each in range(0xC0, 0xFF)
)


def read_text(path: str | Path, told: list[str] | None = None) -> str:
    """The text of a UTF-8 or UTF-16 file, a byte-order mark dropped, line ends as ``\\n``.

    Where `told` is given, text of 8 bits a letter from a Western spreadsheet (Windows-1252) is read
    too where it can be nothing else, and that is told there.

    Raises
    ------
    InputError
        No such file, a folder, not readable, empty, or bytes that are neither.
    """
    path = Path(path)
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            raise wrong(path, "", "this is a device or a pipe; a file is needed")
        with open(path, "rb") as handle:
            raw = handle.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        siblings = [each.name for each in path.parent.iterdir()] if path.parent.is_dir() else []
        raise wrong(path, "", f"there is no such file{did_you_mean(path.name, siblings)}") from None
    except IsADirectoryError:
        raise wrong(path, "", "this is a folder; a file is needed") from None
    except OSError as error:
        raise wrong(path, "", f"the file cannot be read ({error.strerror or error})") from None
    if len(raw) > _LARGEST_FILE:
        raise wrong(
            path,
            "",
            f"the file is larger than {_LARGEST_FILE // 1_000_000} MB; a century of hourly readings has less",
        )
    if raw.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise wrong(
            path,
            "",
            "this is a workbook of a spreadsheet, not a text file; save its sheet as 'CSV UTF-8'",
        )
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            raw = raw.decode("utf-16").encode()
        except UnicodeDecodeError:
            raise wrong(
                path,
                "",
                (
                    "this begins as UTF-16 text but does not go on so; save the file as 'UTF-8' "
                    "(in a spreadsheet: 'CSV UTF-8')"
                ),
            ) from None
    raw = _without_mark(raw) or raw
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        western = None if told is None else _western(raw)
        if western is not None and told is not None:
            told.append("text is read as Windows-1252, as older spreadsheets write it")
            return western.replace("\r\n", "\n").replace("\r", "\n")
        line = raw[: error.start].count(b"\n") + 1
        raise wrong(
            path,
            f"line {line}",
            "has bytes that are not UTF-8 text; save the file as 'UTF-8' (in a spreadsheet: 'CSV UTF-8')",
        ) from None
    if not text.strip():
        raise wrong(path, "", "the file is empty")
    text = (
        text.rstrip("\x1a").replace("\r\n", "\n").replace("\r", "\n")
    )  # \x1a: an old mark for the end of a file
    if "\0" in text:
        raise wrong(
            path,
            f"line {text.count(chr(10), 0, text.index(chr(0))) + 1}",
            "has a NUL byte; this is not a text file (a spreadsheet is saved as 'CSV UTF-8')",
        )
    control = _CONTROL.search(text)
    if control:
        line = text.count("\n", 0, control.start()) + 1
        raise wrong(
            path,
            f"line {line}",
            f"has a control character ({one_line(control[0])}); save the file as plain text",
        )
    return text


def _without_mark(raw: bytes) -> bytes | None:
    """UTF-16 text that lacks its byte-order mark, as UTF-8: one byte of most letters is naught, the
    other never."""
    if b"\0" not in raw[:2] or len(raw) % 2:
        return None
    for coding, low, high in (
        ("utf-16-le", raw[::2], raw[1::2]),
        ("utf-16-be", raw[1::2], raw[::2]),
    ):
        if b"\0" not in low and 2 * high.count(b"\0") > len(high):
            try:
                return raw.decode(coding).encode()
            except UnicodeDecodeError:
                return None
    return None


def _western(raw: bytes) -> str | None:
    """Text of 8 bits a letter; None where bytes, or a letter of UTF-8 among them, show that it is not."""
    beyond = set(re.findall(rb"[\x80-\xff]", raw))
    if re.search(rb"[\xc2-\xf4][\x80-\xbf]", raw) or _CONTROL.search(raw.decode("latin-1")):
        return None
    try:
        text = raw.decode("cp1252")
        letters = {each.decode("cp1252") for each in beyond}
    except UnicodeDecodeError:
        return None
    return text if letters <= _WESTERN else None


def text_hash(path: str | Path) -> str:
    """SHA-256 of a text file with its line ends normalised, so that it is the same on every system."""
    return hashlib.sha256(
        Path(path).read_bytes().replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    ).hexdigest()


def read_toml(path: Path) -> dict:
    """A TOML file as a dict.

    Raises
    ------
    InputError
        As :func:`read_text`, or text that is not TOML, with its line.
    """
    import tomllib

    text = _with_straight_quotes(read_text(path))
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise wrong(
            path, "", "brackets stand within brackets too deep; a list or table needs one pair"
        ) from None
    except tomllib.TOMLDecodeError as error:
        said, _, place = str(error).partition(" (at ")
        found = re.search(r"line (\d+)", place)
        lines = text.rstrip("\n").split("\n")
        number = min(int(found[1]), len(lines)) if found else len(lines)
        raise wrong(
            path,
            f"line {number}",
            (
                f"this line cannot be read: {one_line(lines[number - 1])} "
                f"({_toml_slip(lines[number - 1], said)})"
            ),
        ) from None
    except ValueError:
        raise wrong(path, "", "a number has too many digits") from None


_CURLY = str.maketrans({"“": '"', "”": '"', "„": '"', "‘": "'", "’": "'"})


def _with_straight_quotes(text: str) -> str:
    """The text with the curly quotes of an office program made straight, where they stand for quotes.

    They do on a line without any straight quote whose value begins with one.
    """
    if not re.search("[“”„‘’]", text):
        return text
    lines = (
        line.translate(_CURLY)
        if re.match(r"\s*[\w.-]+\s*=\s*\[?\s*[“”„‘’]", line) and '"' not in line and "'" not in line
        else line
        for line in text.split("\n")
    )
    return "\n".join(lines)


def _toml_slip(line: str, said: str) -> str:
    """What is wrong with a line that is not TOML, and what to write."""
    key, equals, value = (each.strip() for each in line.partition("="))
    key, wrong = one_line(key), one_line(value.strip("\"'"), 30)
    if re.search("[“”„«»‘’]", line):
        return 'curly quotes; write straight ones, as in length = "380 m"'
    if said.startswith("Cannot overwrite"):
        return f"'{key}' is given twice; keep one of them"
    if said.startswith("Cannot declare"):
        return "this section stands there already; put its keys together under one heading"
    if re.search("array|inline table", said):
        return (
            'a list stands in square brackets with commas between its values, as in flows = ["8 '
            'L/s", "12 L/s"]'
        )
    if value in ("yes", "no", "True", "False"):
        return f"write {key} = {'true' if value in ('yes', 'True') else 'false'}"
    if "\\" in value:
        return "write / where a path has \\"
    if line.lstrip().startswith("[") and not equals:
        return "a section stands in brackets on a line of its own, as in [penstock]"
    if not equals:
        return 'a line is a key, an equals sign and a value, as in length = "380 m"'
    if re.fullmatch(r"\d+,\d[\d.,]*\s*(#.*)?", value):
        from .units import without_comma

        return f"a comma in a number; write {key} = {without_comma(value.split('#')[0]).replace(chr(34), '')}"
    if re.match(r"\d+[./]\d+[./]\d{4}", value):
        return "a date is written year-month-day without quotes, as in 2026-07-04"
    inches = re.match(r"\"[^\"]*?([0-9][0-9./ ]*)\s*\"\"", value)
    if inches:
        return f'inches are written {key} = "{inches[1].strip()} in"'
    if value[:1] in ('"', "'") and value.count(value[0]) == 1:
        return f'the quote is not closed; write {key} = "{wrong}"'
    if value and value[0] not in "\"'[{":
        return f'text, and a number with a unit, stand in quotes: {key} = "{wrong}"'
    return f'{one_line(said, 120)}; a line is a key, an equals sign and a value, as in length = "380 m"'


def wrong(path: str | Path, where: str, text: str) -> InputError:
    return InputError(Mistake(shown_path(path), where, text))


# A sign that begins a formula, plain or full width, at the start of a cell or of what a spreadsheet
# may part from it.
_FORMULA = re.compile("(^|[;\\t]\\s*)([=+@\uff1d\uff0b\uff20\uff0d-])")


def no_formula(text: str) -> str:
    """Text for a cell of a CSV that no spreadsheet takes for a formula; numbers are not for this."""
    return _FORMULA.sub(r"\1'\2", text)


def write_csv_text(header: Iterable[object], rows: Iterable[Iterable[object]]) -> str:
    """CSV text with a header, ``\\n`` at line ends; numbers as Python writes them."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()
