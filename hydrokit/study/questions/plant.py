"""Questions on the plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..answer import Answer
from ..build import healthy, monthly_flow

QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    **healthy.QUESTIONS,
    "jets.open": monthly_flow.jets_open,
}
