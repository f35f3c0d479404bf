"""Keeps the drawing library from reading settings that lie in the working folder."""

from __future__ import annotations

import logging
import os
import sys
from pathlib import Path

__all__ = ["settings_from_elsewhere"]


def settings_from_elsewhere() -> None:
    """Import the library that reads its settings from the working folder, while that is another one."""
    if "matplotlib" in sys.modules:
        return
    log = logging.getLogger("matplotlib")
    level, here = log.level, os.getcwd()
    log.setLevel(
        logging.ERROR
    )  # of a home folder that is shut it says a page, and works all the same
    os.chdir(Path(__file__).resolve().parent)
    try:
        import matplotlib

        matplotlib.get_cachedir()
    finally:
        os.chdir(here)
        log.setLevel(level)
