"""What each thing that can go wrong does to the readings: one forward model, one size for each fault.

The healthy plant of the baseline is changed in one place (less water arrives, air takes head, a jet
is blocked ...) and worked out again for every number of jets, every size of the fault and every
direction in which the baseline itself may be wrong. Diagnosis reads these tables backwards.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.running.commission import commission, reading
>>> seen = [reading(0, "58.0 psi"), reading(1, "57.0 psi", power="1500 W"), reading(2, "54.5 psi", power="2980 W"),
...         reading(3, "50.5 psi", power="4140 W"), reading(4, "46.0 psi", power="4960 W")]
>>> healthy = HealthyPlant.of(commission(seen, FixedJets((0.01905,) * 4, 0.95)))
>>> blocked = forward(healthy, Condition(jets_lost=1.0, which=4))
>>> print(f"{blocked.pressure_pa[4] / 6894.757:.0f} psi and {blocked.power_w[4]:.0f} W with one jet of four blocked")
51 psi and 4267 W with one jet of four blocked
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Callable

import numpy as np

from ..errors import HydrokitError
from ..plant.parts import FixedJets
from ..water import GRAVITY
from ..works.solve import bracketed_root
from .commission import Baseline

__all__ = [
    "FAULTS",
    "Condition",
    "Fault",
    "HealthyPlant",
    "Signatures",
    "Table",
    "forward",
    "signatures",
]

_USUAL_EFFICIENCY = (
    0.5  # where no watts were ever read; the baseline's covariance then holds its doubt
)
_SMALLEST_POWER = 0.02  # share of the healthy watts under which a meter tells no more
_SHUT = 1e-12
_DRY = 0.05  # share of starved plants that get no water at all, common practice


@dataclass(frozen=True, eq=False)
class HealthyPlant:
    """What the forward model needs of a baseline. SI.

    Parameters
    ----------
    head_m : float
    jet_area_m2 : float
        Area times coefficient of one jet.
    efficiency : ndarray
        Jets to wire by jets open, none to all.
    log_flow, log_loss : ndarray
        The pipe's loss against its flow.
    weight_nm3 : float
        Of a cubic metre of water.
    gauge_height_m, gauge_speed : float
        Height of the gauge over the jets; velocity head at it over the square of the flow.
    spread : ndarray
        Five directions in which the baseline may be wrong, one standard deviation each, as columns:
        of head, loss, jet area, efficiency (logarithms) and ``few_jets``.
    baseline : Baseline
    """

    head_m: float
    jet_area_m2: float
    efficiency: np.ndarray
    log_flow: np.ndarray
    log_loss: np.ndarray
    weight_nm3: float
    gauge_height_m: float
    gauge_speed: float
    spread: np.ndarray
    baseline: Baseline

    @classmethod
    def of(cls, baseline: Baseline) -> HealthyPlant:
        """Read it off a baseline.

        Raises
        ------
        HydrokitError
            Jets that are not of fixed bore, or not alike: pressure then does not tell the flow.
        """
        jets = baseline.plant.jets
        if not isinstance(jets, FixedJets) or len(set(jets.diameters_m)) > 1:
            raise HydrokitError(
                "diagnosis: it needs jets of one fixed bore; with a spear or a gate, or unlike jets, pressure does not tell the flow"
            )
        weight = baseline.plant.density_kgm3 * GRAVITY
        head, full, net = (
            baseline.estimate["head"],
            float(baseline.flow_m3s[-1]),
            float(baseline.net_head_m[-1]),
        )
        height = head - baseline.shut_off_pa / weight
        flows = full * np.geomspace(1e-3, 4.0, 97)
        with np.errstate(invalid="ignore", divide="ignore"):
            efficiency = baseline.power_w / (weight * baseline.flow_m3s * baseline.net_head_m)
        known = np.isfinite(efficiency)
        efficiency = np.where(
            known, efficiency, efficiency[known][-1] if known.any() else _USUAL_EFFICIENCY
        )
        values, directions = np.linalg.eigh(baseline.covariance)
        return cls(
            head,
            full / (jets.count * np.sqrt(2 * GRAVITY * net)),
            np.append(efficiency[0], efficiency),
            np.log(flows),
            np.log(np.maximum(baseline.plant.penstock.loss_si(flows), 1e-12)),
            weight,
            height,
            (net - height - float(baseline.pressure_pa[-1]) / weight) / full**2,
            directions * np.sqrt(np.maximum(values, 0.0)),
            baseline,
        )

    @property
    def jets(self) -> int:
        """How many jets there are."""
        return len(self.efficiency) - 1

    @property
    def valves(self) -> bool:
        """Whether single jets can be shut."""
        return self.baseline.plant.jets.valves

    @property
    def full_flow_m3s(self) -> float:
        """Through all jets."""
        return float(self.baseline.flow_m3s[-1])

    @property
    def static_pa(self) -> float:
        """Gauge pressure with everything shut."""
        return self.baseline.shut_off_pa

    def loss_si(self, flow_m3s: Any) -> Any:
        """Head in m the pipe loses."""
        return np.exp(
            np.interp(np.log(np.maximum(flow_m3s, _SHUT)), self.log_flow, self.log_loss)
        ) * (flow_m3s > _SHUT)


@dataclass(frozen=True, eq=False)
class Condition:
    """In what a plant differs from the healthy one. Numbers, or arrays of one shape.

    Parameters
    ----------
    missing : float
        Share of the full flow of all jets that does not arrive; below zero while there is more than
        enough. 1: nothing arrives, and the pipe stands empty even with the jets shut.
    air_m : float
        Head taken by air, running or not.
    friction_m : float
        Head lost besides when the full flow runs; it goes with the square of the flow in the pipe.
    jets_lost : float
        Area lost, in jets; below zero where area is gained.
    which : int
        The jet it is, as they are opened from 1 on; 0: all of them alike.
    leak : float
        Hole above the gauge, as a share of the area of all jets.
    machine_lost : float
        Share of the usual watts that the same water no longer gives.
    gauge_pa, stuck_pa : float
        What the gauge reads too much; what it shows whatever happens (NaN: it moves).
    """

    missing: Any = -np.inf
    air_m: Any = 0.0
    friction_m: Any = 0.0
    jets_lost: Any = 0.0
    which: Any = 0
    leak: Any = 0.0
    machine_lost: Any = 0.0
    gauge_pa: Any = 0.0
    stuck_pa: Any = np.nan


@dataclass(frozen=True, eq=False)
class Table:
    """What would be read, by jets open along the last axis, none to all. SI.

    Parameters
    ----------
    pressure_pa, true_pa : ndarray
        On the gauge of the plant; on one that is right.
    power_w, net_head_m : ndarray
    inflow_m3s : ndarray
        Into the pipe.
    spare : ndarray
        Water that arrives beyond what is wanted, as a share of the full flow; below zero where the
        jets are starved.
    """

    pressure_pa: np.ndarray
    true_pa: np.ndarray
    power_w: np.ndarray
    net_head_m: np.ndarray
    inflow_m3s: np.ndarray
    spare: np.ndarray


_NO_FLOW = 1e-12  # m³/s: of a pipe that is as good as shut


def forward(plant: HealthyPlant, condition: Condition, deviation: Any = None) -> Table:
    """Readings of a plant in some condition.

    Parameters
    ----------
    plant : HealthyPlant
    condition : Condition
        Arrays of R conditions, or numbers.
    deviation : ndarray, optional
        (K, 5) deviations of the baseline's parameters. With it the tables are (R, K, jets + 1),
        without it (R, jets + 1); one condition has no R.

    Notes
    -----
    With an area A of all that is open, hole included, the head h at the jets is where
    ``h + loss(A·√(2gh)) = head``; where less arrives than they would take, h is what passes just
    that.
    """
    count = np.arange(plant.jets + 1)
    moved = np.zeros((1, 5)) if deviation is None else np.atleast_2d(deviation)
    head, loss, jet, efficiency, few = (moved[:, place, None] for place in range(5))
    head, loss, jet = plant.head_m * np.exp(head), np.exp(loss), plant.jet_area_m2 * np.exp(jet)
    of = {
        name: np.asarray(getattr(condition, name), dtype=float)[..., None, None]
        for name in Condition.__dataclass_fields__
    }

    full = np.maximum(_settled(plant, jet * plant.jets, head, loss, 0.0)[1], _NO_FLOW)
    opened = np.where(of["which"] == 0, count / plant.jets, count >= of["which"])
    area = jet * np.maximum(count - of["jets_lost"] * opened, 0.0)
    whole = area + jet * plant.jets * of["leak"]
    net, wanted = _settled(
        plant,
        whole,
        np.maximum(head - of["air_m"], 0.01 * head),
        loss,
        of["friction_m"] / np.square(full),
    )
    arriving = full * (1 - of["missing"])
    inflow = np.minimum(wanted, arriving)
    with np.errstate(divide="ignore", invalid="ignore"):
        net = np.where(arriving < wanted, np.square(inflow / whole) / (2 * GRAVITY), net)
        passing = np.where(whole > 0, inflow * area / whole, 0.0)
        share_open = np.where(count > 0, np.log(count / plant.jets), 0.0)
    watts = (
        plant.weight_nm3
        * passing
        * net
        * plant.efficiency
        * np.exp(efficiency + few * share_open)
        * (1 - of["machine_lost"])
    )
    net = np.where(of["missing"] >= 1, 0.0, net)
    true = np.maximum(
        plant.weight_nm3 * (net - plant.gauge_height_m - plant.gauge_speed * np.square(inflow)), 0.0
    )
    shown = np.where(
        np.isnan(of["stuck_pa"]), np.maximum(true + of["gauge_pa"], 0.0), of["stuck_pa"]
    )
    columns = np.broadcast_arrays(
        shown, true, watts, net, inflow, np.minimum(arriving / full, 10.0) - wanted / full
    )
    return Table(*(each[..., 0, :] for each in columns)) if deviation is None else Table(*columns)


def _settled(
    plant: HealthyPlant, area: Any, head: Any, loss_factor: Any, friction: Any
) -> tuple[Any, Any]:
    """Head at openings of an area, and the flow through them, when there is water enough."""
    area, head, loss_factor, friction = np.broadcast_arrays(area, head, loss_factor, friction)

    def spare(share: Any) -> Any:
        flow = area * np.sqrt(2 * GRAVITY * head * share)
        return head * (1 - share) - loss_factor * plant.loss_si(flow) - friction * np.square(flow)

    net = head * bracketed_root(spare, np.zeros(head.shape), np.ones(head.shape), steps=10)
    return net, area * np.sqrt(2 * GRAVITY * net)


# --- the faults -----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Fault:
    """One thing that can be wrong.

    Parameters
    ----------
    key, name : str
    common : float
        How often it is the matter, against the others. Common practice, no count stands behind it.
    sizes : callable
        Of the healthy plant: sizes to try, SI, rising; smaller ones are not worth a walk.
    kind : str
        What the size is: ``"share"``, ``"head"`` or ``"pressure"``.
    size_is : str
        The size in words.
    condition : callable
        Of sizes and which jet: the :class:`Condition`.
    to_do : str
        What to do, hands safe.
    spills, hunts : float
        Chance that the pond spills, that the needle hunts, while the jets are fed.
    places : callable
        Of the number of jets: the jets it may sit in; ``(0,)`` where that has no meaning.
    """

    key: str
    name: str
    common: float
    sizes: Callable[[HealthyPlant], np.ndarray]
    kind: str
    size_is: str
    condition: Callable[[Any, Any], Condition]
    to_do: str
    spills: float = 0.95
    hunts: float = 0.03
    places: Callable[[int], tuple[int, ...]] = lambda jets: (0,)


def _both_ways(low: float, high: float, count: int) -> np.ndarray:
    one = np.geomspace(low, high, count)
    return np.concatenate([-one[::-1], one])


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
        "gauge", "the gauge reads wrong", 0.8, lambda plant: plant.static_pa * _both_ways(0.02, 0.6, 60), "pressure", "read too much",
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
            np.maximum(power_w, _SMALLEST_POWER * self.table.power_w[self.healthy][jets] + _SHUT)
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
    floor = _SMALLEST_POWER * whole["power_w"][0, 0] + _SHUT
    read = {
        "pressure_pa": whole["pressure_pa"],
        "true_pa": whole["true_pa"],
        "log_power": np.log(np.maximum(whole["power_w"], floor)),
        "log_inflow": np.log(np.maximum(whole["inflow_m3s"], _SHUT)),
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
