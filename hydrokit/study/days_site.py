"""From a study to its days walked one by one: habits, frost, pond, and what each costs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from . import site as build

__all__ = ["DayByDay", "day_by_day"]

FREEZES_BELOW_K, THAWS_ABOVE_K, THAW_DAYS = 270.15, 273.15, 5  # common practice for a shallow or bare pipe; the thaw as the page on winter has it
_LEAST_POND = 0.01  # of a day's full flow: a smaller pond carries nothing from day to day


@dataclass(frozen=True, eq=False)
class DayByDay:
    """The year with its memory.

    Parameters
    ----------
    habits : Habits
    remembered : Remembered
    stops : StopCosts or None
        What one stop costs; None without air temperatures on every day of the record.
    pond_m3 : float
        Volume of the pond that may be drawn; 0 where there is none.
    pond_s : float
        How long it feeds the jets at full flow, nothing coming.
    chosen : tuple of str
        Memories that the site file speaks of: ``"ramp"``, ``"jets"``, ``"pond"``, ``"frost"``.
    """

    habits: Any
    remembered: Any
    stops: Any
    pond_m3: float
    pond_s: float
    chosen: tuple[str, ...]


def day_by_day(study: Any) -> DayByDay | None:
    """The record walked day by day; None without a year."""
    from ..energy.memory import remember, stop_costs

    if study.year is None:
        return None
    usable = _usable(study)
    air, out = _air(study, usable), build.outages(study.site)
    pond_m3, full_m3s = _pond_m3(study), float(study.plant.running().at_si(1e3).used_m3s)
    told = study.site["operation"]
    habits = study.folder.sentence("[operation]", lambda: _habits(study, pond_m3 if pond_m3 > _LEAST_POND * 86400 * full_m3s else 0.0))
    frosty = air is not None and ("stops_per_winter" in told or told.get("starved_freezes", False))
    walked = habits if frosty else replace(habits, freezes_below_degc=-np.inf)
    found = remember(usable, study.plant, walked, air, told.get("stops_per_winter", 0.0), out, demand_w=study.demand_w)
    stops = None if air is None else stop_costs(usable, study.plant, habits, air, out)
    return DayByDay(habits, found, stops, pond_m3, pond_m3 / full_m3s if full_m3s > 0 else np.inf, tuple(found.cost_kwh))


def _usable(study: Any) -> Any:
    """Usable flow, a ramp not yet counted: the walk counts it. Capped where the cap saves water for later, not where a pond takes what the jets leave."""
    from ..plant.curve import most_taken

    saves = np.isfinite(study.rights.volume_m3)
    return replace(study.rights, ramp_m3s_per_day=np.inf).usable_series(study.record, most_taken(study.plant.curves()) if saves else np.inf)


def _habits(study: Any, pond_m3: float) -> Any:
    from ..energy.days import Habits

    told, zero = study.site["operation"], 273.15
    freezes = told.get("freezes_below", FREEZES_BELOW_K)
    return Habits(
        told.get("jet_dead_band", 0.0), int(told.get("visit_days", 1)), study.rights.ramp_m3s_per_day, freezes - zero,
        told.get("thaws_above", max(THAWS_ABOVE_K, freezes)) - zero, THAW_DAYS, told.get("starved_freezes", False), pond_m3,
    )  # fmt: skip


def _air(study: Any, usable: Any) -> Any:
    """Daily air temperature on every day of the record, short gaps closed; None where it does not reach."""
    if study.temperature is None:
        return None
    air = study.temperature.reindex(usable.index).interpolate(limit=5, limit_direction="both")
    return None if air.isna().any() else air


def _pond_m3(study: Any) -> float:
    return sum(entry["area"] * entry["depth"] for entry in study.site["part"] if entry["kind"] == "pond")
