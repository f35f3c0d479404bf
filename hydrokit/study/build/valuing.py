"""From a study to what a kWh earns: the prices of the site file, and what of the energy is used,
heats or is left."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from ...stream.days import days_of
from . import log as build_log

if TYPE_CHECKING:
    from ...energy.valuing import Valuing
    from ...plant.chain import Chain
    from ..study import Study
    from .demand import Use

__all__ = ["J_PER_KWH", "by_plan", "shares", "valuing"]

J_PER_KWH = 3.6e6  # what the site file tells of a kWh, it holds by the joule


def valuing(study: Study) -> Valuing:
    """What a kWh of this plant earns; the same for sizes, changes and the page on money."""
    return _of(study, _demand_known(study), lambda: shares(study.use))


def by_plan(study: Study, chain: Chain | None) -> Valuing:
    """The same for a plant that is still to be chosen, by what one design gives on the days of the
    record; without one no heat."""
    return _of(study, study.demand_w is not None, lambda: _shares_of(study, chain))


def shares(use: Use | None) -> tuple[float, float]:
    """Shares of what meets the demand, and of what is left of it, that heat the rooms."""
    if use is None:
        return 0.0, 0.0
    heat, met = float(np.sum(use.heat_kwh)), float(np.sum(use.met_kwh))
    left = float(np.sum(use.made_kwh)) - met
    return (_share(heat, met), 0.0) if use.heat_is_demand else (0.0, _share(heat, left))


def _of(study: Study, demand_known: bool, heating: Callable[[], tuple[float, float]]) -> Valuing:
    from ...energy.valuing import valued

    section = study.site.costs
    value, export, heat = (
        section[key] * J_PER_KWH if key in section else None
        for key in ("value", "export", "heat_value")
    )
    share, warms = heating() if heat is not None and demand_known else (0.0, 0.0)
    first, energy = section.first_value, section.first_energy
    tier = (
        (None, 0.0) if first is None or energy is None else (first * J_PER_KWH, energy / J_PER_KWH)
    )
    return valued(value, export, heat, share, warms, demand_known, *tier)


def _demand_known(study: Study) -> bool:
    if study.year is None and build_log.by_log(study):
        return study.use is not None and study.use.demand_kwh is not None
    if study.year is None:
        return study.site.loads.given("demand")
    return study.demand_w is not None


def _shares_of(study: Study, chain: Chain | None) -> tuple[float, float]:
    """Heat gets on each day what the other loads leave, as on the page on using the power."""
    from .demand import heat_by_day, other_w

    heat_w = heat_by_day(study)
    if heat_w is None or chain is None or study.usable is None:
        return 0.0, 0.0
    usable = study.usable.dropna()
    month = days_of(usable).month.to_numpy()
    flow, power_w = usable.to_numpy(), np.zeros(len(usable))
    for months in chain.alike():
        inside = np.isin(month, months)
        power_w[inside] = chain.at_si(flow[inside], months[0]).power_w
    other = np.minimum(power_w, other_w(study)[month - 1])
    heat = np.minimum(power_w - other, heat_w.loc[usable.index].to_numpy())
    if study.site.loads.given("demand"):
        return 0.0, _share(heat.sum(), (power_w - other).sum())
    return _share(heat.sum(), (other + heat).sum()), 0.0


def _share(part: float, whole: float) -> float:
    return min(float(part / whole), 1.0) if whole > 0 else 0.0
