"""What an intake measured to pass so much, give or take, does to the energy of each month."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Callable

import numpy as np

from ..plant.chain import Chain
from ..works.rated import Gauged, Rated
from .year import Year

__all__ = ["gauged_parts", "intake_shares", "with_intake"]

NODES = (
    -4.0,
    -2.0,
    -1.0,
    0.0,
    1.0,
    2.0,
    4.0,
)  # standard deviations between which the energy is interpolated


def gauged_parts(chain: Chain) -> tuple[Gauged | Rated, ...]:
    """The parts above the forebay of which the capacity was given, not calculated."""
    return tuple(
        part
        for part in chain.supply
        if isinstance(part, Gauged) or (isinstance(part, Rated) and part.name == "intake")
    )


def with_intake(chain: Chain, factor: float) -> Chain:
    """The chain with an intake that passes so many times what it was measured to pass."""
    measured = gauged_parts(chain)
    scaled = tuple(
        replace(part, capacity_m3s=part.capacity_m3s * factor)
        if any(part is each for each in measured)
        else part
        for part in chain.supply
    )
    return chain.replace(supply=scaled)


def intake_shares(
    chain: Chain, sd: float, year_of: Callable[[Chain], Year], base: Year
) -> tuple[np.ndarray, np.ndarray | None] | None:
    """Energy of each month of each whole year over that of the intake as measured, by size of its error.

    Parameters
    ----------
    chain : Chain
    sd : float
        Standard deviation of the capacity, as a share.
    year_of : callable
        The year of a chain.
    base : Year
        That of the chain as it stands.

    Returns
    -------
    tuple of ndarray, nodes × (years · 12), and the same of useful energy, or None
        None where the capacity is sure, not given, or never limits the plant. The rest of the plant
        is taken as it stands: what an intake takes off is read as a share of what the plant makes.
    """
    if sd <= 0 or not gauged_parts(chain):
        return None
    years = [
        base if score == 0 else year_of(with_intake(chain, max(1 + sd * score, 0.02)))
        for score in NODES
    ]
    made = _over([year.kwh for year in years], base.kwh, base.rows)
    if np.allclose(made, 1.0, atol=1e-9):
        return None
    return made, None if base.useful_kwh is None else _over(
        [year.useful_kwh for year in years], base.useful_kwh, base.rows
    )


def _over(tables: list[Any], base: Any, rows: tuple[int, ...]) -> np.ndarray:
    whole = base.loc[list(rows)].to_numpy().ravel()
    return np.array(
        [
            np.where(
                whole > 0,
                each.loc[list(rows)].to_numpy().ravel() / np.where(whole > 0, whole, 1.0),
                1.0,
            )
            for each in tables
        ]
    )


def shares_of_draws(scores: np.ndarray, table: np.ndarray) -> np.ndarray:
    """The shares at the errors drawn, draws × years × 12."""
    weight = np.stack([np.interp(scores, NODES, row) for row in np.eye(len(NODES))], axis=1)
    return (weight @ table).reshape(len(scores), -1, 12)
