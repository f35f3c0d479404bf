"""The command line: ``hydrokit new | tidy | check | explain | run | compare | parts | sift | verify | lab | workshop``.

Exit codes: 0 done, 2 bad input, 1 failed.
"""

from __future__ import annotations

import argparse
import os
import sys
import warnings
from collections.abc import Callable, Sequence
from dataclasses import KW_ONLY, dataclass
from pathlib import Path
from typing import Any, NoReturn

import hydrokit

from .errors import (
    HydrokitError,
    InputError,
    Mistake,
    RangeWarning,
    counted,
    printable,
)
from .lab import teaching
from .lab.home import lab_home, open_lab, refuse_shut_home, workshop_in
from .runner import beginning, comparing, explaining, listing, outputs, reading, sifting, tidying
from .runner.endings import end_as_by_hand, import_nothing_from_here, tell_outcome, told_in_one_line
from .runner.terminal import BAD_INPUT, DONE, complain, say, short_path, tally

__all__ = ["VERBS", "Verb", "main"]


@dataclass(frozen=True)
class Verb:
    """One word of the command line.

    Parameters
    ----------
    name : str
    summary : str
        One line of help.
    arguments : callable
        Adds its arguments to a parser.
    do : callable
        Does it with the parsed arguments and returns the exit code.
    """

    name: str
    summary: str
    arguments: Callable[[argparse.ArgumentParser], Any]
    _: KW_ONLY
    do: Callable[[argparse.Namespace], int]


# ---------------------------------------------------------------- check


def _check_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("study", nargs="+", help="folder of a study")


def _check(args: argparse.Namespace) -> int:
    from .study.opening import check_study

    worst = DONE
    for study in args.study:
        try:
            findings = check_study(study)
        except InputError as error:
            worst = BAD_INPUT
            say(f"{study}: {counted(len(error.mistakes), 'mistake')}")
            for line in error.lines:
                say(f"  {line}")
            for finding in error.findings:
                say(f"  {finding}")
        else:
            say(f"{study}: sound; {tally(findings)}")
            for finding in findings:
                say(f"  {finding}")
    return worst


# ---------------------------------------------------------------- run


def _run_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("study", nargs="+", help="folder of a study")
    parser.add_argument(
        "--accept", action="store_true", help="make the new headline numbers the accepted ones"
    )
    parser.add_argument(
        "--gone",
        action="store_true",
        help="with --accept: also where accepted numbers have vanished",
    )
    parser.add_argument(
        "--undo",
        action="store_true",
        help="with --accept: go back to the acceptance before the last, without a run",
    )
    parser.add_argument(
        "--notebooks",
        default="",
        metavar="01,02",
        help="only these; other pages of the last run stay and are marked older",
    )
    parser.add_argument(
        "--display", choices=("metric", "us"), help="units shown, whatever the site file says"
    )
    outputs.arguments(parser)


def _run(args: argparse.Namespace) -> int:
    from .runner.run import run_study

    if args.undo:
        return _undo(args)
    worst, wanted_too = DONE, outputs.asked(args)
    for study in args.study:
        try:
            wanted = [word.strip() for word in args.notebooks.split(",") if word.strip()]
            outcome = run_study(
                study, wanted, args.accept, args.display, say, gone=args.gone, outputs=wanted_too
            )
        except HydrokitError as error:
            if len(args.study) == 1 or args.debug:
                raise
            worst = max(worst, told_in_one_line(error))
        else:
            tell_outcome(study, outcome)
            worst = max(worst, BAD_INPUT if outcome.vanished else DONE)
    return worst


def _undo(args: argparse.Namespace) -> int:
    from .runner.run import undo_acceptance

    if not args.accept:
        raise InputError(
            Mistake("--undo", "", "goes with --accept: hydrokit run --accept --undo studies/mine")
        )
    for study in args.study:
        when, more = undo_acceptance(study)
        say(
            f"{study}: the accepted results are again those of {when or 'the time before'}; "
            + (
                f"{counted(more, 'acceptance')} before them kept"
                if more
                else "none before them is kept"
            )
        )
    return DONE


# ---------------------------------------------------------------- verify


def _verify_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "study", nargs="?", help="folder of a study whose reports the page is to lie in"
    )
    parser.add_argument(
        "--out",
        metavar="FILE",
        help=(
            "the page to write; left out, verification.html in the reports of the study, or here "
            "without one"
        ),
    )
    outputs.pdf_arguments(parser)


def _verify(args: argparse.Namespace) -> int:
    from .runner.single import printed, verification_page, writable, written
    from .site.folders import find_study, reports_of

    wanted = outputs.asked(args)
    browser = outputs.browser_for(wanted.pdf)
    out = writable(
        args.out,
        (reports_of(find_study(args.study)) if args.study else Path()) / "verification.html",
        beside=(".pdf",) if wanted.pdf else (),
    )
    say("running every published check; about half a minute")
    told, text = verification_page()
    made = written(out, text)
    if wanted.pdf:
        printed(made, text, browser, wanted.paper_for("metric"))
    say(told)
    say(f"open {short_path(made)}" + (" (and its PDF beside it)" if wanted.pdf else ""))
    return DONE


# ---------------------------------------------------------------- lab


def _lab_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "study",
        nargs="?",
        help="folder of the study that the notebooks are set to, or of a workshop",
    )
    parser.add_argument(
        "--port", type=int, default=8888, help="where it listens; the next free one when taken"
    )
    parser.add_argument(
        "--no-browser", action="store_true", help="print the address and open nothing"
    )


def _lab(args: argparse.Namespace) -> int:
    from .site.folders import find_study

    refuse_shut_home()
    lesson = workshop_in(args.study)
    if lesson:
        open_lab(
            Path(args.study).expanduser().resolve(), args.port, not args.no_browser, first=lesson
        )
        return DONE
    home = lab_home()
    study = ""
    if args.study:
        found = find_study(args.study)
        study = found.relative_to(home).as_posix() if home in found.parents else found.as_posix()
        say(f"the notebooks are set to {study}")
    open_lab(home, args.port, browser=not args.no_browser, study=study)
    return DONE


# ---------------------------------------------------------------- the way in

VERBS = (
    Verb("new", "start a study from a template", beginning.arguments, do=beginning.do),
    Verb("check", "read a study and list every mistake", _check_arguments, do=_check),
    Verb(
        "tidy",
        "tell how a file was understood and write a clean copy",
        tidying.arguments,
        do=tidying.do,
    ),
    Verb(
        "explain",
        "tell what a key of the site file means and takes",
        explaining.arguments,
        do=explaining.do,
    ),
    Verb("run", "run the notebooks of a study and make its reports", _run_arguments, do=_run),
    Verb(
        "compare",
        "lay studies side by side: which creek first, and why",
        comparing.arguments,
        do=comparing.do,
    ),
    Verb("parts", "list what to buy and build for a study", listing.arguments, do=listing.do),
    Verb("sift", "a first look at many creeks from one table", sifting.arguments, do=sifting.do),
    Verb(
        "verify",
        "run every published check here and write the page of them",
        _verify_arguments,
        do=_verify,
    ),
    Verb(
        "reading", "what the gauge says today, and what to do", reading.arguments, do=reading.tell
    ),
    Verb("lab", "open the notebooks in JupyterLab on this machine", _lab_arguments, do=_lab),
    Verb(
        "workshop",
        "lay out lessons, timetable and demo studies for a workshop",
        teaching.arguments,
        do=teaching.do,
    ),
)
OLD_VERBS = {"screen": "sift", "trust": "verify"}  # until 0.3


def main(argv: Sequence[str] | None = None) -> int:
    """Do what the command line says and return the exit code."""
    import_nothing_from_here()
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal that lacks a letter shows "?"
    given = list(sys.argv[1:] if argv is None else argv)
    if given and given[0] in OLD_VERBS:
        complain(
            f"The verb '{given[0]}' is now called '{OLD_VERBS[given[0]]}': hydrokit "
            f"{OLD_VERBS[given[0]]} --help says what it takes."
        )
        return BAD_INPUT
    if not given:
        _parser().print_help()
        return BAD_INPUT
    args = _parser().parse_args(given)
    try:
        os.getcwd()
    except OSError:
        complain("The working folder is gone; change to one that is there, and try again.")
        return BAD_INPUT
    with warnings.catch_warnings():
        # Those of ours come as findings; those of a library are for its programmer.
        warnings.simplefilter("ignore", RangeWarning if args.debug else Warning)
        try:
            end_as_by_hand(args.verb)
            return args.do(args)
        except BaseException as error:
            if args.debug or isinstance(error, SystemExit):
                raise
            return told_in_one_line(error)


class _Parser(argparse.ArgumentParser):
    """One whose complaints are printable: a word of the command line may be the name of a file of a
    stranger's, which the shell put there."""

    def error(self, message: str) -> NoReturn:
        super().error(printable(message))


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="hydrokit", description="Dependable power from a small creek.")
    parser.add_argument("--version", action="version", version=f"hydrokit {hydrokit.__version__}")
    verbs = parser.add_subparsers(metavar="verb", required=True)
    for verb in VERBS:
        own = verbs.add_parser(
            verb.name, help=verb.summary, description=verb.summary.capitalize() + "."
        )
        verb.arguments(own)
        own.add_argument(
            "--debug", action="store_true", help="show where in the program an error arose"
        )
        own.set_defaults(do=verb.do, verb=verb.name)
    return parser


if __name__ == "__main__":
    sys.exit(main())
