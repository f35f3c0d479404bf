"""The workshop's marker: looks at a learner's answer, unit and all, and says kindly what is wrong.

>>> print(check_answer("37.5 gpm", "37.5 gpm"))
**Right:** 37.5 gpm; we have 37.5 gpm.
>>> print(check_answer("37.5", "37.5 gpm"))
**Not yet.** 37.5 of what? Write the unit with the number, such as L/s or gpm for a flow.
>>> print(check_answer("2.3 L/s", "37.5 gpm"))
**Nearly.** 2.8 % too low; within 2 % counts as right. Check the rounding on the way.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Mapping, Sequence

import numpy as np
from pint.errors import PintError

from ..errors import HydrokitError, UnitsError, did_you_mean
from ..report.display import Words, escape_markdown
from ..sentences import plain_number, series_text
from ..units import Q_, Quantity, parse_unit
from .quotes import load_ipython_extension, unload_ipython_extension

__all__ = [
    "Verdict",
    "check_answer",
    "check_choice",
    "judge",
    "load_ipython_extension",
    "unload_ipython_extension",
]

# unit of a kind -> (what it is called, how it may be written)
_KINDS = {
    "m^3/s": ("a flow", "L/s or gpm"),
    "m": ("a length or head", "m or ft"),
    "m^2": ("an area", "m^2 or ft^2"),
    "m^3": ("a volume", "L or gal"),
    "m/s": ("a speed", "m/s or ft/s"),
    "s": ("a time", "s or h"),
    "Pa": ("a pressure", "bar or psi"),
    "W": ("a power", "W or kW"),
    "J": ("an energy", "kWh"),
    "kg": ("a mass", "kg or lb"),
    "K": ("a temperature", "degC or degF"),
    "V": ("a voltage", "V"),
    "A": ("a current", "A"),
    "money/kWh": ("a price of energy", "money/kWh"),
    "": ("a plain number or share", "0.14 or 14 %"),
}
# (asked for, given) -> the way from one to the other
_BRIDGES = {
    ("m", "Pa"): "A pressure tells a head: pressure_to_head() turns it into one.",
    ("Pa", "m"): "A head tells a pressure: head_to_pressure() turns it into one.",
    ("W", "J"): "Power is how fast, energy is how much: divide the energy by the time.",
    ("J", "W"): "Power is how fast, energy is how much: multiply the power by the time.",
    ("m^3/s", "m/s"): "A speed times the area it passes is a flow.",
    ("m^3/s", "m^3"): "A volume divided by the time it took is a flow.",
    ("m/s", "m^3/s"): "A flow divided by the area it passes is a speed.",
    ("m^2", "m"): "A width times a depth is an area.",
}
# Slips that leave their factor behind: in one kind of quantity, and in any.
_FACTORS_OF = {
    "m": {
        3.28084: "feet and metres mixed",
        12.0: "inches and feet mixed",
        25.4: "inches and millimetres mixed",
        1000.0: "millimetres and metres mixed",
        100.0: "centimetres and metres mixed",
    },
    "m^3/s": {
        448.831: "cfs and gpm mixed",
        28.3168: "cfs and L/s mixed",
        15.8503: "gpm and L/s mixed",
        3.78541: "gallons and litres mixed",
        1000.0: "L/s and m³/s mixed",
    },
    "Pa": {
        14.5038: "psi and bar mixed",
        10.2: "metres of water and bar mixed",
        2.31: "feet of water and psi mixed",
        1000.0: "Pa and kPa mixed",
    },
    "W": {1000.0: "W and kW mixed", 745.7: "W and hp mixed"},
    "J": {
        24.0: "days and hours mixed",
        365.0: "a day and a year mixed",
        3.6: "joules and watt-hours mixed",
        1000.0: "Wh and kWh mixed",
    },
    "m^2": {
        10.7639: "square feet and square metres mixed",
        144.0: "square inches and square feet mixed",
    },
    "": {100.0: "a share and per cent mixed (write the % sign)"},
}
# Slips of any quantity in which what is mixed can stand at all.
_WITH_TIME = ("m^3/s", "m/s", "s", "J")
_WITH_WIDTH = ("m", "m^2", "m^3", "m^3/s", "W")
_WITH_UNIT = tuple(kind for kind in _KINDS if kind) + ("other",)
_EVERY = (*_WITH_UNIT, "")
_FACTORS = {
    1e6: ("a square or cube of 1,000", ("m^2", "m^3", "m^3/s")),
    3600.0: ("hours and seconds mixed", _WITH_TIME),
    1000.0: ("a thousand lost with the unit", _WITH_UNIT),
    60.0: ("minutes and seconds mixed", _WITH_TIME),
    10.0: ("a decimal point out of place", _EVERY),
    4.0: ("radius and diameter mixed", _WITH_WIDTH),
    2.0: ("something counted twice, or half of it forgotten", _EVERY),
}
_UNANSWERED = (None, ..., "", "...", "?")
_NEARLY = 3.0  # times the tolerance
_LARGEST = 1e15


@dataclass(frozen=True)
class Verdict:
    """What was found about an answer.

    Parameters
    ----------
    kind : {"missing", "unreadable", "no unit", "wrong kind", "known slip", "factor", "off", "right"}
    text : str
        One or two sentences, in Markdown.
    """

    kind: str
    text: str


def judge(
    answer: object,
    expected: object,
    tolerance: object = "2 %",
    slips: Mapping[str, str] | None = None,
    unit: str = "",
) -> Verdict:
    """What an answer is worth, in a word and in a sentence.

    Parameters
    ----------
    answer : str, Quantity or number
        As typed by the learner; None, ``...`` or an empty text where nothing was typed.
    expected : str, Quantity or number
        Right answer.
    tolerance : str or number
        Share of the expected value, such as ``"2 %"``, or a quantity of its kind, such as ``"0.5 m"``.
    slips : mapping of str to str, optional
        Wrong answers that a known slip leads to, each with a sentence on the slip.
    unit : str, optional
        What is counted, in the plural, where a count is asked for: with ``"days"`` or ``"jets"``
        an answer of 214 may also be written "214 days".

    Returns
    -------
    Verdict

    Raises
    ------
    HydrokitError
        A right answer of zero with a tolerance that is a share of it.
    """
    right = Q_(expected)
    percent = right.unitless and abs(right.magnitude) < 1
    allowed = _allowed(Q_(tolerance), right)
    name, written = _kind(right)[1:]
    if _unanswered(answer):
        written = f"{right.units:~P}" if not right.unitless else "%" if percent else unit
        example = f'"… {written}"' if written else "…"
        return Verdict(
            "missing",
            (
                f"**Not answered yet:** in the cell above, write `{example}` with your number in "
                "place of `None`, run that cell, then this one."
            ),
        )
    given, note = _as_meant(_counted(answer, unit) if unit else answer, right)
    if isinstance(given, str):
        return Verdict("unreadable", f"**Not yet.** {given}")
    if given.unitless and not right.unitless:
        return Verdict(
            "no unit",
            (
                f"**Not yet.** {_shown(given)} of what? Write the unit with the number, such as "
                f"{written} for {name}."
            ),
        )
    if given.dimensionality != right.dimensionality:
        return Verdict("wrong kind", f"**Not yet.** {_wrong_kind(given, right, unit)}")
    found, wanted = float(given.m_as(right.units)), float(right.magnitude)
    if abs(found - wanted) <= allowed * (1 + 1e-9):
        return Verdict(
            "right",
            (
                f"**Right:** {_shown(given, percent, unit)}; we have "
                f"{_shown(right.to(given.units), percent, unit)}.{note}"
            ),
        )
    for wrong, sentence in (slips or {}).items():
        if abs(found - float(Q_(wrong).m_as(right.units))) <= allowed:
            return Verdict("known slip", f"**Not yet.** {_amount(found, wanted)}. {sentence}")
    slip = _factor(
        found, wanted, max(allowed / abs(wanted), 0.01) if wanted else 0.01, _kind(right)[0]
    )
    if slip:
        return Verdict("factor", f"**Not yet.** {slip}")
    if abs(found - wanted) <= _NEARLY * allowed:
        return Verdict(
            "off",
            (
                f"**Nearly.** {_amount(found, wanted)}; within {_tolerance_text(tolerance)} "
                "counts as right. Check the rounding on the way."
            ),
        )
    return Verdict("off", f"**Not yet.** {_amount(found, wanted)}.")


def check_answer(
    answer: Any,
    expected: Any,
    tolerance: Any = "2 %",
    hints: Any = (),
    slips: Mapping[str, str] | None = None,
    unit: str = "",
) -> Words:
    """Mark an answer: right, or what is wrong with it and a hint.

    Parameters
    ----------
    answer, expected, tolerance, slips, unit
        As in :func:`judge`.
    hints : str or sequence of str
        What helps on. Folded away while nothing is answered; open once a wrong answer is given.

    Returns
    -------
    Words

    Examples
    --------
    >>> print(check_answer("9.8 kW", "4.9 kW", hints="Look at the net head."))
    **Not yet.** 2 times too large: something counted twice, or half of it forgotten? *Hint:* Look
    at the net head.
    >>> print(check_answer("140 ft", "61 psi"))
    **Not yet.** That is a length or head; asked for is a pressure, such as bar or psi. A head tells
    a pressure: head_to_pressure() turns it into one.
    >>> print(check_answer("214 days", 214, "0.3 %", unit="days"))
    **Right:** 214 days; we have 214 days.
    """
    return _with_hints(judge(answer, expected, tolerance, slips, unit), hints)


def check_choice(
    answer: object, expected: str, choices: Mapping[str, str], hints: Any = ()
) -> Words:
    """Mark a choice among words.

    Parameters
    ----------
    answer : str
        One of the choices, in capitals or not; None where nothing was typed.
    expected : str
        The right one.
    choices : mapping of str to str
        Each choice with what is to be said to those who take it, the right one included.
    hints : str or sequence of str

    Returns
    -------
    Words

    Raises
    ------
    HydrokitError
        A right answer that is none of the choices.

    Examples
    --------
    >>> print(check_choice("Air", "air", {"air": "It costs a steady head.", "leaves": "Leaves starve the pond."}))
    **Right.** It costs a steady head.
    >>> print(check_choice("aire", "air", {"air": "It costs a steady head.", "leaves": "Leaves starve the pond."}))
    **Not yet.** "aire" is none of the choices: "air" and "leaves"; did you mean 'air'?
    """
    if expected not in choices:
        raise HydrokitError(f"check_choice(): the right answer {expected!r} is none of the choices")
    offered = series_text([f'"{each}"' for each in choices])
    if _unanswered(answer):
        return _with_hints(
            Verdict(
                "missing",
                (
                    f"**Not answered yet:** in the cell above, write one of {offered} in place of "
                    "`None`, run that cell, then this one."
                ),
            ),
            hints,
        )
    said = " ".join(str(answer).lower().split())
    taken = next((each for each in choices if each.lower() == said), None)
    if taken is None:
        return Words(
            f'**Not yet.** "{escape_markdown(str(answer)[:60])}" is none of the choices: '
            f"{offered}{did_you_mean(said, choices)}"
        )
    if taken != expected:
        return _with_hints(Verdict("off", f"**Not yet.** {choices[taken]}"), hints)
    return Words(f"**Right.** {choices[taken]}")


# --- reading ----------------------------------------------------------------------------------


def _unanswered(answer: Any) -> bool:
    return (
        answer is None
        or answer is ...
        or (isinstance(answer, str) and answer.strip() in _UNANSWERED)
    )


def _read(answer: Any) -> Any:
    """The answer as one quantity, or a sentence on why it is none."""
    if not isinstance(
        answer, (str, int, float, np.number, np.ndarray, list, tuple)
    ) and not hasattr(answer, "dimensionality"):
        kind = escape_markdown(type(answer).__name__)
        return (
            f"That is a {kind}, not one number with a unit. Take the number you want out of it, "
            "for example its `.flow`."
        )
    if isinstance(answer, str) and ("±" in answer or "+/-" in answer):
        return "Write the number with its unit alone; its uncertainty is not asked for here."
    try:
        given = Q_(answer)
        size, finite = np.size(given.magnitude), bool(np.all(np.abs(given.magnitude) < _LARGEST))
    except UnitsError as error:
        text = escape_markdown(str(error))
        return text[0].upper() + text[1:] + ("" if text.endswith((".", "?")) else ".")
    except (TypeError, ValueError):
        return 'That is not a number with a unit; write for example "42 m" or "138 ft".'
    if size != 1:
        return f"That is {size} numbers; one is asked for."
    if not finite:
        return (
            "That is not a finite number of a sensible size: somewhere on the way a number was "
            "missing, or a zero divided."
        )
    return Quantity(float(np.ravel(given.magnitude)[0]), given.units)


def _counted(answer: Any, unit: str) -> Any:
    """The number of a count that was written with what is counted; anything else as it is."""
    if isinstance(answer, str):
        bare = re.sub(rf"\s*\b{re.escape(unit.removesuffix('s'))}s?\s*$", "", answer, flags=re.I)
        if bare != answer:
            return bare
    try:
        return float(Q_(answer).m_as(unit))
    except (HydrokitError, PintError, TypeError, ValueError, AttributeError):
        return answer  # is read as it stands


def _as_meant(answer: Any, right: Any) -> tuple[Any, str]:
    """The answer read, and what was taken for granted: a capital where the unit has none, as in L/S."""
    given = _read(answer)
    if not isinstance(answer, str) or _alike(given, right):
        return given, ""
    for letters in ("S", "M", "SM"):
        typed = "".join(each.lower() if each in letters else each for each in answer)
        meant = _read(typed)
        if typed != answer and _alike(meant, right):
            wrote = escape_markdown(answer.strip())
            return (
                meant,
                (
                    f' We read "{wrote}" as "{escape_markdown(typed.strip())}": a capital makes '
                    "another unit of it."
                ),
            )
    return given, ""


def _alike(given: Any, right: Any) -> bool:
    return not isinstance(given, str) and given.dimensionality == right.dimensionality


def _allowed(tolerance: Any, right: Any) -> float:
    """Distance from the right answer, in its own unit, that counts as right."""
    if not tolerance.unitless:
        return abs(float(tolerance.m_as(right.units)))
    if right.magnitude == 0:
        raise HydrokitError("judge(): the right answer is zero; give the tolerance with a unit")
    return abs(float(tolerance.magnitude) * float(right.magnitude))


def _tolerance_text(tolerance: Any) -> str:
    found = Q_(tolerance)
    return _shown(found, percent=found.unitless)


# --- saying -----------------------------------------------------------------------------------


def _shown(quantity: Any, percent: bool = False, unit: str = "") -> str:
    number = plain_number((100 if percent else 1) * float(quantity.magnitude))
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    written = "%" if percent else unit if quantity.unitless else f"{quantity.units:~P}"
    return f"{number} {written}".rstrip()


def _kind(quantity: Any) -> tuple[str, str, str]:
    """The unit of the kind of a quantity, what it is called, how it may be written."""
    for unit, (name, written) in _KINDS.items():
        if quantity.check(parse_unit(unit).dimensionality if unit else ""):
            return unit, name, written
    return "other", f"a value in {quantity.units:~P}", f"{quantity.units:~P}"


def _wrong_kind(given: Any, right: Any, unit: str = "") -> str:
    (asked, name, written), (got, given_name, _) = _kind(right), _kind(given)
    if right.unitless and abs(right.magnitude) >= 1:
        asked_for = f"a number of {unit}" if unit else "a plain number, without a unit"
        return f"That is {given_name}; asked for is {asked_for}."
    bridge = _BRIDGES.get((asked, got), "")
    return f"That is {given_name}; asked for is {name}, such as {written}. {bridge}".rstrip()


def _amount(found: float, wanted: float) -> str:
    """How far off, in words: ``12 % too high``, ``3.5 times too large``."""
    if wanted == 0:
        return "Too high" if found > 0 else "Too low"
    ratio = found / wanted
    if ratio == 0:
        return "Zero, but something is there"
    if ratio < 0:
        return "The sign is turned round"
    if ratio >= 2 or ratio <= 0.5:
        return f"{plain_number(max(ratio, 1 / ratio), 2)} times too {'large' if ratio > 1 else 'small'}"
    return f"{plain_number(100 * abs(ratio - 1), 2)} % too {'high' if (ratio > 1) == (wanted > 0) else 'low'}"


def _factor(found: float, wanted: float, near: float, kind: str) -> str:
    """A sentence on the slip whose factor lies between found and wanted, or nothing."""
    ratio = found / wanted if wanted else 0.0
    if not ratio > 0:
        return ""
    of_any = {factor: slip for factor, (slip, kinds) in _FACTORS.items() if kind in kinds}
    known = of_any | _FACTORS_OF.get(kind, {})
    factor = min(known, key=lambda each: abs(abs(np.log(ratio)) - np.log(each)))
    if abs(abs(np.log(ratio)) - np.log(factor)) > near:
        return ""
    return f"{plain_number(factor)} times too {'large' if ratio > 1 else 'small'}: {known[factor]}?"


def _with_hints(verdict: Verdict, hints: Sequence[str] | str) -> Words:
    hints = (hints,) if isinstance(hints, str) else tuple(hints)
    if not hints or verdict.kind == "right":
        return Words(verdict.text)
    if verdict.kind == "missing":
        return Words(
            f"{verdict.text}\n\n<details><summary>Hint</summary>\n\n{' '.join(hints)}\n\n</details>"
        )
    return Words(f"{verdict.text} *Hint:* {' '.join(hints)}")
