"""The headline numbers of a study as a TOML file, and what moved between two of them."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from typing import Any

__all__ = ["Move", "moved", "to_toml"]

RELATIVE = 1e-6  # the files hold seven figures
BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")


@dataclass(frozen=True)
class Move:
    """One number that is not what it was.

    Parameters
    ----------
    name : str
        Tables and key, joined by dots; ``[3]`` for the third of a list.
    old, new : str, float, int, bool or None
        None where there was, or is, no such number.
    """

    name: str
    old: Any
    new: Any

    @property
    def share(self) -> float | None:
        """The change relative to the old number; None where that says nothing."""
        if not (_is_number(self.old) and _is_number(self.new)) or not self.old:
            return None
        return (self.new - self.old) / abs(self.old)

    def __str__(self) -> str:
        if self.old is None:
            return f"{self.name}: {_shown(self.new)} (new)"
        if self.new is None:
            return f"{self.name}: {_shown(self.old)} (gone)"
        change = "" if self.share is None else f" ({self.share:+.2%})"
        return f"{self.name}: {_shown(self.old)} -> {_shown(self.new)}{change}"


# Last part of a name of before -> of today; accepted results of before are read until 0.3.
_RENAMED = {"first_cost": "capital_cost", "days_starved": "days_under_fed"}


def moved(
    old: dict, new: dict, leave_out: tuple[str, ...] = ("run", "history")
) -> tuple[Move, ...]:
    """What differs between two sets of results, numbers by more than the last figure.

    Parameters
    ----------
    old, new : dict
        As read from two results files.
    leave_out : tuple of str
        Tables that tell of the run and not of the study.
    """
    before = _flat({k: v for k, v in old.items() if k not in leave_out})
    before = {_of_today(name): value for name, value in before.items()}
    after = _flat({k: v for k, v in new.items() if k not in leave_out})
    names = [*before, *(name for name in after if name not in before)]
    pairs = [(name, before.get(name), after.get(name)) for name in names]
    return tuple(Move(*pair) for pair in pairs if not _same(*pair[1:]))


def _of_today(name: str) -> str:
    table, dot, last = name.rpartition(".")
    return f"{table}{dot}{_RENAMED.get(last, last)}"


def to_toml(values: dict[str, object]) -> str:
    """Write nested dicts of text, numbers, yes or no, and flat lists of them as TOML.

    Floats keep seven significant figures: more would differ between machines.

    Examples
    --------
    >>> print(to_toml({"year": {"energy_kwh": 23456.78912, "months": [1, 2]}}), end="")
    [year]
    energy_kwh = 23456.79
    months = [1, 2]
    """
    return "\n".join(_lines(values, ())).strip("\n") + "\n"


def _lines(values: dict[str, Any], names: tuple[str, ...]) -> list[str]:
    tables = {key: value for key, value in values.items() if isinstance(value, dict)}
    lines = [f"{_key(k)} = {_value(v, (*names, k))}" for k, v in values.items() if k not in tables]
    for key, table in tables.items():
        inner = (*names, key)
        lines += ["", f"[{'.'.join(_key(each) for each in inner)}]", *_lines(table, inner)]
    return lines


def _key(key: str) -> str:
    return key if BARE_KEY.fullmatch(key) else _text(key)


def _value(value: Any, names: tuple[str, ...]) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, int):
        return str(int(value))
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(_value(each, names) for each in value) + "]"
    raise TypeError(
        f"results: {'.'.join(names)} is {type(value).__name__}; give text, a number or a list"
    )


def _number(value: float) -> str:
    if not math.isfinite(value):
        return repr(float(value))  # inf, -inf and nan are TOML too
    text = f"{value:.7g}"
    return text if re.search(r"[.e]", text) else text + ".0"


def _text(text: str) -> str:
    """A TOML string; its escapes are those of JSON, but for one control character."""
    sound = text.encode("utf-8", "replace").decode("utf-8")
    return json.dumps(sound, ensure_ascii=False).replace("\x7f", "\\u007F")


def _flat(values: Any, name: str = "") -> dict[str, Any]:
    """Every single value under its dotted name."""
    if isinstance(values, dict):
        inner = [(f"{name}.{key}" if name else key, value) for key, value in values.items()]
    elif isinstance(values, list):
        inner = [(f"{name}[{number}]", value) for number, value in enumerate(values, 1)]
    else:
        return {name: values}
    return {key: value for each in inner for key, value in _flat(each[1], each[0]).items()}


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _same(old: Any, new: Any) -> bool:
    if not (_is_number(old) and _is_number(new)):
        return type(old) is type(new) and old == new
    if math.isnan(old) or math.isnan(new):
        return math.isnan(old) and math.isnan(new)
    return math.isclose(old, new, rel_tol=RELATIVE, abs_tol=0.0)


def _shown(value: Any) -> str:
    if not isinstance(value, float):
        return str(value)
    return f"{value:,.0f}" if 1e4 <= abs(value) < 1e12 else f"{value:.5g}"
