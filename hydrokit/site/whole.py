"""Writes files and folders whole or not at all, also where another program holds them for a moment."""

from __future__ import annotations

import errno
import glob
import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import TypeVar

__all__ = [
    "BUILDING",
    "HELD",
    "PATIENCE",
    "built_beside",
    "is_free",
    "laid",
    "patiently",
    "write_whole",
]

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


def write_whole(path: Path, text: str | bytes) -> None:
    """Write a file so that it is the old one or the new one, never half; who may read it stays."""
    part = path.with_name(f"{BUILDING}{path.name}-{os.getpid()}")
    try:
        with open(part, "wb") as handle:
            handle.write(text.encode("utf-8") if isinstance(text, str) else text)
            handle.flush()
            os.fsync(handle.fileno())
        if path.exists():
            shutil.copymode(path, part)
        patiently(lambda: os.replace(part, path))
    finally:
        part.unlink(missing_ok=True)


def is_free(folder: Path) -> bool:
    """Whether a new folder can be laid here: there is none, or one that holds nothing but what a
    stopped attempt has left."""
    if not os.path.lexists(folder):
        return True
    return folder.is_dir() and all(each.name.startswith(BUILDING) for each in folder.iterdir())


@contextmanager
def laid(folder: Path) -> Iterator[Path]:
    """A folder to fill, whose contents are in the folder wanted when all is there; else nothing is.

    Parameters
    ----------
    folder : Path
        For which :func:`is_free` holds.
    """
    folder = Path(os.path.abspath(folder))  # "." has no name
    if not folder.is_dir():
        with built_beside(folder) as built:
            yield built
            patiently(lambda: built.rename(folder))
        return
    with built_beside(
        folder / "new"
    ) as built:  # somebody may stand in the folder, so that it stays
        yield built
        for each in sorted(built.iterdir()):
            if os.path.lexists(folder / each.name):
                raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), folder / each.name)
            patiently(partial(each.rename, folder / each.name))


@contextmanager
def built_beside(target: Path) -> Iterator[Path]:
    """A folder of a passing name beside the one wanted; gone at the end unless it was renamed, and
    so is that of an attempt that was killed."""
    begun = target.with_name(f"{BUILDING}{target.name}-")
    built = begun.with_name(f"{begun.name}{os.getpid()}")
    target.parent.mkdir(parents=True, exist_ok=True)
    for left in target.parent.glob(f"{glob.escape(begun.name)}*"):
        if left.is_dir() and not left.is_symlink():
            shutil.rmtree(left, ignore_errors=True)
    try:
        try:
            built.mkdir()
        except OSError as error:
            error.filename = str(target)  # nobody knows of the other name
            raise
        yield built
    finally:
        shutil.rmtree(built, ignore_errors=True)
