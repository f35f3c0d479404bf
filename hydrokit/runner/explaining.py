"""The verb ``explain``: a key of the site file, a section, or a term of the trade, in plain words."""

from __future__ import annotations

import argparse

from ..errors import InputError
from .terminal import DONE, say

__all__ = ["arguments", "do"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument(
        "key",
        nargs="+",
        help="a key of the site file (jet_kind, or turbine.jet_kind), a section, or a term of the trade",
    )
    parser.add_argument(
        "--units", choices=("metric", "us"), default="metric", help="units of the examples"
    )


def do(args: argparse.Namespace) -> int:
    """Tell it, line by line.

    Raises
    ------
    InputError
        Nothing of that name.
    """
    from ..report.glossary import terms
    from ..site.explain import explained

    word = " ".join(args.key)
    term = terms().get(word.strip().lower())
    try:
        lines = explained(word, args.units)
    except InputError:
        if term is None:
            raise
        lines = []
    for line in lines if term is None else [f"{term.name}: {term.meaning}", *lines]:
        say(line)
    return DONE
