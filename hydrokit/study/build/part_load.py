"""What share of the water's power arrives at the loads, over the flow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from ...water import GRAVITY

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["PartLoad", "part_load"]

_POINTS, _MORE, _FED = 480, 1.2, 1e-6


@dataclass(frozen=True, eq=False, kw_only=True)
class PartLoad(Result):
    """Efficiency over the flow that is offered, with the jets set to it. NaN where the plant stands.

    Parameters
    ----------
    flow_m3s : ndarray
    pipe : ndarray
        Net head over gross head.
    machine : ndarray
        Power at the loads over that of the water at the jets: runner, generator, wires.
    together : ndarray
        Power at the loads over ρ g Q H of the flow used and the gross head.
    """

    flow_m3s: np.ndarray
    pipe: np.ndarray
    machine: np.ndarray
    together: np.ndarray

    @property
    def best(self) -> int:
        """Where most arrives."""
        return int(np.nanargmax(self.together))


def part_load(study: Study) -> PartLoad | None:
    """The efficiencies of a plant in health, or None where it cannot be computed."""
    if study.plant is None or not study.full_flow_m3s:
        return None
    plant = study.plant.installed()
    most = float(plant.at_si(np.inf).used_m3s)
    # What leaks on the way comes on top, so that all jets are fed at the end, and not far before it.
    flow = np.linspace(0, _MORE * max(most, study.full_flow_m3s), _POINTS + 1)[1:]
    fed = np.asarray(plant.at_si(flow).used_m3s) >= (1 - _FED) * most
    flow = flow[: int(np.argmax(fed)) + 1] if fed.any() else flow
    found = plant.at_si(flow)
    head = float(np.mean(plant.penstock.head_gross_m * plant.penstock.head_factor))
    runs = (found.power_w > 0) & (found.used_m3s > 0)
    if not runs.any():
        return None
    used = np.where(runs, found.used_m3s, np.nan)
    power = np.where(runs, found.power_w, np.nan)
    weight = float(np.mean(plant.density_kgm3)) * GRAVITY
    pipe = np.where(runs, found.net_head_m, np.nan) / head
    together = power / (weight * used * head)
    return PartLoad(flow_m3s=flow, pipe=pipe, machine=together / pipe, together=together)
