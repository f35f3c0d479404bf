"""The verb ``new``: a study from a template, from a neighbour's, or a demo."""

from __future__ import annotations

import argparse
from pathlib import Path

from ..errors import InputError, Mistake, counted
from .terminal import DONE, say

__all__ = ["arguments", "do"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument("path", nargs="?", help="folder of the new study, for example studies/mine")
    parser.add_argument(
        "--demo",
        metavar="NAME",
        help=(
            "fetch a demo study that comes with hydrokit, into studies/NAME where no folder is "
            "named; 'list' names them"
        ),
    )
    parser.add_argument(
        "--units", choices=("metric", "us"), default="metric", help="units of the examples in it"
    )
    begun = parser.add_mutually_exclusive_group()
    begun.add_argument(
        "--for",
        dest="case",
        choices=("gauge-only", "planned", "neighbour", "log"),
        help=(
            "only the keys that matter first: a running plant with a gauge, a planned one, one "
            "with a record nearby, one with a log"
        ),
    )
    begun.add_argument(
        "--from",
        dest="source",
        metavar="STUDY",
        help="start from this study of a creek nearby: its prices, uncertainties and machine",
    )


def do(args: argparse.Namespace) -> int:
    """Make the folder and tell what to type next."""
    if args.demo:
        return _demo(args)
    if args.path is None:
        raise InputError(
            Mistake(
                "new",
                "",
                "name the folder of the new study, for example: hydrokit new studies/mine",
            )
        )
    if args.case:
        from ..site.new_study import write_thin_study

        write_thin_study(Path(args.path), args.case, args.units)
    elif args.source:
        from ..site.new_study import write_study_from

        anew = write_study_from(Path(args.path), args.source)
        say(f"{counted(anew, 'value')} of {args.source} must be measured anew; they are marked so.")
    else:
        from ..site.new_study import write_new_study

        write_new_study(Path(args.path), args.units)
    say(
        f"{args.path} is made, with sheets to print for the field (print_*.html). Write what "
        f"you measured into {Path(args.path, 'site.toml').as_posix()}, then:"
    )
    say(f"  hydrokit check {args.path}")
    say(f"  hydrokit run {args.path}")
    return DONE


def _demo(args: argparse.Namespace) -> int:
    from ..site.new_study import demos, write_demo

    if args.demo == "list":
        for name, told in demos().items():
            say(f"{name}: {told}")
        return DONE
    folder = Path(args.path or Path("studies", args.demo))
    write_demo(folder, args.demo)
    say(f"the demo is in {folder.as_posix()}; its places, people and prices are invented. Then:")
    say(f"  hydrokit run {folder.as_posix()}")
    return DONE
