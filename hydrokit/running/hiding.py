"""What may hide behind a fault that is known: a second one that the readings neither show nor rule out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .faults import Fault
from .observation import Noise, Observation
from .pairs import Grid, exclude, together
from .signatures import Signatures, signatures
from .weighing import TOLD_APART, Weighed

__all__ = ["Hiding", "hiding"]

_SIZES, _OF_THE_FIRST = 12, 6  # sizes tried of each
_MOST = 3
_MATTERS = 0.05  # of the healthy watts: what takes less is not worth a walk
_SILENT = {"gauge", "stuck"}  # move no watts


@dataclass(frozen=True, eq=False)
class Hiding:
    """A second fault that may be there besides.

    Parameters
    ----------
    fault : Fault
    size : float
        As large as it may be; SI.
    cost_w : float
        Watts it would then take of the plant were nothing else wrong.
    """

    fault: Fault
    size: float
    cost_w: float


def hiding(
    tables: Signatures,
    single: Weighed,
    looks: Sequence[Observation],
    noise: Noise,
    first: str,
) -> tuple[Hiding, ...]:
    """Second faults that may hide behind the likeliest, the costliest first.

    Parameters
    ----------
    tables, single, looks, noise
        As in :func:`~hydrokit.running.pairs.pairs`.
    first : str
        Key of the likeliest.

    Returns
    -------
    tuple of Hiding

    Notes
    -----
    The largest size of the second, over all sizes of the first, at which the readings are no more than
    20 times less likely than with the first alone. With few readings that is much; those that cannot
    be told from the first are left out, for they are declared as such.
    """
    mine = tables.place_of(first)
    usual = single.tables.rows_of[mine]
    best = float((single.log_likelihood[usual, 0]).max())
    jets = max((each.jets for each in looks), default=0)
    healthy = tables.table.power_w[tables.healthy, jets]
    sizes = np.unique(tables.size[tables.rows_of[mine]])
    _, low, high = single.size(mine)
    near = sizes[(sizes >= 0.7 * low) & (sizes <= 1.3 * high)]
    tried = near[np.unique(np.linspace(0, len(near) - 1, _OF_THE_FIRST).astype(int))]
    others = [
        fault
        for fault in tables.faults[1:]
        if fault.key not in _SILENT | {first}
        and not fault.under_feeds  # a lack that does not bind is none
        and not exclude(fault, tables.faults[mine])
    ]
    if not len(tried) or not others:
        return ()
    grids = [Grid(tried, _spread(fault.sizes(tables.plant)), 1.0) for fault in others]
    pairs = [
        together(tables.faults[mine], fault, tables.plant, grid)
        for fault, grid in zip(others, grids)
    ]
    both = signatures(tables.plant.baseline, (tables.faults[0], *pairs))
    weighed = Weighed.of(both, looks, noise)
    found = []
    for place, (fault, grid) in enumerate(zip(others, grids), start=1):
        rows = weighed.tables.rows_of[place]
        second = np.array([size for _, size in grid.both])[weighed.tables.size[rows].astype(int)]
        likely = weighed.log_likelihood[rows, 0] > best - np.log(TOLD_APART)
        if not likely.any():
            continue
        size = float(second[likely].max())
        alone = tables.rows_of[tables.place_of(fault.key)]
        like = np.abs(tables.size[alone] - size) <= 1e-9 + 0.02 * abs(size)
        taken = healthy - tables.table.power_w[alone, jets][like]
        cost = float(np.abs(taken).max()) if like.any() else 0.0
        if cost > _MATTERS * healthy:
            found.append(Hiding(fault, size, cost))
    return tuple(sorted(found, key=lambda each: -each.cost_w)[:_MOST])


def _spread(sizes: np.ndarray) -> np.ndarray:
    """Some of the sizes, the smallest and the largest among them."""
    return sizes[np.unique(np.linspace(0, len(sizes) - 1, _SIZES).astype(int))]
