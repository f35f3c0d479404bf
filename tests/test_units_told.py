"""No sentence of the package carries an amount as text: every one of them is told in the reader's units."""

import ast
import re

import pytest
import shared
from test_house import ROOT, modules

from hydrokit.sentences import KINDS, Amount, Reader, Sentence

METRIC, US = Reader(), Reader("us")
# Units of one system that a reader of the other must not meet; mg/L, kWh, W and s are those of both.
ONLY_METRIC = r"(?:L/s|m³/s|m³|m²/s|m²|m/s|mm|cm|km|m|bar|kPa|°C|K|kg/m³|kg|kN|W/K)"
ONLY_US = (
    r"(?:gpm|ft³/s|ft²/s|ft³|ft²|ft/s|ft|in|mi|mi²|psi|°F|lb/ft³|lb|lbf|gal|acre-ft|in²|Btu/h/°F)"
)
END = r"(?![\w/²³·-])"
# A number, or the place of one, with a unit behind it.
TYPED = re.compile(rf"(?:\d|\}})\s?(?:{ONLY_METRIC}){END}")
SHOWN = {METRIC: re.compile(rf"\d\s?{ONLY_US}{END}"), US: re.compile(rf"\d\s?{ONLY_METRIC}{END}")}
# Lists of keys and columns with their bounds and examples, and a style sheet: no sentences.
LISTS = (
    "values.py",
    "field_pages.py",
    "field_sheets.py",
    "own_sheets.py",
    "changes_written.py",  # values as they are written into a site file
)
# The names under which metric pipe is sold; no unit of them is converted.
GOODS = re.compile(r"\d+ mm PVC-U (?:PN|SDR) \d+")
# Texts that are no sentence, or give both systems.
APART = (
    "exceeds 0.9 m²/s (10 ft²/s)",
    "0.1 m (4 in)",
    "0.3 m/s (1 ft/s)",
    "200 mm {",
    " mm {",  # the name under which metric pipe is sold
    " mm PVC-U PN {",
    " mm PVC-U SDR {",
    "is exactly {outside} mm, which is an outside size",
)


def texts(path):
    """Every text of a module that might be shown, with its line: no docstrings, no units of arguments, no defaults."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = set()
    for node in ast.walk(tree):
        parts = []
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef)):
            first = node.body[0] if node.body else None
            parts += [first] if isinstance(first, ast.Expr) else []
        if isinstance(node, ast.FunctionDef):
            parts += [*node.decorator_list, node.args]
        if isinstance(node, ast.JoinedStr):
            parts += node.values
        left_out |= {id(each) for part in parts for each in ast.walk(part)}
    for node in ast.walk(tree):
        if id(node) in left_out:
            continue
        if isinstance(node, ast.JoinedStr):
            yield (
                node.lineno,
                "".join(
                    str(each.value) if isinstance(each, ast.Constant) else "{}"
                    for each in node.values
                ),
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.lineno, node.value


def without_examples(text):
    """A sentence without what it tells a person to type, which stands in quotes."""
    return re.sub(r'"[^"]*"', "", text)


@pytest.mark.parametrize(
    "path",
    [each for each in modules() if not each.name.startswith("schema") and each.name not in LISTS],
    ids=lambda path: path.relative_to(ROOT).as_posix(),
)
def test_no_text_holds_an_amount(path):
    found = [
        f"{path.name}:{line}: {text}"
        for line, text in texts(path)
        if TYPED.search(without_examples(text).replace("{}", "{x}"))
        and not any(each in text for each in APART)
    ]
    assert not found, "write Sentence(..., Amount(...)) instead"


def test_such_a_text_is_found():
    for text in (
        "at {x} m",
        "0.04 °C of cold",
        "denser than 600 kg/m³",
        "some {x:.3g} L/s come",
        "4 K",
    ):
        assert TYPED.search(text)
    assert not TYPED.search("{x} members, 3 months, 5 s, {x} mg/L, {x} kWh")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_told_without_a_foreign_unit(kind):
    told = Sentence("at {a}, of {b}", a=Amount(281.3, kind), b=Amount((281.3, 512.7), kind))
    for reader, foreign in SHOWN.items():
        assert not foreign.search(reader.told(told)), reader.told(told)


@pytest.mark.parametrize(
    "name",
    [
        "several machines",
        "heated house",
        pytest.param("line that stalls", marks=pytest.mark.slow),
        pytest.param("leak", marks=pytest.mark.slow),
    ],
)
def test_findings_of_a_study_are_told_without_a_foreign_unit(name):
    study = shared.odd(name)
    told = [each.sentence for each in study.findings() if isinstance(each.sentence, Sentence)]
    for reader, foreign in SHOWN.items():
        for each in told:
            assert not foreign.search(GOODS.sub("", reader.told(each))), reader.told(each)
