"""A new study: a site file with every key explained, and sheets ready for the field."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from ..errors import InputError, Mistake, did_you_mean, one_line
from ..files import read_text, read_toml, resolved, shown_path
from .example_units import example_in
from .field_pages import field_pages
from .first_text import SHEETS, START
from .keys import Key
from .schema import LISTS, PART_KINDS, SECTIONS
from .site_file import OLD_KEYS, OLD_SECTIONS, read_site_file
from .whole import is_free, laid

__all__ = ["demos", "write_demo", "write_new_study", "write_study_from", "write_thin_study"]


_HEAD = """# The site file of a study. Every key hydrokit knows stands here; those behind a # are not used yet.
# Values carry their unit in quotes: "42 m", "138 ft", "350 gpm", "4.5 bar", "72 psi", "95 %".
# After ± (or +/-) stands one standard deviation: "46.2 m ± 0.3 m".
# Write behind each value how it was measured; you will want to know in a year.
# The numbers below are examples. Replace them by yours, then: hydrokit check, hydrokit run.
"""


def write_new_study(path: str | Path, units: str = "metric") -> None:
    """Write a new study's folder: site file and field sheets. It passes the check as it stands.

    Parameters
    ----------
    path : path
        A folder that does not exist yet, or is empty.
    units : {"metric", "us"}

    Raises
    ------
    InputError
        The folder holds something already, or cannot be written.
    """
    _write(_free(path), site_text(units), units)


def write_thin_study(path: str | Path, case: str, units: str = "metric") -> None:
    """Write a new study's folder with the keys that matter for one case; each example is marked
    until it is replaced.

    Parameters
    ----------
    path : path
        A folder that does not exist yet, or is empty.
    case : str
        One of :data:`~hydrokit.site.thin_study.CASES`.
    units : {"metric", "us"}

    Raises
    ------
    InputError
        The folder holds something already, or cannot be written.
    """
    from .thin_study import thin_files

    _write_files(_free(path), {**field_pages(units), **thin_files(case, units)})


def write_study_from(path: str | Path, source: str | Path) -> int:
    """Write the study of a neighbour's creek from one that there is already.

    Prices, uncertainties and kinds of machine are kept. What belongs to the other creek stands in the new
    site file behind ``# measure anew:``, so that one sees what to measure and about how much it was.
    The new study passes the check as it stands.

    Parameters
    ----------
    path : path
        A folder that does not exist yet, or is empty.
    source : path
        Folder of the other study.

    Returns
    -------
    int
        How many values must be measured anew.

    Raises
    ------
    InputError
        Mistakes in the other study, or a folder that cannot be written.
    """
    from .folders import find_study

    folder, other = _free(path), find_study(source)
    site = read_site_file(other / "site.toml")
    raw = read_toml(other / "site.toml")
    text, anew = _kept(other, folder)
    copied = {}
    for section, key in _FILES:
        name = raw.get(section, {}).get(key)
        if name and _lies_in(other, name):
            copied[name] = read_text(other / name)
    _write(folder, text, site.site.display, copied)
    return anew


def demos() -> dict[str, str]:
    """Names of the demo studies, each with the name of its creek."""
    from .folders import demo_folder

    return {
        each.parent.name: read_toml(each)["site"]["name"]
        for each in sorted(demo_folder().glob("*/site.toml"))
    }


def write_demo(path: str | Path, name: str) -> None:
    """Copy a demo study: its site file, its sheets, and the records of elsewhere that it names.

    Raises
    ------
    InputError
        No such demo, or a folder that cannot be written or holds something.
    """
    from .folders import demo_folder

    known = demos()
    if name not in known:
        raise InputError(
            Mistake(
                "--demo",
                "",
                (
                    f"there is no demo '{one_line(name)}'{did_you_mean(name, known)}; there are: "
                    f"{', '.join(known)}"
                ),
            )
        )
    folder, source = _free(path), demo_folder() / name
    text = read_text(source / "site.toml")
    files = {
        each.name: read_text(each)
        for each in sorted(source.iterdir())
        if each.suffix in (".csv", ".md") or each.name == "results.toml"
    }
    for named in dict.fromkeys(re.findall(r'"((?:\.\./)+data/([\w.-]+))"', text)):
        files[named[1]] = read_text(source / named[0])
        text = text.replace(f'"{named[0]}"', f'"{named[1]}"')
        if "results.toml" in files:  # the accepted results name it as a value and among the files
            accepted = files["results.toml"]
            for elsewhere in (named[0], named[0].removeprefix("../")):
                accepted = accepted.replace(f'"{elsewhere}"', f'"{named[1]}"')
            files["results.toml"] = accepted
    _write_files(folder, files | {"site.toml": text})


def _free(path: str | Path) -> Path:
    folder = Path(path)
    if not is_free(folder):
        raise InputError(
            Mistake(shown_path(folder), "", "is there already and not empty; choose a new name")
        )
    return folder


def _write(folder: Path, text: str, units: str, more: dict[str, str] | None = None) -> None:
    sheets = {name: sheet[units] for name, sheet in SHEETS.items()}
    # A file of another study's takes no name that this one needs.
    _write_files(folder, {**sheets, **field_pages(units), **(more or {}), "site.toml": text})


def _write_files(folder: Path, files: dict[str, str]) -> None:
    try:
        with laid(folder) as built:
            for name, content in files.items():
                target = built / name
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_text(content, encoding="utf-8", newline="\n")
    except OSError as error:
        raise InputError(
            Mistake(shown_path(folder), "", f"cannot be written ({error.strerror or error})")
        ) from None


def site_text(units: str = "metric") -> str:
    """The site file of a new study, every key with its line of explanation."""
    start = START[units]
    blocks = [_HEAD]
    for name, keys in SECTIONS.items():
        if keys:
            blocks.append(_block(f"[{name}]", keys, start.get(name), units))
        for full in (each for each in LISTS if each.startswith(name + ".")):
            blocks.append(_block(f"[[{full}]]", LISTS[full], start.get(full), units))
    for name in (each for each in LISTS if "." not in each):
        given = start.get(name)
        if name == "part":
            blocks += [
                _block(
                    "[[part]]",
                    {
                        "kind": Key(kind="text", meaning="what it is", example=f'"{kind}"'),
                        "name": replace(LISTS["part"]["name"], example=f'"upper {kind}"'),
                        **keys,
                    },
                    None,
                    units,
                )
                for kind, keys in PART_KINDS.items()
            ]
        elif isinstance(given, list):
            blocks += [
                _block(f"[[{name}]]", LISTS[name] if not number else {}, values, units)
                for number, values in enumerate(given)
            ]
        else:
            blocks.append(_block(f"[[{name}]]", LISTS[name], None, units))
    return "\n".join(blocks)


def _block(title: str, keys: dict[str, Key], given: dict[str, str] | None, units: str) -> str:
    """One section: the keys in use, then the others behind a #; wholly behind # where none is used."""
    unused = [
        f"# {key} = {example_in(about.example, units) or '...'}  # {_remark(about, units)}"
        for key, about in keys.items()
        if key not in (given or ())
    ]
    used = [
        f"{key} = {value}" + (f"  # {example_in(keys[key].meaning, units)}" if key in keys else "")
        for key, value in (given or {}).items()
    ]
    return "\n".join([title if given is not None else f"# {title}", *used, *unused]) + "\n"


def _remark(key: Key, units: str) -> str:
    """What a key means, and what is taken where it is left out."""
    default = key.default.strip('"') if key.default not in ("", "[]") else ""
    return example_in(key.meaning + (f"; left out: {default}" if default else ""), units)


# --- from another study ---------------------------------------------------------------------


def _is_shared(section: str, name: str) -> bool:
    """Whether a key, also by its name of before, holds for a creek of the neighbourhood too."""
    section = OLD_SECTIONS.get(section, section)
    key = SECTIONS.get(section, {}).get(OLD_KEYS.get((section, name), name))
    return key is not None and key.shared_with_neighbour


_FILES = [
    (section, name)
    for section, keys in SECTIONS.items()
    for name, key in keys.items()
    if key.kind == "file" and key.shared_with_neighbour
]
_ANEW = "# measure anew: "
_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.-]+)\s*\]\]?\s*(#.*)?")
_HEAD_FROM = """# The site file of {name}, started from that of {other}.
# Kept are prices, uncertainties and kinds of machine. What stands behind "measure anew" is the other creek's:
# measure it here, write your own value and take the mark away. Then: hydrokit check, hydrokit run.
# Values carry their unit in quotes; after ± stands one standard deviation.
"""


def _kept(other: Path, folder: Path) -> tuple[str, int]:
    """The other study's site file with all that is its own behind a mark, and how many values that is."""
    name = re.sub(r"[\W_]+", " ", folder.resolve().name).strip().capitalize() or "My creek"
    lines, section, single, anew = (
        [_HEAD_FROM.format(name=name, other=_one_line(other.name))],
        "",
        True,
        0,
    )
    for statement in _statements(read_text(other / "site.toml")):
        header = _HEADER.fullmatch(statement)
        key = re.match(r"\s*([\w-]+)\s*=", statement)
        if header:
            section, single = header[2], header[1] == "["
            lines.append(statement if single else _ANEW + statement.strip())
            if section == "site":
                lines += [
                    f'name = "{name}"  # {SECTIONS["site"]["name"].meaning}',
                    'stage_of_work = "planned"',
                ]
        elif not key:
            lines += (
                [statement] if section else []
            )  # a remark; those above the first section tell of the other creek
        elif (
            single
            and _is_shared(section, key[1])
            and _reachable(statement, section, key[1], other, folder)
        ):
            lines.append(statement)
        elif not (section == "site" and key[1] in ("name", "stage_of_work")):
            first, *rest = statement.split("\n")
            lines += [_ANEW + first.strip(), *("#   " + line.strip() for line in rest)]
            anew += 1
    text = "\n".join(lines).rstrip("\n") + "\n"
    _refuse_unmarked(text, other)
    return text, anew


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _statements(text: str) -> Iterator[str]:
    """A TOML text part by part: a value that runs over several lines is one."""
    held: list[str] = []
    for line in text.split("\n"):
        held.append(line)
        try:
            tomllib.loads("\n".join(held))
        except tomllib.TOMLDecodeError:
            continue
        yield "\n".join(held)
        held = []


def _reachable(statement: str, section: str, key: str, other: Path, folder: Path) -> bool:
    """Whether a value names no file, or one that the new study has too."""
    if (section, key) not in _FILES:
        return True
    name = tomllib.loads(statement)[key]
    there = resolved(other / name)
    return _lies_in(other, name) or (
        there is not None and there == resolved(folder.resolve() / name)
    )


def _lies_in(other: Path, name: str) -> bool:
    """Whether a file is another study's own, under a name that leads to the same place in any folder.

    A name such as ``../creek/prices.csv`` leads out of the new study, to what may be anybody's.
    """
    named = Path(name)
    return (
        not named.is_absolute()
        and ".." not in named.parts
        and (other / named).is_file()
        and (other / named).resolve().is_relative_to(other)
        and not (other / named).samefile(other / "site.toml")
    )


def _refuse_unmarked(text: str, other: Path) -> None:
    """Nothing of the other creek may have stayed alive, however its file is written."""
    alive = tomllib.loads(text)
    if "site" not in alive:
        raise InputError(
            Mistake(
                shown_path(other / "site.toml"),
                "[site]",
                "write [site] on a line of its own, and each of its keys below it",
            )
        )
    for section, body in alive.items():
        allowed = {"name", "stage_of_work"} if section == "site" else set()
        for key in body if isinstance(body, dict) else [""]:
            if key not in allowed and not _is_shared(section, key):
                where = f"[{section}] {key}".strip()
                raise InputError(
                    Mistake(
                        shown_path(other / "site.toml"),
                        where,
                        f"write it on a line of its own under [{section}], so that it can be marked",
                    )
                )
