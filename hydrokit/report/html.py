"""Reports that open anywhere: one self-contained page a notebook, and one page for the whole story.

The pages hold no script and ask for nothing: their content policy forbids
both. Text that came from a file is text on the page, never markup.
"""

from __future__ import annotations

import html
import logging
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import Any

import jinja2
from nbconvert.exporters.html import HTMLExporter
from nbformat import NotebookNode
from nbformat.v4 import new_code_cell, new_notebook

from ..errors import Finding
from .arranged import arranged, folded, gathered, heading_apart, left_out, tagged, words
from .glossary import Explained
from .marking import markdown, plain

__all__ = ["Page", "Reporter"]

TEMPLATES = Path(__file__).parent / "template"
CONTENT_POLICY = (
    "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action "
    "'none'"
)
SHOWN_FIRST = [
    "text/html",
    "text/markdown",
    "image/svg+xml",
    "image/png",
    "image/jpeg",
    "text/latex",
    "text/plain",
]
PICTURES = ("image/png", "image/jpeg", "image/svg+xml")
QUIET = logging.Logger("hydrokit.report", level=logging.CRITICAL + 1)


@dataclass(frozen=True)
class Page:
    """What the page of the whole story takes from one notebook.

    Parameters
    ----------
    name : str
        The notebook's file name without its ending.
    title : str
        The first heading, as text.
    headline : str
        The answer in two sentences, as HTML.
    picture : str
        The first figure, as an HTML image; empty when there is none.
    older : str
        When it was made, where that was in an earlier run.
    lacking : str
        What it leaves out for want of data, as HTML; empty where nothing is.
    """

    name: str
    title: str = ""
    headline: str = ""
    _: KW_ONLY
    picture: str = ""
    older: str = ""
    lacking: str = ""

    @property
    def file(self) -> str:
        """The file of the full page."""
        return f"{self.name}.html"

    @property
    def number(self) -> str:
        """The notebook's number: ``2``."""
        return self.name[:2].lstrip("0")

    @property
    def label(self) -> str:
        """A short name for the line of pages: ``Flow duration``."""
        return self.name[3:].replace("_", " ").capitalize()


class PageExporter(HTMLExporter):
    """nbconvert with our page and our Markdown."""

    @jinja2.pass_context
    def markdown2html(self, context: Any, source: str) -> str:
        return markdown(source, context["resources"]["explained"])


# ---------------------------------------------------------------- one notebook, one page


class Reporter:
    """Makes the pages of one run.

    Parameters
    ----------
    study, place : str
        The names shown; any text.
    names : sequence of str
        The notebooks of the run, in order, without ending.
    """

    def __init__(self, study: str, place: str, names: Sequence[str]) -> None:
        self.study = study
        self.place = place
        self.pages = [Page(name) for name in names]
        self.exporter = PageExporter(
            template_name=TEMPLATES.name,
            template_file="page.html.j2",
            extra_template_basedirs=[str(TEMPLATES.parent)],
            exclude_input_prompt=True,
            exclude_output_prompt=True,
            log=QUIET,
        )
        self.exporter.register_filter("table_label", table_label)
        self.exporter.register_filter("with_heads", with_heads)
        self.exporter.config.NbConvertBase.display_data_priority = SHOWN_FIRST
        self.story = jinja2.Environment(
            loader=jinja2.FileSystemLoader(TEMPLATES),
            autoescape=True,
            trim_blocks=True,
            lstrip_blocks=True,
        ).get_template("story.html.j2")
        # The first page builds the libraries' own tables; better now, while the kernel starts.
        self.page("00_none", new_notebook(cells=[new_code_cell("0")]))

    def page(self, name: str, notebook: NotebookNode) -> tuple[Page, str]:
        """The page of a notebook that has run, and what the story takes from it."""
        heading, cells = heading_apart(notebook.cells)
        title = (
            markdown(heading or Page(name).label).strip().removeprefix("<p>").removesuffix("</p>")
        )
        headline = [cell for cell in cells if tagged(cell, "headline")]
        kept = gathered(arranged(cells))
        told = Page(
            name=name,
            title=plain(title),
            headline="".join(words(output) for cell in headline for output in cell.outputs),
            picture=next(_pictures(cells), ""),
            lacking="".join(markdown(each) for each in left_out(kept)),
        )
        shown = NotebookNode(
            cells=folded(kept),
            metadata=notebook.metadata,
            nbformat=4,
            nbformat_minor=5,
        )
        resources = {
            "page": told,
            "title": title,
            "study": self.study,
            "place": self.place,
            "policy": CONTENT_POLICY,
            "pages": self.pages,
            "css": style(),
            "explained": Explained(),
        }
        text, _ = self.exporter.from_notebook_node(shown, resources=resources)
        return told, text

    def index(
        self,
        pages: Sequence[Page],
        findings: Sequence[Finding],
        provenance: Sequence[tuple[str, str]],
        inputs: dict[str, str],
        card: str = "",
        measure: Sequence[str] = (),
        prints: Sequence[dict[str, object]] = (),
        understood: str = "",
        figures: Mapping[str, str] | None = None,
        moved: Mapping[str, object] | None = None,
    ) -> str:
        """The page of the whole story.

        Parameters
        ----------
        pages : sequence of Page
            In the order of the notebooks.
        findings : sequence of Finding
            What the checks said.
        provenance : sequence of (str, str)
            What was run, when, with what.
        inputs : dict
            The files read and the hashes of their text.
        card : str
            The file of the page for the phone, where there is one.
        measure : sequence of str
            What to measure next, the most worth first.
        prints : sequence of dict
            The sheets to print: ``file``, ``title`` and ``use`` of each.
        understood : str
            What the site file was understood to say, as an HTML table.
        figures : mapping, optional
            What :func:`hydrokit.report.story_figure.story_figures` gives.
        moved : mapping, optional
            What moved against the accepted results: ``since``, and the lines of ``inputs`` and ``numbers``.
        """
        order = {"problem": 0, "caution": 1, "note": 2}
        return self.story.render(
            study=self.study,
            place=self.place,
            policy=CONTENT_POLICY,
            css=style(),
            pages=pages,
            findings=sorted(findings, key=lambda each: order[each.level]),
            provenance=provenance,
            inputs=inputs,
            card=card,
            measure=measure,
            prints=prints,
            understood=understood,
            figures=figures or {},
            moved=moved or {},
        )


def style() -> str:
    """The style sheet of every page."""
    return (TEMPLATES / "report.css").read_text(encoding="utf-8")


def with_heads(markup: str) -> str:
    """A table whose heads say of what they are the head, also where a library wrote it.

    >>> with_heads("<thead><th></th><th>a</th></thead><tbody><th>b</th></tbody>")
    '<thead><td></td><th scope="col">a</th></thead><tbody><th scope="row">b</th></tbody>'
    """
    head, body, rest = markup.partition("<tbody>")
    empty = re.compile(r"<th>\s*</th>")
    head = empty.sub("<td></td>", head).replace("<th>", '<th scope="col">')
    rest = empty.sub("<td></td>", rest).replace("<th>", '<th scope="row">')
    return head + body + rest


def table_label(markup: str) -> str:
    """What a table is called where it is not seen: its caption."""
    found = re.search(r"<caption>(.*?)</caption>", markup, re.DOTALL)
    return f"Table: {plain(found[1])}" if found else "Table"


def _pictures(cells: Sequence[Any]) -> Iterator[str]:
    """The figures of a notebook as HTML images with their descriptions."""
    for cell in cells:
        for output in cell.get("outputs", []):
            kind = next((kind for kind in PICTURES if kind in output.get("data", {})), None)
            if kind:
                alt = output.metadata.get(kind, {}).get("alt", "") or "Figure"
                yield f'<img src="{_data_url(kind, output.data[kind])}" alt="{html.escape(alt)}">'


def _data_url(kind: str, data: str) -> str:
    if kind == "image/svg+xml":
        import base64

        data = base64.b64encode(data.encode("utf-8")).decode("ascii")
    return f"data:{kind};base64,{html.escape(''.join(data.split()))}"
