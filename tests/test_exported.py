"""Files as people export them: read where their meaning is certain, else both readings are told."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest
import small_study

from hydrokit.columns import read_csv
from hydrokit.errors import InputError
from hydrokit.study.opening import open_study

FLOW, STAGE = {"date": "date", "flow": "m^3/s"}, {"time": "time", "stage": "m"}
PLAIN = "date,flow [L/s]\n2024-02-28,12.5\n2024-02-29,1012.75\n2024-03-01,\n2024-03-02,7\n"


@pytest.fixture
def read(tmp_path):
    def reader(text, wanted=FLOW, optional=None, encoding="utf-8", notes=None):
        path = tmp_path / "sheet.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
        return read_csv(path, wanted, optional, notes=notes)

    return reader


SAME = {
    "semicolons and decimal commas": "date;flow [L/s]\n2024-02-28;12,5\n2024-02-29;1012,75\n2024-03-01;\n2024-03-02;7\n",
    "points between thousands": "date;flow [L/s]\n2024-02-28;12,5\n2024-02-29;1.012,75\n2024-03-01;\n2024-03-02;7\n",
    "spaces between thousands": "date;flow [L/s]\n2024-02-28;12,5\n2024-02-29;1 012,75\n2024-03-01;\n2024-03-02;7\n",
    "commas between thousands": 'date,flow [L/s]\n2024-02-28,12.5\n2024-02-29,"1,012.75"\n2024-03-01,\n2024-03-02,7\n',
    "days first with points": "date,flow [L/s]\n28.02.2024,12.5\n29.02.2024,1012.75\n01.03.2024,\n02.03.2024,7\n",
    "days first, 29 seen": "date,flow [L/s]\n28/02/2024,12.5\n29/02/2024,1012.75\n01/03/2024,\n02/03/2024,7\n",
    "months first, 29 seen": "date,flow [L/s]\n2/28/2024,12.5\n2/29/2024,1012.75\n3/1/2024,\n3/2/2024,7\n",
    "years of two digits": "date,flow [L/s]\n28/02/24,12.5\n29/02/24,1012.75\n01/03/24,\n02/03/24,7\n",
    "years first with strokes": "date,flow [L/s]\n2024/02/28,12.5\n2024/02/29,1012.75\n2024/03/01,\n2024/03/02,7\n",
    "n/a": "date,flow [L/s]\n2024-02-28,12.5\n2024-02-29,1012.75\n2024-03-01,n/a\n2024-03-02,7\n",
    "#N/A": "date,flow [L/s]\n2024-02-28,12.5\n2024-02-29,1012.75\n2024-03-01,#N/A\n2024-03-02,7\n",
    "a blank tail": PLAIN + ",\n,\n\n  \n",
    "spare columns without a name": "date,flow [L/s],,\n2024-02-28,12.5,,\n2024-02-29,1012.75,,\n2024-03-01,,,\n2024-03-02,7,,\n",
    "a serial number above": "Serial number: 20144711\nSite;creek 3\n" + PLAIN,
    "a title in quotes above": '"Plot, creek 3"\n' + PLAIN,
    "another name, round brackets": PLAIN.replace("flow [L/s]", "Discharge (L/s)"),
    "spare columns": "no,date,battery [V],flow [L/s],logger temp\n1,2024-02-28,3.6,12.5,9\n2,2024-02-29,3.6,1012.75,9\n3,2024-03-01,3.6,,9\n4,2024-03-02,3.6,7,9\n",
    "a comma in the last note": "date,flow [L/s],note\n2024-02-28,12.5,rain, then sun, then rain\n2024-02-29,1012.75,\n2024-03-01,,none\n2024-03-02,7,a, b\n",
    "tabs": PLAIN.replace(",", "\t"),
    "line ends of another system": PLAIN.replace("\n", "\r\n"),
    "months by name": "date,flow [L/s]\n28-Feb-24,12.5\n29 February 2024,1012.75\n\"Mar 1, 2024\",\n2nd march 2024,7\n",
    "days without marks": "date,flow [L/s]\n20240228,12.5\n20240229,1012.75\n20240301,\n20240302,7\n",
    "units below the titles": "Date;Discharge\nyyyy-mm-dd;[L/s]\n" + PLAIN.partition("\n")[2].replace(",", ";"),
    "another name of the day": PLAIN.replace("date", "Date of visit"),
    "curly quotes": re.sub(r"([^,\n]+)", r"“\1”", PLAIN),
    "UTF-16 without its mark": PLAIN.encode("utf-16-le"),
    "UTF-16 of the other order": PLAIN.encode("utf-16-be"),
}  # fmt: skip


@pytest.mark.parametrize("name", SAME)
def test_the_same_table_in_other_clothes(read, name):
    expected = read(PLAIN)
    found = read(SAME[name])
    for column in FLOW:
        assert found[column].equals(expected[column]), name
    assert expected["flow"].tolist()[:2] == pytest.approx([0.0125, 1.01275])


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le"])
def test_marks_of_encodings(read, encoding):
    mark = "\ufeff" if encoding == "utf-16-le" else ""
    assert read(mark + PLAIN, encoding=encoding)["flow"].equals(read(PLAIN)["flow"])


def test_water_level_in_cm_with_the_hour_in_the_same_or_another_column(read):
    expected = pd.Series(pd.to_datetime(["2024-03-14 13:00", "2024-03-14 14:00"]))
    for text in (
        "Date/Time,Water level (cm)\n2024-03-14 13:00,21.4\n2024-03-14 14:00,21.6\n",
        "date;time;level (cm)\n14.03.2024;13:00;21,4\n14.03.2024;14:00;21,6\n",
        "Date,Level (cm)\n14/03/2024 13:00,21.4\n14/03/2024 14:00,21.6\n",
        "time,stage [cm]\n3/14/2024 1:00 PM,21.4\n3/14/2024 2:00 PM,21.6\n",
    ):
        table = read(text, {"stage": "m"}, {"date": "date", "time": "time"})
        assert table["time"].tolist() == expected.tolist(), text
        assert table["stage"].tolist() == pytest.approx([0.214, 0.216])
        assert "date" not in table


def test_per_cent_in_the_cell(read):
    for title in ("uncertainty", "uncertainty [%]", "uncertainty [-]"):
        table = read(f"date,flow [L/s],{title}\n2024-03-01,5,5%\n", FLOW, {"uncertainty": "ratio"})
        assert table["uncertainty"].tolist() == [0.05]
    with pytest.raises(InputError, match="'5%' in the column 'flow' is not a number"):
        read("date,flow [L/s]\n2024-03-01,5%\n")


def test_the_order_of_the_lines_shows_the_order_of_day_and_month(read):
    """No number above 12 in any date; only with the day first does the time run forward."""
    table = read(
        "date,flow [L/s]\n05/01/2024,1\n03/02/2024,2\n09/02/2024,3\n01/03/2024,4\n11/04/2024,5\n"
    )
    assert table["date"].dt.strftime("%m-%d").tolist() == [
        "01-05",
        "02-03",
        "02-09",
        "03-01",
        "04-11",
    ]


DOUBTFUL = {
    "a day that is its month first": ("date,flow [L/s]\n05/05/2024,1\n02/04/2024,2\n", "line 3: '02/04/2024' may be 2024-04-02 or 2024-02-04"),
    "either order runs forward": ("date,flow [L/s]\n01/03/2024,1\n02/04/2024,2\n", "line 2: '01/03/2024' may be 2024-03-01 or 2024-01-03"),
    "both orders": ("date,flow [L/s]\n28/02/2024,1\n02/29/2024,2\n", "line 3: '02/29/2024' has the month first, '28/02/2024' the day"),
    "a comma for thousands or decimals": ("date;flow [L/s]\n2024-03-01;1,250\n2024-03-02;2,125\n", "line 2: '1,250' may be 1.250 or 1250"),
    "both decimal marks": ("date;flow [L/s]\n2024-03-01;12,5\n2024-03-02;11.75\n", "line 3: '11.75' has a decimal point, but other numbers .* decimal commas \\('12,5'\\)"),
    "two styles of dates": ("date,flow [L/s]\n2024-03-01,1\n02.03.2024,2\n", "line 3: '02.03.2024' .* is not a date"),
    "a decimal comma between commas": ("date,flow [L/s],note\n2024-03-01,12,5,\n", "line 2: has 4 fields where the header has 3; a comma inside a number"),
    "a decimal comma before a note": ("date,flow [L/s],note\n2024-03-01,12,5,rain\n", "line 2: has 4 fields"),
    "a misspelt optional column": ("date,flow [L/s],uncertanty [%]\n2024-03-01,1,5\n", "did you mean 'uncertainty'"),
    "no such day by name": ("date,flow [L/s]\n31 Feb 2024,1\n", "'31 Feb 2024' in the column 'date' is not a date"),
    "no month of that name": ("date,flow [L/s]\n3 Mai 2024,1\n", "'3 Mai 2024' in the column 'date' is not a date"),
    "days without marks, the day first": ("date,flow [L/s]\n28022024,1\n", "'28022024' in the column 'date' is not a date"),
    "units below of another kind": ("date,flow\nymd,mm\n2024-03-01,1\n", "the column 'flow' has no unit"),
    "no such day": ("date,flow [L/s]\n31/02/2024,1\n", "'31/02/2024' in the column 'date' is not a date"),
    "a zone": ("date,flow [L/s]\n2024-03-01T00:00Z,1\n", "is not a date"),
}  # fmt: skip


@pytest.mark.parametrize("name", DOUBTFUL)
def test_what_is_not_certain_is_told_with_its_line(read, name):
    text, says = DOUBTFUL[name]
    with pytest.raises(InputError, match=says):
        read(text, FLOW, {"uncertainty": "ratio"})


def test_what_was_understood_is_told(read):
    notes = []
    read(
        "Serial 4711\ndate;battery [V];flow [L/s]\n28.02.2024;3,6;12,5\n01.03.2024;3,6;7\n",
        notes=notes,
    )
    assert [each.message for each in notes] == [
        "1 line above the header passed over",
        "the column battery passed over: nothing here asks for it",
        "numbers are read with decimal commas",
        "dates are read with the day first, as '28.02.2024' shows",
    ]
    notes = []
    read(PLAIN, notes=notes)
    assert notes == []


def test_every_number_of_a_decimal_comma_file_is_that_of_the_plain_one(read):
    """As many numbers as a logger writes, against Python's own float of the plain text."""
    random = np.random.default_rng(4)
    values = [f"{each:.3f}" for each in random.uniform(0, 3000, 2000)]
    rows = [f"2024-03-01 00:{number % 60:02d};" for number in range(2000)]
    text = "time;stage [mm]\n" + "".join(
        row + each.replace(".", ",") + "\n" for row, each in zip(rows, values)
    )
    assert read(text, STAGE)["stage"].to_numpy() * 1000 == pytest.approx(
        [float(each) for each in values]
    )


# --- in a study -----------------------------------------------------------------------------


def commas(text):
    """A plain sheet as a spreadsheet of another country saves it."""
    return text.replace(",", ";").replace(".", ",")


def days_first(text):
    return re.sub(r"(\d{4})-(\d\d)-(\d\d)", r"\3.\2.\1", text)


def test_a_study_with_all_its_sheets_as_exported_is_the_same_study(tmp_path):
    plain = {
        name: small_study.FILES[name]
        for name in ("flow.csv", "temperature.csv", "gaugings.csv", "penstock.csv")
    }
    small_study.write(tmp_path / "plain")
    folder = small_study.write(tmp_path / "exported")
    for name, text in plain.items():
        text = "Serial 4711\n" + days_first(commas(text))
        (folder / name).write_text(text, encoding="utf-16" if name == "flow.csv" else "utf-8-sig")
    one, other = open_study(tmp_path / "plain"), open_study(folder)
    assert one.results() == other.results()
    other.read()
    told = {(each.where, each.message) for each in other.findings(("sheet_notes",))}
    assert ("flow.csv", "numbers are read with decimal commas") in told
    assert not one.findings(("sheet_notes",))
    assert sum("above the header passed over" in each for _, each in told) == 4


def test_eight_bits_a_letter_are_read_where_they_can_be_nothing_else(tmp_path):
    """The same table in UTF-8 and in Windows-1252 has the same rows; other bytes are refused with their line."""
    text = "date,flow [L/s],± [L/s],note\n2024-03-01,12,0.6,débit à l’étiage\n"
    kinds = {"date": "date", "flow": "m^3/s"}, {"±": "m^3/s", "note": "text"}
    (tmp_path / "new.csv").write_text(text, encoding="utf-8")
    (tmp_path / "old.csv").write_bytes(text.encode("cp1252"))
    notes: list = []
    old = read_csv(tmp_path / "old.csv", *kinds, notes=notes)
    assert old.equals(read_csv(tmp_path / "new.csv", *kinds))
    assert ["Windows-1252" in each.message for each in notes] == [True]
    for bad in (b"\x81", b"\xff", "é".encode() + b"\xe9"):
        (tmp_path / "bad.csv").write_bytes(
            text.encode("ascii", "ignore") + b"2024-03-02,5,1," + bad
        )
        with pytest.raises(InputError, match="line 3: has bytes that are not UTF-8"):
            read_csv(tmp_path / "bad.csv", *kinds)


@pytest.mark.parametrize("title, cell", [("± [L/s]", "0.6"), ("+/- (L/s)", "0.6"), ("± [%]", "5")])
def test_a_column_of_plus_minus_is_one_standard_deviation(tmp_path, title, cell):
    """0.6 of 12 L/s by hand is 5 %."""
    from hydrokit.study.opening import open_study

    (tmp_path / "g.csv").write_text(
        f"date,flow [L/s],{title}\n2024-03-01,12,{cell}\n", encoding="utf-8"
    )
    (tmp_path / "site.toml").write_text('[site]\nname = "x"\n[stream]\ngaugings = "g.csv"\n')
    assert open_study(tmp_path).gaugings.uncertainty == pytest.approx([0.05])


def test_long_records_are_read_as_short_ones_are():
    """The quick ways give what the careful ones give: a blank more or one odd line sends a column the other way."""
    import pandas as pd

    from hydrokit.cells import dates, decimal_mark, numbers

    days = pd.Series([f"{day:02d}.03.2024 07:30" for day in range(1, 32)], dtype=object)
    quick, said, _ = dates(days, True)
    slow, also, _ = dates(pd.concat([days, pd.Series(["1.4.2024 07:30"])], ignore_index=True), True)
    assert (quick == slow[:31]).all() and said == also == "day first, as '13.03.2024 07:30' shows"
    cells = pd.Series(["12,5", "-0,25", "", "1203,0"], dtype=object)
    assert decimal_mark([cells]) == ","
    with_thousands = pd.concat([cells, pd.Series(["1.203,5"])], ignore_index=True)
    assert numbers(cells, ",")[0][[0, 1, 3]] == pytest.approx([12.5, -0.25, 1203.0])
    assert numbers(with_thousands, ",")[0][[0, 1, 3, 4]] == pytest.approx(
        [12.5, -0.25, 1203.0, 1203.5]
    )


def test_a_unit_behind_per_is_divided_by_as_a_whole():
    from hydrokit.units import parse_unit

    assert parse_unit("mg/L per uS/cm") == parse_unit("mg/L/(uS/cm)")
    assert parse_unit("L per s") == parse_unit("L/s")


# --- units in the cells, and columns as people call them ------------------------------------

FILLS = {"volume": "m^3", "time": "s"}
VISIT = {"date": "date", "stage": "m"}


def test_units_that_every_cell_carries_are_those_of_its_column(read):
    plain = read(
        "date,stage [ft],volume [gal],time [s]\n2026-05-14,0.7,5,12.3\n,,5,13.1\n", FILLS, VISIT
    )
    notes = []
    text = "Date,Gauge (ft),Bucket,Time,Comments\n2026-05-14,0.70,5 gal,12.3 s,leaks a bit\n,,5 gal,13.1s,\n"
    found = read(text, FILLS, VISIT, notes=notes)
    for column in (*FILLS, *VISIT):
        assert found[column].equals(plain[column]), column
    assert sum("taken from its cells" in each.message for each in notes) == 2
    repeated = read(
        "volume [gal],time [s]\n5 gal,12.3 s\n5 gal,13.1\n5,13\n".replace(" s\n", "\n").replace(
            "5,13\n", "5 gal,13\n"
        ),
        FILLS,
    )
    assert repeated["volume"].equals(
        read("volume [gal],time [s]\n5,12.3\n5,13.1\n5,13\n", FILLS)["volume"]
    )


@pytest.mark.parametrize(
    "cells", ["5 gal,12 s\n5 L,13 s", "5 gal,12 s\n5,13 s", "5 gal,1 min\n5 gal,20 s"]
)
def test_units_that_differ_from_cell_to_cell_are_not_guessed(read, cells):
    with pytest.raises(InputError, match="has no unit in its header"):
        read(f"volume,time\n{cells}\n", FILLS)


def test_gaugings_with_the_titles_of_the_field(read):
    optional = {"stage": "m", "uncertainty": "ratio", "±": "m^3/s", "method": "text"}
    found = read(
        "Date;Staff (cm);Q (l/s);±;How\n2024-08-07;34,6;49,5;5%;salt\n2024-10-28;31,9;38;;bucket\n",
        FLOW,
        optional,
    )
    assert found["stage"].tolist() == pytest.approx([0.346, 0.319])
    assert found["flow"].tolist() == pytest.approx([0.0495, 0.038])
    assert found["uncertainty"][0] == 0.05 and np.isnan(found["uncertainty"][1])
    assert found["method"].tolist() == ["salt", "bucket"]


def test_a_gauge_is_of_water_or_of_pressure_by_its_unit(read):
    kinds = {"stage": "m", "pressure": "Pa"}
    assert read("date,Gauge (ft)\n2024-08-07,1\n", {"date": "date"}, kinds)["stage"][
        0
    ] == pytest.approx(0.3048)
    assert read("date,Gauge [bar]\n2024-08-07,1\n", {"date": "date"}, kinds)["pressure"][
        0
    ] == pytest.approx(1e5)
    with pytest.raises(InputError, match="did you mean 'stage'"):
        read("date,Gauge\n2024-08-07,1\n", {"date": "date"}, kinds)


def test_a_logger_with_its_hour_apart_numbers_its_rows_and_has_its_unit_behind_a_comma(read):
    text = "Plot Title: bridge, 118\n#\tDate\tTime\tLevel, cm\tBatt, V\n1\t05/13/2024\t11:00:00 PM\t20.5\t3.6\n2\t05/14/2024\t12:00:00 AM\t20.7\t3.6\n"
    found = read(text, {"stage": "m"}, {"time": "time", "date": "date"}, encoding="utf-16")
    assert found["stage"].tolist() == pytest.approx([0.205, 0.207])
    assert found["time"].tolist() == [pd.Timestamp("2024-05-13 23:00"), pd.Timestamp("2024-05-14")]
    hour = read(text.replace("Time", "Hour"), {"stage": "m"}, {"time": "time", "date": "date"})
    assert hour.equals(found)
    assert len(read("# 12, a remark\n" + PLAIN)) == 4


def test_months_by_name_have_their_hour(read):
    table = read('time,stage [m]\n28-Feb-2024 13:00,1\n"Feb 28, 2024 02:00 PM",2\n', STAGE)
    assert table["time"].dt.strftime("%m-%d %H").tolist() == ["02-28 13", "02-28 14"]


def test_a_column_called_day_and_a_question_mark(read):
    found = read(
        "Visit no.;Day;Discharge (L/s);Uncertainty\n1;13/08/2024;9,8;5%\n2;17/09/2024;14,3;?\n",
        FLOW,
        {"uncertainty": "ratio"},
    )
    assert found["flow"].tolist() == pytest.approx([0.0098, 0.0143])
    assert found["uncertainty"][0] == 0.05 and np.isnan(found["uncertainty"][1])


def test_seconds_and_gallons_are_units_by_their_names(read):
    found = read("Gallons,Seconds\n5,12\n", FILLS)
    assert found["volume"][0] == pytest.approx(5 * 0.003785411784) and found["time"][0] == 12
