"""A logger is tested before it is believed: range, spikes, rate, flat stretches, steps, the clock.

The flags are those of the U.S. IOOS manual [1]_: 1 passed, 2 not tested, 3 suspect, 4 failed,
9 missing. Limits are the operator's: those of the manual are for tides, those for creeks here are
common practice.

References
----------
.. [1] U.S. Integrated Ocean Observing System, "Manual for Real-Time Quality Control of Water Level
   Data", version 2.1, 2021, section 3.3.1, tests 4 to 8.
.. [2] S. E. Rantz and others, USGS Water-Supply Paper 2175, 1982, vol. 2, p. 563: corrections of
   the gauge height.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..units import Given, units

__all__ = [
    "flat_line_flags",
    "range_flags",
    "rate_flags",
    "spike_flags",
    "usual_step",
]

PASSED, NOT_TESTED, SUSPECT, FAILED, MISSING = 1, 2, 3, 4, 9
SPIKE_RULES = ("mean of neighbours", "smaller step")


@units(None, stage="m", lowest="m", highest="m", usual_lowest="m", usual_highest="m")
def range_flags(
    stage: Given,
    lowest: Given,
    highest: Given,
    usual_lowest: Given = None,
    usual_highest: Given = None,
) -> np.ndarray:
    """Which stages lie beyond what the sensor can measure, or beyond what the creek usually does.

    Parameters
    ----------
    stage : array Quantity or list [length]
        NaN where nothing was read.
    lowest, highest : Quantity or str [length]
        Span of the sensor. A stage beyond it fails; one at its end passes.
    usual_lowest, usual_highest : Quantity or str [length], optional
        Span of the creek. A stage beyond it is suspect.

    Returns
    -------
    ndarray of int
        1 passed, 3 suspect, 4 failed, 9 missing.

    References
    ----------
    .. [1] IOOS, "Manual for Real-Time Quality Control of Water Level Data", 2021, test 4.

    Examples
    --------
    >>> range_flags(["0.2 m", "4.12 m", "12 m"], "0 m", "10 m", "0 m", "1 m").tolist()
    [1, 3, 4]
    >>> range_flags(["0.7 ft", "40 ft"], "0 ft", "33 ft").tolist()
    [1, 4]
    """
    stage = np.asarray(stage, dtype=float)
    flags = np.full(stage.shape, PASSED)
    low = lowest if usual_lowest is None else usual_lowest
    high = highest if usual_highest is None else usual_highest
    flags[(stage < low) | (stage > high)] = SUSPECT
    flags[(stage < lowest) | (stage > highest)] = FAILED
    flags[np.isnan(stage)] = MISSING
    return flags


@units(None, stage="m", suspect="m", failed="m")
def spike_flags(
    stage: Given, suspect: Given = "0.1 m", failed: Given = "0.2 m", rule: str = SPIKE_RULES[1]
) -> np.ndarray:
    """Which stages stand out from the one before and the one after.

    Parameters
    ----------
    stage : array Quantity or list [length]
        In order of time, evenly spaced; NaN where nothing was read.
    suspect, failed : Quantity or str [length]
        How far a stage may stand out.
    rule : str
        ``"mean of neighbours"``, the manual's: a large spike then blames both its neighbours; or
        ``"smaller step"``: the smaller of both steps, where the stage turns, which blames none.

    Returns
    -------
    ndarray of int
        1 passed, 2 not tested (at an end or beside a gap), 3 suspect, 4 failed, 9 missing.

    Raises
    ------
    HydrokitError
        A rule that is not known.

    References
    ----------
    .. [1] IOOS, "Manual for Real-Time Quality Control of Water Level Data", 2021, test 6.

    Examples
    --------
    >>> spike_flags(["0.21 m", "0.22 m", "4.12 m", "0.22 m", "0.23 m"]).tolist()
    [2, 1, 4, 1, 2]
    >>> spike_flags(["0.7 ft", "1.2 ft", "0.7 ft"], "0.3 ft", "0.6 ft").tolist()
    [2, 3, 2]
    """
    if rule not in SPIKE_RULES:
        raise HydrokitError(f"spike_flags(): rule must be one of {SPIKE_RULES}, got {rule!r}")
    stage = np.asarray(stage, dtype=float)
    flags = np.full(stage.shape, NOT_TESTED)
    if stage.shape[-1] > 2:
        before, middle, after = stage[..., :-2], stage[..., 1:-1], stage[..., 2:]
        if rule == SPIKE_RULES[0]:
            out = np.abs(middle - (before + after) / 2)
        else:
            rise, fall = middle - before, middle - after
            out = np.where(rise * fall < 0, 0.0, np.minimum(np.abs(rise), np.abs(fall)))
            out = np.where(np.isnan(rise * fall), np.nan, out)
        flags[..., 1:-1] = np.select(
            [np.isnan(out), out > failed, out > suspect], [NOT_TESTED, FAILED, SUSPECT], PASSED
        )
    flags[np.isnan(stage)] = MISSING
    return flags


spike_flags.measurement = ("stage",)


@units(None, stage="m", fastest="m/s")
def rate_flags(times: np.ndarray, stage: Given, fastest: Given = "0.5 m/h") -> np.ndarray:
    """Which stages have moved faster from the one before than a creek does.

    Parameters
    ----------
    times : array of datetime
        In order.
    stage : array Quantity or list [length]
        NaN where nothing was read.
    fastest : Quantity or str [length/time]
        The usual half a metre in an hour is common practice; set it by the floods of the creek.

    Returns
    -------
    ndarray of int
        1 passed, 3 suspect, 9 missing. No rate is formed across a gap.

    References
    ----------
    .. [1] IOOS, "Manual for Real-Time Quality Control of Water Level Data", 2021, test 7.

    Examples
    --------
    >>> hours = ["2024-03-01T00", "2024-03-01T01", "2024-03-01T02"]
    >>> rate_flags(hours, ["0.2 m", "0.3 m", "1.1 m"]).tolist()
    [1, 1, 3]
    >>> rate_flags(hours, ["1 ft", "1.5 ft", "3.5 ft"], "1 ft/h").tolist()
    [1, 1, 3]
    """
    stage = np.asarray(stage, dtype=float)
    seconds = np.asarray(times, dtype="datetime64[s]").astype(np.int64)
    flags = np.full(stage.shape, PASSED)
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.abs(np.diff(stage)) / np.diff(seconds)
    flags[1:][rate > fastest] = SUSPECT
    flags[np.isnan(stage)] = MISSING
    return flags


rate_flags.measurement = ("stage",)


@units(None, stage="m", tolerance="m", suspect_after="s", failed_after="s")
def flat_line_flags(
    times: np.ndarray,
    stage: Given,
    suspect_after: Given,
    failed_after: Given,
    tolerance: Given = "1 mm",
) -> np.ndarray:
    """Which stages end a stretch in which the stage has not moved.

    Parameters
    ----------
    times : array of datetime
        In order, evenly spaced.
    stage : array Quantity or list [length]
        NaN where nothing was read.
    suspect_after, failed_after : Quantity or str [time]
        How long the stage may stand still.
    tolerance : Quantity or str [length]
        A stretch is flat where its highest less its lowest is under this. Of nought none is ever
        flat, not even that of a logger that is stuck.

    Returns
    -------
    ndarray of int
        1 passed, 3 suspect, 4 failed, 9 missing; flags within the stretch are those of its time.

    References
    ----------
    .. [1] IOOS, "Manual for Real-Time Quality Control of Water Level Data", 2021, test 8.

    Examples
    --------
    >>> hours = ["2024-03-01T00", "2024-03-01T01", "2024-03-01T02", "2024-03-01T03"]
    >>> flat_line_flags(hours, ["0.2 m", "0.2 m", "0.2 m", "0.2 m"], "2 h", "3 h").tolist()
    [1, 1, 3, 4]
    >>> flat_line_flags(hours, ["1 ft", "1 ft", "1.1 ft", "1 ft"], "1 h", "3 h").tolist()
    [1, 3, 1, 1]
    """
    stage = np.asarray(stage, dtype=float)
    flags = np.full(stage.shape, PASSED)
    step = usual_step(np.asarray(times, dtype="datetime64[s]"))
    for after, flag in ((suspect_after, SUSPECT), (failed_after, FAILED)):
        within = int(after / step) + 1
        if len(stage) >= within:
            seen = pd.Series(stage).rolling(within)
            flags[np.asarray(seen.max() - seen.min() < tolerance)] = flag
    flags[np.isnan(stage)] = MISSING
    return flags


flat_line_flags.measurement = ("stage",)


def usual_step(times: np.ndarray) -> float:
    """Seconds from one reading to the next, as most of them are; a day where there is one only."""
    if len(times) < 2:
        return 86400.0
    return max(1.0, float(np.median(np.diff(times).astype("timedelta64[s]").astype(np.int64))))
