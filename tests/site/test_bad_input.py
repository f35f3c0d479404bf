"""What people get wrong, and the one sentence each of it gets: exit code 2, or a finding in the checks."""

import re
import shutil
from pathlib import Path

import pytest

from hydrokit.cli import main

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def studies(tmp_path_factory):
    """A copy of the demos and their shared data that may be broken."""
    base = tmp_path_factory.mktemp("broken")
    shutil.copytree(
        ROOT / "studies", base / "studies", ignore=shutil.ignore_patterns("reports", ".*")
    )
    shutil.copytree(ROOT / "data", base / "data")
    return base / "studies"


@pytest.fixture
def broken(studies, capsys):
    """Break one file of a study, check it, mend it: (exit code, what was said)."""

    def check(study, name, change):
        path = studies / study / name
        before = path.read_bytes()
        try:
            path.write_bytes(change(before))
            assert path.read_bytes() != before, "nothing was broken"
            code = main(["check", str(studies / study)])
        finally:
            path.write_bytes(before)
        said = capsys.readouterr()
        return code, said.out + said.err

    return check


def swap(old, new):
    return lambda raw: raw.replace(old.encode(), new.encode(), 1)


CASES = {
    "missing unit": ("alder-burn", "site.toml", swap('altitude = "240 m"', "altitude = 240"), r"[site] altitude has no unit (got 240)"),
    "wrong dimension": ("alder-burn", "site.toml", swap('length = "140 m"', 'length = "140 W"'), "[cable] length needs something like"),
    "misspelt key": ("alder-burn", "site.toml", swap("jet_kind", "jet_knid"), "has no key 'jet_knid'; did you mean 'jet_kind'"),
    "misspelt section": ("alder-burn", "site.toml", swap("[penstock]", "[penstok]"), "there is no such section; did you mean 'penstock'"),
    "comma decimal": ("alder-burn", "site.toml", swap('"240 m"', '"240,5 m"'), 'write "240.5 m"'),
    "not TOML": ("alder-burn", "site.toml", swap('"240 m"', "240 m"), "site.toml: line"),
    "file that is not there": ("alder-burn", "site.toml", swap('"flow.csv"', '"flows.csv"'), "there is no file 'flows.csv'; did you mean 'flow.csv'"),
    "file outside the study": ("alder-burn", "site.toml", swap('"flow.csv"', '"../../../../etc/passwd"'), "leaves the study"),
    "unknown pipe": ("alder-burn", "site.toml", swap('size = "PVC-U SDR 21', 'size = "PVC-U SDR 22'), "is not a pipe size known here"),
    "rule without its number": ("alder-burn", "site.toml", swap('exceedance = "95 %"', ""), "needs 'exceedance'"),
    "CSV without unit": ("alder-burn", "flow.csv", swap("flow [L/s]", "flow"), "flow.csv: line 2: the column 'flow' has no unit"),
    "comma in a number": ("alder-burn", "flow.csv", swap("2011-10-01,69.1", "2011-10-01,69,1"), "write 12.5, not 12,5"),
    "duplicate date": ("alder-burn", "flow.csv", swap("2011-10-02,", "2011-10-01,"), "stands there before"),
    "negative flow": ("alder-burn", "flow.csv", swap("2011-10-02,66.3", "2011-10-02,-66.3"), "negative"),
    "text in numbers": ("alder-burn", "flow.csv", swap("2011-10-02,66.3", "2011-10-02,frozen"), "'frozen' in the column 'flow' is not a number"),
    "empty file": ("alder-burn", "flow.csv", lambda raw: b"", "the file is empty"),
    "not UTF-8": ("alder-burn", "gaugings.csv", lambda raw: raw.replace(b"bucket", b"b\x81cket", 1), "not UTF-8"),
    "profile that does not fall": ("alder-burn", "penstock.csv", swap("380,194.00", "380,294.00"), "does not fall"),
    "reversed profile": ("hazel-beck", "penstock.csv", swap("2,215.30", "0,215.30"), "is given twice"),
    "running above static": ("saltfern-creek", "readings.csv", swap("2023-03-11,2,54.5", "2023-03-11,2,74.5"), "above the"),
    "too many jets": ("saltfern-creek", "readings.csv", swap("2023-03-11,2,", "2023-03-11,7,"), "7 jets are open"),
    "a quote left open": ("alder-burn", "gaugings.csv", swap("2023-11-29,0.187,22.6,5,salt", '2023-11-29,0.187,22.6,5,"salt'), "line 5: has a \" that is not closed"),
    "a control character": ("alder-burn", "gaugings.csv", swap("salt", "sa\x1blt"), "has a control character"),
    "a flow of no creek": ("alder-burn", "flow.csv", swap("2011-10-02,66.3", "2011-10-02,6.63e25"), "is not of a size that can be measured"),
    "a date of another age": ("alder-burn", "flow.csv", swap("2011-10-01,", "0011-10-01,"), "is not a date"),
    "a field too few": ("alder-burn", "flow.csv", swap("2011-10-02,66.3", "2011-10-02"), "has 1 field where the header has 2; an empty cell needs its comma too"),
    "a money that is punctuation": ("alder-burn", "site.toml", swap('"crowns"', '"%%"'), 'must be a short word'),
    "pipes that do not reach": ("alder-burn", "site.toml", swap("roughness = \"0.03 mm\"", 'length = "40 m"\nroughness = "0.03 mm"'), "the pipes are 40 m long together"),
    "more open than there are": ("saltfern-creek", "site.toml", swap("jets = 4\n", "jets = 4\njets_open = 6\n"), "6 stand open, but there are only 4"),
    "warm water": ("alder-burn", "site.toml", swap('water_temperature = "8 degC"', 'water_temperature = "80 degC"'), "it must lie within 0 °C to 40 °C"),
    "an uncertainty above the value": ("alder-burn", "site.toml", swap("78 % ± 3 %", "78 % ± 80 %"), "it is more than the value itself"),
    "quotes forgotten": ("alder-burn", "site.toml", swap('altitude = "240 m"', "altitude = 240 m"), 'line 9: this line cannot be read: altitude = 240 m (text, and a number with a unit, stand in quotes: altitude = "240 m")'),
    "curly quotes": ("alder-burn", "site.toml", swap('altitude = "240 m"', 'altitude = "240 m”'), "curly quotes; write straight ones"),
    "a quote not closed": ("alder-burn", "site.toml", swap('altitude = "240 m"', 'altitude = "240 m'), 'the quote is not closed; write altitude = "240 m"'),
    "a colon": ("alder-burn", "site.toml", swap('altitude = "240 m"', 'altitude: "240 m"'), "a line is a key, an equals sign and a value"),
    "a key twice": ("alder-burn", "site.toml", swap('altitude = "240 m"', 'altitude = "240 m"\naltitude = "241 m"'), "'altitude' is given twice"),
    "thousands parted by a comma": ("alder-burn", "site.toml", swap('"240 m"', '"1,240 m"'), 'write "1240 m" or "1.240 m"'),
    "thousands parted by a space": ("alder-burn", "site.toml", swap('"240 m"', '"1 240 m"'), 'write "1240 m"'),
    "a bare comma decimal": ("alder-burn", "site.toml", swap('altitude = "240 m"', "altitude = 240,5"), "a comma in a number; write altitude = 240.5"),
    "a range": ("alder-burn", "site.toml", swap('"240 m"', '"240-260 m"'), "is a range; write one number"),
    "feet with a stroke": ("alder-burn", "site.toml", swap('"240 m"', "\"787'\""), "the sign ' is not a unit here; write ft"),
    "inches with two strokes": ("alder-burn", "site.toml", swap('"240 m"', '"787""'), 'inches are written altitude = "787 in"'),
    "feet and inches": ("alder-burn", "site.toml", swap('"240 m"', '"5 ft 6 in"'), "has feet and inches; write one of them"),
    "a count in letters": ("alder-burn", "site.toml", swap("jets = 2  ", 'jets = "four"  '), "'four' is not a number; for example jets = 4"),
    "a capital metre": ("alder-burn", "site.toml", swap('"240 m"', '"240 M"'), "did you mean 'm'?"),
    "a path of Windows": ("alder-burn", "site.toml", swap('"flow.csv"', '"C:\\my\\flow.csv"'), "write / where a path has"),
    "a file name in capitals": ("alder-burn", "site.toml", swap('"flow.csv"', '"Flow.CSV"'), "there is no file 'Flow.CSV'; did you mean 'flow.csv'"),
    "money for each of what": ("alder-burn", "site.toml", lambda raw: re.sub(rb'per_power = "[^"]*"', b"per_power = 1400", raw), 'per_power has no unit (got 1400); say for how much of what that is; for example per_power = "1400 per kW"'),
    "head and profile at odds": ("alder-burn", "site.toml", swap("[penstock]", '[penstock]\nhead = "250 m"'), "[penstock] head: is 250 m, but the profile falls"),
    "another name of the column": ("alder-burn", "flow.csv", swap("flow [L/s]", "runoff [L/s]"), "there is no column 'flow', but one 'runoff'; if that is it, write flow [L/s]"),
    "a unit without brackets": ("saltfern-creek", "readings.csv", swap("pressure [psi]", "pressure psi"), "write the column 'pressure psi' as pressure [psi]"),
    "no header": ("alder-burn", "flow.csv", swap("date,flow [L/s]\n", ""), "'2011-10-01,69.1' names no column known here (date, flow [L/s])"),
    "a title instead of the header": ("alder-burn", "flow.csv", swap("date,flow [L/s]", "My creek"), "put # before a line of title or remark"),
    "spaces between columns": ("alder-burn", "flow.csv", lambda raw: raw.replace(b",", b"  "), "names no column known here"),
    "columns in another order than the header": ("alder-burn", "flow.csv", swap("date,flow [L/s]", "flow [L/s],date"), "line 3: a date stands in the column 'flow', not in 'date'"),
    "stage and flow swapped": ("alder-burn", "gaugings.csv", swap("stage [m],flow [L/s]", "flow [L/s],stage [m]"), "are the columns of stage and flow swapped"),
    "per cent not said": ("alder-burn", "gaugings.csv", swap("uncertainty [%]", "uncertainty"), "title its column uncertainty [%]"),
    "commas that may part thousands": ("alder-burn", "flow.csv", lambda raw: b"date;flow [L/s]\n2011-10-01;1,069\n2011-10-02;1,066\n", "'1,069' may be 1.069 or 1069, and no other number says which"),
    "a date month first": ("alder-burn", "flow.csv", swap("2011-10-01,", "1/2/2024,"), "'1/2/2024' in the column 'date' is not a date; write 2024-03-01 (year-month-day)"),
    "a unit in the cells": ("alder-burn", "flow.csv", swap("69.1", "69.1 L/s"), "a point, no unit in the cell"),
    "none yet": ("alder-burn", "flow.csv", swap("69.1", "none yet"), "leave the cell empty where nothing was measured"),
    "a code for no value": ("alder-burn", "flow.csv", swap("69.1", "-9999"), "leave the cell empty where the flow is missing"),
    "UTF-16 that breaks off": ("alder-burn", "gaugings.csv", lambda raw: raw.decode().encode("utf-16")[:-1], "begins as UTF-16 text but does not go on so"),
    "a workbook": ("alder-burn", "flow.csv", lambda raw: b"PK\x03\x04" + bytes(200), "this is a workbook of a spreadsheet"),
    "psi for a head": ("alder-burn", "site.toml", swap("entry = 0.8 ", 'head = "65 psi" '), "needs something like"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_slip_is_one_sentence_and_exit_code_2(broken, case):
    study, name, change, says = CASES[case]
    code, said = broken(study, name, change)
    assert code == 2, said
    assert says in said and "Traceback" not in said and "Error(" not in said
    assert all(len(line) < 420 for line in said.splitlines())


FINDINGS = {
    "residual above every flow": (
        "alder-burn",
        "site.toml",
        swap('rule = "percentile"', 'rule = "fixed"\nflow = "90000 L/s"'),
        "above every flow",
    ),
    "gauge and profile at odds": (
        "alder-burn",
        "site.toml",
        swap("[penstock]", '[penstock]\nstatic_pressure = "9 bar"'),
        "by the gauge at rest; the first is used: find out which is wrong",
    ),
    "no residual": (
        "saltfern-creek",
        "site.toml",
        lambda raw: re.sub(rb"\[\[rights.residual\]\][^[]*", b"", raw),
        "no residual flow is given",
    ),
}


@pytest.mark.parametrize("case", FINDINGS)
def test_what_can_go_on_is_a_finding(broken, case):
    study, name, change, says = FINDINGS[case]
    code, said = broken(study, name, change)
    assert code == 0 and says in said


def test_a_gap_is_told_and_left_a_gap(studies, capsys):
    from hydrokit.study.opening import open_study

    path = studies / "alder-burn" / "flow.csv"
    before = path.read_bytes()
    lines = before.decode().splitlines(keepends=True)
    first = next(number for number, line in enumerate(lines) if line.startswith("2014-03-05"))
    try:
        path.write_text("".join(lines[:first] + lines[first + 9 :]), encoding="utf-8")
        study = open_study(studies / "alder-burn")
        assert int(study.record.isna().sum()) == 9
        assert any(
            "gap" in each.message or "missing" in each.message
            for each in study.findings(rooms=("record_findings",))
        )
    finally:
        path.write_bytes(before)


def test_a_byte_order_mark_does_no_harm(broken):
    code, said = broken("alder-burn", "gaugings.csv", lambda raw: b"\xef\xbb\xbf" + raw)
    assert code == 0, said


HARMLESS = {
    "semicolons": ("alder-burn", "flow.csv", lambda raw: raw.replace(b",", b";")),
    "tabs": ("alder-burn", "gaugings.csv", lambda raw: raw.replace(b",", b"\t")),
    "blank lines and rows of empty cells at the end": ("alder-burn", "flow.csv", lambda raw: raw + b",\n,\n\n  \n"),
    "empty columns at the right": ("alder-burn", "gaugings.csv", lambda raw: b"\n".join(line if line.startswith(b"#") or not line else line + b",," for line in raw.split(b"\n"))),
    "every cell in quotes": ("alder-burn", "gaugings.csv", lambda raw: b"\n".join(line if line.startswith(b"#") or not line else b",".join(b'"%s"' % cell for cell in line.split(b",")) for line in raw.split(b"\n"))),
    "round brackets and capitals": ("alder-burn", "flow.csv", swap("date,flow [L/s]", "Date,Flow (L/s)")),
    "a clock on a date": ("alder-burn", "flow.csv", swap("2011-10-01,", "2011-10-01 00:00:00,")),
    "GPM": ("alder-burn", "site.toml", swap('licence = "40 L/s"', 'licence = "634 GPM"')),
    "a degree sign": ("alder-burn", "site.toml", swap('water_temperature = "8 degC"', 'water_temperature = "8 ° C"')),
    "a fraction": ("saltfern-creek", "site.toml", swap('length = "915 ft"', 'length = "915 1/2 ft"')),
    "single quotes": ("alder-burn", "site.toml", swap('"240 m"', "'240 m'")),
    "a kind with a capital": ("alder-burn", "site.toml", swap('stage_of_work = "planned"', 'stage_of_work = "Planned"')),
}  # fmt: skip


@pytest.mark.parametrize("case", HARMLESS)
def test_what_is_harmless_and_has_one_meaning_is_taken(broken, case):
    study, name, change = HARMLESS[case]
    code, said = broken(study, name, change)
    assert code == 0, said


def test_everything_wrong_is_told_at_once(studies, capsys):
    path = studies / "alder-burn" / "site.toml"
    before = path.read_bytes()
    try:
        path.write_bytes(
            before.replace(b'altitude = "240 m"', b"altitude = 240")
            .replace(b"jet_kind", b"jet_knid")
            .replace(b'"95 %"', b"95")
        )
        assert main(["check", str(path.parent)]) == 2
        said = "".join(capsys.readouterr())
        assert "altitude" in said and "jet_knid" in said and "95" in said
    finally:
        path.write_bytes(before)


def test_a_study_that_is_not_there(capsys):
    assert main(["check", "studies/alder-bern"]) == 2
    assert "there is no such study" in "".join(capsys.readouterr())
