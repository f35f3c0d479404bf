"""`hydrokit lab` as people meet it: a JupyterLab of its own, and a browser without a window."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager

import pytest

from hydrokit.errors import HydrokitError
from hydrokit.report.pdf import find_browser

SECONDS = 180  # a notebook's imports and a sizing, on a slow machine
TOKEN = "played"


@contextmanager
def a_browser():
    """A browser; the tests that need one are left out where there is none."""
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


@contextmanager
def a_lab(home, *named, **more):
    """Address of the JupyterLab that ``hydrokit lab`` starts in a folder, on what is named."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    (home / "config").mkdir(exist_ok=True)
    (home / "config" / "jupyter_lab_config.py").write_text(
        "c.LabApp.expose_app_in_browser = True\n", encoding="utf-8"
    )
    environment = {
        **os.environ,
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTERLAB_SETTINGS_DIR": str(home / "settings"),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
        "JUPYTER_TOKEN": TOKEN,
        "BROWSER": "/bin/true",
        **more,
    }
    command = [sys.executable, "-m", "hydrokit", "lab", *named, "--no-browser", f"--port={port}"]
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


def opened(page, address, notebook):
    """A notebook in the page, its kernel ready and nothing run."""
    page.set_default_timeout(1000 * SECONDS)
    page.goto(f"{address}/lab/tree/{notebook}?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-CodeCell")
    page.wait_for_timeout(1500)
    if page.locator(".jp-Dialog .jp-mod-accept").count():  # asks which kernel
        page.click(".jp-Dialog .jp-mod-accept")
    page.wait_for_function(
        "window.jupyterapp.shell.currentWidget?.sessionContext?.session?.kernel?.status === 'idle'"
    )
