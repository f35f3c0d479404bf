"""Faults seeded in true plants (of true_plant.py), commissioned and diagnosed with hydrokit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from true_plant import PSI, SIZES, STATES, US_PLANT

from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import FixedJets, Penstock, Runner, steady
from hydrokit.plant.runner_speed import HELD, UNKNOWN
from hydrokit.running.card import expected
from hydrokit.running.commission import commission
from hydrokit.running.diagnose import diagnose
from hydrokit.running.faults import FAULTS
from hydrokit.running.observation import Noise, Observation
from hydrokit.running.reading import Reading
from hydrokit.running.rehearsal import usual_visit
from hydrokit.running.scatter import scatter_of, with_visits
from hydrokit.running.signatures import signatures
from hydrokit.running.weighing import Weighed
from hydrokit.works.pipe import Line, Pipe

CASES = tuple((state, size) for state in STATES for size in SIZES[state])
KEYS = tuple(fault.key for fault in FAULTS)
NOISE = Noise(0.02, 0.02)


@dataclass(frozen=True)
class Outcome:
    """What became of one seeded fault."""

    state: str
    size: float
    first: str
    right: bool  # first, or declared inseparable from the first
    left: int  # states left, the first included
    in_interval: bool


def line_of(site):
    """The pipe as the site file would have it."""
    return Line((Pipe(site.bore, site.length, site.roughness, fittings=site.fittings),))


def baseline_of(site, true, random, commissioned=True):
    """Commissioned on one healthy reading at every number of jets; or as the site file promises."""
    jets = FixedJets((site.jet_bore,) * site.jets, site.coefficient)
    if not commissioned:
        promised = Chain(Penstock(line_of(site), site.head), jets, Runner(steady(site.efficiency)))
        return expected(promised, head=0.01, loss=0.2, jet_area=0.05, efficiency=0.05)
    seen = []
    for count in range(site.jets + 1):
        pressure, watts, _, _ = true.read(random, count)
        seen.append(
            Reading(count, pressure, watts if count else np.nan, flow_m3s=np.nan, spilling=True)
        )
    return commission(
        seen,
        jets,
        line_of(site),
        coefficient_sd=0.05,
        pressure_sd=NOISE.pressure,
        power_sd=NOISE.power,
    )


def in_words_of_the_state(true, state, size):
    """The seeded size as the diagnosis measures it."""
    weight = 999.7 * 9.80665
    by = {
        "air": true.head,
        "friction": true.head,
        "gauge": weight * true.head,
        "stuck": weight * true.head,
        "drawn": 1.0,
    }
    return 1 - size if state == "under_fed" else size * by.get(state, 1.0)


def seeded(site, draws, seed=1, commissioned=True):
    """Every state and size on so many drawn plants: a careful visit, then the diagnosis."""
    random = np.random.RandomState(seed)
    found = []
    for _ in range(draws):
        true = site.drawn(random)
        tables = signatures(baseline_of(site, true, random, commissioned))
        visit = usual_visit(tables.plant)
        read = {
            name: np.full((len(CASES), len(visit)), np.nan)
            for name in ("pressure_pa", "power_w", "spilling", "fluctuates")
        }
        for number, (state, size) in enumerate(CASES):
            jet = random.randint(1, site.jets + 1)
            for place, look in enumerate(visit):
                pressure, watts, spilling, fluctuates = true.read(
                    random, look.jets, state, size, jet
                )
                read["pressure_pa"][number, place] = pressure
                if look.jets:
                    (
                        read["power_w"][number, place],
                        read["spilling"][number, place],
                        read["fluctuates"][number, place],
                    ) = watts, spilling, fluctuates
        weighed = Weighed.of(tables, visit, NOISE, read)
        chance, unparted = weighed.verdict()
        for number, (state, size) in enumerate(CASES):
            mine = KEYS.index(state)
            _, low, high = weighed.size(mine, number)
            held = low <= in_words_of_the_state(true, state, size) <= high
            found.append(
                Outcome(
                    state,
                    size,
                    KEYS[int(chance[:, number].argmax())],
                    bool(unparted[mine, number]),
                    int(unparted[:, number].sum()),
                    held,
                )
            )
    return found


@dataclass(frozen=True)
class Visited:
    """What became of one visit to a plant whose readings scatter as nobody stated."""

    state: str
    size: float
    first: str
    right: bool
    in_interval: bool


def commissioned_plant(site, true, random, scatter, healthy_visits=6):
    """Read once at each number of jets, then some healthy visits: signatures, and the scatter of it all."""
    jets = FixedJets((site.jet_bore,) * site.jets, site.coefficient)
    seen = []
    for count in range(site.jets + 1):
        pressure, watts, _, _ = true.read(random, count, gauge_noise=scatter, meter_noise=scatter)
        seen.append(Reading(count, pressure, watts if count else np.nan, spilling=True))
    # a governor is written down; what else may hold a runner's speed is not
    told = {"coefficient_sd": 0.05, "speed": HELD if getattr(site, "held", 0) == 1 else UNKNOWN}
    noise = scatter_of(commission(seen, jets, line_of(site), **told))
    spread = {"pressure_sd": noise.pressure, "power_sd": noise.power}
    tables = signatures(commission(seen, jets, line_of(site), **told, **spread))
    visits = [visited(tables, true, random, scatter, ("well", 0.0)) for _ in range(healthy_visits)]
    return tables, with_visits(noise, tables, visits)


def visited(tables, true, random, scatter, *faults):
    """A careful visit to a plant with such faults: what would be written down."""
    (state, size), *others = faults
    first, second = random.randint(1, true.jets + 1), random.randint(1, true.jets + 1)
    also = [(name, amount, second) for name, amount in others]
    looks = []
    for look in usual_visit(tables.plant):
        pressure, watts, spilling, fluctuates = true.read(
            random,
            look.jets,
            state,
            size,
            first,
            gauge_noise=scatter,
            meter_noise=scatter,
            also=also,
        )
        if true.head == US_PLANT.head:
            pressure, watts = PSI * round(pressure / PSI * 2) / 2, 10.0 * round(watts / 10)
        looks.append(
            Observation(look.jets, pressure, watts, spilling=spilling, fluctuates=fluctuates)
            if look.jets
            else Observation(0, pressure)
        )
    return looks


def all_visited(site, scatter, plants, healthy, seed):
    """Every state and size, and so many healthy visits, on so many drawn plants: what was made of each."""
    random, found = np.random.RandomState(seed), []
    for _ in range(plants):
        true = site.drawn(random)
        tables, noise = commissioned_plant(site, true, random, scatter)
        cases = [*CASES, *[("well", 0.0)] * healthy]
        exact = [(state, about(random, state, size)) for state, size in cases]
        looks = [visited(tables, true, random, scatter, case) for case in exact]
        names = ("pressure_pa", "power_w", "spilling", "fluctuates")
        read = {
            name: np.array([[_number(getattr(each, name)) for each in visit] for visit in looks])
            for name in names
        }
        weighed = Weighed.of(tables, looks[0], noise, read)
        chance, unparted = weighed.verdict()
        for number, (state, size) in enumerate(cases):
            mine = KEYS.index(state)
            _, low, high = weighed.size(mine, number)
            held = low <= in_words_of_the_state(true, state, exact[number][1]) <= high
            first = KEYS[int(chance[:, number].argmax())]
            found.append(Visited(state, size, first, bool(unparted[mine, number]), held))
    return found


def about(random, state, size):
    """A size near the one of the table, so that none lies on one that the diagnosis tries."""
    near = size * random.uniform(0.95, 1.05)
    return min(near, 1.0) if state in ("blocked", "under_fed") else near


def _number(value):
    return np.nan if value is None else float(value)


def advised(site, draws, seed=1, actions=3):
    """Start from one look at gauge and meters; do what is advised, look again, up to so often.

    Returns the share of faults that come first after each look.
    """
    random = np.random.RandomState(seed)
    right = np.zeros(actions + 1)
    many = 0
    for _ in range(draws):
        true = site.drawn(random)
        tables = signatures(baseline_of(site, true, random))
        for state, size in CASES:
            jet, looks, many = random.randint(1, site.jets + 1), [], many + 1
            look(true, random, looks, site.jets, state, size, jet, ("pressure_pa", "power_w"))
            for step in range(actions + 1):
                told = diagnose(tables, looks, NOISE)
                right[step] += told.first.key == state
                action = told.first.action
                if action is None or step == actions:
                    right[step + 1 :] += told.first.key == state
                    break
                now = max(each.jets for each in looks)
                tried = {each.jets for each in looks}
                fewer = max((count for count in range(1, now) if count not in tried), default=1)
                what = {
                    "needle": (now, ("fluctuates",)),
                    "watts": (now, ("power_w",)),
                    "close a jet": (fewer, ("pressure_pa", "power_w", "fluctuates")),
                    "open a jet": (now + 1, ("pressure_pa", "power_w", "fluctuates")),
                    "shut off": (0, ("pressure_pa",)),
                    "upper valve": (0, ("falls",)),
                    "spillway": (now, ("spilling",)),
                    "other gauge": (now, ("true_pa",)),
                    "flow": (now, ("flow_m3s",)),
                }[action.key]
                look(true, random, looks, what[0], state, size, jet, what[1])
    return right / many


def look(true, random, looks, jets, state, size, jet, names):
    """Add an observation of some things."""
    pressure, watts, spilling, fluctuates = true.read(random, jets, state, size, jet)
    really, _, flow, _ = true.true_reading(
        jets, "well" if state in ("gauge", "stuck") else state, size, jet
    )
    values = {
        "pressure_pa": pressure,
        "power_w": watts,
        "spilling": spilling,
        "fluctuates": fluctuates,
        "true_pa": really * (1 + 0.02 * random.standard_normal()),
        "falls": state == "leak",  # shut above and below, only what seeps out lowers the needle
        "flow_m3s": flow * (1 + 0.08 * random.standard_normal()),
    }
    looks.append(Observation(jets, **{name: values[name] for name in names}))
