"""Several machines of different size on one penstock: which of them run, and how they share the water.

All of them stand under one net head, so the best share of the water does not depend on the head: it
is worked out once for every set of machines, as the efficiency of the set.

>>> from hydrokit.plant.machines import Machine, Machines
>>> from hydrokit.plant.turbine import part_load
>>> pair = Machines((Machine(0.030, part_load.si("francis"), "big"), Machine(0.010, part_load.si("francis"), "small")))
>>> [" and ".join(names) for names in pair.sets]
['small', 'big', 'small and big']
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..works.solve import require
from .parts import Opening
from .turbine import PartLoad

if TYPE_CHECKING:
    from ..units import Floats, Number

__all__ = ["Machine", "Machines", "together"]

_NODES, _SPLITS = (
    161,
    641,
)  # of the total flow, and of its shares; the best share is flat, so its error counts squared


@dataclass(frozen=True, eq=False)
class Machine:
    """One adjustable machine.

    Parameters
    ----------
    design_flow_m3s : float
        Most it takes.
    part_load : PartLoad
        Its own efficiency.
    name : str
    """

    design_flow_m3s: float
    part_load: PartLoad
    name: str = "machine"

    def __post_init__(self) -> None:
        require(f"Machine '{self.name}'", "above zero", design_flow_m3s=self.design_flow_m3s)

    @property
    def least_m3s(self) -> float:
        """Flow below which it does not run."""
        return self.part_load.minimum_ratio * self.design_flow_m3s

    def yield_si(self, flow_m3s: Floats) -> Floats:
        """Flow times efficiency, in m³/s: power over density, gravity and head."""
        return flow_m3s * self.part_load.efficiency_si(flow_m3s / self.design_flow_m3s)


@dataclass(frozen=True, eq=False)
class Machines:
    """Adjustable machines side by side: any set of them runs, each with the share of the water that
    gives most.

    Parameters
    ----------
    machines : tuple of Machine
        Up to four.
    flow_factor : float or ndarray
        Multiplies the most they take, not the flow their efficiency is stated at.
    name : str
    """

    machines: tuple[Machine, ...]
    flow_factor: Number = 1.0
    name: str = "machines"

    def __post_init__(self) -> None:
        if not 1 <= len(self.machines) <= 4:
            raise HydrokitError(
                f"Machines '{self.name}': 1 to 4 machines are needed, got {len(self.machines)}"
            )

    @property
    def count(self) -> int:
        """How many machines there are."""
        return len(self.machines)

    @property
    def design_flow_m3s(self) -> float:
        """Most that all of them take."""
        return sum(each.design_flow_m3s for each in self.machines)

    @property
    def part_load(self) -> PartLoad:
        """Efficiency of all of them together."""
        return together(_sets(self.machines)[-1])

    @property
    def sets(self) -> tuple[tuple[str, ...], ...]:
        """Names of the machines that run in each of :meth:`openings`."""
        return tuple(tuple(each.name for each in chosen) for chosen in _sets(self.machines))

    def openings(self) -> tuple[Opening, ...]:
        """Every set of machines, the smallest first."""
        found = []
        for chosen in _sets(self.machines):
            rated = sum(each.design_flow_m3s for each in chosen)
            found.append(
                Opening(
                    len(chosen),
                    None,
                    rated * self.flow_factor,
                    part_load=together(chosen),
                    rated_m3s=rated,
                )
            )
        return tuple(found)

    def sized(self, factor: Floats) -> Machines:
        """The same machines taking more or less at full opening."""
        return replace(self, flow_factor=self.flow_factor * factor)


@lru_cache(maxsize=64)
def _sets(machines: tuple[Machine, ...]) -> tuple[tuple[Machine, ...], ...]:
    """Every set of machines, by the flow they take."""
    rising = sorted(machines, key=lambda each: each.design_flow_m3s)
    found = [
        chosen for count in range(1, len(rising) + 1) for chosen in combinations(rising, count)
    ]
    return tuple(
        sorted(
            found, key=lambda chosen: (sum(each.design_flow_m3s for each in chosen), len(chosen))
        )
    )


@lru_cache(maxsize=256)
def together(machines: tuple[Machine, ...]) -> PartLoad:
    r"""Efficiency of machines that all run, the water shared for the most power.

    Parameters
    ----------
    machines : tuple of Machine

    Returns
    -------
    PartLoad
        Against the share of their summed design flow; that of a single machine is its own. They do
        not run all together on less than the sum of the least flow of each.

    Notes
    -----
    Under one head, power is in proportion to :math:`\sum q_i \eta_i(q_i)`. With
    :math:`g_1 = q\,\eta_1(q)`, machine after machine,

    .. math:: g_{k}(Q) = \max_q \left[ g_{k-1}(Q - q) + q\,\eta_k(q) \right]

    References
    ----------
    .. [1] R. Bellman, *Dynamic Programming*, Princeton University Press, 1957, ch. 1: allocation of
           a resource.
    """
    first, *others = machines
    curve, least, most = first.part_load, first.least_m3s, first.design_flow_m3s
    for machine in others:
        before, below, above = Machine(most, curve), least, most
        least, most = least + machine.least_m3s, most + machine.design_flow_m3s
        kinks = np.concatenate(
            [
                below + machine.part_load.flow_ratios * machine.design_flow_m3s,
                above + machine.part_load.flow_ratios * machine.design_flow_m3s,
                machine.least_m3s + curve.flow_ratios * above,
            ]
        )
        total = np.concatenate(
            [np.linspace(least, most, _NODES), kinks[(kinks > least) & (kinks < most)]]
        )
        total = most * np.unique(np.round(total[total > 0] / most, 9))
        low, high = (
            np.maximum(machine.least_m3s, total - above),
            np.minimum(machine.design_flow_m3s, total - below),
        )
        share = low + np.linspace(0, 1, _SPLITS)[:, None] * (high - low)
        # kept within what each can take, whatever rounding says
        rest = np.clip(total - share, below, above)
        share = np.clip(share, machine.least_m3s, machine.design_flow_m3s)
        best = np.max(before.yield_si(rest) + machine.yield_si(share), axis=0)
        curve = PartLoad(
            "machines",
            total / most,
            np.minimum(best / total, 1.0),
            minimum_ratio=least / most,
            source="the water shared for the most power",
            mark="computed",
        )
    return curve
