"""What the pages of a planned plant say of the same thing: alike, once, and by what it follows from."""

import re
from pathlib import Path

import pytest

import hydrokit as hk
from hydrokit.report.pages.p02 import rights
from hydrokit.report.pages.p03 import frost, holding, intake
from hydrokit.report.pages.p04 import machine_choice, sizing
from hydrokit.report.pages.p05 import days
from hydrokit.report.pages.p06 import electrician, using
from hydrokit.report.pages.p07 import bank, costs
from hydrokit.report.pages.p08 import upgrades
from hydrokit.report.pages.p09 import card, faults, running, schedule, sheets
from hydrokit.report.parts_list import parts_list
from hydrokit.report.showing import table_of
from hydrokit.study.keyed import plain
from hydrokit.study.opening import open_study

BECK = Path(__file__).parents[2] / "studies" / "hazel-beck"


@pytest.fixture(scope="module")
def beck():
    return open_study(BECK)


def text_of(shown):
    return plain(f"{getattr(shown, 'caption', '')}\n{shown}")


@pytest.mark.parametrize("system", ["metric", "us"])
def test_a_flow_or_length_has_the_same_digits_in_words_and_table(beck, system):
    view = beck.view(system)
    best, size = (
        text_of(sizing.choice_words(beck, view)),
        view.text(beck.sizing.best.flow_m3s, "flow"),
    )
    assert f"takes {size} through" in best
    assert f"is {size} in " in text_of(sizing.limits_words(beck, view))
    length = view.text(beck.penstock.length_m, "length")
    assert f"stretch is {length} long" in text_of(frost.frost_words(beck, view))
    assert f"to {length} | " in text_of(frost.frost_table(beck, view))
    half = view.text(beck.limiting_days.median_flow_m3s, "flow")
    assert f"median available flow of {half} " in text_of(upgrades.limiting_words(beck, view))
    assert text_of(using.one_line_figure(beck, view).alt)


def test_a_reader_in_us_units_is_asked_for_no_litres(beck):
    assert "L/s" not in text_of(rights.rights_words(beck, beck.view("us")))


def test_a_short_circuit_has_the_digits_of_its_finding(beck):
    view = beck.view()
    told = next(view.told(each) for each in beck.wires.findings if each.where == "short circuit")
    amps = re.search(r"feeds (\d+) A", told)[1]
    row = text_of(electrician.protection_table(beck, view)).splitlines()[-1]
    assert f"| {amps} | no" in row


def test_a_rack_that_was_gauged_is_not_to_be_gauged_again(beck, tmp_path):
    view = beck.view()
    assert "30 L/s clean, as measured" in text_of(intake.toe_words(beck, view))
    assert "gauge it once" not in text_of(intake.toe_words(beck, view))
    without = beck.changed({"intake.capacity": None})
    assert "gauge it once" in text_of(intake.toe_words(without, view))


def test_a_water_column_that_rejoins_is_held_against_the_rating(beck):
    """By hand: 31 m at rest and the blow stand for 9.80 kPa a metre, against PN 10."""
    view, held = beck.view(), beck.pressures
    blow = 9.80e3 * (beck.head.value + held.rejoined_m[1])
    assert held.rejoined_pa == pytest.approx(blow, rel=0.01)
    assert held.rejoined_use == pytest.approx(blow / 10e5, rel=0.02) and held.rejoined_use > 1
    bar = f"{blow / 1e5:.0f} bar at the foot, where the pipe is rated for 10 bar"
    assert bar in text_of(holding.surge_words(beck, view))
    assert "beyond the pipe's rating" in str(held.findings[-1].message)


def test_each_cost_names_the_amount_and_the_price_it_comes_from(beck):
    """By hand: amount times price, from the words alone, is the cost beside it."""
    rows = [each for each in costs.cost_table(beck, beck.view()).rows if " at " in str(each[3])]
    assert len(rows) >= 5
    for name, cost, _, told in rows:
        amount, price = re.match(r"([\d.,]+).* at ([\d.,]+) crowns", told).groups()
        by_hand = float(amount.replace(",", "")) * float(price.replace(",", ""))
        assert by_hand == pytest.approx(cost, rel=0.005), name
    machine = next(told for name, _, _, told in rows if name == "machine and switchboard")
    assert "kW by its efficiency at full load at" in machine
    rated = beck.changed({"generator.rating": "5 kW", "turbine.design_flow": "24 L/s"})
    told = next(
        each[3] for each in costs.cost_table(rated, rated.view()).rows if "machine" in each[0]
    )
    assert told.startswith("5 kW by its rating at")


def test_a_generator_is_bought_for_what_the_plant_can_take(beck):
    item = next(each for each in parts_list(beck, beck.view()) if each.what.startswith("generator"))
    assert item.what.endswith("4.97 kW") and item.follows.startswith("for the most water")


def test_years_that_differ_are_looked_for_where_they_stand(beck):
    assert "cover of the loan" not in text_of(bank.accounts_words(beck, beck.view()))
    lent = beck.changed(
        {"costs.loan_share": "60 %", "costs.loan_rate": "5 %", "costs.loan_years": 12}
    )
    assert "cover of the loan" in text_of(bank.accounts_words(lent, lent.view()))


def test_the_low_flow_of_the_machines_is_named(beck):
    view = beck.view()
    found = re.search(
        r"low flow is what may be taken on 90 % of the days, ([\d.]+) L/s",
        text_of(machine_choice.machines_table(beck, view)),
    )
    share = re.search(
        r"low flow, ([\d.]+) % of the full one", text_of(machine_choice.machines_table(beck, view))
    )
    full = 1000 * beck.plan.flow_m3s
    assert float(found[1]) / full == pytest.approx(float(share[1]) / 100, rel=0.02)


def test_a_stop_of_one_month_says_so_once(beck):
    assert "all of it in August" in text_of(days.memory_words(beck, beck.view()))


def test_a_sheet_is_parted_from_what_it_is_for(beck):
    assert "Gauge card, to hang beside the gauge" in re.sub(
        r"[\[\]]|\([^)]*\)", "", text_of(sheets.sheets_words(beck, beck.view()))
    )


def test_an_uncertainty_reads_as_a_share():
    shown = repr(table_of(hk.float_gauging("0.45 m/s", "0.35 m^2", 0.8), open_study(BECK).view()))
    assert "uncertainty | 16.2 %" in shown or "uncertainty | 16.3 %" in shown


def test_the_best_number_every_day_is_gross_less_stops(beck):
    """What the page compares with jets never changed has its stops taken off, and nothing else."""
    gross, stops = beck.answer("energy.gross").value, beck.year.steps[:2]
    assert [each.name for each in stops] == ["planned", "unplanned"]
    net = gross - sum(each.kwh.sum() for each in stops)
    assert beck.jet_plan.held_kwh[0] == pytest.approx(net, rel=1e-3)
    text = text_of(schedule.band_words(beck, beck.view()))
    assert "with the best number open every day, 25 % more; stops are taken off both" in text


def test_a_plant_without_a_forebay_spills_none(beck):
    view = beck.view()
    shown = [
        running.headline(beck, view), card.card_words(beck, view), faults.weekly_table(beck, view),
        faults.fault_table(beck, view), schedule.band_words(beck, view),
    ]  # fmt: skip
    assert not re.search("spill(s|ing)|forebay spill", "".join(map(text_of, shown)))
    assert "and no water is left over at the intake: walk up" in text_of(shown[0])


def test_a_case_that_never_pays_takes_no_rows_to_say_so(beck):
    rows = costs.pay_table(beck, beck.view()).rows
    sold = [each for each in rows if "all of it sold" in str(each[0])]
    assert len(sold) == 3 and not any(
        {"never", "none"} & {str(cell) for cell in each} for each in sold
    )
    assert len([each for each in rows if "all of it used" in str(each[0])]) == 6
