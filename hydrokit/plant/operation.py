"""Where a plant settles at a flow: which jets run, under what head, and what limits the power."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from ..errors import HydrokitError
from ..units import Q_, Floats, Number, Quantity
from ..water import GRAVITY
from ..works.solve import bracketed_root
from ..works.state import State
from .curve import FULL, PART, STOPPED, UNDER_FED
from .parts import Opening, Penstock, Runner
from .runner_speed import FOLLOWS

if TYPE_CHECKING:
    from ..units import Alike
    from ..works.rated import Rated

__all__ = ["Bands", "Limiting", "Operation", "Passage", "Running"]

_STILL = 1e-12  # share of the greatest power below which a machine stands still


class Driven(Protocol):
    """What must be known of a plant to find where it settles; a :class:`Chain` knows it."""

    @property
    def penstock(self) -> Penstock: ...

    @property
    def runner(self) -> Runner: ...

    @property
    def density_kgm3(self) -> float: ...

    @property
    def design_flow_m3s(self) -> Number: ...

    @property
    def design_area_m2(self) -> Number | None: ...

    def net_si(self, shaft_w: Number) -> Number: ...


@dataclass(frozen=True, eq=False)
class Passage:
    """What leaks leave of the water on its way: a share of it, less a steady amount.

    Parameters
    ----------
    share : float or ndarray
    lost_m3s : float or ndarray
        Seepage: as much from a little water as from plenty, as long as there is any.
    """

    share: Number = 1.0
    lost_m3s: Number = 0.0

    def through(self, part: Rated) -> Passage:
        """With what one more part below takes off."""
        left = 1 - getattr(part, "share_lost", 0.0)
        return Passage(self.share * left, self.lost_m3s * left + getattr(part, "lost_m3s", 0.0))

    def leaves_si(self, flow_m3s: Number) -> Number:
        """What is left at the lower end of a flow at the upper one."""
        return np.maximum(flow_m3s * self.share - self.lost_m3s, 0.0)

    def needs_si(self, flow_m3s: Alike) -> Alike:
        """Flow at the upper end that leaves so much at the lower one."""
        return (flow_m3s + self.lost_m3s) / np.maximum(self.share, 1e-12)


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
        if (
            len(self.from_m3s) != len(self.jets)
            or not len(self.jets)
            or self.from_m3s[0] != 0
            or np.any(np.diff(self.from_m3s) <= 0)
        ):
            raise HydrokitError(
                "Bands: give rising flows, the first 0, and one number of jets for each"
            )

    def jets_si(self, arriving_m3s: Number) -> Number:
        """Jets to open when this much arrives."""
        return np.asarray(self.jets)[
            np.maximum(np.searchsorted(self.from_m3s, arriving_m3s, side="right") - 1, 0)
        ]


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
    state : `STOPPED` (no net power, though water may run), `UNDER_FED`, `PART` or `FULL`
    opening : which of ``jets.openings()``; -1 when stopped
    """

    flow_m3s: Alike
    used_m3s: Number
    net_head_m: Number
    _: KW_ONLY
    power_w: np.ndarray
    jets_open: np.ndarray
    state: np.ndarray
    opening: np.ndarray

    @property
    def used(self) -> Quantity:
        return Q_(self.used_m3s, "m^3/s")

    @property
    def net_head(self) -> Quantity:
        return Q_(self.net_head_m, "m")

    @property
    def power(self) -> Quantity:
        return Q_(self.power_w, "W")


@dataclass(frozen=True, eq=False)
class Limiting:
    """Which part limits the power, and how far behind it the next one is.

    Parameters
    ----------
    flow_m3s : ndarray
        Offered by the creek.
    parts : tuple of str
        ``"creek"``, ``"licence"`` where there is one, the supply parts, the jets, the penstock, the
        electrical parts with a limit.
    limit_w : ndarray
        One row a part: the net power if that part alone limited the plant. The power is the least.
    reach_m3s : ndarray
        One row a part: the flow that it alone would let reach the jets. Of parts that limit the power
        alike, as those between two numbers of jets do, the one that passes least comes first.
    """

    flow_m3s: np.ndarray
    parts: tuple[str, ...]
    _: KW_ONLY
    limit_w: np.ndarray
    reach_m3s: np.ndarray

    @cached_property
    def _order(self) -> np.ndarray:
        return np.lexsort((self.reach_m3s, self.limit_w), axis=0)

    @property
    def power_w(self) -> np.ndarray:
        """Net power."""
        return self.limit_w.min(axis=0)

    @property
    def part(self) -> np.ndarray:
        """Name of the part that limits it."""
        return np.array(self.parts)[self._order[0]]

    @property
    def next_part(self) -> np.ndarray:
        """Name of the part that would limit it next."""
        return np.array(self.parts)[self._order[1]]

    @property
    def behind_w(self) -> np.ndarray:
        """Power to be won until the next part limits; 0 where two limit alike."""
        return np.take_along_axis(self.limit_w, self._order[1:2], axis=0)[0] - self.power_w


@dataclass(frozen=True, eq=False)
class Running:
    """A chain in one state, its jets handled by one rule; made by :meth:`Chain.running`.

    Parameters
    ----------
    chain : Driven
    state : State
    rule : None, int or Bands
    openings : tuple of Opening
        Those the rule may choose.
    full_m3s : ndarray
        Along its first axis: flow each opening takes when fed.
    suited_m : ndarray
        Along its first axis: head that the speed of the runner suits with this opening.
    capacity_m3s : float or ndarray
        Most that reaches the jets, whatever the creek carries.
    passage : Passage
        What is left of the water taken when it comes to the jets.
    """

    chain: Driven
    state: State
    rule: Bands | int | None
    _: KW_ONLY
    openings: tuple[Opening, ...]
    full_m3s: np.ndarray
    suited_m: np.ndarray
    capacity_m3s: Any
    passage: Passage = Passage()

    def at_si(self, flow_m3s: Number) -> Operation:
        """Where it settles at flows of any shape; NaN stays NaN."""
        flow = np.asarray(flow_m3s, dtype=float)
        arriving = np.minimum(self.passage.leaves_si(np.maximum(flow, 0.0)), self.capacity_m3s)
        used, head, shaft, under_fed, opening = self._settle(arriving)
        runs = shaft > _STILL * self._top_w
        net = self.chain.net_si(np.where(runs, shaft, 0.0))
        state = np.where(
            under_fed, UNDER_FED, np.where(shaft >= self._top_w * (1 - 1e-12), FULL, PART)
        )
        counts = np.array([each.count for each in self.openings])
        unknown = np.isnan(arriving)
        return Operation(
            flow[()],
            np.where(unknown, np.nan, np.where(runs, used, 0.0))[()],
            np.where(unknown, np.nan, np.where(runs, head, 0.0))[()],
            power_w=np.where(unknown, np.nan, net)[()],
            jets_open=np.where(runs, counts[opening], 0)[()],
            # by the watts at the end: a machine that covers no more than its own losses may turn,
            # but gives nothing
            state=np.where(net > _STILL * self._top_w, state, STOPPED)[()],
            opening=np.where(runs, opening, -1)[()],
        )

    @cached_property
    def _top_w(self) -> Floats:
        return self._settle(np.asarray(self.capacity_m3s, dtype=float))[2]

    def shaft_si(self, arriving_m3s: Number) -> Floats:
        """Power in W at the shaft, from what comes to the jets."""
        return self._settle(np.minimum(arriving_m3s, self.capacity_m3s))[2]

    def _settle(self, arriving: Number) -> tuple[Any, ...]:
        """Used flow, head, shaft power, under-fed, opening: those of the opening that gives most."""
        wanted = self.rule.jets_si(arriving) if isinstance(self.rule, Bands) else None
        best: tuple[Any, ...] = ()
        for number, (opening, full) in enumerate(zip(self.openings, self.full_m3s)):
            used = np.minimum(arriving, full)
            head, shaft = self._power_of(number, used)
            under_fed = (
                (arriving < full)
                if opening.area_m2 is not None
                else np.zeros(np.shape(used), dtype=bool)
            )
            if wanted is not None:
                shaft = np.where(wanted == opening.count, shaft, -1.0)
            this = (used, head, shaft, under_fed, np.full(np.shape(shaft), number))
            if not best:
                best = this
            else:
                # an equal power is not worth another jet
                better = shaft > best[2] + 1e-12 * np.abs(best[2])
                best = tuple(np.where(better, new, old) for new, old in zip(this, best))
        return best

    def _power_of(self, number: int, used: Number) -> tuple[Any, Any]:
        """Head at the jets and power at the shaft of one opening."""
        chain, runner, opening = self.chain, self.chain.runner, self.openings[number]
        if opening.area_m2 is None:
            head = np.maximum(chain.penstock.head_si(used, self.state), 0.0)
        else:
            # fed or under-fed alike: the water stands as high as these jets need to pass it
            head = np.square(used / opening.area_m2) / (2 * GRAVITY)
        ratio = used / opening.rated_si(chain.design_flow_m3s)
        if opening.area_m2 is not None and chain.design_area_m2 is not None:
            ratio = opening.area_m2 / chain.design_area_m2  # as many jets play, fed or under-fed
        shaft = (
            chain.density_kgm3
            * GRAVITY
            * used
            * head
            * runner.efficiency_si(ratio, opening.part_load)
        )
        if opening.area_m2 is not None:
            # a speed that is held suits a jet less that is slower than usual, or faster
            speed = getattr(opening.part_load or runner.part_load, "speed", FOLLOWS)
            suited = self.suited_m[number]
            shaft = shaft * speed.efficiency_si(head / np.where(suited > 0, suited, np.inf))
        return head, np.where(used < runner.minimum_flow_m3s * opening.units, 0.0, shaft)

    @property
    def highest_m3s(self) -> float:
        """Flow offered beyond which nothing changes."""
        edges = self.rule.from_m3s if isinstance(self.rule, Bands) else ()
        highest = min(float(max(np.max(self.full_m3s), *edges, 0.0)), float(self.capacity_m3s))
        return float(self.passage.needs_si(highest)) if highest * self.passage.share > 0 else 1e-3

    @property
    def most_taken_m3s(self) -> float:
        """Most that the creek must offer: the flow of the jets with water to spare, and what leaks
        away before it comes to them."""
        if isinstance(self.rule, Bands):
            return self.highest_m3s
        used = float(self.at_si(np.inf).used_m3s)
        return float(self.passage.needs_si(used)) if used > 0 else 0.0

    def knots_si(self) -> np.ndarray:
        """Flows offered at which the curve is known to bend or jump."""
        runner = self.chain.runner
        knots: list[Any] = [np.ravel(self.full_m3s)]
        for opening in self.openings:
            curve = opening.part_load or runner.part_load
            ratios = np.append(
                getattr(curve, "flow_ratios", ()), getattr(curve, "minimum_ratio", 0.0)
            )
            knots.append(ratios * opening.rated_si(self.chain.design_flow_m3s))
            knots.append([runner.minimum_flow_m3s * opening.units])
        if isinstance(self.rule, Bands):
            knots.append(self.rule.from_m3s)
        return self.passage.needs_si(np.concatenate([*knots, [0.0]]))


def full_flow(chain: Driven, openings: tuple[Opening, ...], state: State) -> np.ndarray:
    """Flow in m³/s of each opening when fed, along the first axis.

    Fixed jets: where the head left by the penstock is the head the jets need. An adjustable
    machine: what it takes at most, less where a smaller flow gives more power.
    """
    penstock = chain.penstock
    static = np.asarray(penstock.static_si(state), dtype=float)
    if openings[0].area_m2 is None:
        return np.where(static > 0, _most_power_flow(chain, openings, state), 0.0)
    area = np.stack(
        np.broadcast_arrays(*(np.asarray(each.area_m2, dtype=float) for each in openings))
    )
    area, static = np.broadcast_arrays(area, static)
    unhindered = area * np.sqrt(2 * GRAVITY * np.maximum(static, 0.0))
    if np.ndim(penstock.loss_factor) == 0 and penstock.loss_factor == 0 and penstock.inlet is None:
        return np.where(static > 0, unhindered, 0.0)

    def spare(share: Floats) -> Floats:
        # share of the head that is left at the jets; flow goes with its root
        return static * (1 - share) - penstock.loss_si(unhindered * np.sqrt(share), state)

    left = bracketed_root(spare, np.zeros(area.shape), np.ones(area.shape), steps=16)
    return np.where(static > 0, unhindered * np.sqrt(left), 0.0)


def _most_power_flow(chain: Driven, openings: tuple[Opening, ...], state: State) -> np.ndarray:
    """Flow of most power of an adjustable machine: full opening, unless the pipe then takes too much."""
    undecided = (
        chain.penstock.static_si(state),
        chain.penstock.loss_factor,
        chain.runner.efficiency_factor,
    )
    rows = [
        np.broadcast_arrays(each.most_m3s, each.rated_si(chain.design_flow_m3s), *undecided)
        for each in openings
    ]
    most = np.stack([row[0] for row in rows]).astype(float)
    rated = np.stack([row[1] for row in rows]).astype(float)

    def power(flow: Floats) -> Any:
        efficiency = np.stack(
            [
                chain.runner.efficiency_si(ratio, each.part_load)
                for ratio, each in zip(flow / rated, openings)
            ]
        )
        return flow * chain.penstock.head_si(flow, state) * efficiency

    def gain(flow: Floats) -> Any:
        return power(flow) - power(flow * (1 - 1e-5))

    falls = gain(most) < 0
    if not np.any(falls):
        return most
    # from just above the flow at which it starts
    units = np.array([each.units for each in openings]).reshape(-1, *[1] * (most.ndim - 1))
    stops = np.array(
        [
            getattr(each.part_load or chain.runner.part_load, "minimum_ratio", 0.0)
            for each in openings
        ]
    ).reshape(units.shape)
    least = 1.001 * np.maximum(chain.runner.minimum_flow_m3s * units, stops * rated)
    best = bracketed_root(gain, np.clip(least, 1e-6 * most, most), most, steps=60)
    return np.where(falls, np.where(np.isnan(best), least, best), most)
