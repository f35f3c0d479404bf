"""Frost on a line stretch by stretch: how it lies, how long still water in it has, what flow keeps it open."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace

import numpy as np

from .frost import FREEZING_POINT, FreezingTimes, freezing_time, keep_open_flow_full
from .insulation import film_in_wind, film_of_radiation, heat_loss, thermal_resistance
from .snow import frost_depth, snow_as_soil, snow_conductivity
from .solve import require

__all__ = ["LineFrost", "Stretch", "StretchFrost", "frost_on"]

WIND = 2.0  # m/s over a bare pipe on a cold night; common practice
SETTLED_SNOW = 250.0  # kg/m³
MOIST_SOIL = 1.5  # W/(m K), common practice
GROUND = 277.15  # K, of soil in early winter; common practice
_DAY = 86400.0


@dataclass(frozen=True, eq=False)
class Stretch:
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
        Snow over the soil, or over the crown.
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
    def sheltered_m(self) -> float:
        """Soil over the crown, and the soil that the snow on it stands for."""
        return self.soil_m + float(
            snow_as_soil.si(self.snow_m, snow_conductivity.si(SETTLED_SNOW), MOIST_SOIL)
        )

    @property
    def bare(self) -> bool:
        """Whether nothing keeps the cold off it."""
        return self.soil_m == self.snow_m == self.insulation_m == 0

    def resistance_si(self, air_temperature_k: float) -> float:
        """Between the water and the air, for one metre, in m·K/W; the pipe's own wall is left out (cautious)."""
        around = self.outside_m + 2 * self.insulation_m
        if self.soil_m == self.snow_m == 0:
            film = film_in_wind.si(around, WIND) + film_of_radiation.si(
                FREEZING_POINT, min(air_temperature_k, FREEZING_POINT)
            )
            return float(
                thermal_resistance.si(self.outside_m, film=film, insulation=self.insulation_m)
            )
        snow = float(snow_conductivity.si(SETTLED_SNOW))
        if self.soil_m > 0:
            cover, conductivity = self.sheltered_m + around / 2, MOIST_SOIL
        else:
            cover, conductivity = self.snow_m + around / 2, snow
        return float(
            thermal_resistance.si(
                self.outside_m,
                insulation=self.insulation_m,
                cover=cover,
                cover_conductivity=conductivity,
            )
        )


@dataclass(frozen=True, eq=False)
class StretchFrost:
    """What a frost does to one stretch, from water that stands in it at 0 °C.

    Parameters
    ----------
    stretch : Stretch
    times : FreezingTimes
        From when frost has reached the pipe.
    reached_s : float
        Until frost gets through the soil over it: zero where there is none or where it may be
        there already, infinite where it never gets so deep.
    heat_loss_wm : float
        Of one metre of running water at 0 °C.
    keep_open_m3s : float
        Flow whose friction makes that good in the full pipe.
    """

    stretch: Stretch
    times: FreezingTimes
    reached_s: float
    _: KW_ONLY
    heat_loss_wm: float
    keep_open_m3s: float

    @property
    def blocked_s(self) -> float:
        """Until a quarter of the bore is ice."""
        return self.reached_s + float(np.asarray(self.times.blocked_s))

    @property
    def solid_s(self) -> float:
        """Until all of it is ice."""
        return self.reached_s + float(np.asarray(self.times.solid_s))


def frost_on(
    stretches: tuple[Stretch, ...],
    air_temperature_k: float,
    snow: bool = True,
    frost_depth_m: float | None = None,
) -> tuple[StretchFrost, ...]:
    """Every stretch in a lasting frost, those first that freeze first.

    Parameters
    ----------
    stretches : tuple of Stretch
    air_temperature_k : float
    snow : bool
        False: before the snow has come, or where it has been cleared.
    frost_depth_m : float, optional
        Deepest that frost goes in bare ground here: a buried pipe that soil and snow keep from it
        never freezes, any other may lie in frozen ground already. Where it is not known the frost
        has to come down through soil at 4 °C first.
    """
    made = []
    for each in stretches:
        lying = each if snow else replace(each, snow_m=0.0)
        resistance = lying.resistance_si(air_temperature_k)
        lost = max(float(heat_loss.si(resistance, air_temperature_k, FREEZING_POINT)), 0.0)
        times = freezing_time.si(
            each.inside_m, resistance, air_temperature_k, FREEZING_POINT, 0.25, 0.0
        )
        reached = _reached(lying, air_temperature_k, frost_depth_m)
        flow = (
            float(keep_open_flow_full.si(lost, each.inside_m, each.roughness_m))
            if lost > 0 and np.isfinite(reached)
            else 0.0
        )
        made.append(StretchFrost(lying, times, reached, heat_loss_wm=lost, keep_open_m3s=flow))
    return tuple(sorted(made, key=lambda each: each.blocked_s))


def _reached(lying: Stretch, air_temperature_k: float, frost_depth_m: float | None) -> float:
    """Seconds until frost stands at the crown of a buried pipe."""
    if lying.soil_m == 0:
        return 0.0
    if frost_depth_m is not None:
        return np.inf if lying.sheltered_m >= frost_depth_m else 0.0
    in_a_day = float(frost_depth.si(GROUND, air_temperature_k, _DAY))
    return _DAY * (lying.soil_m / in_a_day) ** 2 if in_a_day > 0 else np.inf


@dataclass(frozen=True, eq=False)
class LineFrost:
    """All stretches of a site in the coldest day it must live through.

    Parameters
    ----------
    air_temperature_k : float
    assumed : bool
        Whether that temperature stands for a record that is lacking.
    stretches : tuple of StretchFrost
        As they lie in mid winter, those first that freeze first.
    without_snow : tuple of StretchFrost
        The same before the snow has come.
    frost_depth_m : float or None
        Deepest that frost goes in bare ground, where a record of air temperature says it.
    """

    air_temperature_k: float
    assumed: bool
    stretches: tuple[StretchFrost, ...]
    _: KW_ONLY
    without_snow: tuple[StretchFrost, ...]
    frost_depth_m: float | None = None
