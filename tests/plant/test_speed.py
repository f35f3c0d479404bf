"""A runner held at one speed gives less than the cube of the flow when its jets are under-fed; a free one does not."""

import numpy as np
import pytest
import shared
import small_study

from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.pelton import bucket_efficiency, off_speed_efficiency
from hydrokit.plant.runner_speed import BATTERY, FOLLOWS, UNKNOWN
from hydrokit.plant.runner_speed import HELD as SPEED_HELD

HELD = steady(0.6, speed=SPEED_HELD)


def plant(curve, jets=4):
    return Chain(
        Penstock(MeasuredLoss(60e3), 50.0), FixedJets((0.012,) * jets, 0.95), Runner(curve)
    )


def test_the_parabola_is_that_of_the_bucket():
    # Buckets at x of the jet's speed, best at 1/2: as the head falls to h the jet slows by its root and x rises.
    for head in (1.2, 1.0, 0.9, 0.7, 0.5, 0.3):
        share = 0.5 / np.sqrt(head)
        assert off_speed_efficiency(head) == pytest.approx(
            bucket_efficiency(share) / bucket_efficiency(0.5), rel=1e-12
        )
    np.testing.assert_array_equal(off_speed_efficiency([0.25, 0.1, 0.0]), 0.0)
    with pytest.raises(HydrokitError, match="zero or more"):
        off_speed_efficiency(-0.1)


STRETCHED = (
    1.67222  # exponent of a torque that falls to nothing at 1.8 times the best speed: 1.8^m = 1 + m
)


@pytest.mark.parametrize("ratio", [0.7, 0.8, 0.9, 1.1, 1.2, 1.35])
def test_another_runaway_lies_within_the_spread_that_is_stated(ratio):
    """published: 1.8 to 1.9 for Pelton wheels (lecture note) beside about 2 (journal abstract); r[1 - (r/1.8)^m] is best at 1."""
    stretched = ratio * (1 - (ratio / 1.8) ** STRETCHED) / (1 - 1.8**-STRETCHED)
    head = ratio**-2.0
    apart = np.log(stretched / SPEED_HELD.efficiency_si(head))
    assert abs(apart) < 1.1 * SPEED_HELD.log_sd_si(head)


def test_what_holds_the_speed_decides_what_under_fed_jets_give():
    """analytic: the water's cube where the speed follows; q(2q - 1) where it is held; a plain rectifier between, by its copper."""
    flow = np.linspace(0.6, 1.0, 9)
    np.testing.assert_allclose(FOLLOWS.flow_power_si(flow), flow**3)
    np.testing.assert_allclose(SPEED_HELD.flow_power_si(flow), flow * (2 * flow - 1))
    for speed in (FOLLOWS, BATTERY, SPEED_HELD, UNKNOWN):
        np.testing.assert_allclose(
            speed.flow_of_power_si(speed.flow_power_si(flow)), flow, rtol=1e-9
        )
        assert speed.efficiency_si(1.0) == 1 and speed.log_sd_si(1.0) == 0
    # E = (1 - c) + c I with the windings' drop c at full power, E and so the speed over that then; best at v = 1
    shares = []
    for copper in (0.1, 0.2):
        for jet in (0.9, 0.75):
            power, pace = 0.5, 1.0
            for _ in range(60):
                pace = 1 - copper + copper * power
                power = jet**3 * (pace / jet) * (2 - pace / jet)
            shares.append(1 - np.log(pace) / np.log(jet))
    assert BATTERY.low - 0.05 < min(shares) and max(shares) < BATTERY.high + 0.05
    assert np.mean(shares) == pytest.approx(BATTERY.held, abs=0.06)


def test_fed_jets_give_what_they_gave_and_under_fed_ones_lose_by_the_parabola():
    free, held = plant(steady(0.6)), plant(HELD)
    flow = np.linspace(0.001, 0.02, 200)
    for jets in range(1, 5):
        full = float(held.running(jets=jets).full_m3s[0])
        share = np.minimum(flow / full, 1.0)
        np.testing.assert_allclose(
            held.at_si(flow, jets=jets).power_w,
            free.at_si(flow, jets=jets).power_w
            * np.where(share > 0.5, (2 * share - 1) / share**2, 0.0),
            rtol=1e-9,
            atol=1e-9,
        )
    assert held.at_si(1.0).power_w == free.at_si(1.0).power_w
    # The best number of jets loses little: most where a jet more or less is a wash.
    best_free, best_held = free.at_si(flow).power_w, held.at_si(flow).power_w
    assert np.all(best_held <= best_free * (1 + 1e-12)) and best_held.sum() > 0.98 * best_free.sum()


def test_the_curve_of_a_held_runner_is_as_true_as_any():
    held = plant(HELD)
    flow = np.linspace(0.0, 0.02, 3001)
    np.testing.assert_allclose(
        held.curve().power_si(flow), held.at_si(flow).power_w, rtol=2e-4, atol=0.05
    )


def test_a_year_loses_a_little_and_a_dry_month_more(tmp_path):
    held = small_study.changed(tmp_path / "held", generator={"kind": "synchronous"})
    free = small_study.changed(tmp_path / "free", generator={"speed": "free", "efficiency": "85 %"})
    assert (
        held.plant.runner.part_load.speed.held == 1 and free.plant.runner.part_load.speed == FOLLOWS
    )
    same = held.plant.replace(runner=Runner(steady(0.75), diameter_m=held.plant.runner.diameter_m))
    flow = held.usable.to_numpy()
    power = {
        name: chain.replace(electric=()).at_si(flow).power_w
        for name, chain in (("held", held.plant), ("free", same))
    }
    lost = 1 - power["held"].sum() / power["free"].sum()
    assert 0 < lost < 0.05  # many days with less than one jet takes
    month = held.usable.index.month
    dry = min(range(1, 13), key=lambda each: power["free"][month == each].sum())
    assert 1 - power["held"][month == dry].sum() / power["free"][month == dry].sum() > lost


def test_the_sizing_counts_with_the_same_runner():
    made = shared.small()
    designs = made.sizing
    assert (
        designs.chain(designs.choice).runner.part_load.speed
        == made.plant.runner.part_load.speed
        != FOLLOWS
    )
