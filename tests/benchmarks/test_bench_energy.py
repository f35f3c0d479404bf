"""Bars of the energy room: ten thousand draws of forty years, against working each out by itself; a century of hours.

Run with ``pytest -s -o addopts="" tests/benchmarks/test_bench_energy.py``. Each bar is a ratio within
one run, or a time and a memory on two free cores; the figures are printed.
"""

import subprocess
import sys
import time

import numpy as np
import pandas as pd
import pytest

from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.weights import weights
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, Penstock, Runner
from hydrokit.plant.turbine import part_load
from hydrokit.plant.wire import Wire
from hydrokit.stream.rights import fixed, resolve_rights
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.state import State

DRAWS, YEARS = 10_000, 40
LINE = Line((Pipe(0.1, 350.0, 1e-5, fittings=1.5), Pipe(0.08, 50.0, 1e-5, fittings=0.5)))
RIGHTS = resolve_rights([fixed("4 L/s")], "20 L/s")
OUTAGES = Outages(unplanned=0.03)
JETS = Chain(
    Penstock(LINE, 50.0),
    FixedJets((0.012,) * 4, 0.95),
    Runner(part_load("pelton"), minimum_flow_m3s=0.001),
    electric=(Wire(0.5, 230.0),),
    states={1: State(air_m=4.0)},
)
SPEAR = Chain(Penstock(LINE, 50.0), Adjustable(0.011), Runner(part_load("francis")))


def creek(years, freq="D"):
    """Seasons, a slow memory, storms."""
    rng = np.random.default_rng(0)
    index = pd.date_range("1960-10-01", f"{1960 + years}-09-30 23:59", freq=freq)
    days = len(pd.date_range(index[0], index[-1], freq="D"))
    noise = rng.standard_normal(days)
    for day in range(1, days):
        noise[day] += 0.95 * noise[day - 1]
    noise = np.repeat(noise, len(index) // days)
    season = 1 + 0.6 * np.cos(2 * np.pi * (index.day_of_year.to_numpy() - 60) / 365.25)
    return pd.Series(0.011 * season * np.exp(0.15 * noise), index=index, name="flow_m3s")


def clock(run, times=1):
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        result = run()
        spent.append(time.perf_counter() - start)
    return min(spent), result


def by_itself(chain, record, drawn):
    """One draw worked out in full: its plant, its rights, every day of every year; energy by year."""
    label, month = record.index.year + (record.index.month >= 10), np.asarray(record.index.month)
    usable = RIGHTS.usable_si(record.to_numpy() * drawn["flow"], month)
    itself = chain.factors(drawn["head"], drawn["loss"], drawn["efficiency"], drawn["jet_area"])
    power = np.empty(len(record))
    for months in chain.alike():
        these = np.isin(month, months)
        power[these] = itself.at_si(usable[these], months[0]).power_w
    return np.bincount(label - label.min(), power) * 0.024 * (1 - drawn["unplanned"])


@pytest.mark.parametrize(
    "name, chain", [("four fixed jets", JETS), ("adjustable", SPEAR)], ids=["jets", "adjustable"]
)
def test_ten_thousand_draws_of_forty_years(name, chain):
    """Bars: 2 s; 20 times faster than each draw by itself; percentiles within 1e-3 of the annual energy."""
    record = creek(YEARS)
    energy_uncertainty(record, RIGHTS, chain, draws=100, outages=OUTAGES)

    def worked_out():
        found = energy_uncertainty(record, RIGHTS, chain, draws=DRAWS, outages=OUTAGES)
        return found, found.annual_kwh(90)

    spent, (found, _) = clock(worked_out, 3)
    rows, some = found.factors.to_dict("records"), 300
    slow, _ = clock(lambda: [by_itself(chain, record, row) for row in rows[:20]])
    ratio = slow / 20 * DRAWS / spent
    plain = np.array([by_itself(chain, record, row) for row in rows[:some]])
    lattice, scale = found.years_kwh[:some].sum(axis=2), plain.mean()
    misses = {
        f"P{100 - 100 * share:.0f}": (np.quantile(lattice, share) - np.quantile(plain, share))
        / scale
        for share in (0.5, 0.25, 0.1, 0.01)
    }
    print(
        f"\n{name}: {DRAWS:,} draws of {YEARS} years in {spent:.2f} s (bar 2 s); by itself, from 20 draws, {slow / 20 * DRAWS:.0f} s; ratio {ratio:.0f} (bar 20)"
    )
    print(
        f"against {some} draws by themselves: mean {lattice.mean() / scale - 1:+.1e}, "
        + ", ".join(f"{key} {miss:+.1e}" for key, miss in misses.items())
    )
    assert spent <= 2.0
    assert ratio >= 20
    assert abs(lattice.mean() / scale - 1) < 1e-3 and max(map(abs, misses.values())) < 1e-3


def test_p90_over_eight_seeds():
    """Bar: spread of the P90 of one year, of ten and of endless ones over eight seeds at the default 4,000 draws within 1 %."""
    record = creek(YEARS)
    found = [
        energy_uncertainty(record, RIGHTS, JETS, draws=4000, seed=seed, outages=OUTAGES)
        for seed in range(8)
    ]
    for of in ("single", "several", "mean"):
        kwh = [each.annual_kwh(90, of) for each in found]
        print(
            f"\nP90, {of}: {min(kwh):,.0f} to {max(kwh):,.0f} kWh, spread {np.ptp(kwh) / np.mean(kwh):.2%} (bar 1 %)"
        )
        assert np.ptp(kwh) <= 0.01 * np.mean(kwh)


def test_memory_of_ten_thousand_draws():
    """Bar: 400 MB for the whole process."""
    code = (
        "import resource, sys; sys.path.insert(0, 'tests/benchmarks'); import test_bench_energy as bench;"
        "bench.energy_uncertainty(bench.creek(40), bench.RIGHTS, bench.JETS, draws=10_000, outages=bench.OUTAGES).percentiles();"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)"
    )
    used = float(
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout
    )
    print(f"\nmemory of the process: {used:.0f} MB (bar 400)")
    assert used <= 400


def test_growth_to_a_century_of_hours():
    """Linear in the record: time a step of 100 years of hours within twice that of 10 years."""
    curve = JETS.curve()
    each = {}
    for years in (10, 100):
        usable = creek(years, "h") - 0.002
        usable = usable.clip(lower=0.0)
        spent, found = clock(lambda usable=usable: annual_energy(usable, curve), 3)
        each[years] = spent / len(usable)
        print(
            f"\n{years} years of hours: {1e3 * spent:.0f} ms, {1e9 * each[years]:.0f} ns a step; {found.annual_kwh:.0f} kWh"
        )
    assert each[100] < 2 * each[10]


def test_pieces():
    """No bar: what a curve, a year and its weights take."""
    record = creek(YEARS)
    usable = pd.Series(
        RIGHTS.usable_si(record.to_numpy(), np.asarray(record.index.month)), record.index
    )
    spent = {
        "curve": clock(JETS.curve, 5)[0],
        "weights": clock(lambda: weights(usable, JETS.curve().flow_m3s), 5)[0],
        "year": clock(lambda: annual_energy(usable, JETS.curves()), 5)[0],
    }
    print("\n" + ", ".join(f"{name} {1e3 * each:.1f} ms" for name, each in spent.items()))
