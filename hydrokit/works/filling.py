"""Whether a falling line starts, and what flows with pockets of air left in it."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import Finding
from ..result import Result
from ..sentences import Amount, Sentence
from ..units import Quantity
from .air import Leg, compressed, legs_of, walk
from .falling import FallingLine
from .solve import bracketed_root

__all__ = ["Filling", "Pocket", "Running", "filling", "flow_with_pockets"]

_SURVEY_UNCERTAINTY_M = 0.1


@dataclass(frozen=True, eq=False)
class Pocket:
    """Air held in the falling leg behind a high point.

    Parameters
    ----------
    high_point_m, high_point_level_m, low_m : float
        Where the leg begins and ends, as distances along the slope, and the high point's level.
    volume_m3 : float
        As compressed.
    height_m : float
        From its top to its bottom: the head it costs.
    worth_m : float
        Head that a vent there would give back at the place that decides.
    """

    high_point_m: float
    high_point_level_m: float
    low_m: float
    _: KW_ONLY
    volume_m3: float
    height_m: float
    worth_m: float

    @property
    def height(self) -> Quantity:
        """Head it costs, a quantity."""
        return Quantity(self.height_m, "m")


@dataclass(frozen=True, eq=False)
class Filling(Result):
    """Whether a line that is filled from the top starts to flow.

    Parameters
    ----------
    starts : bool
    pockets : tuple of Pocket
        In filling order.
    margin_m : float
        Head left at the tightest high point or at the outlet; negative where it is lacking.
    uncertainty_m : float
        Standard uncertainty of the margin from that of the survey's levels.
    decides_m : float
        Distance along the slope of the place that decides.
    stalls_m : float or None
        Of the first place that the water does not pass.
    source_needed_m : float
        Lowest pond level that carries the water through.
    vents_m : tuple of float or None
        Where to vent so that it starts, in order of worth; None if no vent is enough.
    findings : tuple of Finding
    climb_m : float
        How far the place where it stalls stands above the pond; zero where only air is in the way.
    lacking_m, lacking_uncertainty_m : float or None
        Head lacking where it stalls, and its standard uncertainty; further down more may be lacking.
    """

    starts: bool
    pockets: tuple[Pocket, ...]
    margin_m: float
    _: KW_ONLY
    uncertainty_m: float
    decides_m: float
    stalls_m: float | None
    source_needed_m: float
    vents_m: tuple[float, ...] | None
    findings: tuple[Finding, ...]
    climb_m: float = 0.0
    lacking_m: float | None = None
    lacking_uncertainty_m: float | None = None

    @property
    def margin(self) -> Quantity:
        """Head left, a quantity."""
        return Quantity(self.margin_m, "m")

    @property
    def source_needed(self) -> Quantity:
        """Lowest pond level that carries the water through, a quantity."""
        return Quantity(self.source_needed_m, "m")


def filling(line: FallingLine, level_uncertainty_m: float = _SURVEY_UNCERTAINTY_M) -> Filling:
    """Walk the water down the line as it fills, and tell where air stops it.

    High point or outlet j is passed only if the pond stands above it by at least the heights of all
    pockets upstream of it together. Pocket i was shut in at the pressure of the site's air and is
    compressed by z_source − z_high,i − (heights upstream of i).

    Parameters
    ----------
    line : FallingLine
        Its vents are taken as open while it fills.
    level_uncertainty_m : float
        Standard uncertainty of one surveyed level.

    Returns
    -------
    Filling
    """
    legs = legs_of(line)
    volumes = np.array([[leg.volume_m3 for leg in legs]])
    source = np.array([line.source_level_m])
    heights, left = walk(line, legs, source, volumes)
    places = [*(leg.high_point_m for leg in legs), float(line.reaches.distance_m[-1])]
    lacking = np.flatnonzero(left[0] < 0)
    decides = int(np.argmin(left[0]))
    stall = int(lacking[0]) if lacking.size else None
    judged, margin = decides if stall is None else stall, float(left[0, decides])
    held = compressed(volumes[0], np.maximum(left[0, :-1], 0.0), line.air_head_m)
    climb = (
        0.0
        if stall is None
        else max(
            [*(leg.level_m for leg in legs), line.outlet_level_m][stall] - line.source_level_m, 0.0
        )
    )
    as_it_is, vented = _with_each_vent(line, legs, volumes[0])
    worth = vented[:, judged] - as_it_is[judged]
    pockets = tuple(
        Pocket(
            leg.high_point_m,
            leg.level_m,
            leg.low_m,
            volume_m3=float(volume),
            height_m=float(height),
            worth_m=float(gain),
        )
        for leg, volume, height, gain in zip(legs, held, heights[0], worth)
        if leg.volume_m3 > 0
    )
    uncertainty, at_stall = (
        level_uncertainty_m * math.sqrt(2 + 2 * sum(1 for leg in legs[:place] if leg.volume_m3 > 0))
        for place in (decides, judged)
    )
    return Filling(
        starts=stall is None,
        pockets=pockets,
        margin_m=margin,
        uncertainty_m=uncertainty,
        decides_m=places[decides],
        stalls_m=None if stall is None else places[stall],
        source_needed_m=_source_needed(line, legs, volumes, margin),
        vents_m=_freeing(line, legs, volumes[0]),
        findings=_filling_findings(line, places, stall, margin, uncertainty, climb),
        climb_m=climb,
        **(
            {}
            if stall is None
            else {"lacking_m": -float(left[0, stall]), "lacking_uncertainty_m": at_stall}
        ),
    )


def _with_each_vent(line: FallingLine, legs: list[Leg], volumes: np.ndarray) -> Any:
    """What is left of the head at every place: as it is, and with each pocket let out alone."""
    count = len(legs)
    cases = np.vstack([volumes, np.where(np.eye(count, dtype=bool), 0.0, volumes)])
    left = walk(line, legs, np.full(count + 1, line.source_level_m), cases)[1]
    return left[0], left[1:]


def _freeing(line: FallingLine, legs: list[Leg], volumes: np.ndarray) -> Any:
    """Vents one after the other, the most worthy first, until the water comes through; None if it
    never does."""
    volumes = volumes.copy()
    chosen: list[float] = []
    while True:
        left, vented = _with_each_vent(line, legs, volumes)
        lacking = np.flatnonzero(left < 0)
        if not lacking.size:
            return tuple(chosen)
        worth = vented[:, lacking[0]] - left[lacking[0]]
        if not worth.size or worth.max() <= 0:
            return None
        best = int(np.argmax(worth))
        chosen.append(legs[best].high_point_m)
        volumes[best] = 0.0


def _source_needed(line: FallingLine, legs: list[Leg], volumes: np.ndarray, margin: float) -> float:
    """Lowest pond level that passes, by sieving many levels at once.

    A higher pond compresses every pocket, so a rise of the pond adds at least as much margin.
    """
    low, high = (
        line.source_level_m - max(margin, 0.0) - 1e-3,
        line.source_level_m + max(-margin, 0.0) + 1e-3,
    )
    for _ in range(5):
        levels = np.linspace(low, high, 65)
        left = walk(line, legs, levels, np.broadcast_to(volumes, (65, volumes.shape[1])))[1]
        first = max(1, int(np.argmax(left.min(axis=1) >= 0)))
        low, high = float(levels[first - 1]), float(levels[first])
    return high


def _filling_findings(
    line: FallingLine,
    places: list[float],
    stall: int | None,
    margin: float,
    uncertainty: float,
    climb: float,
) -> tuple[Finding, ...]:
    found = []
    if stall is not None:
        where = (
            "the outlet"
            if stall == len(places) - 1
            else Sentence("the high point at {place}", place=Amount(places[stall], "length"))
        )
        why = (
            Sentence(
                "it stands {climb} above the pond, so that only a pump or suction gets water over it",
                climb=Amount(climb, "head", 2),
            )
            if climb > 0
            else "trapped air takes more head than there is"
        )
        found.append(
            Finding(
                "problem",
                "air",
                Sentence(
                    "filled from the top, the line stalls before {where}: {why}",
                    where=where,
                    why=why,
                ),
            )
        )
    if abs(margin) < 2 * uncertainty:
        text = Sentence(
            "the margin of {margin} is less than twice its standard uncertainty of {uncertainty}: "
            "survey the high points, the low points and the crest of the outlet again before "
            "trusting it",
            margin=Amount(margin, "head", 2),
            uncertainty=Amount(uncertainty, "head", 2),
        )
        found.append(Finding("caution", "air", text))
    if line.crest_level_m is not None and not line.upturned:
        found.append(
            Finding(
                "caution",
                "air",
                (
                    "the crest of the outlet does not stand above the crown of the pipe: it does "
                    "not seal the end"
                ),
            )
        )
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Running:
    """Flow of a line that started with air left in it.

    Parameters
    ----------
    flow_m3s : float
        Zero if it does not start.
    full_bore_m3s : float
        Flow without any air.
    pockets : tuple of Pocket
        As they are in the running water; `worth_m` is their height.
    findings : tuple of Finding
    """

    flow_m3s: float
    full_bore_m3s: float
    _: KW_ONLY
    pockets: tuple[Pocket, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def flow(self) -> Quantity:
        """Flow, a quantity."""
        return Quantity(self.flow_m3s, "m^3/s")

    @property
    def air_m(self) -> float:
        """Head that the air takes."""
        return sum(pocket.height_m for pocket in self.pockets)


def flow_with_pockets(line: FallingLine) -> Running:
    """Flow of a line in which the pockets stay, friction and air together taking up the head.

    A pocket costs its height, as pipes of 25 and 38 mm on slopes up to 30 degrees showed (May, Allen,
    Nelson, IJHE 7(3):51-57, 2018). Friction lowers the pressure on it and lets it grow again, so flow
    and pockets are found together. Under a pocket the water runs part full and its fall is spent: wall
    friction acts only where water fills the bore.

    Parameters
    ----------
    line : FallingLine
        Pockets at its vents are taken as let out.

    Returns
    -------
    Running
    """
    legs, full = legs_of(line), line.full_bore_m3s
    still = walk(
        line,
        legs,
        np.array([line.source_level_m]),
        np.array([[leg.volume_m3 for leg in legs]]),
    )[1]
    if full == 0 or still.min() < 0:
        note = Finding("problem", "air", "the line does not start, so nothing flows")
        return Running(0.0, full, pockets=(), findings=(note,))

    def unbalanced(flow: Any) -> Any:
        pockets, spared = _in_running_water(line, legs, float(flow))
        air = sum(pocket.height_m for pocket in pockets)
        return line.needed_si(float(flow)) - spared + air - line.head_m

    # Without air the two ends of the bracket fall together.
    flow = full if unbalanced(full) <= 0 else float(bracketed_root(unbalanced, 0.0, full, steps=30))
    return Running(flow, full, pockets=_in_running_water(line, legs, flow)[0])


def _in_running_water(
    line: FallingLine, legs: list[Leg], flow: float
) -> tuple[tuple[Pocket, ...], float]:
    """The pockets that a flow leaves, in filling order, and the friction that it is spared under them."""
    cut, spent = line.reaches, line.spent_si(flow)
    speed_head = cut.velocity_head(flow)
    pockets, carried, spared = [], 0.0, 0.0
    for leg in legs:
        if leg.volume_m3 <= 0:
            continue
        top = int(np.searchsorted(cut.distance_m, leg.high_point_m))
        so_far = cut.volume_m3[top:] - cut.volume_m3[top]
        friction = np.interp(leg.volumes, so_far, spent[top:])
        pressure = (
            line.source_level_m - leg.level_m - carried - spent[top] - speed_head[top] + spared
        )
        held = min(
            float(compressed(leg.volume_m3, pressure, line.air_head_m)), float(leg.volumes[-1])
        )
        height = float(np.interp(held, leg.volumes, leg.drops))
        # Where friction at this flow is steeper than the pipe, the bore is full and takes it all the same.
        under = np.minimum(np.diff(friction), np.diff(leg.drops))
        spared += float(np.interp(held, leg.volumes, np.concatenate([[0.0], np.cumsum(under)])))
        carried += height
        pockets.append(
            Pocket(
                leg.high_point_m,
                leg.level_m,
                leg.low_m,
                volume_m3=held,
                height_m=height,
                worth_m=height,
            )
        )
    return tuple(pockets), spared
