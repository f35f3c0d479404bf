"""From a study to its days walked one by one: habits, frost, pond, and what each costs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ...errors import sure
from ...result import Result
from . import year as build_year
from .supply import dead_band

if TYPE_CHECKING:
    import pandas as pd

    from ...energy.habits import Habits
    from ...energy.memory import Remembered, StopCosts
    from ...energy.net import NetYear
    from ...energy.operating import Operating
    from ...plant.chain import Chain
    from ..study import Study

__all__ = ["DayByDay", "day_by_day", "fed_steps", "operating", "year"]

# Common practice for a shallow or bare pipe; the thaw as the page on winter has it.
THAWS_ABOVE_K, THAW_DAYS = 273.15, 5
_LEAST_POND = 0.01  # of a day's full flow: a smaller pond carries nothing from day to day


@dataclass(frozen=True, eq=False)
class DayByDay(Result):
    """The year with its memory.

    Parameters
    ----------
    habits : Habits
    remembered : Remembered
    pond_m3 : float
        Volume of the pond that may be drawn; 0 where there is none.
    pond_s : float
        How long it feeds the jets at full flow, nothing coming.
    chosen : tuple of str
        Memories that the site file speaks of: ``"ramp"``, ``"jets"``, ``"pond"``, ``"frost"``.
    one_stop : callable
        Works out :attr:`stops`.
    """

    habits: Habits
    remembered: Remembered
    pond_m3: float
    _: KW_ONLY
    pond_s: float
    chosen: tuple[str, ...]
    one_stop: Callable[[], StopCosts | None]

    @cached_property
    def stops(self) -> StopCosts | None:
        """What one stop costs, by the month it comes in; None without air temperatures on every day
        of the record."""
        return self.one_stop()

    @property
    def stop_of_mean_month(self) -> float | None:
        """What a long stop in its worst month costs (exceeded by 10 % of them), over the energy of
        that month; None where not known."""
        stops = self.stops
        if stops is None or stops.worst_month is None:
            return None
        place = stops.worst_month - 1
        whole = float(self.remembered.free_kwh[place])
        return float(stops.kwh_long[place]) / whole if whole > 0 else None


def year(study: Study) -> NetYear | None:
    """Energy by year and month with all losses taken off, gross and loss by loss beside it; or None
    without a record or a plant.

    Raises
    ------
    HydrokitError
        A record in which some month is never whole: it has no year.
    """
    from ...energy.net import net_year

    each_day_alone = build_year.year(study)
    if each_day_alone is None:
        return None
    found = study.day_by_day
    return net_year(
        each_day_alone, build_year.outages(study.site), None if found is None else found.remembered
    )


def day_by_day(study: Study) -> DayByDay | None:
    """The record walked day by day; None without a record or a plant, or where some month of it is
    never whole."""
    from ...energy.memory import remember, stop_costs
    from ...energy.weights import counted_months, steps_of

    plant = study.plant
    if study.record is None or plant is None:
        return None
    usable, way = _usable(study, plant), operating(study)
    if not counted_months(steps_of(usable).complete).any(axis=0).all():
        return None
    air, out = _air(study, usable), build_year.outages(study.site)
    found = remember(
        usable,
        plant,
        way.habits,
        way.temperature_degc,
        way.stops_a_year,
        out,
        demand_w=study.demand_w,
    )
    habits, pond_m3, full_m3s = _habits(study), _pond_m3(study), _full_m3s(study)
    return DayByDay(
        habits,
        found,
        pond_m3,
        pond_s=pond_m3 / full_m3s if full_m3s > 0 else np.inf,
        chosen=tuple(found.cost_kwh),
        one_stop=lambda: None if air is None else stop_costs(usable, plant, habits, air, out),
    )


def operating(study: Study, full_m3s: float | None = None) -> Operating:
    """How the plant is run, frost where the site file speaks of its stops; for draws, designs and
    changes too.

    The share of its energy that a plant loses by it: ``energy.operating.lost_share(operating(study),
    study.usable, chain)``, some 0.1 s a plant. `full_m3s`: full flow of a plant that is still to be chosen.
    """
    from ...energy.operating import Operating

    told, habits, air = (
        study.site.operation,
        _habits(study, full_m3s),
        _air(study, sure(study.record)),
    )
    if air is None or not (told.given("stops_per_winter") or told.under_fed_freezes):
        return Operating(habits.without_frost)
    return Operating(habits, air, told.stops_per_winter)


def fed_steps(study: Study, usable: np.ndarray | None = None) -> list[tuple[int, float, float]]:
    """(jets, flow they take when fed, days a year on which as much comes to them), fewest jets first.

    Parameters
    ----------
    study : Study
    usable : ndarray, optional
        Usable flow of the known days of the record, in place of that of the study.
    """
    if study.plant is None or study.usable is None:
        return []
    running = study.plant.running()
    usable = sure(build_year.taken(study)).dropna().to_numpy() if usable is None else usable
    comes = np.minimum(
        running.passage.leaves_si(usable), running.capacity_m3s
    )  # the leaks on the way are off
    found = {
        opening.count: float(full) for opening, full in zip(running.openings, running.full_m3s)
    }
    return [
        (count, full, 365.0 * float(np.mean(comes >= full * (1 - 1e-9))))
        for count, full in sorted(found.items())
    ]


def _usable(study: Study, plant: Chain) -> pd.Series:
    """Usable flow, a ramp not yet counted: the walk counts it. Capped where the cap saves water for
    later, not where a pond takes what the jets leave."""
    from ...plant.curve import most_taken

    saves = np.isfinite(study.rights.volume_m3)
    return replace(study.rights, ramp_m3s_per_day=np.inf).usable_series(
        sure(study.record), most_taken(plant.curves()) if saves else np.inf
    )


def _habits(study: Study, full_m3s: float | None = None) -> Habits:
    from ...energy.habits import Habits

    told, zero = study.site.operation, 273.15
    freezes = told.freezes_below if study.felt is None else study.felt.freezes_below_k
    pond_m3 = _pond_m3(study)
    if pond_m3 <= _LEAST_POND * 86400 * (_full_m3s(study) if full_m3s is None else full_m3s):
        pond_m3 = 0.0
    # of a plant of which nobody says how it is run, nothing is taken off; else it is run by the table of jets
    worth_the_walk = dead_band(study.site) if told else 0.0
    return study.folder.sentence(
        "[operation]",
        lambda: Habits(
            worth_the_walk,
            told.visit_days,
            study.rights.ramp_m3s_per_day,
            freezes_below_degc=freezes - zero,
            thaws_above_degc=(
                max(THAWS_ABOVE_K, freezes) if told.thaws_above is None else told.thaws_above
            )
            - zero,
            thaw_days=THAW_DAYS,
            under_fed_freezes=told.under_fed_freezes,
            pond_m3=pond_m3,
        ),
    )


def _full_m3s(study: Study) -> float:
    return np.nan if study.plant is None else float(study.plant.running().at_si(1e3).used_m3s)


def _air(study: Study, usable: pd.Series) -> pd.Series | None:
    """Daily temperature of the air on every day of the record, short gaps closed, or of what lies
    around the stretch that freezes first; None where it does not reach."""
    if study.temperature is None:
        return None
    air = study.temperature.reindex(usable.index).interpolate(limit=5, limit_direction="both")
    if air.isna().any():
        return None
    if study.felt is None:
        return air
    return study.felt.temperature.reindex(usable.index).fillna(air)


def _pond_m3(study: Study) -> float:
    return sum(
        entry["area"] * entry["depth"] for entry in study.site.part if entry["kind"] == "forebay"
    )
