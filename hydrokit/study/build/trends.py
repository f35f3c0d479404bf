"""What a log shows over the years: watts in health by jets open, days since the screen was cleaned,
water temperature."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ...result import Result
from ...stream.days import days_of

if TYPE_CHECKING:
    from ...running.history import History
    from ..study import Study

__all__ = ["HealthByJets", "Trends", "trends"]

DAY_S = 86400.0
GAP_DAYS = 21.0  # between readings from which a line is broken: nobody knows what was then
_FEWEST = 3  # healthy readings at the beginning and at the end, to tell a change by
_ENDS = 1 / 3  # of the time, at the beginning and at the end
_PASSED_BY_NOISE = 3.0  # standard deviations that a change must exceed


@dataclass(frozen=True, eq=False)
class HealthByJets:
    """Readings that show the plant healthy, with so many jets open.

    Parameters
    ----------
    jets : int
    time : ndarray of datetime64
    value_si : ndarray
        Watts, or the gauge's pascals where the log has no watts.
    month : ndarray of datetime64
        Middle of each month from the first to the last of the log.
    monthly_si : ndarray
        Median of each month; NaN where it has none.
    commissioned_si : float
        NaN where the plant was not commissioned.
    change : float
        Of the median of the last third of the log against that of the first, as a share; NaN where there
        are too few.
    sure : bool
        Whether that is more than three standard deviations of the two medians.
    """

    jets: int
    time: np.ndarray
    value_si: np.ndarray
    _: KW_ONLY
    month: np.ndarray
    monthly_si: np.ndarray
    commissioned_si: float
    change: float
    sure: bool


@dataclass(frozen=True, eq=False)
class Trends(Result):
    """A log over the years.

    Parameters
    ----------
    basis : {"watts", "pressure"}
    by_jets : tuple of HealthByJets
        Fewest jets first.
    time : ndarray of datetime64
        Of every reading, and of the middle of each gap, where the others are NaN.
    since_clean_days : ndarray
        Since the screen was last cleaned; NaN before the first cleaning of the log.
    temperature_k : ndarray
        Of the water, or of the air where no water temperature is written down.
    of_water : bool
    gaps : tuple of (datetime64, datetime64)
        Between readings, longer than three weeks.
    """

    basis: str
    by_jets: tuple[HealthByJets, ...]
    time: np.ndarray
    _: KW_ONLY
    since_clean_days: np.ndarray
    temperature_k: np.ndarray
    of_water: bool
    gaps: tuple[tuple[np.datetime64, np.datetime64], ...]

    @property
    def longest_days(self) -> float:
        """The longest that the screen was known not to be cleaned; NaN without a cleaning."""
        known = self.since_clean_days[np.isfinite(self.since_clean_days)]
        return float(known.max()) if len(known) else float("nan")

    @property
    def longest_day(self) -> str:
        """When that was, as 2026-07-04; empty without a cleaning."""
        if not np.isfinite(self.longest_days):
            return ""
        return str(self.time[np.nanargmax(self.since_clean_days)].astype("datetime64[D]"))

    @property
    def coldest_k(self) -> float:
        """Least temperature written down; NaN of none."""
        known = self.temperature_k[np.isfinite(self.temperature_k)]
        return float(known.min()) if len(known) else float("nan")

    @property
    def warmest_k(self) -> float:
        """Highest temperature written down; NaN of none."""
        known = self.temperature_k[np.isfinite(self.temperature_k)]
        return float(known.max()) if len(known) else float("nan")


def trends(study: Study) -> Trends | None:
    """The log over the years; None without one."""
    happened = study.history
    if happened is None:
        return None
    log, basis = happened.log, happened.reference.basis
    fitted = study.baseline
    commissioned = {}
    if fitted is not None:
        known = fitted.power_w if basis == "watts" else fitted.pressure_pa
        commissioned = dict(zip(fitted.jets.tolist(), known.tolist()))
    water = bool(np.isfinite(log.water_k).any())
    gaps = _gaps(log.time)
    time, columns = _broken(
        log.time, gaps, _since_clean(happened), log.water_k if water else log.air_k
    )
    return Trends(
        basis,
        tuple(
            _by_jets(happened, count, commissioned.get(count, np.nan))
            for count in sorted(set(log.jets[happened.reference.healthy].tolist()) - {0})
        ),
        time,
        since_clean_days=columns[0],
        temperature_k=columns[1],
        of_water=water,
        gaps=gaps,
    )


def _by_jets(happened: History, count: int, commissioned: float) -> HealthByJets:
    log, usual = happened.log, happened.reference
    values = log.power_w if usual.basis == "watts" else log.pressure_pa
    here = usual.healthy & (log.jets == count) & np.isfinite(values)
    seen = pd.Series(values[here], pd.DatetimeIndex(log.time[here]))
    months = pd.period_range(log.time[0], log.time[-1], freq="M")
    monthly = seen.groupby(days_of(seen).to_period("M")).median().reindex(months)
    begins, ends = (
        log.time[0] + (log.time[-1] - log.time[0]) * each for each in (_ENDS, 1 - _ENDS)
    )
    first = values[here & (log.time <= begins)]
    last = values[here & (log.time >= ends)]
    change, sure = np.nan, False
    if min(len(first), len(last)) >= _FEWEST:
        change = float(np.median(last) / np.median(first) - 1)
        spread = usual.power_spread if usual.basis == "watts" else usual.pressure_spread
        # A median of normal readings strays by 1.25 of what their mean does (Kenney and Keeping, 1962).
        sd = 1.2533 * spread * np.sqrt(1 / len(first) + 1 / len(last))
        sure = bool(abs(change) > _PASSED_BY_NOISE * sd)
    middle = (months.to_timestamp() + pd.Timedelta(days=14)).to_numpy()
    return HealthByJets(
        count,
        log.time[here],
        values[here],
        month=middle,
        monthly_si=monthly.to_numpy(dtype=float),
        commissioned_si=float(commissioned),
        change=change,
        sure=sure,
    )


def _since_clean(happened: History) -> np.ndarray:
    """Days since the last cleaning at each reading."""
    time = happened.log.time.astype("datetime64[s]")
    cleaned = np.sort(
        np.array([event.start for event in happened.of("clean")], dtype="datetime64[s]")
    )
    last = np.searchsorted(cleaned, time, side="right") - 1
    found = np.full(len(time), np.nan)
    known = last >= 0
    found[known] = (time[known] - cleaned[last[known]]).astype(float) / DAY_S
    return found


def _gaps(time: np.ndarray) -> tuple[tuple[np.datetime64, np.datetime64], ...]:
    days = np.diff(time).astype("timedelta64[s]").astype(float) / DAY_S
    return tuple((time[each], time[each + 1]) for each in np.flatnonzero(days > GAP_DAYS))


def _broken(
    time: np.ndarray, gaps: tuple[tuple[np.datetime64, np.datetime64], ...], *columns: np.ndarray
) -> tuple[np.ndarray, list[np.ndarray]]:
    """Series with nothing known in the middle of each gap, so that no line crosses it."""
    middles = np.array([start + (end - start) / 2 for start, end in gaps], dtype=time.dtype)
    every = np.concatenate([time, middles])
    order = np.argsort(every, kind="stable")
    return every[order], [
        np.concatenate([each, np.full(len(middles), np.nan)])[order] for each in columns
    ]
