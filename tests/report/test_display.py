"""What people read: units of their system, numbers, escaped text."""

import numpy as np
import pytest

from hydrokit import sentences
from hydrokit.errors import HydrokitError
from hydrokit.report.display import Cautions, Table, Words, escape_markdown, formula
from hydrokit.sentences import plain_number, series_text
from hydrokit.study.answer import Answer
from hydrokit.study.keyed import plain
from hydrokit.study.view import View


# Conversions by definition (NIST SP 811).
@pytest.mark.parametrize(
    "value, kind, metric, us",
    [
        (0.0123, "flow", "12.3 L/s", "195 gpm"), (489_000, "pressure", "4.89 bar", "70.9 psi"), (280.0, "temperature", "6.9 °C", "44 °F"),
        (5.0, "temperature difference", "5 °C", "9 °F"), (3.6e9, "energy", "1,000 kWh", "1,000 kWh"), (0.1016, "diameter", "102 mm", "4 in"),
        (10.0, "money per length", "10 crowns/m", "3.05 crowns/ft"), (25.0, "speed", "1,500 rpm", "1,500 rpm"), (1.2, "velocity", "1.20 m/s", "3.94 ft/s"),
        (115.0, "heat loss", "115 W/K", "218 Btu/h/°F"), (np.nan, "flow", "not known", "not known"),
    ],
)  # fmt: skip
def test_text_in_both_systems(value, kind, metric, us):
    assert View("metric", currency="crowns").text(value, kind) == metric
    assert View("us", currency="crowns").text(value, kind) == us


def test_large_creeks_are_shown_in_large_units():
    assert View.for_flow("metric", 5.0).text(12.0, "flow") == "12 m³/s"
    assert View.for_flow("us", 5.0).text(12.0, "flow") == "424 ft³/s"
    assert View.for_flow("us", None).label("flow") == "gpm"


@pytest.mark.parametrize(
    "value, digits, text",
    [
        (1.0, 3, "1"),
        (0.5, 3, "0.500"),
        (999.96, 3, "1,000"),
        (123456, 2, "120,000"),
        (0, 3, "0"),
        (-12.34, 3, "-12.3"),
        (1e-5, 2, "0.000010"),
        (float("inf"), 3, "not known"),
        (1.797e308, 3, "180" + ",000" * 102),
        (-4e-16, 3, "0"),
    ],
)
def test_plain_numbers(value, digits, text):
    assert plain_number(value, digits) == text


def test_text_from_files_never_becomes_markup():
    hostile = "<script>alert(1)</script> **x** [a](javascript:1) `c`\n# h"
    shown = escape_markdown(hostile)
    assert "<" not in shown and "\n" not in shown and r"\*\*x" in shown and r"\[a\]" in shown
    page = Table(("<b>", "x"), [("<script>", 1.5)], caption="<i>")._repr_html_()
    assert "<script>" not in page and "<b>" not in page and "&lt;script&gt;" in page
    assert "<img" not in Cautions(["<img src=x>"])._repr_html_()


def test_table_reads_as_text_too():
    assert "12,300" in repr(Table(("kWh",), [(12345.6,)]))
    assert Words("a")._repr_markdown_() == "a"
    assert (
        series_text(["a"]) == "a"
        and series_text(["a", "b", "c"]) == "a, b and c"
        and series_text([]) == "none"
    )


def test_unknown_system_and_kind_are_told():
    with pytest.raises(HydrokitError, match="metric"):
        View("imperial")
    with pytest.raises(HydrokitError, match="no display kind"):
        View().text(1, "furlongs")


def test_a_column_with_nothing_in_it_takes_no_paper():
    shown = Table(("month", "licence", "mean"), [("May", "", 2.0), ("June", "", 3.0)])._repr_html_()
    assert "licence" not in shown and "mean" in shown and shown.count("<td") == 4
    assert "licence" in Table(("month", "licence"), [])._repr_html_()  # a table of titles


def test_a_sign_of_money_begins_no_formula():
    view = View("metric", currency="R$")
    said = Words(f"{view.money(5000)}, {escape_markdown('$')}, {formula('Q = 2')}")
    assert said._repr_markdown_() == r"5,000 R\$, \$, $Q = 2$"
    assert said.text.startswith("5,000 R$") and said.text.endswith("$Q = 2$")


def test_how_money_is_written_stands_in_one_place(monkeypatch):
    monkeypatch.setattr(sentences, "_of_money", lambda number, currency: f"{currency} {number}")
    view = View("metric", currency="$")
    answer = Answer("money.capital", 5e3, "money", low=4e3, high=7e3)
    written = [
        view.money(5e3),
        view.text(5e3, "money"),
        view.range(4e3, 7e3, "money"),
        view.text(0.2, "money per kWh"),
        plain(view.shown(answer)),
        plain(view.interval(answer)),
        sentences.money_text(5e3, "$"),
    ]
    assert [each for each in written if not each.startswith("$ ")] == []


def test_a_column_stands_to_one_side():
    """One keyed number among texts stands as they do; a blank among numbers moves none of them."""
    from hydrokit.study.keyed import keyed

    few = Table(
        ("part", "lets through"), [("a", "40 L/s"), ("b", keyed("k", "65 L/s")), ("c", "16 L/s")]
    )
    assert "hk-number" not in few._repr_html_()
    named = Table(("month", "part"), [(each, keyed("k", "jets")) for each in "JF"])
    assert "hk-number" not in named._repr_html_()
    read = Table(("date", "stage"), [("2024-01-20", "0.68"), ("2024-03-01", "")])
    assert read._repr_html_().count("hk-number") == 1
    most = Table(("part", "flow"), [("a", 40.0), ("b", "none"), ("c", 16.0)])
    assert most._repr_html_().count("hk-number") == 2


def test_a_frame_without_a_title_folds_under_no_word_of_its_own():
    """A frame that a library shows brings its style along, and its first cell names nothing."""
    from nbformat import v4

    from hydrokit.report.arranged import _subject, words

    shown = "<style scoped> .frame td { vertical-align: top; } </style><table><tr><td>largest step</td></tr></table>"
    output = v4.new_output("display_data", data={"text/html": shown})
    assert _subject([v4.new_code_cell(outputs=[output])]) == "Details"
    assert "vertical-align" not in words(output)
