"""What every size of every fault does to the readings at every number of jets."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from .baseline import Baseline
from .condition import Condition, Table, forward
from .faults import Fault, both_ways
from .healthy_plant import SHUT, HealthyPlant

__all__ = ["FAULTS", "Signatures", "signatures"]
_SMALLEST_POWER = 0.02  # share of the healthy watts under which a meter tells no more
_DRY = 0.05  # share of starved plants that get no water at all, common practice


FAULTS = (
    Fault(
        "well", "well", 20.0, lambda plant: np.zeros(1), "share", "", lambda size, which: Condition(),
        "Nothing. Write the readings down.",
    ),
    Fault(
        "starved", "starved: clogged screen or too little water", 4.0, lambda plant: np.append(np.linspace(0.01, 0.98, 195), 1.0), "share",
        "of the full flow does not arrive", lambda size, which: Condition(missing=size),
        "Close a jet now if another stays fed. Then walk to the intake: brush the screen from beside the water, look along the diversion, see whether the creek itself is low.",
    ),
    Fault(
        "air", "air in the pipe", 1.0, lambda plant: plant.head_m * np.geomspace(0.02, 0.7, 90), "head", "of head taken by air",
        lambda size, which: Condition(air_m=size),
        "Keep the pond over the mouth. Bleed the high points by hand, the lowest first, one at a time; close each as it runs solid.", 0.95, 0.3,
    ),
    Fault(
        "friction", "a valve not fully open, the mouth or the pipe fouled", 1.0, lambda plant: plant.head_m * np.geomspace(0.02, 3.0, 90), "head",
        "of head it would take at full flow", lambda size, which: Condition(friction_m=size),
        "Open every valve to its stop. Shut off before anything is cleared from the mouth of the pipe: its pull holds a hand.", 0.95, 0.1,
    ),
    Fault(
        "blocked", "a jet blocked", 1.5, lambda plant: np.linspace(0.05, 1.0, 39), "share", "of one jet's area",
        lambda size, which: Condition(jets_lost=size, which=which),
        "Shut off, let the runner stand still and lock it; take the jet out and clear it from inside. Look for what let the piece through.",
        places=lambda jets: tuple(range(1, jets + 1)),
    ),
    Fault(
        "worn", "a jet worn or too large", 1.0, lambda plant: np.linspace(0.05, 1.5, 59), "share", "of one jet's area gained",
        lambda size, which: Condition(jets_lost=-size, which=which),
        "Shut off, let the runner stand still and lock it; measure each jet with the shank of a drill. A worn jet roughens the buckets.",
        places=lambda jets: tuple(range(0, jets + 1)) if jets > 1 else (1,),
    ),
    Fault(
        "leak", "a leak above the gauge", 0.7, lambda plant: np.geomspace(0.03, 1.5, 70), "share", "of the area of all jets",
        lambda size, which: Condition(leak=size),
        "Walk the pipe and look for wet ground; keep clear of a spraying joint. Shut off at the mouth and drain before any joint is touched.", 0.8, 0.05,
    ),
    Fault(
        "machine", "runner, generator or wiring", 1.5, lambda plant: 1 - np.geomspace(0.97, 0.02, 150), "share", "of the watts",
        lambda size, which: Condition(machine_lost=size),
        "Listen and feel for heat from outside the guards; look for a jet off its buckets, water in the housing, a dump load that takes power. Wiring is for a licensed electrician.",
    ),
    Fault(
        "gauge", "the gauge reads wrong", 0.8, lambda plant: plant.static_pa * both_ways(0.02, 0.6, 60), "pressure", "read too much",
        lambda size, which: Condition(gauge_pa=size),
        "Shut the gauge's own valve, bleed it: it must show zero. Hold it against another gauge.",
    ),
    Fault(
        "stuck", "the gauge is stuck or frozen", 0.5, lambda plant: plant.static_pa * np.linspace(0.0, 1.2, 121), "pressure", "shown whatever happens",
        lambda size, which: Condition(stuck_pa=size),
        "Tap it. Thaw its line with warm water, never with a flame. Change it if it does not move when a jet is closed.", 0.95, 0.01,
    ),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Signatures:
    """Tables of every fault, size and place on one plant, as rows.

    Parameters
    ----------
    plant : HealthyPlant
    fault, which : ndarray of int
        Of each row: place in ``FAULTS``, jet it sits in.
    size : ndarray
    log_prior : ndarray
        Of the row within its fault.
    table : Table
        (rows, jets + 1): as the baseline stands.
    log_power : ndarray
        Of the watts, none under a fiftieth of the healthy ones.
    slopes : dict of str to ndarray
        (rows, jets + 1, 5): change of ``pressure_pa``, ``true_pa``, ``log_power`` and ``log_inflow``
        for one standard deviation along each direction of ``plant.spread``.
    starved : ndarray
        (rows, jets + 1): chance that less arrives than the jets take.
    """

    plant: HealthyPlant
    fault: np.ndarray
    which: np.ndarray
    size: np.ndarray
    log_prior: np.ndarray
    table: Table
    log_power: np.ndarray
    slopes: dict[str, np.ndarray]
    starved: np.ndarray

    @cached_property
    def rows_of(self) -> tuple[slice, ...]:
        """Rows of each fault."""
        edges = np.searchsorted(self.fault, np.arange(len(FAULTS) + 1))
        return tuple(slice(int(low), int(high)) for low, high in zip(edges[:-1], edges[1:]))

    def only(self, *faults: int) -> Signatures:
        """The rows of some faults."""
        kept = np.isin(self.fault, faults)
        table = Table(
            **{name: getattr(self.table, name)[kept] for name in Table.__dataclass_fields__}
        )
        slopes = {name: values[kept] for name, values in self.slopes.items()}
        return Signatures(
            self.plant,
            self.fault[kept],
            self.which[kept],
            self.size[kept],
            self.log_prior[kept],
            table,
            self.log_power[kept],
            slopes,
            self.starved[kept],
        )

    @property
    def healthy(self) -> int:
        """Row of the healthy plant."""
        return self.rows_of[0].start

    def log_watts(self, power_w: Any, jets: Any) -> Any:
        """Logarithm of watts as they count here."""
        return np.log(
            np.maximum(power_w, _SMALLEST_POWER * self.table.power_w[self.healthy][jets] + SHUT)
        )


def signatures(baseline: Baseline) -> Signatures:
    """Work out every fault on a plant.

    Raises
    ------
    HydrokitError
        As :meth:`HealthyPlant.of`.
    """
    plant = HealthyPlant.of(baseline)
    around = np.concatenate([np.zeros((1, 5)), plant.spread.T, -plant.spread.T])
    made = []
    for number, fault in enumerate(FAULTS):
        sizes, places = fault.sizes(plant), fault.places(plant.jets)
        which, size = (each.ravel() for each in np.meshgrid(places, sizes, indexing="ij"))
        table = forward(plant, fault.condition(size, which), around)
        shape = (len(size), len(around), plant.jets + 1)
        prior = np.tile(np.log(_prior(sizes, fault.key) / len(places)), len(places))
        made.append(
            (
                np.full(len(size), number),
                which,
                size,
                prior,
                Table(
                    *(
                        np.broadcast_to(getattr(table, name), shape)
                        for name in Table.__dataclass_fields__
                    )
                ),
            )
        )
    fault, which, size, log_prior = (
        np.concatenate([each[place] for each in made]) for place in range(4)
    )
    whole = {
        name: np.concatenate([getattr(each[4], name) for each in made])
        for name in Table.__dataclass_fields__
    }
    floor = _SMALLEST_POWER * whole["power_w"][0, 0] + SHUT
    read = {
        "pressure_pa": whole["pressure_pa"],
        "true_pa": whole["true_pa"],
        "log_power": np.log(np.maximum(whole["power_w"], floor)),
        "log_inflow": np.log(np.maximum(whole["inflow_m3s"], SHUT)),
    }
    slopes = {
        name: np.moveaxis((values[:, 1:6] - values[:, 6:]) / 2, 1, -1)
        for name, values in read.items()
    }
    return Signatures(
        plant,
        fault,
        which,
        size,
        log_prior,
        Table(**{name: values[:, 0] for name, values in whole.items()}),
        read["log_power"][:, 0],
        slopes,
        _chance_starved(whole["spare"]),
    )


def _prior(sizes: np.ndarray, key: str) -> np.ndarray:
    """Chance of each size: even in its logarithm, for small faults are commoner than large ones; but even in the area of a jet, and in where a pointer sticks."""
    if key in (
        "well",
        "blocked",
        "worn",
        "gauge",
        "stuck",
    ):  # even steps: of the gauge's error in the logarithm, of the others in the size
        return np.full(len(sizes), 1 / len(sizes))
    share = np.abs(np.gradient(np.log(np.abs(sizes))))
    if key == "starved":  # a dry pipe is a case of its own
        share[-1] = _DRY * share.sum()
    return share / share.sum()


def _chance_starved(spare: np.ndarray) -> np.ndarray:
    """Chance that less arrives than wanted, from the spread of what is wanted."""
    from scipy.special import ndtr

    sd = np.sqrt(np.sum(np.square((spare[:, 1:6] - spare[:, 6:]) / 2), axis=1))
    return ndtr(-spare[:, 0] / np.maximum(sd, 0.005))
