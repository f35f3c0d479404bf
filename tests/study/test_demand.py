"""Demand and what of it is met: loads served first, heat of what they leave, nothing met twice."""

import numpy as np
import odd_studies
import pytest
import shared
from small_study import changed

from hydrokit.report.pages.p06 import warmth

ROOM = [{"name": "kitchen", "ua": "90 W/K"}]
HOURS = 24 * np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
NEED = [900, 850, 800, 600, 400, 250, 200, 200, 300, 500, 700, 850]


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


def test_heat_gets_what_the_need_leaves_day_by_day(study):
    """A loop over the days: the need of the month first, then the cold of that day."""
    s = study(
        room=ROOM,
        loads={
            "demand": [f"{each} kWh" for each in NEED],
            "base_power": "150 W",
            "inside_temperature": "19 degC",
        },
    )
    curve, met, left = s.plant.curve(), np.zeros(12), np.zeros(12)
    days = np.zeros(12)
    for day, flow in s.usable.items():
        month = day.month - 1
        spare = max(float(curve.power_si(flow)) - 150 - NEED[month] * 1000 / HOURS[month], 0.0)
        met[month] += min(spare, 90 * max(19 - s.temperature[day], 0.0))
        left[month] += spare
        days[month] += 1
    met, left = met / days * HOURS / 1000, left / days
    # a month's heat is told for 28.25 days of February; no more of it counts than the year's own February makes
    known = np.arange(12) != 1
    assert s.use.heat_kwh[known] == pytest.approx(
        met[known], rel=1e-3, abs=0.05
    ) and s.use.heat_kwh[1] == pytest.approx(met[1], rel=0.01)
    assert s.warmth.power_w == pytest.approx(left, rel=1e-3, abs=0.05)
    assert s.answer("heat.met").value == pytest.approx(met.sum(), rel=1e-3)
    # a January whose need exceeds what is made leaves nothing for heat
    short = study(room=ROOM, loads={"demand": "3000 kWh"})
    assert short.answer("heat.power").value[0] == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize(
    "loads",
    [
        {"demand": "600 kWh"},
        {"demand": "3000 kWh"},
        {"demand": None},
        {"demand": None, "base_power": "400 W"},
        {"demand": "300 kWh", "base_power": "400 W"},
    ],
)
@pytest.mark.parametrize("room", [None, ROOM, [{"name": "hall", "ua": "900 W/K"}]])
def test_parts_add_up_and_no_more_is_met_than_made(study, loads, room):
    found = study(room=room, loads=loads).use
    for part in (found.other_kwh, found.heat_kwh, found.spare_kwh):
        assert np.all(part >= -1e-9)
    assert found.other_kwh + found.heat_kwh + found.spare_kwh == pytest.approx(
        found.made_kwh, rel=1e-9
    )
    if found.demand_kwh is not None:
        assert np.all(found.met_kwh <= found.demand_kwh * (1 + 1e-6) + 1e-6)
    if found.heat_wanted_kwh is not None:
        assert np.all(found.heat_kwh <= found.heat_wanted_kwh * (1 + 1e-6) + 1e-6)


@pytest.mark.parametrize("name", odd_studies.NAMES)
def test_no_study_meets_more_than_it_makes(name):
    found = shared.odd(name).use
    if found is not None:
        assert np.all(found.other_kwh + found.heat_kwh <= found.made_kwh * (1 + 1e-9))


def test_demand_is_answered_and_its_months_add_up(study):
    s = study(loads={"demand": [f"{each} kWh" for each in NEED], "base_power": "150 W"})
    hours = HOURS * np.where(np.arange(12) == 1, 28 / 28.25, 1)  # no leap year on record
    need = np.array(NEED) * hours / HOURS + 0.15 * hours
    assert s.answer("demand.month").value == pytest.approx(need, rel=1e-9)
    assert s.answer("demand.annual").value == pytest.approx(need.sum(), rel=1e-9)
    assert s.answer("demand.met").value == pytest.approx(s.year.useful_annual_kwh, rel=1e-9)
    assert study(loads=None).answer("demand.annual") is None


def test_the_page_on_heat_says_what_the_other_loads_take(study):
    s = study(room=ROOM)
    text = warmth.held_words(s, s.view()).text
    assert "the other loads of a winter month take" in text and "are left for heat" in text
    assert s.warmth.full_w == pytest.approx(
        s.powers.loads_w - s.other_w[[11, 0, 1]].mean(), rel=1e-9
    )


def test_no_demand_is_a_caution(study):
    told = study(loads=None).use_findings
    assert [each.level for each in told] == [
        "caution"
    ] and "all of it used and all of it sold" in told[0].message
    assert not study().use_findings
    assert "has no effect" in study(loads={"inside_temperature": "18 degC"}).use_findings[0].message


def test_without_a_record_the_gauged_months_tell_the_heat_and_no_other(study):
    """The full power all year is no answer where the creek was gauged."""
    s = study(
        stream={"record": None, "record_uncertainty": None}, room=ROOM, loads={"demand": None}
    )
    known = s.monthly_flow.known
    assert known.any() and not known.all()
    for month in np.flatnonzero(known) + 1:
        expected = float(s.plant.curve().power_si(s.monthly_flow.usable_m3s[month - 1]))
        assert s.warmth.power_w[month - 1] == pytest.approx(
            expected, rel=1e-4
        )  # off the traced curve
    assert np.isnan(s.warmth.power_w[~known]).all()
    assert "the months whose power is known, it meets" in warmth.heat_words(s, s.view()).text


def test_the_log_tells_what_its_demand_meets(tmp_path):
    s = odd_studies.opened(tmp_path, "log and no record", loads={"demand": "400 kWh"})
    found = s.use
    assert found.made_kwh == pytest.approx(
        s.log_year.monthly_kwh
    ) and found.met_kwh == pytest.approx(np.minimum(400, found.made_kwh))
    assert s.answer("demand.annual").value == pytest.approx(4800)
    assert s.money.energy.kwh == pytest.approx(s.answer("demand.met").value, rel=1e-6)


def test_heat_is_met_of_what_frost_and_visits_leave(study):
    operation = {
        "stops_per_winter": 4,
        "freezes_below": "-0.2 degC",
        "visit_days": 14,
        "jet_dead_band": "20 %",
    }
    plain, run = (
        study(room=ROOM, loads={"demand": None}, **changes)
        for changes in ({}, {"operation": operation})
    )
    assert run.answer("heat.met").value < plain.answer("heat.met").value
    found = run.use
    assert found.other_kwh + found.heat_kwh + found.spare_kwh == pytest.approx(
        found.made_kwh, rel=1e-9
    )
    assert run.answer("demand.met").value <= run.answer("energy.net").value
