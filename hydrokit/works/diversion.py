"""The line from creek to pond as a part of the water's way, and all that air asks of it at one flow."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..errors import Finding
from ..result import Result
from ..sentences import Amount, Sentence
from ..water import GRAVITY, head_to_pressure, viscosity
from .air import AT_HIGH_POINT_M, Regime, falling_legs, regime
from .falling import FallingLine
from .filling import Filling, Running, filling, flow_with_pockets
from .filling_steps import Step, filling_steps
from .fittings import derating
from .priming import Priming, priming
from .state import CLEAN, State
from .venting import (
    Clearing,
    InletAir,
    Outlet,
    Siphon,
    clearing,
    inlet_air,
    outlet,
    siphon,
    siphon_flow,
)

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["Carried", "DiversionLine", "LineAir", "Venting", "carried"]


@dataclass(frozen=True, eq=False)
class Carried:
    """What a line carries as it is filled and run today.

    Parameters
    ----------
    flow_m3s : float
        Zero where air stops it.
    how : {"full bore", "unprimed", "with pockets", "siphon", "stalls"}
    full_bore_m3s : float
        What the same line would carry full and free of air.
    """

    flow_m3s: float
    how: str
    full_bore_m3s: float


def carried(line: FallingLine, inlet_m3s: float | None = None, primed: bool = False) -> Carried:
    """Flow of a line with the air that its own filling leaves in it.

    Parameters
    ----------
    line : FallingLine
        Pockets at its vents are taken as let out.
    inlet_m3s : float, optional
        What its inlet passes with air behind it; None where that is not known.
    primed : bool
        Whether it is filled behind a shut gate, so that the whole bore draws.

    Returns
    -------
    Carried
        Nothing where it stalls; with its pockets where the flow does not clear all of them by every
        published law; no more than its column bears; where nothing primes it, no more than the
        inlet passes and than runs over each high point open to air behind which the air stays.
    """
    full, found = line.full_bore_m3s, flow_with_pockets(line)
    if found.flow_m3s <= 0:
        return Carried(0.0, "stalls", full)
    behind = {each.high_point_m for each in found.pockets}
    clears = all(
        each.verdict == "goes"
        for each in clearing(line, found.flow_m3s)
        if each.high_point_m in behind
    )
    flow, how = (full, "full bore") if clears else (found.flow_m3s, "with pockets")
    if siphon_flow(line) < flow:
        flow, how = siphon_flow(line), "siphon"
    if not primed:
        open_legs = [each.unprimed_m3s for each in priming(line) if not each.primes_itself]
        let_in = min([*open_legs, flow if inlet_m3s is None else inlet_m3s], default=flow)
        flow, how = (let_in, "unprimed") if let_in < flow else (flow, how)
    return Carried(flow, how, full)


@dataclass(frozen=True, eq=False)
class DiversionLine(Result):
    """A surveyed line from creek to pond.

    Parameters
    ----------
    line : FallingLine
    name : str
    carries_m3s : float
        Most it carries today, with the air in it: see :func:`carried`. Infinite: its full bore counts.
    """

    line: FallingLine
    name: str = "diversion line"
    carries_m3s: float = np.inf

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Most flow in m³/s with air and ice as they are; openings that clog it has none.

        Ice that closes a share s of the bore's area leaves (1 − s)^(5/4) of the flow: at one head
        and one friction factor the flow goes with the bore to the power 5/2.
        """
        if np.ndim(state.air_m) == 0 and state.air_m == 0:
            flow = self.line.full_bore_m3s
        else:
            flow = self.line.line.flow_si(
                self.line.head_m - state.air_m, self._viscosity, self._outlet
            )
        return np.minimum(flow, self.carries_m3s) * (1.0 - np.asarray(state.ice)) ** 1.25

    def head_loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Head in m that a flow takes from inlet to outlet, the air's share included; infinite
        beyond the capacity."""
        flow = np.asarray(flow_m3s, dtype=float)
        taken = self.line.line.loss_si(flow, self._viscosity) + self._outlet * flow**2 + state.air_m
        return np.where(flow > self.capacity_si(state) * (1 + 1e-9), np.inf, taken)[()]

    @cached_property
    def _viscosity(self) -> float:
        return float(viscosity.si(self.line.temperature_k))

    @cached_property
    def _outlet(self) -> float:
        """Speed of the free jet at its end, as head over flow squared."""
        return 1 / (2 * GRAVITY * self.line.line.pipes[-1].area_m2 ** 2)


@dataclass(frozen=True, eq=False)
class Venting:
    """What becomes of a line when air is let out at certain places while it fills.

    Parameters
    ----------
    vents_m : tuple of float
        Distances along the slope.
    starts : bool
    margin_m : float
        Head left at the tightest place.
    flow_m3s : float
        With the pockets that stay.
    air_m : float
        Head those pockets take.
    """

    vents_m: tuple[float, ...]
    starts: bool
    margin_m: float
    _: KW_ONLY
    flow_m3s: float
    air_m: float


@dataclass(frozen=True, eq=False)
class LineAir(Result):
    """The five questions that air asks of a line, answered for one flow.

    Parameters
    ----------
    line : FallingLine
    flow_m3s : float
        At which it is to run.
    inlet_m3s : float or None
        What a screen before the inlet or the inlet itself passes with air behind it; None takes
        the first pipe lying square-cut in the pond.
    notes : tuple of Finding
        What was taken for granted.
    carries_m3s : float
        Most it carries today, with the air in it; infinite where that is not asked.
    """

    line: FallingLine
    flow_m3s: float
    inlet_m3s: float | None = None
    _: KW_ONLY
    notes: tuple[Finding, ...] = ()
    carries_m3s: float = np.inf

    @property
    def today_m3s(self) -> float:
        """The flow of today: that which is asked of it, no more than it carries; what is asked
        where it stalls, for then it is told of a line that somebody got going."""
        return min(self.flow_m3s, self.carries_m3s) if self.carries_m3s > 0 else self.flow_m3s

    @cached_property
    def regime(self) -> Regime:
        """1: how it runs."""
        return regime(self.line, self.inlet_m3s)

    @cached_property
    def priming(self) -> tuple[Priming, ...]:
        """1 as well: the falling legs that, open to air, let less pass than the inlet."""
        let_in = self.regime.inlet_m3s
        return tuple(each for each in priming(self.line) if each.unprimed_m3s < let_in)

    @cached_property
    def filling(self) -> Filling:
        """2: whether it starts."""
        return filling(self.line)

    @cached_property
    def running(self) -> Running:
        """3: what flows with pockets left."""
        return flow_with_pockets(self.line)

    @cached_property
    def clearing(self) -> tuple[Clearing, ...]:
        """4: whether the flow clears the air from each falling leg."""
        return clearing(self.line, self.flow_m3s)

    @cached_property
    def outlet(self) -> Outlet:
        """5: what the end of the line does with air."""
        return outlet(self.line, self.today_m3s)

    @cached_property
    def inlet(self) -> InletAir:
        """Whether the inlet draws in air."""
        return inlet_air(self.line, self.flow_m3s)

    @cached_property
    def siphons(self) -> tuple[Siphon, ...]:
        """High points under suction when the line runs full with its end open."""
        return siphon(self.line, self.line.full_bore_m3s)

    @cached_property
    def advised(self) -> Venting | None:
        """The fewest new vents with which it starts and passes the flow, or passes most; None where
        it never starts."""
        started = [each for each in self.ventings if each.starts]
        enough = [each for each in started if each.flow_m3s >= self.flow_m3s * (1 - 1e-9)]
        return enough[0] if enough else max(started, key=lambda each: each.flow_m3s, default=None)

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """How to fill and vent it, with the vents that are advised, and how far its gate may then
        be opened."""
        new = () if self.advised is None else self.advised.vents_m
        return filling_steps(
            replace(self.line, vents_m=(*self.line.vents_m, *new)), self.line.full_bore_m3s
        )

    @cached_property
    def ventings(self) -> tuple[Venting, ...]:
        """As it is, then with vents added one by one: those that free it first, then whichever
        gains most flow."""
        made, left = [self._with(())], {pocket.high_point_m for pocket in self.filling.pockets}
        for vent in self.filling.vents_m or ():
            made.append(self._with((*made[-1].vents_m, vent)))
            left.discard(vent)
        while left and made[-1].starts:
            tried = [self._with((*made[-1].vents_m, vent)) for vent in sorted(left)]
            best = max(tried, key=lambda each: each.flow_m3s)
            made.append(best)
            left.discard(best.vents_m[-1])
        return tuple(made)

    def _with(self, vents: tuple[float, ...]) -> Venting:
        line = replace(self.line, vents_m=(*self.line.vents_m, *vents))
        walked, runs = filling(line), flow_with_pockets(line)
        return Venting(
            vents, walked.starts, walked.margin_m, flow_m3s=runs.flow_m3s, air_m=runs.air_m
        )

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What a reader must know."""
        found = [
            *self.notes,
            *self._overloaded(),
            *self._stray_vents(),
            *(() if self.priming else self.regime.findings),
            *self.filling.findings,
            *self.inlet.findings,
            *self.outlet.findings,
        ]
        found += [finding for leg in self.clearing for finding in leg.findings]
        found += [finding for each in self.priming for finding in each.findings]
        return (*found, *self._sucked())

    def _sucked(self) -> list[Finding]:
        """Suction of the line run full: a problem only where it is not the pipe inlet that holds
        the flow below it."""
        most = siphon_flow(self.line)
        held = 0 < self.regime.flow_m3s < most
        text = (
            "once primed, the whole bore would draw the leg behind {place} to {suction} of suction, "
            "and the water boils at {limit}: it parts there, so a gate at the end must hold the "
            "flow to {most}"
        )
        found: list[Finding] = []
        for each in self.siphons:
            if not (each.breaks and held):
                found += each.findings
                continue
            told = Sentence(
                text,
                place=Amount(each.high_point_m, "length"),
                suction=Amount(each.suction_m, "head", 2),
                limit=Amount(each.limit_m, "head", 2),
                most=Amount(most, "flow"),
            )
            found.append(Finding("caution", "air", told))
        return found

    def _overloaded(self) -> list[Finding]:
        """Pipes whose rating is less than what stands on them with the gate at the end shut."""
        line, cut, found, start = self.line, self.line.reaches, [], 0.0
        fit = float(cut.distance_m[-1]) / float(line.line.length_m)
        for pipe in line.line.pipes:
            end = start + fit * float(pipe.length_m)
            here = np.flatnonzero(
                (cut.distance_m >= start - AT_HIGH_POINT_M)
                & (cut.distance_m <= end + AT_HIGH_POINT_M)
            )
            lowest, start = here[np.argmin(cut.elevation_m[here])], end
            if pipe.rating_pa is None:
                continue
            rated = pipe.rating_pa * float(
                derating.si(line.temperature_k, pipe.material or "steel")
            )
            stands = float(
                head_to_pressure.si(
                    line.source_level_m - float(cut.elevation_m[lowest]), line.temperature_k
                )
            )
            if stands > rated:
                text = Sentence(
                    "with the gate at the end shut {pressure} stand on the line at {place}, more "
                    "than its derated rating of {rating}: fill it with the end open, or lay "
                    "stronger pipe",
                    pressure=Amount(stands, "pressure"),
                    place=Amount(cut.distance_m[lowest], "length"),
                    rating=Amount(rated, "pressure"),
                )
                found.append(Finding("problem", "air", text))
        return found

    def _stray_vents(self) -> list[Finding]:
        """Vents that stand on no high point: told, for a slip of the tape or of the kind of
        chainage would be silent."""
        places, found = (
            self.line.reaches.distance_m[[top for top, _ in falling_legs(self.line)]],
            [],
        )
        for vent in self.line.vents_m:
            off = np.abs(places - vent)
            if off.size and off.min() <= AT_HIGH_POINT_M:
                continue
            nearest = (
                Sentence(
                    "; the nearest is at {place}", place=Amount(places[np.argmin(off)], "length")
                )
                if off.size
                else ""
            )
            text = Sentence(
                "no high point within {reach} of the vent at {place} along the pipe{nearest}: it "
                "lets out only the air between itself and the next low point; check its chainage, "
                "level or along the slope",
                reach=Amount(AT_HIGH_POINT_M, "length", 2),
                place=Amount(vent, "length"),
                nearest=nearest,
            )
            found.append(Finding("caution", "air", text))
        return found
