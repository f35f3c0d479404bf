"""The contributor's guide names places that are there, and few of them for each change."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ROWS = [
    line.strip("| ").split(" | ")
    for line in GUIDE[GUIDE.index("## Where a change goes") :].splitlines()[4:]
    if line.startswith("|")
]


def test_the_fifteen_changes_stand_there():
    assert len(ROWS) == 15


@pytest.mark.parametrize("change, files", ROWS, ids=[row[0] for row in ROWS])
def test_a_change_goes_to_places_that_exist_and_to_few(change, files):
    named = [each for each in re.findall(r"`([^`]+)`", files) if "/" in each or each == "studies"]
    assert 1 <= len(named) <= 2, change
    for each in named:
        assert (ROOT / each).exists(), each


def test_every_file_the_guide_names_by_its_path_exists():
    for each in set(re.findall(r"`((?:hydrokit|tests|notebooks|studies)/[\w/.]+)`", GUIDE)):
        assert (ROOT / each).exists(), each
