"""Bar: 60 design flows × 20 pipe sizes × 4 jet sets over 40 years of days in 2 s on two cores."""

from pathlib import Path
from time import perf_counter

import numpy as np
import pytest
from sized import COSTS, GENERATOR, PELTON

from hydrokit.energy.sizing import Layout, sweep
from hydrokit.energy.year import annual_energy
from hydrokit.plant.parts import MeasuredLoss, Penstock
from hydrokit.stream.record import read_record
from hydrokit.works.pipe import Pipe

DATA = Path(__file__).parents[1] / "data" / "black_earth_creek_usgs05406500.csv"
FLOWS = np.linspace(0.004, 0.045, 60)
PIPES = [Pipe(bore, 380, 3e-5, fittings=2.8) for bore in np.linspace(0.07, 0.26, 20)]
PRICES = np.linspace(4, 36, 20)
LAYOUT = Layout(Penstock(MeasuredLoss(0.0), 45.0), PELTON, generator=GENERATOR)


@pytest.fixture(scope="module")
def usable():
    """Forty whole water years of a real creek, scaled to a small one."""
    record = read_record(DATA).loc["1960-10-01":"2000-09-30"]
    return ((record - 0.5).clip(lower=0) / 40).rename("flow_m3s")


@pytest.mark.parametrize(
    "demand", [None, np.linspace(1000, 4000, 12)], ids=["all energy", "with demand"]
)
def test_sweep(benchmark, usable, demand):
    found = benchmark(
        sweep, usable, LAYOUT, FLOWS, PIPES, (1, 2, 3, 4), COSTS, PRICES, 140.0, demand_w=demand
    )
    seconds = benchmark.stats.stats.median if benchmark.stats else float("nan")
    # the same the plain way: a curve and a year for each design
    start, worst, tried = perf_counter(), 0.0, 0
    for place in ((0, 10, 4), (1, 25, 9), (2, 40, 14), (3, 55, 19)):
        year = annual_energy(usable, found.chain(found.design(place)).curve())
        worst, tried = max(worst, abs(year.annual_kwh / found.kwh[place] - 1)), tried + 1
    one_by_one = (perf_counter() - start) / tried * found.kwh.size
    print(
        f"\n{found.kwh.size} designs in {seconds:.2f} s (bar 2 s); one by one {one_by_one:.0f} s, {one_by_one / seconds:.0f} times as long; worst error {worst:.1e}"
    )
