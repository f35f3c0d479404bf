"""What a plant is told by months: twelve entries, or a mapping of some."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Mapping, TypeVar

from ..errors import HydrokitError

__all__ = ["by_month", "month_of"]

Entry = TypeVar("Entry")


def month_of(month: int) -> int:
    """A month from 1 to 12, or a clear refusal."""
    if month not in range(1, 13):
        raise HydrokitError(f"month must be 1 to 12, got {month!r}")
    return int(month)


def by_month(
    given: Mapping[int, Entry] | Iterable[Entry], otherwise: Entry, name: str
) -> tuple[Entry, ...]:
    """Twelve entries, January first; `otherwise` for months that are not named."""
    if isinstance(given, Mapping):
        for month in given:
            month_of(month)
        return tuple(given.get(month, otherwise) for month in range(1, 13))
    entries = tuple(given)
    if len(entries) not in (0, 12):
        raise HydrokitError(
            f"Chain: {name} needs 12 entries, January first, or a mapping of months; got {len(entries)}"
        )
    return entries or (otherwise,) * 12
