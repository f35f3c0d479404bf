"""Operating losses of draws and designs, against brute force: each plant walked day by day by itself."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from small_study import changed

from hydrokit.energy.habits import Habits
from hydrokit.energy.memory import remember
from hydrokit.energy.operating import Operating, kept_shares, lost_share
from hydrokit.energy.uncertain_inputs import Uncertainties
from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.stream.rights import fixed, licence, resolve_rights

DAYS = pd.date_range("2012-10-01", "2020-09-30")
JETS = Chain(Penstock(MeasuredLoss(2e4), 50.0), FixedJets((0.0125,) * 4, 0.95), Runner(steady(0.6)))
RIGHTS = resolve_rights([fixed("4 L/s")], "25 L/s")
HANDS = Habits(least_gain=0.08, visit_days=7)
FROSTY = replace(HANDS, freezes_below_degc=-3.0, thaws_above_degc=0.0, thaw_days=5)
UNKNOWN = Uncertainties(rating=0.12, head=0.015, loss=0.15, efficiency=0.04, jet_area=0.03)


@pytest.fixture(scope="module")
def creek():
    """A creek of storms and dry spells, and its cold winters, made without the package."""
    rng, level, made = np.random.default_rng(8), 0.01, []
    for day, rain in zip(DAYS, rng.gamma(0.3, 0.02, len(DAYS))):
        season = 1 + 0.5 * np.cos(2 * np.pi * (day.day_of_year - 30) / 365.25)
        level = 0.93 * level + 0.07 * (0.007 * season + rain * season)
        made.append(level)
    air = (
        6
        - 9 * np.cos(2 * np.pi * (DAYS.day_of_year - 20) / 365.25)
        + 3 * rng.standard_normal(len(DAYS))
    )
    return pd.Series(made, DAYS, name="flow_m3s"), pd.Series(air, DAYS)


@pytest.mark.slow
@pytest.mark.parametrize("habits", [HANDS, FROSTY])
def test_shares_read_between_the_nodes_against_each_draw_walked_by_itself(creek, habits):
    """independent of the reading: flow, head, loss, jets and efficiency drawn, every plant through its own rights and its own days; within 1e-3 of the annual energy as a rule, twice that at most."""
    flow, air = creek
    operating = Operating(habits, air, 1.5)
    demand = 1800.0 + 600 * np.cos(2 * np.pi * np.arange(12) / 12)
    kept = kept_shares(operating, flow, RIGHTS, JETS, 0.125, 0.055, demand_w=demand)
    rng, full, apart = np.random.default_rng(2), float(JETS.running().full_m3s[-1]), []
    for z in np.vstack([np.zeros(5), rng.standard_normal((11, 5))]):
        plant = JETS.factors(
            1 + 0.015 * z[0], np.exp(0.15 * z[1]), np.exp(0.04 * z[2]), np.exp(0.03 * z[3])
        )
        usable = RIGHTS.usable_series(flow * np.exp(0.12 * z[4]))
        alone = annual_energy(usable, plant.curves(), None, demand)
        walked = remember(usable, plant, habits, air, 1.5, draws=21, demand_w=demand)
        run = np.arange(kept.runs)
        where = np.full(
            kept.runs, kept.place(0.12 * z[4], np.log(float(plant.running().full_m3s[-1]) / full))
        )
        power = np.full(
            kept.runs, np.log(float(plant.at_si(1.0).power_w / JETS.at_si(1.0).power_w))
        )
        for share, table, change in (
            (kept.at(where, run), alone.kwh, walked.kept.kwh - walked.water.kwh),
            (
                kept.met_at(where, power, run),
                alone.useful_kwh,
                walked.kept.met_kwh - walked.water.met_kwh,
            ),
        ):
            read, true = (
                (table.to_numpy() * share.mean(axis=0)).sum(),
                (table.to_numpy() + change).sum(),
            )
            assert change.sum() < -0.004 * true, "something is lost"
            apart.append(read / true - 1)
    assert np.sqrt(np.mean(np.square(apart))) < 1e-3 and np.max(np.abs(apart)) < 2e-3


@pytest.mark.slow
def test_draws_are_net(creek):
    """The mean over the draws of a plant of little uncertainty is its own net energy; percentiles fall by what is lost."""
    flow, air = creek
    operating, stops = Operating(FROSTY, air, 1.5), Outages(unplanned=0.03)
    sure = Uncertainties(rating=0.001, head=0, loss=0, efficiency=0, jet_area=0, outage=0)
    found = energy_uncertainty(flow, RIGHTS, JETS, sure, 800, 1, stops, operating=operating)
    alone = annual_energy(RIGHTS.usable_series(flow), JETS.curves(), stops)
    walked = remember(RIGHTS.usable_series(flow), JETS, FROSTY, air, 1.5, stops, draws=21)
    net = (alone.kwh.to_numpy() + (walked.kept.kwh - walked.water.kwh) * stops.running).sum(axis=1)
    assert found.years_kwh.sum(axis=2).mean(axis=0) == pytest.approx(net, rel=2e-3)
    assert (
        found.base.yearly_kwh.to_numpy() == pytest.approx(net, rel=2e-3)
        and net.sum() < 0.98 * alone.annual_kwh * 8
    )
    free = energy_uncertainty(flow, RIGHTS, JETS, UNKNOWN, 800, 1, stops)
    lossy = energy_uncertainty(flow, RIGHTS, JETS, UNKNOWN, 800, 1, stops, operating=operating)
    for level in ("P50", "P75", "P90"):
        assert (
            0.6
            < lossy.percentiles().loc["annual", level] / free.percentiles().loc["annual", level]
            < 0.99
        )
    nothing = energy_uncertainty(flow, RIGHTS, JETS, UNKNOWN, 800, 1, stops, operating=Operating())
    assert nothing.percentiles().equals(free.percentiles())


def test_the_share_of_one_design(creek):
    flow, air = creek
    usable = RIGHTS.usable_series(flow)
    for plant in (JETS, JETS.replace(jets=FixedJets((0.0125,) * 2, 0.95))):
        walked = remember(usable, plant, HANDS)
        before, after = (each.kwh.sum(axis=0) for each in (walked.water, walked.kept))
        assert lost_share(Operating(HANDS), usable, plant) == pytest.approx(
            1 - after / before, abs=1e-4
        )
    assert (lost_share(Operating(), usable, JETS) == 0).all()
    assert (
        lost_share(Operating(FROSTY, air, 3.0), usable, JETS)[0]
        > lost_share(Operating(HANDS), usable, JETS)[0] + 0.01
    )


@pytest.mark.slow
def test_a_ramp_and_a_pond_in_the_draws(creek):
    flow, _ = creek
    rights = resolve_rights([fixed("4 L/s")], licence("25 L/s", ramp="1.5 L/s/d"), None)
    usable = replace(rights, ramp_m3s_per_day=np.inf).usable_series(flow)
    habits = Habits(ramp_m3s_per_day=1.5e-3 / 1, pond_m3=150.0, visit_days=3)
    kept = kept_shares(Operating(habits), flow, rights, JETS, 0.1, 0.05)
    walked = remember(usable, JETS, habits)
    ramped = annual_energy(rights.usable_series(flow), JETS.curves())
    middle = (ramped.kwh.to_numpy() * kept.share[len(kept.nodes) // 2].mean(axis=0)).sum()
    assert middle == pytest.approx(walked.kept.kwh.sum(), rel=5e-4)
    assert walked.water.kwh.sum() == pytest.approx(ramped.kwh.to_numpy().sum(), rel=2e-4)


def test_operating_losses_reach_headline_money_and_size(tmp_path):
    """Visits and frost lower the year, its percentiles, what the money counts and what the sizing promises; all by about the same share."""
    plain = changed(tmp_path / "plain")
    run = changed(
        tmp_path / "run",
        operation={
            "jet_dead_band": "10 %",
            "visit_days": 20,
            "stops_per_winter": 2,
            "freezes_below": "2 degC",
        },
    )
    before, after = (
        (study.year.annual_kwh, study.energy_uncertainty.annual_kwh(50), study.sizing.choice.kwh)
        for study in (plain, run)
    )
    shares = 1 - np.array(after) / np.array(before)
    assert run.year.lost_share.max() > 0.03 and plain.year.lost_share.max() == 0
    lost = 1 - run.year.annual_kwh / run.year.alone.annual_kwh
    assert (
        shares[0] == pytest.approx(lost, rel=1e-6)
        and shares[1] == pytest.approx(lost, rel=0.4)
        and shares[2] > 0.3 * lost
    )
    assert run.answer("energy.lost.frost").value > 0 and run.answer(
        "energy.net"
    ).value == pytest.approx(run.year.annual_kwh)
    assert (
        run.money.stands.npv_money < plain.money.stands.npv_money
        and run.year.useful_annual_kwh < plain.year.useful_annual_kwh
    )
    assert run.year.annual_kwh - plain.year.annual_kwh == pytest.approx(
        -sum(run.answer(f"energy.lost.{name}").value for name in ("jets", "frost")), rel=1e-6
    )


def test_one_valuation_of_a_stop(tmp_path):
    """What a stop until it thaws costs is the same on the page of energy and on the page of winter."""
    study = changed(tmp_path, operation={"freezes_below": "2 degC"})
    tried, told = study.day_by_day.stops, study.winter_outlook.stop
    np.testing.assert_array_equal(told.energy_j, tried.kwh * 3.6e6)
    assert told.worst_month == tried.worst_month and np.isfinite(tried.kwh).any()
