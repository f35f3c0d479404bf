"""Terms of the trade: explained where a page first uses them, once, and nothing else on the page moves."""

import re

import pytest

from hydrokit.report.glossary import Explained, terms
from hydrokit.report.marking import markdown


def test_the_first_use_is_explained_and_no_other():
    page = Explained()
    first = markdown("The head loss is small. Head losses grow.", page)
    again = markdown("Head loss and net head.", page)
    assert first.count("<dfn>") == 1 and 'href="#term-head-loss"' in first
    assert again.count("<dfn>") == 1 and ">net head</a></dfn>" in again
    assert [name for name, _ in page.listed()] == ["head loss", "net head"]
    assert re.sub("<[^>]*>", "", first) == "The head loss is small. Head losses grow.\n"


@pytest.mark.parametrize(
    "text",
    [
        "## Head loss",
        "`head loss`",
        "[head loss](#x)",
        "overhead losses",
        "$head loss$",
        "headrace-like",
    ],
)
def test_headings_code_links_and_parts_of_words_are_left(text):
    assert "<dfn>" not in markdown(text, Explained())


def test_a_name_of_a_file_stays_text():
    page = markdown("<b>head loss</b> &lt;script&gt; head loss", Explained())
    assert "<b>" not in page and "<script" not in page and page.count("<dfn>") == 1


def test_without_a_page_nothing_is_marked():
    assert "<dfn>" not in markdown("head loss")


def test_every_term_has_a_meaning_that_is_one_sentence_and_a_source():
    for name, term in terms().items():
        assert term.meaning.endswith(".") and term.source, name
        assert re.fullmatch(r"term-[a-z0-9-]+", term.anchor), name
    assert len({each.anchor for each in terms().values()}) == len(terms())
