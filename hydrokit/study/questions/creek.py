"""Questions on what the creek gives."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .. import water_site
from ..answer import Answer

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    "water.usable": water_site.usable,
    "water.usable_mean": water_site.usable_mean,
}
