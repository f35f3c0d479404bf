"""Trends of a log against plain loops over its lines: watts in health month by month, days since a cleaning, gaps, water temperature."""

from __future__ import annotations

import csv
import io
import math
from datetime import datetime, timedelta

import numpy as np
import pytest
import small_study

from hydrokit.report.pages.p09 import trends as page

GAP = (datetime(2022, 5, 1), datetime(2022, 6, 10))  # no page of the log is left of it
RISE = datetime(2022, 9, 1)  # from here on 5 % more watts with two jets


def written():
    """Two years of visits: one jet and two in turn, a clogged screen cleaned each November, wear from a day on, and a lost page."""
    lines = ["time,jets,pressure [bar],watts [W],spilling,needle,air [degC],water [degC],note"]
    day, visit, scatter = datetime(2021, 10, 3, 8, 0), 0, np.random.default_rng(3)
    while day < datetime(2023, 10, 1):
        november = day.month == 11 and day.day < 24
        jets = 2 if november else 1 + visit % 2
        share = 1 - 0.05 * (day.day // 4) if november else 1.0  # of the water: less with each visit
        looks = [(day, share, "")]
        if november and day.day >= 20:
            looks.append((day + timedelta(minutes=40), 1.0, "screen brushed"))
        for time, arrives, note in looks:
            watts = (1460 if jets == 1 else 2650) * scatter.normal(1, 0.004) * arrives**3
            watts *= 1.05 if jets == 2 and day >= RISE else 1.0
            pressure = (3.55 if jets == 1 else 3.18) * arrives**2
            water = 6 + 5 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 200) / 365)
            if not GAP[0] <= day <= GAP[1]:
                lines.append(
                    f"{time:%Y-%m-%d %H:%M},{jets},{pressure:.2f},{watts:.0f},{'yes' if arrives == 1 else 'no'},steady,8,{water:.1f},{note}"
                )
        day += timedelta(days=4)
        visit += 1
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    return small_study.changed(
        tmp_path_factory.mktemp("trends"),
        {"log": written()},
        site={"stage_of_work": "existing"},
        readings={"log": "log.csv"},
    )


@pytest.fixture(scope="module")
def rows():
    return [
        row | {"time": datetime.strptime(row["time"], "%Y-%m-%d %H:%M")}
        for row in csv.DictReader(io.StringIO(written()))
    ]


def test_watts_in_health_by_month_are_the_medians_of_the_lines(study, rows):
    for each in study.trends.by_jets:
        for month, told in zip(each.month.astype("datetime64[M]"), each.monthly_si):
            own = [
                float(row["watts [W]"])
                for row in rows
                if int(row["jets"]) == each.jets
                and row["spilling"] == "yes"
                and np.datetime64(row["time"], "M") == month
            ]
            if own:
                assert told == pytest.approx(np.median(own), rel=0.004)
            else:
                assert np.isnan(told)
    assert [each.jets for each in study.trends.by_jets] == [1, 2]


def test_a_rise_is_told_and_scatter_is_not(study):
    one, two = study.trends.by_jets
    assert two.sure and two.change == pytest.approx(0.05, abs=0.006)
    assert not one.sure and abs(one.change) < 0.004
    text = page.trend_words(study, study.view()).text
    assert (
        "rose by 5" in text and "With 1 open they changed by no more than readings scatter" in text
    )


def test_nothing_is_drawn_across_a_lost_page(study):
    ((start, end),) = study.trends.gaps
    assert start < np.datetime64(GAP[0]) and end > np.datetime64(GAP[1])
    inside = (study.trends.time > start) & (study.trends.time < end)
    assert inside.sum() == 1 and np.isnan(study.trends.temperature_k[inside]).all()


def test_days_since_the_screen_was_cleaned_begin_anew_with_each_cleaning(study, rows):
    cleaned = [event.start.astype(datetime) for event in study.history.of("clean")]
    assert {each.year for each in cleaned} == {2021, 2022}
    found = study.trends
    known = {
        str(time.astype("datetime64[m]")): days
        for time, days in zip(found.time, found.since_clean_days)
    }
    for row in rows:
        before = [each for each in cleaned if each <= row["time"]]
        told = known[row["time"].isoformat(timespec="minutes")]
        if before:
            assert told == pytest.approx(
                (row["time"] - max(before)).total_seconds() / 86400, abs=0.02
            )
        else:
            assert np.isnan(told)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_figure_has_a_panel_for_each_and_its_alt_text_the_finding(study, system):
    shown = page.trend_figure(study, study.view(system))
    titles = [axes.get_title("left") for axes in shown.figure.axes]
    unit = "°C" if system == "metric" else "°F"
    assert titles == [
        "watts in health, 1 jet [W]",
        "watts in health, 2 jets [W]",
        "days since a cleaning of the screen brought the water back",
        f"water temperature [{unit}]",
    ]
    assert "rose by" in shown.alt and "The water was" in shown.alt and unit in shown.alt


def test_a_log_without_water_says_so_and_one_without_watts_takes_the_gauge(tmp_path):
    text = written().replace("water [degC]", "spare").replace("watts [W]", "spare two")
    study = small_study.changed(
        tmp_path, {"log": text}, site={"stage_of_work": "existing"}, readings={"log": "log.csv"}
    )
    assert study.trends.basis == "pressure" and not study.trends.of_water
    shown = page.trend_figure(study, study.view())
    titles = [axes.get_title("left") for axes in shown.figure.axes]
    assert titles[0].startswith("pressure in health, 1 jet [bar]")
    assert titles[-1] == "air temperature (water is not written down) [°C]"
