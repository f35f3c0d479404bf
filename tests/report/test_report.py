"""Reports: text stays text, nothing is fetched, figures have words, the answer comes first."""

import base64
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest
import toy
from nbformat import v4

from hydrokit.errors import Finding
from hydrokit.report import html as report_html
from hydrokit.report import marking
from hydrokit.report.display import Table, Words

PNG = base64.b64encode(b"not really a picture").decode()
BROWSER = (
    shutil.which("chromium") or shutil.which("google-chrome") or shutil.which("chromium-browser")
)


def output(data, alt=None):
    metadata = {"image/png": {"alt": alt}} if alt else {}
    return v4.new_output("display_data", data=data, metadata=metadata)


def cell(source, *outputs, tags=()):
    return v4.new_code_cell(source, outputs=list(outputs), metadata={"tags": list(tags)})


def page_of(*cells, study="Toy creek", place="Nowhere"):
    names = ["01_stream_gauging", "02_flow_duration"]
    return report_html.Reporter(study, place, names).page(
        "02_flow_duration", v4.new_notebook(cells=list(cells))
    )


class Structure(HTMLParser):
    """The tags of a page with their attributes, and the text within."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.text, self.skip = [], [], 0
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        self.skip += tag == "style"

    def handle_endtag(self, tag):
        self.skip -= tag == "style"

    def handle_data(self, data):
        if not self.skip:
            self.text.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.tags if name == tag]

    @property
    def words(self):
        return " ".join("".join(self.text).split())


def check_harmless(text):
    """No script, no handler, nothing fetched, and a policy that forbids all of it."""
    found = Structure(text)
    assert not {"script", "iframe", "object", "embed", "link", "base", "form"} & {
        tag for tag, _ in found.tags
    }
    for tag, attributes in found.tags:
        assert not [name for name in attributes if name.startswith("on")], (tag, attributes)
        for name in ("src", "srcset", "poster", "data", "background"):
            assert attributes.get(name, "data:").startswith("data:"), (tag, attributes)
        assert (
            not attributes.get("href", "").lower().startswith(("javascript:", "data:", "vbscript:"))
        ), attributes
    policy = [
        each["content"]
        for each in found.all("meta")
        if each.get("http-equiv") == "Content-Security-Policy"
    ]
    assert policy == [report_html.CONTENT_POLICY]
    assert policy[0].startswith("default-src 'none'; img-src data:; style-src 'unsafe-inline'")
    assert not re.search(r"url\(|@import", text)
    return found


# ---------------------------------------------------------------- one page


def test_the_answer_comes_first_then_the_rest():
    told, text = page_of(
        v4.new_markdown_cell("# How *much* is there?\n\nAn introduction."),
        cell("study = 'x'", tags=["parameters"]),
        cell("show(curve)", output({"image/png": PNG, "text/plain": "a curve"}, "a falling curve")),
        cell(
            "headline()", output({"text/markdown": "**12 L/s** on most days."}), tags=["headline"]
        ),
    )
    found = check_harmless(text)
    assert told == report_html.Page(
        "02_flow_duration",
        "How much is there?",
        "<p><strong>12 L/s</strong> on most days.</p>\n",
        picture=f'<img src="data:image/png;base64,{PNG}" alt="a falling curve">',
    )
    order = [
        text.index(each)
        for each in (
            "<h1>How <em>much</em> is there?</h1>",
            "12 L/s",
            "An introduction.",
            "a falling curve",
        )
    ]
    assert order == sorted(order) and text.count("12 L/s") == 1
    assert found.all("html") == [{"lang": "en"}]
    assert [each["alt"] for each in found.all("img")] == ["a falling curve"]


def test_code_is_one_click_away_and_complete():
    _, text = page_of(
        cell("first = 1", tags=["parameters"]),
        cell("import this"),
        cell("show(first)", output({"text/plain": "1"})),
        v4.new_markdown_cell("Between."),
        cell("last = 2"),
        cell("headline(last)", output({"text/markdown": "Two."}), tags=["headline"]),
    )
    found = Structure(text)
    details = found.all("details")
    assert details == [{"class": "code"}] * 2  # closed, and one for each thing shown
    for source in ("first = 1", "import this", "show(first)", "last = 2", "headline(last)"):
        assert source in found.words


def test_a_section_with_nothing_to_say_is_left_out_but_its_code_is_not():
    nothing = output({"text/markdown": "", "text/plain": ""})
    _, text = page_of(
        v4.new_markdown_cell("## Loud\n\nOne."),
        cell("loud()", output({"text/markdown": "Something."})),
        cell("hush()", nothing),
        v4.new_markdown_cell("## Quiet\n\nTwo."),
        cell("still()", nothing),
        v4.new_markdown_cell("## Words only\n\nThree."),
        v4.new_markdown_cell("## Last\n\nFour."),
        cell("last()", output({"text/markdown": "The end."})),
    )
    found = Structure(text)
    for told in ("Loud", "Something.", "Words only", "Last", "The end.", "hush()", "still()"):
        assert told in found.words
    assert "Quiet" not in found.words and "Two." not in found.words
    assert len(found.all("details")) == 2


def test_pages_lead_to_each_other():
    _, text = page_of()
    found = Structure(text)
    assert [each["href"] for each in found.all("a")] == ["index.html", "01_stream_gauging.html"] * 2
    assert [each for each in found.all("span") if "aria-current" in each] == [
        {"aria-current": "page"}
    ] * 2
    assert "Flow duration" in found.words


def test_trusted_html_of_tables_stays_html():
    from hydrokit.report.display import Cautions, Table

    table = Table(("what", "flow [L/s]"), [("<b>Q95</b>", 12.345)], "Flows")._repr_html_()
    box = Cautions(["Ice & <water>"])._repr_html_()
    _, text = page_of(cell("1", output({"text/html": table}), output({"text/html": box})))
    found = check_harmless(text)
    assert (
        found.all("table") == [{"class": "hk-table"}]
        and "<b>Q95</b>" in found.words
        and "12.3" in found.words
    )
    assert {"class": "hk-caution", "role": "note"} in found.all(
        "div"
    ) and "Ice & <water>" in found.words


def test_asides_of_libraries_go_with_the_code():
    _, text = page_of(
        cell("noisy()", v4.new_output("stream", name="stderr", text="Some<Warning>\n")),
        cell("print(1)", v4.new_output("stream", name="stdout", text="a < b\n")),
    )
    assert text.index("a &lt; b") < text.index("<details") < text.index("Some&lt;Warning&gt;")


# ---------------------------------------------------------------- text is text

ATTACKS = [
    toy.HOSTILE,
    "<img src=x onerror=alert(1)>",
    '"><script>alert(1)</script>',
    "</style><script>alert(1)</script>",
    "</title><script>alert(1)</script>",
    "<iframe src=https://example.com></iframe>",
    "{{ 7 * 7 }}{% raw %}",
    "--><svg onload=alert(1)>",
]


def plain(text):
    return " ".join(text.split())


@pytest.mark.parametrize("attack", ATTACKS)
def test_hostile_names_show_as_text(attack):
    reporter = report_html.Reporter(attack, attack, ["01_one"])
    told, text = reporter.page("01_one", v4.new_notebook())
    found = check_harmless(text)
    assert found.words.count(plain(attack)) == 3  # title, study, place
    index = reporter.index(
        [told], [Finding("caution", attack, attack)], [(attack, attack)], {attack: attack}
    )
    found = check_harmless(index)
    assert found.words.count(plain(attack)) == 9


@pytest.mark.parametrize("attack", ATTACKS)
def test_hostile_markdown_shows_as_text(attack):
    from hydrokit.report.display import escape_markdown

    safe = escape_markdown(attack)
    raw = page_of(
        v4.new_markdown_cell(f"# A title {safe}\n\n{attack}"),
        cell("1", output({"text/markdown": f"In words: {safe}."}), output({"text/plain": attack})),
        cell("2", output({"text/markdown": f"Headline: {safe}."}), tags=["headline"]),
    )
    found = check_harmless(raw[1])
    for begin in ("A title", "In words:", "Headline:"):
        assert f"{begin} {plain(attack)}" in found.words


@pytest.mark.parametrize(
    "attack",
    [
        "[click](javascript:alert(1))",
        "[click](JaVaScRiPt:alert(1))",
        "[click](data:text/html;base64,PHNjcmlwdD4=)",
        "![picture](https://example.com/x.png)",
        "![picture](x.png)",
        '![p" onerror="alert(1)](data:image/png;base64,AAAA)',
        "<javascript:alert(1)>",
        "```mermaid\n</pre><script>alert(1)</script>\n```",
        "```python\n</pre><script>alert(1)</script>\n```",
        '``` "><script>alert(1)</script>\nx\n```',
        r"$\text{<script>alert(1)</script>}$",
        r"$$\href{javascript:alert(1)}{x}$$",
        r"$\class{x\" onclick=\"alert(1)}{y}$",
        r"\begin{matrix}\text{<img src=x onerror=alert(1)>}\end{matrix}",
        "$<script>alert(1)</script>$",
        "$$\\frac{<script>alert(1)</script>$$",
    ],
)
def test_hostile_markup_does_nothing(attack):
    check_harmless(
        page_of(v4.new_markdown_cell(attack), cell("1", output({"text/markdown": attack})))[1]
    )


def test_formulas_are_mathml_and_nonsense_stays_as_it_was_written():
    text = marking.markdown(
        r"Loss is $h_f = f \frac{L}{D}\frac{V^2}{2g}$ and"
        "\n\n$$Q < Q_{max}$$\n\n"
        r"but $\frac{$ and $\left($."
    )
    assert text.count("<math") == 2 and "<mfrac>" in text and 'display="block"' in text
    assert r"<code>\frac{</code>" in text and r"<code>\left(</code>" in text
    assert "&#x0003C;" in text or "&lt;" in text


def test_an_entity_is_the_character_it_stands_for():
    assert marking.markdown("a &lt; b & c").strip() == "<p>a &lt; b &amp; c</p>"


# ---------------------------------------------------------------- the whole story


def story(**changed):
    given = {
        "pages": [
            report_html.Page(
                "01_one",
                "How much?",
                "<p>Enough.</p>",
                picture='<img src="data:image/png;base64,AA" alt="a curve">',
            ),
            report_html.Page("02_two", "How sure?"),
        ],
        "findings": [
            Finding("note", "a", "n"),
            Finding("problem", "b", "p"),
            Finding("caution", "c", "q"),
            Finding("caution", "d", "r"),
        ],
        "provenance": [("Made", "today")],
        "inputs": {"site.toml": "ab12"},
        **changed,
    }
    return report_html.Reporter("Toy creek", "Nowhere", ["01_one", "02_two"]).index(**given)


def test_a_long_list_of_what_moved_is_whole_on_the_screen_and_counted_on_paper():
    moved = {"since": "then", "inputs": [], "numbers": [f"number {each}" for each in range(30)]}
    page = story(moved=moved)
    assert all(f">number {each}</li>" in page for each in range(30))
    assert page.count('class="later"') == 19 and "19 more, listed on the page" in page
    few = story(moved=moved | {"numbers": moved["numbers"][:12]})
    assert 'class="later"' not in few and "more, listed" not in few


def test_figures_of_the_story_stand_where_they_are_given():
    shown = {"figure": "<img alt='a strip'>", "reading": "Water.", "plan": "<img alt='a plan'>", "survey": "<p>walked</p>"}  # fmt: skip
    page = story(figures=shown)
    assert all(each in page for each in shown.values()) and 'class="beside"' in page
    assert 'class="strip"' not in story() and 'class="beside"' not in story()


def test_the_story_tells_all_on_one_page():
    text = story()
    found = check_harmless(text)
    order = [
        text.index(each)
        for each in (
            "<h1>Toy creek</h1>",
            "How much?",
            "Enough.",
            "a curve",
            "How sure?",
            ">Checks<",
            "Made",
            "ab12",
        )
    ]
    assert order == sorted(order)
    assert "Read this with 1 problem and 2 cautions in mind" in found.words
    weights = re.findall(r'<tr class="(\w+)"', text)
    assert weights == ["problem", "caution", "caution", "note"]
    assert {each["href"] for each in found.all("a")} == {"01_one.html", "02_two.html", "#checks"}
    assert "local law and codes" in found.words


def test_the_story_without_findings_says_so():
    assert "found no problem and nothing to be careful of" in Structure(story(findings=[])).words


# ---------------------------------------------------------------- in a real browser


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no Chromium or Chrome on this machine")
def test_a_browser_asks_for_nothing_and_runs_nothing(tmp_path):
    """The browser's own network log holds no request, and the title shows whether a script ran."""
    attack = "<script>document.title='ran'</script><img src=x onerror=\"document.title='ran'\">"
    _, text = page_of(
        v4.new_markdown_cell(f"# Title\n\n{attack}\n\n![x](http://127.0.0.1:9/x.png) $a<b$"),
        cell(
            "1",
            output(
                {
                    "text/html": attack
                    + "<img src='http://127.0.0.1:9/y.png'><link rel=stylesheet href='http://127.0.0.1:9/z.css'>"
                }
            ),
        ),
    )
    dom, requests = opened(tmp_path, "page", text)
    assert "<title>Title · Toy creek</title>" in dom and "<math" in dom
    assert "127.0.0.1:9" not in requests
    # The same page without its policy shows that this test sees what it looks for.
    dom, requests = opened(
        tmp_path, "open", re.sub("<meta[^>]*Content-Security-Policy[^>]*>", "", text)
    )
    assert "<title>ran</title>" in dom
    assert "127.0.0.1:9/y.png" in requests and "127.0.0.1:9/z.css" in requests


def opened(folder, name, text):
    """What a browser makes of a page, and its network log."""
    page, log = folder / f"{name}.html", folder / f"{name}.json"
    page.write_text(text, encoding="utf-8")
    command = [
        BROWSER,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        f"--user-data-dir={folder / name}",
        f"--log-net-log={log}",
        "--dump-dom",
        page.as_uri(),
    ]
    dom = subprocess.run(command, capture_output=True, text=True, timeout=120).stdout
    json.loads(log.read_text(encoding="utf-8"))  # the log is whole
    return dom, log.read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no Chromium or Chrome on this machine")
@pytest.mark.parametrize("paper, width", [("A4", 595), ("Letter", 612)])
def test_pages_print_on_both_papers(tmp_path, paper, width):
    from hydrokit.report.pdf import print_pages

    (tmp_path / "index.html").write_text(story(), encoding="utf-8")
    print_pages(BROWSER, tmp_path, paper)
    pdf = (tmp_path / "index.pdf").read_bytes()
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
    assert pdf.startswith(b"%PDF") and round(float(box[1])) == width


def test_details_are_folded_with_what_they_show_and_all_is_closed_again():
    table = Table(("a",), [(1,)], "What leaks; by part")
    cells = [
        v4.new_markdown_cell("# Title"),
        output_of(table, "understood"),
        v4.new_markdown_cell("## First"),
        output_of(Words("Told.")),
        output_of(table, "detail"),
        output_of(Words("More."), "detail"),
        output_of(Words("Main again.")),
        tagged(v4.new_markdown_cell("## Folded whole\n\nWhy."), "detail"),
        output_of(Words("Inside.")),
        v4.new_markdown_cell("### Deeper"),
        output_of(Words("Still inside.")),
        v4.new_markdown_cell("## Last"),
        output_of(Words("Outside.")),
    ]
    _, page = report_html.Reporter("Toy", "", ["01_one"]).page(
        "01_one", v4.new_notebook(cells=cells)
    )
    body = page[page.index("<main>") :]
    summaries = re.findall(r'<details class="fold(?: once)?">\s*<summary>(.*?)</summary>', body)
    assert summaries == ["What was understood", "What leaks", "Folded whole"]
    folds = re.split(
        r'<details class="fold(?: once)?">',
        re.sub(r'<details class="code">.*?</details>', "", body, flags=re.S),
    )
    assert (
        "More." in folds[2].split("</details>")[0]
        and "Main again." in folds[2].split("</details>")[1]
    )
    assert (
        "Still inside." in folds[3].split("</details>")[0]
        and "Outside." in folds[3].split("</details>")[1]
    )
    assert body.count("<details") == body.count("</details>")


def tagged(cell, *tags):
    cell.metadata["tags"] = list(tags)
    return cell


def test_a_fold_is_named_by_what_it_shows_and_holds_more_than_a_lack():
    """No style of a table and no printed number names a fold, and none opens on what is not shown."""
    frame = {
        "text/plain": "x",
        "text/html": "<style>td { top: 0 }</style><table><tr><td>1820</td></tr></table>",
    }
    printed = v4.new_output("stream", name="stdout", text="90 mm: more than the head")
    titled = tagged(cell("x", printed), "detail")
    titled.metadata["title"] = "Head lost in each pipe"
    lower = output({"image/png": "x", "text/plain": "x"}, "Left: yearly floods; more.")
    lacks = output({"text/markdown": "*Not shown: a record of air temperature is lacking.*"})
    _, body = page_of(
        v4.new_markdown_cell("## What is there?"),
        cell("x", output({"text/markdown": "Something."})),
        cell("x", output(frame), tags=["detail"]),
        v4.new_markdown_cell("Between."),
        titled,
        v4.new_markdown_cell("Between."),
        cell("x", lower, tags=["detail"]),
        v4.new_markdown_cell("Between."),
        cell("x", lacks, tags=["detail"]),
    )
    named = re.findall(r'<details class="fold[^"]*">\s*<summary>(.*?)</summary>', body, re.S)
    assert [each.strip() for each in named] == [
        "Details",
        "Head lost in each pipe",
        "Yearly floods",
    ]


def output_of(shown, *tags):
    data = {"text/plain": "x"}
    if hasattr(shown, "_repr_html_"):
        data["text/html"] = shown._repr_html_()
    else:
        data["text/markdown"] = shown._repr_markdown_()
    return tagged(v4.new_code_cell("x", outputs=[output(data)]), *tags)
