"""Three phases with loads of one: currents, neutral, balance, the start of a motor."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_study import changed

from hydrokit.errors import HydrokitError
from hydrokit.plant.phases import neutral_current, phase_currents, starting_dip
from hydrokit.report.pages.p06 import wires

THREE = {"size": "6 mm2", "voltage": "400 V", "phases": "three"}
HOUSE = {"name": "house", "power": "2.5 kW", "voltage": "230 V", "phases": "one"}
AMPS = st.floats(0, 100)


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


# --- the formulas ---------------------------------------------------------------------------


def test_a_single_load_in_symmetrical_components():
    """To the neutral I1 = I2 = I0 = I/3; between two phases I2 = I/√3 and nothing in the neutral."""
    one, two = phase_currents([(30.0, 1.0, "2")]), phase_currents([(30.0, 0.8, "3-1")])
    assert (
        one.negative_a == pytest.approx(10)
        and one.neutral_a == pytest.approx(30)
        and one.current_a == pytest.approx([0, 30, 0], abs=1e-9)
    )
    assert (
        two.negative_a == pytest.approx(30 / np.sqrt(3))
        and two.neutral_a == pytest.approx(0, abs=1e-9)
        and two.current_a == pytest.approx([30, 0, 30], abs=1e-9)
    )


def test_a_heater_on_one_phase_of_a_set():
    """5 kW to the neutral on a 20 kVA set of 400 V: 21.65 A of 28.87 A, out of balance by 25.0 %."""
    amps, rated = 5000 / (400 / np.sqrt(3)), 20000 / np.sqrt(3) / 400
    found = phase_currents([(amps, 1.0, "1")])
    assert found.current_a[0] == pytest.approx(21.65, abs=0.01) and rated == pytest.approx(
        28.87, abs=0.01
    )
    assert found.negative_a / rated == pytest.approx(0.25, abs=1e-3)


@given(AMPS, AMPS, AMPS)
def test_the_neutral_is_the_sum_of_the_phasors(a, b, c):
    found = phase_currents([(a, 1.0, "1"), (b, 1.0, "2"), (c, 1.0, "3")])
    assert found.neutral_a == pytest.approx(neutral_current.si(a, b, c), abs=1e-5)
    assert found.negative_a == pytest.approx(found.neutral_a / 3, abs=1e-5)
    assert phase_currents([(a, 0.7, "123")]).neutral_a == pytest.approx(0, abs=1e-9)


def test_what_hangs_nowhere_is_refused():
    with pytest.raises(HydrokitError, match="hangs on"):
        phase_currents([(1.0, 1.0, "4")])


@given(st.floats(0, 1e5), st.floats(1, 1e5), st.floats(0.01, 1))
def test_the_dip_is_less_than_the_plain_ratio_and_than_all(start, rating, reactance):
    found = float(starting_dip.si(start, rating, reactance))
    assert 0 <= found < 1 and found <= start * reactance / rating * (1 + 1e-12)


# --- a study --------------------------------------------------------------------------------


def told(s):
    return {each.where: each for each in s.wires.findings}


def test_one_phase_of_a_set_beyond_its_share_is_a_problem(study):
    s = study(cable=THREE, circuit=[HOUSE], generator={"rating": "4.1 kW"})
    rated = 4100 / np.sqrt(3) / 400
    assert s.answer("phase.rated").value == pytest.approx(rated) and s.answer(
        "phase.highest"
    ).value == pytest.approx(2500 / 230)
    assert s.answer("phase.unbalance").value == pytest.approx(2500 / 230 / 3 / rated)
    assert [each.level for each in s.wires.findings if each.where == "phases"] == [
        "problem",
        "caution",
        "caution",
    ]
    text = wires.wire_words(s, s.view()).text
    assert "house on L1" in text and "out of balance" in text
    # a small load keeps within it
    small = study(cable=THREE, circuit=[HOUSE | {"power": "150 W"}], generator={"rating": "4.1 kW"})
    assert not [each for each in small.wires.findings if each.where == "phases"]


def test_loads_spread_over_the_phases_or_hang_where_they_are_told(study):
    three = [HOUSE | {"name": f"house {number}", "power": "900 W"} for number in range(3)]
    spread, heaped = (
        study(cable=THREE, circuit=three),
        study(cable=THREE, circuit=[each | {"phase": "2"} for each in three]),
    )
    assert spread.phases.all_on.neutral_a == pytest.approx(
        0, abs=1e-9
    ) and spread.phases.all_on.current_a == pytest.approx([900 / 230] * 3)
    assert (
        heaped.phases.all_on.current_a == pytest.approx([0, 2700 / 230, 0], abs=1e-9)
        and "as the site file has it" in wires.wire_words(heaped, heaped.view()).text
    )
    assert study(circuit=[HOUSE]).phases is None  # one phase throughout
    lost = study(circuit=[HOUSE | {"phase": "1"}]).wires.findings
    assert any("has no effect" in each.message for each in lost)


def test_a_stiffer_generator_leaves_more_volts_to_a_motor(study):
    motor = [
        {
            "name": "pump",
            "kind": "motor",
            "power": "400 W",
            "power_factor": 0.8,
            "length": "10 m",
            "size": "2.5 mm2",
        }
    ]
    volts = [
        study(circuit=motor, generator={"reactance": reactance}).wires.circuits[0].starting_v
        for reactance in (0.1, 0.2, 0.3)
    ]
    assert (
        volts[0] > volts[1] > volts[2]
        and volts[1] == study(circuit=motor).wires.circuits[0].starting_v
    )
    larger = study(circuit=motor, generator={"rating": "12 kW"}).wires.circuits[0].starting_v
    assert larger > volts[1]
    # a battery without an inverter bears no start of alternating current, and feeds no short circuit
    beside = study(circuit=motor, battery={"voltage": "48 V"})
    assert beside.wires.circuits[0].starting_v == volts[1]
    assert beside.wires.circuits[0].protection.short_a == pytest.approx(
        study(circuit=motor).wires.circuits[0].protection.short_a
    )
    assert (
        "the voltage dip of the generator counted" in wires.wire_words(beside, beside.view()).text
    )


def test_an_inverter_too_small_for_its_day_is_a_caution(study):
    s = study(
        inverter={"rating": "3 kW", "idle": "20 W", "efficiency": "94 %"},
        battery={"voltage": "48 V", "day_use": ["400 W"] * 20 + ["6 kW"] + ["400 W"] * 3},
    )
    assert "peaks at 6,000 W" in told(s)["inverter"].message
    s = study(
        inverter={"rating": "3 kW", "idle": "20 W", "efficiency": "94 %"},
        circuit=[{"name": "oven", "power": "4 kW"}],
    )
    assert "oven alone takes 4,000 W" in told(s)["inverter"].message
