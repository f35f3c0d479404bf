"""The plant day by day, where today depends on yesterday.

The record as weights knows no yesterday. Four things do: jets that somebody must walk to, so
that they are not changed for every small gain; a stop in frost that lasts until it thaws, so that one
air lock in January may cost the season; a take that may only rise so fast; and a pond that keeps
what one day does not use for the next.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain, state_of
from ..plant.curve import FULL, PART, PlantCurve
from ..stream.days import days_of
from ..stream.record import WATER_YEAR, year_labels
from .day_state import DAY_S, Record, State, frost
from .habits import Habits, as_visited

__all__ = ["Days", "simulate_days"]


@dataclass(frozen=True, eq=False)
class Days:
    """What came of it. Arrays have the days along their last axis, draws before it.

    Parameters
    ----------
    index : pandas.DatetimeIndex
    power_w, used_m3s : ndarray
        Net power and flow through the jets.
    jets_open : ndarray of int
        0 when stopped.
    frozen : ndarray of bool
        Days lost to a stop that had to wait for a thaw.
    state : ndarray of int
        `STOPPED` (no net power), `UNDER_FED`, `PART` or `FULL`; -1 on a missing day.
    start_month : int
    """

    index: pd.DatetimeIndex
    power_w: np.ndarray
    used_m3s: np.ndarray
    _: KW_ONLY
    jets_open: np.ndarray
    frozen: np.ndarray
    state: np.ndarray
    start_month: int

    def by_month(self, each_day: np.ndarray) -> np.ndarray:
        """Sums of something of each day, draws × years × 12 (or years × 12)."""
        label = year_labels(self.index, self.start_month)
        group = (label - label.min()) * 12 + np.asarray(self.index.month) - 1
        order = np.flatnonzero(np.r_[True, np.diff(group) != 0])
        table = np.zeros((*each_day.shape[:-1], (label.max() - label.min() + 1) * 12))
        table[..., group[order]] = np.add.reduceat(each_day, order, axis=-1)
        return table.reshape(*table.shape[:-1], -1, 12)

    @property
    def kwh(self) -> np.ndarray:
        """Energy in kWh, draws × years × 12 (or years × 12); a missing day counts nothing."""
        return self.by_month(np.nan_to_num(self.power_w) * 0.024)

    def met_kwh(self, demand_w: np.ndarray) -> np.ndarray:
        """The same of what a demand takes, in W on each day."""
        return self.by_month(np.minimum(np.nan_to_num(self.power_w), demand_w) * 0.024)

    def days_in(self, state: int) -> np.ndarray:
        """Days in a state, draws × years × 12 (or years × 12)."""
        return self.by_month((self.state == state).astype(float))

    @property
    def years(self) -> np.ndarray:
        """Labels of the years of :attr:`kwh`."""
        label = year_labels(self.index, self.start_month)
        return np.arange(label.min(), label.max() + 1)

    @property
    def changes(self) -> np.ndarray:
        """How often the jets were changed while running."""
        before, after = self.jets_open[..., :-1], self.jets_open[..., 1:]
        return np.sum((before != after) & (before > 0) & (after > 0), axis=-1)

    def series(self) -> pd.Series:
        """Net power of a single run, named ``power_w``."""
        return pd.Series(self.power_w, self.index, name="power_w")


def simulate_days(
    usable: pd.Series | np.ndarray,
    chain: Chain,
    habits: Habits | None = None,
    temperature_degc: pd.Series | None = None,
    stops: np.ndarray | None = None,
    index: pd.DatetimeIndex | None = None,
    start_month: int = WATER_YEAR,
    first_visit: int | np.ndarray = 0,
    of_flow: np.ndarray | None = None,
    sketched: bool = False,
) -> Days:
    """Walk through the record with habits that remember.

    Parameters
    ----------
    usable : pandas.Series, or ndarray (draws × days) with `index`
        Usable flow in m³/s, one value a day.
    chain : Chain
        A month's rule for the jets stands; where there is none, the habits choose.
    habits : Habits, optional
        None: nothing remembers, and the energy is that of :func:`annual_energy`.
    temperature_degc : Series or array, optional
        Daily mean air temperature, in °C; needed where anything freezes.
    stops : array of bool, optional
        Days on which something else stops the plant (draws × days, or days; broadcast against the
        flow). In frost it then stays stopped until it thaws.
    index : DatetimeIndex, optional
        Dates of an array.
    start_month : int
    first_visit : int or array of int
        Day of the record on which somebody first comes, counted from 0; an array makes a draw of
        each. The jets stand as they should on the first day of the record, visit or not.
    of_flow : array of int, optional
        Row of `usable` that each draw has, where many draws share a few records.
    sketched : bool
        Plant curves on a coarse grid, quicker to make: for the share of the energy that is lost, not
        for the energy.

    Returns
    -------
    Days

    Raises
    ------
    HydrokitError
        A freezing temperature without a temperature record, dates missing.
    """
    habits = Habits() if habits is None else habits
    if isinstance(usable, pd.Series):
        index, usable = days_of(usable), usable.to_numpy(dtype=float)
    if index is None or len(index) != np.shape(usable)[-1]:
        raise HydrokitError(
            "simulate_days(): an array of flows needs `index`, one date for each day"
        )
    flow = np.atleast_2d(np.asarray(usable, dtype=float))
    cold, thaw = frost(habits, temperature_degc, index)
    stopped = np.zeros(len(index), dtype=bool) if stops is None else np.asarray(stops, dtype=bool)
    own = np.shape(usable) if of_flow is None else (len(of_flow), len(index))
    shape = np.broadcast_shapes(own, stopped.shape, (*np.shape(first_visit), 1))
    draws = len(np.atleast_2d(np.broadcast_to(0, shape)))
    row = np.broadcast_to(
        np.arange(len(flow)) if of_flow is None else np.asarray(of_flow, dtype=int), (draws,)
    )
    stopped = np.broadcast_to(stopped, (draws, len(index)))
    first = np.broadcast_to(np.asarray(first_visit, dtype=int), (draws,))
    tables = _tables(chain if habits.pond_m3 == 0 else _below_pond(chain), sketched)
    month = np.asarray(index.month)

    days = Record((draws, len(index)))
    now = State.at_start(draws, habits.pond_m3)
    for start, end in _month_blocks(month):
        counts, curves, most_w = tables[month[start]]
        block = flow[:, start:end]
        if not habits.ties_water:
            each = _evaluate(curves, block, most_w)
            place = (
                np.argmax(each[0], axis=0)[row]
                if habits.change_at_once
                else as_visited(
                    now.jets, each[0], row, counts, habits, (first - start) % habits.visit_days
                )
            )
            each, block = (
                tuple(values[place, row[:, None], np.arange(end - start)] for values in each),
                block[row],
            )
            whole = now.following(
                block,
                each,
                place,
                counts,
                habits,
                stopped[:, start:end],
                cold[start:end],
                thaw[start:end],
            )
            days.write(slice(start, end), whole, block)
            now = whole.evening(-1)
            continue
        passes = _to_pond(chain, month[start]) if habits.pond_m3 > 0 else None
        for day in range(start, end):
            taken = np.minimum(flow[row, day], now.taken + habits.ramp_m3s_per_day)
            offered = taken if passes is None else passes(taken) + now.stored_m3 / DAY_S
            each = _evaluate(curves, offered, most_w)
            visited = (first - day) % habits.visit_days == 0
            now = now.next(
                taken,
                offered,
                each,
                counts,
                habits,
                visited,
                stopped[:, day],
                bool(cold[day]),
                bool(thaw[day]),
            )
            days.write(day, now, flow[row, day])
    return Days(
        index=index,
        power_w=days.power.reshape(shape),
        used_m3s=days.used.reshape(shape),
        jets_open=days.jets.reshape(shape),
        frozen=days.frozen.reshape(shape),
        state=days.state.reshape(shape),
        start_month=start_month,
    )


def _below_pond(chain: Chain) -> Chain:
    """The plant from the pond down: its curves are against the flow that leaves the pond."""
    return chain.replace(
        supply=(), states=tuple(state_of(told, chain.penstock) for told in chain.states)
    )


def _to_pond(chain: Chain, month: int) -> Any:
    """What comes to the pond of a flow taken from the creek, in a month."""
    passage, limits = chain.replace(penstock=replace(chain.penstock, inlet=None)).reaching_si(month)
    most = min((float(limit) for limit in limits.values()), default=np.inf)
    return lambda taken: np.minimum(passage.leaves_si(taken), most)


def _tables(chain: Chain, sketched: bool) -> dict[int, tuple[np.ndarray, list[PlantCurve], float]]:
    """For each month: numbers of jets that may be open, the curve of each, and the greatest power of all."""
    tables = {}
    for months in chain.alike():
        running = chain.running(months[0])
        if running.rule is not None and not isinstance(running.rule, int):
            raise HydrokitError(
                "simulate_days(): bands of jets remember nothing; leave the schedule open or "
                "hold a number of jets"
            )
        counts = np.array(sorted({opening.count for opening in running.openings}))
        curves = [chain.curve(months[0], int(count), sketched) for count in counts]
        tables.update(
            {month: (counts, curves, max(curve.rated_w for curve in curves)) for month in months}
        )
    return tables


def _evaluate(
    curves: list[PlantCurve], flow: np.ndarray, most_w: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Power, flow used and state, with the jets along the first axis; nothing where the flow is not known."""
    known = np.where(np.isnan(flow), 0.0, flow)
    power, used, state = (
        np.empty((len(curves), *known.shape), dtype=kind) for kind in (float, float, np.int8)
    )
    for row, curve in enumerate(curves):
        node, along = curve.place_si(known)
        after = np.minimum(node + 1, len(curve.flow_m3s) - 1)
        power[row], used[row] = (
            values[node] + along * (values[after] - values[node])
            for values in (curve.power_w, curve.used_m3s)
        )
        state[row] = curve.state[node]
        if curve.rated_w < most_w * (1 - 1e-9):
            state[row][state[row] == FULL] = (
                PART  # these jets are fed, but with more open there is more to be had
            )
    return power, used, state


def _month_blocks(month: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.r_[True, np.diff(month) != 0])
    return list(zip(edges, np.r_[edges[1:], len(month)]))
