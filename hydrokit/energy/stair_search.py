"""The search behind the staircase of upgrades: single changes, pairs, and all combinations of a few."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, replace
from functools import cached_property
from itertools import combinations
from typing import Callable, Iterable, Sequence

import numpy as np

from ..errors import HydrokitError, did_you_mean
from .cases import Case, Upgrade, World
from .many import ALONE, alike
from .money import Costs
from .staircase import Numbers, Step

__all__ = ["Option", "Search", "bands_of"]
_NOTHING = 1e-6  # share of the aim that is rounding
_LOW, _HIGH = 0.1, 0.9


@dataclass(frozen=True, eq=False)
class Option:
    """Changes that could be the next step."""

    names: frozenset[str]
    kind: str
    before: frozenset[str]
    _: KW_ONLY
    gain: float
    cost: float
    net: float  # NaN where no value is known

    @property
    def per_money(self) -> float:
        return self.gain / self.cost if self.cost > 0 else np.inf


@dataclass(eq=False)
class Search:
    """Cases that were worked out, each once."""

    base: Case
    upgrades: tuple[Upgrade, ...]
    evaluate: Callable[[Case], Numbers]
    _: KW_ONLY
    aim: str
    costs: Costs
    value: float | None
    exhaustive: int
    finish: Callable[[Case, frozenset[str]], Case] | None = None
    spare: float = 0.0
    cache: dict[frozenset[str], Numbers] = field(default_factory=dict)
    largest: float = 0.0

    def __post_init__(self) -> None:
        known = self.evaluate(self.base)
        if self.aim not in known:
            raise HydrokitError(
                f"staircase(): the aim '{self.aim}' is not worked "
                f"out{did_you_mean(self.aim, known)}; there are {', '.join(known)}"
            )
        self.numbers(frozenset())

    # --- single cases -----------------------------------------------------------------------

    def case(self, names: frozenset[str], world: World | None = None) -> Case:
        case = (
            self.base
            if world is None or world.usable is None
            else replace(self.base, usable=world.usable)
        )
        for each in sorted(
            (self.named[name] for name in self.in_order(names)),
            key=lambda upgrade: upgrade.handling,
        ):
            case = each.apply(case)
        if names and self.finish is not None:
            case = self.finish(case, names)
        return case if world is None else replace(case, chain=case.chain.factors(**world.factors))

    def numbers(self, names: frozenset[str]) -> Numbers:
        if names not in self.cache:
            try:
                found = dict(self.evaluate(self.case(names)))
                self.largest = max(self.largest, abs(found[self.aim]))
            except HydrokitError:
                # each change may be sound and the two together not; one that is not sound alone is a mistake
                if len(names) < 2:
                    raise
                found = dict.fromkeys(self.cache[frozenset()], -np.inf)
            self.cache[names] = found
        return self.cache[names]

    def worth(self, names: frozenset[str]) -> float:
        return self.numbers(names)[self.aim]

    def earns(self, names: frozenset[str]) -> float:
        """What a case is worth in money a year, where a value is known."""
        found = self.numbers(names)
        beyond = (
            found.get(self.aim.removeprefix("useful_"), found[self.aim]) - found[self.aim]
            if self.spare
            else 0.0
        )
        return (self.value or 0.0) * found[self.aim] + self.spare * max(beyond, 0.0)

    def gain(self, done: frozenset[str], names: frozenset[str]) -> float:
        return self.worth(done | names) - self.worth(done)

    @property
    def nothing(self) -> float:
        return _NOTHING * self.largest

    @cached_property
    def _yearly(self) -> dict[str, float]:
        return {
            each.name: float(self.costs.change_si(each.cost_money, each.life_years))
            for each in self.upgrades
        }

    def yearly(self, names: frozenset[str]) -> float:
        return sum(self._yearly[name] for name in sorted(names))  # in one order, to the last digit

    @cached_property
    def named(self) -> dict[str, Upgrade]:
        return {each.name: each for each in self.upgrades}

    @cached_property
    def _place(self) -> dict[str, int]:
        return {each.name: place for place, each in enumerate(self.upgrades)}

    def in_order(self, names: frozenset[str] | set[str]) -> tuple[str, ...]:
        return tuple(sorted(names, key=self._place.__getitem__))

    def closure(self, names: Iterable[str]) -> frozenset[str]:
        """The changes with all they need."""
        found, open_ended = set(), list(names)
        while open_ended:
            name = open_ended.pop()
            if name not in found:
                found.add(name)
                open_ended += self.named[name].needs
        return frozenset(found)

    @cached_property
    def acting(self) -> tuple[str, ...]:
        """Changes to be combined: among many, only those that change something or that another needs."""
        needed = {need for each in self.upgrades for need in each.needs}
        few = len(self.upgrades) <= self.exhaustive
        return tuple(
            each.name for each in self.upgrades if few or each.name in needed or self._acts(each)
        )

    def _acts(self, upgrade: Upgrade) -> bool:
        try:
            return not alike(upgrade.apply(self.base), self.base)
        except HydrokitError:  # told when it is worked out
            return True

    # --- the next step ----------------------------------------------------------------------

    def option(self, done: frozenset[str], names: frozenset[str], kind: str) -> Option:
        names = names - done
        gain = self.gain(done, names)
        cost = float(sum(self.named[name].cost_money for name in self.in_order(names)))
        return Option(
            names,
            kind,
            done,
            gain=gain,
            cost=cost,
            net=np.nan
            if self.value is None
            else self.earns(done | names) - self.earns(done) - self.yearly(names),
        )

    def next(self, done: frozenset[str]) -> Option | None:
        singles = {name: self.closure({name}) for name in self.acting if name not in done}
        options = {
            name: self.option(done, names, "alone" if len(names - done) == 1 else "needs")
            for name, names in singles.items()
        }
        pairs = []
        for first, second in combinations(singles, 2):
            both = singles[first] | singles[second]
            if both | done in (singles[first] | done, singles[second] | done):
                continue
            pair = self.option(done, both, "pair")
            if (
                max(options[first].gain, options[second].gain) < ALONE * pair.gain
                and pair.gain > self.nothing
            ):
                pairs.append((first, second, pair))
        # a paid change whose whole point is its partner is not offered without it, if the two are worth it
        tied = {
            name
            for first, second, pair in pairs
            if not pair.net <= 0
            for name in (first, second)
            if options[name].cost > 0
        }
        useful = [
            option
            for name, option in options.items()
            if name not in tied and option.gain > self.nothing
        ]
        useful += [pair for _, _, pair in pairs]
        free = [option for option in useful if option.cost == 0]
        if free:
            return max(free, key=lambda option: option.gain)
        if self.value is None:
            return (
                max(useful, key=lambda option: option.per_money) if useful else self._together(done)
            )
        paying = [option for option in useful if option.net > 0]
        if paying:
            return max(paying, key=lambda option: option.net)
        together = self._together(done)
        if together is not None:
            return together
        return max(useful, key=lambda option: option.per_money) if useful else None

    def _together(self, done: frozenset[str]) -> Option | None:
        """What no single change or pair promised, but a combination keeps."""
        if len(self.acting) > self.exhaustive:
            return None
        best = self.best(done)
        option = self.option(done, best, "together")
        worth_it = option.gain > self.nothing and not option.net <= 0
        return option if best > done and worth_it else None

    def best(self, done: frozenset[str]) -> frozenset[str]:
        """Best combination that holds all that is done: by worth less cost, or by the aim alone."""

        def rank(names: frozenset[str]) -> float:
            # of combinations that are alike, the one with fewer changes
            if self.value is None:
                return self.worth(names) - self.nothing * len(names)
            return self.earns(names) - self.value * self.nothing * len(names) - self.yearly(names)

        open_ended = [name for name in self.acting if name not in done]
        sets = (
            done.union(some)
            for count in range(len(open_ended) + 1)
            for some in combinations(open_ended, count)
        )
        return max((names for names in sets if self.closure(names) == names), key=rank)

    def undo(self, done: frozenset[str]) -> tuple[str, ...]:
        """Changes without which the end would be better, and that nothing else needs."""
        needed = {need for each in self.upgrades if each.name in done for need in each.needs}
        return self.in_order(
            {
                name
                for name in done - needed
                if self.worth(done - {name}) > self.worth(done) + self.nothing
            }
        )

    def step(self, option: Option, bands: Bands | None, number: int) -> Step:
        before, after = self.numbers(option.before), self.numbers(option.before | option.names)
        gain_low, gain_high = bands.gain(number) if bands else (None, None)
        low, high = bands.of(number + 1) if bands else (None, None)
        return Step(
            names=self.in_order(option.names),
            kind=option.kind,
            numbers=after,
            gain={key: after[key] - before[key] for key in after},
            cost_money=option.cost,
            net_money=option.net,
            gain_per_money=option.per_money,
            pays=None if self.value is None else bool(option.net > 0 or option.cost == 0),
            gain_low=gain_low,
            gain_high=gain_high,
            numbers_low=low,
            numbers_high=high,
        )


@dataclass(frozen=True, eq=False)
class Bands:
    """Numbers of every case on the way (first axis) in every world."""

    numbers: dict[str, np.ndarray]

    def of(self, number: int) -> tuple[Numbers, Numbers]:
        return self._ends({key: values[number] for key, values in self.numbers.items()})

    def gain(self, number: int) -> tuple[Numbers, Numbers]:
        return self._ends(
            {key: values[number + 1] - values[number] for key, values in self.numbers.items()}
        )

    @staticmethod
    def _ends(values: dict[str, np.ndarray]) -> tuple[Numbers, Numbers]:
        low, high = (
            {key: float(np.quantile(each, level)) for key, each in values.items()}
            for level in (_LOW, _HIGH)
        )
        return low, high


def bands_of(
    search: Search, prefixes: Sequence[frozenset[str]], worlds: Sequence[World]
) -> Bands | None:
    if not worlds:
        return None
    rows = [[search.evaluate(search.case(names, world)) for world in worlds] for names in prefixes]
    return Bands(
        {
            key: np.array([[each[key] for each in row] for row in rows])
            for key in search.numbers(frozenset())
        }
    )
