"""The reader of site files: every mistake at once, each in a sentence."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..errors import InputError, Mistake, UnitsError, did_you_mean, one_line
from ..files import read_toml, shown_path
from .schema import LISTS, PART_KINDS, SECTIONS, Key
from .values import value_of

__all__ = ["read_site_file"]

# Names of before 0.2, which are read until 0.3.
OLD_KEYS = {("stream", "segments"): "pieces"}
OLD_KINDS = {"meadow": "open ground"}


def read_site_file(path: Any) -> dict[str, Any]:
    """The site file as nested dicts of SI values; sections that are absent are empty dicts.

    Raises
    ------
    InputError
        Every mistake of the file at once: unknown sections and keys, values without or with wrong
        units, wrong types, missing keys.
    """
    reader = _Reader(Path(path))
    site = reader.read(read_toml(path))
    if reader.mistakes:
        raise InputError(reader.mistakes)
    return site


class _Reader:
    def __init__(self, path: Path) -> None:
        self.path = path
        self.mistakes: list[Mistake] = []
        self.renamed: list[tuple[str, str]] = []

    def wrong(self, where: str, text: str) -> None:
        self.mistakes.append(Mistake(shown_path(self.path), where, text))

    def read(self, raw: dict) -> dict[str, Any]:
        raw = self._by_new_names(raw)
        site: dict[str, Any] = {name: {} for name in SECTIONS}
        site.update({name: [] for name in LISTS})
        top = [*SECTIONS, *(name for name in LISTS if "." not in name)]
        for name, body in raw.items():
            if name in SECTIONS and isinstance(body, dict):
                nested = {
                    each.partition(".")[2]: each for each in LISTS if each.startswith(name + ".")
                }
                for key, full in nested.items():
                    if key in body:
                        site[full] = self._list(full, body[key])
                site[name] = self._section(
                    f"[{name}]",
                    {k: v for k, v in body.items() if k not in nested},
                    SECTIONS[name],
                    [*nested],
                )
            elif name in LISTS:
                site[name] = self._list(name, body)
            elif name in SECTIONS:
                self.wrong(name, f"is a section; write [{name}] on a line of its own")
            else:
                self.wrong(
                    f"[{one_line(name)}]",
                    f"there is no such section{did_you_mean(name, top) or '; known are ' + ', '.join(top)}",
                )
        if "site" not in raw:
            self.wrong("[site]", 'is missing; it needs at least name = "..."')
        site["renamed"] = self.renamed
        return site

    def _by_new_names(self, raw: dict) -> dict:
        """The same with what has another name since 0.2 under that; each is told once."""
        new = dict(raw)
        for (section, old), name in OLD_KEYS.items():
            body = raw.get(section)
            if isinstance(body, dict) and old in body:
                if name in body:
                    self.wrong(
                        f"[{section}]", f"has '{name}' and its old name '{old}'; keep {name}"
                    )
                new[section] = {
                    (name if key == old else key): value
                    for key, value in body.items()
                    if not (key == old and name in body)
                }
                self.renamed.append(
                    (
                        f"[{section}] {old}",
                        f"'{old}' is now called '{name}'; the old name is read until 0.3",
                    )
                )
        parts = raw.get("part")
        if isinstance(parts, list):
            new["part"] = [
                each | {"kind": OLD_KINDS[each["kind"]]}
                if isinstance(each, dict)
                and isinstance(each.get("kind"), str)
                and each["kind"] in OLD_KINDS
                else each
                for each in parts
            ]
            told = {
                each["kind"]
                for each in parts
                if isinstance(each, dict) and isinstance(each.get("kind"), str)
            } & OLD_KINDS.keys()
            self.renamed += [
                (
                    "[[part]] kind",
                    f"the kind '{old}' is now called '{OLD_KINDS[old]}'; the old name is read until 0.3",
                )
                for old in sorted(told)
            ]
        return new

    def _list(self, name: str, body: Any) -> list[dict]:
        if not isinstance(body, list) or not all(isinstance(each, dict) for each in body):
            self.wrong(f"[{name}]", f"is a list; write [[{name}]] with two brackets for each entry")
            return []
        entries = []
        for number, entry in enumerate(body, 1):
            keys = LISTS[name]
            if name == "part":
                keys = (
                    {**keys, **PART_KINDS.get(entry.get("kind"), {})}
                    if isinstance(entry.get("kind"), str)
                    else keys
                )
                if isinstance(entry.get("kind"), str) and entry["kind"] not in PART_KINDS:
                    keys = {**keys, **{each: Key("any", "") for each in entry if each not in keys}}
            entries.append(self._section(f"[[{name}]] {number}", entry, keys))
        return entries

    def _section(
        self, where: str, body: dict, keys: dict[str, Key], nested: list[str] = ()
    ) -> dict[str, Any]:
        values = {}
        for key, value in body.items():
            if key not in keys:
                self.wrong(
                    where,
                    f"has no key '{one_line(key)}'{did_you_mean(key, [*keys, *nested]) or '; known are ' + ', '.join([*keys, *nested])}",
                )
                continue
            try:
                values[key] = value_of(value, keys[key].kind, f"{where} {key}", keys[key].within)
            except UnitsError as error:
                text = str(error).removesuffix('; write for example "42 m" or "138 ft"')
                if keys[key].kind.endswith("count"):  # of such there is no unit to be told
                    text = text.replace("is not a number with a unit", "is not a number")
                self.wrong(
                    "",
                    text
                    + (
                        f"; for example {key} = {keys[key].example}"
                        if keys[key].example and "for example" not in text
                        else ""
                    ),
                )
        for key, about in keys.items():
            if about.required and key not in body:
                self.wrong(
                    where, f"has no '{key}' ({about.about}); for example {key} = {about.example}"
                )
        return values
