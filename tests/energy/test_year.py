"""A year of the plant: weights against plain loops, partial years, demand, and days that remember."""

import bisect
import csv
import datetime
import math
from collections import defaultdict
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq

from hydrokit.energy.days import simulate_days
from hydrokit.energy.habits import Habits
from hydrokit.energy.weights import weights
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.energy.year_power import duration_energy, power_series
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.turbine import PartLoad
from hydrokit.plant.wire import Wire
from hydrokit.stream.rights import fixed, resolve_rights
from hydrokit.units import Q_
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.state import State

DATA = Path(__file__).parents[1] / "data" / "black_earth_creek_usgs05406500.csv"
CFS = 0.3048**3
SHARE, KEEP, MOST = 0.012, 0.004, 0.020  # a small creek in the shape of a large one
G, RHO, NU = 9.80665, 999.7, 1.306e-6
TABLE = ((0.1, 0.55), (0.3, 0.72), (0.7, 0.8), (1.0, 0.78))
RATED = 0.0115


@pytest.fixture(scope="module")
def creek():
    frame = pd.read_csv(DATA, parse_dates=["date"], index_col="date")
    return (SHARE * CFS * frame["flow [cfs]"]).rename("flow_m3s")


@pytest.fixture(scope="module")
def usable(creek):
    return pd.Series(
        resolve_rights([fixed("4 L/s")], "20 L/s").usable_si(
            creek.to_numpy(), np.asarray(creek.index.month)
        ),
        creek.index,
    )


def plant(**changes):
    """Four jets of 12 mm, two pipes, a wire: the plant that the plain one below writes out again."""
    line = Line((Pipe(0.1, 350.0, 1e-5, fittings=1.5), Pipe(0.08, 50.0, 1e-5, fittings=0.5)))
    curve = PartLoad(
        "pelton",
        np.array([r for r, _ in TABLE]),
        np.array([e for _, e in TABLE]),
        minimum_ratio=0.1,
        source="test",
        mark="given",
    )
    parts = {
        "penstock": Penstock(line, 50.0, viscosity_m2s=NU),
        "jets": FixedJets((0.012,) * 4, 0.95),
        "runner": Runner(curve, design_flow_m3s=RATED),
        "electric": (Wire(0.5, 230.0),),
        "density_kgm3": RHO,
        "states": {1: State(air_m=6.0), 2: State(air_m=3.0)},
    }
    return Chain(**{**parts, **changes})


# --- a plain plant, day by day: nothing of hydrokit in it -----------------------------------


def read_plainly():
    with open(DATA, encoding="utf-8") as file:
        for row in csv.DictReader(file):
            year, month, day = map(int, row["date"].split("-"))
            yield datetime.date(year, month, day), SHARE * CFS * float(row["flow [cfs]"])


@cache
def friction(reynolds, relative):
    if reynolds < 2000:
        return 64 / reynolds
    x = 8.0
    for _ in range(40):
        x = -2 * math.log10(relative / 3.7 + 2.51 * x / reynolds)
    return 1 / x**2


def lost(q):
    total = 0.0
    for d, length, k in ((0.1, 350.0, 1.5), (0.08, 50.0, 0.5)):
        v = q / (math.pi / 4 * d * d)
        total += (friction(v * d / NU, 1e-5 / d) * length / d + k) * v * v / (2 * G)
    return total


@cache
def fed_flow(jets, head):
    area = jets * 0.95 * math.pi / 4 * 0.012**2
    return brentq(
        lambda q: head - lost(q) - (q / area) ** 2 / (2 * G),
        1e-7,
        area * math.sqrt(2 * G * head),
        xtol=1e-14,
    )


def efficiency(ratio):
    if ratio < TABLE[0][0]:
        return 0.0
    for (r0, e0), (r1, e1) in zip(TABLE, TABLE[1:]):
        if ratio <= r1:
            return e0 + (e1 - e0) * (ratio - r0) / (r1 - r0)
    return TABLE[-1][1]


@cache
def plain_power(q, air):
    best = 0.0
    for jets in (1, 2, 3, 4):
        area = jets * 0.95 * math.pi / 4 * 0.012**2
        flow = min(q, fed_flow(jets, 50.0 - air))
        head = (flow / area) ** 2 / (2 * G)
        best = max(best, RHO * G * flow * head * efficiency(flow / RATED))
    return best - best**2 * 0.5 / 230.0**2


def test_grid_model_agrees_with_a_plain_plant_solved_day_by_day(usable):
    """independent: scipy brentq on every day of 53 years; 0.05 % is the bar, and the nodes of the curve are to be far better."""
    plain = defaultdict(float)
    for date, flow in read_plainly():
        air = {1: 6.0, 2: 3.0}.get(date.month, 0.0)
        plain[date.year + (date.month >= 10), date.month] += (
            plain_power(min(max(flow - KEEP, 0.0), MOST), air) * 0.024
        )
    whole = range(1955, 2008)
    expected = sum(plain[year, month] for year in whole for month in range(1, 13)) / len(whole)
    year = annual_energy(usable, plant().curves())
    assert year.rows == tuple(whole)
    assert year.annual_kwh == pytest.approx(expected, rel=5e-4)
    assert year.annual_kwh == pytest.approx(expected, rel=2e-5), "what is in fact reached"
    for month in (1, 6):
        mean = sum(plain[year, month] for year in whole) / len(whole)
        assert year.monthly_kwh[month] == pytest.approx(mean, rel=2e-4)


def test_base_case_is_a_plain_loop_over_the_same_curve(usable):
    """independent: a loop with the standard library's bisect; exact arithmetic, so 1e-9."""
    curves = plant().curves()
    sums = defaultdict(float)
    lists = {id(curve): (curve.flow_m3s.tolist(), curve.power_w.tolist()) for curve in curves}
    for date, flow in usable.items():
        flows, powers = lists[id(curves[date.month - 1])]
        i = bisect.bisect_right(flows, flow) - 1
        if i == len(flows) - 1:
            power = powers[-1]
        else:
            power = powers[i] + (powers[i + 1] - powers[i]) * (flow - flows[i]) / (
                flows[i + 1] - flows[i]
            )
        sums[date.year + (date.month >= 10), date.month] += power * 24 / 1000
    year = annual_energy(usable, curves)
    found = {
        (label, month): kwh
        for label, row in year.kwh.iterrows()
        for month, kwh in row.items()
        if not np.isnan(kwh)
    }
    assert found.keys() == sums.keys()
    for key, kwh in sums.items():
        assert found[key] == pytest.approx(kwh, rel=1e-9)
    np.testing.assert_allclose(
        power_series(usable, curves).sum() * 0.024, sum(sums.values()), rtol=1e-12
    )


def test_every_day_is_in_one_state(usable):
    year = annual_energy(usable, plant().curves())
    together = year.days_full + year.days_part + year.days_under_fed + year.days_stopped
    np.testing.assert_allclose(together, year.hours / 24)
    assert year.hours.sum() == pytest.approx(24 * 365.25, abs=24)
    # held at four jets the plant starves more and gives less: the free kilowatt
    four = annual_energy(usable, plant().curve(jets=4))
    assert four.days_under_fed.sum() > year.days_under_fed.sum()
    assert four.annual_kwh < annual_energy(usable, plant(states=()).curves()).annual_kwh


def test_weights_hold_every_hour(usable):
    curve = plant().curve()
    seen = weights(usable, curve.flow_m3s)
    assert seen.hours.sum() == pytest.approx(24 * len(usable))
    assert seen.nodes_h.sum() == pytest.approx(24 * len(usable))
    # energy of a "power" that is the flow itself gives the water back
    below = usable.clip(upper=curve.flow_m3s[-1])
    assert seen.energy_kwh(curve.flow_m3s).sum() * 1000 / 24 == pytest.approx(
        below.sum(), rel=1e-12
    )


# --- partial years, gaps, finer steps -------------------------------------------------------


def steady_curve():
    """1 kW for each 2 L/s, up to 5 kW."""
    chain = Chain(
        Penstock(MeasuredLoss(0.0), 50.0),
        Adjustable(0.010),
        Runner(steady(0.5)),
        density_kgm3=500e3 / (0.5 * G * 50),
    )
    curve = chain.curve()
    assert curve.power_si(0.004) == pytest.approx(2000.0)
    return curve


def days(start, end, flow=0.004):
    return pd.Series(flow, pd.date_range(start, end), name="flow_m3s")


def test_only_whole_years_enter_the_means():
    series = pd.concat([days("2018-05-01", "2018-09-30", 0.010), days("2018-10-01", "2020-09-30")])
    year = annual_energy(series, steady_curve())
    assert year.rows == (2019, 2020)
    assert year.annual_kwh == pytest.approx(48 * 365.5)
    assert year.kwh.loc[2018, 6] == pytest.approx(30 * 120)
    assert np.isnan(year.kwh.loc[2018, 1])
    assert "means over 2 whole years, 2019 to 2020; 1 more are not whole" in year.basis
    assert any("only 2 whole" in str(each) for each in year.findings)
    assert year.yearly_kwh.tolist() == pytest.approx([48 * 365, 48 * 366])
    assert year.winter_kwh == pytest.approx(48 * 90.5)


def test_months_are_joined_where_no_year_is_whole_and_it_is_said():
    gap = days("2018-04-01", "2019-08-31").drop(pd.Timestamp("2019-02-10"))
    year = annual_energy(gap, steady_curve())
    assert year.rows == () and np.isnan(year.annual_kwh)
    assert any(each.level == "problem" and "month 2" in each.message for each in year.findings)
    year = annual_energy(days("2018-04-01", "2019-08-31"), steady_curve())
    assert year.annual_kwh == pytest.approx(48 * 365)
    assert "1 to 2 complete months" in year.basis


def test_a_missing_value_leaves_its_month_out():
    series = days("2018-10-01", "2019-09-30")
    series.iloc[40] = np.nan
    year = annual_energy(series, steady_curve())
    assert not year.complete.loc[2019, 11] and year.complete.loc[2019, 12]
    assert year.rows == ()
    assert year.kwh.loc[2019, 11] == pytest.approx(48 * 29), (
        "a month with gaps holds what its days gave"
    )


def test_hours_count_as_hours():
    hours = pd.Series(
        0.004, pd.date_range("2018-10-01", "2019-09-30 23:00", freq="h"), name="flow_m3s"
    )
    daily = annual_energy(days("2018-10-01", "2019-09-30"), steady_curve())
    assert annual_energy(hours, steady_curve()).annual_kwh == pytest.approx(
        daily.annual_kwh, rel=1e-12
    )


def test_calendar_years_if_wished():
    year = annual_energy(days("2019-01-01", "2020-12-31"), steady_curve(), start_month=1)
    assert year.rows == (2019, 2020)


# --- demand, outages, capacity --------------------------------------------------------------


def test_useful_energy_is_joint_and_never_of_means():
    """analytic: power 1 and 5 kW on alternate days, demand the other way round."""
    series = days("2018-10-01", "2019-09-30")
    flow = np.where(np.arange(365) % 2 == 0, 0.002, 0.010)
    series = pd.Series(flow, series.index, name="flow_m3s")
    demand = pd.Series(np.where(np.arange(365) % 2 == 0, 5000.0, 1000.0), series.index)
    year = annual_energy(series, steady_curve(), demand_w=demand)
    assert year.useful_annual_kwh == pytest.approx(24 * 365)
    assert annual_energy(
        series, steady_curve(), demand_w=3000.0
    ).useful_annual_kwh == pytest.approx(24 * 183 + 72 * 182)
    with pytest.raises(HydrokitError, match="demand has no value on 1 of"):
        annual_energy(series, steady_curve(), demand_w=demand.iloc[1:])
    assert annual_energy(series, steady_curve()).useful_annual_kwh is None


def test_outages_take_their_share():
    planned = np.zeros(12)
    planned[7] = 0.5
    series = days("2018-10-01", "2019-09-30")
    year = annual_energy(series, steady_curve(), Outages(planned, 0.1), demand_w=1e9)
    assert year.monthly_kwh[8] == pytest.approx(48 * 31 * 0.45)
    assert year.monthly_kwh[9] == pytest.approx(48 * 30 * 0.9)
    assert year.useful_annual_kwh == pytest.approx(year.annual_kwh)
    with pytest.raises(HydrokitError, match="Outages: unplanned is a share"):
        Outages(unplanned=2.0)
    with pytest.raises(HydrokitError, match="Outages: planned"):
        Outages(planned=(0.1, 0.2))


def test_capacity_factor_and_its_limit():
    series = days("2018-10-01", "2019-09-30")
    assert annual_energy(series, steady_curve()).capacity_factor == pytest.approx(0.4)
    assert annual_energy(series, steady_curve(), rated_w=4000.0).capacity_factor == pytest.approx(
        0.5
    )
    with pytest.raises(
        HydrokitError, match="capacity factor 2.00 is above 1: the rated power of 1000 W"
    ):
        annual_energy(series, steady_curve(), rated_w=1000.0)


@pytest.mark.parametrize(
    "series, message",
    [
        (pd.Series([0.1, 0.2], name="flow_m3s"), "index of dates"),
        (
            pd.Series([0.1, -0.2], pd.date_range("2020-01-01", periods=2)),
            "must not be negative, got -0.200 m³/s on 2020-01-02",
        ),
        (pd.Series([], pd.DatetimeIndex([]), dtype=float), "empty"),
        (
            pd.Series([0.1] * 3, pd.to_datetime(["2020-01-01", "2020-02-01", "2020-03-01"])),
            "daily or finer",
        ),
    ],
)
def test_what_is_no_record_is_refused(series, message):
    with pytest.raises(HydrokitError, match=message):
        annual_energy(series, steady_curve())


def test_curves_are_one_or_twelve():
    with pytest.raises(HydrokitError, match="12 with January first; got 3"):
        annual_energy(days("2018-10-01", "2019-09-30"), [steady_curve()] * 3)


def test_duration_curve_of_a_record_gives_its_energy(usable):
    """independent: numpy's sorted flows; a fine duration curve must give the record's own energy."""
    curve = plant().curve()
    flows = np.sort(usable.to_numpy())[::-1]
    share = (np.arange(len(flows)) + 0.5) / len(flows)
    found = duration_energy(share, Q_(flows, "m^3/s"), curve).m_as("kWh")
    assert found == pytest.approx(
        float(np.mean(curve.power_si(usable.to_numpy()))) * 8.76, rel=1e-4
    )
    with pytest.raises(HydrokitError, match="must rise"):
        duration_energy([0.5, 0.5], Q_([1.0, 2.0], "L/s"), curve)


# --- days that remember ---------------------------------------------------------------------


def test_days_that_remember_nothing_are_the_weights(usable):
    """The steps from jet to jet are seen by the curve and by the walk alike: 1e-6 is the curves' own nodes."""
    part = usable["1990-10-01":"1993-09-30"]
    walked = simulate_days(part, plant())
    year = annual_energy(part, plant().curves())
    np.testing.assert_allclose(walked.kwh, year.kwh.to_numpy(), rtol=2e-5, atol=1e-6)
    assert walked.series().sum() * 0.024 == pytest.approx(walked.kwh.sum())


def test_habits_change_jets_less_and_cost_energy(usable):
    part = usable["1990-10-01":"1993-09-30"]
    free = simulate_days(part, plant())
    lazy, weekly = (
        simulate_days(part, plant(), Habits(least_gain=0.15)),
        simulate_days(part, plant(), Habits(visit_days=7)),
    )
    for one in (lazy, weekly):
        assert one.changes < free.changes
        assert one.kwh.sum() < free.kwh.sum()
    spacing = np.diff(np.flatnonzero(np.diff(weekly.jets_open) != 0))
    running = np.all(weekly.jets_open > 0)
    assert not running or spacing.min() >= 7


def test_jets_by_hand():
    """analytic: two jets without pipe loss; a second jet is worth opening from the cube root of 4 times one jet's flow."""
    chain = Chain(
        Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,) * 2, 0.95), Runner(steady(0.6))
    )
    one = float(chain.at_si(np.inf, jets=1).used_m3s)
    flow = (
        np.array([0.9, 1.5, 1.65, 1.8, 1.55, 1.5]) * one
    )  # two jets give x³/4 of one: more from 1.587 on
    series = pd.Series(flow, pd.date_range("2020-01-01", periods=6))
    assert simulate_days(series, chain).jets_open.tolist() == [1, 1, 2, 2, 1, 1]
    # more by (1.65³/4 − 1) = 12 % only: with a tenth asked it is changed, with a fifth not before 1.8 (46 %)
    assert simulate_days(series, chain, Habits(0.1)).jets_open.tolist() == [1, 1, 2, 2, 2, 1]
    assert simulate_days(series, chain, Habits(0.2)).jets_open.tolist() == [1, 1, 1, 2, 2, 2]


def test_one_stop_in_frost_lasts_until_it_thaws():
    chain = Chain(Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,), 0.95), Runner(steady(0.6)))
    series = days("2020-01-01", "2020-01-31", 0.010)
    cold = pd.Series(-8.0, series.index)
    cold.iloc[20] = 3.0
    stops = np.zeros((2, 31), dtype=bool)
    stops[1, 5] = True
    habits = Habits(freezes_below_degc=-5.0, thaws_above_degc=2.0)
    found = simulate_days(
        np.tile(series.to_numpy(), (2, 1)), chain, habits, cold, stops, index=series.index
    )
    assert found.frozen[0].sum() == 0
    assert np.flatnonzero(found.frozen[1]).tolist() == list(range(5, 20)), (
        "one stop costs fifteen days"
    )
    assert found.kwh[1].sum() == pytest.approx(found.kwh[0].sum() * 16 / 31)
    mild = simulate_days(series, chain, habits, cold + 20, stops[1])
    assert (mild.power_w == 0).sum() == 1
    with pytest.raises(HydrokitError, match="needs the daily air temperature"):
        simulate_days(series, chain, habits)


def test_under_fed_jets_may_freeze_too():
    chain = Chain(Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,), 0.95), Runner(steady(0.6)))
    full = float(chain.at_si(np.inf).used_m3s)
    series = pd.Series(
        np.array([1.2, 0.8, 1.2, 1.2]) * full, pd.date_range("2020-01-01", periods=4)
    )
    cold = np.array([-9.0, -9.0, -9.0, 5.0])
    assert simulate_days(series, chain, Habits(freezes_below_degc=-5.0), cold).frozen.sum() == 0
    found = simulate_days(
        series, chain, Habits(freezes_below_degc=-5.0, under_fed_freezes=True), cold
    )
    assert found.frozen.tolist() == [False, True, True, False]


def test_the_take_rises_no_faster_than_its_ramp():
    chain = Chain(
        Penstock(MeasuredLoss(0.0), 50.0),
        Adjustable(0.01),
        Runner(steady(0.6), minimum_flow_m3s=0.002),
    )
    series = pd.Series(
        [0.001, 0.01, 0.01, 0.01, 0.01, 0.003], pd.date_range("2020-01-01", periods=6)
    )
    found = simulate_days(series, chain, Habits(ramp_m3s_per_day=0.0015), stops=np.arange(6) == 3)
    np.testing.assert_allclose(found.used_m3s, [0, 0.0025, 0.004, 0, 0, 0.003])


def test_habits_that_make_no_sense():
    with pytest.raises(HydrokitError, match="visit_days 1 or more"):
        Habits(visit_days=0)
    with pytest.raises(HydrokitError, match="thaw"):
        Habits(freezes_below_degc=3.0, thaws_above_degc=0.0)
    with pytest.raises(HydrokitError, match="needs `index`"):
        simulate_days(np.zeros((2, 5)), plant())
