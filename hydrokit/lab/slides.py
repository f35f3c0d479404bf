"""A lesson as slides: one page without a script, to show from any browser or to print."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jinja2

from ..report.arranged import tagged, words
from ..report.html import CONTENT_POLICY, TEMPLATES, with_heads
from ..report.marking import markdown, plain
from .lesson_pages import section_of, title_in, without_answers

if TYPE_CHECKING:
    from nbformat import NotebookNode

__all__ = ["slides"]

_LEFT_OUT = ("Teacher's page", "Words of this lesson", "Your own creek")
# Letters up to which a slide has type of this size.
_SIZES = ((260, "large"), (520, "middle"), (900, "small"))
_LONGEST = 1100


def slides(notebook: NotebookNode) -> str:
    """The slides of a lesson, as HTML.

    Parameters
    ----------
    notebook : NotebookNode
        A lesson that has run.
    """
    shown = [
        {"number": number, "size": size, "body": body}
        for number, (size, body) in enumerate(_bodies(notebook), 1)
    ]
    return _template().render(title=title_in(notebook), policy=CONTENT_POLICY, slides=shown)


def _template() -> jinja2.Template:
    loader = jinja2.FileSystemLoader(Path(TEMPLATES))
    return jinja2.Environment(loader=loader, autoescape=True).get_template("slides.html.j2")


def _bodies(notebook: Any) -> Iterator[tuple[str, str]]:
    """Each slide's size of type and its HTML."""
    shown_before = ""
    *_, cautions = (each for each in notebook.cells if each.cell_type == "code")
    for heading, cell in section_of(notebook):
        if cell.get("id") == "warm-up":  # before anybody begins
            told = "".join(_picture(each) for each in cautions.outputs)
            yield _size(plain(told)), told
        if heading in _LEFT_OUT or cell.get("id") == "sources":
            continue
        if cell.cell_type == "markdown":
            for text in _pieces(without_answers(cell.source)):
                if not text.startswith("#"):
                    text = f"## {heading}\n\n{text}" if heading else text
                yield _size(text), markdown(text)
            shown_before = heading
        elif not any(tagged(cell, each) for each in ("exercise", "check", "solution", "own")):
            seen = "".join(_picture(each) for each in cell.outputs)
            if seen:
                yield "picture", markdown(f"## {shown_before}") + seen if shown_before else seen


def _pieces(text: str) -> Iterator[str]:
    """A cell's text, in pieces that fit a slide: parted between paragraphs."""
    piece = ""
    for paragraph in re.split(r"\n\n+", text):
        if paragraph.startswith("**How to use these pages.**") or paragraph == "## Exercises":
            continue
        if piece and len(piece) + len(paragraph) > _LONGEST:
            yield piece
            piece = ""
        piece = f"{piece}\n\n{paragraph}".strip()
    if piece:
        yield piece


def _size(text: str) -> str:
    # A table's row takes a line however short it is.
    weight = len(text) + 40 * text.count("\n")
    return next((name for most, name in _SIZES if weight <= most), "smallest")


def _picture(output: Any) -> str:
    """A picture or a table that a cell showed; printed lines are for the notebook."""
    data = output.get("data", {})
    if "image/png" in data:
        alt = output.metadata.get("image/png", {}).get("alt", "Figure")
        return str(
            jinja2.Template(
                "<img alt='{{ alt | e }}' src='data:image/png;base64,{{ data | e }}'>"
            ).render(alt=alt, data=data["image/png"].replace("\n", ""))
        )
    return with_heads(words(output)) if "text/html" in data else ""
