"""Quantities from what people write: one private registry, built from ``units_definitions.txt``."""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pint

from .errors import UnitsError, did_you_mean, one_line

__all__ = ["Q_", "Quantity", "parse", "parse_unit", "ureg", "without_comma"]

ureg: Any = pint.UnitRegistry(
    str(Path(__file__).with_name("units_definitions.txt")), cache_folder=None
)

if TYPE_CHECKING:
    from pint import Quantity
else:
    Quantity = ureg.Quantity

_NUMBER = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?)\s*(.*?)\s*", re.DOTALL)

_TERM = re.compile(r"\s*(1|[A-Za-z_Ωµμ°]+)\s*(?:(?:\^|\*\*)?\s*([-+]?[1-9]))?\s*")

_LONGEST = 80

# What people write beside the registry's own names.
_ALIASES = {
    "°C": "degC",
    "C": "degC",
    "°F": "degF",
    "F": "degF",
    "°": "deg",
    "deltaC": "delta_degC",
    "Ω": "ohm",
    "µm": "um",
    "μm": "um",
    "µS": "uS",
    "μS": "uS",
    "ohms": "ohm",
    "litres": "L",
    "liters": "L",
    "gallons": "gal",
    "lps": "L/s",
    "cms": "m^3/s",
    "cumec": "m^3/s",
    "inches": "in",
    "metres": "m",
    "meters": "m",
    "miles": "mi",
    "yards": "yd",
    "acres": "acre",
    "hours": "h",
    "days": "d",
    "minutes": "min",
    "seconds": "s",
    "years": "yr",
    "year": "yr",
    "hectares": "ha",
    "sqft": "ft^2",
    "KWh": "kWh",
    "mWh": "",
    "mW": "",
    "amps": "A",
    "volts": "V",
    "watts": "W",
    "lbs": "lb",
    "degrees": "deg",
    "BTU": "Btu",
    "lpm": "L/min",
    # Capitals that can mean nothing else; of M and m, S and s only a person knows which was meant.
    **{
        each: unit
        for unit in (
            "gpm",
            "cfs",
            "ft",
            "in",
            "psi",
            "bar",
            "kPa",
            "kW",
            "kWh",
            "kVA",
            "Hz",
            "hp",
            "rpm",
            "gal",
            "celsius",
            "fahrenheit",
        )
        for each in (unit.upper(), unit.lower(), unit.capitalize())
        if each != unit
    },
}

_SUPERSCRIPT = str.maketrans(
    {"²": "^2", "³": "^3", "⁻": "^-", "¹": "1", "·": "*", "×": "*", "−": "-"}
)

_WORDS = {
    "acre-ft": "acre_ft",
    "ac-ft": "acre_ft",
    "acre ft": "acre_ft",
    "ac_ft": "acre_ft",
    "fl oz": "floz",
    "US g": "g",
    "º": "°",
    "° C": "°C",
    "° F": "°F",
    "deg C": "degC",
    "deg F": "degF",
}

_PARTS = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}

_FRACTION = re.compile(
    r"\s*([-+]?)(?:(\d{1,4})[ -]+)?(\d{1,3})/([1-9]\d{0,2})(?![\d/.,])\s*(.*?)\s*",
    re.ASCII | re.DOTALL,
)

_SIGNS = {"'": "ft", "′": "ft", "’": "ft", '"': "in", "″": "in", "”": "in", "''": "in"}

_PER_CENT = ("%", "percent", "per cent", "pct")


@functools.lru_cache(maxsize=1)
def _known_units() -> frozenset[str]:
    names = set()
    for name, definition in ureg._units.items():
        names.update({name, definition.name, definition.symbol, *definition.aliases})
    return frozenset(names)


@functools.lru_cache(maxsize=1024)
def parse_unit(text: str) -> pint.Unit:
    """The unit a text such as ``"ft3/s"``, ``"m³/s"``, ``"acre-ft"`` or ``"L per s"`` means.

    Raises
    ------
    UnitsError
        Not a unit that hydrokit knows.
    """
    if text.strip() in _SIGNS:
        raise UnitsError(
            f"the sign {text.strip()} is not a unit here; write {_SIGNS[text.strip()]}"
        )
    plain = re.sub(r"(?<=[a-z])\.$", "", text.strip())  # "4 in."
    for written, meant in _WORDS.items():
        plain = plain.replace(written, meant)
    over = re.split(r"\s+per\s+", plain)
    if len(over) > 1 and any("/" in each for each in over[1:]):  # mg/L per uS/cm
        unit = parse_unit(over[0])
        for each in over[1:]:
            unit = unit / parse_unit(each)
        return unit
    plain = re.sub(r"\s+per\s+|^per\s+", "/", plain).translate(_SUPERSCRIPT)
    if plain.startswith("/"):
        plain = "1" + plain
    bracketed = re.fullmatch(r"([^()]+)([/*])\(([^()]+)\)", plain)  # mg/L/(uS/cm)
    if bracketed:
        first, last = parse_unit(bracketed[1]), parse_unit(bracketed[3])
        return first / last if bracketed[2] == "/" else first * last
    unit, position, sign = ureg.Unit(""), 0, 1
    while True:
        term = _TERM.match(plain, position)
        if not term or len(plain) > _LONGEST:
            raise UnitsError(
                f"'{one_line(text)}' is not a unit; write for example L/s, gpm, m, ft, psi, bar, kW"
            )
        name, power = term[1], int(term[2] or 1)
        if name != "1":
            unit = unit * _named_unit(name, text) ** (sign * power)
        position = term.end()
        if position == len(plain):
            return unit
        if plain[position] == "/":
            sign, position = -1, position + 1
        elif plain[position] == "*":
            sign, position = 1, position + (2 if plain.startswith("**", position) else 1)
        else:
            raise UnitsError(
                f"'{one_line(text)}' is not a unit; write for example L/s, gpm, m, ft, psi, bar, kW"
            )


def _named_unit(name: str, text: str) -> pint.Unit:
    meant = _ALIASES.get(name, name)
    if "/" in meant or "^" in meant:
        return parse_unit(meant)
    if meant not in _known_units():
        like = [
            each
            for each in _known_units()
            if each[0].lower() == name[0].lower() and len(name) / 2 < len(each) < 8
        ]
        near = did_you_mean(name, sorted(like))
        raise UnitsError(f"'{name}' in '{one_line(text)}' is not a unit known here{near}")
    return ureg.Unit(meant)


def parse(text: str) -> Quantity:
    """A quantity from text: ``"350 gpm"``, ``"1 1/2 in"``, ``"95 %"``, ``"20 degC"``.

    Raises
    ------
    UnitsError
        Not a number with a unit, a comma in the number, an unknown unit.
    """
    value, unit = _number_and_rest(text) if len(text) <= _LONGEST else (None, "")
    if value is None:
        raise UnitsError(
            f'\'{one_line(text)}\' is not a number with a unit; write for example "42 m" or "138 ft"'
        )
    if not np.isfinite(value):
        raise UnitsError(f"'{one_line(text)}' is too large to be a number")
    if unit in _PER_CENT:
        return Quantity(value / 100, "")
    if unit == "":
        return Quantity(value, "")
    try:
        return Quantity(value, parse_unit(unit))
    except UnitsError as error:
        raise UnitsError(_slip(text.strip(), unit) or str(error)) from None


def _number_and_rest(text: str) -> tuple[float | None, str]:
    """The number a text begins with, and what follows it; None where there is no number."""
    text = re.sub("[½¼¾⅛⅜⅝⅞]", lambda match: _PARTS[match[0]], text)
    text = re.sub(r"^(\s*)[−–](?=\s*[\d.])", r"\1-", text)  # the minus and the dash of print
    parted = _FRACTION.fullmatch(text)
    if parted:
        sign, whole, above, below, rest = parted.groups()
        return (-1 if sign == "-" else 1) * (int(whole or 0) + int(above) / int(below)), rest
    match = _NUMBER.fullmatch(text)
    return (float(match[1]), match[2]) if match else (None, "")


def _slip(text: str, unit: str) -> str:
    """What a person meant by a number with a rest that is no unit, and how to write it; empty where
    nobody knows."""
    shown = one_line(text)
    if unit.startswith(","):
        return f"'{shown}' has a comma in its number; write {without_comma(text)} (a point, no separators)"
    if re.fullmatch(r"[-+]?\d{1,3}(?:[ '’]\d{3})+(?:\.\d+)?(?!\d).*", text):
        return (
            f"'{shown}' has its thousands parted; write "
            f'"{one_line(re.sub(r"(?<=[0-9])[^0-9.](?=[0-9]{3})", "", text))}"'
        )
    if re.fullmatch(r"[\d.]+\s*\D*?\s*(?:-|–|to)\s*[\d.]+\s*[^\d\s].*", text):
        return f"'{shown}' is a range; write one number, such as its middle"
    if re.match(r"\s*(?:ft|feet|foot|['′’])\s*-?\s*\d", unit):
        return f'\'{shown}\' has feet and inches; write one of them, such as "5.5 ft" or "66 in"'
    return ""


def without_comma(text: str) -> str:
    """A number with a comma as it is to be written, in quotes; both readings where it has two.

    >>> without_comma("12,5 m"), without_comma("1,240.5 m"), without_comma("$1,240")
    ('"12.5 m"', '"1240.5 m"', '"$1240" or "$1.240"')
    """
    plain = re.sub(r"\s*,\s*", ",", text.strip())
    whole, point = plain.replace(",", ""), plain.replace(",", ".", 1)
    if re.search(r"(?<![\d.,])\d{1,3}(?:\.\d{3})*\.\d{3},\d", plain):  # 1.240,5
        return f'"{one_line(plain.replace(".", "").replace(",", "."))}"'
    if "." in plain.partition(",")[2] or plain.count(",") > 1:
        return f'"{one_line(whole)}"'
    return (
        f'"{one_line(whole)}" or "{one_line(point)}"'
        if re.search(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?!\d)", plain)
        else f'"{one_line(point)}"'
    )


def Q_(value: Any, unit: str | None = None) -> Quantity:
    """A quantity from a text, or from a number or array and a unit.

    Parameters
    ----------
    value : str, number, array or Quantity
        ``"350 gpm"``, or a magnitude when `unit` is given.
    unit : str, optional
        Unit of the magnitude; with a text or a quantity, the unit to convert to.

    Returns
    -------
    Quantity

    Raises
    ------
    UnitsError
        Text that is no quantity, an unknown unit, a unit of another kind.

    Examples
    --------
    >>> print(f"{Q_('350 gpm').to('L/s'):.2f~P}")
    22.08 L/s
    >>> print(f"{Q_(42, 'm').to('ft'):.1f~P}")
    137.8 ft
    """
    if isinstance(value, str):
        value = parse(value)
    elif isinstance(value, (list, tuple)) and any(
        isinstance(each, (str, Quantity)) for each in value
    ):
        unit_first = parse_unit(unit) if unit else Q_(value[0]).units
        return Quantity(np.array([magnitude(Q_(each), unit_first) for each in value]), unit_first)
    if isinstance(value, Quantity):
        return (
            value
            if unit is None
            else Quantity(magnitude(value, parse_unit(unit)), parse_unit(unit))
        )
    if isinstance(value, pint.Quantity):
        raise UnitsError(
            "this quantity was made with another unit registry; make it with hydrokit.Q_"
        )
    if isinstance(value, (bool, np.bool_)):
        raise UnitsError(f"{value} is a truth value, not a number")
    if isinstance(value, (list, tuple)):
        value = np.array(value, dtype=float)
    return Quantity(value, parse_unit(unit) if unit else "")


def magnitude(quantity: Quantity, unit: Any) -> float:
    if quantity.units == unit:
        return quantity.magnitude
    try:
        return quantity.m_as(unit)
    except pint.PintError:
        raise UnitsError(f"cannot turn {quantity.units:~P} into {unit:~P}") from None
