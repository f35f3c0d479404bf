"""A whole study as one document: nothing twice, every link within it, and the sheets in its contents are true."""

import re
import shutil

import pytest
from bs4 import BeautifulSoup
from nbformat import v4

from hydrokit.errors import Finding
from hydrokit.report import html as report_html
from hydrokit.report.book import Leaf, joined
from hydrokit.report.display import Table, Words
from hydrokit.report.pdf import _for_paper

BROWSER = shutil.which("chromium") or shutil.which("google-chrome")
NAMES = ["01_one", "02_two"]
HOSTILE = "<script>alert(1)</script> & 'quoted'"


def cell(shown, *tags):
    if isinstance(shown, str):
        return v4.new_markdown_cell(shown, metadata={"tags": list(tags)})
    kind = "text/markdown" if isinstance(shown, Words) else "text/html"
    data = shown._repr_markdown_() if isinstance(shown, Words) else shown._repr_html_()
    output = v4.new_output("display_data", data={kind: data})
    return v4.new_code_cell("show()", outputs=[output], metadata={"tags": list(tags)})


def page(reporter, name, *cells):
    notebook = v4.new_notebook(
        cells=[
            cell(f"# What is {name}?"),
            cell(Table(("a",), [(1,)], "What was understood"), "understood"),
            *cells,
            cell("## Checks", "detail"),
            cell(Table(("level", "where", "what"), [("note", "x", "told on this page")])),
            cell("## Sources", "detail"),
            cell(Words("A handbook.")),
            cell(Table(("what",), [("hash",)], "Provenance"), "provenance"),
        ]
    )
    return reporter.page(name, notebook)


@pytest.fixture(scope="module")
def leaves():
    reporter = report_html.Reporter(HOSTILE, "Nowhere", NAMES)
    pages = [
        page(
            reporter,
            "01_one",
            cell("## How high?"),
            cell(Words("The head loss is 2 m; the [other page](02_two.html) has more.")),
            cell(Table(("flow [L/s]",), [(12,)], HOSTILE)),
        ),
        page(
            reporter,
            "02_two",
            cell("## How wide?\n\nThe head loss again, and the net head."),
            cell("## How long?\n\n[A card](card.html), [outside](https://example.org/)."),
        ),
    ]
    story = reporter.index(
        [told for told, _ in pages],
        [Finding("caution", "rating", "told once")],
        [("Study", "toy")],
        {"site.toml": "0" * 64},
        card="card.html",
    )
    return [Leaf("index", story), *(Leaf(name, text) for name, (_, text) in zip(NAMES, pages))]


@pytest.fixture(scope="module")
def book(leaves):
    return BeautifulSoup(joined(leaves), "html.parser")


def test_no_name_stands_twice_and_every_link_leads_to_one(book):
    names = [each["id"] for each in book.find_all(id=True)]
    assert len(names) == len(set(names)) and len(names) > 5
    links = [each["href"] for each in book.find_all("a", href=True)]
    assert "#p-02_two" in links and "https://example.org/" in links
    assert all(each.removeprefix("#") in names for each in links if each.startswith("#"))
    assert not [each for each in links if not each.startswith(("#", "https://"))]
    assert "A card" in book.get_text()  # its link is not, as the file does not travel along


def test_all_pages_in_order_under_one_list_of_contents(book):
    assert [each.get_text() for each in book.find_all("h1")] == [
        HOSTILE,
        "What is 01_one?",
        "What is 02_two?",
        "Terms",
    ]
    listed = [each.get_text() for each in book.find(class_="contents").find_all("a")]
    assert listed == [
        "The whole story",
        "1 What is 01_one?",
        "How high?",
        "2 What is 02_two?",
        "How wide?",
        "How long?",
        "Terms",
    ]


def test_what_stands_once_a_study_stands_once(book):
    text = book.get_text()
    assert text.count("told once") == 1 and "told on this page" not in text
    assert "A handbook." in text
    assert [each.get_text() for each in book.find_all("dt")][-2:] == ["head loss", "net head"]
    assert len(book.find_all(class_="terms")) == 1
    assert [each["href"] for each in book.select("dfn a")] == [
        "#term-head-loss",
        "#term-head-loss",
        "#term-net-head",
    ]


def test_the_document_holds_to_the_policy_of_the_pages(leaves, book):
    text = joined(leaves)
    assert "<script" not in text and text.count("&lt;script&gt;") >= 3
    policy = book.find("meta", attrs={"http-equiv": "Content-Security-Policy"})
    assert policy["content"] == report_html.CONTENT_POLICY
    assert not re.search(r"url\(|@import|\son\w+=", text)
    assert [each["src"][:11] for each in book.find_all("img")] == []
    assert book.html["lang"] == "en"


def test_a_page_that_is_none_is_refused():
    with pytest.raises(ValueError, match="no <main>"):
        joined([Leaf("index", "<p>nothing</p>")])


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no Chromium or Chrome on this machine")
@pytest.mark.parametrize("paper, width", [("A4", 595), ("Letter", 612)])
def test_the_contents_name_the_sheets_on_which_things_are(leaves, tmp_path, paper, width):
    from pypdf import PdfReader

    from hydrokit.report.pdf import print_book

    print_book(BROWSER, leaves, tmp_path / "report.pdf", paper)
    printed = PdfReader(tmp_path / "report.pdf")
    assert round(float(printed.pages[0].mediabox.width)) == width
    texts = [each.extract_text() for each in printed.pages]
    told = [int(each) for each in re.findall(r"(?m)^(\d+)$", texts[0])][:7]
    titles = ("01_one?", "high?", "02_two?", "wide?", "long?", "Terms")
    found = [
        next(n for n, text in enumerate(texts, 1) if n > 1 and title in text) for title in titles
    ]
    assert told == [1, *found]
    assert f"2 / {len(texts)}" in texts[1]  # the footer
    outline = [each["/Title"] for each in printed.outline if not isinstance(each, list)]
    assert outline[1:3] == ["What is 01_one?", "What is 02_two?"]
    assert any(page.get("/Annots") for page in printed.pages)


def test_a_link_to_a_page_beside_it_is_text_in_print():
    """In a PDF it would lead to the passing folder it was printed from, on the machine of its maker."""
    page = (
        '<html><head></head><a class="x" href="02_two.html#a">two</a> <a href="#here">here</a>'
        '<a href="https://example.org/">out</a><p>&lt;a href="y.html"&gt;</p></html>'
    )
    told = _for_paper(page, "A4")
    assert '<a class="x">two</a> <a href="#here">here</a><a href="https://example.org/">' in told
    assert '&lt;a href="y.html"&gt;' in told and "@page { size: A4; }" in told
