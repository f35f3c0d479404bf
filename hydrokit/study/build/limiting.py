"""The limiting component through the year: on what share of the days each part limits the power."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from .ladder import limiting

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["LimitingDays", "limiting_days"]

_ALIKE = 0.01  # of the power: two parts so near to each other limit it alike


@dataclass(frozen=True, eq=False, kw_only=True)
class LimitingDays(Result):
    """Which part limits the power, by month, and at the median usable flow.

    Parameters
    ----------
    by_month : dict of str to ndarray of 12
        Part -> share of the days of each month, the most frequent part first; 0 in months without a day.
    share : dict of str to float
        Part -> share of all time, in the same order.
    mean_of_known : dict of str to float
        Part -> mean share of the months that have a day.
    known_months : tuple of int
        Months that have a day.
    whole_record : bool
        Whether these are the days of a record; else one flow for each month that is known.
    median_flow_m3s : float
        Median usable flow.
    part, next_part : str
        Limiting component there, and the one that would limit next.
    behind_w : float
        How much more power there is until the next one limits.
    alike : bool
        Whether both limit alike, so that mending either alone brings nothing.
    """

    by_month: dict[str, np.ndarray]
    share: dict[str, float]
    mean_of_known: dict[str, float]
    known_months: tuple[int, ...]
    whole_record: bool
    median_flow_m3s: float
    part: str
    next_part: str
    behind_w: float
    alike: bool


def limiting_days(study: Study) -> LimitingDays | None:
    """The limiting component on the days of the record, or in the months whose flow is known; or None."""
    case, plant = study.base_case, study.plant
    if case is None or plant is None:
        return None
    usable, licence = case.water, np.broadcast_to(study.rights.licence_m3s, 12)
    if isinstance(usable, dict):
        flow, month = np.array(list(usable.values())), np.array(list(usable))
    else:
        known = usable.dropna()
        flow, month = known.to_numpy(), np.asarray(known.index.month)
    shares: dict[str, np.ndarray] = {}
    for each in range(1, 13):
        inside = month == each
        if not inside.any():
            continue
        if isinstance(usable, dict):
            days = Counter({limiting(study, each).part: 1})  # the month's own answer
        else:
            limit = plant.limiting_component(
                flow[inside], each, licence_m3s=float(licence[each - 1])
            )
            days = Counter(map(str, limit.part.tolist()))
        for part, count in sorted(days.items()):
            shares.setdefault(part, np.zeros(12))[each - 1] = count / inside.sum()
    shares = dict(sorted(shares.items(), key=lambda item: -float(item[1].sum())))
    total = sum(shares.values())
    whole, seen = float(np.sum(total)), np.asarray(total) > 0
    median = float(np.median(flow))
    at = int(np.argmin(np.abs(flow - median)))
    of = int(month[at])
    found = plant.limiting_component(np.array([median]), of, licence_m3s=float(licence[of - 1]))
    behind = float(found.behind_w[0])
    return LimitingDays(
        by_month=shares,
        share={part: float(share.sum()) / whole for part, share in shares.items()},
        mean_of_known={part: float(share[seen].mean()) for part, share in shares.items()},
        known_months=tuple(sorted({int(each) for each in month})),
        whole_record=not isinstance(usable, dict),
        median_flow_m3s=median,
        part=str(found.part[0]),
        next_part=str(found.next_part[0]),
        behind_w=behind,
        alike=behind < _ALIKE * float(found.power_w[0]),
    )
