"""What the site file tells of the plant acts, and acts once: efficiencies, limits, cables, inverters, changes."""

import numpy as np
import pandas as pd
import pytest
from small_study import FILES, changed

from hydrokit.errors import InputError
from hydrokit.plant.cable import cable
from hydrokit.plant.cable_choice import smallest_cable
from hydrokit.report.pages.p04 import machine_choice, sizing
from hydrokit.report.pages.p05 import days, machines, year
from hydrokit.report.pages.p06 import wires
from hydrokit.report.pages.p07 import money
from hydrokit.report.pages.p08 import upgrades
from hydrokit.report.pages.p09 import schedule
from hydrokit.study.view import View

DENSITY, GRAVITY = 999.85, 9.80665  # of water at 8 °C; standard gravity
FRANCIS = {
    "kind": "francis",
    "jets": None,
    "jet_kind": None,
    "jet_diameter": None,
    "design_flow": "12 L/s",
    "efficiency": "80 %",
    "minimum_flow": "40 %",
}
PAIR = [{"name": "big", "design_flow": "10 L/s"}, {"name": "small", "design_flow": "4 L/s"}]


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


def starts_at(s):
    """Flow that reaches the machine on which it begins to run."""
    curve = s.plant.curve()
    return float(curve.flow_m3s[np.argmax(curve.jets_open > 0)])


# --- efficiencies ---------------------------------------------------------------------------


def test_machines_take_what_turbine_says_of_their_kind(study):
    told = study(turbine=FRANCIS | {"design_flow": None}, machine=PAIR)
    assert starts_at(told) == pytest.approx(0.4 * 0.004, rel=1e-6)
    assert max(each.part_load.best for each in told.plant.jets.machines) == pytest.approx(
        0.80, rel=1e-9
    )
    usual = study(
        turbine=FRANCIS | {"design_flow": None, "efficiency": None, "minimum_flow": None},
        machine=PAIR,
    )
    assert told.plant.running().at_si(1.0).power_w < 0.95 * usual.plant.running().at_si(1.0).power_w
    # a machine of another kind has nothing of it; its own numbers go first
    mixed = study(
        turbine=FRANCIS | {"design_flow": None},
        machine=[PAIR[0] | {"efficiency": "70 %"}, PAIR[1] | {"kind": "kaplan"}],
    )
    big, small = mixed.plant.jets.machines
    assert big.part_load.best == pytest.approx(0.70) and big.part_load.minimum_ratio == 0.4
    assert (
        small.part_load.kind == "kaplan"
        and small.part_load.best != pytest.approx(0.80)
        and small.part_load.minimum_ratio != 0.4
    )


def test_water_to_wire_is_all_there_is(study):
    whole = {"efficiency": None, "water_to_wire": "60 %"}
    for s in (
        study(turbine=FRANCIS | {"efficiency": None}, generator=whole),
        study(
            turbine=FRANCIS | {"design_flow": None, "efficiency": None},
            generator=whole,
            machine=PAIR,
        ),
    ):
        found = s.plant.running().at_si(np.linspace(0.002, 0.02, 60))
        runs = found.power_w > 0
        arrives = found.power_w[runs] / (
            DENSITY * GRAVITY * found.used_m3s[runs] * found.net_head_m[runs]
        )
        assert (
            arrives.max() == pytest.approx(0.60, rel=2e-3) and arrives.min() < 0.59
        )  # part load has its shape still
    one = study(turbine=FRANCIS | {"efficiency": None}, generator=whole)
    assert starts_at(one) == pytest.approx(0.4 * 0.012, rel=1e-6)
    with pytest.raises(InputError, match="water_to_wire"):
        study(
            turbine=FRANCIS | {"design_flow": None},
            generator=whole,
            machine=[PAIR[0] | {"efficiency": "70 %"}],
        ).read()


def test_the_makers_table_gives_the_shape_of_water_to_wire(study):
    table = "flow [%],efficiency [%]\n40,60\n80,80\n100,78\n"
    s = study(
        {"maker": table},
        turbine=FRANCIS | {"efficiency": None, "efficiency_table": "maker.csv"},
        generator={"efficiency": None, "water_to_wire": "60 %"},
    )
    assert s.plant.runner.part_load.efficiencies == pytest.approx(
        np.array([0.60, 0.80, 0.78]) * 0.60 / 0.80
    )


def test_what_is_overruled_is_told(study):
    def told(**changes):
        return " ".join(each.message for each in study(**changes).overruled_findings)

    assert told() == ""
    assert "[turbine] efficiency" in told(generator={"water_to_wire": "60 %", "efficiency": None})
    assert "[turbine] design_flow" in told(turbine={"design_flow": "9 L/s"})
    assert "[turbine] jet_diameter" in told(turbine={"design_flow": "9 L/s", "jet_kind": "spear"})
    assert "60 days of planned stops do not fit into their month: only 31 days" in told(
        outage={"planned_days": 60, "planned_months": [8]}
    )
    assert told(outage={"planned_days": 60, "planned_months": [7, 8]}) == ""


# --- limits nobody told ---------------------------------------------------------------------


def test_no_limit_is_invented_for_a_generator(study):
    s = study(
        turbine={"efficiency": "92 %"},
        cable=None,
        upgrade=[{"name": "a third jet", "cost": 200, "jets": 3}],
    )
    full = s.plant.running().at_si(1.0)
    shaft = DENSITY * GRAVITY * full.used_m3s * full.net_head_m * 0.92
    assert full.power_w == pytest.approx(0.85 * shaft, rel=1e-3)
    assert "generator" not in s.plant.limiting_component(np.array([0.02])).parts and not [
        each for each in s.findings(("plant",)) if each.where == "generator"
    ]
    # a third jet makes more power, and another generator is bought for it
    three = s.upgrades.search.case(frozenset({s.changes[0].name})).chain.running().at_si(1.0)
    assert three.power_w > 1.02 * full.power_w
    told = study(turbine={"efficiency": "92 %"}, cable=None, generator={"rating": "2 kW"})
    assert told.plant.running().at_si(1.0).power_w == pytest.approx(2000)


def test_a_cable_known_by_its_loss_loses_it(study):
    """At full load the share told, at half load half that share, since the loss goes with the square."""
    without, known = study(cable={"size": None}), study(cable={"size": None, "loss": "8 %"})
    for share in (1.0, 0.5):
        arriving = share * float(without.plant.running().shaft_si(1.0))
        assert known.plant.net_si(arriving) == pytest.approx(
            (1 - 0.08 * share) * without.plant.net_si(arriving), rel=4e-3
        )
    assert "loses 8 % at full load" in wires.wire_words(known, known.view()).text
    free = {"jet_diameter": None}
    sized = [
        study(
            cable={"size": None, "loss": loss},
            turbine=free,
            sizing={"flows": ["12 L/s"], "jets": [1]},
        )
        for loss in (None, "8 %")
    ]
    powers = [float(s.plant.running().at_si(1.0).power_w) for s in sized]
    assert powers[1] == pytest.approx(0.92 * powers[0], rel=2e-3)


def test_a_plant_of_low_voltage_is_sized(study):
    """A kilowatt never comes through such a cable; the design of 150 W does."""
    s = study(
        {"flow": FILES["flow.csv"].replace("flow [L/s]", "flow [gpm]")},
        turbine={"jet_diameter": None},
        rights=None,
        loads=None,
        cable={"voltage": "24 V", "phases": "dc", "size": "10 mm2"},
        sizing={"flows": ["0.5 L/s"], "jets": [1]},
    )
    assert s.sizing is not None, s.refused
    full = s.plant.running().at_si(1.0)
    sent = wires.wire_words(s, s.view()) and s.wires.sent_w
    run = cable(f"{sent} W", "24 V", "60 m", "10 mm^2", "dc", temperature="40 degC")
    assert 50 < full.power_w < 200 and full.power_w == pytest.approx(run.delivered_w, rel=1e-6)


# --- wires ----------------------------------------------------------------------------------


def test_an_inverter_holds_its_own_voltage(study):
    fridge = {
        "name": "fridge",
        "kind": "motor",
        "power": "800 W",
        "voltage": "120 V",
        "phases": "one",
        "length": "10 m",
        "size": "2.5 mm2",
    }
    changes = {
        "cable": {"voltage": "48 V", "phases": "dc", "size": "50 mm2"},
        "circuit": [fridge],
        "inverter": {"rating": "6 kW", "idle": "20 W", "efficiency": "92 %"},
    }
    s = study(**changes)
    main, circuit = s.wires.main, s.wires.circuits[0]
    assert main.run.drop_ratio > 0.05
    alone = cable("800 W", "120 V", "10 m", "2.5 mm^2").drop_ratio
    assert circuit.load_v == pytest.approx(120 * (1 - alone)) and np.isnan(circuit.starting_v)
    # six times 800 W is more than the plant gives, less than the inverter of a battery does
    assert [each for each in s.wires.findings if "soft start" in each.message]
    kept = study(**changes, battery={"voltage": "48 V"})
    assert not [each for each in kept.wires.findings if "soft start" in each.message]
    one = 120**2 / 4800  # of its locked rotor, behind its own cable alone
    own = 2 * 10 * (7.41e-3 * 270 / 250 + 0.08e-3j)
    assert kept.wires.circuits[0].starting_v == pytest.approx(
        120 * one / abs(one * (0.35 + np.sqrt(1 - 0.35**2) * 1j) + own)
    )
    small = study(
        **(changes | {"inverter": {"rating": "2 kW", "idle": "20 W", "efficiency": "92 %"}}),
        battery={"voltage": "48 V"},
    )
    assert [each for each in small.wires.findings if "more than the inverter gives" in each.message]


def test_the_battery_gets_what_comes_through_cable_and_inverter_once(study):
    use = ["100 W"] * 20 + ["1.2 kW"] * 4
    flow = "date,flow [L/s]\n" + "".join(
        f"{day:%Y-%m-%d},10\n" for day in pd.date_range("2021-10-01", "2023-09-30")
    )
    s = study(
        {"flow": flow},
        battery={"voltage": "48 V", "day_use": use},
        inverter={"rating": "3 kW", "idle": "20 W", "efficiency": "92 %"},
        cable={"size": "6 mm2", "length": "200 m"},
    )
    name, power, stored, charge = s.wires.store.needs[0]
    assert (
        power == pytest.approx(float(s.plant.running().at_si(1.0).power_w))
        and power < 0.9 * s.wires.sent_w
    )
    lean = s.wires.store.needs[-1]
    assert lean[2] == pytest.approx(4 * 3600 * (1200 - lean[1]), rel=1e-6) and lean[
        3
    ] == pytest.approx(lean[2] / 3600 / 48 / 0.5 / 0.92, rel=1e-6)


def test_large_numbers_are_written_out(study):
    flow = FILES["flow.csv"].replace("flow [L/s]", "flow [m3/s]")
    big = {
        "profile": None,
        "head": "40 m",
        "length": "150 m",
        "pipe": [{"inside_diameter": "3 m", "roughness": "0.1 mm"}],
    }
    s = study(
        {"flow": flow},
        rights=None,
        intake=None,
        penstock=big,
        turbine=FRANCIS | {"design_flow": "12 m^3/s"},
        cable={"voltage": "20 kV", "phases": "three"},
    )
    text = repr(wires.meter_table(s, s.view())) + repr(machine_choice.machines_table(s, s.view()))
    assert "e+0" not in text and "0 to 25,000 V" in text
    with pytest.raises(Exception, match="over 100,000 m") as error:
        smallest_cable("1 kW", "12 V", "100 km")
    assert View("us").told(error.value).count("over 328,000 ft") == 1


# --- changes --------------------------------------------------------------------------------


def test_a_new_runner_is_weighed_against_the_old_one(study):
    same = [{"name": "another runner", "efficiency": "80 %", "cost": 100}]
    s = study(turbine=FRANCIS, upgrade=same, loads=None)
    assert not s.upgrades.steps and [each.name for each in s.upgrades.left] == ["another runner"]
    assert (
        "Brings nothing: another runner" in upgrades.left_words(s, s.view()).text
        and upgrades.staircase_words(s, s.view()).text == ""
    )
    better = study(turbine=FRANCIS, upgrade=[same[0] | {"efficiency": "84 %"}], loads=None)
    assert starts_at(s) == pytest.approx(0.4 * 0.012, rel=1e-6)
    assert better.upgrades.end["kwh"] / better.upgrades.base["kwh"] == pytest.approx(
        84 / 80, abs=0.01
    )
    # of a plant known from water to wire the new runner's gain is its ratio to the old one, if that is told
    whole = {
        "generator": {"efficiency": None, "water_to_wire": "50 %"},
        "loads": None,
        "upgrade": [{"name": "a better runner", "efficiency": "78 %", "cost": 100}],
    }
    told = study(turbine={"efficiency": "65 %"}, **whole)
    assert told.upgrades.end["kwh"] / told.upgrades.base["kwh"] == pytest.approx(78 / 65, rel=1e-9)
    assert study(turbine={"efficiency": None}, **whole).upgrades is None


def test_what_is_of_use_in_winter_is_part_of_what_is_of_use(study):
    s = study(loads={"demand": {"december": "300 kWh", "january": "300 kWh", "june": "300 kWh"}})
    for step in s.upgrades.steps:
        assert step.numbers["useful_winter_kwh"] <= step.numbers["useful_kwh"] + 1e-9
    assert s.upgrades.base["useful_winter_kwh"] == pytest.approx(
        float(s.year.useful_monthly_kwh[[12, 1, 2]].sum()), rel=1e-9
    )


def test_months_of_a_change_that_acts_all_year(study):
    with pytest.raises(InputError, match="jets acts all year"):
        study(upgrade=[{"name": "a third jet", "jets": 3, "months": [1]}]).read()


# --- words ----------------------------------------------------------------------------------


def test_the_choice_lies_among_the_sizes_said_to_be_equal(study):
    """However little the costs are known, what is recommended falls short of the best by two per cent of its net annual benefit at most."""
    flow = FILES["flow.csv"].replace("flow [L/s]", "flow [gpm]")
    s = study(
        {"flow": flow},
        rights=None,
        turbine={"jet_diameter": None},
        costs={"uncertainty": "80 %", "per_jet": 400},
        sizing={
            "flows": [f"{each / 10} L/s" for each in range(2, 20)],
            "jets": [1, 2],
            "aim": "worth",
        },
    )
    text, reason = sizing.headline(s, s.view()).text, s.sizing.reason
    low, high = reason.flat.flows_m3s
    assert (
        low <= reason.choice.flow_m3s <= high
        and reason.within_uncertainty.count > reason.flat.count
    )
    assert reason.choice.worth_money >= reason.best.worth_money - 0.02 * abs(
        reason.best.worth_money
    )
    assert "2 % of its net annual benefit" in text and "No size pays" in text


def test_page_of_a_record_without_a_plant_names_the_plant(study):
    s = study(turbine=None)
    assert (
        "plant is not described" in year.headline(s, s.view()).text
        and "daily record" not in year.years_figure(s, s.view()).text
    )
    assert "described plant" in days.memory_words(s, s.view()).text


def test_needles_are_of_jets_and_gates_of_machines(study):
    free = {"jet_diameter": None, "design_flow": None}
    spear, gate = study(turbine=free | {"jet_kind": "spear"}), study(turbine=FRANCIS | free)
    assert spear.plant.jets.name == "jets" and gate.plant.jets.name == "turbine"
    assert (
        "jet" in sizing.headline(spear, spear.view()).text
        and "machine" in sizing.headline(gate, gate.view()).text
    )
    assert (
        "Needles follow" in schedule.band_words(spear, spear.view()).text
        and "Its gates follow" in schedule.band_words(gate, gate.view()).text
    )


def test_a_winter_of_parted_months_is_named_month_by_month(study):
    for months, told in (
        ([11, 12, 1], "November to January"),
        ([1, 6], "January and June"),
        ([2], "February"),
    ):
        s = study(site={"winter": months}, loads=None)
        assert f"winter ({told})" in year.headline(s, s.view()).text


def test_sets_begin_where_the_machines_do(study):
    s = study(turbine=FRANCIS | {"design_flow": None}, machine=PAIR)
    table = machines.sets_table(s, s.view())
    assert table.rows[0][0] == "small" and table.rows[0][1] == pytest.approx(1.6, rel=1e-6)
    assert [row[2] for row in table.rows[:-1]] == [row[1] for row in table.rows[1:]] and table.rows[
        -1
    ][2] == ""
    assert (
        "number of machines open"
        in days.memory_words(
            study(turbine=FRANCIS | {"jets": 2}, operation={"visit_days": 3}), s.view()
        ).text
    )


def test_costs_without_uncertainty_are_not_called_sure(study):
    s = study()
    text = money.terms_words(s, s.view()).text
    assert (
        "the uncertainty of the costs is not given" in text
        and "measuring narrows it most" not in text
    )
    doubted = study(costs={"uncertainty": "40 %"})
    assert "offers in writing" in money.terms_words(doubted, doubted.view()).text
