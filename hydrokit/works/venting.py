"""Getting air out of a line and keeping it out: clearing, the pipe inlet, the outlet, the siphon."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import Finding
from ..sentences import Amount, Sentence
from ..units import Given, Number, Quantity, units
from ..water import GRAVITY, density
from .air import falling_legs, over_high_point
from .clearing import SMALL_BORE_M, clearing_band, outlet_event
from .falling import FallingLine
from .forebay import inlet_cover
from .profile import siphon_limit
from .solve import bracketed_root, require

__all__ = [
    "VENTING_CAUTION",
    "Clearing",
    "InletAir",
    "Outlet",
    "Siphon",
    "Throttle",
    "clearing",
    "clearing_flows",
    "inlet_air",
    "outlet",
    "running_grade",
    "siphon",
    "siphon_flow",
    "high_point_pressure",
    "throttle",
]


VENTING_CAUTION = (
    "Air shut in a line is compressed to the full pressure of the water and lets go all at once: "
    "a loosened plug or cap becomes a projectile. Open vents a quarter turn at a time, standing "
    "to the side, and never loosen a fitting that may have air behind it. Where the running "
    "hydraulic grade line lies below the crown a vent draws air in instead, with enough suction "
    "to hold a hand: keep such vents shut while the line runs."
)


def running_grade(line: FallingLine, flow_m3s: float) -> np.ndarray:
    """Level to which water would stand in an open tube on the full line, at every station, from the
    pond down."""
    return line.source_level_m - line.spent_si(flow_m3s) - line.reaches.velocity_head(flow_m3s)


# --- 4 does it clear, and stay clear ----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Clearing:
    """Whether a flow carries the air out of the falling leg behind one high point.

    Parameters
    ----------
    high_point_m, low_m : float
        The leg, as distances along the slope.
    low_m3s, high_m3s : float
        Below the first every published relation says the air stays, above the second every one
        says it goes.
    verdict : {"stays", "not settled", "goes"}
    findings : tuple of Finding
    """

    high_point_m: float
    low_m: float
    low_m3s: float
    _: KW_ONLY
    high_m3s: float
    verdict: str
    findings: tuple[Finding, ...]


def clearing_flows(line: FallingLine, top: int, end: int) -> tuple[float, float]:
    """Flows in m³/s below which every published law says air stays in a leg, and above which every
    one says it goes."""
    cut, here = line.reaches, slice(top, end)
    bore = cut.diameter_m[here]
    low, high = clearing_band.si(bore, np.arcsin(np.clip(cut.fall[here], 0.0, 0.9999)))
    area = math.pi / 4 * bore**2
    # Air must get down every reach of the leg, so the hardest one counts.
    return float(np.max(low * area)), float(np.max(high * area))


def clearing(line: FallingLine, flow_m3s: float) -> tuple[Clearing, ...]:
    """Hold the flow against the band of published clearing speeds, leg by leg.

    Parameters
    ----------
    line : FallingLine
    flow_m3s : float

    Returns
    -------
    tuple of Clearing
        One for each high point behind which air can sit.
    """
    require("clearing", "zero or more", flow_m3s=flow_m3s)
    cut, legs = line.reaches, []
    for top, dip in falling_legs(line):
        if dip is None:
            continue
        least, most = clearing_flows(line, top, dip)
        verdict = "goes" if flow_m3s > most else "stays" if flow_m3s < least else "not settled"
        found: tuple[Finding, ...] = ()
        if cut.diameter_m[top:dip].min() < SMALL_BORE_M:
            text = Sentence(
                "the bore after {place} is under {small}, where most clearing laws were not "
                "tested: rely on a vent, not on the flow",
                place=Amount(cut.distance_m[top], "length"),
                small=Amount(SMALL_BORE_M, "diameter"),
            )
            found = (Finding("caution", "air", text),)
        legs.append(
            Clearing(
                float(cut.distance_m[top]),
                float(cut.distance_m[dip]),
                least,
                high_m3s=most,
                verdict=verdict,
                findings=found,
            )
        )
    return tuple(legs)


@dataclass(frozen=True, eq=False)
class InletAir:
    """Whether the inlet draws bubbles into the line.

    Parameters
    ----------
    cover_m, needed_m : float
        Water over the inlet's axis, and how much the flow asks for.
    findings : tuple of Finding
    """

    cover_m: float
    needed_m: float
    findings: tuple[Finding, ...]

    @property
    def draws_air(self) -> bool:
        """Whether the cover is too small."""
        return self.cover_m < self.needed_m


def inlet_air(line: FallingLine, flow_m3s: float) -> InletAir:
    """Whether a flow draws air in at the inlet, bubble by bubble, for every high point below to collect."""
    bore = float(line.reaches.diameter_m[0])
    cover, needed = (
        line.source_level_m - float(line.reaches.elevation_m[0]),
        float(inlet_cover.si(flow_m3s, bore)),
    )
    found: tuple[Finding, ...] = ()
    if cover < needed:
        text = Sentence(
            "the pipe inlet has {cover} of water over its axis and needs about {needed} at this "
            "flow: it draws in air that gathers at the high points",
            cover=Amount(cover, "head", 2),
            needed=Amount(needed, "head", 2),
        )
        found = (Finding("caution", "air", text),)
    return InletAir(cover, needed, found)


# --- 5 the outlet -----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Throttle:
    """The gate opening that keeps the whole line under its hydraulic grade line.

    Parameters
    ----------
    flow_m3s : float
        Greatest flow at which the running grade clears the crown everywhere; zero if there is none.
    gate_head_m : float
        Head the gate must then take.
    decides_m : float
        Where the hydraulic grade line first touches the crown, as distance along the slope.
    """

    flow_m3s: float
    gate_head_m: float
    decides_m: float

    @property
    def flow(self) -> Quantity:
        """Flow, a quantity."""
        return Quantity(self.flow_m3s, "m^3/s")


def throttle(line: FallingLine) -> Throttle:
    """The greatest flow with no crown above the running hydraulic grade line, and the head a gate
    takes for it."""
    flow, place = _flow_under_grade(line, 0.0)
    gate = max(0.0, line.head_m - line.needed_si(flow)) if flow > 0 else line.head_m
    return Throttle(flow, gate, place)


def _flow_under_grade(line: FallingLine, allowed: float) -> Any:
    """Greatest flow, up to the full bore's, with no crown more than `allowed` above the grade, and
    where it decides."""
    crown = line.reaches.crown_m[1:]  # the inlet is drowned or not; that is the intake's affair

    def room(flow: float) -> float:
        return (running_grade(line, float(flow))[1:] - crown + allowed).min()

    full = line.full_bore_m3s
    if room(0.0) <= 0:
        flow = 0.0
    elif room(full) >= 0:
        flow = full
    else:
        flow = float(bracketed_root(room, 0.0, full, steps=40))
    place = int(np.argmin(running_grade(line, flow)[1:] - crown)) + 1
    return flow, float(line.reaches.distance_m[place])


@dataclass(frozen=True, eq=False)
class Outlet:
    """What the end of the line does with air at one flow.

    Parameters
    ----------
    sealed : bool
        Whether the crest stands above the crown.
    event : str
        For an open end what :func:`hydrokit.works.clearing.outlet_event` names; else "sealed by its crest".
    full_from_m : float
        The line is full from here to its end, as distance along the slope.
    throttle : Throttle
        What fills the line above that.
    findings : tuple of Finding
    """

    sealed: bool
    event: str
    full_from_m: float
    _: KW_ONLY
    throttle: Throttle
    findings: tuple[Finding, ...]


def outlet(line: FallingLine, flow_m3s: float) -> Outlet:
    """Whether air can climb back from the end, how far the line stands full, and what a gate must do.

    An open end lets air in unless the flow keeps the cavity out. A crest above the crown seals it and
    fills the line back to the crest's level plus friction; above that only a throttled gate does.

    Parameters
    ----------
    line : FallingLine
    flow_m3s : float

    Returns
    -------
    Outlet
    """
    require("outlet", "zero or more", flow_m3s=flow_m3s)
    event = (
        "sealed by its crest"
        if line.upturned
        else str(outlet_event.si(flow_m3s, line.reaches.diameter_m[-1]))
    )
    full_from = _full_from(line, flow_m3s) if line.upturned else float(line.reaches.distance_m[-1])
    gate, found = throttle(line), []
    if event in ("air escapes upwards", "air can creep in"):
        found.append(
            Finding(
                "caution",
                "air",
                (
                    "the open end lets air climb back into the line; an upturned end with its "
                    "crest above the crown seals it"
                ),
            )
        )
    if gate.flow_m3s == 0:
        text = Sentence(
            "the crown at {place} stands above the pond: no gate keeps the line under pressure there",
            place=Amount(gate.decides_m, "length"),
        )
        found.append(Finding("problem", "air", text))
    elif flow_m3s > gate.flow_m3s:
        text = Sentence(
            "above {flow} the hydraulic grade line sinks below the crown at {place}: throttle "
            "at the end to keep it full",
            flow=Amount(gate.flow_m3s, "flow"),
            place=Amount(gate.decides_m, "length"),
        )
        found.append(Finding("note", "air", text))
    return Outlet(line.upturned, event, full_from, throttle=gate, findings=tuple(found))


def _full_from(line: FallingLine, flow: float) -> Any:
    """How far up from the crest the line stands full, found by walking the hydraulic grade line upstream."""
    cut = line.reaches
    energy_left = line.spent_si(flow) + cut.velocity_head(flow)
    over = line.outlet_level_m + (energy_left[-1] - energy_left) - cut.crown_m
    dry = np.flatnonzero(over < 0)
    if not dry.size:
        return 0.0
    above, below = int(dry[-1]), min(int(dry[-1]) + 1, over.size - 1)
    return float(np.interp(0.0, over[[above, below]], cut.distance_m[[above, below]]))


# --- the siphon -------------------------------------------------------------------------------


@units("Pa", fall="m", head_loss="head", velocity="m/s", temperature="K")
def high_point_pressure(
    fall: Given, head_loss: Given, velocity: Given, temperature: Given = "10 degC"
) -> Number:
    r"""Gauge pressure in a full line at a high point.

    Parameters
    ----------
    fall : Quantity or str [length]
        Of the pond's level to the high point, :math:`z`; negative for a high point above the pond.
    head_loss : Quantity or str [length]
        From the inlet to there, :math:`h_f`.
    velocity : Quantity or str [speed]
        :math:`V`.
    temperature : Quantity or str [temperature]
        Of the water.

    Returns
    -------
    Quantity [pressure]
        Above the air of the place; negative where the line is under suction.

    Notes
    -----
    .. math:: p = \rho g\,(z - h_f - V^2/2g)

    References
    ----------
    .. [1] K. Subramanya, *1000 Solved Problems in Fluid Mechanics*, problem 11.17, p. 248.

    Examples
    --------
    >>> print(f"{high_point_pressure('2 m', '9.6 m', '1.534 m/s').to('kPa'):.1f~P}")
    -75.7 kPa
    >>> print(f"{high_point_pressure('-5 ft', '3 ft', '4 ft/s').to('psi'):.2f~P}")
    -3.57 psi
    """
    return (
        density.si(temperature)
        * GRAVITY
        * (fall - np.asarray(head_loss) - np.asarray(velocity) ** 2 / (2 * GRAVITY))
    )


@dataclass(frozen=True, eq=False)
class Siphon:
    """A high point whose crown stands above the running hydraulic grade line.

    Parameters
    ----------
    high_point_m : float
        Distance along the slope.
    suction_m : float
        Metres of water below the air of the place, at the worst crown from there to the end of its leg.
    limit_m : float
        Suction at which the water boils there: (air pressure − vapour pressure)/ρg.
    vented_m3s : float
        What passes with a vent left open at the high point.
    """

    high_point_m: float
    suction_m: float
    limit_m: float
    _: KW_ONLY
    vented_m3s: float

    @property
    def breaks(self) -> bool:
        """Whether the column parts."""
        return self.suction_m >= self.limit_m

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Suction that the water does not bear, or hardly."""
        if self.suction_m < self.limit_m - _NEAR_M:
            return ()
        told = {
            "place": Amount(self.high_point_m, "length"),
            "suction": Amount(self.suction_m, "head", 2),
            "limit": Amount(self.limit_m, "head", 2),
        }
        if self.breaks:
            text = (
                "at {place} the line would be {suction} under suction and the water boils at "
                "{limit}: it cannot run so"
            )
            return (Finding("problem", "air", Sentence(text, **told)),)
        text = (
            "running full, the leg behind {place} is {suction} under suction, and at this "
            "altitude the water boils at {limit}: within {near} of that air comes out of the "
            "water and gathers there"
        )
        return (Finding("caution", "air", Sentence(text, **told, near=Amount(_NEAR_M, "head", 1))),)


_NEAR_M = 3.0  # of the suction at which water boils: common practice is to stay farther from it


def siphon(line: FallingLine, flow_m3s: float) -> tuple[Siphon, ...]:
    """High points that a flow leaves under suction, with the limit set by the site's altitude."""
    limit = float(siphon_limit.si(line.altitude_m, line.temperature_k))
    suction = line.reaches.crown_m - running_grade(line, flow_m3s)
    found, last = [], line.reaches.length_m.size
    for top, dip in falling_legs(line):
        end = last if dip is None else dip
        worst = float(np.max(suction[top:end]))
        if worst > 0:
            found.append(
                Siphon(
                    float(line.reaches.distance_m[top]),
                    worst,
                    limit,
                    vented_m3s=over_high_point(line, top, end),
                )
            )
    return tuple(found)


def siphon_flow(line: FallingLine) -> float:
    """Greatest flow in m³/s that the line, once primed, carries before its column parts at a crown."""
    return _flow_under_grade(line, float(siphon_limit.si(line.altitude_m, line.temperature_k)))[0]
