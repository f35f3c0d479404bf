"""Quantities with units at the door, plain SI floats inside.

One private registry, built from ``units_definitions.txt``. Public functions are made with
:func:`units`; their bodies see floats only, and ``function.si`` is that body.
"""

from __future__ import annotations

import functools
import inspect
import re
import warnings
from pathlib import Path
from typing import Any, Callable

import numpy as np
import pint

from .errors import Finding, RangeWarning, UnitsError, did_you_mean, one_line

__all__ = ["Q_", "Quantity", "parse", "parse_unit", "to_si", "units"]

ureg = pint.UnitRegistry(str(Path(__file__).with_name("units_definitions.txt")), cache_folder=None)
Quantity = ureg.Quantity
_PRESSURE = ureg.Unit("Pa").dimensionality

_NUMBER = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?)\s*(.*?)\s*", re.DOTALL)
_TERM = re.compile(r"\s*(1|[A-Za-z_Ωµμ°]+)\s*(?:(?:\^|\*\*)?\s*([-+]?[1-9]))?\s*")
_LONGEST = 80

# What people write beside the registry's own names.
_ALIASES = {
    "°C": "degC", "C": "degC", "°F": "degF", "F": "degF", "°": "deg", "deltaC": "delta_degC",
    "Ω": "ohm", "µm": "um", "μm": "um", "µS": "uS", "μS": "uS", "ohms": "ohm",
    "litres": "L", "liters": "L", "gallons": "gal", "lps": "L/s", "cms": "m^3/s", "cumec": "m^3/s",
    "inches": "in", "metres": "m", "meters": "m", "miles": "mi", "yards": "yd", "acres": "acre",
    "hours": "h", "days": "d", "minutes": "min", "seconds": "s", "years": "yr", "year": "yr", "hectares": "ha",
    "sqft": "ft^2", "KWh": "kWh", "mWh": "", "mW": "",
    "amps": "A", "volts": "V", "watts": "W", "lbs": "lb", "degrees": "deg", "BTU": "Btu", "lpm": "L/min",
    # Capitals that can mean nothing else; of M and m, S and s only a person knows which was meant.
    **{each: unit for unit in ("gpm", "cfs", "ft", "in", "psi", "bar", "kPa", "kW", "kWh", "kVA", "Hz", "hp", "rpm", "gal", "celsius", "fahrenheit")
       for each in (unit.upper(), unit.lower(), unit.capitalize()) if each != unit},
}  # fmt: skip
_SUPERSCRIPT = str.maketrans(
    {"²": "^2", "³": "^3", "⁻": "^-", "¹": "1", "·": "*", "×": "*", "−": "-"}
)
_WORDS = {
    "acre-ft": "acre_ft", "ac-ft": "acre_ft", "acre ft": "acre_ft", "ac_ft": "acre_ft", "fl oz": "floz", "US g": "g",
    "º": "°", "° C": "°C", "° F": "°F", "deg C": "degC", "deg F": "degF",
}  # fmt: skip
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
def parse_unit(text: str) -> Any:
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
    plain = re.sub(r"\s+per\s+|^per\s+", "/", plain).translate(_SUPERSCRIPT)
    if plain.startswith("/"):
        plain = "1" + plain
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


def _named_unit(name: str, text: str) -> Any:
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


def parse(text: str) -> Any:
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
    """What a person meant by a number with a rest that is no unit, and how to write it; empty where nobody knows."""
    shown = one_line(text)
    if unit.startswith(","):
        return f"'{shown}' has a comma in its number; write {without_comma(text)} (a point, no separators)"
    if re.fullmatch(r"[-+]?\d{1,3}(?:[ '’]\d{3})+(?:\.\d+)?(?!\d).*", text):
        return f"'{shown}' has its thousands parted; write \"{one_line(re.sub(r'(?<=[0-9])[^0-9.](?=[0-9]{3})', '', text))}\""
    if re.fullmatch(r"[\d.]+\s*\D*?\s*(?:-|–|to)\s*[\d.]+\s*[^\d\s].*", text):
        return f"'{shown}' is a range; write one number, such as its middle"
    if re.match(r"\s*(?:ft|feet|foot|['′’])\s*-?\s*\d", unit):
        return f'\'{shown}\' has feet and inches; write one of them, such as "5.5 ft" or "66 in"'
    return ""


def without_comma(text: str) -> str:
    """A number with a comma as it is to be written, in quotes; both readings where it has two.

    >>> without_comma("12,5 m"), without_comma("1,240.5 m"), without_comma("1,240 m")
    ('"12.5 m"', '"1240.5 m"', '"1240 m" or "1.240 m"')
    """
    plain = re.sub(r"\s*,\s*", ",", text.strip())
    whole, point = plain.replace(",", ""), plain.replace(",", ".", 1)
    if re.match(r"[-+]?\d{1,3}(?:\.\d{3})*\.\d{3},\d", plain):  # 1.240,5
        return f'"{one_line(plain.replace(".", "").replace(",", "."))}"'
    if "." in plain.partition(",")[2] or plain.count(",") > 1:
        return f'"{one_line(whole)}"'
    return (
        f'"{one_line(whole)}" or "{one_line(point)}"'
        if re.match(r"[-+]?[1-9]\d{0,2},\d{3}(?!\d)", plain)
        else f'"{one_line(point)}"'
    )


def Q_(value: Any, unit: str | None = None) -> Any:
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
        return Quantity(np.array([_magnitude(Q_(each), unit_first) for each in value]), unit_first)
    if isinstance(value, Quantity):
        return (
            value
            if unit is None
            else Quantity(_magnitude(value, parse_unit(unit)), parse_unit(unit))
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


def _magnitude(quantity: Any, unit: Any) -> Any:
    if quantity.units == unit:
        return quantity.magnitude
    try:
        return quantity.m_as(unit)
    except pint.PintError:
        raise UnitsError(f"cannot turn {quantity.units:~P} into {unit:~P}") from None


# --- one argument ---------------------------------------------------------------------------

_EXAMPLES = {
    "[length]": '"42 m" or "138 ft"', "[length] ** 3 / [time]": '"22 L/s" or "350 gpm"',
    "[mass] / [length] / [time] ** 2": '"5 bar" or "72 psi"', "[temperature]": '"10 degC" or "50 degF"',
    "[time]": '"12 s" or "3 h"', "[length] / [time]": '"1.2 m/s" or "4 ft/s"', "[length] ** 3": '"10 L" or "5 gal"',
    "[length] ** 2": '"0.3 m^2" or "3 ft^2"', "[length] ** 2 * [mass] / [time] ** 3": '"4 kW"',
    "[length] ** 2 * [mass] / [time] ** 2": '"120 kWh"', "[mass]": '"1.5 kg" or "3 lb"', "[angle]": '"90 deg"',
    "[money]": '"1200 money"',
}  # fmt: skip
_PLAIN_KINDS = ("ratio", "exceedance", "count")


def _written(unit: Any) -> str:
    """The unit as people write it: ``kg/m^3``."""
    return f"{unit:~C}".replace("**", "^")


def _example(unit: Any) -> str:
    return _EXAMPLES.get(str(unit.dimensionality), f'"1 {_written(unit)}"')


class _Converter:
    """Turns what a caller gave for one argument into SI floats, or refuses it in a sentence."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.plain = kind in _PLAIN_KINDS
        self.head = kind == "head"
        self.difference = kind == "delta_K"
        name = {"head": "m", "delta_K": "delta_degC"}.get(kind, kind)
        self.unit = (
            ureg.Unit("")
            if self.plain
            else (ureg.Unit(name) if self.difference else parse_unit(name))
        )
        self.temperature = kind == "K"

    def __call__(self, value: Any, where: str) -> Any:
        if value is None:
            return None
        if isinstance(value, Quantity):
            converted = self._from_quantity(value, where)
        elif isinstance(value, str):
            try:
                converted = self._from_quantity(parse(value), where)
            except UnitsError as error:
                raise (
                    error if str(error).startswith(where) else UnitsError(f"{where}: {error}")
                ) from None
        elif isinstance(value, pint.Quantity):
            raise UnitsError(
                f"{where} was made with another unit registry; make it with hydrokit.Q_"
            )
        elif isinstance(value, (list, tuple)):
            converted = np.array(
                [self(each, f"{where}[{index}]") for index, each in enumerate(value)], dtype=float
            )
        elif type(value).__module__.partition(".")[0] == "pandas":
            unit = "" if self.plain else f", '{self.unit:~C}'"
            raise UnitsError(
                f"{where} is a pandas {type(value).__name__}; write Q_({where.split()[-1]}.to_numpy(){unit})"
            )
        else:
            converted = self._from_bare(value, where)
        if not np.all(np.isfinite(converted)) and np.any(np.isinf(converted)):
            raise UnitsError(f"{where} is infinite; a finite number is needed")
        if self.kind == "exceedance" and np.any(
            (np.asarray(converted) < 0) | (np.asarray(converted) > 1)
        ):
            raise UnitsError(
                f'{where} must lie between 0 and 1, or be given in per cent such as "95 %"; got {value!r}'
            )
        return converted

    def _from_bare(self, value: Any, where: str) -> Any:
        if (
            isinstance(value, (bool, np.bool_))
            or getattr(getattr(value, "dtype", None), "kind", "") == "b"
        ):
            raise UnitsError(f"{where} is a truth value, not a number")
        try:
            numbers = np.asarray(value, dtype=float)
        except (TypeError, ValueError):
            raise UnitsError(
                f"{where} is not a number or quantity; got {type(value).__name__}"
            ) from None
        except OverflowError:
            raise UnitsError(f"{where} is too large to be a number") from None
        if not self.plain:
            shown = f"{value!r}" if numbers.ndim == 0 else "an array"
            raise UnitsError(
                f"{where} has no unit (got {shown}); give it one, for example {_example(self.unit)}"
            )
        return float(numbers) if numbers.ndim == 0 else numbers

    def _from_quantity(self, value: Any, where: str) -> Any:
        if value.units == self.unit:
            return value.magnitude
        is_difference = "delta_" in str(value.units)
        if self.temperature and is_difference:
            raise UnitsError(
                f'{where} is a temperature, not a difference; write "10 degC", not "{value.units:~C}"'
            )
        if self.difference:
            if value.units == ureg.Unit("K"):
                return value.magnitude
            if not is_difference and value.check("[temperature]"):
                raise UnitsError(
                    f'{where} is a difference of temperatures; write "5 delta_degC" or "9 delta_degF"'
                )
        if self.head and value.dimensionality == _PRESSURE:
            raise UnitsError(
                f"{where} is a head in m or ft, not a pressure; convert it with pressure_to_head()"
            )
        if value.unitless and not self.plain:
            raise UnitsError(
                f"{where} has no unit (got {value.magnitude}); give it one, for example {_example(self.unit)}"
            )
        try:
            return value.m_as(self.unit)
        except pint.PintError:
            needed = "a plain number" if self.plain else f"something like {_example(self.unit)}"
            raise UnitsError(
                f"{where} needs {needed}, got a value in {_written(value.units)}"
            ) from None


def to_si(value: Any, kind: str, where: str) -> Any:
    """What :func:`units` does to one argument: a float or array in the unit `kind`, or a refusal.

    Parameters
    ----------
    value : Quantity, str, list or number
    kind : str
        A unit such as ``"m^3/s"``, or ``"head"``, ``"K"``, ``"delta_K"``, ``"ratio"``,
        ``"exceedance"``, ``"count"``.
    where : str
        How the sentence names the value, such as ``"[penstock] length"``.
    """
    return _converter(kind)(value, where)


@functools.lru_cache(maxsize=256)
def _converter(kind: str) -> _Converter:
    return _Converter(kind)


# --- whole functions ------------------------------------------------------------------------


def _dress(returns: Any) -> Callable[[Any], Any]:
    if returns is None:
        return lambda result: result
    if isinstance(returns, tuple):
        each = [_dress(one) for one in returns]
        return lambda result: tuple(dress(value) for dress, value in zip(each, result, strict=True))
    if returns == "number":
        return _scalar
    unit = _converter(returns).unit if returns in ("head", "delta_K") else parse_unit(returns)
    return lambda result: Quantity(_scalar(result), unit)


def _scalar(result: Any) -> Any:
    return float(result) if np.ndim(result) == 0 else result


def units(returns: Any, /, **unit_of_argument: str) -> Callable[[Callable], Callable]:
    """Make a public function out of a body of plain SI floats.

    Parameters
    ----------
    returns : str, tuple or None
        Unit of the result; ``"number"`` for a plain number; a tuple for several; ``None`` to hand
        the result over as it is.
    **unit_of_argument : str
        For each argument with a meaning in units: its unit, or one of ``"head"`` (m or ft, never
        psi), ``"K"`` (absolute temperature), ``"delta_K"``, ``"ratio"`` (number or per cent),
        ``"exceedance"`` (0–1 or per cent), ``"count"`` (a plain number).

    Returns
    -------
    callable
        With ``.si`` (the body, defaults converted), ``.unit_of``, ``.returns``, ``.check(...)``
        (findings outside the validity range) and ``.valid`` (decorator that states that range: a
        generator of ``(outside, sentence)`` taking any of the arguments by name).
    """

    def decorate(body: Callable) -> Callable:
        signature = inspect.signature(body)
        names = tuple(signature.parameters)
        unknown = set(unit_of_argument) - set(names)
        if unknown:
            raise TypeError(f"{body.__name__}() has no argument {sorted(unknown)}")
        converters = {name: _converter(kind) for name, kind in unit_of_argument.items()}
        where = {name: f"{body.__name__}(): {name}" for name in names}
        _convert_defaults(body, signature, converters, where)
        dress = _dress(returns)
        ranges: list[tuple[Callable, tuple[str, ...]]] = []

        def convert(args: tuple, kwargs: dict) -> tuple[list, dict]:
            positional = [
                converters[name](value, where[name]) if name in converters else value
                for name, value in zip(names, args)
            ] + list(args[len(names) :])
            named = {
                name: converters[name](value, where[name]) if name in converters else value
                for name, value in kwargs.items()
            }
            return positional, named

        def outside(positional: list, named: dict) -> list[str]:
            bound = body_signature.bind(*positional, **named)
            bound.apply_defaults()
            return [
                sentence
                for state, wanted in ranges
                for is_outside, sentence in state(*(bound.arguments[name] for name in wanted))
                if np.any(is_outside)
            ]

        @functools.wraps(body)
        def public(*args: Any, **kwargs: Any) -> Any:
            positional, named = convert(args, kwargs)
            result = body(*positional, **named)
            if ranges:
                for sentence in outside(positional, named):
                    warnings.warn(f"{body.__name__}(): {sentence}", RangeWarning, stacklevel=2)
            return dress(result)

        def check(*args: Any, **kwargs: Any) -> list[Finding]:
            """Findings outside the validity range, for the same arguments as the function."""
            return check_si(*convert(args, kwargs))

        def check_si(positional: Any = (), named: Any = None) -> list[Finding]:
            return [
                Finding("caution", body.__name__, text)
                for text in outside(list(positional), named or {})
            ]

        def valid(state: Callable) -> Callable:
            ranges.append((state, tuple(inspect.signature(state).parameters)))
            return state

        body_signature = inspect.signature(body)
        public.si, public.check, public.valid = body, check, valid
        public.check_si, public.__signature__ = check_si, signature
        public.unit_of, public.returns = dict(unit_of_argument), returns
        # So that the raw body can be pickled: it is found as an attribute of the public function.
        body.__qualname__ = f"{public.__qualname__}.si"
        return public

    return decorate


def _convert_defaults(body: Callable, signature: Any, converters: dict, where: dict) -> None:
    """Write defaults given as text back into the body as SI floats, once."""
    new = {
        name: converters[name](parameter.default, where[name])
        for name, parameter in signature.parameters.items()
        if name in converters
        and parameter.default is not parameter.empty
        and parameter.default is not None
    }
    if body.__defaults__:
        with_default = [
            name
            for name, each in signature.parameters.items()
            if each.default is not each.empty and each.kind is not each.KEYWORD_ONLY
        ]
        body.__defaults__ = tuple(
            new.get(name, signature.parameters[name].default) for name in with_default
        )
    if body.__kwdefaults__:
        body.__kwdefaults__ = {
            name: new.get(name, value) for name, value in body.__kwdefaults__.items()
        }
