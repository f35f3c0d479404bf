"""Cells of a table as people export them: numbers and dates, read where their meaning is certain.

A column is judged as a whole and its file with it: one 31/12/2024 shows that all dates have the day
first, one 12,5 that commas are decimal. Where nothing shows it, both readings are told and none is
taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

__all__ = ["MISSING", "Doubt", "dates", "decimal_mark", "numbers", "without_missing"]

# What a spreadsheet or a logger writes where there is nothing.
MISSING = frozenset(
    "n/a na #n/a #na nan null none ? - -- --- . missing #value! #ref! #div/0! #null! #num! #name?".split()
)

_MISSING_WORDS = {way(word) for word in MISSING for way in (str, str.upper, str.capitalize)} | {
    "NaN"
}
_GROUPED = re.compile(r"(?<=\d)[ \u00a0\u2009\u202f'\u2019](?=\d{3}(?!\d))")  # 1 012, 1'012
_ISO = r"(?:1[89]|2[01])\d\d-\d\d-\d\d"
_CLOCK = r"(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([AaPp]\.?[Mm]\.?)?"
_ANY_DATE = rf"(\d{{1,4}})([./-])(\d{{1,2}})\2(\d{{1,4}})(?:[ T,]+{_CLOCK})?"
_DIGITS = str.maketrans("123456789", "0" * 9)
_NOUGHT_OR_NINE = str.maketrans("12345678", "9" * 8)
_DATE_SHAPES = {"", "0000-00-00"}
_TIME_SHAPES = {""} | {
    f"0000-00-00{between}{clock}"
    for between in " T"
    for clock in ("00:00", "0:00", "00:00:00", "0:00:00")
}
ISO_DATE = _ISO + "(?:[ T]00:00(?::00)?)?"
ISO_TIME = _ISO + r"[ T]\d{1,2}:\d{2}(?::\d{2})?"


@dataclass(frozen=True)
class Doubt:
    """A cell that can be read in two ways, and nothing in its column says which.

    Parameters
    ----------
    position : int
        Of the cell.
    text : str
        What stands there, both readings, and what to write.
    """

    position: int
    text: str


def without_missing(texts: list[str]) -> list[str]:
    """The cells of a column, empty where they say that there is nothing."""
    return ["" if text in _MISSING_WORDS else text for text in texts]


# --- numbers --------------------------------------------------------------------------------


def decimal_mark(columns: Sequence[pd.Series]) -> str | Doubt:
    """Which mark parts the decimals in the numbers of a file: ``"."``, ``","``, or a doubt.

    Parameters
    ----------
    columns : sequence of Series of text
        Its columns of numbers.
    """
    first: dict[str, tuple[int, str]] = {}
    columns = [_one_of_each_shape(texts) for texts in columns]
    for texts in columns:
        if not any("," in text for text in texts):
            continue
        marked = texts[texts.str.contains(",", regex=False)]
        plain = marked.str.replace(_GROUPED, "", regex=True)
        thousands = r"[+-]?\d{1,3}(?:,\d{3})+"
        for mark, pattern in (
            (
                ",",
                r"[+-]?(?:\d+|\d{1,3}(?:\.\d{3})+),(?:\d{1,2}|\d{4,})%?|[+-]?0,\d+%?|[+-]?\d{4,},\d+%?|[+-]?\d{1,3}(?:\.\d{3})+,\d+%?",
            ),
            (".", rf"{thousands}\.\d*%?|[+-]?\d{{1,3}}(?:,\d{{3}}){{2,}}%?"),
            ("?", r"[+-]?[1-9]\d{0,2},\d{3}%?"),
        ):
            fits = plain[plain.str.fullmatch(pattern)]
            if len(fits) and mark not in first:
                first[mark] = (int(fits.index[0]), str(fits.iloc[0]))
    if first:
        for texts in columns:  # a point with other than three digits behind it is no thousand
            points = texts[texts.str.fullmatch(r"[+-]?\d+\.(?:\d{1,2}|\d{4,})%?|[+-]?0\.\d+%?")]
            if len(points):
                first.setdefault(".", (int(points.index[0]), str(points.iloc[0])))
    if "," in first and "." in first:
        position, text = first["."]
        return Doubt(
            position,
            (
                f"'{text}' has a decimal point, but other numbers of the file have decimal commas "
                f"('{first[','][1]}'); write all with a point"
            ),
        )
    if "," in first:
        return ","
    if "?" in first and "." not in first:
        position, text = first["?"]
        whole, _, rest = text.partition(",")
        return Doubt(
            position,
            (
                f"'{text}' may be {whole}.{rest} or {whole}{rest}, and no other number says "
                "which; write numbers with a point, and no comma between thousands"
            ),
        )
    return "."


def _one_of_each_shape(texts: pd.Series) -> pd.Series:
    """The first cell of each shape: all others of it are read alike, and a long record has few shapes."""
    if not len(texts):
        return texts
    shapes = "\n".join(texts).translate(_NOUGHT_OR_NINE).split("\n")
    last = len(shapes) - 1
    first = {shape: last - back for back, shape in enumerate(reversed(shapes))}
    return texts.iloc[sorted(first.values())]


def numbers(texts: pd.Series, mark: str) -> tuple[np.ndarray, np.ndarray]:
    """Floats of a column, NaN where a cell is none; and which of them had a per cent sign."""
    import pandas as pd

    joined = "\n".join(texts)
    if mark == "," and joined and "." not in joined:  # quick, for long records
        pointed = pd.Series(joined.replace(",", ".").split("\n"), index=texts.index, dtype=object)
        quick = pd.to_numeric(pointed, errors="coerce")
        if not (quick.isna() & (texts != "")).any():
            return quick.to_numpy(dtype=float), pd.Series(False, index=texts.index).to_numpy()
    quick = pd.to_numeric(texts, errors="coerce")
    odd = quick.isna() & (texts != "")
    per_cent = pd.Series(False, index=texts.index)
    if not odd.any() and mark == ".":
        return quick.to_numpy(dtype=float), per_cent.to_numpy()
    some = (texts if mark == "," else texts[odd]).str.replace("\u2212", "-", regex=False)
    some = some.str.replace(_GROUPED, "", regex=True)
    shares = some.str.endswith("%")
    some = some.str.removesuffix("%").str.strip()
    if mark == ",":
        grouped = some.str.fullmatch(r"[+-]?\d{1,3}(?:\.\d{3})+(?:,\d*)?") & some.str.contains(
            ".", regex=False
        )
        some = some.where(~grouped, some.str.replace(".", "", regex=False))
        some = some.str.replace(",", ".", regex=False)
    else:
        grouped = some.str.fullmatch(r"[+-]?\d{1,3}(?:,\d{3})+(?:\.\d*)?")
        some = some.where(~grouped, some.str.replace(",", "", regex=False))
    quick[some.index] = pd.to_numeric(some, errors="coerce")
    per_cent[some.index] = shares
    return quick.to_numpy(dtype=float), per_cent.to_numpy()


# --- dates ----------------------------------------------------------------------------------


def dates(texts: pd.Series, clock: bool) -> tuple[pd.Series, str, Doubt | None]:
    """Dates of a column, NaT where a cell is none; how they were read; and a doubt where they were not.

    Parameters
    ----------
    texts : Series of text
    clock : bool
        Whether a time of day is wanted behind the date.
    """
    import pandas as pd

    iso = ISO_TIME if clock else ISO_DATE
    shapes = _shapes(texts)
    if "00000000" in shapes or any(_NAMED.search(shape) for shape in shapes):
        named = texts.map(_in_numbers)
        if not named.equals(texts):
            values, _, doubt = dates(named, clock)
            return values, "month by its name" if shapes - {"00000000", ""} else "", doubt
    if shapes <= (_TIME_SHAPES if clock else _DATE_SHAPES):  # quick, for long records
        values = pd.to_datetime(texts.where(texts != ""), errors="coerce", format="ISO8601")
        if values.dropna().dt.year.between(1800, 2199).all():
            return values, "", None
    plain = _of_one_shape(texts, shapes - {""}, clock)
    if plain is not None:
        return plain
    fits = texts.str.fullmatch(iso).to_numpy(dtype=bool)
    values = pd.to_datetime(texts.where(fits), errors="coerce", format="ISO8601")
    rest = texts[~fits & (texts != "")]
    if rest.empty:
        return values, "", None
    parts = rest.str.extract(rf"^\s*{_ANY_DATE}\s*$")
    parts.columns = ["a", "mark", "b", "c", "hour", "minute", "second", "half"]
    parts = parts[parts["a"].notna() & (parts["hour"].notna() | (not clock))]
    if not clock:
        midnight = parts["hour"].isna() | (
            (parts["hour"].astype(float) == 0) & (parts["minute"].astype(float) == 0)
        )
        parts = parts[midnight]
    if parts.empty:
        return values, "", None
    a, b, c = (parts[name].astype(int) for name in "abc")
    if (parts["a"].str.len() == 4).all():
        order = "year first"
        day, month, year = c, b, a
    else:
        if not (parts["a"].str.len() < 3).all() or not parts["c"].str.len().isin((2, 4)).all():
            return values, "", None
        if fits.any():
            return values, "", None  # two styles in one column: one of them is a slip
        year = c.where(parts["c"].str.len() == 4, 2000 + c)
        found = _order(parts, a, b, year, texts)
        if isinstance(found, Doubt):
            return values, "", found
        order = found
        day, month = (a, b) if order.startswith("day first") else (b, a)
    read = _moment(parts, year, month, day)
    values = values.astype("datetime64[us]")
    values[read.index] = read
    return values, order, None


_MONTHS = "january february march april may june july august september october november december"
_NAMED = re.compile(r"[A-Za-z]{3}")
_BY_NAME = re.compile(
    r"(?:(?P<day>\d{1,2})(?:st|nd|rd|th)?[\s./-]*(?P<month>[a-z]{3,9})\.?"
    r"|(?P<month_2>[a-z]{3,9})\.?[\s./-]*(?P<day_2>\d{1,2})(?:st|nd|rd|th)?)"
    r"[\s,./-]+(?P<year>\d{4}|\d{2})(?P<clock>[\s,T]+\d{1,2}:\d.*)?",
    re.IGNORECASE,
)
_UNMARKED = re.compile(r"((?:1[89]|2[01])\d\d)(0[1-9]|1[0-2])([0-3]\d)(?!\d)")


def _in_numbers(text: str) -> str:
    """A date with the name of its month, or without marks (20240301), as year-month-day; another as it is."""
    unmarked = _UNMARKED.match(text)
    if unmarked:
        return "-".join(unmarked.groups()) + text[8:]
    found = _BY_NAME.fullmatch(text)
    if not found:
        return text
    name = (found["month"] or found["month_2"]).lower()
    whole = [each for each in _MONTHS.split() if each.startswith(name.replace("sept", "sep", 1))]
    if name in _MONTHS.split():
        whole = [name]
    if len(whole) != 1:
        return text
    year = found["year"] if len(found["year"]) == 4 else f"20{found['year']}"
    day = int(found["day"] or found["day_2"])
    date = f"{year}/{_MONTHS.split().index(whole[0]) + 1:02}/{day:02}"
    return f"{date} {found['clock'].strip(' ,T')}" if found["clock"] else date


def _of_one_shape(
    texts: Any, shapes: set[str], clock: bool
) -> tuple[Any, str, Doubt | None] | None:
    """Dates all written alike with the day or the month first, one of them with a 13 or more:
    quick, for long records."""
    import numpy as np
    import pandas as pd

    shape = next(iter(shapes)) if len(shapes) == 1 else ""
    found = re.fullmatch(r"00([./-])00(?:\1)0000((?: 00:00(?::00)?)?)", shape)
    if not found or bool(found[2]) != clock:
        return None
    filled = texts != ""
    letters = np.array(texts[filled].tolist(), dtype=str)
    each = letters.view("U1").reshape(len(letters), -1)
    parts = {"day first": (slice(0, 2), slice(3, 5)), "month first": (slice(3, 5), slice(0, 2))}
    for order, (day, month) in parts.items():
        days = _side_by_side(each[:, day]).astype(int)
        if not (days > 12).any() or (_side_by_side(each[:, month]).astype(int) > 12).any():
            continue
        dash = np.full((len(letters), 1), "-")
        iso = _side_by_side(each[:, 6:10], dash, each[:, month], dash, each[:, day], each[:, 10:])
        values = pd.to_datetime(
            pd.Series(iso.tolist(), dtype=object), format="ISO8601", errors="coerce"
        )
        if values.isna().any() or not values.dt.year.between(1800, 2199).all():
            return None
        read = pd.Series(pd.NaT, index=texts.index, dtype=values.dtype)
        read[filled] = values.to_numpy()
        return read, f"{order}, as '{texts[filled].iloc[int((days > 12).argmax())]}' shows", None
    return None


def _side_by_side(*letters: Any) -> Any:
    """One text a row, of tables of single letters laid side by side."""
    import numpy as np

    whole = np.ascontiguousarray(np.hstack(letters))
    return whole.view(f"U{whole.shape[1]}").ravel()


def _shapes(texts: Any) -> set[str]:
    """What cells look like, any digit written as 0."""
    return set("\n".join(texts).translate(_DIGITS).split("\n"))


def _order(parts: Any, a: Any, b: Any, year: Any, texts: Any) -> str | Doubt:
    """Which of two numbers is the day, as the column as a whole shows."""
    days_a, days_b = a > 12, b > 12
    if days_a.any() and days_b.any():
        one, other = days_a.idxmax(), days_b.idxmax()
        return Doubt(
            int(other),
            (
                f"'{texts[other]}' has the month first, '{texts[one]}' the day; write all as "
                "2024-03-01 (year-month-day)"
            ),
        )
    if days_a.any():
        return f"day first, as '{texts[days_a.idxmax()]}' shows"
    if days_b.any():
        return f"month first, as '{texts[days_b.idxmax()]}' shows"
    if (parts["mark"] == ".").all():
        return "day first, as dates with points have it"
    ways = {
        "day first": _moment(parts, year, b, a),
        "month first": _moment(parts, year, a, b),
    }
    rising = [name for name, read in ways.items() if _in_order(read)]
    if len(rising) == 1:
        return f"{rising[0]}, as their order shows"
    apart = parts.index[(a != b).to_numpy()]
    if apart.empty:  # 05/05/2024: either way the same day
        return ""
    first = apart[0]
    both = " or ".join(f"{read[first]:%Y-%m-%d}" for read in ways.values())
    return Doubt(
        int(first),
        (
            f"'{texts[first]}' may be {both}, and no other date of the column says which; write "
            "2024-03-01 (year-month-day)"
        ),
    )


def _in_order(read: Any) -> bool:
    """Whether times never go back, in enough lines for that to be no chance."""
    return len(read) >= 4 and not read.isna().any() and read.is_monotonic_increasing


def _moment(parts: Any, year: Any, month: Any, day: Any) -> Any:
    import pandas as pd

    clock = {
        name: pd.to_numeric(parts[name]).fillna(0).astype(int)
        for name in ("hour", "minute", "second")
    }
    half = parts["half"].fillna("").str.lower().str[:1]
    hour = clock["hour"].where(half == "", clock["hour"] % 12) + 12 * (half == "p")
    year = year.where(year.between(1800, 2199))
    date = pd.DataFrame({"year": year, "month": month, "day": day, **clock, "hour": hour})
    return pd.to_datetime(date, errors="coerce")
