"""The control panels: they build, they move, their numbers are the study's; and their picture where nobody turns knobs."""

import io
import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import small_study
from foreign_units import METRIC, US

import hydrokit as hk
from hydrokit.energy.year import annual_energy
from hydrokit.lab import explore
from hydrokit.lab.explore_water import way_of
from hydrokit.lab.knobs import Knob, Panel, levels, shares, tick
from hydrokit.lab.mean_year import MeanYear
from hydrokit.report.display import Picture, Words
from hydrokit.study.attended import leave_alone
from hydrokit.study.build import upgrades as build_upgrades
from hydrokit.study.build import year as build_year
from hydrokit.study.keyed import plain
from hydrokit.study.opening import open_study
from hydrokit.study.view import View

ROOT = Path(__file__).resolve().parents[2]
STUDIES = ("alder-burn", "hazel-beck", "saltfern-creek")
LACKING = {
    "hazel-beck": {"panel_changes"},
    "saltfern-creek": {"panel_money", "panel_rights", "panel_size", "panel_year"},
}
NOTEBOOKS = {
    "01": "panel_gauging",
    "02": "panel_rights",
    "03": "panel_way",
    "04": "panel_size",
    "05": "panel_year",
    "06": "panel_use",
    "07": "panel_money",
    "08": "panel_changes",
    "09": "panel_gauge",
}


@pytest.fixture(scope="module")
def studies():
    """The demo studies, their changes weighed in two worlds and at most three of them: what takes long is not looked at here."""
    worlds, build_upgrades.WORLDS = build_upgrades.WORLDS, 2
    opened = {name: open_study(ROOT / "studies" / name) for name in STUDIES}
    for study in opened.values():
        study.site = study.site.changed(upgrade=study.site.upgrade[:3])
    yield opened
    build_upgrades.WORLDS = worlds


@pytest.fixture
def alder(studies):
    return studies["alder-burn"]


def numbers_of(panel, **values):
    return {name: now for name, now, _ in panel.numbers(**values).rows}


# --- every panel ----------------------------------------------------------------------------


@pytest.mark.parametrize("system", [pytest.param("metric", marks=pytest.mark.slow), "us"])
@pytest.mark.parametrize(
    "name",
    [
        pytest.param(each, marks=pytest.mark.slow if each == "alder-burn" else ())
        for each in STUDIES
    ],
)
@pytest.mark.parametrize("panel", explore.__all__)
def test_a_turn_moves_figure_and_numbers(studies, panel, name, system):
    study = studies[name]
    made = getattr(explore, panel)(study, study.view(system))
    if panel in LACKING.get(name, ()):
        assert isinstance(made, Words) and "Not shown" in made.text
        return
    assert isinstance(made, Panel) and made.knobs
    first, picture = repr(made.numbers()), made.png()
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    for knob in made.knobs:
        assert len(knob.values) == len(knob.texts) == len(set(knob.texts)), (
            f"two settings of '{knob.label}' read alike: {knob.texts}"
        )
        other = knob.values[-1] if knob.start != len(knob.values) - 1 else knob.values[0]
        moved = repr(made.numbers(**{knob.name: other}))
        assert moved != first, f"'{knob.label}' changes no number"
        assert made.png() != picture, f"'{knob.label}' moves nothing in the figure"
    assert repr(made.numbers()) == first and made.png() == picture, "turned back it is what it was"
    axes = made.figure.axes
    text = "\n".join(
        [
            first,
            made.what,
            *(text for knob in made.knobs for text in (knob.label, *knob.texts)),
            *(each.get_xlabel() + each.get_ylabel() for each in axes),
        ]
    )
    text = re.sub(r"[\d./-]+ (mm|in) (?=PVC|PE|HDPE|penstock|pipe)", "", text)
    wrong = (US if system == "metric" else METRIC).search(text)
    assert not wrong, f"{wrong[0]!r} is shown to a {system} reader"
    assert "nan" not in re.findall(r"\b\w+\b", text.lower()) and "not known" not in text


@pytest.mark.parametrize("panel", explore.__all__)
def test_widgets_turn_by_their_values(alder, panel):
    made = getattr(explore, panel)(alder, alder.view())
    # below the numbers a panel whose knobs stand for keys has its button for a variant
    *knobs, back, figure, numbers = made.box.children[: len(made.knobs) + 3]
    before = figure.value, numbers.value
    assert (
        'alt="' in before[0]
        and "data:image/png;base64," in before[0]
        and re.search(r"<td>[\d,.]+ (kWh|L/s|bar|%|mm)|<td>\d", before[1])
    )
    knob, widget = made.knobs[0], knobs[0]
    assert widget.description == knob.label
    widget.value = (
        (not widget.value)
        if knob.is_tick
        else (knob.start + 1 if knob.start + 1 < len(knob.values) else knob.start - 1)
    )
    assert figure.value != before[0] and numbers.value != before[1]
    back.click()
    assert (figure.value, numbers.value) == before
    data, metadata = made._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in data and data["image/png"], (
        "a saved notebook shows the picture"
    )
    assert metadata["image/png"]["alt"] == data["text/plain"] or metadata["image/png"]["alt"]


@pytest.mark.parametrize("name", ["alder-burn", "saltfern-creek"])
@pytest.mark.parametrize("panel", explore.__all__)
def test_a_run_gets_a_picture(studies, panel, name, monkeypatch):
    monkeypatch.setattr("hydrokit.study.attended._attended", True)  # put back afterwards
    leave_alone()
    study = studies[name]
    made = getattr(explore, panel)(study, study.view())
    if panel in LACKING.get(name, ()):
        assert isinstance(made, Words)
        return
    assert isinstance(made, Picture) and re.search(r"\d", made.alt)
    data, metadata = made._repr_mimebundle_()
    assert set(data) == {"image/png", "text/plain"} and metadata["image/png"]["alt"] == made.alt


# --- the numbers are those of the rooms below -----------------------------------------------


def test_rights_against_the_record_taken_day_by_day(alder):
    view = View()
    panel = explore.panel_rights(alder, view)
    stays, licence = panel.knobs
    assert stays.first == pytest.approx(alder.rights.keep_m3s.mean()) and licence.first == 0.040
    assert numbers_of(panel)["available flow, mean"] == view.text(alder.usable.mean(), "flow")
    record = alder.record.dropna()
    keep = alder.rights.keep_m3s * (
        0.020 / alder.rights.keep_m3s.mean()
    )  # the months keep their shape
    taken = [
        min(max(flow - keep[month - 1], 0.0), 0.010)
        for flow, month in zip(record, record.index.month)
    ]
    shown = numbers_of(panel, stays=0.020, licence=0.010)
    assert shown["available flow, mean"] == view.text(np.mean(taken), "flow")
    assert shown["available share of the water"] == f"{100 * np.mean(taken) / record.mean():.0f} %"
    assert shown["no flow available"] == f"{365 * np.mean(np.array(taken) == 0):.0f} days a year"
    assert numbers_of(panel, stays=0.0, licence=np.inf)["available share of the water"] == "100 %"


def test_the_year_against_the_room_of_energy(alder):
    worked, rights = MeanYear.of(alder), alder.rights
    kwh, useful = worked.monthly_kwh(float(rights.keep_m3s.mean()), 1.0)
    assert kwh == pytest.approx(alder.year.monthly_kwh.to_numpy(), rel=1e-9)
    assert useful == pytest.approx(alder.year.useful_monthly_kwh.to_numpy(), rel=1e-9)
    stricter = replace(rights, keep_m3s=1.7 * rights.keep_m3s)
    other = annual_energy(
        stricter.usable_series(alder.record),
        alder.plant.curves(),
        build_year.outages(alder.site),
        winter=alder.winter,
    )
    found = worked.monthly_kwh(float(stricter.keep_m3s.mean()), 0.8)[0]
    # what the way the plant is run loses is told by the share of the plant as it stands
    assert found == pytest.approx(
        0.8 * other.monthly_kwh.to_numpy() * (1 - alder.year.lost_share), rel=1e-9
    )


@pytest.mark.parametrize(
    "panel, questions",
    [
        ("panel_rights", {"available flow, mean": "water.usable_mean"}),
        ("panel_year", {"energy, a mean year": "energy.net"}),
        (
            "panel_size",
            {
                "energy of a mean year": "recommended.energy",
                "rated power": "recommended.power",
                "capital cost": "recommended.capital",
                "levelised cost per useful kWh": "recommended.kwh_cost",
                "net annual benefit": "recommended.benefit",
            },
        ),
        (
            "panel_money",
            {
                "net present value": "money.npv",
                "payback": "money.payback",
                "levelised cost of a useful kWh": "money.lcoe",
            },
        ),
        (
            "panel_use",
            {
                "power at the loads": "power.loads",
                "demand met, a mean year": "demand.met",
                "voltage dip while milk cooler starts": "motor.dip",
            },
        ),
    ],
)
def test_a_panel_begins_with_the_answers_of_the_study(alder, panel, questions):
    """At the study's own values a number that answers a question has the answer's digits."""
    view = alder.view()
    shown, told = numbers_of(getattr(explore, panel)(alder, view)), 0
    for name, key in questions.items():
        if name in shown:
            assert shown[name] == plain(view.shown(alder.answer(key))), key
            told += 1
    assert told


def test_further_gaugings_against_the_function_of_the_trade(alder):
    """Recursive least squares, one gauging after the other; more of them never blur."""
    panel, rating = explore.panel_gauging(alder, View()), alder.rating
    stage = panel.knobs[0].values[3]
    once = hk.one_more_gauging(rating, hk.Q_(stage, "m"), "10 %")
    twice = hk.one_more_gauging(once, hk.Q_(stage, "m"), "10 %")
    named = "standard deviation there"
    for count, curve in enumerate((rating, once, twice)):
        shown = numbers_of(panel, stage=stage, sure=0.1, count=count)
        assert shown[named] == f"{100 * curve.log_sd(stage):.1f} %"
    assert numbers_of(panel, stage=stage, sure=0.02, count=2)[named] != shown[named]


@pytest.mark.slow
def test_the_use_against_the_study_with_its_keys_changed(tmp_path):
    """A turned knob shows what the study says whose site file has that value."""
    pump = {"name": "pump", "kind": "motor", "power": "500 W", "length": "20 m", "size": "2.5 mm2"}
    light = {"name": "light", "power": "200 W"}
    study = small_study.changed(tmp_path / "s", circuit=[light, pump], cable={"size": "4 mm2"})
    view, panel = study.view(), explore.panel_use(study, study.view())
    knobs = {knob.name: knob for knob in panel.knobs}
    asked = {
        "cable": {"power at the loads": "power.loads", "demand met, a mean year": "demand.met"},
        "demand": {"demand met, a mean year": "demand.met"},
        "motor": {"voltage dip while pump starts": "motor.dip"},
        "starter": {"voltage dip while pump starts": "motor.dip"},
    }
    for name, answers in asked.items():
        value = knobs[name].values[-1 if name != "cable" else knobs[name].start + 1]
        shown = numbers_of(panel, **{name: value})
        other = study.changed(panel.changes({**panel.first, name: value}))
        for text, key in answers.items():
            assert shown[text] == plain(view.shown(other.answer(key))), (name, key)
    keyed = {each for knob in panel.knobs for each in knob.writes(knob.values[-1])}
    assert keyed == {"cable.size", "loads.demand", "circuit.2.power", "circuit.2.starter"}


def test_size_is_looked_up_in_the_sizing(alder):
    found, view = alder.sizing, View()
    panel = explore.panel_size(alder, view)
    shown = numbers_of(panel, flow=3, pipe=1, jets=0)
    assert (
        shown["energy of a mean year"].replace(",", "")
        == f"{float(f'{found.kwh[0, 3, 1]:.3g}'):.0f} kWh"
    )
    assert shown["rated power"] == view.text(found.rated_w[0, 3, 1], "power")
    wide = panel.numbers(flow=len(found.flows_m3s) - 1, pipe=0)
    assert "choose a wider pipe" in repr(wide), (
        "a pipe that takes more than a third of the head is not offered in silence"
    )


def test_the_way_holds_back_where_it_is_narrowest(studies):
    study, view = studies["saltfern-creek"], View("us")
    screen, line = study.supply[0], study.supply[1]
    way, panel = way_of(study, view), explore.panel_way(study, view)
    kept = 1 - next(part["loss"] for part in study.site["part"] if "loss" in part)
    assert way.reaching_si(0.0, 0.0)["screen"] == pytest.approx(float(screen.capacity_si()) * kept)
    assert way.reaching_si(0.0, 0.0)["line"] == pytest.approx(
        float(line.capacity_si()) * kept, rel=1e-6
    )
    assert numbers_of(panel)["limiting component"] == "the screen"
    aired = panel.knobs[1].values[-1]
    assert numbers_of(panel, air_m=aired)["limiting component"] == "the line"
    assert (
        np.all(np.diff(way.screens_m3s) < 0)
        and np.all(np.diff(way.line_m3s) <= 0)
        and way.line_m3s[-1] < way.line_m3s[0]
    )


def test_changes_add_up_as_the_staircase_says(alder):
    found, view = alder.upgrades, alder.view()
    panel = explore.panel_changes(alder, view)
    order = [knob.label for knob in panel.knobs]
    none = {knob.name: False for knob in panel.knobs}
    first = found.steps[0]
    at = next(knob.name for knob, label in zip(panel.knobs, order) if first.names[0] in label)
    assert numbers_of(panel, **none)["more than as planned"].startswith("0 kWh")
    only = numbers_of(panel, **{**none, at: True})
    assert (
        only["useful energy, a year"].replace(",", "")
        == f"{float(f'{first.numbers[found.aim]:.3g}'):.0f} kWh"
    )
    assert found.made(first.names).net_money == pytest.approx(first.net_money)
    whole = found.made([name for step in found.steps for name in step.names])
    assert whole.numbers[found.aim] == pytest.approx(found.end[found.aim])
    assert whole.cost_money == pytest.approx(sum(step.cost_money for step in found.steps))


def test_the_gauge_tells_a_blocked_screen_from_air(studies):
    study, view = studies["saltfern-creek"], View("us")
    panel, fitted = explore.panel_gauge(study, view), study.baseline
    well = numbers_of(panel)
    assert (
        well["gauge"] == view.text(fitted.pressure_pa[-1], "gauge pressure")
        and well["it says"] == "healthy"
    )
    two = {
        name: (now, against) for name, now, against in panel.numbers(jets_open=2, blocked=0.9).rows
    }
    assert (
        two["gauge"][1] == view.text(fitted.pressure_pa[1], "gauge pressure") != two["gauge"][0]
    ), "held against health with the same jets open"
    blocked, aired = (
        numbers_of(panel, blocked=0.5),
        numbers_of(panel, air_m=panel.knobs[2].values[4]),
    )
    assert blocked["the forebay"] == "does not spill" and "walk up" in blocked["it says"]
    assert aired["the forebay"] == "spills" and "air" in aired["it says"]
    # under-fed jets: the water's power goes with the cube of the flow; the governor holds the runner's speed, and
    # buckets best at half the jet's speed lose by Euler's 4 u/v (1 - u/v). One jet less gives more.
    flow, power = (
        float(blocked[name].split()[0].replace(",", "")) for name in ("through the pipe", "power")
    )
    shares = np.array([flow - 0.5, flow + 0.5]) / float(view.number(fitted.flow_m3s[-1], "flow"))
    low, high = fitted.power_w[-1] * shares**3 * 4 * 0.5 / shares * (1 - 0.5 / shares)
    assert 0.99 * low < power < 1.01 * high < 1.02 * fitted.power_w[-1] * shares[1] ** 3
    assert float(blocked["power with one jet less"].split()[0].replace(",", "")) > power


@pytest.mark.slow
def test_hostile_names_of_changes_are_text(tmp_path):
    worst = '$x^{ <script>alert(1)</script> & "quoted"'
    made = open_study(ROOT / "studies" / "alder-burn")
    made.site = made.site.changed(upgrade=(made.site.upgrade[1].changed(name=worst),))
    panel = explore.panel_changes(made, made.view())
    figure, numbers = panel.box.children[len(panel.knobs) + 1 : len(panel.knobs) + 3]
    assert "<script>" not in figure.value + numbers.value and panel.png()
    assert panel.knobs[0].widget().description_allow_html is False


# --- settings -------------------------------------------------------------------------------


def test_levels_are_round_in_the_readers_unit_and_hold_the_present_one():
    for view, step in ((View(), 2.0), (View("us"), 25.0)):
        values, texts, start = levels(view, "flow", 0.0, 0.036, 0.00876)
        assert values[start] == 0.00876 and values == sorted(values) and len(texts) == len(values)
        shown = np.delete(view.number(np.array(values), "flow"), start)
        assert shown / step == pytest.approx(np.round(shown / step))
        assert 12 <= len(values) <= 26
    values, _, start = levels(View(), "head", 0.0, 10.0, 5.0)
    assert values.count(5.0) == 1 and values[start] == 5.0, (
        "a present one that is round stands once"
    )


def test_shares_hold_the_present_one():
    assert shares(0.0, 0.2, 0.1) == ([0.0, 0.1, 0.2], ["0 %", "10 %", "20 %"], 0)
    assert shares(0.7, 0.9, 0.1, 0.8)[0] == pytest.approx([0.7, 0.8, 0.9])


def test_none_or_one_jet_is_a_slider_and_no_tick():
    assert (
        type(Knob("jets", "jets open", [0, 1], texts=["0", "1"]).widget()).__name__
        == "SelectionSlider"
    )
    assert type(tick("change", "a fifth jet", True).widget()).__name__ == "Checkbox"


# --- in the notebooks -----------------------------------------------------------------------


@pytest.mark.parametrize("number, panel", NOTEBOOKS.items())
def test_each_notebook_has_its_panel_before_the_checks(number, panel):
    (path,) = (ROOT / "notebooks").glob(f"{number}_*.ipynb")
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    sources = ["".join(cell["source"]) for cell in cells]
    heads = [
        place for place, source in enumerate(sources) if source.startswith("## Turn the knobs")
    ]
    assert len(heads) == 1
    assert f"explore.{panel}(s, view)" in sources[heads[0] + 1]
    assert sources[heads[0] + 2].startswith("## Checks")


def test_panels_import_no_widgets_before_they_are_shown():
    """A run of the notebooks pays for no widget."""
    import subprocess
    import sys

    code = "import sys; import hydrokit.lab.explore; print('ipywidgets' in sys.modules or 'matplotlib' in sys.modules)"
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "False"
    )


def test_png_has_the_size_of_the_figure(alder):
    from PIL import Image

    panel = explore.panel_size(alder, View())
    width, height = panel.figure.get_size_inches() * 120
    assert Image.open(io.BytesIO(panel.png())).size == pytest.approx((width, height), abs=1)
