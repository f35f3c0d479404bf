"""A key of the site file in plain words: what it says, what it takes, what is taken where it is left out."""

from __future__ import annotations

import re

from ..errors import InputError, Mistake, did_you_mean, one_line
from .example_units import example_in
from .keys import Key
from .places import Place, belongs, places
from .schema import LISTS, PART_KINDS, PART_TYPES, SECTIONS, TYPES
from .site_file import OLD_KEYS, OLD_SECTIONS

__all__ = ["UNITS_IN_WORDS", "explained"]

# Unit of a key -> the kind of amount, and how people write it.
UNITS_IN_WORDS = {
    "m": "a length with its unit: m, mm, ft, in",
    "m^2": "an area with its unit: m^2, km^2, ft^2, mi^2",
    "m^3": "a volume with its unit: m^3, L, gal, acre_ft",
    "m^3/s": "a flow with its unit: L/s, m^3/s, gpm, cfs",
    "m^3/s/day": "a change of flow in a day with its unit: L/s/day, gpm/day",
    "m/s": "a speed with its unit: m/s, m/d, ft/s",
    "s": "a time with its unit: s, min, h",
    "kg": "a mass with its unit: kg, g, lb",
    "kg/m^3": "a concentration with its unit: kg/m^3, g/L",
    "S/m": "a conductivity with its unit: uS/cm, S/m",
    "K": "a temperature with its unit: degC, degF",
    "Pa": "a pressure with its unit: bar, kPa, psi",
    "rad": "an angle with its unit: deg",
    "1/s": "a speed of rotation with its unit: rpm",
    "W": "a power with its unit: W, kW, hp, kVA",
    "J": "an energy with its unit: kWh, MJ",
    "V": "a voltage with its unit: V",
    "A": "a current with its unit: A",
    "ohm": "a resistance with its unit: ohm",
    "Ah": "a charge with its unit: Ah",
    "W/K": "a heat loss for each degree with its unit: W/K, Btu/h/delta_degF",
    "W/m^2/K": "a heat loss for each area and degree with its unit: W/m^2/K, Btu/h/ft^2/delta_degF",
    "money": "an amount of money, a plain number",
    "money/W": 'an amount of money for each power: "1400 per kW"',
    "money/m": 'an amount of money for each length: "18 per m", "6 per ft"',
    "money/J": 'an amount of money for each energy: "0.22 per kWh"',
    "money/s": 'an amount of money for each time: "14 per h"',
    "count": "a plain number",
    "ratio": 'a ratio: 1.5 or "150 %"',
    "share": 'a share of the whole: 0.8 or "80 %"',
    "exceedance": 'a share of time: "95 %"',
}
_KINDS = {
    "text": "text in quotes",
    "texts": "a list of texts, each in quotes",
    "word": "one short word in quotes",
    "file": "the name of a CSV file in quotes",
    "yes/no": "true or false, without quotes",
    "time": "a date, or a date with the time of day as in 2026-03-14 13:00:00, without quotes",
    "months": "a list of months, 1 to 12",
    "date": "a date such as 2026-07-04, without quotes",
}
_BEHIND = {
    "measured": "; its standard deviation may stand behind it after ±",
    "by month": "; one value, a list of twelve, or a table such as { january = ..., july = ... }",
    "each": "; one value, or a list where they differ",
}


def explained(word: str, units: str = "metric") -> list[str]:
    """A key, or all keys of a section, line by line.

    Parameters
    ----------
    word : str
        ``jet_kind``, ``turbine.jet_kind``, ``[turbine] jet_kind``, or a section: ``turbine``.
    units : {"metric", "us"}
        Of the examples.

    Raises
    ------
    InputError
        No key and no section has that name; the sentence says which is near.

    Examples
    --------
    >>> for line in explained("cable.material"):
    ...     print(line)
    [cable] material: conductor
      Write: one of copper, aluminium
      Left out: copper
      Example: material = "copper"
      A study that starts from this one (hydrokit new --from) keeps it.
      It counts most on page 06 (using it).
    """
    section, name = _asked(word)
    if not section and name in TYPES:
        return _section(name, units)
    found = [
        each
        for each in places()
        if each.name == name and section in ("", each.section, each.part, f"part.{each.part}")
    ]
    if not found:
        known = dict.fromkeys([*TYPES, *PART_TYPES, *(each.name for each in places())])
        elsewhere = belongs(name, section) if section else ""
        near = elsewhere or did_you_mean(name, known) or "; name a key or a section"
        raise InputError(Mistake("explain", "", f"there is no key '{one_line(word)}'{near}"))
    if len(found) > _MOST:
        ask = f"  More of one of them: hydrokit explain {found[0].section}.{name}"
        return [_line(each, units) for each in found] + [ask]
    return [line for each in found for line in _key(each, units)]


_MOST = 3  # places of one name that are told in full


def _asked(word: str) -> tuple[str, str]:
    """Section, or nothing, and name of what was asked for, by the names of today."""
    words = re.sub(r"[\[\]]+", " ", word).strip().lower()
    if words in TYPES or words in OLD_SECTIONS:
        return "", OLD_SECTIONS.get(words, words)
    if words in PART_TYPES:
        return words, "kind"
    section, _, name = (words if "." in words else words.replace(" ", ".")).rpartition(".")
    if "] " in word:
        section, _, name = words.rpartition(" ")
    section = OLD_SECTIONS.get(section.strip(), section.strip())
    now = {new for (place, old), new in OLD_KEYS.items() if old == name and section in ("", place)}
    known = any(each.name == name and section in ("", each.section) for each in places())
    return section, name if known or not now else now.pop()


def _section(name: str, units: str) -> list[str]:
    """A section with a line for each of its keys."""
    lines = [" ".join(TYPES[name].__doc__.partition("\n\n")[0].split())]
    if name == "part":
        lines.append("  Kinds, each with its own keys: " + ", ".join(PART_KINDS))
    keys = SECTIONS[name] if name in SECTIONS else LISTS[name]
    lines += [f"  {each}: {example_in(key.meaning, units)}" for each, key in keys.items()]
    return lines + [f"  [[{name}.{each}]] entries belong to it" for each in TYPES[name].lists]


def _line(place: Place, units: str) -> str:
    return f"{place.heading} {place.name}: {example_in(place.key.meaning, units)}"


def _key(place: Place, units: str) -> list[str]:
    key = place.key
    lines = [_line(place, units), f"  Write: {written(key)}"]
    if key.within:
        lines.append(f"  Within: {key.within}")
    if key.usual:
        lines.append(f"  Usual: {key.usual[0]}; {key.usual[1]}")
    lines.append(f"  Left out: {_left_out(key)}")
    if key.example:
        lines.append(f"  Example: {place.name} = {key.example}")
    lines[1:] = [example_in(line, units) for line in lines[1:]]
    if key.shared_with_neighbour:
        lines.append("  A study that starts from this one (hydrokit new --from) keeps it.")
    if page := TYPES[place.section].page:
        number, _, title = page.partition("_")
        lines.append(f"  It counts most on page {number} ({title.replace('_', ' ')}).")
    return lines


def written(key: Key) -> str:
    """How a value of that key is written."""
    if key.kind == "choice":
        return "one of " + ", ".join(key.choices)
    if key.kind in _KINDS:
        return _KINDS[key.kind]
    amount = "a whole number" if key.whole else UNITS_IN_WORDS[key.unit]
    if key.kind == "numbers":
        return f"a list; each is {amount}"
    return amount + _BEHIND.get(key.kind, "")


def _left_out(key: Key) -> str:
    if key.required:
        return "it must be given"
    if key.default == "[]":
        return "none"
    return key.default.strip('"') or "nothing is taken for it"
