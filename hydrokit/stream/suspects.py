"""What of a logger's record is suspect, and where its clock jumped."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .instruments import FAILED, SUSPECT, range_flags, rate_flags, usual_step
from .record import runs

__all__ = ["ClockJump", "Suspect", "clock_jumps", "suspect_stages"]

# Limits for creeks, common practice: the manual's own examples for spikes, and how flat is flat.
SUSPECT_SPIKE_M, FAILED_SPIKE_M = 0.10, 0.20
FASTEST_M_PER_HOUR = 0.50
LEAST_STEP_M = 0.02
FLAT_DAYS, FLAT_DAYS_OF_MEANS = 3.0, 20.0
_LEAST_BEYOND_M = 1.0  # beyond all other stages, before a stage cannot be believed
_BEYOND_RANGES = 6.0  # and so many times their range; a real flood of 46 years reached three


@dataclass(frozen=True, eq=False, kw_only=True)
class Suspect:
    """Readings of a logger that may be no stages.

    Parameters
    ----------
    kind : {"range", "spike", "rate", "flat", "step"}
    first, last : pandas.Timestamp
    readings : int
    stage_m : float
        The stage in question; of a step the one after it.
    size_m : float
        How far it stands out, or the height of the step; 0 where it stands still.
    failed : bool
        Certain enough to be left out; else it is only to be looked at.
    """

    kind: str
    first: pd.Timestamp
    last: pd.Timestamp
    readings: int
    stage_m: float
    size_m: float
    failed: bool


def suspect_stages(stage: pd.Series, daily: bool = False) -> tuple[Suspect, ...]:
    """What of a record of stages is suspect, in order of time.

    Parameters
    ----------
    stage : pandas.Series
        Named ``stage_m``, in order of time; NaN where missing or already left out, as under ice.
    daily : bool
        Daily means: a flood may then come and go within one of them, so that only what lies
        beyond all others is a spike.

    Returns
    -------
    tuple of Suspect

    Notes
    -----
    A flood rises fast but recedes slowly; what jumps up and back to where it was within three
    readings, or stays as steady on the new level as it was on the old, is no flood. Stages fail
    only where no creek does so; the limits are common practice and tested on real records.
    """
    kept = stage.dropna()
    if len(kept) < 5:
        return ()
    times, values = kept.index.to_numpy(), kept.to_numpy(dtype=float)
    found, out = _beyond(kept, times, values), np.zeros(len(values), dtype=bool)
    for each in found:
        out |= (kept.index >= each.first) & (kept.index <= each.last)
    if not daily:
        left = np.flatnonzero(~out)  # what is out already parts no reading from the one before
        for start, end, size, failed in _spikes(times[left], values[left], left):
            first, last = int(left[start]), int(left[end])
            out[left[start : end + 1]] = True
            found.append(_suspect("spike", kept, first, last, size, failed))
    rest = kept[~out]
    found += _flat(rest, FLAT_DAYS_OF_MEANS if daily else FLAT_DAYS)
    if not daily:
        steps = _steps(rest)
        found += steps
        known = {each.first for each in steps}
        fast = rate_flags.si(rest.index.to_numpy(), rest.to_numpy(), FASTEST_M_PER_HOUR / 3600)
        for position in np.flatnonzero(fast == SUSPECT).tolist():
            if rest.index[position] not in known:
                size = float(rest.iloc[position] - rest.iloc[position - 1])
                found.append(_suspect("rate", rest, position, position, size, False))
    return tuple(sorted(found, key=lambda each: each.first))


def _suspect(
    kind: str, series: pd.Series, first: int, last: int, size: float, failed: bool
) -> Suspect:
    return Suspect(
        kind=kind,
        first=series.index[first],
        last=series.index[last],
        readings=int(last - first + 1),
        stage_m=float(series.iloc[last]),
        size_m=float(size),
        failed=bool(failed),
    )


def _beyond(kept: pd.Series, times: np.ndarray, values: np.ndarray) -> list[Suspect]:
    """Stages so far beyond all others that no flood and no dry spell explains them."""
    low, high = np.quantile(values, (0.005, 0.995))
    margin = max(_LEAST_BEYOND_M, _BEYOND_RANGES * (high - low))
    flags = range_flags.si(values, low - margin, high + margin)
    starts, ends = runs(flags == FAILED)
    found = []
    for start, end in zip(starts, ends):
        edge = low if values[start] < low else high
        size = values[start:end][np.argmax(np.abs(values[start:end] - edge))] - edge
        # A flood without equal comes up through the stages between; a slip is there at once.
        step = values[start] - values[start - 1] if start else size
        if abs(step) > 0.5 * abs(size):
            found.append(_suspect("range", kept, start, end - 1, size, True))
    return found


def _spikes(
    times: np.ndarray, values: np.ndarray, place: np.ndarray
) -> list[tuple[int, int, float, bool]]:
    """Excursions of up to three readings that end where they began: first, last, size, failed.

    `place`: of each reading among all, those left out already too.
    """
    noise = 1.4826 * float(np.nanmedian(np.abs(np.diff(values)))) if len(values) > 2 else 0.0
    suspect, failed = max(SUSPECT_SPIKE_M, 6 * noise), max(FAILED_SPIKE_M, 12 * noise)
    step, found = usual_step(times), []
    seconds = times.astype("datetime64[s]").astype(np.int64)
    taken = np.zeros(len(values), dtype=bool)
    for wide in (1, 2, 3):
        if len(values) < wide + 2:
            break
        before, after = values[: -wide - 1], values[wide + 1 :]
        up, down = values[1:-wide] - before, values[wide:-1] - after
        size = np.where(up * down > 0, np.minimum(np.abs(up), np.abs(down)), 0.0)
        back = np.abs(after - before) <= 0.2 * size
        lost = place[wide + 1 :] - place[: -wide - 1] - wide - 1
        near = (seconds[wide + 1 :] - seconds[: -wide - 1]) <= (wide + 2 + lost) * step
        for start in (np.flatnonzero((size > suspect) & back & near) + 1).tolist():
            if not taken[start : start + wide].any():
                taken[start : start + wide] = True
                height = float(np.sign(up[start - 1]) * size[start - 1])
                found.append((start, start + wide - 1, height, abs(height) > failed))
    return found


def _flat(kept: pd.Series, days: float) -> list[Suspect]:
    """Stretches on one and the same value, longer than this logger's others are by far."""
    values = kept.to_numpy(dtype=float)
    starts = np.flatnonzero(np.r_[True, values[1:] != values[:-1]])
    ends = np.r_[starts[1:], len(values)]
    lasts = (kept.index[ends - 1] - kept.index[starts]) / pd.Timedelta("1D")
    # A gap within does not make it longer than its readings show.
    step = usual_step(kept.index.to_numpy()) / 86400
    lasts = np.minimum(np.asarray(lasts), (ends - starts) * step)
    lengths = np.sort(ends - starts)
    usual = float(lengths[: max(1, int(0.99 * len(lengths)))][-1])
    long = (lasts >= days) & (ends - starts >= max(10.0, 4 * usual))
    return [
        _suspect("flat", kept, starts[each], ends[each] - 1, 0.0, False)
        for each in np.flatnonzero(long)
    ]


def _steps(kept: pd.Series) -> list[Suspect]:
    """Single steps to another level on which the stage then is as quiet as it was before."""
    values, times = kept.to_numpy(dtype=float), kept.index.to_numpy()
    step = usual_step(times)
    beside = int(np.clip(round(86400 / step), 6, 288))  # a day on either side
    moved = np.diff(values)
    noise = 1.4826 * float(np.median(np.abs(moved)))
    found: list[Suspect] = []
    for at in (np.flatnonzero(np.abs(moved) > max(LEAST_STEP_M, 8 * noise)) + 1).tolist():
        before, after = values[max(0, at - beside) : at], values[at : at + beside]
        gap = (times[at] - times[at - 1]).astype("timedelta64[s]").astype(float) > 3 * step
        if gap or min(len(before), len(after)) < 6:
            continue
        size = moved[at - 1]
        # Quiet: the whole day before and the whole day after stay within a quarter of the step.
        quiet = max(np.ptp(before), np.ptp(after)) <= 0.25 * abs(size)
        if quiet and abs(np.median(after) - np.median(before) - size) <= 0.25 * abs(size):
            found.append(_suspect("step", kept, at, at, size, False))
    return found


@dataclass(frozen=True)
class ClockJump:
    """A place where the clock of a logger was set, or ran away.

    Parameters
    ----------
    kind : {"minutes", "summer time", "years"}
        Readings stand at other minutes of the hour from here on; an hour is missing in the night
        in which clocks go to summer time; the times leap by more than a year.
    at : pandas.Timestamp
        First reading after it.
    by_s : float
        How far, in seconds.
    """

    kind: str
    at: pd.Timestamp
    by_s: float


_FEW_HOURS = 3  # missing here and there in a whole record that may each be a clock set on


def clock_jumps(times: pd.DatetimeIndex) -> tuple[ClockJump, ...]:
    """Where the clock of a logger jumped, as its times show.

    Parameters
    ----------
    times : pandas.DatetimeIndex
        In order, without one twice; such are refused when the file is read.

    Returns
    -------
    tuple of ClockJump
    """
    if len(times) < 10:
        return ()
    seconds = times.to_numpy().astype("datetime64[s]").astype(np.int64)
    apart = np.diff(seconds)
    step = int(usual_step(times.to_numpy()))
    found = []
    for at in (np.flatnonzero(apart > 366 * 86400) + 1).tolist():
        found.append(ClockJump("years", times[at], float(apart[at - 1])))
    if 60 <= step < 86400:
        offset = seconds % step
        changed = (np.flatnonzero(np.diff(offset) != 0) + 1).tolist()
        # A stray reading between two visits is no set clock: the new minutes must last.
        for at in changed:
            lasting, stood = offset[at : at + 6], offset[max(0, at - 6) : at]
            by = (offset[at] - offset[at - 1] + step // 2) % step - step // 2
            steady = (lasting == offset[at]).all() and (stood == offset[at - 1]).all()
            if steady and len(lasting) == len(stood) == 6 and abs(by) >= 60:
                found.append(ClockJump("minutes", times[at], float(by)))
    if 60 <= step <= 3600:
        for at in (np.flatnonzero(apart == step + 3600) + 1).tolist():
            day = times[at]
            if day.weekday() == 6 and day.hour in (2, 3, 4) and day.month in (3, 4, 9, 10):
                found.append(ClockJump("summer time", day, 3600.0))
    on = (np.flatnonzero(apart == step + 3600) + 1).tolist()
    told = {each.at for each in found}
    if step <= 3600 and len(on) <= _FEW_HOURS:  # where many are missing, readings were lost
        found += [ClockJump("hour", times[at], 3600.0) for at in on if times[at] not in told]
    return tuple(sorted(found, key=lambda each: each.at))
