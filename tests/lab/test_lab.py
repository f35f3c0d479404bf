"""`hydrokit lab` as people meet it: a real JupyterLab in a real browser, worked by keyboard.

Runs in a copy of the checkout, so that nothing here is written into the notebooks.
"""

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

from hydrokit.errors import HydrokitError
from hydrokit.report.pdf import find_browser

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
TOKEN = "knobs"
SECONDS = 180  # a notebook's imports and a sizing, on a slow machine


@pytest.fixture(scope="module")
def browser():
    """A browser without a window."""
    playwright = pytest.importorskip(
        "playwright.sync_api", reason="playwright is not installed: pip install '.[test]'"
    )
    try:
        found = find_browser()
    except HydrokitError:
        pytest.skip("there is no Chromium, Chrome or Edge on this machine")
    with playwright.sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def lab(tmp_path_factory):
    """Address of JupyterLab, started by `hydrokit lab` on a copy of the checkout."""
    home = tmp_path_factory.mktemp("lab")
    left = shutil.ignore_patterns("__pycache__", "reports", ".*")
    for name in ("hydrokit", "notebooks", "studies", "data"):
        shutil.copytree(ROOT / name, home / name, ignore=left)
    shutil.copy(ROOT / "pyproject.toml", home)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    own = {
        name: str(home / folder)
        for name, folder in (
            ("JUPYTER_CONFIG_DIR", "config"),
            ("JUPYTERLAB_SETTINGS_DIR", "settings"),
            ("JUPYTERLAB_WORKSPACES_DIR", "workspaces"),
        )
    }
    environment = {
        **os.environ,
        **own,
        "PYTHONPATH": str(home),
        "JUPYTER_TOKEN": TOKEN,
        "BROWSER": "/bin/true",
    }
    command = [sys.executable, "-m", "hydrokit.cli", "lab", "--no-browser", f"--port={port}"]
    with open(home / "lab.log", "w") as log:
        server = subprocess.Popen(command, cwd=home, env=environment, stdout=log, stderr=log)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(4 * SECONDS):
            try:
                urllib.request.urlopen(f"{address}/api?token={TOKEN}", timeout=5)
                break
            except OSError:
                assert server.poll() is None, (home / "lab.log").read_text()
                time.sleep(0.25)
        yield address
    finally:
        server.terminate()
        server.wait(60)


@pytest.fixture
def notebook(browser, lab):
    """Opens a notebook, runs all of it, and afterwards holds that nothing was asked of any other machine."""
    asked = []
    page = browser.new_page(viewport={"width": 1400, "height": 1200})
    page.set_default_timeout(1000 * SECONDS)
    page.on("request", lambda request: asked.append(request.url))

    def opened(name):
        page.goto(f"{lab}/lab/tree/notebooks/{name}?token={TOKEN}&reset")
        page.wait_for_selector(".jp-Notebook .jp-CodeCell")
        page.wait_for_timeout(1500)
        if page.locator(".jp-Dialog .jp-mod-accept").count():  # asks which kernel
            page.click(".jp-Dialog .jp-mod-accept")
        page.get_by_text("| Idle").first.wait_for()
        page.click('.lm-MenuBar-itemLabel:text-is("Run")')
        page.click('[data-command="runmenu:run-all"]')
        return page

    yield opened
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
    page = notebook("start.ipynb")
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
