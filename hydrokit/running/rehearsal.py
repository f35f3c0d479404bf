"""How far a diagnosis can be trusted on one plant: rehearsed before it is needed.

Faults are seeded in the plant of the baseline, read as somebody would read them, and diagnosed.
What a fault must measure before the readings show it at all is worked out as well.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Sequence

import numpy as np

from ..result import Result
from .healthy_plant import HealthyPlant
from .observation import Noise, Observation
from .signatures import Signatures
from .weighing import TOLD_APART, Weighed, chances, foretold

__all__ = ["Rehearsal", "least_seen", "rehearse", "usual_visit"]

_SIZES_TRIED = 30


@dataclass(frozen=True, eq=False)
class Rehearsal(Result):
    """What the diagnosis made of seeded faults.

    Parameters
    ----------
    keys : tuple of str
        States, as rows and columns.
    named_first : ndarray
        Share of the draws of a state (row) in which a state (column) came first.
    right : ndarray
        By state: share in which it came first or was declared inseparable from the first.
    unparted : ndarray
        By state: how many states were left on average, the first included.
    in_interval : ndarray
        By state: share in which its size lay in the interval given for it.
    draws : int
        Of each state.
    """

    keys: tuple[str, ...]
    named_first: np.ndarray
    right: np.ndarray
    _: KW_ONLY
    unparted: np.ndarray
    in_interval: np.ndarray
    draws: int

    @property
    def false_alarms(self) -> float:
        """Share of healthy draws in which something else came first."""
        return float(self.named_first[0, 1:].sum())


def usual_visit(plant: HealthyPlant) -> list[Observation]:
    """The places of a careful visit: all jets, one less, none; gauge, watts, pond and needle."""
    fewest = max(plant.jets - 2, 0) if plant.valves else plant.jets - 1
    return [Observation(count) for count in (*range(plant.jets, fewest, -1), 0)]


def rehearse(
    tables: Signatures,
    visit: Sequence[Observation] | None = None,
    draws: int = 40,
    seed: int = 1,
    noise: Noise = Noise(),
) -> Rehearsal:
    """Plant every fault, at sizes as likely as the diagnosis takes them to be, and see what it makes of them.

    Parameters
    ----------
    tables : Signatures
    visit : sequence of Observation, optional
        How many jets are open when gauge, meters, pond and needle are read; :func:`usual_visit`
        when not given.
    draws : int
        Of each state.
    seed : int
    noise : Noise
        Taken as certain.

    Returns
    -------
    Rehearsal
        The plants are drawn from the baseline's own uncertainty: this tells what a perfect model of the
        plant would reach, not more.
    """
    looks = usual_visit(tables.plant) if visit is None else list(visit)
    noise = noise.certain
    random = np.random.default_rng(seed)
    truth = np.repeat(np.arange(len(tables.faults)), draws)
    rows = np.concatenate(
        [
            random.choice(np.arange(each.start, each.stop), draws, p=np.exp(tables.log_prior[each]))
            for each in tables.rows_of
        ]
    )
    weighed = Weighed.of(tables, looks, noise, _read(tables, rows, looks, noise, random))
    chance, unparted = weighed.verdict()
    first = chance.argmax(axis=0)
    confusion = np.zeros((len(tables.faults), len(tables.faults)))
    np.add.at(confusion, (truth, first), 1 / draws)
    columns = np.arange(len(truth))
    held = np.array(
        [
            low <= tables.size[row] <= high
            for row, (_, low, high) in zip(
                rows, (weighed.size(fault, draw) for draw, fault in enumerate(truth.tolist()))
            )
        ]
    )

    def mean(values: np.ndarray) -> np.ndarray:
        return values.reshape(len(tables.faults), draws).mean(axis=1)

    return Rehearsal(
        tuple(each.key for each in tables.faults),
        confusion,
        mean(unparted[truth, columns]),
        unparted=mean(unparted.sum(axis=0)),
        in_interval=mean(held),
        draws=draws,
    )


def _read(
    tables: Signatures,
    rows: np.ndarray,
    looks: Sequence[Observation],
    noise: Noise,
    random: np.random.Generator | None,
) -> dict[str, np.ndarray]:
    """Readings of rows: (draws, looks) arrays. Without `random`: just as the baseline foretells them."""
    scatter = random.standard_normal if random is not None else np.zeros
    own = scatter((len(rows), 5))
    shape = (len(rows), len(looks))
    read = {
        name: np.full(shape, np.nan)
        for name in ("pressure_pa", "power_w", "spilling", "fluctuates")
    }
    for place, look in enumerate(looks):
        for name in (
            ("pressure_pa", "power_w")
            if look.jets and np.isfinite(tables.plant.baseline.efficiency)
            else ("pressure_pa",)
        ):
            mean, slope, variance = (
                each[rows] for each in foretold(tables, name, look.jets, noise)
            )
            value = (
                mean + np.einsum("ri,ri->r", slope, own) + np.sqrt(variance) * scatter(len(rows))
            )
            read[name][:, place] = value if name == "pressure_pa" else np.exp(value)
        if look.jets:
            for name, chance in zip(("spilling", "fluctuates"), chances(tables, look.jets)):
                read[name][:, place] = (
                    random.random(len(rows)) if random is not None else 0.5
                ) < chance[rows]
    return read


def least_seen(
    tables: Signatures, visit: Sequence[Observation] | None = None, noise: Noise = Noise()
) -> dict[str, float]:
    """Smallest size of each fault that a visit would tell from health at 20 to 1, the gauges reading true.

    Parameters
    ----------
    tables : Signatures
    visit : sequence of Observation, optional
    noise : Noise

    Returns
    -------
    dict of str to float
        SI; NaN where no size does. Of a fault that may sit in any jet, in the one where it shows
        least.
    """
    looks = usual_visit(tables.plant) if visit is None else list(visit)
    noise = noise.certain
    found = {}
    for number, fault in enumerate(tables.faults[1:], 1):
        mine = tables.only(0, number)
        rows = mine.rows_of[number]
        size = np.abs(mine.size[rows])
        tried = np.geomspace(max(size.min(), 1e-3 * size.max()), size.max(), _SIZES_TRIED)
        nearest = np.unique(
            np.unique(size)[
                np.searchsorted(np.unique(size), tried * (1 - 1e-9)).clip(
                    max=len(np.unique(size)) - 1
                )
            ]
        )
        chosen = rows.start + np.flatnonzero(np.isin(size, nearest))
        evidence = Weighed.of(mine, looks, noise, _read(mine, chosen, looks, noise, None)).evidence
        shows = evidence[number] - evidence[0] >= np.log(TOLD_APART)
        size = np.abs(mine.size[chosen])
        hidden = size[~shows].max(initial=0.0)
        seen = size[shows & (size > hidden)]
        found[fault.key] = float(seen.min()) if len(seen) else np.nan
    return found
