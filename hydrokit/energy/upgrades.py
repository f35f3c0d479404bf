"""Upgrades: which change to a plant is worth most, given the changes before it.

A change is a function from one case (plant, water, stops) to another; nothing is known of it but
what the case is worth afterwards. Taking the best single change first fails where two parts limit
alike: either alone brings nothing, both bring much. Such pairs are looked for, and with a handful
of changes all their combinations.

>>> from dataclasses import replace
>>> from hydrokit.energy.money import Costs
>>> from hydrokit.energy.cases import Case, Upgrade, close_jets, watts
>>> from hydrokit.energy.upgrades import staircase
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

from typing import Callable, Sequence

from ..errors import HydrokitError, did_you_mean
from .cases import Case, Upgrade, World
from .many import Many
from .money import Costs
from .stair_search import Option, Search, bands_of
from .staircase import Left, Numbers, Staircase

__all__ = ["staircase"]


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
    say: Callable[[str], object] | None = None,
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
    search = Search(
        base,
        _checked(upgrades),
        evaluate,
        aim=aim,
        costs=costs,
        value=value_money,
        exhaustive=exhaustive,
        finish=finish,
        spare=spare_money,
    )
    done: frozenset[str] = frozenset()
    picked: list[Option] = []
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
    bands = bands_of(search, prefixes, worlds)
    steps = tuple(search.step(option, bands, number) for number, option in enumerate(picked))
    best = search.best(frozenset()) if many is None else None
    base_low, base_high = bands.of(0) if bands else (None, None)
    return Staircase(
        base=search.numbers(frozenset()),
        base_low=base_low,
        base_high=base_high,
        steps=steps,
        left=tuple(
            Left(each.name, search.gain(done, search.closure({each.name})))
            for each in upgrades
            if each.name not in done
        ),
        undo=search.undo(done),
        best_names=() if best is None else search.in_order(best),
        best_numbers=None if best is None else search.numbers(best),
        aim=aim,
        evaluations=len(search.cache),
        search=search,
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
                    f"staircase(): '{each.name}' needs '{need}', which is not a change listed "
                    f"here{did_you_mean(need, names)}"
                )
    return tuple(upgrades)
