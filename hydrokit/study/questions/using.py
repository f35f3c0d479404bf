"""Questions on what the power does."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ..study import Study


def _evidence(study: Study) -> Evidence:
    """Of a power along the wire: read on the plant, or calculated from its parts."""
    read = study.powers is not None and study.baseline is not None and study.powers.metered_at
    return Evidence.MEASURED_ON_THE_PLANT if read else Evidence.CALCULATED


def _power(place: str, name: str) -> Callable[[Study], Answer | None]:
    def asked(study: Study) -> Answer | None:
        found = study.powers
        if found is None:
            return None
        known = (
            f"the watts metered at the {found.metered_at}"
            if found.metered_at
            else "the parts of the plant"
        )
        return Answer(
            f"power.{place}",
            getattr(found, f"{place}_w"),
            "power",
            digits=3,
            evidence=_evidence(study),
            source=f"{known}, with all the water it can take, at the {name}",
        )

    return asked


def cable_current(study: Study) -> Answer | None:
    """Current in the main cable with all the water the plant can take."""
    found = study.wires
    if found is None or found.main.asks is None:
        return None
    return Answer(
        "cable.current",
        found.main.asks.current_a,
        "current",
        digits=3,
        evidence=_evidence(study),
        source="the power at the sending end and the voltage there",
    )


def ballast_power(study: Study) -> Answer | None:
    """What the ballast must take."""
    found = study.wires
    if found is None:
        return None
    return Answer(
        "ballast.power",
        found.ballast.asked.total_w,
        "power",
        digits=3,
        evidence=Evidence.COMMON_PRACTICE,
        source=f"the power at the sending end and its margin: {found.ballast.asked.source}",
    )


def _phase(
    key: str, told: Callable[[Any], float], kind: str, digits: int, source: str
) -> Callable[[Study], Answer | None]:
    def asked(study: Study) -> Answer | None:
        found = study.phases
        return (
            None
            if found is None
            else Answer(
                key, told(found), kind, digits=digits, evidence=Evidence.CALCULATED, source=source
            )
        )

    return asked


def demand_by_month(study: Study) -> Answer | None:
    """Energy that could be used in each month."""
    found = study.use
    if found is None or found.demand_kwh is None:
        return None
    return Answer(
        "demand.month",
        found.demand_kwh,
        "kWh",
        digits=3,
        evidence=Evidence.ASSUMED,
        source=_demand_source(study),
    )


def demand_annual(study: Study) -> Answer | None:
    """Energy that could be used in a year."""
    found = study.use
    if found is None or found.demand_kwh is None:
        return None
    return Answer(
        "demand.annual",
        float(np.sum(found.demand_kwh)),
        "kWh",
        digits=3,
        evidence=Evidence.ASSUMED,
        source=_demand_source(study),
    )


def demand_met(study: Study) -> Answer | None:
    """Energy of a mean year that meets the demand."""
    found = study.use
    if found is None or found.demand_kwh is None:
        return None
    return Answer(
        "demand.met",
        float(np.sum(found.met_kwh)),
        "kWh",
        digits=3,
        evidence=Evidence.CALCULATED,
        source="demand and power held against each other day by day",
    )


def heat_met(study: Study) -> Answer | None:
    """Heat of the rooms that the plant meets in a mean year, of what the loads served first leave."""
    heat = None if study.winter_outlook is None else study.winter_outlook.heat
    if heat is None:
        return None
    source = (
        "what the loads served first leave, and the cold, of the same days"
        if heat.joint
        else "what the loads served first leave in each month, and the cold of its days"
    )
    kwh = (
        float(np.nansum(heat.met_month_j)) / 3.6e6
        if study.use is None
        else float(np.sum(study.use.heat_kwh))
    )
    return Answer("heat.met", kwh, "kWh", digits=3, evidence=Evidence.CALCULATED, source=source)


def heat_needed(study: Study) -> Answer | None:
    """Heat the rooms lose in a mean year while they are kept as warm as wanted."""
    heat = None if study.winter_outlook is None else study.winter_outlook.heat
    return (
        None
        if heat is None
        else Answer(
            "heat.needed",
            float(np.nansum(heat.needed_month_j)) / 3.6e6,
            "kWh",
            digits=3,
            evidence=Evidence.CALCULATED,
            source="the heat loss of the rooms and the record of air temperature",
        )
    )


def heat_power(study: Study) -> Answer | None:
    """Power left for the heat of the rooms in each month."""
    found = study.warmth
    return (
        None
        if found is None
        else Answer(
            "heat.power",
            found.power_w,
            "power",
            digits=2,
            evidence=Evidence.CALCULATED,
            source=f"{found.power_from}, after the loads served first",
        )
    )


def _demand_source(study: Study) -> str:
    if study.site.loads.given("demand"):
        return "the demand under [loads]"
    return "the steady need and the heat of the rooms"


QUESTIONS: dict[str, Callable[[Study], Answer | None]] = {
    "power.terminals": _power("terminals", "generator terminals"),
    "power.sending": _power("sending", "sending end of the main cable"),
    "power.receiving": _power("receiving", "receiving end of the main cable"),
    "power.loads": _power("loads", "loads"),
    "cable.current": cable_current,
    "ballast.power": ballast_power,
    "phase.highest": _phase(
        "phase.highest",
        lambda found: float(np.max(found.all_on.current_a)),
        "current",
        3,
        "the circuits on each phase, all of them on",
    ),
    "phase.neutral": _phase(
        "phase.neutral",
        lambda found: max(found.all_on.neutral_a, found.worst.neutral_a),
        "current",
        3,
        "the circuits of the fullest phase alone, or all of them",
    ),
    "phase.rated": _phase(
        "phase.rated",
        lambda found: found.rated_a,
        "current",
        3,
        "the generator's rating, a third of it in each phase",
    ),
    "phase.unbalance": _phase(
        "phase.unbalance",
        lambda found: found.worst.negative_a / found.rated_a,
        "share",
        2,
        "negative-sequence current of the fullest phase alone, of the rated current",
    ),
    "demand.annual": demand_annual,
    "demand.met": demand_met,
    "demand.month": demand_by_month,
    "heat.met": heat_met,
    "heat.needed": heat_needed,
    "heat.power": heat_power,
}
