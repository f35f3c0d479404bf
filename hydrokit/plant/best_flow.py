"""Flows that a penstock can take at most, and at which it brings most power."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from ..works.state import State
from .parts import Penstock

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["best_flow"]


@lru_cache(maxsize=64)
def best_flow(penstock: Penstock, state: State) -> Number:
    """Flow at which the penstock brings most power to the jets: neither of the two ever changes."""
    return penstock.most_power_flow_si(_free_flow(penstock, state), state)


def _free_flow(penstock: Penstock, state: State) -> float:
    """Flow at which the penstock alone would use up the head, or a great one where it has no loss."""
    static = float(np.max(penstock.static_si(state)))
    flow = 1e-3
    while flow < 1e3 and np.all(penstock.loss_si(flow, state) < static):
        flow *= 2
    return flow
