"""Frost on a line stretch by stretch: how it lies, how long still water in it has, what flow keeps
it open."""

from __future__ import annotations

import math
from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from ..result import Result
from .frost import FREEZING_POINT, keep_open_flow_full
from .insulation import film_in_wind, film_of_radiation, thermal_resistance
from .snow import SETTLED_SNOW, snow_as_soil, snow_by_day, snow_conductivity
from .soil import DRY_GRAVEL, MOIST, WET_SILT, Ground, Soil, ground, ground_through_years
from .solve import require
from .standing import LONGEST_DAYS, ice_a_step, standing_time

if TYPE_CHECKING:
    from ..units import Number

__all__ = [
    "BLOCKED",
    "GROUND",
    "SPELL_DAYS",
    "Cold",
    "LineFrost",
    "Stretch",
    "StretchFrost",
    "frost_on",
]

WIND = 2.0  # m/s over a bare pipe on a cold night; common practice
GROUND = 277.15  # K, of soil in early winter; common practice
SPELL_DAYS = (
    30  # that the coldest day is taken to last where it is all that is known; common practice
)
BLOCKED = 0.25  # share of the bore that is ice; convention
_DAY = 86400.0


@dataclass(frozen=True, eq=False)
class Stretch(Result):
    """A length of pipe that lies alike all along.

    Parameters
    ----------
    name, line : str
        What it is called, and the line it belongs to.
    start_m, end_m : float
        Distances along the slope.
    inside_m, outside_m, roughness_m : float
        Of the pipe.
    soil_m : float
        Soil over its crown; zero where it lies on the ground or hangs free.
    snow_m : float
        Snow over the soil in mid winter, or over the crown of a pipe that lies on the ground.
    insulation_m : float
    """

    name: str
    line: str
    start_m: float
    _: KW_ONLY
    end_m: float
    inside_m: float
    outside_m: float
    roughness_m: float
    soil_m: float = 0.0
    snow_m: float = 0.0
    insulation_m: float = 0.0

    def __post_init__(self) -> None:
        require(
            f"Stretch '{self.name}'",
            "zero or more",
            soil_m=self.soil_m,
            snow_m=self.snow_m,
            insulation_m=self.insulation_m,
        )

    @property
    def bare(self) -> bool:
        """Whether nothing keeps the cold off it."""
        return self.soil_m == self.snow_m == self.insulation_m == 0

    def resistance_si(self, air_temperature_k: float, snow_m: Number = 0.0) -> Number:
        """Between the water and what is around it, for one metre, in m·K/W; the pipe's own wall is
        left out (cautious).

        Parameters
        ----------
        air_temperature_k : float
        snow_m : float or ndarray
            On the ground over it.

        Notes
        -----
        In air the film of wind and radiation, under soil the buried cylinder's, driven by the
        ground as it would be at its crown without the pipe. The film counts as so much more soil
        as makes the one pass into the other where the cover ends: a pipe under next to nothing
        freezes like one in air. What lies on the ground under snow is taken to lose its heat
        through the ground beside it (cautious).
        """
        around = self.outside_m + 2 * self.insulation_m
        film = float(film_in_wind.si(around, WIND)) + float(
            film_of_radiation.si(FREEZING_POINT, min(air_temperature_k, FREEZING_POINT))
        )
        in_air, soil = 1 / (math.pi * around * film), MOIST.frozen_wmk
        film_as_soil = min(soil / film, around / 2 * (math.cosh(2 * math.pi * soil * in_air) - 1))
        snow = snow_as_soil.si(snow_m, snow_conductivity.si(SETTLED_SNOW), soil)
        axis = self.soil_m + around / 2 + film_as_soil + snow
        covered = np.arccosh(2 * axis / around) / (2 * math.pi * soil)
        wrapped = thermal_resistance.si(self.outside_m, insulation=self.insulation_m)
        return wrapped + np.maximum(in_air, covered)


@dataclass(frozen=True, eq=False)
class Cold:
    """The air that the stretches stand in, day by day, and the ground under it.

    Parameters
    ----------
    air_k : ndarray
        Mean of each day, all known.
    lasting : bool
        Whether it is one spell that comes over ground of 4 °C, and not a record of years.
    usual_snow_m : tuple of float
        Depths of snow in mid winter under which stretches lie.
    snow_share : ndarray or None
        Snow of each day as a share of the usual depth of mid winter, where it was read; NaN where not.
    """

    air_k: np.ndarray
    lasting: bool
    usual_snow_m: tuple[float, ...] = ()
    _: KW_ONLY
    snow_share: np.ndarray | None = None

    @cached_property
    def lowest_k(self) -> float:
        """Coldest day."""
        return float(np.min(self.air_k))

    def snow_m(self, usual_m: float) -> np.ndarray:
        """Snow of each day: in a spell the usual depth, through years as it was read, else by the rule."""
        if self.lasting or usual_m == 0:
            return np.full(len(self.air_k), usual_m)
        ruled = np.asarray(snow_by_day.si(self.air_k, usual_m))
        if self.snow_share is None:
            return ruled
        return np.where(np.isnan(self.snow_share), ruled, usual_m * self.snow_share)

    def ground(self, usual_m: float, soil: Soil = MOIST) -> Ground:
        """The ground under so much snow in mid winter; bare ground under none."""
        depths = tuple(sorted({0.0, *self.usual_snow_m, usual_m}))
        if self.lowest_k >= FREEZING_POINT:
            return Ground(
                np.array([0.0, 1.0]), np.tile(self.air_k[:, None], 2), np.zeros(len(self.air_k))
            )
        snow = np.array([self.snow_m(each) for each in depths])
        made = _ground(self.air_k.tobytes(), snow.tobytes(), self.lasting, soil)
        place = depths.index(usual_m)
        return Ground(made.depth_m, made.temperature_k[place], made.frost_m[place])

    @classmethod
    def spell(cls, coldest_k: float, usual_snow_m: tuple[float, ...] = ()) -> Cold:
        """A month of the coldest day, then freezing point: where no year of air temperatures is known."""
        return cls(
            np.append(np.full(SPELL_DAYS, coldest_k), np.full(LONGEST_DAYS, FREEZING_POINT)),
            True,
            usual_snow_m,
        )


@lru_cache(maxsize=8)
def _ground(air: bytes, snow: bytes, lasting: bool, soil: Soil) -> Ground:
    """Kept, for variants of a study stand in the same air."""
    air_k = np.frombuffer(air)
    snow_m = np.frombuffer(snow).reshape(-1, len(air_k))
    if lasting:
        return ground.si(air_k, snow_m, GROUND, soil=soil)
    return ground_through_years(air_k, snow_m, soil)


@dataclass(frozen=True, eq=False)
class StretchFrost:
    """What the cold does to one stretch, from water that stands in it at 0 °C.

    Parameters
    ----------
    stretch : Stretch
        As it lies: without its snow, where that is left out.
    around_k : ndarray
        Day by day, what the water loses its heat to: the air, or the ground at its crown.
    resistance : ndarray
        Day by day, of one metre between the two.
    blocked : ndarray
        From the morning of each day on: seconds until a quarter of the bore is ice.
    solid_s : float
        The least time until all of it is ice.
    """

    stretch: Stretch
    around_k: np.ndarray
    _: KW_ONLY
    resistance: np.ndarray
    blocked: np.ndarray
    solid_s: float

    @cached_property
    def blocked_s(self) -> float:
        """The least time until a quarter of the bore is ice."""
        return float(np.min(self.blocked))

    @cached_property
    def lost_wm(self) -> np.ndarray:
        """Day by day, heat that a metre of running water at 0 °C loses."""
        return np.asarray(np.maximum(FREEZING_POINT - self.around_k, 0.0) / self.resistance)

    @property
    def heat_loss_wm(self) -> float:
        """The same on the worst day."""
        return float(np.max(self.lost_wm))

    @property
    def keep_open_m3s(self) -> float:
        """Flow whose friction makes that good in the full pipe."""
        return self.open_m3s(self.heat_loss_wm)

    @property
    def blocking_day_k(self) -> float:
        """What is around it on a day that blocks it from morning to morning, without snow."""
        held = float(self.stretch.resistance_si(float(np.min(self.around_k))))
        return FREEZING_POINT - BLOCKED / float(
            ice_a_step.si(FREEZING_POINT - 1, self.stretch.inside_m, held, BLOCKED, _DAY)
        )

    @cached_property
    def felt_k(self) -> np.ndarray:
        """Day by day, the temperature that takes as much heat from it without snow."""
        held = float(self.stretch.resistance_si(float(np.min(self.around_k))))
        with_snow, without = (
            ice_a_step.si(self.around_k, self.stretch.inside_m, each, BLOCKED, _DAY)
            for each in (self.resistance, held)
        )
        same = np.where(without == 0, 1.0, with_snow / np.where(without == 0, 1.0, without))
        return np.asarray(FREEZING_POINT + (self.around_k - FREEZING_POINT) * same)

    def open_m3s(self, lost_wm: float) -> float:
        """Flow whose friction makes a loss good."""
        if lost_wm <= 0:
            return 0.0
        lying = self.stretch
        return float(keep_open_flow_full.si(lost_wm, lying.inside_m, lying.roughness_m))


def frost_on(
    stretches: tuple[Stretch, ...], cold: Cold, snow: bool = True
) -> tuple[StretchFrost, ...]:
    """Every stretch through all its days, those first that freeze first.

    Parameters
    ----------
    stretches : tuple of Stretch
    cold : Cold
    snow : bool
        False: before the snow has come, or where it has been cleared.
    """
    made = []
    for each in stretches:
        lying = each if snow else replace(each, snow_m=0.0)
        on_it = cold.snow_m(lying.snow_m)
        around = (
            cold.air_k
            if lying.soil_m == lying.snow_m == 0
            else cold.ground(lying.snow_m).at(lying.soil_m)
        )
        resistance = np.broadcast_to(
            np.asarray(lying.resistance_si(cold.lowest_k, on_it), dtype=float), around.shape
        )
        blocked, solid = (
            np.asarray(standing_time.si(around, lying.inside_m, resistance, share, _DAY))
            for share in (BLOCKED, 1.0)
        )
        made.append(
            StretchFrost(
                lying,
                around,
                resistance=resistance,
                blocked=blocked,
                solid_s=float(np.min(solid)),
            )
        )
    return tuple(sorted(made, key=lambda each: each.blocked_s))


@dataclass(frozen=True, eq=False)
class LineFrost(Result):
    """All stretches of a site through the cold that is known of it.

    Parameters
    ----------
    cold : Cold
    assumed : bool
        Whether its coldest day stands for a record that is lacking.
    stretches : tuple of StretchFrost
        As they lie, with the snow of each day, those first that freeze first.
    without_snow : tuple of StretchFrost
        The same with no snow at all.
    """

    cold: Cold
    assumed: bool
    _: KW_ONLY
    stretches: tuple[StretchFrost, ...]
    without_snow: tuple[StretchFrost, ...]

    @property
    def air_temperature_k(self) -> float:
        """Coldest day."""
        return self.cold.lowest_k

    @cached_property
    def frost_depth_m(self) -> float:
        """Deepest that frost goes in bare moist ground."""
        return self.cold.ground(0.0).deepest_m

    @cached_property
    def frost_depths_m(self) -> tuple[float, float]:
        """The same in wet silt and in dry gravel: what an unknown soil may do."""
        bare = Cold(self.cold.air_k, self.cold.lasting)
        silt, gravel = (bare.ground(0.0, soil).deepest_m for soil in (WET_SILT, DRY_GRAVEL))
        return silt, gravel
