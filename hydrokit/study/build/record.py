"""From stages, files and a neighbour's record to daily flows of this creek."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding, counted, sure
from ...sentences import Amount, Sentence
from ...site.sheets import daily

if TYPE_CHECKING:
    import pandas as pd

    from ...stream.duration import Duration
    from ...stream.extend import Extension
    from ..study import Study

__all__ = [
    "extension_ways",
    "flowing_days",
    "gaps",
    "known_days",
    "lean_flow",
    "measured_record",
    "missing_days",
    "own_record",
    "record",
    "record_findings",
    "snow",
    "temperature",
]


# --- the daily record -----------------------------------------------------------------------


def measured_record(study: Study) -> pd.Series | None:
    """Daily flow of the site before any gap is filled: its record, else its stages through the
    rating, else None.

    Of stages finer than a day the flows are averaged, never the stages: the rating is curved.
    """
    folder, stream = study.folder, study.site.stream
    from ...stream.readings import daily_means, flow_from_stage
    from ...stream.record import read_record

    if "record" in stream:
        return read_record(folder.file(stream["record"], "[stream] record"), folder.notes)
    read = study.stage_record
    if read is None or study.rating is None:
        return None

    if not read.stage.notna().any():
        return None  # every stage stands under ice

    def rated() -> pd.Series:
        flow = flow_from_stage(read.stage, sure(study.rating))
        return flow if read.daily else daily_means(flow)

    return folder.sentence("[stream] stage", rated)


def own_record(study: Study) -> pd.Series | None:
    """Daily flow of the site, its short gaps filled where the site file asks for it; or None."""
    stream, record = study.site.stream, study.measured_record
    if record is not None and "fill_gaps" in stream:
        from ...stream.record import fill_gaps

        record = study.folder.sentence(
            "[stream] fill_gaps", lambda: fill_gaps(record, int(stream["fill_gaps"])).record
        )
    if record is not None and not record.max() > 0:
        if "record" in stream or study.rating is None:
            raise study.folder.wrong("[stream] record", "no day of it has any flow")
        raise study.folder.wrong(
            "[stream] stage",
            Sentence(
                "every stage stands at or below {end}, where the rating ends, so no day has "
                "any flow; check the datum of stages and gaugings",
                end=Amount(study.rating.c, "stage", 3),
            ),
        )
    return record


_ENOUGH_YEARS = 10  # show how years differ, as describe_record has it


def record_findings(study: Study) -> tuple[Finding, ...]:
    """What is noteworthy about the daily record: gaps, parts of years, runs of one value; that a
    neighbour's has nothing to be tied to."""
    if study.own_record is not None:
        from ...stream.record import describe_record, whole_years

        found = (*describe_record(study.own_record), *_readings_apart(study))
        if study.extension is None:
            return found
        # lengthened already: what counts is how many years there are now, and how many of them are
        # the creek's own
        own, years = len(whole_years(study.own_record)), len(whole_years(sure(study.record)))
        told = Finding(
            "note" if years >= _ENOUGH_YEARS else "caution",
            "record",
            (
                f"{counted(own, 'whole year') if own else 'no whole year'} of this creek's own, "
                f"lengthened to {counted(years, 'whole year')} from a neighbour's; keep its own "
                "gauge running: each year measured replaces an estimated one"
            ),
        )
        return (told, *(each for each in found if "extend it" not in each.message))
    idle: tuple[Finding, ...] = ()
    lacking = stages_wait_for(study)
    if lacking is not None:
        idle += (_stages_without_rating(study, lacking),)
    if study.site.stream.given("neighbour_record"):
        idle += (
            Finding(
                "caution",
                "record",
                (
                    "neighbour_record is not used: it lengthens a record of this creek, by a year "
                    "of days in common or by the catchments, and there is none yet"
                ),
            ),
        )
    return idle


_MOST_APART = 14  # days between readings by hand that a line may join: common practice


def _readings_apart(study: Study) -> tuple[Finding, ...]:
    """That days lie between readings which hardly ever follow each other, as where a staff gauge is
    read once a week, and what joins them."""
    own = study.own_record
    known = () if own is None else np.flatnonzero(own.notna().to_numpy())
    if len(known) < 10:
        return ()
    apart = int(np.median(np.diff(known)))
    if not 1 < apart <= _MOST_APART:
        return ()
    text = (
        f"readings stand {apart} days apart, so no month is whole; [stream] fill_gaps = "
        f"{2 * apart} joins them along the recession, where no flood lies between"
    )
    return (Finding("caution", "record", text),)


def _staged(study: Study) -> int:
    """Gaugings in open water that have a stage."""
    gauged = study.gaugings
    return 0 if gauged is None else int((np.isfinite(gauged.stage_m) & ~gauged.ice).sum())


def stages_wait_for(study: Study) -> Sentence | None:
    """What is lacking to turn the stages that were read into flows; None where there are none, or
    nothing lacks."""
    from ...stream.rating import FREE_GAUGINGS

    if not study.site.stream.given("stage") or study.rating is not None:
        return None
    staged = _staged(study)
    if staged < 2:
        return Sentence("give two gaugings or more the stage that stood at the gauge meanwhile")
    return Sentence(
        "survey the stage at which the creek would stop flowing, [stream] cease_to_flow, or gauge "
        "at {more} other stages",
        more=FREE_GAUGINGS - staged,
    )


def _stages_without_rating(study: Study, lacking: Sentence) -> Finding:
    """That stages lie there which no rating turns into flows, and what is lacking for one."""
    staged = _staged(study)
    return Finding(
        "caution",
        "record",
        Sentence(
            "the stages are not used: no rating turns them into flows, as {count} with a "
            "stage {are} too few; {lacking}",
            count=counted(staged, "gauging"),
            are="is" if staged == 1 else "are",
            lacking=lacking,
        ),
    )


def gaps(study: Study) -> pd.DataFrame | None:
    """Every gap of the record as measured, the longest first, and whether it was filled; or None
    without a record."""
    own = study.own_record
    if study.measured_record is None or own is None:
        return None
    from ...stream.record import gaps as gaps_of

    found = gaps_of(study.measured_record)
    filled = [
        bool(own.loc[first:last].notna().all())
        for first, last in zip(found["first"], found["last"])
    ]
    return found.assign(filled=filled).sort_values("days", ascending=False, kind="stable")


def known_days(study: Study) -> int:
    """Days with a flow of the record that all energy figures rest on; nought without one."""
    return 0 if study.record is None else int(study.record.notna().sum())


def missing_days(study: Study) -> int:
    """Days without a flow in all gaps together; nought without a record."""
    return 0 if study.gaps is None else int(study.gaps["days"].sum())


def extension_ways(study: Study) -> tuple[tuple[str, Extension | str], ...] | None:
    """How well each way of extending the record foretells days held back: (way, Extension or why
    not); None without a neighbour."""
    stream, site = study.site.stream, study.site.site
    if study.extension is None:
        return None
    from ...errors import HydrokitError
    from ...site.sheets import reason
    from ...stream.extend import area_ratio, extend_record
    from .rights import neighbour_filled

    there = neighbour_filled(study.folder, study.site).record
    ways: list[tuple[str, Extension | str]] = []
    for way in ("move1", "area", "duration"):
        try:
            if way == "area" and ("catchment" not in site or "neighbour_catchment" not in stream):
                raise HydrokitError("both catchments are needed")
            ratio = (
                float(area_ratio.si(site["catchment"], stream["neighbour_catchment"]))
                if way == "area"
                else None
            )
            ways.append(
                (
                    way,
                    study.extension
                    if way == study.extension.method
                    else extend_record(sure(study.own_record), there, way, ratio),
                )
            )
        except HydrokitError as error:
            ways.append((way, str(reason(error)).partition(";")[0]))
    return tuple(ways)


def lean_flow(study: Study) -> float:
    """The least flow of a record worth reading, in m³/s, NaN without one: the last trickle of a
    creek that dries up feeds nothing."""
    flowing = flowing_days(study)
    if flowing is None:
        return np.nan
    return float(flowing.flow_at_si(0.99 if flowing is study.duration else 0.90))


def flowing_days(study: Study) -> Duration | None:
    """The duration curve of the days on which a creek that falls dry has any flow, else of all its
    days; None without a record."""
    from ...stream.duration import flow_duration

    if study.record is None or study.duration is None or study.duration.flow_at_si(0.99) > 0:
        return study.duration
    return flow_duration(study.record.where(study.record > 0))


def record(study: Study) -> pd.Series | None:
    """The daily natural flow all energy figures rest on, or None."""
    return study.own_record if study.extension is None else study.extension.record


def snow(study: Study) -> pd.Series | None:
    """Daily depth of snow in m from the column snow of the record of air temperature; None where it
    has none."""
    name = study.site.stream.temperature
    if name is None:
        return None
    read = daily(study.folder, name, "[stream] temperature", "temperature", "K", {"snow": "m"})
    if "snow" not in read or read["snow"].isna().all():
        return None
    if (read["snow"] < 0).any():
        first = read.index[(read["snow"] < 0).to_numpy()][0]
        raise study.folder.wrong(
            "[stream] temperature", f"its snow of {first:%Y-%m-%d} is below zero; bare ground is 0"
        )
    return read["snow"].rename("snow_m")


def temperature(study: Study) -> pd.Series | None:
    """Daily air temperature in °C, or None."""
    name = study.site.stream.temperature
    if name is None:
        return None
    kelvin = daily(study.folder, name, "[stream] temperature", "temperature", "K")
    return (kelvin - 273.15).rename("temperature_c")
