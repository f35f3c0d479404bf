"""The verb ``compare``: studies, or variants of one, side by side and in order."""

from __future__ import annotations

import argparse
from dataclasses import replace

from ..errors import InputError, Mistake
from . import outputs
from .terminal import DONE, say, short_path

__all__ = ["arguments", "do"]


def arguments(parser: argparse.ArgumentParser) -> None:
    """What the verb takes."""
    parser.add_argument("study", nargs="+", help="folder of a study, or of a variant of one")
    parser.add_argument(
        "--rank",
        choices=("kwh", "benefit", "winter"),
        default="",
        help=(
            "put first what has the most net energy in a median year, the highest net annual "
            "benefit, or the most energy in winter; left out, the cheapest kWh of the plants to "
            "be built"
        ),
    )
    parser.add_argument(
        "--out",
        metavar="FILE",
        help=(
            "the page; a CSV of the same name is written beside it; left out, comparison.html in "
            "the reports of the first study"
        ),
    )
    parser.add_argument(
        "--display",
        choices=("metric", "us"),
        help="units shown; those of the first study when not given",
    )
    outputs.pdf_arguments(parser)


def do(args: argparse.Namespace) -> int:
    """Work the studies out, put them in order, write the page and the table, and tell the order."""
    from ..report.comparison import candidate, named_apart, ordered, table_text
    from ..report.pages import comparison as page
    from ..site.folders import find_study, reports_of
    from ..study.opening import open_study
    from .single import page_of, printed, writable, written

    wanted = outputs.asked(args)
    browser = outputs.browser_for(wanted.pdf)
    candidates, views = [], []
    mistakes: list[Mistake] = []
    for study in args.study:
        try:
            find_study(study)
        except InputError as error:
            mistakes += error.mistakes
    if not mistakes:
        out = writable(
            args.out,
            reports_of(find_study(args.study[0])) / "comparison.html",
            ending=".html",
            beside=(".csv", ".pdf") if wanted.pdf else (".csv",),
        )
    for study in args.study:
        try:
            opened = open_study(study)
            opened.read()
            candidates.append(candidate(opened))
            views.append(opened.view(args.display))
        except InputError as error:
            mistakes += [each for each in error.mistakes if each not in mistakes]
    if mistakes:
        raise InputError(mistakes)
    folders = [find_study(study).name for study in args.study]
    order = ordered(named_apart(candidates, folders), args.rank)
    view = replace(views[0], large_flows=all(each.large_flows for each in views))
    text = page_of(
        page.HEADING,
        f"{len(order.every)} studies side by side",
        page.sections(order, view),
        page.headline(order, view),
    )
    made = written(out, text)
    beside = [written(made.with_suffix(".csv"), table_text(order, page.reasons(order), view)).name]
    if wanted.pdf:
        beside.append(printed(made, text, browser, wanted.paper_for(view.system)).name)
    for place, (each, reason) in enumerate(zip(order.every, page.reasons(order)), 1):
        say(f"{f'{place}.' if place <= len(order.ranked) else '-'} {each.name}: {reason}")
    say(f"open {short_path(made)} ({', '.join(beside)} beside it)")
    return DONE
