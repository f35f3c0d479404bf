"""The parts of a plant: each says for itself what it passes and what it loses.

There is no base class. A part belongs in the chain if it answers the questions asked at its place:

=====================  ===================================================================
place                  asked of the part
=====================  ===================================================================
above the pond         ``capacity_si(state)`` [m³/s]; ``share_lost``, ``lost_m3s`` where water leaves on the way
inlet of the penstock  ``capacity_si(state)`` and ``head_loss_si(flow_m3s, state)`` [m]
line of the penstock   ``loss_si(flow_m3s, viscosity_m2s)`` [m]
jets                   ``openings()``, see :class:`FixedJets` and :class:`Adjustable`
runner                 ``efficiency_si(flow_ratio)``
generator to loads     ``output_si(input_w)`` [W], rising; ``rated_w`` where it has a limit
=====================  ===================================================================

All fields are SI. A number may be an array that broadcasts against the flow: that is how a
thousand draws, or a hundred sizes, are worked out at once.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from ..errors import HydrokitError
from ..result import Result
from ..water import viscosity
from ..works.solve import bracketed_root, require
from ..works.state import CLEAN, Part, State
from .jets import jet_area
from .pelton import Suited
from .runner_speed import FOLLOWS, RunnerSpeed
from .turbine import PartLoad

if TYPE_CHECKING:
    from ..units import Alike, Floats, Number

__all__ = [
    "Adjustable",
    "Efficiency",
    "FixedJets",
    "Jets",
    "LineLoss",
    "MeasuredLoss",
    "Opening",
    "Penstock",
    "Runner",
    "part_name",
    "steady",
]


# --- what is asked of each place ------------------------------------------------------------


class LineLoss(Protocol):
    """The full pipe of the penstock."""

    def loss_si(self, flow_m3s: Number, viscosity_m2s: Alike) -> Number: ...


class Efficiency(Protocol):
    """Efficiency against the share of the rated flow."""

    def efficiency_si(self, flow_ratio: Number) -> Number: ...


class Jets(Protocol):
    """What lets the water onto the runner."""

    @property
    def name(self) -> str: ...

    @property
    def count(self) -> int: ...

    def openings(self) -> tuple[Opening, ...]: ...

    def sized(self, factor: Alike) -> Jets: ...


def part_name(part: object) -> str:
    """How messages and tables call a part."""
    return getattr(part, "name", "") or getattr(part, "part", "") or type(part).__name__.lower()


# --- water ----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class MeasuredLoss:
    """A pipe known by what it was seen to lose: head = coefficient · flow^exponent.

    Parameters
    ----------
    coefficient : float or ndarray
        In m per (m³/s)^exponent; s²/m⁵ when the exponent is 2. Zero for a pipe without loss.
    exponent : float
        2 in rough pipe and fittings, about 1.8 in smooth pipe.
    name : str
    """

    coefficient: Alike
    exponent: float = 2.0
    name: str = "penstock"

    def __post_init__(self) -> None:
        require(f"MeasuredLoss '{self.name}'", "zero or more", coefficient=self.coefficient)
        require(f"MeasuredLoss '{self.name}'", "above zero", exponent=self.exponent)

    def loss_si(self, flow_m3s: Number, viscosity_m2s: float | None = None) -> Alike:
        """Head lost in m."""
        flow = np.asarray(flow_m3s, dtype=float)
        return self.coefficient * np.abs(flow) ** self.exponent


@dataclass(frozen=True, eq=False)
class Penstock(Result):
    """The pipe from the pond to the jets, with the head it brings.

    Parameters
    ----------
    line : LineLoss
        A ``works.pipe.Line``, or a :class:`MeasuredLoss`.
    head_gross_m : float or ndarray
        Height of the pond's water above the jets (for a reaction machine, above the tailwater).
    loss_factor, head_factor : float or ndarray
        Multiply the loss of the line and the gross head: uncertainty, age.
    air_m : float or ndarray
        Head always lost to trapped air; a month's :class:`State` adds its own.
    inlet : works.state.Part or None
        Screen at the inlet.
    viscosity_m2s : float
        Of the water; that at 10 °C when not given.
    name : str
    """

    line: LineLoss
    head_gross_m: Number
    loss_factor: Number = 1.0
    _: KW_ONLY
    head_factor: Number = 1.0
    air_m: float = 0.0
    inlet: Part | None = None
    viscosity_m2s: float = field(default_factory=lambda: float(viscosity.si()))
    name: str = "penstock"

    def __post_init__(self) -> None:
        where = f"Penstock '{self.name}'"
        require(
            where,
            "above zero",
            head_gross_m=self.head_gross_m,
            head_factor=self.head_factor,
            viscosity_m2s=self.viscosity_m2s,
        )
        require(where, "zero or more", loss_factor=self.loss_factor, air_m=self.air_m)

    def capacity_si(self, state: State = CLEAN) -> Number:
        """Flow in m³/s that its inlet lets in; infinite where no screen is given."""
        return np.inf if self.inlet is None else _capacity(self.inlet, state)

    def static_si(self, state: State = CLEAN) -> Alike:
        """Head in m at the jets with no water moving."""
        return self.head_gross_m * self.head_factor - self.air_m - state.air_m

    def loss_si(self, flow_m3s: Number, state: State = CLEAN) -> Alike:
        """Head in m lost at a flow, from the pond to the jets."""
        lost = self.loss_factor * self.line.loss_si(flow_m3s, self.viscosity_m2s)
        if self.inlet is None:
            return lost
        # beyond what the inlet passes its loss has no meaning; the flow is held there elsewhere
        return lost + self.inlet.head_loss_si(
            np.minimum(flow_m3s, _capacity(self.inlet, state)), state
        )

    def head_si(self, flow_m3s: Number, state: State = CLEAN) -> Number:
        """Net head in m at the jets while a flow runs; negative where the flow cannot be."""
        return self.static_si(state) - self.loss_si(flow_m3s, state)

    def most_power_flow_si(self, highest_m3s: float, state: State = CLEAN) -> Number:
        """Flow up to `highest_m3s` at which flow · net head is greatest: a third of the head is
        then lost, or less."""
        highest = np.asarray(highest_m3s, dtype=float)

        def gain(flow: Number) -> Any:
            # growth of flow · head with the flow, by a central difference: the loss is any function
            step = 1e-5 * flow
            return self.head_si(flow, state) - flow * (
                self.loss_si(flow + step, state) - self.loss_si(flow - step, state)
            ) / (2 * step)

        if np.all(gain(highest) >= 0):
            return highest
        best = bracketed_root(gain, 1e-9 * highest, highest, steps=40)
        return np.where(
            gain(highest) >= 0, highest, np.where(self.static_si(state) > 0, best, 0.0)
        )[()]


@lru_cache(maxsize=64)
def _capacity(part: Any, state: State) -> Any:
    """Capacity of a part in a state: both never change, and it may have to be searched for."""
    return part.capacity_si(state)


@dataclass(frozen=True, eq=False)
class Opening:
    """One way in which the jets can stand open.

    Parameters
    ----------
    count : int
        Jets, or units, that are open.
    area_m2 : float, ndarray or None
        Jet area times discharge coefficient, which ties flow and head; None where a needle or gate
        ties them as it likes, up to `most_m3s`.
    most_m3s : float or ndarray
        Flow of a full-open adjustable machine; infinite for fixed jets.
    units, of_units : int
        Machines that share the flow, and how many there are: each is then at the efficiency of
        its own share of the design flow.
    part_load : Efficiency or None
        Where machines differ: the efficiency of these together, instead of the runner's.
    rated_m3s : float or None
        Flow that it calls 1.
    """

    count: int
    area_m2: Alike = None
    most_m3s: Number = np.inf
    _: KW_ONLY
    units: int = 1
    of_units: int = 1
    part_load: Efficiency | None = None
    rated_m3s: float | None = None

    def rated_si(self, design_flow_m3s: Number) -> Number:
        """Flow at which the efficiency is that of full flow, of the design flow of the whole plant."""
        return (
            design_flow_m3s * self.units / self.of_units
            if self.rated_m3s is None
            else self.rated_m3s
        )


@dataclass(frozen=True, eq=False)
class FixedJets(Result):
    """Jets of fixed bore, each open or shut: they pass Q = C·A·√(2gH) and nothing else.

    Parameters
    ----------
    diameters_m : tuple of float
        Bore of each jet.
    coefficient : float or ndarray
        Discharge coefficient; ``jets.JET_KINDS`` has usual ones.
    valves : bool
        Whether single jets can be shut. Without valves all run together.
    area_factor : float or ndarray
        Multiplies area · coefficient: uncertainty, wear.
    by_count : tuple of Efficiency
        Efficiency with one jet open, with two and so on, where they belong to machines that differ;
        none: the runner's.
    name : str
    """

    diameters_m: tuple[float, ...]
    coefficient: Alike = 0.95
    valves: bool = True
    _: KW_ONLY
    area_factor: Number = 1.0
    by_count: tuple[Efficiency, ...] = ()
    name: str = "jets"

    def __post_init__(self) -> None:
        object.__setattr__(
            self, "diameters_m", tuple(float(each) for each in np.atleast_1d(self.diameters_m))
        )
        if not 1 <= len(self.diameters_m) <= 8:
            raise HydrokitError(
                f"FixedJets '{self.name}': 1 to 8 jets are needed, got {len(self.diameters_m)}"
            )
        require(
            f"FixedJets '{self.name}'",
            "above zero",
            diameters_m=self.diameters_m,
            coefficient=self.coefficient,
            area_factor=self.area_factor,
        )
        if np.any(np.asarray(self.coefficient) > 1):
            raise HydrokitError(
                f"FixedJets '{self.name}': coefficient must be at most 1 (a jet cannot pass more "
                f"than the ideal flow), got {np.max(self.coefficient):g}"
            )

    @property
    def count(self) -> int:
        """How many jets there are."""
        return len(self.diameters_m)

    def openings(self) -> tuple[Opening, ...]:
        """Every way to open them that differs in area, smallest area first."""
        areas = [jet_area(each) for each in self.diameters_m]
        found: dict[tuple[int, float], float] = {}
        for open_jets in range(1 if self.valves else 2**self.count - 1, 2**self.count):
            chosen = [area for place, area in enumerate(areas) if open_jets >> place & 1]
            # equal areas made in several ways are one opening; rounding must not tell them apart
            found.setdefault((len(chosen), round(sum(chosen), 15)), sum(chosen))
        factor = self.coefficient * self.area_factor
        known = self.by_count or (None,)  # jets added later run like the last one known
        return tuple(
            Opening(count, area * factor, part_load=known[min(count, len(known)) - 1])
            for (count, _), area in sorted(found.items(), key=lambda item: (item[1], item[0]))
        )

    def sized(self, factor: Number) -> FixedJets:
        """The same jets with their area times coefficient scaled."""
        return replace(self, area_factor=self.area_factor * factor)


@dataclass(frozen=True, eq=False)
class Adjustable(Result):
    """Spear jets, guide vanes or a gate: it keeps full head at any flow up to its design flow.

    Parameters
    ----------
    design_flow_m3s : float or ndarray
        Most that all units together take.
    units : int
        Equal spear jets or machines, any number of which can run; each then has its share of the
        design flow to itself.
    flow_factor : float or ndarray
        Multiplies the most it takes, not the flow its efficiency is stated at.
    name : str
    """

    design_flow_m3s: Number
    units: int = 1
    flow_factor: Number = 1.0
    _: KW_ONLY
    name: str = "turbine"

    def __post_init__(self) -> None:
        require(
            f"Adjustable '{self.name}'",
            "above zero",
            design_flow_m3s=self.design_flow_m3s,
            units=self.units,
            flow_factor=self.flow_factor,
        )

    @property
    def count(self) -> int:
        """How many units there are."""
        return self.units

    def openings(self) -> tuple[Opening, ...]:
        """One unit, two units, all."""
        most = self.design_flow_m3s * self.flow_factor
        return tuple(
            Opening(count, None, most * count / self.units, units=count, of_units=self.units)
            for count in range(1, self.units + 1)
        )

    def sized(self, factor: Floats) -> Adjustable:
        """The same machine taking more or less at full opening."""
        return replace(self, flow_factor=self.flow_factor * factor)


# --- power ----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Runner(Result):
    """What turns moving water into a turning shaft.

    Parameters
    ----------
    part_load : Efficiency
        Usually a ``turbine.PartLoad``, or :func:`steady`. Counted from the net head at the jets.
    design_flow_m3s : float, ndarray or None
        Flow that the efficiency calls 1. None: the full flow of all jets.
    minimum_flow_m3s : float
        Below it the machine (each of several units) does not run, whatever its efficiency says.
    design_area_m2 : float or None
        Area times coefficient of fixed jets that the efficiency calls 1, where it was measured jet by jet: it
        then goes by how many of them play on the runner, fed or under-fed. None: by the flow.
    efficiency_factor : float or ndarray
        Multiplies the efficiency: uncertainty, wear.
    diameter_m : float or None
        Pitch diameter, to hold against the jets.
    suited : Suited or None
        Heads that the speed of an installed runner was set for. None: it suits whatever plant it
        stands in.
    name : str
    """

    part_load: Efficiency
    design_flow_m3s: Number | None = None
    minimum_flow_m3s: float = 0.0
    _: KW_ONLY
    design_area_m2: float | None = None
    efficiency_factor: Number = 1.0
    diameter_m: float | None = None
    suited: Suited | None = None
    name: str = "runner"

    def __post_init__(self) -> None:
        where = f"Runner '{self.name}'"
        require(where, "zero or more", minimum_flow_m3s=self.minimum_flow_m3s)
        require(where, "above zero", efficiency_factor=self.efficiency_factor)
        if self.design_flow_m3s is not None:
            require(where, "above zero", design_flow_m3s=self.design_flow_m3s)

    def efficiency_si(self, flow_ratio: Number, part_load: Efficiency | None = None) -> Number:
        """Efficiency at a share of the design flow; by another part load where one is given.

        Raises
        ------
        HydrokitError
            Where the factor lifts it above 1.
        """
        found = self.efficiency_factor * (part_load or self.part_load).efficiency_si(flow_ratio)
        if np.any(found > 1 + 1e-12):
            raise HydrokitError(
                f"{self.name}: its efficiency must not exceed 1 (100 %), got {np.nanmax(found):.3f}"
            )
        return found


def steady(
    efficiency: float,
    kind: str = "machine",
    source: str = "measured at one flow",
    speed: RunnerSpeed = FOLLOWS,
) -> PartLoad:
    """One efficiency at every flow: all that a single reading of watts can tell.

    Raises
    ------
    HydrokitError
        An efficiency below 0 or above 1, naming the machine.
    """
    return PartLoad(
        kind,
        np.array([0.0, 1.0]),
        np.array([efficiency, efficiency]),
        minimum_ratio=0.0,
        source=source,
        mark="steady",
        speed=speed,
    )
