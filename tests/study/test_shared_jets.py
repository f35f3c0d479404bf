"""Two machines that share the fixed jets of a plant: whose jets open first, at which efficiency, and what one of them does alone."""

import numpy as np
import pytest
from small_study import changed

from hydrokit.errors import HydrokitError
from hydrokit.report.pages.p03 import holding
from hydrokit.report.pages.p05 import machines
from hydrokit.report.pages.p09 import card

ONE = {"name": "low-water wheel", "jets": 1, "efficiency": "60 %"}
TWO = {"name": "flood wheel", "jets": 2, "efficiency": "75 %"}
TURBINE = {"jets": 3, "jet_diameter": "16 mm"}


def test_the_efficiency_is_the_mean_of_the_open_jets(tmp_path):
    shared = changed(tmp_path / "a", turbine=TURBINE, machine=[ONE, TWO])
    plain = changed(tmp_path / "b", turbine=TURBINE)
    # jets alike take the same water: by hand 0.60, (0.60 + 0.75) / 2, (0.60 + 0.75 + 0.75) / 3 against 0.75 for each
    for count, mean in ((1, 0.60), (2, 0.675), (3, 0.70)):
        there, here = (
            float(each.plant.replace(electric=()).at_si(np.inf, jets=count).power_w)
            for each in (shared, plain)
        )
        assert there / here == pytest.approx(mean / 0.75, rel=1e-9)


def test_the_order_of_the_list_is_the_order_of_opening(tmp_path):
    turned = changed(tmp_path, turbine=TURBINE, machine=[TWO, ONE])
    each = [opening.part_load.best for opening in turned.plant.jets.openings()]
    assert each == pytest.approx([0.75, 0.75, 0.70])


def test_each_machine_has_its_own_surge(tmp_path):
    study = changed(tmp_path, turbine=TURBINE, machine=[ONE, TWO])
    (first, small), (second, large) = study.single_surges
    assert (first, second) == ("low-water wheel", "flood wheel")
    # Joukowsky: the rise goes with the water stopped, twice as much for two jets of three (both are stopped at once)
    assert large > 1.5 * small > 0
    view = study.view("metric")
    assert "low-water wheel alone" in str(holding.surge_table(study, view))
    text = machines.sets_words(study, view).text
    assert "low-water wheel has jet 1" in text and "flood wheel has jets 2 to 3" in text


@pytest.mark.parametrize("turbine, machine, said", [
    (TURBINE | {"jets": 4}, [ONE, TWO], "have 3 jets together, but .turbine. jets is 4"),
    (TURBINE, [ONE, {"design_flow": "5 L/s"}], "do not go together"),
    (TURBINE, [ONE | {"design_flow": "5 L/s"}, {"name": "second", "jets": 2, "design_flow": "5 L/s"}], "one of the two"),
    (TURBINE, [{"name": "neither"}], "neither needs design_flow"),
    (TURBINE | {"jet_kind": "spear", "jet_diameter": None, "design_flow": "9 L/s"}, [ONE, TWO], "jets of fixed bore"),
])  # fmt: skip
def test_machines_told_wrongly(tmp_path, turbine, machine, said):
    with pytest.raises(HydrokitError, match=said):
        _ = changed(tmp_path, turbine=turbine, machine=machine).plant


def test_the_card_says_whose_jets_are_whose(tmp_path):
    study = changed(tmp_path, turbine=TURBINE, machine=[ONE, TWO])
    assert (
        "the low-water wheel has jet 1 and the flood wheel has jets 2 to 3"
        in card.card_words(study, study.view("metric")).text
    )


@pytest.mark.slow
def test_efficiencies_of_machines_that_readings_overrule_are_told_with_both_numbers(tmp_path):
    """By hand: 0.60 and 0.75 twice make 0.70 at the shaft, 0.595 behind a generator of 85 %; the plant was read at some 0.5."""
    plain = changed(tmp_path / "plain", turbine=TURBINE, machine=[ONE, TWO])
    weight = 9.80665 * 999.8
    readings = [
        {"jets": 0, "pressure": f"{weight * float(plain.plant.penstock.static_si()) / 1e5:.3f} bar"}
    ]
    for jets in (1, 2, 3):
        seen = plain.plant.at_si(np.inf, jets=jets)
        hydraulic = weight * float(seen.used_m3s) * float(seen.net_head_m)
        readings.append(
            {
                "jets": jets,
                "pressure": f"{weight * float(seen.net_head_m) / 1e5:.3f} bar",
                "watts": f"{0.5 * hydraulic:.0f} W",
                "spilling": True,
            }
        )
    read = changed(tmp_path / "read", turbine=TURBINE, machine=[ONE, TWO], reading=readings)
    (told,) = [each for each in read.findings() if "[[machine]] efficiency" in each.message]
    assert told.level == "caution" and "60 % of low-water wheel" in told.message
    assert "make 60 % with that of the generator" in told.message  # 59.5 %
    assert f"show {100 * read.baseline.efficiency:.0f} %" in told.message
    assert read.baseline.efficiency == pytest.approx(0.5, rel=0.05)
    assert not [each for each in plain.findings() if "[[machine]] efficiency" in each.message]
