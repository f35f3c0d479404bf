"""The only reader of CSV and TOML."""

import numpy as np
import pytest

from hydrokit.columns import read_csv
from hydrokit.errors import InputError
from hydrokit.files import read_text, read_toml, text_hash

RECORD = {"date": "date", "flow": "m^3/s"}


@pytest.fixture
def table(tmp_path):
    def read(text, wanted=RECORD, optional=None):
        path = tmp_path / "flow.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_csv(path, wanted, optional)

    return read


def test_reads_units_comments_gaps_and_a_byte_order_mark(table):
    read = table(
        '\ufeff# measured by hand\r\ndate, flow [L/s], note\r\n2024-03-01, 5, "x, y"\r\n2024-03-02, ,\r\n'
    )
    np.testing.assert_allclose(read["flow"], [0.005, np.nan])
    assert read["line"].tolist() == [3, 4]
    assert str(read["date"][0].date()) == "2024-03-01"


def test_reads_the_other_kinds(table):
    read = table(
        "time, temperature [degF], share [%], spilling, method, jets [-]\n2024-03-01 7:40, 50, 5, yes, bucket, 2\n2024-03-01T08:00:30,,,no,,\n",
        {
            "time": "time",
            "temperature": "K",
            "share": "ratio",
            "spilling": "yes/no",
            "method": "text",
            "jets": "count",
        },
    )
    assert read["temperature"][0] == pytest.approx(283.15) and read["share"][0] == 0.05
    assert (
        read["spilling"].tolist() == [True, False]
        and read["jets"][0] == 2
        and read["method"].tolist() == ["bucket", ""]
    )


@pytest.mark.parametrize(
    "text, says",
    [
        ("", "the file is empty"), ("\n \n", "the file is empty"), ("# only a remark\n", "no header line"), ("date, flow [L/s]\n", "no rows"),
        ("date, flow\n2024-03-01, 5\n", "line 1: the column 'flow' has no unit in its header; write for example flow .L/s."),
        ("date, flow [ft]\n2024-03-01, 5\n", "needed is a unit such as"), ("date, flow [L/z]\n2024-03-01, 5\n", "not a unit known here"),
        ("date, flwo [L/s]\n2024-03-01, 5\n", "no column 'flow', but one 'flwo'"), ("date, flow [L/s], flow [gpm]\n2024-03-01, 5, 6\n", "twice"),
        ("date; flow [L/s]\n2024-03-01; 1,250\n", "line 2: '1,250' may be 1.250 or 1250"), ("date, flow [L/s]\n2024-03-01, 12,5\n", "line 2: has 3 fields .*write 12.5"),
        ("date, flow [L/s]\n01/03/2024, 5\n", "line 2: '01/03/2024' may be 2024-03-01 or 2024-01-03, .*; write 2024-03-01"),
        ("date, flow [L/s]\n2024-02-30, 5\n", "is not a date"), ("date, flow [L/s]\n2024-03-01, five\n", "line 2: 'five' .* is not a number"),
        ("date, flow [L/s]\n2024-03-01, inf\n", "not a number"), (b"date, flow [L/s]\n2024-03-01, \xff5\n", "line 2: has bytes that are not UTF-8"),
        (b"date, flow [L/s]\n2024-03-01, 5\0\n", "NUL byte"), (b"PK\x03\x04\0\0", "workbook of a spreadsheet"), ("\ufeffdate, flow [L/s]\n".encode("utf-16"), "a header but no rows"), (b"\xff\xfed", "begins as UTF-16"),
        ("date, flow [L/s]\n5, 2024-03-01\n", "line 2: a date stands in the column 'flow', not in 'date'"), ("flow of the beck\n2024-03-01, 5\n", "line 1: 'flow of the beck' names no column.*#"),
        ("date, flow L/s, jets\n2024-03-01, 5, 2\n", "write the column 'flow l/s' as flow .L/s."), ("date, flow [L/s]\n2024-03-01, none yet\n", "leave the cell empty"),
        ("date, flow ['']\n2024-03-01, 5\n", "not a unit here; write in"), ("date, , flow\n2024-03-01, 5, 6\n", "has no unit in its header"), ("date, flow [L/s]\n" + "x, 5\n" * 9, "lines 2, 3, 4, 5, 6 and 4 more"),
    ],
)  # fmt: skip
def test_every_slip_is_one_clear_sentence(table, text, says):
    with pytest.raises(InputError, match=says) as bad:
        table(text)
    assert "flow.csv" in str(bad.value)


def test_all_mistakes_at_once(table):
    with pytest.raises(InputError) as bad:
        table("dat, flow, jets\nx, y, z\n")
    assert len(bad.value.mistakes) == 4


def test_missing_file_names_its_neighbour(tmp_path):
    (tmp_path / "flow.csv").write_text("x")
    with pytest.raises(InputError, match="no such file; did you mean 'flow.csv'"):
        read_text(tmp_path / "flows.csv")
    with pytest.raises(InputError, match="folder"):
        read_text(tmp_path)


def test_toml_says_its_line_and_how_to_write_units(tmp_path):
    path = tmp_path / "site.toml"
    path.write_text("[site]\nlength = 380 m\n")
    with pytest.raises(
        InputError,
        match='site.toml: line 2: this line cannot be read: length = 380 m .*in quotes: length = "380 m"',
    ):
        read_toml(path)


@pytest.mark.parametrize(
    "line, says",
    [
        ("length = \"380 m”", "straight ones"), ('length = "380 m', "quote is not closed"), ('length: "380 m"', "equals sign"), ("length", "equals sign"), ("length = 380,5", r"write length = 380\.5"),
        ("fixed = 9,000  # about", r"fixed = 9000 or 9\.000"), ('length = "4""', '"4 in"'), ('file = "C:\\my.csv"', "write / where"), ("date = 1/2/2024", "year-month-day"), ("a = 1\na = 2", "line 3.*'a' is given twice"),
        ("[b]\n[a]\n[a]", "line 4.*heading"), ("flows = [1 2]", "square brackets with commas"), ("spilling = yes", "write spilling = true"), ("[penstock", "brackets on a line of its own"), ("x = " + "9" * 5000, "too many digits"),
    ],
)  # fmt: skip
def test_a_line_that_is_not_toml_is_told_in_a_sentence(tmp_path, line, says):
    path = tmp_path / "site.toml"
    path.write_text(f"[site]\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError, match=says) as told:
        read_toml(path)
    assert len(str(told.value).splitlines()) == 1


@pytest.mark.parametrize(
    "text",
    [
        "date;flow [L/s]\n2024-03-01;5\n", "date\tflow [L/s]\n2024-03-01\t5\n", "date,flow (L/s)\n2024-03-01,5\n", "Date,Flow [L/s],,\n2024-03-01,5,,\n,,,\n\n \n", "date;flow [L/s];\n2024-03-01 00:00:00;5;\n;;\n",
        "date,flow [GPM]\n2024-03-01,79.2516157\n", '"date","flow [L/s]"\n"2024-03-01","5"\n',
    ],
)  # fmt: skip
def test_what_is_harmless_and_has_one_meaning_is_read(table, text):
    read = table(text)
    np.testing.assert_allclose(read["flow"], [0.005])
    assert str(read["date"][0].date()) == "2024-03-01"


def test_the_minus_sign_of_print_is_a_minus(table):
    assert table("temperature [degC]\n\u22125\n", {"temperature": "K"})["temperature"][
        0
    ] == pytest.approx(268.15)


def test_hash_is_of_the_text_not_of_its_line_ends(tmp_path):
    first, second = tmp_path / "a", tmp_path / "b"
    first.write_bytes(b"a\nb\n")
    second.write_bytes(b"a\r\nb\r\n")
    assert text_hash(first) == text_hash(second)
