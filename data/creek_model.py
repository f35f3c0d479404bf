"""A small water balance that turns invented weather into a believable creek.

Snow by degree-days in bands of altitude; a soil that gives more of its water away the wetter
it is; a quick store (storms, days) and a slow one (springs, months) whose outflow grows with
the square of what it holds, which is what keeps a hill creek running thinly through a dry
summer or under snow. It is for making demo records, not for estimating a real creek.
"""

from dataclasses import dataclass
from math import exp

import numpy as np
import pandas as pd

LAPSE_DEGC_PER_M = 0.006


@dataclass(frozen=True)
class Catchment:
    """What makes one creek differ from its neighbour."""

    area_km2: float
    bands: tuple  # (altitude in m, share of the area)
    rain_factor: float  # its rain over that at the weather station
    rain_seed: int  # showers that fall on it and not on its neighbour
    shower_scatter: float  # spread of that daily difference (in logarithms)
    soil_mm: float  # water the root zone holds
    quick_share: float  # least share of the soil's outflow that goes to the quick store
    seepage_mm: float  # most the slow store takes in a day; a storm's surplus runs off quickly
    quick_days: float  # recession constant of the quick store
    slow_days: float  # recession constant of the slow store when it runs at 1 mm a day
    channel_days: float  # delay in the channel


def creek_flow(air, catchment, altitude_m):
    """Mean daily flow [m3/s] of a catchment.

    `air`: daily "rain_mm" and "temperature_degc" at `altitude_m`; its first year only fills the stores.
    """
    random = np.random.RandomState(catchment.rain_seed)
    showers = np.exp(catchment.shower_scatter * random.standard_normal(len(air)))
    rain = air["rain_mm"].to_numpy() * catchment.rain_factor * showers
    temperature = air["temperature_degc"].to_numpy()
    reaching_ground = sum(
        share * _after_snow(rain, temperature - LAPSE_DEGC_PER_M * (altitude - altitude_m))
        for altitude, share in catchment.bands
    )
    season = 2.0 * np.pi * (air.index.dayofyear.to_numpy() - 15) / 365.25
    demand = np.maximum(temperature + 4.0, 0.0) * (0.125 - 0.060 * np.cos(season - 0.15))
    depth_mm = _water_balance(reaching_ground, demand, catchment)
    return pd.Series(depth_mm * catchment.area_km2 / 86.4, index=air.index, name="flow_m3s")


def persistent(noise, days):
    """Noise of unit variance with a memory of so many days (first-order autoregression)."""
    memory = exp(-1.0 / days)
    fresh = (1.0 - memory * memory) ** 0.5
    out = np.empty_like(noise)
    state = noise[0]
    for index, value in enumerate(noise):
        state = memory * state + fresh * value
        out[index] = state
    return out


def _after_snow(rain, temperature):
    """Rain and melt reaching the ground [mm]: snow below 0.5 degC, 3.2 mm melt per degree-day."""
    snow_share = np.clip((1.5 - temperature) / 2.0, 0.0, 1.0)
    out = np.empty_like(rain)
    pack = 0.0
    for day, (fall, share, warmth) in enumerate(zip(rain, snow_share, temperature)):
        pack += fall * share
        melt = min(pack, 3.2 * max(warmth - 0.2, 0.0) + 0.02 * fall * (1.0 - share))
        pack -= melt
        out[day] = fall * (1.0 - share) + melt
    return out


def _water_balance(water, demand, catchment):
    """Outflow of soil, quick and slow store, day by day [mm]."""
    soil, quick, slow = 0.7 * catchment.soil_mm, 2.0, catchment.slow_days
    quick_keeps = exp(-1.0 / catchment.quick_days)
    delay_keeps = exp(-1.0 / catchment.channel_days)
    channel = 1.0
    # slow store: outflow = content^2 / coefficient, so 1 mm a day comes from a content equal to slow_days/2
    coefficient = (catchment.slow_days / 2.0) ** 2
    out = np.empty_like(water)
    for day, (arriving, thirst) in enumerate(zip(water, demand)):
        fullness = min(soil / catchment.soil_mm, 1.0)
        leaving = arriving * fullness**1.9
        soil += arriving - leaving
        if soil > catchment.soil_mm:
            leaving += soil - catchment.soil_mm
            soil = catchment.soil_mm
        soil -= min(thirst * (1.0 - exp(-4.0 * soil / catchment.soil_mm)), soil)

        seeping = min(leaving * (1.0 - catchment.quick_share), catchment.seepage_mm)
        quick += leaving - seeping
        from_quick = quick * (1.0 - quick_keeps)
        quick -= from_quick

        slow += seeping
        kept = slow / (
            1.0 + slow / coefficient
        )  # exact for one day of outflow = content^2 / coefficient
        from_slow = slow - kept
        slow = kept

        channel = channel * delay_keeps + (from_quick + from_slow) * (1.0 - delay_keeps)
        out[day] = channel
    return out
