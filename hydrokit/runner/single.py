"""One page that stands by itself: made of things to show, or of a notebook that is run for it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import InputError, Mistake, RunError, one_line
from ..files import shown_path
from ..site import folders, whole
from ..site.keeping import hash_of, is_ours, made_in, note, now
from .fresh import bundle

if TYPE_CHECKING:
    from nbformat import NotebookNode

    from ..report.pdf import Paper

__all__ = [
    "notebook_of",
    "page_of",
    "page_of_notebook",
    "printed",
    "put",
    "refuse_foreign",
    "verification_page",
    "writable",
    "written",
]


def page_of(heading: str, subject: str, shown: Sequence[object], headline: object = None) -> str:
    """A page of words, tables and pictures, in the look of the reports.

    Parameters
    ----------
    heading : str
        The question, in Markdown.
    subject : str
        What stands above it; any text.
    shown : sequence
        Text is Markdown; anything else shows itself as it would in a notebook.
    headline : Words, optional
        The answer.
    """
    from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

    from ..report.html import Reporter

    cells = [new_markdown_cell(f"# {heading}")]
    if headline is not None:
        cells.append(
            new_code_cell("", outputs=[_output(headline)], metadata={"tags": ["headline"]})
        )
    cells += [
        new_markdown_cell(each)
        if isinstance(each, str)
        else new_code_cell("", outputs=[_output(each)])
        for each in shown
    ]
    return Reporter(subject, "", []).page("00_page", new_notebook(cells=cells))[1]


def _output(shown: Any) -> Any:
    """What a notebook would keep of a thing it shows."""
    from nbformat.v4 import new_output

    data, metadata = bundle(shown)
    return new_output("display_data", data=data, metadata=metadata)


def notebook_of(cells: Sequence[dict[str, object]]) -> NotebookNode:
    """A notebook that has run, of the cells that :func:`hydrokit.runner.fresh.registers_of` tells."""
    from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook, new_output

    def code(cell: dict[str, Any]) -> Any:
        outputs = [
            new_output("display_data", data=data, metadata=about) for data, about in cell["shown"]
        ]
        tags = ["headline"] if cell.get("headline") else []
        return new_code_cell("", outputs=outputs, metadata={"tags": tags})

    return new_notebook(
        cells=[
            new_markdown_cell(
                each["markdown"], metadata={"tags": ["detail"] if each.get("detail") else []}
            )
            if "markdown" in each
            else code(each)
            for each in cells
        ]
    )


def page_of_notebook(path: Path, parameters: dict[str, object], subject: str) -> tuple[str, str]:
    """Run a notebook that is about no study in particular and give its headline and its page.

    Raises
    ------
    RunError, InputError
        As a run of a study's notebook.
    """
    from .kernel import Kernel

    with Kernel(folders.checkout() or Path.cwd()) as kernel:
        from ..report.html import Reporter
        from ..report.marking import plain
        from .notebooks import label, read_notebook, run_notebook

        notebook = read_notebook(path, parameters)
        reporter = Reporter(subject, "", [])
        kernel.make_fresh()
        page, text = reporter.page(
            path.stem, run_notebook(label(path), notebook, parameters, kernel)
        )
        return plain(page.headline), text


def verification_page(folder: str = "") -> tuple[str, str]:
    """Run every published check and give the headline and the page.

    Parameters
    ----------
    folder : str
        Of tables of checks; those of the checkout when empty.
    """
    from .. import __version__
    from ..published import published_folder

    if not folder:
        published_folder()  # says so where there is none, before a kernel is started for it
    path = folders.notebook_folder() / "verification" / "every_check.ipynb"
    return page_of_notebook(path, {"folder": folder}, f"hydrokit {__version__}")


def writable(
    path: str | Path | None, usual: Path, *, ending: str = "", beside: Sequence[str] = ()
) -> Path:
    """Where a file is to be written, looked at before the work that fills it.

    Parameters
    ----------
    path : path, optional
        What the person named.
    usual : Path
        Where it goes when nothing was named.
    ending : str
        Of its name, whatever was named; as it was named where this is empty.
    beside : sequence of str
        Endings of files of the same name that are written beside it.

    Raises
    ------
    InputError
        A folder that is not there, a folder's own name, the name of a file that goes beside it, or a
        file that hydrokit did not write.
    """
    if path is None:
        target = usual
    else:
        target = Path(path).expanduser()
        if target.is_dir():
            raise InputError(
                Mistake(
                    "--out",
                    "",
                    f"{one_line(path) or 'nothing'} is a folder; name a file to write"
                    if str(path)
                    else "names no file; write for example --out list.csv",
                )
            )
        if not target.parent.is_dir():
            raise InputError(
                Mistake(
                    "--out",
                    "",
                    (
                        f"there is no folder {one_line(target.parent.as_posix())} to write "
                        f"{one_line(target.name)} in"
                    ),
                )
            )
        target = target.with_suffix(ending) if ending else target
    if target.suffix.lower() in beside:
        raise InputError(
            Mistake(
                "--out",
                "",
                f"{one_line(target.name)} is the name of another file that is written beside it; "
                f"write for example --out {one_line(target.stem)}{usual.suffix}",
            )
        )
    for each in (target, *map(target.with_suffix, beside)):
        refuse_foreign(each)
    return target


def refuse_foreign(target: Path) -> None:
    """Refuse to replace a file that hydrokit did not write, or that was changed since."""
    if os.path.lexists(target) and not is_ours(target):
        raise InputError(
            Mistake(
                shown_path(target.parent / one_line(target.name)),
                "",
                (
                    "hydrokit did not write this file, or it was changed since; name another with "
                    "--out, or move this one away"
                ),
            )
        )


def written(target: Path, text: str) -> Path:
    """Write a page or a table whole, or say in one sentence why not; and note that it is hydrokit's.

    Raises
    ------
    InputError
        A file that hydrokit did not write has taken the place meanwhile.
    RunError
        What the system refuses.
    """
    return _taken(target, lambda: whole.write_whole(target, text))


def put(target: Path, part: Path) -> Path:
    """A file that has grown under another name beside it takes its own; otherwise as :func:`written`."""
    return _taken(target, lambda: whole.patiently(lambda: os.replace(part, target)))


def printed(page: Path, text: str, browser: str, paper: Paper) -> Path:
    """Print a page to a PDF beside it, whole or not at all; otherwise as :func:`written`.

    Parameters
    ----------
    page : Path
        The page's file.
    text : str
        The page, as HTML.
    browser : str
        From :func:`hydrokit.runner.outputs.browser_for`.
    paper : {"A4", "Letter"}
    """
    from ..report.pdf import print_page

    target = page.with_suffix(".pdf")
    part = target.with_name(f"{whole.BUILDING}{os.getpid()}-{target.name}")
    try:
        print_page(browser, text, part, paper)
        return put(target, part)
    finally:
        part.unlink(missing_ok=True)


def _taken(target: Path, write: Callable[[], Any]) -> Path:
    try:
        with _held(target):
            refuse_foreign(target)
            write()
            note(
                target.parent,
                made_in(target.parent) | {target.name: {"sha256": hash_of(target), "time": now()}},
            )
    except OSError as error:
        error.filename = str(target)  # not the half-written file, which nobody knows of
        raise RunError(folders.in_one_sentence(error, target.parent)) from error
    return target


@contextmanager
def _held(target: Path) -> Iterator[None]:
    """Hold the study, where the file belongs to its reports, so that no run puts another set there
    meanwhile."""
    study = target.parent.parent
    if target.parent.name != folders.REPORTS or not (study / "site.toml").is_file():
        yield
        return
    with folders.locked(study):
        folders.recover(study)
        target.parent.mkdir(exist_ok=True)
        yield
