"""What parts and stretches are called."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ...site.schema_parts import Part
    from ...site.schema_way import Stretch

__all__ = ["part_name", "stretch_name"]


def part_name(entry: Part) -> str:
    """What an entry of [[part]] is called."""
    return entry.name or ("diversion line" if entry.kind == "line" else entry.kind)


def stretch_name(line: str, number: int, entry: Stretch) -> str:
    """What a listed stretch of a line is called."""
    return entry.name or f"{line}, stretch {number}"
