"""Jets of different bore, listed: every way to open them counts, and a number of them tells of nothing but none and all."""

from dataclasses import replace

import numpy as np
import odd_studies
import pytest
import small_study

from hydrokit.errors import InputError

TWO = ["10 mm", "16 mm"]
TURBINE = small_study.SITE["turbine"]


def study_of(folder, **turbine):
    return small_study.changed(folder, turbine=TURBINE | turbine)


def test_each_way_to_open_two_unlike_jets_counts(tmp_path):
    study = study_of(tmp_path, jet_diameter=TWO)
    areas = [0.95 * np.pi / 4 * each**2 for each in (0.010, 0.016, np.hypot(0.010, 0.016))]
    assert [each.area_m2 for each in study.plant.jets.openings()] == pytest.approx(areas)
    # All open they are as one pair of a like bore; with less water one of them fits better.
    alike = study_of(
        tmp_path / "alike",
        jet_diameter=f"{1000 * np.sqrt(np.mean(np.square([0.010, 0.016]))):.6f} mm",
    )
    assert study.plant.at_si(np.inf).power_w == pytest.approx(alike.plant.at_si(np.inf).power_w)
    # With less water it is the best of one, the other and both, each by itself.
    flows, plant = np.linspace(0.0005, 0.008, 60), study.plant
    ways = [
        plant.replace(jets=replace(plant.jets, diameters_m=bores)).curve(1).power_si(flows)
        for bores in ((0.010,), (0.016,), (0.010, 0.016))
    ]
    assert plant.curve(1).power_si(flows) == pytest.approx(
        np.max(ways, axis=0), rel=1e-4
    )  # curves are read between points
    assert len(set(np.argmax(ways, axis=0))) == 3


def test_a_list_and_the_number_of_jets_must_agree(tmp_path):
    assert study_of(tmp_path / "left out", jets=None, jet_diameter=TWO).plant.jets.count == 2
    with pytest.raises(InputError, match="lists 2 bores, but there are 3 jets"):
        assert study_of(tmp_path / "three", jets=3, jet_diameter=TWO).plant
    with pytest.raises(InputError, match=r"jet_diameter\[2\] has no unit"):
        study_of(tmp_path / "bare", jet_diameter=["10 mm", 16])


def test_only_none_and_all_of_them_are_a_reading(tmp_path):
    study = odd_studies.opened(tmp_path, "jets of two bores")
    told = [each.message for each in study.findings()]
    assert any("[[reading]] 2 left out: the jets differ in bore" in each for each in told)
    assert any("the jets have 2 bores" in each for each in told)
    assert [row.jets for row in study.card.rows] == [2]
    # What was read with all open is what the plant gives with all open.
    assert study.card.rows[0].pressure_pa == pytest.approx(3.2e5, rel=0.01)
    assert study.plant.at_si(np.inf).power_w == pytest.approx(2100, rel=0.01)
    assert study.jet_plan is None and study.signatures is None
