"""The calibration: its truth, its table on the verification page, and some of its worlds again."""

import re
from pathlib import Path

import numpy as np
import pytest
import true_world
from scipy.stats import binom

from hydrokit.report.pages import verification as page
from hydrokit.report.verification import Calibrated, published_folder, read_calibration

HERE = Path(__file__).parent


def test_the_truth_knows_nothing_of_the_package():
    source = (HERE / "true_world.py").read_text(encoding="utf-8")
    assert not re.search(r"^\s*(from|import) hydrokit", source, re.M)


def test_a_store_that_bounces_is_walked_day_by_day():
    """analytic: the same store, step by step."""
    steps, store, walked = np.random.default_rng(3).standard_normal(400), 0.0, []
    for step in steps:
        store = max(store + step, 0.0)
        walked.append(store)
    assert true_world.bounced(steps) == pytest.approx(walked, abs=1e-10)


def test_the_stage_of_a_flow_gives_that_flow_again():
    control = true_world.Control(0.8, 2.0, 0.1, 0.2, 2.4)
    over = control.stage(np.array([0.01, 0.032, 0.2])) - 0.1
    low, high = 0.8 * over**2, 0.8 * 0.2**2 * (over / 0.2) ** 2.4
    assert np.where(over > 0.2, high, low) == pytest.approx([0.01, 0.032, 0.2])


def test_an_answer_that_misses_is_said_to_miss(tmp_path):
    (tmp_path / "calibration.csv").write_text(
        "date,answer,worlds,held,below,above\n2026-01-02,a flow,300,270,15,15\n2026-01-02,an energy,300,240,40,20\n"
    )
    shown = str(page.calibration(tmp_path)) + repr(page.calibration_table(tmp_path))
    assert "1 of 2" in shown and "an energy (80 %)" in shown and "2026-01-02" in shown
    assert shown.count("NO: too narrow") == 1


def test_the_table_counts_every_world():
    found = read_calibration(published_folder())
    assert len(found) > 12
    assert all(each.held + each.below + each.above == each.worlds for each in found)
    assert str(page.calibration()).count(found[0].date) == 1


@pytest.mark.deep
def test_some_worlds_again_are_as_the_table_says():
    """Sixty worlds other than those of the table: as many held as its shares let one expect."""
    import worlds

    told: dict[str, Calibrated] = {
        each.answer: each for each in read_calibration(published_folder())
    }
    for name, found in worlds.tried(range(10_000, 10_060)).items():
        count, held, *_ = worlds.counted(found)
        share = (told[worlds.NAMES[name]].held + 1) / (told[worlds.NAMES[name]].worlds + 2)
        low, high = binom.ppf([0.0005, 0.9995], count, share)
        assert low <= held <= high, (name, held, count, share)
