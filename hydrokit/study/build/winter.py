"""What winter asks of a site: air, standing water, stops until thaw, heat; and what an alarm at the
gauge leaves."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, sure
from ...result import Result
from ...stream.days import days_of
from . import year as build_year
from .year import MONTH_DAYS

if TYPE_CHECKING:
    import pandas as pd

    from ...running.winter import Climate, HeatHeld, Standing, UntilThaw
    from ..study import Study

__all__ = [
    "FRAZIL_TOLD",
    "Alarm",
    "FrazilSeen",
    "WinterOutlook",
    "alarms",
    "frazil_seen",
    "power_by_month",
    "standing",
    "winter_outlook",
]

_HOURS = 24 * MONTH_DAYS
FRAZIL_TOLD = 0.5  # nights of frazil weather in a mean month from which it is told


@dataclass(frozen=True, eq=False)
class WinterOutlook(Result):
    """What winter asks of this site.

    Parameters
    ----------
    climate : Climate
    power_w : ndarray or None
        Of the plant, by month.
    power_from : str
        Where that comes from.
    stop : UntilThaw or None
    heat : HeatHeld or None
    """

    climate: Climate
    power_w: np.ndarray | None
    power_from: str
    _: KW_ONLY
    stop: UntilThaw | None
    heat: HeatHeld | None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What limits the trust in it."""
        return self.climate.findings

    @property
    def coldest_day_k(self) -> float:
        """Daily mean of the coldest day on record."""
        return float(np.nanmin(self.climate.lowest_k))


def winter_outlook(study: Study) -> WinterOutlook | None:
    """Frazil, stops and heat, or None without air temperatures."""
    if study.climate is None:
        return None
    from ...running.winter import heat_held
    from .demand import other_w

    air, loads = study.climate, study.site.loads
    power, source = power_by_month(study)
    heat = None
    if power is not None and study.house is not None:
        heat = heat_held(
            sure(study.temperature),
            _power_by_day(study, power),
            study.house.conductance_w_k,
            loads.inside_temperature,
            other_w(study),
            _running(study),
        )
    return WinterOutlook(
        air,
        power,
        source,
        stop=_one_stop(study, power),
        heat=heat,
    )


def standing(study: Study) -> Standing | None:
    """How long water may stand, by the days of the record; None without a year of air or pipes, or
    where no frost comes."""
    if study.climate is None or study.frost is None or study.cold.month is None:
        return None
    from ...running.winter import standing_water

    return standing_water(study.frost.stretches, study.cold.month, study.climate.coldest_month)


def _one_stop(study: Study, power: np.ndarray | None) -> UntilThaw | None:
    """What one stop costs until it thaws: tried on the days of the flow record where the
    thermometer has them all, else by a month's watts."""
    from ...running.winter import UntilThaw, until_thaw

    tried = None if study.day_by_day is None else study.day_by_day.stops
    if tried is not None:
        return UntilThaw(
            tried.days, tried.days_long, tried.kwh * 3.6e6, energy_long_j=tried.kwh_long * 3.6e6
        )
    return None if power is None else until_thaw(sure(study.temperature), power)


def _power_by_day(study: Study, by_month: np.ndarray) -> np.ndarray | pd.Series:
    """Watts of each day of the record while the plant runs, where there is one; else those of each month."""
    if study.year is None or study.plant is None or not study.year.rows:
        return by_month
    from ...energy.year_power import power_series

    power = power_series(sure(build_year.taken(study)), study.plant.curves())
    return power * (1 - study.year.lost_share[np.asarray(days_of(power).month) - 1])


def _running(study: Study) -> np.ndarray | float:
    """Share of each month's watts that is left of stops, jet changes and frost, where the watts do
    not count them yet."""
    year = study.year
    if year is None or year.alone is None or not year.rows:
        return 1.0
    alone, net = (each.monthly_kwh.to_numpy(dtype=float) for each in (year.alone, year))
    return build_year.outages(study.site).running * np.where(
        alone > 0, net / np.where(alone > 0, alone, 1.0), 1.0
    )


def power_by_month(study: Study) -> tuple[np.ndarray | None, str]:
    """Mean watts of each month at the loads, stops counted, and where they come from; NaN in months
    the log does not hold. None where nothing says them."""
    if study.year is not None and study.year.rows:
        return np.asarray(study.year.monthly_kwh, dtype=float) * 1000 / _HOURS, "the daily record"
    if study.log_year is not None:
        return study.log_year.monthly_kwh * 1000 / _HOURS, "the log"
    if (
        study.plant is not None
        and study.monthly_flow is not None
        and study.monthly_flow.known.any()
    ):
        flow = np.where(study.monthly_flow.known, study.monthly_flow.usable_m3s, np.nan)
        power = [
            np.nan if np.isnan(each) else float(study.plant.at_si(each, month).power_w)
            for month, each in enumerate(flow, 1)
        ]
        return (
            np.array(power),
            f"the plant on the flow of the median day of each month, by {study.monthly_flow.sentence}",
        )
    if study.plant is not None:
        return np.full(
            12, float(study.plant.at_si(np.inf).power_w)
        ), "the plant with all the water it can take"
    return None, ""


# --- the alarm at the gauge -----------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Alarm(Result):
    """When to walk up with so many jets open.

    Parameters
    ----------
    jets : int
    pressure_pa, alarm_pa : float
        On the gauge: healthy, and from where on to walk up.
    left_s : float
        From then on until the screen passes nothing, if it is frazil.
    spare : float
        What the clean intake passes over what these jets take; never less than 1.
    """

    jets: int
    pressure_pa: float
    alarm_pa: float
    _: KW_ONLY
    left_s: float
    spare: float


def alarms(study: Study) -> tuple[Alarm, ...]:
    """The alarm for each number of jets, fewest first; none without fixed jets, for other pressures
    tell no flow."""
    from ...running.visits import BLINDING, time_left

    card, healthy = study.card, study.expectation
    if card is None or healthy is None or not hasattr(healthy.plant.jets, "diameters_m"):
        return ()
    found = []
    for row in sorted(card.rows, key=lambda each: each.jets):
        spare = _spare(study, row.jets)
        left = float(time_left.si(row.alarm_pa, row.pressure_pa, BLINDING, spare))
        found.append(Alarm(row.jets, row.pressure_pa, row.alarm_pa, left_s=left, spare=spare))
    return tuple(found)


def _spare(study: Study, count: int) -> float:
    if study.plant is None or not study.plant.supply:
        return 1.0
    fed = float(study.plant.at_si(np.inf, jets=count).used_m3s)
    limit = min(float(part.capacity_si()) for part in study.plant.supply)
    return max(limit / fed, 1.0) if fed > 0 and np.isfinite(limit) else 1.0


@dataclass(frozen=True, eq=False)
class FrazilSeen:
    """The first frazil of the log: its day, the longest it can have taken, the share of the flow it left."""

    day: np.datetime64
    within_s: float
    left_share: float


def frazil_seen(study: Study) -> FrazilSeen | None:
    """How fast frazil shut the screen by the log; None where it has none."""
    happened = study.history
    events = () if happened is None else happened.of("frazil")
    if happened is None or not events:
        return None
    log, first = happened.log, events[0]
    place = int(np.searchsorted(log.line, first.lines[0]))
    within = float(log.seconds[place] - log.seconds[max(place - 1, 0)])
    return FrazilSeen(first.start.astype("datetime64[D]"), within, 1 - first.size)
