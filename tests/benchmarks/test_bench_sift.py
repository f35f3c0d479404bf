"""How long a first look at many creeks takes.

Bars: 2 ms a row in one process; 20,000 rows in 60 s on two cores; no more memory for many rows than for few.
Counted in processor time, all processes together: what else a machine does is no affair of these rows.
"""

import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

from hydrokit.energy.first_look import Creek
from hydrokit.energy.sieve import sieved

ROWS = 20_000
HEADER = "name, head [m], length [m], catchment [km2], neighbour record, neighbour catchment [km2], licence [L/s], residual [%]\n"


def rows(count):
    rng = np.random.default_rng(5)
    for number in range(count):
        head = np.exp(rng.uniform(np.log(1.5), np.log(300)))
        length = head * np.exp(rng.uniform(np.log(1.2), np.log(20)))
        area = np.exp(rng.uniform(np.log(0.3), np.log(60)))
        yield (
            f"creek {number}",
            head,
            length,
            area,
            rng.choice([None, 0.02, 0.2]),
            rng.choice([None, 0.1]),
        )


@pytest.fixture(scope="module")
def record():
    """Twenty years of a valley's river."""
    days = pd.date_range("2002-10-01", "2022-09-30")
    rng = np.random.default_rng(3)
    season = 1.1 + np.cos(2 * np.pi * (days.day_of_year - 30) / 365.25)
    return pd.Series(0.5 * season * rng.lognormal(0, 0.4, len(days)), days, name="flow_m3s")


def test_a_row_in_one_process(benchmark, record):
    """Bar: 2 ms of one processor."""
    creeks = [
        Creek(
            name,
            head,
            length,
            catchment_m2=1e6 * area,
            neighbour_catchment_m2=38e6,
            licence_m3s=licence,
            residual_share=residual,
        )
        for name, head, length, area, licence, residual in rows(1024)
    ]
    sieved(creeks[:8], [record], [0] * 8)

    spent = []

    def worked():
        began = time.process_time()
        for start in range(0, len(creeks), 256):
            sieved(creeks[start : start + 256], [record], [0] * 256)
        spent.append(time.process_time() - began)

    benchmark.pedantic(worked, rounds=3)
    print(f"\n{1000 * min(spent) / len(creeks):.2f} ms a row (bar 2 ms)")
    assert min(spent) / len(creeks) < 0.002


@pytest.fixture(scope="module")
def tables(tmp_path_factory, record):
    folder = tmp_path_factory.mktemp("many")
    lines = [f"{day:%Y-%m-%d},{flow:.5g}\n" for day, flow in record.items()]
    (folder / "river.csv").write_text("date,flow [m3/s]\n" + "".join(lines), encoding="utf-8")
    for count in (1000, ROWS):
        told = [
            f"{name},{head:.2f},{length:.1f},{area:.3f},river.csv,38,{1000 * licence if licence else ''},{100 * residual if residual else ''}\n"
            for name, head, length, area, licence, residual in rows(count)
        ]
        (folder / f"{count}.csv").write_text(HEADER + "".join(told), encoding="utf-8")
    return folder


def sift(folder, count, workers):
    """Seconds by the clock and of the processors, and the most memory that any of the processes held, in MB."""
    watched = (
        "import resource, sys; from hydrokit import cli; code = cli.main(sys.argv[1:]); "
        "used = [resource.getrusage(each) for each in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]; "
        "print(max(each.ru_maxrss for each in used) // 1024, sum(each.ru_utime + each.ru_stime for each in used)); sys.exit(code)"
    )
    began = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", watched, "sift", f"{count}.csv", "--workers", str(workers)],
        cwd=folder,
        check=True,
        capture_output=True,
        text=True,
    )
    held, spent = done.stdout.split()[-2:]
    return time.perf_counter() - began, float(spent), int(held)


def test_twenty_thousand_rows_on_two_cores(benchmark, tables):
    """Bars: 60 s on each of two processors; a tenth more memory than for a thousand rows, and what the table itself takes."""
    *_, few = sift(tables, 1000, 2)
    seconds, spent, many = benchmark.pedantic(sift, args=(tables, ROWS, 2), rounds=1)
    print(
        f"\n{ROWS} rows: {spent / 2:.0f} s of two processors (bar 60 s), {seconds:.0f} s by the clock, {many} MB against {few} MB for 1,000"
    )
    assert spent / 2 < 60 and many < 1.1 * few + 30
    table = pd.read_csv(tables / f"{ROWS}_sifted.csv")
    assert len(table) == ROWS and table["name"].tolist() == [name for name, *_ in rows(ROWS)]
