"""The gauge card against true plants that know nothing of hydrokit, against closed forms, and by hand."""

from dataclasses import replace

import numpy as np
import pytest
from seeded import NOISE, baseline_of, line_of
from true_plant import DENSITY, GRAVITY, PLANTS

from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.wire import Wire
from hydrokit.running.card import card, expected
from hydrokit.running.observation import Noise
from hydrokit.works.rated import Rated

SITE = PLANTS["four small jets"]


def plan(**changes):
    return Chain(
        Penstock(line_of(SITE), SITE.head),
        FixedJets((SITE.jet_bore,) * 4, SITE.coefficient),
        Runner(steady(SITE.efficiency)),
        **changes,
    )


@pytest.fixture(scope="module")
def commissioned():
    """(true plant, card) of twenty drawn plants."""
    random = np.random.RandomState(7)
    made = []
    for _ in range(20):
        true = SITE.drawn(random)
        made.append((true, card(baseline_of(SITE, true, random), NOISE)))
    return made


def test_bands_hold_the_readings_they_promise(commissioned):
    """independent: 20 drawn plants, readings of each at every number of jets; 9 of 10 in the band, give or take 3 standard errors."""
    random = np.random.RandomState(8)
    inside, below, count = 0, 0, 0
    for true, made in commissioned:
        for row in made.rows:
            for _ in range(5):
                pressure, watts, _, _ = true.read(random, row.jets)
                inside += int(row.pressure_low_pa <= pressure <= row.pressure_high_pa) + int(
                    row.power_low_w <= watts <= row.power_high_w
                )
                below += pressure < row.alarm_pa
                count += 1
    # readings of one plant share its baseline: about 20 · 2 independent ones
    assert inside / (2 * count) == pytest.approx(0.9, abs=3 * np.sqrt(0.9 * 0.1 / 40))
    assert below / count < 0.006, "the alarm rings for nothing once in 740 readings"


def test_flow_lies_in_its_band(commissioned):
    inside = [
        row.flow_low_m3s <= true.true_reading(row.jets)[2] <= row.flow_high_m3s
        for true, made in commissioned
        for row in made.rows
    ]
    assert np.mean(inside) == pytest.approx(0.9, abs=3 * np.sqrt(0.09 / 20)), (
        "all jets of a plant share one coefficient"
    )


def test_one_jet_less_overtakes_where_the_card_says():
    """analytic: under-fed jets have P = c·q³/n², so n − 1 fed ones overtake at q = Q(n−1)·(n/(n−1))^(2/3)."""
    head, loss, area = 40.0, 30e3, 0.95 * np.pi / 4 * 0.012**2
    chain = Chain(
        Penstock(MeasuredLoss(loss), head), FixedJets((0.012,) * 3, 0.95), Runner(steady(0.6))
    )
    made = card(expected(chain))
    for row, fewer in zip(made.rows[1:], made.rows):
        flow = np.sqrt(head / (loss + 1 / (2 * GRAVITY * (fewer.jets * area) ** 2))) * (
            row.jets / fewer.jets
        ) ** (2 / 3)
        by_hand = chain.density_kgm3 * GRAVITY * (flow / (row.jets * area)) ** 2 / (2 * GRAVITY)
        assert row.close_pa == pytest.approx(by_hand, rel=1e-6)
        both = [float(chain.at_si(flow, jets=count).power_w) for count in (row.jets, fewer.jets)]
        assert both[0] == pytest.approx(both[1], rel=1e-6)
    assert np.isnan(made.rows[0].close_pa)


def test_an_expected_card_is_the_chain_itself():
    """The same numbers as the chain's own operating point, whatever its intake lets in: the pond spills."""
    made = card(expected(plan(supply=(Rated(0.002, name="a small intake"),))))
    for row in made.rows:
        full = plan().at_si(np.inf, jets=row.jets)
        assert row.flow_m3s == pytest.approx(float(full.used_m3s)) and row.power_w == pytest.approx(
            float(full.power_w)
        )
        assert row.pressure_pa == pytest.approx(
            plan().density_kgm3 * GRAVITY * float(full.net_head_m)
        )
        assert row.pressure_pa == pytest.approx(SITE.true_reading(row.jets)[0], rel=0.01), (
            "independent: Swamee-Jain plant, 1 % its own error"
        )
    assert not made.commissioned and any(
        "nothing was read" in each.message for each in made.findings
    )


def test_expected_uncertainties_are_those_of_drawn_plants():
    """independent: the scatter of 300 drawn true plants; 15 % is three standard errors of a standard deviation from 300."""
    random = np.random.RandomState(3)
    read = np.array(
        [
            [SITE.drawn(random, 0.03, 0.15).true_reading(4)[place] for place in (0, 1, 2)]
            for _ in range(300)
        ]
    )
    found = expected(plan(), head=1e-9, loss=0.15, jet_area=0.03, efficiency=0.05, few_jets=0.0)
    for sd, column in zip(
        (found.pressure_sd_pa[-1], found.power_sd_w[-1], found.flow_sd_m3s[-1]), read.T
    ):
        assert sd == pytest.approx(column.std(), rel=0.15)


def test_commissioning_narrows_the_bands():
    random = np.random.RandomState(5)
    known = card(baseline_of(SITE, SITE, random), NOISE).rows[-1]
    planned = card(baseline_of(SITE, SITE, random, commissioned=False), NOISE).rows[-1]
    assert known.pressure_high_pa - known.pressure_low_pa < 0.8 * (
        planned.pressure_high_pa - planned.pressure_low_pa
    )
    assert known.power_high_w - known.power_low_w < 0.6 * (
        planned.power_high_w - planned.power_low_w
    )


def test_gauge_height_and_zero_move_every_pressure():
    """analytic: a gauge 2 m higher reads ρg·2 m less; a zero error adds to all."""
    at_jets = card(expected(plan()))
    higher = card(expected(plan()), gauge_height_m=2.0, zero_error_pa=5e3)
    hung = card(expected(plan(), gauge_height_m=2.0), zero_error_pa=5e3)
    shift = 5e3 - plan().density_kgm3 * GRAVITY * 2.0
    for moved in (higher, hung):
        assert moved.shut_off_pa - at_jets.shut_off_pa == pytest.approx(shift)
        for new, old in zip(moved.rows, at_jets.rows):
            assert new.pressure_pa - old.pressure_pa == pytest.approx(shift)
    for new, old in zip(higher.rows[1:], at_jets.rows[1:]):
        for name in ("pressure_low_pa", "alarm_pa", "close_pa"):
            assert getattr(new, name) - getattr(old, name) == pytest.approx(shift)


def test_amperes_are_watts_over_volts():
    made = card(expected(plan()), volts=230.0, amps_per_va=1 / (np.sqrt(3) * 0.8))
    for row in made.rows:
        assert row.amps == pytest.approx(row.power_w / (np.sqrt(3) * 230.0 * 0.8))
        assert row.amps_low < row.amps < row.amps_high
    assert np.isnan(card(expected(plan())).rows[0].amps)


def test_a_spear_and_a_long_wire_have_a_card_too():
    chain = Chain(
        Penstock(line_of(SITE), SITE.head),
        Adjustable(0.012, 2),
        Runner(steady(0.7)),
        electric=(Wire(0.5, 230.0),),
    )
    made = card(expected(chain))
    assert [row.jets for row in made.rows] == [1, 2]
    assert made.rows[1].power_w == pytest.approx(float(chain.at_si(np.inf).power_w))
    assert made.rows[1].pressure_pa < made.rows[0].pressure_pa < made.shut_off_pa


def test_jets_that_only_run_together_have_one_row():
    chain = replace(plan(), jets=FixedJets((SITE.jet_bore,) * 4, SITE.coefficient, valves=False))
    assert [row.jets for row in card(expected(chain)).rows] == [4]


@pytest.mark.parametrize("level", [0.0, 1.0, 90])
def test_a_level_that_is_no_chance_is_refused(level):
    with pytest.raises(HydrokitError, match="between 0 and 1"):
        card(expected(plan()), level=level)


def test_wider_level_wider_band_and_a_pipe_at_its_limit_is_told():
    half, most = (card(expected(plan()), Noise(), level).rows[-1] for level in (0.5, 0.99))
    assert (
        most.pressure_low_pa < half.pressure_low_pa < half.pressure_high_pa < most.pressure_high_pa
    )
    assert any(
        each.level == "problem" for each in card(expected(plan()), closing_s=np.inf).findings
    )
    assert DENSITY == pytest.approx(plan().density_kgm3, rel=1e-4)
