"""From a study to what protects its conductors: breakers against what the conductors bear, and
short circuits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...errors import Finding
from ...sentences import Amount, Sentence
from .phases import generator_va, on_grid, to_neutral
from .starts import impedances

if TYPE_CHECKING:
    from ...plant.conductor import Conductor
    from ...plant.electric import Circuit
    from ..study import Study
    from .circuits import CircuitOf
    from .wiring import Run

__all__ = ["Protection", "findings", "protection_of"]


@dataclass(frozen=True, eq=False)
class Protection:
    """A breaker and the conductor behind it.

    Parameters
    ----------
    breaker_a : float
        That carries the current and a quarter more.
    borne_a : float
        What the conductor bears; NaN where none is given, or no table has it.
    thinnest : plant.conductor.Conductor or None
        The thinnest standard conductor that bears the breaker.
    short_a : float
        Short circuit at the far end, first cycles, fed by the generator; NaN where something else feeds it.
    """

    breaker_a: float
    borne_a: float
    thinnest: Conductor | None
    _: KW_ONLY
    short_a: float

    @property
    def protected(self) -> bool | None:
        """Whether the breaker protects the conductor; None where that is not known."""
        return None if np.isnan(self.borne_a) else self.breaker_a <= self.borne_a * (1 + 1e-9)

    @property
    def trips(self) -> bool | None:
        """Whether a breaker of the B curve trips at once on a short circuit at the far end; None
        where that is not known."""
        from ...plant.short_circuit import MAGNETIC

        return None if np.isnan(self.short_a) else self.short_a >= MAGNETIC["B"] * self.breaker_a


def protection_of(study: Study, given: CircuitOf, asks: Circuit) -> Protection:
    """Breaker, conductor and short circuit of one circuit."""
    from ...plant.ampacity import ampacity, sections_that_bear

    there = given.conductor
    gauge = (
        study.site.site.display == "us" if there is None else there.name.endswith(("AWG", "kcmil"))
    )
    bearing = sections_that_bear(asks.breaker_a, given.material, "AWG" if gauge else "mm2")
    return Protection(
        asks.breaker_a,
        np.nan if there is None else ampacity(there),
        bearing[0] if bearing else None,
        short_a=_short_a(study, given),
    )


def _short_a(study: Study, given: CircuitOf) -> float:
    """Short circuit at the far end of a circuit, where a generator alone feeds it."""
    from ...plant.short_circuit import short_circuit_current

    site = study.site
    rating = generator_va(study)
    if given.system == "dc" or site.inverter or on_grid(study) or not rating > 0:
        return np.nan
    if site.generator.kind == "induction":  # it loses its voltage instead
        return np.nan
    if site.cable.phases == "three" and given.system == "one-phase":
        rating *= 1 / 3 if to_neutral(study, given) else 1 / 2
    shared, own = impedances(study, given)
    return float(
        short_circuit_current.si(
            rating,
            given.voltage_v,
            site.generator.reactance,
            given.system,
            shared[0] + own[0],
            shared[1] + own[1],
        )
    )


def findings(runs: Sequence[Run]) -> Iterator[Finding]:
    """Conductors that their breaker does not protect, and short circuits on which no breaker trips
    at once."""
    slow: list[tuple[str, Protection]] = []
    for each in runs:
        found = each.protection
        if found is None:
            continue
        if found.protected is False and each.run is not None:
            yield Finding(
                "problem",
                each.name,
                Sentence(
                    "its breaker of {breaker} is above the {borne} that {size} bears by the "
                    "cautious table: take {better}",
                    breaker=Amount(found.breaker_a, "current"),
                    borne=Amount(found.borne_a, "current"),
                    size=each.run.conductor.name,
                    better="several cables side by side"
                    if found.thinnest is None
                    else found.thinnest.name,
                ),
            )
        if found.trips is False:
            slow.append((each.name, found))
    if slow:
        name, least = min(slow, key=lambda each: each[1].short_a / each[1].breaker_a)
        yield Finding(
            "caution",
            "short circuit",
            Sentence(
                "the generator feeds {short} into a short circuit at the end of {name}, less "
                "than five times its breaker of {breaker}: a breaker may not trip at once, so "
                "the electrician must choose what does (residual-current device, undervoltage "
                "or voltage-restrained release)",
                short=Amount(least.short_a, "current", 2),
                name=name,
                breaker=Amount(least.breaker_a, "current"),
            ),
        )
