"""The verb ``sift``: a first look at many creeks from one table, as another table and a page."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from ..errors import InputError, Mistake, counted
from .terminal import BAD_INPUT, DONE, complain, say, short_path

__all__ = ["arguments", "do"]

_TOLD = 20  # mistakes told on the terminal


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument(
        "table",
        help=(
            "CSV: name, head [m], length [m], catchment [km2], neighbour record, neighbour "
            "catchment [km2], licence [L/s], residual [%%]; the last two may be left out"
        ),
    )
    parser.add_argument(
        "--workers",
        type=int,
        default=os.cpu_count() or 1,
        metavar="N",
        help="processes on this machine; 1 works one row after the other",
    )
    parser.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="address of a dask.distributed scheduler that does the work instead",
    )
    parser.add_argument(
        "--out",
        metavar="FILE",
        help=(
            "the table to write, with a page of the same name beside it; left out, it lies beside "
            "the given one, its name ending in _sifted"
        ),
    )
    parser.add_argument(
        "--display",
        choices=("metric", "us"),
        help="units shown; metric ones when not given",
    )


def do(args: argparse.Namespace) -> int:
    """Sift, write the table and the page, and tell what stands out.

    Rows with mistakes keep their place in the table, with what is wrong in their own columns; they are
    told here too, and the exit code is that of bad input.
    """
    from ..report.many_creeks import Among
    from ..report.pages import many_creeks as page
    from ..study.view import View
    from . import sifted, spread
    from .creek_table import CreekTable
    from .single import page_of, put, writable, written

    out = writable(args.out, sifted.sifted_beside(Path(args.table)), beside=(".html",))
    if args.workers < 1:
        raise InputError(
            Mistake("--workers", "", "at least one process must do the work; write --workers 1")
        )
    table = CreekTable(args.table)
    opener = (
        spread.cluster(args.cluster)
        if args.cluster
        else spread.processes(args.workers)
        if args.workers > 1
        else None
    )
    view = View(args.display or "metric")
    growing, among = sifted.Growing(out, view, say), Among()
    try:
        for found in sifted.sifted(table, opener):
            growing.take(found, len(table))
            among.add(found)
    finally:
        growing.close()
    made = put(out, growing.path)
    shown = written(
        out.with_suffix(".html"),
        page_of(
            page.HEADING,
            page.subject(among),
            page.sections(among, view),
            page.headline(among, view),
        ),
    )
    for line in page.summary(among, view):
        say(line)
    say(
        f"all of them, in the order of the table, in {short_path(made)}; the best in {short_path(shown)}"
    )
    return _complained(tuple(table.mistakes))


def _complained(mistakes: tuple[Mistake, ...]) -> int:
    for each in mistakes[:_TOLD]:
        complain(str(each))
    if len(mistakes) > _TOLD:
        complain(
            f"and {counted(len(mistakes) - _TOLD, 'mistake')} more: the column 'what is "
            "wrong' of the table has all of them"
        )
    return BAD_INPUT if mistakes else DONE
