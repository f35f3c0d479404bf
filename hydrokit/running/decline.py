"""What slow changes cost: the plant of the log held against the one that was commissioned, not
against itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from .drift import Drift, change_of_logs, loss_share
from .history import Event, History

__all__ = ["declines"]

_WELL_BELOW = 0.03  # of the commissioned watts: more than meters differ by, common practice


def declines(
    history: History,
    drifts: Sequence[Drift],
    baseline: Mapping[int, tuple[float, float]] | None = None,
) -> tuple[Event, ...]:
    """Events of slow decline and of a level below the commissioning, each with the watts it took;
    and the repairs.

    Parameters
    ----------
    history : History
    drifts : sequence of Drift
        From :func:`~hydrokit.running.drift.slow_drifts`.
    baseline : mapping of jets to (pressure in Pa, watts), optional
        As commissioned; the plant of the log's beginning where it is not given.

    Notes
    -----
    At every reading the plant would have given, without a change, its healthy watts of that day over
    what is left of them after the change. While the jets are under-fed all of it falls as their
    power does. A change that adds watts costs nothing.
    """
    log, usual = history.log, history.reference
    if usual.basis != "watts":
        return ()
    lost = loss_share(history, log.jets, None)
    running = (log.jets > 0) & np.isfinite(usual.power_w) & np.isfinite(history.flow_share)
    stopped = np.zeros(len(log), dtype=bool)
    for event in history.of("stop", "ice stop", "shut off", "no load"):
        stopped |= (log.time >= event.start) & (log.time < event.end)
    given = np.where(
        running & ~stopped, usual.speed.flow_power_si(np.minimum(history.flow_share, 1.0)), 0.0
    )
    counts = np.maximum(log.jets, 1)
    whole = np.zeros(len(log))
    found: list[Event] = []
    for drift in drifts:
        change = change_of_logs(drift.kind, counts, lost, drift.size_at(log.time))[0]
        whole += change
        took = given * usual.power_w * np.maximum(np.expm1(-change), 0.0)
        found += _event(history, "slow decline", drift, took)
        if drift.repaired:
            found.append(_moment(history, "repaired", drift.end, drift.size - drift.left))
    if baseline:
        found += _below(history, baseline, whole, given)
    return tuple(found)


def _event(history: History, kind: str, drift: Drift, took: np.ndarray) -> list[Event]:
    if not np.nansum(took) > 0:
        return []
    log = history.log
    at = np.flatnonzero((log.time >= drift.start) & ((log.time <= drift.end) | (drift.left > 0)))
    if len(at) < 2:
        return []
    seconds, watts = log.seconds[at], np.nan_to_num(took[at])
    if drift.repaired:  # what was lost up to the repair is not lost after it
        ended = float((drift.end - log.time[0]) / np.timedelta64(1, "s"))
        place = int(np.searchsorted(seconds, ended))
        before = watts[place - 1] if place else 0.0
        after = watts[place] if place < len(watts) else 0.0
        seconds = np.insert(seconds, place, [ended, ended])
        watts = np.insert(watts, place, [before, after])
    return [
        Event(
            kind,
            drift.start,
            drift.end,
            size=-min(drift.watts_share.values()),
            lines=(int(log.line[at[0]]), int(log.line[at[-1]])),
            time_s=seconds,
            lost_w=watts,
            note="",
        )
    ]


def _moment(history: History, kind: str, when: np.datetime64, size: float) -> Event:
    place = min(int(np.searchsorted(history.log.time, when)), len(history.log) - 1)
    line = int(history.log.line[place])
    return Event(kind, when, when, size=float(size), lines=(line, line))


def _below(
    history: History,
    baseline: Mapping[int, tuple[float, float]],
    change: np.ndarray,
    given: np.ndarray,
) -> list[Event]:
    """That the log began below the commissioned plant, where it did by more than meters differ."""
    log, usual = history.log, history.reference
    commissioned = np.array([baseline.get(int(n), (np.nan, np.nan))[1] for n in log.jets])
    with np.errstate(invalid="ignore", divide="ignore"):
        apart = np.log(log.power_w / commissioned) - change
    known = usual.healthy & np.isfinite(apart)
    levels = [float(np.median(apart[known & (log.jets == n)])) for n in np.unique(log.jets[known])]
    level = float(np.mean(levels)) if levels else 0.0
    if level > np.log1p(-_WELL_BELOW):
        return []
    took = np.nan_to_num(given * usual.power_w * np.exp(-change) * np.expm1(-level))
    return [
        Event(
            "below commissioning",
            log.time[0],
            log.time[-1],
            size=float(-np.expm1(level)),
            lines=(int(log.line[0]), int(log.line[-1])),
            time_s=log.seconds,
            lost_w=took,
        )
    ]
