"""The reader of site files: every mistake at once, each in a sentence."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ..errors import InputError, Mistake, UnitsError, did_you_mean, one_line
from ..files import read_toml, shown_path
from ..sentences import Sentence, refusal
from .example_units import in_both
from .keys import Key
from .places import belongs
from .schema import LISTS, PART_KINDS, PART_TYPES, SECTIONS, TYPES, Site
from .schema_sources import without_numbers
from .values import value_of

__all__ = ["OLD_KEYS", "OLD_KINDS", "OLD_SECTIONS", "OLD_WORDS", "read_site_file", "site_of"]

# Names of before 0.2, which are read until 0.3.
OLD_SECTIONS = {"doubt": "uncertainty"}
OLD_KEYS = {
    ("stream", "segments"): "pieces",
    ("diversion", "mouth"): "inlet_level",
    ("diversion", "outlet_lip"): "outlet_crest",
    ("loads", "need"): "demand",
    ("operation", "starved_freezes"): "under_fed_freezes",
    ("costs", "doubt"): "uncertainty",
    ("upgrade", "needs"): "requires",
}
OLD_KINDS = {
    "meadow": "open ground",
    "bar rack": "trash rack",
    "tilted screen": "inclined screen",
    "bottom rack": "bottom intake",
    "pond": "forebay",
}
OLD_WORDS = {("reading", "needle", "hunts"): "fluctuates"}


def read_site_file(path: Path) -> Site:
    """The site file, its values in SI.

    Raises
    ------
    InputError
        Every mistake of the file at once: unknown sections and keys, values without or with wrong
        units, wrong types, missing keys.
    """
    return site_of(read_toml(path), path)


def what_can_be_read(path: Path) -> Site | None:
    """The site file without its mistakes, so that its sheets can be checked too; None where it is no TOML."""
    try:
        reader = _Reader(Path(path))
        return _typed(reader.read(read_toml(path)), reader.renamed)
    except (InputError, TypeError, KeyError, AttributeError):
        return None


def site_of(raw: dict[str, object], path: Path) -> Site:
    """What a site file says, from its text as nested dicts; `path` is the file that mistakes are told of."""
    reader = _Reader(Path(path))
    read = reader.read(raw)
    if reader.mistakes:
        raise InputError(reader.mistakes)
    return _typed(read, reader.renamed)


def _typed(read: dict[str, Any], renamed: list[tuple[str, str]]) -> Site:
    """What was read without a mistake, as a site."""
    entries = {
        name: tuple(_type(name, entry)(**entry) for entry in read.get(name, ())) for name in LISTS
    }
    values: dict[str, Any] = {
        name: TYPES[name](
            **read.get(name, {}),
            **{each: entries[f"{name}.{each}"] or None for each in TYPES[name].lists},
        )
        for name in SECTIONS
    }
    values |= {name: listed for name, listed in entries.items() if "." not in name}
    return Site(**values, renamed=tuple(renamed))


def _type(name: str, entry: dict[str, Any]) -> Any:
    return PART_TYPES[entry["kind"]] if name == "part" else TYPES[name]


class _Reader:
    def __init__(self, path: Path) -> None:
        self.path = path
        self.mistakes: list[Mistake] = []
        self.renamed: list[tuple[str, str]] = []

    def wrong(self, where: str, text: str | Sentence) -> None:
        self.mistakes.append(Mistake(shown_path(self.path), where, text))

    def read(self, raw: dict[str, Any]) -> dict[str, Any]:
        """Values of what is sound, by section and list."""
        raw = self._by_new_names(raw)
        read: dict[str, Any] = {}
        top = [*SECTIONS, *(name for name in LISTS if "." not in name)]
        for name, body in raw.items():
            if name in SECTIONS and isinstance(body, dict):
                nested = TYPES[name].lists
                for key in [each for each in nested if each in body]:
                    read[f"{name}.{key}"] = self._list(f"{name}.{key}", body[key])
                own = {key: value for key, value in body.items() if key not in nested}
                read[name] = self._section(f"[{name}]", own, SECTIONS[name], nested)
            elif name in LISTS:
                read[name] = self._list(name, body)
            elif name in SECTIONS:
                self.wrong(name, f"is a section; write [{name}] on a line of its own")
            else:
                self.wrong(
                    f"[{one_line(name)}]",
                    f"there is no such section{did_you_mean(name, top) or '; known are ' + ', '.join(top)}",
                )
        self._sources(read.get("source", []))
        if "site" not in raw:
            self.wrong("[site]", 'is missing; it needs at least name = "..."')
        return read

    def _sources(self, entries: list[dict[str, Any]]) -> None:
        """What a source is the source of must be a section, a list or a key that there is."""
        known = [*SECTIONS, *LISTS]
        known += [
            f"{name}.{key}" for name, keys in {**SECTIONS, **LISTS}.items() for key in keys
        ] + [f"part.{key}" for keys in PART_KINDS.values() for key in keys]
        for number, entry in enumerate(entries, 1):
            for name in entry["of"] if "of" in entry else ():
                if without_numbers(name) not in known:
                    self.wrong(
                        f"[[source]] {number} of",
                        f"names '{one_line(name)}', which is no section and no key"
                        + (
                            did_you_mean(name, known)
                            or '; for example of = ["intake", "penstock.static_pressure"]'
                        ),
                    )

    # --- old names ------------------------------------------------------------------------------

    def _by_new_names(self, raw: dict[str, Any]) -> dict[str, Any]:
        """The same with what has another name since 0.2 under that; each is told once."""
        new = self._renamed("", raw, OLD_SECTIONS)
        for name, body in new.items():
            new[name] = self._keys_renamed(name, body)
        if isinstance(new.get("part"), list):
            new["part"] = [self._kind_renamed(each) for each in new["part"]]
        return new

    def _keys_renamed(self, name: str, body: Any) -> Any:
        """A section or list under the new names of its keys, and of the keys of its own lists."""
        if isinstance(body, list):
            return [self._keys_renamed(name, each) for each in body]
        if not isinstance(body, dict):
            return body
        old = {key: now for (section, key), now in OLD_KEYS.items() if section == name}
        new = self._renamed(name, body, old)
        for (section, key, word), now in OLD_WORDS.items():
            if section == name and new.get(key) == word:
                new[key] = now
                self._tell(f"{_heading(name)} {key}", f"'{word}'", now)
        return new

    def _renamed(self, name: str, body: dict[str, Any], old: dict[str, str]) -> dict[str, Any]:
        for each in [key for key in old if key in body]:
            now = old[each]
            if now in body:
                where = _heading(name) if name else f"[{each}]"
                self.wrong(where, f"has '{now}' and its old name '{each}'; keep {now}")
            self._tell(f"{_heading(name)} {each}" if name else f"[{each}]", f"'{each}'", now)
        return {
            old.get(key, key): value
            for key, value in body.items()
            if not (key in old and old[key] in body)
        }

    def _kind_renamed(self, part: Any) -> Any:
        kind = part.get("kind") if isinstance(part, dict) else None
        if not isinstance(kind, str) or kind not in OLD_KINDS:
            return part
        self._tell("[[part]] kind", f"the kind '{kind}'", OLD_KINDS[kind])
        return part | {"kind": OLD_KINDS[kind]}

    def _tell(self, where: str, old: str, now: str) -> None:
        told = (where, f"{old} is now called '{now}'; the old name is read until 0.3")
        if told not in self.renamed:
            self.renamed.append(told)

    # --- values ---------------------------------------------------------------------------------

    def _list(self, name: str, body: Any) -> list[dict[str, Any]]:
        if not isinstance(body, list) or not all(isinstance(each, dict) for each in body):
            needed = [
                f"{key} = {each.example}" for key, each in LISTS[name].items() if each.required
            ]
            needed += _kept_below(name, body)
            below = f", and below it {' and '.join(needed)}" if needed and name != "part" else ""
            self.wrong(
                f"[{name}]",
                Sentence(
                    "is a list; write {list} with two brackets for each entry{below}",
                    list=f"[[{name}]]",
                    below=in_both(below),
                ),
            )
            return []
        return [
            self._section(f"[[{name}]] {number}", entry, _keys(name, entry))
            for number, entry in enumerate(body, 1)
        ]

    def _section(
        self, where: str, body: dict[str, Any], keys: dict[str, Key], nested: Iterable[str] = ()
    ) -> dict[str, Any]:
        values = {}
        for name, value in body.items():
            if name not in keys:
                self.wrong(
                    where, f"has no key '{one_line(name)}'{_meant(name, where, [*keys, *nested])}"
                )
                continue
            try:
                values[name] = value_of(value, keys[name], f"{where} {name}")
            except UnitsError as error:
                self.wrong("", _with_example(error, name, keys[name]))
        for name, key in keys.items():
            if key.required and name not in body:
                self.wrong(
                    where,
                    Sentence(
                        "has no '{name}' ({meaning}); for example {name} = {example}",
                        name=name,
                        meaning=in_both(key.meaning),
                        example=in_both(key.example),
                    ),
                )
        return values


def _kept_below(name: str, body: Any) -> list[str]:
    """The key of a list's entry that a value is for which stands where the list should: a flow
    alone is a fixed residual flow."""
    if name != "rights.residual" or not isinstance(body, str):
        return []
    try:
        value_of(body, LISTS[name]["flow"], "")
    except UnitsError:
        return []
    return [f'flow = "{one_line(body)}"']


def _keys(name: str, entry: dict[str, Any]) -> dict[str, Key]:
    """The keys an entry of a list may have; those of a part are those of its kind."""
    kind = entry.get("kind")
    if name != "part" or not isinstance(kind, str):
        return LISTS[name]
    if kind in PART_KINDS:
        return {**LISTS[name], **PART_KINDS[kind]}
    # Only the kind is wrong, as long as nobody knows which is meant.
    return {**{each: Key(kind="any", meaning="") for each in entry}, **LISTS[name]}


def _heading(name: str) -> str:
    return f"[[{name}]]" if name in LISTS else f"[{name}]"


def _meant(name: str, where: str, known: list[str]) -> str:
    """What was meant by an unknown key: a key of another section, one of the section's own, or none."""
    section = where.strip("[").partition("]")[0]
    near, elsewhere = did_you_mean(name, known), belongs(name, section)
    if near and elsewhere:
        return f"{near} ({elsewhere.removeprefix('; ')})"
    return near or elsewhere or "; known are " + ", ".join(known)


def _with_example(error: UnitsError, name: str, key: Key) -> str | Sentence:
    """What is wrong with a value, and how it is written."""
    said = refusal(error)
    if isinstance(said, str):
        said = said.removesuffix('; write for example "42 m" or "138 ft"')
        if key.unit == "count":  # of such there is no unit to be told
            said = said.replace("is not a number with a unit", "is not a number")
    if not key.example or "for example" in str(said):
        return said
    return Sentence(
        "{said}; for example {name} = {example}",
        said=said,
        name=name,
        example=in_both(key.example),
    )
