"""The bridge to one's own creek: six lessons write a sound study, and nothing that the learner wrote is replaced."""

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import own_creek
import pytest

import hydrokit as hk
from hydrokit.lab import own_study
from hydrokit.lab.own_sheets import SHEETS, sheet_text
from hydrokit.study.opening import check_study, open_study


def run_cell(source, monkeypatch, lessons):
    """What a cell shows, run in a folder of lessons."""
    monkeypatch.chdir(lessons)
    *lines, last = source.splitlines()
    names = {}
    exec("\n".join(lines), names)
    return str(eval(last, names))


@pytest.fixture
def lessons(tmp_path):
    folder = tmp_path / "workshop" / "lessons"
    folder.mkdir(parents=True)
    return folder


@pytest.fixture(scope="module", params=["metric", "us"])
def played(request, tmp_path_factory):
    """Six lessons played with a made-up learner's numbers: the study, and what each cell showed."""
    folder = tmp_path_factory.mktemp("played") / "lessons"
    folder.mkdir()
    with pytest.MonkeyPatch.context() as monkeypatch:
        shown = [
            run_cell(
                own_creek.filled(source, own_creek.NUMBERS[request.param]), monkeypatch, folder
            )
            for _, source in own_creek.own_cells()
        ]
    return request.param, folder.parent / "mine", shown


def test_after_six_lessons_there_is_a_sound_study(played):
    units, study, shown = played
    assert len(shown) == 6
    for each in shown:
        assert each.startswith("**Written**") and "finds it sound" in each, each
    assert not [each for each in check_study(study) if each.level == "problem"]
    raw = tomllib.loads((study / "site.toml").read_text(encoding="utf-8"))
    for key, value in own_creek.NUMBERS[units].items():
        at = raw
        for step in key.split("."):
            at = at[0] if isinstance(at, list) else at
            at = at[step]
        assert at == (SHEETS[key].file if key in SHEETS else value), key


def test_what_was_written_is_what_was_meant(played):
    """Against the numbers themselves, by their units, with no hydrokit in between."""
    units, study, _ = played
    opened = open_study(study)
    gpm, foot = 3.785411784e-3 / 60, 0.3048
    wanted = {
        "metric": ([0.0062, 0.0084, 0.014], 45.9, 250.0),
        "us": ([100 * gpm, 150 * gpm], 150 * foot, 800 * foot),
    }[units]
    assert opened.gaugings.flow_m3s == pytest.approx(wanted[0], rel=1e-3)
    assert opened.gaugings.uncertainty[0] == pytest.approx(0.04)
    assert opened.head.value == pytest.approx(wanted[1], rel=1e-3)
    assert opened.penstock.length_m == pytest.approx(wanted[2], rel=0.03)  # along the slope
    assert opened.site.turbine.jets == 2


def test_every_key_that_a_lesson_asks_for_is_answered_by_a_learner():
    asked = [key for _, source in own_creek.own_cells() for key in own_creek.asked(source)]
    assert len(asked) == len(set(asked)), "no two lessons ask for the same"
    left = {"penstock.head", "penstock.pipe.inside_diameter", "stream.record"}
    for numbers in own_creek.NUMBERS.values():
        assert set(asked) - left == set(numbers)


def test_the_examples_in_the_remarks_are_taken():
    """Each remark gives examples; all of them are values that their key takes, in both unit systems."""
    import re

    from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS
    from hydrokit.site.values import value_of

    tried = 0
    for _, source in own_creek.own_cells():
        for name, remark in re.findall(r'^    "([\w.]+)": None,  # (.+)$', source, re.M):
            *section, key = name.split(".")
            within = {**SECTIONS, **LISTS}[".".join(section)]
            about = within.get(key) or PART_KINDS["screen"][key]
            for example in re.findall(r'"([^"]+)"', remark) or re.findall(r"^\d+", remark):
                value = example if f'"{example}"' in remark else int(example)
                value_of(value, about, name)  # raises where it is none
                tried += 1
    assert tried > 40


def test_watts_of_the_first_day_by_hand(played):
    """US: 150 gpm, 150 ft, 800 ft of 4 in PVC: the lesson's own example, 139 ft left and 2,160 W."""
    units, study, _ = played
    said = str(own_study.first_watts(study))
    if units == "us":
        assert "150 gpm" in said and "139 ft are left" in said, said
        assert "2,200 W" in said, said
    else:
        assert "14 L/s" in said and " W" in said, said


def test_nothing_is_written_before_one_is_sure(lessons, monkeypatch):
    (_, source), *_ = own_creek.own_cells()
    said = run_cell(source, monkeypatch, lessons)
    assert said.startswith("**Nothing to write yet.**")
    said = run_cell(
        own_creek.filled(source, own_creek.NUMBERS["us"], sure=False), monkeypatch, lessons
    )
    assert said.startswith("**Nothing is written yet.**") and "Sedge Creek" in said
    assert "gaugings.csv: 2 lines of date" in said
    assert not (lessons.parent / "mine").exists()


def test_a_lesson_may_change_what_it_wrote_and_nothing_that_the_learner_wrote(tmp_path):
    study = tmp_path / "mine"
    first = {
        "site.name": "Wren Beck",
        "penstock.length": "240 m",
        "stream.gaugings": [("2026-06-01", "8 L/s", "4 %", "bucket")],
    }
    assert str(own_study.write(first, True, study)).startswith("**Written**")
    said = str(own_study.write({"penstock.length": "250 m"}, False, study))
    assert "penstock.length = 250 m, in place of 240 m" in said
    assert "240 m" in (study / "site.toml").read_text(encoding="utf-8")
    assert str(own_study.write({"penstock.length": "250 m"}, True, study)).startswith("**Written**")
    assert "stands in your study already" in str(
        own_study.write({"penstock.length": "250 m"}, True, study)
    )

    file = study / "site.toml"
    by_hand = file.read_text(encoding="utf-8").replace('"250 m"', '"263 m"  # taped again')
    file.write_text(by_hand, encoding="utf-8")
    sheet = study / "gaugings.csv"
    sheet.write_text(
        sheet.read_text(encoding="utf-8") + "2026-07-01,5,4,bucket\n", encoding="utf-8"
    )
    before = {each.name: each.read_bytes() for each in study.iterdir()}
    again = first | {
        "penstock.length": "250 m",
        "site.altitude": "400 m",
        "stream.gaugings": [("2026-06-01", "9 L/s", "4 %", "bucket")],
    }
    said = str(own_study.write(again, True, study))
    assert said.startswith("**Nothing is written.**")
    assert "263 m, which you wrote there yourself" in said and "gaugings.csv" in said
    assert {each.name: each.read_bytes() for each in study.iterdir()} == before
    # What is new goes in beside it, and their remark stays.
    assert str(own_study.write({"site.altitude": "400 m"}, True, study)).startswith("**Written**")
    assert "# taped again" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "mine, told",
    [
        ({"site.name": "x", "penstock.length": "250 bar"}, "penstock"),
        ({"site.name": "x", "penstock.lenght": "250 m"}, "did you mean"),
        ({"site.name": "x", "stream.gaugings": [("1 June", "8 L/s", "4 %", "bucket")]}, '"2026-06-01"'),
        ({"site.name": "x", "stream.gaugings": [("2026-06-01", "8 bar", "4 %", "bucket")]}, '"8.4 L/s"'),
        ({"site.name": "x", "stream.gaugings": [("2026-06-01", "8 L/s")]}, "it takes 4"),
        ({"site.name": "x", "site.display": "us", "readings.file": [("2026-06-01", 1, "x", None, "yes")]}, '"60 psi"'),
        ({"site.name": "x", "stream.record": "flow.csv"}, "flow.csv"),
        ({"site.name": "<script>", "penstock.length": "<b>"}, "penstock"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_and_nothing_is_written(tmp_path, mine, told):
    said = str(own_study.write(mine, True, tmp_path / "mine"))
    assert said.startswith("**Nothing is written.**") and told in said, said
    assert "hydrokit-lesson-" not in said, "no folder is named that the learner does not know"
    assert not list(tmp_path.iterdir())


def test_all_mistakes_come_at_once(tmp_path):
    rows = [("x", "8 bar", "4", 3), ("2026-06-01", "8 L/s", "4 %", "bucket")]
    said = str(own_study.write({"stream.gaugings": rows}, True, tmp_path / "mine"))
    assert "line 1, date" in said and "line 1, flow" in said and "line 1, uncertainty" in said


def test_a_gauging_stands_for_flow_uncertainty_and_method():
    text = sheet_text(
        SHEETS["stream.gaugings"],
        [("2026-06-01", hk.bucket("12 L", ["6 s", "6 s", "6 s"]))],
        "metric",
    )
    title, row = text.splitlines()
    assert title == "date,flow [L/s],uncertainty [%],method"
    day, flow, uncertainty, method = row.split(",")
    assert (day, float(flow), method) == ("2026-06-01", 2.0, "bucket")
    assert float(uncertainty) == pytest.approx(3.9, abs=0.2)  # mark 2 %, watch 3.3 %


def test_where_a_study_of_ones_own_lies(tmp_path):
    for lessons, mine in (
        ("workshop/lessons", "workshop/mine"),
        ("workshop/lessons until 2026-11-29", "workshop/mine until 2026-11-29"),
        ("checkout/notebooks/lessons", "checkout/studies/mine"),
        ("elsewhere", "elsewhere/mine"),
    ):
        assert own_study.place(tmp_path / lessons) == (tmp_path / mine).resolve()


@pytest.mark.deep
def test_the_study_of_six_lessons_gives_a_report(played, tmp_path):
    _, study, _ = played
    copy = Path(shutil.copytree(study, tmp_path / "mine"))
    done = subprocess.run(
        [sys.executable, "-m", "hydrokit", "run", "mine"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    assert len(list((copy / "reports").glob("0*.html"))) == 9
    assert "kWh" in (copy / "reports" / "index.html").read_text(encoding="utf-8")
