"""Kernels as `hydrokit lab` starts them: somebody reads their notebooks in a browser.

The kernel loads this module at its start: figures then carry the words that stand for them, tables and
cautions their looks, and a cell that is run before those above it is told what it lacks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from jupyter_client.kernelspec import NATIVE_KERNEL_NAME, KernelSpec

from ..errors import sure
from ..runner.kernel import Kernels

if TYPE_CHECKING:
    from IPython.core.interactiveshell import InteractiveShell

    from ..report.display import Cautions, Table

__all__ = ["LabKernels", "load_ipython_extension"]


# What report.css is to a report. The browser's own sheet sets every cell to the right and no frame.
_LOOKS = (
    "<style>.hk-table td,.hk-table th,.hk-table caption{text-align:left!important}"
    ".hk-table td.hk-number{text-align:right!important}"
    ".hk-table caption,.hk-table .hk-mark td{font-weight:600}"
    ".hk-caution{border:1px solid #c58a1b;border-left-width:6px;padding:.6em 1em;margin:.6em 0;"
    "max-width:46rem}</style>"
)


class LabKernels(Kernels):
    """The kernels of a run, which load this module too."""

    def get_kernel_spec(self, kernel_name: str) -> KernelSpec:
        """How a kernel of this name is started."""
        spec = super().get_kernel_spec(kernel_name)
        if kernel_name == NATIVE_KERNEL_NAME:
            spec.argv = [*spec.argv, f"--ext={__name__}"]
        return spec


def load_ipython_extension(shell: InteractiveShell) -> None:
    """Somebody is there, in a browser."""
    from ..study.attended import shown_in_browser
    from .quotes import load_ipython_extension as read_cells

    shown_in_browser()
    read_cells(shell)
    html = sure(shell.display_formatter).formatters["text/html"]
    for kind in ("Table", "Cautions"):
        html.for_type_by_name("hydrokit.report.display", kind, _with_looks)


def _with_looks(shown: Table | Cautions) -> str:
    return _LOOKS + shown._repr_html_()
