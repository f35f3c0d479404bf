"""What a kernel shared by several notebooks forgets between two of them.

This is loaded by the kernel as an extension. The variables of a notebook are cleared by
IPython itself; here go the settings of the process that a notebook may have
changed, so that each notebook finds what it would find alone.
"""

from __future__ import annotations

import gc
import json
import os
import sys
import warnings
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from IPython.core.interactiveshell import InteractiveShell

    from ..files import Entries
    from ..study.study import Study
    from ..study.view import View

__all__ = ["answers", "load_ipython_extension", "restore"]


def answers(path: str, display: str) -> str:
    """The results, findings, inputs, the phone's page and the sheets to print of a study as JSON;
    after the notebooks hardly anything is left to work out.

    Parameters
    ----------
    path : str
        The study's folder.
    display : str
        Units of the findings.
    """
    from ..report.next_measurements import everything
    from ..report.pages.common import understood
    from ..report.phone import card_page
    from ..report.prints.print_set import print_set
    from ..report.story_figure import story_figures
    from ..study.opening import open_study

    study = open_study(path)
    view = study.view(display)
    told = [[each.level, each.where, each.message] for each in study.told(display)]
    return json.dumps(
        {
            "results": study.results(),
            "findings": told,
            "inputs": study.inputs(),
            "card": card_page(study, view),
            "story": {
                "measure": everything(study, view),
                "prints": [asdict(each) for each in print_set(study, view)],
                "understood": understood(study, view)._repr_html_(),
                "figures": story_figures(study, view),
                "registers": registers_of(study, view),
            },
        },
        default=lambda number: number.item(),
    )


def registers_of(study: Study, view: View) -> list[Entries]:
    """The page of registers as cells: Markdown, or what a notebook would keep of a thing it shows."""
    from ..report.registers import DETAILS, TITLE, headline, sections

    cells: list[dict[str, Any]] = [
        {"markdown": f"# {TITLE}"},
        {"shown": [bundle(headline(study, view))], "headline": True},
    ]
    for heading, shown in sections(study, view):
        cells += [
            {"markdown": f"## {heading}", "detail": heading in DETAILS},
            {"shown": [bundle(each) for each in shown]},
        ]
    return cells


def bundle(shown: Any) -> list[Entries]:
    """What a notebook keeps of a thing that shows itself: data by kind, and what is said of them."""
    if hasattr(shown, "_repr_mimebundle_"):
        return list(shown._repr_mimebundle_())
    if hasattr(shown, "_repr_markdown_"):
        return [{"text/markdown": shown._repr_markdown_()}, {}]
    return [{"text/html": shown._repr_html_()}, {}]


def load_ipython_extension(shell: InteractiveShell) -> None:
    """Note how the process stands before the first notebook, and that nobody sits before it."""
    import matplotlib
    import matplotlib.pyplot  # noqa: F401  sets up the notebook's way of drawing

    from ..study.attended import leave_alone
    from ..study.opening import keep_opened

    keep_opened()
    leave_alone()
    shell.meta.hydrokit_start = {
        "folder": os.getcwd(),
        "environment": dict(os.environ),
        "path": list(sys.path),
        "warnings": list(warnings.filters),
        "drawing": matplotlib.rcParams.copy(),
    }
    gc.freeze()  # the libraries stay: no later sweep for unused objects need walk through them


def restore() -> None:
    """Bring the process back to how it stood before the first notebook."""
    import matplotlib
    import matplotlib.pyplot
    from IPython.core.getipython import get_ipython

    shell: Any = get_ipython()
    start = shell.meta.hydrokit_start
    shell.reset(new_session=True)
    matplotlib.pyplot.close("all")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        matplotlib.rcParams.update(start["drawing"])
    warnings.filters[:] = start["warnings"]  # type: ignore[index]  # it is a list, declared as less
    sys.path[:] = start["path"]
    os.environ.clear()
    os.environ.update(start["environment"])
    os.chdir(start["folder"])
