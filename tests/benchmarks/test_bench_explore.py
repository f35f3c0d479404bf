"""How long a turn of a knob takes, from the new value to the finished picture and numbers.

Bar: 100 ms on a quiet machine, most of which is left to the browser.
"""

from itertools import cycle
from pathlib import Path

import pytest

from hydrokit.lab import explore
from hydrokit.study.opening import open_study

STUDIES = Path(__file__).resolve().parents[2] / "studies"


@pytest.fixture(scope="module")
def study():
    opened = open_study(STUDIES / "alder-burn")
    opened.site = opened.site.changed(upgrade=opened.site.upgrade[:3])
    return opened


@pytest.mark.parametrize("panel", explore.__all__)
def test_a_turn(benchmark, study, panel):
    made = getattr(explore, panel)(study, study.view())
    turns = cycle([{knob.name: value} for knob in made.knobs for value in knob.values])
    made.numbers(), made.png()  # what stands is drawn once

    def turn():
        made.numbers(**next(turns))
        return made.png()

    assert benchmark(turn)
    benchmark.extra_info["bar_ms"] = 100
