"""Questions on the plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ..answer import Answer
from ..build import healthy, monthly_flow

if TYPE_CHECKING:
    from ..study import Study

QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    **healthy.QUESTIONS,
    "jets.open": monthly_flow.jets_open,
}
