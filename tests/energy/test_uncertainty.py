"""Uncertainty of the energy: against brute force and closed forms, fixed seed, what it comes from, and the bracket of thin data."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from hydrokit.energy.levels import LEVELS, level_name
from hydrokit.energy.uncertain_inputs import Metered, Uncertainties
from hydrokit.energy.uncertainty import energy_uncertainty
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.turbine import part_load
from hydrokit.plant.wire import Wire
from hydrokit.stream.rights import fixed, licence, resolve_rights
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.state import State

DATA = Path(__file__).parents[1] / "data" / "black_earth_creek_usgs05406500.csv"
LINE = Line((Pipe(0.1, 350.0, 1e-5, fittings=1.5), Pipe(0.08, 50.0, 1e-5, fittings=0.5)))
RIGHTS = resolve_rights([fixed("4 L/s")], "20 L/s")
SURE = dict(rating=0.0, head=0.0, loss=0.0, efficiency=0.0, jet_area=0.0, outage=0.0)


def twenty_years():
    frame = pd.read_csv(DATA, parse_dates=["date"], index_col="date")
    return (0.012 * 0.3048**3 * frame["flow [cfs]"]).rename("flow_m3s")["1975-10-01":"1995-09-30"]


def five_years():
    return twenty_years()["1990-10-01":]


@pytest.fixture(scope="module")
def whole_creek():
    return twenty_years()


@pytest.fixture(scope="module")
def creek():
    return five_years()


JETS = Chain(
    Penstock(LINE, 50.0),
    FixedJets((0.012,) * 4, 0.95),
    Runner(part_load("pelton"), minimum_flow_m3s=0.001),
    electric=(Wire(0.5, 230.0),),
    states={1: State(air_m=4.0)},
)
SPEAR = Chain(Penstock(LINE, 50.0), Adjustable(0.011), Runner(part_load("pelton")))
ON_OFF = Chain(Penstock(LINE, 50.0), Adjustable(0.011), Runner(part_load("propeller")))
ALWAYS_FULL = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.002), Runner(steady(0.5)))


def brute_force(chain, creek, rights, found, draws):
    """Each draw for itself, draws × years: its own plant, its own rights, every day of every year; only the numbers drawn are shared."""
    energy = np.empty((draws, len(found.whole_years)))
    label = creek.index.year + (creek.index.month >= 10)
    month = np.asarray(creek.index.month)
    for number in range(draws):
        drawn = found.factors.iloc[number]
        usable = rights.usable_si(creek.to_numpy() * drawn["flow"], month)
        itself = chain.factors(drawn["head"], drawn["loss"], drawn["efficiency"], drawn["jet_area"])
        power = np.empty(len(creek))
        for months in chain.alike():
            these = np.isin(month, months)
            power[these] = itself.at_si(usable[these], months[0]).power_w
        energy[number] = [
            power[label == year].sum() * 0.024 * (1 - drawn["unplanned"])
            for year in found.whole_years
        ]
    return energy


# --- against brute force --------------------------------------------------------------------


@pytest.mark.parametrize("chain", [JETS, SPEAR, ON_OFF], ids=["jets", "spear", "on or off"])
def test_wide_uncertainty_stays_within_what_is_possible(creek, chain):
    """Where next to nothing is known, a few per cent of the energy are enough; below nothing, or above the best plant, are not."""
    found = energy_uncertainty(
        creek,
        RIGHTS,
        chain,
        Uncertainties(head=0.3, loss=0.5, efficiency=0.3, jet_area=0.3),
        draws=100,
    )
    brute = brute_force(chain, creek, RIGHTS, found, 100)
    lattice, scale = found.years_kwh.sum(axis=2), brute.mean()
    assert lattice.mean() == pytest.approx(scale, rel=0.04)
    assert np.sqrt(np.mean((lattice - brute) ** 2)) < 0.08 * scale
    assert lattice.min() >= 0 and lattice.max() <= 1.02 * brute.max()
    far = energy_uncertainty(
        creek,
        RIGHTS,
        chain,
        Uncertainties(head=1.0, loss=1.0, efficiency=1.0, jet_area=1.0),
        draws=150,
    )
    assert far.single_kwh.min() >= 0 and far.mean_kwh.min() >= 0


@pytest.mark.parametrize(
    "chain, each",
    [(JETS, 1.5e-3), (SPEAR, 1.5e-3), (ON_OFF, 0.012)],
    ids=["jets", "spear", "on or off"],
)
def test_lattice_agrees_with_brute_force(whole_creek, chain, each):
    """1e-3 of the annual energy: the mean, and the percentiles of all draws in all years of twenty; the usual miss of one year of one draw.

    A plant that is on or off leaps when the days of a dry year cross its step together, and one year
    of one draw is interpolated between two sizes of the flow's error: there the percentile is held
    to where it stands among the outcomes, to one in a hundred.
    """
    draws = 60
    found = energy_uncertainty(
        whole_creek, RIGHTS, chain, draws=draws, outages=Outages(unplanned=0.03)
    )
    brute = brute_force(chain, whole_creek, RIGHTS, found, draws)
    lattice, scale = found.years_kwh.sum(axis=2), brute.mean()
    assert lattice.mean() == pytest.approx(scale, rel=1e-3)
    assert np.sqrt(np.mean((lattice - brute) ** 2)) < each * scale
    for level in (0.1, 0.25, 0.5):
        if chain is ON_OFF:
            assert np.mean(brute < np.quantile(lattice, level)) == pytest.approx(level, abs=0.01), (
                level
            )
        else:
            assert abs(np.quantile(lattice, level) - np.quantile(brute, level)) < 1e-3 * scale, (
                level
            )


def test_rules_with_memory_agree_too(creek):
    """A yearly volume: the whole record goes through the real rules for every size of the error; 1e-3 of annual energy."""
    rights = resolve_rights([fixed("4 L/s")], licence("20 L/s", volume="150000 m^3"))
    found = energy_uncertainty(
        creek, rights, SPEAR, Uncertainties(**{**SURE, "rating": 0.1}), draws=40
    )
    label = creek.index.year + (creek.index.month >= 10)
    most = SPEAR.curve().most_used_m3s
    misses = []
    for number in range(40):
        drawn = found.factors.iloc[number]
        usable = rights.usable_series(drawn["flow"] * creek, most)
        power = SPEAR.at_si(usable.to_numpy()).power_w
        misses += [
            made.sum() - power[label == year].sum() * 0.024
            for year, made in zip(found.whole_years, found.years_kwh[number])
        ]
    scale = found.base.annual_kwh
    assert abs(np.mean(misses)) < 1e-3 * scale and np.std(misses) < 2e-3 * scale


def test_without_uncertainty_it_is_the_year_itself(creek):
    """The lattice's grid of flows is coarser than the curve's: 2e-4."""
    found = energy_uncertainty(creek, RIGHTS, JETS, Uncertainties(**SURE), draws=50)
    base = annual_energy(
        pd.Series(RIGHTS.usable_si(creek.to_numpy(), np.asarray(creek.index.month)), creek.index),
        JETS.curves(),
    )
    assert found.base.annual_kwh == pytest.approx(base.annual_kwh, rel=1e-12)
    for drawn in found.years_kwh.sum(axis=2):
        np.testing.assert_allclose(drawn, base.yearly_kwh, rtol=2e-4)


# --- closed forms ---------------------------------------------------------------------------


def test_p90_of_a_plant_that_is_always_full_is_that_of_the_lognormal(creek):
    """analytic: head and efficiency are all the uncertainty there is; no year differs. Within four standard errors of the quantile."""
    draws, sd = 20_000, 0.08
    found = energy_uncertainty(
        creek,
        resolve_rights([fixed("0 L/s")]),
        ALWAYS_FULL,
        Uncertainties(**{**SURE, "efficiency": sd}),
        draws=draws,
    )
    middle = ALWAYS_FULL.curve().rated_w * 8.766
    for level in (50, 75, 90):
        share = 1 - level / 100
        expected = middle * np.exp(sd * norm.ppf(share))
        density = norm.pdf(norm.ppf(share)) / (expected * sd)
        error = np.sqrt(share * (1 - share) / draws) / density
        # years differ by their leap day: 3e-4
        assert abs(found.annual_kwh(level, "mean") - expected) < 4 * error + 3e-4 * expected


def test_means_converge_at_least_with_the_root_of_the_draws(creek):
    """A hundred times the draws, at most a tenth of the spread of the mean, as far as 14 seeds can tell a spread (20 %, twice)."""
    short, sure = creek["1990-10-01":"1993-09-30"], Uncertainties(**{**SURE, "rating": 0.03})

    def spread(draws):
        return np.std(
            [
                energy_uncertainty(short, RIGHTS, SPEAR, sure, draws=draws, seed=seed)
                .years_kwh.sum(axis=2)
                .mean()
                for seed in range(14)
            ]
        )

    assert spread(2000) < spread(20) / 5


@pytest.mark.slow
def test_percentiles_hardly_hang_on_the_seed(whole_creek):
    """Eight seeds at the default number of draws, twenty years: within one per cent of each other (design, bars)."""
    found = [
        energy_uncertainty(
            whole_creek, RIGHTS, SPEAR, draws=4000, seed=seed, outages=Outages(unplanned=0.02)
        )
        for seed in range(8)
    ]
    for level in (50, 90):
        kwh = [each.annual_kwh(level) for each in found]
        assert np.ptp(kwh) < 0.01 * np.mean(kwh), (level, kwh)
    # Wet and dry spells make the mean of many years three times as uncertain as years that know
    # nothing of each other would: its noise is small beside that, not beside the energy.
    for of in ("several", "mean"):
        kwh = [each.annual_kwh(90, of) for each in found]
        sure = float(np.std(found[0].outlook.kwh(of, False, 10).sum(axis=1)))
        assert np.ptp(kwh) < 0.1 * sure, (of, kwh, sure)


def test_rating_error_scales_the_natural_flow_not_the_usable(creek):
    """With a residual flow a 10 % error of the creek is more than 10 % of what is left of it."""
    big = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(1.0), Runner(steady(0.5)))
    rights = resolve_rights([fixed("4 L/s")])
    found = energy_uncertainty(
        creek, rights, big, Uncertainties(**{**SURE, "rating": 0.10}), draws=4000
    )
    ratio = found.mean_kwh.sum(axis=1).std() / found.mean_kwh.sum(axis=1).mean()
    free = energy_uncertainty(
        creek,
        resolve_rights([fixed("0 L/s")]),
        big,
        Uncertainties(**{**SURE, "rating": 0.10}),
        draws=4000,
    )
    assert ratio > 1.3 * free.mean_kwh.sum(axis=1).std() / free.mean_kwh.sum(axis=1).mean()


# --- what it says ---------------------------------------------------------------------------


def test_same_seed_same_result(creek):
    one, two = (energy_uncertainty(creek, RIGHTS, SPEAR, draws=200, seed=7) for _ in range(2))
    np.testing.assert_array_equal(one.single_kwh, two.single_kwh)
    pd.testing.assert_frame_equal(one.tornado, two.tornado)
    assert not np.array_equal(
        one.single_kwh, energy_uncertainty(creek, RIGHTS, SPEAR, draws=200, seed=8).single_kwh
    )


def test_percentiles_fall_and_months_do_not_add_up(creek):
    found = energy_uncertainty(creek, RIGHTS, JETS, draws=2000)
    table = found.percentiles()
    assert list(table.columns) == [level_name(each) for each in LEVELS] and list(table.index) == [
        "annual",
        "winter",
        *range(1, 13),
    ]
    assert np.all(np.diff(table.to_numpy(), axis=1) <= 0)
    assert table.loc[range(1, 13), "P90"].sum() < table.loc["annual", "P90"], (
        "bad months do not all come in one year"
    )
    assert found.percentiles("mean").loc["annual", "P90"] > table.loc["annual", "P90"]
    with pytest.raises(HydrokitError, match="no demand was given"):
        found.percentiles(useful=True)
    assert "independent of each other" in found.statement


def test_tornado_ranks_by_what_each_alone_would_do(creek):
    unsure = Uncertainties(
        rating=0.01, head=0.001, loss=0.01, efficiency=0.05, jet_area=0.001, outage=0.0
    )
    found = energy_uncertainty(creek, RIGHTS, SPEAR, unsure, draws=2000)
    assert found.tornado.drop(index=["weather", "years"]).index[0] == "efficiency"
    assert found.tornado["share_single_year"].sum() == pytest.approx(1.0)
    assert found.tornado["share_without_weather"].sum() == pytest.approx(1.0)
    assert [each for each in map(str, found.next_measurements) if "gauge running" not in each][
        0
    ].startswith("read watts and flow together")
    # on a plant that does not stand yet nothing can be read
    planned = energy_uncertainty(creek, RIGHTS, SPEAR, unsure, draws=2000, planned=True)
    assert any(
        each.startswith("ask the manufacturer")
        for each in [*map(str, planned.next_measurements)][:2]
    ) and not any("read the running pressure" in str(each) for each in planned.next_measurements)
    # the plant's energy is proportional to its efficiency
    sd = found.tornado.loc["efficiency", "sd_kwh"] / found.base.annual_kwh
    assert sd == pytest.approx(0.05, rel=0.05)


def test_watts_read_on_the_plant_know_the_product(creek):
    """Each of efficiency and jets stays unsure, their product does not; the creek's uncertainty is untouched."""
    chain = Chain(
        Penstock(MeasuredLoss(2e4), 50.0), FixedJets((0.012,) * 2, 0.95), Runner(steady(0.6))
    )
    unsure = Uncertainties(
        rating=0.1, head=0.02, loss=0.2, efficiency=0.1, jet_area=0.05, outage=0.0
    )
    watts = float(chain.at_si(np.inf).power_w)
    free = energy_uncertainty(creek, RIGHTS, chain, unsure, draws=4000)
    tied = energy_uncertainty(
        creek, RIGHTS, chain, unsure, draws=4000, metered=Metered(watts, 0.02)
    )
    assert tied.effective_draws < 2500
    for name in ("efficiency", "jet_area"):
        assert 0.4 * free.factors[name].std() < tied.factors[name].std() < free.factors[name].std()
    assert tied.factors["flow"].std() == pytest.approx(free.factors["flow"].std(), rel=1e-9)
    plants = [
        chain.factors(*tied.factors.iloc[i][["head", "loss", "efficiency", "jet_area"]])
        .at_si(np.inf)
        .power_w
        for i in range(50)
    ]
    assert np.std(np.log(np.array(plants, float))) < 0.03 < 0.3 * 0.13, (
        "to the meter's own uncertainty"
    )
    assert tied.factors[["efficiency", "jet_area"]].corr().iloc[0, 1] < -0.2
    assert tied.tornado.loc["plant", "sd_kwh"] < 0.5 * np.sqrt(
        (free.tornado.loc[["head", "loss", "efficiency", "jet_area"], "sd_kwh"] ** 2).sum()
    )
    lost = energy_uncertainty(
        creek, RIGHTS, chain, unsure, draws=500, metered=Metered(0.4 * watts, 0.02)
    )
    assert any(
        each.level == "problem" and "from the power calculated from the parts" in each.message
        for each in lost.findings
    )


def test_correlated_errors_are_drawn_together(creek):
    unsure = Uncertainties(
        efficiency=0.05, jet_area=0.05, correlated=(("efficiency", "jet_area", -0.9),)
    )
    found = energy_uncertainty(creek, RIGHTS, SPEAR, unsure, draws=3000)
    assert np.log(found.factors[["efficiency", "jet_area"]]).corr().iloc[0, 1] == pytest.approx(
        -0.9, abs=0.03
    )
    assert "go together (-0.90)" in found.statement
    with pytest.raises(HydrokitError, match="cannot all be true together"):
        bad = (("head", "loss", 0.9), ("loss", "efficiency", 0.9), ("head", "efficiency", -0.9))
        energy_uncertainty(creek, RIGHTS, SPEAR, Uncertainties(correlated=bad), draws=10)


def test_rating_that_is_surer_at_some_flows(creek):
    """Flat pairs are the plain number; uncertainty at flows that never come does not count."""
    plain = energy_uncertainty(
        creek, RIGHTS, SPEAR, Uncertainties(**{**SURE, "rating": 0.1}), draws=300
    )
    flat = energy_uncertainty(
        creek,
        RIGHTS,
        SPEAR,
        Uncertainties(**{**SURE, "rating": ((0.001, 0.1), (1.0, 0.1))}),
        draws=300,
    )
    np.testing.assert_allclose(flat.single_kwh, plain.single_kwh, rtol=1e-9)
    apart = energy_uncertainty(
        creek,
        RIGHTS,
        SPEAR,
        Uncertainties(**{**SURE, "rating": ((10.0, 0.0001), (100.0, 0.5))}),
        draws=300,
    )
    assert apart.mean_kwh.sum(axis=1).std() < plain.single_kwh.sum(axis=1).std()
    assert apart.tornado.loc["rating", "sd_kwh"] < 0.01 * plain.tornado.loc["rating", "sd_kwh"]


def test_extension_adds_to_the_rating(creek):
    both = energy_uncertainty(
        creek,
        RIGHTS,
        SPEAR,
        Uncertainties(**{**SURE, "rating": 0.06, "extension": 0.08}),
        draws=3000,
    )
    one = energy_uncertainty(
        creek, RIGHTS, SPEAR, Uncertainties(**{**SURE, "rating": 0.10}), draws=3000
    )
    assert both.mean_kwh.sum(axis=1).std() == pytest.approx(
        one.mean_kwh.sum(axis=1).std(), rel=0.05
    )
    assert both.tornado.loc["extension", "sd_kwh"] / both.tornado.loc[
        "rating", "sd_kwh"
    ] == pytest.approx(8 / 6, rel=0.05)


def test_demand_stays_with_its_days(creek):
    demand = pd.Series(np.where(creek > creek.median(), 500.0, 5000.0), creek.index)
    found = energy_uncertainty(
        creek, RIGHTS, SPEAR, Uncertainties(**SURE), draws=30, demand_w=demand
    )
    base = found.base.useful_kwh.loc[list(found.whole_years)].sum(axis=1)
    for drawn in found.outlook.useful.sum(axis=2):
        np.testing.assert_allclose(drawn, base, rtol=3e-4)
    assert np.all(found.useful_single_kwh <= found.single_kwh * (1 + 1e-9))
    assert np.all(found.useful_mean_kwh <= found.mean_kwh * (1 + 1e-9))


def test_outages_are_drawn_as_shares(creek):
    found = energy_uncertainty(
        creek,
        RIGHTS,
        SPEAR,
        Uncertainties(**{**SURE, "outage": 0.02}),
        draws=5000,
        outages=Outages(unplanned=0.05),
    )
    assert found.factors["unplanned"].mean() == pytest.approx(0.05, abs=0.001)
    assert found.factors["unplanned"].std() == pytest.approx(0.02, rel=0.05)
    with pytest.raises(HydrokitError, match="too wide for a share of time"):
        energy_uncertainty(
            creek,
            RIGHTS,
            SPEAR,
            Uncertainties(outage=0.5),
            outages=Outages(unplanned=0.05),
            draws=10,
        )


def test_refusals(creek):
    with pytest.raises(HydrokitError, match="use bracket"):
        energy_uncertainty(creek["1991-01-01":"1991-12-31"], RIGHTS, SPEAR, draws=10)
    with pytest.raises(HydrokitError, match="head is a standard deviation as a share"):
        Uncertainties(head=-0.1)
    with pytest.raises(HydrokitError, match="must name two of"):
        Uncertainties(correlated=(("head", "weather", 0.5),))
