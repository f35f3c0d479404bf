"""Questions on the plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..answer import Answer

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {}
