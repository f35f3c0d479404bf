"""The staff gauge against the logger: whether both show one stage, and from when on they do not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .days import days_of
from .instruments import usual_step

__all__ = ["Shift", "StaffCheck", "shifted", "staff_against_logger"]

READ_TO_M = 0.005  # one standard deviation of a staff reading, common practice
LEAST_SHIFT_M = 0.010  # below it a correction is not worth having: twice the 0.015 ft of [1]_
_SURE = 4.0  # standard errors between two groups of readings
_BESIDE_H = 12  # hours on either side of a step that show whether the stage goes on as before
_MOST_STEPS = 100  # looked at between two staff readings
_ODD_M = 0.030  # a single staff reading so far off is looked at again


@dataclass(frozen=True, eq=False, kw_only=True)
class StaffCheck:
    """Every staff reading beside what the logger read that day, in order of date.

    Parameters
    ----------
    date : ndarray of datetime64
    staff_m, logger_m : ndarray
        The logger's is the median of the day, or the daily mean.
    uncertainty_m : ndarray
        One standard deviation of the difference: of the reading, and of how far the stage moved
        that day.
    """

    date: np.ndarray
    staff_m: np.ndarray
    logger_m: np.ndarray
    uncertainty_m: np.ndarray

    def __len__(self) -> int:
        return len(self.date)

    @property
    def difference_m(self) -> np.ndarray:
        """Staff less logger: what would have to be added to the logger."""
        return self.staff_m - self.logger_m


@dataclass(frozen=True, kw_only=True)
class Shift:
    """From some time on the logger and the staff gauge differ by another amount.

    Parameters
    ----------
    first : pandas.Timestamp
        First stage after it.
    by_m : float
        To be added to the stages from there on.
    readings : int
        Staff readings that show it.
    seen : bool
        The logger itself shows a step of that size there; else `first` is the likeliest time
        between `after` and `before`.
    after, before : pandas.Timestamp
        Dates of the staff readings between which it lies; the same twice where it is there from
        the beginning.
    alone : bool
        One single reading shows it, and no step of the logger: that reading may be the slip.
    """

    first: pd.Timestamp
    by_m: float
    readings: int
    seen: bool
    after: pd.Timestamp
    before: pd.Timestamp
    alone: bool = False


def staff_against_logger(
    date: np.ndarray, staff_m: np.ndarray, stage: pd.Series, daily: bool = False
) -> StaffCheck:
    """Each staff reading beside the logger's stage of its day.

    Parameters
    ----------
    date : ndarray of datetime64
        Days of the staff readings.
    staff_m : ndarray
        NaN where no staff was read; such are left out, and so are days without a logger.
    stage : pandas.Series
        Named ``stage_m``, in order of time.
    daily : bool
        Whether the stages are daily means.

    Returns
    -------
    StaffCheck
    """
    days = pd.DatetimeIndex(np.asarray(date, dtype="datetime64[ns]")).normalize()
    kept = stage.dropna()
    kept = kept[days_of(kept).normalize().isin(days)]
    by_day = kept.groupby(days_of(kept).normalize())
    middle = by_day.median()
    if daily:
        # Half of what separates the days beside it: so much may the hour of the reading matter.
        full = stage.asfreq("D") if days_of(stage).freq is None else stage
        beside = (full.shift(-1) - full.shift(1)).abs() / 4
        spread = beside.reindex(middle.index).fillna(0.0)
    else:
        spread = (by_day.quantile(0.95) - by_day.quantile(0.05)) / 2
    logger = middle.reindex(days).to_numpy()
    moved = spread.reindex(days).to_numpy()
    both = np.isfinite(logger) & np.isfinite(staff_m)
    order = np.flatnonzero(both)[np.argsort(days[both].to_numpy(), kind="stable")]
    return StaffCheck(
        date=days.to_numpy()[order],
        staff_m=np.asarray(staff_m, dtype=float)[order],
        logger_m=logger[order],
        uncertainty_m=np.hypot(READ_TO_M, moved[order]),
    )


def shifted(check: StaffCheck, stage: pd.Series) -> tuple[Shift, ...]:
    """Where the logger left the staff gauge, how far, and how sure that is.

    Parameters
    ----------
    check : StaffCheck
    stage : pandas.Series
        The stages it was made of.

    Returns
    -------
    tuple of Shift
        In order of time; none where logger and staff agree.

    Notes
    -----
    The differences are cut where the mean before and the mean after lie farthest apart in
    standard errors, if that is more than four and more than 10 mm, and each part again. The time
    of a cut is that of a step of the logger of the same size between both readings; without one
    the end of a gap, else the highest stage between them [1]_.

    References
    ----------
    .. [1] E. J. Kennedy, "Computation of continuous records of streamflow", USGS TWRI 3-A13,
       1983, p. 9, as quoted in training slides of the USGS: a datum correction is applied above
       0.015 ft, from the last high water or ice-out before it was found where its time is unknown.
    """
    if not len(check):
        return ()
    odd = _odd(check)
    which = np.flatnonzero(~odd)
    found = [_lone(check, position, stage) for position in np.flatnonzero(odd).tolist()]
    pieces = _pieces(check.difference_m[which], check.uncertainty_m[which])
    level = 0.0
    for start, end in pieces:
        inside = which[start:end]
        weight = check.uncertainty_m[inside] ** -2.0
        mean = float(np.average(check.difference_m[inside], weights=weight))
        change, error = mean - level, float(weight.sum() ** -0.5)
        if start == 0:
            if len(inside) < 2 or abs(change) < max(LEAST_SHIFT_M, _SURE * error):
                continue
            day = pd.Timestamp(check.date[inside[0]])
            found.append(
                Shift(
                    first=stage.index[0],
                    by_m=change,
                    readings=len(inside),
                    seen=False,
                    after=day,
                    before=day,
                )
            )
        else:
            before = which[start - 1]
            found.append(_dated(check, before, inside, change, stage))
            if found[-1].alone:
                continue
        level = mean
    return tuple(sorted(found, key=lambda each: each.first))


def _odd(check: StaffCheck) -> np.ndarray:
    """Single readings off both the one before and the one after, while these agree."""
    difference, odd = check.difference_m, np.zeros(len(check), dtype=bool)
    if len(check) > 2:
        up, down = difference[1:-1] - difference[:-2], difference[1:-1] - difference[2:]
        size = np.where(up * down > 0, np.minimum(np.abs(up), np.abs(down)), 0.0)
        limit = np.maximum(_ODD_M, _SURE * check.uncertainty_m[1:-1])
        agree = np.abs(difference[2:] - difference[:-2]) <= 0.5 * size
        odd[1:-1] = (size > limit) & agree
    return odd


def _pieces(difference: np.ndarray, uncertainty: np.ndarray) -> list[tuple[int, int]]:
    """First and end of each group of readings that agree among themselves."""
    done, todo = [], [(0, len(difference))]
    while todo:
        start, end = todo.pop()
        cut = _cut(difference[start:end], uncertainty[start:end])
        if cut is None:
            done.append((start, end))
        else:
            todo += [(start, start + cut), (start + cut, end)]
    return sorted(each for each in done if each[1] > each[0])


def _cut(difference: np.ndarray, uncertainty: np.ndarray) -> int | None:
    count, weight = len(difference), uncertainty**-2.0
    best, sure = None, _SURE
    for at in range(1, count):
        parts = ((difference[:at], weight[:at]), (difference[at:], weight[at:]))
        means = [float(np.average(values, weights=each)) for values, each in parts]
        error = float(np.sqrt(sum(1 / each.sum() for _, each in parts)))
        if count > 3:
            left = sum(
                float((each * (values - mean) ** 2).sum())
                for (values, each), mean in zip(parts, means)
            )
            error *= max(1.0, float(np.sqrt(left / (count - 2))))
        apart = abs(means[1] - means[0])
        if apart > LEAST_SHIFT_M and apart / error > sure:
            best, sure = at, apart / error
    return best


def _lone(check: StaffCheck, position: int, stage: pd.Series) -> Shift:
    beside = np.median(check.difference_m[[position - 1, position + 1]])
    day = pd.Timestamp(check.date[position])
    return Shift(
        first=day,
        by_m=float(check.difference_m[position] - beside),
        readings=1,
        seen=False,
        after=day,
        before=day,
        alone=True,
    )


def _dated(
    check: StaffCheck, before: int, inside: np.ndarray, change: float, stage: pd.Series
) -> Shift:
    """The shift between two staff readings, at the step of the logger that explains it."""
    after, until = pd.Timestamp(check.date[before]), pd.Timestamp(check.date[inside[0]])
    between = stage.loc[after : until + pd.Timedelta("1D")].dropna()
    at, seen = _step_of(between, -change)
    if at is None:
        at = _likeliest(between, until)
    return Shift(
        first=at,
        by_m=change,
        readings=len(inside),
        seen=seen,
        after=after,
        before=until,
        alone=len(inside) == 1 and not seen,
    )


def _step_of(between: pd.Series, size: float) -> tuple[pd.Timestamp | None, bool]:
    """First stage after the step most like a jump of that size, and whether no other is nearly so like it."""
    values = between.to_numpy(dtype=float)
    if len(values) < 3:
        return None, False
    step = np.diff(values)
    near = np.flatnonzero(np.abs(step - size) <= max(0.010, 0.35 * abs(size))) + 1
    near = near[np.argsort(np.abs(step[near - 1] - size))[:_MOST_STEPS]]
    if not len(near):
        return None, False
    apart = usual_step(between.index.to_numpy())
    beside = max(3, round(3600 * _BESIDE_H / apart))
    off = np.array([_unlike_a_jump(values, at, size, beside) for at in near.tolist()])
    best = int(np.argmin(off))
    if off[best] > max(0.020, 0.7 * abs(size)):
        return None, False
    # Between two daily means a storm steps as a sensor does; and two steps alike tell of neither.
    plain = apart < 86400 and bool(np.all(np.delete(off, best) > 1.5 * off[best]))
    return between.index[near[best]], plain


def _unlike_a_jump(values: np.ndarray, at: int, size: float, beside: int) -> float:
    """How far a step is from one of that size after which the stage goes on as before, in metres.

    A flood rises out of a steady stage and then falls; a sensor that moved goes on as it went.
    """
    beside = min(beside, at, len(values) - at)
    off = abs(values[at] - values[at - 1] - size)
    if beside < 3:
        return off
    count = np.arange(beside)
    before, after = values[at - beside : at], values[at : at + beside]
    bend = np.polyfit(count, after, 1)[0] - np.polyfit(count, before, 1)[0]
    return float(off + abs(bend) * beside)


def _likeliest(between: pd.Series, until: pd.Timestamp) -> pd.Timestamp:
    """The end of the longest gap, else the highest stage, else the day it was found."""
    if len(between) < 2:
        return until
    times = between.index.to_numpy()
    apart = np.diff(times).astype("timedelta64[s]").astype(np.int64)
    longest = int(np.argmax(apart))
    if apart[longest] > 3 * usual_step(times):
        return days_of(between)[longest + 1]
    return days_of(between)[int(between.argmax())]
