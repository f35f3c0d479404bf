"""What the air in a line means for the plant: flows unprimed and primed, vents, the ladder, the pages."""

from __future__ import annotations

import math

import numpy as np
import odd_studies
import pytest
import shared
import short_demos
import small_study

from hydrokit.errors import HydrokitError
from hydrokit.report.pages.p03 import line_air
from hydrokit.study.build.penstock_pressures import high_points
from hydrokit.study.opening import open_study
from hydrokit.works import venting

# 63 m of limb to a high point just under the pond, 15 m of fall behind it.
LEG = "chainage [m],elevation [m]\n0,299.5\n20,297\n63,299.85\n235,285\n"
LINE = {
    "profile": "diversion.csv",
    "inside_diameter": "150 mm",
    "roughness": "0.01 mm",
    "source_level": "300 m",
    "inlet_level": "299.5 m",
    "outlet": "free",
}
WAY = [{"kind": "line"}, odd_studies.POND]


def opened(folder, profile=LEG, **line):
    return small_study.changed(folder, {"diversion": profile}, diversion=LINE | line, part=WAY)


@pytest.fixture(scope="module")
def leg(tmp_path_factory):
    return opened(tmp_path_factory.mktemp("leg"))


def test_the_unprimed_flow_limits_the_plant_and_both_flows_are_told(leg):
    carried = leg.answer("capacity.line")
    assert carried.value == pytest.approx(8.4e-3, rel=0.03)
    assert leg.answer("limiting.component").value == "diversion line"
    text = str(line_air.regime_words(leg, leg.view()))
    assert "unprimed" in text and "Today the lesser holds" in text
    assert leg.view().text(leg.line_air.priming[0].primed_m3s, "flow") in text


def test_what_the_open_end_does_is_told_of_the_flow_of_today(leg):
    """8.4 L/s run at 0.39 of √(gD), under the 0.54 that hold a cavity out; the 15.9 L/s asked would not."""
    air = leg.line_air
    assert air.today_m3s == leg.answer("capacity.line").value < air.flow_m3s
    assert air.outlet.event == "air can creep in"
    assert "air can creep back in" in str(line_air.outlet_words(leg, leg.view()))


def test_suction_that_no_flow_of_today_reaches_is_no_problem(tmp_path):
    """The inlet lets in 30 L/s; only the primed bore, 88 L/s, would part 12 m under suction."""
    profile = "chainage [m],elevation [m]\n0,299.5\n40,285\n120,296\n200,270\n300,262\n"
    found = opened(tmp_path, profile)
    air = found.line_air
    (sucked,) = [each for each in air.findings if "suction" in each.message]
    assert sucked.level == "caution" and "hold the flow to" in sucked.message
    most = found.view().text(venting.siphon_flow(air.line), "flow")
    assert air.siphons[0].breaks and most in sucked.message
    text = line_air.pockets_words(found, found.view()).marked
    carried = found.view().shown(found.answer("capacity.line"))
    assert (
        f"would carry {most} at the most" in text
        and f"As it runs today it can carry {carried}: the" in text
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", short_demos.NAMES)
def test_what_the_line_carries_is_one_number_on_page_03(name, tmp_path):
    """Section 3 and the flow that keeps a line open say what the ladder says, not the bore's."""
    from hydrokit.study.build.frost_measures import kept_open

    study = open_study(short_demos.without(tmp_path, name))
    carried, air = study.answer("capacity.line"), study.line_air
    if carried is None:
        assert air is None
        return
    text = line_air.pockets_words(study, study.view()).marked
    assert study.view().shown(carried) in text
    for each in kept_open(study).values():
        assert each.line == "penstock" or each.most_m3s == carried.value


def test_a_gate_at_its_end_primes_it(tmp_path):
    gated = opened(tmp_path, outlet="gated")
    assert gated.answer("capacity.line").value == pytest.approx(
        gated.diversion_line.full_bore_m3s, rel=1e-6
    )
    assert "Filled behind its shut gate" in str(line_air.regime_words(gated, gated.view()))


@pytest.mark.parametrize("vent", ["300 m", "235.1 m"])
def test_a_vent_beyond_the_line_is_refused(tmp_path, vent):
    with pytest.raises(HydrokitError, match="beyond the line"):
        assert opened(tmp_path, vents=[vent]).diversion_line


def test_no_regrowth_is_told_of_a_line_without_air(tmp_path):
    """Its only pocket let out, and an end sealed by its crest: nothing can grow."""
    found = opened(tmp_path, vents=["63 m"], outlet="upturned", outlet_crest="286 m")
    assert found.line_air.running.air_m < 0.01
    text = str(line_air.pockets_words(found, found.view()))
    assert "takes 0 " not in text and "grow" not in text


def test_regrowth_is_told_where_pockets_do_grow(tmp_path):
    """A pocket under a high pond, whose pressure the friction of a long limb takes away."""
    profile = "chainage [m],elevation [m]\n0,299.5\n20,280\n163,284\n180,279\n400,262\n"
    found = opened(tmp_path, profile, outlet="upturned", outlet_crest="263 m")
    still = sum(each.height_m for each in found.line_air.filling.pockets)
    assert found.line_air.running.air_m > still + 0.1
    assert "lets them grow" in str(line_air.pockets_words(found, found.view()))


# --- the penstock's own high points -----------------------------------------------------------

HUMPED = "chainage [m],elevation [m]\n0,300\n2,299.3\n60,280\n90,290\n150,262\n"


def test_the_penstocks_high_points_are_named_and_their_vents_listed(tmp_path):
    """On page 03, among the findings, on the parts list and on the sheets of page 09."""
    from hydrokit.report.pages.p03 import section
    from hydrokit.report.pages.p09 import winter
    from hydrokit.report.parts_list import parts_list
    from hydrokit.study.build.judged import judged

    humped = small_study.changed(tmp_path, {"penstock": HUMPED})
    view = humped.view()
    (top,) = high_points(humped)
    where = view.text(top.at_m, "length")
    assert where in str(section.section_words(humped, view))
    assert any("high point" in each.message for each in judged(humped))
    assert any("vent at each high point" in each.what for each in parts_list(humped, view))
    assert str(winter.penstock_steps_table(humped, view)).count("high point") >= 3
    # filled with its vents open it holds no air: by hand 38 m of water at the foot, 28 m when the vent 10 m under the pond runs solid
    filled = [each for each in humped.steps["penstock"] if each.part == "fill and vent"]
    full = next(each.value for each in filled if "gauge is steady" in each.action)
    solid = next(each.value for each in filled if "runs solid and the gauge" in each.action)
    assert humped.plant.penstock.air_m > 1
    assert full == pytest.approx(38 * 9.80665 * 999.7, rel=0.01)
    assert solid == pytest.approx(28 * 9.80665 * 999.7, rel=0.01)


def test_air_that_stays_is_taken_off_the_plant_and_the_year(tmp_path):
    """independent: with a vent at the high point all of it comes back; the head of the jets lies lower by what the pocket takes, friction at the smaller flow given back."""
    from hydrokit.report.pages.p03 import section

    slow = {"jets": 1, "jet_diameter": "18 mm"}
    bare = small_study.changed(tmp_path / "bare", {"penstock": HUMPED}, turbine=slow)
    (top,) = high_points(bare)
    assert top.kept and top.verdict == "stays" and top.head_m > 2
    vents = {"penstock": {"vents": [f"{top.at_m:.0f} m"]}}
    free = small_study.changed(tmp_path / "free", {"penstock": HUMPED}, turbine=slow, **vents)
    (opened_top,) = high_points(free)
    assert opened_top.vented and not opened_top.kept and free.plant.penstock.air_m == 0
    assert bare.plant.penstock.air_m == pytest.approx(top.head_m, rel=1e-3)
    net, clear = (float(np.max(each.plant.at_si(np.inf).net_head_m)) for each in (bare, free))
    area = bare.plant.jets.openings()[0].area_m2
    flow = area * math.sqrt(2 * 9.80665 * net)
    lost = float(bare.plant.penstock.loss_si(flow))
    assert net + lost + top.head_m == pytest.approx(bare.head.value, rel=1e-4)
    assert bare.answer("energy.annual.p50").value < 0.95 * free.answer("energy.annual.p50").value
    assert "taken off the head, the power and the year" in str(
        section.section_words(bare, bare.view())
    )
    assert "with a vent at each" in str(section.section_words(free, free.view()))
    assert clear > net + 1


def test_air_that_stays_is_taken_off_a_plan_of_the_sizing_too(tmp_path):
    """Its finding says that power and year count it; the jets stay those of the flow it was sized for."""
    small = {"turbine": {"jet_diameter": None}, "sizing": {"flows": ["6 L/s"], "jets": [1]}}
    bare = small_study.changed(tmp_path / "bare", {"penstock": HUMPED}, **small)
    (top,) = high_points(bare)
    assert bare.described is None and top.kept and top.head_m > 2
    vents = {"penstock": {"vents": [f"{top.at_m:.0f} m"]}}
    free = small_study.changed(tmp_path / "free", {"penstock": HUMPED}, **small, **vents)
    assert free.plant.penstock.air_m == 0
    assert bare.plant.penstock.air_m == pytest.approx(top.head_m, rel=1e-3)
    assert bare.plant.jets.openings()[0].area_m2 == free.plant.jets.openings()[0].area_m2
    assert bare.answer("energy.annual.p50").value < 0.95 * free.answer("energy.annual.p50").value


def test_a_steady_penstock_has_none(leg):
    assert high_points(leg) == ()


# --- the forebay and the screens above the jets -----------------------------------------------


def test_no_basin_above_fine_jets_is_told(tmp_path):
    from hydrokit.study.build.judged import judged

    def told(study):
        return [each for each in judged(study) if "no settling basin" in each.message]

    assert [each.level for each in told(shared.small())] == ["note"]
    assert not told(small_study.changed(tmp_path / "pond", part=[odd_studies.POND]))
    coarse = {"jets": 1, "jet_diameter": "40 mm"}
    assert not told(small_study.changed(tmp_path / "coarse", turbine=coarse))


def test_a_pulled_standpipe_empties_through_hole_or_full_drain(tmp_path):
    """Drain pipe: t = (2A/a)·√((1+K+fL/D)/2g)·(√(h+z) − √(left+z)); hole: 2A/(C·a·√2g)·(√h − √left)."""
    from hydrokit.report.pages.p03 import pond
    from hydrokit.study.build.forebay import flushing

    entry = odd_studies.POND | {"standpipe": "150 mm", "standpipe_fall": "2.5 m"}
    study = small_study.changed(tmp_path, part=[entry])
    found, hole = flushing(study), math.pi / 4 * 0.15**2
    lost = 1 + 0.5 + 0.5 + 0.02 * 2.5 / 0.15
    full = 2 * 40 / hole * math.sqrt(lost / 19.6133) * (math.sqrt(2.5) - math.sqrt(2.05))
    bare = 2 * 40 / (0.61 * hole * math.sqrt(19.6133)) * (math.sqrt(0.5) - math.sqrt(0.05))
    assert found.full_s == pytest.approx(full, rel=1e-6)
    assert found.alone_s == pytest.approx(bare, rel=1e-6)
    text = str(pond.flush_words(study, study.view()))
    assert "down to 50 mm" in text and "bare hole" in text and "runs full" in text


def test_air_left_in_the_penstock_is_told_in_head_and_power(tmp_path):
    """By hand: the leg behind the high point full of air, squeezed by Boyle under the pressure there at full flow."""
    from hydrokit.report.pages.p03 import section

    profile = "chainage [m],elevation [m]\n0,300\n2,299.3\n60,285\n80,290\n150,262\n"
    study = small_study.changed(tmp_path, {"penstock": profile})
    (top,) = high_points(study)
    distance, leg = study.section.distance_m, 28.0
    assert top.behind_m == pytest.approx(distance[-1] - top.at_m)
    area = math.pi / 4 * study.penstock.pipes[0].diameter_m ** 2
    speed = study.full_flow_m3s / area
    friction = study.section.lost_head_m * top.at_m / distance[-1]
    presses = 300 - 290 - friction - speed**2 / (2 * 9.80665)
    atmosphere = 101325 * (1 - 2.25577e-5 * 300) ** 5.25588 / (999.85 * 9.80665)
    by_hand = leg * atmosphere / (atmosphere + presses)
    assert top.head_m == pytest.approx(by_hand, rel=0.02)
    net = 38 - study.section.lost_head_m
    assert top.power_share == pytest.approx(1 - max(1 - by_hand / net, 0) ** 1.5, abs=0.03)
    text = section.section_words(study, study.view()).text
    assert f"{top.head_m:.2g} m of the head" in text
    # with the air in the pipe the flow is too small for every law to carry it away
    assert top.verdict == "not settled" and "taken off the head, the power and the year" in text
    slow = small_study.changed(
        tmp_path / "slow", {"penstock": profile}, turbine={"jet_diameter": "6 mm"}
    )
    text = section.section_words(slow, slow.view()).text
    assert high_points(slow)[0].verdict == "stays"
    assert "does not carry it away" in text and "taken off the head" in text


def test_a_bottom_rack_is_told_by_two_theories(tmp_path):
    from hydrokit.report.pages.p03 import intake
    from hydrokit.study.build.screens import bottom_racks

    rack = {
        "kind": "bottom intake",
        "name": "rack",
        "width": "1 m",
        "length": "0.4 m",
        "bar": "10 mm",
        "gap": "10 mm",
    }
    study = small_study.changed(tmp_path, part=[rack, odd_studies.POND])
    (band,) = bottom_racks(study)
    assert band.low_m3s < band.high_m3s and band.high_m3s > 5 * band.low_m3s
    assert "Two published theories" in str(intake.toe_words(study, study.view()))


@pytest.mark.parametrize(
    "rating, words", [("25 L/s", "rated for lies between"), ("2 m^3/s", "more than either allows")]
)
def test_an_inclined_screen_has_theory_beside_its_rating(rating, words, tmp_path):
    """Only where its slots are known; what nobody has gauged and no theory allows is said."""
    from hydrokit.report.pages.p03 import intake
    from hydrokit.study.build.screens import inclined

    slots = {"width": "0.6 m", "gap": "1 mm", "wire": "1.5 mm", "slope": "45 deg"}
    screen = {"kind": "inclined screen", "rating": rating, "length": "0.3 m"}
    study = small_study.changed(tmp_path / "a", part=[screen | slots, odd_studies.POND])
    (told,) = inclined(study)
    low, high = told.theory_m3s
    assert low < 0.025 < high < 2
    assert words in str(intake.toe_words(study, study.view()))
    plain = small_study.changed(tmp_path / "b", part=[screen, odd_studies.POND])
    assert inclined(plain)[0].theory_m3s is None
    assert "theories" not in str(intake.toe_words(plain, plain.view()))
    half = small_study.changed(tmp_path / "c", part=[screen | {"gap": "1 mm"}, odd_studies.POND])
    (note,) = [each for each in half.questionable_findings if "its slots" in each.message]
    assert "lacks width, wire and slope" in note.message
