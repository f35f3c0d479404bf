"""A small planned study of three years, for tests that need a whole plant and no long wait."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

SITE = """
[site]
name = {name!r}
place = "made up"
stage_of_work = "{stage}"
altitude = "200 m"
display = "metric"
currency = "{currency}"
winter = [12, 1, 2]

[stream]
record = "flow.csv"
record_uncertainty = "10 %"

[rights]
licence = "40 L/s"

[[rights.residual]]
rule = "percentile"
exceedance = "95 %"

[penstock]
profile = "penstock.csv"
along_slope = true
entry = 0.5
closing_time = "10 s"

[[penstock.pipe]]
size = "PVC-U PN 10 160 mm"

[turbine]
kind = "pelton"
jets = 2
jet_kind = "conical nozzle"
efficiency = "78 % ± 3 %"
{turbine}

[generator]
kind = "synchronous"
efficiency = "88 %"

[cable]
length = "100 m"
size = "16 mm2"
voltage = "230 V"
phases = "one"

[costs]
fixed = 10000
per_power = "1200 per kW"
per_jet = 400
pipes = "prices.csv"
laying = "12 per m"
cable = "8 per m"
yearly = "2 %"
life = 25
discount_rate = "4 %"
value = "0.25 per kWh"
uncertainty = "{uncertainty}"

[sizing]
aim = "cost"
jets = [2]

[uncertainty]
draws = 200
"""


def small_study(
    folder: Path,
    name: str = "Small creek",
    times: float = 1.0,
    stage: str = "planned",
    currency: str = "crowns",
    uncertainty: str = "10 %",
    turbine: str = "",
) -> Path:
    """Write the study; `times` makes the creek larger or smaller."""
    folder.mkdir(parents=True)
    days = pd.date_range("2019-10-01", "2022-09-30")
    rng = np.random.default_rng(5)
    flow = (
        times
        * 14
        * (1.2 + np.cos(2 * np.pi * (days.day_of_year - 30) / 365.25))
        * rng.lognormal(0, 0.3, len(days))
    )
    (folder / "flow.csv").write_text(
        "date, flow [L/s]\n"
        + "\n".join(f"{day:%Y-%m-%d}, {each:.2f}" for day, each in zip(days, flow)),
        encoding="utf-8",
    )
    (folder / "penstock.csv").write_text(
        "chainage [m], elevation [m]\n0, 240\n4, 239.5\n100, 233\n200, 215\n300, 200\n",
        encoding="utf-8",
    )
    (folder / "prices.csv").write_text(
        "size, price [money/m]\nPVC-U PN 10 125 mm, 9\nPVC-U PN 10 160 mm, 14\nPVC-U PN 10 200 mm, 22\n",
        encoding="utf-8",
    )
    text = SITE.replace("{name!r}", '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"')
    for key, value in (
        ("stage", stage),
        ("currency", currency),
        ("uncertainty", uncertainty),
        ("turbine", turbine),
    ):
        text = text.replace("{" + key + "}", value)
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return folder
