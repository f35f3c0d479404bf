"""A plant with something wrong: one forward model for every fault.

The healthy plant of the baseline is changed in one place (less water arrives, air takes head, a jet
is blocked ...) and worked out again for every number of jets, every size of the fault and every
direction in which the baseline itself may be wrong. Diagnosis reads these tables backwards.

>>> from hydrokit.plant.parts import FixedJets
>>> from hydrokit.running.commission import commission
>>> from hydrokit.running.reading import reading
>>> seen = [reading(0, "58.0 psi"), reading(1, "57.0 psi", power="1500 W"), reading(2, "54.5 psi", power="2980 W"),
...         reading(3, "50.5 psi", power="4140 W"), reading(4, "46.0 psi", power="4960 W")]
>>> from hydrokit.running.healthy_plant import HealthyPlant
>>> healthy = HealthyPlant.of(commission(seen, FixedJets((0.01905,) * 4, 0.95)))
>>> blocked = forward(healthy, Condition(jets_lost=1.0, which=4))
>>> print(f"{blocked.pressure_pa[4] / 6894.757:.0f} psi and {blocked.power_w[4]:.0f} W with one jet of four blocked")
51 psi and 4154 W with one jet of four blocked
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..water import GRAVITY
from ..works.solve import bracketed_root
from .healthy_plant import HealthyPlant

if TYPE_CHECKING:
    from ..units import Alike, Floats, Number

__all__ = ["Condition", "Table", "forward"]


@dataclass(frozen=True, eq=False)
class Condition:
    """In what a plant differs from the healthy one. Numbers, or arrays of one shape.

    Parameters
    ----------
    missing : float
        Share of the full flow of all jets that does not arrive; below zero while there is more than
        enough. 1: nothing arrives, and the pipe stands empty even with the jets shut.
    air_m : float
        Head taken by air with all jets running; the pocket takes a little less where it stands under
        more pressure, as with the jets shut.
    friction_m : float
        Head lost besides when the full flow runs; it goes with the square of the flow in the pipe.
    jets_lost : float
        Area lost, in jets; below zero where area is gained.
    which : int
        The jet it is, as they are opened from 1 on; 0: all of them alike.
    leak : float
        Hole above the gauge, as a share of the area of all jets: it loses as much as an opening of that
        area beside the gauge.
    leak_at : float
        Share of the pipe's length that lies above the hole.
    machine_lost : float
        Share of the usual watts that the same water no longer gives.
    gauge_pa, stuck_pa : float
        What the gauge reads too much; what it shows whatever happens (NaN: it moves).
    """

    missing: Number = -np.inf
    air_m: Number = 0.0
    friction_m: Number = 0.0
    _: KW_ONLY
    jets_lost: Number = 0.0
    which: Alike = 0
    leak: Number = 0.0
    leak_at: Number = 1.0
    machine_lost: Number = 0.0
    gauge_pa: Number = 0.0
    stuck_pa: Number = np.nan


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
        jets are under-fed.
    """

    pressure_pa: np.ndarray
    true_pa: np.ndarray
    power_w: np.ndarray
    _: KW_ONLY
    net_head_m: np.ndarray
    inflow_m3s: np.ndarray
    spare: np.ndarray


_NO_FLOW = 1e-12  # m³/s: of a pipe that is as good as shut
# How far down the head a pocket of air sits, as a share, and the pressure of the air over water as head.
# Where it sits hardly matters: what it takes shut in moves by a hundredth from a tenth to the whole.
_POCKET_AT, _ATMOSPHERE_M = 0.4, 10.0


def forward(plant: HealthyPlant, condition: Condition, deviation: Floats | None = None) -> Table:
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
    that. Above a hole the pipe carries what it loses besides. A pocket of air keeps its pressure
    times its height (Boyle). The runner knows a blocked jet from a closed one no more than it knows
    which: its efficiency is that of as many jets as play on it.
    """
    count = np.arange(plant.jets + 1)
    moved = np.zeros((1, 5)) if deviation is None else np.atleast_2d(deviation)
    head, loss, jet, efficiency, few = (moved[:, place, None] for place in range(5))
    head, loss, jet = plant.head_m * np.exp(head), np.exp(loss), plant.jet_area_m2 * np.exp(jet)
    of = {
        name: np.asarray(getattr(condition, name), dtype=float)[..., None, None]
        for name in Condition.__dataclass_fields__
    }

    full = np.maximum(_settled(plant, jet * plant.jets, head, loss)[1], _NO_FLOW)
    opened = np.where(of["which"] == 0, count / plant.jets, count >= of["which"])
    area = jet * np.maximum(count - of["jets_lost"] * opened, 0.0)
    whole = area + jet * plant.jets * of["leak"]
    with np.errstate(divide="ignore", invalid="ignore"):
        played = np.where(whole > 0, area / whole, 0.0)
    friction = of["friction_m"] / np.square(full)
    hole = (of["leak_at"], played)
    net, wanted = _settled(plant, whole, head, loss, friction, of["air_m"], full, hole)
    arriving = full * (1 - of["missing"])
    inflow = np.minimum(wanted, arriving)
    with np.errstate(divide="ignore", invalid="ignore"):
        net = np.where(arriving < wanted, np.square(inflow / whole) / (2 * GRAVITY), net)
        passing = inflow * played
        playing = np.clip(area / jet, 1.0, plant.jets) / plant.jets
        share_open = np.where(count > 0, np.log(playing), 0.0)
        usual = np.maximum(_settled(plant, jet * count, head, loss)[0], 1e-3)
        runner = plant.speed.efficiency_si(net / usual)
    efficiency_at = np.interp(playing * plant.jets, np.arange(plant.jets + 1), plant.efficiency)
    shaft = plant.weight_nm3 * passing * net * efficiency_at * runner
    watts = plant.power_si(shaft) * np.exp(efficiency + few * share_open) * (1 - of["machine_lost"])
    net = np.where(of["missing"] >= 1, 0.0, net)
    true = np.maximum(
        plant.weight_nm3 * (net - plant.gauge_height_m - plant.gauge_speed * np.square(inflow)), 0.0
    )
    shown = np.where(
        np.isnan(of["stuck_pa"]), np.maximum(true + of["gauge_pa"], 0.0), of["stuck_pa"]
    )
    columns = {
        "pressure_pa": shown,
        "true_pa": true,
        "power_w": watts,
        "net_head_m": net,
        "inflow_m3s": inflow,
        "spare": np.minimum(arriving / full, 10.0) - wanted / full,
    }
    wide = np.broadcast_arrays(*columns.values())
    return Table(
        **{
            name: each if deviation is not None else each[..., 0, :]
            for name, each in zip(columns, wide)
        }
    )


def _settled(
    plant: HealthyPlant,
    area: Any,
    head: Any,
    loss_factor: Any,
    friction: Any = 0.0,
    air_m: Number = 0.0,
    full: Any = 1.0,
    hole: tuple[Any, Any] = (1.0, 1.0),
) -> tuple[Any, Any]:
    """Head at openings of an area, and the flow through them, when there is water enough.

    `full` is the flow at which the air takes its `air_m`; `hole` the share of the pipe above a hole,
    and the share of the water that passes on below it.
    """
    above, passed = hole
    several = (area, head, loss_factor, friction, air_m, full, above, passed)
    area, head, loss_factor, friction, air_m, full, above, passed = np.broadcast_arrays(*several)
    under = _ATMOSPHERE_M + _POCKET_AT * head
    pocketed, holed = bool(np.any(air_m > 0)), bool(np.any(passed < 1))
    usual = under - _POCKET_AT * loss_factor * plant.loss_si(full) if pocketed else under

    def spare(share: Floats) -> Floats:
        flow = area * np.sqrt(2 * GRAVITY * head * share)
        lost = whole = loss_factor * plant.loss_si(flow)
        if holed:
            lost = above * whole + (1 - above) * loss_factor * plant.loss_si(flow * passed)
        air = 0.0
        if pocketed:
            air = np.minimum(
                air_m * usual / np.maximum(under - _POCKET_AT * whole, 1.0), 0.99 * head
            )
        return head * (1 - share) - lost - friction * np.square(flow) - air

    net = head * bracketed_root(spare, np.zeros(head.shape), np.ones(head.shape), steps=10)
    return net, area * np.sqrt(2 * GRAVITY * net)
