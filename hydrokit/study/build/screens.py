"""Screens of the way: what they pass as they clog, a tilted one at low water, the screen that keeps fish out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .clogging import catches
from .part_names import part_name

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["BLOCKED", "ScreenRow", "TiltedAtLowWater", "low_water", "screen_rows", "tilted"]

BLOCKED = (0.0, 0.25, 0.5, 0.75, 0.9)
_LOW_WATER = 0.05  # share of the days on which less may be taken


@dataclass(frozen=True, eq=False, kw_only=True)
class ScreenRow:
    """What one screen passes, in m³/s, with each share of :data:`BLOCKED` blocked."""

    name: str
    passes_m3s: tuple[float, ...]


def screen_rows(study: Study) -> tuple[ScreenRow, ...]:
    """Every screen of the way, as the water meets them."""
    from ...works.state import State

    return tuple(
        ScreenRow(
            name=part.name,
            passes_m3s=tuple(float(part.capacity_si(State(clogged=share))) for share in BLOCKED),
        )
        for part in study.supply or ()
        if catches(part)
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class TiltedAtLowWater:
    """An inclined screen, clean and at low water.

    Parameters
    ----------
    name, source : str
        Source: ``"maker"``, ``"gauged"`` or ``"estimate"``.
    clean_m3s, relative_uncertainty, drop_m : float
    low_water_m3s : float or None
        None where no low water is known.
    wet_share, over_toe_m3s : float
        At low water: share of it that is wet, and what runs over its toe; NaN where that is not known.
    wet_m : float or None
        That share as a length, where the site file gives the length.
    """

    name: str
    source: str
    clean_m3s: float
    relative_uncertainty: float
    drop_m: float
    low_water_m3s: float | None
    wet_share: float
    over_toe_m3s: float
    wet_m: float | None


def tilted(study: Study) -> tuple[TiltedAtLowWater, ...]:
    """Every inclined screen of the way."""
    from ...works.rated import as_built
    from ...works.screen_parts import TiltedScreen

    low, made = low_water(study), []
    lengths = {part_name(entry) for entry in study.site["part"] if "length" in entry}
    for part in study.supply or ():
        if not isinstance(as_built(part), TiltedScreen):
            continue
        share = np.nan if low is None else float(part.wetted_length_si(low)) / part.length_m
        made.append(
            TiltedAtLowWater(
                name=part.name,
                source=part.source,
                clean_m3s=float(part.capacity_si()),
                relative_uncertainty=part.relative_doubt,
                drop_m=part.drop_m,
                low_water_m3s=low,
                wet_share=share,
                over_toe_m3s=np.nan if low is None else float(part.over_the_toe_si(low)),
                wet_m=share * part.length_m if part.name in lengths else None,
            )
        )
    return tuple(made)


def low_water(study: Study) -> float | None:
    """Flow that may be taken on all but one day in twenty, else the lowest gauged; None where nothing is known."""
    if study.usable is not None:
        return float(np.nanquantile(study.usable, _LOW_WATER))
    return None if study.gaugings is None else float(study.gaugings.flow_m3s.min())
