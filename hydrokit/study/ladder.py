"""What every part from creek to jets lets through, and which of them binds in each month."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .style import MONTH_NAMES as MONTHS

__all__ = ["MONTHS", "Binder", "Rung", "binding", "month_groups", "rungs"]


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
    worst_month : int
    may_block : float or None
        Share of its openings that may be blocked before the open jets starve; NaN where it passes
        too little even clean, None for a part without openings.
    low_m3s : float or None
        Of the creek: its low water.
    remark : str
        In metric units.
    """

    name: str
    kind: str
    clean_m3s: float
    worst_m3s: float
    worst_clogged: float = 0.0
    worst_month: int = 1
    may_block: float | None = None
    low_m3s: float | None = None
    remark: str = ""


def rungs(study: Any) -> tuple[Rung, ...]:
    """Creek, parts above the pond and jets, in the order in which the water meets them."""
    from ..plant.chain import state_of
    from ..works.diversion import DiversionLine
    from ..works.screen_parts import blocked_share

    plant, full = study.plant, study.full_flow_m3s
    kept, clean = plant.reaching_si()
    monthly = [plant.reaching_si(month)[1] for month in range(1, 13)]
    made = _creek(study, kept)
    for part in plant.supply:
        limit, by_month = float(clean[part.name]), [float(each[part.name]) for each in monthly]
        month = int(np.argmin(by_month))
        below, may = limit / float(part.capacity_si()) if np.isfinite(limit) else kept, None
        if not isinstance(part, DiversionLine) and np.isfinite(limit):
            may = float(blocked_share(part, full / below))
        remark = ""
        if isinstance(part, DiversionLine) and study.line_air is not None and study.line_air.filling.stalls_m is not None:
            remark = "once it runs full; filled from the top it stalls"
        elif getattr(part, "share_lost", 0.0) > 0:
            remark = f"loses {100 * part.share_lost:.0f} % of what it carries"
        clogged = float(state_of(plant.state_in(month + 1), part).clogged)
        made.append(Rung(part.name, type(part).__name__, limit, by_month[month], clogged, month + 1, may, None, remark))
    jets = "jets" if hasattr(plant.jets, "diameters_m") else "turbine"
    made.append(Rung(jets, "jets", full, full, remark=f"{plant.jets.count} open" if jets == "jets" else ""))
    return tuple(made)


def _creek(study: Any, kept: float) -> list[Rung]:
    """What the creek offers: by its record low water and half the days, else lowest and highest gauging."""
    if study.usable is not None:
        usable = study.usable.dropna().to_numpy()
        low, half = (float(np.quantile(usable, share)) * kept for share in (0.05, 0.5))
        return [Rung("creek", "record", half, half, low_m3s=low, remark="what may be taken: on all but 18 days, and on half the days of a year")]
    if study.gaugings is not None:
        low, high = float(study.gaugings.flow_m3s.min()) * kept, float(study.gaugings.flow_m3s.max()) * kept
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
        `next_part` is empty where nothing else is known to limit.
    flow_m3s, next_m3s : float
        That reach the jets.
    power_w, behind_w : float
        With the best number of jets open; and what is to be won until the next part binds.
    all_open_w : float
        With every jet open.
    jets_open : int
    jets_bind : bool
    creek_m3s : float or None
        What the creek offers to be taken on half the days of the month, where it is known.
    """

    month: int | None
    part: str
    next_part: str
    flow_m3s: float
    next_m3s: float
    power_w: float
    behind_w: float
    all_open_w: float
    jets_open: int
    jets_bind: bool
    creek_m3s: float | None = None


def binding(study: Any, month: int | None = None) -> Binder:
    """The part that limits the plant in a month, or with all clean and water enough.

    Water limits are compared as flows that reach the jets. Where the jets themselves bind, what is
    to be won is reckoned with jets of the best size, up to what the penstock can bring.
    """
    plant = study.plant
    running = plant.running(month)
    kept, limits = plant.reaching_si(month)
    limits = {name: float(limit) for name, limit in limits.items() if np.isfinite(limit)}
    creek = None if month is None else _monthly_creek(study, month)
    if creek is not None:
        limits["creek"] = creek * kept
    full, jets = float(np.max(running.full_m3s)), "jets" if hasattr(plant.jets, "diameters_m") else "turbine"
    order = sorted({**limits, jets: full}.items(), key=lambda each: each[1])
    (part, flow), (next_part, next_flow) = order[0], order[1] if len(order) > 1 else ("", np.inf)
    settled = replace(running, capacity_m3s=flow, kept=1.0).at_si(1e3)
    everything = replace(running, capacity_m3s=flow, kept=1.0, openings=running.openings[-1:], full_m3s=running.full_m3s[-1:]).at_si(1e3)
    if part == jets:
        gained = _with_more_jets(study, min(next_flow, 1e3)) if next_part else float(settled.power_w)
    else:
        gained = float(replace(running, capacity_m3s=next_flow, kept=1.0).at_si(1e3).power_w)
    return Binder(
        month, part, next_part, flow, next_flow, float(settled.power_w), max(gained - float(settled.power_w), 0.0), float(everything.power_w),
        int(settled.jets_open), part == jets, creek,
    )  # fmt: skip


def _with_more_jets(study: Any, flow_m3s: float) -> float:
    """Power in W at a flow if the jets took just that, in the efficiency of full flow."""
    from ..water import GRAVITY

    plant = study.plant
    used = float(plant.penstock.most_power_flow_si(flow_m3s))
    shaft = plant.density_kgm3 * GRAVITY * used * max(float(plant.penstock.head_si(used)), 0.0) * float(plant.runner.efficiency_si(1.0))
    return float(plant.net_si(shaft))


def _monthly_creek(study: Any, month: int) -> float | None:
    if study.usable is None:
        return None
    usable = study.usable.dropna()
    here = usable[usable.index.month == month]
    return float(here.median()) if len(here) else None


def month_groups(study: Any) -> tuple[tuple[int, ...], ...]:
    """Months that are alike: each alone where the creek's flow is known, else those of one state."""
    return tuple((month,) for month in range(1, 13)) if study.usable is not None else study.plant.alike()
