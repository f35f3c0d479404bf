"""What the pages of a plant with a log and two machines tell once, and rightly: read on its own prints."""

import re

import numpy as np
import pytest
import shared

from hydrokit.report import next_measurements
from hydrokit.report.pages import common
from hydrokit.report.pages.p03 import holding, section
from hydrokit.report.pages.p04 import machine_choice, sizing
from hydrokit.report.pages.p09 import seasons, winter
from hydrokit.report.prints import spares
from hydrokit.study.keyed import plain


@pytest.fixture(scope="module")
def study():
    return shared.demo("saltfern-creek")


@pytest.fixture(scope="module")
def view(study):
    return study.view()


def test_the_stated_efficiency_is_that_of_its_machines_everywhere(study):
    """By hand: one jet of 66 %, three of 71 %, times 85 % of the generator."""
    stated = (0.66 + 3 * 0.71) / 4 * 0.85
    aside = study.answer("plant.efficiency").set_aside[0]
    assert aside.value == pytest.approx(stated)
    told = " ".join(each.message for each in study.findings())
    assert f"make {100 * stated:.0f} %" in told
    one_jet = study.missing.healthy_w[0] / study.missing.healthy_w[-1]
    assert study.missing.jets[0] == 1 and one_jet < 0.345  # the winter unit's own 66 %


def test_what_the_log_made_is_one_number_at_the_meter(study, view):
    words = plain(seasons.log_words(study, view).text)
    assert f"beside {plain(view.shown(study.answer('energy.log.metered')))} made" in words


def test_the_speed_of_the_water_is_that_of_its_pipes(study, view):
    """By hand: the flow over the bores of 6.03 and 4.13 in; the mean runs nowhere."""
    flow = study.full_flow_m3s
    slow, fast = (flow / (np.pi / 4 * (bore * 0.0254) ** 2) for bore in (6.031, 4.133))
    told = holding.water_speed(view, study.pressures)
    numbers = [float(each) for each in re.findall(r"[\d.]+", told)]
    assert numbers == [float(f"{each / 0.3048:.2g}") for each in (slow, fast)]
    assert told in section.section_words(study, view).text


def test_what_was_left_over_of_the_head_adds_up(study, view):
    """106 ft are left of what the gauge shows at rest, not of what the survey has."""
    words = plain(section.section_words(study, view).text)
    net, lost = study.answer("head.net").value, study.answer("loss.penstock").value
    assert f"from the {view.text(net + lost, 'head', 4)} at rest by the gauge" in words


def test_the_ballast_that_is_there_is_the_one_that_is_kept_in_spare(study, view):
    """By hand: 6 kW in three stages, each twice the one before, the largest four sevenths."""
    dump = study.wires.ballast
    assert dump.fitted.total_w == dump.there_w == 6000 > dump.asked.total_w
    assert max(dump.fitted.stages_w) == pytest.approx(6000 * 4 / 7)
    shown = " ".join(str(each) for each in spares.spares_list(study, view))
    assert view.text(6000 * 4 / 7, "power") in shown


def test_only_what_is_lacking_is_called_so(study, view):
    text = sizing.headline(study, view).text
    assert "a daily record" in text and "pipe" in text
    assert "a head" not in text and "turbine" not in text


def test_the_log_comes_before_the_bracket_that_is_set_aside(study, view):
    assert next_measurements.lines(study, view)[0].startswith("keep the log")
    brackets = [each for each in study.findings() if each.where == "bracket"]
    assert brackets and all(each.level == "note" for each in brackets)


def test_the_nights_of_frazil_add_up(study, view):
    words = plain(winter.winter_words(study, view).text)
    total = int(re.search(r"frazil: (\d+) a year", words)[1])
    assert sum(map(int, re.findall(r"(\d+) \([A-Z]\w+\)", words))) == total


def test_the_low_flow_of_the_machines_is_that_of_the_driest_month(study, view):
    table = str(machine_choice.machines_table(study, view))
    assert "not judged" not in table and "433 gpm" in table and "430 gpm" not in table


def test_two_machines_have_jets(study, view):
    assert "4 jets" in plain(str(common.understood(study, view)))


def test_a_rule_alike_all_year_takes_one_row(study, view):
    from hydrokit.report.pages.p02 import rights

    table = rights.rights_table(study, view)
    assert [row[0] for row in table.rows] == ["every month"]
    assert table.caption == "Residual flow and licence"
