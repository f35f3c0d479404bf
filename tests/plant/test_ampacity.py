"""Gauges, what conductors bear, starts and short circuits, against what is known of them by other ways."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError
from hydrokit.plant.ampacity import ambient_factor, ampacity, sections_that_bear
from hydrokit.plant.conductor import conductor, standard_sections
from hydrokit.plant.gauge import circular_mils, gauge_diameter
from hydrokit.plant.phases import phase_currents, starting_dip, with_ballast
from hydrokit.plant.short_circuit import short_circuit_current
from hydrokit.plant.starting import largest_start, motor_start
from hydrokit.tables import load


def test_the_table_of_gauges_follows_the_law():
    """ASTM B258; the table gives four figures."""
    for each in standard_sections("copper", "AWG"):
        if each.name.endswith("AWG"):
            assert each.section_m2 * 1e6 == pytest.approx(
                np.pi / 4 * gauge_diameter(each.name).m_as("mm") ** 2, rel=5e-4
            )
        else:
            assert each.mils == pytest.approx(1000 * float(each.name.split()[0]), rel=1e-3)
    # three sizes are twice the section, ten are ten times: the rules of thumb
    assert circular_mils("10 mm^2") / circular_mils("5 mm^2") == pytest.approx(2)
    assert (gauge_diameter("10 AWG") / gauge_diameter("20 AWG")).m ** 2 == pytest.approx(
        10.164, rel=1e-3
    )


@pytest.mark.parametrize("gauge", ["5/0 AWG", "41 AWG", "six", "", "-1 AWG"])
def test_no_gauge_is_refused(gauge):
    with pytest.raises(HydrokitError, match="a gauge from"):
        gauge_diameter(gauge)


def test_warmer_insulation_bears_what_the_law_of_heat_says():
    """Current goes with the root of the temperature rise: 75 against 60 °C over 30 °C; steps of 5 A are the table's."""
    table = load("ampacity_awg")
    for metal in ("copper", "aluminium"):
        cool, warm = table[f"{metal}_60c_a"], table[f"{metal}_75c_a"]
        law = ambient_factor.si(303.15, 348.15, 303.15) / ambient_factor.si(318.15, 348.15, 303.15)
        assert law == pytest.approx(np.sqrt(45 / 30))
        known = np.isfinite(cool)
        assert np.all(np.abs(warm - law * cool)[known] <= 5 + 0.05 * warm[known])


COLUMNS = [("ampacity_awg", "60c"), ("ampacity_awg", "75c"), ("ampacity_iec", "70c")]


@pytest.mark.parametrize("name, warm", COLUMNS)
def test_aluminium_bears_what_makes_as_much_heat_as_copper(name, warm):
    """The same heat in the same surface: I²R alike, so the currents go with the root of the resistances; steps of 5 A are the table's."""
    table, compared = load(name), 0
    for size, copper, aluminium in zip(
        table["name"], table[f"copper_{warm}_a"], table[f"aluminium_{warm}_a"]
    ):
        try:
            ohms = (
                conductor(size).resistance_20c_ohm_m
                / conductor(size, "aluminium").resistance_20c_ohm_m
            )
        except HydrokitError:
            continue
        if np.isfinite(aluminium) and aluminium > 20:
            assert abs(aluminium - copper * np.sqrt(ohms)) <= 5 + 0.03 * aluminium
            compared += 1
    assert compared > 9


@pytest.mark.parametrize("name, warm", COLUMNS)
def test_current_goes_with_the_section_to_a_power_near_six_tenths(name, warm):
    """Surface against section: IEC 60364-5-52, annex on formulas, exponents 0.55 to 0.65."""
    table = load(name)
    for metal in ("copper", "aluminium"):
        borne = table[f"{metal}_{warm}_a"]
        area = np.array([conductor(each).section_m2 for each in table["name"]])[np.isfinite(borne)]
        borne = borne[np.isfinite(borne)]
        assert np.all(np.diff(borne) > 0)
        slopes = np.log(borne[4:] / borne[:-4]) / np.log(area[4:] / area[:-4])
        assert 0.45 < slopes.min() and slopes.max() < 0.72


def test_what_is_borne_is_the_lowest_that_a_reader_could_take():
    """No breaker above 15, 20 and 30 A on the three thin gauges, whatever the column says."""
    assert [ampacity(conductor(f"{size} AWG")) for size in (14, 12, 10, 8, 1)] == [
        15,
        20,
        30,
        40,
        110,
    ]
    assert ampacity(conductor("1/0 AWG")) == 150


def test_the_thinnest_that_bears_a_breaker():
    bearing = sections_that_bear(25, "copper", "mm2")
    assert (
        bearing[0].name == "4 mm2" and sections_that_bear(20, "copper", "AWG")[0].name == "12 AWG"
    )
    with pytest.raises(HydrokitError, match="limit of the insulation"):
        ambient_factor("80 degC")


@given(st.floats(10, 1e5), st.floats(100, 1e5), st.floats(0.05, 0.5), st.floats(0.1, 0.9))
def test_a_start_is_gentler_than_the_divider_and_its_inverse_holds(
    start, rating, reactance, factor
):
    found = motor_start.si(start, rating, 400.0, reactance, 0.0, factor)
    assert 0 <= found.dip <= float(starting_dip.si(start, rating, reactance)) + 1e-12
    again = float(largest_start.si(rating, reactance, 0.15))
    assert float(starting_dip.si(again, rating, reactance)) == pytest.approx(0.15)


def test_a_start_through_cables_is_that_of_nodal_equations():
    """The same circuit solved as a network of three nodes."""
    found = motor_start(
        "6 kVA",
        "10 kVA",
        "230 V",
        0.18,
        0.02,
        0.4,
        "4 kW",
        0.9,
        "0.3 ohm",
        "0.02 ohm",
        "0.5 ohm",
        "0.01 ohm",
    )
    one = 230**2 / 10e3
    z_g, z_s, z_o = 0.02 + 0.18j, (0.3 + 0.02j) / one, (0.5 + 0.01j) / one
    z_l = complex(0.9, np.sqrt(1 - 0.81)) / 0.4
    z_m = complex(0.4, np.sqrt(1 - 0.16)) / 0.6
    emf = 1 + z_g / (z_s + z_l)
    net = np.array(
        [
            [1 / z_g + 1 / z_s, -1 / z_s, 0],
            [-1 / z_s, 1 / z_s + 1 / z_l + 1 / z_o, -1 / z_o],
            [0, -1 / z_o, 1 / z_o + 1 / z_m],
        ]
    )
    volts = np.abs(np.linalg.solve(net, [emf / z_g, 0, 0]))
    assert [found.terminals, found.branch, found.motor] == pytest.approx(list(volts))
    with pytest.raises(HydrokitError, match="power factor"):
        motor_start("6 kVA", "10 kVA", "230 V", start_power_factor=1.2)


def test_a_long_cable_feeds_less_into_a_short_circuit():
    near, far = (
        short_circuit_current("10 kVA", "230 V", 0.2, "one-phase", ohm).m_as("A")
        for ohm in ("0 ohm", "1 ohm")
    )
    assert near == pytest.approx(5 * 10e3 / 230) and far == pytest.approx(
        230 / abs(1 + 1j * 0.2 * 230**2 / 10e3)
    )


@given(
    st.lists(st.floats(0, 30), min_size=3, max_size=3),
    st.floats(0.5, 1),
    st.booleans(),
    st.floats(0, 2e4),
)
def test_ballast_and_loads_together_are_the_power_of_the_set(amps, factor, each_phase, power):
    """Checked with complex powers, phase by phase."""
    loads = phase_currents([(amp, factor, str(place)) for place, amp in enumerate(amps, 1)])
    ballast, total = with_ballast(loads, power, 230.0, each_phase)
    turn = np.exp(-2j * np.pi / 3 * np.arange(3))
    real = (230 * turn * np.conj(total.phasors_a)).real
    taken = 230 * np.array(amps) * factor
    assert real.sum() == pytest.approx(max(power, taken.sum()), abs=1e-6)
    assert np.all(ballast >= -1e-9) and total.neutral_a == pytest.approx(abs(total.phasors_a.sum()))
    if (
        each_phase and power > taken.sum()
    ):  # filled like water: no phase with ballast stands above one without
        assert real[ballast > 1e-6].max(initial=0) <= real.min() + 1e-6 * max(power, 1)
    if not each_phase:
        assert np.ptp(ballast) < 1e-9
