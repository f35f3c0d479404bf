"""Run the notebooks of a study and leave its reports: the whole set, or the one before.

The heavy parts overlap: the kernel starts while this process imports, and the
pages are written here while the notebooks run there.
"""

from __future__ import annotations

import os
import platform
import threading
import time
import tomllib
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import KW_ONLY, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import hydrokit

from ..errors import Finding, InputError, Mistake, RunError, one_line
from ..files import read_toml
from ..sentences import Reader
from ..site import folders, keeping
from ..site import whole as build_whole
from ..site.moved_keys import keys_of
from .history import accepted_with, gone_back
from .lending import available
from .moves import Told, what_moved
from .outputs import Outputs, browser_for, make
from .results import Move, moved, to_toml

__all__ = ["RunOutcome", "run_study", "undo_acceptance"]

NONE = Outputs()
RESULTS = "results.toml"
CARD = "card.html"
_FEW = 3  # names in a line


@dataclass(frozen=True, eq=False)
class RunOutcome:
    """What a run left behind.

    Parameters
    ----------
    study, reports : Path
        The study and its new reports.
    notebooks : tuple of str
        The notebooks that ran.
    findings : tuple of Finding
        What the checks said.
    moves : tuple of Move
        The headline numbers that differ from the accepted ones.
    compared : bool
        Whether there were accepted numbers to compare with.
    accepted : bool
        Whether these numbers are now the accepted ones.
    vanished : tuple of str
        Accepted numbers that this run does not have, for which the new ones were not accepted.
    beside : tuple of str
        What was made of the pages, in words: prints, one file, tables.
    told : Told
        Inputs that changed and numbers that moved against the accepted ones, in words.
    """

    study: Path
    reports: Path
    notebooks: tuple[str, ...]
    _: KW_ONLY
    findings: tuple[Finding, ...]
    moves: tuple[Move, ...]
    compared: bool
    accepted: bool
    vanished: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    told: Told = Told()

    @property
    def index(self) -> Path:
        """The page to open."""
        return self.reports / "index.html"


def run_study(
    path: str | os.PathLike,
    notebooks: Sequence[str] | None = None,
    accept: bool = False,
    display: str | None = None,
    progress: Callable[[str], object] | None = None,
    *,
    gone: bool = False,
    outputs: Outputs = NONE,
    folder: Path | None = None,
    open_study: Callable[[Path], object] | None = None,
) -> RunOutcome:
    """Run notebooks on a study and put their reports in its ``reports`` folder.

    Parameters
    ----------
    path : str or path
        The study; tried from the working folder, then from the checkout.
    notebooks : sequence of str, optional
        Numbers or names; all when not given. Other pages of the last set stay and are marked older.
    accept : bool
        Make the new headline numbers the accepted ones; not where accepted numbers have vanished.
    display : {"metric", "us"}, optional
        Units shown; what the site file says when not given.
    progress : callable, optional
        Is given one line a notebook.
    gone : bool
        Accept even then.
    outputs : Outputs
        What else to make of the pages: PDF, one file, tables.
    folder, open_study : optional
        Where the notebooks are and what opens a study, when not hydrokit's own.

    Raises
    ------
    InputError
        The study has mistakes, all told at once; or no browser is found to print with.
    RunError
        The run could not be finished. The last good reports are as they were.
    """
    browser = browser_for(outputs.pdf)
    study = folders.find_study(path)
    say = progress or (lambda line: None)
    every = folders.notebooks_in(folder) if folder else available(study, say)
    chosen = folders.chosen_of(every, list(notebooks or []))
    whole = len(chosen) == len(every)
    try:
        with folders.locked(study):
            folders.recover(study)
            old = _accepted(study)
            with folders.building(study) as built:
                older = (
                    {}
                    if whole
                    else keeping.older_pages(
                        folders.reports_of(study), {each.stem for each in chosen}
                    )
                )
                made = _build(
                    study, chosen, built, display or "", say, open_study, older, whole, old
                )
                beside = make(outputs, browser, built, _texts(study, older), made.system)
                _tell_carried(
                    keeping.carry_over(study / folders.REPORTS, built, made.about, older), say
                )
                reports = folders.swap_in(built, study)
            new = tomllib.loads(made.results)
            moves = () if old is None else moved(old, new)
            vanished = (
                () if gone or not accept else tuple(each.name for each in moves if each.new is None)
            )
            if accept and not vanished:
                build_whole.write_whole(study / RESULTS, to_toml(accepted_with(old, new)))
    except OSError as error:
        raise RunError(folders.in_one_sentence(error, study)) from error
    return RunOutcome(
        study=study,
        reports=reports,
        notebooks=tuple(each.stem for each in chosen),
        findings=made.findings,
        moves=moves,
        compared=old is not None,
        accepted=accept and not vanished,
        vanished=vanished,
        beside=beside,
        told=made.told,
    )


def undo_acceptance(path: str | os.PathLike) -> tuple[str, int]:
    """Go back to the acceptance before the last: when that was, and how many more there are before it.

    Parameters
    ----------
    path : str or path
        The study.

    Raises
    ------
    InputError
        No such study, no accepted results, or none before them.
    """
    study = folders.find_study(path)
    try:
        with folders.locked(study):
            accepted = _accepted(study)
            back = None if accepted is None else gone_back(accepted)
            if back is None:
                raise InputError(
                    Mistake(
                        one_line(Path(path).as_posix()),
                        RESULTS,
                        "nothing is known of an acceptance before the last"
                        if accepted is not None
                        else "there are no accepted results yet; hydrokit run --accept makes them",
                    )
                )
            build_whole.write_whole(study / RESULTS, to_toml(back))
    except OSError as error:
        raise RunError(folders.in_one_sentence(error, study)) from error
    return back["run"]["time"], len(back.get("history", {}))


def _texts(study: Path, older: dict[str, dict[str, str]]) -> dict[str, str]:
    """Pages of an earlier run as they will stand in the new set."""
    reports = folders.reports_of(study)
    return {
        name: keeping.marked_older(
            (reports / f"{name}.html").read_text(encoding="utf-8"), about.get("time", "")
        )
        for name, about in older.items()
    }


def _tell_carried(carried: keeping.Carried, say: Callable[[str], Any]) -> None:
    for each in carried.changed:
        say(f"{one_line(each)} in reports had been changed; your copy is kept beside the new one")
    if carried.gone:
        told = ", ".join(map(one_line, carried.gone[:_FEW])) + (
            f" and {len(carried.gone) - _FEW} more" if len(carried.gone) > _FEW else ""
        )
        say(f"taken away, as the pages are newer than these of the run before: {told}")


# ---------------------------------------------------------------- building a set


@dataclass(frozen=True)
class _Made:
    results: str
    findings: tuple[Finding, ...]
    about: dict[str, dict[str, str]]  # file of a page to its title
    _: KW_ONLY
    system: str  # units of the reader
    told: Told


def _build(
    study: Path,
    chosen: Sequence[Path],
    built: Path,
    display: str,
    say: Callable[[str], Any],
    open_study: Callable[[Any], Any] | None,
    older: dict[str, dict[str, Any]],
    whole: bool,
    accepted: dict | None,
) -> _Made:
    """Run the notebooks and write every file of a set into the folder ``built``."""
    from .kernel import Kernel

    home, name = _seen_from(study)
    # The kernel starts on its own while the lines below import and read. One writer: the pages come in order.
    with Kernel(home) as kernel, ThreadPoolExecutor(max_workers=1) as writer:
        ours = open_study is None
        opened = (open_study or _open)(study)
        opened.read()
        from ..report.registers import page_name
        from .notebooks import label, read_notebook, run_notebook

        # The notebooks work out nearly all there is; a few of them alone do not, so it is done beside them.
        asked = ours and whole
        if not asked:
            _import_what_threads_share()
        answers = (
            None
            if asked
            else _in_background(
                lambda: (
                    opened.results(),
                    tuple(opened.told(display)),
                    opened.inputs(),
                    None,
                    _for_the_story(opened, study, display),
                )
            )
        )
        parameters = {"study": name, "display": display}
        notebooks = [read_notebook(each, parameters) for each in chosen]
        annex = page_name(each.stem for each in chosen) if asked else ""
        names = sorted([*(each.stem for each in chosen), *older, *filter(None, [annex])])
        reporter = writer.submit(_reporter, opened, names)
        written = []
        for path, notebook in zip(chosen, notebooks):
            kernel.make_fresh()
            started = time.perf_counter()
            done = run_notebook(label(path), notebook, parameters, kernel)
            written.append(writer.submit(_write_page, reporter, path.stem, done, built))
            say(f"{label(path):<24} {time.perf_counter() - started:5.1f} s")
        results, findings, inputs, card, story = (
            _asked(kernel, study, display) if answers is None else answers.result()
        )
        registers = story.pop("registers", [])
        if registers:
            from .single import notebook_of

            page = notebook_of(registers)
            written.append(writer.submit(_write_page, reporter, annex, page, built))
        pages = [each.result() for each in written]
    made = datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
    run = {
        "hydrokit": hydrokit.__version__,
        "time": made,
        "inputs": inputs,
        "keys": keys_of(read_toml(study / "site.toml")),
    }
    text = to_toml({"run": run, **results})
    _write(built / RESULTS, text)
    # A stranger's opener may hand in what has no units of its own.
    view = opened.view(display) if hasattr(opened, "view") else Reader(display or "metric")
    told = Told() if accepted is None else what_moved(accepted, tomllib.loads(text), view)
    provenance = [
        ("Study", name),
        ("Made", made),
        ("With", f"hydrokit {hydrokit.__version__}, Python {platform.python_version()}"),
        ("To make it again", f"hydrokit run {name}"),
        *(("The record", told_record) for told_record in _record_told(opened)),
    ]
    shown = sorted([*pages, *_older_of(older)], key=lambda page: page.name)
    if card is not None:
        _write(built / CARD, card)
    for each in story["prints"]:
        if "text" in each:  # a sheet of an earlier run stays where only some pages are made anew
            _write(built / each["file"], each["text"])
    # A page for the phone of an earlier run stays where only some pages are made anew.
    phone = card is not None or not whole and (folders.reports_of(study) / CARD).is_file()
    _write(
        built / "index.html",
        reporter.result().index(
            shown,
            findings,
            provenance,
            inputs,
            CARD if phone else "",
            moved=told.lines,
            **story,
        ),
    )
    about = {page.file: {"title": page.title} for page in pages} | _about(story["prints"])
    return _Made(text, findings, about, system=view.system, told=told)


def _record_told(opened: Any) -> list[str]:
    """Where the record comes from; a stranger's opener may hand in what has none."""
    from ..study.build.provenance import record_told
    from ..study.study import Study

    line = record_told(opened) if isinstance(opened, Study) else ""
    return [line] if line else []


def _about(prints: Sequence[dict[str, Any]]) -> dict[str, dict[str, str]]:
    """What the manifest keeps of the sheets to print."""
    return {
        each["file"]: {name: each[name] for name in ("title", "use")}
        for each in prints
        if "text" in each
    }


def _open(study: Path) -> Any:
    """Ours, imported while the kernel starts."""
    from ..study.opening import open_study

    return open_study(study)


def _older_of(older: dict[str, dict[str, str]]) -> list[Any]:
    """What the page of the whole story takes from pages of an earlier run."""
    from ..report.html import Page

    return [
        Page(name, about.get("title", "") or Page(name).label, older=about.get("time", ""))
        for name, about in older.items()
    ]


def _reporter(opened: Any, names: Sequence[str]) -> Any:
    from ..report.html import Reporter  # takes a while to import: the kernel need not wait for it

    return Reporter(opened.name, opened.place, names)


def _write_page(reporter: Future, name: str, notebook: Any, built: Path) -> Any:
    """Write the page of a notebook that has run; what the page of the whole story takes from it."""
    page, text = reporter.result().page(name, notebook)
    _write(built / page.file, text)
    return page


def _seen_from(study: Path) -> tuple[Path, str]:
    """The notebooks' working folder, and the study as seen from it.

    Pages show the parameters of their run; so the study is named from a folder
    that makes sense on another machine, and no path of this one is told.
    """
    for home in (folders.checkout(), Path.cwd().resolve()):
        if home and home in study.parents:
            return home, study.relative_to(home).as_posix()
    return study.parent, study.name


def _accepted(study: Path) -> dict | None:
    """The accepted headline numbers, or None where there are none yet."""
    path = study / RESULTS
    return read_toml(path) if path.exists() else None


def _asked(
    kernel: Any, study: Path, display: str
) -> tuple[dict, tuple[Finding, ...], dict, str | None, dict[str, Any]]:
    """What the kernel has worked out for the notebooks."""
    kernel.make_fresh()
    told = kernel.ask("answers", str(study), display)
    findings = tuple(Finding(*each) for each in told["findings"])
    return told["results"], findings, told["inputs"], told["card"], told["story"]


def _for_the_story(opened: Any, study: Path, display: str) -> dict[str, Any]:
    """What to measure next, the sheets of the run before, what was understood, the figures."""
    from ..report.next_measurements import everything
    from ..report.pages.common import understood
    from ..report.story_figure import story_figures

    prints = keeping.sheets_kept(folders.reports_of(study))
    if not hasattr(opened, "measure_next"):
        return {"prints": prints}  # a stranger's opener may hand in what has no such lists
    view = opened.view(display)
    return {
        "measure": everything(opened, view),
        "prints": prints,
        "understood": understood(opened, view)._repr_html_(),
        "figures": story_figures(opened, view),
    }


def _import_what_threads_share() -> None:
    """Import in one thread what the writer of pages and the work beside it both need: of two that
    import a library at once, one may meet it half imported."""
    from ..report import html, next_measurements, story_figure  # noqa: F401
    from ..report.pages import common  # noqa: F401


def _in_background(work: Callable[[], Any]) -> Future:
    """Start work in a thread that does not keep a stopped program alive."""
    future: Future = Future()

    def do() -> None:
        try:
            future.set_result(work())
        except BaseException as error:  # handed on to whoever asks for the result
            future.set_exception(error)

    threading.Thread(target=do, daemon=True).start()
    return future


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
