"""A falling leg behind a high point, open to air at its end: what it carries unprimed, and primed."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass

from ..errors import Finding
from ..sentences import Amount, Sentence
from .air import high_points, over_high_point
from .clearing import froude
from .falling import FallingLine
from .venting import clearing_flows, siphon_flow

__all__ = ["Priming", "priming"]


@dataclass(frozen=True, eq=False)
class Priming:
    """The two flows of a line with a falling leg behind a high point that ends in open air.

    Parameters
    ----------
    high_point_m : float
        The high point, as distance along the slope.
    unprimed_m3s : float
        The leg full of air: the high point is a weir open to air, and the limb above it governs.
    primed_m3s : float
        The whole bore full of water, as far as its column bears the suction.
    low_m3s, high_m3s : float
        Band of the published laws between which a flow begins to carry the leg's air away.
    froude : float
        V/√(gD) of the unprimed flow at the high point.
    """

    high_point_m: float
    unprimed_m3s: float
    primed_m3s: float
    _: KW_ONLY
    low_m3s: float
    high_m3s: float
    froude: float

    @property
    def primes_itself(self) -> bool:
        """Whether every published law says that the unprimed flow carries the air away."""
        return self.unprimed_m3s > self.high_m3s

    @property
    def findings(self) -> tuple[Finding, ...]:
        """That the line carries less than its bore until it is primed."""
        if self.primes_itself:
            return ()
        text = Sentence(
            "filled from the top, the high point at {place} is a weir open to air: {unprimed} "
            "pass over it; primed, the whole bore draws {primed}. The air behind it goes by "
            "itself only from {band}: fill the line behind a shut gate at its end, its vents open",
            place=Amount(self.high_point_m, "length"),
            unprimed=Amount(self.unprimed_m3s, "flow"),
            primed=Amount(self.primed_m3s, "flow"),
            band=Amount((self.low_m3s, self.high_m3s), "flow"),
        )
        return (Finding("caution", "air", text),)


_AS_MUCH = 0.99  # of the primed flow: nothing to prime


def priming(line: FallingLine) -> tuple[Priming, ...]:
    """Every high point whose leg falls to an open end and which lets less pass unprimed than primed."""
    cut, last, made = line.reaches, line.reaches.length_m.size, []
    primed = siphon_flow(line)
    for top, dip in high_points(line):
        ends_open = dip is None and not line.upturned
        unprimed = over_high_point(line, top, last) if ends_open else math.inf
        # No flow at all is told as a line that stalls.
        if not 0 < unprimed < _AS_MUCH * primed:
            continue
        low, high = clearing_flows(line, top, last)
        made.append(
            Priming(
                float(cut.distance_m[top]),
                unprimed,
                primed,
                low_m3s=low,
                high_m3s=high,
                froude=float(froude.si(unprimed, cut.diameter_m[top])),
            )
        )
    return tuple(made)
