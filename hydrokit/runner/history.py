"""The accepted results and the few acceptances before: added to, told apart, gone back by one.

A file of accepted results holds the numbers accepted last with all keys and files they came from, and
under ``history`` the acceptances before, the last first: time, version, numbers, one hash of all
inputs, and only those keys and files that were others then.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..files import Entries

__all__ = ["KEPT", "accepted_with", "earlier", "gone_back", "numbers_of"]

KEPT = 5  # acceptances before the last that are kept
_OWN = ("run", "history")  # tables that tell of runs and not of the study


def numbers_of(results: Mapping[str, object]) -> Entries:
    """The tables of headline numbers alone."""
    return {name: table for name, table in results.items() if name not in _OWN}


def accepted_with(old: Mapping[str, object] | None, new: Mapping[str, object]) -> Entries:
    """What is accepted now, with what was accepted before as its history.

    Where nothing differs, the history stays as it is.
    """
    if old is None:
        return dict(new)
    past = earlier(old)
    if not _alike(old, new):
        past = [_entry(old, new), *past][:KEPT]
    history = {str(number): each for number, each in enumerate(past, 1)}
    return dict(new) | ({"history": history} if history else {})


def earlier(accepted: Mapping[str, object]) -> list[Entries]:
    """The acceptances before the last, the last of them first; what somebody has spoilt is left out."""
    history = accepted.get("history")
    if not isinstance(history, Mapping):
        return []
    numbered = [
        (int(number), dict(each))
        for number, each in history.items()
        if str(number).isdigit() and isinstance(each, Mapping) and _table(each, "results")
    ]
    return [each for _, each in sorted(numbered, key=lambda pair: pair[0])]


def gone_back(accepted: Mapping[str, object]) -> Entries | None:
    """The accepted results as they were one acceptance before; None where nothing is known of it."""
    past = earlier(accepted)
    if not past:
        return None
    last, run = past[0], _table(accepted, "run")
    back = {
        "hydrokit": str(last.get("hydrokit", "")),
        "time": str(last.get("time", "")),
        "inputs": _as_then(_table(run, "inputs"), _table(last, "files")),
        "keys": _as_then(_table(run, "keys"), _table(last, "was")),
    }
    history = {str(number): each for number, each in enumerate(past[1:], 1)}
    return {"run": back, **_table(last, "results")} | ({"history": history} if history else {})


def _entry(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """An acceptance as it is kept once another has followed it."""
    before, after = _table(old, "run"), _table(new, "run")
    return {
        "hydrokit": str(before.get("hydrokit", "")),
        "time": str(before.get("time", "")),
        "inputs_hash": _hash(_table(before, "inputs")),
        "was": _others(_table(before, "keys"), _table(after, "keys")),
        "files": _others(_table(before, "inputs"), _table(after, "inputs")),
        "results": numbers_of(old),
    }


def _alike(old: Mapping[str, Any], new: Mapping[str, Any]) -> bool:
    before, after = _table(old, "run"), _table(new, "run")
    return numbers_of(old) == numbers_of(new) and all(
        before.get(name) == after.get(name) for name in ("hydrokit", "inputs", "keys")
    )


def _others(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, str]:
    """What was something else before; nothing for what was not there."""
    if not before:  # accepted before keys were kept
        return {}
    names = dict.fromkeys([*before, *after])
    return {
        name: str(before.get(name, "")) for name in names if before.get(name) != after.get(name)
    }


def _as_then(now: Mapping[str, Any], was: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in {**now, **was}.items() if value != ""}


def _hash(inputs: Mapping[str, Any]) -> str:
    """One hash of all files' hashes."""
    told = "\n".join(f"{file} {inputs[file]}" for file in sorted(inputs))
    return hashlib.sha256(told.encode("utf-8", "replace")).hexdigest()


def _table(of: Mapping[str, Any], name: str) -> dict[str, Any]:
    found = of.get(name)
    return dict(found) if isinstance(found, Mapping) else {}
