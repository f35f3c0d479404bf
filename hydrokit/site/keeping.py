"""What hydrokit wrote in a folder, by name and hash. Only that is ever replaced; everything else is
its owner's and stays."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..files import Entries

__all__ = [
    "MANIFEST",
    "TABLES",
    "Carried",
    "carry_over",
    "hash_of",
    "is_ours",
    "made_in",
    "marked_older",
    "note",
    "now",
    "older_pages",
    "sheets_kept",
    "sweep",
]

MANIFEST = ".hydrokit.json"  # beside the files: what of them is hydrokit's
PAGE = re.compile(r"\d\d_\w+\.html")
TABLES = "tables"  # a folder of files of one run, with a manifest of its own
# Made of the pages of one run when it is asked to: the next run makes them anew, or they go.
OF_ONE_RUN = re.compile(r"(?:index|card|report|print_\w+|\d\d_\w+)\.pdf|report\.html")
SHEET = re.compile(r"print_\w+\.html|calendar\.ics")  # of the set to print, made anew as a whole
POLICY = re.compile(
    rb"<meta [^>\n]*content=\"default-src (?:'|&#39;)none(?:'|&#39;); img-src data:"
)
TAKEN = 1_000_000  # bytes of a manifest; one of ours has some thousands


def made_in(folder: Path) -> dict[str, Entries]:
    """File name to hash, time and title of what hydrokit wrote in a folder; nothing where that is
    not known."""
    try:
        with open(folder / MANIFEST, encoding="utf-8") as handle:
            told = json.loads(handle.read(TAKEN))["files"]
        return {
            str(name): dict(about)
            for name, about in told.items()
            if isinstance(about["sha256"], str)
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def hash_of(path: Path) -> str:
    """SHA-256 of a file's bytes."""
    with open(path, "rb") as handle:
        return hashlib.file_digest(handle, "sha256").hexdigest()


def is_ours(path: Path, known: dict[str, dict[str, object]] | None = None) -> bool:
    """Whether hydrokit wrote a file and nobody has changed it since.

    Parameters
    ----------
    path : Path
    known : dict, optional
        From :func:`made_in`; read from the file's folder when not given.
    """
    if path.is_symlink() or not path.is_file():
        return False
    about = (made_in(path.parent) if known is None else known).get(path.name)
    return about is not None and about["sha256"] == hash_of(path)


def _looks_like_ours(path: Path) -> bool:
    """Pages and results of a set that was made before there was a manifest."""
    if path.is_symlink() or not path.is_file():
        return False
    with open(path, "rb") as handle:
        head = handle.read(4000)
    if path.suffix == ".html":
        return (
            PAGE.fullmatch(path.name) is not None or path.name == "index.html"
        ) and POLICY.search(head) is not None
    return path.name == "results.toml" and head.startswith(b"[run]\nhydrokit = ")


def now() -> str:
    """The time as the manifest tells it."""
    return datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")


def note(folder: Path, files: dict[str, dict[str, object]]) -> None:
    """Write down what hydrokit made in a folder."""
    from .whole import write_whole

    about = "What hydrokit wrote here. It replaces these files and no others."
    write_whole(
        folder / MANIFEST,
        json.dumps({"about": about, "files": files}, indent=1, ensure_ascii=True, sort_keys=True)
        + "\n",
    )


def older_pages(reports: Path, anew: set[str]) -> dict[str, Entries]:
    """Pages of an earlier run that this one does not make: name without ending to what is known of each."""
    known = made_in(reports)
    return {
        Path(name).stem: about
        for name, about in sorted(known.items())
        if PAGE.fullmatch(name) and Path(name).stem not in anew and is_ours(reports / name, known)
    }


@dataclass
class Carried:
    """What became of files of the last set.

    Parameters
    ----------
    changed : list of str
        Files of ours that the owner had changed; they are kept under another name.
    gone : list of str
        Prints and tables of the pages of before, which the new run did not make anew.
    """

    changed: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)


def sheets_kept(reports: Path) -> list[Entries]:
    """The sheets to print of the last set, as its manifest tells them: file, title, use."""
    known = made_in(reports)
    return [
        {"file": name, **about}
        for name, about in sorted(known.items())
        if SHEET.fullmatch(name) and is_ours(reports / name, known)
    ]


def carry_over(
    reports: Path,
    built: Path,
    made: dict[str, Entries],
    older: dict[str, Entries],
) -> Carried:
    """Bring into a set just built what it is to keep of the last one, and write its manifest.

    Parameters
    ----------
    reports, built : Path
        The last set, which stays as it is, and the new one.
    made : dict
        Title and time of the files of the new set.
    older : dict
        Pages to be kept, from :func:`older_pages`.

    Returns
    -------
    Carried
    """
    known, carried = made_in(reports), Carried()
    files = {
        each.name: {"sha256": hash_of(each), "time": now(), **made.get(each.name, {})}
        for each in built.iterdir()
        if each.is_file()
    }
    sheets_anew = any(map(SHEET.fullmatch, files))
    if (built / TABLES).is_dir():
        _note_all(built / TABLES)
    for each in sorted(reports.iterdir()) if reports.is_dir() else ():
        if each.name == MANIFEST:
            continue
        if _holds_tables(each, built / TABLES):
            _tables_over(each, built / TABLES, carried)
            continue
        ours = is_ours(each, known) or (each.name not in known and _looks_like_ours(each))
        if (built / each.name).exists():
            if not ours:
                _keep(each, _free_name(built, reports, each))
                carried.changed.append(each.name)
        elif ours and OF_ONE_RUN.fullmatch(each.name):
            carried.gone.append(each.name)
        elif ours and each.stem in older:
            text = marked_older(each.read_text(encoding="utf-8"), older[each.stem].get("time", ""))
            (built / each.name).write_text(text, encoding="utf-8", newline="\n")
            files[each.name] = known[each.name] | {"sha256": hash_of(built / each.name)}
        elif ours and PAGE.fullmatch(each.name):
            continue  # of a notebook that there is no more
        elif ours and SHEET.fullmatch(each.name) and sheets_anew:
            continue  # of a part of the plant that there is no more
        else:
            _keep(each, built / each.name)
            if ours and each.name in known:
                files[each.name] = known[each.name]
    note(built, files)
    return carried


def _holds_tables(folder: Path, new: Path) -> bool:
    """Whether a folder of this name holds tables of a run, or is to; a link never does."""
    plain = folder.name == TABLES and folder.is_dir() and not folder.is_symlink()
    return plain and ((folder / MANIFEST).is_file() or new.is_dir())


def _note_all(folder: Path) -> None:
    note(
        folder,
        {each.name: {"sha256": hash_of(each), "time": now()} for each in folder.iterdir()},
    )


def _tables_over(old: Path, new: Path, carried: Carried) -> None:
    """Bring what is the owner's in a folder of tables into the new one."""
    known, anew = made_in(old), new.is_dir()
    for each in sorted(old.iterdir()):
        if each.name == MANIFEST:
            continue
        if is_ours(each, known):
            if not anew and f"{TABLES}/" not in carried.gone:
                carried.gone.append(f"{TABLES}/")
            continue
        new.mkdir(exist_ok=True)
        if os.path.lexists(new / each.name):
            _keep(each, _free_name(new, old, each))
            carried.changed.append(f"{TABLES}/{each.name}")
        else:
            _keep(each, new / each.name)


def _free_name(built: Path, reports: Path, path: Path) -> Path:
    """A name for a changed file beside the new one: ``index (yours).html``."""
    for number in range(1, 10_000):
        name = f"{path.stem} (yours{'' if number == 1 else f' {number}'}){path.suffix}"
        if not os.path.lexists(built / name) and not os.path.lexists(reports / name):
            return built / name
    raise OSError(f"{path.name} was changed too often; move its copies away")


def marked_older(text: str, time: str) -> str:
    """A page with a line that says that it is older than the others."""
    told = f'<p class="older">This page is from an earlier run ({time}). Other pages here are newer.</p>'
    return text if '<p class="older">' in text else text.replace("<main>", f"<main>\n{told}", 1)


def _keep(source: Path, target: Path) -> None:
    """The same file, folder or link under another name; nothing of the source is changed and no
    link is followed."""
    if source.is_symlink():
        target.symlink_to(os.readlink(source))
    elif source.is_dir():
        target.mkdir()
        for each in source.iterdir():
            _keep(each, target / each.name)
        shutil.copystat(source, target)
    else:
        try:
            os.link(source, target)
        except OSError:  # a disk without second names
            shutil.copy2(source, target)


def sweep(old: Path, reports: Path) -> None:
    """Move what came into the last set while the new one was built, so that it is not deleted with
    the last set."""
    known = made_in(old)
    for each in old.iterdir():
        if _holds_tables(each, reports / TABLES):
            _sweep_tables(each, reports / TABLES)
        elif (
            each.name != MANIFEST
            and each.name not in known
            and not os.path.lexists(reports / each.name)
        ):
            if not PAGE.fullmatch(each.name):
                each.rename(reports / each.name)


def _sweep_tables(old: Path, new: Path) -> None:
    known = made_in(old)
    for each in old.iterdir():
        if each.name != MANIFEST and each.name not in known:
            if not os.path.lexists(new):
                new.mkdir()
            if new.is_dir() and not os.path.lexists(new / each.name):
                each.rename(new / each.name)
