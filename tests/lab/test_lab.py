"""`hydrokit lab` as people meet it: a real JupyterLab in a real browser, worked by keyboard.

Runs in a copy of the checkout, so that nothing here is written into the notebooks.
"""

import shutil
from pathlib import Path

import pytest
from browsing import a_browser, a_lab, opened

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
RUN_ALL, RUN_ONE = "notebook:run-all-cells", "notebook:run-cell-and-select-next"


@pytest.fixture(scope="module")
def browser():
    """A browser without a window."""
    with a_browser() as found:
        yield found


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Address of JupyterLab, started by `hydrokit lab` on a copy of the checkout."""
    home = tmp_path_factory.mktemp("lab")
    left = shutil.ignore_patterns("__pycache__", "reports", ".*")
    for name in ("hydrokit", "notebooks", "studies", "data"):
        shutil.copytree(ROOT / name, home / name, ignore=left)
    shutil.copy(ROOT / "pyproject.toml", home)
    with a_lab(home, PYTHONPATH=str(home)) as address:
        yield address


@pytest.fixture
def notebook(browser, lab):
    """Opens a notebook, runs it, and afterwards holds that nothing was asked of any other machine."""
    asked = []
    page = browser.new_page(viewport={"width": 1400, "height": 1200})
    page.on("request", lambda request: asked.append(request.url))

    def ran(name, command=RUN_ALL):
        opened(page, lab, f"notebooks/{name}")
        page.evaluate("name => void window.jupyterapp.commands.execute(name)", command)
        return page

    yield ran
    page.close()
    elsewhere = [
        url
        for url in asked
        if not url.startswith((lab, lab.replace("http", "ws"), "data:", "blob:"))
    ]
    assert asked and not elsewhere


def value_of(page, number):
    """What stands beside a number of the panel, now."""
    return page.locator(".hk-numbers tr", has_text=number).locator("td").nth(1).inner_text()


def aligned_framed_whole_and_spoken(page):
    """In the browser's own sheet tables run to the right, cautions have no frame, sliders no name."""
    knob = page.locator(".hk-knob", has_text="PVC-U").first
    handle = knob.locator("[role=slider]")
    page.wait_for_function("document.querySelector('.hk-knob [role=slider]')?.ariaLabel")
    assert handle.get_attribute("aria-label") == "pipe"
    readout = knob.locator(".widget-readout")
    assert handle.get_attribute("aria-valuetext") == readout.inner_text()
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(500)
    assert handle.get_attribute("aria-valuetext") == readout.inner_text()
    for part in (readout, knob.locator(".widget-label")):
        assert part.evaluate("e => e.scrollWidth <= e.clientWidth + 1"), part.inner_text()
    look = "(e, name) => getComputedStyle(e)[name]"
    table = page.locator(".jp-OutputArea table.hk-table", has_text="why").first
    table.scroll_into_view_if_needed()
    assert table.locator("tbody td").first.evaluate(look, "textAlign") == "left"
    assert page.locator("td.hk-number").first.evaluate(look, "textAlign") == "right"
    assert page.locator(".hk-caution").first.evaluate(look, "borderLeftWidth") == "6px"


def test_arrow_keys_move_figure_and_numbers(notebook):
    page = notebook("04_design_flow.ipynb")
    figure = page.locator(".widget-html img").first
    figure.wait_for()
    before, energy, loss = (
        figure.get_attribute("src"),
        value_of(page, "energy of a mean year"),
        value_of(page, "head loss in the pipe"),
    )
    said = figure.get_attribute("alt")
    assert energy.endswith("kWh") and energy in said
    handle = page.locator(".widget-inline-hbox", has_text="design flow").locator("[role=slider]")
    handle.focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    page.wait_for_function(
        "before => document.querySelector('.widget-html img').src !== before", arg=before
    )
    page.wait_for_function(
        "before => !document.querySelector('.hk-numbers').innerText.includes(before)",
        arg=f"head loss in the pipe\t{loss}\t{loss}",
    )
    assert (
        value_of(page, "head loss in the pipe") != loss
        and value_of(page, "energy of a mean year") != energy
    )
    assert float(value_of(page, "head loss in the pipe").split()[0]) > float(loss.split()[0]), (
        "more flow through the same pipe loses more"
    )
    assert "L/s" in page.locator(".widget-inline-hbox", has_text="design flow").inner_text()
    page.get_by_role("button", name="Turn all back").press("Enter")
    page.wait_for_function(
        "before => document.querySelector('.widget-html img').src === before", arg=before
    )
    assert value_of(page, "energy of a mean year") == energy
    aligned_framed_whole_and_spoken(page)


def test_ticks_by_keyboard(notebook):
    page = notebook("08_next_kilowatt.ipynb")
    figure = page.locator(".widget-html img").first
    figure.wait_for()
    before, made = figure.get_attribute("src"), value_of(page, "changes made")
    page.locator(".widget-checkbox input").first.focus()
    page.keyboard.press("Space")
    page.wait_for_function(
        "before => document.querySelector('.widget-html img').src !== before", arg=before
    )
    page.wait_for_function(
        "made => !document.querySelector('.hk-numbers').innerText.includes(made)",
        arg=f"changes made\t{made}",
    )
    assert int(value_of(page, "changes made").split()[0]) == int(made.split()[0]) - 1


def test_start_page_checks_runs_opens_and_leads_on(notebook):
    page = notebook("start.ipynb", RUN_ONE)  # the first cell stands ready: one press is enough
    page.get_by_text("which study").first.wait_for()
    page.get_by_role("button", name="Check", exact=True).press("Enter")
    page.get_by_text("alder-burn is sound").wait_for()
    page.locator(".widget-dropdown select").nth(1).select_option(
        label="How much water is there through the year, and how much may we take?"
    )
    page.locator("button.jupyter-button", has_text="Run").press("Enter")
    page.get_by_text("The report of alder-burn is made").wait_for()
    page.get_by_role("button", name="Open the report").press("Enter")
    page.get_by_text("Opened in a browser").wait_for()
    assert page.get_by_text("02_flow_duration.html").count()
    page.get_by_role("link", name="How much water is there through the year").first.press("Enter")
    page.wait_for_url("**/02_flow_duration.ipynb")
