"""From the changes a site file names to a staircase: what each does to the plant, and what that is worth."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import HydrokitError, sure
from ...stream.days import days_of
from . import demand as build_demand
from . import log as build_log
from . import sizing, sizing_net
from . import year as build_year
from .demand import HOURS
from .uncertain import uncertainties
from .upgrade_acts import ACTS, ALL_MONTHS, finished_by, spoken_progress, upgrade_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from ...energy.by_log import LoggedMonths
    from ...energy.cases import Case, Upgrade
    from ...energy.measuring import Measurement
    from ...energy.staircase import Staircase
    from ...energy.worth import GivenUp
    from ...site.schema_money import Upgrade as UpgradeKeys
    from ...units import Number
    from ..study import Study

__all__ = ["base_case", "changes", "measure_next", "measurements", "rules_price", "upgrades"]

WORLDS = 24
KWH_PER_W = 8.766  # of a year
# Causes in a log that a cleaner screen, fewer stops, and jets set by what is fed do away with.
_CLOGGED, _STOPPED = ("clogging",), ("stop", "ice stop", "no load", "sudden drop", "frazil")
_LEFT_OPEN = ("too many jets",)


def base_case(study: Study) -> Case | None:
    """The plant as it stands, on the days of its record or on the months whose flow is known; or None.

    None too where the record is too short to hold every month: there is no year to change then. Under
    a yearly volume or a ramp each changed plant is offered what the rules leave to that one.
    """
    from ...energy.cases import Case, Taken

    if study.plant is None or (study.record is not None and study.year is None):
        return None
    usable: Any
    if study.record is None:
        usable = _known_months(study)
    else:
        usable = Taken(study.record, study.rights) if study.rights.has_memory else study.usable
    # what is changed around it, the runner that is there keeps its speed; a new runner has its own
    return (
        None
        if usable is None
        else Case(study.plant.installed(), usable, build_year.outages(study.site))
    )


def _known_months(study: Study) -> dict[int, float] | None:
    """Usable flow of each month that is known; beside a log that tells the year also of those in
    which at least so much came."""
    found = study.monthly_flow
    if found is None:
        return None
    known = np.isfinite(
        found.usable_m3s if build_log.by_log(study) else found.natural_m3s
    )  # else the months that were gauged
    return {
        month: float(found.usable_m3s[month - 1]) for month in ALL_MONTHS if known[month - 1]
    } or None


def logged_months(study: Study) -> LoggedMonths | None:
    """What the log says of each month, where no daily record does it better; or None."""
    import pandas as pd

    from ...energy.by_log import LoggedMonths

    history, year = study.history, study.log_year
    if study.record is not None or history is None or year is None or not build_log.by_log(study):
        return None
    table = history.monthly()
    sums = table.groupby(pd.PeriodIndex(table.index).month).sum().reindex(ALL_MONTHS).fillna(0.0)
    clogging, stops, jets = (
        sums[[each for each in names if each in sums]].sum(axis=1).to_numpy(dtype=float)
        for names in (_CLOGGED, _STOPPED, _LEFT_OPEN)
    )
    whole = np.maximum(sums["made_j"].to_numpy(dtype=float) + clogging + stops + jets, 1e-9)
    return LoggedMonths(
        year.monthly_kwh * 1000 / HOURS,
        clogging / whole,
        stops / whole,
        jets=jets / whole,
    )


def changes(study: Study) -> tuple[Upgrade, ...]:
    """The changes the site file names, each ready to be made, along the water: their order in the
    file has no part in any answer."""
    made = [
        (
            _rank(study, entry),
            study.folder.sentence(f"[[upgrade]] {number}", partial(upgrade_of, study, entry)),
        )
        for number, entry in enumerate(study.site.upgrade, 1)
    ]
    return tuple(change for _, change in sorted(made, key=lambda each: (each[0], each[1].name)))


def _rank(study: Study, entry: UpgradeKeys) -> tuple[int, float]:
    """Where a change stands among the others: by the first thing it changes, and of two such the
    larger last, so that it holds."""
    first = min((place for place, key in enumerate(ACTS) if key in entry), default=len(ACTS))
    return first, _size([*ACTS][first], entry) if first < len(ACTS) else 0.0


def _size(key: str, entry: UpgradeKeys) -> float:
    """How large a change of one kind is, against others of its kind."""
    from ...plant.conductor import conductor
    from ...works.pipe_sizes import pipe_size

    value = entry[key]
    try:
        if key in ("pipe", "diversion_pipe"):
            return pipe_size(value).pipe(1.0).diameter_m
        if key == "cable_size":
            return float(conductor(value).section_m2)
    except HydrokitError:  # told where it is made
        return 0.0
    if key in ("clogged", "unplanned"):
        return -float(np.sum(value))
    return float(len(value)) if key == "diversion_vents" else float(value)


def upgrades(study: Study) -> Staircase | None:
    """The changes of the site file as a staircase, or None where there are none or no plant."""
    from ...energy.by_log import logged_power
    from ...energy.cases import draw_worlds, watts, year_kwh
    from ...energy.upgrades import staircase

    changes, case, plant, year = study.changes, study.base_case, study.plant, study.year
    if not changes or case is None or plant is None:
        return None
    costs = sizing.costs(study.site)
    uncertainty = uncertainties(study)
    if year is not None:
        evaluate, aim = (
            year_kwh(
                study.demand_w,
                study.winter,
                kept=sizing_net.left_by_jets(study, plant, year),
            ),
            "useful_kwh" if study.demand_w is not None else "kwh",
        )
        worlds = draw_worlds(uncertainty, WORLDS, natural=study.record, rights=study.rights)
    else:
        demand, log = demand_of_months(study), study.logged_months
        evaluate = watts(study.winter, demand, None if log is None else logged_power(case, log))
        if log is not None:
            evaluate = _anchored(study, evaluate, case)
        aim = ("" if demand is None else "useful_") + ("kwh" if len(case.usable) == 12 else "w")
        aim = "mean_w" if aim == "w" else aim
        worlds = draw_worlds(uncertainty, WORLDS)
    value, spare = (
        None if each is None else each * (KWH_PER_W if aim.endswith("_w") else 1.0)
        for each in _values(study)
    )
    return study.folder.sentence(
        "[[upgrade]]",
        lambda: staircase(
            case,
            changes,
            evaluate,
            aim,
            costs,
            value,
            worlds,
            spare_money=spare or 0.0,
            finish=finished_by(study),
            say=spoken_progress(),
        ),
    )


def _anchored(
    study: Study, evaluate: Callable[[Case], dict[str, float]], today: Case
) -> Callable[[Case], dict[str, float]]:
    """What meets the demand, in the ratio in which a change moves it from what the study says of today.

    The months of a log are walked coarser here than the days behind that answer: the two lie some tenths of a
    per cent apart.
    """
    met, begins = study.answer("demand.met"), evaluate(today)
    if met is None or begins.get("useful_kwh", 0.0) <= 0:
        return evaluate
    share = float(met.value) / begins["useful_kwh"]

    def anchored(case: Case) -> dict[str, float]:
        return {
            name: value * share if name.startswith("useful_") else value
            for name, value in evaluate(case).items()
        }

    return anchored


def _values(study: Study) -> tuple[float | None, float]:
    """What one more kWh earns that is used, and one that is left over; None where nobody said."""
    found, year = study.valuing, study.year
    if not found.known:
        return None, 0.0
    useful = None if year is None else year.useful_annual_kwh
    used = np.inf if year is None else year.annual_kwh if useful is None else useful
    return found.next_money_per_kwh(used), found.left_money_per_kwh


def demand_of_months(study: Study) -> dict[int, Number] | None:
    """Power in W that can be used in each month, or on each of its days where heat is wanted; None
    where no need is stated."""
    loads, air = study.site.loads, study.temperature
    if "demand" in loads:
        return dict(enumerate(build_demand.other_w(study), 1))
    if study.house is None or air is None:
        return None
    seen = air.dropna()
    wanted = loads.base_power + study.house.conductance_w_k * (
        loads.inside_temperature - 273.15 - seen
    ).clip(lower=0.0)
    found: dict[int, Number] = {
        int(month): days.to_numpy(dtype=float)
        for month, days in wanted.groupby(days_of(wanted).month)
    }
    return found if len(found) == 12 else None


def rules_price(study: Study) -> GivenUp | None:
    """Energy given up to each rule on the creek's water, or None without a year."""
    from ...energy.worth import given_up

    return (
        None
        if study.year is None or study.plant is None
        else given_up(
            sure(study.record),
            study.rights,
            study.plant.curves(),
            build_year.outages(study.site),
            study.winter,
        )
    )


def measurements(study: Study) -> tuple[Measurement, ...] | None:
    """Measurements in the order in which they would narrow the annual energy; or None without a year."""
    from ...energy.measuring import what_to_measure_next

    if study.energy_uncertainty is None or study.plant is None:
        return None
    # a rating is behind the record where that was made from stages, or where the rating says how sure it is
    made_here = study.stage is not None and not study.site.stream.given("record")
    rating = study.rating if made_here or study.rating_error is not None else None
    return what_to_measure_next(
        sure(study.record),
        study.rights,
        study.plant.curves(),
        rating,
        study.record_uncertainty,
        study.energy_uncertainty.tornado,
        build_year.outages(study.site),
    )


def measure_next(study: Study) -> tuple[Measurement, ...] | None:
    """Those among them that are worth the walk; None without a year."""
    found = study.measurements
    return (
        None if found is None else tuple(each for each in found if each.narrowed >= LEAST_NARROWED)
    )


LEAST_NARROWED = 0.005  # of the standard deviation; what narrows less is not worth the walk
