"""A pipe that loses less never costs useful energy: the runner keeps the speed that was set for the plant as it stands."""

import numpy as np
import pytest
from odd_studies import opened

from hydrokit.energy.cases import year_kwh
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.runner_speed import HELD as SPEED_HELD
from hydrokit.works.state import State

WIDE = [
    {"name": "smoother", "cost": 10, "pipe": "PVC-U PN 10 140 mm"},
    {"name": "wide", "cost": 20, "pipe": "PVC-U PN 10 160 mm"},
    {"name": "wider", "cost": 30, "pipe": "PVC-U PN 10 200 mm"},
    {"name": "widest", "cost": 40, "pipe": "PVC-U PN 10 315 mm"},
]
STUDIES = [
    ("plain", {"turbine": {"jets": jets, "jet_diameter": f"{bore} mm"}, "loads": {"demand": need}})
    for jets, bore in ((1, 24), (2, 20), (3, 15), (4, 16))
    for need in ("400 kWh", "1500 kWh")
] + [(name, {}) for name in ("pond and visits", "leak", "screens and leaves")]
NARROW = {"pipe": [{"inside_diameter": "118 mm", "roughness": "0.3 mm", "fittings": 2.0}]}


@pytest.mark.parametrize("name, changed", STUDIES)
def test_less_head_loss_never_costs_useful_energy(tmp_path, name, changed):
    study = opened(tmp_path, name, penstock=NARROW, upgrade=WIDE, **changed)
    assert study.plant.runner.part_load.speed.held == 1 and len(study.changes) == len(WIDE)
    evaluate, case = year_kwh(study.demand_w, study.winter), study.base_case
    before = evaluate(case)
    for change in study.changes:
        after = evaluate(change.apply(case))
        for of in before:
            assert after[of] >= before[of] * (1 - 1e-6), (change.name, of, after[of], before[of])
        if change.name != "smoother":
            before = after


HELD = steady(0.7, speed=SPEED_HELD)


def plant(coefficient):
    return Chain(
        Penstock(MeasuredLoss(coefficient), 50.0), FixedJets((0.012,) * 4, 0.95), Runner(HELD)
    )


def test_an_installed_runner_obeys_eulers_equation():
    """By hand: P = 2 rho Q u (v - u) eta, with u half the speed of the jet that it was set for."""
    old, new = plant(80e3).installed(), plant(20e3).penstock
    changed, flow = old.replace(penstock=new), np.linspace(0.001, 0.02, 300)
    for jets in range(1, 5):
        area = jets * np.pi / 4 * 0.012**2 * 0.95
        fed = float(old.running(jets=jets).full_m3s[0])
        bucket = fed / area / 2  # half the ideal speed of the jet under the old pipe
        used = np.minimum(flow, float(changed.running(jets=jets).full_m3s[0]))
        jet = used / area
        power = 2 * old.density_kgm3 * used * bucket * np.maximum(jet - bucket, 0.0) * 0.7
        np.testing.assert_allclose(
            changed.at_si(flow, jets=jets).power_w, power, rtol=1e-9, atol=1e-9
        )
        assert np.all(power >= old.at_si(flow, jets=jets).power_w * (1 - 1e-9))
    # what changes nothing, changes nothing
    np.testing.assert_allclose(old.at_si(flow).power_w, plant(80e3).at_si(flow).power_w, rtol=1e-12)


def test_less_air_never_costs_power():
    """The speed suits the clean pipe; what air takes of the head in a month does not set the runner anew."""
    flow = np.linspace(0.001, 0.02, 300)
    airy = plant(60e3).replace(states={1: State(air_m=8.0), 2: State(air_m=2.0)})
    worse, better, clean = (airy.at_si(flow, month=month).power_w for month in (1, 2, 3))
    assert np.all(worse <= better * (1 + 1e-12)) and np.all(better <= clean * (1 + 1e-12))


def test_the_speed_that_is_counted_with_is_told(tmp_path):
    study = opened(tmp_path / "held", "plain")
    told = study.answer("assumed.runner_speed")
    assert told.value == study.answer("head.net").value
    free = opened(tmp_path / "free", "plain", generator={"speed": "free"})
    assert free.answer("assumed.runner_speed") is None
