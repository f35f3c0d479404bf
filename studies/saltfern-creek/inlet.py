"""The inlet as it truly is behind the files of saltfern-creek: its weather, its creek, its plant. All invented.

The package is not used here, for tests hold it against this: pipe friction by
Haaland's explicit formula (within 1.5 % of Colebrook), jets by the orifice law, and water that is
short standing lower in the pipe. Feet, gallons and psi outside, SI inside.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "data"))

from creek_model import Catchment, creek_flow, persistent  # noqa: E402

FOOT, INCH, PSI, GPM = 0.3048, 0.0254, 6894.757, 3.785411784e-3 / 60.0  # m, m, Pa, m3/s
GRAVITY, DENSITY, VISCOSITY = 9.80665, 999.75, 1.342e-6  # water at 9 degC: kg/m3, m2/s

# --- the plant ------------------------------------------------------------------------------------

HEAD_FT = 134.4  # water in the settling box over the jets
PIPES = ((6.065, 915.0), (4.154, 195.0))  # bore [in] and length [ft]: nominal 6 in, then 4 in
WALL_M, FITTINGS_BELOW = (
    0.008e-3,
    2.2,
)  # roughness; inlet, bends, reducer and valves, on the lower pipe's speed
JET_M, JET_COEFFICIENT = 0.75 * INCH, 0.935  # drilled to 3/4 in
# watts at the switchboard over the water's power at the jets: the winter unit alone, then with one to three jets of the machine
EFFICIENCY = (0.515, 0.545, 0.562, 0.572)
VOLTS = 240.0

SCREEN_LETS_IN = 610.0  # gpm, brushed
STAYS_IN_CREEK = 50.0  # gpm through the notch in the sill log
FLUME_LOSES = 0.03  # of what enters it


def friction_m(flow):
    """Head lost on the way to the jets [m] at a flow [m3/s]."""
    lost = 0.0
    for bore_in, length_ft in PIPES:
        bore = bore_in * INCH
        speed = flow / (np.pi / 4.0 * bore**2)
        reynolds = max(speed * bore / VISCOSITY, 1.0)
        factor = (-1.8 * np.log10((WALL_M / bore / 3.7) ** 1.11 + 6.9 / reynolds)) ** -2
        lost += factor * length_ft * FOOT / bore * speed**2 / (2.0 * GRAVITY)
    return lost + FITTINGS_BELOW * speed**2 / (2.0 * GRAVITY)


def jet_head_m(flow, jets):
    """Head [m] that so many jets need to pass a flow."""
    return (flow / (jets * JET_COEFFICIENT * np.pi / 4.0 * JET_M**2)) ** 2 / (2.0 * GRAVITY)


def fed_flow(jets):
    """Flow [m3/s] of so many jets, a worn one counting for more, with the settling box full."""
    low, high = 0.0, 0.2
    for _ in range(50):
        middle = (low + high) / 2.0
        if jet_head_m(middle, jets) + friction_m(middle) < HEAD_FT * FOOT:
            low = middle
        else:
            high = middle
    return low


def running(jets, comes_gpm, wear=0.0):
    """Gauge [psi], watts, and whether the settling box spills, with so many gallons a minute arriving in it.

    `wear`: what the winter unit's jet has gained, in areas of a new one.
    """
    if jets == 0:
        return HEAD_FT * FOOT * DENSITY * GRAVITY / PSI, 0.0, True
    takes = fed_flow(jets + wear)
    flow = min(takes, max(comes_gpm, 0.0) * GPM)
    head = jet_head_m(flow, jets + wear)
    # slow jets meet a runner that the governor holds at its speed: a few points are lost
    pace = np.sqrt(head / (HEAD_FT * FOOT))
    watts = (
        EFFICIENCY[jets - 1] * (1.0 - 0.22 * max(0.9 - pace, 0.0)) * DENSITY * GRAVITY * flow * head
    )
    return head * DENSITY * GRAVITY / PSI, watts, flow >= takes


# --- weather and creek -----------------------------------------------------------------------------

ALTITUDE_M = 190.0 * FOOT
CREEK = Catchment(
    area_km2=1.12,
    bands=((90, 0.35), (180, 0.4), (300, 0.25)),
    rain_factor=1.1,
    rain_seed=426,
    shower_scatter=0.1,
    soil_mm=120.0,
    quick_share=0.25,
    seepage_mm=14.0,
    quick_days=1.6,
    slow_days=330.0,
    channel_days=0.2,
)
# outbreaks of air from the interior: first day, last day, degF at their heart
OUTBREAKS = (
    ("2021-12-24", "2022-01-02", -27.0),
    ("2022-12-18", "2022-12-24", -22.0),
    ("2024-01-10", "2024-01-17", -19.0),
    ("2025-02-05", "2025-02-18", -26.0),
)


def coast_weather():
    """Daily rain [mm] and air temperature [degC] at the creek, 2019-09-01 to 2025-08-31."""
    random = np.random.RandomState(190)
    days = pd.date_range("2019-09-01", "2025-08-31", freq="D")
    year = 2.0 * np.pi * (days.dayofyear.to_numpy() - 15) / 365.25
    winter = 0.5 * (1.0 + np.cos(year))
    fahrenheit = (
        46.6
        - 10.6 * np.cos(year - 0.25)
        + (2.6 + 2.2 * winter) * persistent(random.standard_normal(len(days)), 3.0)
    )
    for first, last, depth in OUTBREAKS:
        inside = days.get_indexer(pd.date_range(first, last, freq="D"))
        fahrenheit[inside] += depth * np.sin(np.pi * (np.arange(len(inside)) + 0.5) / len(inside))
    storm = 0.6 * persistent(random.standard_normal(len(days)), 5.0) + 0.8 * random.standard_normal(
        len(days)
    )
    dry = 0.30 - 0.34 * np.cos(year - 5.6)  # the sea brings most in late fall
    rain = 7.6 * np.maximum(storm + 0.35 - dry, 0.0) * random.gamma(1.6, 1.0 / 1.6, len(days))
    return pd.DataFrame(
        {"rain_mm": rain, "temperature_degc": (fahrenheit - 32.0) / 1.8}, index=days
    )


def creek_gpm(air):
    """The creek at the weir, day by day, gpm; the hatchery has never measured it so."""
    return creek_flow(air, CREEK, ALTITUDE_M) / GPM
