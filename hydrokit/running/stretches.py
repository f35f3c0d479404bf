"""A log cut where the plant was changed: each stretch has its own healthy plant."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from .drift import Drift
from .epochs import Change
from .healthy import Reference
from .history import Event, History
from .log import Log

__all__ = ["cut", "held", "joined", "part"]

_ENOUGH = 5  # readings with jets open that a stretch needs for a healthy plant of its own
_ANOTHER = {
    "jet",
    "runner",
    "generator",
    "meter",
    "pipe",
}  # what makes it another plant than before


def cut(log: Log, changes: Sequence[Change]) -> tuple[list[slice], tuple[Change, ...]]:
    """Stretches of a log, and the changes between them; a new gauge moves no watts, brushes only
    bring back those of before: they cut none."""
    edges, made = [0], []
    for each in sorted(changes, key=lambda change: change.day):
        place = int(np.searchsorted(log.time, np.datetime64(each.day)))
        running = log.jets > 0
        if each.what not in _ANOTHER or running[edges[-1] : place].sum() < _ENOUGH:
            continue
        if running[place:].sum() >= _ENOUGH:
            edges.append(place)
            made.append(each)
    return [slice(a, b) for a, b in zip(edges, [*edges[1:], len(log)])], tuple(made)


def held(log: Log, changes: Sequence[Change], commissioned_on: str) -> bool:
    """Whether a stretch shows the plant of the commissioning: nothing came between that makes it another."""
    begun, ended = (str(each.astype("datetime64[D]")) for each in (log.time[0], log.time[-1]))
    return not any(
        each.what in _ANOTHER
        and (commissioned_on < each.day <= begun or ended < each.day <= commissioned_on)
        for each in changes
    )


def part(log: Log, here: slice) -> Log:
    """A stretch of a log."""
    arrays = {
        field.name: getattr(log, field.name)[here]
        for field in fields(log)
        if isinstance(getattr(log, field.name), np.ndarray)
    }
    return replace(log, **arrays)


def joined(log: Log, found: Sequence[History], changes: Sequence[Change]) -> History:
    """Histories of the stretches as one of the whole log."""
    if len(found) == 1:
        return found[0]
    events: list[Event] = []
    drifts: list[Drift] = []
    for number, each in enumerate(found):
        offset = float((each.log.time[0] - log.time[0]) / np.timedelta64(1, "s"))
        events += [replace(event, time_s=event.time_s + offset) for event in each.events]
        after = found[number + 1] if number + 1 < len(found) else None
        drifts += [drift if after is None else _ended(drift, each, after) for drift in each.drifts]
    return History(
        log,
        _reference([each.reference for each in found]),
        np.concatenate([each.flow_share for each in found]),
        events=tuple(sorted(events, key=lambda event: (event.start, event.end))),
        gauge=tuple(event for each in found for event in each.gauge),
        drifts=tuple(drifts),
        changes=tuple(changes),
    )


def _reference(found: Sequence[Reference]) -> Reference:
    """Healthy readings of all stretches; the levels are those of the last that has them."""
    many = np.array([len(each.power_w) for each in found], dtype=float)
    levels = {count: level for each in found for count, level in each.levels.items()}
    last = {count: each for each in found for count in each.levels}
    return Reference(
        "watts" if any(each.basis == "watts" for each in found) else "pressure",
        np.concatenate([each.power_w for each in found]),
        np.concatenate([each.pressure_pa for each in found]),
        healthy=np.concatenate([each.healthy for each in found]),
        power_spread=float(np.average([each.power_spread for each in found], weights=many)),
        pressure_spread=float(np.average([each.pressure_spread for each in found], weights=many)),
        levels=levels,
        from_card=frozenset(count for count, each in last.items() if count in each.from_card),
        speed=found[-1].speed,
    )


def _ended(drift: Drift, mine: History, after: History) -> Drift:
    """A slow change that went on until something was changed at the plant: how much of it is left
    after that."""
    if drift.repaired:
        return drift
    left = []
    for count, share in drift.watts_share.items():
        before, later = (each.reference.power_w[each.log.jets == count] for each in (mine, after))
        if len(before) and len(later) and share < 0:
            left.append(np.log(later[0] / before[0]) / np.log1p(share))
    still = float(np.clip(np.nanmedian(left), 0.0, 1.0)) if np.isfinite(left).any() else 0.0
    return replace(drift, repaired=True, left=still * drift.size)
