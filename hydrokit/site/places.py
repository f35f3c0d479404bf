"""Every place in a site file where a key may stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import KW_ONLY, dataclass

from .keys import Key
from .schema import LISTS, PART_KINDS, SECTIONS

__all__ = ["Place", "belongs", "places"]


@dataclass(frozen=True)
class Place:
    """Where a key may stand."""

    section: str
    name: str
    key: Key
    _: KW_ONLY
    part: str = ""

    @property
    def heading(self) -> str:
        """As it is written in the file."""
        if self.part:
            return f'[[part]] of kind "{self.part}"'
        return f"[[{self.section}]]" if self.section in LISTS else f"[{self.section}]"


def places() -> Iterator[Place]:
    """Every key, wherever it may stand."""
    for section, keys in (*SECTIONS.items(), *LISTS.items()):
        yield from (Place(section, name, key) for name, key in keys.items())
    for kind, keys in PART_KINDS.items():
        yield from (Place("part", name, key, part=kind) for name, key in keys.items())


def belongs(name: str, section: str) -> str:
    """Where a key belongs that this section does not have; nothing where no other has it."""
    found = [each for each in places() if each.name == name and each.section != section]
    own = [each for each in found if each.section.startswith(f"{section}.")]
    headings = list(dict.fromkeys(each.heading for each in own or found))
    if not headings:
        return ""
    return f"; '{name}' belongs under {' or '.join(headings[:_NAMED])}"


_NAMED = 3  # places that are told of one name
