"""What changes so slowly that no day shows it: a worn jet, a pipe silting up, a tired machine; and
a gauge gone wrong.

Healthy readings alone are held against each other. A gauge that jumps moves the pressure at every
jet count and leaves the watts; a jet that wears lifts the watts, most with few jets open; silt takes
pressure and watts, most with many.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any, Sequence

import numpy as np
import pandas as pd

from .history import Event, History

if TYPE_CHECKING:
    from ..units import Number

__all__ = [
    "DRIFTS",
    "Drift",
    "change_of_logs",
    "gauge_changes",
    "loss_share",
    "slow_drifts",
]

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
_LEAST_STEP, _LEAST_TOLD = (
    0.03,
    0.005,
)  # of the static pressure, for a gauge; for one known to be another
_MOST = 600  # healthy readings that are looked at one by one
_MOST_DRIFTS = 3
_TRIED, _SHORTEST, _SMALL = (
    24,
    0.06,
    0.02,
)  # moments a repair is looked for at; of the log, that a change lasts; of a size
_PER_REPAIR = (
    20.0  # squared misses that a repair must explain: two numbers more, and many moments tried
)
# What a beginning within the log must explain: one number more, as Schwarz' criterion counts it for
# some hundred readings. Without it the first quiet weeks of an even decline are taken for health,
# and what it cost is low.
_PER_START = 5.0
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
        What it does to the watts at its worst, by jets open.
    end : datetime64
        When it was undone; the end of the log where it goes on.
    repaired : bool
        Whether it was undone, all or in part.
    left : float
        Size that is left after that; the size itself where it goes on.
    """

    kind: str
    start: np.datetime64
    size: float
    _: KW_ONLY
    sd: float
    watts_share: dict[int, float]
    end: np.datetime64
    repaired: bool
    left: float

    def size_at(self, time: np.ndarray) -> np.ndarray:
        """Size at some times: even growth from the start on, then what is left."""
        span = (self.end - self.start) / np.timedelta64(1, "s")
        grown = ((time - self.start) / np.timedelta64(1, "s")) / max(span, 1.0)
        after = time > self.end if self.repaired else np.zeros(len(time), dtype=bool)
        return np.where(after, self.left, self.size * np.clip(grown, 0.0, 1.0))


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


def gauge_changes(history: History, known: Sequence[str] = ()) -> tuple[Event, ...]:
    """Spells in which the gauge stood off by a fixed amount, and the moments it was changed.

    What it read for most of the time is taken as right. Size is the error in Pa. Only told where
    watts are there to hold the gauge against. `known` are days on which the owner changed it: a step
    however small.
    """
    points = _points(history, shut=True)
    if history.reference.basis != "watts" or len(points.time_s) < 8:
        return ()
    full = np.nanmax([history.log.static_pa, float(np.median(points.pressure_pa))])
    origin = history.log.time[0]
    moments = origin + points.time_s.astype("timedelta64[s]")
    told = [int(np.searchsorted(moments, np.datetime64(day))) for day in known]
    told = [each for each in told if 3 <= each <= len(moments) - 3]
    breaks, offsets = _steps(points.jets, points.pressure_pa, _LEAST_STEP * full, told)
    if not breaks:
        return ()
    bounds = [0, *breaks, len(points.time_s)]
    alike = np.abs(np.subtract.outer(offsets, offsets)) < 0.5 * _LEAST_STEP * full
    right = offsets[int(np.argmax(alike @ np.diff(bounds)))]

    def moment(index: int) -> np.datetime64:
        between = (
            points.time_s[max(index - 1, 0)] + points.time_s[min(index, len(points.time_s) - 1)]
        ) / 2
        return origin + np.timedelta64(int(between), "s")

    found = []
    for first, after, offset in zip(bounds[:-1], bounds[1:], offsets):
        lines = (int(points.line[first]), int(points.line[after - 1]))
        beside = {first, after} & set(told)
        if abs(offset - right) >= (_LEAST_TOLD if beside else _LEAST_STEP) * full:
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


def _steps(
    groups: np.ndarray, values: np.ndarray, least: float, told: Sequence[int] = ()
) -> tuple[list[int], list[float]]:
    """Positions at which values of all groups jump together, and the offset of each stretch.

    Greedy: the stretch that stands off most, as long as it stands out; its ends are then placed anew.
    Positions `told` are changes whatever their size.
    """
    members = [groups == each for each in np.unique(groups)]
    apart = np.concatenate([np.diff(values[inside]) for inside in members])
    spread = 1.4826 * float(np.median(np.abs(apart))) / np.sqrt(2) + 1e-9
    breaks: list[int] = sorted(set(told))
    for _ in range(4):
        first, after, size, gain = _best_stretch(members, _without(members, values, breaks))
        if abs(size) < least or gain / spread < _SURE:
            break
        breaks = sorted({*breaks, *(each for each in (first, after) if 0 < each < len(values))})
    for old in list(breaks):
        # Hold each change alone against the others: one that is no change any more goes.
        jump = np.diff(_offsets(members, values, breaks))[breaks.index(old)]
        if abs(jump) < least and old not in told:
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


def slow_drifts(history: History, gauge: tuple[Event, ...] | None = None) -> tuple[Drift, ...]:
    r"""The slow changes that best explain how healthy readings moved, as far as they stand out, in
    order of time.

    Parameters
    ----------
    history : History
    gauge : tuple of Event, optional
        From :func:`gauge_changes`, whose errors are taken off first.

    Returns
    -------
    tuple of Drift

    Notes
    -----
    With x the share of the head lost in the pipe at n jets, area A and loss factor k:
    :math:`d\ln p = -2x\,d\ln A - x\,d\ln k` and :math:`d\ln P = (1-3x)\,d\ln A - 1.5x\,d\ln k`, where
    one worn jet among n gives :math:`d\ln A = \ln(1 + a/n)`. A change is taken as even from its
    beginning until it is undone, all or in part; what is found is taken off, and the next looked for.
    """
    points = _points(history, shut=False)
    if history.reference.basis != "watts" or len(points.time_s) < 20:
        return ()
    pressure = points.pressure_pa - _gauge_error(
        history, points, gauge_changes(history) if gauge is None else gauge
    )
    lost = loss_share(history, points.jets, pressure)
    sd = np.array([history.reference.power_spread, history.reference.pressure_spread])
    seen = np.log(np.maximum(np.stack([points.power_w, pressure]), 1e-6)) / sd[:, None]
    years, found = points.time_s / _YEAR, []
    for _ in range(_MOST_DRIFTS):
        kind, start, end, left, rough = _best_ramp(points.jets, lost, years, seen, sd)
        if rough <= 0:
            break
        shape = _shape(years, start, end, left)
        _, slope = _slope(rough, kind, points.jets, lost, shape, seen, sd)
        long = min(end, years[-1]) - start
        deviation = _deviation(kind, points.jets, lost, shape, seen, sd, slope) * long
        size = slope * long
        if size < _LEAST[kind] or size < _SURE * deviation:
            break
        counts = np.unique(points.jets)
        watts = change_of_logs(kind, counts, loss_share(history, counts, None), size)[0]
        begun, ended = (
            history.log.time[0] + np.timedelta64(int(each * _YEAR), "s")
            for each in (start, min(end, years[-1]))
        )
        found.append(
            Drift(
                kind,
                begun,
                float(size),
                sd=float(deviation),
                watts_share={int(n): float(np.expm1(each)) for n, each in zip(counts, watts)},
                end=ended,
                repaired=bool(np.isfinite(end)),
                left=float(left * size if np.isfinite(end) else size),
            )
        )
        seen = seen - change_of_logs(kind, points.jets, lost, slope * shape) / sd[:, None]
    return tuple(sorted(found, key=lambda each: each.start))


def _shape(years: np.ndarray, start: float, end: float, left: float) -> np.ndarray:
    """Size over its yearly growth: even growth until the end, then what is left of it."""
    return np.where(
        years < end, np.maximum(years - start, 0.0), left * (min(end, years[-1]) - start)
    )


def _best_ramp(
    jets: np.ndarray, lost: np.ndarray, years: np.ndarray, seen: np.ndarray, sd: np.ndarray
) -> tuple[str, float, float, float, float]:
    """Kind, start and end in years, the share left after the end, and the yearly growth, of the
    change that explains most."""
    last = float(years[-1])
    gaps = np.unique((years[1:] + years[:-1]) / 2)
    coarse = gaps[np.unique(np.linspace(0, len(gaps) - 1, _TRIED).astype(int))]
    ends = np.append(coarse, np.inf)
    best = (np.inf, next(iter(DRIFTS)), 0.0, np.inf, 0.0, 0.0)
    groups = [jets == each for each in np.unique(jets)]
    target = _centred(seen, groups)
    for kind in DRIFTS:
        unit = change_of_logs(kind, jets, lost, np.full(len(jets), _SMALL)) / _SMALL / sd[:, None]
        for start in np.linspace(0.0, 0.85 * last, 18):
            for end in ends[ends > start + _SHORTEST * last]:
                best = min(best, _tried(kind, start, end, years, unit, target, groups))
    _, kind, start, end, *_ = best
    if np.isfinite(end):  # the day of the repair, among all gaps between readings near it
        unit = change_of_logs(kind, jets, lost, np.full(len(jets), _SMALL)) / _SMALL / sd[:, None]
        step = last / _TRIED * 2
        for other in gaps[(np.abs(gaps - end) < step) & (gaps > start + _SHORTEST * last)]:
            best = min(best, _tried(kind, start, float(other), years, unit, target, groups))
    return best[1:]


def _tried(
    kind: str,
    start: float,
    end: float,
    years: np.ndarray,
    unit: np.ndarray,
    target: np.ndarray,
    groups: list[np.ndarray],
) -> tuple[float, str, float, float, float, float]:
    """How far a change of that course misses what was seen, what is left of it after its end, and
    its growth."""
    ramp = _centred(unit * np.where(years < end, np.maximum(years - start, 0.0), 0.0), groups)
    bases, left = [ramp.ravel()], 0.0
    if np.isfinite(end):
        bases.append(_centred(unit * (years >= end), groups).ravel())
    size = np.linalg.lstsq(np.stack(bases, axis=1), target.ravel(), rcond=None)[0]
    if np.isfinite(end):
        grown = max(size[0], 1e-12) * (end - start)
        left = float(np.clip(size[1] / grown, 0.0, 1.0))
        size = np.array([max(size[0], 0.0), left * grown])
    else:
        size = np.maximum(size, 0.0)
    missed = target.ravel() - np.stack(bases, axis=1) @ size
    miss = float(np.sum(np.minimum(missed**2, 16.0))) + _PER_REPAIR * np.isfinite(end)
    miss += _PER_START * (start > 0)
    return miss, kind, float(start), float(end), left, float(size[0])


def _centred(values: np.ndarray, groups: list[np.ndarray]) -> np.ndarray:
    """Each number of jets has its own healthy level."""
    found = np.array(values, dtype=float)
    for inside in groups:
        found[:, inside] -= found[:, inside].mean(axis=1, keepdims=True)
    return found


def change_of_logs(kind: str, jets: int | np.ndarray, lost: Number, size: Number) -> np.ndarray:
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


def _slope(rough: float, kind: str, *given: np.ndarray) -> tuple[float, float]:
    """Least miss and the yearly size at it, near one that a straight line gave."""
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(
        lambda slope: _miss(kind, given, slope),
        bounds=(0.3 * rough, 3.0 * rough),
        method="bounded",
        options={"xatol": 1e-4 * rough},
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


def loss_share(history: History, jets: np.ndarray, pressure: np.ndarray | None) -> np.ndarray:
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
