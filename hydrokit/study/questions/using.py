"""Questions on what the power does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..answer import Answer, Evidence


def _evidence(study: Any) -> Evidence:
    """Of a power along the wire: read on the plant, or calculated from its parts."""
    read = study.baseline is not None and study.powers.metered_at
    return Evidence.MEASURED_ON_THE_PLANT if read else Evidence.CALCULATED


def _power(place: str, name: str) -> Callable[[Any], Answer | None]:
    def asked(study: Any) -> Answer | None:
        found = study.powers
        if found is None:
            return None
        known = f"the watts metered at the {found.metered_at}" if found.metered_at else "the parts of the plant"
        return Answer(f"power.{place}", getattr(found, f"{place}_w"), "power", 3, evidence=_evidence(study), source=f"{known}, with all the water it can take, at the {name}")

    return asked


def cable_current(study: Any) -> Answer | None:
    """Current in the main cable with all the water the plant can take."""
    found = study.wires
    if found is None or found.main.asks is None:
        return None
    return Answer("cable.current", found.main.asks.current_a, "current", 3, evidence=_evidence(study), source="the power at the sending end and the voltage there")


def ballast_power(study: Any) -> Answer | None:
    """What the ballast must take."""
    found = study.wires
    if found is None:
        return None
    return Answer("ballast.power", found.ballast.asked.total_w, "power", 3, evidence=Evidence.COMMON_PRACTICE, source=f"the power at the sending end and its margin: {found.ballast.asked.source}")


QUESTIONS: dict[str, Callable[[Any], Answer | None]] = {
    "power.terminals": _power("terminals", "generator terminals"),
    "power.sending": _power("sending", "sending end of the main cable"),
    "power.receiving": _power("receiving", "receiving end of the main cable"),
    "power.loads": _power("loads", "loads"),
    "cable.current": cable_current,
    "ballast.power": ballast_power,
}
