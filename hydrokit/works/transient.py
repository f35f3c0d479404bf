"""Pressure waves in a line of several pipes, followed step by step (method of characteristics)."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np

from ..errors import Finding, HydrokitError
from ..sentences import Amount, Sentence
from ..units import Floats, Given, Number, Quantity, units
from ..water import GRAVITY, air_pressure, density, vapour_pressure, viscosity
from .pipe import Line
from .solve import require

__all__ = ["Standpipe", "Transient", "grid_reaches", "rejoining", "water_hammer"]

# A wave speed that had to be moved by more than this to fit the grid is told to the reader.
_MOST_SPEED_CHANGE = 0.05


@dataclass(frozen=True, eq=False)
class Standpipe:
    """An open pipe standing on the line, in which the water may rise and fall.

    Parameters
    ----------
    chainage_m : float
        Where it stands, along the line from the pond.
    area_m2 : float
        Area of its bore.
    top_m : float
        Height of its overflow edge above the outlet; water above it spills.
    """

    chainage_m: float
    area_m2: float
    top_m: float = math.inf

    def __post_init__(self) -> None:
        require("Standpipe", "above zero", area_m2=self.area_m2)


@dataclass(frozen=True, eq=False)
class Transient:
    """What a movement of the valve does to the line. Heads are above the outlet.

    Parameters
    ----------
    time_s, valve_head_m, valve_flow_m3s : ndarray
        History at the valve.
    chainage_m, steady_m, highest_m, lowest_m : ndarray
        Along the line: head before the movement, and the highest and lowest it reached.
    standpipe_m : ndarray or None
        Level in the standpipe.
    spilled_m3 : float
        Water lost over the standpipe's overflow edge.
    findings : tuple of Finding
    parts_m : float or None
        Where the water column would part, along the line; None where it stays whole or no profile is given.
    """

    time_s: np.ndarray
    valve_head_m: Floats
    valve_flow_m3s: Floats
    _: KW_ONLY
    chainage_m: Floats
    steady_m: Floats
    highest_m: Floats
    lowest_m: Floats
    standpipe_m: float | None = None
    spilled_m3: float = 0.0
    findings: tuple[Finding, ...] = ()
    parts_m: float | None = None

    @property
    def highest(self) -> Quantity:
        """Highest head at the valve, a quantity."""
        return Quantity(float(self.highest_m[-1]), "m")

    @property
    def lowest(self) -> Quantity:
        """Lowest head at the valve, a quantity."""
        return Quantity(float(self.lowest_m[-1]), "m")


@units(
    None,
    wave_speeds="m/s",
    flow="m^3/s",
    static_head="head",
    time="s",
    opening="ratio",
    duration="s",
    chainage="m",
    elevation="m",
    reaches="count",
    temperature="K",
    altitude="m",
)
def water_hammer(
    line: Line,
    wave_speeds: Given,
    flow: Given,
    static_head: Given,
    time: Given,
    opening: Given,
    duration: Given = "60 s",
    standpipe: Standpipe | None = None,
    chainage: Given = None,
    elevation: Given = None,
    reaches: Given = 100,
    temperature: Given = "10 degC",
    altitude: Given = "0 m",
) -> Transient:
    r"""Heads and flows in a line from a pond while the valve or nozzle at its end is moved.

    Parameters
    ----------
    line : Line
        Pipes in series, from the pond down.
    wave_speeds : Quantity or list [speed]
        One for each pipe, or one for all; see :func:`hydrokit.works.surge.wave_speed`.
    flow : Quantity or str [length³/time]
        Steady flow before the movement, above zero.
    static_head : Quantity or str [length]
        Pond above the outlet.
    time, opening : Quantity or list, list of float
        The movement: area of the opening as a share of that before, at these times; straight
        lines between, unchanged after the last. ``["0 s"], [0]`` shuts it at once.
    duration : Quantity or str [time]
        How long to follow the waves.
    standpipe : Standpipe, optional
    chainage, elevation : Quantity or list [length], optional
        Profile of the line, elevation above the outlet; with it, places where the water column
        would part are found.
    reaches : int
        Into how many reaches the line is cut.
    temperature, altitude : Quantity or str
        Of the water, and above sea level.

    Returns
    -------
    Transient

    Raises
    ------
    HydrokitError
        Wave speeds that do not match the pipes; a flow that uses up more than the static head.

    Notes
    -----
    A last pipe too short and stiff for a reach has its own blow, a ΔV/g by its true wave speed, at the
    valve. Along each reach of travel time Δt, with B = a/(gA) and r = (reach loss)/Q² of the steady flow,

    .. math:: H_P = (H_A + B Q_A) - (B + r|Q_A|)\,Q_P, \qquad H_P = (H_B - B Q_B) + (B + r|Q_B|)\,Q_P

    The valve obeys Q = (opening)·Q₀·√(H/H₀) and lets no air back in. Wave speeds are moved
    slightly so that each pipe is a whole number of reaches. Friction follows the steady flow's
    factor; real waves die away sooner. A parted water column is reported, not followed: what comes
    after it is then no longer true.

    References
    ----------
    .. [1] E. B. Wylie, V. L. Streeter, *Fluid Transients*, McGraw-Hill, 1978, ch. 3 (from memory);
       checked here in its limits: Joukowsky, rigid column, mass oscillation.

    Examples
    --------
    >>> from hydrokit.works.pipe import Line, Pipe
    >>> line = Line((Pipe(0.1, 400.0, 1e-5),))
    >>> shut = water_hammer(line, "390 m/s", "10 L/s", "60 m", ["0 s", "8 s"], [1, 0], duration="20 s")
    >>> print(f"{shut.highest:.0f~P}")
    68 m
    >>> shut = water_hammer(line, "1280 ft/s", "160 gpm", "197 ft", ["0 s", "0.5 s"], [1, 0], duration="20 s")
    >>> print(f"{shut.highest.to('ft'):.0f~P}")
    363 ft
    """
    require(
        "water_hammer",
        "above zero",
        flow=flow,
        wave_speeds=wave_speeds,
        duration=duration,
        reaches=reaches,
    )
    require("water_hammer", "zero or more", opening=opening)
    grid = _grid(line, wave_speeds, flow, viscosity.si(temperature), int(reaches))
    steady = static_head - np.concatenate([[0.0], np.cumsum(grid.resistance)]) * flow**2
    if steady[-1] <= 0:
        raise HydrokitError(
            Sentence(
                "water_hammer(): the flow of {flow} has a head loss of {loss}, but "
                "static_head is only {head}",
                flow=Amount(flow, "flow"),
                loss=Amount(static_head - steady[-1], "head"),
                head=Amount(static_head, "head"),
            )
        )
    steps = int(math.ceil(duration / grid.step_s))
    times = np.arange(steps + 1) * grid.step_s
    openings = np.interp(times, np.atleast_1d(time), np.atleast_1d(opening))
    history = _march(grid, steady, flow, openings, standpipe)
    if grid.stub is not None:
        blow = grid.stub.blow(float(flow), np.atleast_1d(time), np.atleast_1d(opening))
        history["highest_m"][-1] = max(float(history["highest_m"][-1]), float(steady[-1]) + blow)
    findings, parts = list(grid.findings), None
    if elevation is not None:
        level = np.interp(grid.chainage_m, chainage, elevation)
        parts, found = _parting(grid.chainage_m, history["lowest_m"] - level, temperature, altitude)
        findings += found
    return Transient(
        time_s=times,
        chainage_m=grid.chainage_m,
        steady_m=steady,
        findings=tuple(findings),
        parts_m=parts,
        **history,
    )


@units(("m", "m"), rise="m", head="head")
def rejoining(rise: Given, head: Given) -> tuple[Number, Number]:
    r"""Between what the head may rise at a valve where the water column parted and rejoins.

    Parameters
    ----------
    rise : Quantity or str [length]
        Of the waves followed as if the column stayed whole.
    head : Quantity or str [length]
        Of the pond over the valve, counted from the vapour pressure of the water:
        static head and :func:`hydrokit.works.profile.siphon_limit` together.

    Returns
    -------
    low, high : Quantity [length]
        The rise itself, and the most that one cavity at the valve adds: twice the head.

    Raises
    ------
    HydrokitError
        A negative head.

    Notes
    -----
    A cavity at the valve of a frictionless pipe, by characteristics: the column comes back under the
    pond's head :math:`h`, and closing makes :math:`\Delta H + 2h` at the most, in the first cycle or a
    later one. Air set free in the water softens it, further cavities may not.

    References
    ----------
    .. [1] Column separation at one boundary; E. B. Wylie, V. L. Streeter, *Fluid Transients*, 1978,
       ch. 8 (from memory).

    Examples
    --------
    >>> print("{:.0f~P} to {:.0f~P}".format(*rejoining("102 m", "30 m")))
    102 m to 162 m
    >>> print("{:.0f~P}".format(rejoining("335 ft", "98 ft")[1].to("ft")))
    531 ft
    """
    require("rejoining", "zero or more", head=head)
    rise = np.asarray(rise, dtype=float)
    return rise + 0 * np.asarray(head), rise + 2 * np.asarray(head)


def grid_reaches(travel_s: np.ndarray, fits: float, least: int, most: int) -> int:
    """Into how many reaches to cut a line, so that each pipe is nearly a whole number of them.

    Parameters
    ----------
    travel_s : ndarray
        Time a wave takes through each pipe.
    fits : float
        Share by which a wave speed may be moved; where no grid is so good, the best of them counts.
    least, most : int
        Reaches of the whole line.
    """
    counts = np.arange(least, most + 1)
    whole = travel_s / travel_s.sum() * counts[:, None]
    moved = np.max(np.abs(whole / np.maximum(np.rint(whole), 1) - 1), axis=1)
    good = np.flatnonzero(moved <= fits)
    return int(counts[good[0] if len(good) else np.argmin(moved)])


@dataclass(frozen=True, eq=False)
class _Stub:
    """A last pipe too short for a reach of the grid: its first plateau is over before one step of time."""

    speed_ms: float
    length_m: float
    area_m2: float

    def blow(self, flow_m3s: float, time: np.ndarray, opening: np.ndarray) -> float:
        """Rise at the valve by what it stops before the wave is back from the stub's upper end, a ΔV/g."""
        there_and_back = 2 * self.length_m / self.speed_ms
        before = np.append(1.0, opening)  # running, then from each point of the movement on
        after = np.interp(np.append(0.0, time) + there_and_back, time, opening)
        stopped = float(np.max(np.clip(before - after, 0.0, 1.0)))
        return self.speed_ms * stopped * flow_m3s / (GRAVITY * self.area_m2)


@dataclass(frozen=True, eq=False)
class _Grid:
    step_s: float
    chainage_m: Floats  # of the nodes
    impedance: Floats  # a/(gA) of each reach, s/m²
    _: KW_ONLY
    resistance: Floats  # head loss over flow squared of each reach, s²/m⁵
    findings: tuple[Finding, ...]
    stub: _Stub | None = None


def _grid(line: Line, wave_speeds: Number, flow: float, nu: float, reaches: int) -> _Grid:
    if np.size(wave_speeds) not in (1, len(line.pipes)):
        raise HydrokitError(
            "water_hammer(): wave_speeds needs one value, or one for each of the "
            f"{len(line.pipes)} pipes; got {np.size(wave_speeds)}"
        )
    pipes, speeds = _joined(
        line, np.broadcast_to(np.asarray(wave_speeds, dtype=float), (len(line.pipes),))
    )
    lengths = np.array([float(pipe.length_m) for pipe in pipes])
    step = float(np.sum(lengths / speeds)) / reaches
    counts = np.maximum(np.rint(lengths / (speeds * step)), 1).astype(int)
    fitted = lengths / (counts * step)
    moved = np.abs(fitted / speeds - 1)
    # a stiff stub at the valve rings within one step: its own blow is counted apart, its mass is in its reach
    alone = len(pipes) > 1 and bool(moved[-1] > _MOST_SPEED_CHANGE and fitted[-1] < speeds[-1])
    stub = _Stub(float(speeds[-1]), float(lengths[-1]), float(pipes[-1].area_m2)) if alone else None
    worst = float(np.max(moved[:-1] if alone else moved))
    findings: tuple[Finding, ...] = ()
    if alone:
        text = (
            "the last pipe is too short and stiff for the grid: its own blow at the valve is "
            "counted by its true wave speed; what it sends back up the line, for thousandths of a "
            "second, is not followed"
        )
        findings = (Finding("note", "surge", text),)
    if worst > _MOST_SPEED_CHANGE:
        text = (
            f"a wave speed was moved by {100 * worst:.0f} % to fit a short pipe on the grid; more "
            "reaches would need less"
        )
        findings = (*findings, Finding("note", "surge", text))
    areas = np.array([float(pipe.area_m2) for pipe in pipes])
    losses = np.array([float(pipe.loss_si(flow, nu)) for pipe in pipes]) / flow**2
    return _Grid(
        step_s=step,
        chainage_m=np.concatenate([[0.0], np.cumsum(np.repeat(lengths / counts, counts))]),
        impedance=np.repeat(fitted / (GRAVITY * areas), counts),
        resistance=np.repeat(losses / counts, counts),
        findings=findings,
        stub=stub,
    )


def _joined(line: Line, speeds: np.ndarray) -> Any:
    """Pipes and their wave speeds, those that follow each other and are alike made one."""
    pipes, kept = [line.pipes[0]], [float(speeds[0])]
    for pipe, speed in zip(line.pipes[1:], speeds[1:]):
        both = Line((pipes[-1], pipe)).joined.pipes
        if len(both) == 1 and speed == kept[-1]:
            pipes[-1] = both[0]
        else:
            pipes.append(pipe)
            kept.append(float(speed))
    return tuple(pipes), np.array(kept)


def _march(
    grid: _Grid, steady: np.ndarray, flow: float, openings: np.ndarray, standpipe: Standpipe | None
) -> Any:
    """Follow the waves; one pass of array arithmetic over all nodes for each step of time."""
    impedance, resistance = grid.impedance, grid.resistance
    head, leaving = steady.copy(), np.full(steady.shape, float(flow))
    highest, lowest = steady.copy(), steady.copy()
    valve_head, valve_flow = np.empty(openings.shape), np.empty(openings.shape)
    valve_head[0], valve_flow[0] = steady[-1], flow
    conductances = (openings * flow) ** 2 / steady[-1]
    tower = None if standpipe is None else _Tower(standpipe, grid, steady, flow, len(openings))
    for step in range(1, len(openings)):
        flow_up, flow_down = leaving[:-1], leaving[1:]
        downward = head[:-1] + impedance * flow_up
        upward = head[1:] - impedance * flow_down
        stiff_down = impedance + resistance * np.abs(flow_up)
        stiff_up = impedance + resistance * np.abs(flow_down)
        if tower is not None:
            tower.correct(upward, stiff_up, head, impedance, resistance)
        leaving[1:-1] = (downward[:-1] - upward[1:]) / (stiff_down[:-1] + stiff_up[1:])
        if tower is not None:
            tower.advance(step, downward, stiff_down, upward, stiff_up, leaving)
        leaving[0] = (steady[0] - upward[0]) / stiff_up[0]
        leaving[-1] = _through_valve(downward[-1], stiff_down[-1], conductances[step])
        head[1:-1] = upward[1:] + stiff_up[1:] * leaving[1:-1]
        head[-1] = downward[-1] - stiff_down[-1] * leaving[-1]
        np.maximum(highest, head, out=highest)
        np.minimum(lowest, head, out=lowest)
        valve_head[step], valve_flow[step] = head[-1], leaving[-1]
    history: dict[str, Any] = {
        "valve_head_m": valve_head,
        "valve_flow_m3s": valve_flow,
        "highest_m": highest,
        "lowest_m": lowest,
    }
    if tower is not None:
        history |= {"standpipe_m": tower.level_m, "spilled_m3": tower.spilled_m3}
    return history


def _through_valve(arriving: float, stiffness: float, conductance: float) -> float:
    """Flow with Q² = c·H and H = arriving − stiffness·Q; none if the head would draw air in."""
    if arriving <= 0 or conductance <= 0:
        return 0.0
    half = conductance * stiffness / 2
    return math.sqrt(half * half + conductance * arriving) - half


class _Tower:
    """The node under a standpipe: what arrives and what leaves differ by what it takes in."""

    def __init__(
        self, standpipe: Standpipe, grid: _Grid, steady: np.ndarray, flow: float, steps: int
    ) -> None:
        inner = len(steady) - 2
        self.node = int(
            np.clip(np.argmin(np.abs(grid.chainage_m - standpipe.chainage_m)), 1, max(inner, 1))
        )
        if inner < 1 or steady[self.node] > standpipe.top_m:
            raise HydrokitError(
                Sentence(
                    "water_hammer(): the overflow edge of the standpipe at {top} lies below the "
                    "running level {level} there (both above the outlet)",
                    top=Amount(standpipe.top_m, "head", 4),
                    level=Amount(steady[self.node], "head", 4),
                )
            )
        self.top, self.half_step = standpipe.top_m, grid.step_s / (2 * standpipe.area_m2)
        self.step_s, self.arriving, self.taken, self.spilled_m3 = grid.step_s, float(flow), 0.0, 0.0
        self.level_m = np.full(steps, steady[self.node])

    def correct(
        self, upward: Any, stiff_up: Any, head: Any, impedance: Any, resistance: Any
    ) -> None:
        """The wave going up from here starts with the flow that arrives, not with that which leaves."""
        reach = self.node - 1
        upward[reach] = head[self.node] - impedance[reach] * self.arriving
        stiff_up[reach] = impedance[reach] + resistance[reach] * abs(self.arriving)

    def advance(
        self, step: int, downward: Any, stiff_down: Any, upward: Any, stiff_up: Any, leaving: Any
    ) -> None:
        up, down = self.node - 1, self.node
        drive = downward[up] / stiff_down[up] + upward[down] / stiff_up[down]
        give = 1 / stiff_down[up] + 1 / stiff_up[down]
        level = (self.level_m[step - 1] + self.half_step * (drive + self.taken)) / (
            1 + self.half_step * give
        )
        spilling = level > self.top
        level = min(level, self.top)
        surplus = drive - give * level
        self.taken = 0.0 if spilling else surplus
        self.spilled_m3 += surplus * self.step_s if spilling else 0.0
        self.level_m[step] = level
        self.arriving = (downward[up] - level) / stiff_down[up]
        leaving[down] = (level - upward[down]) / stiff_up[down]


def _parting(
    chainage: np.ndarray, gauge_head: np.ndarray, temperature: float, altitude: float
) -> Any:
    """Place and finding where the lowest pressure falls to the vapour pressure of the water."""
    weight = density.si(temperature) * GRAVITY
    limit = (vapour_pressure.si(temperature) - air_pressure.si(altitude)) / weight
    worst = int(np.argmin(gauge_head))
    if gauge_head[worst] > limit:
        return None, []
    text = Sentence(
        "the water column would part at {place} along the pipe, where the head falls to {head} "
        "(the limit here is {limit}); the blow when it closes again is not in these figures",
        place=Amount(chainage[worst], "length"),
        head=Amount(gauge_head[worst], "head"),
        limit=Amount(limit, "head", 2),
    )
    return float(chainage[worst]), [Finding("problem", "surge", text)]


water_hammer.measurement = ("wave_speeds", "time", "opening", "chainage", "elevation")
