"""Money against plain sums of discounted payments."""

import math

import numpy as np
import pytest

from hydrokit.energy.discounting import (
    annuity_factor,
    capital_recovery,
    net_present_value,
    replacement_value,
)
from hydrokit.energy.money import Costs, Replacement, appraise, levelised_cost, payback
from hydrokit.errors import HydrokitError, UnitsError
from hydrokit.units import Q_


def present_worth(payments, rate):
    """Oracle: payments at the ends of years, each brought back to today on its own."""
    total = 0.0
    for year, payment in enumerate(payments, 1):
        total += payment / (1 + rate) ** year
    return total


def years_to_pay(cost, yearly, rate):
    """Oracle: pay down a loan year by year, the last year in part by the logarithm of what is left."""
    years = 0
    while True:
        interest = cost * rate
        if yearly <= interest:
            return math.inf
        if cost * (1 + rate) <= yearly:
            # n more years: cost = yearly (1 - (1 + i)^-n) / i
            return years + (
                cost / yearly
                if rate == 0
                else -math.log(1 - rate * cost / yearly) / math.log(1 + rate)
            )
        cost, years = cost + interest - yearly, years + 1


@pytest.mark.parametrize("rate", [0.0, 0.003, 0.04, 0.25])
@pytest.mark.parametrize("years", [1, 2, 15, 40])
def test_annuity_is_the_sum_of_discounted_ones(years, rate):
    assert annuity_factor(years, rate) == pytest.approx(
        present_worth([1.0] * years, rate), rel=1e-12
    )
    assert capital_recovery(years, rate) * present_worth([1.0] * years, rate) == pytest.approx(
        1, rel=1e-12
    )


def test_annuity_keeps_its_digits_near_zero():
    """(1 - (1 + i)^-n)/i loses half its digits at 1e-8; the sum does not."""
    assert annuity_factor(30, 1e-8) == pytest.approx(present_worth([1.0] * 30, 1e-8), rel=1e-13)


def test_array_is_its_scalars():
    years, rate = np.array([1.0, 10.0, 25.0]), np.array([0.0, 0.04, 0.10])
    np.testing.assert_allclose(
        annuity_factor(years, rate), [annuity_factor(y, r) for y, r in zip(years, rate)], rtol=1e-14
    )


@pytest.mark.parametrize("rate", [0.0, 0.04])
@pytest.mark.parametrize("every", [3, 10, 12.5, 25, 40])
def test_replacements_are_bought_when_worn(every, rate):
    bought, age = 0.0, every
    while age < 25:
        bought += 900 / (1 + rate) ** age
        age += every
    assert replacement_value("900 money", every, 25, rate).m_as("money") == pytest.approx(
        bought, rel=1e-12
    )


@pytest.mark.parametrize(
    "cost, yearly, rate",
    [
        (1000, 300, 0.0),
        (1000, 300, 0.05),
        (1000, 900, 0.08),
        (1000, 1100, 0.02),
        (40_000, 2500, 0.06),
    ],
)
def test_payback_is_the_year_the_loan_ends(cost, yearly, rate):
    assert payback(Q_(cost, "money"), Q_(yearly, "money"), rate) == pytest.approx(
        years_to_pay(cost, yearly, rate), rel=1e-12
    )


def test_payback_that_never_comes():
    """1000 at 10 % costs 100 a year for ever; nothing, or less than that, never pays it."""
    found = payback("1000 money", Q_([-5.0, 0.0, 99.9, 100.0, 100.1], "money"), "10 %")
    assert np.isinf(found[:4]).all() and np.isfinite(found[4])
    assert payback("0 money", "0 money") == 0 and payback("0 money", "0 money", "4 %") == 0


def test_net_present_value_is_zero_at_the_discounted_payback():
    years = payback("1000 money", "180 money", "7 %")
    assert net_present_value("1000 money", "180 money", years, "7 %").m_as(
        "money"
    ) == pytest.approx(0, abs=1e-9)


def test_levelised_cost_without_energy_is_infinite():
    found = levelised_cost("1000 money", Q_([0.0, 1000.0], "kWh"), 10, 0.0).m_as("money/kWh")
    assert np.isinf(found[0]) and found[1] == pytest.approx(0.1)


@pytest.mark.parametrize(
    "call, sentence",
    [
        (lambda: annuity_factor(-1, 0.04), "years must be zero or more"),
        (lambda: annuity_factor(10, -0.04), "rate must be zero or more"),
        (lambda: capital_recovery(0, 0.04), "years must be above zero"),
        (lambda: replacement_value("1 money", 0, 25, 0.04), "every must be above zero"),
        (lambda: payback("-1 money", "1 money"), "capital_cost must be zero or more"),
        (lambda: Costs(life_years=0), "life_years must be above zero"),
        (lambda: Costs(laying_money_per_m=-1), "laying_money_per_m must be zero or more"),
        (lambda: appraise(-1, 10, Costs()), "must be zero or more"),
    ],
)
def test_refuses_what_cannot_be(call, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        call()


def test_money_needs_its_unit():
    with pytest.raises(UnitsError, match="capital_cost has no unit.*1200 money"):
        payback(1000, "100 money")
    with pytest.raises(UnitsError, match="energy needs"):
        levelised_cost("1000 money", "3 kW", 10, 0.0)


# --- a plant --------------------------------------------------------------------------------

COSTS = Costs(
    fixed_money=11_000,
    per_power_money_per_w=1.3,
    per_jet_money=350,
    laying_money_per_m=14,
    cable_money_per_m=9,
    yearly_share=0.02,
    life_years=25,
    discount_rate=0.04,
    value_money_per_kwh=0.21,
    uncertainty=0.15,
    replacements=(Replacement(1500, 10, "runner"),),
)


def test_capital_cost_adds_up():
    assert COSTS.first_si(6000, 4, 14.4, 380, 140) == pytest.approx(
        11_000 + 7800 + 1400 + (14.4 + 14) * 380 + 9 * 140
    )


def test_appraisal_against_year_by_year_accounts():
    """Oracle: 25 years written out, with a runner bought after 10 and 20 years."""
    first, kwh, rate = 30_000.0, 26_000.0, 0.04
    found = appraise(first, kwh, COSTS)
    runner = 1500 / 1.04**10 + 1500 / 1.04**20
    a_year = (present_worth([600.0] * 25, rate) + runner) / present_worth([1.0] * 25, rate)
    assert found.npv_money == pytest.approx(
        present_worth([0.21 * kwh - 600] * 25, rate) - runner - first, rel=1e-10
    )
    assert found.levelised_money_per_kwh == pytest.approx(
        (first + runner + present_worth([600.0] * 25, rate)) / present_worth([kwh] * 25, rate),
        rel=1e-10,
    )
    assert found.payback_years == pytest.approx(first / (0.21 * kwh - a_year), rel=1e-10)
    assert found.discounted_payback_years == pytest.approx(
        years_to_pay(first, 0.21 * kwh - a_year, rate), rel=1e-10
    )
    # a worth a year, brought to today, is the net present value
    assert found.worth_money * present_worth([1.0] * 25, rate) == pytest.approx(
        found.npv_money, rel=1e-10
    )
    assert found.levelised.m_as("money/MWh") == pytest.approx(1000 * found.levelised_money_per_kwh)


def test_without_a_value_the_cost_of_a_kwh_is_still_known():
    found = appraise(30_000, 26_000, Costs())
    assert np.isfinite(found.levelised_money_per_kwh)
    assert np.isnan(
        [found.worth_money, found.payback_years, found.discounted_payback_years, found.npv_money]
    ).all()


def test_a_change_of_another_life_carries_none_of_the_plants_replacements():
    assert COSTS.change_si(900, 12) == pytest.approx(900 / present_worth([1.0] * 12, 0.04) + 18)


def test_ranges_of_the_cost():
    factors = COSTS.factors(20_000, seed=3)
    assert np.array_equal(factors, COSTS.factors(20_000, seed=3))
    # log-normal: sd over mean is the uncertainty, median 1; standard errors at 20,000 draws are 0.0008 and 0.0013
    assert factors.std() / factors.mean() == pytest.approx(0.15, abs=0.004)
    assert np.median(factors) == pytest.approx(1, abs=0.005)
    assert (Costs().factors(5) == 1).all()


def test_percentiles_keep_a_payback_that_never_comes():
    draws = appraise(
        1000.0,
        np.array([100.0, 200.0, 300.0, 400.0, 500.0]),
        Costs(discount_rate=0.10, life_years=20, value_money_per_kwh=0.45),
    )
    found = draws.percentiles((10, 50, 90))
    assert np.isinf(found["discounted_payback_years"][2]) and np.isfinite(
        found["discounted_payback_years"][1]
    )
    assert found["kwh"].tolist() == [100, 300, 500]


def test_more_energy_or_value_is_never_worth_less():
    kwh = np.linspace(0, 5e4, 40)
    for name, sign in (
        ("npv_money", 1),
        ("worth_money", 1),
        ("levelised_money_per_kwh", -1),
        ("payback_years", -1),
        ("discounted_payback_years", -1),
    ):
        values = getattr(appraise(3e4, kwh, COSTS), name)
        assert np.all(
            sign * (values[1:][np.isfinite(values[:-1])] - values[:-1][np.isfinite(values[:-1])])
            >= 0
        ), name
