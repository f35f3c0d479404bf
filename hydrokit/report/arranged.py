"""Cells of a notebook that has run, as its page shows them: arranged, gathered, folded."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from nbformat.v4 import new_code_cell, new_markdown_cell

from .marking import markdown, plain

if TYPE_CHECKING:
    from nbformat import NotebookNode

__all__ = ["ONCE", "arranged", "folded", "gathered", "heading_apart", "left_out", "tagged", "words"]

FIRST_HEADING = re.compile(r"^#[ \t]+(.+?)[ \t]*#*[ \t]*$", re.MULTILINE)
INJECTED_HEADER = (
    "# Parameters\n"  # a remark that the runner of notebooks writes over the parameters of a run
)


def tagged(cell: NotebookNode, tag: str) -> bool:
    return tag in cell.metadata.get("tags", [])


def heading_apart(cells: Sequence[NotebookNode]) -> tuple[str, list[NotebookNode]]:
    """The first heading and the cells without it."""
    for position, cell in enumerate(cells):
        found = FIRST_HEADING.search(cell.source) if cell.cell_type == "markdown" else None
        if found:
            rest = new_markdown_cell(cell.source[: found.start()] + cell.source[found.end() :])
            kept = [rest] if rest.source.strip() else []
            return found.group(1), [*cells[:position], *kept, *cells[position + 1 :]]
    return "", list(cells)


def arranged(cells: Sequence[NotebookNode]) -> list[NotebookNode]:
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
            if tagged(cell, "injected-parameters")
            else cell.source
        )
        sources += [source] if source.strip() else []
        outputs += (
            []
            if tagged(cell, "headline")
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


_LEFT_OUT = "Left out for want of data: "


def gathered(cells: Sequence[NotebookNode]) -> list[NotebookNode]:
    """The cells without the sections that only say what they lack: one line at the end of the page
    names these."""
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
            bare, lacks = _bare(section)
            if lacks:
                lacking.setdefault(lacks, []).append(_title(section))
            for cell in bare:
                why = _reasons([cell])[:1]
                if not why or why[0] not in told_once or kept[-1].source.startswith("#"):
                    kept.append(cell)
                told_once.update(why)
            continue
        lacking.setdefault(reasons[0], []).append(_title(section))
    if lacking:
        told = "; ".join(f"{', '.join(titles)} ({why})" for why, titles in lacking.items())
        kept.append(new_markdown_cell(f"*{_LEFT_OUT}{told}.*", metadata={"once": True}))
    return kept


def left_out(kept: Sequence[NotebookNode]) -> list[str]:
    """What a page leaves out for want of data, from its gathered cells; the page of the whole story
    lists it."""
    return [
        each.source.strip("*").removeprefix(_LEFT_OUT)
        for each in kept
        if each.cell_type == "markdown" and each.source.startswith(f"*{_LEFT_OUT}")
    ]


def _title(section: Sequence[Any]) -> str:
    return str(section[0].source.lstrip().removeprefix("## ").partition("\n")[0].strip())


def _bare(section: Sequence[Any]) -> tuple[list[Any], str]:
    """A section, and why its main part shows nothing where it does: then what it would have
    explained is left out.

    What is folded below it stays, under a heading that paper does without; cautions always stay.
    """
    if (
        not section
        or not section[0].source.lstrip().startswith("## ")
        or tagged(section[0], "detail")
    ):
        return list(section), ""
    main: list[Any] = []
    apart: list[Any] = []
    inside = False
    for cell in section[1:]:
        if cell.cell_type == "markdown" and cell.source.lstrip().startswith("### "):
            inside = tagged(cell, "detail")
        (apart if inside or tagged(cell, "detail") else main).append(cell)
    cautions = [cell for cell in main if any(_is_caution(each) for each in cell.get("outputs", []))]
    said = [
        each
        for cell in main
        for each in cell.get("outputs", [])
        if not (_is_message(each) or _is_caution(each) or _is_empty(each))
    ]
    why = _reasons([new_code_cell(outputs=said)])
    # A page that was written without a notebook has nothing in it that could have been worked out.
    worked = any(cell.cell_type == "code" and cell.source.strip() for cell in main)
    if not worked or (said and not why):
        return list(section), ""
    heading = new_markdown_cell(
        f"## {_title(section)}", metadata={**section[0].metadata, ONCE: True}
    )
    told = [cell for cell in main if _reasons([cell])][:1]
    for cell in told:
        cell.metadata[ONCE] = True
    shown = [heading, *told, *apart] if apart else []
    return [*shown, *cautions], why[0] if why else ""


def _is_caution(output: Any) -> bool:
    return "hk-caution" in output.get("data", {}).get("text/html", "")


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


ONCE = "once"  # class of what a study's prints show once, on the page of the whole story
_LONGEST_SUMMARY = 70  # letters
_CHECKS = "Checks"
_SUMMARY = {"understood": "What was understood", "provenance": "Where these numbers come from"}


def folded(cells: Sequence[NotebookNode]) -> list[NotebookNode]:
    """Marks where details begin and end: what a page folds away, and prints only when it is opened.

    A heading tagged ``detail`` takes all below it, up to the next of its level; cells tagged so that
    follow each other fold together. A fold that would only say what is lacking is left out.
    """
    folds: list[list[Any]] = [[]]  # the last is open
    level, inside = 0, False
    for cell in cells:
        found = re.match(r"(#+) +(.*)", cell.source) if cell.cell_type == "markdown" else None
        detail = any(tagged(cell, tag) for tag in ("detail", *_SUMMARY))
        if found and (not level or len(found[1]) <= level) or not (found or level or detail):
            folds.append([])
            level, inside = 0, False
        if found and detail and not level:
            level, inside = len(found[1]), True
            cell.metadata["fold"] = found[2]
            cell.metadata["once"] = found[2].strip() == _CHECKS
            cell.source = cell.source[found.end() :].lstrip("\n")
        elif detail and not level and not folds[-1]:
            summary = next((text for tag, text in _SUMMARY.items() if tagged(cell, tag)), "")
            cell.metadata["fold"] = summary
            cell.metadata["once"] = bool(summary)
        elif any(tagged(cell, tag) for tag in _SUMMARY):
            cell.metadata["once"] = True
        if detail or level or inside:
            folds[-1].append(cell)
    empty = [cell for fold in folds if _reasons(fold) for cell in fold]
    for fold in folds:
        _closed(fold)
    return [cell for cell in cells if not any(cell is each for each in empty)]


def _subject(cells: Sequence[Any]) -> str:
    """What a fold shows, in a few words: the title that its cell has, that of its first table,
    what its first picture is of, or how it begins."""
    titles = [str(cell.metadata["title"]) for cell in cells if cell.metadata.get("title")]
    if titles:
        return titles[0]
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
    # A table without a title has none that its numbers could give.
    said = [plain(words(each)) for each in outputs if "text/html" not in each.get("data", {})]
    told = [plain(each[1]) for each in captions if each] + [each for each in alts if each] + said
    if not told:
        return "Details"
    text = re.sub(r"^(\d+\. |Left: )", "", told[0])
    first = re.split(r"[;:,.(?] |[.:]$", text)[0]
    first = first[:1].upper() + first[1:]
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


def words(output: NotebookNode) -> str:
    """A headline's output as HTML."""
    data = output.get("data", {})
    if "text/markdown" in data:
        return markdown(data["text/markdown"])
    if "text/html" in data:
        return re.sub(r"<style\b.*?</style>", "", data["text/html"], flags=re.DOTALL)
    text = data.get("text/plain", output.get("text", ""))
    return f"<p>{html.escape(text)}</p>" if text else ""
