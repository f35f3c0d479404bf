"""Two things wrong at once, where no single one explains what was read.

Each pair of faults is a fault of its own: its sizes are those of both, a few of each, its chance
that of both coming together by accident.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, fields
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

__all__ = ["Pair", "pairs"]

_SIZES = 7  # of each fault
_HIDDEN = 0.02  # chance under which a pair is not told
_MOST = 3
_EXCLUDE = {frozenset(each) for each in (("air", "drawn"), ("blocked", "worn"), ("gauge", "stuck"))}


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
    members, both = _tables(tables)
    weighed = Weighed.of(both, looks, noise)
    prior = np.array([each.prior for each in tables.faults]) * season
    common = np.array([prior[a] * prior[b] / prior[0] for a, b in members])
    of_pairs = weighed.evidence[1:, 0] + np.log(common)
    of_single = single.evidence[:, 0] + np.log(prior)
    top = max(of_pairs.max(), of_single.max())
    whole = np.exp(of_pairs - top).sum() + np.exp(of_single - top).sum()
    chance = np.exp(of_pairs - top) / whole
    jets = max((each.jets for each in looks), default=0)
    found = []
    for place in np.argsort(-chance, kind="stable")[:_MOST].tolist():
        if chance[place] < _HIDDEN:
            break
        share, rows = weighed.within(place + 1), weighed.tables.rows_of[place + 1]
        one, other = (tables.faults[each] for each in members[place])
        size = int(weighed.tables.size[rows][int(share.argmax())])
        lost = tables.table.power_w[tables.healthy, jets] - weighed.tables.table.power_w[rows, jets]
        found.append(
            Pair(
                one,
                other,
                probability=float(chance[place]),
                sizes=_sizes_of(one, other, tables.plant)[size],
                cost_w=float(share @ lost),
            )
        )
    return tuple(found)


@lru_cache(maxsize=4)
def _tables(tables: Signatures) -> tuple[list[tuple[int, int]], Signatures]:
    """Places of the faults in each pair, and the signatures of the pairs, healthy first."""
    members = [
        (a, b)
        for a, b in combinations(range(1, len(tables.faults)), 2)
        if frozenset((tables.faults[a].key, tables.faults[b].key)) not in _EXCLUDE
    ]
    joined = [_joined(tables.faults[a], tables.faults[b], tables.plant) for a, b in members]
    return members, signatures(tables.plant.baseline, (tables.faults[0], *joined))


def _few(fault: Fault, plant: HealthyPlant) -> tuple[np.ndarray, np.ndarray]:
    """Some sizes of a fault, as likely as each other, and how likely."""
    sizes = fault.sizes(plant)
    heap = np.cumsum(fault.size_chances(sizes))
    at = np.unique(
        np.searchsorted(heap, (np.arange(_SIZES) + 0.5) / _SIZES).clip(max=len(sizes) - 1)
    )
    at = np.union1d(at, [len(sizes) - 1])
    return sizes[at], np.full(len(at), 1 / len(at))


def _sizes_of(one: Fault, other: Fault, plant: HealthyPlant) -> list[tuple[float, float]]:
    """Both sizes, by the number that stands for them."""
    return [(float(a), float(b)) for a in _few(one, plant)[0] for b in _few(other, plant)[0]]


def _joined(one: Fault, other: Fault, plant: HealthyPlant) -> Fault:
    """Both as one fault: its size is the number of a pair of sizes, its place that of a pair of places."""
    sizes = np.array(_sizes_of(one, other, plant))
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
