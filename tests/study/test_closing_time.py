"""How slowly to close: one time on every page, card and list, never shorter than the one computed, advice only where it is due."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shared
import small_study

from hydrokit.report.pages.p03 import holding, water_way
from hydrokit.report.pages.p09 import card, winter
from hydrokit.report.parts_list import parts_list
from hydrokit.study.keyed import keys
from hydrokit.works.pressures import rounded_up

LONG = {"penstock": {"profile": None, "length": "600 m", "static_pressure": "3.7 bar"}}


@pytest.fixture(scope="module", params=["plain", "two pipe sizes", "several machines", "US reader"])
def study(request):
    return shared.odd(request.param)


def shown_by(study, section):
    view = study.view()
    made = section(study, view)
    text = getattr(made, "marked", None)
    if text is None:
        text = re.sub(
            r'<data value="([a-z0-9_.]+)">([^<]*)</data>',
            "\ue000\\1\ue001\\2\ue002",
            made._repr_html_(),
        )
    return dict(keys(text))


def test_one_closing_time_wherever_it_stands(study):
    sections = (
        holding.surge_table,
        holding.surge_words,
        card.card_lines,
        winter.steps_words,
        winter.penstock_steps_table,
    )
    told = {section.__name__: shown_by(study, section).get("closing_time") for section in sections}
    listed = [
        row
        for row in repr(parts_list(study, study.view())).splitlines()
        if "main valve at the foot" in row
    ]
    assert len(set(told.values())) == 1 and None not in told.values(), told
    assert next(iter(told.values())) in listed[0]


def test_no_printed_time_is_shorter_than_the_safe_one(study):
    safe = study.pressures.safe_time_s
    for key in ("closing_time", "closing_time.even"):
        answer = study.answer(key)
        text = study.view().shown(answer)
        number = float(re.search(r"[\d.]+ ?s", str(text))[0].rstrip(" s"))
        assert number >= safe * (1 - 1e-9), (key, number, safe)
    assert study.answer("closing_time").value >= 4 * safe * (1 - 1e-9)


def test_rounded_up_is_never_smaller():
    for value in np.random.default_rng(1).uniform(1e-3, 2e3, 500):
        assert value <= rounded_up(value, 2) <= value * 1.1001


@pytest.mark.slow
def test_a_slow_valve_is_advised_only_where_it_is_faster_than_the_line_bears(tmp_path):
    slow = small_study.changed(tmp_path / "slow", penstock={"closing_time": "10 s"})
    fast = small_study.changed(tmp_path / "fast", penstock={"closing_time": "0.2 s"})
    assert "slow valve" not in repr(water_way.changes_table(slow, slow.view()))
    assert "slow valve" in repr(water_way.changes_table(fast, fast.view()))
    assert not any(each.where == "closing time" for each in slow.findings(("answer_findings",)))
    assert any(
        each.where == "closing time" and each.level == "caution"
        for each in fast.findings(("answer_findings",))
    )


def test_every_machine_is_its_own_case():
    """Of a straight pipe each stops its own share: rises over rest by a·ΔV/g, with bore and wave speed by hand."""
    study = shared.odd("several machines")
    told = dict(study.single_surges)
    pipe = study.penstock.pipes[0]
    wave = study.pressures.wave_speed_ms
    for name, flow in (("big", 0.010), ("small", 0.004)):
        joukowsky = wave * flow / (np.pi / 4 * pipe.diameter_m**2) / 9.80665
        lost = float(study.penstock.loss_si(flow, 1.39e-6))
        assert joukowsky - lost <= told[name] <= joukowsky + 0.05
    text = repr(holding.surge_table(study, study.view()))
    assert "if big alone" in text and "if small alone" in text
