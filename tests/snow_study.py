"""A thin study in US units for tests: drilled pipe, a line that stalls at a high point, open ground, a pond with a standpipe, snow, a pipe bridge.

All of it is made up for the tests.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

__all__ = ["LINE", "SITE", "VENTED", "opened", "temperatures", "write"]

VENTED = ("entry = 0.7", 'entry = 0.7\nvents = ["230 ft"]')  # a swap after which the line starts

# Bottom of the line: chainage and level, ft. High points at 230, 520 and 760 ft.
LINE = (
    (0, 400.0),
    (80, 397.4),
    (160, 394.0),
    (230, 396.6),
    (330, 390.8),
    (420, 387.5),
    (520, 393.4),
    (640, 387.0),
    (700, 385.2),
    (760, 386.4),
    (900, 383.0),
)
PENSTOCK = (
    (0, 380.0),
    (4, 378.0),
    (120, 350.0),
    (300, 312.0),
    (340, 306.0),
    (480, 282.0),
    (640, 259.6),
)
SITE = """
[site]
name = "Snow Lane"
stage_of_work = "existing"
altitude = "5200 ft"
water_temperature = "5 degC"
display = "us"
currency = "marks"
winter = [11, 12, 1, 2, 3]
[stream]
temperature = "temperature.csv"
[intake]
capacity = "240 gpm ± 15 gpm"
[[part]]
kind = "drilled pipe"
name = "creek screen"
holes = 300
hole = "0.5 in"
head = "3 in"
mesh_open = "40 %"
clogged = { october = "50 %", november = "30 %" }
[[part]]
kind = "line"
name = "upper line"
[[part]]
kind = "open ground"
name = "rushes"
length = "120 ft"
width = "6 ft"
soil = "sandy loam"
loss = "4 %"
[[part]]
kind = "forebay"
area = "220 ft^2"
depth = "1.5 ft"
grain = "0.3 mm"
silt_depth = "4 in"
standpipe = "7 in"
standpipe_fall = "4 ft"
bank = "5 in"
[diversion]
profile = "line.csv"
along_slope = true
levels = "bottom"
inside_diameter = "6.2 in"
roughness = "0.03 mm"
inlet_level = "399.2 ft"
outlet = "upturned"
outlet_crest = "384.2 ft"
entry = 0.7
snow = "2.5 ft"
[penstock]
profile = "penstock.csv"
along_slope = true
static_pressure = "52 psi ± 1 psi"
entry = 2.0
closing_time = "10 s"
cover = "1.2 ft"
snow = "2 ft"
[[penstock.pipe]]
size = "4 in PVC Sch 40"
[[penstock.stretch]]
name = "log bridge"
from = "300 ft"
to = "340 ft"
span = "10 ft"
snow_load = "1.5 ft"
ice = "0.5 in"
[turbine]
kind = "turgo"
jets = 3
jet_kind = "conical nozzle"
jet_diameter = "0.5625 in"
jets_open = 3
[generator]
water_to_wire = "54 % ± 5 %"
"""


def temperatures(mean: float = 3.0, swing: float = 13.0, years: int = 6) -> pd.Series:
    """Daily air temperature in °C with spells, the same every time."""
    random = np.random.RandomState(33)
    days = pd.date_range("2016-10-01", periods=round(365.25 * years), freq="D")
    spells = np.convolve(random.standard_normal(len(days) + 8), np.ones(9) / 3, "valid")
    return pd.Series(
        mean
        - swing * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 12) / 365.25)
        + 2.5 * spells,
        index=days,
    )


def write(folder: Path, *swaps: tuple[str, str]) -> Path:
    """The study written into a folder, with texts of its site file swapped."""
    folder.mkdir(parents=True, exist_ok=True)
    text = SITE
    for old, new in swaps:
        assert old in text, old
        text = text.replace(old, new)
    air = temperatures()
    sheets = {
        "site.toml": text,
        "line.csv": "chainage [ft],elevation [ft]\n" + "".join(f"{x},{z}\n" for x, z in LINE),
        "penstock.csv": "chainage [ft],elevation [ft]\n"
        + "".join(f"{x},{z}\n" for x, z in PENSTOCK),
        "temperature.csv": "date,temperature [degC]\n"
        + "".join(f"{day:%Y-%m-%d},{value:.1f}\n" for day, value in air.items()),
    }
    for name, content in sheets.items():
        (folder / name).write_text(content, encoding="utf-8", newline="\n")
    return folder


def opened(folder: Path, *swaps: tuple[str, str]) -> Any:
    """The same, opened."""
    from hydrokit.study.opening import open_study

    return open_study(write(folder, *swaps))
