"""A fault stands in one place: one more entry in the table, and everything knows it."""

import numpy as np
import pytest
from test_page_running import READ, THIN

from hydrokit.report.pages.p09 import diagnosing, faults
from hydrokit.running.condition import Condition
from hydrokit.running.diagnose import diagnose
from hydrokit.running.faults import FAULTS, Fault, Frost, Stroke
from hydrokit.running.observation import gathered, observation
from hydrokit.running.signatures import signatures
from hydrokit.study.opening import open_study

BELT = Fault(
    key="belt",
    name="the belt slips",
    short_name="belt",
    prior=40.0,
    sizes=lambda plant: np.linspace(0.05, 0.9, 60),
    kind="share",
    size_is="of the watts do not come to the generator",
    condition=lambda size, which: Condition(machine_lost=size),
    action="Stop the runner and lock it, then tighten the belt.",
    shown_size=0.4,
    stroke=Stroke(on=("power",)),
    frost=Frost(3.0, air_k=273.15),
)

LOW = observation(3, "51.5 psi", power="1050 W", spilling=True)


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    folder = tmp_path_factory.mktemp("belt")
    (folder / "site.toml").write_text(THIN + READ, encoding="utf-8")
    study = open_study(folder)
    day = np.array(["2024-09-01"], dtype="datetime64[s]")
    study.visits = [*study.visits, *gathered(day, [LOW], "readings")]
    study.signatures = signatures(study.expectation, (*FAULTS, BELT))
    return study


def test_it_is_diagnosed(study):
    found = diagnose(study.signatures, LOW)
    assert found.first.key == "belt" and "machine" in found.inseparable
    without = diagnose(signatures(study.expectation), LOW)
    assert without.first.key == "machine" and "belt" not in [each.key for each in without.suspects]


def test_frost_makes_it_likelier(study):
    mild, cold = (
        diagnose(study.signatures, observation(3, "51.5 psi", power="1050 W", air=air))
        .of("belt")
        .probability
        for air in ("10 degC", "-5 degC")
    )
    assert cold > mild


def test_the_pages_show_it(study):
    view = study.view()
    assert any(row[0] == BELT.name for row in faults.fault_table(study, view).rows)
    names = [each.get_title("left") for each in faults.pressure_figure(study, view).figure.axes]
    assert BELT.short_name in names
    last = diagnosing.last_table(study, view)
    assert any(BELT.name in row and BELT.action in row for row in last.rows)
    assert BELT.name in diagnosing.last_words(study, view).text
    assert BELT.short_name in diagnosing.rehearsal_table(study, view).columns
    assert any(row[0] == BELT.name for row in diagnosing.least_table(study, view).rows)


def test_every_fault_tells_all_that_is_asked_of_it():
    for fault in FAULTS:
        assert fault.name and fault.short_name and fault.action
        assert fault.size_is or not fault.kind
    assert len({fault.key for fault in FAULTS}) == len({fault.short_name for fault in FAULTS})
