"""The plant in one number each: head loss in use and clean, net head, full flow and power, the
healthy plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..answer import Answer, Evidence, best

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ...plant.operation import Operation
    from ...units import Number
    from ..study import Study

__all__ = [
    "all_open",
    "efficiency",
    "full_flow",
    "full_power",
    "healthy_power",
    "jets_capacity",
    "loss",
    "loss_clean",
    "loss_in_use",
    "net_head",
    "shut_off",
]

_WITHIN = 1.645  # standard deviations either side hold 90 % of a normal distribution
LOSS_SD = 0.15  # of what a pipe of known size and length is calculated to lose; common practice
EFFICIENCY_SD = (
    0.05  # of an efficiency stated without its uncertainty, as a share of it; common practice
)
RIDGE_SD = 0.02  # of the watts of the healthy plant as a log shows them; common practice


def _of(
    key: str, value: float, sd: float, kind: str, evidence: Evidence, source: str, digits: int = 3
) -> Answer:
    reach = _WITHIN * sd
    return Answer(
        key,
        value,
        kind,
        digits=digits,
        low=max(value - reach, 0.0),
        high=value + reach,
        evidence=evidence,
        source=source,
    )


def _full(plant: Chain) -> Operation:
    return plant.running().at_si(np.inf)


# --- head loss ------------------------------------------------------------------------------


def _clean_m(study: Study) -> float | None:
    """Head lost by the clean pipe as described, at the flow of the jets all open."""
    from ...water import viscosity

    if study.penstock is None or not study.full_flow_m3s:
        return None
    return float(
        study.penstock.loss_si(study.full_flow_m3s, float(viscosity.si(study.water_temperature_k)))
    )


def loss_in_use(study: Study) -> float:
    """Head lost by the pipe as it is, over that of the clean pipe; 1 where nothing was read of it."""
    clean = _clean_m(study)
    if study.baseline is None or not study.baseline.has_line or not clean:
        return 1.0
    return float(study.baseline.loss_m[-1]) / clean


def loss_clean(study: Study) -> Answer | None:
    """Head lost by the clean pipe of that size and length with all jets open, as calculated."""
    clean = _clean_m(study)
    return (
        None
        if clean is None
        else _of(
            "loss.penstock_clean",
            clean,
            LOSS_SD * clean,
            "head",
            Evidence.CALCULATED,
            "the clean pipe of that size and length",
        )
    )


def loss(study: Study) -> Answer | None:
    """Head lost by the penstock with all jets open: as the readings show it, the clean calculated
    loss set aside."""
    found, clean = study.baseline, _clean_m(study)
    calculated = (
        None
        if clean is None
        else _of(
            "loss.penstock",
            clean,
            LOSS_SD * clean,
            "head",
            Evidence.CALCULATED,
            "the clean pipe of that size and length",
        )
    )
    read = None
    if found is not None and np.isfinite(found.loss_m[-1]):
        read = _of(
            "loss.penstock",
            float(found.loss_m[-1]),
            float(found.loss_sd_m[-1]),
            "head",
            Evidence.MEASURED_ON_THE_PLANT,
            "the readings of gauge and meters",
        )
    return best(read, calculated)


def net_head(study: Study) -> Answer | None:
    """Head at the jets with all of them fed."""
    if study.plant is None:
        return None
    value = float(_full(study.plant).net_head_m)
    evidence, source = _known_by(study)
    return Answer("head.net", value, "head", digits=3, evidence=evidence, source=source)


def shut_off(study: Study) -> Answer | None:
    """What the gauge of the healthy plant shows with the jets shut: by the readings, else by the
    gauge card."""
    found, card = study.baseline, study.card
    key, kind = "pressure.shut_off", "gauge pressure"
    if found is not None:
        zero = study.site.penstock.gauge_zero
        value, sd = found.shut_off_pa + zero, found.shut_off_sd_pa
        evidence, source = Evidence.MEASURED_ON_THE_PLANT, "the readings of the gauge"
        return _of(key, value, sd, kind, evidence, source)
    return (
        None
        if card is None
        else _on_card(study, key, card.shut_off_pa, card.shut_off_low_pa, card.shut_off_high_pa)
    )


def all_open(study: Study) -> Answer | None:
    """What the gauge of the healthy plant shows with everything open, as its card has it."""
    if study.card is None:
        return None
    row = study.card.rows[-1]
    return _on_card(
        study, "pressure.all_open", row.pressure_pa, row.pressure_low_pa, row.pressure_high_pa
    )


def _on_card(study: Study, key: str, value: float, low: float, high: float) -> Answer:
    evidence, source = _known_by(study)
    return Answer(
        key, value, "gauge pressure", digits=3, low=low, high=high, evidence=evidence, source=source
    )


# --- flow and power -------------------------------------------------------------------------


def _known_by(study: Study) -> tuple[Evidence, str]:
    read = study.baseline is not None
    return (
        (Evidence.MEASURED_ON_THE_PLANT, "the plant as its readings show it")
        if read
        else (Evidence.CALCULATED, "the plant as it is described")
    )


def jets_capacity(study: Study) -> Answer | None:
    """Flow that the jets take, all open and fed."""
    if study.plant is None:
        return None
    found, (evidence, source) = study.baseline, _known_by(study)
    if found is not None:
        return _of(
            "capacity.jets",
            float(study.full_flow_m3s or np.nan),
            float(found.flow_sd_m3s[-1]),
            "flow",
            evidence,
            source,
        )
    return Answer(
        "capacity.jets",
        float(study.full_flow_m3s or np.nan),
        "flow",
        digits=3,
        evidence=evidence,
        source=source,
    )


def full_flow(study: Study) -> Answer | None:
    """Flow through the jets with all clean and water to spare: no more than what stands above lets
    through."""
    return None if study.plant is None else _at_full(study, "flow", _full(study.plant).used_m3s)


def full_power(study: Study) -> Answer | None:
    """Power at the loads with all clean and water to spare."""
    return None if study.plant is None else _at_full(study, "power", _full(study.plant).power_w)


def _at_full(study: Study, kind: str, value: Number) -> Answer:
    evidence, source = _known_by(study)
    return Answer(
        f"plant.full_{kind}", float(value), kind, digits=3, evidence=evidence, source=source
    )


def healthy_power(study: Study) -> Answer | None:
    """Power of the healthy plant with all jets fed: as it was commissioned, as its log shows it,
    else as described."""
    return best(*(way(study) for way in (_commissioned, _logged, _described)))


def _commissioned(study: Study) -> Answer | None:
    found = study.baseline
    if found is None or not np.isfinite(found.power_w[-1]):
        return None
    return _healthy(
        float(found.power_w[-1]),
        float(found.power_sd_w[-1]),
        Evidence.MEASURED_ON_THE_PLANT,
        "the readings of the healthy plant",
    )


def _logged(study: Study) -> Answer | None:
    if study.history is None or study.plant is None:
        return None
    most = max(opening.count for opening in study.plant.jets.openings())
    _, watts, readings = study.history.reference.levels.get(most, (np.nan, np.nan, 0))
    if not readings or not np.isfinite(watts):
        return None
    return _healthy(
        float(watts),
        float(watts) * max(RIDGE_SD, study.history.reference.power_spread),
        Evidence.MEASURED_ON_THE_PLANT,
        "the healthy readings of the log",
    )


def _described(study: Study) -> Answer | None:
    """The plant by its size, its clean pipe and the efficiency the site file states."""
    if study.baseline is not None and study.missing is not None:
        watts = float(study.missing.healthy_w[-1])
        stated = _stated(study)
        clean = _clean_m(study) or 0.0
        head = max(float(study.baseline.net_head_m[-1]), 1e-9)
        sd = watts * float(
            np.hypot(
                (stated.high - stated.low) / (2 * _WITHIN * stated.value),
                1.5 * LOSS_SD * clean / head,
            )
        )
        return _healthy(watts, sd, stated.evidence, f"the clean pipe with {stated.source}")
    if (
        study.baseline is not None
        or study.expectation is None
        or not np.isfinite(study.expectation.power_w[-1])
    ):
        return None
    return _healthy(
        float(study.expectation.power_w[-1]),
        float(study.expectation.power_sd_w[-1]),
        Evidence.CALCULATED,
        "the plant as it is described",
    )


def _healthy(value: float, sd: float, evidence: Evidence, source: str) -> Answer:
    return _of("plant.healthy_power", value, sd, "power", evidence, source)


def _stated(study: Study) -> Answer:
    """Efficiency from the jets to the meter as the site file states it, else the usual."""
    from .running import USUAL_WATER_TO_WIRE, healthy_efficiency

    site, value = study.site, healthy_efficiency(study.site)
    given = (
        [site.generator.water_to_wire]
        if site.generator.given("water_to_wire")
        else [
            section.efficiency
            for section in (site.turbine, site.generator)
            if section.given("efficiency")
        ]
    )
    usual = value == USUAL_WATER_TO_WIRE and (
        len(given) != 1 or not site.generator.given("water_to_wire")
    )
    told = [each.relative for each in given if each is not None and each.relative is not None]
    sd = value * (
        float(np.sqrt(np.sum(np.square(told)))) if told else EFFICIENCY_SD * (3 if usual else 1)
    )
    source = (
        "the usual efficiency of such plants"
        if usual
        else "the efficiency that the site file states"
    )
    return _of(
        "plant.efficiency",
        value,
        sd,
        "share",
        Evidence.COMMON_PRACTICE if usual else Evidence.ASSUMED,
        source,
        2,
    )


def efficiency(study: Study) -> Answer | None:
    """Efficiency from the water at the jets to the meter, all jets fed: as found, the stated one
    set aside."""
    found = study.baseline
    if found is None or not np.isfinite(found.efficiency):
        return None
    low, high = found.interval("efficiency")
    read = Answer(
        "plant.efficiency",
        found.efficiency,
        "share",
        digits=2,
        low=low,
        high=high,
        evidence=Evidence.MEASURED_ON_THE_PLANT,
        source="the readings of gauge and meters",
    )
    return best(read, _stated(study))


QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    "loss.penstock": loss,
    "loss.penstock_clean": loss_clean,
    "head.net": net_head,
    "pressure.shut_off": shut_off,
    "pressure.all_open": all_open,
    "capacity.jets": jets_capacity,
    "plant.full_flow": full_flow,
    "plant.full_power": full_power,
    "plant.healthy_power": healthy_power,
    "plant.efficiency": efficiency,
}
