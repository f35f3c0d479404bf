"""What every part from creek to jets lets through, and which of them binds in each month."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .style import MONTH_NAMES as MONTHS

__all__ = ["MONTHS", "Binder", "Rung", "binding", "month_groups", "openings", "rungs"]


@dataclass(frozen=True, eq=False)
class Rung:
    """One part of the water's way. Flows are those that reach the jets.

    Parameters
    ----------
    name, kind : str
    clean_m3s : float
        Infinite for a part that limits nothing.
    worst_m3s, worst_clogged : float
        In the month in which it passes least.
    worst_month : int or None
        None: every month alike.
    may_block : float or None
        Share of its openings that may be blocked before the open jets starve; NaN where it passes
        too little even clean, None for a part without openings.
    low_m3s : float or None
        Of the creek: its low water.
    remark : str
        In metric units.
    lost_m3s : float
        That leaves it on the way whatever it carries.
    """

    name: str
    kind: str
    clean_m3s: float
    worst_m3s: float
    worst_clogged: float = 0.0
    worst_month: int | None = None
    may_block: float | None = None
    low_m3s: float | None = None
    remark: str = ""
    lost_m3s: float = 0.0


def rungs(study: Any) -> tuple[Rung, ...]:
    """Creek, parts above the pond and jets, in the order in which the water meets them."""
    from ..plant.chain import Passage, state_of
    from ..works.diversion import DiversionLine
    from ..works.rated import as_built
    from ..works.screen_parts import blocked_share

    plant, full = study.plant, study.full_flow_m3s
    passage, clean = plant.reaching_si()
    monthly = [plant.reaching_si(month)[1] for month in range(1, 13)]
    made = _creek(study, passage)
    for place, part in enumerate(plant.supply):
        limit, by_month = float(clean[part.name]), [float(each[part.name]) for each in monthly]
        month = int(np.argmin(by_month))
        may = None
        if not isinstance(part, DiversionLine) and np.isfinite(limit):
            below = functools.reduce(Passage.through, plant.supply[place + 1 :], Passage())
            may = float(blocked_share(part, float(below.needs_si(full))))
        remark = ""
        if isinstance(part, DiversionLine) and study.line_air is not None and study.line_air.filling.stalls_m is not None:
            remark = "filled from the top it stalls" if limit == 0 else "as it was seen to run; filled from the top it stalls"
        elif getattr(part, "share_lost", 0.0) > 0:
            remark = f"loses {100 * part.share_lost:.0f} % of what it carries"
        clogged = float(state_of(plant.state_in(month + 1), part).clogged)
        worst = None if len(set(by_month)) == 1 else month + 1
        made.append(Rung(part.name, type(as_built(part)).__name__, limit, by_month[month], clogged, worst, may, None, remark, getattr(part, "lost_m3s", 0.0)))
    made.append(Rung(_jets(plant), "jets", full, full, remark=f"{plant.jets.count} open" if plant.jets.count > 1 else ""))
    return tuple(made)


def _creek(study: Any, passage: Any) -> list[Rung]:
    """What the creek offers: by its record low water and half the days, else lowest and highest gauging."""
    if study.usable is not None:
        usable = study.usable.dropna().to_numpy()
        low, half = (float(passage.leaves_si(np.quantile(usable, share))) for share in (0.05, 0.5))
        return [Rung("creek", "record", half, half, low_m3s=low, remark="what may be taken: on all but 18 days, and on half the days of a year")]
    if study.gaugings is not None:
        low, high = (float(passage.leaves_si(each)) for each in (study.gaugings.flow_m3s.min(), study.gaugings.flow_m3s.max()))
        return [Rung("creek", "gauged", high, high, low_m3s=low, remark="lowest and highest gauging")]
    return []


@dataclass(frozen=True, eq=False)
class Binder:
    """What limits the plant in one month, and what would limit it next.

    Parameters
    ----------
    month : int or None
        None: all clean, water enough.
    part, next_part : str
    flow_m3s : float
        That reaches the jets and is taken by them.
    next_m3s : float or None
        That the next part lets reach the jets; None where it does not limit the water.
    power_w, behind_w : float
        With the jets left open as the site file says; and what is to be won until the next part binds.
    best_jets, best_w : int, float
        The number of jets that gives most, and that power.
    jets_bind : bool
    creek_m3s : float or None
        What the creek offers to be taken on half the days of the month, where it is known.
    least_above, least_above_m3s : str, float
        The part above the jets that passes least; empty and infinite where none limits.
    """

    month: int | None
    part: str
    next_part: str
    flow_m3s: float
    next_m3s: float | None
    power_w: float
    behind_w: float
    best_jets: int
    best_w: float
    jets_bind: bool
    creek_m3s: float | None = None
    least_above: str = ""
    least_above_m3s: float = np.inf


_PLENTY = 1e3  # m³/s: more than any plant here takes


def binding(study: Any, month: int | None = None) -> Binder:
    """The part that limits the plant in a month, or with all clean and water enough."""
    plant = study.plant
    creek = None if month is None else _monthly_creek(study, month)
    offered = _PLENTY if creek is None else creek
    found = plant.what_binds(np.array([offered]), month)
    if creek is None:  # with water enough it is no limit
        kept_rows = [row for row, name in enumerate(found.parts) if name != "creek"]
        found = replace(found, parts=tuple(found.parts[row] for row in kept_rows), limit_w=found.limit_w[kept_rows])
    passage, limits = plant.reaching_si(month)
    flows = {name: float(limit) for name, limit in limits.items()}
    least = min(flows, key=flows.get, default="")
    least_flow = flows.get(least, np.inf)
    flows.update({"creek": float(passage.leaves_si(offered)), _jets(plant): float(np.max(plant.running(month).full_m3s))})
    part, following = str(found.part[0]), str(found.next_part[0])
    best = plant.replace(schedule=()).at_si(offered, month)
    return Binder(
        month, part, following, min(flows.values()), flows.get(following), float(found.power_w[0]), float(found.behind_w[0]), int(best.jets_open), float(best.power_w),
        part == _jets(plant), creek, least if np.isfinite(least_flow) else "", least_flow,
    )  # fmt: skip


def _jets(plant: Any) -> str:
    from ..plant.parts import part_name

    return part_name(plant.jets)


def openings(study: Any) -> list[tuple[int, float]]:
    """How many jets, and the flow they take when fed, whatever number is left open by habit."""
    running = study.plant.replace(schedule=()).running()
    return [(opening.count, float(flow)) for opening, flow in zip(running.openings, running.full_m3s)]


def _monthly_creek(study: Any, month: int) -> float | None:
    if study.usable is None:
        return None
    usable = study.usable.dropna()
    here = usable[usable.index.month == month]
    return float(here.median()) if len(here) else None


def month_groups(study: Any) -> tuple[tuple[int, ...], ...]:
    """Months that are alike: each alone where the creek's flow is known, else those of one state."""
    return tuple((month,) for month in range(1, 13)) if study.usable is not None else study.plant.alike()
