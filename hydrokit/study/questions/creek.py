"""Questions on what the creek gives."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..answer import Answer
from ..build import monthly_flow

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    "water.usable": monthly_flow.usable,
    "water.usable_mean": monthly_flow.usable_mean,
}
