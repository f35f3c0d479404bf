"""From a study to its three phases: what each carries, the neutral, and what a motor's start does to the voltage."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...sentences import Amount, Sentence

if TYPE_CHECKING:
    from ...plant.phases import PhaseCurrents
    from ..study import Study

__all__ = ["Phases", "dip", "findings", "generator_va", "phases"]

_NEUTRAL = 0.8  # a circuit of one phase below this share of the line voltage hangs between a phase and the neutral


@dataclass(frozen=True, eq=False)
class Phases:
    """Three phases with loads of one phase on them.

    Parameters
    ----------
    places : tuple of (str, str)
        Circuit, and where it hangs.
    given : bool
        Whether the site file says where; else they are spread as evenly as can be.
    all_on, worst : plant.phases.PhaseCurrents
        With every circuit on, and with only those of the fullest phase.
    rated_a : float
        Rated current of a phase of the generator.
    """

    places: tuple[tuple[str, str], ...]
    given: bool
    all_on: PhaseCurrents
    worst: PhaseCurrents
    rated_a: float


def generator_va(study: Study) -> float:
    """Rated apparent power of the generator in VA, taken as its rated watts, which is cautious; of one whose size is not told, that counted for it."""
    if study.site.generator.rating is not None:
        return study.site.generator.rating
    plant, known = study.plant, study.powers
    if plant is None or known is None:
        return np.nan
    first = plant.electric[0] if plant.electric else None
    return float(getattr(first, "size_w", 0.0)) or known.terminals_w


def dip(study: Study, power_w: float, power_factor: float, times: float) -> float:
    """Share of the voltage the generator loses while a motor starts; none where an inverter holds it."""
    from ...plant.phases import starting_dip

    if study.site.inverter or study.site.battery:
        return 0.0
    return float(
        starting_dip.si(
            times * power_w / power_factor,
            generator_va(study),
            study.site.generator.reactance,
        )
    )


def phases(study: Study) -> Phases | None:
    """What each phase carries; None where the plant is not of three phases or nothing of one phase hangs on it."""
    from ...plant.cable import line_current
    from ...plant.phases import phase_currents

    cable = study.site.cable
    if cable.phases != "three" or cable.voltage is None or study.site.inverter:
        return None
    loads, single = [], []
    for number, each in enumerate(study.circuits):
        amps = float(line_current(each.power_w, each.voltage_v, each.system, each.power_factor))
        if each.system == "three-phase":
            loads.append((each.name, (amps, each.power_factor, "123")))
        elif each.system == "one-phase":
            to_neutral = each.voltage_v < _NEUTRAL * cable.voltage
            single.append(
                (
                    number,
                    each.name,
                    amps,
                    each.power_factor,
                    to_neutral,
                    study.site.circuit[number].phase,
                )
            )
    if not single:
        return None
    carried = np.zeros(3)
    for _, name, amps, factor, to_neutral, told in sorted(
        single, key=lambda each: (each[5] is None, -each[2])
    ):
        least = int(np.argmin(carried)) if told is None else int(told) - 1
        where = str(least + 1) if to_neutral else ("1-2", "2-3", "3-1")[least]
        loads.append((name, (amps, factor, where)))
        carried[least] += amps
        if not to_neutral:
            carried[(least + 1) % 3] += amps
    all_on = phase_currents([load for _, load in loads])
    fullest = str(int(np.argmax(carried)) + 1)
    worst = phase_currents([load for _, load in loads if load[2] != "123" and fullest in load[2]])
    order = {each.name: place for place, each in enumerate(study.circuits)}
    places = tuple(
        sorted(
            ((name, load[2]) for name, load in loads if load[2] != "123"),
            key=lambda each: order[each[0]],
        )
    )
    return Phases(
        places,
        any(each[5] is not None for each in single),
        all_on,
        worst,
        generator_va(study) / (np.sqrt(3) * cable.voltage),
    )


def findings(study: Study) -> Iterator[Finding]:
    """A phase beyond its share of the generator, a set out of balance, a neutral that is full."""
    from ...plant.phases import UNBALANCE_LIMITS

    found = study.phases
    for each in study.site.circuit:
        if each.phase is not None and (
            found is None or (each.phases or study.site.cable.phases) != "one"
        ):
            yield Finding(
                "note",
                "phases",
                Sentence(
                    "phase of the circuit {name} has no effect: it is for circuits of one phase on a plant of three",
                    name=each.name,
                ),
            )
    if found is None:
        return
    for carried, told in (
        (found.worst, "with only its own loads on"),
        (found.all_on, "with everything on"),
    ):
        place = int(np.argmax(carried.current_a))
        most = float(carried.current_a[place])
        if most > found.rated_a * (1 + 1e-9):
            yield Finding(
                "problem",
                "phases",
                Sentence(
                    "L{phase} carries {most} {told}, but the generator is rated for {rated} a phase (a third of its rating): its protection trips, or its winding burns; spread the loads, or take fewer at a time",
                    phase=place + 1,
                    most=Amount(most, "current"),
                    told=told,
                    rated=Amount(found.rated_a, "current"),
                ),
            )
            break
    share = found.worst.negative_a / found.rated_a
    if share > UNBALANCE_LIMITS[0]:
        bears = (
            "more than any set bears for long (10 % with a damper winding, 5 % without)"
            if share > UNBALANCE_LIMITS[1]
            else "more than a set without a damper winding bears for long (5 %)"
        )
        yield Finding(
            "caution",
            "phases",
            Sentence(
                "with only the loads of its fullest phase on, the set is out of balance by {share} of its rated current, {bears}: spread the loads of one phase, or ask its manufacturer",
                share=Amount(share, "share", 2),
                bears=bears,
            ),
        )
    neutral = max(found.all_on.neutral_a, found.worst.neutral_a)
    if neutral > found.rated_a * (1 + 1e-9):
        yield Finding(
            "caution",
            "phases",
            Sentence(
                "the neutral carries up to {neutral}, more than the {rated} of a phase: it must not be thinner than the phases, and is never fused or switched alone",
                neutral=Amount(neutral, "current"),
                rated=Amount(found.rated_a, "current"),
            ),
        )
