"""Each lesson's piece of the learner's own study: shown first, written when asked, never over their
own words."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from ..errors import HydrokitError, InputError, Mistake, counted, one_line
from ..files import read_text, read_toml
from ..report.display import Words, escape_markdown
from ..runner.single import written
from ..site import folders, whole
from ..site.keeping import is_ours
from .own_sheets import SHEETS, sheet_text

__all__ = ["first_watts", "place", "write"]

_MEMORY = ".lessons.json"  # what lessons wrote into the site file: key to value
_HEAD = (
    "# The study of my own creek, begun in the lessons. hydrokit explain KEY tells of each key.\n"
)
_NOT_COPIED = shutil.ignore_patterns("reports", ".*")


def place(notebooks: Path | None = None) -> Path:
    """Where the learner's own study lies, seen from the folder of the lessons.

    Parameters
    ----------
    notebooks : Path, optional
        Folder of the lessons; the working folder when not given.

    Returns
    -------
    Path
        ``mine`` beside the lessons of a workshop; ``studies/mine`` where they lie among the notebooks.
    """
    lessons = (notebooks or Path.cwd()).resolve()
    if lessons.name == "lessons" and lessons.parent.name == "notebooks":
        return lessons.parents[1] / "studies" / "mine"
    # The folder of a group that has gone is called "lessons until 2026-11-29", and so is its study.
    _, begun, more = lessons.name.partition("lessons")
    return lessons.parent / f"mine{more}" if begun else lessons / "mine"


def write(mine: Mapping[str, object], sure: bool = False, folder: Path | None = None) -> Words:
    """Show what a lesson would write into the learner's study, or write it.

    Parameters
    ----------
    mine : mapping
        Key of the site file, such as ``"penstock.length"``, to its value; None where there is none
        yet. A key that names a sheet of :data:`~hydrokit.lab.own_sheets.SHEETS` takes the sheet's rows.
    sure : bool
        Write, instead of showing what would be written.
    folder : Path, optional
        Of the study; that of :func:`place` when not given.

    Returns
    -------
    Words
        What was or would be written; or why nothing was, with every mistake.
    """
    study = folder or place()
    given = {key: value for key, value in mine.items() if value is not None and value != []}
    if not given:
        return Words(
            "**Nothing to write yet.** Put what you know of your own creek in place of "
            "`None`, and run this cell. What you do not know stays `None`."
        )
    try:
        keys, sheets = _parted(given, study)
        changes = list(_changes(keys, sheets, study))
        if not changes:
            return Words("**All of this stands in your study already.**")
        text, told = _tried(keys, sheets, study)
        if not sure:
            return _listed(
                "**Nothing is written yet.** If this is right, let `sure = True` and run this cell again:",
                changes,
            )
        _put(text, sheets, keys, study)
    except HydrokitError as error:
        lines = error.lines if isinstance(error, InputError) else [str(error)]
        return _listed("**Nothing is written.** Mend this first:", lines)
    return Words(
        f"**Written** into the folder {escape_markdown(study.name)}: "
        f"{counted(len(changes), 'piece')}. `hydrokit check` finds it sound{told}."
    )


def first_watts(folder: Path | None = None) -> Words:
    """What the flow that was gauged last gives at the learner's creek, worked out step by step.

    Parameters
    ----------
    folder : Path, optional
        Of the study; that of :func:`place` when not given.
    """
    from ..study.opening import open_study
    from ..study.view import View
    from ..water import viscosity

    study_folder = folder or place()
    if not (study_folder / "site.toml").is_file():
        return Words(
            "**Your own watts** are told here as soon as your study has a gauging, a head and a pipe."
        )
    try:
        study = open_study(study_folder)
        gaugings, pipe, head = study.gaugings, study.penstock, study.head
    except HydrokitError as error:
        return Words(f"**Your study cannot be read:** {escape_markdown(str(error))}")
    if gaugings is None or not len(gaugings.flow_m3s) or pipe is None or head is None:
        return Words(
            "**Not yet:** your study needs a gauging (lesson 1), a head, and length and size of the pipe."
        )
    view = View(study.site.site.display)
    flow = float(gaugings.flow_m3s[-1])
    loss = float(pipe.loss_si(flow, float(viscosity.si(study.water_temperature_k))))
    told = [view.amount(flow, "flow"), *(view.amount(each, "head") for each in (head.value, loss))]
    if loss >= head.value:
        return Words(
            f"**This pipe cannot carry that flow:** at {told[0]} it would lose {told[2]}, and "
            f"there are {told[1]}. Take less water, or a wider pipe."
        )
    known = study.site.generator.water_to_wire
    share = 0.55 if known is None else known.value
    watts = share * 9.80665 * 1000 * flow * (head.value - loss)
    whose = "as in this lesson" if known is None else "as you said"
    net = view.amount(head.value - loss, "head")
    return Words(
        f"**Your own watts.** {told[0]} fall {told[1]}. The pipe takes {told[2]}, and {net} "
        f"are left. With {100 * share:.0f} % from water to wire, {whose}, that is "
        f"**{view.amount(watts, 'power', 2)}**, on a day with this flow."
    )


# --- what changes ------------------------------------------------------------------------------


def _parted(given: Mapping[str, Any], study: Path) -> tuple[dict[str, Any], dict[str, str]]:
    """Keys of the site file with their values, and texts of the sheets that some of them name."""
    display = str(given.get("site.display") or _now(study, "site.display") or "metric")
    keys: dict[str, Any] = {}
    sheets: dict[str, str] = {}
    for key, value in given.items():
        sheet = SHEETS.get(key)
        if sheet is None or isinstance(value, str):
            keys[key] = value
        else:
            keys[key] = sheet.file
            sheets[sheet.file] = sheet_text(sheet, value, display)
    return keys, sheets


def _changes(keys: Mapping[str, Any], sheets: Mapping[str, str], study: Path) -> Iterator[str]:
    """A line for each thing that will be another than it is.

    Raises
    ------
    InputError
        What the learner wrote there with their own hand would be replaced.
    """
    ours, mistakes = _remembered(study), []
    lines = []
    for key, value in keys.items():
        now = _now(study, key)
        if now == value:
            continue
        if now is None:
            lines.append(f"site.toml: {key} = {one_line(value)}")
        elif ours.get(key) == now:
            lines.append(f"site.toml: {key} = {one_line(value)}, in place of {one_line(now)}")
        else:
            what = (
                f"is {one_line(now)}, which you wrote there yourself; change it there, or let it "
                "be None here"
            )
            mistakes.append(Mistake("site.toml", key, what))
    for name, text in sheets.items():
        path = study / name
        title, *rows = text.splitlines()
        if not os.path.lexists(path):
            lines.append(f"{name}: {counted(len(rows), 'line')} of {title}")
        elif not is_ours(path):
            what = (
                "was written or changed by you; write the new lines into it yourself, or let it "
                "be None here"
            )
            mistakes.append(Mistake(name, "", what))
        elif read_text(path) != text:
            lines.append(f"{name}: {counted(len(rows), 'line')}, in place of those before")
    if mistakes:
        raise InputError(mistakes)
    yield from lines


def _now(study: Path, key: str) -> Any:
    """What the site file says today for a key; None where it says nothing."""
    file = study / "site.toml"
    at: Any = read_toml(file) if file.is_file() else {}
    for step in key.split("."):
        if isinstance(at, list):
            at = at[0] if at else {}
        at = at.get(step) if isinstance(at, Mapping) else None
    return at


def _remembered(study: Path) -> dict[str, Any]:
    try:
        told = json.loads((study / _MEMORY).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return dict(told) if isinstance(told, dict) else {}


# --- trying and writing ------------------------------------------------------------------------


def _tried(keys: Mapping[str, Any], sheets: Mapping[str, str], study: Path) -> tuple[str, str]:
    """The site file as it would be, and what a check of the whole study says to it.

    Raises
    ------
    InputError
        Every mistake that the check finds.
    """
    import tomlkit

    from ..study.opening import check_study
    from ..study.variant import apply_changes

    file = study / "site.toml"
    document = tomlkit.parse(read_text(file) if file.is_file() else _HEAD)
    apply_changes(document, keys, Path("site.toml"))
    text = tomlkit.dumps(document)
    with tempfile.TemporaryDirectory(prefix="hydrokit-lesson-") as scratch:
        copy = Path(scratch, "mine")
        if study.is_dir():
            shutil.copytree(study, copy, ignore=_NOT_COPIED)
        copy.mkdir(exist_ok=True)
        for name, content in {**sheets, "site.toml": text}.items():
            (copy / name).write_text(content, encoding="utf-8", newline="\n")
        try:
            findings = check_study(copy)
        except InputError as error:
            raise InputError([_without(each, copy) for each in error.mistakes]) from None
    remarks = sum(each.level != "note" for each in findings)
    return text, f", with {counted(remarks, 'remark')}" if remarks else ""


def _without(mistake: Mistake, copy: Path) -> Mistake:
    """A mistake of the copy that was tried, told of the study itself."""
    return Mistake(Path(mistake.file).name, mistake.where, mistake.sentence)


def _put(text: str, sheets: Mapping[str, str], keys: Mapping[str, Any], study: Path) -> None:
    """Write the sheets, then the site file that names them, then what was written.

    Raises
    ------
    HydrokitError
        What the system refuses.
    """
    from ..errors import RunError

    try:
        study.mkdir(parents=True, exist_ok=True)
        for name, content in sheets.items():
            written(study / name, content)
        whole.write_whole(study / "site.toml", text)
        kept = _remembered(study) | dict(keys)
        whole.write_whole(study / _MEMORY, json.dumps(kept, indent=1, sort_keys=True) + "\n")
    except OSError as error:
        raise RunError(folders.in_one_sentence(error, study)) from error


def _listed(first: str, lines: Sequence[str]) -> Words:
    return Words(first + "\n\n" + "\n".join(f"- {escape_markdown(each)}" for each in lines))
