"""Bars of the record room: bands against resampling written out, and a century of hourly stage.

Run with ``pytest -s -o addopts="" tests/benchmarks/test_bench_duration.py``. Each bar
is a ratio within one run, or a time and a memory with room to spare; the figures are printed.
"""

import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

from hydrokit.stream.duration import TABLE, flow_duration


def creek(years):
    rng = np.random.default_rng(0)
    index = pd.date_range("1980-10-01", periods=int(365.25 * years))
    season = 1 + 0.7 * np.cos(2 * np.pi * index.day_of_year.to_numpy() / 365.25)
    return pd.Series(
        0.02 * season * rng.lognormal(0, 0.6, len(index)), index=index, name="flow_m3s"
    )


def best_of(run, times):
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        result = run()
        spent.append(time.perf_counter() - start)
    return min(spent), result


def written_out(curve):
    """The plain way: put each resample together and hand it to numpy; 90 % band of the quantiles, as wide as the years leave open."""
    parts = [curve.flow_m3s[curve.year == year] for year in range(len(curve.years))]
    chance = 1 - TABLE
    resampled = [
        np.quantile(
            np.concatenate([parts[year] for year in np.repeat(np.arange(len(parts)), draw)]),
            chance,
            method="weibull",
        )
        for draw in curve.draws
    ]
    middle = np.log(np.quantile(curve.flow_m3s, chance, method="weibull"))
    wide = curve.spread.widened(np.log(resampled), middle, [curve.seed, 3])
    return np.quantile(np.exp(wide), [0.05, 0.95], axis=0)


def test_bands_against_resampling_written_out():
    """Bar: 1,000 resamples of 40 years at least 20 times faster, same bands."""
    record = creek(40)
    curve = flow_duration(record)
    slow, expected = best_of(lambda: written_out(curve), 3)
    fast, found = best_of(lambda: flow_duration(record).band_si(TABLE), 20)
    bands_only, _ = best_of(lambda: curve.band_si(TABLE), 20)
    np.testing.assert_allclose(found, expected, rtol=1e-12)
    print(
        f"\nbands, 1,000 resamples of 40 years: {1e3 * bands_only:.1f} ms ({1e3 * fast:.1f} ms with record and sorting)"
    )
    print(f"written out: {slow:.2f} s; ratio {slow / bands_only:.0f} (bar 20)")
    assert slow / bands_only > 20


@pytest.mark.parametrize("years", [10, 40, 100])
def test_growth_with_years(years):
    curve = flow_duration(creek(years))
    spent, _ = best_of(lambda: curve.band_si(TABLE), 3)
    print(f"\nbands of {years} years: {1e3 * spent:.1f} ms")


CENTURY = """
import time, resource
import numpy as np, pandas as pd
from hydrokit.stream.duration import TABLE, flow_duration
from hydrokit.stream.rating import fit_rating
from hydrokit.stream.readings import daily_means, flow_from_stage
from hydrokit.stream.record import describe_record
from hydrokit.units import Q_
rng = np.random.default_rng(0)
index = pd.date_range("1925-01-01", "2025-01-01", freq="h", inclusive="left")
stage = pd.Series(0.2 + 0.1 * rng.standard_gamma(2, len(index)), index=index, name="stage_m")
gauged = np.linspace(0.16, 0.6, 12)
gauging = 1.8 * (gauged - 0.12) ** 1.7 * rng.lognormal(0, 0.05, 12)
rating = fit_rating(Q_(gauged, "m"), Q_(gauging, "m^3/s"))
start = time.perf_counter()
flow = flow_from_stage(stage, rating)
record = daily_means(flow)
describe_record(record)
table = flow_duration(record, rating_uncertainty=0.08).table()
print(time.perf_counter() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, len(stage))
"""


def test_a_century_of_hourly_stage():
    """Bar: rating, checks and a duration curve with bands under 5 s and 1 GiB."""
    done = subprocess.run(
        [sys.executable, "-c", CENTURY], capture_output=True, text=True, check=True
    )
    seconds, mebibytes, readings = (float(each) for each in done.stdout.split())
    print(
        f"\n{readings:,.0f} hourly readings to a curve with bands: {seconds:.2f} s (bar 5), {mebibytes:.0f} MiB (bar 1,024)"
    )
    assert seconds < 5 and mebibytes < 1024


CENTURY_OF_LINES = """
import pathlib, resource, sys, time
import numpy as np, pandas as pd
import hydrokit as hk
folder = pathlib.Path(sys.argv[1])
rng = np.random.default_rng(0)
index = pd.date_range("1925-01-01", "2025-01-01", freq="h", inclusive="left")
stage = 0.2 + 0.1 * rng.standard_gamma(2, len(index))
lines = "".join(f"{at},{height:.3f}\\n" for at, height in zip(index.strftime("%Y-%m-%d %H:%M"), stage))
(folder / "stage.csv").write_text("time,stage [m]\\n" + lines)
gauged = "".join(f"{2010 + number}-05-01,{height:.3f},{1800 * (height - 0.12) ** 1.7:.2f},5\\n" for number, height in enumerate(np.linspace(0.16, 0.6, 12)))
(folder / "gaugings.csv").write_text("date,stage [m],flow [L/s],uncertainty [%]\\n" + gauged)
(folder / "site.toml").write_text('[site]\\nname = "x"\\n[stream]\\ngaugings = "gaugings.csv"\\nstage = "stage.csv"\\nice_months = [1]\\n')
study = hk.open_study(folder)
start = time.process_time()
study.stage_record
read = time.process_time()
study.record_findings, study.duration.table()
print(read - start, time.process_time() - read, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def test_a_century_of_hourly_stage_from_its_file(tmp_path):
    """Bar: the same from a logger's file through the site file, reading it included; processor time, for the machine may be shared."""
    done = subprocess.run(
        [sys.executable, "-c", CENTURY_OF_LINES, str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
    )
    read, worked, mebibytes = (float(each) for each in done.stdout.split())
    print(
        f"\na century of lines: read in {read:.2f} s, worked out in {worked:.2f} s (bar 5 together), {mebibytes:.0f} MiB (bar 1,024)"
    )
    assert read + worked < 5 and mebibytes < 1024


def test_bands(benchmark):
    curve = flow_duration(creek(40))
    benchmark(curve.band_si, TABLE)
