"""One question, one answer: the same key shows the same number on every page, and the answers agree among themselves."""

from __future__ import annotations

import re
from collections import defaultdict

import numpy as np
import odd_studies
import pytest
import shared
import short_demos
import small_study

from hydrokit.report.display import Cautions, Picture, Words
from hydrokit.report.pages import common
from hydrokit.report.prints.print_set import sheets_of
from hydrokit.study.keyed import keys
from hydrokit.study.questions import questions

QUICK = {
    "log and no record",
    "several machines",
}  # the rest when there is time
STUDIES = [
    pytest.param(name, marks=() if name in QUICK else pytest.mark.slow)
    for name in (*odd_studies.NAMES, *short_demos.NAMES)
]
_NUMBER = re.compile(r"-?\d[\d,]*(?:\.\d+)?")
_MARKED_UP = re.compile(r'<data value="([a-z0-9_.]+)">([^<]*)</data>')


@pytest.fixture(scope="module")
def study_of():
    made = {}

    def opened(name):
        if name not in made:
            made[name] = shared.odd(name) if name in odd_studies.NAMES else shared.short(name)
        return made[name]

    return opened


def keyed_numbers(shown):
    """Every (key, number as it reads) of a thing shown; the unit may stand in a column's title instead."""
    if isinstance(shown, (Cautions, Picture)):
        found = keys(shown.alt) if isinstance(shown, Picture) else []
    else:
        found = (
            keys(shown.marked)
            if isinstance(shown, Words)
            else _MARKED_UP.findall(shown._repr_html_())
        )
    for key, text in found:
        numbers = _NUMBER.findall(text)
        yield key, tuple(numbers) if numbers else text


def told_by(study, system):
    """key -> {number as it reads: where}."""
    told = defaultdict(lambda: defaultdict(set))
    for module, name, section in (
        ("common", "understood", common.understood),
        *small_study.page_sections(),
    ):
        for key, number in keyed_numbers(section(study, study.view(system))):
            told[key][number].add(f"{module}.{name}")
    for sheet in sheets_of(study, study.view(system)):
        for key, text in _MARKED_UP.findall(sheet.body):
            told[key][tuple(_NUMBER.findall(text)) or text].add(sheet.file)
    return told


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", STUDIES)
def test_a_question_has_one_number_wherever_it_stands(study_of, name, system):
    told = told_by(study_of(name), system)
    assert told, "no page shows an answer"
    apart = {key: dict(numbers) for key, numbers in told.items() if len(numbers) > 1}
    assert not apart


@pytest.mark.parametrize("name", STUDIES)
def test_answers_agree_among_themselves(study_of, name):
    study = study_of(name)

    def value(key):
        found = study.answer(key) if key in questions() else None
        return np.nan if found is None else np.asarray(found.value, dtype=float)

    def at_most(less, more):
        less, more = np.broadcast_arrays(less, more)
        known = np.isfinite(less) & np.isfinite(more)
        assert np.all(less[known] <= more[known] * (1 + 1e-9) + 1e-9), (less, more)

    at_most(value("demand.met"), value("energy.net"))
    at_most(value("demand.met"), value("demand.annual"))
    at_most(value("energy.net"), value("energy.gross"))
    for of in ("annual", "mean"):
        levels = [value(f"energy.{of}.{level}") for level in ("p99", "p90", "p75", "p50")]
        for less, more in zip(levels, levels[1:]):
            at_most(less, more)
    days = sum(np.sum(value(f"days.{state}")) for state in ("full", "part", "underfed", "stopped"))
    assert np.isnan(days) or days == pytest.approx(365.25, abs=1.0)
    made = study.answer("energy.log") if "energy.log" in questions() else None
    if made is not None:
        annual = study.answer("energy.annual.p50")
        assert annual.low <= made.value <= annual.high
    steps, met = study.upgrades, study.answer("demand.met")
    if steps is not None and met is not None and "useful_kwh" in steps.base:
        # the staircase begins where the page on using the power ends
        assert steps.base["useful_kwh"] == pytest.approx(met.value, rel=1e-5)


@pytest.mark.parametrize("name", STUDIES)
def test_every_answer_says_where_it_comes_from(study_of, name):
    study = study_of(name)
    for key in questions():
        found = study.answer(key)
        if found is None:
            continue
        assert len(found.source) > 3 and found.digits in (1, 2, 3, 4)
        if not isinstance(found.value, str):
            low, high, value = np.broadcast_arrays(
                found.low, found.high, np.asarray(found.value, dtype=float)
            )
            known = np.isfinite(low) & np.isfinite(high)
            near = 1e-9 * (1 + np.abs(value))
            assert np.all((low <= value + near)[known]) and np.all((value <= high + near)[known]), (
                key
            )
