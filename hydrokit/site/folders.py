"""Where things lie, and how a finished set of reports takes the place of the last one.

A set is built in a folder of its own beside ``reports`` and exchanged with it
in one step, so that a reader, or the next command, meets a whole set or none.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ..errors import InputError, Mistake, RunError, did_you_mean, one_line
from ..files import shown_path
from . import whole
from .keeping import MANIFEST, sweep
from .whole import BUILDING, patiently

__all__ = [
    "building",
    "checkout",
    "chosen_of",
    "demo_folder",
    "find_study",
    "in_one_sentence",
    "locked",
    "notebook_folder",
    "notebooks_in",
    "recover",
    "reports_of",
    "swap_in",
]

REPORTS = "reports"
LOCK = ".hydrokit-lock"
OLD = ".reports-old-"
_STUDIES = "studies"
AT_FDCWD, RENAME_EXCHANGE = -100, 2


# ---------------------------------------------------------------- where things lie


def checkout() -> Path | None:
    """The checkout this package is imported from, or None when it is installed."""
    root = Path(__file__).resolve().parents[2]
    in_checkout = (root / "notebooks").is_dir() and (root / "pyproject.toml").is_file()
    return root if in_checkout else None


def notebook_folder() -> Path:
    """The folder of the notebooks: beside the package in a checkout, else within it."""
    root = checkout()
    return root / "notebooks" if root else Path(__file__).resolve().parents[1] / "_notebooks"


def demo_folder() -> Path:
    """The folder of the demo studies: beside the package in a checkout, else within it."""
    root = checkout()
    return root / "studies" if root else Path(__file__).resolve().parents[1] / "_studies"


def notebooks_in(folder: Path, wanted: list[str] | None = None) -> list[Path]:
    """The numbered notebooks of a folder, all or those wanted, in their order.

    Parameters
    ----------
    folder : Path
        Holds notebooks named such as ``02_flow_duration.ipynb``.
    wanted : list of str, optional
        Numbers (``"02"`` or ``"2"``), names with or without ending.
    """
    every = sorted(each for each in folder.glob("*.ipynb") if re.match(r"\d\d_", each.name))
    if not every:
        raise RunError(f"There are no notebooks in {folder}; install hydrokit anew.")
    return chosen_of(every, wanted)


def chosen_of(every: list[Path], wanted: list[str] | None = None) -> list[Path]:
    """Those of some notebooks that are wanted, by number or name, in their order; all where nothing is."""
    if not wanted:
        return every
    chosen: set[Path] = set()
    for word in wanted:
        stem = Path(word).name.removesuffix(".ipynb")
        found = [e for e in every if e.stem == stem or e.stem[:2] == stem.zfill(2)]
        if not found:
            known = ", ".join(each.stem for each in every)
            raise InputError(
                Mistake("notebooks", "", f"there is no notebook '{word}'; there are: {known}")
            )
        chosen.update(found)
    return [each for each in every if each in chosen]


def find_study(path: str | os.PathLike) -> Path:
    """The folder of a study: as it is written from the working folder; from a notebook's, that above it.

    Within a checkout a study of the checkout is found from every folder. From anywhere else a path
    never leads to a study that lies elsewhere.

    Raises
    ------
    InputError
        No such folder, or no site.toml in it.
    """
    given = Path(path).expanduser()
    if given.name == "site.toml":
        given = given.parent
    for folder in [given, *(each / given for each in _above())]:
        if (folder / "site.toml").is_file():
            return _in_utf8(folder.resolve())
    if given.is_dir():
        what = "there is no site.toml in this folder"
    else:
        places = (given.parent, *(each / given.parent for each in _above()))
        known = [each.parent.name for place in places for each in place.glob("*/site.toml")]
        what = f"there is no such study{_below(given.name) or did_you_mean(given.name, known)}"
    start = f"start one with: hydrokit new {given.as_posix()}"
    if _below(given.name):
        start = f"it lies in the folder {_STUDIES}"
    elif (demo_folder() / given.name / "site.toml").is_file():
        start = f"fetch that demo with: hydrokit new {given.as_posix()} --demo {given.name}"
    raise InputError(Mistake(shown_path(given), "", f"{what}; {start}"))


def _below(name: str) -> str:
    """The study of that name in the folder of studies, where only the folder was left out."""
    for place in (Path(), *_above()):
        if name and (place / _STUDIES / name / "site.toml").is_file():
            return f"; did you mean '{_STUDIES}/{name}'?"
    return ""


def _above() -> list[Path]:
    """Folders that a study's path may also be meant from: a notebook's study lies beside the folder
    of notebooks."""
    here, root = Path.cwd(), checkout()
    notebooks = next((each for each in (here, *here.parents) if each.name == "notebooks"), None)
    within = root is not None and (here == root or root in here.parents)
    found = [] if notebooks is None else [notebooks.parent]
    return [*found, *([root] if within and root is not None else [])]


def _in_utf8(folder: Path) -> Path:
    """The folder, if its name can be written into a page."""
    try:
        str(folder).encode("utf-8")
    except UnicodeEncodeError:
        text = (
            "the name of this folder, or of one it lies in, is not UTF-8 text here; rename it in "
            "plain letters, or set LANG=C.UTF-8"
        )
        raise InputError(Mistake(folder.as_posix(), "", text)) from None
    return folder


# ---------------------------------------------------------------- one run at a time


@contextmanager
def locked(study: Path) -> Iterator[None]:
    """Hold the study for one run; the system lets go of it when the process ends.

    The lock is the operating system's, never the presence of a file, so a run
    that was killed leaves nothing that bars the next. It is the call that
    packages of lock files make, on a handle of our own: theirs may follow a link
    that a stranger's study has in the lock's place, or empty what it leads to.
    """
    try:
        # A link of this name leads out of the study: it is not followed.
        handle = os.open(study / LOCK, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o666)
    except OSError as error:
        raise RunError(in_one_sentence(error, study)) from error
    try:
        try:
            _take(handle)
        except OSError as error:
            if error.errno not in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
                raise RunError(in_one_sentence(error, study)) from error
            raise RunError(
                f"Another run of {one_line(study.name)} is going on; wait until it has ended, or stop it."
            ) from error
        yield
    finally:
        os.close(handle)
        if (
            whole.HELD
        ):  # nobody hides it there; and it cannot be taken away while another run holds it
            with suppress(OSError):
                os.unlink(study / LOCK)


def _take(handle: int) -> None:
    """Take the lock now or raise OSError."""
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


# ---------------------------------------------------------------- built apart, swapped in whole


@contextmanager
def building(study: Path) -> Iterator[Path]:
    """A fresh folder beside ``reports`` to build a set in; gone again afterwards."""
    folder = study / f"{BUILDING}{os.getpid()}"
    folder.mkdir()
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def swap_in(built: Path, study: Path) -> Path:
    """Put a built set in the place of ``reports``, in one step where the system can.

    Where it cannot, two renames do it, and `recover` mends a stop between them.
    """
    reports = reports_of(study)
    if not reports.exists():
        patiently(lambda: built.rename(reports))
    elif _exchange(built, reports):
        sweep(built, reports)
    else:
        old = study / f"{OLD}{os.getpid()}"
        try:
            patiently(lambda: reports.rename(old))
            try:
                patiently(lambda: built.rename(reports))
            except OSError:
                old.rename(reports)
                raise
        except PermissionError as error:
            if not whole.HELD:
                raise
            kept = _set_aside(built, study)
            raise RunError(
                f"Another program holds a file in {reports.name} open, so the reports could "
                f"not be replaced. Close it; the new set is in {kept.name}."
            ) from error
        sweep(old, reports)
        shutil.rmtree(old, ignore_errors=True)
    return reports


def _set_aside(built: Path, study: Path) -> Path:
    """Keep a set that could not take the place of the last one."""
    kept = next(
        each for number in range(1, 1000) if not (each := study / f"reports-new-{number}").exists()
    )
    built.rename(kept)
    return kept


def reports_of(study: Path) -> Path:
    """The folder of a study's reports, which must be one of its own.

    Raises
    ------
    InputError
        It is a link, which leads who knows where, or a file.
    """
    reports = study / REPORTS
    if reports.is_symlink() or (reports.exists() and not reports.is_dir()):
        raise InputError(
            Mistake(
                shown_path(study) + "/" + REPORTS,
                "",
                "must be a folder of its own, neither a link nor a file; move it away",
            )
        )
    return reports


def recover(study: Path) -> None:
    """Mend what an earlier run left when it was killed: call it with the lock held.

    A set that was already replaced may hold files of the owner's that were not yet moved: they are.
    """
    reports = reports_of(study)
    left = sorted(study.glob(OLD + "*"), key=lambda each: each.lstat().st_mtime)
    folders = [each for each in left if each.is_dir() and not each.is_symlink()]
    if folders and not reports.exists():
        left.remove(folders[-1])
        folders[-1].rename(reports)
    for each in [*left, *study.glob(BUILDING + "*")]:
        if each.is_symlink() or not each.is_dir():
            each.unlink()
            continue
        if (each / MANIFEST).is_file():
            sweep(each, reports)
        shutil.rmtree(each, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two names in one step; False where the system has no such step."""
    if not sys.platform.startswith("linux"):
        return False
    import ctypes

    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    done = rename(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), RENAME_EXCHANGE)
    return done == 0


def in_one_sentence(error: OSError, folder: Path) -> str:
    """What the system refused, said plainly."""
    place = error.filename or folder
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"The disk is full; nothing could be written in {folder}. Make room and run again."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return (
            f"{place} may not be written: make the folder writable, close what holds it open, or "
            "copy the study elsewhere."
        )
    return f"{place}: {error.strerror or error}."
