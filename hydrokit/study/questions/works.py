"""Questions on the water's way: head, head loss, what each part passes, pressures, frost."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ..answer import Answer, Evidence
from ..build import capacity, ladder

if TYPE_CHECKING:
    from ..study import Study

_WITHIN = 1.645  # standard deviations either side hold 90 % of a normal distribution


def gross_head(study: Study) -> Answer | None:
    """Gross head, as levelled, from the profile, or by the gauge at rest."""
    head = study.head
    if head is None:
        return None
    reach = _WITHIN * (head.sd or 0.0)
    return Answer(
        "head.gross",
        head.value,
        "head",
        digits=4,
        low=head.value - reach,
        high=head.value + reach,
        evidence=Evidence.MEASURED_HERE,
        source="the head as measured",
    )


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "head.gross": gross_head,
    "limiting.component": ladder.component,
    "limiting.flow": ladder.component_flow,
    "limiting.next": ladder.next_component,
    **{f"limiting.month.{month}": ladder.component_in(month) for month in range(1, 13)},
    "capacity.intake": capacity.intake_capacity,
    "capacity.line": capacity.line_capacity,
}
