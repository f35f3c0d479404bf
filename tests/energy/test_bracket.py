"""Energy from thin data: a bracket, and what narrows it."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from test_uncertainty import JETS, RIGHTS, SPEAR, SURE, five_years

from hydrokit.energy.bracket import bracket
from hydrokit.energy.uncertain_inputs import Uncertainties
from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.year import annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.stream.rights import resolve_rights


@pytest.fixture(scope="module")
def creek():
    return five_years()


# --- thin data ------------------------------------------------------------------------------


def test_one_bucket_gives_a_bracket_and_no_percentile():
    found = bracket(JETS, [0.009], [8], snow=True)
    assert 0 < found.low_kwh < found.high_kwh
    for end in (found.low_kwh, found.high_kwh):
        assert float(f"{end:.1e}") == end, "two digits"
    assert found.high_kwh / found.low_kwh > 5
    assert len(found.next_measurements) == 3
    assert any("February" in str(text) for text in found.next_measurements)
    assert any("what must stay" in str(text) for text in found.next_measurements)
    assert any("what must stay in the creek is not given" in str(text) for text in found.reasons)
    assert any("factor of three" in str(text) for text in found.reasons)
    assert not hasattr(found, "p50")


@pytest.mark.slow
def test_every_reading_narrows_it_and_the_truth_lies_inside(creek):
    """The true mean energy of the creek must lie in the bracket from its own monthly readings, whichever day they fall on."""
    truth = annual_energy(
        pd.Series(RIGHTS.usable_si(creek.to_numpy(), np.asarray(creek.index.month)), creek.index),
        JETS.curves(),
    ).annual_kwh
    rng = np.random.default_rng(3)
    inside, widths = 0, {2: [], 6: []}
    for _ in range(5):
        for count in (2, 6):
            day = creek.iloc[rng.choice(len(creek), count, replace=False)]
            found = bracket(JETS, day.to_numpy(), np.asarray(day.index.month), rights=RIGHTS)
            inside += found.low_kwh <= truth <= found.high_kwh
            widths[count].append(found.high_kwh - found.low_kwh)
    assert inside >= 9, f"{inside} of 10"
    assert np.mean(widths[6]) < np.mean(widths[2])


def test_bracket_with_a_borrowed_shape():
    shape = np.array([0.5, 0.4, 0.6, 1.6, 2.4, 1.8, 1.0, 0.7, 0.6, 0.8, 0.9, 0.7])
    found = bracket(JETS, [0.014], [7], rights=RIGHTS, shape=shape)
    assert found.monthly.loc[5, "flow_m3s"] == pytest.approx(0.014 * 2.4)
    assert any("borrowed shape" in text and "factor of two" in str(text) for text in found.reasons)
    assert np.all(found.monthly["low_kwh"] <= found.monthly["high_kwh"])


@pytest.mark.parametrize(
    "flows, months", [([], []), ([0.01], [13]), ([0.01, 0.02], [3]), ([-0.01], [3])]
)
def test_bracket_refuses(flows, months):
    with pytest.raises(HydrokitError, match="at least one flow above zero"):
        bracket(JETS, flows, months)


def test_watts_that_were_read_bound_the_bracket_from_above():
    """Without pipe loss power goes with jet area times efficiency: where only that product is known, all year at full power is the most."""
    plant = Chain(
        Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(steady(0.5))
    )
    most = float(plant.at_si(np.inf, jets=4).power_w) * 8.766

    def high(efficiency, *ties):
        uncertainty = Uncertainties(
            head=0, loss=0, jet_area=0.05, efficiency=efficiency, correlated=ties
        )
        return bracket(
            plant, [0.05] * 12, range(1, 13), 0.05, RIGHTS, uncertainties=uncertainty
        ).high_kwh

    tied = high(0.05 / 1.05, ("jet_area", "efficiency", -1.0))
    assert most <= tied <= 1.05 * most
    assert high(0.05 / 1.05) > 1.08 * most


def test_a_short_record_widens_one_year_and_the_mean(creek):
    """Three years of the five: the mean of endless years is less sure than with five; nothing else is uncertain."""
    short, longer = (
        energy_uncertainty(creek[:end], RIGHTS, SPEAR, Uncertainties(**SURE), draws=2000)
        for end in ("1993-09-30", "1995-09-30")
    )

    def width(found, of):
        low, high = found.annual_kwh(95, of), found.annual_kwh(5, of)
        return (high - low) / found.base.yearly_kwh.std()

    # two years more tell little where wet and dry spells last
    assert width(short, "mean") > 1.1 * width(longer, "mean") > 0.5
    # and either leaves one year to come less sure than a normal law of known spread
    assert min(width(short, "single"), width(longer, "single")) > 2 * 1.645
    # mean of five: t · s √(f/5e) to either side, were it not cut where the plant can give no more
    uncut = replace(longer.outlook, most=np.full_like(longer.outlook.most, np.inf))
    low, high = np.quantile(uncut.mean_kwh.sum(axis=1), [0.05, 0.95])
    spells = longer.outlook.spells
    half = stats.t.ppf(0.95, spells.freedom) * np.sqrt(spells.factor / 5 / spells.shortfall)
    assert (high - low) / longer.base.yearly_kwh.std() == pytest.approx(2 * half, rel=0.03)
    assert short.tornado.loc["years", "sd_kwh"] > longer.tornado.loc["years", "sd_kwh"]
    single = energy_uncertainty(
        creek["1990-10-01":"1992-09-30"], RIGHTS, SPEAR, Uncertainties(**SURE), draws=200
    )
    assert any(
        "2 whole years, too few to give the year-to-year variability" in each.message
        for each in single.findings
    )


def test_steps_from_p50_to_p90_add_up(creek):
    found = energy_uncertainty(creek, RIGHTS, JETS, draws=1000)
    for of in ("single", "several", "mean"):
        assert found.steps(of).sum() == pytest.approx(
            found.annual_kwh(50, of) - found.annual_kwh(90, of)
        )
    assert (
        found.steps("mean")["weather"]
        == 0
        < found.steps("several")["weather"]
        < found.steps("single")["weather"]
    )
    assert found.annual_kwh(99) < found.annual_kwh(90) < found.annual_kwh(75) < found.annual_kwh(50)
    assert found.annual_kwh(90) < found.annual_kwh(90, "several") < found.annual_kwh(90, "mean")


def test_no_percentile_lies_between_years_that_run_and_years_that_do_not():
    """A plant that starts at 5 L/s, on a creek that brings 8 L/s one year and 2 L/s the next: a year is all or nothing."""
    days = pd.date_range("2000-10-01", "2012-09-30")
    year = days.year + (days.month >= 10)
    creek = pd.Series(np.where(year % 2, 0.008, 0.002), days, name="flow_m3s")
    chain = Chain(
        Penstock(MeasuredLoss(0.0), 50.0),
        Adjustable(0.006),
        Runner(steady(0.6), minimum_flow_m3s=0.005),
    )
    found = energy_uncertainty(
        creek, resolve_rights([], "20 L/s"), chain, Uncertainties(**SURE), draws=51
    )
    for of in ("single", "several"):
        years = np.unique(found._outcomes(of, False).sum(axis=1))
        levels = tuple(range(1, 100))
        told = found.percentiles(of, levels=levels).loc["annual"].to_numpy()
        assert np.isin(told, years).all()
        assert np.isin([found.annual_kwh(level, of) for level in (50, 75, 90, 99)], years).all()
        assert (np.diff(told) <= 0).all()


@pytest.mark.parametrize("readings", [1, 3, 12])
def test_single_days_stand_for_the_months_of_other_years_as_simulated_ones_do(readings):
    """Independent: days in months of one year drawn with the three standard deviations, and the mean by which they miss."""
    random, worlds = np.random.default_rng(6), 40_000
    year = 0.45 * np.sqrt(0.3) * random.standard_normal((worlds, 1))
    month = 0.45 * np.sqrt(0.7) * random.standard_normal((worlds, readings))
    day = 0.5 * random.standard_normal((worlds, readings))
    missed = (year + month + day).mean(axis=1)
    flow, months = [0.01] * readings, [1 + number % 12 for number in range(readings)]
    known = {name: 0.0 for name in ("efficiency", "loss", "jet_area", "head")}
    found = bracket(
        SPEAR, flow, months, flow_sd=1e-6, rights=RIGHTS, uncertainties=Uncertainties(**known)
    )
    factor = float(str(found.reasons[0]).split("within a factor of ")[1].split(",")[0])
    assert factor == pytest.approx(np.exp(np.quantile(missed, 0.95)), abs=0.06)
