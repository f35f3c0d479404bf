"""What every part from creek to jets lets through, and which of them limits in each month."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...errors import HydrokitError
from ...stream.months import MONTH_NAMES as MONTHS
from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ...plant.operation import Passage
    from ..study import Study

__all__ = [
    "LEFT_OPEN",
    "MONTHS",
    "NO_PART",
    "LimitingPart",
    "Rung",
    "limiting",
    "component",
    "component_flow",
    "component_in",
    "month_groups",
    "next_component",
    "openings",
    "rungs",
]


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
    _: KW_ONLY
    worst_m3s: float
    worst_clogged: float = 0.0
    worst_month: int | None = None
    may_block: float | None = None
    low_m3s: float | None = None
    remark: str = ""
    lost_m3s: float = 0.0


def _plant(study: Study) -> Chain:
    """The plant, of which the ladder tells."""
    if study.plant is None:
        raise HydrokitError(
            "what limits the plant cannot be told: the plant is not described; give head, penstock and jets"
        )
    return study.plant


def rungs(study: Study) -> tuple[Rung, ...]:
    """Creek, parts above the pond and jets, in the order in which the water meets them."""
    from ...plant.chain import Passage, state_of
    from ...works.diversion import DiversionLine
    from ...works.rated import as_built
    from ...works.screen_parts import blocked_share

    plant, full = _plant(study), float(study.full_flow_m3s or 0.0)
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
        if (
            isinstance(part, DiversionLine)
            and study.line_air is not None
            and study.line_air.filling.stalls_m is not None
        ):
            remark = (
                "filled from the top it stalls"
                if limit == 0
                else "as it was seen to run; filled from the top it stalls"
            )
        elif getattr(part, "share_lost", 0.0) > 0:
            remark = f"loses {100 * part.share_lost:.0f} % of what it carries"
        clogged = float(state_of(plant.state_in(month + 1), part).clogged)
        worst = None if len(set(by_month)) == 1 else month + 1
        made.append(
            Rung(
                part.name,
                type(as_built(part)).__name__,
                limit,
                worst_m3s=by_month[month],
                worst_clogged=clogged,
                worst_month=worst,
                may_block=may,
                low_m3s=None,
                remark=remark,
                lost_m3s=getattr(part, "lost_m3s", 0.0),
            )
        )
    made.append(
        Rung(
            _jets(plant),
            "jets",
            full,
            worst_m3s=full,
            remark=f"{plant.jets.count} open" if plant.jets.count > 1 else "",
        )
    )
    return tuple(made)


def _creek(study: Study, passage: Passage) -> list[Rung]:
    """What the creek offers and the licence lets be taken: by the record low water and half the
    days, else lowest and highest gauging."""
    made, licence = [], _licence(study)
    if study.usable is not None:
        usable = study.usable.dropna().to_numpy()
        low, half = (
            float(passage.leaves_si(np.quantile(usable, share))) for share in (LOW_WATER, 0.5)
        )
        none = DAYS_A_YEAR * float(np.mean(usable <= 0))
        told = (
            f"what may be taken: on all but {DAYS_A_YEAR * LOW_WATER:.0f} days, and on half the "
            "days of a year"
        )
        made.append(
            Rung(
                "creek",
                "record",
                half,
                worst_m3s=half,
                low_m3s=low,
                remark=told + (f"; on {none:.0f} days nothing may be taken" if none >= 0.5 else ""),
            )
        )
    elif study.gaugings is not None:
        low, high = (
            float(passage.leaves_si(each))
            for each in (study.gaugings.flow_m3s.min(), study.gaugings.flow_m3s.max())
        )
        made.append(
            Rung(
                "creek",
                "gauged",
                high,
                worst_m3s=high,
                low_m3s=low,
                remark="lowest and highest gauging, residual flow included",
            )
        )
    if np.isfinite(licence).any():
        limits = passage.leaves_si(licence)
        worst = None if np.ptp(limits) == 0 else int(np.argmin(limits)) + 1
        made.append(
            Rung(
                "licence",
                "licence",
                float(np.max(limits)),
                worst_m3s=float(np.min(limits)),
                worst_clogged=0.0,
                worst_month=worst,
                remark="largest flow that the licence lets you take",
            )
        )
    return made


LOW_WATER, DAYS_A_YEAR = 0.05, 365.25


def _licence(study: Study) -> np.ndarray:
    """Greatest flow that may be taken in each month; infinite where that is not limited."""
    return np.broadcast_to(np.asarray(study.rights.licence_m3s, dtype=float), 12)


@dataclass(frozen=True, eq=False)
class LimitingPart:
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
        With the jets left open as the site file says; and what is to be won until the next part limits.
    best_jets, best_w : int, float
        The number of jets that gives most, and that power.
    jets_bind : bool
    creek_m3s : float or None
        What may be taken on the median day of the month, where it is known.
    least_above, least_above_m3s : str, float
        The part above the jets that passes least; empty and infinite where none limits.
    """

    month: int | None
    part: str
    next_part: str
    _: KW_ONLY
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


LEFT_OPEN = "number of jets left open"
NO_PART = ("creek", "licence", LEFT_OPEN)  # what limits without being a part of the plant
_PLENTY = 1e3  # m³/s: more than any plant here takes


def limiting(study: Study, month: int | None = None) -> LimitingPart:
    """The part that limits the plant in a month, or with all clean and water enough; no more is
    taken than the licence lets.

    In a month of which only the jets tell, it is the jets left open that limited what came through.
    """
    plant, water = _plant(study), study.monthly_flow
    licence = float(np.max(_licence(study)) if month is None else _licence(study)[month - 1])
    creek = (
        None
        if month is None or water is None or np.isnan(water.usable_m3s[month - 1])
        else float(water.usable_m3s[month - 1])
    )
    offered = min(_PLENTY if creek is None else creek, licence)
    found = plant.limiting_component(np.array([offered]), month, licence_m3s=licence)
    if creek is None:  # with water enough it is no limit
        kept_rows = [row for row, name in enumerate(found.parts) if name != "creek"]
        found = replace(
            found,
            parts=tuple(found.parts[row] for row in kept_rows),
            limit_w=found.limit_w[kept_rows],
            reach_m3s=found.reach_m3s[kept_rows],
        )
    passage, limits = plant.reaching_si(month)
    flows = {name: float(limit) for name, limit in limits.items()}
    least = min(flows, key=lambda name: flows[name], default="")
    least_flow = flows.get(least, np.inf)
    flows.update(
        {
            "creek": float(passage.leaves_si(offered)),
            "licence": float(passage.leaves_si(licence)),
            _jets(plant): float(np.max(plant.running(month).full_m3s)),
        }
    )
    part, following = str(found.part[0]), str(found.next_part[0])
    best = plant.replace(schedule=()).at_si(offered, month)
    if part == "creek" and month is not None and water is not None and water.at_least[month - 1]:
        part = (
            _jets(plant)
            if best.jets_open == max(opening.count for opening in plant.jets.openings())
            else LEFT_OPEN
        )
        others = [
            found.parts[row]
            for row in np.argsort(found.limit_w[:, 0], kind="stable")
            if found.parts[row] not in ("creek", _jets(plant))
        ]
        following = others[0] if part == _jets(plant) else following
    return LimitingPart(
        month,
        part,
        following,
        flow_m3s=min(flows.values()),
        next_m3s=flows.get(following),
        power_w=float(found.power_w[0]),
        behind_w=float(found.behind_w[0]),
        best_jets=int(best.jets_open) if best.power_w > 0 else 0,
        best_w=float(best.power_w),
        jets_bind=part == _jets(plant),
        creek_m3s=creek,
        least_above=least if np.isfinite(least_flow) else "",
        least_above_m3s=least_flow,
    )


def _jets(plant: Chain) -> str:
    from ...plant.parts import part_name

    return part_name(plant.jets)


def openings(study: Study) -> list[tuple[int, float]]:
    """How many jets, and the flow they take when fed, whatever number is left open by habit."""
    running = _plant(study).replace(schedule=()).running()
    return [
        (opening.count, float(flow)) for opening, flow in zip(running.openings, running.full_m3s)
    ]


def month_groups(study: Study) -> tuple[tuple[int, ...], ...]:
    """Months that are alike: each alone where the creek's flow is known in any, else those of one state."""
    return (
        tuple((month,) for month in range(1, 13))
        if study.monthly_flow is not None
        else _plant(study).alike()
    )


# --- the answers ----------------------------------------------------------------------------


def component(study: Study) -> Answer | None:
    """The component that limits the plant, all clean and with water enough, under the licence."""
    return (
        None if study.plant is None else _answer("limiting.component", limiting(study).part, "text")
    )


def component_flow(study: Study) -> Answer | None:
    """Flow that the limiting component lets reach the jets."""
    return (
        None if study.plant is None else _answer("limiting.flow", limiting(study).flow_m3s, "flow")
    )


def next_component(study: Study) -> Answer | None:
    """What would limit the plant next."""
    return (
        None if study.plant is None else _answer("limiting.next", limiting(study).next_part, "text")
    )


def component_in(month: int) -> Callable[[Study], Answer | None]:
    """The question for the limiting component of a month."""

    def ask(study: Study) -> Answer | None:
        if (
            study.plant is None
            or study.monthly_flow is None
            or np.isnan(study.monthly_flow.usable_m3s[month - 1])
        ):
            return None
        return _answer(f"limiting.month.{month}", limiting(study, month).part, "text")

    return ask


def _answer(key: str, value: float | str, kind: str) -> Answer:
    return Answer(
        key,
        value,
        kind,
        digits=3,
        evidence=Evidence.CALCULATED,
        source="what each part alone lets through",
    )
