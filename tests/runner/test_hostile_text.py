"""Text of a study's files is text in its reports: no markup of theirs comes alive, and no figure breaks on it."""

import copy
import csv
import re
from html.parser import HTMLParser
from shutil import copytree, ignore_patterns

import pytest
import small_study

from hydrokit.cli import main
from hydrokit.report.display import Picture, Words
from hydrokit.report.marking import markdown
from hydrokit.runner.run import run_study
from hydrokit.study.opening import open_study

SCRIPT = "<script>alert(1)</script>"
NASTY = {
    "script": SCRIPT,
    "image": '<img src=x onerror="alert(2)">"\'><iframe src="//example.org">',
    "markdown": "[a](javascript:alert(3)) ![b](http://example.org/b.png) **c** `d` | e |",
    "lines": "one\n\n# two\n\n<b onclick=alert(4)>three</b>\n- four",
    "formula": "a $ b $ c_{ \\frac{1} $x$ \\href{javascript:alert(5)}{y}",
    "letters": "село 谷 مرحبا \u200f\u202eabc\u202c Ωµ &lt;script&gt; &amp;",
}


class Page(HTMLParser):
    """The tags, attributes and text of a page."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tags, self.attributes, self.words = [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_data(self, data):
        self.words.append(data)


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """A small study with something nasty in every text there is."""
    site = copy.deepcopy(small_study.SITE)
    site["site"] |= {
        "name": f"{SCRIPT} {NASTY['formula']}",
        "place": NASTY["lines"],
        "prepared_by": NASTY["image"],
    }
    site["stream"]["gaugings"] = "<b>gaugings $x$.csv"
    site["part"] = [
        {"kind": "inclined screen", "name": NASTY["formula"], "rating": "14 L/s"},
        {"kind": "forebay", "name": f"_{NASTY['image']}", "area": "20 m^2", "depth": "0.3 m"},
    ]
    site["penstock"]["stretch"] = [
        {"name": NASTY["formula"] + NASTY["letters"], "from": "10 m", "to": "20 m", "span": "2 m"}
    ]
    site["upgrade"] = [
        {"name": text, "cost": 100 * number, "jets": 2 + number}
        for number, text in enumerate((NASTY["formula"], NASTY["image"], NASTY["lines"]), 1)
    ]
    site["upgrade"][1]["requires"] = [NASTY["formula"]]
    folder = small_study.write(tmp_path_factory.mktemp("hostile") / "creek <i>$x$ & 谷", site)
    rows = small_study.FILES["gaugings.csv"].splitlines()
    rows[1:] = [
        row.replace("bucket", '"' + text.replace("\n", " ").replace('"', '""') + '"')
        for row, text in zip(rows[1:], NASTY.values())
    ]
    (folder / "<b>gaugings $x$.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def assert_lifeless(html):
    """Nothing in it runs, asks for anything, or leads to where a file's text would lead."""
    page = Page(html)
    assert not {"script", "iframe", "object", "embed", "form", "base", "link"} & set(page.tags)
    assert not [each for each in page.attributes if each[1].startswith("on")]
    assert all(
        value.startswith("data:image/") for _, name, value in page.attributes if name == "src"
    )
    addresses = [value for _, name, value in page.attributes if name == "href"]
    assert all(re.match(r"https://|#|[\w-]+\.(?:html|ics)", value) for value in addresses), (
        addresses
    )
    assert not any("example.org" in value for value in addresses)
    assert not {"two", "three", "four"} & {
        word.strip() for word in page.words
    }  # lines of their own would be a heading, bold, an item
    return page


@pytest.mark.slow
def test_no_markup_of_a_file_lives_in_a_report(site):
    outcome = run_study(site, ["01", "02", "05"])
    made = sorted(outcome.reports.glob("*.html"))
    assert [each.name[:2] for each in made] == ["01", "02", "05", "in"]
    for path in made:
        page = assert_lifeless(path.read_text(encoding="utf-8"))
        assert SCRIPT in "".join(page.words), path.name


@pytest.mark.slow
def test_no_markup_of_a_file_lives_in_any_section_and_no_name_breaks_a_figure(site):
    study, drawn = open_study(site), 0
    for _, _, function in small_study.page_sections():
        shown = function(study, study.view("us"))
        if isinstance(shown, Picture):
            data, _ = shown._repr_mimebundle_()
            assert data["image/png"]
            drawn += 1
        else:
            assert_lifeless(
                markdown(shown.text) if isinstance(shown, Words) else shown._repr_html_()
            )
    assert drawn >= 10


def test_no_markup_of_a_file_lives_in_a_comparison_and_no_formula_in_a_table(
    site, tmp_path, capsys
):
    text = (site / "site.toml").read_text(encoding="utf-8")
    other = site.parent / "other"
    copytree(site, other, ignore=ignore_patterns("reports", ".*"))
    (other / "site.toml").write_text(text.replace(SCRIPT, "=HYPERLINK(0) "), encoding="utf-8")
    assert main(["compare", str(site), str(other), "--out", str(tmp_path / "both.html")]) == 0
    page = assert_lifeless((tmp_path / "both.html").read_text(encoding="utf-8"))
    assert SCRIPT in "".join(page.words)
    assert main(["parts", str(other), "--out", str(tmp_path / "parts.csv")]) == 0
    for path in tmp_path.glob("*.csv"):
        for row in csv.reader(path.read_text(encoding="utf-8").splitlines()):
            assert not any(re.match(r"[=@+]|-(?![\d.])", cell) for cell in row), row
