"""The contributor's guide names places that are there, and few of them for each change."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from hydrokit.energy.levels import LEVELS
from hydrokit.plant.jets import JET_KINDS
from hydrokit.running.faults import FAULTS
from hydrokit.site.field_sheets import KINDS, FieldSheets
from hydrokit.site.schema import Site
from hydrokit.stream.rules import RULE_KINDS

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ALONE = ("studies", "notebooks", "pyproject.toml")  # named without a folder before them
ROWS = [
    line.strip("| ").split(" | ")
    for line in GUIDE[GUIDE.index("## Where a change goes") :].splitlines()[4:]
    if line.startswith("|")
]


def test_the_fifteen_changes_stand_there():
    assert len(ROWS) == 15


@pytest.mark.parametrize("change, files", ROWS, ids=[row[0] for row in ROWS])
def test_a_change_goes_to_places_that_exist_and_to_few(change, files):
    named = [each for each in re.findall(r"`([^`]+)`", files) if "/" in each or each in ALONE]
    assert 1 <= len(named) <= 2, change
    for each in named:
        assert (ROOT / each).exists(), each


def test_every_file_the_guide_names_by_its_path_exists():
    for each in set(re.findall(r"`((?:hydrokit|tests|notebooks|studies)/[\w/.]+)`", GUIDE)):
        assert (ROOT / each).exists(), each


# --- what a table lists is listed nowhere else, so that one more of it goes where the guide says ---------


@cache
def texts_of(path):
    """The texts that a module holds whole, but for its docstrings; what a type names stands in it too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {
        each.value
        for each in ast.walk(tree)
        if isinstance(each, ast.Constant) and isinstance(each.value, str)
    }


def listing(names, most):
    """The modules that hold as many of these names, or more: a list of them."""
    modules = [*(ROOT / "hydrokit").rglob("*.py")]
    return {
        path.relative_to(ROOT).as_posix()
        for path in modules
        if "_notebooks" not in path.parts and len(texts_of(path) & set(names)) > most
    }


def lesson_names():
    return [path.stem for path in (ROOT / "notebooks" / "lessons").glob("*.ipynb")]


def notebook_names():
    return [path.stem for path in (ROOT / "notebooks").glob("[0-9]*.ipynb")]


LISTS = {
    "jets": (JET_KINDS, {"hydrokit/plant/jets.py", "hydrokit/site/schema_plant.py"}),
    "rules of residual flow": (RULE_KINDS, {"hydrokit/stream/rules.py"}),
    "faults": ([each.key for each in FAULTS], {"hydrokit/running/faults.py"}),
    "field sheets": (KINDS, {"hydrokit/site/field_sheets.py", "hydrokit/stream/gauging.py"}),
    "levels": ([f"P{each}" for each in LEVELS], set()),
    "lessons": (lesson_names(), {"hydrokit/lab/timetable.py"}),  # two days need not hold them all
    "notebooks": (notebook_names(), set()),
    "demos": ([path.name for path in (ROOT / "studies").iterdir()], set()),
}


@pytest.mark.parametrize("names, where", LISTS.values(), ids=LISTS)
def test_what_a_table_lists_is_listed_nowhere_else(names, where):
    assert listing(names, len(names) / 2) == where


def test_a_kind_named_for_the_site_file_is_one_that_is_known():
    assert set(Site.turbine.schema["jet_kind"].choices) == set(JET_KINDS)
    assert {kind.key for kind in KINDS.values()} <= set(FieldSheets.schema)
