"""The staircase against loops over all subsets, on made-up worths and on real chains."""

from dataclasses import dataclass, replace
from itertools import chain as joined
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.energy.cases import (
    Case,
    Upgrade,
    World,
)
from hydrokit.energy.money import Costs
from hydrokit.energy.upgrades import staircase
from hydrokit.errors import HydrokitError


@dataclass(frozen=True)
class Toy:
    """Stands in for a chain: the names of the changes made, and a factor."""

    made: frozenset = frozenset()
    factor: float = 1.0

    def factors(self, efficiency=1.0):
        return replace(self, factor=efficiency)


def change(name, cost=0.0, **more):
    return Upgrade(
        name,
        lambda case: replace(case, chain=replace(case.chain, made=case.chain.made | {name})),
        cost,
        **more,
    )


def toy(worth):
    """An evaluation from a function of the set of names."""
    return lambda case: {
        "kwh": case.chain.factor * worth(case.chain.made),
        "winter_kwh": case.chain.factor * worth(case.chain.made) / 3,
    }


TODAY = Case(Toy(), None)
YEARLY = Costs(
    life_years=10, discount_rate=0.0, value_money_per_kwh=1.0
)  # a cost of 10 is 1 a year


def subsets(names):
    return [
        frozenset(some)
        for some in joined.from_iterable(
            combinations(names, count) for count in range(len(names) + 1)
        )
    ]


def greedy(worth, prices):
    """The plain way: always the single change with the highest net worth, until none pays."""
    done = frozenset()
    while True:
        open_ended = {
            name: worth(done | {name}) - worth(done) - price / 10
            for name, price in prices.items()
            if name not in done
        }
        best = max(open_ended, key=open_ended.get, default=None)
        if best is None or open_ended[best] <= 0:
            return done
        done |= {best}


# --- pairs ----------------------------------------------------------------------------------


def in_series(made):
    """Screen and pipe pass 10 each; the larger ones 20. The least of them runs the plant."""
    return 100.0 * min(20 if "screen" in made else 10, 20 if "pipe" in made else 10) + (
        30 if "cable" in made else 0
    )


def test_two_that_bind_alike_are_found_as_a_pair_where_greedy_fails():
    prices = {"screen": 400.0, "pipe": 3000.0, "cable": 100.0}
    assert greedy(in_series, prices) == {"cable"}
    found = staircase(
        TODAY, [change(*each) for each in prices.items()], toy(in_series), costs=YEARLY
    )
    assert [(step.names, step.kind) for step in found.steps] == [
        (("screen", "pipe"), "pair"),
        (("cable",), "alone"),
    ]
    pair = found.steps[0]
    assert (
        pair.gain["kwh"] == 1000
        and pair.cost_money == 3400
        and pair.net_money == pytest.approx(1000 - 340)
        and pair.pays
    )
    assert found.pairs == (("screen", "pipe"),) and set(found.best_names) == set(prices)


@pytest.mark.parametrize("value", [True, False])
@pytest.mark.parametrize("alone, kind", [(0.10, "pair"), (0.20, "alone")])
def test_where_a_pair_begins(alone, kind, value):
    """Below 15 % alone of what both bring, it is a pair."""

    def worth(made):
        return 100.0 + (200.0 if made == {"a", "b"} else 200.0 * alone * len(made))

    found = staircase(
        TODAY, [change("a", 50), change("b", 50)], toy(worth), costs=YEARLY if value else None
    )
    assert found.steps[0].kind == kind and found.end["kwh"] == 300


def test_a_pair_that_does_not_pay_leaves_its_members_alone():
    """The small gain of one is still worth its price when its partner is too dear."""

    def worth(made):
        return 1000.0 + 200.0 * ({"cheap", "dear"} <= made) + 20.0 * ("cheap" in made)

    found = staircase(
        TODAY, [change("cheap", 50), change("dear", 90_000)], toy(worth), costs=YEARLY
    )
    assert found.steps[0].names == ("cheap",) and found.steps[0].pays
    assert [step.names for step in found.steps[1:]] == [("dear",)] and found.steps[1].pays is False
    assert found.best_names == ("cheap",)


def test_three_that_only_work_together():
    def worth(made):
        return 1000.0 + 600.0 * ({"a", "b", "c"} <= made)

    prices = [change("a", 100), change("b", 200), change("c", 300), change("idle", 10)]
    for costs in (YEARLY, None):
        found = staircase(TODAY, prices, toy(worth), costs=costs)
        assert [(step.names, step.kind) for step in found.steps] == [(("a", "b", "c"), "together")]
        assert [each.name for each in found.left] == ["idle"] and found.left[0].gain == 0
    assert staircase(TODAY, prices, toy(worth), costs=YEARLY, exhaustive=3).steps == ()


def test_two_that_pay_only_jointly_though_each_brings_something():
    """30 % alone is no pair, but neither earns its price alone: all combinations find them."""

    def worth(made):
        return 1000.0 + (200.0 if {"a", "b"} <= made else 60.0 * len(made & {"a", "b"}))

    prices = {"a": 800.0, "b": 800.0}
    assert greedy(worth, prices) == frozenset()
    found = staircase(TODAY, [change(*each) for each in prices.items()], toy(worth), costs=YEARLY)
    assert [(step.names, step.kind, step.pays) for step in found.steps] == [
        (("a", "b"), "together", True)
    ]


# --- order ----------------------------------------------------------------------------------


def test_free_ones_come_first_then_by_what_they_are_worth():
    gains = {"free small": 5.0, "free large": 50.0, "good": 400.0, "fair": 300.0, "poor": 20.0}
    prices = {"free small": 0.0, "free large": 0.0, "good": 3000.0, "fair": 500.0, "poor": 900.0}
    found = staircase(
        TODAY,
        [change(name, prices[name]) for name in gains],
        toy(lambda made: 100 + sum(gains[name] for name in made)),
        costs=YEARLY,
    )
    assert [step.names[0] for step in found.steps] == [
        "free large",
        "free small",
        "fair",
        "good",
        "poor",
    ]
    assert [step.pays for step in found.steps] == [True, True, True, True, False]
    assert set(found.best_names) == set(gains) - {"poor"}
    # without a value: by what each brings for its money
    found = staircase(
        TODAY,
        [change(name, prices[name]) for name in gains],
        toy(lambda made: 100 + sum(gains[name] for name in made)),
    )
    assert [step.names[0] for step in found.steps] == [
        "free large",
        "free small",
        "fair",
        "good",
        "poor",
    ]
    assert all(step.pays is None and np.isnan(step.net_money) for step in found.steps)
    assert found.steps[0].gain_per_money == np.inf and found.steps[
        2
    ].gain_per_money == pytest.approx(0.6)


def test_each_step_counts_given_those_before():
    """The second pipe beside the first brings only what is left."""

    def worth(made):
        return 100.0 + max([0.0, *({"wide": 80.0, "wider": 100.0}[name] for name in made)])

    found = staircase(TODAY, [change("wide", 100), change("wider", 300)], toy(worth), costs=YEARLY)
    assert [(step.names, step.gain["kwh"]) for step in found.steps] == [
        (("wide",), 80.0),
        (("wider",), 20.0),
    ]
    assert found.steps[1].pays is False and found.best_names in (("wide",), ("wider",))


def test_a_free_one_that_opens_up_later_comes_as_soon_as_it_helps():
    found = staircase(
        TODAY,
        [change("pipe", 100), change("open a jet")],
        toy(
            lambda made: (
                100.0
                + 60 * ("pipe" in made)
                + 30 * ({"pipe", "open a jet"} <= made)
                - 10 * (made == {"open a jet"})
            )
        ),
        costs=YEARLY,
    )
    assert [step.names for step in found.steps] == [("pipe",), ("open a jet",)]


def test_what_would_better_be_undone_is_told():
    """A jet shut because the pipe was narrow does harm once it is wide."""

    def worth(made):
        shut, wide = "shut a jet" in made, "pipe" in made
        return {
            (False, False): 100.0,
            (True, False): 120.0,
            (False, True): 200.0,
            (True, True): 180.0,
        }[shut, wide]

    found = staircase(TODAY, [change("pipe", 100), change("shut a jet")], toy(worth), costs=YEARLY)
    assert [step.names for step in found.steps] == [("shut a jet",), ("pipe",)]
    assert (
        found.undo == ("shut a jet",)
        and found.best_names == ("pipe",)
        and found.best_numbers["kwh"] == 200
    )


def test_needs_come_along():
    def worth(made):
        assert "second pump" not in made or "shed" in made, "worked out without what it needs"
        return 100.0 + 70.0 * ("second pump" in made)

    found = staircase(
        TODAY,
        [change("second pump", 100, needs=("shed",)), change("shed", 50)],
        toy(worth),
        costs=YEARLY,
    )
    assert [(step.names, step.kind) for step in found.steps] == [(("second pump", "shed"), "needs")]
    assert found.steps[0].cost_money == 150


def test_handling_is_applied_after_parts():
    order = []
    habit = Upgrade("habit", lambda case: (order.append("habit"), case)[1], handling=True)
    part = Upgrade("part", lambda case: (order.append("part"), case)[1], 10)
    staircase(TODAY, [habit, part], toy(lambda made: 1.0))
    assert order[-2:] == ["part", "habit"]


@pytest.mark.parametrize("seed", range(6))
def test_the_best_of_all_combinations_by_loops(seed):
    rng = np.random.default_rng(seed)
    names = list("abcde")
    table = {made: rng.normal(100 + 20 * len(made), 25) for made in subsets(names)}
    prices = dict(zip(names, rng.uniform(0, 300, 5)))
    found = staircase(
        TODAY, [change(name, prices[name]) for name in names], toy(table.__getitem__), costs=YEARLY
    )
    best = max(table, key=lambda made: table[made] - sum(prices[name] for name in made) / 10)
    assert frozenset(found.best_names) == best
    assert found.evaluations <= 32
    # what the steps bring adds up to the end
    assert found.base["kwh"] + sum(step.gain["kwh"] for step in found.steps) == pytest.approx(
        found.end["kwh"], rel=1e-12
    )
    made = frozenset(name for step in found.steps for name in step.names)
    assert (
        found.end["kwh"] == pytest.approx(table[made])
        and {each.name for each in found.left} == set(names) - made
    )
    for step in found.steps:
        assert step.gain["kwh"] > 0 and step.numbers["winter_kwh"] == pytest.approx(
            step.numbers["kwh"] / 3
        )


def test_twelve_changes_are_tried_in_all_combinations_and_more_are_not():
    prices = [change(f"change {number}", 10.0 * number) for number in range(1, 13)]
    found = staircase(TODAY, prices, toy(lambda made: 100.0 + 3.5 * len(made)), costs=YEARLY)
    assert found.evaluations == 4096 and found.best_names == ("change 1", "change 2", "change 3")
    more = [*prices, change("screen", 400), change("pipe", 400)]
    found = staircase(TODAY, more, toy(in_series), costs=YEARLY)
    assert (
        found.steps[0].names == ("screen", "pipe")
        and found.best_names == ()
        and found.evaluations < 300
    )


# --- properties -----------------------------------------------------------------------------


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.lists(st.floats(0, 50), min_size=4, max_size=4), st.floats(0.1, 40))
def test_a_free_useful_change_never_lowers_the_end(gains, free):
    def worth(made):
        paid = [gain for name, gain in zip("abcd", gains) if name in made]
        return 100.0 + sum(paid) + free * ("free" in made) * (1 + len(paid))

    without = staircase(TODAY, [change(name, 100) for name in "abcd"], toy(worth), costs=YEARLY)
    with_it = staircase(
        TODAY, [*(change(name, 100) for name in "abcd"), change("free")], toy(worth), costs=YEARLY
    )
    assert with_it.end["kwh"] >= without.end["kwh"] and with_it.steps[0].names == ("free",)


def test_ranges_over_worlds():
    def worth(made):
        return 100.0 + 50.0 * ("a" in made)

    factors = np.linspace(0.8, 1.2, 21)
    found = staircase(
        TODAY,
        [change("a", 10)],
        toy(worth),
        costs=YEARLY,
        worlds=[World({"efficiency": each}) for each in factors],
    )
    step = found.steps[0]
    assert (step.gain_low["kwh"], step.gain_high["kwh"]) == pytest.approx(
        tuple(np.quantile(50 * factors, [0.1, 0.9]))
    )
    assert (step.numbers_low["kwh"], step.numbers_high["kwh"]) == pytest.approx(
        tuple(np.quantile(150 * factors, [0.1, 0.9]))
    )
    assert (found.base_low["kwh"], found.base_high["kwh"]) == pytest.approx(
        tuple(np.quantile(100 * factors, [0.1, 0.9]))
    )
    alone = staircase(TODAY, [change("a", 10)], toy(worth), costs=YEARLY)
    assert alone.steps[0].gain_low is None and alone.base_low is None
    assert alone.steps[0].gain == step.gain


@pytest.mark.parametrize(
    "upgrades, aim, sentence",
    [
        ([change("a"), change("a")], "kwh", "two changes are called 'a'"),
        ([change("a", -1)], "kwh", "cannot cost less than nothing"),
        (
            [change("vents"), change("a", needs=("vent",))],
            "kwh",
            "needs 'vent'.*did you mean 'vents'",
        ),
        ([change("a")], "winter", "the aim 'winter' is not worked out.*kwh, winter_kwh"),
    ],
)
def test_refuses_in_a_sentence(upgrades, aim, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        staircase(TODAY, upgrades, toy(lambda made: 1.0), aim)


def test_what_cannot_be_combined_is_left_and_what_cannot_be_is_refused():
    def worth(made):
        if {"a", "b"} <= made:
            raise HydrokitError("no room for both")
        return 100.0 + 50.0 * ("a" in made) + 40.0 * ("b" in made)

    found = staircase(TODAY, [change("a", 10), change("b", 10)], toy(worth), costs=YEARLY)
    assert (
        [step.names for step in found.steps] == [("a",)]
        and found.left[0].name == "b"
        and found.best_names == ("a",)
    )

    def broken(made):
        if made:
            raise HydrokitError("a jet too large for its runner")
        return 1.0

    with pytest.raises(HydrokitError, match="too large"):
        staircase(TODAY, [change("a")], toy(broken))
