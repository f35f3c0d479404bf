"""What a runner gives away from its usual head: its speed may follow the jets, or be held by the load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["off_design"]

# A runner away from its head is not as good as the baseline says, whatever its speed: standard
# deviation of the logarithm of its efficiency, for each unit of the logarithm of the head. Common practice.
_SCATTER = 0.15
_BEST = 0.46  # speed of the buckets over that of the jet where an impulse runner is best, common practice
_HELD = (0.0, 0.5, 1.0)  # shares of the speed that may be held; nobody wrote down which
_LEAST = 0.05  # of the usual efficiency: under it meters tell no more


def off_design(log_head: Number) -> tuple[np.ndarray, np.ndarray]:
    r"""Mean and standard deviation of the logarithm of a runner's efficiency over the usual one.

    Parameters
    ----------
    log_head : ndarray
        Logarithm of the head at the jets over the usual head with as many jets open.

    Notes
    -----
    Buckets of speed u in a jet of speed v give :math:`4\,(u/v)(1-u/v)` of its power (Euler). Where the
    load holds u, u/v goes with :math:`h^{-1/2}`: under half the head a held runner gives a tenth less
    for the same jet, under a sixth nothing.

    References
    ----------
    .. [1] Momentum theorem; any textbook of fluid machines.
    """
    away = np.asarray(log_head, dtype=float)
    found = []
    for held in _HELD:
        ratio = _BEST * np.exp(-0.5 * held * np.clip(away, -8.0, 8.0))
        found.append(np.log(np.maximum(ratio * (1 - ratio) / (_BEST * (1 - _BEST)), _LEAST)))
    wheel = np.stack(found)
    return wheel.mean(axis=0), np.sqrt(wheel.var(axis=0) + np.square(_SCATTER * away))
