"""Both metric demos day by day, by a model that knows nothing of the package: from their site files and sheets to net kWh."""

from pathlib import Path

import pytest
import shared
from walked_year import model

STUDIES = Path(__file__).resolve().parents[2] / "studies"


@pytest.mark.parametrize("name", ["alder-burn", "hazel-beck"])
def test_the_net_year_by_hand(name):
    """independent: net kWh, days by state and what visits lose within 0.5 % (days: half a day; frost, which is drawn: 5 %)."""
    study = shared.demo(name)
    plant = study.plant
    pipe, generator = plant.penstock.line.pipes[0], plant.electric[0]
    found = model(
        STUDIES / name,
        plant.jets.diameters_m,
        plant.jets.coefficient,
        float(pipe.diameter_m),
        float(generator.size_w),
    )
    year = study.year
    steps = {step.name: float(step.kwh.sum()) for step in year.steps}
    assert year.gross_annual_kwh == pytest.approx(found["gross"], rel=5e-3)
    assert year.annual_kwh == pytest.approx(found["net"], rel=5e-3)
    assert steps["jets"] == pytest.approx(found["visits"], rel=5e-3)
    assert steps.get("frost", 0.0) == pytest.approx(found["frost"], rel=0.05, abs=1.0)
    for state in ("full", "part", "underfed", "stopped"):
        assert study.answer(f"days.{state}.year").value == pytest.approx(
            found[state], rel=5e-3, abs=0.5
        ), state
    # and the uncertainty is about the same year
    assert study.energy_uncertainty.base.annual_kwh == pytest.approx(found["net"], rel=5e-3)
