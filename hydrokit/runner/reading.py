"""The verb `reading`: what the gauge says today, and what to do."""

from __future__ import annotations

import argparse
import re
import sys
from datetime import datetime
from typing import TYPE_CHECKING, Any

from ..errors import HydrokitError, InputError, Mistake, UnitsError, sure
from .terminal import BAD_INPUT, DONE, complain, say

if TYPE_CHECKING:
    from ..study.study import Study

__all__ = ["arguments", "logged", "tell"]

_QUESTIONS = (
    ("jets", "jets open (0: all shut)"),
    ("gauge", "gauge, with its unit, such as 52 psi (nothing: not read)"),
    ("watts", "watts (nothing: not read)"),
    ("spilling", "does the forebay spill? yes or no (nothing: not seen)"),
    (
        "needle",
        (
            "the needle: steady or fluctuates; with the jets and the top valve shut: stands or "
            "falls (nothing: not watched)"
        ),
    ),
)
_NEEDLE = {"steady": False, "fluctuates": True, "hunts": True}
_SHUT_IN = {"stands": False, "falls": True}  # with the jets and the valve at the top shut
_YES = {"yes": True, "no": False}
_PLAIN = re.compile(r"\d+(\.\d*)?|\d{1,3}(,\d{3})+")  # watts without their unit


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument("study", help="folder of a study")
    parser.add_argument("--jets", metavar="N", help="jets open; 0 is all shut. Left out, it asks")
    parser.add_argument("--gauge", metavar="PRESSURE", help='as the gauge shows it: "52 psi"')
    parser.add_argument("--watts", metavar="POWER", help="2300, or with a unit: 2.3 kW")
    parser.add_argument("--spilling", metavar="yes|no", help="whether the forebay spills")
    parser.add_argument(
        "--needle",
        metavar="steady|fluctuates",
        help=(
            "how the needle stands for a minute; with the jets and the valve at the top of the "
            "pipe shut: stands or falls"
        ),
    )
    parser.add_argument("--log", action="store_true", help="write it into the study's log as well")
    parser.add_argument("--display", choices=("metric", "us"), help="units of the answer")


def tell(args: argparse.Namespace) -> int:
    """Say what the reading says."""
    from ..report.pages.p09.diagnosing import seen, verdict
    from ..study.opening import open_study

    if args.jets is None and sys.stdin.isatty():
        for name, question in _QUESTIONS:
            if getattr(args, name) is None:
                setattr(args, name, input(f"{question}: ").strip() or None)
    study = open_study(args.study)
    if study.signatures is None:
        complain(
            f"{args.study}: a reading cannot be judged yet; write down the plant (head, "
            "penstock, jets) and readings with the forebay spilling, as page 09 asks"
        )
        return BAD_INPUT
    look = _look(args, study)
    view = study.view(args.display or "")
    found = sure(study.diagnose([look]))
    say(f"{seen(study, [look], view)}:")
    for sentence in verdict(study, view, found).replace("**", "").replace("*", "").split(". "):
        say(f"  {sentence.strip().rstrip('.')}." if sentence.strip() else "")
    if args.log:
        say(f"written into {logged(study, args)}")
    return DONE


def _look(args: argparse.Namespace, study: Study) -> Any:
    """The reading as an observation, the gauge's zero error taken off; every slip told at once."""
    from ..running.observation import observation
    from ..sentences import refusal

    mistakes, jets = [], sure(study.signatures).plant.jets
    if args.jets is None or not args.jets.isdigit() or int(args.jets) > jets:
        told = "nothing" if args.jets is None else f"'{args.jets}'"
        mistakes.append(
            Mistake(
                "--jets",
                "",
                f"{told} is not a number of open jets from 0 to {jets}; write for example --jets {jets}",
            )
        )
    for name, known in (("spilling", _YES), ("needle", _NEEDLE | _SHUT_IN)):
        text = getattr(args, name)
        if text is not None and text.lower() not in known:
            mistakes.append(
                Mistake(f"--{name}", "", f"'{text}' is neither {' nor '.join(list(known)[:2])}")
            )
    watts = _with_unit(args.watts)
    for name, given in (
        ("--gauge", {"pressure": args.gauge}),
        ("--watts", {"power": watts}),
    ):
        try:
            observation(1, **given)
        except (UnitsError, HydrokitError) as error:
            example = "52 psi" if name == "--gauge" else "2300"
            mistakes.append(
                Mistake(name, "", f'{refusal(error)}; write for example {name} "{example}"')
            )
    if not mistakes:
        made = observation(
            int(args.jets),
            args.gauge,
            watts if int(args.jets) else None,
            spilling=_YES.get((args.spilling or "").lower()),
            fluctuates=_NEEDLE.get((args.needle or "").lower()),
            falls=_SHUT_IN.get((args.needle or "").lower()),
        )
    if (args.needle or "").lower() in _SHUT_IN and args.jets != "0":
        mistakes.append(
            Mistake(
                "--needle",
                "",
                f"'{args.needle}' describes the needle with everything shut; write --jets 0",
            )
        )
    shown = (args.gauge, watts, args.spilling, args.needle)
    if not mistakes and all(each is None for each in shown):
        mistakes.append(
            Mistake("reading", "", 'no reading is given; write for example --gauge "52 psi"')
        )
    if mistakes:
        raise InputError(mistakes)
    from dataclasses import replace

    return replace(made, pressure_pa=made.pressure_pa - study.site.penstock.gauge_zero)


def _with_unit(watts: str | None) -> str | None:
    """Watts as a power: 2300 and 2,300 are watts, 2.3 kW is as it stands."""
    plain = watts is not None and _PLAIN.fullmatch(watts.strip())
    return f"{watts.replace(',', '')} W" if watts and plain else watts


def logged(study: Study, args: argparse.Namespace) -> str:
    """Add the reading to the log of the study as its last line; the file is the old one or the new
    one, never half.

    Raises
    ------
    InputError
        The study names no log, or its title line lacks a column.
    """
    from .log_line import with_line

    name = study.site.readings.log
    if name is None:
        raise InputError(
            Mistake(
                f"{args.study}/site.toml",
                "[readings] log",
                (
                    'no log is named; write log = "log.csv" under [readings], with the title '
                    "line: time,jets [-],pressure [psi],watts [W],spilling,needle,note"
                ),
            )
        )
    path = study.folder.file(name, "[readings] log")
    given = {
        "jets": args.jets,
        "pressure": args.gauge,
        "watts": _with_unit(args.watts),
        "spilling": (args.spilling or "").lower(),
        "needle": {"hunts": "fluctuates"}.get(args.needle or "", args.needle or ""),
    }
    with_line(path, {name: value or "" for name, value in given.items()}, datetime.now())
    return path.name
