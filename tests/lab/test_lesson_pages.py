"""Handouts, the teacher's guide and slides, made of the notebooks; drawings and glossary in them."""

import re
from pathlib import Path

import nbformat
import pytest

from hydrokit.errors import HydrokitError
from hydrokit.lab.drawings import DRAWINGS, drawing
from hydrokit.lab.lesson_pages import answers_in, guide, handout
from hydrokit.lab.slides import slides
from hydrokit.lab.workshop import lessons
from hydrokit.report.glossary import explained
from hydrokit.report.marking import plain

PATHS = lessons()
each_lesson = pytest.mark.parametrize("stem", PATHS)


@pytest.fixture(scope="module")
def notebooks():
    """The lessons with the outputs they are committed with; a workshop runs them for their figures too."""
    return {stem: nbformat.read(path, as_version=4) for stem, path in PATHS.items()}


def text_of(page):
    """What stands on a page, without its style."""
    return plain(page.partition("<body")[2])


def source(notebook, name):
    return next(each.source for each in notebook.cells if each.id == name)


# --- what each lesson has ----------------------------------------------------------------------


@each_lesson
def test_a_lesson_begins_with_a_question_and_sums_up(notebooks, stem):
    notebook = notebooks[stem]
    order = [each.id for each in notebook.cells]
    places = ["title", "goal", "warm-up", "key-points", "exercises", "one-more", "field", "own-creek", "words", "sources", "teacher", "cautions"]  # fmt: skip
    assert [order.index(each) for each in places] == sorted(order.index(each) for each in places)
    assert "<details><summary>Answer</summary>" in source(notebook, "warm-up")
    assert "<details><summary>Answer</summary>" in source(notebook, "one-more")
    assert 3 <= source(notebook, "key-points").count("\n- ") <= 5


def test_each_lesson_explains_its_terms_from_the_one_glossary(notebooks):
    for stem, notebook in notebooks.items():
        named = re.findall(r'"([^"]+)"', source(notebook, "words-run"))
        assert 8 <= len(set(named)) == len(named) <= 12, stem
        assert all(meaning for _, meaning in explained(*named).rows)


def test_a_term_that_is_not_explained_is_refused():
    with pytest.raises(HydrokitError, match="did you mean 'net head'"):
        explained("net haed")


# --- drawings ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_says_what_it_shows_and_can_be_read_in_print(name):
    made = drawing(name)
    assert 60 < len(made.alt) < 320 and made.alt.endswith(".")
    assert "<script" not in made.svg and "href" not in made.svg and "url(" not in made.svg
    width = float(re.search(r"<svg [^>]*width='([\d.]+)'", made.svg)[1])
    # 170 mm is what a sheet of A4 holds beside its margins; a point is 0.353 mm.
    for size in re.findall(r"font-size='([\d.]+)'", made.svg):
        assert float(size) / width * 170 / 0.353 >= 7, size
    # A white sheet of its own under everything: no theme shows through.
    assert re.search(
        r"<svg [^>]+>\n<rect width='[\d.]+' height='[\d.]+' rx='6' fill='#ffffff'/>", made.svg
    )
    # Water is told from ground by its strokes as well as by its colour.
    assert made.svg.count("#6f9db4") >= 5 or name in ("one-line diagram",)


def test_a_drawing_keeps_within_its_sheet():
    for name in DRAWINGS:
        svg = drawing(name).svg
        width, height = (
            float(each) for each in re.search(r"viewBox='0 0 ([\d.]+) ([\d.]+)'", svg).groups()
        )
        for points in re.findall(r"points='([^']+)'", svg):
            for each in points.split():
                x, y = (float(number) for number in each.split(","))
                assert 0 <= x <= width and 0 <= y <= height, (name, each)


def test_every_drawing_stands_in_a_lesson(notebooks):
    text = "\n".join(each.source for notebook in notebooks.values() for each in notebook.cells)
    for name in DRAWINGS:
        assert f'drawing("{name}")' in text
    with pytest.raises(HydrokitError, match="did you mean 'V-notch'"):
        drawing("V-noth")


# --- pages -------------------------------------------------------------------------------------


@each_lesson
def test_a_handout_asks_everything_and_tells_no_answer(notebooks, stem):
    notebook = notebooks[stem]
    page = handout(notebook)
    text = text_of(page)
    for cell in notebook.cells:
        if cell.source.startswith("### Exercise"):
            assert plain(cell.source.partition("\n")[0].lstrip("# ")) in text
    for _, answer in answers_in(notebook):
        assert answer[:40] not in text
    for hidden in (
        "answer_1",
        "check_1",
        "Teacher",
        "How to use these pages",
        "details",
        "own_study",
    ):
        assert hidden not in text, hidden
    assert "<script" not in page
    assert text.index("Before ") < text.index("Warm-up") or "Beside a running plant" in text
    for key in re.findall(r'^    "([\w.]+)":', source(notebook, "own-creek-write"), re.M):
        assert "write it here" in text and text.count("_" * 24) >= 1
        assert key in text, "a line to write on for each thing the lesson asks of one's own creek"


def test_the_guide_holds_every_answer_and_every_page_for_the_teacher(notebooks):
    text = text_of(guide(notebooks, ["Two days."]))
    for notebook in notebooks.values():
        found = list(answers_in(notebook))
        assert len(found) == 7, "five exercises, the warm-up and one more"
        assert text.count("Common mistakes.") == len(lessons())
    assert text.count("Answers") >= 6 and "Exercise 5: when to gauge next" in text


@each_lesson
def test_slides_hold_the_lesson_and_no_answer(notebooks, stem):
    page = slides(notebooks[stem])
    text = text_of(page)
    for _, answer in answers_in(notebooks[stem]):
        assert answer[:40] not in text
    assert "<script" not in page and "http" not in page.replace("http-equiv", "")
    many = page.count("<section")
    assert 14 <= many <= 40 and f"{many} / {many}" in text
    assert text.count("Exercise ") >= 5 and "Key points" in text and "In the field" in text
    assert not re.search(r"<img(?![^>]*alt=.[^'\"])", page), "a picture without words"


@pytest.mark.deep
def test_slides_and_handouts_fit_their_paper_and_their_screen(tmp_path):
    """A whole workshop as it is made, in a browser: nothing runs over a slide, a handout has at most six sheets."""
    from pypdf import PdfReader

    from hydrokit.lab import workshop
    from hydrokit.report.pdf import find_browser

    playwright = pytest.importorskip("playwright.sync_api")
    folder = tmp_path / "workshop"
    workshop.lay(folder)
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=find_browser(), args=["--no-sandbox"])
        for width, height in ((1280, 720), (1024, 768)):
            page = browser.new_page(viewport={"width": width, "height": height})
            for each in sorted((folder / "slides").glob("*.html")):
                page.goto(each.as_uri())
                over = page.evaluate(
                    "[...document.querySelectorAll('section')].filter(s => s.scrollHeight > s.clientHeight + 2).map(s => s.innerText.slice(0, 60))"
                )
                assert not over, (each.name, over)
        for each in sorted((folder / "slides").glob("*.html")):
            page.goto(each.as_uri())
            many = page.evaluate("document.querySelectorAll('section').length")
            page.pdf(path=tmp_path / "slides.pdf", prefer_css_page_size=True)
            assert len(PdfReader(tmp_path / "slides.pdf").pages) == many, each.name
        for each in sorted((folder / "handouts").glob("*.html")):
            page.goto(each.as_uri())
            sheets = PdfReader(each.with_suffix(".pdf")).pages
            assert len(sheets) <= 6, each.name
            assert {round(float(sheet.mediabox.height)) for sheet in sheets} == {842}, "A4"
            assert "Exercise 5" in "".join(sheet.extract_text() for sheet in sheets)
            assert page.evaluate("[...document.images].every(i => i.naturalWidth > 0 && i.alt)")
        browser.close()
    for name in ("teachers_guide", "timetable"):
        assert Path(folder / f"{name}.html").is_file() and Path(folder / f"{name}.pdf").is_file()
