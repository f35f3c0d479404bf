"""What moved against the accepted results, in words: the inputs first, then the numbers they moved."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ..errors import one_line
from ..sentences import Reader
from ..site.moved_keys import told_changes, told_files
from ..study.headlines import headline, shown_pair
from .results import Move, moved

__all__ = ["Told", "told_move", "what_moved"]


@dataclass(frozen=True)
class Told:
    """What moved, line by line, in the reader's units.

    Parameters
    ----------
    inputs : tuple of str
        Keys of the site file and files that say something else; another version of hydrokit.
    numbers : tuple of str
        Headline numbers that are others.
    since : str
        When the results were accepted that they are held against.
    """

    inputs: tuple[str, ...] = ()
    numbers: tuple[str, ...] = ()
    since: str = ""

    @property
    def lines(self) -> dict[str, Any]:
        """For the page of the whole story; empty where nothing moved."""
        if not (self.inputs or self.numbers):
            return {}
        return {"since": self.since, "inputs": self.inputs, "numbers": self.numbers}


def what_moved(old: Mapping[str, object], new: Mapping[str, object], reader: Reader) -> Told:
    """What differs between the accepted results and new ones.

    Parameters
    ----------
    old, new : mapping
        As read from two files of results.
    reader : Reader
    """
    before, after = _table(old, "run"), _table(new, "run")
    keys, inputs = _table(after, "keys"), _table(after, "inputs")
    lines = []
    if "keys" in before:
        lines += told_changes(_texts(before["keys"]), _texts(keys), reader)
    elif _table(before, "inputs").get("site.toml", "") not in ("", inputs.get("site.toml")):
        lines.append(
            "the site file: changed; which of its keys is told once these results are accepted"
        )
    lines += told_files(_texts(before.get("inputs")), _texts(inputs), _texts(keys))
    if before.get("hydrokit") and before["hydrokit"] != after.get("hydrokit"):
        lines.append(f"hydrokit: {one_line(before['hydrokit'])} → {after.get('hydrokit')}")
    numbers = (told_move(each, reader) for each in moved(dict(old), dict(new)))
    return Told(tuple(lines), tuple(numbers), one_line(before.get("time", "")))


def told_move(move: Move, reader: Reader) -> str:
    """One number that moved: what it is called, before and now, and by how much."""
    known = headline(move.name)
    before, after = shown_pair(move.old, move.new, known.kind, reader)
    if move.old is None:
        return f"{known.words}: {after} (new)"
    if move.new is None:
        return f"{known.words}: {before} (gone)"
    share = "" if move.share is None else f" ({100 * move.share:+.2g} %)"
    return f"{known.words}: {before} → {after}{share}"


def _table(of: Mapping[str, Any], name: str) -> dict[str, Any]:
    found = of.get(name)
    return dict(found) if isinstance(found, Mapping) else {}


def _texts(values: Any) -> dict[str, str]:
    return {str(name): str(each) for name, each in dict(values or {}).items()}
