"""What every size of every fault does to the readings at every number of jets."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Sequence

import numpy as np

from .baseline import Baseline
from .condition import Table, forward
from .faults import FAULTS, Fault
from .healthy_plant import SHUT, HealthyPlant

if TYPE_CHECKING:
    from ..units import Floats

__all__ = ["SMALLEST_POWER", "Signatures", "signatures"]

SMALLEST_POWER = 0.02  # share of the healthy watts under which a meter tells no more


@dataclass(frozen=True, eq=False)
class Signatures:
    """Tables of every fault, size and place on one plant, as rows.

    Parameters
    ----------
    plant : HealthyPlant
    faults : tuple of Fault
        Healthy first.
    fault, which : ndarray of int
        Of each row: place in `faults`, jet it sits in.
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
    under_fed : ndarray
        (rows, jets + 1): chance that less arrives than the jets take.
    scale : ndarray
        Of each row: factor on the deviations of readings and baseline.
    """

    plant: HealthyPlant
    faults: tuple[Fault, ...]
    fault: np.ndarray
    _: KW_ONLY
    which: np.ndarray
    size: np.ndarray
    log_prior: np.ndarray
    table: Table
    log_power: np.ndarray
    slopes: dict[str, np.ndarray]
    under_fed: np.ndarray
    scale: np.ndarray

    @cached_property
    def rows_of(self) -> tuple[slice, ...]:
        """Rows of each fault."""
        edges = np.searchsorted(self.fault, np.arange(len(self.faults) + 1))
        return tuple(slice(int(low), int(high)) for low, high in zip(edges[:-1], edges[1:]))

    def only(self, *faults: int) -> Signatures:
        """The rows of some faults."""
        return self._taken(np.flatnonzero(np.isin(self.fault, faults)))

    def scaled(self, factors: np.ndarray, chances: np.ndarray) -> Signatures:
        """Each row as often as there are factors on the deviations, each with its chance."""
        if len(factors) == 1:
            return self
        rows = np.repeat(np.arange(len(self.size)), len(factors))
        many = self._taken(rows)
        return replace(
            many,
            scale=np.tile(factors, len(self.size)),
            log_prior=many.log_prior + np.tile(np.log(chances), len(self.size)),
            slopes={
                name: values * np.tile(factors, len(self.size))[:, None, None]
                for name, values in many.slopes.items()
            },
        )

    def _taken(self, kept: np.ndarray) -> Signatures:
        table = Table(
            **{name: getattr(self.table, name)[kept] for name in Table.__dataclass_fields__}
        )
        slopes = {name: values[kept] for name, values in self.slopes.items()}
        return Signatures(
            self.plant,
            self.faults,
            self.fault[kept],
            which=self.which[kept],
            size=self.size[kept],
            log_prior=self.log_prior[kept],
            table=table,
            log_power=self.log_power[kept],
            slopes=slopes,
            under_fed=self.under_fed[kept],
            scale=self.scale[kept],
        )

    def place_of(self, key: str) -> int:
        """Place of a fault in `faults`."""
        return next(place for place, fault in enumerate(self.faults) if fault.key == key)

    @property
    def healthy(self) -> int:
        """First row of the healthy plant."""
        return self.rows_of[0].start

    def log_watts(self, power_w: Floats, jets: int) -> Floats:
        """Logarithm of watts as they count here."""
        return np.log(
            np.maximum(power_w, SMALLEST_POWER * self.table.power_w[self.healthy][jets] + SHUT)
        )


def signatures(baseline: Baseline, faults: Sequence[Fault] = FAULTS) -> Signatures:
    """Work out every fault on a plant.

    Parameters
    ----------
    baseline : Baseline
    faults : sequence of Fault
        Healthy first.

    Raises
    ------
    HydrokitError
        As :meth:`HealthyPlant.of`.
    """
    plant = HealthyPlant.of(baseline)
    around = np.concatenate([np.zeros((1, 5)), plant.spread.T, -plant.spread.T])
    made = []
    for number, fault in enumerate(faults):
        sizes, places = fault.sizes(plant), fault.places(plant.jets)
        which, size = (each.ravel() for each in np.meshgrid(places, sizes, indexing="ij"))
        table = forward(plant, fault.condition(size, which), around)
        shape = (len(size), len(around), plant.jets + 1)
        prior = np.tile(np.log(fault.size_chances(sizes) / len(places)), len(places))
        made.append(
            (
                np.full(len(size), number),
                which,
                size,
                prior,
                Table(
                    **{
                        name: np.broadcast_to(getattr(table, name), shape)
                        for name in Table.__dataclass_fields__
                    }
                ),
            )
        )
    number_of, which, size, log_prior = (
        np.concatenate([each[place] for each in made]) for place in range(4)
    )
    whole = {
        name: np.concatenate([getattr(each[4], name) for each in made])
        for name in Table.__dataclass_fields__
    }
    floor = SMALLEST_POWER * whole["power_w"][0, 0] + SHUT
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
        tuple(faults),
        number_of,
        which=which,
        size=size,
        log_prior=log_prior,
        table=Table(**{name: values[:, 0] for name, values in whole.items()}),
        log_power=read["log_power"][:, 0],
        slopes=slopes,
        under_fed=_chance_under_fed(whole["spare"]),
        scale=np.ones(len(size)),
    )


def _chance_under_fed(spare: np.ndarray) -> np.ndarray:
    """Chance that less arrives than wanted, from the spread of what is wanted."""
    from scipy.special import ndtr

    sd = np.sqrt(np.sum(np.square((spare[:, 1:6] - spare[:, 6:]) / 2), axis=1))
    return ndtr(-spare[:, 0] / np.maximum(sd, 0.005))
