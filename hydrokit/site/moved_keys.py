"""What the keys of a site file say, one line each, and which of them say something else than before.

>>> before = keys_of({"penstock": {"pipe": [{"size": "125 mm", "length": "380 m"}]}})
>>> before
{'penstock.pipe.size': '125 mm', 'penstock.pipe.length': '380 m'}
>>> for each in told_changes(before, before | {"penstock.pipe.length": "410 m"}):
...     print(each)
length of this stretch ([[penstock.pipe]] length): 380 m → 410 m
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Mapping
from typing import Any

from ..errors import HydrokitError, one_line
from ..sentences import KINDS, Reader
from ..units import Q_
from .keys import Key
from .places import places
from .schema import LISTS

__all__ = ["keys_of", "told_changes", "told_files"]

_LONGEST = 60
_TEXT = re.compile(r"(-?\d+(?:\.\d+)?) ([A-Za-z][\w/^]*)")


def keys_of(raw: Mapping[str, object]) -> dict[str, str]:
    """Every key that a site file gives, by its full name, with its value as it stands there.

    An entry of a list that has several is named by its ``name``, where it has one of its own, else by
    its number from 1.
    """
    return dict(_flat(raw, ""))


def _flat(value: Any, name: str) -> Any:
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from _flat(each, f"{name}.{key}" if name else str(key))
    elif isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
        for mark, each in zip(_marks(value), value):
            yield from _flat(each, f"{name}{mark}")
    else:
        yield name, _text(value)


def _marks(entries: list[Mapping[str, Any]]) -> list[str]:
    if len(entries) == 1:
        return [""]
    names = [one_line(each["name"], _LONGEST) if "name" in each else "" for each in entries]
    if all(names) and len(set(names)) == len(names):
        return [f"[{name}]" for name in names]
    return [f"[{number}]" for number in range(1, len(entries) + 1)]


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (datetime.date, datetime.datetime, datetime.time)):
        return value.isoformat()
    if isinstance(value, list):
        return ", ".join(_text(each) for each in value)
    return one_line(value, 500)


def told_changes(
    old: Mapping[str, str], new: Mapping[str, str], reader: Reader | None = None
) -> list[str]:
    """Each key that says something else, in words: what it says, key, value before and now.

    Parameters
    ----------
    old, new : mapping
        Of :func:`keys_of`.
    reader : Reader, optional
        Whose units amounts are told in.
    """
    shown = reader or Reader()
    lines, gone, come = [], _entries(old, new), _entries(new, old)
    for entry in gone:
        lines.append(f"{entry}: taken out")
    for entry in come:
        lines.append(f"{entry}: new")
    for key in dict.fromkeys([*old, *new]):
        before, after = old.get(key), new.get(key)
        if before == after or any(_belongs(key, each) for each in (*gone, *come)):
            continue
        values = (
            "not given" if each is None else _in_units(each, shown) for each in (before, after)
        )
        lines.append(f"{_called(key)}: {' → '.join(values)}")
    return lines


def told_files(
    old: Mapping[str, str], new: Mapping[str, str], keys: Mapping[str, str]
) -> list[str]:
    """Each file whose text is another, by what the site file names it for.

    Parameters
    ----------
    old, new : mapping
        File to the hash of its text.
    keys : mapping
        Of :func:`keys_of`, as the site file is now.
    """
    named = {value: key for key, value in keys.items()}
    lines = []
    for file in dict.fromkeys([*old, *new]):
        if file == "site.toml" or old.get(file) == new.get(file):
            continue
        where = f" ({_heading(named[file])})" if file in named else ""
        told = (
            "has changed" if file in old and file in new else "is new" if file in new else "is gone"
        )
        lines.append(f"{one_line(file)}{where} {told}")
    return lines


def _entries(these: Mapping[str, str], others: Mapping[str, str]) -> list[str]:
    """Entries of lists that only one of the two has: they are told as a whole."""
    return [each for each in _heads(these) if each not in _heads(others)]


def _heads(keys: Mapping[str, str]) -> list[str]:
    return list(dict.fromkeys(key[: key.rindex("]") + 1] for key in keys if "]" in key))


def _belongs(key: str, entry: str) -> bool:
    return key.startswith(entry)


def _called(key: str) -> str:
    """What a key says, with its place: ``number of jets ([turbine] jets)``."""
    found = _place(_plain(key))
    return key if found is None else f"{found[2].meaning.partition(';')[0]} ({_heading(key)})"


def _heading(key: str) -> str:
    """Where a key stands: ``[turbine] jets``, ``[[upgrade]] valve cost``."""
    found = _place(_plain(key))
    if found is None:
        return key
    section, name, _ = found
    entry = re.search(r"\[([^\]]*)\]", key)
    heading = f"[[{section}]]" if section in LISTS else f"[{section}]"
    return f"{heading}{f' {entry[1]}' if entry else ''} {name}"


def _plain(key: str) -> str:
    return re.sub(r"\[[^\]]*\]", "", key)


def _place(key: str) -> tuple[str, str, Key] | None:
    """Section, name and what is known of a key; of one by months, of the whole."""
    while "." in key:
        section, _, name = key.rpartition(".")
        for each in places():
            if each.section == section and each.name == name:
                return section, name, each.key
        key = section
    return None


def _in_units(text: str, reader: Reader) -> str:
    """A value in the reader's units; as it was written where it is in those already, or is no amount."""
    found = _TEXT.match(text)
    if found is None:
        return one_line(text, _LONGEST)
    for kind, (si, metric, us) in KINDS.items():
        mine, other = (metric, us) if reader.system == "metric" else (us, metric)
        if found[2] == mine:
            break
        if found[2] == other:
            try:
                value = Q_(found[0]).m_as(si)
            except (HydrokitError, ValueError):
                break
            return reader.amount(float(value), kind, 4) + one_line(text[found.end() :], _LONGEST)
    return one_line(text, _LONGEST)
