"""The verb ``parts``: what to buy and build for a study."""

from __future__ import annotations

import argparse

from ..errors import counted
from .terminal import DONE, say, short_path

__all__ = ["arguments", "do"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument("study", help="folder of a study")
    parser.add_argument(
        "--out",
        metavar="FILE",
        help="the list to write; left out, parts.csv in the reports of the study",
    )
    parser.add_argument(
        "--display",
        choices=("metric", "us"),
        help="units shown; those of the site file when not given",
    )


def do(args: argparse.Namespace) -> int:
    """Write the list and tell where it is."""
    from ..report.parts_list import parts_list, table_text
    from ..site.folders import reports_of
    from ..study.opening import open_study
    from .single import writable, written

    study = open_study(args.study)
    out = writable(args.out, reports_of(study.path) / "parts.csv")
    study.read()
    view = study.view(args.display)
    items = parts_list(study, view)
    made = written(out, table_text(items, view))
    say(
        f"{study.name}: {counted(len(items), 'line')} of what to buy and build, each with the "
        f"number it follows from, in {short_path(made)}"
    )
    return DONE
