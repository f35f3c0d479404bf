"""Print a report to PDF with a browser that is already on the machine: its pages one by one, and as
one document."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from ..errors import InputError, Mistake, RunError

if TYPE_CHECKING:
    from .book import Leaf

__all__ = ["Paper", "find_browser", "print_book", "print_page", "print_pages", "sheets_in"]

Paper = Literal["A4", "Letter"]

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
AT_ONCE = 2  # browsers
ROUNDS = 3  # prints until the numbers in the list of contents are those of its own print


def find_browser() -> str:
    """A Chromium, Chrome or Edge on this machine."""
    for name in NAMES:
        found = shutil.which(name)
        if found and not _lies_here(found):
            return found
    for place in map(os.path.expandvars, PLACES):
        if os.path.isfile(place):
            return place
    raise InputError(
        Mistake(
            "--pdf",
            "",
            "this needs Chromium, Chrome or Edge, and none of them was found; run without --pdf, "
            "open the pages in any browser and print them there",
        )
    )


def _lies_here(found: str) -> bool:
    """Whether a program lies in the working folder, where one system looks first: it is not the
    browser of this machine."""
    return Path(found).resolve().parent == Path.cwd().resolve()


def print_pages(browser: str, folder: Path, paper: Paper, names: Sequence[str] = ()) -> None:
    """Print HTML pages of a folder, each to a PDF beside it.

    Parameters
    ----------
    browser : str
        From `find_browser`.
    folder : Path
        Holds the pages.
    paper : {"A4", "Letter"}
        The pages themselves name no paper, so that a reader's own is used.
    names : sequence of str
        Files to print; every page where none is named.
    """
    pages = [folder / name for name in names] or sorted(folder.glob("*.html"))
    with ThreadPoolExecutor(max_workers=AT_ONCE) as printers:
        done = [
            printers.submit(
                print_page,
                browser,
                page.read_text(encoding="utf-8"),
                page.with_suffix(".pdf"),
                paper,
            )
            for page in pages
        ]
        for each in done:
            each.result()


def print_page(browser: str, text: str, pdf: Path, paper: Paper) -> None:
    """Print one page to a PDF, with its headings as the list of places that a reader unfolds.

    Parameters
    ----------
    browser : str
        From `find_browser`.
    text : str
        The page, as HTML.
    pdf : Path
        The file to write.
    paper : {"A4", "Letter"}
    """
    with tempfile.TemporaryDirectory(prefix="hydrokit-pdf-") as scratch:
        sized = Path(scratch, f"{pdf.stem}.html")
        sized.write_text(_for_paper(text, paper), encoding="utf-8")
        _print(browser, sized, pdf, Path(scratch, "profile"))


# A link to a file beside the page: in print it would be one to where the page lay as it was printed.
_LINK_BESIDE = re.compile(r'(<a\b[^>]*?) href="(?!#|https?://)[^"]*"')


def _for_paper(text: str, paper: Paper) -> str:
    """The page with its paper named, and without links that lead nowhere from a PDF."""
    sheet = f"<style>@page {{ size: {paper}; }}</style></head>"
    return _LINK_BESIDE.sub(r"\1", text).replace("</head>", sheet, 1)


def print_book(browser: str, leaves: Sequence[Leaf], pdf: Path, paper: Paper) -> None:
    """Print a whole study to one PDF, with the number of its sheet beside each line of the contents.

    A first print tells on which sheet each part falls; a second has the numbers.

    Parameters
    ----------
    browser : str
        From `find_browser`.
    leaves : sequence of Leaf
        The pages, that of the whole story first.
    pdf : Path
        The file to write.
    paper : {"A4", "Letter"}
    """
    from .book import joined

    sheets: dict[str, int] = {}
    for _ in range(ROUNDS):
        print_page(browser, joined(leaves, sheets), pdf, paper)
        found = _sheets(pdf)
        if found == sheets:
            return
        sheets = found


def sheets_in(pdf: Path) -> int:
    """How many sheets a PDF has."""
    from pypdf import PdfReader

    return len(PdfReader(pdf).pages)


def _sheets(pdf: Path) -> dict[str, int]:
    """On which sheet of a PDF each place lies to which a link in it leads."""
    from pypdf import PdfReader

    reader = PdfReader(pdf)
    found = {}
    for name, place in reader.named_destinations.items():
        number = reader.get_destination_page_number(place)
        if number is not None and number >= 0:
            found[name.removeprefix("/")] = number + 1
    return found


def _print(browser: str, page: Path, pdf: Path, profile: Path) -> None:
    command = [
        browser,
        "--headless",
        "--disable-gpu",
        "--no-pdf-header-footer",
        "--generate-pdf-document-outline",
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
