"""Print the pages of a report to PDF with a browser that is already on the machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from ..errors import RunError

__all__ = ["find_browser", "print_pages"]

NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
    "microsoft-edge",
)
PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"%ProgramFiles%\Google\Chrome\Application\chrome.exe",
    r"%ProgramFiles(x86)%\Google\Chrome\Application\chrome.exe",
    r"%LocalAppData%\Google\Chrome\Application\chrome.exe",
    r"%ProgramFiles(x86)%\Microsoft\Edge\Application\msedge.exe",
    r"%ProgramFiles%\Microsoft\Edge\Application\msedge.exe",
)
SECONDS = 120


def find_browser() -> str:
    """A Chromium, Chrome or Edge on this machine."""
    for name in NAMES:
        found = shutil.which(name)
        if found and not _lies_here(found):
            return found
    for place in map(os.path.expandvars, PLACES):
        if os.path.isfile(place):
            return place
    raise RunError(
        "--pdf needs Chromium, Chrome or Edge and found none of them; run without --pdf, "
        "open the pages in any browser and print them there."
    )


def _lies_here(found: str) -> bool:
    """Whether a program lies in the working folder, where one system looks first: it is not the browser of this machine."""
    return Path(found).resolve().parent == Path.cwd().resolve()


def print_pages(browser: str, folder: Path, paper: str) -> None:
    """Print every HTML page of a folder to a PDF beside it.

    Parameters
    ----------
    browser : str
        From `find_browser`.
    folder : Path
        Holds the pages.
    paper : {"A4", "Letter"}
        The pages themselves name no paper, so that a reader's own is used.
    """
    with tempfile.TemporaryDirectory(prefix="hydrokit-pdf-") as scratch:
        for page in sorted(folder.glob("*.html")):
            text = page.read_text(encoding="utf-8")
            sized = Path(scratch, page.name)
            sized.write_text(
                text.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>", 1),
                encoding="utf-8",
            )
            _print(browser, sized, page.with_suffix(".pdf"), Path(scratch, "profile"))


def _print(browser: str, page: Path, pdf: Path, profile: Path) -> None:
    command = [
        browser,
        "--headless",
        "--disable-gpu",
        "--no-pdf-header-footer",
        f"--user-data-dir={profile}",
        f"--print-to-pdf={pdf}",
        page.as_uri(),
    ]
    if sys.platform.startswith("linux") and os.geteuid() == 0:
        command.insert(1, "--no-sandbox")  # the browser's sandbox refuses to start for root
    try:
        subprocess.run(command, capture_output=True, timeout=SECONDS, check=True)
    except (OSError, subprocess.SubprocessError) as error:
        raise RunError(f"{Path(browser).name} could not print {page.name}: {error}") from error
    if not pdf.is_file():
        raise RunError(f"{Path(browser).name} made no PDF of {page.name}.")
