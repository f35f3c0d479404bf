"""From a study to its log, the year's jobs and the steps at its valves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from . import freeze as build_freeze
from .in_hand import brims
from .machines import opened
from .turbine import runner_speed
from .winter import power_by_month

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from ...running.card import Row
    from ...running.history import History
    from ...running.jobs import Job
    from ...running.log import Log
    from ...running.steps import Step
    from ..study import Study

__all__ = ["history", "jobs", "jobs_together", "log", "steps"]


# --- the log --------------------------------------------------------------------------------


def log(study: Study) -> Log | None:
    """The cleaned log, or None."""
    section, penstock = study.site.readings, study.site.penstock
    if section.log is None:
        return None
    from ...running.log import read_log

    zero, given = penstock.gauge_zero, penstock.static_pressure
    static = None if given is None else given.value - zero
    path = study.folder.file(section.log, "[readings] log")
    return read_log(
        path,
        static,
        study.site.turbine.jets,
        section.power_factor,
        zero,
        study.folder.notes,
        None if study.baseline is None else study.baseline.shut_off_pa,
    )


def history(study: Study) -> History | None:
    """What happened in the log, or None."""
    if study.log is None:
        return None
    from ...running.epochs import Change
    from ...running.log_events import log_history

    found = study.expectation  # the gauge card, as commissioned or as described
    known = (
        None
        if found is None
        else {
            int(n): (float(p), float(w))
            for n, p, w in zip(found.jets, found.pressure_pa, found.power_w)
        }
    )
    fitted = study.baseline
    return log_history(
        study.log,
        known,
        fitted is not None,
        [Change(str(each.date), each.what) for each in study.site.readings.change],
        "" if fitted is None else max(fitted.days, default=""),
        runner_speed(study),
    )


# --- the year's jobs ------------------------------------------------------------------------


def jobs(study: Study) -> tuple[Job, ...]:
    """The year's jobs from whatever is known of the site."""
    from ...running.jobs import Facts, calendar, early

    seen, kept = study.winter_outlook, study.upkeep
    facts: dict[str, Any] = {"leaf_months": _leaf_months(study), "idle_month": _idle_month(study)}
    if kept is not None:
        facts |= {"clogging_rate": kept.rate}
        facts |= {"interval_s": kept.best.interval_s} if kept.best is not None else {}
    if seen is not None and study.frosty:
        facts |= {
            "climate": seen.climate,
            "stop": seen.stop,
            "freshet_day": early(seen.climate.melt),
            "temporary": any(
                each.soil_m == 0 for each in study.stretches if each.line == "diversion"
            ),
        }
    facts |= _freezes(study)
    facts |= {
        "closing": _closing(study),
        **_water_months(study),
        **_clogs(study),
        "thing": opened(study),
        "spills": brims(study),
    }
    if study.plant is not None:
        facts |= {
            "count": study.plant.jets.count,
            "fixed": hasattr(study.plant.jets, "diameters_m"),
        }
    return calendar(Facts(**facts))


def _freezes(study: Study) -> dict[str, Any]:
    """What freezes first and in which months, where the cold is known and not an example."""
    worst = build_freeze.soonest(study)
    if worst is None or study.frost is None or study.frost.assumed:
        return {}
    bare = [each for each in study.freeze if each.stretch.bare]
    return {
        "freezing_months": build_freeze.freezing_months(study),
        "worst_name": worst.stretch.name,
        "worst_hours_s": worst.soonest_s,
        "bare_names": tuple(each.stretch.name for each in bare),
        "bare_hours_s": tuple(each.bare_s for each in bare),
        "bare_questions": tuple(f"freeze.{each.slug}.bare" for each in bare),
    }


def jobs_together(study: Study) -> tuple[tuple[Job, ...], ...]:
    """The year's jobs by what is to be done: the same in several months together."""
    from ...running.jobs import together

    return together(study.jobs)


def _clogs(study: Study) -> dict[str, Any]:
    """What clogs most, by the clogged shares of the site file, else the first screen; whether it is
    a screen, and has a mesh."""
    from .part_names import part_name
    from .waterway import SCREENS

    parts: list[tuple[Mapping[str, Any], str, bool]] = [
        (entry, part_name(entry), entry["kind"] in SCREENS)
        for entry in study.site.part
        if entry["kind"] in SCREENS or "clogged" in entry
    ]
    if "clogged" in study.site.intake:
        parts.append((study.site.intake, "screen", True))
    if not parts:
        return {}
    _, name, screen = max(parts, key=lambda each: _most_clogged(each[0]))
    return {
        "clogs": name,
        "screen": screen,
        "mesh": any("mesh_open" in entry for entry, *_ in parts),
    }


def _most_clogged(entry: Mapping[str, Any]) -> float:
    return float(np.max(entry["clogged"])) if "clogged" in entry else 0.0


def _leaf_months(study: Study) -> tuple[int, ...]:
    """Months in which the screen clogs: from the log, else from the clogged shares of the site file."""
    if study.upkeep is not None and study.upkeep.clogging.season:
        return study.upkeep.clogging.season
    shares = [
        entry["clogged"] for entry in (*study.site.part, study.site.intake) if "clogged" in entry
    ]
    worst = np.max(shares, axis=0) if shares else np.zeros(12)
    return tuple((np.flatnonzero((worst > 0) & (worst >= 0.7 * worst.max())) + 1).tolist())


def _idle_month(study: Study) -> int | None:
    outage = study.site.outage
    if outage.given("planned_months"):
        return outage.planned_months[0]
    power, _ = power_by_month(study)
    return (
        None
        if power is None or not np.nanmax(power) > np.nanmin(power)
        else int(np.nanargmin(power)) + 1
    )


def _closing(study: Study) -> tuple[tuple[int, int], ...]:
    """Months in which fewer jets are best than in the month before, with their number: as the jet
    schedule has it."""
    jets = study.answer("jets.open")
    if jets is None or study.jet_plan is None or not study.jet_plan.schedule.fixed:
        return ()
    count = np.asarray(jets.value, dtype=float)
    return tuple(
        (place + 1, int(count[place]))
        for place in range(12)
        if count[place] >= 1 and count[place] < count[place - 1]
    )


def _water_months(study: Study) -> dict[str, int]:
    """Months of least and of most water, where more than one is known."""
    water = study.monthly_flow
    if water is None:
        return {}
    flow = water.natural_m3s if study.record is not None else water.usable_m3s
    flow = (
        np.where(water.known, flow, np.nan) if water.known.sum() > 1 else flow
    )  # what was at least so much may be more
    if not np.nanmax(flow) > np.nanmin(flow):
        return {}
    return {"low_month": int(np.nanargmin(flow)) + 1, "full_month": int(np.nanargmax(flow)) + 1}


# --- steps at the valves --------------------------------------------------------------------


def steps(study: Study) -> dict[str, tuple[Step, ...] | None]:
    """Steps for each line that is described: ``"penstock"`` and ``"diversion"``, None where lacking."""
    from ...running.line_steps import diversion_steps
    from ...running.steps import penstock_steps

    found: dict[str, tuple[Step, ...] | None] = {"penstock": None, "diversion": None}
    if study.section is not None and study.penstock is not None:
        card = study.card
        rows = () if card is None else card.rows
        shown = (
            None
            if card is None
            else {
                0: card.shut_off_pa,
                **{number: row.pressure_pa for number, row in _numbered(rows)},
            }
        )
        named = {number: row.name for number, row in _numbered(rows) if row.name}
        found["penstock"] = penstock_steps(
            study.section,
            study.penstock,
            study.pressures,
            shown,
            build_freeze.until(study, "penstock"),
            opened(study),
            named,
            max((row.jets for row in rows), default=2),
            brims(study),
            study.frosty,
            0.0 if card is None or study.plant is None else float(study.plant.penstock.air_m),
        )
    if study.line_air is not None:
        gated = study.site.diversion.outlet == "gated"
        found["diversion"] = diversion_steps(
            study.line_air, gated, build_freeze.until(study, "diversion"), study.frosty
        )
    return found


def _numbered(rows: Iterable[Row]) -> list[tuple[int, Row]]:
    """Rows of the card with what stands for them among the steps: the number open, or their place
    where machines differ."""
    return [(place if row.name else row.jets, row) for place, row in enumerate(rows, 1)]
