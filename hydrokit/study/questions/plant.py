"""Questions on the plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .. import plant_site, water_site
from ..answer import Answer

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    **plant_site.QUESTIONS,
    "jets.open": water_site.jets_open,
}
