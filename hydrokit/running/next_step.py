"""The one thing to do next: which further look would part two states of the plant."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Sequence

import numpy as np

from .healthy_plant import HealthyPlant
from .observation import Observation
from .weighing import TOLD_APART, Weighed

__all__ = ["WORTH_DOING", "Action", "Expected", "best_action"]

WORTH_DOING = 1.5


@dataclass(frozen=True, eq=False)
class Action:
    """Something to do that would part two states.

    Parameters
    ----------
    key, what : str
    parts : str
        Key of the state it parts this one from.
    odds : float
        To one, with which it would part them, as far as can be foreseen.
    expect : tuple of Expected
        What it would show in either.
    """

    key: str
    what: str
    parts: str
    _: KW_ONLY
    odds: float
    expect: tuple[Expected, ...] = ()


@dataclass(frozen=True)
class Expected:
    """What a look is expected to show in the state it is to tell, and in the other.

    Parameters
    ----------
    what : str
        ``"pressure_pa"``, ``"true_pa"``, ``"power_w"``, ``"flow_m3s"``; or ``"fluctuates"``,
        ``"spilling"``, ``"falls"``: then the chance of it.
    jets : int
    mine, other : float
        SI.
    """

    what: str
    jets: int
    mine: float
    _: KW_ONLY
    other: float


@dataclass(frozen=True)
class _Step:
    key: str
    what: str
    readings: tuple[tuple[str, int], ...] = ()
    _: KW_ONLY
    seen: tuple[tuple[str, int], ...] = ()


def _steps(looks: Sequence[Observation], plant: HealthyPlant) -> list[_Step]:
    """What can be done next, the least trouble first."""
    jets, has_watts = plant.jets, bool(np.isfinite(plant.baseline.efficiency))
    now = max((each.jets for each in looks), default=0) or jets
    tried = {
        each.jets for each in looks if np.isfinite(each.pressure_pa) or np.isfinite(each.power_w)
    }
    here = [each for each in looks if each.jets == now]
    watts = [("power_w", now)] if has_watts else []
    steps = []
    if not any(each.fluctuates is not None for each in here):
        steps.append(
            _Step(
                "needle",
                "watch the needle for a minute: does it fluctuate?",
                seen=(("fluctuates", now),),
            )
        )
    if watts and not any(np.isfinite(each.power_w) for each in here):
        steps.append(_Step("watts", "read volts and amps", (("power_w", now),)))
    if not any(np.isfinite(each.pressure_pa) for each in here):
        steps.append(_Step("pressure", "read the gauge", (("pressure_pa", now),)))
    fewer, more = (
        next((count for count in range(now - 1, 0, -1) if count not in tried), None),
        now + 1,
    )
    for count, verb in (
        (fewer, "close"),
        (more if more <= jets and more not in tried else None, "open"),
    ):
        if count and plant.valves:
            many = abs(count - now)
            text = (
                f"{verb} {'one jet' if many == 1 else f'{many} jets'}, wait until the needle "
                "stands, read gauge and watts"
            )
            steps.append(
                _Step(
                    f"{verb} a jet",
                    text,
                    (("pressure_pa", count), *((("power_w", count),) if has_watts else ())),
                    seen=(("fluctuates", count),),
                )
            )
    if 0 not in tried:
        steps.append(
            _Step(
                "shut off",
                "close all jets, slowly, and read the gauge when it stands",
                (("pressure_pa", 0),),
            )
        )
    if not any(each.falls is not None for each in looks):
        steps.append(
            _Step(
                "upper valve",
                (
                    "shut all jets, then the valve at the top of the pipe where there is one, "
                    "slowly, and watch the needle for five minutes"
                ),
                seen=(("falls", 0),),
            )
        )
    if not any(each.spilling is not None for each in here):
        steps.append(
            _Step(
                "spillway",
                "walk up and look at the spillway: does it run?",
                seen=(("spilling", now),),
            )
        )
    if not any(np.isfinite(each.true_pa) for each in here):
        steps.append(
            _Step(
                "other gauge",
                "hold another gauge, one that is known to be right, against this one",
                (("true_pa", now),),
            )
        )
    if not any(np.isfinite(each.flow_m3s) for each in here):
        steps.append(_Step("flow", "measure the flow into the pipe", (("flow_m3s", now),)))
    return steps


def best_action(
    weighed: Weighed, looks: Sequence[Observation], fault: int, other: int
) -> Action | None:
    """The least trouble that would tell two states apart; where nothing would, what comes nearest.

    What each action would show is foretold in both states; the mean of the two expected
    logarithms of the odds says how well it parts them.
    """
    found = None
    for step in _steps(looks, weighed.tables.plant):
        gain = _separation(weighed, step, fault, other)
        action = Action(
            step.key,
            step.what,
            weighed.tables.faults[other].key,
            odds=float(np.exp(min(gain, 20.0))),
            expect=_expected(weighed, step, fault, other),
        )
        if gain >= np.log(TOLD_APART):
            return action
        if found is None or action.odds > found.odds:
            found = action
    return found if found is not None and found.odds > WORTH_DOING else None


def _expected(weighed: Weighed, step: _Step, one: int, other: int) -> tuple[Expected, ...]:
    """What a step would show in either of two states."""
    told = []
    if step.readings:
        mine, others = (weighed.foretold(fault, step.readings)[0] for fault in (one, other))
        for (what, jets), a, b in zip(step.readings, mine, others):
            if what in ("power_w", "flow_m3s"):  # held as logarithms
                a, b = np.exp(a), np.exp(b)
            told.append(Expected(what, jets, float(a), other=float(b)))
    for what, jets in step.seen:
        chance, without = (weighed.chance(each, what, jets) for each in (one, other))
        told.append(Expected(what, jets, chance, other=without))
    return tuple(told)


def _separation(weighed: Weighed, step: _Step, one: int, other: int) -> float:
    """Mean of the two expected logarithms of the odds, with what is foretold taken as normal."""
    gain = 0.0
    if step.readings:
        (mean_a, cov_a), (mean_b, cov_b) = (
            weighed.foretold(fault, step.readings) for fault in (one, other)
        )
        inverse_a, inverse_b = np.linalg.inv(cov_a), np.linalg.inv(cov_b)
        apart = mean_a - mean_b
        gain += 0.25 * float(
            np.trace(inverse_a @ cov_b + inverse_b @ cov_a)
            - 2 * len(apart)
            + apart @ (inverse_a + inverse_b) @ apart
        )
    for what, jets in step.seen:
        p, q = (weighed.chance(fault, what, jets) for fault in (one, other))
        gain += 0.5 * float((p - q) * (np.log(p / q) - np.log((1 - p) / (1 - q))))
    return gain
