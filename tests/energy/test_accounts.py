"""Accounts against books kept in plain numbers, a general finance library, and worked examples of others."""

import numpy as np
import numpy_financial as npf
import pytest

from hydrokit.energy.accounts import Terms, accounts, borrowed_share
from hydrokit.energy.borrowing import repaid
from hydrokit.energy.cash import CashFlow, highest_capital_cost
from hydrokit.energy.discounting import nominal_rate, real_rate
from hydrokit.energy.money import Costs, Replacement, appraise

COSTS = Costs(
    yearly_share=0.02,
    life_years=20,
    discount_rate=0.04,
    replacements=(Replacement(900, 8, "bearings"), Replacement(1500, 12, "control")),
    grant_money=6000,
    yearly_lines=(("insurance", 180.0), ("owner's labour", 420.0)),
    residual_money=2500,
    removal_money=900,
)
TERMS = Terms(0.025, 12, 0.055, loan_share=0.7, tax_rate=0.2, depreciation_years=15)
FIRST, INCOME = 38_000.0, {"energy used": 4300.0, "energy sold": 350.0}


def books(equal_principal=False, tax_rate=0.2):
    """The same plant in money of its day, a year at a time, with nothing of hydrokit."""
    built = 38_000 - 6000
    owed, carried = 0.7 * built, 0.0
    level = owed * 0.055 / (1 - 1.055**-12)
    rows = [dict(year=0, project=-built, owner=-built + owed, available=0.0, service=0.0, tax=0.0)]
    for year in range(1, 21):
        prices = 1.025**year
        cash = 4300 + 350 - 0.02 * 38_000 - 180 - 420
        cash -= 900 if year in (8, 16) else 0
        cash -= 1500 if year == 12 else 0
        cash *= prices
        end = (2500 - 900) * prices if year == 20 else 0.0
        interest = principal = 0.0
        if year <= 12:
            interest = 0.055 * owed
            principal = 0.7 * built / 12 if equal_principal else level - interest
            owed -= principal
        written_off = built / 15 if year <= 15 else 0.0
        gain = cash + end - written_off - interest - carried
        carried, tax = max(-gain, 0.0), tax_rate * max(gain, 0.0)
        rows.append(
            dict(
                year=year,
                project=cash + end,
                owner=cash + end - tax - interest - principal,
                available=cash - tax,
                service=interest + principal,
                tax=tax,
            )
        )
    return {name: np.array([row[name] for row in rows]) for name in rows[0]}


@pytest.mark.parametrize("equal_principal", [False, True])
@pytest.mark.parametrize("tax_rate", [0.0, 0.2])
def test_each_year_is_what_the_books_say(equal_principal, tax_rate):
    terms = Terms(
        0.025,
        12,
        0.055,
        loan_share=0.7,
        equal_principal=equal_principal,
        tax_rate=tax_rate,
        depreciation_years=15,
    )
    found, told = accounts(FIRST, INCOME, COSTS, terms), books(equal_principal, tax_rate)
    np.testing.assert_allclose(found.project * found.prices, told["project"], rtol=1e-12)
    np.testing.assert_allclose(found.service, told["service"], rtol=1e-9, atol=1e-8)
    np.testing.assert_allclose(found.tax, told["tax"], rtol=1e-9, atol=1e-8)
    np.testing.assert_allclose(found.owner, told["owner"], rtol=1e-9, atol=1e-7)
    cover = told["available"][1:13] / told["service"][1:13]
    np.testing.assert_allclose(found.cover[1:13], cover, rtol=1e-9)
    assert np.isnan(found.cover[[0, 13, 20]]).all() and found.own_money == pytest.approx(9600)


def test_real_and_nominal_accounts_come_to_the_same():
    found = accounts(FIRST, INCOME, COSTS, TERMS)
    real, nominal = found.project_flow, found.nominal_flow
    assert real.discounted[-1] == pytest.approx(nominal.discounted[-1], rel=1e-12)
    assert (1 + nominal.internal_rate) / 1.025 - 1 == pytest.approx(real.internal_rate, rel=1e-9)
    stands = appraise(FIRST, 1.0, COSTS, value_money_per_kwh=4650.0)
    assert real.discounted[-1] == pytest.approx(stands.npv_money, rel=1e-12)
    # the most that may be paid is worth nothing
    costs = Costs(**vars(COSTS) | {"value_money_per_kwh": 4650.0})
    most = highest_capital_cost(1.0, costs)
    assert appraise(most, 1.0, costs).npv_money == pytest.approx(0, abs=1e-7)


def test_a_general_finance_library_gives_the_same():
    found = accounts(FIRST, INCOME, COSTS, TERMS)
    rate = nominal_rate(COSTS.discount_rate, TERMS.inflation)
    assert found.owner_npv_money == pytest.approx(npf.npv(rate, found.owner), rel=1e-10)
    assert found.owner_flow.internal_rate == pytest.approx(npf.irr(found.owner), rel=1e-8)
    assert found.project_flow.internal_rate == pytest.approx(npf.irr(found.project), rel=1e-8)
    loan = repaid(22_400, 12, 0.055)
    periods = np.arange(1, 13)
    np.testing.assert_allclose(loan.interest, -npf.ipmt(0.055, periods, 12, 22_400), rtol=1e-9)
    np.testing.assert_allclose(loan.principal, -npf.ppmt(0.055, periods, 12, 22_400), rtol=1e-9)
    assert loan.service[0] == pytest.approx(-npf.pmt(0.055, 12, 22_400), rel=1e-12)


def test_loans_as_worked_by_others():
    """Sources: a yearly annuity of 40,000 at 5 % over 15 years by the closed form; the loan without interest of
    numpy-financial's documentation."""
    level, equal = repaid(40_000, 15, 0.05), repaid(40_000, 15, 0.05, True)
    np.testing.assert_allclose(level.interest[:3], [2000.00, 1907.32, 1810.00], atol=0.01)
    np.testing.assert_allclose(level.owed[:3], [38146.31, 36199.93, 34156.24], atol=0.01)
    np.testing.assert_allclose(level.service, 3853.6915, atol=1e-4)
    np.testing.assert_allclose(equal.service[[0, -1]], [4666.67, 2800.00], atol=0.01)
    np.testing.assert_allclose(repaid(15_000, 60, 0.0).service, 250.0, rtol=1e-12)
    # a part of a year at the end: all is paid back
    part = repaid(10_000, 7.5, 0.06)
    assert len(part.service) == 8 and part.owed[-1] == pytest.approx(0, abs=1e-8)


def test_debt_service_cover_as_worked_by_others():
    """4000 a year for the loan above: 1.03797; the largest at 1.30 is 31,937.41; with equal principal the first year
    is covered 0.857 times (closed form)."""
    costs = Costs(life_years=15, discount_rate=0.05)
    level, equal = (Terms(0.0, 15, 0.05, equal_principal=each) for each in (False, True))
    cover = accounts(40_000, {"energy": 4000.0}, costs, level).cover[1:]
    np.testing.assert_allclose(cover, 1.03797, atol=5e-6)
    share = borrowed_share(40_000, [(4000.0, 1.30)], costs, level)
    assert 40_000 * share == pytest.approx(31_937.41, abs=0.01)
    assert accounts(40_000, {"energy": 4000.0}, costs, equal).cover[1] == pytest.approx(
        0.857, abs=5e-4
    )
    assert borrowed_share(40_000, [(9000.0, 1.3)], costs, level) == 1.0
    assert borrowed_share(40_000, [(0.0, 1.3)], costs, level) == pytest.approx(0, abs=1e-9)


def test_the_case_that_leaves_least_governs():
    """Inputs of a project-finance course: 100 MW, 44 % and 36 % of its hours, 35 a MWh, 40 a kW and year, 25 years at
    4.5 %; 1.30 times of the P50 and 1.00 of the P99 give 108.25 and 104.355 million, of which the lesser governs."""
    p50, p99 = (35 * 100 * 8760 * share / 1e6 for share in (0.44, 0.36))
    costs = Costs(life_years=25, discount_rate=0.045, yearly_lines=(("upkeep", 4.0),))
    terms = Terms(0.0, 25, 0.045)
    governed = borrowed_share(140.0, [(p50, 1.30), (p99, 1.00)], costs, terms) * 140
    assert governed == pytest.approx(104.355, rel=1e-5)
    assert borrowed_share(140.0, [(p50, 1.30)], costs, terms) * 140 == pytest.approx(
        108.250, rel=1e-5
    )


def test_a_loan_that_outlasts_the_plant_falls_due_at_its_end():
    found = accounts(
        10_000, {"energy": 1500.0}, Costs(life_years=5, discount_rate=0.04), Terms(0.0, 8, 0.05)
    )
    assert found.principal.sum() == pytest.approx(10_000) and found.principal[-1] > 4000
    assert npf.npv(0.05, np.r_[10_000.0, -found.service[1:]]) == pytest.approx(0, abs=1e-6)


def flow(*money, rate=0.0):
    return CashFlow(np.arange(len(money), dtype=float), np.array(money, dtype=float), rate)


@pytest.mark.parametrize(
    "money, rates",
    [
        ([-70_000, 12_000, 15_000, 18_000, 21_000], [-0.021245]),
        ([-70_000, 12_000, 15_000, 18_000, 21_000, 26_000], [0.086631]),
        ([-70_000, 12_000, 15_000], [-0.443507]),
        ([-150_000, 15_000, 25_000, 35_000, 45_000, 60_000], [0.0524328889]),
        ([-100, 39, 59, 55, 20], [0.2809484]),
        ([-100, 100, 0, -7], [-0.6788944, -0.0832997]),
        ([-5, 10.5, 1, -8, 1], [-0.8702012, 0.0885983, 0.7095595]),
    ],
)
def test_every_rate_of_return_is_found(money, rates):
    """Spreadsheet documentation and numpy-financial's; second and third roots by polynomial."""
    np.testing.assert_allclose(flow(*money).all_rates, rates, atol=1e-6)
    if len(rates) == 1:
        assert flow(*money).all_rates[0] == pytest.approx(npf.irr(money), abs=1e-8)


def test_a_rate_below_zero_is_none_and_discounting_may_mean_never():
    assert np.isnan(flow(-70_000, 12_000, 15_000, 18_000, 21_000).internal_rate)
    ten = flow(-1_748_000, *[400_000] * 10, rate=0.19)  # an exercise: 4.37 years, but never
    assert ten.payback_years == pytest.approx(4.37) and np.isinf(ten.discounted_payback_years)
    assert ten.discounted[-1] == pytest.approx(-12_426, abs=1)


def test_real_and_nominal_may_not_be_mixed():
    """-15000, then nominal 9000, 8000, 7000 at 20 % and 10 % inflation: 2106.48 by either road; deflated flows at the
    nominal rate give -546.93, which no accounts here do."""
    nominal = flow(-15_000, 9000, 8000, 7000, rate=0.20)
    real = CashFlow(nominal.years, nominal.money / 1.1**nominal.years, real_rate("20 %", "10 %"))
    assert nominal.discounted[-1] == pytest.approx(2106.4815, abs=1e-4)
    assert real.discounted[-1] == pytest.approx(2106.4815, abs=1e-4)


def test_one_thing_at_a_time():
    """-60000, 4800 - 800 a year, 25 years, 5000 left at the end, 6 %: the closed form and the library agree."""
    base = dict(
        life_years=25,
        discount_rate=0.06,
        residual_money=5000,
        yearly_lines=(("upkeep", 800.0),),
    )

    def npv(first=60_000.0, income=4800.0, **more):
        return float(
            appraise(first, 1.0, Costs(**base | more), value_money_per_kwh=income).npv_money
        )

    assert npv() == pytest.approx(-7701.58, abs=0.01)
    assert npv(66_000) == pytest.approx(-13_701.58, abs=0.01)
    assert npv(54_000) == pytest.approx(-1701.58, abs=0.01)
    assert npv(income=4320) == pytest.approx(-13_837.59, abs=0.01)
    assert npv(income=5280) == pytest.approx(-1565.57, abs=0.01)
    assert npv(yearly_lines=(("upkeep", 880.0),)) == pytest.approx(-8724.25, abs=0.01)
    assert npv(discount_rate=0.04) == pytest.approx(4363.90, abs=0.01)
    assert npv(discount_rate=0.08) == pytest.approx(-16_570.81, abs=0.01)
    cost = appraise(
        60_000, 24_000, Costs(**base | {"yearly_lines": (("upkeep", 800.0),)})
    ).levelised_money_per_kwh
    assert cost == pytest.approx(0.225103, abs=1e-6)
    books = accounts(60_000, {"energy": 4800.0}, Costs(**base), Terms())
    assert books.project_flow.internal_rate == pytest.approx(0.046520, abs=1e-6)
    assert np.isinf(books.project_flow.discounted_payback_years)


def test_what_is_not_given_changes_nothing():
    """Contingency, building, grant, yearly lines and end of nothing give the numbers of before."""
    old = Costs(fixed_money=9000, yearly_share=0.02, life_years=25, value_money_per_kwh=0.2)
    new = Costs(**vars(old) | {"contingency": 0.1, "building_interest": 0.02})
    assert new.first_si(5000.0, 2) == pytest.approx(1.1 * 1.02 * old.first_si(5000.0, 2))
    assert old.first_si(0.0, 0) == 9000 and old.paid_si(9000.0) == 9000
    assert old.upkeep_si(9000.0) == 180
