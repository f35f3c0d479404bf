"""The oranges of the study saltfern-creek, invented: how long they took over a reach, and its two sections."""

import numpy as np
from inlet import FOOT, GPM
from invented_csv import fixed, write_csv

ACROSS_FT, FLOAT_REACH_FT, MEAN_OF_SURFACE = (
    np.array([0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0]),
    20.0,
    0.82,
)
SECTIONS_FT = (
    np.array([0.0, 0.45, 0.75, 0.85, 0.75, 0.50, 0.0]),
    np.array([0.0, 0.40, 0.70, 0.90, 0.85, 0.40, 0.0]),
)


def float_runs(creek_gpm_then):
    """Area [m2] of the reach, and the seconds that seven floats take over it."""
    random = np.random.RandomState(20)
    area = sum(np.trapezoid(depth, ACROSS_FT) for depth in SECTIONS_FT) / 2.0 * FOOT**2
    surface = (
        creek_gpm_then * GPM / area / MEAN_OF_SURFACE / FOOT
    )  # ft/s: floats run a fifth faster than the mean
    return area, np.round(FLOAT_REACH_FT / (surface * (1.0 + 0.09 * random.standard_normal(7))), 1)


def float_gpm(area, seconds):
    """What the crew made of them."""
    return MEAN_OF_SURFACE * area * np.mean(FLOAT_REACH_FT * FOOT / seconds) / GPM


def write_float(folder, creek_gpm_then):
    """The floats of that day, and the two sections of the reach."""
    _, seconds = float_runs(creek_gpm_then)
    write_csv(
        folder / "sheet_float.csv",
        [
            "Invented: oranges over 20 ft, 2023-05-13, spread from bank to bank. Written by make_data.py."
        ],
        {"length [ft]": ["20"] * 7, "time [s]": fixed(seconds, 1)},
    )
    write_csv(
        folder / "sheet_section.csv",
        [
            "Invented: the reach the oranges crossed, its upper and lower end. Written by make_data.py."
        ],
        {
            "station [ft]": ["0"] * 7 + ["20"] * 7,
            "across [ft]": fixed(np.r_[ACROSS_FT, ACROSS_FT], 1),
            "depth [ft]": fixed(np.concatenate(SECTIONS_FT), 2),
        },
    )
