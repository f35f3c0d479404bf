"""Write the CSV files of the study alder-burn. The farm, its creek and every number are invented.

A wet hill farm in an oceanic upland with cold winters plans a plant on its burn: 2.2 km2 of
moor and rough pasture, intake at 240 m, 46 m of fall in 380 m of penstock. Mean flow about
55 L/s with a median of 37 L/s and dry-summer lows of 5 to 9 L/s: large enough to pay, small
enough that the size of the plant and the lowest gaugings decide what it earns. Fourteen years
of daily flow stand for a long record transferred to the site; the stage record of the last two
years, the gaugings and the field sheets belong to the same creek.

What was put in on purpose:
* the true rating Q [L/s] = 1300 (h [m] - 0.050)^2.05;
* 14 gaugings, only three below 12 L/s, none above about 260 L/s (the
  floods of the stage record are extrapolation), and one under ice, whose stage stands too high;
* the errors of each gauging drawn with the uncertainty written beside it (one standard
  deviation); two gaugings, one bucket and one
  float gauging have their field sheets, and agree with them;
* flood marks of 13 October 2024, the wettest day of the record: a peak half as high again as the day's mean;
* ice lifts the stage by 40 to 50 mm on days marked so; the logger lost six days in May 2025;
* the penstock has one gentle hump far below its running grade, the diversion line a slight
  high point of 0.15 m.

Run `python make_data.py` to write the files again, the same to the byte.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "data"))

from creek_model import Catchment, creek_flow  # noqa: E402
from invented_csv import digits, fixed, write_csv  # noqa: E402
from valley_weather import ALTITUDE_M, weather  # noqa: E402

BURN = Catchment(
    area_km2=2.2,
    bands=((270, 0.3), (340, 0.4), (430, 0.3)),
    rain_factor=0.93,
    rain_seed=2201,
    shower_scatter=0.12,
    soil_mm=70.0,
    quick_share=0.36,
    seepage_mm=9.0,
    quick_days=1.1,
    slow_days=160.0,
    channel_days=0.2,
)
FIRST_DAY, STAGE_FIRST_DAY = "2011-10-01", "2023-10-01"
RATING_COEFFICIENT_LS, RATING_ZERO_M, RATING_EXPONENT = 1300.0, 0.050, 2.05
LOGGER_LOST = ("2025-05-11", "2025-05-16")

# day, method, uncertainty [%], field sheet
GAUGINGS = (
    ("2023-10-24", "salt", 5, ""),
    ("2023-11-29", "salt", 5, ""),
    ("2024-02-21", "salt", 7, ""),  # under ice
    ("2024-04-10", "current meter", 5, "sheet_current_meter.csv"),
    ("2024-05-08", "current meter", 6, ""),
    ("2024-07-04", "salt", 5, "sheet_salt.csv"),
    ("2024-08-06", "bucket", 3, ""),
    ("2024-08-28", "current meter", 6, ""),
    ("2024-11-08", "salt", 5, ""),
    ("2025-02-02", "float", 15, ""),
    ("2025-02-05", "current meter", 6, ""),
    ("2025-04-14", "float", 15, ""),
    ("2025-07-19", "salt", 5, ""),
    ("2025-08-06", "bucket", 3, "bucket.csv"),
)
SALT_GRAMS = 150.0
SALT_SLOPE = 0.486  # mg/L for one uS/cm, from the calibration in the field
BUCKET_LITRES = 60.0
FLOAT_DAY, FLOAT_GRAVEL_M = (
    "2025-04-14",
    0.1,
)  # roughness of a gravel bed, for the floats' coefficient
FLOOD_DAY, FLOOD_PEAK_RATIO, FLOOD_MANNING, FLOOD_SLOPE = "2024-10-13", 1.5, 0.055, 0.035

# chainage [m], elevation [m]
PENSTOCK = (
    (0, 240.00),
    (2, 239.20),
    (14, 237.95),
    (30, 235.80),
    (46, 233.10),
    (60, 230.55),
    (76, 227.40),
    (92, 224.60),
    (108, 222.30),
    (124, 221.05),
    (138, 220.70),
    (152, 220.95),
    (164, 221.20),
    (176, 220.60),
    (190, 218.70),
    (206, 215.55),
    (222, 211.90),
    (238, 208.40),
    (254, 205.75),
    (272, 203.60),
    (290, 201.85),
    (310, 200.10),
    (332, 197.95),
    (354, 195.80),
    (372, 194.35),
    (380, 194.00),
)
DIVERSION = (
    (0, 241.30),
    (8, 241.16),
    (17, 241.05),
    (26, 240.93),
    (35, 240.80),
    (44, 240.66),
    (52, 240.58),
    (60, 240.64),
    (67, 240.73),
    (74, 240.70),
    (83, 240.54),
    (93, 240.40),
    (103, 240.27),
    (112, 240.16),
    (120, 240.05),
)


# A walk with compass and tape: point, part it belongs to, bearing [deg] and level distance [m] from the one above,
# elevation [m]; it comes back to the forebay and misses it by a few metres, as a compass does.
WALK = (
    ("forebay", "penstock", "", "", "240.00"),
    ("upper bend", "penstock", 205, 92, "224.60"),
    ("hump", "penstock", 192, 72, "221.20"),
    ("lower bend", "penstock", 214, 86, "206.07"),
    ("powerhouse", "penstock", 201, 130, "194.00"),
    ("farmhouse", "way home", 128, 140, "203.5"),
    ("forebay", "way home", 4, 439, ""),
)


def main(folder=HERE):
    folder = Path(folder)
    air = weather()
    flow = (1000.0 * creek_flow(air, BURN, ALTITUDE_M)).loc[FIRST_DAY:]
    temperature = air["temperature_degc"].loc[FIRST_DAY:]
    ice = temperature.rolling(5, min_periods=1).mean() < -4.5

    write_csv(
        folder / "flow.csv",
        [
            "Invented: mean daily flow at the intake, a long record transferred to the site. Written by make_data.py."
        ],
        {"date": flow.index, "flow [L/s]": flow},
    )
    write_csv(
        folder / "temperature.csv",
        ["Invented: mean daily air temperature at 240 m. Written by make_data.py."],
        {"date": temperature.index, "temperature [degC]": fixed(temperature, 1)},
    )
    stage = write_stage(folder, flow, ice)
    gauged = write_gaugings(folder, flow, stage, ice)
    float_sheets(folder, gauged[FLOAT_DAY])
    flood_sheet(folder, FLOOD_PEAK_RATIO * flow[FLOOD_DAY] / 1000.0)
    write_csv(
        folder / "penstock.csv",
        [
            "Invented: surveyed line of the penstock, levels good to 0.05 m. Written by make_data.py.",
            "First station: water surface in the forebay tank. Second: centre of the pipe inlet. Last: centre of the jet.",
        ],
        {
            "chainage [m]": [x for x, _ in PENSTOCK],
            "elevation [m]": fixed([z for _, z in PENSTOCK], 2),
        },
    )
    names, parts, bearings, legs, heights = zip(*WALK)
    write_csv(
        folder / "points.csv",
        ["Invented: compass and tape, July 2025, for a sketch only. Written by make_data.py."],
        {
            "name": names,
            "part": parts,
            "bearing [deg]": bearings,
            "distance [m]": legs,
            "elevation [m]": heights,
        },
    )
    write_csv(
        folder / "diversion.csv",
        [
            "Invented: diversion line from the burn to the forebay tank, levels good to 0.02 m. Written by make_data.py.",
            "First station: water surface at the intake. Last: outlet of the line over the tank. Between them: bottom of the pipe.",
        ],
        {
            "chainage [m]": [x for x, _ in DIVERSION],
            "elevation [m]": fixed([z for _, z in DIVERSION], 2),
        },
    )


def true_stage(flow_ls):
    """Stage [m] of the open creek at a flow [L/s]."""
    return RATING_ZERO_M + (flow_ls / RATING_COEFFICIENT_LS) ** (1.0 / RATING_EXPONENT)


def write_stage(folder, flow, ice):
    """stage.csv; returns the whole daily stage, the lost days included."""
    random = np.random.RandomState(31)
    days = flow.loc[STAGE_FIRST_DAY:].index
    noise = 0.002 * random.standard_normal(len(days))
    ice_rise = np.where(ice.loc[days], 0.045 + 0.004 * random.standard_normal(len(days)), 0.0)
    stage = pd.Series(true_stage(flow.loc[days].to_numpy()) + noise + ice_rise, index=days)
    kept = stage.drop(pd.date_range(*LOGGER_LOST, freq="D"))
    write_csv(
        folder / "stage.csv",
        [
            "Invented: mean daily stage at the staff gauge, pressure logger checked monthly. Written by make_data.py.",
            f"No record {LOGGER_LOST[0]} to {LOGGER_LOST[1]}: battery. Ice: seen or inferred from the cold; the stage then stands too high.",
        ],
        {
            "date": kept.index,
            "stage [m]": fixed(kept, 3),
            "ice": ["yes" if frozen else "no" for frozen in ice.loc[kept.index]],
        },
    )
    return stage


def write_gaugings(folder, flow, stage, ice):
    """gaugings.csv with its three field sheets."""
    random = np.random.RandomState(14)
    sheets = {
        "sheet_current_meter.csv": current_meter_sheet,
        "sheet_salt.csv": salt_sheet,
        "bucket.csv": bucket_sheet,
    }
    rows = []
    for day, method, uncertainty, sheet in GAUGINGS:
        found = flow[day] * (1.0 + uncertainty / 100.0 * random.standard_normal())
        if sheet:
            found = sheets[sheet](folder, day, found)
        seen = stage[day] + 0.0015 * random.standard_normal()
        rows.append((day, f"{seen:.3f}", found, uncertainty, method, "yes" if ice[day] else "no"))
    day, seen, found, uncertainty, method, frozen = zip(*rows)
    write_csv(
        folder / "gaugings.csv",
        [
            "Invented: gaugings at the staff gauge. Uncertainty: one standard deviation. Written by make_data.py.",
            "Field sheets: 2024-04-10 sheet_current_meter.csv, 2024-07-04 sheet_salt.csv, 2025-04-14 sheet_float.csv, 2025-08-06 bucket.csv.",
        ],
        {
            "date": day,
            "stage [m]": seen,
            "flow [L/s]": found,
            "uncertainty [%]": uncertainty,
            "method": method,
            "ice": frozen,
        },
    )
    return dict(zip(day, found))


def current_meter_sheet(folder, day, flow_ls):
    """A sheet of 21 verticals that adds up to about `flow_ls`; returns what the written sheet adds up to [L/s]."""
    random = np.random.RandomState(21)
    across = np.linspace(0.0, 1.0, 21)
    distance = 0.20 + 2.00 * across
    depth = 0.265 * (4.0 * across * (1.0 - across)) ** 0.6 * (1.15 - 0.3 * across)
    depth[1:-1] += 0.008 * random.standard_normal(19)
    depth = np.round(depth, 2)
    velocity = (depth / 0.25) ** 0.6 * (1.0 + 0.06 * random.standard_normal(21))
    velocity = np.round(velocity * flow_ls / mid_section(distance, depth, velocity), 3)
    write_csv(
        folder / "sheet_current_meter.csv",
        [
            f"Invented: current meter, {day}, one point at 0.6 of the depth, 40 s. Written by make_data.py.",
            "First and last station: the water's edges.",
        ],
        {
            "distance [m]": fixed(distance, 2),
            "depth [m]": fixed(depth, 2),
            "velocity [m/s]": fixed(velocity, 3),
        },
    )
    return mid_section(distance, depth, velocity)


def mid_section(distance, depth, velocity):
    """Flow [L/s]: each vertical stands for half the way to its neighbours."""
    width = np.gradient(distance) * np.r_[0.5, np.ones(len(distance) - 2), 0.5]
    return 1000.0 * float(np.sum(width * depth * velocity))


def salt_sheet(folder, day, flow_ls):
    """The passing of a salt wave; returns the flow of the written sheet [L/s]."""
    random = np.random.RandomState(22)
    time = np.arange(0.0, 605.0, 5.0)
    reach_m, velocity, spreading, background = 34.0, 0.19, 0.35, 74.2
    passing = np.zeros_like(time)
    late = time[1:]
    passing[1:] = late**-1.5 * np.exp(
        -((reach_m - velocity * late) ** 2) / (4.0 * spreading * late)
    )
    passing *= 1000.0 * SALT_GRAMS / flow_ls / SALT_SLOPE / np.trapezoid(passing, time)
    conductivity = np.round(background + passing + 0.08 * random.standard_normal(len(time)), 1)
    write_csv(
        folder / "sheet_salt.csv",
        [
            f"Invented: salt thrown in at one point, {day}. Written by make_data.py.",
            f"Salt {SALT_GRAMS:.0f} g, dry. Probe compensated to 25 degC. Calibration {SALT_SLOPE} mg/L for each uS/cm.",
        ],
        {"time [s]": fixed(time, 0), "conductivity [uS/cm]": fixed(conductivity, 1)},
    )
    rise = conductivity - np.median(conductivity[:8])
    return 1000.0 * SALT_GRAMS / SALT_SLOPE / float(np.trapezoid(rise, time))


def bucket_sheet(folder, day, flow_ls):
    """Six fills of a tub; returns their mean flow [L/s]."""
    random = np.random.RandomState(23)
    time = np.round(BUCKET_LITRES / flow_ls + 0.12 * random.standard_normal(6), 2)
    write_csv(
        folder / "bucket.csv",
        [
            f"Invented: whole burn led through a plank spout into a marked tub, {day}, six fills. Written by make_data.py."
        ],
        {"volume [L]": [digits(BUCKET_LITRES, 3)] * 6, "time [s]": fixed(time, 2)},
    )
    return BUCKET_LITRES / float(np.mean(time))


def float_sheets(folder, flow_ls):
    """Eight floats over 4 m and the two sections they cross, to about `flow_ls`."""
    random = np.random.RandomState(24)
    across = np.linspace(0.0, 2.0, 9)
    sections = [
        np.round(
            0.25 * (2.0 * across * (2.0 - across) / 2.0) ** 0.6 + 0.01 * random.standard_normal(9),
            2,
        )
        for _ in range(2)
    ]
    for depth in sections:
        depth[[0, -1]] = 0.0
    area = float(np.mean([np.trapezoid(depth, across) for depth in sections]))
    coefficient = 1.0 - 1.0 / (np.log(area / 2.0 / FLOAT_GRAVEL_M) + 3.4)
    speed = np.sin(np.pi * np.linspace(0.12, 0.88, 8)) ** 0.4 * (
        1.0 + 0.05 * random.standard_normal(8)
    )
    speed *= flow_ls / 1000.0 / area / coefficient / speed.mean()
    write_csv(
        folder / "sheet_float.csv",
        [
            f"Invented: sticks timed over 4 m, {FLOAT_DAY}, from bank to bank. Written by make_data.py."
        ],
        {"length [m]": ["4.00"] * 8, "time [s]": fixed(4.0 / speed, 1)},
    )
    write_csv(
        folder / "sheet_section.csv",
        [
            f"Invented: the upper and the lower end of the floats' way, {FLOAT_DAY}; gravel bed. Written by make_data.py."
        ],
        {
            "station [m]": fixed(np.repeat([0.0, 4.0], 9), 1),
            "across [m]": fixed(np.tile(across, 2), 2),
            "depth [m]": fixed(np.concatenate(sections), 2),
        },
    )


def flood_sheet(folder, peak):
    """Marks of a flood of `peak` m3/s at four sections of a reach that narrows a little, their levels to 10 mm."""
    station = np.array([0.0, 12.0, 26.0, 40.0])
    across = np.array([0.0, 0.4, 1.0, 2.0, 3.0, 3.8, 4.2])
    shape = np.array([0.0, 0.62, 0.95, 1.0, 0.97, 0.60, 0.0])
    area, radius = unit_section(across, shape)
    depth = (FLOOD_MANNING * peak / np.sqrt(FLOOD_SLOPE) / area / radius ** (2 / 3)) ** 0.6
    for _ in range(50):
        area, radius = unit_section(across, depth * shape)
        depth *= (peak / (area * radius ** (2 / 3) * np.sqrt(FLOOD_SLOPE) / FLOOD_MANNING)) ** 0.6
    depths = [np.round(depth * shape * (1.01 - 0.0005 * at), 2) for at in station]
    level = 243.10 - FLOOD_SLOPE * station
    write_csv(
        folder / "sheet_flood.csv",
        [
            f"Invented: wrack and washed bark, levelled after the flood of {FLOOD_DAY}, a straight reach. Written by make_data.py.",
            "Depth: of the bed below the mark.",
        ],
        {
            "station [m]": fixed(np.repeat(station, len(across)), 1),
            "level [m]": fixed(np.repeat(level, len(across)), 2),
            "across [m]": fixed(np.tile(across, len(station)), 1),
            "depth [m]": fixed(np.concatenate(depths), 2),
        },
    )


def unit_section(across, depth):
    """Area and hydraulic radius."""
    area = float(np.trapezoid(depth, across))
    return area, area / float(np.sum(np.hypot(np.diff(across), np.diff(depth))))


if __name__ == "__main__":
    main(*sys.argv[1:])
