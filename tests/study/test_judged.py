"""Whatever a page calls too little, too much or unsafe is a finding, and every finding heard on a page is counted on the index."""

from __future__ import annotations

import json
import re
from pathlib import Path

import odd_studies
import pytest
import shared
import small_study

from hydrokit.report.pages.p03 import water_way
from hydrokit.study import telling
from hydrokit.study.build.loan import loan

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"


def said(study):
    """All that the pages of the water's way say of a study."""
    view = study.view()
    return "\n".join(
        getattr(made, "alt", None) or str(made)
        for module, name, section in small_study.page_sections()
        if module.startswith("p03.") and not name.endswith("figure")
        for made in [section(study, view)]
    )


def test_every_room_of_a_page_is_counted_on_the_index():
    heard = set()
    for path in NOTEBOOKS.glob("0*.ipynb"):
        for cell in json.loads(path.read_text(encoding="utf-8"))["cells"]:
            for call in re.findall(
                r"common\.checks\(s, view, \((.*?)\)\)", "".join(cell["source"])
            ):
                heard |= set(re.findall(r'"(\w+)"', call))
    assert {"bracket", "money", "card", "winter_outlook", "judged_findings"} <= heard
    assert heard <= set(telling.TELLING)


GULLY = [{"name": "gully", "from": "60 m", "to": "75 m", "span": "9 m", "snow_load": "0.5 m"}]
# What is wrong -> (sections, where the finding stands, what the page says).
WRONG = {
    "freeboard": (
        {"intake": {"weir_length": "2 m", "banks": "0.55 m", "flood": "1.2 m^3/s"}},
        "weir",
        "too little for waves",
    ),
    "banks": (
        {"intake": {"weir_length": "2 m", "banks": "0.3 m", "flood": "1.2 m^3/s"}},
        "weir",
        "The banks stand only",
    ),
    "notch": (
        {"intake": {"weir_length": "2 m", "notch_depth": "40 mm", "notch_width": "100 mm"}},
        "weir",
        "too little",
    ),
    "basin": (
        {"part": [{"kind": "forebay", "name": "tank", "area": "0.3 m^2", "depth": "0.4 m"}]},
        "tank",
        "too small",
    ),
    "bank of the pond": (
        {
            "part": [
                {
                    "kind": "forebay",
                    "name": "tank",
                    "area": "30 m^2",
                    "depth": "0.4 m",
                    "standpipe": "60 mm",
                    "bank": "50 mm",
                }
            ]
        },
        "tank",
        "washed away",
    ),
    "bridge": ({"penstock": {"stretch": GULLY}}, "gully", "apart"),
    "vacuum": (
        {"penstock": {"pipe": [{"size": "PVC-U PN 6 140 mm"}]}},
        "vacuum",
        "needs air inlets",
    ),
    "vacuum, little": (
        {"penstock": {"pipe": [{"size": "PVC-U PN 10 140 mm"}]}},
        "vacuum",
        "little more than is asked",
    ),
    "leak": (
        {"part": [odd_studies.LEAKS | {"loss": "30 %"}, odd_studies.POND]},
        "leat",
        "more than its ground explains",
    ),
    "rating": (
        {"penstock": {"closing_time": "0.3 s", "pipe": [{"size": "PVC-U PN 6 140 mm"}]}},
        "surge",
        "too much",
    ),
}


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=() if place < 3 else pytest.mark.slow)
        for place, name in enumerate(WRONG)
    ],
)
def test_what_a_page_calls_wrong_is_a_finding(name, tmp_path):
    sections, where, words = WRONG[name]
    study = small_study.changed(tmp_path, **sections)
    assert words in said(study)
    assert any(each.where == where for each in study.findings()), [
        str(each) for each in study.findings()
    ]


def test_a_size_that_stands_for_two_walls_is_told(tmp_path):
    """In the penstock and in the diversion; a size by its SDR is one bore."""
    unsure, sure = "PVC-U PN 10 160 mm", "PVC-U SDR 21 160 mm"
    for penstock, diversion, times in ((unsure, unsure, 2), (unsure, sure, 1), (sure, sure, 0)):
        study = small_study.changed(
            tmp_path,
            penstock={"pipe": [{"size": penstock}]},
            diversion={"size": diversion.replace("160", "200")},
        )
        told = [each for each in study.findings() if "sold with two walls" in each.message]
        assert len(told) == times and all(each.where == "pipe" for each in told)


def test_the_freeboard_by_hand(tmp_path):
    """Crest of 2 m, broad, μ 0.58 (Poleni): 1.2 m³/s stand (q/(2/3·0.58·√2g))^(2/3) deep."""
    study = small_study.changed(tmp_path, intake=WRONG["freeboard"][0]["intake"])
    depth = (0.6 / (2 / 3 * 0.58 * (2 * 9.80665) ** 0.5)) ** (2 / 3)
    assert study.intake_weir.freeboard_m == pytest.approx(0.55 - depth, rel=1e-6)
    message = next(each.message for each in study.findings() if each.where == "weir")
    assert f"{0.55 - depth:.2g} m" in message
    assert any(
        "higher banks" in row[0] for row in water_way.changes_table(study, study.view()).rows
    )


IGNORED = {
    "speed": ({"turbine": {"speed": "1000 rpm"}}, "speed has no effect"),
    "wheel": (
        {"turbine": {"speed": "1000 rpm", "runner_diameter": "900 mm"}},
        "of the jet's speed",
    ),
    "minimum flow": ({"turbine": {"minimum_flow": "30 %"}}, "minimum_flow has no effect"),
    "rating of the pipe": (
        {"penstock": {"pipe": [{"size": "PVC-U PN 10 140 mm", "rating": "12 bar"}]}},
        "its rating has no effect",
    ),
    "freezes": (
        {"operation": {"freezes_below": "8 degC"}},
        "still water does not freeze in warmer air",
    ),
    "stops": (
        {"operation": {"stops_per_winter": 90}},
        "a plant that stops every other frosty day",
    ),
}


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=() if place < 3 else pytest.mark.slow)
        for place, name in enumerate(IGNORED)
    ],
)
def test_a_key_that_counts_for_nothing_or_is_absurd_is_told_once(name, tmp_path):
    sections, said = IGNORED[name]
    study = small_study.changed(tmp_path, **sections)
    assert len([each for each in study.findings() if said in each.message]) == 1
    plain = shared.small()
    assert not any(said in each.message for each in plain.findings())


@pytest.mark.slow
def test_a_loan_that_no_year_carries_is_a_finding(tmp_path):
    """Instalment of the annuity i/(1 − (1 + i)^−n) by hand, on a capital cost far above the income."""
    study = small_study.changed(
        tmp_path, costs={"loan_years": 8, "loan_rate": "6 %", "fixed": 60000}
    )
    borrowed = loan(study)
    annuity = 0.06 / (1 - 1.06**-8)
    assert borrowed.instalment_money == pytest.approx(study.money.first_money * annuity)
    assert [each.level for each in study.findings() if each.where == "loan"] == ["caution"]
    cheap = small_study.changed(
        tmp_path / "cheap",
        costs={"loan_years": 20, "loan_rate": "1 %", "fixed": 10, "per_power": "1 per kW"},
    )
    assert not any(each.where == "loan" for each in cheap.findings())


def test_a_bank_that_is_too_small_is_a_finding(tmp_path):
    use = {
        "inverter": {"rating": "6 kW", "idle": "30 W", "efficiency": "93 %"},
        "cable": {"voltage": "48 V", "phases": "dc", "size": "70 mm2"},
        "battery": {
            "voltage": "48 V",
            "charge": "5 Ah",
            "day_use": ["0.2 kW"] * 18 + ["3.5 kW"] * 6,
        },
    }
    study = small_study.changed(tmp_path, **use)
    assert any(charge > 5 for *_, charge in study.wires.store.needs)
    assert any(each.where == "battery" for each in study.findings())


def test_a_gauge_that_read_wrong_in_the_log_is_a_finding(tmp_path):
    """Half a year of the log's pressures lifted by 0.3 bar, the watts unchanged."""
    lines = odd_studies._log().splitlines()
    lifted = [
        line
        if number == 0 or not 30 < number < 70
        else ",".join([*(cells := line.split(","))[:2], f"{float(cells[2]) + 0.3:.2f}", *cells[3:]])
        for number, line in enumerate(lines)
    ]
    sections = {
        "site": {"stage_of_work": "existing"},
        "stream": {"record": None, "record_uncertainty": None},
        "readings": {"log": "log.csv"},
    }
    wrong = small_study.changed(tmp_path / "wrong", {"log": "\n".join(lifted) + "\n"}, **sections)
    right = small_study.changed(tmp_path / "right", {"log": "\n".join(lines) + "\n"}, **sections)
    told = [each.message for each in wrong.findings(("log_findings",)) if each.where == "gauge"]
    assert len(told) == 1 and "0.30 bar higher" in told[0] and "is not known" in told[0]
    assert not any(each.where == "gauge" for each in right.findings(("log_findings",)))


@pytest.mark.slow
def test_a_bore_that_is_the_name_of_a_size_is_told(tmp_path):
    """A pipe of 4 in is 102 mm inside as Sch 40 and 96 mm as Sch 80 (ASTM D1785)."""
    for bore, told in (("4 in", True), ("4.026 in", False)):
        pipe = {"inside_diameter": bore, "roughness": "0.03 mm"}
        made = small_study.changed(tmp_path / str(told), {}, penstock={"pipe": [pipe]})
        found = [each for each in made.findings() if "nominal size" in each.message]
        assert bool(found) == told
