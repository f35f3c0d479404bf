"""Write the CSV files of the study hazel-beck. The neighbour, the creek and every number are invented.

The next farm's beck in the valley of alder-burn, under the same weather (data/valley_weather.py):
1.4 km2, 31 m of fall in 255 m of penstock, mean flow about 33 L/s over the long run. It holds
less water in its ground than the burn, so that it falls lower in a dry summer: a neighbour's
curve scaled by area would flatter it. It has what a neighbour usually has: seven gaugings, two
years and a third of daily flow that overlap the valley's long gauge (data/long-gauge.csv), and
a short survey. Two months of the logger's own hourly stage are kept as it wrote them.

What was put in on purpose: the true rating Q [L/s] = 900 (h [m] - 0.035)^1.9, daily flows with
4 % of noise (they come from a logger, not from nature's own book), gauging errors drawn with the
uncertainty written beside each, and a single gauging below 6 L/s.

Run `python make_data.py` to write the files again, the same to the byte.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "data"))

from creek_model import Catchment, creek_flow  # noqa: E402
from invented_csv import fixed, write_csv  # noqa: E402
from valley_weather import ALTITUDE_M, weather  # noqa: E402

BECK = Catchment(
    area_km2=1.4,
    bands=((260, 0.4), (320, 0.4), (400, 0.2)),
    rain_factor=0.90,
    rain_seed=1401,
    shower_scatter=0.12,
    soil_mm=78.0,
    quick_share=0.40,
    seepage_mm=8.0,
    quick_days=1.0,
    slow_days=130.0,
    channel_days=0.15,
)
FIRST_DAY = "2023-06-10"
HOURLY = ("2025-03-01", "2025-04-30")
RATING_COEFFICIENT_LS, RATING_ZERO_M, RATING_EXPONENT = 900.0, 0.035, 1.9

# day, method, uncertainty [%]
GAUGINGS = (
    ("2023-11-29", "salt", 6),
    ("2024-04-10", "current meter", 6),
    ("2024-07-04", "bucket", 4),
    ("2024-08-06", "bucket", 4),
    ("2024-11-08", "salt", 6),
    ("2025-02-05", "current meter", 7),
    ("2025-05-20", "salt", 6),
)
# chainage [m], elevation [m]
PENSTOCK = (
    (0, 216.00),
    (2, 215.30),
    (18, 213.95),
    (36, 212.10),
    (55, 209.70),
    (74, 206.85),
    (92, 203.90),
    (110, 201.30),
    (128, 199.15),
    (146, 197.50),
    (163, 196.00),
    (180, 194.10),
    (198, 191.80),
    (216, 189.35),
    (234, 187.00),
    (247, 185.55),
    (255, 185.00),
)


def main(folder=HERE):
    folder = Path(folder)
    random = np.random.RandomState(7)
    flow = (1000.0 * creek_flow(weather(), BECK, ALTITUDE_M)).loc[FIRST_DAY:]
    logged = flow * np.exp(0.04 * random.standard_normal(len(flow)))
    write_csv(
        folder / "flow.csv",
        [
            "Invented: mean daily flow at the planned intake from a stage logger. Written by make_data.py."
        ],
        {"date": logged.index, "flow [L/s]": logged},
    )

    rows = []
    for day, method, uncertainty in GAUGINGS:
        found = flow[day] * (1.0 + uncertainty / 100.0 * random.standard_normal())
        stage = (
            RATING_ZERO_M
            + (flow[day] / RATING_COEFFICIENT_LS) ** (1.0 / RATING_EXPONENT)
            + 0.002 * random.standard_normal()
        )
        rows.append((day, f"{stage:.3f}", found, uncertainty, method, "no"))
    day, stage, found, uncertainty, method, ice = zip(*rows)
    write_csv(
        folder / "gaugings.csv",
        [
            "Invented: gaugings at the staff gauge. Uncertainty: one standard deviation. Written by make_data.py."
        ],
        {
            "date": day,
            "stage [m]": stage,
            "flow [L/s]": found,
            "uncertainty [%]": uncertainty,
            "method": method,
            "ice": ice,
        },
    )
    write_hourly(folder, flow)
    write_csv(
        folder / "penstock.csv",
        [
            "Invented: surveyed line of the penstock, levels good to 0.1 m. Written by make_data.py.",
            "First station: water surface at the intake. Second: centre of the pipe inlet. Last: centre of the jet.",
        ],
        {
            "chainage [m]": [x for x, _ in PENSTOCK],
            "elevation [m]": fixed([z for _, z in PENSTOCK], 2),
        },
    )


def write_hourly(folder, flow):
    """The logger's hourly stage for two months, five hours lost; winter time throughout."""
    random = np.random.RandomState(8)
    hours = pd.date_range(HOURLY[0], f"{HOURLY[1]} 23:00", freq="h")
    days = flow.index.to_numpy().astype("datetime64[h]").astype(float) + 12.0
    at = np.interp(
        hours.to_numpy().astype("datetime64[h]").astype(float), days, np.log(flow.to_numpy())
    )
    stage = (
        RATING_ZERO_M
        + (np.exp(at) / RATING_COEFFICIENT_LS) ** (1.0 / RATING_EXPONENT)
        + 0.001 * random.standard_normal(len(hours))
    )
    kept = np.ones(len(hours), dtype=bool)
    kept[500:505] = False
    write_csv(
        folder / "stage.csv",
        [
            "Invented: stage as the logger wrote it, every hour, winter time throughout. Written by make_data.py."
        ],
        {"time": hours[kept].strftime("%Y-%m-%d %H:%M"), "stage [m]": fixed(stage[kept], 3)},
    )


if __name__ == "__main__":
    main(*sys.argv[1:])
