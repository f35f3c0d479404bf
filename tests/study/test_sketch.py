"""The owner's survey: coordinates and walks, what they miss, what is refused, and what the sketch says."""

import numpy as np
import pytest
from small_study import changed

from hydrokit.errors import InputError
from hydrokit.report import registers
from hydrokit.report.sketch_map import drawn_plan, profile_parts, survey_parts
from hydrokit.report.story_figure import LETTERS, PLAN
from hydrokit.works.traverse import traverse

WALK = (
    "name,part,bearing [deg],distance [m],elevation [m]\n"
    "pond,penstock,,,300\nbend,penstock,90,60,285\nhouse,penstock,180,90,262\npond,back,326.3,110,\n"
)


@pytest.fixture
def study(tmp_path):
    return lambda text, **more: changed(
        tmp_path / "study", {"points": text}, survey={"points": "points.csv"} | more
    )


def test_a_walk_is_a_sum_of_complex_numbers(study):
    s = study(WALK, north="magnetic")
    found = s.sketch
    ends = np.cumsum([0, 60 * 1j ** (-0), 90 * 1j ** (-1)])  # east, then a right angle to the right
    assert [each.x_m for each in found.places] == pytest.approx(list(ends.real), abs=1e-9)
    assert [each.y_m for each in found.places] == pytest.approx(list(ends.imag), abs=1e-9)
    back = ends[-1] + 110j * np.exp(-1j * np.radians(326.3))
    assert found.misses == (("pond", pytest.approx(abs(back))),)
    assert [each.name for each in found.lines["back"]] == ["house", "pond"]
    slope = np.hypot(60, 15) + np.hypot(90, 23)
    assert found.length_m("penstock") == pytest.approx(slope)
    assert list(found.levelled) == ["penstock", "back"]


def test_coordinates_and_walks_go_together_in_any_unit(study):
    s = study(
        "name,x [ft],y [ft],from,bearing [deg],distance [m]\n"
        "house,0,0,,,\nintake,100,200,,,\nmast,,,house,0,50\n"
    )
    at = {each.name: (each.x_m, each.y_m) for each in s.sketch.places}
    assert at["intake"] == pytest.approx((30.48, 60.96)) and at["mast"] == pytest.approx((0, 50))
    assert not s.sketch.lines and not s.sketch.misses


def test_every_line_that_cannot_be_placed_is_told_at_once(study):
    text = "name,from,bearing [deg],distance [m]\na,,,\nb,,400,5\nc,nowhere,90,5\nd,,90,\na,,,\n"
    s = study(text)
    with pytest.raises(InputError) as caught:
        _ = s.sketch
    told = "\n".join(str(each) for each in caught.value.mistakes)
    for part in ("line 3", "400°", "line 4", "'nowhere'", "line 5", "neither x and y", "line 6"):
        assert part in told


@pytest.mark.parametrize("system, metres", [("metric", "m"), ("us", "ft")])
def test_the_page_shows_it_as_the_owners_own(study, system, metres):
    s = study(WALK.replace("bend", "<b>bend"), north="true")
    view = s.view(system)
    words, plan, profile = *survey_parts(s, view), *profile_parts(s, view)
    assert "not to scale for construction" in words.text and "true north" in words.text
    assert f" {metres}" in words.text and "<b>bend" in plan.alt and "penstock falls" in profile.alt
    # 60 and 90 m level with 38 m of fall against 155 m of the study's profile
    assert "in the study" in words.text and "differ" not in words.text
    headings = [heading for heading, _ in registers.sections(s, view)]
    assert "The owner's survey" in headings


def test_a_pipe_that_is_longer_in_the_sketch_is_told(study):
    s = study(WALK.replace("180,90", "180,140"))
    assert "the two differ" in survey_parts(s, s.view())[0].text


def test_coordinates_stand_as_they_are_given_and_nothing_else_does(tmp_path):
    bare = changed(tmp_path / "bare")
    assert survey_parts(bare, bare.view()) == []
    told = changed(tmp_path / "told", site={"coordinates": "sheet 14 <i>"})
    assert "sheet 14" in survey_parts(told, told.view())[0].text
    assert "<i>" not in survey_parts(told, told.view())[0].text.replace("&lt;i&gt;", "")


def test_a_loop_of_the_points_of_the_compass_closes():
    walk = traverse(["0 deg", "90 deg", "180 deg", "270 deg"], "100 m")
    assert walk.closure_m == pytest.approx(0, abs=1e-9) and walk.length_m == pytest.approx(400)


def test_no_name_in_the_small_plan_lies_over_another(study):
    """Points a few metres apart on a long line: names that would be heaped up are left out, both ends stay."""
    steps = "".join(f"peg {number},penstock,170,4,\n" for number in range(1, 9))
    walk = f"name,part,bearing [deg],distance [m],elevation [m]\npond,penstock,,,300\n{steps}house,penstock,170,400,\n"
    s = study(walk)
    made = drawn_plan(s.view(), s.sketch, PLAN, LETTERS).figure
    made.draw_without_rendering()
    names = [each for each in made.axes[0].texts if each.get_text() != "N"]
    boxes = [each.get_window_extent() for each in names]
    assert {"pond", "house"} <= {each.get_text() for each in names} and len(names) < 10
    assert not any(a.overlaps(b) for n, a in enumerate(boxes) for b in boxes[:n])
