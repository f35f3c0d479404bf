"""The header of a table: which line it is, and what each of its columns is."""

from __future__ import annotations

import re
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from .errors import Mistake, did_you_mean, one_line
from .files import shown_path
from .sentences import Either, Sentence, joined

if TYPE_CHECKING:
    import pint

__all__ = [
    "Column",
    "Header",
    "KINDS",
    "NOTES",
    "column_named",
    "column_title",
    "find_header",
    "is_unit_of",
    "read_header",
    "unit_of",
]

KINDS = ("date", "time", "text", "yes/no", "count", "ratio")
NOTES = ("note", "notes", "remark", "remarks", "comment", "comments")
_HEADER = re.compile(r"\s*([^\[\]()]+?)\s*(?:[\[(]\s*([^\[\]()]*?)\s*[\])])?\s*")
_BEHIND_A_COMMA = re.compile(r"\s*([^\[\](),]+?)\s*,\s*([^\s\[\](),]{1,8})\s*")  # "Level, cm"
# What people and their loggers call a column -> its name here. Only names that can mean nothing else.
_ALIASES = {
    "water level": "stage",
    "level": "stage",
    "gauge height": "stage",
    "water stage": "stage",
    "gage height": "stage",
    "staff": "stage",
    "staff gauge": "stage",
    "staff gage": "stage",
    "staff reading": "stage",
    **dict.fromkeys(("day", "when", "visit date", "date measured", "measured on"), "date"),
    "discharge": "flow",
    "streamflow": "flow",
    "q": "flow",
    **dict.fromkeys(("hour", "clock", "time of day", "local time"), "time"),
    "date/time": "time",
    "date time": "time",
    "datetime": "time",
    "timestamp": "time",
    "date and time": "time",
    "time stamp": "time",
    "air temperature": "temperature",
    "how": "method",
    "how measured": "method",
    "bucket": "volume",
    "bucket size": "volume",
}
# Names that mean one thing with a length behind them and another with a pressure.
_BY_UNIT = {"gauge": {"m": "stage", "Pa": "pressure"}, "gage": {"m": "stage", "Pa": "pressure"}}
# Names that are a unit themselves -> name and unit.
_UNIT_NAMES = {
    **dict.fromkeys(("seconds", "secs", "sec"), ("time", "s")),
    **dict.fromkeys(("gallons", "gals"), ("volume", "gal")),
    **dict.fromkeys(("litres", "liters"), ("volume", "L")),
}
_MOST_ABOVE = 20  # lines that may stand above the header


@dataclass(frozen=True)
class Column:
    """A column that is read: where it stands, its name here, its kind, its unit."""

    position: int
    name: str
    kind: str
    _: KW_ONLY
    unit: str | None


@dataclass(frozen=True)
class Header:
    """Columns that are read, titles of those that are not, and what is wrong."""

    columns: tuple[Column, ...]
    spare: tuple[str, ...]
    mistakes: tuple[Mistake, ...]


def _named(cell: str, kinds: dict[str, str]) -> tuple[str, str | None]:
    """Name and unit of a title."""
    match = _HEADER.fullmatch(cell)
    name, unit = (match[1].strip().lower(), match[2]) if match else (cell.strip().lower(), None)
    if name in ("±", "+/-", "+-"):  # in per cent a share, else of the unit of what stands beside it
        return ("uncertainty", unit) if unit == "%" and "uncertainty" in kinds else ("±", unit)
    if name in kinds:
        return name, unit
    if not unit and name in _UNIT_NAMES:
        itself = _UNIT_NAMES[name]
        return itself if kinds.get(itself[0], "time") not in KINDS else (name, unit)
    behind = _BEHIND_A_COMMA.fullmatch(cell)
    if behind:
        return _named(f"{behind[1]} [{behind[2]}]", kinds)
    if name.startswith("date of ") and "date" in kinds:
        return "date", unit
    meant = _by_unit(name, unit) if name in _BY_UNIT else _ALIASES.get(name)
    return (meant if meant in kinds else name), unit


def _by_unit(name: str, unit: str | None) -> str | None:
    """What such a name means with that unit; None where the unit is not there, or none of these."""
    from .errors import UnitsError
    from .units import parse_unit

    try:
        held = parse_unit(unit or "").dimensionality
    except UnitsError:
        return None
    meant = (each for kind, each in _BY_UNIT[name].items() if unit_of(kind).dimensionality == held)
    return next(meant, None)


def column_named(title: str, kinds: dict[str, str]) -> tuple[str | None, str | None]:
    """Unit of a title, and the kind of the column that it names; None where it has none, or names none."""
    name, unit = _named(title, kinds)
    return unit, kinds.get(name)


def find_header(lines: list[list[str]], kinds: dict[str, str], wanted: dict[str, str]) -> int:
    """Which of the first lines of a file is its header; the first where none looks like one.

    Above it loggers write their serial number and the name of the site.
    """
    need = min(2, len(wanted)) or 1
    for number, cells in enumerate(lines[:_MOST_ABOVE]):
        if sum(_named(cell, kinds)[0] in kinds for cell in cells) >= need:
            return number
    return 0


def read_header(
    path: str | Path, line: int, header: list[str], kinds: dict[str, str], wanted: dict[str, str]
) -> Header:
    """What each column of a header is."""
    from .errors import UnitsError
    from .units import parse_unit

    shown, where = shown_path(path), f"line {line}"
    columns: list[Column] = []
    mistakes: list[Mistake] = []
    seen: set[str] = set()
    unknown: list[str] = []
    for position, cell in enumerate(header):
        name, unit = _named(cell, kinds)
        if name in NOTES and name not in kinds:
            continue
        if name not in kinds:
            unknown.append(name)
            continue
        if name in seen:
            mistakes.append(Mistake(shown, where, f"the column '{name}' is given twice"))
        seen.add(name)
        kind = kinds[name]
        if kind in KINDS:
            if kind == "ratio" and unit not in (None, "", "-", "1", "%"):
                mistakes.append(
                    Mistake(
                        shown,
                        where,
                        (
                            f"the column '{name}' is a share; write {name} [%] or {name} [-], not "
                            f"[{one_line(unit)}]"
                        ),
                    )
                )
        elif not unit:
            mistakes.append(
                Mistake(
                    shown,
                    where,
                    Sentence(
                        "the column '{name}' has no unit in its header; write for example {name} [{unit}]",
                        name=name,
                        unit=_example_unit(kind),
                    ),
                )
            )
            continue
        else:
            try:
                if parse_unit(unit).dimensionality != unit_of(kind).dimensionality:
                    mistakes.append(
                        Mistake(
                            shown,
                            where,
                            Sentence(
                                "the column '{name}' is in [{found}]; needed is a unit such as [{unit}]",
                                name=name,
                                found=one_line(unit),
                                unit=_example_unit(kind),
                            ),
                        )
                    )
            except UnitsError as error:
                mistakes.append(Mistake(shown, where, f"the column '{name}': {error}"))
        columns.append(Column(position, name, kind, unit=unit))
    missing = [name for name in wanted if name not in seen]
    unseen = [name for name in kinds if name not in seen]
    # A column nobody asks for is passed over, unless it may be the one that is missing, misspelt.
    spare = [name for name in unknown if not missing and not _may_be(name, unseen)]
    odd = [name for name in unknown if name not in spare]
    told = _odd_columns(odd, missing, header, kinds, wanted)
    return Header(
        tuple(columns),
        tuple(one_line(name) or "without a name" for name in spare),
        tuple(mistakes) + tuple(Mistake(shown, where, text) for text in told),
    )


def _may_be(name: str, unseen: list[str]) -> bool:
    """Whether a title may stand for a column that is known and not there: "stage m", "uncertanty"."""
    return bool(name) and (
        re.split(r"[\W_]", name)[0] in unseen or bool(did_you_mean(name, unseen))
    )


def _odd_columns(
    unknown: list[str],
    missing: list[str],
    header: list[str],
    kinds: dict[str, str],
    wanted: dict[str, str],
) -> list[str | Sentence]:
    """What to say of columns that are not known, and of those that are not there."""
    known = joined((_title(name, kind) for name, kind in kinds.items()), ", ")
    if len(unknown) == len(header):
        return [
            Sentence(
                "'{found}' names no column known here ({known}); the first line is the "
                "header, such as {example}; put # before a line of title or remark",
                found=one_line(",".join(cell.strip() for cell in header)),
                known=known,
                example=joined((_title(name, kind) for name, kind in wanted.items()), ","),
            )
        ]
    meant = {name: re.split(r"[\W_]", name)[0] for name in unknown}
    titled = [name for name in unknown if meant[name] in kinds]  # "stage m"
    unknown = [name for name in unknown if name not in titled]
    missing = [name for name in missing if name not in meant.values()]
    told: list[str | Sentence] = [
        Sentence(
            "write the column '{name}' as {title}, the unit in square brackets"
            if kinds[meant[name]] not in KINDS
            else "write the column '{name}' as {title}",
            name=one_line(name),
            title=_title(meant[name], kinds[meant[name]]),
        )
        for name in titled
    ]
    if len(unknown) == len(missing) == 1 and unknown[0]:
        return told + [
            Sentence(
                "there is no column '{missing}', but one '{found}'; if that is it, write {title}",
                missing=missing[0],
                found=one_line(unknown[0]),
                title=_title(missing[0], kinds[missing[0]]),
            )
        ]
    for name in unknown:
        near = did_you_mean(name, kinds)
        told.append(
            f"there is no use for a column '{one_line(name)}' here{near}"
            if name and near
            else joined(
                (f"there is no use for a column '{one_line(name)}' here; known are ", known), ""
            )
            if name
            else joined(("a column has no name; known are ", known), "")
        )
    return told + [
        Sentence(
            "there is no column '{name}'; the first line must name it, and each line below fill it",
            name=name,
        )
        if _title(name, kinds[name]) == name
        else Sentence(
            "there is no column '{name}'; write for example {title}",
            name=name,
            title=_title(name, kinds[name]),
        )
        for name in missing
    ]


def _title(name: str, kind: str) -> str | Sentence:
    """A column's title as it is to be written: ``flow [L/s]``."""
    if kind == "ratio":
        return f"{name} [%]"
    return (
        name if kind in KINDS else Sentence("{name} [{unit}]", name=name, unit=_example_unit(kind))
    )


def column_title(name: str, kind: str) -> str:
    """The same in metric units."""
    return str(_title(name, kind))


def unit_of(kind: str) -> pint.Unit:
    """The unit in which a kind is held."""
    from .units import parse_unit

    return parse_unit("m" if kind == "head" else kind)


def is_unit_of(text: str, kind: str) -> bool:
    """Whether a text is a unit in which that kind may stand."""
    from .errors import UnitsError
    from .units import parse_unit

    try:
        return bool(text) and parse_unit(text).dimensionality == unit_of(kind).dimensionality
    except UnitsError:
        return False


_EXAMPLES = {
    "m^3/s": Either("L/s", "gpm"),
    "Pa": Either("bar", "psi"),
    "K": Either("degC", "degF"),
    "head": Either("m", "ft"),
    "m": Either("m", "ft"),
    "m^2": Either("km2", "mi2"),
    "m^3": Either("L", "gal"),
    "S/m": Either("uS/cm", "uS/cm"),
    "m/s": Either("m/s", "ft/s"),
    "kg": Either("kg", "lb"),
    "money/m": Either("money/m", "money/ft"),
}


def _example_unit(kind: str) -> Either:
    return _EXAMPLES.get(kind) or Either(kind, kind)
