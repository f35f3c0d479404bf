"""Questions an electrician asks of the plant."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from ..answer import Answer, Evidence

if TYPE_CHECKING:
    from ..study import Study


def _asked(
    key: str,
    told: Callable[[Any], float],
    kind: str,
    digits: int,
    source: str,
    evidence: Evidence = Evidence.CALCULATED,
) -> tuple[str, Callable[[Study], Answer | None]]:
    def asked(study: Study) -> Answer | None:
        found = study.electrical
        return (
            None
            if found is None
            else Answer(key, told(found), kind, digits=digits, evidence=evidence, source=source)
        )

    return key, asked


def _main(
    key: str, told: Callable[[Any], float], kind: str, source: str, evidence: Evidence
) -> tuple[str, Callable[[Study], Answer | None]]:
    def asked(study: Study) -> Answer | None:
        found = None if study.wires is None else study.wires.main.protection
        return (
            None
            if found is None
            else Answer(key, told(found), kind, digits=3, evidence=evidence, source=source)
        )

    return key, asked


def _dip(found: Any) -> float:
    start = found.weakest
    return np.nan if start is None or start.found is None else float(start.found.dip)


def _with_ballast(
    key: str, told: Callable[[Any], float], source: str
) -> tuple[str, Callable[[Study], Answer | None]]:
    def asked(study: Study) -> Answer | None:
        found = study.phases
        cases = () if found is None else found.as_switched(study)
        if not cases:
            return None
        return Answer(
            key,
            max(told(each) for each in cases),
            "current",
            digits=3,
            evidence=Evidence.CALCULATED,
            source=source,
        )

    return key, asked


QUESTIONS: dict[str, Callable[[Any], Answer | None]] = dict(
    (
        _main(
            "breaker.main",
            lambda found: found.breaker_a,
            "current",
            "the current of the main cable and a quarter more, the next usual size",
            Evidence.COMMON_PRACTICE,
        ),
        _main(
            "cable.ampacity",
            lambda found: found.borne_a,
            "current",
            "the most cautious usual column of a code's table, from memory",
            Evidence.COMMON_PRACTICE,
        ),
        _asked(
            "generator.apparent",
            lambda found: found.apparent_w,
            "apparent power",
            3,
            "the generator's plate, else its rated output",
        ),
        _asked(
            "voltage.runaway",
            lambda found: found.highest_v,
            "voltage",
            2,
            "the voltage of the main cable and the kind of generator",
            Evidence.COMMON_PRACTICE,
        ),
        _asked(
            "short_circuit.terminals",
            lambda found: found.short_a,
            "current",
            2,
            "the generator's transient reactance, first cycles",
        ),
        _asked(
            "motor.dip",
            _dip,
            "share",
            2,
            "the circuit of generator, cables, loads and locked rotor, the worst motor",
        ),
        _asked(
            "motor.largest",
            lambda found: found.largest_va,
            "apparent power",
            2,
            "the generator's transient reactance and a dip of 15 %",
        ),
        _asked(
            "earth.electrode",
            lambda found: found.electrode_ohm,
            "resistance",
            3,
            "50 V and the rated residual current",
        ),
        _asked(
            "earth.touch",
            lambda found: found.touch_v,
            "voltage",
            2,
            "the measured electrode and the rated residual current",
        ),
        _asked(
            "ballast.tank",
            lambda found: found.tank_s,
            "hours",
            2,
            (
                "the tank heated from the cold of the mains to its store temperature with the "
                "whole output, without losses"
            ),
        ),
        _asked(
            "grid.rise",
            lambda found: found.rise,
            "share",
            2,
            "the plant's output over the short-circuit power of the grid",
        ),
        _with_ballast(
            "ballast.phase",
            lambda each: float(np.max(each.ballast_a)),
            "the power at the sending end, less what is on, in the phase that takes most",
        ),
        _with_ballast(
            "ballast.highest",
            lambda each: float(np.max(each.total.current_a)),
            "loads and ballast together, in the phase that carries most",
        ),
        _with_ballast(
            "ballast.neutral",
            lambda each: each.total.neutral_a,
            "loads and ballast together, the sum of the three phasors",
        ),
    )
)
