"""How long twenty years of hourly stages take to be read and checked: bars of 2 s, plain and with decimal commas.

Counted in processor time: what else a machine does is no affair of the reader's.
"""

import time

import numpy as np
import pandas as pd
import pytest
import small_study

from hydrokit.columns import read_csv
from hydrokit.study.opening import check_study

TIMES = pd.date_range("2002-10-01", "2022-09-30 23:00", freq="h")
GAUGINGS = "date,stage [m],flow [L/s],uncertainty [%],method\n" + "".join(
    f"2022-{month:02d}-11,{stage},{300 * stage**2:.2f},5,bucket\n"
    for month, stage in enumerate((0.12, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4), 1)
)


@pytest.fixture(scope="module", params=["plain", "decimal commas"])
def study(request, tmp_path_factory):
    rng = np.random.default_rng(1)
    season = 0.28 + 0.08 * np.cos(2 * np.pi * np.arange(len(TIMES)) / 8766)
    stage = np.round(season + 0.002 * rng.standard_normal(len(TIMES)), 4)
    if request.param == "plain":
        rows = (f"{when},{each}" for when, each in zip(TIMES.strftime("%Y-%m-%d %H:%M"), stage))
        text = "time,stage [m]\n" + "\n".join(rows)
    else:
        written = (str(each).replace(".", ",") for each in stage)
        rows = (f"{when};{each}" for when, each in zip(TIMES.strftime("%d.%m.%Y %H:%M"), written))
        text = "time;stage [m]\n" + "\n".join(rows)
    folder = tmp_path_factory.mktemp("hourly")
    small_study.changed(
        folder,
        stream={
            "record": None,
            "record_uncertainty": None,
            "stage": "stage.csv",
            "gaugings": "gaugings.csv",
            "cease_to_flow": "0 m",
        },
        files={"gaugings": GAUGINGS},
    )
    (folder / "stage.csv").write_text(text, encoding="utf-8")
    return folder


def least(work, rounds=3):
    spent = []
    for _ in range(rounds):
        began = time.process_time()
        work()
        spent.append(time.process_time() - began)
    return min(spent)


def test_twenty_years_of_hours_are_read(benchmark, study):
    benchmark.pedantic(read_csv, (study / "stage.csv", {"time": "time", "stage": "m"}), rounds=1)
    found = read_csv(study / "stage.csv", {"time": "time", "stage": "m"})
    assert len(found) == len(TIMES)
    seconds = least(lambda: read_csv(study / "stage.csv", {"time": "time", "stage": "m"}))
    print(f"\nread in {seconds:.2f} s (bar 2 s)")
    assert seconds < 2


def test_twenty_years_of_hours_are_checked(benchmark, study):
    benchmark.pedantic(check_study, (study,), rounds=1)
    seconds = least(lambda: check_study(study))
    print(f"\nchecked in {seconds:.2f} s (bar 2 s)")
    assert seconds < 2
