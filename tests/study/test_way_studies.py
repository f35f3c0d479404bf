"""Studies of other creeks than the demos': a gate, channels, several ponds, bridges, siphons; what they say must hold for them."""

from __future__ import annotations

import copy
import math
import re

import pytest
from small_study import SITE, write

from hydrokit.errors import InputError
from hydrokit.report.pages.p03 import (
    holding,
    intake,
    ladder,
    line_air,
    pond,
    silt,
    venting,
    water_way,
)
from hydrokit.report.pages.p03 import section as build_section
from hydrokit.study.opening import open_study
from hydrokit.works.bridge import pipe_bridge
from hydrokit.works.pipe_sizes import pipe_size

G = 9.80665
LEAT = {
    "kind": "channel",
    "name": "PVC leat",
    "length": "150 m",
    "slope": "0.2 %",
    "width": "0.4 m",
    "depth": "0.35 m",
    "lining": "concrete",
}
BASIN = {
    "kind": "forebay",
    "name": "settling basin",
    "area": "20 m^2",
    "depth": "0.5 m",
    "grain": "0.2 mm",
}
TANK = {
    "kind": "forebay",
    "name": "tank",
    "area": "6 m^2",
    "depth": "0.5 m",
    "spill_length": "0.8 m",
    "bank": "0.25 m",
}
RACK = {
    "kind": "trash rack",
    "name": "fine rack",
    "bar": "6 mm",
    "gap": "12 mm",
    "width": "0.3 m",
    "depth": "0.2 m",
    "head": "5 mm",
    "clogged": "20 %",
}
GATE = {"kind": "gate", "name": "head gate", "width": "0.5 m", "opening": "0.15 m", "head": "0.2 m"}
FALLING = (
    "chainage [m],elevation [m]\n0,305\n5,304.3\n20,303\n30,303.9\n60,301.5\n80,303.2\n100,302\n"
)


def study(folder, change=None, diversion=FALLING, **files):
    site = copy.deepcopy(SITE)
    site["diversion"] = {
        "profile": "diversion.csv",
        "inside_diameter": "230 mm",
        "roughness": "0.03 mm",
        "outlet": "free",
        "vents": ["30 m"],
    }
    site["part"] = [copy.deepcopy(each) for each in (GATE, LEAT, BASIN, TANK, RACK)]
    site["intake"]["clogged"] = {"october": "30 %"}
    if change is not None:
        change(site)
    return open_study(write(folder, site, diversion=diversion, **files))


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    return study(tmp_path_factory.mktemp("plain"))


def part(site, name):
    return next(each for each in site["part"] if each["name"] == name)


def text(section):
    return section.text if hasattr(section, "text") else str(section)


def table(section):
    return "\n".join(" | ".join(map(str, row)) for row in section.rows)


# --- what counts ------------------------------------------------------------------------------


def test_a_rack_below_the_pond_holds_nothing_back_from_its_overflow(plain):
    # The intake's 30 L/s less what seeps on the way, not what the rack passes.
    assert plain.overflow.arriving_m3s == pytest.approx(0.030, rel=2e-3)
    rack = next(each for each in plain.supply if each.name == "fine rack")
    assert rack.capacity_si() < 0.025


def test_a_rack_below_the_last_pond_does_not_overrule_the_intake(tmp_path, plain):
    assert [each.name for each in plain.supply] == [
        "intake",
        "head gate",
        "diversion line",
        "PVC leat",
        "fine rack",
    ]
    above = study(tmp_path, lambda site: site["part"].insert(0, site["part"].pop()))
    assert "intake" not in [each.name for each in above.supply]
    told = [each.message for each in above.open_findings if each.where == "intake"]
    assert told == [
        "clogged under [intake] changes nothing, for a screen is listed as a part: give it there"
    ]


def test_the_knob_of_the_screen_blocks_screens_alone(plain):
    from hydrokit.lab.explore_water import way_of
    from hydrokit.works.state import State

    way = way_of(plain, plain.view("metric"))
    named = {each.name: each for each in plain.supply}
    half = way.blocked[0].index(0.5)
    assert way.screens_m3s[half] == pytest.approx(
        min(named[name].capacity_si(State(clogged=0.5)) for name in ("intake", "fine rack")),
        rel=5e-3,
    )
    # Gate and channel stay as open as they are.
    assert way.rest_m3s == pytest.approx(
        min(named[name].capacity_si() for name in ("head gate", "PVC leat")), rel=5e-3
    )


def test_every_pond_is_judged_as_a_basin(plain):
    view = plain.view("metric")
    words = text(silt.silt_words(plain, view))
    assert (
        "**Settling basin.** To keep grains of 0.20 mm" in words
        and "this forebay has 20 m²" in words
        and "**Tank.** To keep grains of 0.30 mm" in words
    )
    assert words.count("With no inflow") == 1
    shown = silt.silt_table(plain, view)
    assert (
        "kept by the settling basin" in shown.columns[2] and "kept by the tank" in shown.columns[3]
    )


def test_one_basin_that_is_large_enough_spares_the_others(tmp_path):
    made = study(tmp_path, lambda site: part(site, "tank").update(area="0.02 m^2"))
    assert "too small" in text(silt.silt_words(made, made.view("metric")))
    assert not any(
        row[0] == "a larger settling basin" for row in silt.changes(made, made.view("metric"))
    )


def test_an_overflow_that_is_not_judged_is_told(tmp_path):
    made = study(tmp_path, lambda site: part(site, "settling basin").update(bank="0.2 m"))
    assert any(
        each.where == "settling basin" and "not judged" in each.message
        for each in made.open_findings
    )


def test_silt_without_room_for_it_does_not_ask_for_the_jar_again(tmp_path):
    made = study(tmp_path, lambda site: part(site, "tank").update(silt="0.2 kg/m^3"))
    words = text(silt.silt_words(made, made.view("metric")))
    assert "silt_depth" in words and "jar" not in words


# --- input that cannot be ---------------------------------------------------------------------


def test_gaugings_that_no_gate_could_pass_are_refused(tmp_path):
    # 60 L/s through 0.5 m x 50 mm under 0.2 m: 0.06 / (0.025 * sqrt(2 g 0.2)) = 1.21.
    made = study(
        tmp_path,
        lambda site: part(site, "head gate").update(
            gauged_lift=["50 mm"], gauged_head=["0.2 m"], gauged_flow=["60 L/s"]
        ),
    )
    with pytest.raises(
        InputError,
        match=r"head gate: its gaugings give it a coefficient of 1\.21, and no opening passes more than 1",
    ):
        assert made.supply


def test_a_pipe_is_no_channel_with_banks(tmp_path):
    made = study(tmp_path, lambda site: part(site, "PVC leat").update(diameter="250 mm"))
    with pytest.raises(
        InputError, match="its diameter says that it is a pipe, its width that it is not"
    ):
        assert made.supply


@pytest.mark.parametrize(
    ("kind", "entry"),
    [("stretch", {"from": "200 m", "to": "300 m"}), ("bend", {"at": "200 m", "angle": "30 deg"})],
)
def test_what_lies_beyond_the_line_is_refused(tmp_path, kind, entry):
    made = study(tmp_path, lambda site: site["penstock"].update({kind: [entry]}))
    with pytest.raises(
        InputError,
        match=rf"\[\[penstock\.{kind}\]\] 1: lies beyond the end of the line, which is 150 m long",
    ):
        assert made.stretches


def test_stretches_of_one_name_are_refused(tmp_path):
    made = study(
        tmp_path,
        lambda site: site["penstock"].update(
            stretch=[
                {"from": "10 m", "to": "20 m", "name": "gully"},
                {"from": "30 m", "to": "40 m", "name": "gully"},
            ]
        ),
    )
    with pytest.raises(InputError, match="two stretches are called 'gully'"):
        assert made.stretches


def test_a_crest_that_counts_for_nothing_is_told(tmp_path):
    made = study(
        tmp_path, lambda site: site["diversion"].update(outlet="gated", outlet_crest="303 m")
    )
    assert any("outlet_crest changes nothing" in each.message for each in made.line_air.findings)
    under = study(tmp_path / "under", lambda site: site["diversion"].update(outlet="submerged"))
    line = under.diversion_line
    crown = line.profile.elevation_m[-1] + line.reaches.diameter_m[-1] / 2
    assert any("at the crown of the pipe" in each.message for each in under.line_air.findings)
    # sealed: air behind the last high point cannot leave by the end, and the head is that to the crown
    assert line.upturned and line.outlet_level_m == pytest.approx(crown, abs=0.002)
    free = study(tmp_path / "free", lambda site: None)
    assert len(under.line_air.filling.pockets) > len(free.line_air.filling.pockets)
    bare = study(tmp_path / "bare", lambda site: site["diversion"].update(outlet="upturned"))
    assert any("its level is not given" in each.message for each in bare.line_air.findings)


def test_a_diversion_weaker_than_its_static_head(tmp_path):
    weak = study(tmp_path, lambda site: site["diversion"].update(rating="0.3 bar"))
    told = [each for each in weak.line_air.findings if "derated rating" in each.message]
    # From 305 m down to 301.5 m: 3.5 m of water, 0.343 bar.
    assert len(told) == 1 and told[0].level == "problem" and "0.343 bar" in told[0].message
    strong = study(tmp_path / "strong", lambda site: site["diversion"].update(rating="6 bar"))
    assert not any("derated rating" in each.message for each in strong.line_air.findings)


# --- air --------------------------------------------------------------------------------------


def test_a_vent_on_a_high_point_lets_out_all_of_its_air(tmp_path):
    made = study(
        tmp_path,
        lambda site: site["diversion"].update(
            vents=["30 m"], outlet="upturned", outlet_crest="303 m"
        ),
    )
    top = made.diversion_line.reaches.distance_m[3]
    assert made.diversion_line.vents_m[0] == pytest.approx(top, abs=1e-9)
    assert [round(each.high_point_m) for each in made.line_air.filling.pockets] == [80]
    assert all(top not in each.vents_m for each in made.line_air.ventings)


def test_a_diversion_alone_answers_without_a_flow(tmp_path):
    def change(site):
        for key in (
            "penstock",
            "turbine",
            "generator",
            "rights",
            "cable",
            "costs",
            "sizing",
            "upgrade",
            "loads",
        ):
            site.pop(key)
        site["intake"].clear()
        site["diversion"].pop("vents")

    made = study(tmp_path, change)
    assert (
        made.full_flow_m3s is None and made.line_air.flow_m3s <= made.diversion_line.full_bore_m3s
    )
    assert "stalls at 80.3 m" in text(water_way.headline(made, made.view("metric")))
    assert line_air.changes(made, made.view("metric")) is not None and "None" not in text(
        line_air.outlet_words(made, made.view("metric"))
    )


def test_an_inlet_that_was_not_surveyed_is_not_as_deep_as_a_far_station(tmp_path):
    # Two stations: water and outlet. A line of one fall, its inlet half a metre under the water.
    made = study(tmp_path, diversion="chainage [m],elevation [m]\n0,305\n60,301.5\n")
    assert made.diversion_line.reaches.elevation_m[0] == pytest.approx(304.5)
    assert any("taken to lie 0.50 m under it" in each.message for each in made.line_air.findings)


def test_units_keep_their_capitals(tmp_path, plain):
    made = study(
        tmp_path, lambda site: site["diversion"].update(outlet="upturned", outlet_crest="303 m")
    )
    words = text(venting.clearing_words(made, made.view("metric")))
    assert "Behind 30" in words and " L/s" in words and "l/s" not in words
    view = plain.view("metric")
    assert "**PVC leat.**" in text(pond.open_words(plain, view)) and not re.search(
        "[Pp]vc", text(ladder.ladder_words(plain, view))
    )


def test_a_line_over_a_rise_above_the_pond_is_a_siphon(tmp_path):
    made = study(
        tmp_path,
        diversion="chainage [m],elevation [m]\n0,305\n5,304.6\n20,303\n30,305.4\n60,301.5\n",
    )
    air, view = made.line_air, made.view("metric")
    assert (
        air.filling.climb_m == pytest.approx(0.4)
        and not air.filling.starts
        and not air.filling.pockets
    )
    assert "only a pump or suction gets water over it" in next(
        each.message for each in air.filling.findings if "stalls" in each.message
    )
    start = text(line_air.start_words(made, view))
    assert "stands 0.40 m above the pond there" in start and "shuts air in" not in start
    assert "It is a siphon" in text(line_air.pockets_words(made, view)) and "0 L/s" not in text(
        line_air.pockets_words(made, view)
    )
    assert "above the hydraulic grade line" in text(
        venting.clearing_words(made, view)
    )  # though no leg holds air
    assert any("stands above the pond" in step.text for step in air.steps)
    assert "suction, a pump or a pond at 305.40 m" in text(water_way.headline(made, view))
    assert "behind no high point can air be shut in" in text(line_air.regime_words(made, view))


def test_a_penstock_over_a_rise_above_the_pond_is_told_first(tmp_path, plain):
    over = "chainage [m],elevation [m]\n0,300\n2,299.3\n60,300.4\n150,262\n"
    made = study(tmp_path, penstock=over)
    view = made.view("metric")
    ((start, end),) = made.section.above_source
    # The crown stands at 300 m where the axis stands half a bore lower.
    half = made.penstock.pipes[0].diameter_m / 2
    at = 2 + 58 * (0.7 - half) / 1.1
    assert start == pytest.approx(at, abs=0.1) and end > 60
    assert "It stands above its forebay from" in text(water_way.headline(made, view))
    assert any(row[0] == "the penstock laid lower" for row in holding.changes(made, view))
    assert plain.section.above_source == [] and "stands above its forebay" not in text(
        water_way.headline(plain, view)
    )


def test_a_survey_of_two_points_shows_no_suction_that_is_not_there(tmp_path):
    made = study(tmp_path, penstock="chainage [m],elevation [m]\n0,300\n150,262\n")
    words = text(build_section.section_words(made, made.view("metric")))
    assert made.section.below_atmosphere == [] and "no suction anywhere" in words
    assert "middle of its inlet" not in words  # nobody measured it


def test_a_bend_under_suction_is_pulled_inwards(tmp_path):
    made = study(
        tmp_path,
        lambda site: site["penstock"].update(bend=[{"at": "60 m", "angle": "30 deg"}]),
        penstock="chainage [m],elevation [m]\n0,300\n2,299.3\n60,312\n150,262\n",
    )
    shown = table(holding.supports_table(made, made.view("metric")))
    assert "pulls inwards with" in shown and not re.search(r"with -\d", shown)


# --- bridges and frost ------------------------------------------------------------------------


def _gully(site):
    site["diversion"].pop("inside_diameter")
    site["diversion"].update(
        size="PE100 SDR 17 250 mm",
        stretch=[{"from": "20 m", "to": "30 m", "name": "gully", "span": "5 m"}],
    )


def test_a_diversion_that_hangs_free_is_judged(tmp_path):
    made = study(tmp_path, _gully)
    view, (found,) = made.view("metric"), made.bridges
    assert found.name == "gully" and found.span_m == 5.0
    shown = table(holding.supports_table(made, view))
    assert "gully | supports 5 m apart: too far" in shown and "without snow or ice" in shown
    assert any(row[:2] == ("closer supports", "gully") for row in holding.changes(made, view))


def test_a_span_that_cannot_be_judged_is_told(tmp_path):
    def change(site):
        _gully(site)
        site["diversion"].pop("size")
        site["diversion"]["inside_diameter"] = "230 mm"

    made = study(tmp_path, change)
    assert made.bridges == () and "supports of the gully may stand is not known" in text(
        holding.supports_words(made, made.view("metric"))
    )


def test_polyethylene_is_held_to_the_stiffness_it_keeps():
    pipe = pipe_size("PE100 SDR 17 250 mm").pipe(10.0)
    found = pipe_bridge("bridge", pipe, 1.5)
    outside, inside = pipe.outside_diameter_m, pipe.diameter_m
    load = G * math.pi / 4 * (955 * (outside**2 - inside**2) + 1000 * inside**2)
    # Simple beam, sag a five-hundredth of the span, long-term modulus 0.2 GPa.
    span = (384 * 0.002 * 0.2e9 * math.pi / 64 * (outside**4 - inside**4) / (5 * load)) ** (1 / 3)
    assert found.allowed_m == pytest.approx(span, rel=2e-3)


def test_a_stretch_freezes_as_the_pipe_that_lies_there(tmp_path):
    def change(site):
        site["penstock"]["pipe"] = [
            {"size": "PVC-U PN 10 200 mm", "length": "80 m"},
            {"size": "PVC-U PN 10 110 mm"},
        ]
        site["penstock"]["stretch"] = [{"from": "20 m", "to": "30 m", "name": "trestle"}]

    made = study(tmp_path, change)
    named = {each.name: each.inside_m for each in made.stretches}
    assert named["trestle"] == pytest.approx(made.penstock.pipes[0].diameter_m) and named[
        "penstock, elsewhere"
    ] == pytest.approx(made.penstock.pipes[1].diameter_m)


# --- sentences --------------------------------------------------------------------------------


def test_a_share_that_must_stay_is_not_called_nothing(tmp_path):
    def change(site):
        site["rights"]["residual"] = [{"rule": "share of flow", "share": "20 %"}]
        site["intake"].update(weir_length="2.5 m", notch_depth="80 mm")

    made = study(tmp_path, change)
    words = text(intake.weir_words(made, made.view("metric")))
    assert (
        "A share of the flow must stay: that no notch can measure" in words
        and "leave nothing" not in words
    )


def test_a_part_clogged_alike_all_year_names_no_month(plain):
    shown = table(ladder.ladder_table(plain, plain.view("metric")))
    assert re.search(r"fine rack \|[^\n]*\(every month, 20 % blocked\)", shown) and re.search(
        r"intake \|[^\n]*\(October, 30 % blocked\)", shown
    )


def test_a_single_machine_is_it_and_jets_are_them(tmp_path):
    def change(site):
        site["turbine"] = {"kind": "cross-flow", "design_flow": "10 L/s", "efficiency": "72 %"}

    made = study(tmp_path, change)
    words = text(water_way.headline(made, made.view("metric")))
    assert "the turbine** limits" in words and "above them" not in words


def test_frazil_nights_in_the_singular(tmp_path):
    from datetime import date, timedelta

    from hydrokit.report.pages.p03 import frost

    def degrees(day):
        """A week at freezing point in each January, and one cold night after it."""
        return (
            -7
            if (day.month, day.day) == (1, 10)
            else 0
            if day.month == 1 and 3 <= day.day < 10
            else 5
        )

    days = [date(2020, 10, 1) + timedelta(each) for each in range(730)]
    made = study(
        tmp_path,
        temperature="date,temperature [degC]\n"
        + "".join(f"{day},{degrees(day)}\n" for day in days),
    )
    assert "1 night a year has the weather for frazil" in text(
        frost.frazil_words(made, made.view("metric"))
    )
