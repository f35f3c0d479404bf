"""Air in a line that falls and rises: where it gathers, and how the line runs."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import Finding
from ..units import Floats, Given, Number, Quantity, units
from ..water import GRAVITY, air_pressure, density
from .channel import circle
from .falling import FallingLine
from .intake import pipe_inlet
from .section import critical_depth_pipe
from .solve import bracketed_root, require

__all__ = [
    "Regime",
    "falling_legs",
    "high_points",
    "least_energy",
    "over_high_point",
    "regime",
    "trapped_length",
]

# A vent this far upstream of a high point still counts as standing on it.
AT_HIGH_POINT_M = 1.0


def falling_legs(line: FallingLine) -> list[tuple[int, int | None]]:
    """Stations of every high point, and of the low point after it in which water can shut air in.

    None stands for a leg that stays open: it falls to a free end, or its air goes back out through
    the inlet. A dip shallower than the bore lets air pass under the crown and is no dip.
    """
    cut = line.reaches
    level, bore = cut.elevation_m.tolist(), cut.bore_m.tolist()
    last = len(level) - 1
    if line.upturned:  # a rise to the crest; it seals as soon as it stands above the crown
        level, bore = [*level, line.outlet_level_m + bore[-1] / 2], [*bore, bore[-1]]
    found: list[tuple[int, int | None]] = []
    high_point = low = 0
    for station in range(1, len(level)):
        seals = level[station] - level[low] > bore[low]
        if seals or level[station] >= level[high_point]:
            if seals and level[high_point] - level[low] > bore[low]:
                open_to_inlet = not found and level[high_point] - level[0] <= bore[0]
                found.append((high_point, None if open_to_inlet else low))
            high_point = low = station
        elif level[station] < level[low]:
            low = station
    if high_point < last:
        found.append((high_point, None))
    return [(top, dip) for top, dip in found if top > 0]


def high_points(line: FallingLine) -> list[tuple[int, int | None]]:
    """Those of :func:`falling_legs` to which the pipe rises by more than its bore: the pipe's own
    high points."""
    cut = line.reaches
    level, bore = cut.elevation_m, cut.bore_m
    return [
        (top, dip) for top, dip in falling_legs(line) if level[top] - level[:top].min() > bore[top]
    ]


@dataclass(frozen=True, eq=False)
class Leg:
    """The falling leg behind one high point, as volume of air against its height."""

    high_point_m: float
    level_m: float
    low_m: float
    _: KW_ONLY
    volume_m3: float  # that can be shut in, at the pressure of the open air
    volumes: np.ndarray
    drops: np.ndarray


def legs_of(line: FallingLine) -> list[Leg]:
    cut, volume = line.reaches, line.reaches.volume_m3
    legs = []
    for top, dip in falling_legs(line):
        end = top if dip is None else dip
        volumes, drops = down_the_leg(
            volume[top : end + 1] - volume[top],
            cut.elevation_m[top] - cut.elevation_m[top : end + 1],
        )
        shut_in = float(volumes[-1])  # zero for an open leg
        for vent in line.vents_m:
            if cut.distance_m[top] - AT_HIGH_POINT_M <= vent <= cut.distance_m[end]:
                # Only the air between the high point and the vent cannot leave through it.
                shut_in = min(
                    shut_in, max(0.0, float(np.interp(vent, cut.distance_m, volume) - volume[top]))
                )
        legs.append(
            Leg(
                float(cut.distance_m[top]),
                float(cut.elevation_m[top]),
                float(cut.distance_m[end]),
                volume_m3=shut_in,
                volumes=volumes,
                drops=drops,
            )
        )
    return legs


def down_the_leg(volumes: np.ndarray, falls: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Volumes down a leg and how far each lies below its top at the most: a place is added where
    the pipe, after a little rise, passes its lowest again."""
    lowest = np.maximum.accumulate(falls)
    again = np.flatnonzero((falls[:-1] < lowest[:-1]) & (falls[1:] > lowest[:-1]))
    share = (lowest[again] - falls[again]) / (falls[again + 1] - falls[again])
    where = volumes[again] + share * (volumes[again + 1] - volumes[again])
    return np.insert(volumes, again + 1, where), np.insert(lowest, again + 1, lowest[again])


def compressed(volume: Number, pressure_head: Number, air_head: float) -> np.ndarray:
    """Boyle: what air shut in at the open air's pressure becomes under a gauge pressure head."""
    return volume * air_head / np.maximum(air_head + pressure_head, 1e-3)


def walk(
    line: FallingLine, legs: list[Leg], source: Floats, volumes: Floats
) -> tuple[np.ndarray, np.ndarray]:
    """Heights of the pockets in filling order, and what is left of the head at each high point and
    the outlet.

    Many cases at once: `source` has one level for each, `volumes` one row of shut-in volumes.
    """
    cases, count = volumes.shape
    heights, left = np.zeros((cases, count)), np.zeros((cases, count + 1))
    carried = np.zeros(cases)
    for index, leg in enumerate(legs):
        left[:, index] = source - leg.level_m - carried
        # Water that does not reach the high point leaves the air as it was.
        held = compressed(volumes[:, index], np.maximum(left[:, index], 0.0), line.air_head_m)
        heights[:, index] = np.interp(held, leg.volumes, leg.drops)
        carried = carried + heights[:, index]
    left[:, count] = source - line.outlet_level_m - carried
    return heights, left


@units("m", length="m", head="head", altitude="m", temperature="K")
def trapped_length(
    length: Given, head: Given, altitude: Given = "0 m", temperature: Given = "10 degC"
) -> Number:
    r"""Length that a column of trapped air keeps when water presses on it.

    Parameters
    ----------
    length : Quantity or str [length]
        When it was shut in, at the pressure of the open air, :math:`L_1`.
    head : Quantity or str [length]
        Of water pressing on it, :math:`h` (gauge).
    altitude, temperature : Quantity or str
        Of the site, which sets the pressure of the air; of the water.

    Returns
    -------
    Quantity [length]
        :math:`L_2`.

    Raises
    ------
    HydrokitError
        A negative length or head.

    Notes
    -----
    Boyle's law: :math:`L_2 = L_1\,p_a/(p_a + h)`, with :math:`p_a` in metres of water.

    References
    ----------
    .. [1] T. D. Jordan, *Handbook of Gravity-Flow Water Systems*, UNICEF, 1980 (principle, from
       memory); R. Boyle's law.

    Examples
    --------
    >>> print(f"{trapped_length('100 m', '10 m', altitude='2600 m'):.1f~P}")
    42.9 m
    >>> print(f"{trapped_length('300 ft', '33 ft').to('ft'):.0f~P}")
    152 ft
    """
    require("trapped_length", "zero or more", length=length, head=head)
    air_head = air_pressure.si(altitude) / (density.si(temperature) * GRAVITY)
    return compressed(np.asarray(length), head, air_head)


def least_energy(flow_m3s: float, diameter_m: np.ndarray) -> np.ndarray:
    """Head in m over the floor of a round pipe that a flow needs with its surface open to air: that
    of critical depth.

    A flow that leaves no surface open is counted with the whole bore.
    """
    depth = critical_depth_pipe.si(flow_m3s, diameter_m)
    # At the crown the chord has no width; the area is what counts.
    area = circle(np.minimum(depth / diameter_m, 1 - 1e-12), diameter_m)[0]
    speed = np.divide(flow_m3s, area, out=np.zeros_like(area), where=area > 0)
    return depth + speed**2 / (2 * GRAVITY)


def over_high_point(line: FallingLine, top: int, end: int) -> float:
    """Flow in m³/s over a high point that is open to air, no more than the full bore's.

    The limb from the inlet to the high point stands full. There the water needs the head of its
    critical depth over the floor of the pipe (Q²T = gA³); below it the leg runs part full and pulls
    at nothing. Where the pipe goes on too flat for that, the first place that is steep enough governs.

    Parameters
    ----------
    line : FallingLine
    top, end : int
        Stations of the high point and of the end of its leg.
    """
    cut, full = line.reaches, line.full_bore_m3s
    here = slice(top, max(end, top + 1))
    bore = cut.bore_m[here]
    floor = cut.elevation_m[here] - bore / 2

    def left(flow: float) -> float:
        needed = line.spent_si(float(flow))[here] + least_energy(float(flow), bore)
        return float(np.min(line.source_level_m - floor - needed))

    if left(0.0) <= 0:
        return 0.0
    return full if left(full) >= 0 else float(bracketed_root(left, 0.0, full, steps=25))


@dataclass(frozen=True, eq=False)
class Regime:
    """How a line runs and what governs its flow.

    Parameters
    ----------
    kind : {"part full", "full", "part full between full low points"}
    flow_m3s : float
        The least of what the inlet and the full bore pass.
    inlet_m3s, full_bore_m3s : float
        What each would pass alone.
    tight_m : tuple of (float, float)
        Stretches without bore to spare at the inlet's flow, as distances along the slope.
    findings : tuple of Finding
    """

    kind: str
    flow_m3s: float
    inlet_m3s: float
    _: KW_ONLY
    full_bore_m3s: float
    tight_m: tuple[tuple[float, float], ...]
    findings: tuple[Finding, ...]

    @property
    def flow(self) -> Quantity:
        """Flow, a quantity."""
        return Quantity(self.flow_m3s, "m^3/s")

    @property
    def full_bore(self) -> Quantity:
        """Flow of the primed line, a quantity."""
        return Quantity(self.full_bore_m3s, "m^3/s")


def regime(line: FallingLine, inlet_flow_m3s: float | None = None) -> Regime:
    """Whether the line runs part full or full, and whether inlet or bore governs.

    A steady fall with bore to spare runs part full: air has a free way along the crown, nothing
    locks, and the inlet governs. Once it is filled, by closing a gate at its end, the full bore's
    suction acts on the inlet and the flow jumps to the full bore's: the sudden pull that is seen
    when the gate of a filled line is opened.

    Parameters
    ----------
    line : FallingLine
    inlet_flow_m3s : float, optional
        What the inlet passes at today's pond level with air behind it, as an orifice or weir. Left
        out, the first pipe lying square-cut in the pond is taken.

    Returns
    -------
    Regime
    """
    cut, full_bore = line.reaches, line.full_bore_m3s
    if inlet_flow_m3s is None:
        bottom = cut.elevation_m[0] - cut.diameter_m[0] / 2
        inlet_flow_m3s = float(pipe_inlet.si(line.source_level_m - bottom, cut.diameter_m[0]))
    require("regime", "zero or more", inlet_flow_m3s=inlet_flow_m3s)
    flow = min(inlet_flow_m3s, full_bore)
    # A falling reach has bore to spare where friction at this flow is flatter than the pipe.
    tight = _joined(
        cut.distance_m, np.diff(line.spent_si(flow)) >= np.maximum(-np.diff(cut.elevation_m), 0.0)
    )
    if inlet_flow_m3s >= full_bore:
        return Regime(
            "full", flow, inlet_flow_m3s, full_bore_m3s=full_bore, tight_m=tight, findings=()
        )
    has_dips = np.any(cut.elevation_m - np.minimum.accumulate(cut.elevation_m) > cut.bore_m)
    kind = "part full between full low points" if has_dips else "part full"
    pull = f"{full_bore / inlet_flow_m3s:.1f} times as much" if inlet_flow_m3s > 0 else "far more"
    text = (
        f"the pipe inlet governs; once primed the full bore draws {pull} and pulls the pond down: "
        "open the gate of a filled line slowly"
    )
    return Regime(
        kind,
        flow,
        inlet_flow_m3s,
        full_bore_m3s=full_bore,
        tight_m=tight,
        findings=(Finding("caution", "air", text),),
    )


def _joined(distance: np.ndarray, inside: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Ends of the runs of neighbouring reaches for which `inside` holds."""
    edges = np.diff(np.concatenate([[0], inside.astype(int), [0]]))
    return tuple(
        (float(distance[a]), float(distance[b]))
        for a, b in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1))
    )
