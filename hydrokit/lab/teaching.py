"""The verb ``workshop``: all that a teacher needs in one folder, for a place without internet."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..runner.outputs import paper_named
from ..runner.terminal import DONE, say

__all__ = ["arguments", "do"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument("folder", help="a folder that is not there yet, for example workshop")
    parser.add_argument(
        "--reset",
        action="store_true",
        help="for the next group: lay the lessons anew, and keep those worked on under the day's date",
    )
    parser.add_argument(
        "--paper",
        choices=("A4", "Letter"),
        type=paper_named,
        default="A4",
        help="A4 (unless you say so) or Letter, for the handouts as PDF",
    )


def do(args: argparse.Namespace) -> int:
    """Make the folder, or lay its lessons anew, and tell what to type next."""
    from datetime import date

    from .workshop import lay, reset

    folder = Path(args.folder).expanduser()
    if args.reset:
        for line in reset(folder, date.today()):
            say(line)
    else:
        told = lay(folder, args.paper)
        say(f"{args.folder} is made; its index.html tells what is in it.")
        say(f"{told} Then:")
    say(f"  hydrokit lab {args.folder}")
    return DONE
