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

from dataclasses import dataclass
from typing import Any, Sequence

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError, counted
from ..plant.curve import FULL, PART, STARVED, STOPPED, PlantCurve, place
from ..stream.record import WATER_YEAR, year_labels
from ..units import Q_, units

__all__ = [
    "WINTER",
    "Outages",
    "Weights",
    "Year",
    "annual_energy",
    "duration_energy",
    "power_series",
    "weights",
]

MONTHS = np.arange(1, 13)
WINTER = (12, 1, 2)


# --- the record as weights ------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Weights:
    """How often each interval of a grid of flows is visited, by year and calendar month.

    Parameters
    ----------
    grid_m3s : ndarray of n
        Nodes, rising; a flow may stand twice.
    years : ndarray of int
        Labels of the years.
    count : ndarray, years × 12 × n
        Steps whose flow lies from a node to the next; beyond the last node they count with it.
    along : ndarray, years × 12 × n
        Sum over those steps of the share of the way to the next node.
    step_hours : float
        Length of a step: 24 for a daily record.
    complete : ndarray of bool, years × 12
        Months with every step present.
    """

    grid_m3s: np.ndarray
    years: np.ndarray
    count: np.ndarray
    along: np.ndarray
    step_hours: float
    complete: np.ndarray

    @property
    def hours(self) -> np.ndarray:
        """Hours counted, years × 12."""
        return self.count.sum(axis=-1) * self.step_hours

    @property
    def nodes_h(self) -> np.ndarray:
        """Hours that each node stands for, years × 12 × n: energy is their product with the power there."""
        node = self.count - self.along
        node[..., 1:] += self.along[..., :-1]
        return node * self.step_hours

    def energy_kwh(self, power_w: Any) -> np.ndarray:
        """Energy in kWh, years × 12, of a power given at the nodes."""
        return self.nodes_h @ np.asarray(power_w, dtype=float) / 1000

    def days(self, where: Any) -> np.ndarray:
        """Days, years × 12, in the intervals marked true."""
        return self.count @ np.asarray(where, dtype=float) * self.step_hours / 24


@dataclass(frozen=True, eq=False)
class _Steps:
    """A usable record taken apart: plain arrays, one entry a step."""

    flow: np.ndarray
    year: np.ndarray  # position in `years`
    month: np.ndarray
    years: np.ndarray
    step_hours: float
    complete: np.ndarray

    @property
    def group(self) -> np.ndarray:
        """Position of each step's year and month in a flat table."""
        return self.year * 12 + self.month - 1


def steps_of(usable: pd.Series, start_month: int = WATER_YEAR) -> _Steps:
    """The arrays behind a series of usable flow of any regular step up to a day."""
    index = usable.index
    if (
        not isinstance(index, pd.DatetimeIndex)
        or index.tz is not None
        or not index.is_monotonic_increasing
        or not index.is_unique
    ):
        raise HydrokitError(
            "usable flow must be a Series with a sorted index of dates, each once and without a time zone"
        )
    if len(index) == 0:
        raise HydrokitError("usable flow is empty: there is no day to count")
    flow = usable.to_numpy(dtype=float)
    if np.any(flow < 0):
        raise HydrokitError(
            f"usable flow must not be negative, got {np.nanmin(flow):g} m³/s on {index[int(np.nanargmin(flow))].date()}"
        )
    times = index.to_numpy()
    step = np.diff(times).min() if len(times) > 1 else np.timedelta64(1, "D")
    step_hours = float(step / np.timedelta64(1, "h"))
    if step_hours > 24:
        raise HydrokitError(
            f"usable flow must be daily or finer, got steps of {step_hours / 24:g} days"
        )
    label, month = year_labels(index, start_month), np.asarray(index.month)
    years = np.arange(label.min(), label.max() + 1)
    present = np.bincount(
        (label - years[0]) * 12 + month - 1, weights=~np.isnan(flow), minlength=12 * len(years)
    ).reshape(-1, 12)
    starts = (years[:, None] - (MONTHS >= start_month) * (start_month > 1) - 1970) * 12 + MONTHS - 1
    first = starts.astype("datetime64[M]")
    length = (
        (first + np.timedelta64(1, "M")).astype("datetime64[D]") - first.astype("datetime64[D]")
    ).astype(int)
    return _Steps(
        flow, label - years[0], month, years, step_hours, present >= length * 24 / step_hours - 1e-9
    )


def weights(
    usable: pd.Series, grid_m3s: Any, start_month: int = WATER_YEAR, months: Any = MONTHS
) -> Weights:
    """The record as weights on a grid of flows.

    Parameters
    ----------
    usable : pandas.Series
        Usable flow in m³/s, daily or finer; gaps (NaN or missing rows) are left out, and their
        months marked incomplete.
    grid_m3s : array
        Nodes, rising, first 0.
    start_month : int
        First month of a year; 10 for water years, which keep a winter whole.
    months : sequence of int
        Months to count.

    Returns
    -------
    Weights
    """
    return weigh(steps_of(usable, start_month), np.asarray(grid_m3s, dtype=float), months)


def weigh(steps: _Steps, grid: np.ndarray, months: Any = MONTHS, flow: Any = None) -> Weights:
    """:func:`weights` of arrays; `flow` stands in for the flow of the steps."""
    flow = steps.flow if flow is None else flow
    counted = np.isfinite(flow) & np.isin(steps.month, months)
    node, along = place(grid, flow[counted])
    cell = steps.group[counted] * len(grid) + node
    size, shape = len(steps.years) * 12 * len(grid), (len(steps.years), 12, len(grid))
    count = np.bincount(cell, minlength=size).reshape(shape).astype(float)
    return Weights(
        grid,
        steps.years,
        count,
        np.bincount(cell, along, size).reshape(shape),
        steps.step_hours,
        steps.complete,
    )


# --- a year ---------------------------------------------------------------------------------


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

    planned: Any = 0.0
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
                    f"Outages: {name} is a share between 0 and 1, one for all months or 12; got {getattr(self, name)!r}"
                )
        object.__setattr__(self, "planned", planned)

    @property
    def running(self) -> np.ndarray:
        """Share of the time it can run, by month."""
        return (1 - self.planned) * (1 - self.unplanned)


@dataclass(frozen=True, eq=False)
class Year:
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
    days_full, days_part, days_starved, days_stopped : pandas.Series
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
    days_full: pd.Series
    days_part: pd.Series
    days_starved: pd.Series
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
    def annual(self) -> Any:
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
        return None if self.useful_kwh is None else float(self.useful_monthly_kwh.sum(skipna=False))

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
        {state: np.zeros(shape) for state in (STOPPED, STARVED, PART, FULL)},
    )
    for curve, months in _shared(by_month):
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
        else _table(_useful_kwh(usable, steps, by_month, demand_w) * outages.running, steps.years)
    )

    def mean(values: np.ndarray) -> pd.Series:
        return _mean_by_month(_table(values, steps.years), complete, rows)

    year = Year(
        kwh=_table(np.where(hours > 0, kwh, np.nan), steps.years),
        complete=complete,
        useful_kwh=None if useful is None else useful.where(hours > 0),
        days_full=mean(days[FULL]),
        days_part=mean(days[PART]),
        days_starved=mean(days[STARVED]),
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
            f"annual_energy(): capacity factor {year.capacity_factor:.2f} is above 1: the rated power of {year.rated_w:.0f} W "
            f"is less than the plant gives ({max(curve.rated_w for curve in by_month):.0f} W)"
        )
    return year


def power_series(usable: pd.Series, curves: PlantCurve | Sequence[PlantCurve]) -> pd.Series:
    """Net power in W on each step of a record, named ``power_w``; outages not counted."""
    power = power_of_steps(
        usable.to_numpy(dtype=float), np.asarray(usable.index.month), twelve(curves)
    )
    return pd.Series(power, index=usable.index, name="power_w")


def power_of_steps(
    flow: np.ndarray, month: np.ndarray, by_month: Sequence[PlantCurve]
) -> np.ndarray:
    """Net power at flows whose last axis runs along `month`."""
    power = np.empty(flow.shape)
    for curve, months in _shared(by_month):
        inside = np.isin(month, months)
        power[..., inside] = curve.power_si(flow[..., inside])
    return power


@units("kWh", exceedance="exceedance", flow="m^3/s", hours="h")
def duration_energy(exceedance, flow, curve, hours="8760 h"):
    r"""Energy of a plant from points of a duration curve of usable flow, without dates.

    Parameters
    ----------
    exceedance : array of number or str
        Share of the time each flow is reached or exceeded, rising.
    flow : array Quantity [volume/time]
        Usable flow: what stays in the creek already taken off.
    curve : PlantCurve
    hours : Quantity or str [time]
        Length of the year.

    Returns
    -------
    Quantity [energy]
        In kWh.

    Raises
    ------
    HydrokitError
        Exceedances that do not rise.

    Notes
    -----
    .. math:: E = T\int_0^1 P(q(p))\,dp

    by straight lines of power between the points; the end points hold to 0 and 1. It knows no
    season, and a plant with steps needs points near them.

    References
    ----------
    .. [1] The definition of energy, the area under power against time; integrated by trapezia.

    Examples
    --------
    >>> from hydrokit.plant.chain import Chain
    >>> from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner, steady
    >>> curve = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.015), Runner(steady(0.6))).curve()
    >>> print(f"{duration_energy(['0 %', '50 %', '100 %'], ['15 L/s', '10 L/s', '5 L/s'], curve):.0f~P}")
    25764 kWh
    >>> print(f"{duration_energy(['0 %', '50 %', '100 %'], ['240 gpm', '160 gpm', '80 gpm'], curve):.0f~P}")
    25916 kWh
    """
    exceedance, flow = np.atleast_1d(exceedance), np.atleast_1d(flow)
    if exceedance.shape != flow.shape or np.any(np.diff(exceedance) <= 0):
        raise HydrokitError(
            "duration_energy(): exceedance must rise from point to point, with one flow for each"
        )
    share = np.concatenate([[0.0], exceedance, [1.0]])
    power = curve.power_si(np.concatenate([flow[:1], flow, flow[-1:]]))
    return hours * float(np.trapezoid(power, share)) / 1000


duration_energy.measurement = ("exceedance", "flow")


# --- helpers --------------------------------------------------------------------------------


def twelve(curves: PlantCurve | Sequence[PlantCurve]) -> tuple[PlantCurve, ...]:
    """One curve a month."""
    by_month = (curves,) * 12 if isinstance(curves, PlantCurve) else tuple(curves)
    if len(by_month) != 12:
        raise HydrokitError(
            f"curves must be one plant curve, or 12 with January first; got {len(by_month)}"
        )
    return by_month


def _shared(by_month: Sequence[PlantCurve]) -> list[tuple[PlantCurve, list[int]]]:
    """Each different curve with the months that share it."""
    shared: dict[int, tuple[PlantCurve, list[int]]] = {}
    for month, curve in zip(MONTHS, by_month):
        shared.setdefault(id(curve), (curve, []))[1].append(int(month))
    return list(shared.values())


def demand_of_steps(demand_w: Any, usable: pd.Series) -> np.ndarray:
    """Demand in W on each step of a record."""
    if isinstance(demand_w, pd.Series):
        demand = demand_w.reindex(usable.index).to_numpy(dtype=float)
        missing = int(np.isnan(demand).sum())
        if missing:
            raise HydrokitError(
                f"demand has no value on {missing} of the record's {len(demand)} steps"
            )
    else:
        demand = np.asarray(demand_w, dtype=float)
        if demand.size not in (1, 12):
            raise HydrokitError(
                f"demand must be one power, 12 by month, or a Series; got {demand.size} numbers"
            )
        demand = np.broadcast_to(demand, 12)[np.asarray(usable.index.month) - 1]
    if np.any(demand < 0):
        raise HydrokitError("demand must not be negative")
    return demand


def _useful_kwh(
    usable: pd.Series, steps: _Steps, by_month: Sequence[PlantCurve], demand_w: Any
) -> np.ndarray:
    power = power_of_steps(steps.flow, steps.month, by_month)
    met = np.nan_to_num(np.minimum(power, demand_of_steps(demand_w, usable)))
    size = len(steps.years) * 12
    return np.bincount(steps.group, met, size).reshape(-1, 12) * steps.step_hours / 1000


def _table(values: np.ndarray, years: np.ndarray) -> pd.DataFrame:
    return pd.DataFrame(
        values, index=pd.Index(years, name="year"), columns=pd.Index(MONTHS, name="month")
    )


def _basis(steps: _Steps) -> tuple[tuple[int, ...], str, tuple[Finding, ...]]:
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


def counted_months(complete: np.ndarray) -> np.ndarray:
    """Months behind the means: those of whole years, else every complete one; years × 12."""
    whole = complete.all(axis=1)
    return complete & (whole[:, None] | ~whole.any())


def _mean_by_month(table: pd.DataFrame, complete: pd.DataFrame, rows: tuple[int, ...]) -> pd.Series:
    return table.loc[list(rows)].mean() if rows else table.where(complete).mean()
