"""Where the workbook in the browser may keep its files."""

from __future__ import annotations

from pathlib import Path

from ..errors import (
    InputError,
    Mistake,
)
from ..runner.terminal import say

__all__ = ["lab_home", "refuse_shut_home"]


def refuse_shut_home() -> None:
    """JupyterLab keeps its settings in the home folder, and tells a home that is shut in a page of text."""
    from jupyter_core.paths import jupyter_config_dir, jupyter_data_dir, jupyter_runtime_dir

    for folder in (jupyter_runtime_dir(), jupyter_config_dir(), jupyter_data_dir()):
        try:
            Path(folder).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            text = f"this folder cannot be made ({error.strerror}), and JupyterLab keeps its settings there; let HOME be a folder that can be written"
            raise InputError(Mistake(folder, "", text)) from None


def lab_home() -> Path:
    """The folder to work in: the checkout, or the working folder with notebooks of its own.

    An installed package's notebooks are copied, since a person's work must not
    lie where the next installation overwrites it.
    """
    from ..runner.lending import lend
    from ..site.folders import checkout

    root = checkout()
    if root:
        return root
    home = Path.cwd().resolve()
    lend(home, say)
    return home
