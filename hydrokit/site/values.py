"""One value of a site file: from what is written there to SI numbers, or a sentence that says what
to write."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from ..columns import believable
from ..errors import HydrokitError, UnitsError, did_you_mean, one_line
from ..quantities import without_comma
from ..sentences import Amount, Sentence
from ..units import to_si
from .example_units import bounds_in_both
from .keys import Key

__all__ = ["MONTHS", "Measured", "amount_of", "bounds_of", "value_of"]

MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_LONGEST_TEXT, _LISTED = 400, 12
_PLUS_MINUS = re.compile(r"\s*(?:±|\+/-)\s*")
_BARE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?", re.ASCII)
_MONEY_SIGN = re.compile("^\\s*[$€£¥₹]\\s*|(?<=\\d)\\s*[$€£¥₹]")  # "$450", "450 €"
_DRILL = re.compile(
    r"(?:drill\s*)?#\s*(\d{1,2})(?:\s*drill)?|(?:drill\s+|letter\s+)([A-Za-z])", re.ASCII
)
# A part of an inch, as drills are stamped: no metric size is written so.
_INCH_DRILL = re.compile(r"(?:[1-3][ -])?\d{1,2}/(?:2|4|8|16|32|64)", re.ASCII)
_FLAGS = {"yes": True, "true": True, "no": False, "false": False}
# Bounds of what a plant this tool is for can have. They catch a slip, and keep every number computable.
_USUAL = {
    "m": "0 m to 100 km",
    "m^2": "0 m^2 to 1000000 km^2",
    "m^3": "0 m^3 to 1e12 m^3",
    "m^3/s": "0 m^3/s to 10000 m^3/s",
    "m^3/s/day": "0 m^3/s/day to 10000 m^3/s/day",
    "K": "-90 degC to 100 degC",
    "Pa": "0 bar to 400 bar",
    "kg": "0 kg to 1000 kg",
    "S/m": "0 S/m to 10 S/m",
    "s": "0 s to 24 h",
    "rad": "0 deg to 180 deg",
    "1/s": "0 rpm to 100000 rpm",
    "W": "0 kW to 1000000 kW",
    "V": "0 V to 100000 V",
    "A": "0 A to 100000 A",
    "W/K": "0 W/K to 1000000 W/K",
    "J": "0 kWh to 1e9 kWh",
    "kg/m^3": "0 kg/m^3 to 2000 kg/m^3",
    "count": "0 to 1000000",
    "ratio": "0 to 1000",
    "money": "0 to 1e12",
    "money/W": "0 per W to 1e6 per W",
    "money/m": "0 per m to 1e6 per m",
    "money/J": "0 per kWh to 1e6 per kWh",
    "money/s": "0 per h to 1e6 per h",
}


@dataclass(frozen=True)
class Measured:
    """A value in SI with its standard deviation, None where the site file gives none."""

    value: float
    sd: float | None = None

    @property
    def relative(self) -> float | None:
        """Standard deviation as a share of the value."""
        return None if self.sd is None or self.value == 0 else self.sd / abs(self.value)


def value_of(value: object, key: Key, where: str) -> Any:
    """One value in SI.

    Parameters
    ----------
    value : str, int, float, bool, date, list or dict
        As the TOML reader gives it.
    key : Key
        What it must be.
    where : str
        How a sentence names it: ``[penstock] length``.

    Raises
    ------
    UnitsError
        A sentence that begins with `where`.
    """
    read = _value(value, key, where)
    bounds = key.within or _USUAL.get(key.unit, "")
    if bounds:
        low, high = bounds_of(key, bounds)
        for each in read if isinstance(read, tuple) else (read,):
            if not low <= (each.value if isinstance(each, Measured) else each) <= high:
                raise UnitsError(
                    Sentence(
                        "{where} is {found}; it must lie within {bounds}",
                        where=where,
                        found=_shown(value),
                        bounds=bounds_in_both(bounds),
                    )
                )
    return read


def bounds_of(key: Key, text: str) -> tuple[float, float]:
    """Bounds of a key, ``low to high``, in SI."""
    return _bounds(_dimension(key), text)


# Dimension of a key -> kind in which its amounts are told; by the unit of its bounds where that tells more.
_KINDS = {
    "m": "length",
    "m^2": "area",
    "m^3": "volume",
    "m^3/s": "flow",
    "K": "temperature",
    "Pa": "pressure",
    "kg": "mass",
    "S/m": "conductivity",
    "s": "hours",
    "rad": "angle",
    "1/s": "speed",
    "W": "power",
    "V": "voltage",
    "A": "current",
    "ohm": "resistance",
    "Ah": "charge",
    "m^3/s/day": "flow per day",
    "W/K": "heat loss",
    "W/m^2/K": "heat transmission",
    "J": "kWh",
    "kg/m^3": "density",
    "m/s": "velocity",
    "money": "money",
    "money/m": "money per length",
}
_BY_UNIT = {
    "mm": "small length",
    "cm": "small length",
    "km": "distance",
    "m^3/s": "large flow",
    "km^2": "catchment",
    "kW": "large power",
    "s": "time",
    "min": "minutes",
    "%": "share",
}


def amount_of(key: Key, value: float, bounds: str) -> Amount:
    """A value of a key in SI, as an amount in the unit of the bound it is nearest to in size."""
    low, high = bounds_of(key, bounds)
    if _dimension(key) in ("ratio", "exceedance", "count"):
        return Amount(value, "share" if "%" in bounds else "number")
    written = bounds.split(" to ")[value > (low * high) ** 0.5 if low > 0 else 1]
    return Amount(value, _BY_UNIT.get(written.rpartition(" ")[2]) or _KINDS[_dimension(key)])


@lru_cache(maxsize=256)
def _bounds(kind: str, text: str) -> tuple[float, float]:
    number = "count" if kind == "money" else kind
    low, high = (
        to_si(each.replace(" per ", " money/"), number, "bound") for each in text.split(" to ")
    )
    # A bound itself, written in another unit, lies within.
    return low - 1e-9 * abs(low), high + 1e-9 * abs(high)


def _dimension(key: Key) -> str:
    """The dimension of its unit."""
    return "ratio" if key.unit == "share" else key.unit


def _value(value: Any, key: Key, where: str) -> Any:
    """One value in SI, or a UnitsError that names `where`."""
    kind = key.kind
    if kind in ("numbers", "texts"):
        if not isinstance(value, list) or not value:
            raise UnitsError(f"{where} must be a list, got {_shown(value)}")
        one = _text if kind == "texts" else _number
        return tuple(one(each, key, f"{where}[{index}]") for index, each in enumerate(value, 1))
    if kind == "each":
        listed = value if isinstance(value, list) else [value]
        if not listed:
            raise UnitsError(f"{where} must be one value or a list of some, got an empty list")
        names = (
            [f"{where}[{index}]" for index in range(1, len(listed) + 1)]
            if listed is value
            else [where]
        )
        return tuple(_number(one, key, name) for one, name in zip(listed, names))
    if kind == "by month":
        return _by_month(value, key, where)
    if kind == "choice":
        found = value.strip().lower() if isinstance(value, str) else value
        if found not in key.choices:
            raise UnitsError(
                f"{where} must be one of {', '.join(key.choices)}; got "
                f"{_shown(value)}{did_you_mean(str(value), key.choices)}"
            )
        return found
    if kind == "measured":
        return _measured(value, key, where)
    if kind in ("text", "file"):
        return _text(value, key, where)
    if kind == "word":
        if (
            not isinstance(value, str)
            or not 1 <= len(value) <= 20
            or not all(each.isalpha() or each in " .$€£¥₹" for each in value)
        ):
            raise UnitsError(f"{where} must be a short word, in letters, got {_shown(value)}")
        return value
    if kind == "yes/no":
        if isinstance(value, str) and value.strip().lower() in _FLAGS:
            return _FLAGS[value.strip().lower()]
        if not isinstance(value, bool):
            raise UnitsError(f"{where} must be true or false, got {_shown(value)}")
        return value
    if kind == "date":
        if not isinstance(value, date) or not 1800 <= value.year < 2200:
            raise UnitsError(
                f"{where} must be a date such as 2026-07-04 (no quotes), got {_shown(value)}"
            )
        return value.date() if isinstance(value, datetime) else value
    if kind == "time":
        zoned = isinstance(value, datetime) and value.tzinfo is not None
        if not isinstance(value, date) or zoned or not 1800 <= value.year < 2200:
            raise UnitsError(
                f"{where} must be a date such as 2026-07-04 or a time such as 2026-07-04 "
                f"13:00:00 (no quotes, no time zone), got {_shown(value)}"
            )
        return value
    if kind == "months":
        good = isinstance(value, list) and all(
            isinstance(each, int) and not isinstance(each, bool) and 1 <= each <= 12
            for each in value
        )
        if not good or len(set(value)) != len(value) or not value:
            raise UnitsError(
                f"{where} must be a list of months such as [12, 1, 2], got {_shown(value)}"
            )
        return tuple(value)
    if kind == "any":
        return value
    return _number(value, key, where)


def _drilled(text: str) -> str:
    """The bore of a drill as it is named: ``"#7"``, ``"drill F"``, ``"7/16"``; any other text as it is."""
    if _INCH_DRILL.fullmatch(text.strip()):
        return f"{text} in"
    named = _DRILL.fullmatch(text.strip())
    if not named:
        return text
    from ..tables import row

    name = f"number {int(named[1])}" if named[1] else f"letter {named[2]}"
    try:
        return f"{row('drills', name)['diameter_in']} in"
    except HydrokitError:
        return text


def _text(value: Any, key: Key, where: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise UnitsError(f"{where} must be text in quotes, got {_shown(value)}")
    if len(value) > _LONGEST_TEXT:
        raise UnitsError(
            f"{where} has {len(value):,} characters; at most {_LONGEST_TEXT} are shown well"
        )
    if any(ord(each) < 32 and each not in "\t\n\r" for each in value):
        raise UnitsError(f"{where} has a control character: {_shown(value)}")
    return value


def _number(value: Any, key: Key, where: str) -> Any:
    kind = _dimension(key)
    if isinstance(value, bool):
        raise UnitsError(f"{where} must be a number, got the truth value {_shown(value)}")
    if not isinstance(value, (str, int, float)):
        raise UnitsError(f"{where} must be one value, got {_shown(value)}")
    if not isinstance(value, str) and not believable(value):
        raise UnitsError(f"{where} cannot be {_shown(value)}")
    if kind == "m" and isinstance(value, str):
        value = _drilled(value)
    if "money" in kind and isinstance(value, str):
        if re.search(r"\d,\d", value):
            raise UnitsError(
                f"{where} has a comma in its number ({_shown(value)}); write "
                f"{without_comma(value)} (a point, no separators)"
            )
        amount, signs = _MONEY_SIGN.subn("", value)
        if signs:
            amount = amount.strip()
            value = f"{amount} money" if kind == "money" and _BARE.fullmatch(amount) else amount
        value = re.sub(r"(?<=\d)\s*(?:per\s+|/)", " money/", value)
    elif kind == "money":
        value = f"{float(value)!r} money"
    if kind.startswith("money/") and (not isinstance(value, str) or _BARE.fullmatch(value.strip())):
        raise UnitsError(
            f"{where} has no unit (got {_shown(value)}); say for how much of what that is"
        )
    number = float(to_si(value, kind, where))
    if not believable(number):
        raise UnitsError(f"{where} cannot be {_shown(value)}")
    if number < 0 and key.positive:
        raise UnitsError(
            f"{where} is {'below absolute zero' if kind == 'K' else 'negative'} "
            f"({_shown(value)}); it cannot be"
        )
    if key.whole and number % 1:
        raise UnitsError(f"{where} must be a whole number, got {_shown(value)}")
    if key.unit == "share" and number > 1:
        raise UnitsError(
            f'{where} is more than the whole ({_shown(value)}); write a share such as "80 %" or 0.8'
        )
    return int(number) if key.whole else number


def _measured(value: Any, key: Key, where: str) -> Measured:
    kind = _dimension(key)
    if not isinstance(value, str) or not _PLUS_MINUS.search(value):
        return Measured(_number(value, key, where))
    first, second = _PLUS_MINUS.split(value.strip(), maxsplit=1)
    if not first or not second:
        raise UnitsError(f"{where} needs a number before ± and one behind it, got {_shown(value)}")
    if kind != "ratio" and _BARE.fullmatch(first) and not _BARE.fullmatch(second):
        first += " " + _BARE.sub("", second, count=1).strip()  # "46.2 ± 0.3 m"
    elif kind not in ("ratio", "count") and _BARE.fullmatch(second):
        second += " " + _BARE.sub("", first, count=1).strip()  # "950 ft ± 50"
    centre = _number(first, key, where)
    if second.endswith("%") and kind != "ratio":
        spread = abs(centre) * to_si(second, "ratio", where)
    else:
        spread = to_si(second, "delta_K" if kind == "K" else kind, where)
    if spread < 0:
        raise UnitsError(
            f"{where}: the part after ± is one standard deviation and cannot be negative"
        )
    if spread > abs(centre):
        raise UnitsError(
            f"{where}: the part after ± is one standard deviation; it is more than the value itself"
        )
    return Measured(centre, float(spread))


def _by_month(value: Any, key: Key, where: str) -> tuple[Any, ...]:
    if isinstance(value, list):
        if len(value) != 12:
            raise UnitsError(f"{where} must have one value or twelve, got {len(value)}")
        return tuple(_number(each, key, f"{where}[{index}]") for index, each in enumerate(value, 1))
    if isinstance(value, dict):
        unknown = [each for each in value if each.lower() not in MONTHS]
        if len({each.lower() for each in value}) < len(value):
            raise UnitsError(f"{where} has a month twice")
        if unknown:
            raise UnitsError(
                f"{where} has a month "
                f"'{one_line(unknown[0])}'{did_you_mean(unknown[0], MONTHS)}; write january "
                "to december"
            )
        named = {each.lower(): _number(one, key, f"{where} {each}") for each, one in value.items()}
        return tuple(named.get(month, 0) for month in MONTHS)
    return (_number(value, key, where),) * 12


def _shown(value: Any) -> str:
    """A value as the site file has it, cut short where it is long."""
    return one_line(_written(value))


def _written(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{one_line(value)}"'
    if isinstance(value, list):
        return (
            "["
            + ", ".join(_written(each) for each in value[:_LISTED])
            + (", …]" if len(value) > _LISTED else "]")
        )
    if isinstance(value, dict):
        return (
            "{ "
            + ", ".join(
                f"{one_line(key)} = {_written(each)}" for key, each in list(value.items())[:_LISTED]
            )
            + " }"
        )
    if isinstance(value, int) and abs(value) > 10**20:
        return "a number of very many digits"
    return str(value)
