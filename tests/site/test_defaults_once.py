"""A default of the site file stands once, in the schema: nobody gives it again where a key is read."""

import ast
from pathlib import Path

import pytest

import hydrokit
from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS

ROOT = Path(hydrokit.__file__).parent
KEYS = {key for keys in (*SECTIONS.values(), *LISTS.values(), *PART_KINDS.values()) for key in keys}
MODULES = sorted(
    path.relative_to(ROOT).as_posix()
    for room in ("site", "study", "report", "lab")
    for path in (ROOT / room).rglob("*.py")
)


def second_defaults(text):
    """Calls of `.get` that give a key of the site file a default of their own."""
    return [
        f"line {node.lineno}: {ast.unparse(node)}"
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "get"
        and len(node.args) == 2
        and isinstance(node.args[0], ast.Constant)
        and node.args[0].value in KEYS
        and not (isinstance(node.args[1], ast.Constant) and node.args[1].value is None)
    ]


def test_a_second_default_is_seen():
    assert second_defaults("site['cable'].get('material', 'copper')")
    assert not second_defaults("site['cable'].get('material'); {}.get('no key', 3)")


@pytest.mark.parametrize("name", MODULES)
def test_a_default_stands_once(name):
    found = second_defaults((ROOT / name).read_text(encoding="utf-8"))
    assert not found, f"read it as section.key, whose default is the schema's: {found}"
