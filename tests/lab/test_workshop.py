"""The folder of a workshop: whole or not at all, nothing of anybody's replaced, laid anew for the next group."""

import os
import re
from datetime import date
from pathlib import Path

import nbformat
import pytest

from hydrokit import cli
from hydrokit.errors import InputError, Mistake, RunError
from hydrokit.lab import workshop
from hydrokit.lab.home import workshop_in
from hydrokit.lab.offline_kit import kit_text, needed
from hydrokit.lab.timetable import DAYS, minutes_of, timed
from hydrokit.report.marking import plain
from hydrokit.site import whole
from hydrokit.study.opening import check_study


@pytest.fixture(scope="module")
def laid(tmp_path_factory):
    """A workshop as it is made; no test changes it."""
    folder = tmp_path_factory.mktemp("any") / "workshop"
    with pytest.MonkeyPatch.context() as monkeypatch:
        monkeypatch.setattr(workshop, "run_lessons", as_committed)
        monkeypatch.setattr(workshop.pdf, "find_browser", no_browser)
        workshop.lay(folder)
    return folder


def as_committed(lessons):
    """The lessons with the outputs they are committed with, which takes no kernel."""
    return {stem: nbformat.read(path, as_version=4) for stem, path in lessons.items()}


def no_browser():
    raise InputError(Mistake("--pdf", "", "none was found"))


def held(folder):
    """Every file of a folder with its bytes."""
    return {
        each.relative_to(folder).as_posix(): each.read_bytes()
        for each in sorted(folder.rglob("*"))
        if each.is_file()
    }


@pytest.fixture
def used(tmp_path):
    """A workshop of lessons alone, in which a group has worked."""
    folder = tmp_path / "workshop"
    (folder / "lessons").mkdir(parents=True)
    (folder / "lessons" / "01_measure.ipynb").write_text("worked on", encoding="utf-8")
    (folder / "mine").mkdir()
    (folder / "mine" / "site.toml").write_text("# my own", encoding="utf-8")
    return folder


def test_a_workshop_holds_what_a_teacher_needs(laid, capsys):
    stems = [each.stem for each in sorted((laid / "lessons").glob("*.ipynb"))]
    assert stems == list(workshop.lessons())
    page = (laid / "index.html").read_text(encoding="utf-8")
    for stem in stems:
        assert f"lessons/{stem}.ipynb" in page
        for kind in ("handouts", "slides"):
            assert (laid / kind / f"{stem}.html").is_file()
    assert (laid / "teachers_guide.html").is_file() and (laid / "timetable.html").is_file()
    for name in ("alder-burn", "hazel-beck", "saltfern-creek"):
        assert (laid / "studies" / name / "site.toml").is_file()
    assert "pages to print from any browser" in plain(page), "no browser, no PDF"
    assert check_study(laid / "studies" / "saltfern-creek")
    assert workshop_in(str(laid)) == "lessons/01_measure.ipynb"
    assert not [each for each in laid.parent.iterdir() if each != laid], "nothing is left beside it"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_what_is_for_paper_is_printed_where_a_browser_is(tmp_path, monkeypatch, paper):
    def printing(browser, folder, on, names):
        for name in names:
            pdf = (folder / name).with_suffix(".pdf")
            pdf.parent.mkdir(exist_ok=True)
            pdf.write_text(f"{browser} {on}")
        if browser == "breaks":
            raise RunError("the browser could not print")

    monkeypatch.setattr(workshop.pdf, "print_pages", printing)
    monkeypatch.setattr(workshop.pdf, "find_browser", lambda: "breaks")
    assert "to print from any browser" in workshop.printed(tmp_path, paper)
    assert not list(tmp_path.rglob("*.pdf")), "what was printed half is not left"
    monkeypatch.setattr(workshop.pdf, "find_browser", lambda: "one")
    assert f"for {paper} paper" in workshop.printed(tmp_path, paper)
    found = {each.relative_to(tmp_path).as_posix() for each in tmp_path.rglob("*.pdf")}
    handouts = {f"handouts/{stem}.pdf" for stem in workshop.lessons()}
    assert found == handouts | {"teachers_guide.pdf", "timetable.pdf"}
    assert (tmp_path / "timetable.pdf").read_text() == f"one {paper}"


def test_what_is_there_is_never_touched(laid, tmp_path, capsys):
    before = held(laid)
    assert cli.main(["workshop", str(laid)]) == 2
    assert "--reset" in capsys.readouterr().err and held(laid) == before
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").write_text("mine", encoding="utf-8")
    for words in (["other"], ["other", "--reset"], ["other/letter.txt"], ["nowhere", "--reset"]):
        assert cli.main(["workshop", str(tmp_path / words[0]), *words[1:]]) == 2
    assert held(tmp_path) == {"other/letter.txt": b"mine"}


def test_a_workshop_is_made_whole_or_not_at_all(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(workshop, "write_demo", full)
    with pytest.raises(RunError, match="disk is full"):
        workshop.lay(tmp_path / "workshop")
    assert not list(tmp_path.iterdir())


def test_a_folder_that_cannot_be_made_is_named_as_it_was_typed(tmp_path, monkeypatch):
    make = Path.mkdir

    def refused(self, *rest, **named):
        if self.name.startswith(whole.BUILDING):
            raise PermissionError(13, "Permission denied", str(self))
        make(self, *rest, **named)

    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(RunError, match=r"/w may not be written: make the folder writable"):
        workshop.lay(tmp_path / "w")


def test_a_workshop_fills_the_empty_folder_that_one_stands_in(tmp_path, monkeypatch):
    monkeypatch.setattr(workshop, "_pages", dict)
    monkeypatch.setattr(workshop.pdf, "find_browser", no_browser)
    here, killed = tmp_path / "here", tmp_path / f"{whole.BUILDING}there-1"
    (killed / "lessons").mkdir(parents=True)
    here.mkdir()
    monkeypatch.chdir(here)
    for place in (".", "../there"):
        workshop.lay(Path(place))
        assert Path(place, "lessons").is_dir() and Path(place, "index.html").is_file()
    assert {each.name for each in tmp_path.iterdir()} == {"here", "there"}


def test_the_next_group_begins_anew_and_the_last_keeps_its_work(used):
    day = date(2026, 11, 29)
    said = workshop.reset(used, day)
    assert "kept as 'lessons until 2026-11-29'" in said[0] and "mine until" in said[1]
    kept = used / "lessons until 2026-11-29" / "01_measure.ipynb"
    assert kept.read_text(encoding="utf-8") == "worked on"
    assert (used / "mine until 2026-11-29" / "site.toml").read_text(encoding="utf-8") == "# my own"
    assert not (used / "mine").exists()
    fresh = used / "lessons" / "01_measure.ipynb"
    assert fresh.read_bytes() == workshop.lessons()["01_measure"].read_bytes()
    workshop.reset(used, day)
    assert (used / "lessons until 2026-11-29 (2)").is_dir() and kept.is_file()


def test_a_reset_that_fails_leaves_all_as_it_was(used, monkeypatch):
    before = held(used)
    rename = Path.rename

    def last_fails(self, target):
        if Path(target).name == "lessons" and "building" in self.name:
            raise OSError(13, "Permission denied")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", last_fails)
    with pytest.raises(RunError):
        workshop.reset(used, date(2026, 11, 29))
    assert held(used) == before and sorted(os.listdir(used)) == ["lessons", "mine"]


def test_only_a_workshop_is_opened_as_one(tmp_path):
    (tmp_path / "lessons").mkdir()
    assert not workshop_in(None) and not workshop_in(str(tmp_path))
    (tmp_path / "lessons" / "01_one.ipynb").touch()
    assert workshop_in(str(tmp_path)) == "lessons/01_one.ipynb"
    (tmp_path / "site.toml").touch()
    assert not workshop_in(str(tmp_path)), "a study is opened as a study"
    with pytest.raises(InputError):
        workshop.reset(tmp_path, date(2026, 1, 1))


def test_the_list_of_packages_is_whole_and_exact():
    lines = [each for each in kit_text().splitlines() if not each.startswith("#")]
    assert lines and all(re.fullmatch(r"[a-z0-9-]+==\S+", each) for each in lines)
    found = needed()
    # What hydrokit asks for itself, what these ask for, and nothing that tests alone ask for.
    assert {"numpy", "jupyterlab", "packaging", "tornado", "pyzmq"} <= set(found)
    assert not {"pytest", "hypothesis", "ruff", "hydrokit"} & set(found)


def test_two_days_add_up():
    """Lengths of lessons are those of their own pages; no day is longer than people last."""
    known = workshop.lessons()
    planned = [each.what for _, blocks in DAYS for each in blocks if each.what in known]
    assert planned == list(known), "each lesson once, in order"
    assert minutes_of(known["01_measure"]) == 135
    for begin, blocks in DAYS:
        rows = list(timed(begin, blocks, known))
        assert all(one[1] == next_one[0] for one, next_one in zip(rows, rows[1:]))
        hour, minute = (int(each) for each in rows[-1][1].split(":"))
        assert 60 * hour + minute <= 18 * 60
        assert any("Lunch" in each[2] for each in rows)


def test_day_one_ends_in_watts():
    first_day = [each.what for each in DAYS[0][1]]
    assert first_day.index("01_measure") < first_day.index("02_head_and_pipe")
    lesson = nbformat.read(workshop.lessons()["02_head_and_pipe"], as_version=4)
    assert any("## Power is flow times the head" in each.source for each in lesson.cells)
