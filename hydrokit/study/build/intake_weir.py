"""The weir across the creek from the site file: its notch for the residual flow, and the flood over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...sentences import plain_number
from .extremes import peak_factor

if TYPE_CHECKING:
    from ...site.schema_way import Intake
    from ...works.weir import IntakeWeir
    from ..study import Study

__all__ = [
    "TABLED_DEPTH_M",
    "FloodDepth",
    "NotchLevel",
    "flood_depths",
    "notch_levels",
    "weir",
    "weir_passes",
]


def weir(study: Study) -> IntakeWeir | None:
    """The weir at the intake with its notch and its flood, or None where none is described."""
    from ...works.weir import PEAK_OVER_MEAN, IntakeWeir, Notch

    section = study.site.intake
    if section.weir_length is None:
        return None
    notch = None
    if section.notch_depth is not None and study.site.rights.residual:
        notch = Notch(section.notch_depth, np.asarray(study.rights.keep_m3s), section.notch_width)
    flood, how, years, notes = _flood(study, section)
    return IntakeWeir(
        section.weir_length,
        flood,
        how,
        flood_years=years,
        banks_m=np.nan if section.banks is None else section.banks,
        notch=notch,
        shape=section.weir_crest,
        notes=notes,
        peak_over_mean=peak_factor(study) or PEAK_OVER_MEAN,
    )


def _flood(
    study: Study, section: Intake
) -> tuple[tuple[float, float, float] | None, str, float, tuple[Finding, ...]]:
    """Flood in m³/s least, middle, most; where it comes from; its return period; findings."""
    given = section.flood
    if given is not None:
        spread = 1.645 * (given.sd or 0.0)
        return (
            (max(given.value - spread, 0.0), given.value, given.value + spread),
            "given",
            float("nan"),
            (),
        )
    known = study.intake_flood
    found = [] if known is None else [each for _, each in known.flows if not isinstance(each, str)]
    if known is None or not found:
        text = (
            "no flood is given, and no record is long enough to make one: ask for the flood of a "
            "neighbouring gauge, or measure the highest mark"
        )
        return None, "none", float("nan"), (Finding("note", "weir", text),)
    flood = found[0]
    limits = [
        each if np.isfinite(each) else flood.flow_m3s for each in (flood.low_m3s, flood.high_m3s)
    ]
    return (
        (limits[0], flood.flow_m3s, limits[1]),
        "daily means",
        known.return_period_years,
        tuple(Finding(each.level, "flood at the weir", each.sentence) for each in flood.findings),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class NotchLevel:
    """A level over the sill of the notch that is worth marking.

    Parameters
    ----------
    head_m, flow_m3s : float
    keeps : tuple of int
        Months whose residual flow it passes then; empty for other levels.
    at_crest : bool
        The water stands at the crest of the intake.
    running : bool
        A usual level with the intake running.
    """

    head_m: float
    flow_m3s: float
    keeps: tuple[int, ...] = ()
    at_crest: bool = False
    running: bool = False


TABLED_DEPTH_M = 0.5  # over the crest, told where no flood is known


def weir_passes(study: Study) -> float:
    """What passes the weir in m³/s at that depth; NaN without a weir."""
    found = study.intake_weir
    return np.nan if found is None else float(found.flow_si(TABLED_DEPTH_M))


_RUNNING = 1.5  # of the depth of the notch, with the intake running
_APART = 0.1  # levels nearer to each other than this share are one mark


def notch_levels(study: Study) -> tuple[NotchLevel, ...]:
    """The levels over the sill of the notch to mark on a staff gauge, lowest first; none without a
    notch that must pass water."""
    found = study.intake_weir
    if found is None or found.notch is None or not np.any(found.notch.keep_m3s > 0):
        return ()
    notch = found.notch
    keeps: dict[float, tuple[int, ...]] = {}
    for keep in np.unique(notch.keep_m3s[notch.keep_m3s > 0]):
        months = tuple(int(month) + 1 for month in np.flatnonzero(notch.keep_m3s == keep))
        keeps[round(float(notch.head_si(keep)), 6)] = months
    inlet, running = round(notch.depth_m, 6), round(_RUNNING * notch.depth_m, 6)
    marks = {*keeps, inlet, running}
    for share in (0.25, 0.5, 0.75):
        if all(abs(mark / (share * notch.depth_m) - 1) > _APART for mark in marks):
            marks.add(round(share * notch.depth_m, 6))
    return tuple(
        NotchLevel(
            head_m=head,
            flow_m3s=float(notch.flow_si(head)),
            keeps=keeps.get(head, ()),
            at_crest=head == inlet,
            running=head == running,
        )
        for head in sorted(marks)
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class FloodDepth:
    """A flood over the crest of the weir.

    Parameters
    ----------
    name : str
    key : str
        Of the question it answers; empty where it answers none.
    flow_m3s, depth_m : float
    """

    name: str
    key: str
    flow_m3s: float
    depth_m: float


def flood_depths(study: Study) -> tuple[FloodDepth, ...]:
    """The floods the weir is judged by, with their depth over the crest; none where no flood is known."""
    found = study.intake_weir
    if found is None or found.flood_m3s is None:
        return ()
    low, middle, high = found.flood_m3s
    of_record = found.flood_is == "daily means"
    mean = "mean of the day, " if of_record else ""
    key = "flood.intake" if of_record else "flood.weir"
    if high > low:
        named = [
            (f"{mean}least it may be", "", low),
            (f"{mean}most likely", key, middle),
            (f"{mean}most it may be", "", high),
        ]
    else:
        named = [(f"{mean}as given", key, middle)]
    if of_record:
        times = f"{plain_number(found.peak_over_mean, 2)} times the most likely"
        named.append((f"momentary peak, {times}", "flood.weir", found.peak_m3s))
    return tuple(
        FloodDepth(name=name, key=key, flow_m3s=flow, depth_m=float(found.depth_si(flow)))
        for name, key, flow in named
    )
