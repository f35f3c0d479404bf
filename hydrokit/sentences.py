"""What people are told, as data: a sentence is a template with amounts, shown in the reader's units.

A room says what it found once, in SI; whoever shows it asks a :class:`Reader` to tell it. No text
is ever converted by reading it again.

>>> told = Sentence("the screen passes {most} at {head}", most=Amount(0.012, "flow"), head=Amount(0.05, "head", 2))
>>> print(told)
the screen passes 12 L/s at 0.050 m
>>> Reader("us").told(told)
'the screen passes 190 gpm at 0.16 ft'
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any, Iterable, Self, Sequence, overload

import numpy as np

from .errors import Finding, HydrokitError, InputError, Told
from .units import parse_unit, ureg

if TYPE_CHECKING:
    import pandas as pd
    import pint

    from .units import Number


__all__ = [
    "Either",
    "Amount",
    "Reader",
    "Sentence",
    "joined",
    "capital",
    "money_text",
    "plain_number",
    "refusal",
    "series_text",
]

# kind of quantity -> (SI unit it is held in, metric unit, US unit)
KINDS = {
    "flow": ("m^3/s", "L/s", "gpm"),
    "large flow": ("m^3/s", "m^3/s", "cfs"),
    "length": ("m", "m", "ft"),
    "distance": ("m", "km", "mi"),
    "diameter": ("m", "mm", "in"),
    "small length": ("m", "mm", "in"),
    "stage": ("m", "m", "ft"),
    "depth": ("m", "m", "in"),
    "head": ("m", "m", "ft"),
    "area": ("m^2", "m^2", "ft^2"),
    "small area": ("m^2", "mm^2", "in^2"),
    "catchment": ("m^2", "km^2", "mi^2"),
    "volume": ("m^3", "m^3", "gal"),
    "water of a year": ("m^3", "m^3", "acre_ft"),
    "pressure": ("Pa", "bar", "psi"),
    "gauge pressure": ("Pa", "bar", "psi"),
    "velocity": ("m/s", "m/s", "ft/s"),
    "power": ("W", "W", "W"),
    "large power": ("W", "kW", "kW"),
    "energy": ("J", "kWh", "kWh"),
    "temperature": ("K", "degC", "degF"),
    "temperature difference": ("delta_degC", "delta_degC", "delta_degF"),
    "time": ("s", "s", "s"),
    "hours": ("s", "h", "h"),
    "minutes": ("s", "min", "min"),
    "speed": ("1/s", "rpm", "rpm"),
    "force": ("N", "kN", "lbf"),
    "mass": ("kg", "kg", "lb"),
    "conductivity": ("S/m", "uS/cm", "uS/cm"),
    "heat loss": ("W/K", "W/K", "Btu/h/delta_degF"),
    "heat transmission": ("W/m^2/K", "W/m^2/K", "Btu/h/ft^2/delta_degF"),
    "voltage": ("V", "V", "V"),
    "current": ("A", "A", "A"),
    "small current": ("A", "mA", "mA"),
    "apparent power": ("W", "kVA", "kVA"),
    "resistance": ("ohm", "ohm", "ohm"),
    "charge": ("Ah", "Ah", "Ah"),
    "flow per day": ("m^3/s/day", "L/s/day", "gpm/day"),
    "money per length": ("money/m", "money/m", "money/ft"),
    "concentration": ("kg/m^3", "mg/L", "mg/L"),
    "flow per width": ("m^2/s", "m^2/s", "ft^2/s"),
    "density": ("kg/m^3", "kg/m^3", "lb/ft^3"),
    "angle": ("rad", "deg", "deg"),
}
# kind of what is read from a dial -> decimals to which it can be read, metric and US
_READ = {"gauge pressure": (2, 1), "temperature": (1, 0)}
_TRIMMED = ("temperature",)  # and a whole number of it is told without decimals
# kind of what is counted alike everywhere -> its unit
_COUNTED = {
    "number": "",
    "count": "",
    "share": "%",
    "days": "days",
    "years": "years",
    "kWh": "kWh",
    "money": "money",
    "money per kWh": "money per kWh",
}
_WHOLE = ("count", "days")
# unit as the registry prints it -> as people write it
_WRITTEN = {
    "cfs": "ft³/s",
    "acre_ft": "acre-ft",
    "Btu/°F/h": "Btu/h/°F",
    "W/K/m²": "W/m²/K",
    "Btu/°F/ft²/h": "Btu/h/ft²/°F",
}
_UNKNOWN = "not known"
_NOTHING = 1e-9  # in any unit of a reader: what the arithmetic has left of a nought
_LARGE_FLOW = 2.0  # m³/s: above it L/s and gpm have too many digits to be read


def plain_number(value: float, digits: int = 3) -> str:
    """A number to so many significant digits, with thousands parted, never in powers of ten.

    >>> plain_number(12345.6), plain_number(0.01234), plain_number(8, 2), plain_number(float("nan"))
    ('12,300', '0.0123', '8', 'not known')
    """
    if value is None or not np.isfinite(value):
        return _UNKNOWN
    if abs(value) < _NOTHING:
        return "0"
    rounded = Decimal(
        f"{value:.{digits - 1}e}"
    )  # in decimals: the largest float rounded up is no float any more
    text = f"{rounded:,f}"
    return text.partition(".")[0] if rounded == rounded.to_integral_value() else text


def money_text(value: float, currency: str, digits: int = 3) -> str:
    """A sum of money as it is written everywhere: ``12,300 crowns``."""
    return _of_money(plain_number(value, digits), currency)


def _of_money(number: str, currency: str) -> str:
    """How a number, or a range, and its currency stand together; the one place that says so."""
    return f"{number} {currency}"


@dataclass(frozen=True)
class Reader:
    """The reader's units.

    Parameters
    ----------
    system : {"metric", "us"}
    large_flows : bool
        Show flows in m³/s or ft³/s rather than L/s or gpm.
    currency : str
        Name of the money of this study.
    """

    system: str = "metric"
    large_flows: bool = False
    currency: str = "money"

    def __post_init__(self) -> None:
        if self.system not in ("metric", "us"):
            raise HydrokitError(f'display must be "metric" or "us", got {self.system!r}')

    @classmethod
    def for_flow(cls, system: str, typical_flow_m3s: float | None, currency: str = "money") -> Self:
        """The view whose flow unit suits a creek of that size."""
        return cls(system, bool(typical_flow_m3s and typical_flow_m3s > _LARGE_FLOW), currency)

    def _units(self, kind: str) -> tuple[str, str]:
        if kind == "flow" and self.large_flows:
            kind = "large flow"
        if kind not in KINDS:
            raise HydrokitError(f"there is no display kind {kind!r}; known are {', '.join(KINDS)}")
        si, metric, us = KINDS[kind]
        return si, metric if self.system == "metric" else us

    def label(self, kind: str) -> str:
        """The unit as it is printed: ``L/s``, ``ft``, ``°F``."""
        text = f"{_unit(self._units(kind)[1]):~P}".replace("Δ", "")
        text = _WRITTEN.get(text, text)
        return text.replace("money", self.currency)

    @overload
    def number(self, value: float, kind: str) -> Any: ...
    @overload
    def number(self, value: Sequence[float] | np.ndarray | pd.Series, kind: str) -> Any: ...
    def number(self, value: Any, kind: str) -> Any:
        """SI floats or arrays as floats in the reader's unit."""
        si, shown = (_unit(each) for each in self._units(kind))
        return ureg.Quantity(np.asarray(value, dtype=float), si).m_as(shown)[()]

    def decimals(self, kind: str) -> int | None:
        """To how many decimals a dial of this kind is read; None where it is no dial's.

        A temperature has no significant digits: its nought is anywhere.
        """
        metric, us = _READ.get(kind, (None, None))
        return metric if self.system == "metric" else us

    def text(self, value: Number | None, kind: str, digits: int = 3) -> str:
        """One SI value with its unit: ``12.3 L/s``."""
        return self.amount(value, kind, digits)

    def range(self, low: float, high: float, kind: str, digits: int = 2) -> str:
        """Two SI values as ``11 to 15 L/s``; as one where they read alike."""
        return self.amount((low, high), kind, digits)

    def money(self, value: float, digits: int = 3) -> str:
        """``12,300 crowns``."""
        return money_text(value, self.currency, digits)

    def duration(self, seconds: float, digits: int = 2) -> str:
        """A time to act within, in the unit one would say: ``73 minutes``, ``6.8 hours``, ``5.2 days``.

        >>> Reader().duration(4380), Reader().duration(60.0), Reader().duration(24480), Reader().duration(450000)
        ('73 minutes', '1 minute', '6.8 hours', '5.2 days')
        """
        if not np.isfinite(seconds):
            return _UNKNOWN
        size, name = (
            (60.0, "minute")
            if seconds < 2 * 3600
            else (3600.0, "hour")
            if seconds < 72 * 3600
            else (86400.0, "day")
        )
        number = plain_number(seconds / size, digits)
        return f"{number} {name}{'' if number == '1' else 's'}"

    def amount(
        self,
        value: Any,
        kind: str,
        digits: int = 3,
        unit: bool = True,
    ) -> str:
        """One value, or a pair of them as a range, in the reader's unit; without it where a
        column's title has it.

        >>> Reader().amount((0.011, 0.015), "flow", 2), Reader().amount(0.07, "share", 2)
        ('11 to 15 L/s', '7 %')
        >>> Reader("us").amount(317159.0, "gauge pressure"), Reader("us").amount(317159.0, "pressure")
        ('46.0 psi', '46 psi')
        """
        if isinstance(value, tuple):
            low, high = (self.amount(each, kind, digits, False) for each in value)
            number = low if low == high else f"{low} to {high}"
            known = kind != "duration" and not number.endswith(_UNKNOWN)
            return self.with_unit(number, kind) if unit and known else number
        if kind == "text":
            return str(value)
        if kind == "duration":
            return self.duration(value, digits)
        if kind in _COUNTED:
            number = _counted(value, kind, digits)
        else:
            shown, decimals = float(self.number(value, kind)), self.decimals(kind)
            number = (
                plain_number(shown, digits)
                if decimals is None or not np.isfinite(shown)
                else f"{round(shown, decimals) + 0.0:,.{decimals}f}"
            )
            if kind in _TRIMMED:
                number = number.removesuffix(".0")
        return self.with_unit(number, kind) if unit and number != _UNKNOWN else number

    def with_unit(self, number: str, kind: str) -> str:
        """A number, or a range, as it is shown, with the unit of its kind.

        >>> Reader().with_unit("11 to 15", "flow"), Reader(currency="crowns").with_unit("12", "money")
        ('11 to 15 L/s', '12 crowns')
        """
        name = _COUNTED.get(kind, "")
        if name.startswith("money"):
            return _of_money(number, self.currency) + name.removeprefix("money")
        if kind not in _COUNTED:
            name = self.label(kind)
        elif kind == "days" and number == "1":
            name = "day"
        return f"{number}{'' if name == '°' else ' '}{name}".strip()

    def told(self, what: str | Told | Finding | Exception) -> str:
        """A sentence, or that of a finding or a refusal, in the reader's units.

        >>> Reader("us").told(Finding("note", "pond", Sentence("holds {all}", all=Amount(1.0, "volume"))))
        'holds 264 gal'
        """
        if isinstance(what, InputError):
            return "\n".join(each.told(self) for each in what.mistakes)
        if isinstance(what, Exception):
            said = what.args[0] if len(what.args) == 1 else str(what)
        else:
            said = what.sentence if isinstance(what, Finding) else what
        return said.told(self) if isinstance(said, Sentence) else str(said)

    def header(self, name: str, kind: str) -> str:
        """A column or axis title with its unit."""
        return f"{name} [{self.label(kind)}]"


@cache
def _unit(text: str) -> pint.Unit:
    """The unit of a kind; differences of temperature, which nobody may write, among them."""
    unit = ureg.Unit("")
    for index, part in enumerate(text.split("/")):
        one = ureg.Unit(part) if part.startswith("delta_") else parse_unit(part)
        unit = unit / one if index else unit * one
    return unit


def _counted(value: float, kind: str, digits: int) -> str:
    """The number of something counted alike everywhere."""
    if not np.isfinite(value):
        return _UNKNOWN
    if kind in _WHOLE:
        return f"{round(float(value)):,}"
    return plain_number(100 * value if kind == "share" else value, digits)


@dataclass(frozen=True, init=False)
class Amount:
    """One amount of a sentence.

    Parameters
    ----------
    value : float or (float, float)
        In SI, as the kind holds it; two are shown as a range.
    kind : str
        How it is shown: a kind of :data:`KINDS`, or ``"share"``, ``"count"``, ``"number"``,
        ``"days"``, ``"years"``, ``"duration"``, ``"kWh"``, ``"money"``, ``"money per kWh"``.
    digits : int
        Significant digits.
    """

    value: float | tuple[float, float]
    kind: str
    digits: int = 3

    def __init__(self, value: Any, kind: str, digits: int = 3) -> None:
        if kind not in KINDS and kind not in _COUNTED and kind != "duration":
            raise ValueError(f"there is no display kind {kind!r}")
        plain = tuple(map(float, value)) if isinstance(value, tuple) else float(value)
        for name, given in (("value", plain), ("kind", kind), ("digits", digits)):
            object.__setattr__(self, name, given)

    def __str__(self) -> str:
        return self.told(Reader())

    def told(self, reader: Reader) -> str:
        """The amount in the reader's units."""
        return reader.amount(self.value, self.kind, self.digits)


@dataclass(frozen=True)
class Either:
    """What is written for each of the two systems, such as an example to copy.

    >>> Reader("us").told(Sentence("write {example}", example=Either('"42 m"', '"138 ft"')))
    'write "138 ft"'
    """

    metric: str
    us: str

    def __str__(self) -> str:
        return self.metric

    def told(self, reader: Reader) -> str:
        """That of the reader's system."""
        return self.us if reader.system == "us" else self.metric


@dataclass(frozen=True, init=False)
class Sentence:
    """A template with amounts, names and other sentences in its places.

    Text of files goes into a place, never into the template: braces in it mean nothing there.

    Parameters
    ----------
    template : str
        With a ``{name}`` for each of the amounts.
    **amounts : Amount, Either, Sentence, str or int
        What stands in the places.

    Examples
    --------
    >>> print(Sentence("{whose} loses {head}", whose="the {old} pipe", head=Amount(1.5, "head", 2)))
    the {old} pipe loses 1.5 m
    """

    template: str
    amounts: tuple[tuple[str, Amount | Either | Sentence | str], ...] = ()

    def __init__(self, template: str, /, **amounts: Amount | Either | Sentence | str | int) -> None:
        if set(_PLACE.findall(template)) != set(amounts):
            raise ValueError(f"the places of {template!r} are not {sorted(amounts)}")
        held = (
            (name, each if isinstance(each, (Amount, Either, Sentence)) else str(each))
            for name, each in amounts.items()
        )
        object.__setattr__(self, "template", template)
        object.__setattr__(self, "amounts", tuple(held))

    def told(self, reader: Reader) -> str:
        """The sentence in the reader's units."""
        shown = {
            name: each if isinstance(each, str) else each.told(reader)
            for name, each in self.amounts
        }
        return _PLACE.sub(lambda place: shown[place[1]], self.template)

    def __str__(self) -> str:
        return self.told(Reader())

    def __add__(self, other: str | Sentence) -> Sentence:
        return joined((self, other), "")

    def __radd__(self, other: str) -> Sentence:
        return joined((other, self), "")

    def __bool__(self) -> bool:
        return bool(self.template)

    @property
    def capital(self) -> Sentence:
        """The sentence with a capital letter where it begins with a word."""
        first = _PLACE.match(self.template)
        if first is None:
            return Sentence(capital(self.template), **dict(self.amounts))
        held = dict(self.amounts)
        begun = held[first[1]]
        if isinstance(begun, (Amount, Either)):
            return self
        # The place may stand again further on, where no capital belongs.
        rest = self.template[first.end() :]
        return Sentence(
            "{its_first}" + rest,
            **{
                **{name: each for name, each in held.items() if "{" + name + "}" in rest},
                "its_first": begun.capital if isinstance(begun, Sentence) else capital(begun),
            },
        )


_CALLED = re.compile(r"^\w+(?: '[^']*')?\(\): ")


def refusal(error: Exception) -> str | Sentence:
    """What an error says, without the name of the function that refused: that is of use to those
    who call it."""
    said = error.args[0] if len(error.args) == 1 else None
    if isinstance(said, Sentence):
        return Sentence(_CALLED.sub("", said.template), **dict(said.amounts))
    return _CALLED.sub("", str(error))


_PLACE = re.compile(r"\{([a-z]\w*)\}")


def capital(text: str) -> str:
    """The text with a capital letter first, the rest as it is."""
    return text[:1].upper() + text[1:]


def joined(sentences: Iterable[str | Sentence], between: str = "; ") -> Sentence:
    """Sentences, or texts, one behind the other.

    >>> print(joined(["the creek is low", Sentence("{days} long", days=Amount(3, "days"))]).capital)
    The creek is low; 3 days long
    """
    parts = {f"part_{number}": each for number, each in enumerate(sentences)}
    return Sentence(between.join("{" + name + "}" for name in parts), **parts)


def series_text(items: Sequence[str]) -> str:
    """``a, b and c``."""
    items = list(items)
    return (
        items[0]
        if len(items) == 1
        else ", ".join(items[:-1]) + " and " + items[-1]
        if items
        else "none"
    )
