"""One page that stands by itself: made of things to show, or of a notebook that is run for it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ..errors import RunError
from . import folders

__all__ = ["page_of", "page_of_notebook", "verification_page", "writable", "written"]


def page_of(heading: str, subject: str, shown: Sequence[Any], headline: Any = None) -> str:
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

    from .report import Reporter

    cells = [new_markdown_cell(f"# {heading}")]
    if headline is not None:
        cells.append(new_code_cell("", outputs=[_output(headline)], metadata={"tags": ["headline"]}))
    cells += [new_markdown_cell(each) if isinstance(each, str) else new_code_cell("", outputs=[_output(each)]) for each in shown]
    return Reporter(subject, "", []).page("00_page", new_notebook(cells=cells))[1]


def _output(shown: Any) -> Any:
    """What a notebook would keep of a thing it shows."""
    from nbformat.v4 import new_output

    if hasattr(shown, "_repr_mimebundle_"):
        data, metadata = shown._repr_mimebundle_()
    elif hasattr(shown, "_repr_markdown_"):
        data, metadata = {"text/markdown": shown._repr_markdown_()}, {}
    else:
        data, metadata = {"text/html": shown._repr_html_()}, {}
    return new_output("display_data", data=data, metadata=metadata)


def page_of_notebook(path: Path, parameters: dict[str, Any], subject: str) -> tuple[str, str]:
    """Run a notebook that is about no study in particular and give its headline and its page.

    Raises
    ------
    RunError, InputError
        As a run of a study's notebook.
    """
    from .kernel import Kernel

    with Kernel(folders.checkout() or Path.cwd()) as kernel:
        from .notebooks import label, read_notebook, run_notebook
        from .report import Reporter, plain

        notebook = read_notebook(path, parameters)
        reporter = Reporter(subject, "", [])
        kernel.make_fresh()
        page, text = reporter.page(path.stem, run_notebook(label(path), notebook, parameters, kernel))
        return plain(page.headline), text


def verification_page(folder: str = "") -> tuple[str, str]:
    """Run every published check and give the headline and the page.

    Parameters
    ----------
    folder : str
        Of tables of checks; those of the checkout when empty.
    """
    from .. import __version__
    from .trust import published_folder

    if not folder:
        published_folder()  # says so where there is none, before a kernel is started for it
    path = folders.notebook_folder() / "trust" / "every_check.ipynb"
    return page_of_notebook(path, {"folder": folder}, f"hydrokit {__version__}")


def writable(path: Any) -> Path:
    """Where a file is to be written, looked at before the work that fills it.

    Raises
    ------
    RunError
        A folder that is not there, or a folder's own name.
    """
    target = Path(path).expanduser()
    if target.is_dir():
        raise RunError(f"{path} is a folder; name a file to write.")
    if not target.parent.is_dir():
        raise RunError(f"There is no folder {target.parent.as_posix()} to write {target.name} in.")
    return target


def written(target: Path, text: str) -> Path:
    """Write a page or a table whole, or say in one sentence why not.

    Raises
    ------
    RunError
        What the system refuses.
    """
    try:
        folders.write_whole(target, text)
    except OSError as error:
        error.filename = None  # it names the half-written file, which nobody knows of
        raise RunError(folders.in_one_sentence(error, target.parent)) from error
    return target
