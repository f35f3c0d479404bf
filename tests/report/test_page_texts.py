"""The comparison of what the notebooks say with what is committed can fail."""

import page_texts

PAGE = """<html><body><nav>1</nav><main><h2>How sure?</h2><p>One year <b>brings</b> <data>25,200 kWh</data>.</p>
<table><caption>Months</caption><tr><td>May</td><td>2,850</td></tr></table><img alt="A rising line: 3 m">
<table><tr><td>made</td><td>2026-11-29 12:04 UTC</td></tr></table><details class="code"><pre>page.x(s)</pre></details></main></body></html>"""


def test_a_page_is_read_line_by_line():
    assert page_texts.lines(PAGE) == [
        "How sure?",
        "One year brings 25,200 kWh.",
        "Months",
        "May | 2,850",
        "A rising line: 3 m",
    ]


def test_a_number_that_moves_and_a_page_that_lacks_are_told(tmp_path):
    study, kept = tmp_path / "creek", tmp_path / "kept"
    (study / "reports").mkdir(parents=True)
    page = study / "reports" / "05_annual_energy.html"
    page.write_text(PAGE, encoding="utf-8")
    page_texts.write(study, kept)
    assert page_texts.apart(study, kept) == []
    page.write_text(PAGE.replace("2,850", "2,860"), encoding="utf-8")
    assert page_texts.apart(study, kept) == []  # a tie may be rounded either way
    page.write_text(PAGE.replace("2,850", "2,870"), encoding="utf-8")
    assert page_texts.apart(study, kept) == [
        "05_annual_energy: -May | 2,850",
        "05_annual_energy: +May | 2,870",
    ]
    page.rename(page.with_name("06_using_it.html"))
    assert "05_annual_energy: not on both sides" in page_texts.apart(study, kept)
