"""From a study to its log, its winter, the year's jobs and the steps at its valves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ...errors import Finding
from . import freeze as build_freeze
from .machines import opened

__all__ = [
    "Upkeep",
    "WinterOutlook",
    "history",
    "jobs",
    "log",
    "power_by_month",
    "steps",
    "upkeep",
    "winter_outlook",
]


# --- the log --------------------------------------------------------------------------------


def log(study: Any) -> Any:
    """The cleaned log, or None."""
    section, penstock = study.site["readings"], study.site["penstock"]
    if "log" not in section:
        return None
    from ...running.log import read_log

    zero = penstock.get("gauge_zero", 0.0)
    static = penstock["static_pressure"].value - zero if "static_pressure" in penstock else None
    jets = study.site["turbine"].get("jets")
    path = study.folder.file(section["log"], "[readings] log")
    return read_log(
        path, static, None if jets is None else int(jets), section.get("power_factor", 1.0), zero
    )


def history(study: Any) -> Any:
    """What happened in the log, or None."""
    if study.log is None:
        return None
    from ...running.log_events import log_history

    found = study.baseline
    known = (
        None
        if found is None
        else {
            int(n): (float(p), float(w))
            for n, p, w in zip(found.jets, found.pressure_pa, found.power_w)
        }
    )
    return log_history(study.log, known)


@dataclass(frozen=True, eq=False)
class Upkeep:
    """What the log teaches about upkeep.

    Parameters
    ----------
    clogging : Clogging
    gauge : tuple of Event
        Spells with the gauge off, and its changes.
    drift : Drift or None
    jets : int
        Usually open while the screen clogs.
    healthy_w : float
        Then.
    fall : float
        Share of those jets' flow lost each day, once the water no longer fills them.
    grace_s : float
        Until then, from a cleaning.
    best : Interval or None
        Between cleanings; None without a price and a cost of the walk, or without clogging.
    usual_s : float
        Between the cleanings of the log, in the clogging season.
    spared : Spared
        By a screen that cleans itself.
    """

    clogging: Any
    gauge: tuple[Any, ...]
    drift: Any
    jets: int
    healthy_w: float
    fall: float
    grace_s: float
    best: Any
    usual_s: float
    spared: Any

    def lost_w(self, time_s: Any) -> Any:
        """Power lost so long after a cleaning, in the clogging season."""
        from ...running.visits import clogged_loss

        spare = 1 + self.fall * self.grace_s / 86400
        return clogged_loss.si(time_s, self.healthy_w, self.fall / spare / 86400, spare)

    @property
    def rate(self) -> float:
        """Share of the clean screen's flow lost each day in the clogging season."""
        return self.clogging.rate_in(self.clogging.season)


def upkeep(study: Any) -> Upkeep | None:
    """Clogging, the interval worth the walk, drifts; or None without a log."""
    if study.history is None:
        return None
    from ...running.clogging import clogging, self_cleaning
    from ...running.drift import gauge_changes, slow_drift

    happened, found = study.history, study.baseline
    flow = None if found is None else {int(n): float(q) for n, q in zip(found.jets, found.flow_m3s)}
    intake = study.site["intake"].get("capacity")
    clogs = clogging(happened, flow, None if intake is None else intake.value)
    gauge = gauge_changes(happened)
    inside = np.isin(_months_of(happened.log.time), clogs.season) & (happened.log.jets > 0)
    jets = int(np.median(happened.log.jets[inside])) if inside.any() else 0
    watts = happened.reference.levels.get(jets, (np.nan, np.nan, 0))[1]
    fall = clogs.rate_in(clogs.season) * clogs.spare_by_jets.get(jets, 1.0)
    found = Upkeep(
        clogs,
        gauge,
        slow_drift(happened, gauge),
        jets,
        watts,
        fall,
        clogs.grace_s(happened),
        None,
        _usual_interval(happened, clogs),
        self_cleaning(happened),
    )
    return replace(found, best=_best_interval(study.site["costs"], found))


def _months_of(times: np.ndarray) -> np.ndarray:
    return times.astype("datetime64[M]").astype(int) % 12 + 1


def _best_interval(costs: dict, found: Upkeep) -> Any:
    from ...running.visits import best_interval

    if (
        "value" not in costs
        or "visit" not in costs
        or not np.isfinite(found.fall * found.healthy_w)
    ):
        return None
    return best_interval(found.lost_w, costs["visit"], costs["value"])


def _usual_interval(happened: Any, clogs: Any) -> float:
    """Median time between cleanings that follow each other in the clogging season."""
    times = np.array([event.start for event in happened.of("clean")], dtype="datetime64[s]")
    if len(times) < 2:
        return np.nan
    gaps = np.diff(times).astype(float)
    within = np.isin(_months_of(times[1:]), clogs.season) & (gaps < 60 * 86400)
    return float(np.median(gaps[within])) if within.any() else np.nan


# --- winter ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class WinterOutlook:
    """What winter asks of this site.

    Parameters
    ----------
    climate : Climate
    standing : Standing or None
        On a mean and a cold day of the coldest month, and on the coldest day known.
    by_month : Standing or None
        On a cold day of each month.
    power_w : ndarray or None
        Of the plant, by month.
    power_from : str
        Where that comes from.
    stop : UntilThaw or None
    heat : HeatHeld or None
    """

    climate: Any
    standing: Any
    by_month: Any
    power_w: Any
    power_from: str
    stop: Any
    heat: Any

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What limits the trust in it."""
        return self.climate.findings


def winter_outlook(study: Any) -> WinterOutlook | None:
    """Frazil, freezing, stops and heat, or None without air temperatures."""
    if study.climate is None:
        return None
    from ...running.winter import heat_held, standing_water
    from .demand import other_w

    air, lying, loads = study.climate, study.stretches, study.site["loads"]
    place = air.coldest_month - 1
    colds = (float(air.mean_k[place]), float(air.cold_k[place]), build_freeze.coldest(study)[0])
    power, source = power_by_month(study)
    heat = None
    if power is not None and study.house is not None:
        heat = heat_held(
            study.temperature,
            _power_by_day(study, power),
            study.house.conductance_w_k,
            loads.get("inside_temperature", 293.15),
            other_w(study),
            _running(study),
        )
    return WinterOutlook(
        air,
        standing_water(lying, colds, air.frost_depth_m) if lying else None,
        standing_water(lying, air.cold_k, air.frost_depth_m)
        if lying and np.isfinite(air.cold_k).all()
        else None,
        power,
        source,
        _one_stop(study, power),
        heat,
    )


_HOURS = 24 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


def _one_stop(study: Any, power: Any) -> Any:
    """What one stop costs until it thaws: tried on the days of the flow record where the thermometer has them all, else by a month's watts."""
    from ...running.winter import UntilThaw, until_thaw

    tried = None if study.day_by_day is None else study.day_by_day.stops
    if tried is not None:
        return UntilThaw(
            tried.days, tried.days_long, tried.kwh * 3.6e6, energy_long_j=tried.kwh_long * 3.6e6
        )
    return None if power is None else until_thaw(study.temperature, power)


def _power_by_day(study: Any, by_month: Any) -> Any:
    """Watts of each day of the record while the plant runs, where there is one; else those of each month."""
    if study.year is None or not study.year.rows:
        return by_month
    from ...energy.year_power import power_series
    from . import year as build_year

    power = power_series(build_year.taken(study), study.plant.curves())
    return power * (1 - study.year.lost_share[np.asarray(power.index.month) - 1])


def _running(study: Any) -> Any:
    """Share of each month's watts that is left of stops, jet changes and frost, where the watts do not count them yet."""
    from . import year as build_year

    if study.year is None or not study.year.rows:
        return 1.0
    alone, net = (
        np.asarray(each.monthly_kwh, dtype=float) for each in (study.year.alone, study.year)
    )
    return build_year.outages(study.site).running * np.where(
        alone > 0, net / np.where(alone > 0, alone, 1.0), 1.0
    )


def power_by_month(study: Any) -> tuple[Any, str]:
    """Mean watts of each month at the loads, stops counted, and where they come from; NaN in months the log does not hold. None where nothing says them."""
    if study.year is not None and study.year.rows:
        return np.asarray(study.year.monthly_kwh, dtype=float) * 1000 / _HOURS, "the daily record"
    if study.log_year is not None:
        return study.log_year.monthly_kwh * 1000 / _HOURS, "the log"
    if (
        study.plant is not None
        and study.monthly_flow is not None
        and study.monthly_flow.known.any()
    ):
        flow = np.where(study.monthly_flow.known, study.monthly_flow.usable_m3s, np.nan)
        power = [
            np.nan if np.isnan(each) else float(study.plant.at_si(each, month).power_w)
            for month, each in enumerate(flow, 1)
        ]
        return (
            np.array(power),
            f"the plant on the flow of the median day of each month, by {study.monthly_flow.sentence}",
        )
    if study.plant is not None:
        return np.full(
            12, float(study.plant.at_si(np.inf).power_w)
        ), "the plant with all the water it can take"
    return None, ""


# --- the year's jobs ------------------------------------------------------------------------


def jobs(study: Any) -> tuple[Any, ...]:
    """The year's jobs from whatever is known of the site."""
    from ...running.jobs import Facts, calendar, early

    seen, kept = study.winter_outlook, study.upkeep
    facts: dict[str, Any] = {"leaf_months": _leaf_months(study), "idle_month": _idle_month(study)}
    if kept is not None:
        facts |= {"clogging_rate": kept.rate}
        facts |= {"interval_s": kept.best.interval_s} if kept.best is not None else {}
    if seen is not None:
        facts |= {
            "climate": seen.climate,
            "stop": seen.stop,
            "freshet_day": early(seen.climate.melt),
        }
        worst = build_freeze.soonest(study)
        if worst is not None:
            bare = [each for each in study.freeze if each.stretch.bare]
            facts["temporary"] = any(
                each.soil_m == 0 for each in seen.standing.stretches if each.line == "diversion"
            )
            facts |= {
                "worst_name": worst.stretch.name,
                "worst_hours_s": worst.soonest_s,
                "bare_names": tuple(each.stretch.name for each in bare),
            }
            facts |= {
                "bare_hours_s": tuple(each.bare_s for each in bare),
                "bare_questions": tuple(f"freeze.{each.slug}.bare" for each in bare),
            }
    facts |= {
        "closing": _closing(study),
        **_water_months(study),
        **_clogs(study),
        "thing": opened(study),
    }
    if study.plant is not None:
        facts |= {
            "count": study.plant.jets.count,
            "fixed": hasattr(study.plant.jets, "diameters_m"),
        }
    return calendar(Facts(**facts))


def _clogs(study: Any) -> dict[str, Any]:
    """What clogs most, by the clogged shares of the site file, else the first screen; whether it is a screen, and has a mesh."""
    from .part_names import part_name
    from .waterway import SCREENS

    parts = [
        (entry, part_name(entry), entry["kind"] in SCREENS)
        for entry in study.site["part"]
        if entry["kind"] in SCREENS or "clogged" in entry
    ]
    if "clogged" in study.site["intake"]:
        parts.append((study.site["intake"], "screen", True))
    if not parts:
        return {}
    _, name, screen = max(parts, key=lambda each: float(np.max(each[0].get("clogged", 0.0))))
    return {
        "clogs": name,
        "screen": screen,
        "mesh": any("mesh_open" in entry for entry, *_ in parts),
    }


def _leaf_months(study: Any) -> tuple[int, ...]:
    """Months in which the screen clogs: from the log, else from the clogged shares of the site file."""
    if study.upkeep is not None and study.upkeep.clogging.season:
        return study.upkeep.clogging.season
    shares = [
        entry["clogged"]
        for entry in (*study.site["part"], study.site["intake"])
        if "clogged" in entry
    ]
    worst = np.max(shares, axis=0) if shares else np.zeros(12)
    return tuple((np.flatnonzero((worst > 0) & (worst >= 0.7 * worst.max())) + 1).tolist())


def _idle_month(study: Any) -> int | None:
    planned = study.site["outage"].get("planned_months")
    if planned:
        return int(planned[0])
    power, _ = power_by_month(study)
    return (
        None
        if power is None or not np.nanmax(power) > np.nanmin(power)
        else int(np.nanargmin(power)) + 1
    )


def _closing(study: Any) -> tuple[tuple[int, int], ...]:
    """Months in which fewer jets are best than in the month before, with their number: as the jet schedule has it."""
    jets = study.answer("jets.open")
    if jets is None or study.jet_plan is None or not study.jet_plan.schedule.fixed:
        return ()
    count = np.asarray(jets.value, dtype=float)
    return tuple(
        (place + 1, int(count[place]))
        for place in range(12)
        if count[place] >= 1 and count[place] < count[place - 1]
    )


def _water_months(study: Any) -> dict[str, int]:
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


def steps(study: Any) -> dict[str, Any]:
    """Steps for each line that is described: ``"penstock"`` and ``"diversion"``, None where lacking."""
    from ...running.steps import diversion_steps, penstock_steps

    found: dict[str, Any] = {"penstock": None, "diversion": None}
    if study.section is not None:
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
        )
    if study.line_air is not None:
        gated = study.site["diversion"].get("outlet") == "gated"
        found["diversion"] = diversion_steps(
            study.line_air, gated, build_freeze.until(study, "diversion")
        )
    return found


def _numbered(rows: Any) -> list[tuple[int, Any]]:
    """Rows of the card with what stands for them among the steps: the number open, or their place where machines differ."""
    return [(place if row.name else row.jets, row) for place, row in enumerate(rows, 1)]
