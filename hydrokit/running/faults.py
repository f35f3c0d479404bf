"""The things that can go wrong with a plant. Each stands here once, with all that is said and shown of it.

A new fault is one more :class:`Fault` in ``FAULTS``: diagnosis, rehearsal, tables, figures and
texts take it from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Callable

import numpy as np

from .condition import Condition
from .healthy_plant import HealthyPlant

__all__ = ["FAULTS", "Fault", "Frost", "Stroke"]

_DEEPEST = 8.0  # m that a forebay of a small plant may be drawn down, common practice
_ALL_OF_IT = 0.05  # share of under-fed plants that get no water at all, of sick machines that are dead, common practice
_SHUT_JET = 0.3  # share of blocked jets that let nothing through, common practice
_HOLES = (
    1.0,
    0.75,
    0.5,
)  # shares of the pipe above a hole that are tried: nearer the gauge it strains more


@dataclass(frozen=True, eq=False)
class Stroke:
    """That a fault has a panel of its own, and what moves there.

    The gauge's own error moves no watts, the machine's no pressure.
    """

    on: tuple[str, ...] = ("pressure", "power")


@dataclass(frozen=True, eq=False)
class Frost:
    """So many times likelier where air or water were at or below such a temperature. Common practice."""

    times: float
    air_k: float
    water_k: float = 0.0

    def factor(self, air_k: float, water_k: float) -> float:
        """How much likelier in weather like this; 1 where it makes no difference."""
        return self.times if air_k < self.air_k or water_k < self.water_k else 1.0


def _evenly(sizes: np.ndarray) -> np.ndarray:
    """Chance of each size: every step alike."""
    return np.full(len(sizes), 1 / len(sizes))


def _mostly_small(sizes: np.ndarray) -> np.ndarray:
    """Chance of each size: even in its logarithm, for small faults are commoner than large ones."""
    share = np.abs(np.gradient(np.log(np.abs(sizes))))
    return share / share.sum()


def _or_whole(
    usual: Callable[[np.ndarray], np.ndarray], chance: float
) -> Callable[[np.ndarray], np.ndarray]:
    """Chance of each size: as usual; the last is a case of its own with a chance of its own."""

    def chances(sizes: np.ndarray) -> np.ndarray:
        return np.append((1 - chance) * usual(sizes[:-1]), chance)

    return chances


@dataclass(frozen=True, eq=False, kw_only=True)
class Fault:
    """One thing that can be wrong.

    Parameters
    ----------
    key, name, short_name : str
        The key of programs; the name in a sentence; the name in a legend or a narrow column.
    prior : float
        How often it is the matter, against the others. Common practice, no count stands behind it.
    sizes : callable
        Of the healthy plant: sizes to try, SI, rising; smaller ones are not worth a walk.
    kind : {"", "share", "head", "pressure"}
        What the size is; empty where it has none.
    size_is, below_zero : str
        The size in words; and of a size below zero, where that has another name.
    condition : callable
        Of sizes and which jet: the :class:`Condition`.
    action : str
        What to do, hands safe.
    shown_size, shown_jet : float, int
        One size to show, as a share: of the flow, of one jet, of the watts, or of head or static
        pressure. And the jet it then is in; 0: none, or all.
    stroke : Stroke or None
        Its line in the figure; None: it has none.
    spills, fluctuates : float
        Chance that the forebay spills, that the needle fluctuates, while the jets are fed.
    falls : float
        Chance that the needle falls when jets and the valve at the top of the pipe are shut.
    places : callable
        Of the number of jets: the places it may have, such as the jets it may sit in; ``(0,)`` where
        that has no meaning.
    size_chances : callable
        Of the sizes: the chance of each.
    under_feeds : bool
        It takes the water before the jets: small sizes leave the jets fed, and are health then.
    graded : bool
        Whether a larger one shows more, so that there is a smallest that is seen.
    frost : Frost or None
        How much likelier frost makes it.
    whole : bool
        Whether the largest size is a case of its own: nothing arrives, the machine is dead.
    in_jets : bool
        Whether a place is the number of a jet.
    excludes : tuple of str
        Keys of faults that are the same thing seen otherwise, or cannot be there at once: never two together.
    """

    key: str
    name: str
    short_name: str
    prior: float
    sizes: Callable[[HealthyPlant], np.ndarray]
    kind: str
    size_is: str
    condition: Callable[[np.ndarray | float, np.ndarray | int], Condition]
    action: str
    shown_size: float
    shown_jet: int = 0
    below_zero: str = ""
    stroke: Stroke | None = None
    spills: float = 0.95
    fluctuates: float = 0.03
    falls: float = 0.05
    places: Callable[[int], tuple[int, ...]] = lambda jets: (0,)
    size_chances: Callable[[np.ndarray], np.ndarray] = _mostly_small
    under_feeds: bool = False
    graded: bool = True
    frost: Frost | None = None
    whole: bool = False
    in_jets: bool = False
    excludes: tuple[str, ...] = ()

    def shown_si(self, plant: HealthyPlant) -> float:
        """The one size to show on a plant, SI."""
        whole = {"head": plant.head_m, "pressure": plant.static_pa}.get(self.kind, 1.0)
        return self.shown_size * whole

    def shown_condition(self, plant: HealthyPlant) -> Condition:
        """A plant with the fault at the size that is shown."""
        return self.condition(self.shown_si(plant), self.shown_jet)


def _both_ways(low: float, high: float, count: int) -> np.ndarray:
    one = np.geomspace(low, high, count)
    return np.concatenate([-one[::-1], one])


# Healthy comes first: all else is held against it.
FAULTS = (
    Fault(
        key="well",
        name="healthy",
        short_name="healthy",
        prior=60.0,
        sizes=lambda plant: np.zeros(1),
        kind="",
        size_is="",
        condition=lambda size, which: Condition(),
        action="Nothing. Write the readings down.",
        shown_size=0.0,
        size_chances=_evenly,
    ),
    Fault(
        key="under_fed",
        name="under-fed (starved): clogged screen or too little water",
        short_name="under-fed",
        prior=4.0,
        sizes=lambda plant: np.append(np.linspace(0.01, 0.98, 195), 1.0),
        kind="share",
        size_is="of the full flow does not arrive",
        condition=lambda size, which: Condition(missing=size),
        action=(
            "Close a jet now if another stays fed. Then walk to the intake: brush the screen from "
            "beside the water, look along the way from there to the pipe inlet, see whether the "
            "creek itself is low."
        ),
        shown_size=0.15,
        stroke=Stroke(),
        size_chances=_or_whole(_mostly_small, _ALL_OF_IT),
        whole=True,
        under_feeds=True,
        frost=Frost(2.0, air_k=265.15, water_k=273.65),
    ),
    Fault(
        key="air",
        name="air in the pipe",
        short_name="air",
        prior=1.0,
        sizes=lambda plant: plant.head_m * np.geomspace(0.02, 0.7, 90),
        kind="head",
        size_is="of head lost to air",
        condition=lambda size, which: Condition(air_m=size),
        action=(
            "Keep the pipe inlet well under water. Bleed the high points by hand, the lowest "
            "first, one at a time; close each as it runs solid."
        ),
        shown_size=0.12,
        stroke=Stroke(),
        fluctuates=0.3,
        excludes=("drawn",),
    ),
    Fault(
        key="drawn",
        name="forebay drawn down",
        short_name="forebay low",
        prior=0.7,
        sizes=lambda plant: np.geomspace(0.2, min(_DEEPEST, 0.5 * plant.head_m), 60),
        kind="head",
        size_is="below its spillway",
        condition=lambda size, which: Condition(air_m=size),
        action=(
            "See how far the water stands below the spillway, and whether it falls. Shut a jet "
            "until it rises; the pipe inlet must stay well under water, or air goes down the "
            "pipe."
        ),
        shown_size=0.08,
        spills=0.02,
    ),
    Fault(
        key="friction",
        name="a valve not fully open, the inlet or the pipe fouled",
        short_name="valve or inlet",
        prior=1.0,
        sizes=lambda plant: plant.head_m * np.geomspace(0.02, 3.0, 90),
        kind="head",
        size_is="of head it would take at full flow",
        condition=lambda size, which: Condition(friction_m=size),
        action=(
            "Open every valve to its stop. Shut off before anything is cleared from the inlet of "
            "the pipe: its pull holds a hand."
        ),
        shown_size=0.15,
        stroke=Stroke(),
        fluctuates=0.1,
    ),
    Fault(
        key="blocked",
        name="a jet blocked",
        short_name="jet blocked",
        prior=1.5,
        sizes=lambda plant: np.linspace(0.05, 1.0, 39),
        kind="share",
        size_is="of one jet's area",
        condition=lambda size, which: Condition(jets_lost=size, which=which),
        action=(
            "Shut off, let the runner stand still and lock it; take the jet out and clear it from "
            "inside. Look for what let the piece through."
        ),
        shown_size=1.0,
        shown_jet=1,
        stroke=Stroke(),
        places=lambda jets: tuple(range(1, jets + 1)),
        size_chances=_or_whole(_evenly, _SHUT_JET),
        whole=True,
        in_jets=True,
        excludes=("worn",),
    ),
    Fault(
        key="worn",
        name="a jet worn or too large",
        short_name="jet worn",
        prior=1.0,
        sizes=lambda plant: np.linspace(0.05, 1.5, 59),
        kind="share",
        size_is="of one jet's area gained",
        condition=lambda size, which: Condition(jets_lost=-size, which=which),
        action=(
            "Shut off, let the runner stand still and lock it; measure each jet with the shank of "
            "a drill. A worn jet roughens the buckets."
        ),
        shown_size=0.5,
        shown_jet=1,
        stroke=Stroke(),
        places=lambda jets: tuple(range(0, jets + 1)) if jets > 1 else (1,),
        size_chances=_evenly,
        in_jets=True,
    ),
    Fault(
        key="leak",
        name="a leak above the gauge",
        short_name="leak",
        prior=0.7,
        sizes=lambda plant: np.geomspace(0.03, 1.5, 70),
        kind="share",
        size_is="of the area of all jets",
        condition=lambda size, which: Condition(leak=size, leak_at=np.array(_HOLES)[which]),
        places=lambda jets: tuple(range(len(_HOLES))),
        action=(
            "Walk the pipe and look for wet ground; keep clear of a spraying joint. Shut off at "
            "the inlet and drain before any joint is touched."
        ),
        shown_size=0.2,
        stroke=Stroke(),
        spills=0.8,
        fluctuates=0.05,
        falls=0.95,
    ),
    Fault(
        key="machine",
        name="runner, generator or wiring",
        short_name="machine",
        prior=1.5,
        sizes=lambda plant: np.append(1 - np.geomspace(0.97, 0.02, 150), 1.0),
        size_chances=_or_whole(_mostly_small, _ALL_OF_IT),
        whole=True,
        kind="share",
        size_is="of the watts",
        condition=lambda size, which: Condition(machine_lost=size),
        action=(
            "Listen and feel for heat from outside the guards; look for a jet off its buckets, "
            "water in the housing, a dump load that takes power. Wiring is for a licensed "
            "electrician."
        ),
        shown_size=0.25,
        stroke=Stroke(on=("power",)),
    ),
    Fault(
        key="gauge",
        name="the gauge reads wrong",
        short_name="gauge wrong",
        prior=0.8,
        sizes=lambda plant: plant.static_pa * _both_ways(0.02, 0.6, 60),
        kind="pressure",
        size_is="read too much",
        below_zero="read too little",
        condition=lambda size, which: Condition(gauge_pa=size),
        action="Shut the gauge's own valve, bleed it: it must show zero. Hold it against another gauge.",
        shown_size=-0.1,
        stroke=Stroke(on=("pressure",)),
        size_chances=_evenly,  # of sizes that are even in the logarithm already
        excludes=("stuck",),
    ),
    Fault(
        key="stuck",
        name="the gauge is stuck or frozen",
        short_name="gauge stuck",
        prior=0.5,
        sizes=lambda plant: plant.static_pa * np.linspace(0.0, 1.2, 121),
        kind="pressure",
        size_is="shown whatever happens",
        condition=lambda size, which: Condition(stuck_pa=size),
        action=(
            "Tap it. Thaw its line with warm water, never with a flame. Change it if it does not "
            "move when a jet is closed."
        ),
        shown_size=0.85,
        fluctuates=0.01,
        size_chances=_evenly,
        graded=False,
        frost=Frost(4.0, air_k=273.15),
    ),
)
