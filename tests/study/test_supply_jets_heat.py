"""Jets, heat and setting height from the site file to the page."""

import numpy as np
import pandas as pd
import pytest
from small_study import changed
from test_supply import CIRCUITS, ROOMS

from hydrokit.report.pages.p04 import machine_choice
from hydrokit.report.pages.p06 import warmth, wires
from hydrokit.report.pages.p09 import schedule
from hydrokit.running.winter import heat_held
from hydrokit.study.opening import open_study


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


# --- jets -----------------------------------------------------------------------------------


def test_stages_lead_back_to_the_flows(study):
    s = study()
    plan, group = s.jet_plan, s.jet_plan.stages[0]
    assert group.months == tuple(range(1, 13)) and len(plan.schedule.bands) == 2
    up, down = group.up_m[0], group.down_m[1]
    assert up - down == pytest.approx(0.01) or up - down > 0.01
    usable = s.rights.usable_si(s.rating.flow_si((up + down) / 2), 1)
    first, second = plan.schedule.bands
    assert second.down_m3s * 0.98 < usable < first.up_m3s * 1.02


def test_months_and_days_follow_the_record(study):
    s = study()
    plan = s.jet_plan
    usable = s.usable
    for month in (2, 8):
        flow = usable[usable.index.month == month]
        assert plan.typical_m3s[month - 1] == pytest.approx(flow.median())
        change = plan.schedule.bands[1].from_m3s
        assert plan.jets[month - 1] == (2 if flow.median() >= change else 1)
        length = 28.25 if month == 2 else 31
        assert plan.days[month - 1, 2] == pytest.approx((flow >= change).mean() * length, abs=0.1)
    assert plan.held_kwh[0] >= max(plan.held_kwh[1], plan.held_kwh[2])
    assert plan.held_kwh[0] == pytest.approx(s.year.annual_kwh, rel=1e-9)
    assert f"{plan.held_kwh[0]:,.0f}"[:3] in schedule.band_words(s, s.view()).text


def test_the_dead_band_is_the_owners(study):
    narrow = study().jet_plan
    s = study(operation={"jet_dead_band": "20 %"})
    wide = s.jet_plan
    assert (
        wide.schedule.bands[1].down_m3s
        < narrow.schedule.bands[1].down_m3s
        < narrow.schedule.bands[0].up_m3s
        < wide.schedule.bands[0].up_m3s
    )
    assert (
        "20 % more power and is not worth the walk (the site file's dead band)"
        in schedule.band_words(s, s.view()).text
    )


def test_a_spear_needs_no_schedule(study):
    s = study(turbine={"jet_kind": "spear", "design_flow": "12 L/s"})
    text = schedule.band_words(s, s.view()).text
    assert "no schedule of jets is needed" in text and schedule.stage_table(s, s.view()).text == ""
    assert schedule.month_table(s, s.view()).columns[2] == "jets to open"


# --- heat -----------------------------------------------------------------------------------


def test_rooms_and_nights_by_hand(study):
    s = study(room=ROOMS)
    assert s.house.conductance_w_k == pytest.approx(
        30 * 0.5 + 4 * 2 + 20 * 0.6 / 2 + 0.335 * 50 * 0.6 + 21
    )
    nights = [
        {"power": "2 kW", "inside": "20 degC", "outside": "-5 degC"},
        {"power": "1.8 kW", "inside": "20 degC", "outside": "0 degC"},
    ]
    s = study(room=ROOMS, loads={"night": nights})
    assert s.house.source == "measured nights" and s.house.conductance_w_k == pytest.approx(
        (80 + 90) / 2
    )
    assert s.house.findings and "far apart" in s.house.findings[-1].message
    s = study(room=ROOMS, loads={"night": nights, "heated_ua": "84 W/K"})
    # what was measured goes before what is assumed, and the reader is told of it
    assert s.house.source == "measured nights" and s.house.conductance_w_k == pytest.approx(85)
    assert any("heated_ua of 84 W/K does not count" in each.message for each in s.house.findings)
    assert "84 W/K" in warmth.house_words(s, s.view()).text
    s = study(room=ROOMS, loads={"heated_ua": "84 W/K"})
    assert s.house.source == "room list"
    s = study(room=ROOMS, loads={"night": nights, "heated_ua": "200 W/K"})
    assert any("200 W/K by the site file" in each.message for each in s.house.findings)


def test_heat_is_weighed_on_the_same_days(study):
    """A loop over the days, written out, against what the study says."""
    s = study(
        room=ROOMS,
        outage={"unplanned": "10 %"},
        loads={"base_power": "200 W", "inside_temperature": "19 degC"},
    )
    ua = s.house.conductance_w_k
    needed, met = 0.0, 0.0
    curve = s.plant.curve()
    hours = [24 * each for each in (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)]
    for day, flow in s.usable.items():
        first = (
            200 + 600e3 / hours[day.month - 1]
        )  # the steady need, and the energy wanted each month
        demand = max(ua * (19 - s.temperature[day]), 0)
        needed += demand * 86400
        met += 0.9 * min(max(float(curve.power_si(flow)) - first, 0), demand) * 86400
    heat = s.warmth.heat
    assert heat.joint and heat.met_share == pytest.approx(met / needed, rel=1e-3)
    assert np.nansum(heat.needed_month_j) == pytest.approx(needed / 2, rel=0.01)
    assert f"{100 * heat.met_share:.0f} %" in warmth.heat_words(s, s.view()).text
    winter = 200 + np.mean([600e3 / hours[month] for month in (11, 0, 1)])
    assert s.warmth.full_k == pytest.approx((curve.rated_w - winter) / ua, rel=1e-4)


def test_dry_cold_days_meet_less_than_the_means_say():
    days = pd.date_range("2020-01-01", periods=730)
    temperature = pd.Series(np.where(np.arange(730) % 2, -20.0, 10.0), days)
    power = pd.Series(np.where(np.arange(730) % 2, 500.0, 3500.0), days)
    joint = heat_held(temperature, power, 100.0)
    means = heat_held(temperature, 2000.0, 100.0)
    assert joint.joint and not means.joint
    assert joint.met_share == pytest.approx(
        (500 + 1000) / (4000 + 1000)
    ) and means.met_share == pytest.approx((2000 + 1000) / 5000)
    # half the time it stands still
    assert heat_held(temperature, power, 100.0, running=0.5).met_share == pytest.approx(
        joint.met_share / 2
    )
    # too few days in common: month by month
    assert not heat_held(temperature, power[:100], 100.0).joint


def test_first_served_first(study):
    s = study(circuit=CIRCUITS, loads={"base_power": "300 W"})
    found = s.sharing
    assert found.names[:2] == ("steady demand", "heater")
    for _, watts, shares in found.cases:
        left = watts
        for want, got in zip(found.wanted_w, shares.served_w):
            assert got == pytest.approx(min(left, want))
            left -= got
        assert shares.ballast_w == pytest.approx(left, abs=1e-6)


def test_fuel_by_name(study):
    s = study(room=ROOMS, loads={"fuel": "white oak", "stove": "63 %"})
    saved = s.warmth.fuels[0]
    # 27.9 million Btu a cord, 63 % of it: 5,151 kWh
    assert saved.amount == pytest.approx(
        np.nansum(s.warmth.heat.met_month_j) / 3.6e6 / 5151, rel=1e-3
    )
    assert (
        "cords of white oak" in warmth.fuel_words(s, s.view("us")).text
        and "m³ stacked" in warmth.fuel_words(s, s.view("metric")).text
    )


# --- setting height -------------------------------------------------------------------------


def test_setting_height_of_the_sites_own_machine(study):
    """(p_air - p_vapour)/(ρ g) - σ H - 0.5 m: at 262 m, 20 °C."""
    s = study(
        turbine={
            "kind": "pump run backwards",
            "cavitation": 0.2,
            "jet_kind": "conical nozzle",
            "design_flow": "12 L/s",
        }
    )
    air = 101325 * (1 - 2.25577e-5 * 262) ** 5.25588
    expected = (air - 2339) / (998.2 * 9.80665) - 0.2 * 38 - 0.5
    shown = machine_choice.setting_table(s, s.view()).rows[0]
    assert shown[0] == "pump run backwards" and shown[1] == "0.20"
    assert shown[2] == f"{expected:.1f} m above"
    s = study(turbine={"kind": "francis", "design_flow": "12 L/s"}, site={"altitude": "300 m"})
    assert "use the manufacturer's value" in machine_choice.setting_words(s, s.view()).text


def test_what_is_lacking_is_said(tmp_path):
    (tmp_path / "bare").mkdir()
    (tmp_path / "bare" / "site.toml").write_text('[site]\nname = "x"\n', encoding="utf-8")
    s = open_study(tmp_path / "bare")
    for page in (schedule, warmth, wires):
        for name in set(page.__all__) - {"references"}:
            shown = getattr(page, name)(s, s.view())
            assert "nan" not in repr(shown)
    assert (
        "voltage" in wires.wire_table(s, s.view()).text
        and "[[room]]" in warmth.house_words(s, s.view()).text
    )
