"""Page on running: its words say the study's own numbers, and it stands on thin data, on none, and on machines of other kinds."""

import re
from pathlib import Path

import numpy as np
import pytest
import shared

from hydrokit.report.display import Cautions, Picture, Table, Words
from hydrokit.report.pages.p05 import today
from hydrokit.report.pages.p09 import card as build_card
from hydrokit.report.pages.p09 import diagnosing, running, winter
from hydrokit.report.pages.p09 import faults as build_faults
from hydrokit.study.opening import open_study
from hydrokit.study.view import View

STUDIES = Path(__file__).parents[2] / "studies"
SECTIONS = [
    getattr(module, name)
    for module in (running, build_card, build_faults, diagnosing)
    for name in module.__all__
    if name != "references"
]
THIN = """
[site]
name = "<b>Thin</b> & \\"small\\""
stage_of_work = "existing"
[penstock]
static_pressure = "58 psi ± 1 psi"
length = "640 ft"
gauge_zero = "1 psi"
gauge_height = "3 ft"
[[penstock.pipe]]
size = "4 in PVC Sch 40"
[turbine]
kind = "pelton"
jets = 3
jet_diameter = "0.44 in"
"""
READ = "".join(
    f'[[reading]]\njets = {jets}\npressure = "{pressure} psi"\n{watts}spilling = true\ndate = 2024-05-0{1 + jets}\n'
    for jets, pressure, watts in (
        (0, 57, ""),
        (1, 55.5, 'watts = "610 W"\n'),
        (2, 54, ""),
        (3, 51.5, 'watts = "1780 W"\n'),
    )
)


@pytest.fixture(scope="module")
def saltfern():
    return shared.demo("saltfern-creek")


def made(folder, text):
    (folder / "site.toml").write_text(text, encoding="utf-8")
    return open_study(folder)


def text_of(shown):
    return (
        shown.text
        if isinstance(shown, Words)
        else shown.alt
        if isinstance(shown, Picture)
        else repr(shown)
    )


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_headline_says_the_cards_numbers(saltfern, system):
    view, row = View(system), saltfern.card.rows[-1]
    text = running.headline(saltfern, view).text
    for pascals in (row.pressure_pa, row.alarm_pa, row.close_pa, saltfern.card.shut_off_pa):
        assert view.text(pascals, "gauge pressure") in text
    sheet, column = build_card.card_sheet(saltfern, view), 1
    for line, key in ((sheet.rows[-1], "pressure.all_open"), (sheet.rows[0], "pressure.shut_off")):
        number = view.amount(saltfern.answer(key).value, "gauge pressure", unit=False)
        assert str(line[column]).startswith(f"{number} ("), "the same digits on the card"
    assert (
        "walk up" in text
        and "air or a valve" in text
        and str(saltfern.visits[-1].when)[:10] in text
    )
    assert saltfern.diagnose().first.name in text


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_card_has_both_units_side_by_side_the_readers_first(saltfern, system):
    sheet = build_card.card_sheet(saltfern, View(system))
    row = saltfern.card.rows[-1]
    last, told = (
        [str(cell) for cell in sheet.rows[-1]],
        (lambda pascals: (f"{pascals / 6894.757:.1f}", f"{pascals / 1e5:.2f}")),
    )
    mine = 0 if system == "us" else 1
    assert last[1].startswith(f"{told(row.pressure_pa)[mine]} (")
    assert last[2].startswith(f"{told(row.pressure_pa)[1 - mine]} (")
    assert last[3:5] == [told(row.alarm_pa)[mine], told(row.close_pa)[mine]]
    assert sheet.rows[0][3] == told(saltfern.card.shut_alarm_pa)[mine]
    assert len(sheet.rows) == 5
    said = build_card.card_lines(saltfern, View(system)).text
    assert len(re.findall("^- (?:Opening|Closing) ", said, re.M)) >= 6
    assert "over the whole travel" in said


def test_the_alarm_of_winter_is_that_of_the_card(saltfern):
    table = winter.alarm_table(saltfern, View("us"))
    assert [row[2] for row in table.rows] == [
        f"{row.alarm_pa / 6894.757:.1f}" for row in saltfern.card.rows
    ]


def test_tables_of_faults_and_of_the_rehearsal_are_whole(saltfern):
    faults = build_faults.fault_table(saltfern, View("us"))
    assert len(faults.rows) == 11
    assert faults.rows[0][2] == f"{saltfern.card.shut_off_pa / 6894.757:.1f}", "as on the card"
    tried = diagnosing.rehearsal_table(saltfern, View("us"))
    for row in tried.rows:
        assert sum(cell for cell in row[1:12] if cell != "") == pytest.approx(100, abs=5), (
            "a rounded row"
        )
    assert "2023-06-24" in repr(
        diagnosing.visits_table(saltfern, View("us"))
    ) and "under-fed (starved)" in repr(diagnosing.visits_table(saltfern, View("us")))


@pytest.mark.parametrize("readings", ["", READ], ids=["described only", "commissioned"])
def test_a_plant_of_few_words_has_its_card_and_diagnosis(tmp_path, readings):
    study = made(tmp_path, THIN + readings)
    for section in SECTIONS:
        shown = section(study, View("us"))
        assert isinstance(shown, (Words, Table, Picture, Cautions)) and "nan" not in re.findall(
            r"\w+", text_of(shown).lower()
        )
    assert study.card.commissioned == bool(readings)
    sheet = build_card.card_sheet(study, View("us"))
    assert "<b>Thin" not in sheet._repr_html_()
    said = build_card.card_lines(study, View("us")).text
    assert "3 ft above" in said and "shows 1.0 psi with no pressure" in said
    # Shut off, the gauge shows head less its own height, and its zero error.
    assert study.card.shut_off_pa == pytest.approx(
        (57.0 if readings else 58.0) * 6894.757, rel=0.02
    )


def test_the_site_file_without_watts_has_no_watts_on_its_card(tmp_path):
    study = made(
        tmp_path, THIN + READ.replace('watts = "610 W"\n', "").replace('watts = "1780 W"\n', "")
    )
    assert "watts" not in build_card.card_sheet(study, View("us")).columns
    assert all(
        isinstance(section(study, View("metric")), (Words, Table, Picture)) for section in SECTIONS
    )
    assert any("no watts" in each.message for each in study.diagnose().findings)


def test_a_machine_without_fixed_jets_has_a_card_but_no_diagnosis(tmp_path):
    text = '[site]\nname = "Low weir"\n[penstock]\nhead = "4 m"\nlength = "20 m"\n[[penstock.pipe]]\ninside_diameter = "400 mm"\nroughness = "0.1 mm"\n'
    study = made(
        tmp_path,
        text + '[turbine]\nkind = "propeller"\ndesign_flow = "120 L/s"\nefficiency = "70 %"\n',
    )
    assert len(study.card.rows) == 1 and study.signatures is None and study.diagnose() is None
    shown = [text_of(section(study, View("metric"))) for section in SECTIONS]
    assert any("one fixed bore" in text for text in shown) and "walk up (" not in shown[0]


def test_a_study_that_knows_nothing_says_what_is_lacking(tmp_path):
    study = made(tmp_path, '[site]\nname = "Nowhere"\n')
    shown = {section.__name__: text_of(section(study, View("metric"))) for section in SECTIONS}
    assert (
        "Not known yet" in shown["headline"]
        and study.card is None
        and np.isfinite(study.noise.pressure)
    )
    assert "gauge" in shown["weekly_table"], "what to write down can be said of any plant"


def test_pressures_are_told_as_the_gauge_shows_them(tmp_path):
    """The same plant with a gauge that shows 2 psi too much: every page says 2 psi more, and the plant is the same."""
    told = []
    for zero in (2.0, 0.0):
        text = (
            THIN.replace('gauge_zero = "1 psi"', f'gauge_zero = "{zero} psi"')
            .replace("58 psi", f"{58 + zero} psi")
            .replace('gauge_height = "3 ft"', "")
        )
        for jets, pressure, watts in (
            (0, 57, ""),
            (1, 55.5, 'watts = "610 W"\n'),
            (2, 54, ""),
            (3, 51.5, 'watts = "1780 W"\n'),
        ):
            text += f'[[reading]]\njets = {jets}\npressure = "{pressure + zero} psi"\n{watts}spilling = true\ndate = 2024-05-11\n'
        folder = tmp_path / str(zero)
        folder.mkdir()
        study, view = made(folder, text), View("us")
        table = build_faults.fault_table(study, view)
        steps = (
            []
            if study.steps["penstock"] is None
            else [step.value for step in study.steps["penstock"] if step.kind == "pressure"]
        )
        told.append(
            (
                study.baseline.estimate["head"],
                np.array(table.rows[0][2:6], dtype=float),
                diagnosing.last_words(study, view).text,
                today.today_words(study, view).text,
                steps,
            )
        )
    assert told[0][0] == pytest.approx(told[1][0], rel=1e-9)
    assert told[0][1] - told[1][1] == pytest.approx(np.full(4, 2.0), abs=1e-2)
    assert "shut: 59.0 psi" in told[0][2] and "shut: 57.0 psi" in told[1][2]
    gauge = [float(re.search(r"the gauge shows ([\d.]+) psi", each[3])[1]) for each in told]
    assert gauge[0] - gauge[1] == pytest.approx(2.0, abs=0.11)


def test_a_visit_to_a_faulty_plant_is_no_part_of_the_card(tmp_path, readings_of_a_choked_plant):
    """One of two open jets is blocked on the later day: it reads as one jet, and the card stays that of the first day."""
    study = made(tmp_path, readings_of_a_choked_plant)
    assert "The card rests on 4 readings" in build_card.card_words(study, View("us")).text
    assert study.diagnose().first.key == "blocked" and study.diagnose().first.probability > 0.95
    assert study.card.days == ("2026-05-02",)


def test_where_the_pipe_takes_a_third_no_watts_are_promised_of_a_worn_jet(
    tmp_path, readings_of_a_choked_plant
):
    study = made(tmp_path, readings_of_a_choked_plant)
    text = build_faults.fault_words(study, View("us")).text
    assert (
        "W less with the one" in text
        and "W less with the other" in text
        and "-" not in re.sub(r"^- ", "", text, flags=re.M)
    )


@pytest.fixture
def readings_of_a_choked_plant():
    """Four jets of 5/16 in on 700 ft of 2 in pipe under 97 ft: read with none to three open, and later with a stone in one of two."""
    text = (
        THIN.replace("58 psi", "42 psi")
        .replace("640 ft", "700 ft")
        .replace('gauge_zero = "1 psi"\ngauge_height = "3 ft"\n', "")
        .replace("4 in PVC", "2 in PVC")
        .replace("jets = 3", "jets = 4")
        .replace('"0.44 in"', '"0.3125 in"')
    )
    for jets, pressure, watts, day in (
        (0, 42, 0, "05-02"),
        (1, 40, 138, "05-02"),
        (2, 36, 234, "05-02"),
        (3, 31, 282, "05-02"),
        (2, 40, 137, "09-14"),
    ):
        text += (
            f'[[reading]]\njets = {jets}\npressure = "{pressure} psi"\n'
            + (f'watts = "{watts} W"\n' if jets else "")
            + f"spilling = true\ndate = 2026-{day}\n"
        )
    return text


@pytest.mark.parametrize(
    "machine, share", [('[generator]\nwater_to_wire = "62 %"\n', 0.62), ("", 0.53)]
)
def test_without_watts_the_machine_is_as_described(tmp_path, machine, share):
    """Pressures alone say nothing of the machine: its efficiency is the site file's, else the usual one, here over the fitted jets."""
    study = made(
        tmp_path,
        THIN + machine + READ.replace('watts = "610 W"\n', "").replace('watts = "1780 W"\n', ""),
    )
    full = study.plant.at_si(np.inf, jets=3)
    assert float(full.power_w) == pytest.approx(
        share * 9.80665 * 1000 * float(full.used_m3s) * float(full.net_head_m), rel=0.01
    )
    assert not np.isfinite(study.baseline.efficiency)


def test_a_planned_plant_with_gaugings_alone_has_its_bracket_in_the_headline(tmp_path):
    (tmp_path / "gaugings.csv").write_text(
        "date, stage [ft], flow [gpm]\n2026-05-02, , 200\n2026-09-14, , 90\n", encoding="utf-8"
    )
    planned = THIN.replace('"existing"', '"planned"')
    text = today.headline(
        made(tmp_path, planned + '[stream]\ngaugings = "gaugings.csv"\n'), View("us")
    ).text
    assert "somewhere between" in text and "Not known" not in text
    assert "powerhouse" not in today.headline(made(tmp_path, planned), View("us")).text
