"""What is assumed where the site file says nothing: listed with its source, and gone once it is said."""

import numpy as np
import pytest
import shared
import small_study

from hydrokit.plant.generator import GENERATOR_KINDS, generator
from hydrokit.report.pages.p05 import year as page
from hydrokit.study.build import uncertain


def listed(study):
    return {
        each.answer.key.removeprefix("assumed."): each.answer.value for each in study.assumptions
    }


def test_the_generators_constant_loss_is_listed_and_moves_the_energy(tmp_path):
    """Independent: at a quarter of its load a machine of 85 % loses c + (1 - c)/16 of its full losses; more of them constant, fewer kWh."""
    usual = shared.small()
    assert listed(usual)["constant_loss"] == GENERATOR_KINDS["synchronous"].constant_share == 0.45
    none, all_of_it = (
        small_study.changed(tmp_path / name, generator={"constant_loss": share})
        for name, share in (("none", "0 %"), ("all", "100 %"))
    )
    assert "constant_loss" not in listed(none)
    assert all_of_it.year.annual_kwh < usual.year.annual_kwh < none.year.annual_kwh
    lost = 1 / 0.85 - 1
    for share in (0.0, 0.2, 0.45, 1.0):
        shaft = 0.25 + lost * (share + (1 - share) / 16)
        assert float(
            generator.si("synchronous", 1000.0, 0.85, share).output_si(1000 * shaft)
        ) == pytest.approx(250, rel=1e-9)


def test_a_generator_whose_rating_is_given_is_assumed_about_as_one_without(tmp_path):
    usual = listed(shared.small())
    rated = listed(small_study.changed(tmp_path / "rated", generator={"rating": "5 kW"}))
    assert set(rated) == set(usual) and rated["constant_loss"] == usual["constant_loss"]
    bare = listed(
        small_study.changed(tmp_path / "bare", generator={"rating": "5 kW", "efficiency": None})
    )
    assert 0.7 < bare["generator_efficiency"] < 1


@pytest.mark.parametrize(
    "name, change",
    [
        ("jet_coefficient", {"turbine": {"jet_coefficient": "0.9"}}),
        ("water_temperature", None),
        ("loss_sd", {"uncertainty": {"loss": "9 %"}}),
        ("jet_area_sd", {"uncertainty": {"jet_area": "1 %"}}),
        ("head", {"uncertainty": {"head": "0.5 %"}}),
        ("unplanned", {"outage": {"unplanned": "2 %"}}),
        ("constant_loss", {"generator": {"kind": "induction", "constant_loss": "33 %"}}),
    ],
)
def test_an_assumption_goes_once_its_value_is_said(tmp_path, name, change):
    if change is None:
        assert name in listed(
            small_study.changed(tmp_path / "silent", site={"water_temperature": None})
        )
        assert name not in listed(shared.small())
        return
    assert name in listed(shared.small())
    assert name not in listed(small_study.changed(tmp_path / "said", **change))


def test_the_list_holds_what_the_run_used():
    study = shared.small()

    used, found = uncertain.uncertainties(study), listed(study)
    assert (found["loss_sd"], found["jet_area_sd"], found["head"]) == pytest.approx(
        (used.loss, used.jet_area, used.head)
    )
    assert found["jet_coefficient"] == pytest.approx(study.plant.jets.coefficient)
    assert found["years_sd"] == 0.20, "two whole years"
    shown = str(page.assumption_table(study, study.view()))
    assert (
        "common practice" in shown and "constant" not in shown.split("value")[0] and "45 %" in shown
    )


def test_page_says_which_energy_it_means():
    """P99, P90 and P50 of one year, ten years and the long run, in order, from the answers themselves."""
    study = shared.small()
    head = str(page.headline(study, study.view()))
    assert "One year to come" in head and "with a probability of 90 %" in head
    table = str(page.sure_table(study, study.view()))
    assert "mean of the next 10 years" in table and "long-run mean" in table
    for of in ("annual", "ten_years", "mean"):
        values = [study.answer(f"energy.{of}.p{level}").value for level in (99, 90, 75, 50)]
        assert np.all(np.diff(values) >= 0)
    assert (
        study.answer("energy.annual.p90").value
        <= study.answer("energy.ten_years.p90").value
        <= study.answer("energy.mean.p90").value
    )
    month = study.answer("energy.month.p50")
    np.testing.assert_allclose(
        month.value, study.energy_uncertainty.percentiles().loc[list(range(1, 13)), "P50"]
    )
    assert np.all(month.low <= month.value) and np.all(month.value <= month.high)
