"""The creek from the site file: its rating, its stages, its daily record, and how to gauge it next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import Finding, counted

__all__ = [
    "IntakeFlood", "SaltPlan", "StageRecord", "WeirPlan", "expected_range", "extension_ways", "floods", "flowing_days", "gaps", "intake_flood", "lean_flow", "low_flows",
    "measured_record", "own_record", "rating", "record_findings", "salt_plan", "stage_record", "weir_plan",
]  # fmt: skip


def rating(study: Any) -> Any:
    """Rating through the gaugings that have a stage; None where they are too few to make one.

    Of two segments where the site file says so, or where it leaves that open and the gaugings bend.
    """
    folder, stream, gauged = study.folder, study.site["stream"], study.gaugings
    if gauged is None:
        return None
    from ..stream.rating import FREE_GAUGINGS, TWO_SEGMENT_GAUGINGS, fit_rating

    staged = np.isfinite(gauged.stage_m)
    used = int((staged & ~gauged.ice).sum())
    if used < 2 or (used < FREE_GAUGINGS and "cease_to_flow" not in stream):
        return None
    few = (
        len(np.unique(gauged.stage_m[staged & ~gauged.ice])) < FREE_GAUGINGS
    )  # as fit_rating counts them

    def fitted(segments: int) -> Any:
        return fit_rating.si(
            gauged.stage_m[staged],
            gauged.flow_m3s[staged],
            gauged.uncertainty[staged],
            cease_to_flow=stream.get("cease_to_flow"),
            control=stream.get("control") if few else None,
            segments=segments,
            ice=gauged.ice[staged],
            dates=gauged.date[staged],
        )

    wanted = stream.get("pieces")
    if wanted == 2 and (used < TWO_SEGMENT_GAUGINGS or few):
        raise folder.wrong(
            "[stream] pieces",
            f"two curves need {TWO_SEGMENT_GAUGINGS} gaugings without ice or more, at five stages or more; there are {used}; leave segments out",
        )
    found = folder.sentence("[stream] gaugings", lambda: fitted(int(wanted or 1)))
    return (
        folder.sentence("[stream] pieces", lambda: fitted(2))
        if wanted is None and found.bends
        else found
    )


# --- stages ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class StageRecord:
    """The stages of the site, fit to go through the rating.

    Parameters
    ----------
    stage : pandas.Series
        Named ``stage_m``; NaN where ice forbids to use it.
    iced, lowered : ndarray of bool
        Readings under ice; those of them that were corrected rather than left out.
    daily : bool
        Daily means, or readings finer than that.
    findings : tuple of Finding
    """

    stage: Any
    iced: np.ndarray
    lowered: np.ndarray
    daily: bool
    findings: tuple[Finding, ...] = ()


def stage_record(study: Any) -> StageRecord | None:
    """The stages without ice, or None."""
    stream = study.site["stream"]
    if "stage" not in stream:
        return None
    from ..stream.readings import read_stages

    stage, seen, daily = read_stages(study.folder.file(stream["stage"], "[stream] stage"))
    iced, told = _ice(study, stage, seen)
    lowered, kept = np.zeros(len(stage), dtype=bool), stage.where(~iced)
    if stream.get("ice_stages") == "corrected" and iced.any():
        kept, lowered, more = _corrected(study, stage, iced)
        told += more
    left_out = iced & ~lowered & stage.notna().to_numpy()
    if left_out.any():
        days = len(np.unique(stage.index[left_out].normalize()))
        told += (
            Finding(
                "note",
                "stage",
                f"{counted(days, 'day')} under ice left out: ice holds the water up, so the stage reads high",
            ),
        )
    return StageRecord(kept, iced, lowered, daily, told + _strange(study, kept))


def _ice(study: Any, stage: Any, seen: np.ndarray | None) -> tuple[np.ndarray, tuple[Finding, ...]]:
    """Which stages stood under ice: as seen, by the months named, or by the cold."""
    from ..stream.ice import open_water

    months, air = study.site["stream"].get("ice_months"), study.temperature
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
                "nothing says when ice stood at the gauge; give the stages a column ice, or ice_months, where the creek freezes",
            ),
        )
    air = air.dropna()
    frozen = air[
        ~open_water.si(air.index.to_numpy(), air_temperature=air.to_numpy() + 273.15)
    ].index
    iced = stage.index.normalize().isin(frozen)
    days = len(np.unique(stage.index[iced].normalize()))
    told = (
        (
            Finding(
                "note",
                "stage",
                f"ice is inferred from the cold on {counted(days, 'day')}: seven days with a mean below -3 °C; seen with the eye it is surer",
            ),
        )
        if days
        else ()
    )
    unknown = len(np.setdiff1d(stage.dropna().index.normalize(), air.index))
    if unknown:
        told += (
            Finding(
                "caution",
                "stage",
                f"the air temperature of {counted(unknown, 'day')} is not known, which are taken as free of ice; give the stages a column ice, or ice_months, where the creek freezes",
            ),
        )
    return iced, told


def _corrected(
    study: Any, stage: Any, iced: np.ndarray
) -> tuple[Any, np.ndarray, tuple[Finding, ...]]:
    from ..stream.ice import without_backwater

    gauged = study.gaugings
    usable = (
        gauged is not None and study.rating is not None and gauged.ice & np.isfinite(gauged.stage_m)
    )
    if not np.any(usable):
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
                    "no gauging under ice falls into a winter of the stage record, so stages under ice are left out",
                ),
            ),
        )
    by = 1000 * float(np.mean(stage.to_numpy()[lowered] - values[lowered]))
    days = len(np.unique(stage.index[lowered].normalize()))
    text = f"{counted(days, 'day')} under ice lowered by {by:.0f} mm on average, from {counted(int(np.sum(usable)), 'gauging')} under ice; such flows are hardly better than 20 to 30 % (common practice)"
    return stage * 0.0 + values, lowered, (Finding("caution", "stage", text),)


def _strange(study: Any, stage: Any) -> tuple[Finding, ...]:
    """What the rating says of these stages."""
    if study.rating is None or not stage.notna().any():
        return ()
    from ..stream.rating_curve import rating_flow

    return tuple(
        Finding("caution", "stage", each.message)
        for each in rating_flow.check_si((stage.dropna().to_numpy(), study.rating))
    )


# --- the daily record -----------------------------------------------------------------------


def measured_record(study: Any) -> Any:
    """Daily flow of the site before any gap is filled: its record, else its stages through the rating, else None.

    Of stages finer than a day the flows are averaged, never the stages: the rating is curved.
    """
    folder, stream = study.folder, study.site["stream"]
    from ..stream.readings import daily_means, flow_from_stage
    from ..stream.record import read_record

    if "record" in stream:
        return read_record(folder.file(stream["record"], "[stream] record"))
    if study.stage is None or study.rating is None:
        return None

    if not study.stage.notna().any():
        return None  # every stage stands under ice

    def rated() -> Any:
        flow = flow_from_stage(study.stage, study.rating)
        return flow if study.stage_record.daily else daily_means(flow)

    return folder.sentence("[stream] stage", rated)


def own_record(study: Any) -> Any:
    """Daily flow of the site, its short gaps filled where the site file asks for it; or None."""
    stream, record = study.site["stream"], study.measured_record
    if record is not None and "fill_gaps" in stream:
        from ..stream.record import fill_gaps

        record = study.folder.sentence(
            "[stream] fill_gaps", lambda: fill_gaps(record, int(stream["fill_gaps"])).record
        )
    if record is not None and not record.max() > 0:
        if "record" in stream:
            raise study.folder.wrong("[stream] record", "no day of it has any flow")
        raise study.folder.wrong(
            "[stream] stage",
            f"every stage stands at or below {study.rating.c:.3f} m, where the rating ends, so no day has any flow; check the datum of stages and gaugings",
        )
    return record


_ENOUGH_YEARS = 10  # show how years differ, as describe_record has it


def record_findings(study: Any) -> tuple[Finding, ...]:
    """What is noteworthy about the daily record: gaps, parts of years, runs of one value; that a neighbour's has nothing to be tied to."""
    if study.own_record is not None:
        from ..stream.record import describe_record, whole_years

        found = describe_record(study.own_record)
        if study.extension is None:
            return found
        # lengthened already: what counts is how many years there are now, and how many of them are the creek's own
        own, years = len(whole_years(study.own_record)), len(whole_years(study.record))
        told = Finding(
            "note" if years >= _ENOUGH_YEARS else "caution",
            "record",
            f"{counted(own, 'whole year') if own else 'no whole year'} of this creek's own, lengthened to {counted(years, 'whole year')} from a neighbour's; its own gauge, kept running, replaces borrowed years",
        )
        return (told, *(each for each in found if "extend it" not in each.message))
    unused = "neighbour_record" in study.site["stream"]
    return (
        (
            Finding(
                "caution",
                "record",
                "neighbour_record is not used: it lengthens a record of this creek, by a year of days in common or by the catchments, and there is none yet",
            ),
        )
        if unused
        else ()
    )


def gaps(study: Any) -> Any:
    """Every gap of the record as measured, the longest first, and whether it was filled; or None without a record."""
    if study.measured_record is None:
        return None
    from ..stream.record import gaps as gaps_of

    found = gaps_of(study.measured_record)
    filled = [
        bool(study.own_record.loc[first:last].notna().all())
        for first, last in zip(found["first"], found["last"])
    ]
    return found.assign(filled=filled).sort_values("days", ascending=False, kind="stable")


def extension_ways(study: Any) -> Any:
    """How well each way of extending the record foretells days held back: (way, Extension or why not); None without a neighbour."""
    stream, site = study.site["stream"], study.site["site"]
    if study.extension is None:
        return None
    from ..errors import HydrokitError
    from ..stream.extend import area_ratio, extend_record
    from ..stream.record import read_record
    from .sheets import reason

    there = read_record(study.folder.file(stream["neighbour_record"], "[stream] neighbour_record"))
    ways = []
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
                    else extend_record(study.own_record, there, way, ratio),
                )
            )
        except HydrokitError as error:
            ways.append((way, str(reason(error)).partition(";")[0]))
    return tuple(ways)


# --- how to gauge it next -------------------------------------------------------------------


def expected_range(study: Any) -> tuple[float, float] | None:
    """Flows a gauging station of this creek must read: nearly all days but floods; None where nothing is known."""
    low, high = study.site["weir"].get("lowest"), study.site["weir"].get("highest")
    if low is not None and high is not None and low >= high:
        raise study.folder.wrong("[weir] lowest", "it must be below highest")
    seen = study.site["stream"].get("lowest_known_flow")
    lows, highs = [] if not seen else [seen], []
    if study.duration is not None:
        lows.append(lean_flow(study))
        highs.append(float(flowing_days(study).flow_at_si(0.10)))
    else:
        known = (
            [each.flow_m3s for name, each in study.field_sheets.items() if name != "flood marks"]
            if study.gaugings is None
            else study.gaugings.flow_m3s
        )
        lows += [_LOWER * float(each) for each in known]
        highs += [_HIGHER * float(each) for each in known]
    # An end that is told is kept; the other then lies at least so far from it, as on a spring that never varies.
    if (low is None and not lows) or (high is None and not highs):
        return None
    if low is None:
        low = min(lows if high is None else [*lows, _LOWER * high])
    return low, max([*highs, _HIGHER * low]) if high is None else high


_LOWER, _HIGHER = 0.7, 1.5  # of a gauged flow: what must be read too, common practice


def lean_flow(study: Any) -> float:
    """The least flow of a record worth reading, in m³/s: the last trickle of a creek that dries up feeds nothing."""
    flowing = flowing_days(study)
    return float(flowing.flow_at_si(0.99 if flowing is study.duration else 0.90))


def flowing_days(study: Any) -> Any:
    """The duration curve of the days on which a creek that falls dry has any flow, else of all its days; None without a record."""
    from ..stream.duration import flow_duration

    if study.duration is None or study.duration.flow_at_si(0.99) > 0:
        return study.duration
    return flow_duration(study.record.where(study.record > 0))


@dataclass(frozen=True, eq=False)
class WeirPlan:
    """Boards for the flows expected, and what the place was taken to be.

    Parameters
    ----------
    design : WeirDesign
    channel_width_m, crest_height_m, available_rise_m : float
    assumed : tuple of str
        Which of these the site file does not say.
    """

    design: Any
    channel_width_m: float
    crest_height_m: float
    available_rise_m: float
    assumed: tuple[str, ...]


_PLACE = {
    "channel_width": 1.5,
    "crest_height": 0.3,
    "available_rise": 0.5,
}  # m, of a small pool, where nothing is said


def weir_plan(study: Any) -> WeirPlan | None:
    """Which board to cut for the range expected here, or None."""
    if study.expected_range is None:
        return None
    from ..stream.weir_board import design_weir

    board, place = study.site["weir"], dict(_PLACE)
    width = _reach(study)[0]
    given = ({} if width is None else {"channel_width": width}) | {
        name: board[name] for name in _PLACE if name in board
    }
    place |= given
    design = design_weir.si(
        *study.expected_range,
        **place,
        **({"head_uncertainty": board["head_uncertainty"]} if "head_uncertainty" in board else {}),
    )
    return WeirPlan(
        design,
        place["channel_width"],
        place["crest_height"],
        place["available_rise"],
        tuple(name.replace("_", " ") for name in _PLACE if name not in given),
    )


def _reach(study: Any) -> tuple[float | None, float | None]:
    """Width and mean depth of the water where it is gauged, from the site file, else from the meter's sheet."""
    stream, sheet = study.site["stream"], study.field_sheets.get("current meter")
    width = stream.get("width", None if sheet is None else sheet.details["width_m"])
    depth = stream.get(
        "depth", None if sheet is None else sheet.details["area_m2"] / sheet.details["width_m"]
    )
    return width or None, depth or None


@dataclass(frozen=True, eq=False)
class SaltPlan:
    """Salt for the flows expected, and how far below it the probe stands.

    Parameters
    ----------
    flow_m3s : ndarray
    doses : tuple of SaltDose
    passage_s : float
        Area of the pulse over its peak that was reckoned with.
    from_sheet : bool
        Whether that is what the salt sheet of this creek showed.
    width_m : float or None
    middle_m, bank_m : float or None
        Length in which an even reach mixes at the highest of the flows, by where the salt goes in.
    widths_m : float or None
        So many widths as a rough creek asks for.
    """

    flow_m3s: np.ndarray
    doses: tuple[Any, ...]
    passage_s: float
    from_sheet: bool
    width_m: float | None
    middle_m: float | None
    bank_m: float | None
    widths_m: float | None


_USUAL_PASSAGE_S = 120.0


def salt_plan(study: Any) -> SaltPlan | None:
    """Salt for a low, a middle and a high flow, or None."""
    if study.expected_range is None:
        return None
    from ..stream.mixing import WIDTHS_TO_MIX, mixing_length
    from ..stream.salt import salt_dose

    flows, sheet = np.geomspace(*study.expected_range, 3), study.field_sheets.get("salt")
    passage = (
        _USUAL_PASSAGE_S
        if sheet is None
        else float(sheet.details.get("passage_s", _USUAL_PASSAGE_S))
    )
    width, depth = _reach(study)
    slope = study.site["stream"].get("slope")
    lengths = (None, None)
    if None not in (width, depth, slope):
        lengths = tuple(
            float(mixing_length.si(flows[-1], width, depth, slope, where))
            for where in ("middle", "bank")
        )
    return SaltPlan(
        flows,
        tuple(salt_dose.si(flow, passage=passage) for flow in flows),
        passage,
        sheet is not None and "passage_s" in sheet.details,
        width,
        *lengths,
        None if width is None else WIDTHS_TO_MIX * width,
    )


# --- how low, how high ----------------------------------------------------------------------


def low_flows(study: Any) -> Any:
    """Low-flow statistics by name, each a number in SI, a Quantile, a Recession, or the reason why not; None without a record."""
    if study.record is None:
        return None
    from ..stream import low_flow as room

    record = study.record
    return _each(
        ("lowest 7 days in 2 years", lambda: room.low_flow(record, 7, 2)),
        ("lowest 7 days in 10 years", lambda: room.low_flow(record, 7, 10)),
        ("the same, by plotting positions", lambda: room.low_flow(record, 7, 10, method="weibull")),
        *(
            (
                f"mean of the years' lowest {'day' if days == 1 else f'{days} days'}",
                lambda days=days: room.mean_annual_minimum(record, days).m_as("m^3/s"),
            )
            for days in (1, 7, 30)
        ),
        ("share of base flow, by filter", lambda: room.base_flow_index(record)),
        ("share of base flow, by five-day blocks", lambda: room.base_flow_index(record, "blocks")),
        ("recession", lambda: room.recession_constant(record)),
    )


FLOOD_YEARS = (2, 5, 10, 25, 50, 100)


def floods(study: Any) -> Any:
    """Floods by return period: (years, log-Pearson III, extreme value), each a Quantile or why not; None without a record."""
    if study.record is None:
        return None
    return tuple((years, *(found for _, found in _two_ways(study, years))) for years in FLOOD_YEARS)


def _two_ways(study: Any, years: float) -> list[tuple[str, Any]]:
    from ..stream.floods import flood

    stream = study.site["stream"]
    regional = {"regional_skew": stream.get("regional_skew")} | (
        {"regional_mse": stream["regional_skew_error"]} if "regional_skew_error" in stream else {}
    )
    return list(
        _each(
            ("lp3", lambda: flood(study.record, years, **regional)),
            ("gev", lambda: flood(study.record, years, "gev")),
        )
    )


def _each(*work: tuple[str, Any]) -> tuple[tuple[str, Any], ...]:
    """What each gives, or its sentence where it refuses."""
    from ..errors import HydrokitError
    from .sheets import reason

    done = []
    for name, make in work:
        try:
            done.append((name, make()))
        except HydrokitError as error:
            done.append(
                (name, str(reason(error)).partition(";")[0])
            )  # what follows is for those who call the function
    return tuple(done)


@dataclass(frozen=True, eq=False)
class IntakeFlood:
    """The flood the intake is to survive.

    Parameters
    ----------
    life_years, risk : float
        How long it is to stand, and the chance of a greater flood that is accepted.
    given : bool
        Whether the site file says both.
    return_period_years : float
    flows : tuple
        (method, Quantile or why not).
    """

    life_years: float
    risk: float
    given: bool
    return_period_years: float
    flows: tuple[tuple[str, Any], ...]


_USUAL_LIFE, _USUAL_RISK = 25.0, 0.2  # of a small intake that can be mended, common practice


def intake_flood(study: Any) -> IntakeFlood | None:
    """The flood the intake must survive for its life and the risk accepted, or None without a record."""
    if study.record is None:
        return None
    from ..stream.floods import return_period_for

    intake = study.site["intake"]
    life, chance = intake.get("life", _USUAL_LIFE), intake.get("flood_risk", _USUAL_RISK)
    years = max(float(return_period_for(chance, life)), 1.01)
    return IntakeFlood(
        life, chance, {"life", "flood_risk"} <= set(intake), years, tuple(_two_ways(study, years))
    )
