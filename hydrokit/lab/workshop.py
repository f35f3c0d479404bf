"""The folder of a workshop, made whole or not at all, and laid anew for the next group."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from functools import partial
from pathlib import Path

from ..errors import InputError, Mistake, RunError, one_line
from ..files import shown_path
from ..report import pdf
from ..report.display import Table
from ..report.pdf import Paper
from ..runner.single import page_of
from ..site import folders, whole
from ..site.new_study import demos, write_demo
from .home import first_lesson
from .lesson_pages import guide, handout, run_lessons
from .offline_kit import kit_text
from .slides import slides
from .timetable import DAYS, timed, title_of

__all__ = ["lay", "lessons", "printed", "reset"]

LESSONS, OWN, STUDIES, KIT = "lessons", "mine", "studies", "offline"
HANDOUTS, SLIDES, GUIDE = "handouts", "slides", "teachers_guide.html"
INDEX, TIMETABLE = "index.html", "timetable.html"
_SUBJECT = "hydrokit: the workshop"


def lessons() -> dict[str, Path]:
    """The lessons that come with hydrokit, in their order: stem to file."""
    every = folders.notebooks_in(folders.notebook_folder() / LESSONS)
    return {each.stem: each for each in every}


def lay(folder: Path, paper: Paper = "A4") -> str:
    """Make the folder of a workshop, whole or not at all.

    Parameters
    ----------
    folder : Path
        Not there yet, or empty.
    paper : {"A4", "Letter"}
        Of what is printed, where a browser is on this machine.

    Returns
    -------
    str
        Whether the pages for paper are there as PDF too.

    Raises
    ------
    InputError
        It holds something.
    RunError
        It cannot be written.
    """
    _refuse_taken(folder)
    with _told(folder), whole.laid(folder) as built:
        _copy_lessons(built / LESSONS)
        for name in demos():
            write_demo(built / STUDIES / name, name)
        _write(built / KIT / "packages.txt", kit_text())
        for name, text in _pages().items():
            _write(built / name, text)
        told = printed(built, paper)
        _write(built / INDEX, page_of("What is in this folder?", _SUBJECT, _index(told)))
    return told


def reset(folder: Path, today: date) -> list[str]:
    """Lay the lessons of a workshop anew; what the last group worked on is kept under a dated name.

    Parameters
    ----------
    folder : Path
        Made by :func:`lay`.
    today : date

    Returns
    -------
    list of str
        What was done, in lines.

    Raises
    ------
    InputError
        No folder of a workshop.
    RunError
        It cannot be written; then all is as it was.
    """
    if not first_lesson(folder):
        what = (
            f"has no folder {LESSONS} with lessons, so that there is nothing to lay anew; make a "
            f"workshop with: hydrokit workshop {one_line(folder.as_posix())}"
        )
        raise InputError(Mistake(shown_path(folder), "", what))
    worked_on = [name for name in (LESSONS, OWN) if os.path.lexists(folder / name)]
    moved: list[tuple[Path, Path]] = []
    with _told(folder), whole.built_beside(folder / LESSONS) as built:
        _copy_lessons(built)
        try:
            for name in worked_on:
                kept = _dated(folder, name, today)
                whole.patiently(partial((folder / name).rename, kept))
                moved.append((folder / name, kept))
            whole.patiently(lambda: built.rename(folder / LESSONS))
        except OSError:
            for was, kept in reversed(moved):
                kept.rename(was)
            raise
    said = [f"{was.name} of the last group is kept as '{kept.name}'" for was, kept in moved]
    return [*said, f"{LESSONS} are as new"]


# --- what lies in it ---------------------------------------------------------------------------


def _copy_lessons(target: Path) -> None:
    target.mkdir(parents=True, exist_ok=True)
    for stem, path in lessons().items():
        shutil.copyfile(path, target / f"{stem}.ipynb")


def _pages() -> dict[str, str]:
    """The pages of a workshop, by their place in its folder, as HTML."""
    ran = run_lessons(lessons())
    days = list(_timetable())
    return {
        TIMETABLE: page_of("When is what? Two days", _SUBJECT, days),
        GUIDE: guide(ran, days),
        **{f"{HANDOUTS}/{stem}.html": handout(each) for stem, each in ran.items()},
        **{f"{SLIDES}/{stem}.html": slides(each) for stem, each in ran.items()},
    }


def _timetable() -> Iterator[str | Table]:
    known = lessons()
    yield (
        "A day begins when people can be there; the lengths are those that the teacher's pages of "
        "the lessons add up to. The first day ends in watts: flow and head of one creek, and what "
        "they give."
    )
    for number, (begin, blocks) in enumerate(DAYS, 1):
        yield Table(
            ("from", "to", "what"), list(timed(begin, blocks, known)), caption=f"Day {number}"
        )
    yield (
        "**Where an hour is lacking**, leave out exercises 4 and 5, and never what is done at the "
        "creek. **Where the weather is bad**, swap the field part of lesson 1 with the exercises "
        "of lesson 2."
    )


def printed(folder: Path, paper: Paper) -> str:
    """Print what is for paper, where a browser is on this machine; tell whether it is there."""
    on_paper = [f"{HANDOUTS}/{stem}.html" for stem in lessons()] + [GUIDE, TIMETABLE]
    try:
        pdf.print_pages(pdf.find_browser(), folder, paper, on_paper)
    except (InputError, RunError):
        for name in on_paper:
            (folder / name).with_suffix(".pdf").unlink(missing_ok=True)
        return (
            "Handouts, guide and timetable are pages to print from any browser; where Chromium, "
            "Chrome or Edge is on the machine that makes the folder, they are there as PDF too."
        )
    return f"Handouts, guide and timetable are there as PDF too, for {paper} paper."


def _index(told: str) -> list[str | Table]:
    rows = [(title_of(path), f"{LESSONS}/{stem}.ipynb") for stem, path in lessons().items()]
    return [
        (
            "Nothing here needs internet. `hydrokit lab FOLDER` opens the lessons in the browser, "
            "with the name of this folder in place of FOLDER."
        ),
        Table(("lesson", "file"), rows),
        Table(
            ("for", "file"),
            [
                ("the two days", "timetable.html"),
                ("the teacher: each lesson's page, and every answer", GUIDE),
                ("learners to keep: to print, without answers", f"{HANDOUTS}/"),
                ("the wall: slides, a page each; space turns them", f"{SLIDES}/"),
                (
                    "demo studies, whose places, people and prices are invented: hydrokit run studies/NAME",
                    f"{STUDIES}/",
                ),
                ("machines without internet: packages to carry along", f"{KIT}/packages.txt"),
                ("each learner's own study, which the lessons write piece by piece", f"{OWN}/"),
            ],
        ),
        told,
        (
            "**For the next group** `hydrokit workshop FOLDER --reset` lays the lessons anew and "
            "keeps what was worked on under the day's date."
        ),
    ]


# --- whole or not at all -----------------------------------------------------------------------


def _refuse_taken(folder: Path) -> None:
    if not whole.is_free(folder):
        more = (
            f", or lay its lessons anew with: hydrokit workshop {one_line(folder.as_posix())} --reset"
            if folder.is_dir() and first_lesson(folder)
            else ""
        )
        raise InputError(
            Mistake(shown_path(folder), "", f"is there already; choose a new name{more}")
        )


@contextmanager
def _told(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise RunError(folders.in_one_sentence(error, folder)) from error


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="\n")


def _dated(folder: Path, name: str, today: date) -> Path:
    """A name that is free: ``lessons until 2026-11-29``, ``lessons until 2026-11-29 (2)``."""
    for number in range(1, 1000):
        kept = folder / f"{name} until {today.isoformat()}{'' if number == 1 else f' ({number})'}"
        if not os.path.lexists(kept):
            return kept
    raise OSError(f"{name} was laid anew too often on one day; move the old ones away")
