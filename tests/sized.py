"""A plant and a creek that tests and benchmarks of sizing share."""

import itertools
from functools import cache

import numpy as np
import pandas as pd

from hydrokit.energy.money import Costs
from hydrokit.energy.sizing import Layout, sweep
from hydrokit.energy.year import Outages
from hydrokit.plant.generator import generator
from hydrokit.plant.parts import MeasuredLoss, Penstock
from hydrokit.plant.turbine import part_load
from hydrokit.plant.wire import Wire
from hydrokit.works.pipe_sizes import pipe_size

FLOWS = np.linspace(0.004, 0.030, 14)
BORES_MM = (90, 110, 140, 160, 200)
PIPES = [pipe_size(f"PVC-U PN 10 {each} mm").pipe(380, 3e-5, 2.8) for each in BORES_MM]
PRICES = [5.2, 7.1, 11.2, 14.4, 22.5]
COSTS = Costs(
    11_000,
    1.3,
    350,
    laying_money_per_m=14,
    cable_money_per_m=9,
    yearly_share=0.02,
    life_years=25,
    discount_rate=0.04,
    value_money_per_kwh=0.21,
    uncertainty=0.15,
)
PELTON = part_load.si("pelton", 0.78)
GENERATOR = generator.si("synchronous", 6000, 0.88)
LAYOUT = Layout(
    Penstock(MeasuredLoss(0.0), 46.0),
    PELTON,
    generator=GENERATOR,
    after=(Wire(0.2, 400.0),),
)


def creek(years=3, seed=7, start="2018-10-01"):
    """Days of a wet-winter creek with storms and recessions, in m³/s."""
    days = pd.date_range(start, periods=round(365.25 * years))
    rng = np.random.default_rng(seed)
    flow = np.empty(len(days))
    storage = 0.010
    for day, month in enumerate(days.month):
        rain = rng.exponential(0.012 + 0.010 * np.cos(2 * np.pi * (month - 1) / 12)) * (
            rng.random() < 0.3
        )
        storage = 0.96 * storage + 0.25 * rain
        flow[day] = storage + 0.3 * rain
    return pd.Series(flow, days, name="flow_m3s")


CREEK = creek()


@cache
def swept_sizes():
    return sweep(
        CREEK,
        LAYOUT,
        FLOWS,
        PIPES,
        (1, 2, 4),
        COSTS,
        PRICES,
        140.0,
        Outages(unplanned=0.03),
        energy_sd=0.05,
    )


def places(sizing):
    return itertools.product(*(range(size) for size in sizing.kwh.shape))


def lean_sheet():
    """Two years of a creek with little water in summer, as a sheet of daily flows."""
    days = pd.date_range("2021-10-01", "2023-10-01", name="date")
    flow = 9 + 5.5 * np.cos(2 * np.pi * (np.arange(len(days)) - 60) / 365)
    return pd.Series(flow.round(2), days, name="flow [L/s]").to_csv()
