"""The record as weights on the flows of a plant curve, by year and month."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.curve import place
from ..sentences import Amount, Sentence
from ..stream.record import WATER_YEAR, year_labels

if TYPE_CHECKING:
    from ..units import Floats, Number

__all__ = ["Steps", "WINTER", "Weights", "weights"]

MONTHS = np.arange(1, 13)
WINTER = (12, 1, 2)


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
    _: KW_ONLY
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

    def energy_kwh(self, power_w: Floats) -> np.ndarray:
        """Energy in kWh, years × 12, of a power given at the nodes."""
        return self.nodes_h @ np.asarray(power_w, dtype=float) / 1000

    def days(self, where: np.ndarray) -> np.ndarray:
        """Days, years × 12, in the intervals marked true."""
        return self.count @ np.asarray(where, dtype=float) * self.step_hours / 24


@dataclass(frozen=True, eq=False)
class Steps:
    """A usable record taken apart: plain arrays, one entry a step."""

    flow: np.ndarray
    year: np.ndarray  # position in `years`
    month: np.ndarray
    _: KW_ONLY
    years: np.ndarray
    step_hours: float
    complete: np.ndarray

    @property
    def group(self) -> np.ndarray:
        """Position of each step's year and month in a flat table."""
        return self.year * 12 + self.month - 1


def steps_of(usable: pd.Series, start_month: int = WATER_YEAR) -> Steps:
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
            Sentence(
                "usable flow must not be negative, got {flow} on {date}",
                flow=Amount(np.nanmin(flow), "large flow"),
                date=str(index[int(np.nanargmin(flow))].date()),
            )
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
    return Steps(
        flow,
        label - years[0],
        month,
        years=years,
        step_hours=step_hours,
        complete=present >= length * 24 / step_hours - 1e-9,
    )


def weights(
    usable: pd.Series,
    grid_m3s: Number,
    start_month: int = WATER_YEAR,
    months: Sequence[int] | np.ndarray = MONTHS,
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


def weigh(
    steps: Steps,
    grid: np.ndarray,
    months: Sequence[int] | np.ndarray = MONTHS,
    flow: Floats | None = None,
) -> Weights:
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
        along=np.bincount(cell, along, size).reshape(shape),
        step_hours=steps.step_hours,
        complete=steps.complete,
    )


def counted_months(complete: np.ndarray) -> np.ndarray:
    """Months behind the means: those of whole years, else every complete one; years × 12."""
    whole = np.all(complete, axis=1)
    return complete & (whole[:, None] | ~whole.any())
