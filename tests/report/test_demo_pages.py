"""Every page of the demos in a browser: on paper, on a phone, and for people who do not see or do not point.

The checks of how a page is built are our own and in the page: contrast, words for pictures, order of
headings, heads of tables, labels, names given once, what the keyboard reaches.
"""

import shutil
from pathlib import Path

import pytest

from hydrokit.runner.outputs import Outputs

ROOT = Path(__file__).parents[2]
BROWSER = shutil.which("chromium") or shutil.which("google-chrome")
MOST, MOST_STORY, MOST_PAGE = 35, 3, 6
PHONE = {"width": 390, "height": 844}

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(BROWSER is None, reason="no Chromium or Chrome on this machine"),
]

CHECKS = """
() => {
  const wrong = [], say = (what, element) => wrong.push(what + ": " + element.outerHTML.slice(0, 120));
  const channel = value => (value /= 255) <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
  const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
  const colour = text => text.match(/[\\d.]+/g).map(Number);
  const over = (top, under) => {
    const share = top.length > 3 ? top[3] : 1;
    return [0, 1, 2].map(i => top[i] * share + under[i] * (1 - share));
  };
  const behind = element => {
    const layers = [];
    for (let each = element; each; each = each.parentElement) layers.push(colour(getComputedStyle(each).backgroundColor));
    return layers.reverse().reduce((under, top) => over(top, under), [255, 255, 255]);
  };
  const faded = element => {
    let share = 1;
    for (let each = element; each; each = each.parentElement) share *= Number(getComputedStyle(each).opacity);
    return share;
  };
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const looked = new Set();
  while (texts.nextNode()) {
    const element = texts.currentNode.parentElement;
    if (!texts.currentNode.textContent.trim() || looked.has(element) || !element.checkVisibility()) continue;
    looked.add(element);
    const under = behind(element), ink = colour(getComputedStyle(element).color).slice(0, 3);
    const [one, other] = [light(over([...ink, faded(element)], under)), light(under)].sort((a, b) => b - a);
    const ratio = (one + 0.05) / (other + 0.05);
    if (ratio < 4.5) say("contrast " + ratio.toFixed(2), element);
  }
  if (looked.size < 5) wrong.push("hardly any text was looked at");
  if (!document.documentElement.lang) wrong.push("no language");
  if (!document.title.trim()) wrong.push("no title");
  if (document.querySelectorAll("main").length !== 1) wrong.push("not one main part");
  for (const each of document.images) {
    if (each.alt.trim().length < 15) say("no words for a picture", each);
    if (!each.complete || !each.naturalWidth) say("a picture that does not show", each);
  }
  let level = 0;
  for (const each of document.querySelectorAll("h1, h2, h3, h4, h5, h6")) {
    const own = Number(each.tagName[1]);
    if (own > level + 1) say("a heading that skips a level", each);
    if (!each.textContent.trim()) say("an empty heading", each);
    level = own;
  }
  if (!document.querySelector("h1")) wrong.push("no heading of the page");
  for (const each of document.querySelectorAll("table")) {
    if (!each.querySelector("th")) say("a table without heads", each);
  }
  for (const each of document.querySelectorAll("th")) {
    if (!each.getAttribute("scope")) say("a head that does not say of what", each);
    if (!each.textContent.trim()) say("an empty head", each);
  }
  for (const each of document.querySelectorAll("input, select, textarea")) {
    if (!each.labels.length && !each.getAttribute("aria-label")) say("a field without a label", each);
  }
  for (const each of document.querySelectorAll("button, a[href], summary")) {
    if (!(each.getAttribute("aria-label") || each.textContent).trim() && !each.querySelector("img[alt]")) say("nothing to read on it", each);
  }
  for (const each of document.querySelectorAll("li")) {
    if (!/^(UL|OL|MENU)$/.test(each.parentElement.tagName) || each.parentElement.getAttribute("role")) say("an entry of no list", each);
  }
  const names = [...document.querySelectorAll("[id]")].map(each => each.id);
  for (const each of new Set(names)) if (names.filter(name => name === each).length > 1) wrong.push("a name given twice: " + each);
  for (const each of document.querySelectorAll("a[href^='#']")) {
    if (!names.includes(decodeURIComponent(each.getAttribute("href").slice(1)))) say("a link to nothing", each);
  }
  for (const each of document.querySelectorAll("[aria-labelledby], [aria-describedby], label[for]")) {
    for (const attribute of ["aria-labelledby", "aria-describedby", "for"]) {
      for (const name of (each.getAttribute(attribute) || "").split(" ").filter(Boolean)) if (!names.includes(name)) say("it names nothing", each);
    }
  }
  for (const each of document.querySelectorAll("body *")) {
    const way = getComputedStyle(each).overflowX;
    if ((way === "auto" || way === "scroll") && each.scrollWidth > each.clientWidth + 1 && each.tabIndex < 0) say("moved by no key", each);
  }
  return wrong;
}
"""

NARROW = """
() => {
  const wrong = [], page = document.documentElement;
  if (page.scrollWidth > page.clientWidth) wrong.push("the page is " + page.scrollWidth + " wide");
  let moved = 0;
  for (const box of document.querySelectorAll(".shown")) {
    const table = box.querySelector("table");
    if (!table || box.scrollWidth <= box.clientWidth + 1) continue;
    box.scrollLeft = box.scrollWidth;
    const left = box.getBoundingClientRect().left;
    for (const row of [...table.rows].slice(0, 3)) {
      const [first, last] = [row.cells[0], row.cells[row.cells.length - 1]].map(each => each.getBoundingClientRect());
      if (Math.abs(first.left - left) > 1.5) wrong.push("a first column that leaves: " + row.outerHTML.slice(0, 120));
      if (row.cells.length > 1 && last.right > box.getBoundingClientRect().right + 1.5) wrong.push("a last column out of reach");
      if (first.width > 0.62 * box.clientWidth) wrong.push("a first column that hides the others: " + row.outerHTML.slice(0, 120));
    }
    moved += 1;
  }
  return [wrong, moved];
}
"""

OUTLINE = """
() => { const found = document.activeElement, look = getComputedStyle(found);
  return [found.tagName, look.outlineStyle, parseFloat(look.outlineWidth)]; }
"""


@pytest.fixture(
    scope="module",
    params=[
        "alder-burn",
        *(pytest.param(each, marks=pytest.mark.deep) for each in ("hazel-beck", "saltfern-creek")),
    ],
)
def reports(request, tmp_path_factory):
    """The reports of a demo, run here."""
    from hydrokit.runner.run import run_study

    home = tmp_path_factory.mktemp("demo")
    shutil.copytree(ROOT / "data", home / "data")
    study = home / "studies" / request.param
    shutil.copytree(ROOT / "studies" / request.param, study)
    return run_study(study, outputs=Outputs(one_file=True)).reports


def pages_of(reports):
    pages = sorted(reports.glob("*.html"))
    assert {"index.html", "report.html", "09_running_it.html"} <= {each.name for each in pages}
    return pages


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        made = driver.chromium.launch(executable_path=BROWSER, args=["--no-sandbox"])
        yield made
        made.close()


def opened(context, page):
    """A page with all that it folds away unfolded."""
    found = context.new_page()
    found.goto(page.as_uri())
    found.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
    return found


def test_a_study_takes_few_sheets_on_either_paper(reports, browser, tmp_path):
    """Printed in the one browser that is open, which is the print of the package without its start."""
    from hydrokit.report.pdf import print_page, sheets_in

    pages = [each for each in pages_of(reports) if each.name[:2].isdigit() or each.stem == "index"]
    assert len(pages) >= 10
    found = []
    context = browser.new_context(bypass_csp=True)
    page = context.new_page()
    for each in pages:
        page.goto(each.as_uri())
        for paper in ("A4", "Letter"):
            page.add_style_tag(content=f"@page {{ size: {paper}; }}")
            target = tmp_path / f"{each.stem}-{paper}.pdf"
            page.pdf(path=target, prefer_css_page_size=True)
            found.append((each.stem, paper, sheets_in(target)))
    context.close()
    longest = max((each for each in found if each[1] == "A4"), key=lambda each: each[2])
    text = (reports / f"{longest[0]}.html").read_text(encoding="utf-8")
    print_page(BROWSER, text, tmp_path / "alone.pdf", "A4")
    assert sheets_in(tmp_path / "alone.pdf") == longest[2]
    for paper in ("A4", "Letter"):
        counts = {stem: count for stem, on, count in found if on == paper}
        # The registers are an annex, which is printed apart.
        main = [count for stem, count in counts.items() if not stem.endswith("registers")]
        assert sum(main) <= MOST, (paper, counts)
        assert counts["index"] <= MOST_STORY, (paper, counts)
        assert all(each <= MOST_PAGE for each in counts.values()), (paper, counts)


def test_nothing_is_wrong_with_how_pages_are_built(reports, browser):
    context = browser.new_context(bypass_csp=True)
    wrong = {}
    for each in pages_of(reports):
        page = opened(context, each)
        found = page.evaluate(CHECKS)
        page.keyboard.press("Tab")
        tag, kind, width = page.evaluate(OUTLINE)
        if tag != "BODY" and (kind == "none" or width < 2):
            found.append(f"the focus on {tag} is not seen")
        if found:
            wrong[each.name] = found[:5]
        page.close()
    context.close()
    assert not wrong


def test_pages_are_read_on_a_phone(reports, browser):
    context = browser.new_context(bypass_csp=True, viewport=PHONE)
    wrong, moved = {}, 0
    for each in pages_of(reports):
        page = opened(context, each)
        found, wide = page.evaluate(NARROW)
        moved += wide
        found += [what for what in page.evaluate(CHECKS) if "moved by no key" in what]
        if found:
            wrong[each.name] = found[:5]
        page.close()
    context.close()
    assert not wrong and moved > 5  # wide tables there are
