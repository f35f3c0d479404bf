"""Opening and checking a study."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from ..errors import Finding, InputError
from ..sentences import Reader
from ..site.folders import find_study
from ..site.site_file import read_site_file, what_can_be_read
from . import telling
from .study import Study
from .variant import changed_site

__all__ = ["check_study", "keep_opened", "open_study"]


def open_study(path: str | Path, changes: Mapping[str, object] | None = None) -> Study:
    """Read a study's site file and make everything that follows from it available.

    Parameters
    ----------
    path : str or Path
        The study's folder, such as ``"studies/alder-burn"``.
    changes : mapping, optional
        Keys of the site file to their values there, such as
        ``{"penstock.pipe.size": "PVC-U SDR 21 160 mm"}``: the study is then a variant, and its pages
        say so; the file stays as it is.

    Returns
    -------
    Study

    Raises
    ------
    InputError
        No such study, or mistakes in its site file, all at once.
    """
    folder = find_study(path)
    if changes:
        return Study(folder, changed_site(folder, changes), changes)
    kept = None if _kept is None else _kept.get(folder)
    if kept is not None and kept.unchanged:
        return kept
    try:
        study = Study(folder, read_site_file(folder / "site.toml"))
    except InputError as error:
        raise InputError(error.mistakes, _reader(folder)) from None
    if _kept is not None:
        _kept[folder] = study
    return study


_kept: dict[Path, Study] | None = None


def keep_opened() -> None:
    """From now on a study that is opened again is the one opened before, as long as none of its
    files has changed.

    For a run, whose one kernel serves all notebooks: each opens the study anew, and what the first
    has worked out the next need not.
    """
    global _kept
    _kept = {}


def _reader(folder: Path) -> Reader:
    """Whoever reads the study, by what of its site file can be read."""
    site = what_can_be_read(folder / "site.toml")
    return Reader() if site is None else Reader(site.site.display)


def _in_part(folder: Path) -> Study | None:
    """The study by what of its site file can be read."""
    site = what_can_be_read(folder / "site.toml")
    return None if site is None else Study(folder, site)


def check_study(path: str | Path) -> list[Finding]:
    """Read everything a study names and tell what is wrong or doubtful, without a kernel.

    Returns
    -------
    list of Finding

    Raises
    ------
    InputError
        Every mistake in the site file and its sheets, all at once; beside them what was found in
        gaugings and stages, for a logger that jumps makes a neighbour look unlike.
    """
    try:
        study = open_study(path)
    except InputError as error:
        part = _in_part(find_study(path))
        sheets = telling.mistakes_of_sheets(part)
        raise InputError(
            (*error.mistakes, *sheets), error.reader, telling.found_in_sheets(part)
        ) from None
    try:
        study.read()
    except InputError as error:
        found = telling.found_in_sheets(study)
        raise InputError(error.mistakes, error.reader, found) from None
    # A plant that was read is known better than by its description.
    plant = "described" if study.baseline is None else "plant"
    return study.told(rooms=[plant if room == "plant" else room for room in telling.TOLD_BY_CHECK])
