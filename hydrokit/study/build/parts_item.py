"""One thing to buy, and what is shared by all who count them."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ...plant.chain import Chain
    from ..study import Study

__all__ = ["Item", "static_pressure_pa"]

# All common practice.
SPARE = 0.05  # of pipe and cable


@dataclass(frozen=True, eq=False)
class Item:
    """One line of the list.

    Parameters
    ----------
    group : str
        Part of the plant it belongs to.
    what : str
        The thing, with its size and class.
    amount : float
        How many or how much, in SI.
    kind : str
        Display kind of the amount; empty for a number of pieces.
    follows : str
        The number it follows from, in the reader's units.
    """

    group: str
    what: str
    amount: float
    _: KW_ONLY
    kind: str
    follows: str


def static_pressure_pa(study: Study, plant: Chain) -> float:
    """Pressure at the foot of the penstock, at rest."""
    from ...water import head_to_pressure

    head_m = plant.penstock.head_gross_m if study.head is None else study.head.value
    return float(head_to_pressure.si(head_m, study.water_temperature_k))
