"""The diagnosis held against plants and a model that it was not tuned on: second_plant.py, metric and US."""

from collections import Counter
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.stats import binom
from second_plant import SECOND, SILENT, SIZES
from seeded import KEYS, commissioned_plant, visited

from hydrokit.errors import HydrokitError
from hydrokit.running.diagnose import diagnose
from hydrokit.running.observation import Observation
from hydrokit.running.weighing import Weighed

CASES = (
    *((state, size) for state, sizes in SIZES.items() for size in sizes),
    *(("all worn", size) for size in SIZES["worn"]),
    *SILENT,
)
READ = ("pressure_pa", "power_w", "spilling", "fluctuates")


@dataclass(frozen=True)
class Made:
    """What was made of one visit."""

    state: str
    size: float
    first: str
    told: bool  # first, or declared inseparable from the first
    held: bool


@dataclass(frozen=True)
class Alike:
    """The same plant, with what is wrong with its jets in all of them alike."""

    plant: object

    def __getattr__(self, name):
        return getattr(self.plant, name)

    def read(self, random, jets, state, size, jet, **noise):
        return self.plant.read(random, jets, state, size, 0, **noise)


def _near(random, state, size):
    """A size near the one of the table; a dry pipe and a dead machine are whole."""
    if (state, size) in SILENT:
        return size
    near = size * random.uniform(0.95, 1.05)
    return min(near, 1.0) if state in ("blocked", "under_fed") else near


def commissioned(name, random, scatter):
    """A drawn plant, its signatures and its scatter; read anew where the readings are refused, as their reader is asked to."""
    true = SECOND[name].drawn(random)
    for _ in range(9):
        try:
            return true, *commissioned_plant(SECOND[name], true, random, scatter)
        except HydrokitError as error:
            assert "above the" in str(error) and "everything shut" in str(error)
    raise AssertionError("nine commissionings were refused")


def made_of(name, scatter, plants, healthy, seed):
    """Every case and so many healthy visits, on so many drawn plants."""
    random, found = np.random.RandomState(seed), []
    for _ in range(plants):
        true, tables, noise = commissioned(name, random, scatter)
        cases = [*CASES, *[("well", 0.0)] * healthy]
        sizes = [_near(random, *case) for case in cases]
        keys = ["worn" if state == "all worn" else state for state, _ in cases]
        looks = [
            visited(tables, Alike(true) if state == "all worn" else true, random, scatter, fault)
            for (state, _), fault in zip(cases, zip(keys, sizes))
        ]
        read = {
            what: np.array([[_number(getattr(each, what)) for each in visit] for visit in looks])
            for what in READ
        }
        weighed = Weighed.of(tables, looks[0], noise, read)
        chance, unparted = weighed.verdict()
        for number, ((state, size), key) in enumerate(zip(cases, keys)):
            place = KEYS.index(key)
            _, low, high = weighed.size(place, number)
            held = low <= true.size_of(key, sizes[number]) <= high
            first = KEYS[int(chance[:, number].argmax())]
            found.append(Made(state, size, first, bool(unparted[place, number]), held))
    return found


def _number(value):
    return np.nan if value is None else float(value)


def told_of(found):
    """Share of visits on which a case came first or was declared, by case."""
    return {
        case: np.mean([each.told for each in found if (each.state, each.size) == case])
        for case in CASES
    }


def test_every_case_on_one_drawn_plant_of_each_kind():
    """independent: second_plant.py; the slow test has the bars."""
    found = [each for seed, name in enumerate(SECOND) for each in made_of(name, 0.01, 1, 20, seed)]
    assert np.mean(list(told_of(found).values())) > 0.97
    assert np.mean([each.first != "well" for each in found if each.state == "well"]) <= 0.05
    silent = [each for each in found if (each.state, each.size) in SILENT]
    assert len(silent) == 4 and all(each.first == each.state and each.held for each in silent)


@pytest.mark.parametrize("name", SECOND)
@pytest.mark.parametrize(
    "plants", [pytest.param(3, marks=pytest.mark.slow), pytest.param(5, marks=pytest.mark.deep)]
)
def test_no_miss_undeclared_few_false_alarms_and_sizes_calibrated_on_plants_not_tuned_on(
    name, plants
):
    """independent: scatter from 0.6 to 2 %; told in 90 % of each case, alarms in 1 % of healthy visits, 85 to 95 % of sizes held.

    Of a case so few are drawn that a rate of 90 % shows 14 of 16 now and then: a case fails where a plant that
    tells 90 % would show as few in less than one of a hundred; all cases together are told in 95 %.
    """
    found = [
        each
        for seed, scatter in enumerate((0.006, 0.01, 0.014, 0.02))
        for each in made_of(name, scatter, plants, 60, 40 + seed)
    ]
    told, drawn = told_of(found), 4 * plants
    fewest = binom.ppf(0.01, drawn, 0.9) / drawn
    assert min(told.values()) >= fewest and np.mean(list(told.values())) >= 0.95, told
    sized = [
        each.held
        for each in found
        if each.state not in ("well", "stuck") and (each.state, each.size) not in SILENT
    ]
    assert 0.85 <= np.mean(sized) <= 0.95, np.mean(sized)
    alarms = Counter(each.first for each in found if each.state == "well")
    assert 1 - alarms["well"] / sum(alarms.values()) <= 0.01, alarms


# --- two at once: named, flagged, or told as what may hide ------------------------------------

PAIRS = (
    (("leak", 0.22), ("machine", 0.3)),
    (("leak", 0.5), ("machine", 0.3)),
    (("friction", 0.4), ("worn", 0.6)),
    (("blocked", 1.0), ("leak", 0.22)),
    (("air", 0.14), ("machine", 0.3)),
    (("gauge", 0.12), ("machine", 0.3)),
    (("friction", 0.18), ("blocked", 1.0)),
)


def declared(found, pair):
    """Whether both are told: two at once, or that no one state explains it, or each as first, as inseparable, as what may hide."""
    flagged = found.two_at_once or any("two things" in str(each) for each in found.findings)
    named = any({state for state, _ in pair} == set(each.keys) for each in found.pairs)
    told = {found.first.key, *found.inseparable, *(each.fault.key for each in found.hiding)}
    return flagged or named or {state for state, _ in pair} <= told


def test_a_second_fault_that_does_not_show_is_told_as_what_may_hide():
    """independent: a valve and a worn jet on six jets read as a valve alone; a leak beside a sick machine as the machine."""
    random = np.random.RandomState(3)
    true, tables, noise = commissioned("metric", random, 0.01)
    for pair in (PAIRS[2], PAIRS[0]):
        found = diagnose(tables, visited(tables, true, random, 0.01, *pair), noise)
        assert declared(found, pair), (pair, found.first.key, found.hiding)
        (second,) = [each for each in found.hiding if each.fault.key in dict(pair)]
        assert second.size >= dict(pair)[second.fault.key] and second.cost_w > 0
    well = diagnose(tables, visited(tables, true, random, 0.01, ("well", 0.0)), noise)
    assert well.hiding == ()


@pytest.mark.slow
@pytest.mark.parametrize("name", SECOND)
def test_no_pair_is_missed_undeclared(name):
    """independent: 90 % of seven pairs on three drawn plants."""
    random, found = np.random.RandomState(8), []
    for _ in range(3):
        true, tables, noise = commissioned(name, random, 0.01)
        for pair in PAIRS:
            visit = visited(tables, true, random, 0.01, *pair)
            found.append(declared(diagnose(tables, visit, noise), pair))
    assert np.mean(found) >= 0.9, found


def test_one_look_does_not_part_one_worn_jet_from_all_alike_and_one_with_fewer_jets_does():
    """A jet worn by half of its area, the third to be opened: with all open it may be all of them; with two open it is not worn at all."""
    random = np.random.RandomState(2)
    true, tables, noise = commissioned("us", random, 0.006)
    looks = []
    for jets in (3, 2, 1):
        pressure, watts, spilling, _ = true.read(random, jets, "worn", 0.5, 3, 0.006, 0.006)
        looks.append(Observation(jets, pressure, watts, spilling=spilling))
    one, many = (diagnose(tables, seen, noise).of("worn") for seen in (looks[:1], looks))
    assert 0.02 < one.alike < 0.9 and one.which == 0
    assert many.alike < 0.02 and many.which == 3


def test_with_one_jet_open_of_four_a_worn_one_has_the_size_of_that_jet_and_not_of_four():
    """The first to be opened has gained a third of its area: whether all have done so does not show
    with one open, but the size of either does."""
    random = np.random.RandomState(3)
    true, tables, noise = commissioned("us", random, 0.006)
    pressure, watts, spilling, _ = true.read(random, 1, "worn", 0.33, 1, 0.006, 0.006)
    worn = diagnose(tables, Observation(1, pressure, watts, spilling=spilling), noise).of("worn")
    assert 0.02 < worn.alike < 0.9
    assert worn.low < 0.33 < worn.high < 0.5 and abs(worn.size - 0.33) < 0.05
    assert worn.each == pytest.approx(worn.size, abs=0.02)
