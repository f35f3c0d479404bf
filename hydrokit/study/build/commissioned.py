"""The plant as it was commissioned, fitted to its readings; and as it was known in each stretch of
its life."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from . import turbine as build_turbine

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from ...running.baseline import Baseline
    from ...running.epochs import Change
    from ...running.observation import Noise
    from ...running.reading import Reading
    from ...running.signatures import Signatures
    from ..study import Study

__all__ = [
    "baseline",
    "day_of",
    "earlier_signatures",
    "first_fit",
    "noise_of_visits",
]


def baseline(study: Study) -> Baseline | None:
    """The plant fitted to its readings of the commissioning, or None where they are too few.

    Readings count as their own scatter shows them; that they scatter more than is stated is told
    as the first fit found it.
    """
    if study.first_fit is None:
        return None
    found = _fitted(study, _scatter(study))
    return None if found is None else replace(found, findings=study.first_fit.findings)


def noise_of_visits(study: Study) -> Noise | None:
    """Scatter of the readings of the commissioning, and of those of healthy visits since; None
    without a commissioned plant."""
    from ...running.scatter import scatter_of, with_visits

    found = scatter_of(study.first_fit)
    if found is None or study.signatures is None or study.baseline is None:
        return found
    since = max([*study.baseline.days, *(each.day for each in study.baseline.changes)])
    looks = [
        visit.looks
        for visit in study.visits
        if visit.source == "readings" and day_of(visit.when) > since
    ]
    return with_visits(found, study.signatures, looks)


def first_fit(study: Study) -> Baseline | None:
    """The plant fitted to its readings with the scatter they are usually taken to have."""
    from ...running.scatter import STATED

    return _fitted(study, STATED)


def _fitted(study: Study, scatter: Mapping[str, float], until: str = "") -> Baseline | None:
    """The plant as commissioned last, or last up to a day."""
    from ...plant.parts import FixedJets
    from ...running.commission import commission
    from ...water import density

    seen, turbine = study.readings, study.site.turbine
    bores, count = turbine.jet_diameter, turbine.jets
    if seen is None or bores is None or (count is None and len(bores) == 1):
        return None
    count = count or len(bores)
    bores = bores * count if len(bores) == 1 else bores
    readings, unlike = _readings(study, until), len(set(bores)) > 1
    told: tuple[Finding, ...] = ()
    if unlike:
        # Which jets a number of them means is not known where they differ, but for none and all.
        some = [each.name for each in readings if each.jets not in (0, count)]
        readings = [each for each in readings if each.jets in (0, count)]
        text = (
            f"{', '.join(some)} left out: the jets differ in bore, and their number does not say "
            "which stood open"
        )
        told += (Finding("note", "commissioning", text),) if some else ()
    if not _tell(readings):
        return None
    kind = build_turbine.jet_kind(turbine)
    given = turbine.jet_coefficient
    coefficient = kind.coefficient if given is None else given.value
    spread = (
        (kind.high - kind.low) / 4 / kind.coefficient
        if given is None or given.relative is None
        else given.relative
    )
    # All open, jets that differ pass what as many of one bore do which has their area.
    alike = float(np.sqrt(np.mean(np.square(bores))))
    nozzles = FixedJets((alike,) * count, coefficient)
    found = study.folder.sentence(
        "[readings]",
        lambda: commission(
            readings,
            nozzles,
            study.penstock,
            coefficient_sd=max(spread, 0.02),
            gauge_height_m=study.site.penstock.gauge_height,
            density_kgm3=float(density.si(study.water_temperature_k)),
            changes=[each for each in _changes(study) if not until or each.day <= until],
            pressure_sd=scatter["pressure"],
            power_sd=scatter["power"],
            speed=build_turbine.runner_speed(study),
        ),
    )
    fitted = found.plant.jets
    if unlike and isinstance(fitted, FixedJets):
        fitted = replace(fitted, diameters_m=bores)
    made = replace(
        found,
        plant=found.plant.replace(jets=fitted),
        findings=(*found.findings, *told),
    )
    return _all_open_only(made) if unlike else made


def _all_open_only(baseline: Baseline) -> Baseline:
    """What is known of jets that differ in bore: what all of them open show."""
    whole = baseline.jets == baseline.jets[-1]

    def kept(values: np.ndarray) -> np.ndarray:
        return np.where(whole, values, np.nan)

    return replace(
        baseline,
        pressure_pa=kept(baseline.pressure_pa),
        pressure_sd_pa=kept(baseline.pressure_sd_pa),
        flow_m3s=kept(baseline.flow_m3s),
        flow_sd_m3s=kept(baseline.flow_sd_m3s),
        net_head_m=kept(baseline.net_head_m),
        loss_m=kept(baseline.loss_m),
        loss_sd_m=kept(baseline.loss_sd_m),
        power_w=kept(baseline.power_w),
        power_sd_w=kept(baseline.power_sd_w),
    )


def _readings(study: Study, until: str = "") -> list[Reading]:
    """The readings for commissioning, those after a day left out."""
    from ...running.reading import Reading

    seen = study.readings
    if seen is None:
        return []
    made = [
        Reading(
            int(seen.jets[n]),
            float(seen.pressure_pa[n]),
            float(seen.power_w[n]) if seen.jets[n] else np.nan,
            spilling=seen.spilling[n],
            name=seen.where[n],
            day=day_of(seen.date[n]),
            commissioning=bool(seen.commissioning[n]),
        )
        for n in range(len(seen))
    ]
    return [each for each in made if not until or each.day <= until]


def _tell(readings: Sequence[Reading]) -> bool:
    """Whether a baseline can be fitted: enough was read while the forebay was full, or the owner
    marked a commissioning."""
    from ...running.epochs import enough

    full = [each for each in readings if each.spilling is not False]
    return enough(full) or any(each.commissioning for each in readings)


def _changes(study: Study) -> list[Change]:
    from ...running.epochs import Change

    return [Change(str(each.date), each.what) for each in study.site.readings.change]


def day_of(date: np.datetime64) -> str:
    return "" if np.isnat(date) else str(date.astype("datetime64[D]"))


def earlier_signatures(study: Study) -> tuple[tuple[str, Signatures], ...]:
    """The plant as it was known until today: first day and faults of each stretch between
    commissionings and changes.

    The last is the plant of today. Without a change, or another commissioning, there is one.
    """
    from ...running.epochs import commissionings
    from ...running.signatures import signatures as worked_out

    now = study.signatures
    if now is None or study.baseline is None:
        return () if now is None else (("", now),)
    begun = [days[-1] for days in commissionings(_readings(study))]
    days = sorted({*begun, *(each.day for each in _changes(study))} - {""})
    days = [day for day in days if begun[0] and day > begun[0]]
    found = []
    for first, after in zip(["", *days], days):
        last = str(np.datetime64(after) - 1)
        known = _fitted(study, _scatter(study), last)
        found.append((first, now if known is None else worked_out(known, now.faults)))
    return (*found, (days[-1] if days else "", now))


def _scatter(study: Study) -> dict[str, float]:
    from ...running.scatter import STATED, scatter_of

    own = scatter_of(study.first_fit)
    return STATED if own is None else {"pressure": own.pressure, "power": own.power}
