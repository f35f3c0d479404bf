"""The year by month against its demand: which month is short, which is lean, and what seasons add up to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...energy.levels import MEDIAN, SECURE, monthly_levels
from ...result import Result

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["STATES", "Season", "YearByMonth", "year_by_month"]

STATES = ("full", "part", "underfed", "stopped")
_LEAN = 0.4  # of the best month's median: a month below it is called lean


@dataclass(frozen=True, eq=False, kw_only=True)
class Season:
    """Some months of a mean year added up.

    Parameters
    ----------
    demand_kwh, useful_kwh : float or None
        What is wanted, and what of it is met; None where no demand is given.
    days : tuple of float
        Days at full flow, in part, under-fed, stopped.
    """

    demand_kwh: float | None
    useful_kwh: float | None
    days: tuple[float, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class YearByMonth(Result):
    """The months of a year, with its uncertainty, against the demand.

    Parameters
    ----------
    levels : tuple of int
        Of reliability, that are told of a month.
    demand_kwh, useful_kwh : ndarray of 12 or None
        Demand of each month, and what of it is met in the mean; None where no demand is given.
    median_kwh : ndarray of 12
        Median of each month.
    least_month, most_month : int
        With the least and the most in the median, 1 to 12.
    least_share : float
        Median of the least month over that of the most; NaN where none makes anything.
    lean_months : tuple of int
        Whose median is below 40 % of that of the most.
    short_month : int or None
        Whose secure level (P90) falls shortest of its demand; None where none falls short, or no
        demand is given.
    met_share : float or None
        Share of the year's demand that is met; None without a demand.
    days_out : float
        Days of a mean year stopped for other reasons than water.
    dry_days : ndarray of 12
        Days stopped for want of water.
    winter, year : Season
    """

    levels: tuple[int, ...]
    demand_kwh: np.ndarray | None
    useful_kwh: np.ndarray | None
    median_kwh: np.ndarray
    least_month: int
    most_month: int
    least_share: float
    lean_months: tuple[int, ...]
    short_month: int | None
    met_share: float | None
    days_out: float
    dry_days: np.ndarray
    winter: Season
    year: Season


def year_by_month(study: Study) -> YearByMonth | None:
    """The months of the year; None without a record, a plant or an uncertainty of the energy."""
    year = study.year
    median, bad = (study.answer(f"energy.month.p{level}") for level in (MEDIAN, SECURE))
    if year is None or median is None or bad is None:
        return None
    demand = None if study.demand_w is None or study.use is None else np.array(study.use.demand_kwh)
    useful = (
        None if year.useful_monthly_kwh is None else year.useful_monthly_kwh.to_numpy(dtype=float)
    )
    days = [
        np.asarray(each, dtype=float)
        for each in (year.days_full, year.days_part, year.days_under_fed, year.days_stopped)
    ]

    def season(months: tuple[int, ...]) -> Season:
        place = np.array(months) - 1
        wanted, met = (
            None if each is None else float(each[place].sum()) for each in (demand, useful)
        )
        return Season(
            demand_kwh=wanted,
            useful_kwh=met,
            days=tuple(float(each[place].sum()) for each in days),
        )

    middle = np.asarray(median.value, dtype=float)
    most, whole = float(middle.max()), season(tuple(range(1, 13)))
    short = None if demand is None else demand - np.asarray(bad.value, dtype=float)
    met = None
    if whole.demand_kwh and year.useful_annual_kwh is not None:
        met = year.useful_annual_kwh / whole.demand_kwh
    return YearByMonth(
        levels=monthly_levels(),
        demand_kwh=demand,
        useful_kwh=useful,
        median_kwh=middle,
        least_month=int(np.argmin(middle)) + 1,
        most_month=int(np.argmax(middle)) + 1,
        least_share=float(middle.min()) / most if most > 0 else np.nan,
        lean_months=tuple(int(each) + 1 for each in np.flatnonzero(middle < _LEAN * most)),
        short_month=int(np.argmax(short)) + 1 if short is not None and short.max() > 0 else None,
        met_share=met,
        days_out=float(np.sum(year.days_out)),
        dry_days=days[3] - np.asarray(year.days_out, dtype=float),
        winter=season(study.winter),
        year=whole,
    )
