"""Values of a site file that may be, but hardly are: each is told, none is refused.

What is usual stands with the key in the schema; here it is looked at, with the few checks that
need two values. What physics forbids is refused where the value is read (``within`` in the
schema); all else here is a slip of a unit or a digit more often than it is true.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ..errors import Finding
from ..sentences import Sentence
from ..water import GRAVITY
from .example_units import bounds_in_both, in_both
from .keys import Key
from .schema import LISTS, TYPES
from .values import Measured, amount_of, bounds_of

if TYPE_CHECKING:
    from .opened import Opened

__all__ = ["findings"]

_LIKELY_TIPS = (0.2, 0.8)  # runner's speed at the jets over the jet's; 0.43 to 0.48 is best


def findings(study: Opened) -> tuple[Finding, ...]:
    """A caution for each value of the site file outside what is usual."""
    found = []
    for section in TYPES:
        listed, held = section in LISTS, study.site[section]
        for number, entry in enumerate(held if listed else [held], 1):
            where = f"[[{section}]] {number}" if listed else f"[{section}]"
            found += [
                _caution(f"{where} {name}", entry.schema[name], odd)
                for name, value in entry.items()
                for odd in _unusual(entry.schema[name], value)[:1]
            ]
    return (*found, *_uncertain(study), *_speed(study))


def _caution(where: str, key: Key, value: float) -> Finding:
    assert key.usual is not None
    bounds, reason = key.usual
    return Finding(
        "caution",
        where,
        Sentence(
            "it is {value}; {bounds} is usual (common practice: {reason}): check the number and its unit",
            value=amount_of(key, value, bounds),
            bounds=bounds_in_both(bounds),
            reason=in_both(reason),
        ),
    )


def _unusual(key: Key, value: Any) -> list[float]:
    """Those of its numbers that lie outside what is usual."""
    if key.usual is None:
        return []
    low, high = bounds_of(key, key.usual[0])
    each = np.atleast_1d(
        np.asarray(value.value if isinstance(value, Measured) else value, dtype=float)
    )
    return [float(one) for one in each[(each < low) | (each > high)]]


_VAGUE = 0.5  # standard deviation of a measurement, as a share of it, that says next to nothing


def _uncertain(study: Opened) -> list[Finding]:
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
                        (
                            f"± {100 * value.relative:.0f} % (one standard deviation) says next "
                            "to nothing; check the number after ±, or measure the value again"
                        ),
                    )
                )
    return found


def _speed(study: Opened) -> list[Finding]:
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
            (
                f"its runner moves at {share:.2g} times the speed of the jet; such machines run "
                "at 0.43 to 0.48: check speed, runner_diameter and head"
            ),
        )
    ]
