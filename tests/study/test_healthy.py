"""One healthy plant, one head loss: as read on the plant, with what is stated or calculated beside it, on every page."""

import re

import numpy as np
import pytest
import shared
import small_study
from true_plant import DENSITY, GRAVITY, TruePlant

from hydrokit.report.pages.p03 import section as build_section
from hydrokit.report.pages.p05 import today
from hydrokit.report.pages.p09 import running
from hydrokit.study.build.head_loss import head_losses
from hydrokit.study.keyed import keys

# The small study's pipe, three times as hard for the water as when clean, and a machine less good than is stated.
TRUE = TruePlant(38.0, 0.1286, 154.8, 1e-5, 0.0, 2, 0.020, 0.95, 0.45, loss_factor=3.0)


def readings(plant, coefficient=None):
    """Gauge and watts with everything shut, one jet and two, free of noise, by the laws alone."""
    lines = ["date,jets,pressure [bar],watts [W],spilling"]
    for jets in range(3):
        area = jets * plant.jet_area
        head = plant.settle(area, plant.head) if jets else plant.head
        flow = area * np.sqrt(2 * GRAVITY * head)
        lines.append(
            f"2024-06-01,{jets},{DENSITY * GRAVITY * head / 1e5:.5f},{plant.efficiency * DENSITY * GRAVITY * flow * head:.3f},yes"
        )
    return "\n".join(lines) + "\n"


def opened(folder, stated="60 % ± 2 %", **turbine):
    return small_study.changed(
        folder,
        {"readings": readings(TRUE)},
        site={"stage_of_work": "existing"},
        readings={"file": "readings.csv"},
        turbine={"efficiency": None, **turbine},
        generator={"water_to_wire": stated, "efficiency": None},
    )


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    return opened(tmp_path_factory.mktemp("read"))


def numbers(words):
    return dict(keys(words.marked))


def test_the_head_loss_in_use_is_that_of_the_readings_and_stands_alike_on_two_pages(read):
    flow = TRUE.full_flow
    used, clean = read.answer("loss.penstock"), read.answer("loss.penstock_clean")
    assert used.value == pytest.approx(TRUE.loss(flow), rel=0.05) and clean.value == pytest.approx(
        TRUE.loss(flow) / 3.0, rel=0.05
    )
    assert used.low < TRUE.loss(flow) < used.high and used.set_aside[0].value == clean.value
    assert any(
        "the clean pipe of that size and length gives" in each.message for each in read.findings()
    )
    assert read.section.lost_head_m == pytest.approx(used.value, rel=1e-9)
    view = read.view("metric")
    three, five = (
        numbers(build_section.section_words(read, view)),
        numbers(today.today_words(read, view)),
    )
    for key in ("loss.penstock", "loss.penstock_clean", "pressure.shut_off"):
        assert (
            three[key]
            == five[key]
            == view.shown(read.answer(key)).split("\ue001")[1].rstrip("\ue002")
        )


def test_without_readings_the_clean_pipe_counts():
    plain = shared.small()
    assert (
        plain.answer("loss.penstock").value
        == plain.answer("loss.penstock_clean").value
        == pytest.approx(plain.section.lost_head_m, rel=1e-9)
    )


def test_the_healthy_plant_is_the_one_that_was_read_on_every_page(read):
    healthy = read.answer("plant.healthy_power")
    true = (
        TRUE.efficiency
        * DENSITY
        * GRAVITY
        * TRUE.full_flow
        * TRUE.settle(2 * TRUE.jet_area, TRUE.head)
    )
    assert (
        healthy.value == pytest.approx(true, rel=0.01)
        and healthy.value == read.card.rows[-1].power_w
    )
    view = read.view("metric")
    shown = {
        numbers(page(read, view)).get("plant.healthy_power")
        for page in (today.headline, today.today_words, running.headline)
    } - {None}
    assert len(shown) == 1
    assert "healthy plant would give" not in str(
        today.headline(read, view)
    ) and "Against a healthy plant" not in str(today.today_words(read, view))
    # What is stated, with a clean pipe, stands beside it and gives more.
    beside = next(each for each in healthy.set_aside if each.source.startswith("the clean pipe"))
    assert beside.value > 1.2 * healthy.value


def test_an_efficiency_that_is_stated_and_one_that_is_found_are_a_finding_where_they_differ(
    read, tmp_path
):
    found = read.answer("plant.efficiency")
    assert found.low < 0.45 < found.high and found.set_aside[0].value == 0.60
    assert any(
        each.where == "plant efficiency" and "more than both are uncertain" in each.message
        for each in read.findings()
    )
    alike = opened(tmp_path, "46 % ± 3 %")
    assert not any(each.where == "plant efficiency" for each in alike.findings())


def test_another_kind_of_jet_moves_flow_and_efficiency_but_not_the_healthy_power(read, tmp_path):
    other = opened(tmp_path, jet_kind="drilled plate")
    assert other.answer("capacity.jets").value < 0.95 * read.answer("capacity.jets").value
    assert other.answer("plant.healthy_power").value == pytest.approx(
        read.answer("plant.healthy_power").value, rel=0.01
    )


def test_a_plant_that_was_never_read_is_healthy_as_described():
    plain = shared.small()
    full = plain.answer("plant.full_power")
    assert (
        plain.answer("plant.healthy_power").value == pytest.approx(full.value, rel=1e-6)
        and plain.answer("plant.efficiency") is None
    )
    assert plain.answer("head.net").value == pytest.approx(plain.section.net_head_m, rel=1e-6)


def test_gross_head_less_its_losses_is_the_net_head(read, tmp_path):
    """In the sentence and in the figure of page 03, where the gauge at rest shows 1.5 m less than the levels."""
    assert head_losses(read).net_m == pytest.approx(read.answer("head.net").value, rel=2e-3)
    low = small_study.changed(
        tmp_path,
        site={"stage_of_work": "existing"},
        reading=[
            {"jets": 0, "pressure": "3.58 bar"},
            {"jets": 1, "pressure": "3.4 bar"},
            {"jets": 2, "pressure": "3.1 bar", "watts": "2100 W"},
        ],
    )
    text = str(build_section.section_words(low, low.view()))
    lost, left, of = (
        float(each)
        for each in re.search(
            r"is ([\d.]+) m of the gross head.* leaves ([\d.]+) m at the jets of the ([\d.]+) m",
            text,
        ).groups()
    )
    assert of - lost == pytest.approx(left, abs=0.11) and of < low.head.value - 1
    found = head_losses(low)
    assert found.net_m == pytest.approx(low.answer("head.net").value, rel=2e-3)
    assert found.gross_m - sum(each.head_m for each in found.parts) == pytest.approx(found.net_m)
