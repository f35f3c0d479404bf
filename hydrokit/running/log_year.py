"""A year of a plant from its own log: what it made, how years differ, and what faults took from it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..energy.outlook import FEW_YEARS_SD
from ..result import Result
from .history import History

__all__ = ["LogYear", "log_year"]

# For how many years of evidence the usual variability stands beside those of the log: common practice.
WORTH_YEARS = 4
METER_SD = 0.03  # of volts times amps read off panel meters, as a whole; common practice
_LONGEST_GAP_S = 45 * 86400.0  # between two readings, beyond which nobody knows what the plant did
_LEAST_SEEN = 0.7  # share of a month that must be known for the month to count
_J = 3.6e6
_NO_FAULT = ("short of water",)
_DRAWS, _SEED = 4000, 3


@dataclass(frozen=True, eq=False)
class LogYear(Result):
    """Energy of a year as the plant's own log has it.

    Parameters
    ----------
    monthly_kwh : ndarray of 12
        Made in a mean month, January first; NaN in months the log does not hold.
    annual_kwh : float
        Made in a mean year; NaN where a month is lacking.
    years_kwh : ndarray
        Made in each whole year of the log, the first beginning with it.
    single_sd : float
        Relative standard deviation of one year: year-to-year variability and meters.
    mean_sd : float
        That of the mean year.
    degrees : int
        Degrees of freedom of both.
    lost_kwh : dict of str to float
        Taken from a mean year by each cause, the worst first.
    from_pressure : bool
        Whether watts were not read, but follow from the gauge and the healthy plant.
    metered_kwh : float
        Made in a mean year where the meter hangs; all else is counted where the watts are used.
    """

    monthly_kwh: np.ndarray
    annual_kwh: float
    years_kwh: np.ndarray
    _: KW_ONLY
    single_sd: float
    mean_sd: float
    degrees: int
    lost_kwh: dict[str, float]
    from_pressure: bool = False
    metered_kwh: float = np.nan

    @property
    def fault_kwh(self) -> float:
        """Taken from a mean year by faults, and by jets left open in want of water."""
        return sum(self.lost_kwh.values())

    @property
    def healthy_kwh(self) -> float:
        """What the healthy plant would make of the same water in a mean year."""
        return self.annual_kwh + self.fault_kwh

    def exceeded_kwh(self, probability: float, mean: bool = False) -> float:
        """Energy that one year, or the mean of many, exceeds with a probability."""
        from scipy.special import stdtrit

        sd = self.mean_sd if mean else self.single_sd
        return self.annual_kwh * max(1 - float(stdtrit(self.degrees, probability)) * sd, 0.0)

    @property
    def range_kwh(self) -> tuple[float, float]:
        """Between them one year lies with 90 % probability; no year of the log lies outside."""
        known = self.years_kwh if len(self.years_kwh) else np.array([self.annual_kwh])
        return min(self.exceeded_kwh(0.95), float(known.min())), max(
            self.exceeded_kwh(0.05), float(known.max())
        )

    def mean_draws(self, count: int = _DRAWS, seed: int = _SEED) -> np.ndarray:
        """Mean years as they may truly be, as shares of the mean year."""
        random = np.random.default_rng(seed)
        return np.maximum(1 + self.mean_sd * random.standard_t(self.degrees, count), 0.0)


def log_year(
    history: History,
    meter_sd: float = METER_SD,
    at_loads: Callable[[np.ndarray], np.ndarray] | None = None,
) -> LogYear:
    """What a plant made in a year, from its log.

    Parameters
    ----------
    history : History
    meter_sd : float
        Relative standard deviation of the watts as a whole.
    at_loads : callable, optional
        From watts at the meter to those at the loads, behind what the wire between them takes; left
        out: the meter hangs at the loads.

    Returns
    -------
    LogYear

    Notes
    -----
    Power is taken as a straight line between two readings; between readings more than 45 days apart
    it is not known. The interval has three parts: how the whole years of the log differ, joined by
    the usual variability of such plants as if it had been seen in four more years (common
    practice), the error of the meters, and that of reading now and then, which is half of what the
    energies of every second reading differ by.
    """
    log = history.log
    power, from_pressure = _power(history)
    known = np.isfinite(power)
    at, power = log.seconds[known], power[known]
    if len(at) < 3:
        return LogYear(
            np.full(12, np.nan),
            np.nan,
            np.zeros(0),
            single_sd=np.nan,
            mean_sd=np.nan,
            degrees=WORTH_YEARS,
            lost_kwh={},
            from_pressure=from_pressure,
        )
    start = log.time[0]
    months, metered, seen = _by_month(start, at, power)
    if at_loads is None:
        used, kwh = power, metered
    else:
        used = np.asarray(at_loads(power), dtype=float)
        _, kwh, _ = _by_month(start, at, used)
    whole = seen >= _LEAST_SEEN
    monthly = _mean_months(months, kwh, seen, whole)
    years = _whole_years(kwh, seen, whole)
    annual, counted = float(monthly.sum()), len(years)
    spread = (
        float(np.var(years / np.mean(years), ddof=1)) if counted > 1 and np.mean(years) > 0 else 0.0
    )
    degrees = WORTH_YEARS + max(counted - 1, 0)
    variance = (WORTH_YEARS * FEW_YEARS_SD**2 + max(counted - 1, 0) * spread) / degrees
    told = meter_sd**2 + _reading_sd(at, power) ** 2
    # what faults took was read on the meter too, and would have lost as much on its way
    reaches = float(used.sum() / power.sum()) if power.sum() > 0 else 1.0
    lost = {kind: energy / _J for kind, energy in history.lost_j().items() if kind not in _NO_FAULT}
    length = max(history.years, 1e-9)
    return LogYear(
        monthly,
        annual,
        years,
        single_sd=float(np.sqrt(variance * (1 + 1 / max(counted, 1)) + told)),
        mean_sd=float(np.sqrt(variance / max(counted, 1) + told)),
        degrees=degrees,
        lost_kwh={kind: reaches * energy / length for kind, energy in lost.items()},
        from_pressure=from_pressure,
        metered_kwh=float(_mean_months(months, metered, seen, whole).sum()),
    )


def _power(history: History) -> tuple[np.ndarray, bool]:
    """Watts at every reading: as read, else by what the gauge says of the healthy watts; none with
    the jets shut."""
    log = history.log
    usual = history.reference
    followed = usual.speed.flow_power_si(np.clip(history.flow_share, 0.0, 1.0)) * usual.power_w
    power = np.where(np.isfinite(log.power_w), log.power_w, followed)
    power = np.where(log.jets == 0, 0.0, power)
    running = log.jets > 0
    return power, bool(running.any() and np.isfinite(log.power_w[running]).mean() < 0.5)


def _by_month(
    start: np.datetime64, at: np.ndarray, power: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Months since 1970, energy in kWh of the part that is known, and how much of each that is."""
    first, last = (start + np.timedelta64(int(each), "s") for each in (at[0], at[-1]))
    month = np.timedelta64(1, "M")
    months = np.arange(first.astype("datetime64[M]"), last.astype("datetime64[M]") + month)
    ends = np.append(months, months[-1] + month).astype("datetime64[s]")
    edges = (ends - start.astype("datetime64[s]")).astype(float)
    cuts = np.unique(np.concatenate([at, edges[(edges > at[0]) & (edges < at[-1])]]))
    step, watts = np.diff(cuts), np.interp(cuts, at, power)
    within = np.clip(np.searchsorted(at, (cuts[1:] + cuts[:-1]) / 2) - 1, 0, len(at) - 2)
    near = np.diff(at)[within] <= _LONGEST_GAP_S
    place = np.clip(np.searchsorted(edges, (cuts[1:] + cuts[:-1]) / 2) - 1, 0, len(months) - 1)
    energy = (
        np.bincount(place, np.where(near, step * (watts[1:] + watts[:-1]) / 2, 0.0), len(months))
        / _J
    )
    time = np.bincount(place, np.where(near, step, 0.0), len(months))
    return months.astype(int), energy, time / np.diff(edges)


def _mean_months(
    months: np.ndarray, kwh: np.ndarray, seen: np.ndarray, whole: np.ndarray
) -> np.ndarray:
    """Energy of a mean month, January first; NaN where none of them is known."""
    found = np.full(12, np.nan)
    for place in range(12):
        here = whole & (months % 12 == place)
        if here.any():
            found[place] = float(np.mean(kwh[here] / seen[here]))
    return found


def _whole_years(kwh: np.ndarray, seen: np.ndarray, whole: np.ndarray) -> np.ndarray:
    """Energy of each twelve months in a row from the first month that is known, all of them known."""
    found, place = [], 0
    while place + 12 <= len(kwh):
        if whole[place : place + 12].all():
            found.append(float((kwh[place : place + 12] / seen[place : place + 12]).sum()))
            place += 12
        else:
            place += int(np.flatnonzero(~whole[place : place + 12])[-1]) + 1
    return np.array(found)


def _reading_sd(at: np.ndarray, power: np.ndarray) -> float:
    """Relative error of reading now and then: half of what the energies of every second reading differ by."""
    if len(at) < 6:
        return 0.5
    low, high = at[1], at[-2]

    def energy(which: slice) -> float:
        inside = np.concatenate([[low], at[which][(at[which] > low) & (at[which] < high)], [high]])
        return float(np.trapezoid(np.interp(inside, at[which], power[which]), inside))

    odd, even = energy(slice(1, None, 2)), energy(slice(0, None, 2))
    mean = (odd + even) / 2
    return abs(odd - even) / (2 * mean) if mean > 0 else 0.0
