"""Keys and kinds of before 0.2 are read until 0.3, each with one sentence that tells the new name."""

import copy

import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.site.new_study import site_text
from hydrokit.site.schema import LISTS, PART_KINDS, SECTIONS
from hydrokit.site.site_file import OLD_KEYS, OLD_KINDS, OLD_SECTIONS
from hydrokit.study.opening import check_study, open_study

GROUND = {"kind": "open ground", "length": "50 m", "width": "1 m", "loss": "8 %"}


def test_no_old_name_is_offered():
    text = site_text("metric") + site_text("us")
    for (section, old), new in OLD_KEYS.items():
        keys = SECTIONS.get(section) or LISTS[section]
        assert old not in keys and new in keys
    for old, new in OLD_SECTIONS.items():
        assert old not in SECTIONS and new in SECTIONS and f"[{old}]" not in text
    for old, new in OLD_KINDS.items():
        assert (
            old not in PART_KINDS
            and new in PART_KINDS
            and f'"{old}"' not in text
            and f'kind = "{new}"' in text
        )


def test_an_old_name_gives_the_same_study_and_one_sentence(tmp_path):
    new, old = copy.deepcopy(small_study.SITE), copy.deepcopy(small_study.SITE)
    new["stream"]["pieces"], old["stream"]["segments"] = 1, 1
    old["doubt"] = old.pop("uncertainty")
    old["loads"]["need"] = old["loads"].pop("demand")
    new["upgrade"][0]["requires"], old["upgrade"][0]["needs"] = ["it"], ["it"]
    new["upgrade"] += [{"name": "it", "cost": 10, "efficiency": "80 %"}]
    old["upgrade"] += [{"name": "it", "cost": 10, "efficiency": "80 %"}]
    new["part"], old["part"] = (
        [GROUND | {"name": "field"}, GROUND | {"name": "moor"}],
        [GROUND | {"name": "field", "kind": "meadow"}, GROUND | {"name": "moor", "kind": "meadow"}],
    )
    read = {"jets": 1, "pressure": "3 bar"}
    new["reading"], old["reading"] = [read | {"needle": "fluctuates"}], [read | {"needle": "hunts"}]
    small_study.write(tmp_path / "new", new)
    small_study.write(tmp_path / "old", old)
    told = [
        each.message
        for each in check_study(tmp_path / "old")
        if each.level == "note" and "now called" in each.message
    ]
    assert told == [
        "'doubt' is now called 'uncertainty'; the old name is read until 0.3",
        "'segments' is now called 'pieces'; the old name is read until 0.3",
        "'need' is now called 'demand'; the old name is read until 0.3",
        "'needs' is now called 'requires'; the old name is read until 0.3",
        "'hunts' is now called 'fluctuates'; the old name is read until 0.3",
        "the kind 'meadow' is now called 'open ground'; the old name is read until 0.3",
    ]
    assert not [each for each in check_study(tmp_path / "new") if "now called" in each.message]
    one, other = open_study(tmp_path / "new"), open_study(tmp_path / "old")
    assert {key: value for key, value in one.site.items() if key != "renamed"} == {
        key: value for key, value in other.site.items() if key != "renamed"
    }
    assert (
        [part.name for part in one.supply]
        == [part.name for part in other.supply]
        == ["intake", "field", "moor"]
    )


def test_both_names_at_once_are_a_mistake(tmp_path):
    site = copy.deepcopy(small_study.SITE)
    site["stream"] |= {"pieces": 1, "segments": 2}
    small_study.write(tmp_path, site)
    with pytest.raises(InputError, match="has 'pieces' and its old name 'segments'; keep pieces"):
        check_study(tmp_path)
