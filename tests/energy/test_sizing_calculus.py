"""Sizing against calculus: the economic bore and the best design flow, where they can be written down."""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq, minimize_scalar

from hydrokit.energy.economic_diameter import economic_diameter
from hydrokit.energy.money import Costs
from hydrokit.energy.sizing import Layout, sweep
from hydrokit.plant.parts import MeasuredLoss, Penstock, steady
from hydrokit.works.pipe import Pipe


def test_economic_diameter_against_a_numerical_optimum():
    """Oracle: the yearly cost of a metre written out and minimised."""
    annuity = 0.04 / (1 - 1.04**-25)

    def yearly(bore):
        friction = (
            0.018 / bore * (0.015 / (np.pi / 4 * bore**2)) ** 2 / (2 * 9.80665)
        )  # m of head in a metre of pipe
        return (
            14.4 * (bore / 0.1476) ** 1.9 * annuity
            + 0.21 * 0.6 * 999.70 * 9.80665 * 0.015 * friction * 5000 / 1000
        )

    best = minimize_scalar(yearly, bounds=(0.05, 0.5), method="bounded", options={"xatol": 1e-10}).x
    found = economic_diameter(
        "15 L/s",
        "5000 h",
        0.018,
        "60 %",
        "0.21 money/kWh",
        "14.4 money/m",
        "147.6 mm",
        1.9,
        25,
        "4 %",
    )
    assert found.m_as("m") == pytest.approx(best, rel=1e-5)


def test_the_sweep_finds_the_bore_that_calculus_finds():
    """A steady creek, a lossless machine, pipe as the only cost: the best of 120 bores is the economic one."""
    bores = np.linspace(0.10, 0.25, 120)
    price = 14.4 * (bores / 0.1476) ** 1.9
    creek_at_15 = pd.Series(0.015, pd.date_range("2019-10-01", "2021-09-30"), name="flow_m3s")
    costs = Costs(
        laying_money_per_m=10, life_years=25, discount_rate=0.04, value_money_per_kwh=0.21
    )
    layout = Layout(
        Penstock(MeasuredLoss(0.0), 46.0, viscosity_m2s=1.3063e-6), steady(0.6), adjustable=True
    )
    found = sweep(
        creek_at_15, layout, [0.015], [Pipe(bore, 380, 3e-5) for bore in bores], (1,), costs, price
    )
    annuity = 0.04 / (1 - 1.04**-25)

    def yearly(bore):
        reynolds = 0.015 / (np.pi / 4 * bore) / 1.3063e-6
        root = brentq(lambda x: x + 2 * np.log10(3e-5 / bore / 3.7 + 2.51 * x / reynolds), 1, 30)
        loss = 380 / bore / root**2 * (0.015 / (np.pi / 4 * bore**2)) ** 2 / (2 * 9.80665)
        return (
            380 * 14.4 * (bore / 0.1476) ** 1.9 * annuity
            + 0.21 * 0.6 * 999.70 * 9.80665 * 0.015 * loss * 8766 / 1000
        )

    best = minimize_scalar(yearly, bounds=(0.05, 0.5), method="bounded", options={"xatol": 1e-9}).x
    assert abs(found.best.pipe.diameter_m - best) <= bores[1] - bores[0]


def test_the_sweep_finds_the_flow_that_calculus_finds():
    """Flow uniform between 0 and 30 L/s, no loss, cost by the watt c: the best flow is exceeded r·c/(v·T) of the time."""
    days = pd.date_range("2019-10-01", "2021-09-30")
    uniform = pd.Series(
        np.random.default_rng(3).permutation((np.arange(len(days)) + 0.5) / len(days) * 0.030),
        days,
        name="flow_m3s",
    )
    costs = Costs(
        fixed_money=100,
        per_power_money_per_w=20.0,
        life_years=20,
        discount_rate=0.0,
        value_money_per_kwh=0.25,
    )
    layout = Layout(Penstock(MeasuredLoss(0.0), 46.0), steady(0.6), adjustable=True)
    flows = np.linspace(0.010, 0.030, 201)
    found = sweep(uniform, layout, flows, [Pipe(5.0, 1.0, 0.0)], (1,), costs, [0.0])
    # a watt more costs 1 a year and brings 0.25 · 8.772 kWh · the share of time its water is there
    share = 1.0 / (0.25 * 8.772)
    assert found.best.flow_m3s == pytest.approx(
        0.030 * (1 - share), abs=1.01 * (flows[1] - flows[0])
    )
