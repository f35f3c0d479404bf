"""The verb ``tidy``: tells how a file was understood and writes a clean copy beside it."""

from __future__ import annotations

import argparse
from pathlib import Path

from .terminal import DONE, say, short_path

__all__ = ["arguments", "do"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument(
        "file",
        help="a CSV file as a logger or a spreadsheet wrote it: gaugings, stages, a log, ...",
    )
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="the copy to write; left out, it lies beside the file, its name ending in _tidy",
    )


def do(args: argparse.Namespace) -> int:
    """Tell it, line by line, and write the copy.

    Raises
    ------
    InputError
        What cannot be read, or a file in the place of the copy that hydrokit did not write.
    """
    from ..site.tidy import tidied
    from .single import writable, written

    path = Path(args.file)
    out = writable(args.out, path.parent / f"{path.stem}_tidy.csv")
    found = tidied(path)
    for line in found.told:
        say(f"  {line}")
    say(f"{short_path(written(out, found.text))} says the same plainly")
    return DONE
