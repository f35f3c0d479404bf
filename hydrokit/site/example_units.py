"""Examples of the schema in the units of whoever reads them."""

from __future__ import annotations

import re

from ..sentences import Either
from ..units import Q_, ureg

__all__ = ["bounds_in_both", "example_in", "in_both"]

# What is written here in the one system and in the other.
_PAIRS = [
    ("m", "ft"),
    ("cm", "in"),
    ("mm", "in"),
    ("L/s", "gpm"),
    ("L", "gal"),
    ("bar", "psi"),
    ("m^2", "ft^2"),
    ("km^2", "mi^2"),
    ("kg", "lb"),
    ("kg/m^3", "lb/ft^3"),
    ("m/s", "ft/s"),
    ("m^3/s", "cfs"),
    ("m^3", "acre_ft"),
    ("money/m", "money/ft"),
    ("L/s/day", "gpm/day"),
    ("km", "mi"),
    ("W/K", "Btu/h/delta_degF"),
    ("W/m^2/K", "Btu/h/ft^2/delta_degF"),
]
_LEAST_OF_A_LAKE = 10_000.0  # m³; what is smaller is told in cubic feet
_TO = {"us": dict(_PAIRS), "metric": {us: metric for metric, us in _PAIRS}}
_TEMPERATURE = {"us": ("degC", "degF"), "metric": ("degF", "degC")}
# Sizes are names of goods: another size is bought there, none is converted.
_GOODS = [
    ('"PVC-U SDR 21 160 mm"', '"6 in PVC Sch 40"'),
    ('"PE100 SDR 17 160 mm"', '"6 in PVC Sch 40"'),
    ('"25 mm2"', '"4 AWG"'),
    ('"16 mm2"', '"6 AWG"'),
    ('"2.5 mm2"', '"12 AWG"'),
]
_NUMBER = re.compile(r"(?<![\w.-])(-?\d+(?:\.\d+)?) ([A-Za-z][\w/^]*)")
_COLUMN = re.compile(r"\[([A-Za-z][\w/^]*)\]")
_DEGREES = re.compile(r"(-?\d+) °C")  # in what is said about a key
_PRICE = re.compile(r'"(\d+(?:\.\d+)?) per (m|ft)"')


def example_in(text: str, units: str) -> str:
    """An example, or the line about a key, in metric or US units.

    Parameters
    ----------
    text : str
    units : {"metric", "us"}

    Examples
    --------
    >>> example_in('"46.2 m ± 0.3 m"', "us"), example_in('"0.5 in"', "metric"), example_in("flow [L/s]", "us")
    ('"150 ft ± 1 ft"', '"13 mm"', 'flow [gpm]')
    """
    for pair in _GOODS:
        if text in pair:
            return pair[units == "us"]
    text = _PRICE.sub(lambda found: _price(found, units), text)
    text = _NUMBER.sub(lambda found: _converted(found, units), text)
    if units == "us":
        text = _DEGREES.sub(lambda found: f"{32 + 1.8 * float(found[1]):.0f} °F", text)
    return _COLUMN.sub(lambda found: f"[{_unit(found[1], units)}]", text)


def in_both(text: str) -> Either:
    """An example, or bounds, for a reader of either system."""
    return Either(example_in(text, "metric"), example_in(text, "us"))


def bounds_in_both(text: str) -> Either:
    """Bounds as a sentence has them, ``0.1 L/s to 50 m³/s``, for a reader of either system."""
    told = in_both(text)
    return Either(_printed(told.metric), _printed(told.us))


def _printed(text: str) -> str:
    text = re.sub(r"\b(delta_)?deg(?=[CF])", "°", text)
    return text.replace("^2", "²").replace("^3", "³").replace("cfs", "ft³/s")


def _unit(unit: str, units: str) -> str:
    here, there = _TEMPERATURE[units]
    return there if unit == here else _TO[units].get(unit, unit)


def _converted(found: re.Match, units: str) -> str:
    unit = _unit(found[2], units)
    if unit == "acre_ft" and float(found[1]) < _LEAST_OF_A_LAKE:
        unit = "ft^3"
    if unit == found[2]:
        return found[0]
    number = Q_(f"{found[1]} {found[2]}").m_as(ureg.Unit(unit))
    return f"{f'{number:.0f}' if unit in _TEMPERATURE['us'] else _short(number)} {unit}"


def _price(found: re.Match, units: str) -> str:
    unit = _TO[units].get(found[2], found[2])
    per = Q_(f"1 {unit}").m_as(ureg.Unit(found[2]))
    return f'"{_short(float(found[1]) * per)} per {unit}"'


def _short(number: float) -> str:
    """One digit where that is near enough for an example, else two."""
    one, two = float(f"{number:.1g}"), float(f"{number:.2g}")
    return f"{one if abs(one - two) <= 0.05 * abs(two) else two:.10g}"
