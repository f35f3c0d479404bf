"""The energy that money is paid for, by record or by log."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...errors import HydrokitError
from ...stream.days import days_of
from ...stream.months import DAYS_OF_MONTHS
from . import log as build_log

if TYPE_CHECKING:
    from ...energy.net import NetYear
    from ...energy.uncertainty import EnergyUncertainty
    from ...running.log_year import LogYear
    from ..study import Study
    from .demand import Use

__all__ = ["Energy", "FEW_GAUGINGS", "energy_counted"]

FEW_GAUGINGS = "a few gaugings"
SEVERAL = 10  # years whose mean a bank looks at

_HOURS = 24 * np.array(DAYS_OF_MONTHS)


@dataclass(frozen=True, eq=False)
class Energy:
    """Energy of a year as far as it is known.

    Parameters
    ----------
    kwh : float
        Of a mean year, as far as it meets demand; in the middle of the range where only that is known.
    low_kwh, high_kwh : float
        Exceeded with nine chances of ten, and with one; or the ends of what can be.
    draws_kwh : ndarray or None
        Mean years as they may turn out; None where the year is not known that well.
    made_kwh : float
        All that is generated.
    source : str
        Where it comes from.
    single_kwh : ndarray or None
        Single years as they may turn out, as far as they meet demand.
    made_draws_kwh, made_single_kwh : ndarray or None
        The same, all that is generated.
    extra_heat_kwh : float
        That heats the rooms beyond a stated need.
    demand_known : bool
    several_kwh, made_several_kwh : ndarray or None
        Means of ten years to come as they may turn out: as far as they meet demand, and all that is
        generated.
    """

    kwh: float
    low_kwh: float
    high_kwh: float
    _: KW_ONLY
    draws_kwh: np.ndarray | None
    made_kwh: float
    source: str
    single_kwh: np.ndarray | None = None
    made_draws_kwh: np.ndarray | None = None
    made_single_kwh: np.ndarray | None = None
    extra_heat_kwh: float = 0.0
    demand_known: bool = True
    several_kwh: np.ndarray | None = None
    made_several_kwh: np.ndarray | None = None

    @property
    def spare_kwh(self) -> float:
        """What is made and meets no demand."""
        return self.made_kwh - self.kwh


# --- what it brings -------------------------------------------------------------------------


def energy_counted(study: Study) -> Energy | None:
    """Energy of a year of use, from the best source there is: record, log, bracket."""
    if study.year is not None and study.use is not None:
        return _of_record(study, study.year, study.use)
    if study.log_year is not None and study.use is not None and build_log.by_log(study):
        return _of_log(study, study.log_year, study.use)
    if study.bracket is not None:
        known = "demand" in study.site.loads
        most = float((study.other_w * _HOURS).sum() / 1000) if known else np.inf
        low, high = (min(each, most) for each in (study.bracket.low_kwh, study.bracket.high_kwh))
        middle = float(np.sqrt(max(study.bracket.low_kwh, 1.0) * study.bracket.high_kwh))
        return Energy(
            min(middle, most),
            low,
            high,
            draws_kwh=None,
            made_kwh=middle,
            source=FEW_GAUGINGS,
            demand_known=known,
        )
    return None


def _of_record(study: Study, year: NetYear, use: Use) -> Energy:
    uncertainty = study.energy_uncertainty
    useful = year.useful_annual_kwh
    known, kwh = useful is not None, year.annual_kwh if useful is None else useful
    extra = 0.0 if use.heat_is_demand else float(np.sum(use.heat_kwh))
    if uncertainty is None:
        return Energy(
            kwh,
            kwh,
            kwh,
            draws_kwh=None,
            made_kwh=year.annual_kwh,
            source="the daily record, without its uncertainty",
            extra_heat_kwh=extra,
            demand_known=known,
        )
    made, made_single, made_several = (
        _by_year(uncertainty, of, False) for of in ("mean", "single", "several")
    )
    draws, single, several = (
        [_by_year(uncertainty, of, True) for of in ("mean", "single", "several")]
        if known and uncertainty.outlook.useful is not None
        else (made, made_single, made_several)
    )
    low, high = np.quantile(draws, [0.1, 0.9], method="inverted_cdf").tolist()
    return Energy(
        kwh,
        low,
        high,
        draws_kwh=draws,
        made_kwh=year.annual_kwh,
        source="the daily record",
        single_kwh=single,
        made_draws_kwh=made,
        made_single_kwh=made_single,
        extra_heat_kwh=extra,
        demand_known=known,
        several_kwh=several,
        made_several_kwh=made_several,
    )


def _by_year(uncertainty: EnergyUncertainty, of: str, useful: bool) -> np.ndarray:
    """Energy of years as they may turn out."""
    found = uncertainty.outlook.kwh(of, useful, uncertainty.several_years)
    return np.zeros(0) if found is None else found.sum(axis=1)


def _of_log(study: Study, log: LogYear, use: Use) -> Energy:
    """What the plant made by its log, stops and faults as they came, as far as house and heaters take it."""
    power, annual = use.made_kwh * 1000 / _HOURS, float(use.made_kwh.sum())
    shares = np.linspace(0.0, 2.0, 41)
    used = np.array(
        [float((_taken_w(study, share * power) * _HOURS).sum() / 1000) for share in shares]
    )

    def of_use(share: Any) -> Any:
        return np.interp(share, shares, used)

    made = log.mean_draws()
    draws = of_use(made)
    low, high = np.quantile(draws, [0.1, 0.9], method="inverted_cdf").tolist()
    levels = np.linspace(0.99, 0.01, 99)

    def exceeded(found: LogYear) -> np.ndarray:
        if not log.annual_kwh > 0:
            return np.zeros(1)
        return np.array([found.exceeded_kwh(each) / log.annual_kwh for each in levels])

    single = exceeded(log)
    # of ten years a tenth of the variance that parts one year from the mean of many
    ten = log.mean_sd**2 + max(log.single_sd**2 - log.mean_sd**2, 0.0) / SEVERAL
    several = exceeded(replace(log, single_sd=float(np.sqrt(ten))))
    heat = float(np.sum(use.heat_kwh))
    return Energy(
        float(of_use(1.0)),
        low,
        high,
        draws_kwh=draws,
        made_kwh=annual,
        source="the plant's own log",
        single_kwh=of_use(single),
        made_draws_kwh=made * annual,
        made_single_kwh=single * annual,
        extra_heat_kwh=0.0 if use.heat_is_demand else heat,
        demand_known=use.demand_kwh is not None,
        several_kwh=of_use(several),
        made_several_kwh=several * annual,
    )


def _taken_w(study: Study, power_w: np.ndarray) -> np.ndarray:
    """Mean power of each month that the loads can take."""
    loads, air = study.site.loads, study.temperature
    base = loads.base_power
    if "demand" in loads:
        return np.minimum(power_w, base + np.array(loads["demand"]) / 3600 / _HOURS)
    if study.house is None or air is None:
        return power_w
    seen = air.dropna()
    wanted = base + study.house.conductance_w_k * (loads.inside_temperature - 273.15 - seen).clip(
        lower=0.0
    )
    taken = np.minimum(power_w[days_of(seen).month - 1], wanted)
    by_month = taken.groupby(days_of(seen).month).mean().reindex(range(1, 13)).to_numpy()
    if np.isnan(by_month).any():
        raise HydrokitError(
            "the record of air temperature does not hold every month, so what the heaters take is not known"
        )
    return by_month
