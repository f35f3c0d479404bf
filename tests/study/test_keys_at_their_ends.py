"""Keys at the ends of what they may be: refused by their name, or told; and nothing below nought comes of them."""

import numpy as np
import odd_studies
import pytest
import small_study

from hydrokit.errors import InputError


def test_a_vent_beyond_the_end_of_the_penstock_is_refused(tmp_path):
    """The small study's penstock: 150 m level and 38 m of fall, a little over 154 m along the pipe."""
    along = sum(np.hypot([2, 58, 90], [0.7, 14.3, 23]))
    assert along == pytest.approx(154.7, abs=0.1)
    with pytest.raises(InputError, match=r"\[penstock\] vents: a vent at 155 m lies beyond"):
        small_study.changed(tmp_path / "beyond", penstock={"vents": ["155 m"]}).read()
    small_study.changed(tmp_path / "within", penstock={"vents": ["154 m"]}).read()


@pytest.mark.parametrize("over", [3, 30])
def test_water_high_over_the_inlet_of_the_line_is_told_by_its_key(tmp_path, over):
    """The first station of its profile lies at 305 m."""
    found = odd_studies.opened(
        tmp_path, "line that runs", diversion={"source_level": f"{305 + over} m"}
    )
    told = [each for each in found.judged_findings if each.where == "[diversion] source_level"]
    assert len(told) == (over > 10)


def test_no_energy_lies_below_nought_where_a_machine_runs_on_nothing_but_its_full_flow(tmp_path):
    """What the plant of a draw gives at most is a parabola between three plants, of which one gives nothing."""
    study = odd_studies.opened(tmp_path, "francis", turbine={"minimum_flow": "100 %"})
    for of in ("single", "several", "mean"):
        assert study.energy_uncertainty.outlook.kwh(of, False, 10).min() >= 0
    told = study.answer("energy.annual.p50")
    assert 0 <= told.low <= told.value <= told.high
    assert study.findings()


def test_stages_of_the_ballast_are_whole(tmp_path):
    with pytest.raises(InputError, match=r"\[ballast\] stages must be a whole number"):
        small_study.changed(tmp_path, ballast={"stages": 2.5})
