"""Answers: evidence in its order, numbers that carry their key, questions nobody asks twice."""

import ast
import re
from pathlib import Path

import numpy as np
import pytest
import shared

import hydrokit.report.pages as pages
from hydrokit.errors import HydrokitError
from hydrokit.report.display import Table, Words
from hydrokit.report.marking import markdown
from hydrokit.study.answer import Answer, Evidence, best
from hydrokit.study.keyed import keyed, keys
from hydrokit.study.questions import questions
from hydrokit.study.view import View


def answer(value, evidence, low=np.nan, high=np.nan, source="a way"):
    return Answer(
        "capacity.intake", value, "flow", low=low, high=high, evidence=evidence, source=source
    )


def test_a_measurement_comes_before_a_formula_in_whatever_order_they_are_given():
    measured, formula = (
        answer(0.006, Evidence.MEASURED_ON_THE_PLANT, 0.005, 0.007, "the bucket"),
        answer(0.0193, Evidence.CALCULATED, 0.015, 0.024, "the formula"),
    )
    for found in (best(measured, formula), best(formula, None, measured)):
        assert found.value == 0.006 and found.set_aside[0].value == 0.0193
        assert re.search("formula gives 222 % more than the bucket", found.findings[0].message)


def test_ways_that_agree_within_their_uncertainty_are_no_finding():
    assert (
        best(
            answer(1.0, Evidence.MEASURED_HERE, 0.8, 1.2),
            answer(1.3, Evidence.CALCULATED, 1.1, 1.5),
        ).findings
        == ()
    )


def test_what_is_not_known_is_no_candidate():
    assert best(answer(np.nan, Evidence.MEASURED_HERE), answer(2.0, Evidence.ASSUMED)).value == 2.0
    assert best(None, answer(np.nan, Evidence.ASSUMED)) is None


def test_a_number_keeps_its_key_through_words_tables_and_markdown():
    shown = View("us").shown(Answer("head.gross", 50.0, "head"))
    words = Words(f"The head is **{shown}**.")
    assert str(words) == "The head is **164 ft**." and keys(words.marked) == [
        ("head.gross", "164 ft")
    ]
    assert '<strong><data value="head.gross">164 ft</data></strong>' in markdown(
        words._repr_markdown_()
    )
    table = Table(("what", f"head of {shown}"), [("gross", shown)], f"The head of {shown}")
    assert table._repr_html_().count(
        '<data value="head.gross">164 ft</data>'
    ) == 3 and "data value" not in repr(table)
    assert not re.search("[\ue000-\ue002]", table._repr_html_() + repr(table))


def test_only_keys_pass_as_markup():
    for hostile in (
        '<data value="x" onclick="y">',
        "<data value=x>",
        '<DATA VALUE="x">',
        "<b>",
        '<data value="../x">',
    ):
        assert (
            "&lt;" in markdown(hostile)
            and "<data" not in markdown(hostile)
            and "<b>" not in markdown(hostile)
        )
    assert "<script" not in Table(("a",), [(keyed("a.b", "<script>"),)])._repr_html_()


def test_twelve_months_are_asked_one_by_one():
    by_month = Answer("water.usable", np.arange(12.0), "flow")
    assert by_month.month(3).key == "water.usable.3" and by_month.month(3).value == 2.0
    with pytest.raises(ValueError, match="not by month"):
        by_month.month(3).month(3)


def test_every_question_is_answered_under_its_own_name_or_not_at_all():
    study = shared.small()
    for key in questions():
        found = study.answer(key)
        assert found is None or found.key == key and found.source
    with pytest.raises(HydrokitError, match="did you mean 'head.gross'"):
        study.answer("head.groß")


def test_no_page_works_an_answer_out():
    """A key comes onto a page through an answer of the study and in no other way."""
    for path in sorted(Path(pages.__file__).parent.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        called = {
            node.func.id
            for node in ast.walk(tree)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not called & {"Answer", "best", "ask", "keyed", "Keyed"}, path.name
