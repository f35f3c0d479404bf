"""Tables for a spreadsheet: plain numbers, the unit in the header, nothing that runs, names that any disk takes."""

import csv
import io

import pytest

from hydrokit.report.display import Table
from hydrokit.report.tables_out import tables_of


def out(columns, rows, caption="Net energy by month; low months"):
    page = f"<main><h2>Where?</h2>{Table(columns, rows, caption)._repr_html_()}</main>"
    (made,) = tables_of("05", page)
    return made, list(csv.reader(io.StringIO(made.text)))


def column(title, *cells):
    """What a file has of one column, as columns: title first."""
    _, rows = out(("", title), [("x", each) for each in cells])
    return [list(each) for each in zip(*rows)][1:]


def test_a_file_is_named_by_page_place_and_title():
    assert out(("a",), [(1,)])[0].name == "05-01 net energy by month.csv"
    assert out(("a",), [(1,)], "P50 to P90: by source")[0].name == "05-01 P50 to P90.csv"
    assert out(("a",), [(1,)], "")[0].name == "05-01 where.csv"
    assert out(("a",), [(1,)], "../../etc\\x<|>?*")[0].name == "05-01 etc x.csv"
    assert len(out(("a",), [(1,)], "long words " * 40)[0].name) < 80


@pytest.mark.parametrize(
    "title, cells, expected",
    [
        ("flow [L/s]", (12345.6, 0.5), [["flow [L/s]", "12300", "0.500"]]),
        ("days", (25, 12_000), [["days", "25", "12000"]]),
        ("loss [kWh]", ("-88", "\u22121,204"), [["loss [kWh]", "-88", "-1204"]]),
        ("share", ("61 %", "9.5 %", ""), [["share [%]", "61", "9.5", ""]]),
        ("sd", ("± 5 %", "± 12 %"), [["± sd [%]", "5", "12"]]),
        ("stop", ("1 day", "3 days"), [["stop [days]", "1", "3"]]),
        ("drop", ("0", "2 %"), [["drop [%]", "0", "2"]]),
        (
            "where",
            ("0 m to 384 m", "178 m"),
            [["where, low [m]", "0", "178"], ["where, high [m]", "384", "178"]],
        ),
        (
            "gauge, psi",
            ("58.2 (57.2\xa0to\xa059.1)", "4,001 (3,900 to 4,100)"),
            [
                ["gauge, psi", "58.2", "4001"],
                ["gauge, psi, low", "57.2", "3900"],
                ["gauge, psi, high", "59.1", "4100"],
            ],
        ),
        (
            "number",
            ("1.5 m/s", "16 %", "as it comes"),
            [["number", "1.5", "16", "as it comes"], ["number, unit", "m/s", "%", ""]],
        ),
        (
            "flow [L/s]",
            ("8.85", "20 %"),
            [["flow", "8.85", "20"], ["flow, unit", "L/s", "%"]],
        ),
        ("jets", ("1 to 2", "2 to 3"), [["jets", "1 to 2", "2 to 3"]]),
        ("day", ("2026-07-04", "2025-01-01"), [["day", "2026-07-04", "2025-01-01"]]),
        ("size", ("16 mm2", "3/0 AWG"), [["size", "16 mm2", "3/0 AWG"]]),
        ("how many", ("4 or more", "3 of 12"), [["how many", "4 or more", "3 of 12"]]),
        ("flow", ("at least 440", "450"), [["flow", "at least 440", "450"]]),
    ],
)
def test_numbers_stand_plain_and_units_in_the_header(title, cells, expected):
    assert column(title, *cells) == expected


@pytest.mark.parametrize("cell", ["=1+1", "+cmd", "-cmd|x", "@sum(1)", "a;=1+1", "＝1+1", "- 5 of"])
def test_text_of_a_file_is_no_formula(cell):
    _, rows = out((cell, "b"), [(cell, 1)], cell)
    for shown in (rows[0][0], rows[1][0]):
        assert "'" in shown and not shown.startswith(("=", "+", "-", "@", "＝"))


def test_a_table_of_the_whole_study_and_an_empty_one_are_left_out():
    table = Table(("a",), [(1,)], "Named")._repr_html_()
    empty = Table(("a", "b"), [("", "")], "To fill in")._repr_html_()
    text = f"<details class='fold once'>{table}</details>{empty}<details class='fold'>{table}</details>"
    assert [each.name for each in tables_of("03", text)] == ["03-01 named.csv"]
