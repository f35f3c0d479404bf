"""Questions on frost: how long still water has, stretch by stretch, and the days of frazil weather."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..answer import Answer

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {}
