"""The page on the water's way: what it says is what the study knows, and it makes sense with parts missing."""

import inspect
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shared
import small_study
import snow_study

from hydrokit.report.display import Cautions, Picture, Table, Words
from hydrokit.report.pages.p03 import frost, holding, line_air, silt, venting, water_way
from hydrokit.report.pages.p03 import ladder as build_ladder
from hydrokit.study.build.ladder import limiting, openings, rungs
from hydrokit.study.keyed import plain
from hydrokit.study.opening import open_study
from hydrokit.works.filling import filling

ROOT = Path(__file__).resolve().parents[2]
GPM, FOOT = 3.785411784e-3 / 60, 0.3048


@pytest.fixture(scope="module")
def studies():
    return shared.demo


@pytest.fixture(scope="module")
def stalled(tmp_path_factory):
    return snow_study.opened(tmp_path_factory.mktemp("stalled"))


@pytest.fixture(scope="module")
def lane(tmp_path_factory):
    return snow_study.opened(tmp_path_factory.mktemp("lane"), snow_study.VENTED)


# --- Snow Lane: stalls at 520 ft, freed at 230 ft ---------------------------------------------


def test_a_line_that_stalls_walked_by_hand(stalled):
    # Levels are of the bottom; the axis stands 3.1 in higher. Legs: 190 ft behind 230 ft, 180 ft behind 520 ft, 140 ft behind 760 ft.
    density = 999.97  # at 5 °C, IAPWS
    air_head = 101325 * (1 - 2.25577e-5 * 5200 * FOOT) ** 5.25588 / (density * 9.80665) / FOOT
    half = 3.1 / 12
    high_point, second_left, third_level = 396.6 + half, 400 - 393.4 - half, 386.4 + half
    first = np.interp(190 * air_head / (air_head + 400 - high_point), [0, 100, 190], [0, 5.8, 9.1])
    assert second_left - first < 0, "the second high point is not passed"
    walked = stalled.line_air.filling
    assert walked.pockets[0].height_m / FOOT == pytest.approx(first, rel=0.003)
    assert walked.stalls_m / FOOT == pytest.approx(520, abs=1)
    assert [round(vent / FOOT) for vent in walked.vents_m] == [230]
    # Vented at 230 ft the second high point has its full head left, and its own pocket is pressed by that.
    vented = filling(replace(stalled.line_air.line, vents_m=(230 * FOOT,)))
    second = np.interp(180 * air_head / (air_head + second_left), [0, 120, 180], [0, 6.4, 8.2])
    third = np.interp(140 * air_head / (air_head + 400 - third_level - second), [0, 140], [0, 3.4])
    assert [each.height_m / FOOT for each in vented.pockets] == pytest.approx(
        [second, third], rel=0.003
    )
    assert 400 - 384.2 - second - third > 0, "the crest is passed"
    freed = stalled.line_air.ventings[1]
    assert freed.starts and freed.margin_m / FOOT == pytest.approx(400 - high_point, rel=0.01)


def test_the_headline_names_where_it_stalls_and_what_frees_it(stalled):
    text = water_way.headline(stalled, stalled.view("us")).text
    assert "stalls at 520 ft" in text and "vent at 230 ft frees it" in text
    assert len(re.findall(r"\.(?:\s|$)", text)) == 3
    metric = water_way.headline(stalled, stalled.view("metric")).text
    assert "158 m" in metric and "70.1 m" in metric and " ft" not in metric


def test_october_starves_all_jets_and_fewer_are_better(lane):
    october, clean = limiting(lane, 10), limiting(lane)
    assert october.part == "creek screen" and clean.part == "jets"
    all_open = dict(openings(lane))[3]
    assert october.flow_m3s < 0.7 * all_open and clean.flow_m3s == pytest.approx(all_open)
    assert october.best_jets < 3 and october.best_w > 1.3 * october.power_w
    # Under-fed: the water stands as high as the jets need to pass it, so the head goes with the flow squared.
    heads = [float(lane.plant.at_si(1.0, month, jets=3).net_head_m) for month in (10, 6)]
    assert heads[0] / heads[1] == pytest.approx((october.flow_m3s / all_open) ** 2, rel=1e-6)


def test_ladder_tells_how_blocked_the_screen_may_get(lane):
    from hydrokit.works.state import State

    screen = next(each for each in rungs(lane) if each.name == "creek screen")
    kept = lane.plant.reaching_si()[0].share
    passes = lane.supply[0].capacity_si(State(screen.may_block)) * kept
    assert passes == pytest.approx(lane.full_flow_m3s, rel=1e-6)
    table = repr(build_ladder.ladder_table(lane, lane.view("us")))
    assert f"{100 * screen.may_block:.0f} %" in table and "October, 50 % blocked" in table
    assert kept == pytest.approx(0.96)  # what the rushes lose


def test_vents_are_in_the_table_of_changes_with_their_number(stalled):
    table = repr(water_way.changes_table(stalled, stalled.view("us")))
    assert re.search(r"plugged vent on the diversion line \| 230 ft \| gives back 8\.\d ft", table)
    assert "520 ft" in table and "closer supports | log bridge" in table
    steps = repr(venting.steps_table(stalled, stalled.view("us")))
    assert (
        steps.index("shut the gate")
        < steps.index("open the vent slowly")
        < steps.index("open the gate slowly")
    )
    assert "230 ft" in steps


def test_frost_begins_at_the_bridge(lane):
    worst = lane.frost.stretches[0]
    assert worst.stretch.name == "log bridge" and worst.stretch.bare
    assert lane.frost.air_temperature_k == pytest.approx(lane.temperature.min() + 273.15)
    assert "log bridge" in frost.frost_words(lane, lane.view("us")).text
    words = frost.running_water_words(lane, lane.view("us")).text
    assert "0.13 °F for each 100 ft" in words and "0.072 °F" in words  # 0.0023 K a metre; 0.040 K


# --- Alder Burn and Hazel Beck ----------------------------------------------------------------


def test_alder_burn_never_locks_and_its_line_is_a_part(studies):
    burn = studies("alder-burn")
    assert (
        burn.line_air.filling.starts
        and not burn.line_air.filling.pockets
        and burn.line_air.regime.kind == "part full"
    )
    assert [part.name for part in burn.supply] == ["intake", "diversion line"]
    text = water_way.headline(burn, burn.view("metric")).text
    assert "starts by itself" in text and "no air can lock it" in text
    assert burn.view("metric").text(burn.pressures.highest_pa[-1], "pressure") in text


def test_losses_of_the_section_are_those_of_the_plant(studies):
    from hydrokit.water import viscosity

    for name in ("alder-burn", "hazel-beck"):
        made = studies(name)
        lost = float(
            made.penstock.loss_si(made.full_flow_m3s, float(viscosity.si(made.water_temperature_k)))
        )
        assert made.section.net_head_m == pytest.approx(made.head.value - lost, rel=1e-9)
        assert made.section.below_atmosphere == []


def test_hazel_beck_has_no_line_and_says_so(studies):
    beck = studies("hazel-beck")
    assert beck.line_air is None
    assert "No diversion line" in line_air.line_figure(beck, beck.view()).text
    assert line_air.start_words(beck, beck.view()).text == ""
    assert "example" in frost.frost_words(beck, beck.view()).text, (
        "no record of air temperature is told"
    )
    assert "does not say how quickly" in holding.surge_words(beck, beck.view()).text


def test_the_limiting_component_by_month_follows_the_creek(studies):
    beck = studies("hazel-beck")
    august = limiting(beck, 8)
    usable = beck.usable[beck.usable.index.month == 8]
    assert august.part == "creek" and august.creek_m3s == pytest.approx(float(usable.median()))
    assert limiting(beck, 2).part == "jets"


# --- thin and missing data --------------------------------------------------------------------

THIN = """
[site]
name = "<b>*thin*</b>"
[penstock]
static_pressure = "58 psi"
length = "640 ft"
[[penstock.pipe]]
size = "4 in PVC Sch 40"
[turbine]
kind = "pelton"
jets = 3
jet_diameter = "0.44 in"
[generator]
water_to_wire = "55 %"
[[part]]
kind = "screen"
name = "<i>grid</i> *2*"
area = "0.02 m^2"
open = "40 %"
head = "10 mm"
[[penstock.stretch]]
name = "<u>bridge</u>"
from = "10 ft"
to = "30 ft"
span = "12 ft"
"""
WEAK = """
[site]
name = "weak"
altitude = "2000 m"
[penstock]
head = "60 m"
closing_time = "0.2 s"
[[penstock.pipe]]
size = "110 mm PVC-U PN 6"
length = "300 m"
[turbine]
kind = "pelton"
jets = 2
design_flow = "8 L/s"
[intake]
capacity = "5 L/s"
[[part]]
kind = "forebay"
area = "0.2 m^2"
depth = "0.2 m"
"""
CASES = {
    "nothing": '[site]\nname = "x"\n',
    "a pipe alone": '[site]\nname = "x"\n[penstock]\nhead = "40 m"\n[[penstock.pipe]]\ninside_diameter = "101 mm"\nlength = "300 m"\nroughness = "0.03 mm"\n',
    "thin": THIN,
    "weak": WEAK,
}


@pytest.fixture
def toy(tmp_path):
    def made(name):
        (tmp_path / "site.toml").write_text(CASES[name], encoding="utf-8")
        return open_study(tmp_path)

    return made


@pytest.mark.parametrize("name", CASES)
def test_with_parts_missing_every_section_still_makes_sense(toy, name):
    study = toy(name)
    view = study.view("us" if name == "thin" else "metric")
    for module in small_study.page_modules("p03"):
        for section in module.__all__:
            function = getattr(module, section)
            shown = (
                function(study, view)
                if "study" in inspect.signature(function).parameters
                else function()
            )
            assert isinstance(shown, (Words, Table, Picture, Cautions))
            text = shown.alt if isinstance(shown, Picture) else str(shown)
            assert (
                "nan" not in re.findall(r"\w+", text.lower())
                and "None" not in text
                and "inf " not in text
                and "<u>" not in getattr(shown, "text", "")
            )


def test_nothing_known_asks_for_a_survey(toy):
    study = toy("nothing")
    assert "survey them" in water_way.headline(study, study.view()).text
    assert "nothing that these figures show" in repr(water_way.changes_table(study, study.view()))


def test_names_from_the_file_are_text(toy):
    study = toy("thin")
    view = study.view("us")
    words = (
        water_way.headline(study, view).text
        + build_ladder.ladder_words(study, view).text
        + frost.frost_words(study, view).text
        + holding.supports_words(study, view).text
    )
    assert (
        "<i>" not in words
        and "<u>" not in words
        and "&lt;i&gt;grid" in words
        and "&lt;u&gt;bridge" in words
    )
    table = (
        build_ladder.ladder_table(study, view)._repr_html_()
        + frost.frost_table(study, view)._repr_html_()
        + holding.supports_table(study, view)._repr_html_()
    )
    assert "<i>" not in table and "<u>" not in table


def test_a_weak_pipe_is_told_in_bold_with_its_remedy(toy):
    study = toy("weak")
    view = study.view("metric")
    assert study.pressures.use_of_rating > 1
    assert "which is too much**" in water_way.headline(study, view).text
    table = repr(water_way.changes_table(study, view))
    for what in (
        "stronger pipe",
        "a slow valve",
        "an air pipe",
        "a larger intake",
        "a larger settling basin",
    ):
        assert what in table
    assert plain(view.shown(study.answer("closing_time.even"))) in table
    assert "is too small" in silt.silt_words(study, view).text
    assert any(each.level == "problem" for each in study.findings(("pressures",)))


def test_the_screen_that_passes_too_little_clean_is_named(toy):
    study = toy("thin")
    clean = limiting(study)
    assert clean.part == "<i>grid</i> *2*" and not clean.jets_bind
    assert np.isnan(next(each for each in rungs(study) if each.name == clean.part).may_block)
    assert "passes less than the jets take" in repr(build_ladder.ladder_table(study, study.view()))


def test_an_empty_pipe_under_water_floats_up(lane):
    # 4 in Sch 40: 114.3 mm outside, 6.02 mm of PVC at 1400 kg/m³: 10.26 kg of water pushed away, 2.87 kg of wall (AWWA practice).
    outside, wall = 4.5 * 0.0254, 0.237 * 0.0254
    lift = np.pi / 4 * outside**2 * 1000 - np.pi * (outside - wall) * wall * 1400
    text = holding.uplift_words(lane, lane.view("metric")).text
    assert (
        f"the penstock rises with {lift:.1f} kg for each metre" in text
        and "a margin of one half" in text
    )
    assert "lb for each foot" in holding.uplift_words(lane, lane.view("us")).text
