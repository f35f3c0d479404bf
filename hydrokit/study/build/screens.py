"""Screens of the way: what they pass as they clog, an inclined one at low water, the screen that
keeps fish out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .clogging import catches
from .part_names import part_name

if TYPE_CHECKING:
    from ..study import Study

__all__ = [
    "BLOCKED",
    "FishScreens",
    "ScreenRow",
    "InclinedAtLowWater",
    "fish_screens",
    "low_water",
    "screen_rows",
    "inclined",
]

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
class InclinedAtLowWater:
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
    theory_m3s : tuple of float or None
        From what to what published theories place it clean, where its slots are known.
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
    theory_m3s: tuple[float, float] | None

    @property
    def above_theory(self) -> bool:
        """Whether it is rated for more than any theory allows, its own uncertainty left to it."""
        if self.theory_m3s is None or self.source == "gauged":
            return False
        return self.clean_m3s * (1 - self.relative_uncertainty) > self.theory_m3s[1]


def inclined(study: Study) -> tuple[InclinedAtLowWater, ...]:
    """Every inclined screen of the way."""
    from ...works.rated import as_built
    from ...works.screen_parts import InclinedScreen

    low, made = low_water(study), []
    lengths = {part_name(entry) for entry in study.site.part if "length" in entry}
    for part in study.supply or ():
        if not isinstance(as_built(part), InclinedScreen):
            continue
        share = np.nan if low is None else float(part.wetted_length_si(low)) / part.length_m
        made.append(
            InclinedAtLowWater(
                name=part.name,
                source=part.source,
                clean_m3s=float(part.capacity_si()),
                relative_uncertainty=part.relative_uncertainty,
                drop_m=part.drop_m,
                low_water_m3s=low,
                wet_share=share,
                over_toe_m3s=np.nan if low is None else float(part.over_the_toe_si(low)),
                wet_m=share * part.length_m if part.name in lengths else None,
                theory_m3s=as_built(part).band_m3s,
            )
        )
    return tuple(made)


@dataclass(frozen=True, eq=False, kw_only=True)
class RackBand:
    """A bottom rack: what it is taken to pass clean, and from what to what published theories place
    it, in m³/s."""

    name: str
    taken_m3s: float
    measured: bool
    low_m3s: float
    high_m3s: float


def bottom_racks(study: Study) -> tuple[RackBand, ...]:
    """Every bottom rack of the way."""
    from ...works.rated import as_built
    from ...works.screen_parts import BottomRack

    made = []
    for part in study.supply or ():
        rack = as_built(part)
        if isinstance(rack, BottomRack):
            low, high = rack.band_m3s
            made.append(
                RackBand(
                    name=part.name,
                    taken_m3s=float(part.capacity_si()),
                    measured=rack is not part,
                    low_m3s=low,
                    high_m3s=high,
                )
            )
    return tuple(made)


def low_water(study: Study) -> float | None:
    """Flow that may be taken on all but one day in twenty, else the lowest gauged; None where
    nothing is known."""
    if study.usable is not None:
        return float(np.nanquantile(study.usable, _LOW_WATER))
    return None if study.gaugings is None else float(study.gaugings.flow_m3s.min())


# --- fish -----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class FishScreens:
    """The screens at full flow against published criteria for young salmon and trout.

    Parameters
    ----------
    flow_m3s : float
        At the intake.
    near : tuple of (str, bool, float)
        Screen, whether the speed is that in its holes rather than before it, and the speed in m/s.
    cleaned_ms, not_cleaned_ms : float
        Approach speeds the criteria allow.
    cleaned_m2, not_cleaned_m2 : float
        Wetted screen that keeps them at this flow.
    """

    flow_m3s: float
    near: tuple[tuple[str, bool, float], ...]
    cleaned_ms: float
    not_cleaned_ms: float
    cleaned_m2: float
    not_cleaned_m2: float


def fish_screens(study: Study) -> FishScreens | None:
    """The screens against criteria for fish, or None where no flow is known."""
    from ...tables import row
    from ...works.screens import fish_screen_area

    full = study.full_flow_m3s
    if full is None:
        return None
    flow = full if study.plant is None else float(study.plant.reaching_si()[0].needs_si(full))
    rules = [f"juvenile salmonids {name}" for name in ("self-cleaning", "not cleaned")]
    cleaned, not_cleaned = (float(row("fish_screens", rule)["approach_ms"]) for rule in rules)
    near = []
    for part in study.supply or ():
        if hasattr(part, "approach_speed_si"):
            near.append((part.name, False, float(part.approach_speed_si(flow))))
        elif hasattr(part, "hole_area_m2"):
            near.append((part.name, True, float(flow / part.hole_area_m2)))
    return FishScreens(
        flow_m3s=flow,
        near=tuple(near),
        cleaned_ms=cleaned,
        not_cleaned_ms=not_cleaned,
        cleaned_m2=float(fish_screen_area.si(flow)),
        not_cleaned_m2=float(fish_screen_area.si(flow, rules[1])),
    )
