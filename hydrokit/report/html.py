"""Reports that open anywhere: one self-contained page a notebook, and one page for the whole story.

The pages hold no script and ask for nothing: their content policy forbids
both. Text that came from a file is text on the page, never markup.
"""

from __future__ import annotations

import html
import logging
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import tostring

import jinja2
from latex2mathml.converter import convert_to_element
from nbconvert.exporters.html import HTMLExporter
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath, import_plugin
from nbformat import NotebookNode
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from ..errors import Finding
from ..study.keyed import TAG
from .glossary import Explained

__all__ = ["Page", "Reporter"]

TEMPLATES = Path(__file__).parent / "template"
CONTENT_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
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
FIRST_HEADING = re.compile(r"^#[ \t]+(.+?)[ \t]*#*[ \t]*$", re.MULTILINE)
INJECTED_HEADER = (
    "# Parameters\n"  # a remark that the runner of notebooks writes over the parameters of a run
)
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
    """

    name: str
    title: str = ""
    headline: str = ""
    picture: str = ""
    older: str = ""

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


# ---------------------------------------------------------------- text to HTML


class SafeRenderer(IPythonRenderer):
    """Markdown whose raw HTML shows as text and whose formulas need no script."""

    def __init__(self, explained: Explained | None = None) -> None:
        super().__init__(
            escape=True, allow_harmful_protocols=False, exclude_anchor_links=True, attachments={}
        )
        self.explained = explained
        self.plainly = 0  # within how many headings and links, where no term is marked

    def render_token(self, token: dict[str, Any], state: Any) -> str:
        plainly = token["type"] in ("heading", "link")
        self.plainly += plainly
        try:
            return super().render_token(token, state)
        finally:
            self.plainly -= plainly

    def text(self, text: str) -> str:
        # An entity stays the character it stands for, as in any other Markdown.
        safe = html.escape(html.unescape(text), quote=False)
        return safe if self.explained is None or self.plainly else self.explained.marked(safe)

    def inline_html(self, text: str) -> str:
        # The key of a number, which hydrokit wrote itself: text of a file never holds a live "<".
        return text if TAG.fullmatch(text) else html.escape(text)

    def block_math(self, body: str) -> str:
        return f'<span class="formula">{formula(body, "block")}</span>'

    def inline_math(self, body: str) -> str:
        return formula(body, "inline")

    def latex_environment(self, name: str, body: str) -> str:
        return self.block_math(rf"\begin{{{name}}}{body}\end{{{name}}}")

    def block_mermaidjs(self, code: str) -> str:
        return f"<pre><code>{html.escape(code)}</code></pre>"

    def image(self, text: str, url: str, title: str | None = None) -> str:
        # A page asks for nothing, so a picture must lie within it.
        return (
            super().image(text, url, title) if url.startswith("data:image/") else html.escape(text)
        )


# All that a notebook's Markdown may do, but for bare addresses: one in a name of a file's is text, and no link.
PLUGINS = [import_plugin(name) for name in MarkdownWithMath.DEFAULT_PLUGINS if name != "url"]


def markdown(source: str, explained: Explained | None = None) -> str:
    """Markdown as HTML without raw HTML, scripts or outside pictures; terms are marked where they are new."""
    return MarkdownWithMath(renderer=SafeRenderer(explained), plugins=PLUGINS).render(source)


def formula(latex: str, display: str) -> str:
    """A LaTeX formula as MathML, or as it was written where it makes no sense."""
    try:
        tree = convert_to_element(latex.strip("$ \n"), display=display)
    except Exception:  # the converter's own error classes are many and not all documented
        return f"<code>{html.escape(latex)}</code>"
    for each in tree.iter():
        for name in ("href", "class", "style", "id"):
            each.attrib.pop(name, None)
    # The converter keeps its symbols as character references within text. They
    # alone are undone here: its own writer undoes "&lt;" too and lets markup in.
    return re.sub(r"&amp;(#x[0-9A-Fa-f]+;)", r"&\1", tostring(tree, encoding="unicode"))


def plain(markup: str) -> str:
    """The text of some HTML."""
    return html.unescape(re.sub(r"<[^>]*>", "", markup)).strip()


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
        heading, cells = _heading_apart(notebook.cells)
        title = (
            markdown(heading or Page(name).label).strip().removeprefix("<p>").removesuffix("</p>")
        )
        headline = [cell for cell in cells if _tagged(cell, "headline")]
        told = Page(
            name=name,
            title=plain(title),
            headline="".join(_words(output) for cell in headline for output in cell.outputs),
            picture=next(_pictures(cells), ""),
        )
        shown = NotebookNode(
            cells=_folded(_gathered(_arranged(cells))),
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
        )


def style() -> str:
    """The style sheet of every page."""
    return (TEMPLATES / "report.css").read_text(encoding="utf-8")


def _tagged(cell: Any, tag: str) -> bool:
    return tag in cell.metadata.get("tags", [])


def _heading_apart(cells: Sequence[Any]) -> tuple[str, list[Any]]:
    """The first heading and the cells without it."""
    for position, cell in enumerate(cells):
        found = FIRST_HEADING.search(cell.source) if cell.cell_type == "markdown" else None
        if found:
            rest = new_markdown_cell(cell.source[: found.start()] + cell.source[found.end() :])
            kept = [rest] if rest.source.strip() else []
            return found.group(1), [*cells[:position], *kept, *cells[position + 1 :]]
    return "", list(cells)


def _arranged(cells: Sequence[Any]) -> list[Any]:
    """Cells as the page shows them: the headline is told at the top, and code goes with its result.

    Code that shows nothing is folded into that of the next cell that does, so
    that the page has no row of empty boxes; and a section whose code shows
    nothing for this study is left out with its heading.
    """
    shown: list[Any] = []
    sources: list[str] = []
    outputs: list[Any] = []
    quiet: int | None = None
    for cell in cells:
        if cell.cell_type != "code":
            if cell.source.lstrip().startswith("## "):
                shown, quiet = shown[:quiet], None
            shown.append(cell)
            continue
        source = (
            cell.source.removeprefix(INJECTED_HEADER)
            if _tagged(cell, "injected-parameters")
            else cell.source
        )
        sources += [source] if source.strip() else []
        outputs += (
            []
            if _tagged(cell, "headline")
            else [each for each in cell.outputs if not _is_empty(each)]
        )
        if any(not _is_message(output) for output in outputs):
            shown.append(
                new_code_cell("\n\n".join(sources), outputs=outputs, metadata=cell.metadata)
            )
            sources, outputs, quiet = [], [], None
        elif (
            quiet is None
            and shown
            and shown[-1].cell_type == "markdown"
            and shown[-1].source.lstrip().startswith("## ")
        ):
            quiet = len(shown) - 1
    shown = shown[:quiet]
    if sources:
        shown.append(new_code_cell("\n\n".join(sources), outputs=outputs))
    return shown


_LACKING = re.compile(r"\*Not shown(?: by month)?: (.+?)\.?\*", re.DOTALL)


def _gathered(cells: Sequence[Any]) -> list[Any]:
    """The cells without the sections that only say what they lack: one line at the end of the page names these."""
    sections: list[list[Any]] = [[]]
    for cell in cells:
        if cell.cell_type == "markdown" and cell.source.lstrip().startswith("## "):
            sections.append([])
        sections[-1].append(cell)
    kept: list[Any] = []
    told_once: set[str] = set()
    lacking: dict[str, list[str]] = {}
    for section in sections:
        reasons = _reasons(section)
        if not reasons:
            for cell in section:
                why = _reasons([cell])[:1]
                if not why or why[0] not in told_once or kept[-1].source.startswith("#"):
                    kept.append(cell)
                told_once.update(why)
            continue
        title = section[0].source.lstrip().removeprefix("## ").partition("\n")[0].strip()
        lacking.setdefault(reasons[0], []).append(title)
    if lacking:
        told = "; ".join(f"{', '.join(titles)} ({why})" for why, titles in lacking.items())
        kept.append(new_markdown_cell(f"*Left out for want of data: {told}.*"))
    return kept


def _reasons(section: Sequence[Any]) -> list[str]:
    """Why nothing of a section is shown; empty where something is."""
    outputs = [
        each for cell in section for each in cell.get("outputs", []) if not _is_message(each)
    ]
    found = [
        _LACKING.fullmatch(each.get("data", {}).get("text/markdown", "").strip())
        for each in outputs
    ]
    # How to get it stands in the list of what to measure.
    return [each[1].partition(". ")[0] for each in found if each] if found and all(found) else []


_LONGEST_SUMMARY = 70  # letters
_SUMMARY = {"understood": "What was understood", "provenance": "Where these numbers come from"}


def _folded(cells: Sequence[Any]) -> list[Any]:
    """Marks where details begin and end: what a page folds away, and prints only when it is opened.

    A heading tagged ``detail`` takes all below it, up to the next of its level; cells tagged so that
    follow each other fold together.
    """
    fold: list[Any] = []  # cells of the fold that is open
    level, inside = 0, False
    for cell in cells:
        found = re.match(r"(#+) +(.*)", cell.source) if cell.cell_type == "markdown" else None
        tagged = any(_tagged(cell, tag) for tag in ("detail", *_SUMMARY))
        if found and (not level or len(found[1]) <= level) or not (found or level or tagged):
            _closed(fold)
            fold, level, inside = [], 0, False
        if found and tagged and not level:
            level, inside = len(found[1]), True
            cell.metadata["fold"] = found[2]
            cell.source = cell.source[found.end() :].lstrip("\n")
        elif tagged and not level and not fold:
            summary = next((text for tag, text in _SUMMARY.items() if _tagged(cell, tag)), "")
            cell.metadata["fold"] = summary
        if tagged or level or inside:
            fold.append(cell)
    _closed(fold)
    return list(cells)


def _subject(cells: Sequence[Any]) -> str:
    """What a fold shows, in a few words: the title of its first table, what its first picture is of, or how it begins."""
    outputs = [output for cell in cells for output in cell.get("outputs", [])]
    captions = [
        re.search(r"<caption>(.*?)</caption>", output.get("data", {}).get("text/html", ""))
        for output in outputs
    ]
    alts = [
        each.get("alt", "")
        for output in outputs
        for each in output.get("metadata", {}).values()
        if each
    ]
    words = [plain(_words(output)) for output in outputs]
    told = [plain(each[1]) for each in captions if each] + [each for each in alts if each] + words
    if not told:
        return "Details"
    text = re.sub(r"^(\d+\. |Left: )", "", told[0])
    first = re.split(r"[;:,.(?] |[.:]$", text)[0]
    return (
        first
        if len(first) <= _LONGEST_SUMMARY
        else first[:_LONGEST_SUMMARY].rsplit(" ", 1)[0] + " …"
    )


def _closed(fold: list[Any]) -> None:
    if fold:
        fold[-1].metadata["fold_ends"] = True
        fold[0].metadata["fold"] = fold[0].metadata["fold"] or _subject(fold)


def _is_message(output: Any) -> bool:
    """Whether an output is only a library's aside, which goes with the code."""
    return output.output_type == "stream" and output.name == "stderr"


def _is_empty(output: Any) -> bool:
    """Whether a section found nothing to say for this study."""
    return (
        set(output.get("data", {})) >= {"text/markdown"}
        and not output.data["text/markdown"].strip()
    )


def _words(output: Any) -> str:
    """A headline's output as HTML."""
    data = output.get("data", {})
    if "text/markdown" in data:
        return markdown(data["text/markdown"])
    if "text/html" in data:
        return data["text/html"]
    text = data.get("text/plain", output.get("text", ""))
    return f"<p>{html.escape(text)}</p>" if text else ""


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
