"""Writes files whole or not at all, also where another program holds them for a moment."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

__all__ = ["BUILDING", "HELD", "PATIENCE", "patiently", "write_whole"]

Done = TypeVar("Done")

BUILDING = ".reports-building-"
HELD = sys.platform == "win32"  # where a file that is open somewhere cannot be renamed
PATIENCE = 5.0  # s


def patiently(act: Callable[[], Done]) -> Done:
    """Do it, again for some seconds where another program (a virus scanner, a spreadsheet) holds a
    file for a moment."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            return act()
        except PermissionError:
            if not HELD or time.monotonic() > until:
                raise
            time.sleep(0.1)


def write_whole(path: Path, text: str) -> None:
    """Write a text file so that it is the old one or the new one, never half."""
    part = path.with_name(f"{BUILDING}{path.name}-{os.getpid()}")
    try:
        with open(part, "w", encoding="utf-8", newline="\n") as handle:
            handle.write(text)
            handle.flush()
            os.fsync(handle.fileno())
        patiently(lambda: os.replace(part, path))
    finally:
        part.unlink(missing_ok=True)
