"""A reader who is told to give a key of the site file finds that key: texts of pages and findings name those of the schema."""

import ast
import re
from pathlib import Path

import pytest

import hydrokit
from hydrokit.site.schema import LISTS, SECTIONS

ROOT = Path(hydrokit.__file__).parent
MODULES = sorted(
    path for room in ("report", "study", "lab") for path in (ROOT / room).rglob("*.py")
)
# "give visit = 8 and value = "0.30 per kWh" under [costs]", "write voltage under [cable]"
ASKED = re.compile(
    r"\b(?:[Gg]ive|[Ww]rite|[Aa]dd) (?!it\b|them\b)(\w+)(?: = (?:\"[^\"]*\"|\S+))?(?: (?:and|or) (\w+))?"
    r"(?: = (?:\"[^\"]*\"|\S+))? under \[+([\w.]+)\]"
)


def texts(source):
    """Every text of a module, the pieces of formatted ones joined."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.JoinedStr):
            parts = [each.value if isinstance(each, ast.Constant) else "…" for each in node.values]
            yield "".join(map(str, parts))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def unknown_keys(source):
    """What a reader is asked for that no site file can hold."""
    found = []
    for text in texts(source):
        for first, second, section in ASKED.findall(text):
            keys = SECTIONS.get(section) or LISTS.get(section) or {}
            found += [f"[{section}] {key}" for key in (first, second) if key and key not in keys]
    return found


@pytest.mark.parametrize(
    "path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix().removesuffix(".py")
)
def test_a_key_that_is_asked_for_exists(path):
    assert not unknown_keys(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("x = 'give voltage under [generator]'", ["[generator] voltage"]),
        ("x = 'Write steady = \"700 W\" under [loads]'", ["[loads] steady"]),
        ("x = f'{1}: give voltage under [cable]'", []),
        ("x = 'give visit = 8 and value = \"0.30 per kWh\" under [costs]'", []),
    ],
)
def test_a_key_that_is_not_there_is_seen(line, found):
    assert unknown_keys(line) == found
