"""Heat: conductance, balance hour by hour, fuel saved, order of loads."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from hydrokit.errors import HydrokitError
from hydrokit.plant.fuel import STOVES, fuel_heat, fuel_saved, fuels
from hydrokit.plant.heat import (
    difference_held,
    house_conductance,
    measured_conductance,
    surface_loss,
    ventilation_conductance,
)
from hydrokit.plant.heat_balance import heat_balance, share_out
from hydrokit.tables import load, row
from hydrokit.units import Q_

steady = settings(derandomize=True, deadline=None, max_examples=60)


# --- conductance ------------------------------------------------------------------------------


def test_a_house_is_the_sum_of_its_surfaces_and_its_air():
    areas, transmittances = [Q_(120, "m^2"), Q_(15, "m^2")], ["0.35 W/m^2/K", "1.6 W/m^2/K"]
    whole = house_conductance(areas, transmittances, volume="200 m^3", air_changes=0.5).m_as("W/K")
    parts = sum(
        surface_loss(area, u, "1 delta_degC").m_as("W")
        for area, u in zip(areas, transmittances, strict=True)
    )
    assert whole == pytest.approx(parts + ventilation_conductance("200 m^3", 0.5).m_as("W/K"))
    half = house_conductance(areas, transmittances, share=[0.5, 1.0]).m_as("W/K")
    assert half == pytest.approx(0.5 * 120 * 0.35 + 15 * 1.6)


def test_a_steady_night_gives_back_the_house():
    """The held difference and the measured conductance are one relation."""
    difference = difference_held("4.5 kW", "115 W/K").m_as("delta_degC")
    found = measured_conductance("4.5 kW", Q_(20.0, "degC"), Q_(20.0 - difference, "degC"))
    assert found.conductance_w_k == pytest.approx(115)
    assert any("taken as steady" in each.message for each in found.findings)


def test_a_cooling_house_against_its_exponential():
    """independent: an unheated house cools as exp(-t UA/C); the night's means give UA back to the error of a straight mean
    over a short night, (t UA/C)^2/12."""
    conductance, capacity, hours = 120.0, 5e7, 4.0
    start, outside = 30.0, 0.0
    time = np.linspace(0, hours * 3600, 2001)
    inside = outside + start * np.exp(-time * conductance / capacity)
    found = measured_conductance.si(
        0.0,
        inside + 273.15,
        outside + 273.15,
        hours * 3600,
        inside[0] + 273.15,
        inside[-1] + 273.15,
        capacity,
    )
    assert found.conductance_w_k == pytest.approx(conductance, rel=1e-3)


def test_a_doubtful_night_is_told():
    small = measured_conductance("1 kW", "15 degC", "8 degC")
    assert any("colder night" in each.message for each in small.findings)
    drifting = measured_conductance(
        "1 kW", "18 degC", "-10 degC", "8 h", "22 degC", "14 degC", "2 kWh/delta_degC"
    )
    assert any("longer night" in each.message for each in drifting.findings)


@pytest.mark.parametrize(
    "inputs, sentence",
    [
        (("1 kW", "5 degC", "8 degC"), "warmer than outside"),
        (
            ("1 kW", "20 degC", "0 degC", "8 h", "15 degC", "25 degC", "5 kWh/delta_degC"),
            "stored more heat than was put in",
        ),
    ],
)
def test_an_impossible_night_is_refused(inputs, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        measured_conductance(*inputs)


# --- balance ----------------------------------------------------------------------------------

powers = arrays(float, 48, elements=st.floats(0, 8e3))
outsides = arrays(float, 48, elements=st.floats(230, 310))


@steady
@given(power=powers, outside=outsides)
def test_heat_is_conserved_and_never_more_than_needed(power, outside):
    """Oracle: an hour-by-hour loop."""
    found = heat_balance.si(power, outside, 115.0, 293.15, 300.0, 3600.0)
    needed = met = 0.0
    for each, cold in zip(power, outside, strict=True):
        demand = max(115.0 * (293.15 - cold) - 300.0, 0.0)
        needed += demand * 3600
        met += min(each, demand) * 3600
    assert found.needed_j == pytest.approx(needed) and found.met_j == pytest.approx(met)
    assert found.met_j <= found.needed_j + 1e-6
    assert found.met_j + found.spare_j == pytest.approx(np.sum(power) * 3600)
    assert 0 <= found.met_share <= 1 + 1e-12
    assert found.met_ks * 115.0 == pytest.approx(found.met_j)


@steady
@given(power=powers, outside=outsides)
def test_mean_of_the_lesser_is_never_above_the_lesser_of_the_means(power, outside):
    """analytic: min is concave (Jensen); the balance must be joint in time."""
    joint = heat_balance.si(power, outside, 115.0).met_j
    demand = np.maximum(115.0 * (293.15 - outside), 0)
    assert joint <= 48 * 3600 * min(power.mean(), demand.mean()) * (1 + 1e-12)


def test_cold_and_dry_together_is_worse_than_apart():
    """The same powers and temperatures, paired otherwise: the means cannot tell, the balance does."""
    cold = Q_([-20.0, -20.0, 5.0, 5.0], "degC")
    dry_when_cold = heat_balance(Q_([2.0, 2.0, 6.0, 6.0], "kW"), cold, "115 W/K")
    wet_when_cold = heat_balance(Q_([6.0, 6.0, 2.0, 2.0], "kW"), cold, "115 W/K")
    assert dry_when_cold.met_j < wet_when_cold.met_j
    assert dry_when_cold.needed_j == wet_when_cold.needed_j


def test_a_batch_of_years_is_each_year():
    rng = np.random.default_rng(7)
    power, outside = rng.uniform(0, 6e3, (3, 5, 24)), rng.uniform(250, 300, (5, 24))
    batch = heat_balance.si(power, outside, 115.0)
    assert batch.met_j.shape == (3, 5)
    single = heat_balance.si(power[2, 4], outside[4], 115.0)
    assert batch.met_j[2, 4] == pytest.approx(single.met_j) and batch.needed_ks[
        2, 4
    ] == pytest.approx(single.needed_ks)


def test_constant_cold_is_degree_hours_times_conductance():
    """analytic: 150 W/K x 4000 K d = 14 400 kWh, with 20 K over 200 days."""
    found = heat_balance(
        Q_(np.full(200, 5.0), "kW"), Q_(np.zeros(200), "degC"), "150 W/K", step="24 h"
    )
    assert found.needed.m_as("kWh") == pytest.approx(14400)
    assert found.unmet.m_as("kWh") == pytest.approx(0)
    assert found.degree_hours_unmet.m_as("K*h") == pytest.approx(0)


def test_a_house_that_needs_nothing_has_all_it_needs():
    found = heat_balance("2 kW", Q_([25.0], "degC"), "115 W/K")
    assert (
        found.met_share == 1 and found.needed_j == 0 and found.spare_j == pytest.approx(2000 * 3600)
    )


@pytest.mark.parametrize(
    "change, sentence",
    [
        ({"conductance": "0 W/K"}, "conductance must be above zero"),
        ({"power": "-1 kW"}, "power must be zero or more"),
    ],
)
def test_balance_refuses(change, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        heat_balance(
            **{"power": "1 kW", "outside": Q_([0.0], "degC"), "conductance": "100 W/K", **change}
        )


# --- fuel -------------------------------------------------------------------------------------


def test_gross_wood_holds_a_published_heat_per_weight():
    """published: 8225 to 8650 Btu a pound over the Kentucky table: gross heat, no stove loss in it."""
    table = load("wood")
    weighed = [
        name
        for name, mass, heat in zip(table["name"], table["mass_lb"], table["heat"], strict=True)
        if heat == "gross" and not np.isnan(mass)
    ]
    assert len(weighed) == 8
    for name in weighed:
        each = row("wood", name)
        assert 8200 < each["btu_per_unit"] / each["mass_lb"] < 8660, name


def test_a_net_table_takes_no_stove_and_a_gross_one_needs_it():
    with pytest.raises(HydrokitError, match="net of the stove already"):
        fuel_heat("propane", "80 %")
    with pytest.raises(HydrokitError, match="give the efficiency of the stove"):
        fuel_heat("red oak")
    with pytest.raises(HydrokitError, match="did you mean 'red oak'"):
        fuel_heat("redoak", "63 %")
    with pytest.raises(HydrokitError, match="efficiency must be a share"):
        fuel_heat("red oak", 1.2)


def test_saved_fuel_gives_the_heat_back():
    for fuel in fuels():
        efficiency = 0.7 if row("wood", fuel)["heat"] == "gross" else None
        saved = fuel_saved("5000 kWh", fuel, efficiency)
        assert saved.amount * saved.useful.m_as("kWh") == pytest.approx(5000)


def test_net_and_gross_tables_meet_over_a_usual_stove():
    """independent tables: seasoned firewood net (FPL) against mixed hardwood gross times a default stove."""
    net = fuel_heat("seasoned firewood").m_as("kWh")
    gross = np.mean(
        [
            fuel_heat(each, STOVES["non-catalytic"][0]).m_as("kWh")
            for each in ("red oak", "white ash", "american elm")
        ]
    )
    assert net == pytest.approx(gross, rel=0.10)


# --- who gets it first ------------------------------------------------------------------------


@steady
@given(
    power=arrays(float, 10, elements=st.floats(0, 1e4)),
    wanted=arrays(float, (3, 10), elements=st.floats(0, 5e3)),
)
def test_shares_add_up_and_the_first_comes_first(power, wanted):
    shares = share_out(
        Q_(power, "W"), {name: Q_(each, "W") for name, each in zip("abc", wanted, strict=True)}
    )
    assert shares.served_w.sum(axis=0) + shares.ballast_w == pytest.approx(power)
    assert (
        np.all(shares.served_w <= wanted + 1e-9)
        and np.all(shares.served_w >= 0)
        and np.all(shares.ballast_w >= 0)
    )
    assert np.array_equal(shares.of("a"), np.minimum(power, wanted[0]))
    short = shares.unmet_w[:-1] > 1e-9
    assert np.all(shares.served_w[1:][short] == 0), "nobody is served while one before goes short"
    assert np.all((shares.ballast_w == 0) | (shares.unmet_w.sum(axis=0) < 1e-9))


def test_shares_refuse_negative_power():
    with pytest.raises(HydrokitError, match="house must be zero or more"):
        share_out("4 kW", {"house": "-1 kW"})
