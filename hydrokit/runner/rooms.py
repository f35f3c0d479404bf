"""What the notebooks will ask for, imported by the kernel while nobody waits for it yet."""

from __future__ import annotations

import importlib
import pkgutil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from IPython.core.interactiveshell import InteractiveShell

__all__ = ["load_ipython_extension"]


def load_ipython_extension(shell: InteractiveShell) -> None:
    """Import the rooms."""
    import pandas  # noqa: F401  most of the notebooks' time to start

    from .. import energy, plant, report, running, stream, works

    for room in (stream, works, plant, energy, running, report):
        for each in pkgutil.walk_packages(room.__path__, room.__name__ + "."):
            importlib.import_module(each.name)
