"""The things that can go wrong with a plant: for each, what of the healthy plant it changes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Callable

import numpy as np

from .condition import Condition
from .healthy_plant import HealthyPlant

__all__ = ["Fault", "both_ways"]


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


def both_ways(low: float, high: float, count: int) -> np.ndarray:
    one = np.geomspace(low, high, count)
    return np.concatenate([-one[::-1], one])
