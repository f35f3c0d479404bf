"""Values of a site file that may be, but hardly are: each is told, none is refused.

One table, and the few checks that need two values. What physics forbids is refused where the
value is read (``within`` in the schema); all else here is a slip of a unit or a digit more often
than it is true. The bounds are common practice. Values of wires, rooms and money stand beside it
in :mod:`without_effect`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..errors import Finding
from ..water import GRAVITY
from .schema import LISTS
from .values import Measured

__all__ = ["USUAL", "Usual", "findings"]


@dataclass(frozen=True)
class Usual:
    """Between which values a key usually lies, in SI.

    Parameters
    ----------
    section, key : str
    low, high : float
    words : str
        What is found there, as the second half of a sentence.
    """

    section: str
    key: str
    low: float
    high: float
    words: str


_INF = np.inf
USUAL = (
    Usual(
        "site",
        "catchment",
        1e4,
        5e9,
        "a creek for a small plant drains from a hectare to a few thousand km²",
    ),
    Usual("stream", "record_uncertainty", 0.0, 0.4, "a record gauged at all is known better"),
    Usual(
        "rights",
        "licence",
        1e-5,
        50.0,
        "a licence of nothing lets nothing be taken, and no creek here has more than some tens of m³/s",
    ),
    Usual(
        "intake",
        "capacity",
        1e-4,
        50.0,
        "the intakes of small plants pass from a cupful to some tens of m³/s",
    ),
    Usual("intake", "banks", 0.0, 15.0, "banks of a creek are a few metres high"),
    Usual("intake", "weir_length", 0.0, 100.0, "a weir across a creek is some metres long"),
    Usual(
        "penstock",
        "head",
        1.0,
        1200.0,
        "few plants have more than 1,000 m of head, and below a metre none of these machines runs",
    ),
    Usual("penstock", "static_pressure", 1e4, 1.2e7, "few plants have more than 1,000 m of head"),
    Usual(
        "penstock",
        "entry",
        0.0,
        50.0,
        "pipe inlet, bends and valves together seldom pass ten velocity heads",
    ),
    Usual("diversion", "entry", 0.0, 20.0, "a pipe inlet takes about one velocity head"),
    Usual("turbine", "jet_coefficient", 0.5, 0.99, "polished nozzles reach 0.98"),
    Usual(
        "turbine",
        "efficiency",
        0.2,
        0.95,
        "the best large machines reach 95 %, small ones 60 to 85 %",
    ),
    Usual(
        "turbine",
        "design_flow",
        1e-4,
        50.0,
        "machines of small plants take up to some tens of m³/s",
    ),
    Usual(
        "turbine",
        "runner_diameter",
        0.03,
        4.0,
        "runners of small plants are a hand to a few metres wide",
    ),
    Usual("turbine", "speed", 0.3, 100.0, "machines turn at 50 to 3,600 rpm, seldom at 6,000"),
    Usual(
        "machine",
        "efficiency",
        0.2,
        0.95,
        "the best large machines reach 95 %, small ones 60 to 85 %",
    ),
    Usual(
        "generator",
        "efficiency",
        0.3,
        0.98,
        "the best large generators reach 98 %, small ones 70 to 92 %",
    ),
    Usual(
        "generator",
        "water_to_wire",
        0.1,
        0.9,
        "the best large plants reach 90 %, small ones 35 to 65 %",
    ),
    Usual("inverter", "efficiency", 0.5, 0.985, "the best reach 98 %"),
    Usual("uncertainty", "head", 0.0, 0.2, "so uncertain a head is better levelled"),
    Usual("uncertainty", "efficiency", 0.0, 0.3, "so uncertain an efficiency says nothing"),
    Usual("uncertainty", "jet_area", 0.0, 0.2, "a drill tells the bore better"),
    Usual("uncertainty", "loss", 0.0, 0.7, "a pipe of known bore is known better"),
    Usual("costs", "uncertainty", 0.0, 0.6, "so uncertain an estimate is none"),
    Usual("operation", "freezes_below", 200.0, 273.15, "still water does not freeze above 0 °C"),
    Usual(
        "operation",
        "stops_per_winter",
        0.0,
        30.0,
        "a plant that stops every other frosty day is repaired first",
    ),
    Usual(
        "operation",
        "jet_dead_band",
        0.0,
        0.5,
        "whoever waits for half as much power again changes nothing",
    ),
    Usual(
        "outage",
        "unplanned",
        0.0,
        0.5,
        "a plant that is stopped half of the time is repaired first",
    ),
    Usual("outage", "planned_days", 0.0, 120.0, "maintenance takes days, not months"),
)
_LIKELY_TIPS = (0.2, 0.8)  # runner's speed at the jets over the jet's; 0.43 to 0.48 is best


def findings(study: Any) -> tuple[Finding, ...]:
    """A caution for each value of the site file outside what is usual."""
    found = []
    for usual in USUAL:
        listed = usual.section in LISTS
        held = study.site[usual.section]
        for number, entry in enumerate(held if listed else [held], 1):
            value = entry.get(usual.key)
            if value is None:
                continue
            each = np.atleast_1d(
                np.asarray(value.value if isinstance(value, Measured) else value, dtype=float)
            )
            if np.any((each < usual.low) | (each > usual.high)):
                where = f"[[{usual.section}]] {number}" if listed else f"[{usual.section}]"
                found.append(
                    Finding(
                        "caution",
                        f"{where} {usual.key}",
                        f"it is far from usual: {usual.words}; look at the number and its unit again",
                    )
                )
    return (*found, *_uncertain(study), *_speed(study))


_VAGUE = 0.5  # standard deviation of a measurement, as a share of it, that says next to nothing


def _uncertain(study: Any) -> list[Finding]:
    """Measurements stated with so wide an uncertainty that they say next to nothing."""
    found = []
    for section in ("intake", "penstock", "turbine", "generator"):
        for key, value in study.site[section].items():
            if (
                isinstance(value, Measured)
                and value.relative is not None
                and value.relative >= _VAGUE
            ):
                found.append(
                    Finding(
                        "caution",
                        f"[{section}] {key}",
                        f"± {100 * value.relative:.0f} % (one standard deviation) says next to nothing; look at the number after ± again, or measure it",
                    )
                )
    return found


def _speed(study: Any) -> list[Finding]:
    """A runner whose buckets cannot move at a share of the jet's speed that any such machine runs at."""
    turbine = study.site.turbine
    if (
        turbine.speed is None
        or turbine.runner_diameter is None
        or turbine.kind not in ("pelton", "turgo")
        or study.head is None
    ):
        return []
    jet_ms = np.sqrt(2 * GRAVITY * study.head.value)
    share = np.pi * turbine.runner_diameter * turbine.speed / jet_ms
    if _LIKELY_TIPS[0] <= share <= _LIKELY_TIPS[1]:
        return []
    return [
        Finding(
            "caution",
            "[turbine] speed",
            f"its runner moves at {share:.2g} times the speed of the jet; such machines run at 0.43 to 0.48: look at speed, runner_diameter and head again",
        )
    ]
