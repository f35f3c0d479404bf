"""Whatever a study lacks, it is checked, and every page says something sensible: what is known, or what to measure."""

import random

import pytest
import short_demos
import small_study
from test_hostile import assert_told

from hydrokit.errors import InputError
from hydrokit.site.new_study import write_new_study
from hydrokit.study.opening import check_study, open_study

CASES = [(name, part) for name in short_demos.NAMES for part in short_demos.parts_of(name)]
# Each part once; in the other demos when there is time.
FIRST = {(name, part) for part, name in {part: name for name, part in CASES}.items()}
# Without a name nothing is made; the others are asked for by name elsewhere in the file, and may be left out with what asks for them.
NEEDED = {
    ("site",): 'it needs at least name = "..."',
    ("penstock",): "needs the old one described under [[penstock.pipe]]",
    ("penstock", "pipe"): "needs the old one described under [[penstock.pipe]]",
    ("cable",): "[cable] has none either",
    ("weir",): "needs the plate",
}
ASKERS = {
    ("penstock",): [("upgrade",)],
    ("penstock", "pipe"): [("upgrade",)],
    ("cable",): [("circuit",), ("upgrade",)],
    ("weir",): [("stream", "weir")],
}


def label(case):
    return case if isinstance(case, str) else ".".join(case)


@pytest.mark.parametrize(
    "name, part",
    [pytest.param(*case, marks=() if case in FIRST else pytest.mark.slow) for case in CASES],
    ids=label,
)
def test_it_is_checked_without_any_one_section(tmp_path, name, part):
    try:
        findings = check_study(short_demos.without(tmp_path, name, part))
    except InputError as error:
        assert part in NEEDED and NEEDED[part] in str(error)
        for mistake in error.mistakes:
            assert_told(mistake.text)
        return
    assert part != ("site",)
    for finding in findings:
        assert_told(finding.message)


def assert_pages_are_sensible(study):
    """Every section of every page says something a person can use."""
    assert not small_study.NOT_A_NUMBER.search(repr(study.results()))
    for finding in study.told():
        assert_told(finding.message)
    for name, text in small_study.told_by_sections(study):
        assert name != "headline" or len(text) > 20


WORKED_OUT = [case for case in CASES if case[1] != ("site",)]
OFTEN = set(random.Random(7).sample(WORKED_OUT, 2))


@pytest.mark.parametrize(
    "name, part",
    [
        pytest.param(*case, marks=pytest.mark.slow if case in OFTEN else pytest.mark.deep)
        for case in WORKED_OUT
    ],
    ids=label,
)
def test_all_pages_without_any_one_section(tmp_path, name, part):
    assert_pages_are_sensible(
        open_study(short_demos.without(tmp_path, name, part, *ASKERS.get(part, ())))
    )


@pytest.mark.parametrize("units", [pytest.param("metric", marks=pytest.mark.slow), "us"])
def test_all_pages_of_a_new_study(tmp_path, units):
    write_new_study(tmp_path / "mine", units)
    assert_pages_are_sensible(open_study(tmp_path / "mine"))
