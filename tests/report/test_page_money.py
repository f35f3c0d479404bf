"""The page on money: a plant that pays, one that never does, one that stands, one of which little is said."""

import copy
import re
from dataclasses import replace

import numpy as np
import pytest
import small_study
from small_study import SITE, write

from hydrokit.energy.money import appraise
from hydrokit.report.pages.p07 import bank, moves
from hydrokit.report.pages.p07 import costs as cost_tables
from hydrokit.report.pages.p07 import money as page
from hydrokit.sentences import plain_number
from hydrokit.study.opening import open_study


@pytest.fixture(scope="module")
def study_of(tmp_path_factory):
    """The small study with other costs, and whole sections changed or taken out; kept, since tests only look."""
    made = {}

    def opened(name, costs=None, **sections):
        if name not in made:
            site = copy.deepcopy(SITE) | sections
            costs = (
                site["costs"]
                | {
                    "yearly": "2 %",
                    "life": 20,
                    "uncertainty": "15 %",
                    "cable": "9 per m",
                    "laying": "14 per m",
                }
                | (costs or {})
            )
            site["costs"] = {key: value for key, value in costs.items() if value is not None}
            site = {
                key: value
                for key, value in site.items()
                if value is not None and sections.get(key, "") is not None
            }
            made[name] = open_study(write(tmp_path_factory.mktemp("money") / name, site))
        return made[name]

    return opened


def said(study, system="metric"):
    return small_study.said(small_study.page_modules("p07"), study, system)


WHOLE = dict(
    costs={
        "replacement": [{"name": "bearings", "cost": 600, "every": 7}],
        "loan_years": 12,
        "loan_rate": "5 %",
        "replaces": "oil",
    }
)


def test_the_capital_cost_is_the_sum_of_its_items(study_of):
    """By hand: pipe and laying by the metre along the slope, machine by the watt of its generator, cable by the metre."""
    study = study_of("whole", **WHOLE)
    items = dict(study.money.items)
    length = study.penstock.length_m
    assert items["pipe"] == pytest.approx(10 * length) and items["laying it"] == pytest.approx(
        14 * length
    )
    # the machine by what its generator gives at full flow, 85 % of the shaft's, whatever the cable then loses
    assert items["machine and switchboard"] == pytest.approx(
        0.85 * float(study.plant.running().shaft_si(np.inf).max())
    ) and items["cable, laid"] == pytest.approx(540)
    assert items[
        "intake, access, design, licence"
    ] == 5000 and study.money.first_money == pytest.approx(sum(items.values()))


def test_a_plant_of_the_recommended_size_costs_what_the_sizing_says(study_of):
    turbine = {
        key: value for key, value in SITE["turbine"].items() if key not in ("jet_diameter", "jets")
    }
    recommended = study_of("free", turbine=turbine).sizing.choice
    size = {"140 mm PVC-U PN 10": "PVC-U PN 10 140 mm", "125 mm PVC-U PN 10": "PVC-U PN 10 125 mm"}[
        recommended.pipe.name
    ]
    study = study_of(
        "chosen", turbine=turbine, penstock=SITE["penstock"] | {"pipe": [{"size": size}]}
    )
    assert study.described is None and study.sizing.choice.first_money == pytest.approx(
        recommended.first_money, rel=1e-9
    )
    assert study.money.first_money == pytest.approx(recommended.first_money, rel=1e-9)


def test_it_counts_only_what_is_of_use_and_draws_costs_apart_from_energy(study_of):
    found = study_of("whole", **WHOLE).money
    assert found.energy.kwh == pytest.approx(study_of("whole", **WHOLE).year.useful_annual_kwh)
    first, kwh = found.draws
    assert len(first) == len(kwh) == 100 and abs(np.corrcoef(first, kwh)[0, 1]) < 0.25
    one = appraise(first[3], kwh[3], found.costs)
    assert found.drawn.npv_money[3] == pytest.approx(one.npv_money)
    # the books and the formula give the same worth: nothing is counted twice
    np.testing.assert_allclose(
        found.flows.discounted[:, -1], found.drawn.npv_money, rtol=1e-9, atol=1e-6
    )


def test_the_table_has_the_digits_of_the_answers(study_of):
    study = study_of("whole", **WHOLE)
    made = cost_tables.pay_table(study, study.view())
    case = study.money.case
    shown = {str(row[0]).partition(" [")[0]: made.cell(row[2]) for row in made.rows}
    for name, middle in (
        ("net present value", case.npv_band.median),
        ("levelised cost of a kWh", case.levelised_band.median),
        ("payback", case.payback_band.median),
        ("internal rate of return", 100 * case.rate_band.median),
    ):
        assert shown[name] == (plain_number(middle, 2), True)


def test_the_words_say_the_numbers(study_of):
    study = study_of("whole", **WHOLE)
    text = said(study)
    assert f"{study.money.flow.payback_years:.2g} years" in text and "the price of oil" in text
    assert (
        "Borrowed over 12 years at 5 %" in text
        and "Replacing bearings costs" in text
        and "every 7 years" in text
    )
    # money has no unit but that of a price by the length
    by_length = re.compile(r"[\d,.]+ (m|ft) at [\d,.]+ money/\1")
    assert by_length.sub("", said(study, "us")) == by_length.sub("", said(study))


@pytest.mark.parametrize(
    "name, costs, says",
    [
        ("dear", {"fixed": 900000}, ["does not pay it back", "pays in fewer than 1 of 100 draws", "At no discount rate", "never", "stays below zero"]),
        ("cheap", {"fixed": 1, "per_power": "0.01 per kW", "laying": "0 per m", "cable": None}, ["pays in more than 99 of 100 draws", "net present value"]),
        ("worthless", {"value": "0 per kWh"}, ["does not pay it back"]),
        ("unvalued", {"value": None}, ["The value of a kWh is not given", "levelised cost of the useful energy"]),
        ("silent", {"fixed": None, "per_power": None, "pipes": None, "laying": None, "cable": None}, ["A plant that lasts 20 years is worth its cost up to"]),
        ("free money", {"discount_rate": "0 %", "uncertainty": None, "yearly": None}, ["no uncertainty is given"]),
        ("short", {"life": 1}, ["its life of|within its 1 year"]),
    ],
)  # fmt: skip
def test_other_costs_read_true(study_of, name, costs, says):
    text = said(study_of(name, costs))
    assert all(re.search(each, text) for each in says), text


def test_a_plant_that_stands_says_what_upkeep_may_cost(study_of):
    study = study_of("stands", {"visit": 8}, site=SITE["site"] | {"stage_of_work": "existing"})
    text = said(study)
    assert (
        study.money.items == ()
        and "An overhaul that keeps it running for 20 years more" in text
        and "one walk to the intake" in text
    )
    # analytic: what it may cost earns itself back at just the discount rate, over its life
    most = study.money.most_money
    assert appraise(most, study.money.energy.kwh, study.money.costs).npv_money == pytest.approx(
        0, abs=1e-6
    )


def test_a_few_gaugings_give_a_range_only(study_of):
    study = study_of(
        "thin",
        site=SITE["site"] | {"stage_of_work": "existing"},
        stream={"gaugings": "gaugings.csv", "cease_to_flow": "0 m"},
    )
    assert study.record is None and study.money.energy.low_kwh == study.bracket.low_kwh
    assert "give no narrower range" in said(study)


def test_without_costs_it_says_what_to_give(study_of):
    site = {key: value for key, value in SITE.items() if key != "costs"}
    study = open_study(write(study_of("whole", **WHOLE).path.parent / "nothing", site))
    assert study.money is None and "value =" in page.pay_words(study, study.view()).text


def test_a_pipe_without_a_price_is_told(study_of):
    study = study_of("unpriced", {"pipes": None})
    assert (
        "no price is given for" in study.money.findings[0].message
        and "140 mm" in study.money.findings[0].message
    )


def test_a_price_changes_the_money_and_never_the_energy(study_of):
    one, other = study_of("whole", **WHOLE), study_of("dear", {"fixed": 900000})
    assert one.money.energy.kwh == other.money.energy.kwh
    assert (
        one.results()["money"]["cost_per_kwh"] < other.results()["money"]["cost_per_kwh"]
        and "payback_years" not in other.results()["money"]
    )


def test_text_of_the_file_stays_text(study_of):
    text = page.pay_words(
        study_of(
            "hostile",
            {
                "replaces": "<script>alert(1)</script>",
                "replacement": [{"name": "<b>x</b>", "cost": 1, "every": 3}],
            },
        ),
        study_of("hostile").view(),
    ).text
    assert (
        "<script>" not in text
        and "<b>" not in page.terms_words(study_of("hostile"), study_of("hostile").view()).text
    )


def test_the_middle_80_per_cent_leave_out_a_tenth_at_each_end(study_of):
    case = study_of("whole", **WHOLE).money.case
    npv = np.sort(case.drawn.npv_money)
    found = case.npv_band
    assert (npv < found.low).sum() < len(npv) / 10 <= (npv <= found.low).sum()
    assert (npv > found.high).sum() <= len(npv) / 10 and found.low < found.median < found.high
    # analytic: the capital cost is log-normal with median 1, 1.2816 standard deviations to the tenth
    width = np.exp(2 * 1.28155 * np.sqrt(np.log1p(case.plain.uncertainty**2)))
    assert case.first_band.high / case.first_band.low == pytest.approx(width, rel=0.03)


def test_where_the_energy_is_not_drawn_the_costs_stand_as_calculated(study_of):
    """One draw of costs alone, shown as low, median and high, would be a number by chance."""
    case = replace(
        study_of("whole", **WHOLE).money.case,
        draws_kwh=np.array([1e4]),
        draws_money=np.array([2e3]),
    )
    assert case.draws[0] == pytest.approx(case.first_money)
    assert case.first_band.low < case.first_money < case.first_band.high


BANK = dict(
    costs={
        "value": "0.6 per kWh",
        "replacement": [{"name": "bearings", "cost": 600, "every": 7}],
        "loan_years": 12,
        "loan_rate": "5 %",
        "loan_share": "60 %",
        "inflation": "2 %",
        "insurance": 90,
        "labour_visits": 12,
        "labour_rate": "10 per h",
        "tax_rate": "10 %",
        "removal": 700,
    }
)


def test_the_accounts_add_up_as_they_are_read(study_of):
    """Each row of the table by its own columns, and the last number of the last column."""
    study = study_of("bank", **BANK)
    shown = bank.accounts_table(study, study.view())
    rows = [dict(zip(shown.columns, [each or 0 for each in row])) for row in shown.rows]
    for row in rows:
        left = row["earned"] + row["running costs"] + row["replacements"] + row["tax"]
        assert row["left"] == pytest.approx(left, abs=3)
        owner = row["left"] + row["interest"] + row["principal"] + row["own money, end"]
        assert row["to the owner"] == pytest.approx(owner, abs=3)
    assert rows[-1]["so far"] == pytest.approx(sum(row["to the owner"] for row in rows), abs=15)
    table = study.accounts.table()
    assert table["owner so far"].iloc[-1] == pytest.approx(study.accounts.owner.sum())
    lines = bank.lines_table(study, study.view())
    assert lines.rows[-1][-1] == round(study.answer("money.npv").value)
    assert {"insurance", "owner's labour", "removal"} <= set(lines.columns)


def test_the_cover_is_told_with_what_a_bank_asks(study_of):
    study = study_of("bank", **BANK)
    table = bank.cover_table(study, study.view())
    assert [row[0] for row in table.rows] == [
        "P50, one year",
        "P90, mean of ten years",
        "P90, one year",
        "P99, one year",
    ]
    assert [row[5] for row in table.rows] == ["1.35", "1.20", "none", "1.00"]
    words = bank.cover_words(study, study.view()).text
    assert "common practice" in words and "largest loan" in words
    assert "asked 1.35" in bank.cover_figure(study, study.view()).alt


NAMES = {
    "value": "value of a kWh",
    "capital": "capital cost",
    "energy": "energy that earns",
    "rate": "discount rate",
    "running": "yearly costs",
}


def test_the_tornado_says_what_moves_most_and_which_input_turns_the_sign(study_of):
    study = study_of("bank", **BANK)
    first = study.npv_moves[0].key
    said = moves.tornado_figure(study, study.view()).alt
    assert f"The {NAMES[first]} moves it most" in said
    price = study_of("whole", **WHOLE).answer("money.lcoe").value
    even = study_of("even", WHOLE["costs"] | {"value": f"{1.05 * price} per kWh"})
    turned = [
        each.key
        for each in even.npv_moves
        if min(each.low_money, each.high_money) < 0 < max(each.low_money, each.high_money)
    ]
    said = moves.tornado_figure(even, even.view()).alt
    assert turned and all(NAMES[each] in said.split("within the range of")[1] for each in turned)
    rich = study_of("rich", {"value": "3 per kWh"})
    assert "It stays above zero" in moves.tornado_words(rich, rich.view()).text
    assert "labour is not counted" in moves.tornado_words(rich, rich.view()).text
