"""The true plant, weather and creek behind the readings of frost-hollow, all invented.

Written from the laws themselves, without the package, so that it can be held against it:
Colebrook friction, n jets of known area and discharge coefficient, starved jets. SI inside.
"""
import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "data"))

from creek_model import Catchment, creek_flow, persistent  # noqa: E402

FOOT, INCH, PSI, GPM = 0.3048, 0.0254, 6894.757, 3.785411784e-3 / 60.0     # m, m, Pa, m3/s
GRAVITY, DENSITY, VISCOSITY = 9.80665, 999.94, 1.473e-6                    # water at 6 degC: kg/m3, m2/s

STATIC_PSI = 71.0
STATIC_M = STATIC_PSI * PSI / (DENSITY * GRAVITY)                          # 49.92 m, 163.8 ft
PIPE_BORE_M, PIPE_LENGTH_M = 3.998 * INCH, 900.0 * FOOT                    # nominal 4 in PVC Schedule 40
ROUGHNESS_M, FITTINGS = 0.005e-3, 3.0
JET_AREA_M2, JET_COEFFICIENT = np.pi / 4.0 * (0.5 * INCH) ** 2, 0.90       # conical, drilled 1/2 in
EFFICIENCY = {0: 0.0, 1: 0.515, 2: 0.535, 3: 0.545, 4: 0.55}               # water to wire at full head, by jets open
VOLTS = 240.0

INTAKE_PASSES_GPM = 240.0            # most the clean drilled-pipe screen lets through
CREEK_KEEPS_GPM = 10.0               # slips past the intake at low water

ALTITUDE_M = 8300.0 * FOOT
CREEK = Catchment(area_km2=2.1, bands=((2780, 0.2), (2950, 0.3), (3120, 0.3), (3300, 0.2)), rain_factor=1.15,
                  rain_seed=8301, shower_scatter=0.1, soil_mm=90.0, quick_share=0.30, seepage_mm=9.0,
                  quick_days=5.0, slow_days=270.0, channel_days=0.3)
# first day, last day, degF added at the heart of the spell
COLD_SPELLS = (("2022-12-17", "2022-12-27", -17.0), ("2024-01-09", "2024-01-24", -10.0), ("2025-01-08", "2025-01-22", -19.0))


def mountain_weather():
    """Daily rain [mm] and air temperature [degC] at 8,300 ft, 2018-10-01 to 2025-09-30."""
    random = np.random.RandomState(8300)
    days = pd.date_range("2018-10-01", "2025-09-30", freq="D")
    season = 2.0 * np.pi * (days.dayofyear.to_numpy() - 15) / 365.25
    winter = 0.5 * (1.0 + np.cos(season))
    pattern = persistent(random.standard_normal(len(days)), 3.5)
    fahrenheit = 37.3 - 23.0 * np.cos(season - 0.08) + (4.5 + 4.5 * winter) * pattern
    for first, last, depth in COLD_SPELLS:
        span = pd.date_range(first, last, freq="D")
        inside = days.get_indexer(span)
        fahrenheit[inside] += depth * np.sin(np.pi * (np.arange(len(span)) + 0.5) / len(span))
    storm = 0.45 * persistent(random.standard_normal(len(days)), 4.0) + 0.9 * random.standard_normal(len(days))
    threshold = 0.55 - 0.25 * winter + 0.35 * np.exp(-((days.dayofyear.to_numpy() - 175) / 25.0) ** 2)
    rain = 6.5 * np.maximum(storm - threshold, 0.0) * random.gamma(1.5, 1.0 / 1.5, len(days))
    return pd.DataFrame({"rain_mm": rain, "temperature_degc": (fahrenheit - 32.0) / 1.8}, index=days)


def creek_gpm(air):
    """Mean daily flow of the creek above the intake [gpm]; there is no record of it, only gaugings."""
    return creek_flow(air, CREEK, ALTITUDE_M) / GPM


def friction_factor(reynolds):
    """Darcy friction factor of the penstock by Colebrook, iterated until it stands still."""
    root = 8.0
    for _ in range(60):
        root = -2.0 * np.log10(ROUGHNESS_M / PIPE_BORE_M / 3.7 + 2.51 * root / reynolds)
    return 1.0 / root ** 2


def head_loss(flow):
    """Head lost in the penstock [m] at a flow [m3/s]."""
    velocity = flow / (np.pi / 4.0 * PIPE_BORE_M ** 2)
    pipe = friction_factor(velocity * PIPE_BORE_M / VISCOSITY) * PIPE_LENGTH_M / PIPE_BORE_M
    return (pipe + FITTINGS) * velocity ** 2 / (2.0 * GRAVITY)


def full_flow(jets):
    """Flow [m3/s] of so many new jets (worn ones count for more) with the pond full, by bisection."""
    low, high = 0.0, 0.05
    for _ in range(60):
        middle = 0.5 * (low + high)
        needed = (middle / (jets * JET_COEFFICIENT * JET_AREA_M2)) ** 2 / (2.0 * GRAVITY)
        low, high = (middle, high) if needed + head_loss(middle) < STATIC_M else (low, middle)
    return low


def operate(jets, arriving_gpm, wear=0.0):
    """Pressure [psi], watts and whether the pond spills, with `arriving_gpm` at the pond.

    `wear`: area the first jet has gained, as a share of a new jet. Fewer gallons than the
    jets take stand lower in the pipe; the head left is then what passes just those.
    """
    if jets == 0:
        return STATIC_PSI, 0.0, True
    equal_jets = jets + wear
    wanted = full_flow(equal_jets)
    flow = min(wanted, arriving_gpm * GPM)
    net = (flow / (equal_jets * JET_COEFFICIENT * JET_AREA_M2)) ** 2 / (2.0 * GRAVITY)
    # the runner turns at one speed, so slower jets meet it less well: a little is lost below full head
    fit = 1.0 - 0.25 * max(1.0 - np.sqrt(net / STATIC_M) - 0.08, 0.0)
    watts = EFFICIENCY[jets] * fit * DENSITY * GRAVITY * flow * net
    return net * DENSITY * GRAVITY / PSI, watts, flow >= wanted
