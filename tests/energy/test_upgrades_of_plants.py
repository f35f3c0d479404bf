"""Changes of real plants: what they are worth, with their ranges."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from hydrokit.energy.cases import (
    Case,
    Upgrade,
    add_water,
    close_jets,
    draw_worlds,
    watts,
    year_kwh,
)
from hydrokit.energy.money import Costs
from hydrokit.energy.uncertain_inputs import Uncertainties
from hydrokit.energy.upgrades import staircase
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.turbine import part_load
from hydrokit.stream.rights import fixed, resolve_rights
from hydrokit.works.state import State

# --- real plants ----------------------------------------------------------------------------


class Screen:
    """A screen above the pond."""

    def __init__(self, capacity_m3s):
        self.name, self.capacity_m3s = "screen", capacity_m3s

    def capacity_si(self, state):
        return self.capacity_m3s * state.open


BORE = 0.0135
PLANT = Chain(
    Penstock(MeasuredLoss(20e3), 50.0),
    FixedJets((BORE,) * 2, 0.95),
    Runner(part_load.si("pelton", 0.75)),
    supply=(Screen(0.0085),),
    states={12: State(clogged=0.3), 1: State(clogged=0.4, air_m=3.0)},
)
SCREEN = Upgrade(
    "screen",
    lambda case: replace(case, chain=case.chain.replace(supply=(Screen(0.030),))),
    900.0,
    life_years=12,
)
JETS = Upgrade(
    "jets",
    lambda case: replace(case, chain=case.chain.replace(jets=FixedJets((BORE,) * 4, 0.95))),
    400.0,
)
PIPE = Upgrade(
    "pipe",
    lambda case: replace(
        case, chain=case.chain.replace(penstock=Penstock(MeasuredLoss(5e3), 50.0))
    ),
    5000.0,
    life_years=40,
)
VISITS = Upgrade("visits", lambda case: replace(case, outages=Outages(unplanned=0.02)))
DAYS = pd.date_range("2019-10-01", "2021-11-15")
USABLE = pd.Series(
    0.014 + 0.010 * np.cos(2 * np.pi * (np.arange(len(DAYS)) + 40) / 365.25), DAYS, name="flow_m3s"
)


def test_year_by_days_is_the_year_by_weights():
    demand = np.linspace(500, 3000, 12)
    outages = Outages(planned=0.01, unplanned=0.05)
    for plant in (PLANT, PLANT.replace(schedule={2: 1}), PLANT.replace(jets=Adjustable(0.015))):
        gapped = USABLE.copy()
        gapped.iloc[-20:-10] = np.nan
        year = annual_energy(gapped, plant.curves(), outages, demand, winter=(11, 12, 1))
        found = year_kwh(demand, winter=(11, 12, 1))(Case(plant, gapped, outages))
        assert found["kwh"] == pytest.approx(year.annual_kwh, rel=2e-5)
        assert found["winter_kwh"] == pytest.approx(year.winter_kwh, rel=2e-5)
        assert found["useful_kwh"] == pytest.approx(year.useful_annual_kwh, rel=2e-5)
    assert "useful_kwh" not in year_kwh()(Case(PLANT, USABLE))


def test_screen_and_jets_of_a_real_plant_bind_alike():
    base = Case(PLANT, USABLE, Outages(unplanned=0.08))
    evaluate = year_kwh()
    kwh = {
        names: evaluate(case)["kwh"]
        for names, case in {
            "": base,
            "screen": SCREEN.apply(base),
            "jets": JETS.apply(base),
            "both": SCREEN.apply(JETS.apply(base)),
        }.items()
    }
    both = kwh["both"] - kwh[""]
    assert both > 0.5 * kwh[""] and max(kwh["screen"], kwh["jets"]) - kwh[""] < 0.15 * both
    found = staircase(
        base,
        [PIPE, SCREEN, VISITS, JETS],
        evaluate,
        costs=Costs(life_years=25, value_money_per_kwh=0.3),
    )
    assert [step.names for step in found.steps][:2] == [("visits",), ("screen", "jets")]
    assert found.steps[0].gain["kwh"] == pytest.approx(kwh[""] * (0.98 / 0.92 - 1), rel=1e-9)
    assert found.steps[1].gain["kwh"] == pytest.approx(both * 0.98 / 0.92, rel=1e-9)


def test_ranges_of_a_real_plant_hold_the_middle():
    base = Case(PLANT, USABLE)
    worlds = draw_worlds(
        Uncertainties(rating=0.1),
        25,
        seed=4,
        natural=USABLE + 0.004,
        rights=resolve_rights([fixed("4 L/s")]),
    )
    found = staircase(base, [SCREEN, JETS], year_kwh(), worlds=worlds)
    step = found.steps[0]
    assert found.base_low["kwh"] < found.base["kwh"] < found.base_high["kwh"]
    assert step.gain_low["kwh"] < step.gain["kwh"] < step.gain_high["kwh"]
    # by hand, one world: the water first, then the changes, then what is not known of the plant
    world = worlds[3]
    made = JETS.apply(SCREEN.apply(replace(base, usable=world.usable)))
    expected = year_kwh()(replace(made, chain=made.chain.factors(**world.factors)))["kwh"]
    all_worlds = [
        year_kwh()(replace(m, chain=m.chain.factors(**w.factors)))["kwh"]
        for w in worlds
        for m in [JETS.apply(SCREEN.apply(replace(base, usable=w.usable)))]
    ]
    assert expected in all_worlds
    assert step.numbers_low["kwh"] == pytest.approx(np.quantile(all_worlds, 0.1), rel=1e-12)


def test_more_head_never_gives_less():
    evaluate = year_kwh()
    for names in ([], [SCREEN], [JETS], [SCREEN, JETS]):
        low, high = Case(PLANT, USABLE), Case(PLANT.factors(head=1.05), USABLE)
        for each in names:
            low, high = each.apply(low), each.apply(high)
        assert evaluate(high)["kwh"] >= evaluate(low)["kwh"]


def test_drawn_worlds():
    unknown = Uncertainties(head=0.01, loss=0.15, efficiency=0.05, jet_area=0.03, rating=0.2)
    worlds = draw_worlds(
        unknown, 4000, natural={1: 0.010, 2: 0.0}, rights=resolve_rights([fixed("2 L/s")])
    )
    for name, sd in (("head", 0.01), ("loss", 0.15), ("efficiency", 0.05), ("jet_area", 0.03)):
        spread = np.std([np.log(each.factors[name]) for each in worlds])
        assert spread == pytest.approx(sd, rel=0.05), (
            name
        )  # standard error of a standard deviation: 1.1 %
    flows = np.array([each.usable[1] for each in worlds])
    assert np.std(np.log(flows + 0.002)) == pytest.approx(0.2, rel=0.05) and all(
        each.usable[2] == 0 for each in worlds
    )
    again = draw_worlds(
        unknown, 4000, natural={1: 0.010, 2: 0.0}, rights=resolve_rights([fixed("2 L/s")])
    )
    assert again[7].factors == worlds[7].factors and draw_worlds(unknown, 3)[0].usable is None


def test_thin_data_watts_and_closing_an_under_fed_jet():
    """9 L/s through four jets made for 14: shutting one is free and brings more than a third."""
    plant = Chain(
        Penstock(MeasuredLoss(60e3), 50.0),
        FixedJets((0.012,) * 4, 0.95),
        Runner(steady(0.6)),
        schedule=(4,) * 12,
    )
    today = Case(plant, {2: 0.009, 6: 0.030}, Outages(unplanned=0.1))
    shut = Upgrade(
        "shut one",
        lambda case: replace(case, chain=close_jets(case.chain, 1, [12, 1, 2])),
        months=(12, 1, 2),
        handling=True,
    )
    fifth = Upgrade(
        "fifth jet",
        lambda case: replace(
            case, chain=case.chain.replace(jets=FixedJets((0.012,) * 5, 0.95), schedule=(5,) * 12)
        ),
        220.0,
    )
    found = staircase(today, [fifth, shut], watts(), "mean_w", value_money=8.766 * 0.3)
    assert (
        found.steps[0].names == ("shut one",)
        and found.steps[0].gain["w_2"] > found.base["w_2"] / 3
        and found.steps[0].gain["w_6"] == 0
    )
    assert (
        found.base["w_2"] == pytest.approx(0.9 * plant.at_si(0.009, 2).power_w)
        and found.base["winter_w"] == found.base["w_2"]
    )
    assert (
        found.base["mean_w"] == pytest.approx((found.base["w_2"] + found.base["w_6"]) / 2)
        and found.base["lowest_w"] == found.base["w_2"]
    )
    # with the fifth jet it shuts one of five
    both = shut.apply(fifth.apply(today)).chain
    assert both.schedule[1] == 4 and both.schedule[5] == 5
    with pytest.raises(HydrokitError, match="4 of 4 cannot be shut"):
        close_jets(plant, 4, [1])


def test_water_from_elsewhere():
    more = add_water(USABLE, 0.003, [1, 2])
    assert (more - USABLE)[USABLE.index.month == 1].round(9).unique().tolist() == [0.003] and (
        more - USABLE
    )[USABLE.index.month == 5].abs().max() == 0
    assert add_water({1: 0.01, 7: 0.02}, 0.003, [1]) == {1: pytest.approx(0.013), 7: 0.02}
    assert (
        np.isnan(add_water(USABLE.where(USABLE.index.month != 1), 0.003)).sum()
        == (USABLE.index.month == 1).sum()
    )
    gain = (
        year_kwh()(Case(PLANT, add_water(USABLE, 0.003)))["kwh"]
        - year_kwh()(Case(PLANT, USABLE))["kwh"]
    )
    assert gain > 0
