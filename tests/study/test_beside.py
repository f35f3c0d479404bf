"""The owner's plan beside the recommended size: on one basis, told on the pages, and never where they are the same."""

import numpy_financial
import odd_studies
import pytest

from hydrokit.report.display import Words
from hydrokit.report.pages.p04 import beside, sizing

COSTS = {"yearly": "2 %", "laying": "14 per m", "cable": "9 per m"}


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    made = {}

    def study(name, **sections):
        if name not in made:
            folder = tmp_path_factory.mktemp("beside") / name
            made[name] = odd_studies.opened(folder, "sizing decides", costs=COSTS, **sections)
        return made[name]

    return study


def test_a_plan_of_the_recommended_size_has_nothing_beside_it(opened):
    """And what stands beside another is counted alike: energy, cost and benefit of the same size are the same."""
    free = opened("free")
    choice = free.sizing.choice
    size = {"140 mm PVC-U PN 10": "PVC-U PN 10 140 mm", "125 mm PVC-U PN 10": "PVC-U PN 10 125 mm"}[
        choice.pipe.name
    ]
    plan = {"design_flow": f"{choice.flow_m3s * 1000} L/s", "jets": choice.jets}
    same = opened("same", plan=plan, penstock={"pipe": [{"size": size}]})
    assert same.sizing.choice.index == choice.index and same.beside is None
    assert beside.beside_words(same, same.view()).text == ""
    for mine, theirs, along in (
        ("energy.net", "recommended.energy", same.sizing.choice.kwh),
        ("demand.met", "recommended.useful", same.sizing.choice.useful_kwh),
        ("money.capital", "recommended.capital", same.sizing.choice.first_money),
        ("plan.benefit", "recommended.benefit", same.sizing.choice.worth_money),
        ("money.npv", "recommended.npv", same_npv(same)),
    ):
        one, other = same.answer(mine).value, same.answer(theirs).value
        assert one == pytest.approx(along, rel=5e-3), mine  # by its days and along the sweep
        assert one == other, mine  # one size, one number


def same_npv(study):
    """Net present value of the size of the sweep, by the annuity of numpy-financial."""
    costs = study.sizing.costs
    return study.sizing.choice.worth_money * -numpy_financial.pv(
        costs.discount_rate, costs.life_years, 1
    )


def test_a_plan_of_its_own_is_held_against_the_recommended(opened):
    study = opened("large", plan={"design_flow": "16 L/s", "jets": 4})
    assert study.plan.flow_m3s == pytest.approx(0.016) and study.plan.jets == 4
    assert study.plant.jets.count == 4  # all pages speak of it
    found, view = study.beside, study.view()
    assert found.dearer_money == pytest.approx(
        study.money.first_money - study.sizing.choice.first_money
    )
    assert found.better_money == pytest.approx(
        study.sizing.choice.worth_money - float(study.money.case.stands.worth_money)
    )
    table = dict((row[0], row[1:]) for row in beside.beside_table(study, view).rows)
    assert "16 L/s" in table["design flow"][0] and "6 L/s" in table["design flow"][1]
    words = beside.beside_words(study, view).text
    assert "more to build" in words and "less a year" in words
    assert "capital cost" in beside.beside_figure(study, view).alt
    us = beside.beside_table(study, study.view("us"))
    assert "gpm" in us.rows[0][1]


def test_the_plan_is_argued_on_the_pages_of_energy_and_money_too(opened):
    """Power, kWh, net present value and cover of both, wherever a page speaks of the plan alone."""
    study = opened("lent", plan={"design_flow": "16 L/s", "jets": 4}).changed(
        {"costs.loan_years": 10, "costs.loan_rate": "6 %", "costs.loan_share": "60 %"}
    )
    view = study.view()
    headline = sizing.headline(study, view).text
    for key in ("plant.full_power", "recommended.power", "energy.net", "recommended.energy"):
        assert Words(view.shown(study.answer(key))).text in headline, key
    energy, money = beside.energy_words(study, view).text, beside.money_words(study, view).text
    assert Words(view.shown(study.answer("recommended.energy"))).text in energy
    for key in ("money.npv", "recommended.npv", "money.cover.p50.least", "recommended.cover"):
        assert Words(view.shown(study.answer(key))).text in money, key
    # the loan of the recommended size by a general library: its income over what it pays back
    choice, costs = study.sizing.choice, study.sizing.costs
    earned = choice.worth_money + float(costs.yearly_si(choice.first_money))
    ratio = study.debt_cover.cases[0].income_money / study.money.case.income_money
    service = -numpy_financial.pmt(0.06, 10, 0.6 * choice.first_money)
    spent = costs.yearly_share * choice.first_money
    assert study.answer("recommended.cover").value == pytest.approx(
        (earned * ratio - spent) / service, rel=1e-3
    )


def test_a_plan_that_says_too_little_or_nothing_new_is_told(opened):
    lonely = opened("free").changed({"plan.jets": 3})
    assert any("design_flow" in each.message for each in lonely.ignored_findings)
    told = lonely.changed({"plan.design_flow": "9 L/s", "turbine.jet_diameter": "20 mm"})
    assert any("[plan] has no effect" in each.message for each in told.ignored_findings)
