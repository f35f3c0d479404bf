"""A plant with all its terms of payment, against books recomputed from the site file in plain numbers."""

import numpy as np
import numpy_financial as npf
import pytest
from small_study import changed

from hydrokit.errors import Finding
from hydrokit.report.pages.p07 import bank
from hydrokit.study.build.loan import loan

COSTS = {
    "yearly": "2 %", "life": 20, "uncertainty": "15 %", "laying": "14 per m", "cable": "9 per m", "export": "0.06 per kWh",
    "contingency": "10 %", "building_months": 9, "grant": 3000, "insurance": 110, "abstraction_fee": 40, "land_rent": 60, "standing_charge": 90,
    "labour_visits": 20, "labour_hours": "45 min", "labour_rate": "12 per h", "residual_value": 1500, "removal": 600,
    "inflation": "2 %", "loan_years": 12, "loan_rate": "5.5 %", "loan_share": "60 %", "tax_rate": "20 %", "depreciation_years": 15,
    "replacement": [{"name": "bearings", "cost": 500, "every": 7}],
}  # fmt: skip


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return changed(tmp_path_factory.mktemp("terms") / "whole", costs=COSTS)


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    few = {"yearly": "2 %", "life": 20, "laying": "14 per m", "cable": "9 per m"}
    return changed(tmp_path_factory.mktemp("terms") / "plain", costs=few)


def books(study, income):
    """Project in prices of today, owner's money and cover in money of its day; nothing of the money room is used."""
    bought = sum(
        cost
        for name, cost in study.money.items
        if name not in ("contingency", "interest during construction")
    )
    month = 1.055 ** (1 / 12) - 1
    owed_when_built = sum((bought * 1.1 / 9) * (1 + month) ** (9 - each) for each in range(1, 10))
    capital = owed_when_built
    built = capital - 3000
    owed = 0.6 * built
    level = -npf.pmt(0.055, 12, owed)
    running = 0.02 * capital + 110 + 40 + 60 + 90 + 20 * 0.75 * 12
    project, owner, cover, carried = [-built], [-built + owed], [], 0.0
    for year in range(1, 21):
        prices = 1.02**year
        cash = income - running - (500 if year in (7, 14) else 0)
        end = 900 if year == 20 else 0
        project.append(cash + end)
        interest = 0.055 * owed if year <= 12 else 0.0
        principal = level - interest if year <= 12 else 0.0
        owed -= principal
        gain = (cash + end) * prices - (built / 15 if year <= 15 else 0) - interest - carried
        carried, tax = max(-gain, 0.0), 0.2 * max(gain, 0.0)
        owner.append((cash + end) * prices - tax - interest - principal)
        if year <= 12:
            cover.append((cash * prices - tax) / level)
    return capital, np.array(project), np.array(owner), np.array(cover)


def test_every_figure_is_that_of_the_books(study):
    used, made = study.year.useful_annual_kwh, study.year.annual_kwh
    income = 0.2 * used + 0.06 * (made - used)
    capital, project, owner, cover = books(study, income)
    found, case = study.accounts, study.money.case
    assert study.answer("money.capital").value == pytest.approx(capital, rel=1e-9)
    assert case.income_lines["energy used"] == pytest.approx(0.2 * used, rel=1e-9)
    assert sum(case.income_lines.values()) == pytest.approx(income, rel=1e-9)
    np.testing.assert_allclose(found.project, project, rtol=1e-9)
    np.testing.assert_allclose(found.owner, owner, rtol=1e-9, atol=1e-7)
    np.testing.assert_allclose(found.cover[1:13], cover, rtol=1e-9)
    rate = 1.04 * 1.02 - 1
    prices = 1.02 ** np.arange(21)
    assert study.answer("money.npv").value == pytest.approx(npf.npv(0.04, project), rel=1e-9)
    assert study.answer("money.npv").value == pytest.approx(
        npf.npv(rate, project * prices), rel=1e-9
    )
    assert study.answer("money.npv_owner").value == pytest.approx(npf.npv(rate, owner), rel=1e-9)
    assert study.answer("money.irr").value == pytest.approx(npf.irr(project), rel=1e-6)
    # levelised cost: all that is paid, discounted, over all energy that earns, discounted
    paid = np.r_[0.0, np.full(20, income)] - project
    lcoe = npf.npv(0.04, paid) / npf.npv(0.04, np.r_[0.0, np.full(20, made)])
    assert study.answer("money.lcoe").value == pytest.approx(lcoe, rel=1e-9)
    so_far = np.cumsum(project)
    year = int(np.argmax(so_far > 0))
    back = year - so_far[year] / project[year]
    assert study.answer("money.payback").value == pytest.approx(back, rel=1e-9)


def worth(study, income, first=1.0, running=1.0, labour=1.0, rate=0.04):
    """Net present value by the plain sum over the years, with one thing or another times a factor."""
    capital = first * books(study, 0.0)[0]
    paid = (0.02 * capital + 300) * running + 180 * labour
    years = np.full(20, income - paid)
    years[[6, 13]] -= 500
    years[-1] += 900
    return npf.npv(rate, np.r_[3000 - capital, years])


def test_what_stands_beside_the_books(study):
    """What it may cost at most, the ends of the tornado, the draws, the first instalment, each line of a year."""
    case, income = study.money.case, study.money.case.income_money
    capital, project, _, _ = books(study, income)
    assert worth(study, income) == pytest.approx(npf.npv(0.04, project), rel=1e-9)
    assert worth(study, income, case.most_money / capital) == pytest.approx(0, abs=1e-6)
    assert study.answer("money.worth").value == pytest.approx(income, rel=1e-9)
    discounted = np.cumsum(project / 1.04 ** np.arange(21))
    back = np.inf
    if discounted[-1] > 0:
        year = int(np.argmax(discounted > 0))
        back = year - discounted[year] / (project[year] / 1.04**year)
    assert case.flow.discounted_payback_years == pytest.approx(back, rel=1e-9)
    moves = {each.key: each for each in study.npv_moves}
    for each, by in (
        *((moves["capital"], lambda by: worth(study, income, first=by)),),
        *((moves["energy"], lambda by: worth(study, income * by)),),
        *((moves["running"], lambda by: worth(study, income, running=by)),),
        *((moves["labour"], lambda by: worth(study, income, labour=by)),),
        *((moves["rate"], lambda by: worth(study, income, rate=by)),),
    ):
        assert (each.low_money, each.high_money) == pytest.approx((by(each.low), by(each.high)))
    first, kwh = case.draws
    drawn = [worth(study, money, cost / capital) for money, cost in zip(case.draws_money, first)]
    np.testing.assert_allclose(case.drawn.npv_money, drawn, rtol=1e-9)
    assert case.pays == np.mean(np.array(drawn) > 0)
    tenth = int(np.ceil(len(drawn) / 10))
    assert case.npv_band.low == pytest.approx(sorted(drawn)[tenth - 1])
    annuity = npf.npv(0.04, np.r_[0.0, np.ones(20)])
    lcoe = [
        (money * annuity - npv) / (annuity * used)
        for money, npv, used in zip(case.draws_money, drawn, kwh)
    ]
    np.testing.assert_allclose(case.drawn.levelised_money_per_kwh, lcoe, rtol=1e-9)
    # the loan in its first year
    lent = loan(study)
    assert study.answer("money.loan").value == pytest.approx(0.6 * (capital - 3000))
    assert lent.instalment_money == pytest.approx(-npf.pmt(0.055, 12, 0.6 * (capital - 3000)))
    spread = (
        500 * (1.04**-7 + 1.04**-14) / annuity
    )  # what the plant is worth at its end pays no instalment
    left = income - 0.02 * capital - 480 - spread
    assert lent.left_money[case.name] == pytest.approx(1.02 * left)
    lines = {row[0]: row[1] for row in bank.yearly_table(study, study.view()).rows}
    told = {
        "operation and maintenance": 0.02 * capital,
        "insurance": 110,
        "abstraction fee": 40,
        "land rent": 60,
        "standing charge": 90,
        "owner's labour": 180,
        "left before replacements, loan and tax": income - 0.02 * capital - 480,
    }
    assert {name: lines.get(name) for name in told} == {
        name: round(each) for name, each in told.items()
    }


def test_cover_is_that_of_the_income_exceeded(study):
    """Years of the record's own draws, put in order by hand; each case through the books."""
    drawn = study.energy_uncertainty
    of = {
        "single": (drawn.useful_single_kwh.sum(axis=1), drawn.single_kwh.sum(axis=1)),
        "several": tuple(
            drawn.outlook.kwh("several", each, 10).sum(axis=1) for each in (True, False)
        ),
    }
    income = {
        name: np.sort(0.2 * used + 0.06 * np.maximum(made - used, 0))
        for name, (used, made) in of.items()
    }
    for key, name, level in (
        ("p50", "single", 50),
        ("p90_ten", "several", 90),
        ("p90", "single", 90),
        ("p99", "single", 99),
    ):
        draws = income[name]
        exceeded = draws[int(np.ceil((1 - level / 100) * len(draws))) - 1]
        _, _, _, cover = books(study, exceeded)
        assert study.answer(f"money.cover.{key}.least").value == pytest.approx(cover.min(), 1e-9)
        assert study.answer(f"money.cover.{key}.mean").value == pytest.approx(cover.mean(), 1e-9)
    least = [
        study.answer(f"money.cover.{key}.least").value for key in ("p50", "p90_ten", "p90", "p99")
    ]
    assert least == sorted(least, reverse=True)


def test_the_largest_loan_just_keeps_to_what_is_asked(study, tmp_path):
    """Asked of little, so that some loan does: at its size the worst of the cases has just its ratio."""
    asked = {"cover_p50": 0.5, "cover_p90": 0.2, "cover_p99": 0.1, "value": "1.5 per kWh"}
    rich = study.changed({f"costs.{key}": value for key, value in asked.items()})
    largest = rich.answer("money.loan_largest").value
    built = rich.money.first_money - 3000
    if largest < built:
        share = rich.changed({"costs.loan_share": largest / built})
        worst = min(each.least - each.asked for each in share.debt_cover.cases if each.asked)
        assert worst == pytest.approx(0, abs=1e-6)
    else:
        assert all(
            each.kept is not False
            for each in rich.changed({"costs.loan_share": 1.0}).debt_cover.cases
        )
    assert largest > 0


def test_without_inflation_and_terms_all_is_as_before(plain):
    """The plain annuity and the plain sum over the years."""
    found, first = plain.accounts, plain.money.first_money
    assert first == pytest.approx(sum(cost for _, cost in plain.money.items))
    assert {name for name, _ in plain.money.items}.isdisjoint(
        {"contingency", "interest during construction"}
    )
    income = plain.money.case.income_money
    np.testing.assert_allclose(found.project, np.r_[-first, np.full(20, income - 0.02 * first)])
    np.testing.assert_array_equal(found.project, found.owner)
    assert plain.debt_cover is None and plain.answer("money.npv_owner") is None


def test_the_first_kwh_may_be_worth_more(plain):
    """900 kWh at 0.6, the others at 0.2, by hand; one more kWh beyond them is worth 0.2."""
    used = plain.year.useful_annual_kwh
    tier = plain.changed({"costs.first_value": "0.6 per kWh", "costs.first_energy": "900 kWh"})
    assert used > 900
    assert tier.money.case.income_money == pytest.approx(900 * 0.6 + (used - 900) * 0.2, rel=1e-9)
    assert tier.valuing.next_money_per_kwh(used) == pytest.approx(0.2)
    assert tier.valuing.next_money_per_kwh(500.0) == pytest.approx(0.6)
    all_of_it = tier.changed({"costs.first_energy": "1 GWh"})
    assert all_of_it.money.case.income_money == pytest.approx(0.6 * used, rel=1e-9)


def test_what_moves_the_worth_most_comes_first(study):
    moves = {each.key: each for each in study.npv_moves}
    assert list(moves) == sorted(moves, key=lambda key: -moves[key].width)
    assert set(moves) == {"value", "energy", "capital", "rate", "running", "labour"}
    base = study.answer("money.npv").value
    _, project, _, _ = books(study, study.money.case.income_money)
    annuity = npf.npv(0.04, np.r_[0.0, np.ones(20)])
    by_hand = study.money.case.income_money * 0.2 * annuity
    assert moves["value"].high_money - base == pytest.approx(by_hand, rel=1e-9)
    assert base - moves["labour"].high_money == pytest.approx(0.5 * 180 * annuity, rel=1e-9)
    assert moves["rate"].high_money == pytest.approx(npf.npv(0.06, project), rel=1e-9)
    assert moves["capital"].low < 1 < moves["capital"].high


def said(findings: tuple[Finding, ...]) -> str:
    return " ".join(each.message for each in findings)


def test_keys_without_effect_are_told(plain):
    lonely = plain.changed(
        {
            "costs.first_value": "0.6 per kWh",
            "costs.labour_rate": "10 per h",
            "costs.loan_share": "50 %",
            "costs.depreciation_years": 10,
            "costs.grant": 10**6,
        }
    )
    text = said(lonely.ignored_findings)
    for key in ("first_value", "labour_rate", "loan_share", "depreciation_years"):
        assert key in text
    assert "the grant of" in said(lonely.cover_findings)
    assert lonely.answer("money.npv").value > 0  # no more than the capital cost is given


def test_a_loan_that_outlasts_the_plant_is_told(plain):
    long = plain.changed({"costs.loan_years": 30, "costs.loan_rate": "6 %"})
    assert "falls due at its end" in said(long.cover_findings)
    assert "the largest" not in said(long.cover_findings)
    assert long.accounts.principal.sum() == pytest.approx(long.money.first_money)
