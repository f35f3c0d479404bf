"""Cash flows against accounts kept year by year, and against the closed forms of the money room."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from hydrokit.energy.cash import cash_flow, highest_capital_cost
from hydrokit.energy.money import Costs, Replacement, appraise
from hydrokit.errors import HydrokitError

BASE = dict(yearly_share=0.02, life_years=25, discount_rate=0.04, value_money_per_kwh=0.21)
PARTS = (Replacement(1800, 10, "bearings"), Replacement(400, 3, "jets"))


def accounts(first, kwh, costs):
    """Oracle: the books of one plant, kept in plain numbers."""
    money = [-first]
    for year in range(1, int(costs.life_years) + 1):
        paid = costs.yearly_share * first
        if year < costs.life_years:  # nothing is bought for a plant that ends that day
            paid += sum(
                each.cost_money for each in costs.replacements if year % each.every_years == 0
            )
        money.append(costs.value_money_per_kwh * kwh - paid)
    return money


@pytest.mark.parametrize(
    "parts",
    [(), PARTS, (Replacement(500, 25),), (Replacement(500, 5),)],
    ids=["none", "two", "as long as the plant", "every fifth year"],
)
def test_each_year_is_what_the_books_say(parts):
    costs = Costs(**BASE, replacements=parts)
    flow = cash_flow(27_000, 21_000, costs)
    np.testing.assert_allclose(flow.money, accounts(27_000, 21_000, costs), rtol=1e-12)
    assert flow.years.tolist() == list(range(26))


@pytest.mark.parametrize("rate", [0.0, 0.04, 0.11])
def test_the_last_discounted_year_is_the_net_present_value(rate):
    """analytic: replacements spread evenly and paid when due are worth the same on the first day."""
    costs = Costs(**BASE | {"discount_rate": rate}, replacements=PARTS)
    first, kwh = np.array([10_000.0, 27_000, 90_000]), np.array([21_000.0, 12_000, 30_000])
    np.testing.assert_allclose(
        cash_flow(first, kwh, costs).discounted[:, -1],
        appraise(first, kwh, costs).npv_money,
        rtol=1e-10,
    )


def test_payback_without_replacements_is_the_closed_form():
    """analytic. With interest the closed form lets money flow between the ends of years, the books do not: an eighth of the rate of a year at most, near enough."""
    costs = Costs(**BASE)
    first = np.linspace(5_000, 90_000, 40)
    flow, formula = cash_flow(first, 20_000, costs), appraise(first, 20_000, costs)
    lasts = formula.payback_years <= 25
    np.testing.assert_allclose(flow.payback_years[lasts], formula.payback_years[lasts], rtol=1e-12)
    assert np.isinf(flow.payback_years[~lasts]).all() and (~lasts).any()
    lasts = formula.discounted_payback_years <= 25
    np.testing.assert_allclose(
        flow.discounted_payback_years[lasts], formula.discounted_payback_years[lasts], atol=0.006
    )
    assert np.isinf(flow.discounted_payback_years[~lasts]).all()


def test_paid_back_means_for_good():
    """By hand: 1,000 back after 5 years of 200, but 500 are due in the sixth; 0 again after 7.5 years."""
    costs = Costs(
        life_years=12,
        discount_rate=0.0,
        value_money_per_kwh=0.2,
        replacements=(Replacement(500, 6),),
    )
    assert cash_flow(1000, 1000, costs).payback_years == pytest.approx(7.5)
    never = cash_flow(1000, 300, costs)
    assert never.payback_years == np.inf and np.isnan(never.internal_rate)
    assert cash_flow(0.0, 1000, Costs(life_years=5, value_money_per_kwh=0.2)).payback_years == 0


def test_internal_rate_against_brentq():
    """independent: scipy's brentq on the books."""
    costs = Costs(**BASE, replacements=PARTS)
    for first in (9_000.0, 27_000.0, 43_000.0):
        money = accounts(first, 21_000, costs)
        wanted = brentq(
            lambda rate: sum(each / (1 + rate) ** year for year, each in enumerate(money)), 0, 1
        )
        assert cash_flow(first, 21_000, costs).internal_rate == pytest.approx(wanted, rel=1e-9)
    assert cash_flow(100.0, 21_000, costs).internal_rate == 1.0  # earns its cost many times a year


def test_a_part_of_a_year_earns_its_part():
    flow = cash_flow(1000, 1000, Costs(life_years=2.5, discount_rate=0.0, value_money_per_kwh=1.0))
    assert flow.years.tolist() == [0, 1, 2, 2.5] and flow.cumulated[-1] == pytest.approx(1500)


def test_highest_capital_cost_is_worth_nothing():
    costs = Costs(**BASE, replacements=PARTS)
    kwh = np.array([5_000.0, 21_000, 30_000])
    most = highest_capital_cost(kwh, costs)
    np.testing.assert_allclose(appraise(most, kwh, costs).npv_money, 0.0, atol=1e-6)
    assert highest_capital_cost(100.0, costs) == 0.0  # the replacements cost more than it earns


def test_draws_are_rows():
    costs = Costs(**BASE, replacements=PARTS)
    first, kwh = 27_000 * costs.factors(7, 2), np.linspace(9_000, 30_000, 7)
    flow = cash_flow(first, kwh, costs)
    for row, (each, energy) in enumerate(zip(first, kwh)):
        one = cash_flow(each, energy, costs)
        np.testing.assert_allclose(flow.cumulated[row], one.cumulated, rtol=1e-12)
        np.testing.assert_allclose(
            [flow.payback_years[row], flow.internal_rate[row]],
            [one.payback_years, one.internal_rate],
            rtol=1e-9,
        )


@settings(max_examples=50, deadline=None, derandomize=True)
@given(st.floats(1, 1e5), st.floats(0, 1e5), st.floats(1.0, 60.0), st.floats(0.3, 30.0))
def test_books_close_for_any_life(first, kwh, life, every):
    costs = Costs(
        yearly_share=0.01,
        life_years=life,
        discount_rate=0.0,
        value_money_per_kwh=0.2,
        replacements=(Replacement(100, every),),
    )
    times = int(np.ceil(life / every - 1e-9)) - 1
    total = (0.2 * kwh - 0.01 * first) * life - first - 100 * times
    assert cash_flow(first, kwh, costs).cumulated[-1] == pytest.approx(total, rel=1e-9, abs=1e-6)


def test_needs_to_know_what_a_kwh_is_worth():
    for ask in (lambda: cash_flow(1.0, 1.0, Costs()), lambda: highest_capital_cost(1.0, Costs())):
        with pytest.raises(HydrokitError, match="the value of a kWh is not given"):
            ask()
