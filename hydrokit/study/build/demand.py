"""From a study to what its power is wanted for: loads served first, heat of the rooms, and what of
both is met."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...result import Result
from ...stream.days import days_of
from .log import by_log
from .year import MONTH_DAYS

if TYPE_CHECKING:
    import pandas as pd

    from ...energy.year import Year
    from ...running.log_year import LogYear
    from ..study import Study

__all__ = ["Use", "demand", "findings", "heat_by_day", "other_w", "use"]

HOURS = 24 * MONTH_DAYS


def other_w(study: Study) -> np.ndarray:
    """Power in W of what is served before the heat of the rooms, by month: the steady demand and
    the energy wanted each month."""
    loads = study.site.loads
    by_month = np.zeros(12) if loads.demand is None else np.array(loads.demand)
    return loads.base_power + by_month / 3600 / HOURS


def demand(study: Study) -> np.ndarray | pd.Series | None:
    """Power that can be used, in W by month or by day, or None where no demand is stated.

    A stated demand is the whole of it. Without one it is the steady demand and the heat of the rooms.
    """
    if study.site.loads.demand is not None:
        return other_w(study)
    heat = heat_by_day(study)
    return None if heat is None else study.site.loads.base_power + heat


def demand_is_stated(study: Study) -> bool:
    """Whether the site says what the loads could use, be the energy that meets it known or not."""
    return study.site.loads.demand is not None or (
        study.house is not None and study.temperature is not None
    )


def heat_by_day(study: Study) -> pd.Series | None:
    """Heat of the rooms on each day of the record in W; None where it is not known for all of them."""
    if study.house is None or study.temperature is None or study.record is None:
        return None
    inside = study.site.loads.inside_temperature - 273.15
    outside = study.temperature.reindex(study.record.index)
    return (
        None
        if outside.isna().any()
        else study.house.conductance_w_k * (inside - outside).clip(lower=0.0)
    )


@dataclass(frozen=True, eq=False)
class Use(Result):
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
        Whether the heat is part of the demand; beside a stated demand it comes on top.
    """

    made_kwh: np.ndarray
    demand_kwh: np.ndarray | None
    other_kwh: np.ndarray
    _: KW_ONLY
    heat_kwh: np.ndarray
    spare_kwh: np.ndarray
    heat_wanted_kwh: np.ndarray | None
    heat_is_demand: bool

    @property
    def met_kwh(self) -> np.ndarray:
        """What meets the demand."""
        return self.other_kwh + (self.heat_kwh if self.heat_is_demand else 0.0)


def use(study: Study) -> Use | None:
    """What becomes of the energy of a mean year, or None without a year that is known month by month."""
    if study.year is None:
        logged = study.log_year if by_log(study) else None
        return None if logged is None else _of_log(study, logged)
    made, wanted = np.asarray(study.year.monthly_kwh, dtype=float), study.demand_w
    none = np.zeros(12)
    if wanted is None:
        return Use(
            made,
            None,
            made,
            heat_kwh=none,
            spare_kwh=none,
            heat_wanted_kwh=None,
            heat_is_demand=False,
        )
    useful = np.minimum(np.asarray(study.year.useful_monthly_kwh, dtype=float), made)
    demand_kwh = _monthly_kwh(study.year, wanted)
    heat = _known_heat(study)
    met, needed = (none, None) if heat is None else heat
    if study.site.loads.demand is not None:
        met = np.minimum(met, made - useful)  # on top of the demand, of what it leaves
        return Use(
            made,
            demand_kwh,
            useful,
            heat_kwh=met,
            spare_kwh=made - useful - met,
            heat_wanted_kwh=needed,
            heat_is_demand=False,
        )
    met = np.minimum(met, useful)
    return Use(
        made,
        demand_kwh,
        useful - met,
        heat_kwh=met,
        spare_kwh=made - useful,
        heat_wanted_kwh=needed,
        heat_is_demand=True,
    )


def _of_log(study: Study, logged: LogYear) -> Use:
    """The same by the log of the plant, month by month: what it made, stops and faults as they came."""
    made, none = np.asarray(logged.monthly_kwh), np.zeros(12)
    other = other_w(study) * HOURS / 1000
    heat = _known_heat(study)
    stated = study.site.loads.demand is not None
    if not stated and heat is None:
        return Use(
            made,
            None,
            made,
            heat_kwh=none,
            spare_kwh=none,
            heat_wanted_kwh=None,
            heat_is_demand=False,
        )
    first = np.minimum(other, made)
    met, needed = (none, None) if heat is None else (np.minimum(heat[0], made - first), heat[1])
    return Use(
        made,
        other if stated or needed is None else other + needed,
        first,
        heat_kwh=met,
        spare_kwh=made - first - met,
        heat_wanted_kwh=needed,
        heat_is_demand=not stated,
    )


def _known_heat(study: Study) -> tuple[np.ndarray, np.ndarray] | None:
    """Heat met and needed in kWh by month; None where it is not known for all of them."""
    heat = None if study.winter_outlook is None else study.winter_outlook.heat
    if heat is None or not np.isfinite(heat.met_month_j).all():
        return None
    return np.asarray(heat.met_month_j) / 3.6e6, np.asarray(heat.needed_month_j) / 3.6e6


def _monthly_kwh(year: Year, demand_w: np.ndarray | pd.Series) -> np.ndarray:
    """Demand of a mean year by month, over the same days as the energy."""
    if isinstance(demand_w, np.ndarray):
        return np.broadcast_to(demand_w, 12) * np.asarray(year.hours, dtype=float) / 1000
    label = days_of(demand_w).year + (days_of(demand_w).month >= year.start_month) * (
        year.start_month > 1
    )
    table = (
        (0.024 * demand_w)
        .groupby([label, days_of(demand_w).month])
        .sum()
        .unstack()
        .reindex(index=year.complete.index, columns=year.complete.columns)
    )
    counted = table.loc[list(year.rows)] if year.rows else table.where(year.complete)
    return counted.mean().to_numpy(dtype=float)


def findings(study: Study) -> tuple[Finding, ...]:
    """That no demand is given where money hangs on it, and numbers of the loads that nothing asks for."""
    loads, costs, found = study.site.loads, study.site.costs, []
    if (
        study.plant is not None
        and study.demand_w is None
        and costs.given("value")
        and (study.year is not None or study.bracket is not None)
        and not (study.use is not None and study.use.demand_kwh is not None)
    ):
        export = costs.given("export")
        found.append(
            Finding(
                "caution",
                "demand",
                (
                    "no demand is given, so it is not known how much of the energy is used: money "
                    "is calculated for two cases, all of it used and all of it sold"
                )
                + ("" if export else " (for nothing, since no export price is given)")
                + ": give demand under [loads], or base_power with the heat of the rooms"
                + ("" if export else ', and export = "0.06 per kWh" under [costs]'),
            )
        )
    if costs.given("heat_value") and study.house is None:
        found.append(
            Finding(
                "note",
                "demand",
                "[costs] heat_value has no effect: the heat loss of the rooms is not known",
            )
        )
    if loads.given("inside_temperature") and study.house is None:
        found.append(
            Finding(
                "note",
                "demand",
                "[loads] inside_temperature has no effect: the heat loss of the rooms is not known",
            )
        )
    if (
        loads.given("base_power")
        and study.demand_w is None
        and study.house is None
        and loads.demand is None
    ):
        found.append(
            Finding(
                "note",
                "demand",
                "[loads] base_power alone is no demand: give demand, or the heat loss of the rooms",
            )
        )
    if loads.given("stove") and loads.fuel is None:
        found.append(Finding("note", "demand", "[loads] stove has no effect without a fuel"))
    return tuple(found)
