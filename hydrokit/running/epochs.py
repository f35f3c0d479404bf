"""A commissioning is a marked day; what is changed afterwards begins a new stretch of the plant's life.

Only what was read on the day of commissioning is the healthy plant. What is read later is held
against it, and never joins it. A part that was changed since makes it less sure, until the plant is
commissioned again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .reading import Reading

__all__ = [
    "CHANGED",
    "GAUGE_CHANGED",
    "Change",
    "added_variance",
    "commissioned_on",
    "commissionings",
    "enough",
    "since",
]

# What is changed -> by how much the plant may then differ: standard deviations of the logarithms of
# head, loss, jet area and efficiency, and of the exponent of few jets. Common practice.
CHANGED: dict[str, tuple[float, float, float, float, float]] = {
    "gauge": (0.0, 0.0, 0.0, 0.0, 0.0),  # moves the gauge alone: its fault is then likelier
    "jet": (0.0, 0.0, 0.05, 0.03, 0.02),
    "runner": (0.0, 0.0, 0.0, 0.05, 0.03),
    "generator": (0.0, 0.0, 0.0, 0.05, 0.0),
    "brushes": (0.0, 0.0, 0.0, 0.02, 0.0),
    "meter": (0.0, 0.0, 0.0, 0.03, 0.0),
    "pipe": (0.01, 0.2, 0.0, 0.0, 0.0),
}
GAUGE_CHANGED = 5.0  # times likelier that a gauge reads wrong that was not there at commissioning
_TOGETHER_DAYS = 7  # marked days this near are one commissioning


@dataclass(frozen=True)
class Change:
    """Something was changed at the plant.

    Parameters
    ----------
    day : str
        As 2026-07-04.
    what : str
        One of :data:`CHANGED`.
    """

    day: str
    what: str


def since(changes: Sequence[Change], day: str, until: str = "") -> tuple[Change, ...]:
    """Changes after a day, up to another, in order of time; without a day none, for nobody knows
    which came first."""
    found = [
        each for each in changes if day and day < each.day and (not until or each.day <= until)
    ]
    return tuple(sorted(found, key=lambda each: each.day))


def added_variance(changes: Sequence[Change]) -> np.ndarray:
    """Variances by which changes make the five parameters of a baseline less sure."""
    made = np.array([CHANGED[each.what] for each in changes]).reshape(-1, 5)
    return np.sum(np.square(made), axis=0)


def enough(readings: Sequence[Reading]) -> bool:
    """Whether head and loss can be told from these: everything shut and jets open, or two numbers of jets."""
    counts = {each.jets for each in readings if each.pressure_pa > 0}
    running = counts - {0}
    return len(running) > 1 or (len(running) == 1 and 0 in counts)


def commissioned_on(readings: Sequence[Reading]) -> tuple[str, ...]:
    """Days on which the plant was commissioned; empty where nothing is there that could be it.

    The last day that the owner marked, with marked days of the week before it. Where none is
    marked: the first of those on which most numbers of jets were read; where no day is enough
    alone, the first days that together are.
    """
    marked = sorted({each.day for each in readings if each.commissioning})
    if marked:
        return tuple(_last_week(marked))
    if not enough(readings):
        return ()
    days = sorted({each.day for each in readings})

    def of(*some: str) -> list[Reading]:
        return [each for each in readings if each.day in some]

    alone = [day for day in days if enough(of(day))]
    if alone:
        return (max(alone, key=lambda day: len({each.jets for each in of(day)})),)
    taken: list[str] = []
    for day in days:  # a reading a day
        if not {each.jets for each in of(day)} <= {each.jets for each in of(*taken)}:
            taken.append(day)
    return tuple(taken)


def commissionings(readings: Sequence[Reading]) -> tuple[tuple[str, ...], ...]:
    """Every commissioning that is marked, in order of time, the days of each; or the one that is
    taken as such."""
    marked = sorted({each.day for each in readings if each.commissioning})
    found: list[tuple[str, ...]] = []
    while marked:
        found.append(tuple(_last_week(marked)))
        marked = marked[: -len(found[-1])]
    if found:
        return tuple(reversed(found))
    taken = commissioned_on(readings)
    return (taken,) if taken else ()


def _last_week(days: Sequence[str]) -> list[str]:
    """The last of days in order, and those before it with no more than a week between."""
    taken = [days[-1]]
    for day in reversed(days[:-1]):
        if not (day and taken[0] and _apart(day, taken[0]) <= _TOGETHER_DAYS):
            break
        taken.insert(0, day)
    return taken


def _apart(day: str, other: str) -> float:
    return float((np.datetime64(other) - np.datetime64(day)) / np.timedelta64(1, "D"))
