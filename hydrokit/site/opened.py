"""A study as far as this room sees it, for those of its modules that a study calls with itself."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from .field_visits import Visit
    from .schema import Site
    from .sheets import Folder

__all__ = ["Opened"]


class _Value(Protocol):
    @property
    def value(self) -> float: ...


class Opened(Protocol):
    """Its folder and site file, what lies beside them, and what the sheets told."""

    @property
    def path(self) -> Path: ...
    @property
    def site(self) -> Site: ...
    @property
    def folder(self) -> Folder: ...
    @property
    def visits_gauged(self) -> tuple[Visit, ...]: ...
    @property
    def head(self) -> _Value | None: ...
    @property
    def sketch(self) -> object | None: ...
