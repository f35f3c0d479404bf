"""A study with some keys of its site file changed: asked in a cell, and saved as a study of its own."""

from __future__ import annotations

import copy
import os
import shutil
from collections.abc import Mapping, MutableMapping
from pathlib import Path
from types import NoneType
from typing import TYPE_CHECKING, Any

from ..errors import InputError, Mistake, did_you_mean, one_line
from ..files import read_text, read_toml, shown_path
from ..sentences import series_text
from ..site.schema import LISTS, SECTIONS, Site
from ..site.site_file import site_of
from ..site.whole import laid, write_whole

if TYPE_CHECKING:
    from .study import Study

__all__ = ["apply_changes", "changed_site", "save_variant", "told"]


def changed_site(path: Path, changes: Mapping[str, object]) -> Site:
    """The site of a study with some of its keys changed.

    Parameters
    ----------
    path : Path
        The study's folder.
    changes : mapping
        Key, such as ``"penstock.pipe.size"``, to its value as the site file would have it:
        ``"125 mm"``, ``3``, a list; None takes a key out. An entry of a list that has several is
        named by its number, from 1: ``"upgrade.2.cost"``.

    Raises
    ------
    InputError
        Every mistake at once, of the changes and of the site file with them.
    """
    file = path / "site.toml"
    raw = read_toml(file)
    apply_changes(raw, changes, file)
    return site_of(raw, file)


def told(changes: Mapping[str, object]) -> str:
    """The changes in one line: ``penstock.pipe.size = 125 mm; costs.value left out``."""
    return "; ".join(
        f"{one_line(key)} left out" if value is None else f"{one_line(key)} = {_shown(value)}"
        for key, value in changes.items()
    )


def _shown(value: object) -> str:
    """A value in words: ``rule fixed, flow 5 L/s`` of an entry, several of them parted by *and*."""
    if isinstance(value, Mapping):
        return ", ".join(f"{one_line(key)} {_shown(each)}" for key, each in value.items())
    if isinstance(value, (list, tuple)):
        return series_text([_shown(each) for each in value])
    return one_line(value)


def save_variant(study: Study, folder: str | Path) -> Path:
    """Save a variant as a study: its site file with the changes written in, and the files it reads.

    Parameters
    ----------
    study : Study
        With changes or without.
    folder : str or Path
        A folder that is not there yet, beside the study.

    Returns
    -------
    Path
        The new folder.

    Raises
    ------
    InputError
        The folder is there, or cannot be written.
    """
    import tomlkit

    target, source = Path(folder), Path(study.path)
    if os.path.lexists(target):
        raise InputError(Mistake(shown_path(target), "", "is there already; name a new folder"))
    study.read()
    document = tomlkit.parse(read_text(source / "site.toml"))
    apply_changes(document, study.variant, source / "site.toml")
    try:
        with laid(target) as built:
            for each in study.folder.read:
                inside = Path(each)
                if inside.name != "site.toml" and inside.is_relative_to(source.resolve()):
                    place = built / inside.relative_to(source.resolve())
                    place.parent.mkdir(parents=True, exist_ok=True)
                    shutil.copy2(inside, place)
            write_whole(built / "site.toml", tomlkit.dumps(document))
    except OSError as error:
        told = f"cannot be written ({error.strerror or error})"
        raise InputError(Mistake(shown_path(target), "", told)) from None
    return target


def apply_changes(
    raw: MutableMapping[str, object], changes: Mapping[str, object], file: Path
) -> None:
    """Write changes into the contents of a site file, as read or as a document that keeps its remarks.

    Parameters
    ----------
    raw : mapping
    changes : mapping
        As :func:`changed_site` takes them.
    file : Path
        Named in the sentences.

    Raises
    ------
    InputError
        Every key that cannot be set.
    """
    mistakes = []
    for key, value in changes.items():
        wrong = _set(raw, key, value)
        if wrong:
            mistakes.append(Mistake(shown_path(file), one_line(key), wrong))
    if mistakes:
        raise InputError(mistakes)


def _set(raw: MutableMapping[str, Any], key: str, value: Any) -> str:
    """Change one key; what is wrong with its name, or nothing. What is wrong with its value the
    reader tells."""
    *way, name = str(key).split(".")
    if not way and name in LISTS and isinstance(value, (list, tuple, NoneType)):
        if value is None:
            raw.pop(name, None)
        else:
            raw[name] = _plain(value)
        return ""
    if not way:
        return 'is no key; write section and key, as in "penstock.pipe.size"'
    known = [*SECTIONS, *(each for each in LISTS if "." not in each)]
    if way[0] not in known:
        return f"there is no section '{one_line(way[0])}'{did_you_mean(way[0], known)}"
    whole = ".".join(each for each in (*way, name) if not each.isdigit())
    if whole in LISTS and not name.isdigit() and not isinstance(value, (list, tuple, NoneType)):
        return _is_list(whole)
    at: Any = raw
    for place, step in enumerate(way):
        if isinstance(at, list):
            if not step.isdigit() or not 1 <= int(step) <= len(at):
                return _which(".".join(way[:place]), len(at), name)
            at = at[int(step) - 1]
            continue
        if step not in at:
            whole = ".".join(each for each in way[: place + 1] if not each.isdigit())
            at[step] = [{}] if whole in LISTS else {}
        at = at[step]
    if isinstance(at, list):
        if len(at) != 1:
            return _which(".".join(way), len(at), name)
        at = at[0]
    if not isinstance(at, MutableMapping):
        return "is a value and has no keys of its own"
    if value is None:
        at.pop(name, None)
    else:
        at[name] = _plain(value)
    return ""


def _is_list(name: str) -> str:
    """What is said where a list is given one value."""
    first, key = next(iter(LISTS[name].items()))
    example = {first: str(key.example).strip('"')}
    return (
        f"is a list; name one entry's key, such as {name}.1.{first}, or write all its entries, "
        f"such as [{example}]"
    )


def _which(name: str, many: int, key: str) -> str:
    return (
        f"there are {many} of [[{one_line(name)}]]; say which by its number, as in "
        f"{one_line(name)}.{max(many, 1)}.{one_line(key)}"
    )


def _plain(value: Any) -> Any:
    """A value as a site file can hold it; a quantity becomes its text."""
    if hasattr(value, "magnitude"):
        return f"{value:~P}"
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    return copy.copy(value)
