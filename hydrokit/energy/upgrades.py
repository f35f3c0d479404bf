"""Upgrades: which change to a plant is worth most, given the changes before it.

A change is a function from one case (plant, water, stops) to another; nothing is known of it but
what the case is worth afterwards. Taking the best single change first fails where two parts bind
alike: either alone brings nothing, both bring much. Such pairs are looked for, and with a handful
of changes all their combinations.

>>> from dataclasses import replace
>>> from hydrokit.energy.money import Costs
>>> from hydrokit.energy.upgrades import Case, Upgrade, close_jets, staircase, watts
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(60e3), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)), schedule={1: 4, 7: 4})
>>> close = Upgrade("close a jet in January", lambda case: replace(case, chain=close_jets(case.chain, 1, [1])), handling=True)
>>> pipe = Upgrade("wider pipe", lambda case: replace(case, chain=case.chain.replace(penstock=Penstock(MeasuredLoss(20e3), 50.0))), 4000.0)
>>> found = staircase(Case(plant, {1: 0.009, 7: 0.030}), [pipe, close], watts(), "mean_w", Costs(life_years=40), value_money=8.766 * 0.3)
>>> for step in found.steps:
...     print(f"{', '.join(step.names)}: {step.gain['mean_w']:+.0f} W, worth {step.net_money:.0f} a year")
close a jet in January: +460 W, worth 1211 a year
wider pipe: +309 W, worth 609 a year
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import combinations
from typing import Any, Callable, Iterable, Mapping, Sequence

import numpy as np

from ..errors import HydrokitError, did_you_mean
from .cases import Case, Upgrade, World, add_water, close_jets, draw_worlds, watts, year_kwh
from .many import Many, alike
from .money import Costs

__all__ = [
    "Case", "Left", "Staircase", "Step", "Upgrade", "World", "add_water", "close_jets", "draw_worlds", "staircase", "watts", "year_kwh",
]  # fmt: skip

Numbers = Mapping[str, float]
ALONE = 0.15  # of what two changes bring together: where either alone brings less, they are a pair
_NOTHING = 1e-6  # share of the aim that is rounding
_LOW, _HIGH = 0.1, 0.9


# --- the staircase --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Step:
    """One step, given all before it.

    Parameters
    ----------
    names : tuple of str
        One change; or several that are taken together.
    kind : {"alone", "needs", "pair", "together", "chosen"}
        ``needs``: with what it needs. ``pair``: either alone brings less than 15 % of what both
        bring. ``together``: found only by trying all combinations. ``chosen``: by the reader.
    numbers, gain : dict
        What the case is worth after it, and the difference from before.
    cost_money : float
    net_money : float
        Value of the gain a year less annuity and upkeep; NaN where no value is known.
    gain_per_money : float
        Gain in the aim for each unit of cost; infinite for a free one.
    pays : bool or None
        Whether it is worth more than it costs; None where no value is known.
    gain_low, gain_high, numbers_low, numbers_high : dict or None
        Tenth and ninetieth per cent over the worlds.
    """

    names: tuple[str, ...]
    kind: str
    numbers: Numbers
    gain: Numbers
    cost_money: float
    net_money: float
    gain_per_money: float
    pays: bool | None
    gain_low: Numbers | None = None
    gain_high: Numbers | None = None
    numbers_low: Numbers | None = None
    numbers_high: Numbers | None = None


@dataclass(frozen=True, eq=False)
class Left:
    """A change that brings nothing once the steps are done.

    Parameters
    ----------
    name : str
    gain : float
        What it would then do to the aim: nothing or less; minus infinity where it cannot be
        combined with the steps.
    """

    name: str
    gain: float


@dataclass(frozen=True, eq=False)
class Staircase:
    """Changes in the order in which to make them.

    Parameters
    ----------
    base : dict
        What the case is worth today.
    base_low, base_high : dict or None
        Tenth and ninetieth per cent over the worlds.
    steps : tuple of Step
        Free ones first as soon as they help, then those that pay, then those that do not.
    left : tuple of Left
    undo : tuple of str
        Changes that helped when they were made and would better be undone after all steps.
    best_names : tuple of str
        The best of all combinations; empty where there were too many to try.
    best_numbers : dict or None
    aim : str
    evaluations : int
        Cases that were worked out to find this, worlds not counted.
    search : object
        What it was found with, for :meth:`made`.
    """

    base: Numbers
    base_low: Numbers | None
    base_high: Numbers | None
    steps: tuple[Step, ...]
    left: tuple[Left, ...]
    undo: tuple[str, ...]
    best_names: tuple[str, ...]
    best_numbers: Numbers | None
    aim: str
    evaluations: int
    search: Any = field(default=None, repr=False)

    def made(self, names: Iterable[str]) -> Step:
        """Changes of the reader's own choosing, with what they need, as one step from today."""
        return self.search.step(
            self.search.option(frozenset(), self.search.closure(names), "chosen"), None, 0
        )

    @property
    def end(self) -> Numbers:
        """What the case is worth after all steps."""
        return self.steps[-1].numbers if self.steps else self.base

    @property
    def pairs(self) -> tuple[tuple[str, ...], ...]:
        """Changes that only work together."""
        return tuple(step.names for step in self.steps if step.kind in ("pair", "together"))


def staircase(
    base: Case,
    upgrades: Sequence[Upgrade],
    evaluate: Callable[[Case], Numbers],
    aim: str = "kwh",
    costs: Costs | None = None,
    value_money: float | None = None,
    worlds: Sequence[World] = (),
    exhaustive: int = 12,
    spare_money: float = 0.0,
    finish: Callable[[Case, frozenset[str]], Case] | None = None,
    say: Callable[[str], Any] | None = None,
) -> Staircase:
    """Order changes by what each brings given those before it.

    Parameters
    ----------
    base : Case
        The plant as it is.
    upgrades : sequence of Upgrade
    evaluate : callable
        :class:`Case` to a dict of numbers: :func:`year_kwh`, :func:`watts`, or one of your own.
    aim : str
        Which of its numbers counts.
    costs : Costs, optional
        For life, discount rate, upkeep, and the value of a kWh.
    value_money : float, optional
        Of one more of the aim, a year. Left out: the value of a kWh where the aim is in kWh, else
        none, and changes are ordered by what they bring for each unit of their cost.
    worlds : sequence of World
        Each step is worked out in each of them as well, for its range.
    exhaustive : int
        Up to so many changes all combinations are tried (4,096 of 12); of more, pairs of different
        kinds, in about as many cases as there are changes: see :mod:`hydrokit.energy.many`.
    spare_money : float
        Of one more unit a year that is made and is beyond what the aim counts: of the ``kwh`` beyond
        ``useful_kwh``, where they are sold.
    finish : callable, optional
        What follows from the changes made, from the case and their names: once, after all of them.
    say : callable, optional
        Told in a line how far it is, among many changes.

    Returns
    -------
    Staircase

    Raises
    ------
    HydrokitError
        Two changes of one name, a need that is no change, an aim that is not worked out.
    """
    costs = Costs() if costs is None else costs
    if value_money is None and aim.endswith("kwh"):
        value_money = costs.value_money_per_kwh
    search = _Search(
        base, _checked(upgrades), evaluate, aim, costs, value_money, exhaustive, finish, spare_money
    )
    done: frozenset[str] = frozenset()
    picked: list[_Option] = []
    many = None if len(search.acting) <= exhaustive else Many(search, say or (lambda line: None))
    # every step makes at least one change, so this ends
    while (option := search.next(done) if many is None else many.next(done)) is not None:
        picked.append(option)
        done |= option.names
    prefixes = [
        frozenset(),
        *(
            frozenset().union(*(each.names for each in picked[: count + 1]))
            for count in range(len(picked))
        ),
    ]
    bands = _bands(search, prefixes, worlds)
    steps = tuple(search.step(option, bands, number) for number, option in enumerate(picked))
    best = search.best(frozenset()) if many is None else None
    return Staircase(
        search.numbers(frozenset()),
        *(bands.of(0) if bands else (None, None)),
        steps,
        tuple(
            Left(each.name, search.gain(done, search.closure({each.name})))
            for each in upgrades
            if each.name not in done
        ),
        search.undo(done),
        () if best is None else search.in_order(best),
        None if best is None else search.numbers(best),
        aim,
        len(search.cache),
        search,
    )


def _checked(upgrades: Sequence[Upgrade]) -> tuple[Upgrade, ...]:
    names = [each.name for each in upgrades]
    for each in upgrades:
        if names.count(each.name) > 1:
            raise HydrokitError(
                f"staircase(): two changes are called '{each.name}'; give each a name of its own"
            )
        if not each.cost_money >= 0:
            raise HydrokitError(
                f"staircase(): '{each.name}' cannot cost less than nothing, got {each.cost_money!r}"
            )
        for need in each.needs:
            if need not in names:
                raise HydrokitError(
                    f"staircase(): '{each.name}' needs '{need}', which is no change here{did_you_mean(need, names)}"
                )
    return tuple(upgrades)


@dataclass(frozen=True, eq=False)
class _Option:
    """Changes that could be the next step."""

    names: frozenset[str]
    kind: str
    before: frozenset[str]
    gain: float
    cost: float
    net: float  # NaN where no value is known

    @property
    def per_money(self) -> float:
        return self.gain / self.cost if self.cost > 0 else np.inf


@dataclass(eq=False)
class _Search:
    """Cases that were worked out, each once."""

    base: Case
    upgrades: tuple[Upgrade, ...]
    evaluate: Callable[[Case], Numbers]
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
                f"staircase(): the aim '{self.aim}' is not worked out{did_you_mean(self.aim, known)}; there are {', '.join(known)}"
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
        return self.value * found[self.aim] + self.spare * max(beyond, 0.0)

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

    def option(self, done: frozenset[str], names: frozenset[str], kind: str) -> _Option:
        names = names - done
        gain = self.gain(done, names)
        cost = float(sum(self.named[name].cost_money for name in self.in_order(names)))
        return _Option(
            names,
            kind,
            done,
            gain,
            cost,
            np.nan
            if self.value is None
            else self.earns(done | names) - self.earns(done) - self.yearly(names),
        )

    def next(self, done: frozenset[str]) -> _Option | None:
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

    def _together(self, done: frozenset[str]) -> _Option | None:
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

    def step(self, option: _Option, bands: Any, number: int) -> Step:
        before, after = self.numbers(option.before), self.numbers(option.before | option.names)
        ranges = (*bands.gain(number), *bands.of(number + 1)) if bands else (None,) * 4
        return Step(
            self.in_order(option.names),
            option.kind,
            after,
            {key: after[key] - before[key] for key in after},
            option.cost,
            option.net,
            option.per_money,
            None if self.value is None else bool(option.net > 0 or option.cost == 0),
            *ranges,
        )


@dataclass(frozen=True, eq=False)
class _Bands:
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


def _bands(
    search: _Search, prefixes: Sequence[frozenset[str]], worlds: Sequence[World]
) -> _Bands | None:
    if not worlds:
        return None
    rows = [[search.evaluate(search.case(names, world)) for world in worlds] for names in prefixes]
    return _Bands(
        {
            key: np.array([[each[key] for each in row] for row in rows])
            for key in search.numbers(frozenset())
        }
    )
