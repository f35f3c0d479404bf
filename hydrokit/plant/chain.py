"""The chain: a plant as parts in the order in which water meets them.

Supply parts, pond, penstock, jets, runner, generator, cable, loads. From the parts follow, with no
special cases, where the plant settles at any flow, what limits it, and its curve of power.

>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(60e3), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)))
>>> four, three = (plant.at_si(0.009, jets=jets).power_w for jets in (4, 3))
>>> f"9 L/s: {four:.0f} W through four jets, starved; {three:.0f} W through three"
'9 L/s: 1184 W through four jets, starved; 2104 W through three'
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Mapping

import numpy as np

from ..errors import Finding, HydrokitError
from ..units import Q_
from ..water import GRAVITY, density
from ..works.solve import bracketed_root
from ..works.state import CLEAN, State
from .curve import FULL, PART, STARVED, STATES, STOPPED, PlantCurve, trace
from .parts import Jets, Opening, Penstock, Runner, part_name

__all__ = ["FULL", "PART", "STARVED", "STATES", "STOPPED", "Bands", "Binding", "Chain", "Operation", "Running"]

_STILL = 1e-12  # share of the greatest power below which a machine stands still


@dataclass(frozen=True, eq=False)
class Bands:
    """How many jets stand open in each band of the flow that reaches the pond.

    Parameters
    ----------
    from_m3s : tuple of float
        Flow from which each number holds, rising, first 0.
    jets : tuple of int
    """

    from_m3s: tuple[float, ...]
    jets: tuple[int, ...]

    def __post_init__(self) -> None:
        if len(self.from_m3s) != len(self.jets) or not len(self.jets) or self.from_m3s[0] != 0 or np.any(np.diff(self.from_m3s) <= 0):
            raise HydrokitError("Bands: give rising flows, the first 0, and one number of jets for each")

    def jets_si(self, arriving_m3s: Any) -> Any:
        """Jets to open when this much arrives."""
        return np.asarray(self.jets)[np.maximum(np.searchsorted(self.from_m3s, arriving_m3s, side="right") - 1, 0)]


@dataclass(frozen=True, eq=False)
class Operation:
    """Where the plant settles. Floats or arrays, SI.

    Parameters
    ----------
    flow_m3s : offered by the creek
    used_m3s : through the jets
    net_head_m : at the jets while they run; 0 when stopped
    power_w : at the loads
    jets_open : jets or units; 0 when stopped
    state : `STOPPED`, `STARVED`, `PART` or `FULL`
    opening : which of ``jets.openings()``; -1 when stopped
    """

    flow_m3s: Any
    used_m3s: Any
    net_head_m: Any
    power_w: Any
    jets_open: Any
    state: Any
    opening: Any

    @property
    def used(self) -> Any:
        return Q_(self.used_m3s, "m^3/s")

    @property
    def net_head(self) -> Any:
        return Q_(self.net_head_m, "m")

    @property
    def power(self) -> Any:
        return Q_(self.power_w, "W")


@dataclass(frozen=True, eq=False)
class Binding:
    """Which part limits the power, and how far behind it the next one is.

    Parameters
    ----------
    flow_m3s : ndarray
        Offered by the creek.
    parts : tuple of str
        ``"creek"``, the supply parts, the jets, the penstock, the electrical parts with a limit.
    limit_w : ndarray
        One row a part: the net power if that part alone limited the plant. The power is the least.
    """

    flow_m3s: np.ndarray
    parts: tuple[str, ...]
    limit_w: np.ndarray

    @cached_property
    def _order(self) -> np.ndarray:
        return np.argsort(self.limit_w, axis=0, kind="stable")

    @property
    def power_w(self) -> np.ndarray:
        """Net power."""
        return self.limit_w.min(axis=0)

    @property
    def part(self) -> Any:
        """Name of the part that limits it."""
        return np.array(self.parts)[self._order[0]][()]

    @property
    def next_part(self) -> Any:
        """Name of the part that would limit it next."""
        return np.array(self.parts)[self._order[1]][()]

    @property
    def behind_w(self) -> np.ndarray:
        """Power to be won until the next part limits; 0 where two bind alike."""
        return np.take_along_axis(self.limit_w, self._order[1:2], axis=0)[0] - self.power_w


@dataclass(frozen=True, eq=False)
class Chain:
    """A plant.

    Parameters
    ----------
    penstock : Penstock
    jets : Jets
        ``parts.FixedJets`` or ``parts.Adjustable``.
    runner : Runner
    electric : tuple of ElectricPart
        Generator, cable, loads, in that order; none: the shaft's power counts.
    supply : tuple of SupplyPart
        What stands above the pond: screen, diversion line, meadow, basin.
    states : mapping of month to State, or 12 of them
        Clogging, air and ice by month; clean where not given.
    schedule : mapping of month to rule, or 12 of them
        What is done with the jets: None opens those that give most power, a number holds that many
        open whatever comes, :class:`Bands` goes by the flow that reaches the pond.
    density_kgm3 : float
        Of the water; that at 10 °C when not given.
    name : str

    Notes
    -----
    Any number in any part may be an array that broadcasts against the flow (not in :meth:`curve`).
    """

    penstock: Penstock
    jets: Jets
    runner: Runner
    electric: tuple[Any, ...] = ()
    supply: tuple[Any, ...] = ()
    states: Any = ()
    schedule: Any = ()
    density_kgm3: Any = field(default_factory=lambda: float(density.si()))
    name: str = "plant"

    def __post_init__(self) -> None:
        object.__setattr__(self, "states", _by_month(self.states, CLEAN, "states"))
        object.__setattr__(self, "schedule", _by_month(self.schedule, None, "schedule"))
        for rule in self.schedule:
            self._allowed(rule)
        bores = getattr(self.jets, "diameters_m", None)
        # A bucket must take the whole jet. Common practice: runner at least 6 times the jet, Turgo 4.
        if bores and self.runner.diameter_m is not None and 2.5 * max(bores) > self.runner.diameter_m:
            raise HydrokitError(
                f"{self.jets.name}: a jet of {1000 * max(bores):.0f} mm is too large for a runner of "
                f"{1000 * self.runner.diameter_m:.0f} mm; the runner must be several times the jet"
            )

    def replace(self, **changes: Any) -> "Chain":
        """The same plant with some of its parts changed."""
        return replace(self, **changes)

    def factors(self, head: Any = 1.0, loss: Any = 1.0, efficiency: Any = 1.0, jet_area: Any = 1.0) -> "Chain":
        """The same plant with its gross head, pipe loss, runner efficiency and jet area times coefficient scaled.

        An efficiency is not lifted above 1.
        """
        penstock, runner = self.penstock, self.runner
        best = getattr(runner.part_load, "best", None)
        factor = runner.efficiency_factor * np.asarray(efficiency)
        return replace(
            self,
            penstock=replace(penstock, head_factor=penstock.head_factor * head, loss_factor=penstock.loss_factor * loss),
            runner=replace(runner, efficiency_factor=factor if best is None else np.minimum(factor, 1 / best), design_flow_m3s=self.design_flow_m3s),
            jets=self.jets.sized(jet_area),
        )

    # --- how it settles ---------------------------------------------------------------------

    @cached_property
    def design_flow_m3s(self) -> Any:
        """Flow at which the runner's efficiency is that of full flow."""
        if self.runner.design_flow_m3s is not None:
            return self.runner.design_flow_m3s
        adjustable = getattr(self.jets, "design_flow_m3s", None)
        return _full_flow(self.penstock, self.jets.openings()[-1:], CLEAN)[0] if adjustable is None else adjustable

    def state_in(self, month: int | None) -> State:
        """State of the parts in a month; clean when no month is given."""
        return CLEAN if month is None else self.states[_month(month) - 1]

    def running(self, month: int | None = None, jets: Any = None) -> "Running":
        """The plant in the state of a month, its jets handled by a rule, ready to be asked at any flow.

        Parameters
        ----------
        month : int, optional
            1 to 12; none: clean parts, no schedule.
        jets : int, Bands or None
            Instead of the month's schedule.
        """
        rule = jets if jets is not None or month is None else self.schedule[_month(month) - 1]
        state = self.state_in(month)
        openings = self._allowed(rule)
        reaching = [part.capacity_si(state) for part in (*self.supply, self.penstock)]
        capacity = reaching[0]
        for each in reaching[1:]:
            capacity = np.minimum(capacity, each)
        return Running(self, state, rule, openings, _full_flow(self.penstock, openings, state), capacity)

    def _allowed(self, rule: Any) -> tuple[Opening, ...]:
        openings = self.jets.openings()
        if rule is None:
            return openings
        counts = set(rule.jets if isinstance(rule, Bands) else (rule,))
        found = tuple(opening for opening in openings if opening.count in counts)
        if counts - {opening.count for opening in found}:
            raise HydrokitError(
                f"{self.jets.name}: {max(counts)} of them cannot be open alone; "
                f"they open as {', '.join(str(count) for count in sorted({each.count for each in openings}))}"
            )
        return found

    def at_si(self, flow_m3s: Any, month: int | None = None, jets: Any = None) -> Operation:
        """Where the plant settles at flows the creek offers, of any shape. See :meth:`running`."""
        return self.running(month, jets).at_si(flow_m3s)

    def net_si(self, shaft_w: Any) -> Any:
        """Power at the loads in W from power at the shaft."""
        power = shaft_w
        for part in self.electric:
            power = np.minimum(part.output_si(power), getattr(part, "rated_w", np.inf))
        return power

    # --- what follows -----------------------------------------------------------------------

    def curve(self, month: int | None = None, jets: Any = None) -> PlantCurve:
        """Net power against the flow the creek offers, jumps and kinks kept.

        Raises
        ------
        HydrokitError
            A penstock that cannot feed its turbine; a chain that holds arrays.
        """
        running = self.running(month, jets)
        if np.ndim(running.at_si(np.zeros(1)).power_w) != 1 or np.size(running.full_m3s) != len(running.openings):
            raise HydrokitError(f"{self.name}: a curve needs parts made of numbers, not of arrays; use at_si() for arrays")
        self._refuse_unfed()
        return trace(running.at_si, running.knots_si(), running.highest_m3s)

    def curves(self) -> tuple[PlantCurve, ...]:
        """The curve of each month, January first; months that are alike share one."""
        of_month = {month: curve for months in self.alike() for curve in [self.curve(months[0])] for month in months}
        return tuple(of_month[month] for month in range(1, 13))

    def alike(self) -> tuple[tuple[int, ...], ...]:
        """Months that share a state and a rule for the jets."""
        groups: dict[Any, list[int]] = {}
        for month, (state, rule) in enumerate(zip(self.states, self.schedule), 1):
            groups.setdefault((id(state), rule), []).append(month)
        return tuple(tuple(months) for months in groups.values())

    def what_binds(self, flow_m3s: Any, month: int | None = None, jets: Any = None) -> Binding:
        """The part that limits the power at each flow, and how far the next is behind.

        Each part's limit is the net power the plant would give if that part alone held it back:
        the creek's, with the intake wide open; a screen's, with water to spare; the jets', fully
        fed; the penstock's, with jets of the best size; a generator's, at its rating.
        """
        running = self.running(month, jets)
        flow = np.asarray(flow_m3s, dtype=float)
        unlimited = replace(running, capacity_m3s=np.inf)
        limits = {"creek": unlimited.shaft_si(flow)}
        for part in (*self.supply, *([self.penstock.mouth] if self.penstock.mouth is not None else [])):
            limits[part_name(part)] = unlimited.shaft_si(part.capacity_si(running.state))
        limits[part_name(self.jets)] = unlimited.shaft_si(np.inf)
        limits[part_name(self.penstock)] = self._best_shaft_si(running)
        limits = {name: _through(self.electric, power) for name, power in limits.items()}
        for place, part in enumerate(self.electric):
            if np.isfinite(getattr(part, "rated_w", np.inf)):
                limits[part_name(part)] = _through(self.electric[place + 1 :], part.rated_w)
        rows = [np.broadcast_to(power, flow.shape) for power in limits.values()]
        return Binding(flow, tuple(limits), np.stack(rows))

    def _best_shaft_si(self, running: "Running") -> Any:
        """Shaft power with jets of the best size, full efficiency and no end of water."""
        free = _free_flow(self.penstock, running.state)
        best = self.penstock.most_power_flow_si(free, running.state)
        jets = running.shaft_si(np.inf)
        head = np.maximum(self.penstock.head_si(best, running.state), 0.0)
        return np.maximum(jets, self.density_kgm3 * GRAVITY * best * head * self.runner.efficiency_si(1.0))

    def _refuse_unfed(self) -> None:
        wanted = getattr(self.jets, "design_flow_m3s", None)
        if wanted is not None and self.penstock.head_si(wanted) <= 0:
            raise HydrokitError(
                f"{self.penstock.name}: it cannot feed the {self.jets.name}: at {1000 * wanted:.3g} L/s it would lose "
                f"{self.penstock.loss_si(wanted):.3g} m of its {float(self.penstock.static_si()):.3g} m"
            )

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What a reader must know about this plant, its parts clean."""
        found = []
        full = self.at_si(np.inf, jets=self.jets.openings()[-1].count)
        static, used = np.asarray(self.penstock.static_si()), np.asarray(full.used_m3s)
        share = self.penstock.loss_si(used) / static
        if np.any(share > 1 / 3):
            text = f"it loses {np.max(share):.0%} of the head when everything is open; past a third, more water gives less power"
            found.append(Finding("problem", self.penstock.name, text))
        line = self.penstock.line
        if hasattr(line, "findings_si"):
            found += line.findings_si(used, self.penstock.viscosity_m2s)
        power = full.used_m3s * full.net_head_m * self.density_kgm3 * GRAVITY * self.runner.efficiency_si(1.0)
        for part in self.electric:
            delivered, most = part.output_si(power), getattr(part, "rated_w", np.inf)
            if np.any(delivered > 1.001 * most):
                text = f"rated {most:.0f} W, but {np.max(delivered):.0f} W can come; what is above is not counted, and must have somewhere to go"
                found.append(Finding("caution", part_name(part), text))
            power = np.minimum(delivered, most)
        return tuple(found)


@dataclass(frozen=True, eq=False)
class Running:
    """A chain in one state, its jets handled by one rule; made by :meth:`Chain.running`.

    Parameters
    ----------
    chain : Chain
    state : State
    rule : None, int or Bands
    openings : tuple of Opening
        Those the rule may choose.
    full_m3s : ndarray
        Along its first axis: flow each opening takes when fed.
    capacity_m3s : float or ndarray
        Most that reaches the jets, whatever the creek carries.
    """

    chain: Chain
    state: State
    rule: Any
    openings: tuple[Opening, ...]
    full_m3s: np.ndarray
    capacity_m3s: Any

    def at_si(self, flow_m3s: Any) -> Operation:
        """Where it settles at flows of any shape; NaN stays NaN."""
        flow = np.asarray(flow_m3s, dtype=float)
        arriving = np.minimum(np.maximum(flow, 0.0), self.capacity_m3s)
        used, head, shaft, starved, opening = self._settle(arriving)
        runs = shaft > _STILL * self._top_w
        state = np.where(starved, STARVED, np.where(shaft >= self._top_w * (1 - 1e-12), FULL, PART))
        counts = np.array([each.count for each in self.openings])
        unknown = np.isnan(arriving)
        return Operation(
            flow[()],
            np.where(unknown, np.nan, np.where(runs, used, 0.0))[()],
            np.where(unknown, np.nan, np.where(runs, head, 0.0))[()],
            np.where(unknown, np.nan, self.chain.net_si(np.where(runs, shaft, 0.0)))[()],
            np.where(runs, counts[opening], 0)[()],
            np.where(runs, state, STOPPED)[()],
            np.where(runs, opening, -1)[()],
        )

    @cached_property
    def _top_w(self) -> Any:
        return self._settle(np.asarray(self.capacity_m3s, dtype=float))[2]

    def shaft_si(self, flow_m3s: Any) -> Any:
        """Power in W at the shaft."""
        return self._settle(np.minimum(flow_m3s, self.capacity_m3s))[2]

    def _settle(self, arriving: Any) -> tuple[Any, ...]:
        """Used flow, head, shaft power, starved, opening: those of the opening that gives most."""
        wanted = self.rule.jets_si(arriving) if isinstance(self.rule, Bands) else None
        best = None
        for number, (opening, full) in enumerate(zip(self.openings, self.full_m3s)):
            used = np.minimum(arriving, full)
            head, shaft = self._power_of(opening, used)
            starved = (arriving < full) if opening.area_m2 is not None else np.zeros(np.shape(used), dtype=bool)
            if wanted is not None:
                shaft = np.where(wanted == opening.count, shaft, -1.0)
            this = (used, head, shaft, starved, np.full(np.shape(shaft), number))
            if best is None:
                best = this
            else:
                # an equal power is not worth another jet
                better = shaft > best[2] + 1e-12 * np.abs(best[2])
                best = tuple(np.where(better, new, old) for new, old in zip(this, best))
        return best

    def _power_of(self, opening: Opening, used: Any) -> tuple[Any, Any]:
        chain, runner = self.chain, self.chain.runner
        if opening.area_m2 is None:
            head = np.maximum(chain.penstock.head_si(used, self.state), 0.0)
        else:
            # fed or starved alike: the water stands as high as these jets need to pass it
            head = np.square(used / opening.area_m2) / (2 * GRAVITY)
        ratio = used / (chain.design_flow_m3s * opening.units / opening.of_units)
        shaft = chain.density_kgm3 * GRAVITY * used * head * runner.efficiency_si(ratio)
        return head, np.where(used < runner.minimum_flow_m3s * opening.units, 0.0, shaft)

    @property
    def highest_m3s(self) -> float:
        """Flow beyond which nothing changes."""
        edges = self.rule.from_m3s if isinstance(self.rule, Bands) else ()
        highest = min(float(max(np.max(self.full_m3s), *edges, 0.0)), float(self.capacity_m3s))
        return highest if highest > 0 else 1e-3

    def knots_si(self) -> np.ndarray:
        """Flows at which the curve is known to bend or jump."""
        runner, knots = self.chain.runner, [np.ravel(self.full_m3s)]
        ratios = np.append(getattr(runner.part_load, "flow_ratios", ()), getattr(runner.part_load, "minimum_ratio", 0.0))
        for opening in self.openings:
            knots.append(ratios * self.chain.design_flow_m3s * opening.units / opening.of_units)
            knots.append([runner.minimum_flow_m3s * opening.units])
        if isinstance(self.rule, Bands):
            knots.append(self.rule.from_m3s)
        return np.concatenate(knots)


def _full_flow(penstock: Penstock, openings: tuple[Opening, ...], state: State) -> np.ndarray:
    """Flow in m³/s of each opening when fed, along the first axis.

    Fixed jets: where the head left by the penstock is the head the jets need. An adjustable
    machine: what it takes at most, less where a smaller flow gives more power.
    """
    static = np.asarray(penstock.static_si(state), dtype=float)
    if openings[0].area_m2 is None:
        most = np.stack(np.broadcast_arrays(*(np.asarray(each.most_m3s, dtype=float) for each in openings)))
        return np.where(static > 0, penstock.most_power_flow_si(most, state), 0.0)
    area = np.stack(np.broadcast_arrays(*(np.asarray(each.area_m2, dtype=float) for each in openings)))
    area, static = np.broadcast_arrays(area, static)
    unhindered = area * np.sqrt(2 * GRAVITY * np.maximum(static, 0.0))

    def spare(share):
        # share of the head that is left at the jets; flow goes with its root
        return static * (1 - share) - penstock.loss_si(unhindered * np.sqrt(share), state)

    left = bracketed_root(spare, np.zeros(area.shape), np.ones(area.shape), steps=16)
    return np.where(static > 0, unhindered * np.sqrt(left), 0.0)


def _free_flow(penstock: Penstock, state: State) -> Any:
    """Flow at which the penstock alone would use up the head, or a great one where it has no loss."""
    static = float(np.max(penstock.static_si(state)))
    flow = 1e-3
    while flow < 1e3 and np.all(penstock.loss_si(flow, state) < static):
        flow *= 2
    return flow


def _through(electric: tuple[Any, ...], power: Any) -> Any:
    """Power at the loads if no electrical part had a limit."""
    for part in electric:
        power = part.output_si(power)
    return power


def _month(month: int) -> int:
    if month not in range(1, 13):
        raise HydrokitError(f"month must be 1 to 12, got {month!r}")
    return int(month)


def _by_month(given: Any, otherwise: Any, name: str) -> tuple[Any, ...]:
    if isinstance(given, Mapping):
        for month in given:
            _month(month)
        return tuple(given.get(month, otherwise) for month in range(1, 13))
    given = tuple(given)
    if len(given) not in (0, 12):
        raise HydrokitError(f"Chain: {name} needs 12 entries, January first, or a mapping of months; got {len(given)}")
    return given or (otherwise,) * 12
