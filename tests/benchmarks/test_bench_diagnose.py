"""How often the diagnosis is right: 500 drawn plants for each of three sites, every state at three sizes.

Bars: right (first, or declared inseparable from the first) in 95 % of the draws of every state,
false alarms in 5 % at most, the size in its 90 % interval in 90 % of the draws. The true plants are
those of tests/true_plant.py, which know nothing of hydrokit.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from seeded import CASES, KEYS, advised, seeded  # noqa: E402
from true_plant import PLANTS, STATES  # noqa: E402

DRAWS = 500


def shown(name, outcomes):
    print(f"\n{name}: {len(outcomes) // len(CASES)} draws of each")
    print(
        f"{'state':9s} {'size':>6s} {'first':>6s} {'right':>6s} {'left':>5s} {'in 90 %':>8s}   named instead"
    )
    for state, size in CASES:
        mine = [each for each in outcomes if (each.state, each.size) == (state, size)]
        others = Counter(each.first for each in mine if each.first != state).most_common(3)
        first, right, left, held = (
            np.mean(
                [getattr(each, what) if what != "first" else each.first == state for each in mine]
            )
            for what in ("first", "right", "left", "in_interval")
        )
        print(
            f"{state:9s} {size:6.2f} {first:6.1%} {right:6.1%} {left:5.1f} {held:8.1%}   "
            + ", ".join(f"{key} {count / len(mine):.0%}" for key, count in others)
        )
    print("confusion, all sizes: rows seeded, columns named first")
    print(" " * 9 + "".join(f"{key:>9s}" for key in KEYS))
    for state in STATES:
        mine = Counter(each.first for each in outcomes if each.state == state)
        print(f"{state:9s}" + "".join(f"{mine[key] / sum(mine.values()):9.1%}" for key in KEYS))


def by_state(outcomes, what):
    return {
        state: np.mean([getattr(each, what) for each in outcomes if each.state == state])
        for state in STATES
    }


@pytest.mark.parametrize("commissioned", [True, False], ids=["commissioned", "not commissioned"])
@pytest.mark.parametrize("name", PLANTS)
def test_right_in_nineteen_of_twenty(benchmark, name, commissioned):
    outcomes = benchmark.pedantic(seeded, (PLANTS[name], DRAWS, 1, commissioned), rounds=1)
    shown(f"{name}, {'commissioned' if commissioned else 'not commissioned'}", outcomes)
    right, held = by_state(outcomes, "right"), by_state(outcomes, "in_interval")
    false_alarms = np.mean([each.first != "well" for each in outcomes if each.state == "well"])
    print(
        f"right, worst state {min(right, key=right.get)} {min(right.values()):.1%} (bar 95 %); false alarms {false_alarms:.1%} (bar 5 %); in 90 % interval, worst {min(held, key=held.get)} {min(held.values()):.1%}"
    )
    if commissioned:
        assert min(right.values()) >= 0.95 and false_alarms <= 0.05


@pytest.mark.parametrize("name", PLANTS)
def test_the_advised_action_helps(benchmark, name):
    share = benchmark.pedantic(advised, (PLANTS[name], 20), rounds=1)
    print(
        f"\n{name}: named first after one look {share[0]:.0%}, after each advised action "
        + ", ".join(f"{each:.0%}" for each in share[1:])
    )
    assert share[-1] > share[0]
