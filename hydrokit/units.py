"""Quantities with units at the door, plain SI floats inside.

Public functions are made with :func:`units`; their bodies see floats only, and ``function.si`` is
that body. What people write is read in :mod:`hydrokit.quantities`.
"""

from __future__ import annotations

import functools
import inspect
import warnings
from typing import (
    TYPE_CHECKING,
    Any,
    Callable,
    Iterable,
    Literal,
    ParamSpec,
    Protocol,
    Sequence,
    TypeAlias,
    TypeVar,
    overload,
)

import numpy as np
import pint

from .errors import Finding, RangeWarning, Told, UnitsError
from .quantities import Q_, Quantity, parse, parse_unit, ureg, without_comma

if TYPE_CHECKING:
    import numpy.typing as npt

__all__ = [
    "Alike",
    "Floats",
    "Number",
    "Q_",
    "Quantity",
    "parse",
    "parse_unit",
    "to_si",
    "units",
    "ureg",
    "without_comma",
]

_PRESSURE = ureg.Unit("Pa").dimensionality


# --- one argument ---------------------------------------------------------------------------

_EXAMPLES = {
    "[length]": '"42 m" or "138 ft"',
    "[length] ** 3 / [time]": '"22 L/s" or "350 gpm"',
    "[mass] / [length] / [time] ** 2": '"5 bar" or "72 psi"',
    "[temperature]": '"10 degC" or "50 degF"',
    "[time]": '"12 s" or "3 h"',
    "[length] / [time]": '"1.2 m/s" or "4 ft/s"',
    "[length] ** 3": '"10 L" or "5 gal"',
    "[length] ** 2": '"0.3 m^2" or "3 ft^2"',
    "[length] ** 2 * [mass] / [time] ** 3": '"4 kW"',
    "[length] ** 2 * [mass] / [time] ** 2": '"120 kWh"',
    "[mass]": '"1.5 kg" or "3 lb"',
    "[angle]": '"90 deg"',
    "[money]": '"1200 money"',
}
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

    def __call__(self, value: Any, where: str) -> Number | None:
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

    def _from_bare(self, value: Number, where: str) -> Number:
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

    def _from_quantity(self, value: Quantity, where: str) -> Number:
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


P = ParamSpec("P")
R = TypeVar("R", covariant=True)

# What people hand in for an argument with a unit: a Quantity, a text such as "350 gpm", or a list of
# these; a plain number where the kind is a ratio or a count. The body sees SI floats or arrays.
Given: TypeAlias = Any
# What a body sees of them and gives: values in SI, an array of them, one value or an array.
Floats: TypeAlias = "npt.NDArray[np.float64]"
Number: TypeAlias = "float | npt.NDArray[np.float64]"
# The same of what follows what was handed over: one value of one, an array of an array; the caller knows.
Alike: TypeAlias = Any
# What a validity range gives: whether, and where in an array, a value lies outside, and the sentence.
Outside: TypeAlias = tuple[Any, str | Told]


class Public(Protocol[P, R]):
    """A public function made with :func:`units`."""

    si: Callable[..., Any]
    unit_of: dict[str, str]
    returns: Any
    measurement: tuple[str, ...]  # arguments whose array is itself the measurement
    __name__: str
    __qualname__: str

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R: ...

    def check(self, *args: P.args, **kwargs: P.kwargs) -> list[Finding]:
        """Findings outside the validity range, for the same arguments as the function."""

    def check_si(self, positional: Sequence[Any] = (), named: Any = None) -> list[Finding]:
        """The same for arguments of the body."""

    def valid(self, state: Callable[..., Iterable[Outside]]) -> Any:
        """State the validity range: a generator of ``(outside, sentence)``, by arguments' names."""


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


def _scalar(result: Number) -> Number:
    return float(result) if np.ndim(result) == 0 else result


@overload
def units(
    returns: Literal["number"], /, **unit_of_argument: str
) -> Callable[[Callable[P, Any]], Public[P, Any]]: ...
@overload
def units(
    returns: str, /, **unit_of_argument: str
) -> Callable[[Callable[P, Any]], Public[P, Quantity]]: ...
@overload
def units(
    returns: tuple[str | None, ...], /, **unit_of_argument: str
) -> Callable[[Callable[P, Any]], Public[P, tuple[Any, ...]]]: ...
@overload
def units(
    returns: None, /, **unit_of_argument: str
) -> Callable[[Callable[P, R]], Public[P, R]]: ...
def units(returns: Any, /, **unit_of_argument: str) -> Any:
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
    Public
        With ``.si`` (the body, defaults converted), ``.unit_of``, ``.returns``, ``.check(...)``
        (findings outside the validity range) and ``.valid`` (decorator that states that range: a
        generator of ``(outside, sentence)`` taking any of the arguments by name). Its docstring
        tells of the refusal of a number without a unit, and its signature of the units.
    """

    def decorate(body: Any) -> Any:
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

        def outside(positional: list, named: dict) -> list[str | Told]:
            bound = body_signature.bind(*positional, **named)
            bound.apply_defaults()
            return [
                sentence
                for state, wanted in ranges
                for is_outside, sentence in state(*(bound.arguments[name] for name in wanted))
                if np.any(is_outside)
            ]

        @functools.wraps(body)
        def whole(*args: Any, **kwargs: Any) -> Any:
            positional, named = convert(args, kwargs)
            result = body(*positional, **named)
            if ranges:
                for sentence in outside(positional, named):
                    warnings.warn(f"{body.__name__}(): {sentence}", RangeWarning, stacklevel=2)
            return dress(result)

        public: Any = whole

        def check(*args: Any, **kwargs: Any) -> list[Finding]:
            """Findings outside the validity range, for the same arguments as the function."""
            return check_si(*convert(args, kwargs))

        def check_si(positional: Sequence[Any] = (), named: Any = None) -> list[Finding]:
            return [
                Finding("caution", body.__name__, text)
                for text in outside(list(positional), named or {})
            ]

        def valid(state: Callable) -> Callable:
            ranges.append((state, tuple(inspect.signature(state).parameters)))
            return state

        body_signature = inspect.signature(body)
        public.si, public.check, public.valid = body, check, valid
        public.check_si = check_si
        public.__signature__ = _told(signature, returns, unit_of_argument)
        public.__doc__ = _with_refusals(body.__doc__ or "", unit_of_argument.values())
        public.unit_of, public.returns = dict(unit_of_argument), returns
        # So that the raw body can be pickled: it is found as an attribute of the public function.
        body.__qualname__ = f"{public.__qualname__}.si"
        return public

    return decorate


def _told(signature: inspect.Signature, returns: Any, unit_of: dict[str, str]) -> inspect.Signature:
    """The signature as those who call the function see it."""
    parameters = [
        each.replace(annotation=_shown(unit_of[each.name])) if each.name in unit_of else each
        for each in signature.parameters.values()
    ]
    if returns is None:
        return signature.replace(parameters=parameters)
    return signature.replace(parameters=parameters, return_annotation=_returned(returns))


def _returned(returns: Any) -> str:
    """What a function gives, for whoever is typing a call."""
    if isinstance(returns, tuple):
        return f"tuple[{', '.join(map(_returned, returns))}]"
    if returns in (None, "number"):
        return "float" if returns else "Any"
    return f"Quantity [{returns}]"


def _shown(kind: str) -> str:
    """What an argument takes, for whoever is typing a call."""
    if kind in _PLAIN_KINDS:
        return "float" if kind == "count" else "float | str"
    unit = {"head": "m or ft", "K": "degC or degF", "delta_K": "delta_degC"}.get(kind, kind)
    return f"Quantity | str [{unit}]"


_SECTIONS = ("Raises", "Warns", "Notes", "References", "Examples")


def _with_refusals(doc: str, kinds: Iterable[str]) -> str:
    """The docstring with what every public function refuses, which so stands here only."""
    told = {kind for kind in kinds if kind not in _PLAIN_KINDS}
    if not told or "UnitsError" in doc:
        return doc
    text = "A number without a unit, or a unit of another kind"
    text += ", such as a pressure for a head" if "head" in told else ""
    text += "; a difference for a temperature" if "K" in told else ""
    text += "; a temperature for a difference" if "delta_K" in told else ""
    lines = doc.expandtabs().splitlines()
    margin = min((len(each) - len(each.lstrip()) for each in lines[1:] if each.strip()), default=0)
    indent = " " * margin
    entry = [f"{indent}UnitsError", f"{indent}    {text}."]
    for section in _SECTIONS:
        if f"{indent}{section}" in lines:
            at = lines.index(f"{indent}{section}")
            if section == "Raises":
                lines[at + 2 : at + 2] = entry
            else:
                lines[at:at] = [f"{indent}Raises", f"{indent}------", *entry, ""]
            return "\n".join(lines)
    return doc


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
