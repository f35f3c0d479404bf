"""Pipe beyond what it is made for: too hot, hung too far, of sizes that cannot be."""

from __future__ import annotations

import pytest
import small_study

from hydrokit.errors import HydrokitError
from hydrokit.report.pages.p03 import holding, section


def test_a_pipe_hotter_than_its_table_is_a_problem_and_not_an_unknown_rating(tmp_path):
    """The table for PVC ends at 60 °C (Machinery's Handbook, 31st ed., p. 2770)."""
    hot = small_study.changed(tmp_path, penstock={"warmest": "70 degC"})
    told = [each for each in hot.section.findings if "hotter than its material" in each.message]
    assert [each.level for each in told] == ["problem"]
    sections = (section.section_words, holding.surge_table, holding.surge_words)
    text = " ".join(str(each(hot, hot.view())) for each in sections)
    assert "hotter than its material is made for" in text
    assert "No rating is known" not in text and "find it printed" not in text


def test_a_warm_pipe_within_its_table_is_none(tmp_path):
    warm = small_study.changed(tmp_path, penstock={"warmest": "50 degC"})
    assert not any("hotter" in each.message for each in warm.section.findings)


def test_a_span_far_beyond_its_strength_gets_no_sag(tmp_path):
    """Under an evenly spread load a pipe sags with the fourth power of the span: 90 m of 140 mm PVC come to kilometres."""
    stretch = {"from": "20 m", "to": "40 m", "span": "90 m"}
    far = small_study.changed(tmp_path, penstock={"stretch": [stretch]})
    text = str(holding.supports_table(far, far.view()))
    assert far.bridges[0].sag_m > 50
    assert "does not bear its own water" in text and "sags" not in text


@pytest.mark.parametrize("key", ["span", "cover", "snow", "insulation", "snow_load", "ice"])
def test_sizes_that_cannot_be_are_refused(tmp_path, key):
    stretch = {"from": "20 m", "to": "40 m", "span": "2 m"} | {key: "4200000 mm"}
    with pytest.raises(HydrokitError, match="must lie within"):
        small_study.changed(tmp_path, penstock={"stretch": [stretch]})
