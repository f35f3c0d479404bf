"""A section of the site file as it was read: frozen, its keys typed attributes, their defaults from
the schema."""

from __future__ import annotations

import keyword
import tomllib
from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import TYPE_CHECKING, Any, ClassVar, Self, dataclass_transform, get_args

from .keys import Key
from .values import value_of

if TYPE_CHECKING:
    from ..files import Entries

__all__ = ["Section"]


class _LeftOut:
    """A key's default in SI, or None. A section asks for it only where it holds no value of its own."""

    def __init__(self, key: Key) -> None:
        self.key = key

    def __get__(self, section: Any, owner: type) -> Any:
        return self.key if section is None else self.value

    @cached_property
    def value(self) -> Any:
        if not self.key.default:
            return None
        written = tomllib.loads(f"x = {self.key.default}")["x"]
        return () if written == [] else value_of(written, self.key, "default")


@dataclass_transform(kw_only_default=True, frozen_default=True, eq_default=False)
class Section(Mapping[str, Any]):
    """What stands under one heading of the site file.

    ``section.life`` is the value in SI, or the schema's default where the site file does not give
    it; ``section.given("life")`` says whether it does. As a mapping a section holds only what the
    site file gives: ``section["life"]``, ``"life" in section``, ``section.items()``. A key that is
    a word of Python has a line under it: ``stretch.from_``.
    """

    schema: ClassVar[dict[str, Key]] = {}
    """Name of each key in the site file -> what is known of it."""
    lists: ClassVar[Entries] = {}
    """Name of each list that belongs to the section, such as the pipes of the penstock -> type of
    its entries."""

    page: ClassVar[str] = ""
    """The notebook in which its keys count most; empty where they count everywhere."""

    def __init_subclass__(cls, page: str = "") -> None:
        cls.page = page or cls.page
        cls.schema, cls.lists = dict(cls.schema), dict(cls.lists)
        for name, annotation in cls.__dict__.get("__annotations__", {}).items():
            held = cls.__dict__[name]
            if isinstance(held, Key):
                # As a text it would tell no choices: a module with sections imports no annotations
                # from the future.
                assert not isinstance(annotation, str), f"{cls.__name__}.{name}"
                key = held.typed(annotation)
                setattr(cls, name, _LeftOut(key))
                cls.schema[name.rstrip("_")] = key
            elif held == ():
                cls.lists[name] = get_args(annotation)[0]

    def __init__(self, **values: object) -> None:
        given = {_attribute(name): value for name, value in values.items() if value is not None}
        if unknown := given.keys() - self._attributes():
            raise TypeError(f"{type(self).__name__} has no key {', '.join(sorted(unknown))}")
        vars(self).update(given)

    def given(self, key: str) -> bool:
        """Whether the site file gives this key."""
        if _attribute(key) not in self._attributes():
            raise KeyError(f"{type(self).__name__} has no key {key}")
        return _attribute(key) in vars(self)

    def changed(self, **values: object) -> Self:
        """The same with other values in SI; None takes a key out."""
        return type(self)(**(vars(self) | values))

    @classmethod
    def _attributes(cls) -> set[str]:
        return {_attribute(name) for name in cls.schema} | {*cls.lists}

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"a section is frozen; take section.changed({name}=...)")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"a section is frozen; take section.changed({name}=None)")

    def __getitem__(self, key: str) -> Any:
        if key in self.lists:
            raise KeyError(key)
        return vars(self)[_attribute(key)]

    def __iter__(self) -> Iterator[str]:
        return (name.rstrip("_") for name in vars(self) if name not in self.lists)

    def __len__(self) -> int:
        return sum(name not in self.lists for name in vars(self))

    def __eq__(self, other: object) -> bool:
        if isinstance(other, Section):
            return type(self) is type(other) and vars(self) == vars(other)
        return super().__eq__(other)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        told = ", ".join(f"{name}={value!r}" for name, value in vars(self).items())
        return f"{type(self).__name__}({told})"


def _attribute(key: str) -> str:
    """The attribute of a key: the same name, with a line under it where Python has that word for itself."""
    return f"{key}_" if keyword.iskeyword(key) or key == "float" else key
