"""From readings at the powerhouse to the plant as it is: baseline, card, diagnosis, a bracket for
the year."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np

from ...errors import HydrokitError
from ...stream.days import days_of
from . import machines as build_machines
from . import turbine as build_turbine
from .commissioned import day_of, noise_of_visits
from .log import by_log
from .uncertain import uncertainties

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ...energy.bracket import Bracket
    from ...energy.uncertain_inputs import Metered
    from ...plant.chain import Chain
    from ...plant.parts import FixedJets
    from ...running.baseline import Baseline
    from ...running.card import Card
    from ...running.diagnose import Diagnosis
    from ...running.missing import Missing
    from ...running.observation import Noise, Observation, Visit
    from ...running.rehearsal import Rehearsal
    from ...running.signatures import Signatures
    from ...site.schema import Site
    from ..study import Study

__all__ = [
    "bracket",
    "card",
    "diagnose",
    "expectation",
    "healthy_efficiency",
    "least_seen",
    "metered",
    "missing",
    "noise",
    "rehearsal",
    "signatures",
    "visits",
]

# Jets to wire of a healthy machine where the site file says nothing: W = gpm × ft / 10 to 13 is
# 0.53 to 0.41; larger machines reach more. Common practice.
USUAL_WATER_TO_WIRE = 0.53


def fitted_chain(study: Study, fitted: Baseline) -> Chain:
    """The plant as its readings show it, with what stands above the pond."""
    from ...plant.parts import Runner, steady
    from .metering import after_meter

    plant, known = fitted.plant, study.described if study.site.generator else None
    if not np.isfinite(
        fitted.efficiency
    ):  # no watts were read: the machine is as described, else as usual
        plant = (
            plant.replace(
                runner=Runner(
                    steady(healthy_efficiency(study.site), speed=build_turbine.runner_speed(study))
                )
            )
            if known is None
            else plant.replace(runner=known.runner, electric=known.electric)
        )
    else:
        plant = plant.replace(electric=after_meter(study.site, float(plant.at_si(np.inf).power_w)))
    return plant.replace(
        supply=study.supply,
        states=study.states,
        schedule=build_turbine.schedule(study.site),
        name=study.name,
    )


def healthy_efficiency(site: Site) -> float:
    """Efficiency from the water at the jets to the meter that the site file states, or that is usual."""
    generator, turbine = site.generator, site.turbine
    if generator.water_to_wire is not None:
        return generator.water_to_wire.value
    by_count = build_machines.stated_efficiencies(site)
    if by_count and generator.efficiency is not None:
        return float(by_count[-1] * generator.efficiency.value)
    if turbine.efficiency is not None and generator.efficiency is not None:
        return turbine.efficiency.value * generator.efficiency.value
    return USUAL_WATER_TO_WIRE


def missing(study: Study) -> Missing | None:
    """Watts that a clean pipe and the stated efficiency would give and this plant does not, or None
    without watts."""
    from ...running.missing import missing_watts

    if study.baseline is None or not np.isfinite(study.baseline.efficiency):
        return None
    stated, by_count = (
        healthy_efficiency(study.site),
        build_machines.stated_efficiencies(study.site),
    )
    if len(by_count) < study.baseline.jets.max():
        return missing_watts(study.baseline, stated)
    each = np.array(by_count)[study.baseline.jets - 1] * (stated / by_count[-1])
    return missing_watts(study.baseline, each)


def metered(study: Study) -> Metered | None:
    """The watts read with all jets fed, which know head, loss, jets and efficiency as a product; or None."""
    from ...energy.uncertain_inputs import Metered

    fitted = study.baseline
    if fitted is None or not np.isfinite(fitted.power_w[-1]):
        return None
    return Metered(
        float(fitted.power_w[-1]),
        float(fitted.power_sd_w[-1] / fitted.power_w[-1]),
        int(fitted.jets[-1]),
    )


def bracket(study: Study) -> Bracket | None:
    """Between which figures the year's energy lies, from gaugings alone, where no record adds up to
    a year; or None."""
    from ...energy.bracket import bracket as bracketed

    gauged = study.gaugings
    # A record that holds no whole year takes nothing away from what the gaugings tell.
    if gauged is None or study.plant is None or study.year is not None:
        return None
    months = [int(str(np.datetime64(day, "M"))[5:7]) for day in gauged.date]
    # watts that were read tie the uncertainties of head, loss, jets and machine together
    fitted = study.baseline
    uncertain = (
        uncertainties(study)
        if fitted is None or not np.isfinite(fitted.efficiency)
        else fitted.uncertainties()
    )
    snow = bool(
        study.temperature is not None
        and study.temperature.groupby(days_of(study.temperature).month).mean().min() < -3
    )
    try:
        return bracketed(
            study.plant,
            gauged.flow_m3s,
            months,
            gauged.uncertainty,
            study.rights if study.site.rights.residual else None,
            uncertainties=uncertain,
            snow=snow,
            planned=not study.exists,
            set_aside=by_log(study),
        )
    except HydrokitError as error:
        raise study.folder.wrong("[stream] gaugings", str(error)) from error


# --- card and diagnosis -----------------------------------------------------------------------


def expectation(study: Study) -> Baseline | None:
    """The healthy plant: as commissioned, else as described with its uncertainties; None where
    neither is known."""
    return (
        study.baseline
        if study.baseline is not None or study.plant is None
        else _promised(study, study.plant)
    )


def _promised(study: Study, plant: Chain) -> Baseline:
    """What a plant as described should give, with the uncertainties of the site file."""
    from ...running.card import expected

    uncertain = uncertainties(study)
    return expected(
        plant,
        uncertain.head,
        uncertain.loss,
        uncertain.jet_area,
        uncertain.efficiency,
        gauge_height_m=study.site.penstock.gauge_height,
    )


def noise(study: Study) -> Noise:
    """Repeatability of one reading: as the log shows, else as commissioning and healthy visits
    show, else the usual."""
    from ...running.observation import Noise
    from ...running.scatter import STEADIEST

    if study.history is None:
        return noise_of_visits(study) or Noise()
    spread = study.history.reference
    pressure, power = max(spread.pressure_spread, STEADIEST), max(spread.power_spread, STEADIEST)
    return Noise(pressure, power if spread.basis == "watts" else Noise().power)


def card(study: Study) -> Card | None:
    """The gauge card, or None where the plant is not known."""
    from ...running.card import card as made
    from ...works.pressures import valve_time
    from .metering import sending_si, sent_by_jets

    if study.expectation is None:
        return None
    section, penstock = study.site.cable, study.site.penstock
    read = (
        np.array([]) if study.readings is None else study.readings.volts[study.readings.volts > 0]
    )
    phases = np.sqrt(3.0) if section.phases == "three" else 1.0
    return made(
        study.expectation,
        study.noise,
        volts=float(np.median(read)) if len(read) else section.voltage or np.nan,
        sent=None if len(read) else sending_si(study),
        sent_w=None if len(read) else sent_by_jets(study),
        amps_per_va=1 / (phases * study.site.readings.power_factor),
        zero_error_pa=penstock.gauge_zero,
        closing_s=np.nan if study.pressures is None else valve_time(study.pressures),
    )


def signatures(study: Study) -> Signatures | None:
    """What each fault does on this plant; None where the plant is not known or its jets are no flow meter."""
    from ...running.signatures import signatures as worked_out

    try:
        return None if study.expectation is None else worked_out(study.expectation)
    except HydrokitError:
        return None


def visits(study: Study) -> list[Visit]:
    """What was seen at the plant, visit by visit: the readings, then the log."""
    from ...running.observation import Observation, gathered

    found = []
    seen, log = study.readings, study.log
    if seen is not None:
        dated = np.flatnonzero(~np.isnat(seen.date))
        dated = dated[np.argsort(seen.date[dated], kind="stable")]
        looks = [
            Observation(
                int(seen.jets[n]),
                seen.pressure_pa[n],
                seen.power_w[n] if seen.jets[n] else np.nan,
                spilling=seen.spilling[n],
                fluctuates={"fluctuates": True, "steady": False}.get(seen.needle[n]),
            )
            for n in dated
        ]
        found += gathered(seen.date[dated], looks, "readings")
    if log is not None:
        looks = [
            Observation(
                int(log.jets[n]),
                log.pressure_pa[n],
                log.power_w[n] if log.jets[n] else np.nan,
                spilling=_told(log.spilling[n]),
                fluctuates=_told(log.fluctuates[n]),
                air_k=log.air_k[n],
            )
            for n in range(len(log))
        ]
        found += gathered(log.time, looks, "log")
    return sorted(found, key=lambda visit: visit.when)


def _told(value: float) -> bool | None:
    return None if np.isnan(value) else bool(value)


def diagnose(
    study: Study,
    observations: Sequence[Observation] | None = None,
    when: np.datetime64 | None = None,
) -> Diagnosis | None:
    """What is wrong, from what was seen; at the last visit where nothing is given. None where
    nothing can be said.

    What was seen at a time is held against the plant as it was known then.
    """
    from ...running.diagnose import diagnose as judged

    if observations is None and study.visits:
        observations, when = study.visits[-1].looks, study.visits[-1].when
    if observations is None or study.signatures is None:
        return None
    day = "" if when is None else day_of(when)
    known = [each for first, each in study.earlier_signatures or () if not day or first <= day]
    return judged(known[-1], observations, study.noise)


def rehearsal(study: Study) -> Rehearsal | None:
    """Faults seeded in this plant and diagnosed; None where it cannot be diagnosed."""
    from ...running.rehearsal import rehearse

    return None if study.signatures is None else rehearse(study.signatures, noise=study.noise)


def least_seen(study: Study) -> tuple[dict[str, float], dict[str, float]] | None:
    """Smallest size of each fault that a visit shows: on the commissioned plant, and on the same
    plant never commissioned.

    Where one of the two is not there it is worked out as if: a plan commissioned on readings just
    as promised, a running plant known by its site file only.
    """
    from ...running.rehearsal import least_seen as least
    from ...running.signatures import signatures as worked_out

    if study.signatures is None or study.expectation is None:
        return None
    if study.baseline is not None:
        described = None if study.described is None else _promised(study, study.described)
        other = None if described is None else worked_out(described, study.signatures.faults)
        return least(study.signatures, noise=study.noise), {} if other is None else least(
            other, noise=study.noise
        )
    if_so = _as_if_commissioned(study.expectation, study.noise)
    known = None if if_so is None else worked_out(if_so, study.signatures.faults)
    return {} if known is None else least(known, noise=study.noise), least(
        study.signatures, noise=study.noise
    )


def _as_if_commissioned(promised: Baseline, noise: Noise) -> Baseline | None:
    """The baseline that readings just as promised would give; None where the plant promises no
    watts that could be read."""
    from ...running.commission import commission
    from ...running.reading import Reading

    plant = promised.plant
    seen = [Reading(0, promised.shut_off_pa, spilling=True)]
    seen += [
        Reading(int(n), float(p), float(w), spilling=True)
        for n, p, w in zip(promised.jets, promised.pressure_pa, promised.power_w)
        if np.isfinite(p) and w > 0
    ]
    if len(seen) < 2:
        return None
    spread = float(np.sqrt(promised.covariance[2, 2]))
    height = promised.estimate["head"] - promised.shut_off_pa / (plant.density_kgm3 * 9.80665)
    return commission(
        seen,
        cast("FixedJets", plant.jets),  # only such a plant can be diagnosed
        plant.penstock.line,
        max(spread, 0.02),
        noise.pressure,
        noise.power,
        gauge_height_m=height,
        density_kgm3=plant.density_kgm3,
    )
