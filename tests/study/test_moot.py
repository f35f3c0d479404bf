"""Keys that can have no effect, because another is lacking or beside them, are told once and by their names."""

from __future__ import annotations

import tomllib
from datetime import date

import numpy as np
import pytest
import small_study

from hydrokit.site.schema import LISTS, SECTIONS
from hydrokit.study.build.moot import MOOT, findings
from hydrokit.study.questions import questions
from hydrokit.study.telling import TOLD_BY_CHECK

# What makes a key moot where the small study does not, and words that a key takes here.
_BASE = {
    ("intake", "notch_depth, the height of the notch"): {"weir_length": "3 m"},
    ("diversion", 'an outlet that is "upturned" or "submerged"'): {
        "profile": "penstock.csv",
        "size": "PE100 SDR 17 200 mm",
    },
    ("costs", "a loan_share above zero"): {"loan_years": 12, "loan_share": "0 %"},
    ("electrical", 'supply = "grid"'): {"supply": "island"},
    ("penstock", "a profile of the penstock"): {"profile": None, "head": "38 m", "length": "160 m"},
}
_VALUE = {
    ("penstock", "vents"): ["40 m"],
}
CASES = [(place, key) for place, each in enumerate(MOOT) for key in each.keys]


def _value(section, key):
    if (section, key) in _VALUE:
        return _VALUE[section, key]
    listed = f"{section}.{key}"
    if listed in LISTS:
        return [
            {
                name: tomllib.loads(f"x = {told.example}")["x"]
                for name, told in LISTS[listed].items()
                if told.required
            }
        ]
    told = SECTIONS[section][key]
    if told.kind == "choice":
        return next(each for each in told.choices if f'"{each}"' != told.default)
    return tomllib.loads(f"x = {told.example}")["x"]


def _told(study, key):
    found = study.findings(rooms=TOLD_BY_CHECK)
    return [each for each in found if key in each.message and "no effect" in each.message]


def _files(key):
    return {"cal": "added [mL],conductivity [uS/cm]\n0,84\n5,104\n"} if "calib" in key else {}


@pytest.mark.parametrize(
    ("place", "key"),
    [pytest.param(p, k, marks=() if k == MOOT[p].keys[-1] else pytest.mark.slow) for p, k in CASES],
    ids=[f"{MOOT[p].section}.{k}" for p, k in CASES],
)
def test_a_moot_key_is_told_once(tmp_path, place, key):
    moot = MOOT[place]
    beside = _BASE.get((moot.section, moot.needs), {})
    value = "cal.csv" if "calib" in key else _value(moot.section, key)
    study = small_study.changed(tmp_path, _files(key), **{moot.section: beside | {key: value}})
    told = [each for each in findings(study.site) if key in each.message]
    assert len(told) == 1 and moot.needs in told[0].message
    assert len(_told(study, key)) == 1


@pytest.mark.slow
@pytest.mark.parametrize(
    "place", range(len(MOOT)), ids=lambda place: f"{MOOT[place].section}.{MOOT[place].keys[0]}"
)
def test_what_is_said_to_have_no_effect_has_none(tmp_path, place):
    """All keys of a row at once leave every answer as it is."""
    moot = MOOT[place]
    beside = _BASE.get((moot.section, moot.needs), {})
    keys = {key: "cal.csv" if "calib" in key else _value(moot.section, key) for key in moot.keys}
    files = _files(" ".join(keys))
    plain = small_study.changed(tmp_path / "plain", files, **{moot.section: beside})
    given = small_study.changed(tmp_path / "given", files, **{moot.section: beside | keys})
    for key in questions():
        one, other = plain.answer(key), given.answer(key)
        assert (one is None) == (other is None), key
        assert one is None or str(one.value) == str(other.value), key


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        (
            {"rights": {"residual": [{"rule": "fixed", "flow": "3 L/s", "share": "10 %", "exceedance": "95 %", "class": "good"}]}},
            '[[rights.residual]] 1: share, exceedance and class have no effect beside the rule "fixed": it goes by flow',
        ),
        (
            {"rights": {"residual": [{"rule": "swiss", "flow": "3 L/s"}]}},
            '[[rights.residual]] 1: flow has no effect beside the rule "swiss": it needs no other key',
        ),
        (
            {"circuit": [{"name": "house", "power": "1 kW", "starter": "soft", "locked_rotor": "3 kVA"}]},
            '[[circuit]] 1 (house): locked_rotor and starter have no effect without kind = "motor"',
        ),
        (
            {"circuit": [{"name": "house", "power": "1 kW", "drop": "2 %"}]},
            "[[circuit]] 1 (house): drop has no effect without length",
        ),
    ],
    ids=["fixed", "swiss", "motor", "drop"],
)  # fmt: skip
def test_entries_of_lists_are_told_by_their_number(tmp_path, changes, told):
    study = small_study.changed(tmp_path, **changes)
    assert [each.message for each in study.ignored_findings] == [told]


def test_where_all_that_is_needed_stands_nothing_is_said(tmp_path):
    study = small_study.changed(
        tmp_path,
        {"bucket": "volume [L],time [s]\n20,2.1\n20,2.2\n20,2.0\n"},
        stream={"bucket": "bucket.csv", "bucket_beside": "1 L/s ± 0.1 L/s"},
        intake={"weir_length": "3 m", "banks": "0.8 m", "notch_depth": "90 mm", "notch_width": "0.1 m"},
        outage={"planned_days": 3, "planned_months": [8]},
        costs={"loan_years": 12, "loan_rate": "5 %", "cover_p50": 1.3},
        circuit=[{"name": "pump", "power": "1 kW", "kind": "motor", "starter": "soft", "length": "20 m", "drop": "4 %"}],
    )  # fmt: skip
    assert study.ignored_findings == ()


def test_readings_that_come_to_nothing_are_told_until_they_suffice(tmp_path):
    """One reading without a day was met with "nothing was read on this plant yet"."""
    lone, dated, enough = (
        small_study.changed(tmp_path / name, reading=listed)
        for name, listed in {
            "lone": [{"jets": 2, "pressure": "3.18 bar"}],
            "dated": [{"jets": 2, "pressure": "3.18 bar", "date": date(2022, 7, 4)}],
            "enough": [
                {"jets": jets, "pressure": f"{bar} bar", "watts": f"{watts} W", "spilling": True}
                for jets, bar, watts in ((0, 3.73, 0), (1, 3.55, 1750), (2, 3.18, 2960))
            ],
        }.items()
    )
    told = [
        [each.message for each in study.ignored_findings if each.where == "readings"]
        for study in (lone, dated, enough)
    ]
    assert len(told[0]) == 1 and told[0][0].startswith("1 reading has no effect: ")
    assert told[1] == told[2] == []


def test_a_vent_where_no_air_stays_is_told(tmp_path):
    """The profile rises from 280 m at 130 m to 284 m at 163 m: one high point, some 37 m further along the slope."""
    humped = "chainage [m],elevation [m]\n0,300\n2,299.3\n130,280\n163,284\n240,262\n"
    top = sum(np.hypot([2, 128, 33], [0.7, 19.3, 4]))
    study = small_study.changed(
        tmp_path, {"penstock": humped}, penstock={"vents": ["60 m", f"{top:.1f} m"]}
    )
    told = [each.message for each in study.judged_findings if "its vent at" in each.message]
    assert len(told) == 1 and told[0].startswith("its vent at 60 m ")
