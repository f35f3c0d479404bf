"""Questions on the plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .. import water_site
from ..answer import Answer

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {"jets.open": water_site.jets_open}
