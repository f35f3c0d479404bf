"""Kernels as `hydrokit lab` starts them: somebody reads their notebooks in a browser.

The kernel loads this module at its start: figures then carry the words that stand for them, and a cell
that is run before those above it is told what it lacks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from jupyter_client.kernelspec import NATIVE_KERNEL_NAME, KernelSpec

from ..runner.kernel import Kernels

if TYPE_CHECKING:
    from IPython.core.interactiveshell import InteractiveShell

__all__ = ["LabKernels", "load_ipython_extension"]


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
