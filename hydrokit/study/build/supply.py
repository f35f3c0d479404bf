"""From a study to which of its jets to open when."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import sure
from ...plant.curve import STOPPED
from ...result import Result
from ...stream.days import days_of
from ...stream.months import DAYS_OF_MONTHS
from . import turbine
from . import year as build_year

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ...plant.curve import PlantCurve
    from ...plant.schedule import Schedule
    from ...site.schema import Site
    from ..study import Study

__all__ = ["JetPlan", "StageGroup", "jet_plan"]

MONTHS = np.arange(1, 13)
STAGE_APART_M = (
    0.01  # least difference between two stages that a staff gauge shows for sure, common practice
)


# --- which jets should stand open -----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class StageGroup:
    """Stages at which to change, in months that have the same rule on what must stay.

    Parameters
    ----------
    months : tuple of int
    down_m, up_m : ndarray
        One for each band of the schedule; NaN where there is no such change.
    beyond : ndarray of bool
        Bands one of whose stages lies beyond the gaugings.
    """

    months: tuple[int, ...]
    down_m: np.ndarray
    up_m: np.ndarray
    _: KW_ONLY
    beyond: np.ndarray


@dataclass(frozen=True, eq=False)
class JetPlan(Result):
    """Which jets should stand open: by flow, and by month.

    Parameters
    ----------
    schedule : Schedule
        With clean parts.
    gauge_pa, close_pa : dict of int to float
        By jets open: what the gauge shows while they are fed, and below which one fewer gives more.
    typical_m3s : ndarray of 12
        Usable flow of the median day of each month; NaN where not known.
    typical_from : str
        Where that comes from.
    jets : ndarray of int, 12
        Best then, with the screens as they are in that month; 0 where nothing runs.
    days : ndarray 12 × (jets + 1), or None
        Days of a mean month on which each number, none first, is best.
    habit : tuple
        Jets that stand open today by month, None where they follow the water; empty where no habit is told.
    held_kwh : dict of int to float
        Energy of a mean year with so many open all year; 0: with the best at each flow. Empty
        without a record.
    stages : tuple of StageGroup
    pond_s : float
        Time in which a full pond is drawn down when the last jet is open one step too early; NaN
        without a pond.
    too_many_w : float
        Power with all jets open on just the water for one step fewer; NaN where there is no such step.
    """

    schedule: Schedule
    gauge_pa: dict[int, float]
    close_pa: dict[int, float]
    _: KW_ONLY
    typical_m3s: np.ndarray
    typical_from: str
    jets: np.ndarray
    days: np.ndarray | None
    habit: tuple[int | None, ...]
    held_kwh: dict[int, float]
    stages: tuple[StageGroup, ...]
    pond_s: float
    too_many_w: float


def dead_band(site: Site) -> float:
    """Share more power that is worth the walk to the valves: for the table of jets and for the days
    of the year alike."""
    return site.operation.jet_dead_band


def jet_plan(study: Study) -> JetPlan | None:
    """The jet schedule of a study, or None without a plant, or with jets of several bores: their
    number does not say which."""
    from ...plant.schedule import jet_schedule

    if study.plant is None or len(set(getattr(study.plant.jets, "diameters_m", ()))) > 1:
        return None
    found = jet_schedule(study.plant, gain=dead_band(study.site))
    if not found.bands:
        return None
    free = study.plant.replace(schedule=())
    curves = free.curves()
    water = study.monthly_flow
    typical, source = (
        (np.full(12, np.nan), "") if water is None else (water.usable_m3s, water.sentence)
    )
    jets = np.array(
        [
            0 if np.isnan(flow) else int(_by_watts(curve, np.array([flow]))[0])
            for flow, curve in zip(typical, curves)
        ]
    )
    rows = () if study.card is None or not found.fixed else study.card.rows
    return JetPlan(
        found,
        {row.jets: row.pressure_pa for row in rows},
        {row.jets: row.close_pa for row in rows},
        typical_m3s=typical,
        typical_from=source,
        jets=jets,
        days=_days(study, curves),
        habit=turbine.schedule(study.site),
        held_kwh=_held(study, free) if found.fixed else {},
        stages=_stages(study, found),
        pond_s=_pond(study, found),
        too_many_w=_too_many(free, found),
    )


def _days(study: Study, curves: Any) -> np.ndarray | None:
    """Days of each mean month with each number of jets best."""
    if study.usable is None:
        return None
    known = sure(build_year.taken(study)).dropna()
    month, most = (
        days_of(known).month.to_numpy(),
        max(int(curve.jets_open.max()) for curve in curves),
    )
    days = np.full((12, most + 1), np.nan)
    lengths = np.array(DAYS_OF_MONTHS)
    for place, curve in enumerate(curves):
        flow = known.to_numpy()[month == place + 1]
        if len(flow):
            days[place] = (
                np.bincount(_by_watts(curve, flow), minlength=most + 1) / len(flow) * lengths[place]
            )
    return days


def _by_watts(curve: PlantCurve, flow_m3s: np.ndarray) -> np.ndarray:
    """Jets that give most at each flow; none where nothing gives a watt."""
    return np.where(curve.state_si(flow_m3s) == STOPPED, 0, curve.jets_si(flow_m3s))


def _held(study: Study, free: Chain) -> dict[int, float]:
    """Energy of a mean year by jets held open; 0: the best at each flow."""
    from ...energy.year import annual_energy

    if study.year is None:
        return {}
    habits = {0: (), **{count: (count,) * 12 for count in range(1, free.jets.count + 1)}}
    return {
        count: float(
            annual_energy(
                sure(build_year.taken(study)),
                free.replace(schedule=habit).curves(),
                build_year.outages(study.site),
            ).annual_kwh
        )
        for count, habit in habits.items()
    }


def _stages(study: Study, found: Schedule) -> tuple[StageGroup, ...]:
    """Stages at which to change; none without a rating."""
    from ...stream.rating_curve import rating_stage

    if study.rating is None:
        return ()
    rights = study.rights
    groups: dict[tuple[float, float, float], list[int]] = {}
    for place in range(12):
        groups.setdefault(
            (rights.keep_m3s[place], rights.share_left[place], rights.hands_off_m3s[place]), []
        ).append(place + 1)
    usable = np.array([[band.down_m3s, band.up_m3s] for band in found.bands])
    made = []
    for (keep, share, off), months in groups.items():
        if share >= 1:
            continue
        # natural flow that leaves so much for use: the rule of rights.usable_si, read backwards
        natural = np.maximum(
            np.maximum(usable + keep, usable / (1 - share)), np.where(np.isnan(usable), np.nan, off)
        )
        natural = np.where(
            usable <= min(study.rights.licence_m3s[month - 1] for month in months), natural, np.nan
        )
        stage = np.full(usable.shape, np.nan)
        known = np.isfinite(natural)
        stage[known] = rating_stage.si(natural[known], study.rating)
        beyond = np.zeros(usable.shape, dtype=bool)
        beyond[known] = study.rating.extrapolated(stage[known])
        _widen(stage)
        if known.any():
            made.append(
                StageGroup(
                    tuple(months), stage[:, 0], stage[:, 1], beyond=np.asarray(beyond.any(axis=1))
                )
            )
    return tuple(made)


def _widen(stage: np.ndarray) -> None:
    """Draw changing down and up between the same two bands apart, so that a staff gauge can tell
    them apart."""
    up, down = stage[:-1, 1], stage[1:, 0]
    lacking = np.maximum(STAGE_APART_M - (up - down), 0.0) / 2
    stage[:-1, 1], stage[1:, 0] = up + lacking, down - lacking


def _too_many(free: Chain, found: Schedule) -> float:
    """Power with the last jet opened one step too early."""
    if len(found.bands) < 2 or not np.isfinite(found.bands[-2].fed_m3s):
        return np.nan
    return float(free.at_si(found.bands[-2].fed_m3s, jets=found.bands[-1].jets).power_w)


def _pond(study: Study, found: Schedule) -> float:
    """How long a full pond feeds the last jet opened, when only the jets before it are fed."""
    volume = sum(
        entry["area"] * entry["depth"] for entry in study.site["part"] if entry["kind"] == "forebay"
    )
    if not volume or len(found.bands) < 2:
        return np.nan
    return volume / max(found.bands[-1].used_m3s - found.bands[-2].used_m3s, 1e-9)
