"""What a run makes of its pages: whole or not at all, of this run only, and nothing of the owner's is touched."""

import csv
import os

import pytest
import toy
from nbformat import v4

from hydrokit.report import html as report_html
from hydrokit.report.display import Table
from hydrokit.runner import outputs, run
from hydrokit.site import folders, keeping

NAMES = ["01_one", "02_two"]
TABLE = Table(("month", "P50 [kWh]"), [("January", 12345.0)], "Energy by month")._repr_html_()


@pytest.fixture(scope="module")
def pages():
    """Name to text of the pages of a set."""
    reporter = report_html.Reporter("Toy creek", "Nowhere", NAMES)
    shown = v4.new_output("display_data", data={"text/html": TABLE})
    made = {}
    told = []
    for name in NAMES:
        cells = [v4.new_markdown_cell(f"# {name}"), v4.new_code_cell("x", outputs=[shown])]
        page, made[name] = reporter.page(name, v4.new_notebook(cells=cells))
        told.append(page)
    made["index"] = reporter.index(told, [], [], {})
    return made


@pytest.fixture
def study(tmp_path):
    return toy.study(tmp_path / "creek")


def swapped(study, pages, wanted, anew=NAMES, browser=""):
    """A set as a run puts it there, without a kernel."""
    older = keeping.older_pages(study / "reports", set(anew)) if set(anew) != set(NAMES) else {}
    with folders.building(study) as built:
        for name in ("index", *anew):
            (built / f"{name}.html").write_text(pages[name], encoding="utf-8")
        made = outputs.make(wanted, browser, built, run._texts(study, older), "metric")
        carried = keeping.carry_over(study / "reports", built, {}, older)
        reports = folders.swap_in(built, study)
    return made, carried, reports


ALL = outputs.Outputs(one_file=True, tables=True)


def test_one_file_and_tables_lie_beside_the_pages(study, pages):
    made, _, reports = swapped(study, pages, ALL)
    assert made == ("tables/ (2 tables)", "report.html")
    names = sorted(each.name for each in (reports / "tables").iterdir())
    assert names == [keeping.MANIFEST, "01-01 energy by month.csv", "02-01 energy by month.csv"]
    table = reports / "tables" / names[1]
    assert table.read_bytes().startswith(b"\xef\xbb\xbfmonth,")
    with open(table, encoding="utf-8-sig", newline="") as handle:
        assert list(csv.reader(handle)) == [["month", "P50 [kWh]"], ["January", "12300"]]
    assert keeping.is_ours(table) and keeping.is_ours(reports / "report.html")
    assert "01_one" in (reports / "report.html").read_text(encoding="utf-8")


def test_what_a_run_does_not_make_anew_goes_and_what_is_the_owners_stays(study, pages):
    _, _, reports = swapped(study, pages, ALL)
    (reports / "tables" / "mine.csv").write_text("a,b\n", encoding="utf-8")
    changed = reports / "tables" / "01-01 energy by month.csv"
    changed.write_text("corrected by hand\n", encoding="utf-8")
    _, carried, reports = swapped(study, pages, outputs.Outputs())
    assert carried.gone == ["report.html", "tables/"]
    assert sorted(os.listdir(reports / "tables")) == ["01-01 energy by month.csv", "mine.csv"]
    assert changed.read_text(encoding="utf-8") == "corrected by hand\n"
    _, carried, reports = swapped(study, pages, ALL)
    assert carried.changed == ["tables/01-01 energy by month.csv"]
    assert sorted(os.listdir(reports / "tables")) == [
        keeping.MANIFEST,
        "01-01 energy by month (yours).csv",
        "01-01 energy by month.csv",
        "02-01 energy by month.csv",
        "mine.csv",
    ]
    _, carried, reports = swapped(study, pages, ALL)
    assert not carried.changed and not carried.gone
    assert (reports / "tables" / "mine.csv").read_text(encoding="utf-8") == "a,b\n"


@pytest.mark.parametrize("exchange", [True, False])
def test_a_file_that_comes_while_a_set_is_built_is_kept(study, pages, monkeypatch, exchange):
    if not exchange:
        monkeypatch.setattr(folders, "_exchange", lambda one, other: False)
    swapped(study, pages, ALL)
    swap = folders.swap_in

    def late(built, study):
        (study / "reports" / "tables" / "late.csv").write_text("late", encoding="utf-8")
        return swap(built, study)

    monkeypatch.setattr(folders, "swap_in", late)
    for wanted in (ALL, outputs.Outputs()):
        _, _, reports = swapped(study, pages, wanted)
        assert (reports / "tables" / "late.csv").read_text(encoding="utf-8") == "late"


@pytest.mark.skipif(os.name == "nt", reason="links are made differently there")
@pytest.mark.parametrize("kind", ["link", "file", "folder"])
def test_an_owners_tables_of_any_kind_stay(study, pages, tmp_path, kind):
    reports = study / "reports"
    reports.mkdir()
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "01-01 energy by month.csv").write_text("mine", encoding="utf-8")
    if kind == "link":
        os.symlink(outside, reports / "tables")
    elif kind == "file":
        (reports / "tables").write_text("mine", encoding="utf-8")
    else:
        (reports / "tables").mkdir()
        (reports / "tables" / "mine.csv").write_text("mine", encoding="utf-8")
    for wanted in (outputs.Outputs(), ALL, outputs.Outputs()):
        swapped(study, pages, wanted)
    assert toy.all_bytes(outside) == {"01-01 energy by month.csv": b"mine"}
    kept = {"link": "tables (yours)", "file": "tables (yours)", "folder": "tables/mine.csv"}[kind]
    assert os.path.lexists(reports / kept)


def test_pages_of_an_earlier_run_are_in_the_one_file_and_marked(study, pages):
    swapped(study, pages, outputs.Outputs())
    _, _, reports = swapped(study, pages, ALL, anew=["02_two"])
    text = (reports / "report.html").read_text(encoding="utf-8")
    assert text.count('<p class="older">') == 1 and 'id="p-01_one"' in text
    assert len(os.listdir(reports / "tables")) == 3


@pytest.mark.slow
def test_a_run_prints_its_pages_and_the_whole(study, tmp_path, monkeypatch):
    monkeypatch.setattr("hydrokit.runner.kernel.EXTENSIONS", toy.EXTENSIONS)
    from hydrokit.report.pdf import find_browser

    find_browser()
    notebooks = toy.notebooks(tmp_path / "nb", _01_one="1", _02_two="2")
    wanted = outputs.Outputs(pdf=True, one_file=True, tables=True, paper="Letter")
    outcome = run.run_study(study, folder=notebooks, open_study=toy.open_toy, outputs=wanted)
    for name in ("index.pdf", "01_one.pdf", "02_two.pdf", "report.pdf"):
        assert (outcome.reports / name).read_bytes().startswith(b"%PDF"), name
    assert not (outcome.reports / "report (yours).html").exists()
    assert [each.partition(" ")[0] for each in outcome.beside] == [
        "tables/",
        "report.pdf",
        "report.html",
    ]
    told = []
    outcome = run.run_study(study, folder=notebooks, open_study=toy.open_toy, progress=told.append)
    assert not list(outcome.reports.glob("*.pdf")) and any("taken away" in each for each in told)
