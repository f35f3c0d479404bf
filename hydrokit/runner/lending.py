"""Notebooks that `lab` copies into a person's folder, and that `run` uses once the person has changed them.

Which folders were made so is remembered in the home folder of the person. A folder that came with a
download is not among them, whatever it is called and holds: its notebooks are never run.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import hydrokit

from ..site import folders, whole
from ..site.keeping import hash_of

__all__ = ["available", "lend", "lent"]

NOTEBOOKS = "notebooks"
TAKEN = 1_000_000  # bytes of what is remembered


def _memory() -> Path:
    import platformdirs

    return Path(platformdirs.user_state_dir("hydrokit", appauthor=False), "notebooks.json")


def _remembered() -> dict[str, dict[str, Any]]:
    try:
        with open(_memory(), encoding="utf-8") as handle:
            told = json.loads(handle.read(TAKEN))
        return {place: about for place, about in told.items() if isinstance(about["files"], dict)}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _remember(folder: Path, files: dict[str, str]) -> bool:
    """Note what was copied where; False where the home folder is shut."""
    told = _remembered() | {str(folder): {"version": hydrokit.__version__, "files": files}}
    try:
        _memory().parent.mkdir(parents=True, exist_ok=True)
        whole.write_whole(_memory(), json.dumps(told, indent=1, sort_keys=True) + "\n")
    except OSError:
        return False
    return True


def _packaged() -> dict[str, Path]:
    """The package's notebooks, lessons included, by their place in the folder."""
    home = folders.notebook_folder()
    return {
        each.relative_to(home).as_posix(): each
        for each in sorted(home.rglob("*.ipynb"))
        if ".ipynb_checkpoints" not in each.parts
    }


def lent(folder: Path) -> dict[str, str] | None:
    """Hashes of what was copied into a folder, by name; None where hydrokit copied nothing."""
    about = _remembered().get(str(folder.resolve()))
    return None if about is None else about["files"]


def lend(home: Path, say: Callable[[str], object]) -> None:
    """Copy the notebooks into a person's folder, or after an upgrade offer the new ones.

    A notebook that the person did not change is replaced; beside one that was changed the new one
    is laid into a folder of its own.
    """
    target, packaged = home.resolve() / NOTEBOOKS, _packaged()
    hashes = {name: hash_of(path) for name, path in packaged.items()}
    if not os.path.lexists(target):
        for name, path in packaged.items():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target / name)
        say(
            f"the notebooks are copied to {target}; they are yours to change, and run uses "
            "those that you change"
        )
        if not _remember(target, hashes):
            say("the home folder cannot be written, so that run will not know of them")
        return
    before = lent(target)
    if before is None:
        say(
            f"{target} is there already and was not made by hydrokit; it is left as it is, "
            "and run uses hydrokit's own notebooks"
        )
        return
    offered = []
    for name, path in packaged.items():
        if before.get(name) == hashes[name]:
            continue
        mine = target / name
        if name in before and not mine.is_file():
            continue  # taken away by the person
        place = mine
        if os.path.lexists(mine) and (mine.is_symlink() or hash_of(mine) != before.get(name)):
            place = target / f"new in {hydrokit.__version__}" / name
            offered.append(name)
        place.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, place)
    if before != hashes:
        _remember(target, before | hashes)
        say(
            f"the notebooks in {target} are those of hydrokit {hydrokit.__version__} now, but "
            "for those that you changed"
        )
    if offered:
        say(
            f"beside {', '.join(offered)}, which you changed, the new ones are in the folder "
            f"'new in {hydrokit.__version__}'"
        )


def available(study: Path, say: Callable[[str], object] = lambda line: None) -> list[Path]:
    """The numbered notebooks that a run of a study has: the package's, or a person's own where
    these were changed or added."""
    every = folders.notebooks_in(folders.notebook_folder())
    if folders.checkout():
        return every
    found = {each.name: each for each in every}
    for home in (*study.resolve().parents, Path.cwd().resolve()):
        copied = lent(home / NOTEBOOKS)
        if copied is None:
            continue
        for mine in sorted((home / NOTEBOOKS).glob("*.ipynb")):
            if (
                re.match(r"\d\d_", mine.name)
                and not mine.is_symlink()
                and hash_of(mine) != copied.get(mine.name)
            ):
                found[mine.name] = mine
                say(f"{mine.stem.replace('_', ' ')}: your own, from {home / NOTEBOOKS}")
        break
    return sorted(found.values(), key=lambda each: each.name)
