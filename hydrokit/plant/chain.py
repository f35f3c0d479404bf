"""The chain: a plant as parts in the order in which water meets them.

Supply parts, pond, penstock, jets, runner, generator, cable, loads. From the parts follow, with no
special cases, where the plant settles at any flow, what limits it, and its curve of power.

>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(60e3), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.6)))
>>> four, three = (plant.at_si(0.009, jets=jets).power_w for jets in (4, 3))
>>> f"9 L/s: {four:.0f} W through four jets, under-fed; {three:.0f} W through three"
'9 L/s: 1184 W through four jets, under-fed; 2104 W through three'
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Mapping

import numpy as np

from ..errors import Finding, HydrokitError
from ..result import Result
from ..sentences import Amount, Sentence
from ..water import GRAVITY, density
from ..works.state import CLEAN, State
from .best_flow import best_flow
from .curve import FULL, PART, STATES, STOPPED, UNDER_FED, PlantCurve, trace
from .months import by_month, month_of
from .operation import Bands, Limiting, Operation, Passage, Running, full_flow
from .parts import Jets, Opening, Penstock, Runner, part_name
from .pelton import Suited

if TYPE_CHECKING:
    from ..units import Floats, Number
    from ..works.rated import Rated

__all__ = [
    "FULL",
    "PART",
    "UNDER_FED",
    "STATES",
    "STOPPED",
    "Bands",
    "Limiting",
    "Chain",
    "Operation",
    "Passage",
    "PlantCurve",
    "Running",
    "state_of",
]


@dataclass(frozen=True, eq=False)
class Chain(Result):
    """A plant.

    Parameters
    ----------
    penstock : Penstock
    jets : Jets
        ``parts.FixedJets`` or ``parts.Adjustable``.
    runner : Runner
    electric : tuple of ElectricPart
        Generator, cable, loads, in that order; none: the shaft's power counts.
    supply : tuple of works.state.Part
        What stands above the pond: screen, diversion line, open ground, basin. Their capacities count,
        not their heads: those end above the pond.
    states : mapping of month, or 12 of them
        Clogging, air and ice by month: a State for all parts, or a mapping from a part's name to its
        own; clean where not given. A screen at the penstock's inlet shares the penstock's.
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
    _: KW_ONLY
    electric: tuple[Any, ...] = ()
    supply: tuple[Any, ...] = ()
    states: Any = ()
    schedule: Sequence[int | None] = ()
    density_kgm3: float = field(default_factory=lambda: float(density.si()))
    name: str = "plant"

    def __post_init__(self) -> None:
        object.__setattr__(self, "states", by_month(self.states, CLEAN, "states"))
        object.__setattr__(self, "schedule", by_month(self.schedule, None, "schedule"))
        for rule in set(self.schedule) - {None}:
            self._allowed(rule)
        names = {part_name(part) for part in (*self.supply, self.penstock)}
        for told in self.states:
            strange = set() if isinstance(told, State) else set(told) - names
            if strange:
                raise HydrokitError(
                    f"{self.name}: states name '{min(strange)}', which is not a part of its "
                    f"water's way; its parts are {', '.join(sorted(names))}"
                )
        bores = getattr(self.jets, "diameters_m", None)
        # A bucket must take the whole jet. Common practice: runner at least 6 times the jet, Turgo 4.
        if (
            bores
            and self.runner.diameter_m is not None
            and 2.5 * max(bores) > self.runner.diameter_m
        ):
            raise HydrokitError(
                Sentence(
                    "{name}: a jet of {jet} is too large for a runner of {runner}; the runner "
                    "must be several times the jet",
                    name=self.jets.name,
                    jet=Amount(max(bores), "diameter"),
                    runner=Amount(self.runner.diameter_m, "diameter"),
                )
            )

    def replace(self, **changes: Any) -> Chain:
        """The same plant with some of its parts changed."""
        return replace(self, **changes)

    def factors(
        self,
        head: Number = 1.0,
        loss: Number = 1.0,
        efficiency: Number = 1.0,
        jet_area: Number = 1.0,
    ) -> Chain:
        """The same plant with its gross head, pipe loss, runner efficiency and jet area times
        coefficient scaled.

        An efficiency is not lifted above 1.
        """
        penstock, runner = self.penstock, self.runner
        best = self.best_efficiency
        factor = runner.efficiency_factor * np.asarray(efficiency)
        return replace(
            self,
            penstock=replace(
                penstock,
                head_factor=penstock.head_factor * head,
                loss_factor=penstock.loss_factor * loss,
            ),
            runner=replace(
                runner,
                efficiency_factor=factor if best is None else np.minimum(factor, 1 / best),
                design_flow_m3s=self.design_flow_m3s,
            ),
            jets=self.jets.sized(jet_area),
        )

    @cached_property
    def best_efficiency(self) -> float | None:
        """Best efficiency of the runner, or of any set of machines, as its curve has it; None where
        that is not known."""
        return max(
            (
                getattr(each.part_load or self.runner.part_load, "best", None)
                for each in self.jets.openings()
            ),
            key=lambda best: best or 0.0,
        )

    # --- how it settles ---------------------------------------------------------------------

    @cached_property
    def design_flow_m3s(self) -> Number:
        """Flow at which the runner's efficiency is that of full flow."""
        if self.runner.design_flow_m3s is not None:
            return self.runner.design_flow_m3s
        adjustable = getattr(self.jets, "design_flow_m3s", None)
        return (
            full_flow(self, self.jets.openings()[-1:], CLEAN)[0]
            if adjustable is None
            else adjustable
        )

    @cached_property
    def design_area_m2(self) -> Number | None:
        """Jet area times coefficient, of fixed jets, at which the runner's efficiency is that of full
        flow; None where it goes by the flow."""
        known = self.runner.design_area_m2
        return None if known is None else known * getattr(self.jets, "area_factor", 1.0)

    def state_in(self, month: int | None) -> State | Mapping[str, State]:
        """State of the parts in a month, to be read by :func:`state_of`; clean when no month is given."""
        return CLEAN if month is None else self.states[month_of(month) - 1]

    def running(self, month: int | None = None, jets: int | None = None) -> Running:
        """The plant in the state of a month, its jets handled by a rule, ready to be asked at any flow.

        Parameters
        ----------
        month : int, optional
            1 to 12; none: clean parts, no schedule.
        jets : int, Bands or None
            Instead of the month's schedule.
        """
        rule = jets if jets is not None or month is None else self.schedule[month_of(month) - 1]
        state = state_of(self.state_in(month), self.penstock)
        openings = self._allowed(rule)
        passage, limits = self.reaching_si(month)
        capacity: Number = np.inf
        for limit in limits.values():
            capacity = np.minimum(capacity, limit)
        full = self._fed_si(rule, openings, state)
        suited = self._suited_si(rule, openings)
        return Running(
            self,
            state,
            rule,
            openings=openings,
            full_m3s=full,
            suited_m=suited,
            capacity_m3s=capacity,
            passage=passage,
        )

    def _fed_si(self, rule: int | None, openings: tuple[Opening, ...], state: State) -> np.ndarray:
        """Flow in m³/s of each opening when fed."""
        known = (rule, id(state))
        if known not in self._fed:
            self._fed[known] = full_flow(self, openings, state)
        return self._fed[known]

    def _suited_si(self, rule: int | None, openings: tuple[Opening, ...]) -> Floats:
        """Head in m that the runner's speed suits with each opening: that of its fed jets under the
        clean pipe it was set for."""
        if openings[0].area_m2 is None:
            return np.full(len(openings), np.nan)
        area = np.stack(np.broadcast_arrays(*(np.asarray(each.area_m2) for each in openings)))
        if self.runner.suited is not None:
            return self.runner.suited.head_si(area)
        return np.square(self._fed_si(rule, openings, CLEAN) / area) / (2 * GRAVITY)

    def installed(self) -> Chain:
        """The same plant, its runner held to the speed it has now, whatever is then changed around it."""
        openings = self.jets.openings()
        if openings[0].area_m2 is None or self.runner.suited is not None:
            return self
        heads = self._suited_si(None, openings)
        areas = np.array([float(each.area_m2) for each in openings])
        return replace(self, runner=replace(self.runner, suited=Suited(areas, heads)))

    @cached_property
    def _fed(self) -> dict[tuple[Any, int], Any]:
        """Flows of the fed jets as they were worked out: most months differ above the pond only."""
        return {}

    def reaching_si(self, month: int | None = None) -> tuple[Passage, dict[str, Number]]:
        """What the leaks on the way leave of the water, and what each part alone lets come to the
        jets, in m³/s."""
        told, passage = self.state_in(month), Passage()
        limits: dict[str, Any] = {}
        way = [(part, state_of(told, part)) for part in self.supply]
        if self.penstock.inlet is not None:
            way.append((self.penstock.inlet, state_of(told, self.penstock)))
        for part, state in way:
            passage, only = passage.through(part), Passage().through(part)
            limits = {name: only.leaves_si(limit) for name, limit in limits.items()}
            limits[_unused(part_name(part), limits)] = part.capacity_si(state)
        return passage, limits

    def _allowed(self, rule: int | None) -> tuple[Opening, ...]:
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

    def at_si(
        self, flow_m3s: Number, month: int | None = None, jets: int | None = None
    ) -> Operation:
        """Where the plant settles at flows the creek offers, of any shape. See :meth:`running`."""
        return self.running(month, jets).at_si(flow_m3s)

    def net_si(self, shaft_w: Number) -> Number:
        """Power at the loads in W from power at the shaft."""
        power = shaft_w
        for part in self.electric:
            power = np.minimum(part.output_si(power), getattr(part, "rated_w", np.inf))
        return power

    # --- what follows -----------------------------------------------------------------------

    def curve(
        self, month: int | None = None, jets: int | None = None, sketched: bool = False
    ) -> PlantCurve:
        """Net power against the flow the creek offers, jumps and kinks kept.

        Parameters
        ----------
        month, jets : optional
            As of :meth:`running`.
        sketched : bool
            On an even grid and the known knots alone: ten times as quick, right to about a thousandth.

        Raises
        ------
        HydrokitError
            A penstock that cannot feed its turbine; a chain that holds arrays.
        """
        running = self.running(month, jets)
        if np.ndim(running.at_si(np.zeros(1)).power_w) != 1 or np.size(running.full_m3s) != len(
            running.openings
        ):
            raise HydrokitError(
                f"{self.name}: a curve needs parts made of numbers, not of arrays; use at_si() for arrays"
            )
        self._refuse_unfed()
        return trace(running.at_si, running.knots_si(), running.highest_m3s, sketched)

    def curves(self) -> tuple[PlantCurve, ...]:
        """The curve of each month, January first; months that are alike share one."""
        of_month = {
            month: curve
            for months in self.alike()
            for curve in [self.curve(months[0])]
            for month in months
        }
        return tuple(of_month[month] for month in range(1, 13))

    def most_taken(self) -> np.ndarray:
        """Most that the plant takes at the intake in each month, January first, in m³/s: that of
        its curves, without tracing them."""
        of_month = {
            month: most
            for months in self.alike()
            for most in [self.running(months[0]).most_taken_m3s]
            for month in months
        }
        return np.array([of_month[month] for month in range(1, 13)])

    def alike(self) -> tuple[tuple[int, ...], ...]:
        """Months that share a state and a rule for the jets."""
        groups: dict[Any, list[int]] = {}
        for month, (state, rule) in enumerate(zip(self.states, self.schedule), 1):
            groups.setdefault((id(state), rule), []).append(month)
        return tuple(tuple(months) for months in groups.values())

    def limiting_component(
        self,
        flow_m3s: Floats,
        month: int | None = None,
        jets: int | None = None,
        licence_m3s: float = np.inf,
    ) -> Limiting:
        """The part that limits the power at each flow, and how far the next is behind.

        Each part's limit is the net power the plant would give if that part alone held it back:
        the creek's, with the intake wide open; a screen's, with water to spare; the jets', fully
        fed; the penstock's, with jets of the best size; a generator's, at its rating. Water beyond
        what the jets take counts with jets of the best size too: it is not the water that is short.
        A licence limits by itself: where all of it is offered the creek may have more.
        """
        running = self.running(month, jets)
        flow = np.asarray(flow_m3s, dtype=float)
        unlimited = replace(running, capacity_m3s=np.inf)
        creek = np.where(flow >= licence_m3s * (1 - 1e-9), np.inf, flow)
        reaching = {
            "creek": running.passage.leaves_si(creek),
            **(
                {"licence": running.passage.leaves_si(licence_m3s)}
                if np.isfinite(licence_m3s)
                else {}
            ),
            **self.reaching_si(month)[1],
            part_name(self.jets): np.inf,
        }
        most = np.max(running.full_m3s, axis=0)
        # Beyond the flow of most power it is the penstock that limits, whatever passes more.
        enough = np.maximum(most, best_flow(self.penstock, running.state))
        none = {
            name: np.asarray(limit >= enough)
            for name, limit in reaching.items()
            if name != part_name(self.jets)
        }
        limits = {
            name: np.where(
                limit >= most, self._with_best_jets_si(limit, unlimited), unlimited.shaft_si(limit)
            )
            for name, limit in reaching.items()
        }
        limits[part_name(self.jets)] = unlimited.shaft_si(np.inf)
        limits[_unused(part_name(self.penstock), limits)] = self._best_shaft_si(unlimited)
        limits = {
            name: np.where(none.get(name, False), np.inf, _through(self.electric, power))
            for name, power in limits.items()
        }
        for place, part in enumerate(self.electric):
            if np.isfinite(getattr(part, "rated_w", np.inf)):
                limits[_unused(part_name(part), limits)] = _through(
                    self.electric[place + 1 :], part.rated_w
                )
        rows = [np.broadcast_to(power, flow.shape) for power in limits.values()]
        reach = [np.broadcast_to(reaching.get(name, np.inf), flow.shape) for name in limits]
        return Limiting(flow, tuple(limits), limit_w=np.stack(rows), reach_m3s=np.stack(reach))

    def _best_shaft_si(self, running: Running) -> Any:
        """Shaft power with jets of the best size, full efficiency and no end of water."""
        return self._with_best_jets_si(np.inf, running)

    def _with_best_jets_si(self, flow_m3s: Number, running: Running) -> Number:
        """Shaft power of a flow with jets of the best size and full efficiency; never less than
        that of the jets there are."""
        best = np.minimum(flow_m3s, best_flow(self.penstock, running.state))
        head = np.maximum(self.penstock.head_si(best, running.state), 0.0)
        return np.maximum(
            running.shaft_si(np.inf),
            self.density_kgm3 * GRAVITY * best * head * self.runner.efficiency_si(1.0),
        )

    def _refuse_unfed(self) -> None:
        wanted = getattr(self.jets, "design_flow_m3s", None)
        if wanted is not None and self.penstock.head_si(wanted) <= 0:
            raise HydrokitError(
                Sentence(
                    "{pipe}: it cannot feed the {jets}: at {flow} it would lose {loss} of its {head}",
                    pipe=self.penstock.name,
                    jets=self.jets.name,
                    flow=Amount(wanted, "flow"),
                    loss=Amount(self.penstock.loss_si(wanted), "head"),
                    head=Amount(self.penstock.static_si(), "head"),
                )
            )

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What a reader must know about this plant, its parts clean."""
        found = []
        full = self.at_si(np.inf, jets=self.jets.openings()[-1].count)
        static, used = np.asarray(self.penstock.static_si()), np.asarray(full.used_m3s)
        share = self.penstock.loss_si(used) / static
        if np.any(share > 1 / 3):
            text = Sentence(
                "it loses {share} of the head when everything is open; past a third, more "
                "water gives less power",
                share=Amount(np.max(share), "share", 2),
            )
            found.append(Finding("problem", self.penstock.name, text))
        line = self.penstock.line
        if hasattr(line, "findings_si"):
            found += line.findings_si(used, self.penstock.viscosity_m2s)
        power = (
            full.used_m3s
            * full.net_head_m
            * self.density_kgm3
            * GRAVITY
            * self.runner.efficiency_si(1.0)
        )
        for part in self.electric:
            delivered, most = part.output_si(power), getattr(part, "rated_w", np.inf)
            if np.any(delivered > 1.001 * most):
                rated = Sentence(
                    "rated {rated}, but {coming} can come; the power above its rating is not "
                    "counted, and needs a load that takes it",
                    rated=Amount(most, "power"),
                    coming=Amount(np.max(delivered), "power"),
                )
                found.append(Finding("caution", part_name(part), rated))
            power = np.minimum(delivered, most)
        return tuple(found)


def state_of(told: State | Mapping[str, State], part: Penstock | Rated) -> State:
    """State of one part, where a month tells one for all parts or one for each name."""
    return told if isinstance(told, State) else told.get(part_name(part), CLEAN)


def _through(electric: tuple[Any, ...], power: Number) -> Any:
    """Power at the loads if no electrical part had a limit."""
    for part in electric:
        power = part.output_si(power)
    return power


def _unused(name: str, taken: Any) -> str:
    """The name, numbered where two parts share it."""
    number = sum(each == name or each.startswith(f"{name} (") for each in taken)
    return name if number == 0 else f"{name} ({number + 1})"
