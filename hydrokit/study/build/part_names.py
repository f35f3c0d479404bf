"""What parts and stretches are called."""

from __future__ import annotations

__all__ = []


def part_name(entry: dict) -> str:
    """What an entry of [[part]] is called."""
    return entry.get("name", {"line": "diversion line"}.get(entry["kind"], entry["kind"]))


def stretch_name(line: str, number: int, entry: dict) -> str:
    """What a listed stretch of a line is called."""
    return entry.get("name", f"{line}, stretch {number}")
