"""The next step among many changes, in about as many cases as there are changes.

With a handful of changes all combinations are tried. With two hundred that cannot be: even all
pairs are twenty thousand cases, at every step. Here each change is worked out anew only after the
1st, 2nd, 4th, 8th … step, and between these only the few that then look best. A pair that brings
much only together is looked for between kinds of change first (all wider pipes and all larger
screens), and only where two kinds bring more together than apart, among their members.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, fields, is_dataclass, replace
from itertools import combinations
from typing import Any, Callable

import numpy as np

__all__ = ["Many", "alike"]

ALONE = 0.15  # of what two changes bring together: where either alone brings less, they are a pair
_LOOKED_AT = 8  # that are worked out anew for one step
_GROUPS = 16  # of changes among which pairs are looked for
_TOGETHER = 0.25  # of what two groups bring together: less than this beyond what they bring apart is no pair


@dataclass(eq=False)
class Many:
    """Takes the place of ``Search.next`` among many changes.

    Parameters
    ----------
    search : Search
        Works out cases, each once.
    say : callable
        Told in a line how far it is.
    """

    search: Any
    say: Callable[[str], object]
    known: dict[frozenset[str], Any] = field(default_factory=dict)
    _: KW_ONLY
    steps: int = 0
    renewed: bool = False

    def next(self, done: frozenset[str]) -> Any:
        """The next step, or None where nothing helps any more."""
        if self.steps & (self.steps - 1) == 0:  # 0, 1, 2, 4, 8, …
            self._renew(done)
        option = self._best(done)
        if option is None and not self.renewed:
            self._renew(done)
            option = self._best(done)
        self.steps, self.renewed = self.steps + 1, False
        self.say(
            f"{len(done)} of {len(self.search.upgrades)} changes put in order, "
            f"{len(self.search.cache)} cases worked out"
        )
        return option

    # --- options ----------------------------------------------------------------------------

    def _renew(self, done: frozenset[str]) -> None:
        search = self.search
        singles = {name: self._single(done, name) for name in search.acting if name not in done}
        pairs = list(self._pairs(done, singles))
        # a paid change whose whole point is its partner is not offered without it, if the two are worth it
        tied = {
            name
            for option, names in pairs
            if not option.net <= 0
            for name in names
            if singles[name].cost > 0
        }
        options = [option for name, option in singles.items() if name not in tied] + [
            option for option, _ in pairs
        ]
        self.known = {option.names: option for option in options if option.gain > search.nothing}
        self.renewed = True

    def _single(self, done: frozenset[str], name: str) -> Any:
        names = self.search.closure({name})
        return self.search.option(done, names, "alone" if len(names - done) == 1 else "needs")

    def _anew(self, done: frozenset[str], stale: Any) -> Any | None:
        """An option as it is now; None where it brings nothing, or was a pair of which one is made."""
        del self.known[stale.names]
        if stale.names & done and stale.kind == "pair" or stale.names <= done:
            return None
        option = self.search.option(done, stale.names, stale.kind)
        if option.gain <= self.search.nothing:
            return None
        if option.kind == "needs" and len(option.names) == 1:
            option = replace(option, kind="alone")
        self.known[option.names] = option
        return option

    def _best(self, done: frozenset[str]) -> Any | None:
        """Free ones first, then those that pay by what they are worth, then by what they bring for
        their cost."""
        ways: list[tuple[Callable, Callable]] = [
            (lambda option: option.cost == 0, lambda option: option.gain)
        ]
        if self.search.value is not None:
            ways.append((lambda option: option.net > 0, lambda option: option.net))
        ways.append((lambda option: True, lambda option: option.per_money))
        for allowed, rank in ways:
            found = self._first(done, allowed, rank)
            if found is not None:
                return found
        return None

    def _first(self, done: frozenset[str], allowed: Callable, rank: Callable) -> Any | None:
        candidates = sorted(
            (option for option in self.known.values() if allowed(option)),
            key=lambda option: (-rank(option), self.search.in_order(option.names)),
        )
        best, looked = None, 0
        for stale in candidates:
            if best is not None and (looked >= _LOOKED_AT or rank(best) >= rank(stale)):
                break
            option = stale if stale.before == done else self._anew(done, stale)
            if option is not None and allowed(option):
                looked += 1
                if best is None or rank(option) > rank(best):
                    best = option
        return best

    # --- pairs ------------------------------------------------------------------------------

    def _pairs(self, done: frozenset[str], singles: dict[str, Any]) -> Any:
        """Pairs of which either alone brings little of what both bring, with their names."""
        seen = set()
        for groups in self._groupings(singles):
            closed = {key: self.search.closure(members) for key, members in groups.items()}
            apart = {key: max(self.search.gain(done, names), 0.0) for key, names in closed.items()}
            for one, other in combinations(groups, 2):
                both = self.search.gain(done, closed[one] | closed[other])
                if (
                    both <= self.search.nothing
                    or both - apart[one] - apart[other] <= _TOGETHER * both
                ):
                    continue
                first, second = self._partners(done, groups[one], groups[other], closed[other])
                option = self.search.option(done, self.search.closure({first, second}), "pair")
                alone = max(singles[first].gain, singles[second].gain)
                if (
                    alone < ALONE * option.gain
                    and option.gain > self.search.nothing
                    and option.names not in seen
                ):
                    seen.add(option.names)
                    yield option, (first, second)

    def _partners(
        self, done: frozenset[str], ones: list[str], others: list[str], all_others: frozenset[str]
    ) -> tuple[str, str]:
        """The best of one group, all of the other being there; its best partner; and the best again
        beside that."""

        def best(names: list[str], beside: frozenset[str]) -> str:
            made = [
                self.search.option(done, self.search.closure({name}) | beside, "pair")
                for name in names
            ]
            ranks = [option.gain if np.isnan(option.net) else option.net for option in made]
            return names[int(np.argmax(ranks))]

        first = best(ones, all_others)
        second = best(others, self.search.closure({first}))
        return best(ones, self.search.closure({second})), second

    def _groupings(self, singles: dict[str, Any]) -> list[dict[Any, list[str]]]:
        """Changes by kind; those of no kind in bundles, in two ways so that any two stand apart once."""
        kinds: dict[Any, list[str]] = {}
        for name in singles:
            kinds.setdefault(self.search.named[name].kind, []).append(name)
        loose = kinds.pop("", [])
        if len(kinds) + len(loose) <= _GROUPS:
            return [kinds | {("", name): [name] for name in loose}]
        size = max(-(-len(loose) // max(_GROUPS - len(kinds), 4)), 1)
        by_neighbours = kinds | _bundled(loose, lambda place: place // size)
        if not loose:
            return [by_neighbours]
        return [by_neighbours, kinds | _bundled(loose, lambda place: place % size)]


def _bundled(names: list[str], number: Callable[[int], int]) -> dict[Any, list[str]]:
    found: dict[Any, list[str]] = {}
    for place, name in enumerate(names):
        found.setdefault(("", number(place)), []).append(name)
    return found


def alike(one: Any, other: Any) -> bool:
    """Whether two things made of dataclasses, numbers and arrays say the same."""
    if one is other:
        return True
    if type(one) is not type(other):
        return isinstance(one, (int, float)) and isinstance(other, (int, float)) and one == other
    if is_dataclass(one):
        return all(
            alike(getattr(one, each.name), getattr(other, each.name)) for each in fields(one)
        )
    if isinstance(one, (tuple, list)):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, np.ndarray):
        return np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
    if isinstance(one, (str, bytes, int, float, frozenset, set, np.generic)):
        return bool(one == other)
    return False
