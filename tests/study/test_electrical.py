"""The list for the electrician: what is known, owed and how far; island and grid; breakers; ballast by phase."""

import numpy as np
import pytest
from small_study import changed

from hydrokit.report.pages.p06 import electrician
from hydrokit.report.prints.electrician import electrician_sheets
from hydrokit.study.keyed import plain

THREE = {"size": "6 mm2", "voltage": "400 V", "phases": "three"}
HOUSE = {"name": "house", "power": "1.2 kW", "voltage": "230 V", "phases": "one"}
PUMP = {
    "name": "pump",
    "kind": "motor",
    "power": "600 W",
    "power_factor": 0.8,
    "length": "10 m",
    "size": "2.5 mm2",
}


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


def row(s, subject, system="metric"):
    table = electrician.list_table(s, s.view(system))
    return next([plain(str(cell)) for cell in each] for each in table.rows if each[0] == subject)


def test_an_island_and_a_grid_ask_for_other_things(study):
    island = study(circuit=[PUMP])
    assert not island.electrical.grid and row(island, "anti-islanding")[3] == "not needed"
    rated, x = island.electrical.apparent_w, 0.2
    assert island.answer("short_circuit.terminals").value == pytest.approx(rated / 230 / x)
    assert island.answer("motor.largest").value == pytest.approx(rated * 0.17647 / x, rel=1e-4)
    grid = study(circuit=[PUMP], electrical={"supply": "grid", "fault_level": "100 kVA"})
    assert grid.electrical.grid and grid.answer("short_circuit.terminals") is None
    assert grid.answer("grid.rise").value == pytest.approx(grid.wires.sent_w / 100e3)
    assert grid.answer("motor.dip").value < island.answer("motor.dip").value
    known, owed, status = row(grid, "anti-islanding")[1:]
    assert "within 2 s" in known and "consent" in owed and status == "not said"
    # a price of export is a grid where nothing says otherwise
    assert study(costs={"export": "0.05 per kWh"}).electrical.grid


def test_a_safeguard_that_is_told_has_its_status_and_is_not_asked_again(study):
    s = study(
        safeguard=[
            {
                "subject": "emergency stop",
                "status": "in place",
                "of": "A. Wright",
                "note": "<b>red</b>",
            },
            {"subject": "guards", "status": "open"},
        ]
    )
    table = electrician.list_table(s, s.view())
    assert row(s, "emergency stop")[3] == "in place, A. Wright, <b>red</b>"
    assert "<b>red" not in table._repr_html_()
    marked = [table.rows[each][0] for each in table.mark]
    assert marked == ["guards"] and row(s, "earthing")[3] == "not said"
    assert len({each.subject for each in s.electrical.states}) == len(s.electrical.states)


def test_earth_and_hot_water_have_their_numbers(study):
    s = study(
        electrical={"earthing": "tt", "electrode": "60 ohm", "residual_current": "300 mA"},
        ballast={"heats": "water", "tank": "300 L"},
    )
    assert s.answer("earth.electrode").value == pytest.approx(50 / 0.3)
    assert s.answer("earth.touch").value == pytest.approx(18)
    assert "TT" in row(s, "earthing")[1] and "300 mA" in row(s, "earthing")[1]
    # 17.44 kWh at what the plant sends
    assert s.answer("ballast.tank").value / 3600 == pytest.approx(17440 / s.wires.sent_w, rel=1e-3)
    assert (
        "140 °F" in row(s, "hot water and heaters", "us")[1]
        and "60" in row(s, "hot water and heaters")[1]
    )


def test_a_conductor_too_thin_for_its_breaker_is_a_problem(study):
    s = study(circuit=[HOUSE | {"power": "5 kW", "length": "5 m", "size": "2.5 mm2"}])
    found = s.wires.circuits[0].protection
    # 27.2 A at 125 % ask for 32 A; 2.5 mm² bears 20 A
    assert (found.breaker_a, found.borne_a, found.protected) == (32, 20, False)
    assert found.thinnest.name == "6 mm2"
    assert any(
        each.where == "house" and "breaker of 32" in each.message for each in s.wires.findings
    )
    table = electrician.protection_table(s, s.view("us"))
    assert "cmil" in str(table.rows[0]) and table.mark


def test_resistors_of_three_phases_carry_the_current_of_a_phase(study):
    """P/(√3·U) in each phase of every stage; each resistor sees the voltage to the neutral."""
    s = study(cable=THREE, ballast={"stages": 2, "pattern": "equal"})
    asked = s.wires.ballast.asked
    for watts, ohms, amps in zip(asked.stages_w, asked.resistances_ohm, asked.currents_a):
        assert amps == pytest.approx(watts / np.sqrt(3) / 400)
        assert 3 * amps**2 * ohms == pytest.approx(watts)
    told = study(cable=THREE, ballast={"stages": 2, "pattern": "equal", "voltage": "230 V"}).wires
    assert told.ballast.asked.currents_a[0] == pytest.approx(asked.stages_w[0] / 3 / 230)


def test_a_ballast_switched_alike_fills_the_phase_that_is_full(study):
    base = {"cable": THREE, "circuit": [HOUSE], "generator": {"rating": "4.5 kW"}}
    unsaid, alike, each = (
        study(**base, ballast={} if told is None else {"sharing": told})
        for told in (None, "alike", "each phase")
    )
    left = unsaid.wires.sent_w - 1200
    assert unsaid.answer("ballast.highest").value == pytest.approx(
        (1200 / 230 * 1) + left / 3 / (400 / np.sqrt(3)), rel=1e-3
    )
    assert unsaid.answer("ballast.highest").value == alike.answer("ballast.highest").value
    assert alike.answer("ballast.neutral").value == pytest.approx(1200 / 230)
    assert each.answer("ballast.highest").value < alike.answer("ballast.highest").value
    assert each.answer("ballast.neutral").value == pytest.approx(0, abs=0.01)
    levels = [
        next((one.level for one in s.wires.findings if "switched alike" in one.message), None)
        for s in (unsaid, alike, each)
    ]
    assert levels == ["caution", "problem", None]


def test_a_motor_on_one_phase_of_three_has_a_third_of_the_set(study):
    own = {"generator": {"rating": "4.5 kW"}}
    whole = study(circuit=[PUMP | {"voltage": "400 V", "phases": "three"}], cable=THREE, **own)
    third = study(circuit=[PUMP | {"voltage": "230 V", "phases": "one"}], cable=THREE, **own)
    a, b = (each.wires.circuits[0].start for each in (whole, third))
    assert b.rating_va == pytest.approx(a.rating_va / 3) and b.found.dip > 2 * a.found.dip


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_sheet_hands_over_what_the_page_says(study, system):
    s = study(circuit=[PUMP, HOUSE])
    sheets = electrician_sheets(s, s.view(system))
    text = plain(" ".join(each.body for each in sheets))
    for point in electrician.list_table(s, s.view(system)).rows:
        assert f">{point[0]}<" in text
    assert "pump" in text and "licensed electrician" in " ".join(each.use for each in sheets)


def test_without_a_voltage_there_is_no_list(study):
    s = study(cable={"voltage": None})
    assert s.electrical is None and electrician_sheets(s, s.view()) == []
    assert not electrician.list_words(s, s.view()).text
