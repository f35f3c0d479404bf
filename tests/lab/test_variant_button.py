"""What the knobs of a panel stand at becomes a study of its own, and nothing that is there is touched."""

import shutil
from pathlib import Path

import numpy as np
import pytest
import shared

from hydrokit.errors import InputError
from hydrokit.lab import explore
from hydrokit.lab.variant_button import free_folder, residual_rules, variant_box, written
from hydrokit.study.attended import attended
from hydrokit.study.opening import open_study

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def panels():
    alder = shared.demo("alder-burn")
    assert attended()
    names = (
        "panel_rights",
        "panel_size",
        "panel_money",
        "panel_year",
        "panel_way",
        "panel_changes",
    )
    return {name: getattr(explore, name)(alder, alder.view()) for name in names}


@pytest.fixture
def creek(tmp_path):
    folder = tmp_path / "alder-burn"
    shutil.copytree(ROOT / "studies" / "alder-burn", folder)
    return open_study(folder)


def test_only_what_was_turned_is_written(panels):
    panel = panels["panel_money"]
    assert panel.changes(panel.first) == {}
    assert panel.changes(panel.first | {"rate": 0.06}) == {"costs.discount_rate": "6 %"}
    twice = panel.changes(panel.first | {"value": 0.252, "first": 1e4})
    assert twice == {"costs.value": "0.252 per kWh"}  # no one key holds the capital cost


def test_every_setting_of_every_knob_is_one_that_a_site_file_holds(panels, creek):
    for panel in panels.values():
        for knob in panel.knobs:
            if knob.writes is not None:
                for value in {knob.values[0], knob.values[len(knob.values) // 2], knob.values[-1]}:
                    assert creek.changed(knob.writes(value)).site is not None, (knob.label, value)


@pytest.mark.slow
def test_what_the_panel_told_is_what_the_variant_answers(panels, creek, tmp_path):
    panel = panels["panel_money"]
    told = dict(panel.turn(**(panel.first | {"rate": 0.06})))
    made = written(creek, panel.changes(panel.first | {"rate": 0.06}), tmp_path / "dearer")
    study = open_study(made)
    assert study.site.costs.discount_rate == pytest.approx(0.06)
    from hydrokit.study.keyed import plain

    assert told["net present value"] == plain(study.view().shown(study.answer("money.npv")))


def test_residual_rules_keep_what_stays_month_by_month():
    rules = residual_rules(np.array([0.008] * 9 + [0.012] * 2 + [0.008]))
    assert rules == [
        {"rule": "fixed", "flow": "8 L/s", "months": [1, 2, 3, 4, 5, 6, 7, 8, 9, 12]},
        {"rule": "fixed", "flow": "12 L/s", "months": [10, 11]},
    ]
    assert residual_rules(np.full(12, 0.01)) == [{"rule": "fixed", "flow": "10 L/s"}]


def test_the_button_writes_beside_the_study_and_refuses_what_is_there(creek, tmp_path):
    turned: dict[str, object] = {}
    box = variant_box(creek, lambda: turned)
    (button, folder), said = box.children[0].children, box.children[1]
    assert folder.value == "alder-burn-variant" == free_folder(creek.path).name
    button.click()
    assert "Turn a knob first" in said.value and not (tmp_path / "alder-burn-variant").exists()
    turned["costs.discount_rate"] = "6 %"
    button.click()
    assert (tmp_path / "alder-burn-variant" / "site.toml").is_file(), said.value
    assert "costs.discount_rate = 6 %" in said.value and "hydrokit run" in said.value
    assert folder.value == "alder-burn-variant-2"
    before = (tmp_path / "alder-burn-variant" / "site.toml").read_bytes()
    for name, why in (
        ("alder-burn-variant", "is there already"),
        ("../elsewhere", "name of a folder"),
    ):
        folder.value = name
        button.click()
        assert why in said.value, said.value
    assert (tmp_path / "alder-burn-variant" / "site.toml").read_bytes() == before
    with pytest.raises(InputError):
        written(creek, {"costs.discount_rate": "much"}, tmp_path / "wrong")
    assert not (tmp_path / "wrong").exists()


def ticked(panel, *words):
    """The values of the panel of changes with those ticked whose label has one of the words."""
    return {knob.name: any(word in knob.label for word in words) for knob in panel.knobs}


def test_a_blocked_screen_is_a_key_and_air_in_the_line_none(panels, creek):
    panel = panels["panel_way"]
    turned = panel.first | {"blocked": 0.8, "air_m": panel.knobs[1].values[3]}
    assert panel.changes(turned) == {"intake.clogged": "80 %"}
    changed = creek.changed(panel.changes(turned))
    assert changed.states[0]["intake"].clogged == pytest.approx(0.8)


def test_what_is_ticked_is_made_in_the_variant(panels, creek, tmp_path):
    panel = panels["panel_changes"]
    assert panel.changes(ticked(panel)) == {}
    told = panel.changes(ticked(panel, "bearings"))
    assert told["outage.unplanned"] == "1.5 %"
    assert told["costs.fixed"] == creek.site.costs.fixed + 180 and len(told["upgrade"]) == 3
    with pytest.raises(InputError, match="upper spring.*no one key of the plant holds extra_flow"):
        panel.changes(ticked(panel, "upper spring"))


@pytest.mark.slow
@pytest.mark.parametrize("words", [("bearings",), ("bearings", "four jets"), ("next wider pipe",)])
def test_the_variant_with_changes_made_gives_what_the_panel_told(panels, creek, tmp_path, words):
    panel = panels["panel_changes"]
    values = ticked(panel, *words)
    told = dict(panel.turn(**values))
    study = open_study(written(creek, panel.changes(values), tmp_path / "made"))
    kwh = float(told["useful energy, a year"].removesuffix(" kWh").replace(",", ""))
    assert study.answer("demand.met").value == pytest.approx(kwh, rel=5e-3)
