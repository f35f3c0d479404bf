"""What changes so slowly that no day shows it: a worn jet, a pipe silting up, a tired machine; and a gauge gone wrong.

Healthy readings alone are held against each other. A gauge that jumps moves the pressure at every
jet count and leaves the watts; a jet that wears lifts the watts, most with few jets open; silt takes
pressure and watts, most with many.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Any, Sequence

import numpy as np
import pandas as pd

from .history import Event, History

__all__ = ["DRIFTS", "Drift", "change_of_logs", "gauge_changes", "slow_drift"]

# Kind -> what to do about it.
DRIFTS = {
    "one jet worn": "measure the bore of the jet that is always open, and replace it",
    "all jets worn": "measure the bores and replace what has worn",
    "loss grown": "flush the pipe; look for silt, growth on the wall, a valve not fully open",
    "machine losing": "look at the runner, the bearings, the brushes and the connections",
}
# Size below which a drift is not worth telling, and the standard deviations it must stand out by.
_LEAST = {"one jet worn": 0.05, "all jets worn": 0.02, "loss grown": 0.10, "machine losing": 0.02}
_SURE = 6.0
_LEAST_STEP = 0.03  # of the static pressure, for a gauge
_MOST = 600  # healthy readings that are looked at one by one
_YEAR = 365.25 * 86400.0


@dataclass(frozen=True, eq=False)
class Drift:
    """A slow change.

    Parameters
    ----------
    kind : str
        One of :data:`DRIFTS`.
    start : datetime64
        When it seems to have begun.
    size, sd : float
        At the end of the log: area gained as a share of one jet's (or of all), growth of the loss,
        efficiency lost; and its standard deviation.
    watts_share : dict of int to float
        What it does to the watts, by jets open.
    """

    kind: str
    start: Any
    size: float
    _: KW_ONLY
    sd: float
    watts_share: dict[int, float]


@dataclass(frozen=True, eq=False)
class _Points:
    """Healthy readings, one for each day and jet count."""

    time_s: np.ndarray
    jets: np.ndarray
    pressure_pa: np.ndarray
    _: KW_ONLY
    power_w: np.ndarray
    line: np.ndarray


def _points(history: History, shut: bool) -> _Points:
    log = history.log
    with np.errstate(invalid="ignore"):
        resting = (log.jets == 0) & (log.pressure_pa > 0.5 * np.fmax.reduce(log.pressure_pa))
        fed = history.reference.healthy & (
            history.flow_share > 1 - max(3 * history.reference.share_spread, 0.007)
        )
    used = (fed | (resting if shut else False)) & np.isfinite(log.pressure_pa)
    frame = pd.DataFrame(
        {
            "day": (log.seconds[used] // 86400).astype(int),
            "jets": log.jets[used],
            "time": log.seconds[used],
            "pressure": log.pressure_pa[used],
            "power": log.power_w[used],
            "line": log.line[used],
        }
    )
    if len(frame) > _MOST:  # a logger: few values a month are enough, and quick
        frame["day"] //= int(np.ceil((frame["day"].iloc[-1] + 1) / _MOST))
        frame = frame.groupby(["day", "jets"], as_index=False).median()
    frame = frame.sort_values("time", kind="stable")
    column = {name: frame[name].to_numpy() for name in frame.columns}
    return _Points(
        time_s=column["time"],
        jets=column["jets"],
        pressure_pa=column["pressure"],
        power_w=column["power"],
        line=column["line"],
    )


def gauge_changes(history: History) -> tuple[Event, ...]:
    """Spells in which the gauge stood off by a fixed amount, and the moments it was changed.

    What it read for most of the time is taken as right. Size is the error in Pa. Only told where
    watts are there to hold the gauge against.
    """
    points = _points(history, shut=True)
    if history.reference.basis != "watts" or len(points.time_s) < 8:
        return ()
    full = np.nanmax([history.log.static_pa, float(np.median(points.pressure_pa))])
    breaks, offsets = _steps(points.jets, points.pressure_pa, _LEAST_STEP * full)
    if not breaks:
        return ()
    bounds = [0, *breaks, len(points.time_s)]
    alike = np.abs(np.subtract.outer(offsets, offsets)) < 0.5 * _LEAST_STEP * full
    right = offsets[int(np.argmax(alike @ np.diff(bounds)))]
    origin = history.log.time[0]

    def moment(index: int) -> Any:
        between = (
            points.time_s[max(index - 1, 0)] + points.time_s[min(index, len(points.time_s) - 1)]
        ) / 2
        return origin + np.timedelta64(int(between), "s")

    found = []
    for first, after, offset in zip(bounds[:-1], bounds[1:], offsets):
        lines = (int(points.line[first]), int(points.line[after - 1]))
        if abs(offset - right) >= _LEAST_STEP * full:
            start = moment(first) if first else history.log.time[0]
            end = moment(after) if after < len(points.time_s) else history.log.time[-1]
            found.append(Event("gauge off", start, end, size=float(offset - right), lines=lines))
        if first:
            error = offset - right if abs(offset - right) >= _LEAST_STEP * full else 0.0
            found.append(
                Event(
                    "gauge changed",
                    moment(first),
                    moment(first),
                    size=float(error),
                    lines=(lines[0], lines[0]),
                )
            )
    return tuple(found)


def _steps(groups: np.ndarray, values: np.ndarray, least: float) -> tuple[list[int], list[float]]:
    """Positions at which values of all groups jump together, and the offset of each stretch.

    Greedy: the stretch that stands off most, as long as it stands out; its ends are then placed anew.
    """
    members = [groups == each for each in np.unique(groups)]
    apart = np.concatenate([np.diff(values[inside]) for inside in members])
    spread = 1.4826 * float(np.median(np.abs(apart))) / np.sqrt(2) + 1e-9
    breaks: list[int] = []
    for _ in range(4):
        first, after, size, gain = _best_stretch(members, _without(members, values, breaks))
        if abs(size) < least or gain / spread < _SURE:
            break
        breaks = sorted({*breaks, *(each for each in (first, after) if 0 < each < len(values))})
    for old in list(breaks):
        # Hold each change alone against the others: one that is no change any more goes.
        jump = np.diff(_offsets(members, values, breaks))[breaks.index(old)]
        if abs(jump) < least:
            breaks.remove(old)
    return breaks, _offsets(members, values, breaks)


def _best_stretch(members: list[np.ndarray], residual: np.ndarray) -> tuple[int, int, float, float]:
    """First and after-last of the stretch that stands off most from the rest; by how much; its weight."""
    count = len(residual)
    summed = np.concatenate([[0.0], np.cumsum(residual)])
    inside_sum = summed[None, :] - summed[:, None]
    weight = np.zeros((count + 1, count + 1))
    for inside in members:
        known = np.concatenate([[0], np.cumsum(inside)])
        here = known[None, :] - known[:, None]
        weight += here * (1 - here / known[-1])
    upper = np.triu(np.ones_like(weight, dtype=bool), 3) & (weight > 1.5)
    gain = np.where(upper, np.abs(inside_sum) / np.sqrt(np.maximum(weight, 1e-9)), 0.0)
    first, after = np.unravel_index(int(np.argmax(gain)), gain.shape)
    return (
        int(first),
        int(after),
        float(inside_sum[first, after] / max(weight[first, after], 1e-9)),
        float(gain[first, after]),
    )


def _design(members: list[np.ndarray], count: int, breaks: list[int]) -> np.ndarray:
    return np.column_stack(
        [
            *(inside.astype(float) for inside in members),
            *((np.arange(count) >= each).astype(float) for each in breaks),
        ]
    )


def _without(members: list[np.ndarray], values: np.ndarray, breaks: list[int]) -> np.ndarray:
    design = _design(members, len(values), breaks)
    return values - design @ np.linalg.lstsq(design, values, rcond=None)[0]


def _offsets(members: list[np.ndarray], values: np.ndarray, breaks: list[int]) -> list[float]:
    found = np.linalg.lstsq(_design(members, len(values), breaks), values, rcond=None)[0][
        len(members) :
    ]
    return [0.0, *np.cumsum(found).tolist()]


# --- slow ------------------------------------------------------------------------------------


def slow_drift(history: History, gauge: tuple[Event, ...] | None = None) -> Drift | None:
    r"""The slow change that best explains how healthy readings moved, if any stands out.

    Parameters
    ----------
    history : History
    gauge : tuple of Event, optional
        From :func:`gauge_changes`, whose errors are taken off first.

    Returns
    -------
    Drift or None

    Notes
    -----
    With x the share of the head lost in the pipe at n jets, area A and loss factor k:
    :math:`d\ln p = -2x\,d\ln A - x\,d\ln k` and :math:`d\ln P = (1-3x)\,d\ln A - 1.5x\,d\ln k`, where
    one worn jet among n gives :math:`d\ln A = \ln(1 + a/n)`. The change is taken as even from its
    beginning on.
    """
    points = _points(history, shut=False)
    if history.reference.basis != "watts" or len(points.time_s) < 20:
        return None
    pressure = points.pressure_pa - _gauge_error(
        history, points, gauge_changes(history) if gauge is None else gauge
    )
    lost = _loss_share(history, points.jets, pressure)
    sd = np.array([history.reference.power_spread, history.reference.pressure_spread])
    seen = np.log(np.maximum(np.stack([points.power_w, pressure]), 1e-6)) / sd[:, None]
    years = points.time_s / _YEAR
    best = (np.inf, next(iter(DRIFTS)), 0.0, 0.0)
    for kind in DRIFTS:
        for start in np.linspace(0.0, 0.75 * years[-1], 19):
            miss, slope = _slope(kind, points.jets, lost, np.maximum(years - start, 0.0), seen, sd)
            if miss < best[0]:
                best = (miss, kind, start, slope)
    _, kind, start, slope = best
    size = slope * (years[-1] - start)
    deviation = _deviation(
        kind, points.jets, lost, np.maximum(years - start, 0.0), seen, sd, slope
    ) * (years[-1] - start)
    if size < _LEAST[kind] or size < _SURE * deviation:
        return None
    counts = np.unique(points.jets)
    watts = change_of_logs(kind, counts, _loss_share(history, counts, None), size)[0]
    moment = history.log.time[0] + np.timedelta64(int(start * _YEAR), "s")
    return Drift(
        kind,
        moment,
        float(size),
        sd=float(deviation),
        watts_share={int(n): float(np.expm1(each)) for n, each in zip(counts, watts)},
    )


def change_of_logs(kind: str, jets: Any, lost: Any, size: Any) -> np.ndarray:
    """Change of ln watts and ln pressure for a drift of this size, with so many jets open.

    `lost` is the share of the head lost in the pipe then; both may be arrays.
    """
    if kind == "machine losing":
        return np.stack([np.log1p(-np.minimum(size, 0.9)) + 0 * lost, 0 * lost * size])
    if kind == "loss grown":
        grown = np.log1p(size)
        return np.stack([-1.5 * lost * grown, -lost * grown])
    area = np.log1p(size / jets if kind == "one jet worn" else size)
    return np.stack([(1 - 3 * lost) * area, -2 * lost * area])


def _miss(kind: str, given: Sequence[np.ndarray], slope: float) -> float:
    jets, lost, years, seen, sd = given
    left = seen - change_of_logs(kind, jets, lost, slope * years) / sd[:, None]
    number = np.bincount(jets)
    for row in left:  # each jet count has its own healthy level
        row -= (np.bincount(jets, row) / np.maximum(number, 1))[jets]
    return float(
        np.sum(np.minimum(left**2, 16.0))
    )  # a wild reading counts as four deviations, no more


def _slope(kind: str, *given: np.ndarray) -> tuple[float, float]:
    """Least miss and the yearly size at it."""
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda slope: _miss(kind, given, slope),
        bounds=(0.0, 3.0),
        method="bounded",
        options={"xatol": 1e-4},
    )
    return float(found.fun), float(found.x)


def _deviation(kind: str, *given: Any) -> float:
    """Standard deviation of the slope, from how sharply the miss rises about it."""
    *fixed, slope = given
    step = max(0.05 * slope, 1e-4)
    low, middle, high = (
        _miss(kind, fixed, max(each, 0.0)) for each in (slope - step, slope, slope + step)
    )
    bend = (low - 2 * middle + high) / step**2
    return float(np.sqrt(2 / bend)) if bend > 0 else np.inf


def _gauge_error(history: History, points: _Points, changes: tuple[Event, ...]) -> np.ndarray:
    moments = history.log.time[0] + points.time_s.astype("timedelta64[s]")
    error = np.zeros(len(moments))
    for event in changes:
        if event.kind == "gauge off":
            error[(moments >= event.start) & (moments <= event.end)] = event.size
    return error


def _loss_share(history: History, jets: np.ndarray, pressure: np.ndarray | None) -> np.ndarray:
    """Share of the head lost in the pipe at each jet count, from pressure shut and running."""
    levels = {
        count: level[0]
        for count, level in history.reference.levels.items()
        if np.isfinite(level[0])
    }
    if pressure is not None:
        levels = {
            int(count): float(np.median(pressure[jets == count])) for count in np.unique(jets)
        }
    static = history.log.static_pa
    if not np.isfinite(static):
        counts, running = np.array(list(levels)), np.array(list(levels.values()))
        if len(counts) < 2:
            return np.full(np.shape(jets), 0.1)  # a well-sized pipe's, where nothing is known
        static = np.linalg.lstsq(
            np.column_stack([np.ones(len(counts)), -(counts**2) * running]), running, rcond=None
        )[0][0]
    share = {count: float(np.clip(1 - value / static, 0.0, 0.5)) for count, value in levels.items()}
    return np.array([share.get(int(count), 0.1) for count in np.ravel(jets)])
