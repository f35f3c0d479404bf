"""Questions on what the creek gives."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ..answer import Answer
from ..build import flow_regime, monthly_flow, one_gauging

if TYPE_CHECKING:
    from ..study import Study

QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "flow.median": flow_regime.median,
    "flow.lean": flow_regime.lean,
    "flow.mean": flow_regime.mean,
    "water.residual": monthly_flow.residual,
    "water.usable": monthly_flow.usable,
    "water.usable_mean": monthly_flow.usable_mean,
    "gauging.next": one_gauging.best_stage,
}
