"""Two things wrong at once, where no single one explains what was read.

Each pair of faults is a fault of its own: its sizes are those of both, a few of each, its chance
that of both coming together by accident.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, fields, replace
from functools import lru_cache
from itertools import combinations
from typing import Any

import numpy as np

from .condition import Condition
from .faults import Fault
from .healthy_plant import HealthyPlant
from .observation import Noise, Observation
from .signatures import Signatures, signatures
from .weighing import Weighed

__all__ = ["Grid", "Pair", "exclude", "pairs", "together"]

_SIZES = 7  # of each fault
_ROUGHER = (
    4.0,
    2.0,
    1.0,
)  # times the scatter of the readings, as the sizes are tried finer and finer
_BELIEVED = 0.1  # of the chance of the likeliest size
_REFINED = 10  # pairs that are looked at again
_HIDDEN = 0.02  # chance under which a pair is not told
_MOST = 3


@dataclass(frozen=True, eq=False)
class Pair:
    """Two faults at once.

    Parameters
    ----------
    one, other : Fault
    probability : float
        Among the pairs and the single states known here.
    sizes : tuple of float
        Most likely size of each; SI.
    cost_w : float
        Watts both take, with the jets that are open.
    """

    one: Fault
    other: Fault
    _: KW_ONLY
    probability: float
    sizes: tuple[float, float]
    cost_w: float

    @property
    def keys(self) -> tuple[str, str]:
        """Short names of both."""
        return self.one.key, self.other.key


def exclude(one: Fault, other: Fault) -> bool:
    """Whether two faults cannot be there at once."""
    return other.key in one.excludes or one.key in other.excludes


def pairs(
    tables: Signatures,
    single: Weighed,
    looks: Sequence[Observation],
    noise: Noise,
    season: np.ndarray,
) -> tuple[Pair, ...]:
    """Pairs of faults, the likeliest first, weighed against each other and against the single states.

    Parameters
    ----------
    tables : Signatures
        Of the single states.
    single : Weighed
        Those, weighed.
    looks : sequence of Observation
    noise : Noise
    season : ndarray
        How much commoner than usual each single state is.

    Returns
    -------
    tuple of Pair
        Those that are worth telling; empty where a single state is as likely.
    """
    members, coarse = _tables(tables)
    rough = Weighed.of(coarse, looks, _rougher(noise, _ROUGHER[0]))
    prior = np.array([each.prior for each in tables.faults]) * season
    common = np.array([prior[a] * prior[b] / prior[0] for a, b in members])
    near = np.argsort(-(rough.evidence[1:, 0] + np.log(common)), kind="stable")[:_REFINED]
    tried = [(members[place], common[place], _grids(tables, members[place])) for place in near]
    weighed, grids = rough, [grid for *_, grid in tried]
    places = [place + 1 for place in near.tolist()]
    for times in _ROUGHER[1:]:
        grids = [_finer(grid, _believed(weighed, place)) for grid, place in zip(grids, places)]
        joined = [
            together(tables.faults[a], tables.faults[b], tables.plant, grid)
            for ((a, b), *_), grid in zip(tried, grids)
        ]
        fine = signatures(tables.plant.baseline, (tables.faults[0], *joined))
        weighed = Weighed.of(fine, looks, _rougher(noise, times))
        places = list(range(1, len(tried) + 1))
    share = np.array([grid.share for grid in grids])
    of_pairs = weighed.evidence[1:, 0] + np.log(np.array([each for _, each, _ in tried]) * share)
    of_single = single.evidence[:, 0] + np.log(prior)
    top = max(of_pairs.max(), of_single.max())
    chance = np.exp(of_pairs - top)
    chance /= chance.sum() + np.exp(of_single - top).sum()
    jets = max((each.jets for each in looks), default=0)
    found = []
    for place in np.argsort(-chance, kind="stable")[:_MOST].tolist():
        if chance[place] < _HIDDEN:
            break
        within, rows = weighed.within(place + 1), weighed.tables.rows_of[place + 1]
        one, other = (tables.faults[each] for each in tried[place][0])
        number = int(weighed.tables.size[rows][int(within.argmax())])
        lost = tables.table.power_w[tables.healthy, jets] - weighed.tables.table.power_w[rows, jets]
        found.append(
            Pair(
                one,
                other,
                probability=float(chance[place]),
                sizes=grids[place].both[number],
                cost_w=float(within @ lost),
            )
        )
    return tuple(found)


def _rougher(noise: Noise, times: float) -> Noise:
    """The same scatter, larger: a coarse grid of sizes must not step over the right ones."""
    return replace(noise, pressure=times * noise.pressure, power=times * noise.power)


def _believed(weighed: Weighed, place: int) -> np.ndarray:
    """Chance of each pair of sizes of a pair of faults, by its number."""
    sizes = weighed.tables.size[weighed.tables.rows_of[place]].astype(int)
    return np.bincount(sizes, weighed.within(place))


@lru_cache(maxsize=4)
def _tables(tables: Signatures) -> tuple[list[tuple[int, int]], Signatures]:
    """Places of the faults in each pair, and the signatures of the pairs, healthy first."""
    members = [
        (a, b)
        for a, b in combinations(range(1, len(tables.faults)), 2)
        if not exclude(tables.faults[a], tables.faults[b])
    ]
    joined = [
        together(tables.faults[a], tables.faults[b], tables.plant, _grids(tables, (a, b)))
        for a, b in members
    ]
    return members, signatures(tables.plant.baseline, (tables.faults[0], *joined))


@dataclass(frozen=True, eq=False)
class Grid:
    """Sizes of both faults that are tried, rising, and the share of the chance of all sizes that
    lies among them."""

    one: np.ndarray
    other: np.ndarray
    share: float

    @property
    def both(self) -> list[tuple[float, float]]:
        """Both sizes, by the number that stands for them."""
        return [(float(a), float(b)) for a in self.one for b in self.other]


def _grids(tables: Signatures, members: tuple[int, int]) -> Grid:
    one, other = (_few(tables.faults[each], tables.plant) for each in members)
    return Grid(one, other, 1.0)


def _few(fault: Fault, plant: HealthyPlant) -> np.ndarray:
    """Some sizes of a fault, as likely as each other; the largest among them."""
    sizes = fault.sizes(plant)
    heap = np.cumsum(fault.size_chances(sizes))
    at = np.searchsorted(heap, (np.arange(_SIZES) + 0.5) / _SIZES).clip(max=len(sizes) - 1)
    return sizes[np.union1d(at, [len(sizes) - 1])]


def _finer(grid: Grid, believed: np.ndarray) -> Grid:
    """Sizes between the neighbours of those that are believed."""
    table = np.resize(believed, (len(grid.one), len(grid.other)))
    table[np.unravel_index(np.arange(len(believed), table.size), table.shape)] = 0.0
    share, made = grid.share, []
    for sizes, chance in ((grid.one, table.sum(axis=1)), (grid.other, table.sum(axis=0))):
        kept = np.flatnonzero(chance > _BELIEVED * chance.max())
        low, high = max(kept[0] - 1, 0), min(kept[-1] + 1, len(sizes) - 1)
        share *= min((high - low) / len(sizes), 1.0) if high > low else 1.0
        made.append(np.linspace(sizes[low], sizes[high], _SIZES) if high > low else sizes)
    return Grid(made[0], made[1], share)


def together(one: Fault, other: Fault, plant: HealthyPlant, grid: Grid) -> Fault:
    """Two faults as one: its size is the number of a pair of sizes, its place that of a pair of places."""
    sizes = np.array(grid.both)
    placed = [(a, b) for a in one.places(plant.jets) for b in other.places(plant.jets)]
    places = np.array(placed)

    def condition(size: Any, which: Any) -> Condition:
        number, place = np.asarray(size, dtype=int), np.asarray(which, dtype=int)
        return _both(
            one.condition(sizes[number, 0], places[place, 0]),
            other.condition(sizes[number, 1], places[place, 1]),
        )

    return Fault(
        key=f"{one.key}+{other.key}",
        name=f"{one.name}, and {other.name}",
        short_name=f"{one.short_name} and {other.short_name}",
        prior=one.prior * other.prior,
        sizes=lambda plant: np.arange(len(sizes), dtype=float),
        kind="",
        size_is="",
        condition=condition,
        action="",
        shown_size=0.0,
        places=lambda jets: tuple(range(len(placed))),
        size_chances=lambda each: np.full(len(each), 1 / len(each)),
        under_feeds=one.under_feeds or other.under_feeds,
        spills=min(one.spills, other.spills),
        fluctuates=max(one.fluctuates, other.fluctuates),
        falls=max(one.falls, other.falls),
    )


def _both(one: Condition, other: Condition) -> Condition:
    """A plant in both conditions; each differs from the healthy one in places of its own."""
    healthy = Condition()
    told = {}
    for field in fields(Condition):
        if field.name == "_":
            continue
        usual, mine = getattr(healthy, field.name), getattr(one, field.name)
        untouched = np.all(np.equal(mine, usual) | (np.isnan(mine) & np.isnan(usual)))
        told[field.name] = getattr(other, field.name) if untouched else mine
    return Condition(**told)
