"""Low flows and floods of the creek."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtri

from ...errors import sure
from ...result import Result
from ...stream.months import MONTH_NAMES

if TYPE_CHECKING:
    from ...stream.frequency import Quantile
    from ...stream.low_flow import Recession
    from ..study import Study

__all__ = [
    "FloodSeason",
    "IntakeFlood",
    "LEAN_WEEK",
    "YearlyExtremes",
    "available_in_lean_week",
    "flood_season",
    "floods",
    "intake_flood",
    "low_flows",
    "peak_factor",
    "yearly_extremes",
]

LEAN_WEEK = "lowest 7 days in 10 years"


# --- how low, how high ----------------------------------------------------------------------


def low_flows(
    study: Study,
) -> tuple[tuple[str, Quantile | Recession | float | str], ...] | None:
    """Low-flow statistics by name, each a number in SI, a Quantile, a Recession, or the reason why
    not; None without a record."""
    if study.record is None:
        return None
    from ...stream import low_flow as room

    record = study.record
    return _each(
        study,
        ("lowest 7 days in 2 years", lambda: room.low_flow(record, 7, 2)),
        (LEAN_WEEK, lambda: room.low_flow(record, 7, 10)),
        ("the same, by an extreme value law", lambda: room.low_flow(record, 7, 10, method="gev")),
        ("the same, by plotting positions", lambda: room.low_flow(record, 7, 10, method="weibull")),
        *(
            (
                f"mean of the years' lowest {'day' if days == 1 else f'{days} days'}",
                lambda days=days: room.mean_annual_minimum(record, days).m_as("m^3/s"),
            )
            for days in (1, 7, 30)
        ),
        ("share of base flow, by filter", lambda: room.base_flow_index(record)),
        ("share of base flow, by five-day blocks", lambda: room.base_flow_index(record, "blocks")),
        ("recession", lambda: room.recession_constant(record)),
    )


def available_in_lean_week(study: Study) -> np.ndarray | None:
    """What may be taken in each month, January first, of the lowest week of one year in ten; None
    where that is not known."""
    from ...stream.frequency import Quantile

    lean = dict(study.low_flows or ()).get(LEAN_WEEK)
    if not isinstance(lean, Quantile):
        return None
    return np.array([float(study.rights.usable_si(lean.flow_m3s, month)) for month in range(1, 13)])


FLOOD_YEARS = (2, 5, 10, 25, 50, 100)


def floods(
    study: Study,
) -> tuple[tuple[float, Quantile | str, Quantile | str], ...] | None:
    """Floods by return period: (years, log-Pearson III, extreme value), each a Quantile or why not;
    None without a record."""
    if study.record is None:
        return None
    both = [_two_ways(study, years) for years in FLOOD_YEARS]
    return tuple(
        (float(years), pearson, extreme)
        for years, ((_, pearson), (_, extreme)) in zip(FLOOD_YEARS, both)
    )


def _regional(study: Study) -> dict[str, Any]:
    """The skew of the region, where the site file has it: of the table and of the curve alike."""
    stream = study.site.stream
    return {"regional_skew": stream.get("regional_skew")} | (
        {"regional_mse": stream["regional_skew_error"]} if "regional_skew_error" in stream else {}
    )


def _two_ways(study: Study, years: float) -> list[tuple[str, Quantile | str]]:
    from ...stream.floods import flood

    record, regional = sure(study.record), _regional(study)
    return list(
        _each(
            study,
            ("lp3", lambda: flood(record, years, **regional)),
            ("gev", lambda: flood(record, years, "gev")),
        )
    )


def _each(study: Study, *work: tuple[str, Callable[[], Any]]) -> tuple[tuple[str, Any], ...]:
    """What each gives, the errors of the record counted in, or its sentence where it refuses."""
    from ...errors import HydrokitError
    from ...site.sheets import reason

    done = []
    for name, make in work:
        try:
            done.append((name, _with_errors(study, make())))
        except HydrokitError as error:
            done.append(
                (name, str(reason(error)).partition(";")[0])
            )  # what follows is for those who call the function
    return tuple(done)


def _with_errors(study: Study, found: Any) -> Any:
    """An extreme with the error of the record there, and of the days estimated from another creek,
    in its limits; anything else as it is."""
    from ...stream.frequency import Quantile

    if not isinstance(found, Quantile) or not found.flow_m3s > 0:
        return found
    rated, borrowed = study.rating_error, study.transfer_error
    sd = np.hypot(
        study.record_uncertainty if rated is None else rated.sd_si(found.flow_m3s),
        0.0 if borrowed is None else borrowed.sd_si(found.flow_m3s),
    )
    reach = float(ndtri(0.5 + found.level / 2) * sd)
    low, high = (
        np.hypot(np.log(found.flow_m3s / max(end, _TRICKLE_M3S)), reach)
        for end in (found.low_m3s, found.high_m3s)
    )
    return replace(
        found,
        low_m3s=float(found.flow_m3s * np.exp(-low)),
        high_m3s=float(found.flow_m3s * np.exp(high)),
    )


_TRICKLE_M3S = 1e-9  # as good as none


@dataclass(frozen=True, eq=False)
class IntakeFlood(Result):
    """The flood the intake is to survive.

    Parameters
    ----------
    life_years, risk : float
        How long it is to stand, and the chance of a greater flood that is accepted.
    given : bool
        Whether the site file says both.
    return_period_years : float
    flows : tuple
        (method, Quantile or why not).
    """

    life_years: float
    risk: float
    given: bool
    _: KW_ONLY
    return_period_years: float
    flows: tuple[tuple[str, Quantile | str], ...]


def intake_flood(study: Study) -> IntakeFlood | None:
    """The flood the intake must survive for its life and the risk accepted, or None without a record."""
    if study.record is None:
        return None
    from ...stream.floods import return_period_for

    intake = study.site.intake
    life, chance = intake.life, intake.flood_risk
    years = max(float(return_period_for(chance, life)), 1.01)
    return IntakeFlood(
        life,
        chance,
        intake.given("life") and intake.given("flood_risk"),
        return_period_years=years,
        flows=tuple(_two_ways(study, years)),
    )


def peak_factor(study: Study) -> float | None:
    """Momentary peak that the owner's flood marks tell, over the record's mean of that day; None
    where either is lacking."""
    marks, day = study.field_sheets.get("flood marks"), study.site.stream.flood_date
    if marks is None or day is None or study.measured_record is None:
        return None
    mean = float(study.measured_record.get(np.datetime64(day, "D"), np.nan))
    return marks.flow_m3s / mean if marks.flow_m3s > mean > 0 else None


# --- when floods come, and the extremes of every year -----------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class FloodSeason:
    """When the yearly floods come.

    Parameters
    ----------
    months : tuple of str
        In which most of them came.
    most, years : int
        So many in each of these, of so many.
    mean_month : str
        Of their mean date.
    concentration : float
        1 if all come on one date, near 0 if at any time of the year.
    """

    months: tuple[str, ...]
    most: int
    years: int
    mean_month: str
    concentration: float


def flood_season(study: Study) -> FloodSeason | None:
    """When the yearly floods come, or None without a whole year of record."""
    from ...errors import HydrokitError
    from ...stream.floods import freshet

    if study.record is None:
        return None
    try:
        found = freshet(study.record)
    except HydrokitError:
        return None
    most = int(found.counts.max())
    return FloodSeason(
        months=tuple(MONTH_NAMES[month] for month in np.flatnonzero(found.counts == most)),
        most=most,
        years=int(found.counts.sum()),
        mean_month=MONTH_NAMES[found.month - 1],
        concentration=found.concentration,
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class YearlyExtremes:
    """The extreme of every whole year, and the curve through them.

    Parameters
    ----------
    return_years, flow_m3s : ndarray
        Of each year by its plotting position (Weibull), the rarest first.
    curve : tuple of (float, Quantile)
        Return period and flow, log-Pearson III; empty where no curve can be laid.
    """

    return_years: np.ndarray
    flow_m3s: np.ndarray
    curve: tuple[tuple[float, Quantile], ...]


def yearly_extremes(study: Study, points: int = 25) -> tuple[YearlyExtremes, YearlyExtremes] | None:
    """Floods and lowest weeks of the years, each with the curve of the tables; None without a record."""
    from ...stream.floods import annual_maxima, flood
    from ...stream.low_flow import annual_minima, low_flow

    if study.record is None or study.intake_flood is None:
        return None
    record, regional = study.record, _regional(study)
    highest = max(100.0, study.intake_flood.return_period_years)
    years = np.geomspace(1.1, highest, points)
    return (
        _extremes(
            np.sort(annual_maxima(record, 1).to_numpy())[::-1],
            years,
            lambda each: _with_errors(study, flood(record, each, **regional)),
        ),
        _extremes(
            np.sort(annual_minima(record, 7).to_numpy()),
            years,
            lambda each: _with_errors(study, low_flow(record, 7, each)),
        ),
    )


def _extremes(
    rarest_first: np.ndarray, years: np.ndarray, at: Callable[[float], Quantile]
) -> YearlyExtremes:
    from ...errors import HydrokitError

    try:
        found = [(float(each), at(float(each))) for each in years]
    except HydrokitError:
        found = []
    rank = np.arange(1, len(rarest_first) + 1)
    return YearlyExtremes(
        return_years=(len(rarest_first) + 1) / rank,
        flow_m3s=rarest_first,
        curve=tuple(each for each in found if each[1].flow_m3s > 0),
    )
