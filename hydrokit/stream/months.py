"""The months of a year: their names, the water year, runs of them in words."""

from __future__ import annotations

from typing import Iterable

from ..errors import HydrokitError

__all__ = ["DAYS_OF_MONTHS", "MONTHS", "MONTH_NAMES", "WATER_YEAR", "told_months"]

MONTHS = tuple(range(1, 13))
MONTH_NAMES = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
DAYS_OF_MONTHS = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)  # of a mean year
WATER_YEAR = 10  # October to September, named by the year in which it ends


def told_months(months: Iterable[int]) -> str:
    """Months in words, runs told by their ends.

    >>> told_months([10, 11]), told_months([11, 12, 1, 2]), told_months([5]), told_months([1, 3, 4, 5, 8])
    ('October and November', 'November to February', 'May', 'January, March to May and August')
    """
    wanted = {int(month) for month in months}
    if not wanted or not wanted <= set(range(1, 13)):
        raise HydrokitError(f"months must be numbers from 1 to 12, got {months!r}")
    if len(wanted) == 12:
        return "all months"
    before = {month: (month - 2) % 12 + 1 for month in wanted}
    starts = sorted(month for month in wanted if before[month] not in wanted)
    parts: list[str] = []
    for start in starts:
        end, length = start, 1
        while end % 12 + 1 in wanted:
            end, length = end % 12 + 1, length + 1
        first, last = MONTH_NAMES[start - 1], MONTH_NAMES[end - 1]
        parts += (
            [first] if length == 1 else [first, last] if length == 2 else [f"{first} to {last}"]
        )
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
