"""Pages on log, winter and valves: what the words say is what the study holds."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shared

from hydrokit.report.display import Cautions, Words
from hydrokit.report.pages.p09 import seasons, visits, winter
from hydrokit.sentences import plain_number
from hydrokit.study.opening import check_study, open_study

STUDIES = Path(__file__).resolve().parents[2] / "studies"
KWH = 3.6e6


@pytest.fixture(scope="module")
def saltfern():
    return shared.demo("saltfern-creek")


@pytest.fixture(scope="module")
def alder():
    return shared.demo("alder-burn")


def test_the_words_give_the_numbers_of_the_study(saltfern):
    view = saltfern.view("metric")
    best = saltfern.upkeep.best.interval_s / 86400
    assert f"every **{best:.1f} days**" in visits.visit_words(saltfern, view).text
    lost = sum(saltfern.history.lost_j().values()) / saltfern.history.years / KWH
    assert (
        f"cost about {plain_number(lost, 2)} kWh a year" in seasons.log_words(saltfern, view).text
    )
    stop = saltfern.winter_outlook.stop
    assert (
        f"{stop.days[stop.worst_month - 1]:.0f} days until"
        in winter.stop_words(saltfern, view).text
    )
    (off,) = [event for event in saltfern.upkeep.gauge if event.kind == "gauge off"]
    drifts = visits.drift_words(saltfern, view).text
    # What clogs this plate are needles; nothing in the site file tells of leaves.
    for told in (visits.visit_words(saltfern, view), visits.clogging_words(saltfern, view)):
        assert not re.search(r"\bleaves\b(?! or needles)", told.text), told.text
    assert (
        f"one jet, always open, gained {100 * saltfern.upkeep.drift.size:.0f} ±" in drifts
        and f"{view.text(abs(off.size), 'pressure', 2)} higher than in the rest of the log"
        in drifts
    )
    assert "Which of the two is right the log cannot tell" in drifts


def test_units_are_the_readers_and_results_do_not_move(saltfern):
    metric, us = (
        visits.drift_words(saltfern, saltfern.view(each)).text for each in ("metric", "us")
    )
    assert "bar" in metric and "psi" not in metric and "psi" in us and "bar" not in us
    # A stretch blocked within hours says so in the same hours to everybody.
    table = [
        winter.freezing_table(saltfern, saltfern.view(each)).rows[0] for each in ("metric", "us")
    ]
    assert table[0][2:5] == table[1][2:5] and table[0][0] == "trestle"


def test_event_table_is_in_order_and_sums_what_it_shows(saltfern):
    rows = seasons.event_table(saltfern, saltfern.view()).rows
    assert [row[0] for row in rows] == sorted(row[0] for row in rows)
    assert any("stones have pushed the line off its bed" in row[5] for row in rows)
    shown = [row[4] for row in rows if row[4] != ""]
    costs = sorted((event.energy_j / KWH for event in saltfern.history.events), reverse=True)
    # what is not shown is smaller than what is
    assert sum(shown) == pytest.approx(sum(costs[: len(shown)]), rel=0.02)
    assert sum(costs) == pytest.approx(sum(saltfern.history.lost_j().values()) / KWH, rel=1e-6)


def test_the_sheet_to_fill_in_is_read_back(saltfern, tmp_path):
    from hydrokit.running.log import read_log

    for system in ("metric", "us"):
        columns = seasons.log_columns(saltfern.view(system))
        path = tmp_path / f"{system}.csv"
        path.write_text(
            ", ".join(columns)
            + "\n2026-07-04 07:40, 2, 4, 240, 7.1, yes, steady, 12, 4, first line\n",
            encoding="utf-8",
        )
        log = read_log(path)
        assert (
            len(log) == 1
            and log.troubles == ()
            and log.power_w[0] == pytest.approx(1704)
            and log.note[0] == "first line"
            and log.water_k[0]
            == pytest.approx(277.15 if system == "metric" else (4 + 459.67) / 1.8)
        )


def test_without_a_log_it_is_said_what_to_write_down(alder):
    text = seasons.log_words(alder, alder.view()).text
    assert "There is no log" in text and "time, what is open, pressure" in text
    assert alder.log is None and alder.history is None and alder.upkeep is None


def test_without_temperatures_it_is_said_what_to_measure():
    hazel = shared.demo("hazel-beck")
    assert hazel.winter_outlook is None
    assert "thermometer on a shaded north wall" in winter.winter_figure(hazel, hazel.view()).text
    assert winter.stop_words(hazel, hazel.view()).text == ""


def test_a_mild_winter_reads_true(alder):
    text = winter.winter_words(alder, alder.view()).text
    assert "January is the coldest month" in text and "on 10 % of its days" in text
    assert not any("temporary pipe" in job.job for job in alder.jobs)


def test_without_a_price_the_interval_is_given_for_walks_worth_so_many_kwh(saltfern, tmp_path):
    shutil.copytree(
        STUDIES / "saltfern-creek",
        tmp_path / "creek",
        ignore=shutil.ignore_patterns("reports", ".run-lock"),
    )
    site = tmp_path / "creek" / "site.toml"
    site.write_text(
        re.sub(r"(?m)^visit = .*$", "", site.read_text(encoding="utf-8")), encoding="utf-8"
    )
    study = open_study(tmp_path / "creek")
    words = visits.visit_words(study, study.view()).text
    growth = 3 * study.upkeep.fall * study.upkeep.healthy_w
    assert f"5 kWh: {np.sqrt(2 * 5000 * 24 / growth) / 24:.1f} days" in words and "[costs]" in words
    assert isinstance(visits.visit_figure(study, study.view()), Words)


def test_a_spoiled_log_is_told_by_the_check_and_on_the_page(tmp_path):
    shutil.copytree(
        STUDIES / "saltfern-creek",
        tmp_path / "creek",
        ignore=shutil.ignore_patterns("reports", ".run-lock"),
    )
    log = tmp_path / "creek" / "log.csv"
    text = re.sub(
        r"(?m)^(2023-09-06 [\d:]+),1,([\d.]+),(\d+),(\d+)",
        r"\1,1,-\2,\3,-\4",
        log.read_text(encoding="utf-8"),
    )
    log.write_text(text, encoding="utf-8")
    told = [each.message for each in check_study(tmp_path / "creek") if each.where == "log"]
    assert any("line 5: negative pressure" in each for each in told) and any(
        "line 5: watts below zero" in each for each in told
    )
    study = open_study(tmp_path / "creek")
    assert len(seasons.trouble_table(study, study.view()).rows) == 2


def test_hostile_notes_are_text(saltfern, tmp_path):
    shutil.copytree(
        STUDIES / "saltfern-creek",
        tmp_path / "creek",
        ignore=shutil.ignore_patterns("reports", ".run-lock"),
    )
    log = tmp_path / "creek" / "log.csv"
    log.write_text(
        log.read_text(encoding="utf-8").replace("stones have pushed", "<script>alert(1)</script>"),
        encoding="utf-8",
    )
    study = open_study(tmp_path / "creek")
    shown = seasons.event_table(study, study.view())._repr_html_()
    assert "<script>" not in shown and "&lt;script&gt;" in shown


def test_hands_are_warned_wherever_they_reach(saltfern):
    box = winter.hands(saltfern, saltfern.view())
    assert isinstance(box, Cautions)
    for word in ("ice", "water", "pressure", "vent", "bridges", "electric"):
        assert any(word in line.lower() for line in box.lines)


def test_a_log_that_is_faulty_from_end_to_end_is_told_by_the_baseline(saltfern, tmp_path):

    assert (
        "below the commissioned baseline" not in seasons.log_words(saltfern, saltfern.view()).text
    )
    shutil.copytree(
        STUDIES / "saltfern-creek",
        tmp_path / "creek",
        ignore=shutil.ignore_patterns("reports", ".run-lock"),
    )
    log = tmp_path / "creek" / "log.csv"
    head, *rows = [
        line for line in log.read_text(encoding="utf-8").splitlines() if not line.startswith("#")
    ]
    weak = [
        ",".join(cells[:4] + [f"{0.8 * float(cells[4]):.1f}"] + cells[5:])
        for cells in (row.split(",") for row in rows)
    ]
    log.write_text("\n".join([head, *weak]) + "\n", encoding="utf-8")
    study = open_study(tmp_path / "creek")
    assert re.search(
        r"lie (1[5-9]|2[0-1]) % below the commissioned baseline",
        seasons.log_words(study, study.view()).text,
    )


def test_one_winter_and_one_first_night_read_as_one():
    study = open_study(STUDIES / "saltfern-creek")
    outlook = study.winter_outlook
    climate = replace(outlook.climate, years=1.1, first_frazil=outlook.climate.first_frazil[:1])
    study.__dict__["winter_outlook"] = replace(outlook, climate=climate)
    text = winter.winter_words(study, study.view("us")).text
    assert (
        "the coldest day known had" in text
        and re.search(r"The first came on \d+ \w+\.", text)
        and "of 1 years" not in text
    )


def test_a_log_of_one_season_says_that_its_years_are_stretched(tmp_path):
    shutil.copytree(
        STUDIES / "saltfern-creek",
        tmp_path / "creek",
        ignore=shutil.ignore_patterns("reports", ".run-lock"),
    )
    lines = (tmp_path / "creek" / "log.csv").read_text(encoding="utf-8").splitlines()
    (tmp_path / "creek" / "log.csv").write_text("\n".join(lines[:90]) + "\n", encoding="utf-8")
    study = open_study(tmp_path / "creek")
    days = 365.25 * study.history.years
    assert days < 340
    assert f"covers {days:.0f} days" in seasons.log_words(study, study.view("us")).text
    assert "covers" not in seasons.log_words(shared.demo("saltfern-creek"), study.view("us")).text


def test_a_number_of_jets_that_the_sizing_does_not_take_is_told():
    hazel = shared.demo("hazel-beck")
    taken = hazel.sizing.choice.jets
    other = open_study(STUDIES / "hazel-beck")
    other.site = other.site.changed(turbine=other.site.turbine.changed(jets=taken - 1))
    assert other.sizing.choice.jets == taken
    assert any(
        f"{taken} jets instead of {taken - 1}" in each.message for each in other.pipe_findings
    )
