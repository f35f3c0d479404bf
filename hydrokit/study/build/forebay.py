"""The forebay from the site file: what it spills with the jets shut, how it is flushed, what is
noteworthy on open water."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from . import open_reaches

if TYPE_CHECKING:
    from ...site.schema_parts import Forebay, Part
    from ...works.spill import Overflow, OverflowPipe
    from ..study import Study

__all__ = [
    "Flushing",
    "SpillRow",
    "drains",
    "findings",
    "flushing",
    "overflow",
    "place_of_pond",
    "pond",
    "ponds",
    "spill_rows",
    "spilled_at_bank",
    "spills_by",
]


def overflow(study: Study) -> Overflow | None:
    """What spills from the last pond, or None where no overflow is described."""
    from ...plant.operation import Passage
    from ...works.spill import Overflow, SideSpill
    from .part_names import part_name

    entry = pond(study)
    if entry is None:
        return None
    pipe = drains(study)
    ways: list[OverflowPipe | SideSpill] = [] if pipe is None else [pipe]
    ways += [] if entry.spill_length is None else [SideSpill(entry.spill_length)]
    if not ways:
        return None
    comes, place = np.inf, place_of_pond(study.site.part)
    below = {part_name(each) for each in study.site.part[place:]}
    for part in study.supply:
        if (
            part.name in below
        ):  # a rack in the pond, before the penstock: what spills has not passed it
            continue
        comes = min(float(Passage().through(part).leaves_si(comes)), float(part.capacity_si()))
    return Overflow(
        tuple(ways),
        comes if np.isfinite(comes) else float("nan"),
        np.nan if entry.bank is None else entry.bank,
        name=part_name(entry),
    )


def pond(study: Study) -> Forebay | None:
    """The last pond of the site file, above the penstock, or None."""
    return next(iter(ponds(study)[::-1]), None)


def ponds(study: Study) -> list[Forebay]:
    """Every pond of the site file, as the water meets them."""
    return [entry for entry in study.site.part if entry.kind == "forebay"]


def place_of_pond(entries: Sequence[Part]) -> int | None:
    """Where in the list of parts the last pond stands; None without one, so that all parts stand above it."""
    return max(
        (number for number, entry in enumerate(entries) if entry.kind == "forebay"), default=None
    )


def drains(study: Study) -> OverflowPipe | None:
    """The standpipe of the last pond, or None."""
    from ...works.spill import OverflowPipe

    entry = pond(study)
    if entry is None or entry.standpipe is None:
        return None
    crest = entry.depth + entry.silt_depth
    fall = crest if entry.standpipe_fall is None else entry.standpipe_fall
    return OverflowPipe(entry.standpipe, crest, fall)


@dataclass(frozen=True, eq=False, kw_only=True)
class SpillRow:
    """What spills at one level.

    Parameters
    ----------
    head_m : float
        Over the crest.
    pipe_m3s, edge_m3s : float or None
        By the standpipe and over the low edge; None where there is none.
    regime : str
        What governs the standpipe.
    all_m3s : float
    """

    head_m: float
    pipe_m3s: float | None
    edge_m3s: float | None
    regime: str
    all_m3s: float


def spill_rows(study: Study, heads_m: Sequence[float]) -> tuple[SpillRow, ...]:
    """What spills at these levels over the crest that lie below the bank, and at the bank; none
    without an overflow."""
    from ...works.spill import SideSpill

    over = study.overflow
    if over is None:
        return ()
    heads = np.asarray(heads_m, dtype=float)
    if np.isfinite(over.bank_m):
        heads = np.unique(np.append(heads[heads < over.bank_m], over.bank_m))
    pipe, edge = drains(study), next((way for way in over.ways if isinstance(way, SideSpill)), None)
    return tuple(
        SpillRow(
            head_m=float(head),
            pipe_m3s=None if pipe is None else float(pipe.flow_si(head)),
            edge_m3s=None if edge is None else float(edge.flow_si(head)),
            regime="" if pipe is None else pipe.regime_si(head),
            all_m3s=float(over.flow_si(head)),
        )
        for head in heads
    )


def spills_by(study: Study) -> str:
    """What governs the standpipe while it spills all that comes down; empty without one."""
    pipe, over = drains(study), study.overflow
    return "" if pipe is None or over is None else pipe.regime_si(over.level_m)


def spilled_at_bank(study: Study) -> float:
    """What spills in m³/s with the water at the bank; NaN where no bank or overflow is given."""
    over = study.overflow
    if over is None or not np.isfinite(over.bank_m):
        return np.nan
    return float(over.flow_si(over.bank_m))


@dataclass(frozen=True, eq=False, kw_only=True)
class Flushing:
    """The standpipe pulled to flush the silt.

    Parameters
    ----------
    area_m2, depth_m : float
        Of the water that leaves.
    rush_m3s : float
        At the start.
    left_m : float
        Depth to which it is counted.
    alone_s, full_s, coming_s : float
        Until then: out of the bare hole with nothing coming, through the drain running full, and
        out of the hole with what comes; the last infinite where it never falls so far.
    coming_m3s : float
    """

    area_m2: float
    depth_m: float
    rush_m3s: float
    left_m: float
    alone_s: float
    full_s: float
    coming_s: float
    coming_m3s: float


def flushing(study: Study) -> Flushing | None:
    """What happens when the standpipe is pulled, or None without one."""
    from ...works.spill import LAST_DEPTH_M

    pipe, found, full = drains(study), pond(study), study.full_flow_m3s
    if pipe is None or found is None or full is None:
        return None
    over = study.overflow
    coming = full if over is None or np.isnan(over.arriving_m3s) else over.arriving_m3s
    return Flushing(
        area_m2=found.area,
        depth_m=pipe.crest_m,
        rush_m3s=float(pipe.pulled_flow_si(pipe.crest_m)),
        left_m=min(LAST_DEPTH_M, pipe.crest_m),
        alone_s=pipe.emptying_time_si(found.area),
        full_s=pipe.full_drain_time_si(found.area),
        coming_s=pipe.emptying_time_si(found.area, coming),
        coming_m3s=coming,
    )


# --- what is noteworthy ---------------------------------------------------------------------


def findings(study: Study) -> tuple[Finding, ...]:
    """Of channels at full flow, of gates fitted to gaugings, and of an intake's clogging that
    counts for nothing."""
    from .part_names import part_name

    found = [finding for meter in study.meters for finding in meter.findings]
    for entry in ponds(study)[:-1]:
        if {"standpipe", "spill_length", "bank"} & set(entry):
            found.append(
                Finding(
                    "note",
                    part_name(entry),
                    (
                        "what spills from it is not judged here, only from the last pond: see "
                        "that it spills all that comes down"
                    ),
                )
            )
    intake = study.site.intake
    if "clogged" in intake and not any(part.name == "intake" for part in study.supply):
        why = (
            "a screen is listed as a part: give it there"
            if "capacity" in intake
            else "its capacity is not given"
        )
        found.append(
            Finding("caution", "intake", f"clogged under [intake] changes nothing, for {why}")
        )
    if study.full_flow_m3s is not None:
        for reach in study.reaches:
            if reach.channel is not None:
                found += reach.channel.findings_si(open_reaches.carried(study, reach))
    return tuple(found)
