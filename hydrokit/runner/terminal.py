"""What the command line says and complains of: printable lines only."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import (
    counted,
    printable,
)

if TYPE_CHECKING:
    from ..errors import Finding

__all__ = ["BAD_INPUT", "DONE", "FAILED", "complain", "say", "short_path", "tally"]

DONE, FAILED, BAD_INPUT = 0, 1, 2  # how a verb ends


def say(line: str = "") -> None:
    """One line for the person at the keyboard."""
    sys.stdout.write(printable(line) + "\n")
    sys.stdout.flush()


def complain(line: str) -> None:
    """One line about what went wrong."""
    sys.stderr.write(printable(line) + "\n")


def tally(findings: Sequence[Finding]) -> str:
    """``2 problems, 1 caution``."""
    counts = [
        (level, sum(each.level == level for each in findings))
        for level in ("problem", "caution", "note")
    ]
    return (
        ", ".join(counted(number, level) for level, number in counts if number)
        or "nothing to remark"
    )


def short_path(path: Path) -> str:
    """A path as it is typed from the working folder, where that is shorter."""
    try:
        return path.resolve().relative_to(Path.cwd().resolve()).as_posix()
    except (ValueError, OSError):
        return str(path)
