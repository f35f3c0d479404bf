"""Only what hydrokit wrote is ever replaced; whatever else lies in a folder is its owner's and stays."""

import csv
import json
import os
from pathlib import Path

import pytest
import small_study
import toy

from hydrokit import cli
from hydrokit.errors import InputError, RunError
from hydrokit.runner import run, single
from hydrokit.site import folders, keeping, whole


@pytest.fixture(autouse=True)
def quick_start(monkeypatch):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)


@pytest.fixture
def study(tmp_path):
    return toy.study(tmp_path / "studies" / "creek")


@pytest.fixture
def nbs(tmp_path):
    return toy.notebooks(
        tmp_path / "nb", _01_one="1", _02_two="2", _04_four="4"
    )  # as few as tell some from the others


def go(study, folder, **options):
    return run.run_study(study, folder=folder, **{"open_study": toy.open_toy, **options})


# ---------------------------------------------------------------- a run


def owners_own(reports):
    """Notes, an old print, pictures and a link of the owner's."""
    (reports / "mynotes.txt").write_text("gauge leaks", encoding="utf-8")
    (reports / "index.pdf").write_bytes(b"%PDF of last year")
    (reports / "index.html.bak").write_text("mine", encoding="utf-8")
    (reports / "2025" / "autumn").mkdir(parents=True)
    (reports / "2025" / "autumn" / "01_one.html").write_text("sent to the bank", encoding="utf-8")
    os.symlink("2025", reports / "last")
    return {
        name: text
        for name, text in toy.all_bytes(reports).items()
        if name
        in (
            "mynotes.txt",
            "index.pdf",
            "index.html.bak",
            os.path.join("2025", "autumn", "01_one.html"),
        )
    }


@pytest.mark.slow
@pytest.mark.parametrize("exchange", [True, False])
@pytest.mark.parametrize("first", ["a run before", "no run before"])
def test_what_the_owner_laid_into_reports_is_there_after_a_run(
    study, nbs, monkeypatch, exchange, first
):
    if not exchange:
        monkeypatch.setattr(folders, "_exchange", lambda one, other: False)
    if first == "a run before":
        go(study, nbs)
    else:
        (study / "reports").mkdir()
    kept = owners_own(study / "reports")
    for _ in range(2):
        go(study, nbs)
        assert toy.all_bytes(study / "reports").items() >= kept.items()
        assert os.readlink(study / "reports" / "last") == "2025"
    assert not [each for each in study.iterdir() if each.name.startswith(".reports")]


@pytest.mark.slow
def test_a_page_the_owner_wrote_into_is_kept_beside_the_new_one_and_what_he_laid_there_stays(
    study, nbs
):
    reports = go(study, nbs).reports
    kept = owners_own(reports)
    page = reports / "01_one.html"
    mine = page.read_text(encoding="utf-8").replace("</main>", "my remark</main>")
    page.write_text(mine, encoding="utf-8")
    told = []
    go(study, nbs, progress=told.append)
    assert "01_one.html in reports had been changed; your copy is kept beside the new one" in told
    assert (reports / "01_one (yours).html").read_text(
        encoding="utf-8"
    ) == mine and "my remark" not in page.read_text(encoding="utf-8")
    assert (
        toy.all_bytes(reports).items() >= kept.items() and os.readlink(reports / "last") == "2025"
    )
    go(study, nbs)
    assert (
        toy.all_bytes(reports).items() >= kept.items() and os.readlink(reports / "last") == "2025"
    )
    assert (reports / "01_one (yours).html").read_text(encoding="utf-8") == mine and not (
        reports / "01_one (yours 2).html"
    ).exists()


@pytest.mark.slow
def test_some_notebooks_leave_the_pages_of_the_others_and_say_that_they_are_older(study, nbs):
    before = toy.all_bytes(go(study, nbs).reports)
    after = toy.all_bytes(go(study, nbs, notebooks=["04"]).reports)
    assert set(after) == set(before)
    for name in ("01_one.html", "02_two.html"):
        assert (
            b"This page is from an earlier run (" in after[name]
            and b"This page is from an earlier run" not in before[name]
        )
        assert name.encode() in after["index.html"] and name.encode() in after["04_four.html"]
    assert (
        after["index.html"].count(b"The page is from an earlier run (") == 2
        and b"earlier run" not in after["04_four.html"]
    )
    again = toy.all_bytes(go(study, nbs, notebooks=["02"]).reports)
    assert (
        again["01_one.html"].count(b"This page is from an earlier run") == 1
        and b"earlier run" not in again["02_two.html"]
    )
    whole = toy.all_bytes(go(study, nbs).reports)
    assert not any(b"earlier run" in text for text in whole.values())


@pytest.mark.slow
def test_pages_of_notebooks_that_are_no_more_go_with_a_whole_run(study, nbs):
    go(study, nbs)
    (nbs / "02_two.ipynb").unlink()
    assert "02_two.html" not in toy.all_bytes(go(study, nbs).reports)


@pytest.mark.slow
def test_pages_of_a_version_without_a_manifest_are_known_as_ours(study, nbs):
    reports = go(study, nbs).reports
    (reports / keeping.MANIFEST).unlink()
    (reports / "03_mine.html").write_text("<html>mine</html>", encoding="utf-8")
    after = toy.all_bytes(go(study, nbs).reports)
    assert (
        not [name for name in after if "yours" in name]
        and after["03_mine.html"] == b"<html>mine</html>"
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        '{"files": 3}',
        '{"files": {"a": 3}}',
        '{"files": {"a": {"sha256": 3}}}',
        "[" * 100_000,
        "\0",
    ],
)
def test_a_manifest_that_is_none_claims_nothing(tmp_path, text):
    (tmp_path / keeping.MANIFEST).write_text(text, encoding="utf-8")
    assert keeping.made_in(tmp_path) == {}


@pytest.mark.skipif(os.name == "nt", reason="links are made differently there")
def test_reports_that_are_a_link_are_refused(study, nbs, tmp_path):
    outside = tmp_path / "documents"
    outside.mkdir()
    (outside / "letter.txt").write_text("dear", encoding="utf-8")
    os.symlink(outside, study / "reports")
    with pytest.raises(InputError, match="neither a link nor a file"):
        go(study, nbs)
    assert toy.all_bytes(outside) == {"letter.txt": b"dear"}


@pytest.mark.skipif(os.name == "nt", reason="links are made differently there")
@pytest.mark.parametrize(
    "name",
    [
        ".hydrokit-lock",
        "results.toml",
        pytest.param(".reports-building-7", marks=pytest.mark.slow),
        pytest.param(".reports-old-7", marks=pytest.mark.slow),
    ],
)
def test_a_link_in_the_study_leads_nothing_out_of_it(study, nbs, tmp_path, name):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "letter.txt").write_text("name = 'x'\n", encoding="utf-8")
    (study / name).unlink(missing_ok=True)
    os.symlink(outside if "reports" in name else outside / "letter.txt", study / name)
    try:
        go(study, nbs, accept=True, gone=True)
    except (InputError, RunError):
        pass
    assert toy.all_bytes(outside) == {"letter.txt": b"name = 'x'\n"}


@pytest.mark.slow
def test_a_set_replaced_but_not_yet_cleared_gives_back_what_is_the_owners(study, nbs):
    """Killed between the exchange and the clearing of the old set."""
    go(study, nbs)
    old = study / ".reports-building-1"
    old.mkdir()
    (old / "late.txt").write_text("written while it ran", encoding="utf-8")
    keeping.note(old, {})
    go(study, nbs)
    assert (study / "reports" / "late.txt").read_text(
        encoding="utf-8"
    ) == "written while it ran" and not old.exists()


# ---------------------------------------------------------------- held open


def held(times, monkeypatch):
    """Let renames fail as they do on Windows while another program holds a file."""
    monkeypatch.setattr(whole, "HELD", True)
    monkeypatch.setattr(whole, "PATIENCE", 0.3)
    monkeypatch.setattr(folders, "_exchange", lambda one, other: False)
    rename, left = Path.rename, [times]

    def hold(self, target):
        if self.name == "reports" and left[0]:
            left[0] -= 1
            raise PermissionError(13, "another process uses this file")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", hold)


@pytest.mark.slow
def test_a_file_that_is_held_for_a_moment_is_waited_for(study, nbs, monkeypatch):
    go(study, nbs)
    held(2, monkeypatch)
    assert go(study, nbs).index.is_file()


@pytest.mark.slow
def test_a_file_that_stays_held_loses_neither_set(study, nbs, monkeypatch):
    before = toy.all_bytes(go(study, nbs).reports)
    held(10_000, monkeypatch)
    with pytest.raises(
        RunError,
        match="Another program holds a file in reports open.* Close it; the new set is in reports-new-1",
    ):
        go(study, nbs)
    assert toy.all_bytes(study / "reports") == before
    assert (study / "reports-new-1" / "index.html").is_file()


# ---------------------------------------------------------------- the other verbs


@pytest.fixture(scope="module")
def creek(tmp_path_factory):
    home = tmp_path_factory.mktemp("home")
    small_study.write(home / "studies" / "creek")
    small_study.write(home / "studies" / "other")
    row = ", 46, 380, 30, flow.csv, 38, 20, 10\n"
    (home / "studies" / "creek" / "in.csv").write_text(
        "name, head [m], length [m], catchment [km2], neighbour record, neighbour catchment [km2], licence [L/s], residual [%]\nAlder"
        + row,
        encoding="utf-8",
    )
    return home / "studies" / "creek"


FOREIGN = {
    "the accepted results": ("parts", ".", "--out", "results.toml"), "the site file": ("parts", ".", "--out", "site.toml"), "a record": ("parts", ".", "--out", "flow.csv"), "the table itself": ("sift", "in.csv", "--workers", "1", "--out", "in.csv"),
    "a table beside": ("compare", ".", "../other", "--out", "x.html"), "a page": ("compare", ".", "../other", "--out", "y.html"), "a proof": ("verify", "--out", "flow.csv"), "a link": ("parts", ".", "--out", "link.csv"),
}  # fmt: skip


@pytest.mark.parametrize("words", FOREIGN.values(), ids=FOREIGN)
def test_no_file_of_the_owners_is_written_over(creek, monkeypatch, capsys, words):
    monkeypatch.chdir(creek)
    (creek / "x.csv").write_text("mine", encoding="utf-8")
    (creek / "y.html").write_text("mine", encoding="utf-8")
    if not os.path.lexists("link.csv"):
        os.symlink("flow.csv", "link.csv")
    (creek / "results.toml").write_text('[run]\nhydrokit = "0.1.0"\n', encoding="utf-8")
    before = toy.all_bytes(creek)
    assert cli.main(list(words)) == 2
    assert (
        "hydrokit did not write this file, or it was changed since; name another with --out"
        in capsys.readouterr().err
    )
    assert toy.all_bytes(creek) == before


@pytest.mark.parametrize(
    "words, said",
    [
        (
            ("sift", "in.csv", "--workers", "1", "--out", "both.html"),
            "both.html is the name of another file that is written beside it; write for example "
            "--out both.csv",
        ),
        (
            ("verify", "--pdf", "--out", "both.PDF"),
            "both.PDF is the name of another file that is written beside it; write for example "
            "--out both.html",
        ),
        (("compare", ".", "../other", "--out", "."), ". is a folder; name a file to write"),
        (("compare", ".", "../other", "--out", ""), "names no file; write for example"),
        (("parts", ".", "--out", ""), "names no file; write for example"),
        (("tidy", "."), "this is a folder; a file is needed"),
        (("tidy", ""), "this is a folder; a file is needed"),
    ],
    ids=lambda each: " ".join(each[:1]) if isinstance(each, tuple) else "",
)
def test_two_files_never_take_one_name_and_no_file_has_none(
    creek, monkeypatch, capsys, words, said
):
    monkeypatch.chdir(creek)
    monkeypatch.setattr("hydrokit.runner.outputs.browser_for", lambda pdf: "a browser")
    monkeypatch.setattr(single, "verification_page", lambda: ("all agree", "<html></html>"))
    before = toy.all_bytes(creek)
    assert cli.main(list(words)) == 2
    assert said in capsys.readouterr().err
    assert toy.all_bytes(creek) == before


def test_what_hydrokit_wrote_it_may_write_again_but_not_once_it_was_changed(
    creek, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    for _ in range(2):
        assert cli.main(["parts", str(creek), "--out", "list.csv"]) == 0
    with open("list.csv", "a", encoding="utf-8") as handle:
        handle.write("ordered,on the 3rd\n")
    assert cli.main(["parts", str(creek), "--out", "list.csv"]) == 2
    assert "ordered" in Path("list.csv").read_text(encoding="utf-8")


def test_a_table_that_a_spreadsheet_holds_open_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(whole, "HELD", True)
    monkeypatch.setattr(whole, "PATIENCE", 0.2)

    def hold(part, path):
        raise PermissionError(13, "in use", str(part))

    single.written(tmp_path / "parts.csv", "old\n")
    monkeypatch.setattr(os, "replace", hold)
    with pytest.raises(
        RunError, match=r"parts\.csv may not be written: .* close what holds it open"
    ):
        single.written(tmp_path / "parts.csv", "new\n")
    assert (tmp_path / "parts.csv").read_text(encoding="utf-8") == "old\n" and len(
        list(tmp_path.iterdir())
    ) == 2


def test_everything_goes_into_the_study(creek, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert cli.main(["parts", str(creek)]) == 0
    assert cli.main(["compare", str(creek), str(creek.parent / "other")]) == 0
    assert cli.main(["sift", str(creek / "in.csv"), "--workers", "1"]) == 0
    monkeypatch.setattr(single, "verification_page", lambda: ("all agree", "<html></html>"))
    assert cli.main(["verify", str(creek)]) == 0
    assert list(tmp_path.iterdir()) == []
    made = set(toy.all_bytes(creek / "reports"))
    assert made == {
        "parts.csv",
        "comparison.html",
        "comparison.csv",
        "in_sifted.csv",
        "in_sifted.html",
        "verification.html",
        keeping.MANIFEST,
    }
    assert not (creek.parent / "other" / "reports").exists()
    assert list(csv.reader(open(creek / "reports" / "parts.csv", encoding="utf-8")))
    assert set(
        json.loads((creek / "reports" / keeping.MANIFEST).read_text(encoding="utf-8"))["files"]
    ) == made - {keeping.MANIFEST}


def test_the_sheets_to_print_are_made_anew_as_a_set_and_a_changed_one_is_kept(tmp_path):
    """One of a line that is no more goes; what its owner wrote on, or wrote, stays."""
    last, built = tmp_path / "reports", tmp_path / "built"
    last.mkdir(), built.mkdir()
    for name in ("print_log.html", "print_drain_diversion.html", "calendar.ics"):
        (last / name).write_text("as hydrokit wrote it", encoding="utf-8")
    keeping.note(last, {each.name: {"sha256": keeping.hash_of(each)} for each in last.iterdir()})
    (last / "print_log.html").write_text("with the owner's remarks", encoding="utf-8")
    (last / "print_spares.html").write_text("the owner's own", encoding="utf-8")
    for name in ("print_log.html", "print_spares.html", "calendar.ics"):
        (built / name).write_text("new", encoding="utf-8")
    keeping.carry_over(last, built, {"print_log.html": {"title": "Log", "use": "to write on"}}, {})
    texts = {
        each.name: each.read_text("utf-8") for each in built.iterdir() if each.suffix != ".json"
    }
    assert texts == {
        "print_log.html": "new",
        "print_log (yours).html": "with the owner's remarks",
        "print_spares.html": "new",
        "print_spares (yours).html": "the owner's own",
        "calendar.ics": "new",
    }
    kept = keeping.sheets_kept(built)
    assert [each["file"] for each in kept] == [
        "calendar.ics",
        "print_log.html",
        "print_spares.html",
    ]
    assert kept[1]["title"] == "Log"


def test_sheets_to_print_stay_where_only_some_pages_are_made_anew(tmp_path):
    last, built = tmp_path / "reports", tmp_path / "built"
    last.mkdir(), built.mkdir()
    sheets = ("calendar.ics", "print_log.html", "print_spares.html")
    for name in (*sheets, "01_one.html", "02_two.html"):
        (last / name).write_text("as hydrokit wrote it", encoding="utf-8")
    keeping.note(last, {each.name: {"sha256": keeping.hash_of(each)} for each in last.iterdir()})
    (built / "01_one.html").write_text("new", encoding="utf-8")
    keeping.carry_over(last, built, {}, keeping.older_pages(last, {"01_one"}))
    assert {each.name for each in built.iterdir()} == {
        *sheets,
        "01_one.html",
        "02_two.html",
        keeping.MANIFEST,
    }
    assert [each["file"] for each in keeping.sheets_kept(built)] == list(sheets)
