"""From a study to what its power is wanted for: loads served first, heat of the rooms, and what of both is met."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ...errors import Finding
from .log import by_log

__all__ = ["Use", "demand", "findings", "heat_by_day", "other_w", "use"]

HOURS = 24 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


def other_w(study: Any) -> np.ndarray:
    """Power in W of what is served before the heat of the rooms, by month: the steady need and the energy wanted each month."""
    loads = study.site["loads"]
    return loads.get("base_power", 0.0) + np.array(loads.get("demand", (0.0,) * 12)) / 3600 / HOURS


def demand(study: Any) -> Any:
    """Power that can be used, in W by month or by day, or None where no need is stated.

    A stated need is the whole of it. Without one it is the steady need and the heat of the rooms.
    """
    if "demand" in study.site["loads"]:
        return other_w(study)
    heat = heat_by_day(study)
    return None if heat is None else study.site["loads"].get("base_power", 0.0) + heat


def heat_by_day(study: Any) -> Any:
    """Heat of the rooms on each day of the record in W; None where it is not known for all of them."""
    if study.house is None or study.temperature is None or study.record is None:
        return None
    inside = study.site["loads"].get("inside_temperature", 293.15) - 273.15
    outside = study.temperature.reindex(study.record.index)
    return (
        None
        if outside.isna().any()
        else study.house.conductance_w_k * (inside - outside).clip(lower=0.0)
    )


@dataclass(frozen=True, eq=False)
class Use:
    """What becomes of a mean year's energy, kWh by month, January first. The parts add up to what is made.

    Parameters
    ----------
    made_kwh : ndarray
    demand_kwh : ndarray or None
        What could be used; None where no demand is given.
    other_kwh : ndarray
        That meets what is served first; all that is made where no demand is given.
    heat_kwh : ndarray
        That heats the rooms, of what is left on each day.
    spare_kwh : ndarray
        That meets no demand.
    heat_wanted_kwh : ndarray or None
        Heat of the rooms; None where it is not known.
    heat_is_demand : bool
        Whether the heat is part of the demand; beside a stated need it comes on top.
    """

    made_kwh: np.ndarray
    demand_kwh: Any
    other_kwh: np.ndarray
    heat_kwh: np.ndarray
    spare_kwh: np.ndarray
    heat_wanted_kwh: Any
    heat_is_demand: bool

    @property
    def met_kwh(self) -> np.ndarray:
        """What meets the demand."""
        return self.other_kwh + (self.heat_kwh if self.heat_is_demand else 0.0)


def use(study: Any) -> Use | None:
    """What becomes of the energy of a mean year, or None without a year that is known month by month."""
    if study.year is None:
        return _of_log(study) if by_log(study) else None
    made, wanted = np.asarray(study.year.monthly_kwh, dtype=float), study.demand_w
    none = np.zeros(12)
    if wanted is None:
        return Use(made, None, made, none, none, None, False)
    useful = np.minimum(np.asarray(study.year.useful_monthly_kwh, dtype=float), made)
    demand_kwh = _monthly_kwh(study.year, wanted)
    heat = None if study.winter_outlook is None else study.winter_outlook.heat
    known = heat is not None and np.isfinite(heat.met_month_j).all()
    met, needed = (
        (np.asarray(heat.met_month_j) / 3.6e6, np.asarray(heat.needed_month_j) / 3.6e6)
        if known
        else (none, None)
    )
    if "demand" in study.site["loads"]:
        met = np.minimum(met, made - useful)  # on top of the need, of what it leaves
        return Use(made, demand_kwh, useful, met, made - useful - met, needed, False)
    met = np.minimum(met, useful) if known else none
    return Use(made, demand_kwh, useful - met, met, made - useful, needed, True)


def _of_log(study: Any) -> Use:
    """The same by the log of the plant, month by month: what it made, stops and faults as they came."""
    made, none = np.asarray(study.log_year.monthly_kwh), np.zeros(12)
    other = other_w(study) * HOURS / 1000
    heat = None if study.winter_outlook is None else study.winter_outlook.heat
    known = heat is not None and np.isfinite(heat.met_month_j).all()
    stated = "demand" in study.site["loads"]
    if not stated and not known:
        return Use(made, None, made, none, none, None, False)
    first = np.minimum(other, made)
    met, needed = (
        (
            np.minimum(np.asarray(heat.met_month_j) / 3.6e6, made - first),
            np.asarray(heat.needed_month_j) / 3.6e6,
        )
        if known
        else (none, None)
    )
    return Use(
        made,
        other if stated else other + needed,
        first,
        met,
        made - first - met,
        needed,
        not stated,
    )


def _monthly_kwh(year: Any, demand_w: Any) -> np.ndarray:
    """Demand of a mean year by month, over the same days as the energy."""
    if not hasattr(demand_w, "index"):
        return np.broadcast_to(demand_w, 12) * np.asarray(year.hours, dtype=float) / 1000
    label = demand_w.index.year + (demand_w.index.month >= year.start_month) * (
        year.start_month > 1
    )
    table = (
        (0.024 * demand_w)
        .groupby([label, demand_w.index.month])
        .sum()
        .unstack()
        .reindex(index=year.complete.index, columns=year.complete.columns)
    )
    counted = table.loc[list(year.rows)] if year.rows else table.where(year.complete)
    return counted.mean().to_numpy(dtype=float)


def findings(study: Any) -> tuple[Finding, ...]:
    """That no demand is given where money hangs on it, and numbers of the loads that nothing asks for."""
    site, found = study.site, []
    loads, costs = site["loads"], site["costs"]
    if (
        study.plant is not None
        and study.demand_w is None
        and "value" in costs
        and (study.year is not None or study.bracket is not None)
        and not (study.use is not None and study.use.demand_kwh is not None)
    ):
        export = "export" in costs
        found.append(
            Finding(
                "caution",
                "demand",
                "no demand is given, so it is not known how much of the energy is used: money is told for two cases, all of it used and all of it sold"
                + ("" if export else " (for nothing, since no export price is given)")
                + ": give need under [loads], or base_power with the heat of the rooms"
                + ("" if export else ', and export = "0.06 per kWh" under [costs]'),
            )
        )
    if "heat_value" in costs and study.house is None:
        found.append(
            Finding(
                "note",
                "demand",
                "[costs] heat_value counts for nothing: the heat loss of the rooms is not known",
            )
        )
    if "inside_temperature" in loads and study.house is None:
        found.append(
            Finding(
                "note",
                "demand",
                "[loads] inside_temperature counts for nothing: the heat loss of the rooms is not known",
            )
        )
    if (
        "base_power" in loads
        and study.demand_w is None
        and study.house is None
        and "demand" not in loads
    ):
        found.append(
            Finding(
                "note",
                "demand",
                "[loads] base_power alone is no demand: give need, or the heat loss of the rooms",
            )
        )
    if "stove" in loads and "fuel" not in loads:
        found.append(Finding("note", "demand", "[loads] stove counts for nothing without a fuel"))
    return tuple(found)
