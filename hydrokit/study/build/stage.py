"""From a file of stages to the record that a rating turns into flow."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, counted
from ...result import Result
from ...sentences import Amount, Sentence
from ...stream.days import days_of

if TYPE_CHECKING:
    import pandas as pd

    from ..study import Study
    from .instruments import TestedStages

__all__ = ["StageRecord", "stage", "stage_record"]


# --- stages ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class StageRecord(Result):
    """The stages of the site, fit to go through the rating.

    Parameters
    ----------
    stage : pandas.Series
        Named ``stage_m``; NaN where ice forbids to use it.
    iced, lowered : ndarray of bool
        Readings under ice; those of them that were corrected rather than left out.
    daily : bool
        Daily means, or readings finer than that.
    step_s : float or None
        Usual time between two readings, of daily means between two that are known; None of one reading.
    tested : TestedStages
        As logged, and what the tests of the logger found.
    findings : tuple of Finding
    """

    stage: pd.Series
    iced: np.ndarray
    lowered: np.ndarray
    _: KW_ONLY
    daily: bool
    step_s: float | None
    tested: TestedStages
    findings: tuple[Finding, ...] = ()


def stage_record(study: Study) -> StageRecord | None:
    """The stages without ice, or None."""
    stream = study.site.stream
    if "stage" not in stream:
        return None
    from ...stream.readings import read_stages
    from .instruments import tested_stages

    stage, seen, daily = read_stages(
        study.folder.file(stream["stage"], "[stream] stage"), study.folder.notes
    )
    iced, told = _ice(study, stage, seen)
    tested = tested_stages(study, stage, iced, daily)
    stage, told = tested.stage, tested.findings + told
    lowered, kept = np.zeros(len(stage), dtype=bool), stage.where(~iced)
    if stream.get("ice_stages") == "corrected" and iced.any():
        kept, lowered, more = _corrected(study, stage, iced)
        told += more
    left_out = iced & ~lowered & stage.notna().to_numpy()
    if left_out.any():
        days = len(np.unique(days_of(stage)[left_out].normalize()))
        told += (
            Finding(
                "note",
                "stage",
                f"{counted(days, 'day')} under ice left out: ice holds the water up, so the stage reads high",
            ),
        )
    step_s = _step_s(days_of(kept.dropna() if daily else kept))
    return StageRecord(
        kept,
        iced,
        lowered,
        daily=daily,
        step_s=step_s,
        tested=tested,
        findings=told + _strange(study, kept),
    )


def _step_s(times: pd.DatetimeIndex) -> float | None:
    if len(times) < 2:
        return None
    return float(np.median(np.diff(times.to_numpy()).astype("timedelta64[s]").astype(float)))


def _ice(
    study: Study, stage: pd.Series, seen: np.ndarray | None
) -> tuple[np.ndarray, tuple[Finding, ...]]:
    """Which stages stood under ice: as seen, by the months named, or by the cold."""
    from ...stream.ice import open_water

    months, air = study.site.stream.ice_months, study.temperature
    if seen is not None:
        return seen, ()
    if months is not None:
        return ~open_water.si(stage.index.to_numpy(), months), ()
    none = np.zeros(len(stage), dtype=bool)
    if air is None:
        return none, (
            Finding(
                "caution",
                "stage",
                (
                    "nothing says when ice stood at the gauge; give the stages a column ice, or "
                    "ice_months, where the creek freezes"
                ),
            ),
        )
    air = air.dropna()
    frozen = air[
        ~open_water.si(air.index.to_numpy(), air_temperature=air.to_numpy() + 273.15)
    ].index
    iced = days_of(stage).normalize().isin(frozen)
    days = len(np.unique(days_of(stage)[iced].normalize()))
    told: tuple[Finding, ...] = (
        (
            Finding(
                "note",
                "stage",
                Sentence(
                    "ice is inferred from the cold on {days}: seven days with a mean below "
                    "{cold}; a note of ice seen at each visit is more certain",
                    days=counted(days, "day"),
                    cold=Amount(270.15, "temperature", 2),
                ),
            ),
        )
        if days
        else ()
    )
    unknown = len(np.setdiff1d(days_of(stage.dropna()).normalize(), days_of(air)))
    if unknown:
        told += (
            Finding(
                "caution",
                "stage",
                (
                    f"the air temperature of {counted(unknown, 'day')} is not known; these days "
                    "are taken as free of ice; give the stages a column ice, or ice_months, where "
                    "the creek freezes"
                ),
            ),
        )
    return iced, told


def _corrected(
    study: Study, stage: pd.Series, iced: np.ndarray
) -> tuple[pd.Series, np.ndarray, tuple[Finding, ...]]:
    from ...stream.ice import without_backwater

    gauged = study.gaugings
    if gauged is None or study.rating is None:
        usable = np.zeros(0, dtype=bool)
    else:
        usable = gauged.ice & np.isfinite(gauged.stage_m)
    if gauged is None or not usable.any():
        return (
            stage.where(~iced),
            np.zeros(len(stage), dtype=bool),
            (
                Finding(
                    "caution",
                    "stage",
                    "no gauging under ice shows how far ice lifts the stage, so such stages are left out",
                ),
            ),
        )
    values, lowered = without_backwater.si(
        stage.index.to_numpy(),
        stage.to_numpy(),
        iced,
        gauged.date[usable],
        gauged.stage_m[usable],
        gauged.flow_m3s[usable],
        study.rating,
    )
    if not lowered.any():
        return (
            stage.where(~iced),
            lowered,
            (
                Finding(
                    "caution",
                    "stage",
                    (
                        "no gauging under ice falls into a winter of the stage record, so stages "
                        "under ice are left out"
                    ),
                ),
            ),
        )
    by = float(np.mean(stage.to_numpy()[lowered] - values[lowered]))
    days = len(np.unique(stage.index[lowered].normalize()))
    text = Sentence(
        "{days} under ice lowered by {by} on average, from {gaugings} under ice; such flows "
        "are hardly better than 20 to 30 % (common practice)",
        days=counted(days, "day"),
        by=Amount(by, "small length", 2),
        gaugings=counted(int(np.sum(usable)), "gauging"),
    )
    return stage * 0.0 + values, lowered, (Finding("caution", "stage", text),)


def _strange(study: Study, stage: pd.Series) -> tuple[Finding, ...]:
    """What the rating says of these stages."""
    if study.rating is None or not stage.notna().any():
        return ()
    from ...stream.rating_curve import rating_flow

    return tuple(
        Finding("caution", "stage", each.sentence)
        for each in rating_flow.check_si((stage.dropna().to_numpy(), study.rating))
    )


def stage(study: Study) -> pd.Series | None:
    """Stages fit to be rated: those under ice left out or corrected; or None."""
    return None if study.stage_record is None else study.stage_record.stage
