"""Unequal machines on one pipe: each set of them a row of the card with its own name, water and watts; one word for what is opened."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shared
import small_study

from hydrokit.report.pages.p03 import ladder
from hydrokit.report.pages.p09 import card as build_card
from hydrokit.report.pages.p09 import winter
from hydrokit.study.build.machines import opened

G = 9.80665


@pytest.fixture(scope="module")
def pair():
    return shared.odd("several machines")


def test_the_card_has_a_row_for_each_machine_and_for_both(pair):
    rows = {row.name: row for row in pair.card.rows}
    assert list(rows) == ["small", "big", "small and big"]
    assert [rows[name].flow_m3s for name in rows] == pytest.approx([0.004, 0.010, 0.014])
    shown = [str(row[0]) for row in build_card.card_sheet(pair, pair.view()).rows]
    assert shown == ["shut", "small", "big", "small and big"]


def test_the_small_machine_alone_gives_its_own_watts(pair):
    """Q·ρ·g·H_net·η by hand: efficiency of the small machine, generator and cable as in the plant."""
    small = next(machine for machine in pair.plant.jets.machines if machine.name == "small")
    row = next(row for row in pair.card.rows if row.name == "small")
    lost = float(pair.penstock.loss_si(0.004, 1.39e-6))
    shaft = (
        999.85 * G * 0.004 * (pair.head.value - lost) * float(small.part_load.efficiency_si(1.0))
    )
    assert row.power_w == pytest.approx(
        float(pair.plant.net_si(shaft)), rel=5e-3
    )  # behind generator and cable
    assert row.power_w < 0.5 * next(each.power_w for each in pair.card.rows if each.name == "big")


def test_the_figure_names_what_runs(pair):
    figure = ladder.ladder_figure(pair, pair.view())
    labels = [text.get_text() for text in figure.figure.axes[0].texts]
    assert len(labels) == len(set(labels)) == 3 and "small" in labels and "big" in labels


def test_steps_name_the_machines(pair):
    text = repr(winter.penstock_steps_table(pair, pair.view()))
    assert "Run small, opened slowly" in text and "Run small and big" in text and "jet" not in text
    assert np.isclose(
        next(step.value for step in pair.steps["penstock"] if step.action.startswith("Run big")),
        next(row.pressure_pa for row in pair.card.rows if row.name == "big"),
    )


@pytest.mark.parametrize(
    "jets, words",
    [(1, "Shut the jet no faster"), (2, "Shut the jets one after the other, each no faster")],
)
def test_one_jet_is_not_shut_one_by_one(jets, words, tmp_path):
    study = small_study.changed(tmp_path, turbine={"jets": jets})
    text = repr(winter.penstock_steps_table(study, study.view())) + repr(
        build_card.card_lines(study, study.view())
    )
    assert words in text
    assert ("one by one" in text) == (jets > 1) and ("the first jet" in text) == (jets > 1)


@pytest.mark.parametrize(
    "name, word",
    [("plain", "jet"), ("francis", "machine"), ("spear", "jet"), ("several machines", "machine")],
)
def test_one_word_for_what_is_opened(name, word):
    study = shared.odd(name)
    assert opened(study) == word
    pages = "\n".join(
        str(section(study, study.view()))
        for module, _, section in small_study.page_sections()
        if module in ("running", "duration", "sizing", "schedule", "days")
    )
    assert not re.search(r"\b\d+ units?\b", pages)
