"""Cables, generators, transformer, inverter, store, ballast, circuits."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.plant.cable import cable
from hydrokit.plant.cable_choice import cheapest_cable, smallest_cable
from hydrokit.plant.conductor import conductor, standard_sections
from hydrokit.plant.conversion import battery_size, inverter, storage_needed, transformer
from hydrokit.plant.electric import (
    BALLAST_MARGIN,
    CAUTIONS,
    ballast,
    breaker_load,
    circuit,
    continuous_current,
    meter_range,
)
from hydrokit.plant.generator import (
    GENERATOR_KINDS,
    efficiency_bounds,
    generator,
    synchronous_speed,
)
from hydrokit.plant.losses import LossCurve, loss_curve
from hydrokit.units import Q_

steady = settings(derandomize=True, deadline=None, max_examples=60)


# --- cable ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "material, system, resistivity, low, high",
    [
        ("copper", "AWG", 1.7241e-8, 1.01, 1.025),  # strands are longer than the cable: 2 %
        ("aluminium", "AWG", 2.8264e-8, 1.01, 1.025),
        ("solid copper", "AWG", 1.7241e-8, 0.99, 1.0),
        ("copper", "mm2", 1.7241e-8, 1.04, 1.14),  # sections are names: 50 mm2 is 47 mm2 of metal
        ("aluminium", "mm2", 2.8264e-8, 1.04, 1.14),
        ("flexible copper", "mm2", 1.7241e-8, 1.10, 1.16),  # fine strands, laid twice
    ],
)
def test_tables_hold_the_resistivity_of_their_metal(material, system, resistivity, low, high):
    """independent: standard annealed copper 1/58 and hard-drawn aluminium 1/35.38 ohm mm2/m at 20 degC (IEC 60028,
    IEC 60889) against each row of the tables; a mistyped digit would stand out."""
    for each in standard_sections(material, system):
        assert low < each.resistance_20c_ohm_m * each.section_m2 / resistivity < high, each.name


@pytest.mark.parametrize("material", ["copper", "aluminium"])
def test_thicker_is_never_worse(material):
    for system in ("mm2", "AWG"):
        sections = standard_sections(material, system)
        assert np.all(np.diff([each.section_m2 for each in sections]) > 0)
        assert np.all(np.diff([each.resistance_20c_ohm_m for each in sections]) < 0)


def test_gauge_and_square_millimetres_agree_on_the_same_copper():
    """independent: 6 AWG (13.3 mm2) lies between 10 and 16 mm2 of another standard."""
    thin, gauge, thick = (
        conductor(each).resistance_20c_ohm_m for each in ("16 mm^2", "6 AWG", "10 mm^2")
    )
    assert thin < gauge < thick


@steady
@given(
    power=st.floats(0, 3e4),
    voltage=st.floats(200, 1000),
    length=st.floats(0, 300),
    factor=st.floats(0.7, 1.0),
    system=st.sampled_from(["one-phase", "three-phase"]),
)
def test_power_is_conserved_and_loss_is_current_squared(power, voltage, length, factor, system):
    run = cable.si(power, voltage, length, "95 mm^2", system, "copper", factor, 293.15)
    wires = 3 if system == "three-phase" else 2
    wire = 0.193e-3 * length
    assert run.delivered_w + run.loss_w == pytest.approx(power)
    assert run.loss_w == pytest.approx(wires * run.current_a**2 * wire)
    assert 0 <= run.delivered_w <= power
    assert run.drop_v >= 0


def test_three_phases_lose_half_of_what_one_phase_does():
    """analytic: at the same voltage and section, 3 (P/(sqrt(3) U))^2 R against 2 (P/U)^2 R."""
    one, three = (
        cable("10 kW", "400 V", "200 m", "25 mm^2", system)
        for system in ("one-phase", "three-phase")
    )
    assert three.loss_w / one.loss_w == pytest.approx(0.5)
    assert three.drop_v / one.drop_v == pytest.approx(0.5)


def test_drop_over_a_phase_angle_against_complex_arithmetic():
    """independent: exact phasors. The usual formula leaves out the small part across the voltage."""
    voltage, length, factor = 230.0, 150.0, 0.85
    run = cable.si(5000.0, voltage, length, "35 mm^2", "one-phase", "copper", factor, 293.15, 8e-5)
    current = 5000 / (voltage * factor) * np.exp(-1j * np.arccos(factor))
    arriving = voltage - current * 2 * length * (0.524e-3 + 8e-5j)
    assert run.drop_v == pytest.approx(voltage - abs(arriving), rel=0.01)


def test_several_cables_share_the_current():
    one, two = (cable("5 kW", "230 V", "100 m", "16 mm^2", parallel=number) for number in (1, 2))
    assert two.loss_w == pytest.approx(one.loss_w / 2) and two.drop_v == pytest.approx(
        one.drop_v / 2
    )
    assert two.resistance_ohm == pytest.approx(one.resistance_ohm / 2)


def test_resistance_is_what_the_chain_takes():
    """analytic: loss P^2 R/(V cos)^2 for one phase and for three alike."""
    for system in ("one-phase", "three-phase", "dc"):
        run = cable("4 kW", "230 V", "120 m", "16 mm^2", system)
        assert run.loss_w == pytest.approx(4000.0**2 * run.resistance_ohm / 230.0**2)


def test_arrays_give_what_single_numbers_give():
    power, length = np.array([[1e3], [3e3], [0.0]]), np.array([50.0, 200.0])
    run = cable.si(power, 230.0, length, "16 mm^2")
    for index in np.ndindex(3, 2):
        single = cable.si(power[index[0], 0], 230.0, length[index[1]], "16 mm^2")
        assert run.loss_w[index] == pytest.approx(single.loss_w) and run.drop_ratio[
            index
        ] == pytest.approx(single.drop_ratio)


@pytest.mark.parametrize("sections", ["mm2", "AWG"])
def test_the_smallest_cable_is_enough_and_the_next_thinner_is_not(sections):
    run = smallest_cable("4 kW", "230 V", "150 m", "3 %", sections=sections)
    assert run.drop_ratio <= 0.03
    known = standard_sections("copper", sections)
    thinner = known[known.index(run.conductor) - 1]
    assert cable("4 kW", "230 V", "150 m", thinner).drop_ratio > 0.03


def test_no_cable_is_thick_enough():
    with pytest.raises(HydrokitError, match="raise the voltage"):
        smallest_cable("20 kW", "24 V", "1 km", system="dc")


def test_the_cheapest_cable_lies_where_kelvins_law_puts_it():
    """analytic: with a price proportional to the section, worth of losses equals the price at the best section."""
    inputs = {"value": "0.20 money/kWh", "hours": "5000 h", "years": 20, "discount_rate": 0.06}
    prices = {
        each.name.replace("mm2", "mm^2"): f"{0.4 * each.section_m2 * 1e6} money/m"
        for each in standard_sections()
    }
    costs = cheapest_cable("6 kW", "230 V", "200 m", prices, **inputs)
    assert [each.total for each in costs] == sorted(each.total for each in costs)
    worth = (1 - 1.06**-20) / 0.06
    current, resistivity = 6000 / 230, 1.15e-3 * 16e-6 * (230 + 40) / 250
    best = current * np.sqrt(2 * resistivity * 5000 * 0.20e-3 * worth / 0.4e6)
    sections = [each.section_m2 for each in standard_sections()]
    neighbours = sections[np.searchsorted(sections, best) - 1 : np.searchsorted(sections, best) + 1]
    assert costs[0].run.conductor.section_m2 in neighbours
    undiscounted = cheapest_cable(
        "6 kW", "230 V", "200 m", prices, **{**inputs, "discount_rate": 0.0}
    )[0]
    assert undiscounted.run.conductor.section_m2 >= costs[0].run.conductor.section_m2


@pytest.mark.parametrize(
    "change, sentence",
    [
        (
            {"section": "17 mm^2"},
            "17 mm\\^2 is not a standard section of copper; there are 1.5 mm2",
        ),
        ({"section": "thick"}, "neither a section"),
        (
            {"section": "10 mm^2", "material": "solid copper"},
            "not a standard section of solid copper",
        ),
        ({"material": "coper"}, "did you mean 'copper'"),
        ({"system": "two-phase"}, "must be dc, one-phase or three-phase"),
        ({"power_factor": 1.2}, "power_factor"),
        ({"system": "dc", "power_factor": 0.9}, "no power factor"),
        ({"load": "here"}, "load must be one of"),
        ({"parallel": 0}, "parallel must be 1 or more"),
        ({"length": "20 km"}, "over 20,000 m cannot bring the 3,000 W to its end"),
    ],
)
def test_cable_refuses(change, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        cable(
            **{
                "power": "3 kW",
                "voltage": "230 V",
                "length": "200 m",
                "section": "16 mm^2",
                **change,
            }
        )


def test_a_large_drop_is_told():
    assert any(
        each.level == "caution" for each in cable("6 kW", "230 V", "300 m", "16 mm^2").findings
    )
    assert not any(
        each.level == "caution" for each in cable("1 kW", "230 V", "50 m", "16 mm^2").findings
    )


# --- loss curves ------------------------------------------------------------------------------


@steady
@given(
    constant=st.floats(0, 0.2),
    proportional=st.floats(0, 0.2),
    square=st.floats(0, 0.2),
    share=st.floats(0, 1.5),
)
def test_what_goes_in_comes_out_or_is_lost(constant, proportional, square, share):
    curve = LossCurve(
        "part", 4000.0, constant, proportional=proportional, square=square, source="", mark=""
    )
    taken = curve.input_si(share * 4000)
    assert curve.output_si(taken) == pytest.approx(share * 4000, rel=1e-9, abs=1e-6)
    assert 0 <= curve.efficiency_si(share) <= 1
    assert curve.efficiency_si(share) * taken == pytest.approx(share * 4000)
    assert curve.output_si(0.5 * constant * 4000) == 0


def test_output_rises_with_input():
    given_w = np.linspace(0, 12e3, 500)
    found = generator("synchronous", "10 kW").output_si(given_w)
    assert np.all(np.diff(found) >= 0) and np.all(found <= given_w)
    assert np.isnan(generator("synchronous", "10 kW").output_si(np.nan))


@pytest.mark.parametrize(
    "constant, proportional, square", [(-0.1, 0, 0.1), (0.1, -0.1, 0), (0.1, 0, -0.1)]
)
def test_a_loss_below_zero_is_refused_by_name(constant, proportional, square):
    with pytest.raises(HydrokitError, match="inverter 2: a loss below zero"):
        LossCurve(
            "inverter 2",
            4000.0,
            constant,
            proportional=proportional,
            square=square,
            source="",
            mark="",
        )


def test_a_fitted_curve_returns_the_losses_it_was_made_from():
    made = LossCurve("generator", 5000.0, 0.04, proportional=0.0, square=0.08, source="", mark="")
    loads = np.array([0.2, 0.5, 0.8, 1.0])
    found = loss_curve("generator", "5 kW", loads, made.efficiency_si(loads))
    assert (found.constant, found.square) == pytest.approx((0.04, 0.08), rel=1e-9)
    assert found.findings[0].level == "note"


@pytest.mark.parametrize(
    "loads, efficiencies, sentence",
    [
        ([1.0], [0.8], "two points"),
        ([0.5, 1.0], [0.8, 1.01], "below 1"),
        ([0.0, 1.0], [0.8, 0.8], "above zero"),
    ],
)
def test_fit_refuses(loads, efficiencies, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        loss_curve("generator", "5 kW", loads, efficiencies)


# --- generator --------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", GENERATOR_KINDS)
@pytest.mark.parametrize("size", ["1.1 kW", "4 kW", "7.5 kW", "22 kW"])
def test_usual_efficiencies_lie_within_the_motor_classes(kind, size):
    """published bounds: CEMEP EFF2/EFF3 limit and EFF1 (see electric.toml)."""
    low, high = efficiency_bounds(size)
    curve = generator(kind, size)
    assert low <= curve.efficiency_si(1.0) <= high
    share = np.linspace(0, 1, 201)
    found = curve.efficiency_si(share)
    assert found[0] == 0 and np.all((found >= 0) & (found < 1))
    assert found[20] < found[100]
    assert any("usual value" in each.message for each in curve.findings)


def test_permanent_magnets_keep_their_efficiency_at_low_load():
    """common practice: no excitation to feed."""
    low = {kind: generator(kind, "4 kW", "85 %").efficiency_si(0.1) for kind in GENERATOR_KINDS}
    assert low["permanent magnet"] > low["induction"] > low["synchronous"]


def test_a_measured_efficiency_is_kept():
    curve = generator("induction", "4 kW", "83 %")
    assert curve.efficiency_si(1.0) == pytest.approx(0.83) and curve.findings == ()


def test_outside_the_table_is_told():
    with pytest.warns(RangeWarning, match="ends of the table"):
        efficiency_bounds("75 kW")
    assert any(
        "ends of the table" in each.message for each in generator("synchronous", "75 kW").findings
    )


@pytest.mark.parametrize(
    "call, sentence",
    [
        (lambda: generator("dynamo", "4 kW"), "known are"),
        (lambda: generator("induction", "4 kW", "104 %"), "below 1"),
        (lambda: generator("induction", "0 kW", "80 %"), "above zero"),
        (lambda: synchronous_speed("50 Hz", 3), "even number"),
    ],
)
def test_generator_refuses(call, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        call()


# --- transformer, inverter, store -------------------------------------------------------------


def test_transformer_is_best_where_its_losses_are_equal():
    """analytic: load = sqrt(iron/winding)."""
    share = np.linspace(0.01, 1, 9901)
    found = transformer("25 kW", "90 W", "360 W").efficiency_si(share)
    assert share[found.argmax()] == pytest.approx(0.5, abs=1e-3)


@steady
@given(idle=st.floats(1, 150), best=st.floats(0.85, 0.97))
def test_inverter_meets_its_two_nameplate_figures(idle, best):
    if 1 / best - 1 <= idle / 5000:
        with pytest.raises(HydrokitError, match="idle power"):
            inverter.si(5000.0, idle, best)
        return
    curve = inverter.si(5000.0, idle, best)
    assert curve.input_si(0.0) == pytest.approx(idle)
    assert curve.efficiency_si(np.linspace(0.001, 1, 20001)).max() == pytest.approx(best, rel=1e-5)


@steady
@given(
    less=st.floats(0, 150),
    more=st.floats(0, 150),
    best=st.floats(0.85, 0.96),
    load=st.floats(0, 1.5),
)
def test_a_larger_idle_draw_never_gives_more(less, more, best, load):
    less, more = sorted((less, more))
    frugal, thirsty = inverter.si(5000.0, less, best), inverter.si(5000.0, more, best)
    assert thirsty.output_si(5000 * load) <= frugal.output_si(5000 * load) * (1 + 1e-9) + 1e-6
    # an independent root of the balance of power, where it runs at all
    wanted = 5000 * load
    found = float(thirsty.output_si(wanted))
    if found > 0:
        lost = found * (1 / best - 1) + more * (1 - 2 * found / 5000) ** 2
        assert found + lost == pytest.approx(wanted, rel=1e-9)


@steady
@given(st.lists(st.floats(0, 5), min_size=2, max_size=24), st.floats(0.1, 5), st.floats(0.6, 1.0))
def test_the_store_is_just_large_enough(demand, supply, efficiency):
    """Oracle: walk the day again and again with a store of that size, starting full."""
    demand = np.array(demand)
    size = storage_needed.si(supply, demand, 1.0, efficiency)
    surplus = np.maximum(supply - demand, 0).sum() * efficiency
    deficit = np.maximum(demand - supply, 0).sum()
    if np.isnan(size):
        assert surplus < deficit * (1 + 1e-8)
        return

    def lowest(capacity):
        level, least = capacity, capacity
        for each in list(supply - demand) * 5:
            level = min(level + (each * efficiency if each > 0 else each), capacity)
            least = min(least, level)
        return least

    assert lowest(size) >= -1e-7
    assert size <= 1e-9 or lowest(0.98 * size) < 0


def test_one_battery_for_one_evening():
    assert battery_size("6 kWh", "48 V", "80 %").m_as("Ah") == pytest.approx(6000 / 48 / 0.8)
    with pytest.raises(HydrokitError, match="depth must be a share"):
        battery_size("6 kWh", "48 V", 1.2)


# --- circuits, ballast ------------------------------------------------------------------------


@steady
@given(st.floats(0.01, 9e4))
def test_a_meter_reads_its_highest_value_on_the_upper_part_of_its_scale(reading):
    full = meter_range(reading)
    assert 1.25 * reading <= full * (1 + 1e-6) and full <= 1.25 * reading * 1.51


def test_margin_and_its_reciprocal():
    assert breaker_load(continuous_current("13 A")).m_as("A") == pytest.approx(13)


@pytest.mark.parametrize("breakers", ["iec", "us"])
def test_a_breaker_carries_its_circuit(breakers):
    for power in ("100 W", "2 kW", "3.68 kW", "20 kW"):
        found = circuit(power, "230 V", breakers=breakers)
        assert found.breaker_a >= 1.25 * found.current_a * (1 - 1e-9)
        assert found.ammeter_a > found.current_a and found.voltmeter_v >= 1.2 * 230
        assert any("licensed electrician" in each.message for each in found.findings)


def test_direct_current_needs_its_own_breakers():
    assert any("direct current" in each.message for each in circuit("1 kW", "48 V", "dc").findings)
    with pytest.raises(HydrokitError, match="above the largest usual breaker"):
        circuit("30 kW", "48 V", "dc")


@steady
@given(
    power=st.floats(100, 1e5),
    stages=st.integers(1, 6),
    pattern=st.sampled_from(["equal", "doubling"]),
    rule=st.sampled_from(sorted(BALLAST_MARGIN)),
)
def test_ballast_takes_the_whole_output_in_all_its_stages(power, stages, pattern, rule):
    found = ballast.si(power, 230.0, stages, rule, None, pattern)
    assert found.total_w >= power
    assert sum(found.stages_w) == pytest.approx(found.total_w)
    for each, resistance, current in zip(
        found.stages_w, found.resistances_ohm, found.currents_a, strict=True
    ):
        assert 230.0**2 / resistance == pytest.approx(each) and current * 230.0 == pytest.approx(
            each
        )


def test_published_margins_conflict_and_all_cover_the_output():
    """published: two makers' manuals say 120 %; principle: never under 100 %. Others as quoted beside them."""
    assert BALLAST_MARGIN["charge controller"][0] == pytest.approx(1.20)
    assert all(factor >= 1 and source for factor, source in BALLAST_MARGIN.values())
    with pytest.raises(HydrokitError, match="must take the whole output"):
        ballast("4 kW", "230 V", margin=0.9)


def test_ballast_adds_up_its_sources():
    assert ballast(Q_([600, 400], "W"), "24 V", margin=1.0).total_w == pytest.approx(1000)


def test_cautions_name_what_hurts():
    for word in (
        "licensed",
        "shock",
        "islanding",
        "loss of load",
        "overspeed",
        "ballast",
        "battery",
    ):
        assert len(CAUTIONS[word]) > 40
