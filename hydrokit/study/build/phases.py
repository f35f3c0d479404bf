"""From a study to its three phases: what each carries, and the neutral."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...result import Result
from ...sentences import Amount, Sentence

if TYPE_CHECKING:
    from ...plant.phases import PhaseCurrents
    from ..study import Study
    from .circuits import CircuitOf

__all__ = ["Phases", "WithBallast", "findings", "generator_va", "on_grid", "phases", "to_neutral"]

_NEUTRAL = 0.8  # a circuit of one phase below this share of the line voltage hangs between a phase and the neutral


@dataclass(frozen=True, eq=False)
class WithBallast:
    """What the ballast takes of a phase, and what the set carries then.

    Parameters
    ----------
    loads : str
        Which are on.
    each_phase : bool
        Whether each phase takes what its own loads leave; else the three resistors are switched alike.
    ballast_a : ndarray of 3
    total : plant.phases.PhaseCurrents
    """

    loads: str
    each_phase: bool
    ballast_a: np.ndarray
    _: KW_ONLY
    total: PhaseCurrents


@dataclass(frozen=True, eq=False)
class Phases(Result):
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
    with_ballast : tuple of WithBallast
        Where the plant stands alone: each case with its ballast, both ways of switching it.
    """

    places: tuple[tuple[str, str], ...]
    given: bool
    all_on: PhaseCurrents
    _: KW_ONLY
    worst: PhaseCurrents
    rated_a: float
    with_ballast: tuple[WithBallast, ...]

    def as_switched(self, study: Study) -> tuple[WithBallast, ...]:
        """The cases with ballast as it is switched; alike, which is the harder one, where nothing says it."""
        each_phase = study.site.ballast.sharing == "each phase"
        return tuple(each for each in self.with_ballast if each.each_phase is each_phase)


def generator_va(study: Study) -> float:
    """Rated apparent power of the generator in VA: from its plate, else its rated watts, which is
    cautious; of one whose size is not told, that counted for it."""
    section = study.site.generator
    if section.apparent_rating is not None:
        return section.apparent_rating
    if section.rating is not None:
        return section.rating
    plant, known = study.plant, study.powers
    if plant is None or known is None:
        return np.nan
    first = plant.electric[0] if plant.electric else None
    return float(getattr(first, "size_w", 0.0)) or known.terminals_w


def to_neutral(study: Study, circuit: CircuitOf) -> bool:
    """Whether a circuit of one phase on a plant of three hangs between a phase and the neutral."""
    return circuit.voltage_v < _NEUTRAL * float(study.site.cable.voltage or np.nan)


def on_grid(study: Study) -> bool:
    """Whether the plant runs on a grid: as told, else where its power is sold."""
    told = study.site.electrical.supply
    return study.site.costs.export > 0 if told is None else told == "grid"


def phases(study: Study) -> Phases | None:
    """What each phase carries; None where the plant is not of three phases or nothing of one phase
    hangs on it."""
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
            single.append(
                (
                    number,
                    each.name,
                    amps,
                    each.power_factor,
                    to_neutral(study, each),
                    study.site.circuit[number].phase,
                )
            )
    if not single:
        return None
    carried = np.zeros(3)
    for _, name, amps, factor, neutral, told in sorted(
        single, key=lambda each: (each[5] is None, -each[2])
    ):
        least = int(np.argmin(carried)) if told is None else int(told) - 1
        where = str(least + 1) if neutral else ("1-2", "2-3", "3-1")[least]
        loads.append((name, (amps, factor, where)))
        carried[least] += amps
        if not neutral:
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
        worst=worst,
        rated_a=generator_va(study) / (np.sqrt(3) * cable.voltage),
        with_ballast=_with_ballast(study, cable.voltage, all_on, worst),
    )


def _with_ballast(
    study: Study, voltage_v: float, all_on: PhaseCurrents, worst: PhaseCurrents
) -> tuple[WithBallast, ...]:
    from ...plant.phases import phase_currents, with_ballast

    known = study.powers
    if known is None or on_grid(study) or study.site.battery or not known.sending_w > 0:
        return ()
    volts = voltage_v / np.sqrt(3)
    too_much = float(all_on.real_w(volts).sum()) > known.sending_w
    cases = (
        ("all, more than the plant gives" if too_much else "all", all_on),
        ("those of the fullest phase alone", worst),
        ("none", phase_currents([])),
    )
    return tuple(
        WithBallast(name, each_phase, ballast_a, total=total)
        for each_phase in (False, True)
        for name, loads in cases
        for ballast_a, total in [with_ballast(loads, known.sending_w, volts, each_phase)]
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
                    "phase of the circuit {name} has no effect: it is for circuits of one "
                    "phase on a plant of three",
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
                    "L{phase} carries {most} {told}, but the generator is rated for {rated} a "
                    "phase (a third of its rating): its protection trips, or its winding "
                    "burns; spread the loads, or take fewer at a time",
                    phase=place + 1,
                    most=Amount(most, "current"),
                    told=told,
                    rated=Amount(found.rated_a, "current"),
                ),
            )
            break
    yield from _ballast_findings(study, found)
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
                "with only the loads of its fullest phase on, the set is out of balance by "
                "{share} of its rated current, {bears}: spread the loads of one phase, or ask "
                "its manufacturer",
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
                "the neutral carries up to {neutral}, more than the {rated} of a phase: it "
                "must not be thinner than the phases, and is never fused or switched alone",
                neutral=Amount(neutral, "current"),
                rated=Amount(found.rated_a, "current"),
            ),
        )


def _ballast_findings(study: Study, found: Phases) -> Iterator[Finding]:
    """A ballast switched alike on all phases, which fills the phase that is loaded already."""
    told = study.site.ballast.sharing
    alike = [each for each in found.as_switched(study) if np.max(each.ballast_a) > 0]
    if told == "each phase" or not alike:
        return
    worst = max(alike, key=lambda each: float(np.max(each.total.current_a)))
    most = float(np.max(worst.total.current_a))
    if most > found.rated_a * (1 + 1e-9):
        yield Finding(
            "caution" if told is None else "problem",
            "ballast",
            Sentence(
                "with its three resistors switched alike, L{phase} of the set carries {most} "
                "at full power, above its rated {rated}: let the regulator fill each phase by "
                "itself, or spread the loads",
                phase=int(np.argmax(worst.total.current_a)) + 1,
                most=Amount(most, "current"),
                rated=Amount(found.rated_a, "current"),
            ),
        )
