"""What a year of the plant adds up to: the record as weights on the plant curve.

Each step of the record falls in one interval of the curve's flows. Counting the steps in each
interval, and how far along it they lie, for every year and month, is all that is needed of the
record; energy is then a product with the curve, exact for the curve however long the record.

>>> import pandas as pd
>>> from hydrokit.energy.year import annual_energy
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner, steady
>>> curve = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.015), Runner(steady(0.6))).curve()
>>> usable = pd.Series(0.010, pd.date_range("2021-10-01", "2022-09-30"), name="flow_m3s")
>>> year = annual_energy(usable, curve)
>>> f"{year.annual_kwh:.0f} kWh, capacity factor {year.capacity_factor:.3f}"
'25764 kWh, capacity factor 0.667'
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Sequence

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError, counted
from ..plant.curve import FULL, PART, STOPPED, UNDER_FED, PlantCurve
from ..result import Result
from ..stream.record import WATER_YEAR
from ..units import Q_, Alike, Quantity
from .weights import MONTHS, WINTER, Steps, steps_of, weigh
from .year_power import shared, twelve, useful_kwh

__all__ = ["Outages", "Year", "annual_energy"]


@dataclass(frozen=True, eq=False)
class Outages:
    """Share of the time the plant stands for other reasons than water.

    Parameters
    ----------
    planned : float or 12 of them
        Share of each month, January first: the yearly service, a season out of use.
    unplanned : float
        Share of what is left: faults, air locks, waiting for a part.
    """

    planned: Alike = 0.0
    unplanned: float = 0.0

    def __post_init__(self) -> None:
        planned = (
            np.broadcast_to(np.asarray(self.planned, dtype=float), (12,)).copy()
            if np.size(self.planned) in (1, 12)
            else None
        )
        for name, share in (
            ("planned", planned),
            ("unplanned", np.asarray(self.unplanned, dtype=float)),
        ):
            if share is None or np.any((share < 0) | (share > 1)):
                raise HydrokitError(
                    f"Outages: {name} is a share between 0 and 1, one for all months or 12; "
                    f"got {getattr(self, name)!r}"
                )
        object.__setattr__(self, "planned", planned)

    @property
    def running(self) -> np.ndarray:
        """Share of the time it can run, by month."""
        return (1 - self.planned) * (1 - self.unplanned)


@dataclass(frozen=True, eq=False)
class Year(Result):
    """Energy of a plant, by year and month and as a mean year.

    Parameters
    ----------
    kwh : pandas.DataFrame
        Generated energy, one row a year, one column a calendar month; NaN where the record has no
        day. A month with gaps holds what its days gave.
    complete : pandas.DataFrame of bool
        Months with every day present.
    useful_kwh : pandas.DataFrame or None
        What the demand could take, day by day.
    days_full, days_part, days_under_fed, days_stopped : pandas.Series
        Days of a mean year by month. Stopped are all without net power, outages too: they add up.
    hours : pandas.Series
        Hours of the months behind the means.
    rated_w : float
        Power the capacity factor refers to.
    winter : tuple of int
        Months called winter.
    rows : tuple of int
        Years behind the means; empty where single complete months are.
    basis : str
        What the means are taken over.
    start_month : int
        First month of a year.
    findings : tuple of Finding
    """

    kwh: pd.DataFrame
    complete: pd.DataFrame
    useful_kwh: pd.DataFrame | None
    _: KW_ONLY
    days_full: pd.Series
    days_part: pd.Series
    days_under_fed: pd.Series
    days_stopped: pd.Series
    hours: pd.Series
    rated_w: float
    winter: tuple[int, ...]
    rows: tuple[int, ...]
    basis: str
    start_month: int
    findings: tuple[Finding, ...] = ()

    @property
    def monthly_kwh(self) -> pd.Series:
        """Mean energy of each calendar month."""
        return _mean_by_month(self.kwh, self.complete, self.rows)

    @property
    def yearly_kwh(self) -> pd.Series:
        """Energy of each whole year."""
        return self.kwh.loc[self.complete.all(axis=1)].sum(axis=1).rename("kwh")

    @property
    def annual_kwh(self) -> float:
        """Energy of a mean year; NaN where a month is missing from every year."""
        return float(self.monthly_kwh.sum(skipna=False))

    @property
    def annual(self) -> Quantity:
        """Energy of a mean year."""
        return Q_(self.annual_kwh, "kWh")

    @property
    def winter_kwh(self) -> float:
        """Energy of a mean winter."""
        return float(self.monthly_kwh[list(self.winter)].sum(skipna=False))

    @property
    def useful_monthly_kwh(self) -> pd.Series | None:
        """Mean useful energy of each calendar month."""
        return (
            None
            if self.useful_kwh is None
            else _mean_by_month(self.useful_kwh, self.complete, self.rows)
        )

    @property
    def useful_annual_kwh(self) -> float | None:
        """Useful energy of a mean year."""
        useful = self.useful_monthly_kwh
        return None if useful is None else float(useful.sum(skipna=False))

    @property
    def capacity_factor(self) -> float:
        """Energy over that of the rated power all the hours of the mean year."""
        hours = float(self.hours.sum())
        return (
            self.annual_kwh * 1000 / (self.rated_w * hours)
            if self.rated_w * hours > 0
            else float("nan")
        )


def annual_energy(
    usable: pd.Series,
    curves: PlantCurve | Sequence[PlantCurve],
    outages: Outages | None = None,
    demand_w: Any = None,
    winter: tuple[int, ...] = WINTER,
    rated_w: float | None = None,
    start_month: int = WATER_YEAR,
) -> Year:
    """Energy by year and month of a plant on a record of usable flow.

    Parameters
    ----------
    usable : pandas.Series
        Usable flow in m³/s, daily or finer.
    curves : PlantCurve, or 12 of them
        For all months, or January first (``chain.curves()``).
    outages : Outages, optional
    demand_w : float, 12 floats, or pandas.Series, optional
        Power that can be used: always, by month, or on each step of the record. Useful energy is
        the lesser of power and demand step by step, never of their means; within a step both are
        taken as steady.
    winter : tuple of int
        Months named winter.
    rated_w : float, optional
        For the capacity factor; the greatest power of the curves when not given.
    start_month : int
        First month of a year; 10 keeps a northern winter whole.

    Returns
    -------
    Year
        Means are over the whole years of the record; where there is none, over the complete months
        of each name. ``.basis`` says which.

    Raises
    ------
    HydrokitError
        Not 12 curves, a demand that does not cover the record, a capacity factor above 1.
    """
    outages = Outages() if outages is None else outages
    by_month = twelve(curves)
    steps = steps_of(usable, start_month)
    shape = (len(steps.years), 12)
    kwh, hours, days = (
        np.zeros(shape),
        np.zeros(shape),
        {state: np.zeros(shape) for state in (STOPPED, UNDER_FED, PART, FULL)},
    )
    for curve, months in shared(by_month):
        visits = weigh(steps, curve.flow_m3s, months)
        kwh += visits.energy_kwh(curve.power_w)
        hours += visits.hours
        for state in days:
            days[state] += visits.days(curve.state == state)
    kwh *= outages.running
    out = sum(days.values()) * (1 - outages.running)
    days = {
        state: each * outages.running + (out if state == STOPPED else 0.0)
        for state, each in days.items()
    }
    rows, basis, findings = _basis(steps)
    complete = _table(steps.complete, steps.years)
    useful = (
        None
        if demand_w is None
        else _table(useful_kwh(usable, steps, by_month, demand_w) * outages.running, steps.years)
    )

    def mean(values: np.ndarray) -> pd.Series:
        return _mean_by_month(_table(values, steps.years), complete, rows)

    year = Year(
        kwh=_table(np.where(hours > 0, kwh, np.nan), steps.years),
        complete=complete,
        useful_kwh=None if useful is None else useful.where(hours > 0),
        days_full=mean(days[FULL]),
        days_part=mean(days[PART]),
        days_under_fed=mean(days[UNDER_FED]),
        days_stopped=mean(days[STOPPED]),
        hours=mean(hours),
        rated_w=max(curve.rated_w for curve in by_month) if rated_w is None else float(rated_w),
        winter=tuple(winter),
        rows=rows,
        basis=basis,
        start_month=start_month,
        findings=findings,
    )
    if year.rated_w > 0 and year.capacity_factor > 1 + 1e-9:
        raise HydrokitError(
            f"annual_energy(): capacity factor {year.capacity_factor:.2f} is above 1: the rated "
            f"power of {year.rated_w:.0f} W is less than the plant gives "
            f"({max(curve.rated_w for curve in by_month):.0f} W)"
        )
    return year


def _table(values: np.ndarray, years: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame(
        values, index=pd.Index(years, name="year"), columns=pd.Index(MONTHS, name="month")
    )


def _basis(steps: Steps) -> tuple[tuple[int, ...], str, tuple[Finding, ...]]:
    """Whole years behind the means, in words, with what is worth a warning."""
    whole = tuple(int(year) for year in steps.years[steps.complete.all(axis=1)])
    left_out = int(steps.complete.any(axis=1).sum()) - len(whole)
    if whole:
        also = f"; {left_out} more are not whole and left out of the means" if left_out else ""
        few = (
            (
                Finding(
                    "caution",
                    "year",
                    f"only {counted(len(whole), 'whole year')}: no more than a sample of what years can be",
                ),
            )
            if len(whole) < 5
            else ()
        )
        return (
            whole,
            f"means over {counted(len(whole), 'whole year')}, {whole[0]} to {whole[-1]}{also}",
            few,
        )
    counts = steps.complete.sum(axis=0)
    if not counts.all():
        missing = ", ".join(str(month) for month in MONTHS[counts == 0])
        finding = Finding(
            "problem", "year", f"no complete month {missing} in the record: there is no mean year"
        )
        return (), "no whole year; some months are never complete", (finding,)
    finding = Finding(
        "caution", "year", "no whole year in the record: months of different years are joined"
    )
    return (
        (),
        f"no whole year; means over {counts.min()} to {counts.max()} complete months of each name",
        (finding,),
    )


def _mean_by_month(table: pd.DataFrame, complete: pd.DataFrame, rows: tuple[int, ...]) -> pd.Series:
    return table.loc[list(rows)].mean() if rows else table.where(complete).mean()
