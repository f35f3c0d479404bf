"""The flood the intake must survive: one return period, one flow, one unit on the pages of the year and of the intake."""

from __future__ import annotations

import math
import re
from datetime import date, timedelta

import numpy as np
import pytest
import small_study

from hydrokit.report.pages.p02 import extremes
from hydrokit.report.pages.p03 import intake
from hydrokit.study.keyed import keys

DAYS = [date(2001, 10, 1) + timedelta(each) for each in range(20 * 365 + 5)]
_RANDOM = np.random.default_rng(3)
_PEAKS = {year: _RANDOM.gumbel(300, 90) for year in range(2001, 2023)}
FLOW = "date,flow [L/s]\n" + "".join(
    f"{day},{_PEAKS[day.year] if (day.month, day.day) == (4, 20) else 14 + 9 * math.cos(2 * math.pi * (number - 60) / 365):.2f}\n"
    for number, day in enumerate(DAYS)
)


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return small_study.changed(
        tmp_path_factory.mktemp("flood"),
        {"flow": FLOW},
        stream={"temperature": None},
        intake={"weir_length": "2 m", "banks": "0.9 m", "life": 25, "flood_risk": "20 %"},
    )


@pytest.mark.parametrize("system", ["metric", "us"])
def test_one_flood_on_both_pages(study, system):
    seen = {}
    for section in (
        extremes.flood_table,
        extremes.flood_words,
        intake.weir_words,
        intake.flood_table,
    ):
        made = section(study, study.view(system))
        text = getattr(made, "marked", None) or re.sub(
            r'<data value="([a-z0-9_.]+)">([^<]*)</data>',
            "\ue000\\1\ue001\\2\ue002",
            made._repr_html_(),
        )
        for key, shown in keys(text):
            seen.setdefault(key, set()).add(re.match(r"[\d,.]+", shown)[0])
    assert {"flood.return_period", "flood.intake", "flood.weir"} <= seen.keys()
    assert all(len(each) == 1 for each in seen.values()), seen


def test_the_return_period_by_hand(study):
    """Risk R over n years: T = 1/(1 − (1 − R)^(1/n))."""
    assert study.answer("flood.return_period").value == pytest.approx(1 / (1 - 0.8 ** (1 / 25)))
    assert study.answer("flood.weir").value == pytest.approx(2 * study.answer("flood.intake").value)
    assert study.answer("flood.intake").kind == "large flow"


def test_flood_marks_of_a_known_day_give_the_peak_factor(study, tmp_path):
    """By hand: the peak of the marks over the record's mean of their day; without it twice the mean, as common practice."""
    marks = "station [m],level [m],across [m],depth [m]\n" + "".join(
        f"{x},{10 - 0.03 * x},{across},{depth}\n"
        for x in (0, 12, 25)
        for across, depth in ((0, 0), (1, 0.6), (2, 0.7), (3, 0))
    )
    day = date(2010, 4, 20)
    marked = small_study.changed(
        tmp_path / "marked",
        {"flow": FLOW, "flood": marks},
        stream={
            "temperature": None,
            "slope_area": "flood.csv",
            "slope_area_manning": "0.05 ± 0.01",
            "flood_date": day,
        },
        intake={"weir_length": "2 m", "banks": "0.9 m", "life": 25, "flood_risk": "20 %"},
    )
    factor = 1000 * marked.field_sheets["flood marks"].flow_m3s / round(_PEAKS[2010], 2)
    assert factor > 1
    weir = marked.answer("flood.weir")
    assert weir.value == pytest.approx(factor * marked.answer("flood.intake").value)
    assert weir.evidence < study.answer("flood.weir").evidence
    assert "times above the mean of its day" in extremes.flood_words(marked, marked.view()).text
