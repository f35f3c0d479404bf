"""One plant at one under-fed flow: year, jet plan, diagnosis, gauge panel and phone say the same watts."""

import base64

import numpy as np
import pytest
import small_study

from hydrokit.lab import explore
from hydrokit.plant.schedule import jet_schedule
from hydrokit.report.phone import table_of
from hydrokit.running.condition import Condition, forward

COMMISSIONED = "date,jets [-],pressure [bar],watts [W],spilling,commissioning\n" + "".join(
    f"2024-05-02,{row},yes,yes\n" for row in ("0,3.72,0", "1,3.67,1860", "2,3.54,3430")
)
PLANTS = {
    "held, as commissioned": {
        "generator": {"kind": "synchronous", "efficiency": "85 %"},
        "readings": {"file": "readings.csv"},
    },
    "magnets, as planned": {"generator": {"kind": "permanent magnet", "efficiency": "85 %"}},
}


@pytest.mark.parametrize(
    "name", ["held, as commissioned", pytest.param("magnets, as planned", marks=pytest.mark.slow)]
)
def test_the_same_watts_everywhere(tmp_path, name):
    """The flow is one at which all jets, under-fed, still give more than one less that is fed."""
    study = small_study.changed(
        tmp_path, cable=None, **PLANTS[name], files={"readings": COMMISSIONED}
    )
    plant = study.plant.replace(supply=(), states=(), schedule=())
    jets = plant.jets.count
    blocked, arriving = 0.55, 0.45 * 30e-3  # of the intake, on the panel's knob
    panel = explore.panel_gauge(study, study.view())
    said = {key: now for key, now, *_ in panel.numbers(jets_open=jets, blocked=blocked).rows}
    flow, full = arriving, float(plant.running(jets=jets).full_m3s[0])
    assert 0.8 < flow / full < 0.95
    healthy = study.signatures.plant
    missing = 1 - flow / healthy.full_flow_m3s
    sick = forward(healthy, Condition(missing=missing))

    told = {
        "year": float(plant.curve(jets=jets).power_si(flow)),
        "jet plan": float(jet_schedule(plant).curve.power_si(flow)),
        "diagnosis": float(sick.power_w[jets]),
        "panel": float(said["power"].split()[0].replace(",", "")),
        "phone": _on_the_phone(study, missing, jets),
    }
    assert jet_schedule(plant).jets_si(flow) == jets and sick.spare[jets] < 0
    cube = float(plant.curve(jets=jets).power_si(2 * full)) * (flow / full) ** 3
    for where, watts in told.items():
        digits = 5.0 if where == "panel" else 0.0  # it shows three
        assert watts == pytest.approx(told["year"], rel=1e-3, abs=digits), (where, told)
    if name.startswith("held"):
        assert told["year"] < 0.97 * cube, "a held runner gives less than the water's cube"


def _on_the_phone(study, missing, jets):
    """Watts that the phone's table foretells, between its sizes of an under-fed plant."""
    table = table_of(study.signatures, study, study.card, study.view())

    def rows(which, kind):
        return np.frombuffer(base64.b64decode(table["rows"][which]), kind)

    fault, size = rows("fault", np.uint8), rows("size", "<f4")
    number = next(n for n, each in enumerate(table["faults"]) if each["key"] == "under_fed")
    here = np.flatnonzero(fault == number)
    power = rows("power", "<i2").reshape(-1, len(fault))[jets] / 6000
    return float(table["healthy"][jets] * np.exp(np.interp(missing, size[here], power[here])))
