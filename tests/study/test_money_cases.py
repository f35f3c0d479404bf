"""Money where the demand is known, where nobody told it, and off the grid: each kWh at the price of what it replaces."""

import numpy as np
import pytest
from small_study import changed

from hydrokit.report.pages.p07 import costs as build_costs
from hydrokit.report.pages.p07 import money as page

ROOM = [{"name": "kitchen", "ua": "90 W/K"}]
COSTS = {
    "yearly": "2 %",
    "life": 20,
    "uncertainty": "15 %",
    "laying": "14 per m",
    "cable": "9 per m",
}


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda costs=(), **changes: changed(
        tmp_path / "study", costs=COSTS | dict(costs), **changes
    )


def annuity(years=20, rate=0.04):
    return sum((1 + rate) ** -year for year in range(1, years + 1))


def npv(first, income, yearly=0.02):
    """By the plain sum over the years."""
    return (income - yearly * first) * annuity() - first


def test_no_demand_gives_two_cases(study):
    s = study({"export": "0.06 per kWh"}, loads=None)
    used, sold = s.money.cases
    made, first = s.year.annual_kwh, s.money.first_money
    assert (used.name, sold.name) == ("all used", "all sold")
    assert used.income_money == pytest.approx(0.2 * made) and sold.income_money == pytest.approx(
        0.06 * made
    )
    for case in (used, sold):
        assert float(case.stands.npv_money) == pytest.approx(
            npv(first, case.income_money), rel=1e-9
        )
    answer = s.answer("value.kwh")
    assert answer.value == pytest.approx(0.2) and (answer.low, answer.high) == (
        pytest.approx(0.06),
        pytest.approx(0.2),
    )
    assert (
        s.answer("money.npv").low <= s.answer("money.npv_sold").value < s.answer("money.npv").value
    )
    text = page.pay_words(s, s.view()).text
    assert (
        "two cases" in text
        and "all of it used" in text
        and "all of it sold" in text
        and "pays in" not in text
    )
    table = build_costs.pay_table(s, s.view())
    assert sum("net present value" in row[0] for row in table.rows) == 2


def test_without_an_export_price_what_is_sold_brings_nothing(study):
    s = study(loads=None)
    assert (
        s.money.cases[1].income_money == 0 and float(s.money.cases[1].flow.payback_years) == np.inf
    )
    text = page.pay_words(s, s.view()).text
    assert "no export price is given" in text and "never paid back" in text


def test_what_meets_no_demand_is_sold_at_the_export_price(study):
    plain, sold = study(), study({"export": "0.06 per kWh"})
    used, made = sold.year.useful_annual_kwh, sold.year.annual_kwh
    assert plain.money.case.income_money == pytest.approx(
        0.2 * used
    ) and plain.money.case.kwh == pytest.approx(used)
    assert sold.money.case.income_money == pytest.approx(0.2 * used + 0.06 * (made - used))
    assert sold.money.case.kwh == pytest.approx(made)
    assert float(sold.money.stands.npv_money) == pytest.approx(
        npv(sold.money.first_money, sold.money.case.income_money), rel=1e-9
    )
    # the books give the same worth, draw by draw
    np.testing.assert_allclose(
        sold.money.flows.discounted[:, -1], sold.money.drawn.npv_money, rtol=1e-9, atol=1e-6
    )
    assert "are sold for 0.06" in page.pay_words(sold, sold.view()).text


def test_off_the_grid_heat_is_worth_the_fuel_it_replaces(study):
    loads = {"demand": None, "base_power": "300 W"}
    one, two = (
        study(room=ROOM, loads=loads),
        study({"value": "0.5 per kWh", "heat_value": "0.08 per kWh"}, room=ROOM, loads=loads),
    )
    use = two.use
    other, heat = use.other_kwh.sum(), use.heat_kwh.sum()
    assert (
        other > 0
        and heat > 0
        and other + heat == pytest.approx(two.year.useful_annual_kwh, rel=1e-9)
    )
    assert one.money.case.income_money == pytest.approx(0.2 * (other + heat))
    assert two.money.case.income_money == pytest.approx(0.5 * other + 0.08 * heat, rel=1e-9)
    assert two.answer("value.kwh").value == pytest.approx(
        (0.5 * other + 0.08 * heat) / (other + heat), rel=1e-9
    )


def test_heat_beyond_a_stated_need_counts_only_with_a_price_of_its_own(study):
    plain, told = study(room=ROOM), study({"heat_value": "0.08 per kWh"}, room=ROOM)
    extra = told.use.heat_kwh.sum()
    assert (
        extra > 0
        and told.money.case.income_money - plain.money.case.income_money
        == pytest.approx(0.08 * extra, rel=1e-9)
    )
    assert told.money.case.kwh - plain.money.case.kwh == pytest.approx(extra, rel=1e-9)


def test_a_loan_is_held_against_all_that_the_plant_costs_a_year(study):
    loan = {
        "loan_years": 12,
        "loan_rate": "5 %",
        "replacement": [{"name": "bearings", "cost": 900, "every": 3}],
    }
    s = study(loan)
    left = s.money.case.income_money - float(s.money.costs.upkeep_si(s.money.first_money))
    replaced = 900 * sum(1.04**-year for year in range(3, 20, 3)) / annuity()
    assert left == pytest.approx(
        s.money.case.income_money - 0.02 * s.money.first_money - replaced, rel=1e-9
    )
    text = page.terms_words(s, s.view()).text
    assert f"After upkeep and replacements a mean year leaves {s.view().money(left, 3)}" in text
    # where a mean year is too little, the bad one is said to be so as well
    assert "which is too little; a bad one" in text and "too little as well" in text
    rich = study(loan | {"value": "2 per kWh"})
    assert "which is enough; a bad one" in page.terms_words(rich, rich.view()).text


def test_a_value_without_energy_says_what_lacks(study):
    s = study(
        stream={
            "record": None,
            "record_uncertainty": None,
            "gaugings": None,
            "temperature": None,
            "cease_to_flow": None,
            "control": None,
        }
    )
    text = page.pay_words(s, s.view()).text
    assert (
        "Something is said under [costs]" in text
        and "neither a daily record nor a log nor gaugings" in text
    )
    nothing = study(penstock=None, turbine=None, cable=None, upgrade=None)
    assert "head, penstock and jets" in page.pay_words(nothing, nothing.view()).text


def test_a_few_gaugings_give_no_middle(study):
    s = study(
        site={"stage_of_work": "existing"},
        stream={"record": None, "record_uncertainty": None, "temperature": None},
        loads=None,
    )
    told = s.results()["money"]
    assert set(told) == {"worth_at_least", "worth_at_most"} and s.answer("money.worth") is None
    # no more can be used than is needed
    needy = study(
        site={"stage_of_work": "existing"},
        stream={"record": None, "record_uncertainty": None, "temperature": None},
        loads={"demand": "10 kWh"},
    )
    assert needy.money.energy.high_kwh == pytest.approx(120)


def test_frost_and_visits_come_off_the_money(study):
    """What the plant does not make it does not earn, in the mean year and in the draws."""
    operation = {
        "stops_per_winter": 4,
        "freezes_below": "-0.2 degC",
        "visit_days": 14,
        "jet_dead_band": "20 %",
    }
    plain, run = study(loads=None), study(loads=None, operation=operation)
    assert run.money.first_money == pytest.approx(plain.money.first_money, rel=1e-9)
    lost = plain.answer("energy.net").value - run.answer("energy.net").value
    assert (
        lost > 50
        and plain.money.case.income_money - run.money.case.income_money
        == pytest.approx(0.2 * lost, rel=1e-6)
    )
    assert run.answer("money.npv").value < plain.answer("money.npv").value
    assert np.median(run.money.drawn.npv_money) < np.median(plain.money.drawn.npv_money)
