"""Where the head goes, and what share of the water's power arrives: held against the answers and an independent library."""

import fluids
import numpy as np
import pytest
import shared

from hydrokit.study.build.head_loss import head_losses
from hydrokit.study.build.part_load import part_load
from hydrokit.water import density, viscosity

G = 9.80665


@pytest.mark.parametrize("name", shared.DEMOS)
def test_the_parts_of_the_head_loss_are_the_whole_of_it(name):
    study = shared.demo(name)
    found = head_losses(study)
    assert sum(each.head_m for each in found.parts) == pytest.approx(
        study.answer("loss.penstock").value, rel=2e-3
    )
    assert found.net_m == pytest.approx(study.answer("head.net").value, rel=5e-3)


def test_friction_and_inlet_are_those_of_an_independent_library():
    study = shared.demo("alder-burn")
    found = head_losses(study)
    (pipe,) = study.penstock.joined.pipes
    speed = found.flow_m3s / (np.pi / 4 * pipe.diameter_m**2)
    nu = float(viscosity.si(study.water_temperature_k))
    factor = fluids.friction_factor(
        speed * pipe.diameter_m / nu, pipe.roughness_m * pipe.roughness_factor / pipe.diameter_m
    )
    parts = {each.name: each.head_m for each in found.parts}
    friction = factor * pipe.length_m / pipe.diameter_m * speed**2 / (2 * G) * pipe.loss_factor
    assert parts["friction in the pipe"] == pytest.approx(friction, rel=1e-3)
    # A square inlet, K 0.5: Çengel and Cimbala, Fluid Mechanics, table 8-4 (from memory).
    assert parts["pipe inlet"] == pytest.approx(0.5 * speed**2 / (2 * G), rel=1e-6)


@pytest.mark.parametrize("name", shared.DEMOS)
def test_what_arrives_at_full_flow_is_the_power_at_the_loads_over_the_waters(name):
    study = shared.demo(name)
    found = part_load(study)
    power = study.answer("power.loads").value
    water = float(density.si()) * G * study.full_flow_m3s * study.answer("head.gross").value
    assert found.together[-1] == pytest.approx(power / water, rel=0.02)
    running = np.isfinite(found.together)
    assert np.all(found.together[running] <= np.minimum(found.pipe, found.machine)[running] + 1e-9)
    assert found.together[found.best] == np.nanmax(found.together) < 1
