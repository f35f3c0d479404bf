"""Lessons on paper: a handout for learners and the guide for teachers, made of the notebooks themselves."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import nbformat

from ..report.arranged import tagged
from ..report.display import Table
from ..runner.single import page_of

if TYPE_CHECKING:
    from nbformat import NotebookNode

    from ..files import Entries

__all__ = ["Kept", "Line", "guide", "handout", "run_lessons", "section_of", "without_answers"]

_ANSWER = re.compile(r"<details><summary>(.*?)</summary>\s*(.*?)\s*</details>", re.DOTALL)
_HOW_TO = re.compile(r"\n*\*\*How to use these pages\.\*\*.*?(?=\n\n|\Z)", re.DOTALL)
_SUBJECT = "hydrokit: the workshop"


@dataclass(frozen=True)
class Kept:
    """What a cell showed when it was run."""

    data: Mapping[str, Any]
    metadata: Mapping[str, Any]

    def _repr_mimebundle_(self, include: Any = None, exclude: Any = None) -> tuple[dict, dict]:
        return dict(self.data), dict(self.metadata)

    def __repr__(self) -> str:
        return str(self.data.get("text/plain", ""))


class Line:
    """A line to write on."""

    def __init__(self, before: str = "") -> None:
        self.before = before

    def _repr_html_(self) -> str:
        rule = "border-bottom:1px solid #51616a;height:2.4em;max-width:42rem;margin:0 0 1.2rem"
        return f'<div style="{rule}">{self.before}</div>'

    def __repr__(self) -> str:
        return f"{self.before} ____"


def run_lessons(lessons: Mapping[str, Path]) -> Entries:
    """Run lessons and give them with what their cells show: stem to notebook.

    Parameters
    ----------
    lessons : dict
        Stem to file; those that come with hydrokit.
    """
    from ..runner.kernel import Kernel
    from ..runner.notebooks import label, run_notebook

    folder = next(iter(lessons.values())).parent
    done = {}
    with Kernel(folder) as kernel:
        for stem, path in lessons.items():
            kernel.make_fresh()
            done[stem] = run_notebook(label(path), nbformat.read(path, as_version=4), {}, kernel)
    return done


def title_in(notebook: NotebookNode) -> str:
    """``Lesson 1: How much water is there?``."""
    return str(notebook.cells[0].source.partition("\n")[0].lstrip("# ").strip())


def without_answers(text: str) -> str:
    """Markdown without what is folded in it."""
    return _ANSWER.sub("", text).strip()


def section_of(notebook: NotebookNode) -> Iterator[tuple[str, NotebookNode]]:
    """Each cell with the heading of the section it stands in."""
    heading = ""
    for cell in notebook.cells:
        if cell.cell_type == "markdown" and cell.source.startswith("## "):
            heading = cell.source.partition("\n")[0].lstrip("# ").strip()
        yield heading, cell


def outputs_of(cell: NotebookNode) -> Iterator[Kept]:
    """What a cell of code showed: tables, pictures, printed lines."""
    for output in cell.outputs:
        if output.output_type == "stream":
            yield Kept({"text/plain": output.text}, {})
        elif output.output_type in ("display_data", "execute_result"):
            yield Kept(output.data, output.metadata)


# --- for learners ------------------------------------------------------------------------------


def handout(notebook: NotebookNode) -> str:
    """The page that a learner takes home, as HTML: no code, no answers, lines to write on.

    Parameters
    ----------
    notebook : NotebookNode
        A lesson that has run.
    """
    return page_of(title_in(notebook), f"{_SUBJECT}, for you to keep", list(_handed_out(notebook)))


def _handed_out(notebook: Any) -> Iterator[str | Kept | Line | Table]:
    yield notebook.cells[0].source.partition("\n")[2].strip()
    *_, cautions = (each for each in notebook.cells if each.cell_type == "code")
    yield from outputs_of(cautions)
    for heading, cell in list(section_of(notebook))[1:]:
        if heading == "Teacher's page" or cell is cautions:
            continue
        if cell.cell_type == "markdown":
            text = without_answers(_HOW_TO.sub("", cell.source))
            if heading == "Your own creek":
                text = text.partition("\n")[0] if cell.id == "own-creek" else ""
            if text:
                yield text
            if cell.id in ("warm-up", "one-more"):
                yield Line()
        elif tagged(cell, "own"):
            yield _form(cell.source)
        elif tagged(cell, "exercise"):
            yield Line()
        elif not tagged(cell, "check") and not tagged(cell, "solution") and cell.id != "own-watts":
            yield from outputs_of(cell)


def _form(source: str) -> Table:
    """The keys that a lesson asks for, with examples and room to write."""
    rows = [
        (key, example.strip(), "_" * 24)
        for key, example in re.findall(
            r'^    "([\w.]+)": (?:None,  #|\[\n        #)(.*)$', source, re.M
        )
    ]
    return Table(("key", "for example", "your own creek: write it here, with its unit"), rows)


# --- for teachers ------------------------------------------------------------------------------


def guide(notebooks: Mapping[str, NotebookNode], timetable: Sequence[str | Table]) -> str:
    """The guide for teachers to all lessons, as HTML: days, each lesson's page, and every answer.

    Parameters
    ----------
    notebooks : dict
        Stem to lesson.
    timetable : sequence of str and Table
        What stands at its beginning.
    """
    shown: list[str | Table | Kept] = [
        "This guide holds the answers; the handouts hold none.",
        "## The two days",
        *timetable,
    ]
    for notebook in notebooks.values():
        shown += [f"## {title_in(notebook)}", *_taught(notebook)]
    return page_of("For the teacher", _SUBJECT, shown)


def _taught(notebook: Any) -> Iterator[str | Table | Kept]:
    bring = re.search(r"\*\*Bring\.\*\*.*", notebook.cells[1].source)
    if bring:
        yield bring[0]
    *_, cautions = (each for each in notebook.cells if each.cell_type == "code")
    for heading, cell in section_of(notebook):
        if heading == "Teacher's page" and cell.cell_type == "markdown":
            yield cell.source.partition("\n")[2].strip()
    yield from outputs_of(cautions)
    yield "### Answers"
    for question, answer in answers_in(notebook):
        yield f"**{question}** {answer}"


def answers_in(notebook: NotebookNode) -> Iterator[tuple[str, str]]:
    """Each question of a lesson with its answer, both in Markdown."""
    question = ""
    for cell in notebook.cells:
        if cell.cell_type != "markdown":
            continue
        if cell.source.startswith("##"):
            question = cell.source.partition("\n")[0].lstrip("# ").strip()
        found = _ANSWER.search(cell.source)
        if found:
            yield f"{question}.", found[2]
