"""Levels of reliability: with what probability an energy is exceeded, in per cent.

``LEVELS`` is the one list: questions, results, tables and texts read it. One more level is one more
number here.

>>> level_name(90)
'P90'
"""

from __future__ import annotations

__all__ = ["LEVELS", "MEDIAN", "NINETY", "SECURE", "SECURE_NAME", "monthly_levels", "level_name"]

LEVELS = (50, 75, 90, 99)
MEDIAN = 50
SECURE = 90  # what a plan rests on; one of the levels
NINETY = (95, 5)  # between what is exceeded with these lies the 90 % interval
_MOST_OF_A_MONTH = 95


def monthly_levels() -> tuple[int, ...]:
    """Levels told of single months and of the winter: the tail beyond is told of whole years only."""
    return tuple(level for level in LEVELS if level <= _MOST_OF_A_MONTH)


def level_name(level: float) -> str:
    """A level as the trade writes it."""
    return f"P{level:g}"


SECURE_NAME = level_name(SECURE)
