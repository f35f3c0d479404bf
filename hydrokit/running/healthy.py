"""What the plant gives when nothing is wrong, read from the log itself, for each number of jets.

With the pond spilling, watts and pressure at one jet count hardly move, so healthy readings lie on
a ridge. A ridge that moves slowly is wear or silt (see :mod:`hydrokit.running.drift`); what falls
below it is an event.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Mapping

import numpy as np
import pandas as pd

from ..plant.runner_speed import FOLLOWS, RunnerSpeed
from .log import Log

__all__ = ["Reference", "reference"]

_NEAR = (
    0.85,
    1.30,
)  # a healthy reading, as a share of the usual one at its jets: wear lifts it, silt lowers it
_FLAGGED = 0.5  # share of readings with spilling or needle written down above which those decide
_DAYS, _DAYS_UNSEEN = 9, 61  # days with healthy readings that the running value is taken over
_LEAST_SPREAD = 0.003


@dataclass(frozen=True, eq=False)
class Reference:
    """Healthy watts and pressure at every reading of a log, for the jets then open.

    Parameters
    ----------
    basis : {"watts", "pressure"}
        What the plant's state is judged by.
    power_w, pressure_pa : ndarray
        One for each reading; NaN where nothing healthy is known at those jets, or none is open.
    healthy : ndarray of bool
        Readings on the ridge.
    power_spread, pressure_spread : float
        Relative standard deviation of one healthy reading.
    levels : dict of int to (float, float, int)
        Jets to usual pressure in Pa, watts, and number of healthy readings.
    from_card : frozenset of int
        Jet counts whose watts are those of the gauge card, for the log holds none.
    speed : RunnerSpeed
        How far that of the runner is held while under-fed jets slow down.
    """

    basis: str
    power_w: np.ndarray
    pressure_pa: np.ndarray
    _: KW_ONLY
    healthy: np.ndarray
    power_spread: float
    pressure_spread: float
    levels: dict[int, tuple[float, float, int]]
    from_card: frozenset[int] = frozenset()
    speed: RunnerSpeed = FOLLOWS

    def flow_share(self, log: Log) -> np.ndarray:
        r"""Water at the jets as a share of what the open ones take when fed.

        Under-fed jets stand under less head: :math:`p \propto Q^2`, and the water's power goes with
        :math:`Q^3`, so the meters are the better flow gauge; where they were not read the gauge tells.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            by_gauge = np.sqrt(np.maximum(log.pressure_pa, 0.0) / self.pressure_pa)
            if self.basis == "watts":
                return np.where(
                    np.isfinite(log.power_w),
                    self.speed.flow_of_power_si(log.power_w / self.power_w),
                    by_gauge,
                )
            return by_gauge

    @property
    def share_spread(self) -> float:
        """Standard deviation of one reading of :meth:`flow_share`."""
        return self.power_spread / 3 if self.basis == "watts" else self.pressure_spread / 2

    def spread_of(self, log: Log) -> np.ndarray:
        """The same, reading by reading: that of the meters, or of the gauge where they were not read."""
        by_meters = np.isfinite(log.power_w) & (self.basis == "watts")
        return np.where(by_meters, self.power_spread / 3, self.pressure_spread / 2)


def reference(
    log: Log,
    baseline: Mapping[int, tuple[float, float]] | None = None,
    speed: RunnerSpeed = FOLLOWS,
) -> Reference:
    """Healthy watts and pressure for every reading of a log.

    Parameters
    ----------
    log : Log
    baseline : mapping of jets to (pressure in Pa, watts), optional
        From commissioning; used for jet counts of which the log holds no healthy reading, and for
        the watts of those it holds no watts of.
    speed : RunnerSpeed, optional
        Of the runner.

    Returns
    -------
    Reference
    """
    running = log.jets > 0
    has_watts = np.isfinite(log.power_w[running]).mean() > 0.6 if running.any() else False
    judged = log.power_w if has_watts else log.pressure_pa
    healthy = _on_ridge(log, judged)
    power, power_spread, power_level = _ridge(log, log.power_w, healthy)
    pressure, pressure_spread, pressure_level = _ridge(log, log.pressure_pa, healthy)
    levels, from_card = {}, set()
    for count in np.unique(log.jets[running]).tolist():
        known = int((healthy & (log.jets == count)).sum())
        levels[count] = (pressure_level.get(count, np.nan), power_level.get(count, np.nan), known)
        if not known and baseline and count in baseline:
            here = log.jets == count
            pressure[here], power[here] = baseline[count]
            levels[count] = (*baseline[count], 0)
            from_card.add(count)
        elif (
            known and baseline and count in baseline and not np.isfinite(levels[count][1])
        ):  # the gauge alone was read
            power[log.jets == count] = baseline[count][1]
            levels[count] = (levels[count][0], baseline[count][1], known)
            from_card.add(count)
    return Reference(
        "watts" if has_watts else "pressure",
        power,
        pressure,
        healthy=healthy,
        power_spread=power_spread,
        pressure_spread=pressure_spread,
        levels=levels,
        from_card=frozenset(from_card),
        speed=speed,
    )


def _seen(log: Log) -> np.ndarray:
    """Whether anybody wrote down spilling or needle."""
    return np.isfinite(log.spilling) | np.isfinite(log.fluctuates)


def _flagged(log: Log, here: np.ndarray) -> bool:
    return bool(_seen(log)[here].mean() > _FLAGGED) if here.any() else False


def _on_ridge(log: Log, judged: np.ndarray) -> np.ndarray:
    healthy = np.zeros(len(log), dtype=bool)
    fed = (
        (log.jets > 0)
        & (log.spilling != 0)
        & (log.fluctuates != 1)
        & np.isfinite(judged)
        & (judged > 0)
    )
    for count in np.unique(log.jets[log.jets > 0]).tolist():
        here = fed & (log.jets == count)
        if not here.any():
            continue
        usual = (
            float(np.median(judged[here]))
            if _flagged(log, log.jets == count)
            else half_sample_mode(judged[here])
        )
        healthy |= here & (judged > _NEAR[0] * usual) & (judged < _NEAR[1] * usual)
    return healthy


def half_sample_mode(values: np.ndarray) -> float:
    """Where values lie densest, by halving the narrowest half again and again (Bickel and Frühwirth 2006).

    >>> half_sample_mode([1.0, 2.0, 3.1, 3.2, 3.25, 9.0])
    3.225
    """
    left = np.sort(np.asarray(values, dtype=float))
    while len(left) > 3:
        half = (len(left) + 1) // 2
        spans = left[half - 1 :] - left[: len(left) - half + 1]
        start = int(np.argmin(spans))
        left = left[start : start + half]
    if len(left) == 3:
        left = left[:2] if left[1] - left[0] < left[2] - left[1] else left[1:]
    return float(np.mean(left))


def _ridge(
    log: Log, values: np.ndarray, healthy: np.ndarray
) -> tuple[np.ndarray, float, dict[int, float]]:
    """Running healthy value at every reading, the spread about it, and the usual value by jets."""
    found, level = np.full(len(log), np.nan), {}
    spread = _noise(log, values, healthy)
    seconds = log.seconds
    for count in np.unique(log.jets[healthy]).tolist():
        here = log.jets == count
        used = here & healthy & np.isfinite(values) & (values > 0)
        if not used.any():
            continue
        flagged = _flagged(log, here)
        by_day = pd.Series(values[used]).groupby(log.time[used].astype("datetime64[D]"))
        day_value = by_day.median() if flagged else by_day.quantile(0.9)
        days, share = (_DAYS, 0.5) if flagged else (_DAYS_UNSEEN, 0.8)
        run = day_value.rolling(days, center=True, min_periods=1).quantile(share)
        noon = (run.index.to_numpy().astype("datetime64[s]") - log.time[0]).astype(float) + 43200.0
        found[here] = np.interp(seconds[here], noon, run.to_numpy())
        if not flagged:
            # The upper quantiles found the ridge by its upper edge; its middle lies a little lower.
            ratio = values[used] / found[used]
            found[here] *= (
                float(np.median(ratio[ratio > 1 - 4 * spread]))
                if (ratio > 1 - 4 * spread).any()
                else 1.0
            )
        level[count] = float(np.median(found[used]))
    return found, spread, level


def _noise(log: Log, values: np.ndarray, healthy: np.ndarray) -> float:
    """Relative standard deviation of one healthy reading.

    Neighbouring readings differ by noise alone, so their differences know it free of any drift.
    """
    used = healthy & np.isfinite(values) & (values > 0)
    steps = [
        np.diff(np.log(values[used & (log.jets == count)])) for count in np.unique(log.jets[used])
    ]
    apart = np.concatenate(steps) if steps else np.empty(0)
    spread = 1.4826 * float(np.median(np.abs(apart))) / np.sqrt(2) if len(apart) > 4 else 0.02
    return max(spread, _LEAST_SPREAD)
