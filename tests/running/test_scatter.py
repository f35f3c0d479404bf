"""Fault sizes by the scatter of the readings themselves: the stated 90 % holds the truth in 85 to 95 of 100."""

import numpy as np
import pytest
from seeded import (
    CASES,
    KEYS,
    about,
    all_visited,
    commissioned_plant,
    in_words_of_the_state,
    line_of,
    visited,
)
from true_plant import PLANTS, US_PLANT

from hydrokit.plant.parts import FixedJets
from hydrokit.running.commission import commission
from hydrokit.running.diagnose import diagnose
from hydrokit.running.observation import Noise
from hydrokit.running.reading import Reading
from hydrokit.running.rehearsal import usual_visit
from hydrokit.running.scatter import STEADIEST, scatter_of
from hydrokit.running.signatures import signatures
from hydrokit.running.weighing import Weighed

SCATTER = 0.009  # of gauge and meters alike, a good half of what is stated


def commissioned(site, true, random, **stated):
    jets = FixedJets((site.jet_bore,) * site.jets, site.coefficient)
    readings = []
    for _ in range(2):
        for count in range(site.jets + 1):
            pressure, watts, _, _ = true.read(
                random, count, gauge_noise=SCATTER, meter_noise=SCATTER
            )
            readings.append(
                Reading(count, pressure, watts if count else np.nan, flow_m3s=np.nan, spilling=True)
            )
    first = commission(readings, jets, line_of(site), coefficient_sd=0.05)
    own = scatter_of(first)
    return (
        first,
        own,
        commission(
            readings,
            jets,
            line_of(site),
            coefficient_sd=0.05,
            pressure_sd=own.pressure,
            power_sd=own.power,
        ),
    )


def held(baseline, noise, site, true, random):
    """Share of seeded sizes inside the interval given for them."""
    tables = signatures(baseline)
    visit = usual_visit(tables.plant)
    read = {
        name: np.full((len(CASES), len(visit)), np.nan)
        for name in ("pressure_pa", "power_w", "spilling", "fluctuates")
    }
    exact = [(state, about(random, state, size)) for state, size in CASES]
    for number, (state, size) in enumerate(exact):
        jet = random.randint(1, site.jets + 1)
        for place, look in enumerate(visit):
            pressure, watts, spilling, fluctuates = true.read(
                random, look.jets, state, size, jet, gauge_noise=SCATTER, meter_noise=SCATTER
            )
            read["pressure_pa"][number, place] = pressure
            if look.jets:
                (
                    read["power_w"][number, place],
                    read["spilling"][number, place],
                    read["fluctuates"][number, place],
                ) = watts, spilling, fluctuates
    weighed = Weighed.of(tables, visit, noise, read)
    inside = []
    for number, (state, size) in enumerate(exact):
        if state not in ("well", "stuck"):
            _, low, high = weighed.size(KEYS.index(state), number)
            inside.append(low <= in_words_of_the_state(true, state, size) <= high)
    return inside


@pytest.mark.slow
def test_stated_sizes_hold_the_truth_in_ninety_of_a_hundred():
    """independent: plants of true_plant.py read twice at every number of jets by somebody who reads better than is usual."""
    usual, own = [], []
    for number, site in enumerate(PLANTS.values()):
        random = np.random.RandomState(20 + number)
        for _ in range(4):
            true = site.drawn(random)
            first, scatter, second = commissioned(site, true, random)
            usual += held(first, Noise(), site, true, random)
            own += held(second, scatter, site, true, random)
    assert 0.85 <= np.mean(own) <= 0.95, np.mean(own)
    assert np.mean(usual) > np.mean(own), "by what is usual the intervals are too wide"


def test_scatter_is_found_and_never_below_the_steadiest():
    """Over many sets of readings the mean square is that of the readings, with two of the usual 1.2 % (gauge 0.9 %) beside the eight or nine to spare."""
    site, random = PLANTS["four small jets"], np.random.RandomState(5)
    true, found = site.drawn(random), []
    for _ in range(40):
        _, own, _ = commissioned(site, true, random)
        found.append((own.pressure, own.power))
    pressure, power = np.sqrt(np.mean(np.square(found), axis=0))
    assert power == pytest.approx(np.sqrt((2 * 0.012**2 + 8 * SCATTER**2) / 10), rel=0.1)
    assert STEADIEST <= pressure <= 0.0101
    assert scatter_of(None) is None


# --- every state at three sizes, on plants whose readings scatter as nobody stated --------------

BOTH = {"metric": PLANTS["four small jets"], "us": US_PLANT}
PAIRS = (
    (("leak", 0.2), ("machine", 0.25)),
    (("air", 0.12), ("machine", 0.25)),
    (("friction", 0.15), ("blocked", 1.0)),
    (("under_fed", 0.7), ("machine", 0.25)),
    (("gauge", 0.1), ("machine", 0.25)),
    (("gauge", -0.25), ("air", 0.25)),
    (("blocked", 1.0), ("leak", 0.2)),
)


def _held_to_the_bars(found, least_right, least_held, most_held, most_alarms):
    sick = [each for each in found if each.state != "well"]
    well = [each for each in found if each.state == "well"]
    sized = [each.in_interval for each in sick if each.state != "stuck"]
    by_case = {
        case: np.mean([each.right for each in sick if (each.state, each.size) == case])
        for case in CASES
        if case[0] != "well"
    }
    assert min(by_case.values()) >= least_right, by_case
    assert least_held <= np.mean(sized) <= most_held, np.mean(sized)
    assert np.mean([each.first != "well" for each in well]) <= most_alarms


def test_every_state_on_a_metric_and_a_us_plant():
    """independent: one drawn plant of each kind, 31 cases and 40 healthy visits; the slow test has the bars."""
    found = [
        each
        for seed, site in enumerate(BOTH.values())
        for each in all_visited(site, 0.01, 1, 40, seed)
    ]
    _held_to_the_bars(found, 0.5, 0.8, 1.0, 0.03)
    assert np.mean([each.right for each in found]) > 0.97


@pytest.mark.deep  # the plants the bars were tuned on; test_second_plants.py asks the same of others
@pytest.mark.parametrize("name", BOTH)
def test_no_miss_undeclared_few_false_alarms_and_sizes_calibrated(name):
    """independent: scatter from 0.6 to 2 %; right or declared in 90 % of each state and size, alarms in 1 % of healthy visits, 85 to 95 % of the sizes held."""
    found = [
        each
        for seed, scatter in enumerate((0.006, 0.01, 0.014, 0.02))
        for each in all_visited(BOTH[name], scatter, 5, 60, seed)
    ]
    _held_to_the_bars(found, 0.9, 0.85, 0.95, 0.01)


@pytest.mark.deep  # the plants the bars were tuned on; test_second_plants.py asks the same of others
@pytest.mark.parametrize("name", BOTH)
def test_two_at_once_are_named_or_flagged(name):
    """independent: pairs of faults, each on five drawn plants; and no healthy visit is taken for two."""
    random, site, flagged, named = np.random.RandomState(5), BOTH[name], [], []
    for _ in range(5):
        true = site.drawn(random)
        tables, noise = commissioned_plant(site, true, random, 0.01)
        for pair in PAIRS:
            found = diagnose(tables, visited(tables, true, random, 0.01, *pair), noise)
            keys = [set(each.keys) for each in found.pairs]
            named.append({state for state, _ in pair} in keys)
            flagged.append(found.two_at_once or any("two things" in str(f) for f in found.findings))
        for _ in range(10):
            found = diagnose(tables, visited(tables, true, random, 0.01, ("well", 0.0)), noise)
            assert not found.two_at_once
    assert np.mean(flagged) >= 0.9 and np.mean(named) >= 0.6
