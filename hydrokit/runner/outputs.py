"""What a run makes of its pages for other people: PDF, one file for mail, tables for a spreadsheet."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError, Mistake, counted
from ..site import keeping

if TYPE_CHECKING:
    from ..report.book import Leaf
    from ..report.pdf import Paper

__all__ = ["Outputs", "arguments", "asked", "browser_for", "make", "pdf_arguments"]

BOOK = "report"
STORY = "index"


@dataclass(frozen=True)
class Outputs:
    """What is asked for beside the pages.

    Parameters
    ----------
    pdf : bool
        Every page, and the whole study, to PDF.
    one_file : bool
        The whole study as one page.
    tables : bool
        Every table as a CSV.
    paper : {"A4", "Letter"}, optional
        Of the PDF; Letter for a reader in US units and A4 for others where it is left out.
    """

    pdf: bool = False
    one_file: bool = False
    tables: bool = False
    _: KW_ONLY
    paper: Paper | None = None

    def paper_for(self, system: str) -> Paper:
        """The paper for a reader in these units."""
        return self.paper or ("Letter" if system == "us" else "A4")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of a run."""
    pdf_arguments(
        parser,
        "also print every page, and the whole study as report.pdf, with a browser found here",
    )
    parser.add_argument(
        "--one-file", action="store_true", help="also write the whole study as report.html, to mail"
    )
    parser.add_argument(
        "--tables",
        action="store_true",
        help="also write every table as a CSV for a spreadsheet, into reports/tables",
    )


def paper_named(given: str) -> str:
    """A paper by its name, small or capital letters."""
    return {"a4": "A4", "letter": "Letter"}.get(given.casefold(), given)


def pdf_arguments(
    parser: argparse.ArgumentParser, told: str = "also print the page, with a browser found here"
) -> None:
    """Add the options that print."""
    parser.add_argument("--pdf", action="store_true", help=told)
    parser.add_argument(
        "--paper",
        choices=("A4", "Letter"),
        type=paper_named,
        help="of the PDF; left out, Letter for a reader in US units and A4 for others",
    )


def asked(args: argparse.Namespace) -> Outputs:
    """What the command line asks for.

    Raises
    ------
    InputError
        A paper, and nothing to print on it.
    """
    if args.paper and not args.pdf:
        raise InputError(
            Mistake("--paper", "", f"--paper is only for a PDF; write --pdf --paper {args.paper}")
        )
    given = vars(args)  # a verb that makes one page has no other options
    return Outputs(
        args.pdf, given.get("one_file", False), given.get("tables", False), paper=args.paper
    )


def browser_for(pdf: bool) -> str:
    """The browser that prints, looked for before any work is done; none where nothing is to be printed.

    Raises
    ------
    InputError
        There is none.
    """
    if not pdf:
        return ""
    from ..report.pdf import find_browser

    return find_browser()


def make(
    wanted: Outputs, browser: str, built: Path, older: Mapping[str, str], system: str
) -> tuple[str, ...]:
    """Write what is asked for into a set of pages that is whole.

    Parameters
    ----------
    wanted : Outputs
    browser : str
        From :func:`browser_for`.
    built : Path
        The folder of the set.
    older : mapping
        Pages kept of an earlier run, which are not in the folder yet: name to text.
    system : str
        Units of the reader, after which the paper goes.

    Returns
    -------
    tuple of str
        What was made, in words.
    """
    made: list[str] = []
    if not (wanted.pdf or wanted.one_file or wanted.tables):
        return ()
    leaves = _leaves(built, older)
    if wanted.tables:
        made.append(f"{keeping.TABLES}/ ({counted(_tables(built, leaves), 'table')})")
    if wanted.pdf:
        from ..report.pdf import print_book, print_pages, sheets_in

        paper = wanted.paper_for(system)
        print_pages(browser, built, paper)
        target = built / f"{BOOK}.pdf"
        print_book(browser, leaves, target, paper)
        made.append(f"{target.name} ({counted(sheets_in(target), 'sheet')}, {paper})")
    if wanted.one_file:
        from ..report.book import joined

        (built / f"{BOOK}.html").write_text(joined(leaves), encoding="utf-8", newline="\n")
        made.append(f"{BOOK}.html")
    return tuple(made)


def _leaves(built: Path, older: Mapping[str, str]) -> list[Leaf]:
    """The page of the whole story, then the others in their order, new and older."""
    from ..report.book import Leaf

    texts = dict(older)
    for page in built.glob("*.html"):
        if page.stem == STORY or keeping.PAGE.fullmatch(page.name):
            texts[page.stem] = page.read_text(encoding="utf-8")
    return [Leaf(STORY, texts.pop(STORY)), *(Leaf(name, texts[name]) for name in sorted(texts))]


def _tables(built: Path, leaves: list[Leaf]) -> int:
    """Write every table of the pages as a file; how many there are."""
    from ..report.tables_out import tables_of

    folder = built / keeping.TABLES
    folder.mkdir()
    count = 0
    for leaf in leaves:
        for table in tables_of("00" if leaf.name == STORY else leaf.name[:2], leaf.text):
            # The mark at the beginning tells a spreadsheet that this is UTF-8.
            (folder / table.name).write_text(table.text, encoding="utf-8-sig", newline="\n")
            count += 1
    return count
