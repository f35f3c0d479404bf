"""What a print leaves to the page of the whole story, and what it names instead."""

import re

from nbformat import v4

from hydrokit.report import html as report_html
from hydrokit.report.display import Words


def page(*sources):
    cells = [v4.new_markdown_cell("# Title")]
    for each in sources:
        data = {"text/markdown": each._repr_markdown_()} if isinstance(each, Words) else None
        cells.append(
            v4.new_code_cell("x", outputs=[v4.new_output("display_data", data=data)])
            if data
            else v4.new_markdown_cell(each)
        )
    return report_html.Reporter("Toy", "", ["01_one"]).page("01_one", v4.new_notebook(cells=cells))


def test_what_is_lacking_is_listed_once_on_the_page_of_the_whole_story():
    told, text = page(
        "## How sure?",
        Words("*Not shown: a daily record is lacking.*"),
        "## How high?",
        Words("Two metres."),
    )
    assert "How sure? (a daily record is lacking)" in told.lacking
    assert re.search(r'<section class="words once">\s*<p><em>Left out for want of data', text)
    reporter = report_html.Reporter("Toy", "", ["01_one"])
    story = reporter.index([told], [], [], {}, understood="<table><caption>Said</caption></table>")
    assert story.count("How sure? (a daily record is lacking)") == 1
    assert "<caption>Said</caption>" in story
    told, _ = page("## How high?", Words("Two metres."))
    assert not told.lacking and "for want of data" not in reporter.index([told], [], [], {})


def test_a_print_names_what_is_folded_on_the_screen():
    detail = v4.new_markdown_cell("## By hand", metadata={"tags": ["detail"]})
    cells = [v4.new_markdown_cell("# Title"), detail, v4.new_markdown_cell("One and one.")]
    reporter = report_html.Reporter("Toy", "", ["01_one"])
    _, text = reporter.page("01_one", v4.new_notebook(cells=cells))
    assert '<p class="apart">Folded on this page, and printed when opened: By hand.</p>' in text
