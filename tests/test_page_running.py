"""Page on running: its words say the study's own numbers, and it stands on thin data, on none, and on machines of other kinds."""

import re
from pathlib import Path

import numpy as np
import pytest

from hydrokit.study.display import Cautions, Picture, Table, View, Words
from hydrokit.study.opening import open_study
from hydrokit.study.pages import diagnosing, running, winter

STUDIES = Path(__file__).parents[1] / "studies"
SECTIONS = [getattr(module, name) for module in (running, diagnosing) for name in module.__all__ if name != "references"]
THIN = """
[site]
name = "<b>Thin</b> & \\"small\\""
stage_of_work = "existing"
[penstock]
static_pressure = "71 psi ± 1 psi"
length = "900 ft"
gauge_zero = "1 psi"
gauge_height = "3 ft"
[[penstock.pipe]]
size = "4 in PVC Sch 40"
[turbine]
kind = "pelton"
jets = 4
jet_diameter = "0.5 in"
"""
READ = "".join(
    f'[[reading]]\njets = {jets}\npressure = "{pressure} psi"\n{watts}spilling = true\ndate = 2024-05-0{1 + jets}\n'
    for jets, pressure, watts in ((0, 70, ""), (1, 68, 'watts = "880 W"\n'), (2, 66.5, ""), (4, 60, 'watts = "3050 W"\n'))
)


@pytest.fixture(scope="module")
def frost():
    return open_study(STUDIES / "frost-hollow")


def made(folder, text):
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return open_study(folder)


def text_of(shown):
    return shown.text if isinstance(shown, Words) else shown.alt if isinstance(shown, Picture) else repr(shown)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_headline_says_the_cards_numbers(frost, system):
    view, row = View(system), frost.card.rows[-1]
    text = running.headline(frost, view).text
    for pascals in (row.pressure_pa, row.alarm_pa, row.close_pa, frost.card.shut_off_pa):
        assert view.text(pascals, "pressure") in text
    assert "walk up" in text and "air or a valve" in text and str(frost.visits[-1].when)[:10] in text
    assert frost.diagnose().first.name in text


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_card_has_psi_and_bar_side_by_side_whoever_reads_it(frost, system):
    sheet = running.card_sheet(frost, View(system))
    row = frost.card.rows[-1]
    last = [str(cell) for cell in sheet.rows[-1]]
    assert last[1].startswith(f"{row.pressure_pa / 6894.757:.1f} (") and last[2].startswith(f"{row.pressure_pa / 1e5:.2f} (")
    assert last[3:5] == [f"{row.alarm_pa / 6894.757:.1f}", f"{row.alarm_pa / 1e5:.2f}"]
    assert len(sheet.rows) == 5 and "class='hk-card'" in sheet._repr_html_()
    order = [line for line in sheet.below if line.startswith(("Opening", "Closing"))]
    assert len(order) >= 6 and any("seconds" in line for line in sheet.below)


def test_the_alarm_of_winter_is_that_of_the_card(frost):
    table = winter.alarm_table(frost, View("us"))
    assert [row[2] for row in table.rows] == pytest.approx([row.alarm_pa / 6894.757 for row in frost.card.rows], rel=1e-6)


def test_tables_of_faults_and_of_the_rehearsal_are_whole(frost):
    faults = running.fault_table(frost, View("us"))
    assert len(faults.rows) == 10 and faults.rows[0][2] == pytest.approx(frost.card.shut_off_pa / 6894.757)
    tried = diagnosing.rehearsal_table(frost, View("us"))
    for row in tried.rows:
        assert sum(cell for cell in row[1:11] if cell != "") == pytest.approx(100, abs=5), "a rounded row"
    assert "2023-08-12" in repr(diagnosing.visits_table(frost, View("us"))) and "starved" in repr(diagnosing.visits_table(frost, View("us")))


@pytest.mark.parametrize("readings", ["", READ], ids=["described only", "commissioned"])
def test_a_plant_of_few_words_has_its_card_and_diagnosis(tmp_path, readings):
    study = made(tmp_path, THIN + readings)
    for section in SECTIONS:
        shown = section(study, View("us"))
        assert isinstance(shown, (Words, Table, Picture, Cautions)) and "nan" not in re.findall(r"\w+", text_of(shown).lower())
    assert study.card.commissioned == bool(readings)
    sheet = running.card_sheet(study, View("us"))
    assert "<b>Thin" not in sheet._repr_html_() and any("3 ft above" in line and "1.0 / 0.07" in line for line in sheet.below)
    # Shut off, the gauge shows head less its own height, and its zero error.
    assert study.card.shut_off_pa == pytest.approx((70.0 if readings else 71.0) * 6894.757, rel=0.02)


def test_the_site_file_without_watts_has_no_watts_on_its_card(tmp_path):
    study = made(tmp_path, THIN + READ.replace('watts = "880 W"\n', "").replace('watts = "3050 W"\n', ""))
    assert "watts" not in running.card_sheet(study, View("us")).columns
    assert all(isinstance(section(study, View("metric")), (Words, Table, Picture)) for section in SECTIONS)
    assert any("no watts" in each.message for each in study.diagnose().findings)


def test_a_machine_without_fixed_jets_has_a_card_but_no_diagnosis(tmp_path):
    text = '[site]\nname = "Low weir"\n[penstock]\nhead = "4 m"\nlength = "20 m"\n[[penstock.pipe]]\ninside_diameter = "400 mm"\nroughness = "0.1 mm"\n'
    study = made(tmp_path, text + '[turbine]\nkind = "propeller"\ndesign_flow = "120 L/s"\nefficiency = "70 %"\n')
    assert len(study.card.rows) == 1 and study.signatures is None and study.diagnose() is None
    shown = [text_of(section(study, View("metric"))) for section in SECTIONS]
    assert any("one fixed bore" in text for text in shown) and "walk up (" not in shown[0]


def test_a_study_that_knows_nothing_says_what_is_lacking(tmp_path):
    study = made(tmp_path, '[site]\nname = "Nowhere"\n')
    shown = {section.__name__: text_of(section(study, View("metric"))) for section in SECTIONS}
    assert "Not known yet" in shown["headline"] and study.card is None and np.isfinite(study.noise.pressure)
    assert "gauge" in shown["weekly_table"], "what to write down can be said of any plant"
