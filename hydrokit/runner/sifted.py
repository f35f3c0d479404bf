"""Sifting many creeks from one table: rows worked out in pieces, here or side by side, and written
as they come."""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TextIO

from ..energy.creeks import Creek, Sifted
from ..energy.sieve import sieved
from ..errors import InputError, Mistake
from ..files import shown_path, write_csv_text
from ..report.many_creeks import table_header, table_row
from ..study.view import View
from .creek_table import CreekTable, Piece
from .spread import Opener, alone, in_order

__all__ = ["Growing", "sift", "sifted", "sifted_beside"]

_TELL_EVERY = 5.0  # s between lines of progress
_LOST = "every worker it was given to was lost; run it alone to see why"


def sifted(table: CreekTable, opener: Opener | None = None) -> Iterator[Sifted]:
    """A first look at every creek of a table, in its order.

    Parameters
    ----------
    table : CreekTable
    opener : callable, optional
        Opens an executor, such as ``spread.processes`` or ``spread.cluster``; without it one piece
        of the table after the other is worked out here. The result is the same.
    """
    pieces: deque[Piece] = deque()

    def jobs() -> Iterator[tuple[Any, ...]]:
        for piece in table.pieces():
            pieces.append(piece)
            yield piece.job

    if opener is None:
        done: Iterator[Any] = (sieved(*job) for job in jobs())
    else:
        done = in_order(sieved, jobs(), opener, lambda job: _halved(job, opener))
    for found in done:
        yield from pieces.popleft().joined(found)


def _halved(job: tuple[Any, ...], opener: Opener) -> list[Sifted]:
    """A piece that loses its workers, half by half, down to the row that it is lost with."""
    creeks, records, which = job
    if len(creeks) <= 1:
        return [Sifted(each, reason=_LOST) for each in creeks]
    found: list[Sifted] = []
    for part in (slice(0, len(creeks) // 2), slice(len(creeks) // 2, None)):
        half: tuple[list[Creek], Any, Any] = (creeks[part], records, which[part])
        made, came = alone(sieved, half, opener)
        found += made if came else _halved(half, opener)
    return found


def sift(path: str | Path, opener: Opener | None = None) -> list[Sifted]:
    """All of :func:`sifted` of the table at a path.

    Raises
    ------
    InputError
        Where a row has mistakes: every one of them.
    """
    table = CreekTable(path)
    found = list(sifted(table, opener))
    if table.mistakes:
        raise InputError(table.mistakes)
    return found


class Growing:
    """A table that grows on the disk row by row.

    Every line in it is whole. When all are there it takes its own name (``single.put``); a stop
    before that leaves what was worked out so far.

    Parameters
    ----------
    path : Path
        Of the finished table; while it grows its name ends in ``.part.csv``.
    view : View
    say : callable
        Is given a line of progress now and then.
    """

    def __init__(self, path: Path, view: View, say: Callable[[str], object]) -> None:
        self.path = path.with_name(f"{path.stem}.part.csv")
        self.view, self.say = view, say
        self.seen = 0
        self.told = time.monotonic()
        self.header = write_csv_text(table_header(view), [])
        if os.path.lexists(self.path) and not self._ours():
            raise InputError(
                Mistake(
                    shown_path(self.path),
                    "",
                    "hydrokit did not write this file; name another table with --out, or move this one away",
                )
            )
        self.file: TextIO | None = None

    def _ours(self) -> bool:
        try:
            with open(self.path, encoding="utf-8") as handle:
                return not self.path.is_symlink() and handle.readline(10_000) == self.header
        except (OSError, ValueError):
            return False

    def take(self, found: Sifted, of: int) -> None:
        """Take the next row, of so many."""
        if self.file is None:
            self.path.parent.mkdir(exist_ok=True)
            self.path.unlink(missing_ok=True)
            self.file = open(self.path, "x", encoding="utf-8", newline="\n")  # noqa: SIM115  closed by `close`
            self.file.write(self.header)
        self.file.write(write_csv_text(table_row(found, self.view), []))
        self.seen += 1
        if time.monotonic() - self.told >= _TELL_EVERY:
            self.file.flush()
            self.told = time.monotonic()
            self.say(f"{self.seen:,} of {of:,} creeks")

    def close(self) -> None:
        """Leave what there is."""
        if self.file is not None:
            self.file.close()


def sifted_beside(table: Path) -> Path:
    """Where what was made of a table goes: beside it, or into the reports of the study it lies in."""
    from ..site.folders import reports_of

    home = table.parent
    return (
        reports_of(home) if (home / "site.toml").is_file() else home
    ) / f"{table.stem}_sifted.csv"
