"""How the plant is run, and the share of its energy that this loses: for other flows, other plants,
other designs.

The walk day by day is too slow for every draw and every design. The share that is lost hangs on
how much water there is against what the jets take, and little on anything else. So it is walked
for a few sizes of that, and read between them.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.chain import Chain
from ..stream.days import days_of
from .days import simulate_days
from .habits import Habits
from .lattice import Lattice, usable_flow
from .memory import drawn_stops
from .weights import counted_months, steps_of
from .year import Year
from .year_power import demand_of_steps

if TYPE_CHECKING:
    from ..stream.rights import Rights
    from ..units import Alike, Floats, Number
    from .days import Days

__all__ = ["Kept", "Operating", "kept_of_lattice", "kept_shares", "lost_share"]

_NODES, _REACH = (
    15,
    3.5,
)  # sizes of the flow that are walked, and how many standard deviations they span
_POWERS = 3  # sizes of the power held against the demand, which change no walk
_DRAWS, _DESIGN_DRAWS = 20, 12  # of stops in frost
_NUDGE = 1.02  # of the flow
_TOGETHER = 300  # walks at once, for the memory they take


@dataclass(frozen=True, eq=False)
class Operating:
    """How a plant is run.

    Parameters
    ----------
    habits : Habits
    temperature_degc : Series or array, optional
        Daily mean air temperature on the days of the record; needed where anything freezes.
    stops_a_year : float
        Stops on frosty days in a mean year.
    seed : int
        Of the days of the stops.
    """

    habits: Habits = field(default_factory=Habits)
    temperature_degc: pd.Series | None = None
    stops_a_year: float = 0.0
    _: KW_ONLY
    seed: int = 1

    @property
    def loses(self) -> bool:
        """Whether it takes or brings anything."""
        return not self.habits.change_at_once or self.habits.ties_water or self.habits.freezes

    def runs(
        self, index: pd.DatetimeIndex, draws: int, start_month: int
    ) -> tuple[np.ndarray, np.ndarray]:
        """First visit and days of stops of as many runs as the phases of the visits and the draws
        of the stops ask for."""
        phases = self.habits.phases
        if not self.habits.freezes:
            return phases, np.zeros((len(phases), len(index)), dtype=bool)
        count = -(-draws // len(phases)) * len(phases)
        stops = drawn_stops(
            index,
            self.temperature_degc,
            self.habits.freezes_below_degc,
            self.stops_a_year,
            count,
            self.seed,
            start_month,
        )
        return phases[np.arange(count) % len(phases)], stops


@dataclass(frozen=True, eq=False)
class Kept:
    """Share of the energy that is left, by how much water there is.

    Parameters
    ----------
    nodes : ndarray
        Logarithm of the natural flow against that of the record, rising.
    elasticity : float
        Per cent by which the usable flow grows with one per cent more natural flow, on days on which
        the plant does not run full: what stays in the creek does not grow.
    share : ndarray, nodes × runs × years × 12
        Of the energy. A run has its days of visits and its days of stops.
    power_nodes : ndarray
        Logarithm of the power against that of the plant as it stands, rising.
    met_share : ndarray, power nodes × nodes × runs × years × 12, or None
        Of what the demand takes; None without a demand.
    rows : ndarray of bool
        Years of the record they are of.
    """

    nodes: np.ndarray
    elasticity: float
    share: np.ndarray
    _: KW_ONLY
    power_nodes: np.ndarray
    met_share: np.ndarray | None
    rows: np.ndarray

    @property
    def runs(self) -> int:
        """How many ways the visits and stops may fall."""
        return self.share.shape[1]

    def place(self, log_flow: Floats, log_full: Number) -> Alike:
        """Where to read for a flow, and for a plant that takes more at full flow than the one
        walked (both as logarithms)."""
        return log_flow - log_full / self.elasticity

    def at(self, log_flow: np.ndarray, run: np.ndarray) -> np.ndarray:
        """Share left in each year and month, draws × years × 12, read between the nodes.

        Parameters
        ----------
        log_flow : ndarray
            One a draw, from :meth:`place`.
        run : ndarray of int
            Which of the runs each draw has.
        """
        first, along = _between(self.nodes, log_flow)
        return self.share[first, run] * (1 - along) + self.share[first + 1, run] * along

    def met_at(self, log_flow: np.ndarray, log_power: np.ndarray, run: np.ndarray) -> np.ndarray:
        """The same of what the demand takes, for plants of more or less power (as a logarithm)."""
        first, along = _between(self.nodes, log_flow)
        power, beyond = _between(self.power_nodes, log_power)
        table = self.met_share
        if table is None:
            raise HydrokitError("Kept: no demand was given, so there is no useful energy")

        def at(number: np.ndarray) -> np.ndarray:
            return table[number, first, run] * (1 - along) + table[number, first + 1, run] * along

        return (1 - beyond) * at(power) + beyond * at(power + 1)

    def of_year(self, year: Year) -> Year:
        """A year with each day by itself, as the plant is run."""

        def left(table: pd.DataFrame, share: np.ndarray) -> pd.DataFrame:
            middle = share[len(self.nodes) // 2].mean(axis=0)
            return (
                table.copy()
                if not len(middle)
                else table
                * pd.DataFrame(middle, table.index[self.rows], table.columns)
                .reindex(table.index)
                .fillna(1.0)
            )

        useful = (
            None
            if year.useful_kwh is None or self.met_share is None
            else left(year.useful_kwh, self.met_share[_POWERS // 2])
        )
        return replace(year, kwh=left(year.kwh, self.share), useful_kwh=useful)

    def mean(self, log_flow: np.ndarray) -> np.ndarray:
        """The same, mean over the runs: sizes × years × 12."""
        table = self.share.mean(axis=1)
        first, along = _between(self.nodes, np.asarray(log_flow))
        return table[first] * (1 - along) + table[first + 1] * along


def _between(nodes: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Node below each number, and how far it lies toward the next, for tables of years × 12; the
    ends hold beyond."""
    where = np.clip((at - nodes[0]) / (nodes[1] - nodes[0]), 0, len(nodes) - 1)
    first = np.minimum(where.astype(int), len(nodes) - 2)
    return first, (where - first)[:, None, None]


def kept_shares(
    operating: Operating,
    record: pd.Series,
    rights: Rights,
    chain: Chain,
    spread: float,
    power_spread: float,
    shape: Number = 1.0,
    demand_w: Floats | None = None,
    rows: np.ndarray | None = None,
    start_month: int = 10,
) -> Kept:
    """Share of the energy that is left, over sizes of the flow, each walked day by day through the
    real rights.

    Parameters
    ----------
    operating : Operating
    record : pandas.Series
        Natural flow.
    rights : Rights
    chain : Chain
    spread : float
        Standard deviation of the logarithm of the flow against what the plant takes.
    power_spread : float
        That of the power.
    shape : float or ndarray
        By how much the error of each day's flow is larger than that of the median flow.
    demand_w : optional
        As in ``year.annual_energy``.
    rows : ndarray of bool, optional
        Years wanted; all of them.
    start_month : int

    Returns
    -------
    Kept
    """
    nodes = np.linspace(-_REACH, _REACH, _NODES) * max(spread, 1e-3)
    natural, index = record.to_numpy(dtype=float), days_of(record)
    most = chain.most_taken()
    unramped = replace(rights, ramp_m3s_per_day=np.inf)
    cap = most if np.isfinite(rights.volume_m3) else np.full(12, np.inf)
    flows = [natural * np.exp(node * shape) for node in nodes]
    before = np.stack([usable_flow(each, index, rights, most) for each in flows])
    offered = (
        before
        if np.isinf(rights.ramp_m3s_per_day)
        else np.stack([usable_flow(each, index, unramped, cap) for each in flows])
    )
    powers = np.linspace(-_REACH, _REACH, _POWERS) * max(power_spread, 1e-3)
    # a plant of twice the power meets a demand as this one meets half of it
    demand = (
        None
        if demand_w is None
        else [demand_of_steps(demand_w, record) / np.exp(power) for power in powers]
    )
    first, stops = operating.runs(index, _DRAWS, start_month)
    runs = len(first)

    def tables(
        usable: np.ndarray, habits: Habits, *, frost: bool, walks: np.ndarray
    ) -> list[np.ndarray]:
        """Energy, and what the demand takes of it, walks × years × 12; `walks` number size and run."""
        size, run = walks // runs, walks % runs
        found = simulate_days(
            usable,
            chain,
            habits,
            operating.temperature_degc if frost else None,
            stops[run] if frost else None,
            index,
            start_month,
            first[run],
            size,
            True,
        )
        return _energies(found, demand)

    free = _energies(
        simulate_days(before, chain, None, index=index, start_month=start_month, sketched=True),
        demand,
    )
    frosty = operating.habits.freezes
    phases = operating.habits.phases
    plain = None
    if frosty:
        warm = operating.habits.without_frost
        sizes = np.repeat(np.arange(len(nodes)), len(phases))
        plain = simulate_days(
            offered,
            chain,
            warm,
            None,
            None,
            index,
            start_month,
            np.tile(phases, len(nodes)),
            sizes,
            True,
        )
    left: list[list[np.ndarray]] = [[] for _ in free]
    for start in range(0, len(nodes) * runs, _TOGETHER):
        walks = np.arange(start, min(start + _TOGETHER, len(nodes) * runs))
        these = tables(offered, operating.habits, frost=frosty, walks=walks)
        if plain is not None:
            # the first day of a stop is one of the unplanned stops, which are counted elsewhere
            size, run = walks // runs, walks % runs
            first_days = replace(
                plain, power_w=plain.power_w[size * len(phases) + run % len(phases)] * stops[run]
            )
            these = [one + day for one, day in zip(these, _energies(first_days, demand))]
        for held, table in zip(left, these):
            held.append(table)
    shares, wanted = [], rows
    for base, held in zip(free, left):
        table = np.concatenate(held).reshape(len(nodes), runs, *base.shape[1:])
        base = base[:, None]
        share = np.where(base > 0, table / np.where(base > 0, base, 1.0), 1.0)
        wanted = np.ones(share.shape[2], dtype=bool) if wanted is None else wanted
        shares.append(share[:, :, wanted])
    return Kept(
        nodes,
        _elasticity(natural, index, rights, most),
        shares[0],
        power_nodes=powers,
        met_share=np.stack(shares[1:]) if demand is not None else None,
        rows=np.ones(0, dtype=bool) if wanted is None else wanted,
    )


def kept_of_lattice(
    lattice: Lattice,
    operating: Operating,
    record: pd.Series,
    chain: Chain,
    demand_w: Floats,
    start_month: int,
) -> Kept:
    """Share of the energy that is left by how the plant is run, over all flows that a draw of a
    lattice may have."""
    errors, sd = lattice.factors.uncertainties, lattice.record.flow_error.sd
    spread = float(np.sqrt(lattice.median_sd**2 + errors.jet_area**2 + (errors.head / 2) ** 2))
    shape = sd / lattice.median_sd if lattice.median_sd > 0 else 1.0
    power = float(np.sqrt(errors.efficiency**2 + errors.jet_area**2 + (1.5 * errors.head) ** 2))
    return kept_shares(
        operating,
        record,
        lattice.record.rights,
        chain,
        spread,
        power,
        shape,
        demand_w,
        lattice.record.rows,
        start_month,
    )


def _elasticity(
    natural: np.ndarray, index: pd.DatetimeIndex, rights: Rights, most: np.ndarray
) -> float:
    less, more = (
        usable_flow(natural * factor, index, rights, most) for factor in (1 / _NUDGE, _NUDGE)
    )
    part = (less > 0) & (more < most[np.asarray(index.month) - 1])
    ends = less[part].sum(), more[part].sum()
    return float(np.log(ends[1] / ends[0]) / (2 * np.log(_NUDGE))) if 0 < ends[0] < ends[1] else 1.0


def _energies(days: Days, demands: list[np.ndarray] | None) -> list[np.ndarray]:
    """Energy, and what each demand takes of it, by year and month."""
    return [days.kwh, *(days.met_kwh(demand) for demand in demands or ())]


# --- designs --------------------------------------------------------------------------------


def lost_share(
    operating: Operating,
    usable: pd.Series,
    chain: Chain,
    start_month: int = 10,
    demand_w: Number | pd.Series | None = None,
) -> np.ndarray:
    """Share of the energy of each month that a plant loses by how it is run: quick enough for every
    change and design.

    Some 0.1 s for 14 years; to multiply ``kwh`` of the same plant by one less it. For a sweep of
    designs ask for some five flows with one pipe and each number of jets, and read between them:
    the share hangs on the design flow and the jets, hardly on the pipe.

    Parameters
    ----------
    operating : Operating
    usable : pandas.Series
        Usable flow in m³/s; a ramp of the rights is counted in it or in the habits, not in both.
    chain : Chain
    start_month : int
    demand_w : optional
        As in ``year.annual_energy``: then the share of what the demand takes.

    Returns
    -------
    ndarray of 12
        January first; below zero where a pond brings more than the rest takes, 0 in a month without
        energy or where nothing ties the days together.
    """
    if not operating.loses:
        return np.zeros(12)
    demand = None if demand_w is None else [demand_of_steps(demand_w, usable)]
    first, stops = operating.runs(days_of(usable), _DESIGN_DRAWS, start_month)
    frosty = operating.habits.freezes
    counted = counted_months(steps_of(usable, start_month).complete)

    def energy(days: Days) -> np.ndarray:
        table = _energies(days, demand)[-1]
        return np.where(counted, table, 0.0).reshape(-1, *counted.shape).mean(axis=0).sum(axis=0)

    def walk(habits: Habits | None, **more: Any) -> Any:
        return simulate_days(usable, chain, habits, start_month=start_month, sketched=True, **more)

    free = energy(walk(None))
    left = energy(
        walk(
            operating.habits,
            first_visit=first,
            temperature_degc=operating.temperature_degc if frosty else None,
            stops=stops if frosty else None,
        )
    )
    if frosty:
        plain = walk(
            operating.habits.without_frost,
            first_visit=operating.habits.phases,
        )
        power = np.atleast_2d(plain.power_w)[np.arange(len(stops)) % len(operating.habits.phases)]
        left = left + energy(replace(plain, power_w=power * stops))
    return np.where(free > 0, 1 - left / np.where(free > 0, free, 1.0), 0.0)
