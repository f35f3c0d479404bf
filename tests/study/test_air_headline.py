"""What is lacking where a line stalls: at that place, in the headline as on the page."""

from __future__ import annotations

import odd_studies
import pytest
import shared
import small_study

from hydrokit.report.pages.p03 import line_air, water_way
from hydrokit.study.keyed import keys

# Two high points: at the first it just passes, at the second little is lacking, at the outlet most of all.
TWO_HIGH = "chainage [m],elevation [m]\n0,305\n5,304.3\n20,299\n40,303\n70,297\n100,302.2\n130,297\n160,301.9\n"


@pytest.fixture(scope="module")
def stalled():
    return shared.odd("line that stalls")


@pytest.fixture(scope="module")
def twice(tmp_path_factory):
    line = odd_studies.LINE | {
        "source_level": "305 m",
        "outlet": "upturned",
        "outlet_crest": "302.1 m",
    }
    return small_study.changed(
        tmp_path_factory.mktemp("two"),
        {"diversion": TWO_HIGH},
        diversion=line,
        part=[{"kind": "line"}, odd_studies.POND],
    )


@pytest.mark.parametrize("name", ["stalled", "twice"])
def test_the_lack_is_that_of_the_place_where_it_stalls(name, request):
    study = request.getfixturevalue(name)
    walked, line = study.line_air.filling, study.line_air.line
    assert walked.stalls_m is not None
    tops = {pocket.high_point_m: pocket.high_point_level_m for pocket in walked.pockets}
    level = tops.get(walked.stalls_m)
    if level is None:  # the outlet, or a high point with no pocket
        level = (
            line.outlet_level_m
            if walked.stalls_m == pytest.approx(float(line.reaches.distance_m[-1]))
            else None
        )
    above = sum(
        pocket.height_m for pocket in walked.pockets if pocket.high_point_m < walked.stalls_m - 1e-6
    )
    if level is not None:
        # Passed only if the pond stands above it by the heights of all pockets upstream (the rule of the line filled from the top).
        assert walked.lacking_m == pytest.approx(level + above - line.source_level_m, abs=1e-6)
    assert 0 < walked.lacking_m <= -walked.margin_m + 1e-9


def test_the_two_places_differ_and_the_headline_names_the_first(twice):
    walked = twice.line_air.filling
    assert walked.decides_m > walked.stalls_m and walked.lacking_m < -walked.margin_m
    shown = {}
    for section in (water_way.headline, line_air.start_words):
        for key, text in keys(section(twice, twice.view()).marked):
            shown.setdefault(key, set()).add(text)
    assert len(shown["air.lacking"]) == 1
    assert shown["air.lacking"] == {twice.view().text(walked.lacking_m, "head", 2)}
