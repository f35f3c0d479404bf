"""`hydrokit tidy`: what it understood, and a copy that reads as the file itself."""

import csv

import pytest
import small_study

from hydrokit.cli import main
from hydrokit.columns import read_csv
from hydrokit.headers import column_title
from hydrokit.site.field_sheets import KINDS, FieldSheets
from hydrokit.site.tidy import tidied

STAGES = (
    "Serial number: 4711\nDate/Time;Battery (V);Water level (cm)\n"
    "28.02.2024 13:00;3,6;21,4\n28.02.2024 14:00;3,6;#N/A\n01.03.2024 01:00;3,6;22,25\n;;\n"
)


def test_a_logger_of_another_country_is_told_and_written_plainly(tmp_path, capsys):
    path = tmp_path / "levels.csv"
    path.write_text(STAGES, encoding="utf-16")
    assert main(["tidy", str(path)]) == 0
    said = capsys.readouterr().out
    assert "stages of a logger, 3 lines: time, stage [cm]" in said
    assert "the column battery passed over" in said and "decimal commas" in said
    assert "with the day first, as '28.02.2024 13:00' shows" in said
    assert "stage [cm]: 21.4 to 22.25, 1 missing" in said
    assert (tmp_path / "levels_tidy.csv").read_text(encoding="utf-8") == (
        "time,stage [cm]\n2024-02-28 13:00,21.4\n2024-02-28 14:00,\n2024-03-01 01:00,22.25\n"
    )
    # Once more: its own copy may be replaced. A copy that somebody has changed may not.
    assert main(["tidy", str(path)]) == 0
    (tmp_path / "levels_tidy.csv").write_text("mine\n", encoding="utf-8")
    assert main(["tidy", str(path)]) == 2
    assert (tmp_path / "levels_tidy.csv").read_text(encoding="utf-8") == "mine\n"


def test_a_copy_reads_as_the_file_itself(tmp_path):
    for name in ("flow.csv", "temperature.csv", "gaugings.csv", "penstock.csv", "prices.csv"):
        path = tmp_path / name
        path.write_text(small_study.FILES[name], encoding="utf-8")
        found = tidied(path)
        (tmp_path / "copy.csv").write_text(found.text, encoding="utf-8")
        again = tidied(tmp_path / "copy.csv")
        assert again.text == found.text and again.what == found.what
    gauged = {
        "date": "date",
        "flow": "m^3/s",
        "stage": "m",
        "uncertainty": "ratio",
        "method": "text",
    }
    (tmp_path / "copy.csv").write_text(tidied(tmp_path / "gaugings.csv").text, encoding="utf-8")
    one, other = (read_csv(tmp_path / each, gauged) for each in ("gaugings.csv", "copy.csv"))
    assert one.equals(other)


def test_a_doubt_is_told_for_the_table_it_is_of(tmp_path, capsys):
    path = tmp_path / "levels.csv"
    path.write_text("date,stage [m],flow [L/s]\n01/03/2024,0.2,12\n", encoding="utf-8")
    assert main(["tidy", str(path)]) == 2
    said = capsys.readouterr()
    assert "line 2: '01/03/2024' may be 2024-03-01 or 2024-01-03" in said.out + said.err
    assert not (tmp_path / "levels_tidy.csv").exists()


def test_a_flow_without_a_unit_is_asked_for_and_never_passed_over(tmp_path, capsys):
    path = tmp_path / "gauged.csv"
    path.write_text("Date,Stage (cm),Flow,Method\n2024-03-01,12.5,8.1,salt\n", encoding="utf-8")
    assert main(["tidy", str(path)]) == 2
    said = capsys.readouterr()
    assert "the column 'flow' has no unit in its header; write for example" in said.out + said.err
    # A logger's own column without a unit is of no table that has its stages too.
    path.write_text("Date,Stage (cm),Temperature\n2024-03-01,12.5,8.1\n", encoding="utf-8")
    assert tidied(path).what == "daily stages"


def test_an_hour_under_the_title_date_is_a_loggers(tmp_path):
    path = tmp_path / "levels.csv"
    path.write_text("Date,Water level (cm)\n2024-03-01 07:00,23\n2024-03-01 08:00,24\n")
    assert tidied(path).text == "time,stage [cm]\n2024-03-01 07:00,23\n2024-03-01 08:00,24\n"
    path.write_text("Date,Water level (cm)\n2024-03-01,23\n2024-03-02,24\n")
    assert tidied(path).what == "daily stages"


@pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)
def test_every_field_sheet_is_known_by_its_columns(tmp_path, kind):
    titles = [column_title(*each) for each in FieldSheets.schema[kind.key].columns.items()]
    path = tmp_path / "sheet.csv"
    path.write_text(f"{', '.join(titles)}\n{', '.join('1' for _ in titles)}\n", encoding="utf-8")
    assert tidied(path).what == kind.rows


def test_a_note_of_a_strangers_is_no_formula_in_the_copy(tmp_path):
    path = tmp_path / "gauged.csv"
    rows = ("=HYPERLINK(0)", "a;=1+1", "\uff1d1+1", "@x", "plain, - and = within")
    path.write_text(
        "date,flow [L/s],method,note\n"
        + "".join(f'2024-03-0{day},8,bucket,"{each}"\n' for day, each in enumerate(rows, 1)),
        encoding="utf-8",
    )
    notes = [row[-1] for row in csv.reader(tidied(path).text.splitlines()[1:])]
    assert notes == ["'=HYPERLINK(0)", "a;'=1+1", "'\uff1d1+1", "'@x", rows[-1]]
    path.write_text(tidied(path).text, encoding="utf-8")
    assert [row[-1] for row in csv.reader(tidied(path).text.splitlines()[1:])] == notes
