"""Energy on a lattice of errors: what every draw of the Monte Carlo is read from.

Along one axis the natural flow is scaled and pushed through the real rights; along the other
stand plants with scaled head, loss, efficiency and jets. Each corner is worked out in full for every
month of every whole year of the record.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..plant.chain import Chain
from ..plant.curve import place
from ..stream.days import days_of
from ..stream.record import year_labels
from ..stream.transfer import TransferError
from .uncertain_inputs import PLANT, SOURCES, FlowError, Uncertainties
from .weights import steps_of, weigh
from .year import Year
from .year_power import demand_of_steps

if TYPE_CHECKING:
    from ..stream.rights import Rights
    from ..units import Floats, Number
    from .operating import Kept
    from .weights import Steps

__all__ = ["Lattice", "usable_flow"]

FURTHEST = 4.0  # standard deviations; a draw beyond is set there (6 in 100,000)
_RATING_STEP, _MOST_RATING_NODES = 0.01, 161  # natural flow from node to node, as a share
_PLANT_NODES = {
    "head": (-2.0, 0.0, 2.0),
    "loss": (-2.0, 0.0, 2.0),
    "efficiency": (-2.0, 0.0, 2.0),
    "jet_area": (-3.0, -1.5, 0.0, 1.5, 3.0),
}
_WIDE, _WIDE_NODES = (
    0.2,
    (-FURTHEST, -2.0, 0.0, 2.0, FURTHEST),
)  # beyond this uncertainty a parabola leaves what is possible
_GRID = 600
_CHUNK = 2000
LONGEST_H = 24 * np.array(
    [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
)  # hours of the months, leap years included
_TOGETHER = 9  # sizes of the flow's error in one product of matrices


def usable_flow(
    natural: np.ndarray, days: pd.DatetimeIndex, rights: Rights, most_m3s: Number
) -> np.ndarray:
    """What may be taken of natural flows on these days, by rules with or without memory.

    Under a yearly volume, what a plant of at most `most_m3s` cannot take uses none of it up.
    """
    month = np.asarray(days.month)
    if rights.has_memory:
        return np.asarray(
            rights.usable_days_si(natural, month, year_labels(days, rights.start_month), most_m3s)
        )
    return np.asarray(rights.usable_si(natural, month))


@dataclass(frozen=True, eq=False)
class Lattice:
    """Energy in kWh of each month of each whole year, over sizes of the errors.

    ``kwh`` has axes rating × plant × (year, month); the plant axis runs over head, loss,
    efficiency and jet area, three sizes each, or one where it is known.
    """

    nodes: tuple[np.ndarray, ...]
    plants: Chain
    kwh: np.ndarray
    _: KW_ONLY
    useful: np.ndarray | None
    factors: Factors
    record: _Record

    @classmethod
    def of(
        cls,
        record: pd.Series,
        rights: Rights,
        chain: Chain,
        uncertainties: Uncertainties,
        base: Year,
        demand_w: Floats | None,
    ) -> Lattice:
        best = (chain.best_efficiency or 1.0) * np.max(chain.runner.efficiency_factor)
        factors = Factors(uncertainties, 1 / best)
        nodes = tuple(factors.nodes(name) for name in PLANT)
        mesh = [axis.reshape(-1, 1) for axis in np.meshgrid(*nodes, indexing="ij")]
        plants = chain.factors(**dict(zip(PLANT, mesh)))
        grid = _grid(chain, plants)
        powers = tuple((months, plants.at_si(grid, months[0]).power_w) for months in chain.alike())
        steps = steps_of(record, base.start_month)
        flow_error = _flow_error(uncertainties, steps, record, rights, chain, grid)
        sd = flow_error.sd
        demand = None if demand_w is None else demand_of_steps(demand_w, record)
        known = _Record(
            steps,
            np.isin(steps.years, base.rows),
            flow_error,
            rights=rights,
            grid=grid,
            powers=powers,
            demand=demand,
        )
        count = min(
            int(np.ceil(np.nanmax(np.abs(sd)) * FURTHEST / _RATING_STEP)), _MOST_RATING_NODES // 2
        )
        rating = np.linspace(-FURTHEST, FURTHEST, 2 * count + 1) if count else np.zeros(1)
        kwh = np.empty((len(rating), len(mesh[0]), len(base.rows) * 12))
        useful = None if demand is None else np.empty_like(kwh)
        for alike, most in _taking_alike(plants, len(mesh[0]), rights, grid[-1]):
            for start in range(0, len(rating), _TOGETHER):
                usable = [
                    usable_flow(steps.flow * np.exp(score * sd), days_of(record), rights, most)
                    for score in rating[start : start + _TOGETHER]
                ]
                these = slice(start, start + len(usable))
                kwh[these, alike] = known.generated_kwh(usable, alike)
                if useful is not None:
                    useful[these, alike] = [known.met_kwh(each, alike) for each in usable]
        return cls((rating, *nodes), plants, kwh, useful=useful, factors=factors, record=known)

    def plant_basis(self, scores: np.ndarray) -> np.ndarray:
        """Weight of each plant of the lattice for each draw: products of parabolas through three sizes.

        Of an uncertainty so wide that a parabola would leave what is possible, straight lines between five.
        """
        basis = np.ones((len(scores), 1))
        for axis, name in zip(self.nodes[1:], PLANT):
            between = _straight if self.factors.wide(name) else _polynomials
            each = between(axis, self.factors.of(name, scores[:, SOURCES.index(name)]))
            basis = (basis[:, :, None] * each[:, None, :]).reshape(len(scores), -1)
        return basis

    def rating_place(self, scores: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Size of the rating's error below each draw, and the weights of it and the next."""
        nodes = self.nodes[0]
        if len(nodes) == 1:
            return np.zeros(len(scores), dtype=int), np.ones((len(scores), 1))
        where = (self.flow_score(scores) - nodes[0]) / (nodes[1] - nodes[0])
        first = np.clip(where.astype(int), 0, len(nodes) - 2)
        return first, np.stack([1 - (where - first), where - first], axis=1)

    @property
    def median_sd(self) -> float:
        """Standard deviation of the logarithm of the median flow."""
        flow = self.record.steps.flow
        middle = np.nanargmin(np.abs(flow - np.nanmedian(flow)))
        return float(self.record.flow_error.sd[middle])

    def flow_score(self, scores: np.ndarray) -> np.ndarray:
        """Rating and extension as one error of the flow."""
        extension = self.record.flow_error.extension
        mixed = scores[:, 0] * np.sqrt(1 - extension**2) + scores[:, 1] * extension
        return np.clip(mixed, -FURTHEST, FURTHEST)

    def draw(self, scores: np.ndarray) -> tuple[np.ndarray, np.ndarray | None]:
        """Energy of every year of the record in the world of each draw, draws × years × 12; then
        what the demand takes of it."""
        first, linear = self.rating_place(scores)
        basis = self.plant_basis(scores)
        tables = [self.kwh] if self.useful is None else [self.kwh, self.useful]
        found = [np.empty((len(scores), self.kwh.shape[2])) for _ in tables]
        for at in np.unique(first):
            inside = np.flatnonzero(first == at)
            for start in range(0, len(inside), _CHUNK):
                these = inside[start : start + _CHUNK]
                both = (linear[these, :, None] * basis[these, None, :]).reshape(len(these), -1)
                for kwh, table in zip(found, tables):
                    kwh[these] = both @ table[at : at + linear.shape[1]].reshape(both.shape[1], -1)
        # at its ends a parabola may dip below nothing
        made, *useful = (
            np.maximum(kwh, 0.0, out=kwh).reshape(len(scores), -1, 12) for kwh in found
        )
        return made, useful[0] if useful else None

    def most_kwh(self, scores: np.ndarray) -> np.ndarray:
        """Energy of each month at the greatest power of each draw's plant, draws × 12."""
        basis, most = self.plant_basis(scores), np.empty((len(scores), 12))
        for months, power in self.record.powers:
            most[:, np.array(months) - 1] = (basis @ power.max(axis=1))[:, None]
        # at its ends a parabola may dip below nothing
        return np.maximum(most, 0.0) * LONGEST_H / 1000

    def log_flow(self, scores: np.ndarray) -> np.ndarray:
        """Logarithm of each draw's median flow over that of the record."""
        return self.median_sd * self.flow_score(scores)

    def log_full(self, scores: np.ndarray, chain: Chain) -> np.ndarray:
        """Logarithm of each draw's full flow over that of the plant as it stands."""
        return self._log_ratio(
            scores, *(each.running().full_m3s[-1] for each in (self.plants, chain))
        )

    def log_power(self, scores: np.ndarray, chain: Chain) -> np.ndarray:
        """Logarithm of each draw's full power over that of the plant as it stands."""
        return self._log_ratio(
            scores, *(each.at_si(np.inf).power_w for each in (self.plants, chain))
        )

    def _log_ratio(self, scores: np.ndarray, drawn: Any, now: Any) -> np.ndarray:
        drawn, now = np.ravel(drawn), np.ravel(now)
        known = (drawn > 0) & (now > 0)
        ratio = np.log(np.where(known, drawn, 1.0) / np.where(known, now, 1.0))
        return self.plant_basis(scores) @ np.broadcast_to(ratio, self.kwh.shape[1])

    def mean_year(self, share_of_time: np.ndarray, kept: Kept | None = None) -> np.ndarray:
        """Mean annual energy in kWh of every corner, rating × plant, running a share of the time by month."""
        kwh = self.kwh.reshape(*self.kwh.shape[:2], -1, 12)
        if kept is not None:
            kwh = kwh * kept.mean(self.median_sd * self.nodes[0])[:, None]
        return kwh.mean(axis=2) @ share_of_time

    def read(self, table: np.ndarray, scores: np.ndarray) -> np.ndarray:
        """One number of each corner (rating × plant) read at each draw."""
        first, linear = self.rating_place(scores)
        near = table[first[:, None] + np.arange(linear.shape[1])]
        return np.einsum("dz,dp,dzp->d", linear, self.plant_basis(scores), near)


@dataclass(frozen=True, eq=False)
class _Record:
    """The record, what may be taken of it, and the power of all plants of the lattice on one grid
    of flows."""

    steps: Any
    rows: np.ndarray  # of `steps.years`: the whole ones
    flow_error: FlowError  # of the logarithm of each step's flow
    _: KW_ONLY
    rights: Any
    grid: np.ndarray
    powers: tuple[tuple[tuple[int, ...], np.ndarray], ...]
    demand: np.ndarray | None

    def generated_kwh(self, usable: list[np.ndarray], plants: np.ndarray) -> np.ndarray:
        """Energy of some plants, records of usable flow × plants × (year, month), through the weights."""
        hours = np.stack(
            [weigh(self.steps, self.grid, flow=each).nodes_h[self.rows] for each in usable]
        )
        kwh = np.empty((len(usable), len(plants), hours.shape[1], 12))
        for months, power in self.powers:
            power = power[plants]
            these = np.array(months) - 1
            spent = hours[:, :, these].reshape(-1, len(self.grid))
            found = (power @ spent.T / 1000).reshape(len(power), len(usable), -1, len(these))
            kwh[..., these] = np.moveaxis(found, 0, 1)
        return kwh.reshape(*kwh.shape[:2], -1)

    def met_kwh(self, usable: np.ndarray, plants: np.ndarray) -> np.ndarray:
        """Energy that the demand takes, plants × (year, month), step by step."""
        steps = self.steps
        counted = np.isfinite(usable) & self.rows[steps.year]
        group = (np.cumsum(self.rows) - 1)[steps.year] * 12 + steps.month - 1
        met = np.zeros((len(plants), int(self.rows.sum()) * 12))
        if self.demand is None:
            return met
        for months, power in self.powers:
            these = counted & np.isin(steps.month, months)
            node, along = place(self.grid, usable[these])
            after = np.minimum(node + 1, len(self.grid) - 1)
            for plant, values in enumerate(power[plants]):
                given = np.minimum(
                    values[node] + along * (values[after] - values[node]), self.demand[these]
                )
                met[plant] += np.bincount(group[these], given, met.shape[1])
        return met * steps.step_hours / 1000


_NUDGE = 0.05  # of a flow's logarithm, to see what the energy answers


def _flow_error(
    uncertainties: Uncertainties,
    steps: Steps,
    record: pd.Series,
    rights: Rights,
    chain: Chain,
    grid: np.ndarray,
) -> FlowError:
    """The error of the flow as the energy sees it: where no water can be taken, or all is, an error
    costs nothing."""
    flow = steps.flow
    by_flow = (uncertainties.rating, uncertainties.extension)
    if not any(isinstance(each, TransferError) for each in by_flow):
        known = np.where(np.isfinite(flow), flow, 0.0)
        return uncertainties.flow_error(known, np.ones(len(known)))
    power = np.zeros((2, len(flow)))
    for row, nudge in enumerate((-_NUDGE, _NUDGE)):
        taken = usable_flow(flow * np.exp(nudge), days_of(record), rights, grid[-1])
        for months in chain.alike():
            here = np.isin(steps.month, months)
            made = np.ravel(chain.at_si(grid, months[0]).power_w)
            power[row, here] = np.interp(taken[here], grid, made)
    answer = np.where(np.isfinite(flow), power[1] - power[0], 0.0)
    known = np.where(np.isfinite(flow), flow, 0.0)
    return uncertainties.flow_error(known, np.maximum(answer, 0.0))


@dataclass(frozen=True, eq=False)
class Factors:
    """What an error of so many standard deviations does to a part."""

    uncertainties: Uncertainties
    most_efficiency: float

    def of(self, name: str, score: np.ndarray) -> np.ndarray:
        sd = getattr(self.uncertainties, name)
        if name == "head":
            return np.maximum(1 + sd * score, 0.05)
        factor = np.exp(sd * score)
        return np.minimum(factor, self.most_efficiency) if name == "efficiency" else factor

    def wide(self, name: str) -> bool:
        """Whether an error may be so large that its effect is no parabola any more."""
        return getattr(self.uncertainties, name) > _WIDE

    def nodes(self, name: str) -> np.ndarray:
        """Sizes of an error for which the plants of the lattice are worked out."""
        return np.unique(
            self.of(name, np.array(_WIDE_NODES if self.wide(name) else _PLANT_NODES[name]))
        )


_ALIKE = (
    0.02  # plants of the lattice that take as much within this share use up a yearly volume alike
)


def _taking_alike(
    plants: Chain, count: int, rights: Rights, highest_m3s: float
) -> list[tuple[np.ndarray, Any]]:
    """Plants of the lattice in groups that take alike, and the most that those of a group take by month.

    It matters under a yearly volume only: what a plant cannot take uses none of it up.
    """
    if np.isinf(rights.volume_m3):
        return [(np.arange(count), highest_m3s)]
    most = np.empty((count, 12))
    for months in plants.alike():
        running = plants.running(months[0])
        taken = running.passage.needs_si(
            np.minimum(np.max(running.full_m3s, axis=0), running.capacity_m3s)
        )
        most[:, np.array(months) - 1] = np.broadcast_to(np.ravel(taken), count)[:, None]
    mean = most.mean(axis=1)
    level = np.round(np.log(np.maximum(mean, 1e-12) / np.median(mean)) / _ALIKE)
    # the largest of a group holds: a cap below what a plant takes would cost it water that nobody saves
    return [
        (np.flatnonzero(level == each), most[level == each].max(axis=0))
        for each in np.unique(level)
    ]


def _grid(chain: Chain, plants: Chain) -> np.ndarray:
    """Flows on which all plants of the lattice are known; the jumps of the plant as it stands are kept."""
    highest, bends = 0.0, []
    for months in chain.alike():
        running = chain.running(months[0])
        bends.append(running.knots_si())
        within = np.minimum(plants.running(months[0]).full_m3s, running.capacity_m3s)
        highest = max(
            highest, float(np.max(running.passage.needs_si(within))), running.highest_m3s
        )  # offered by the creek, leaks not yet off
    knots = np.concatenate(bends)
    knots = knots[(knots > 0) & (knots < highest)]
    return np.unique(
        np.concatenate([np.linspace(0, highest, _GRID), knots, np.nextafter(knots, 0)])
    )


def _polynomials(nodes: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Weights of the nodes in the one polynomial through them."""
    weight = np.ones((len(at), len(nodes)))
    for i, here in enumerate(nodes):
        for other in np.delete(nodes, i):
            weight[:, i] *= (at - other) / (here - other)
    return weight


def _straight(nodes: np.ndarray, at: np.ndarray) -> np.ndarray:
    """Weights of the two nodes on either side, none below zero."""
    return np.stack([np.interp(at, nodes, row) for row in np.eye(len(nodes))], axis=1)
