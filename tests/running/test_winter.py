"""Winter and the year's jobs: weather for frazil, standing water, stops until thaw, heat; by hand and by brute force."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from snow_study import temperatures

from hydrokit.errors import HydrokitError
from hydrokit.running.jobs import Facts, calendar, day_text, early
from hydrokit.running.winter import Climate, climate, heat_held, standing_water, until_thaw
from hydrokit.works.exposed import Cold, Stretch, frost_on


@pytest.fixture(scope="module")
def air():
    return temperatures(mean=3.0)


def made_year(values, start="2021-07-01"):
    return pd.Series(values, index=pd.date_range(start, periods=len(values), freq="D"))


def test_climate_against_plain_loops(air):
    found = climate(air)
    january = air[air.index.month == 1]
    assert found.mean_k[0] - 273.15 == pytest.approx(january.mean())
    assert found.lowest_k[0] - 273.15 == pytest.approx(january.min())
    assert (january < found.cold_k[0] - 273.15).mean() == pytest.approx(0.1, abs=0.01)
    # Nights of frazil weather one by one: low 4.5 K under the mean, water as warm as the week, never below zero.
    nights = {}
    for place in range(len(air)):
        week = max(np.mean(air.iloc[max(place - 6, 0) : place + 1]), 0.0)
        if air.iloc[place] - 4.5 <= -6 and week <= 1:
            nights.setdefault((air.index[place].year, air.index[place].month), []).append(place)
    for month in (1, 3, 11):
        counts = [
            len(nights.get((year, month), []))
            for year in range(2016, 2023)
            if air[(air.index.year == year) & (air.index.month == month)].size
        ]
        assert found.frazil_nights[month - 1] == pytest.approx(np.mean(counts))
        assert (found.frazil_least[month - 1], found.frazil_most[month - 1]) == (
            min(counts),
            max(counts),
        )
    assert (
        found.frazil_nights[6] == 0
        and found.coldest_month == 1
        and found.frost_months == (1, 2, 3, 11, 12)
    )
    assert found.findings == () and climate(air[:800]).findings


def test_degree_days_and_frost_depth_by_hand():
    # 100 days at -5 degC, the rest at +10: 500 degree-days, Stefan in moist ground of 1.8 W/(m K)
    days = np.full(365, 10.0)
    days[150:250] = -5.0
    found = climate(made_year(days))
    assert found.freezing_index_kd == pytest.approx([500.0])
    assert found.stefan_m == pytest.approx(
        math.sqrt(2 * 1.8 * 500 * 86400 / (1600 * 0.15 * 333.55e3)), rel=1e-6
    )
    first = (
        pd.Timestamp("2021-07-01") + pd.Timedelta(days=156) - pd.Timestamp("2021-01-01")
    ).days + 1
    # The week's mean, and so the water, falls to 1 degC only some days after the air has: (10 (7 - n) - 5 n)/7 <= 1 from n = 5 on.
    assert found.first_frazil == (first - 2,)


def test_a_climate_needs_a_year():
    with pytest.raises(HydrokitError, match="a year at least, got 300 days"):
        climate(made_year(np.zeros(300)))


# --- standing water ---------------------------------------------------------------------------

BRIDGE = Stretch(
    "bridge", "penstock", 0.0, end_m=10.0, inside_m=0.1016, outside_m=0.1143, roughness_m=5e-6
)
WRAPPED = Stretch(
    "wrapped",
    "penstock",
    10.0,
    end_m=20.0,
    inside_m=0.1016,
    outside_m=0.1143,
    roughness_m=5e-6,
    insulation_m=0.05,
)
BURIED = Stretch(
    "buried",
    "penstock",
    20.0,
    end_m=90.0,
    inside_m=0.1016,
    outside_m=0.1143,
    roughness_m=5e-6,
    soil_m=0.3,
)
SNOWED = Stretch(
    "snowed",
    "penstock",
    20.0,
    end_m=90.0,
    inside_m=0.1016,
    outside_m=0.1143,
    roughness_m=5e-6,
    soil_m=0.3,
    snow_m=0.6,
)


@pytest.fixture(scope="module")
def standing(air):
    cold = Cold(air.to_numpy() + 273.15, False, (0.6,))
    lying = (BURIED, WRAPPED, BRIDGE, SNOWED)
    return standing_water(frost_on(lying, cold), air.index.month.to_numpy(), 1), cold


def test_the_worst_metre_decides_and_the_worst_day_is_no_milder(standing, air):
    found, _ = standing
    assert found.worst.name == "bridge" and found.stretches[-1].name == "snowed"
    assert np.all(found.blocked_s[0] >= found.blocked_s[1])
    assert np.all(found.blocked_s[1] >= found.blocked_s[2])
    assert found.blocked_s[1].tolist() == found.by_month_s[0].tolist()
    assert np.isinf(found.by_month_s[6]).all()
    # A bare pipe by hand: a quarter of the bore frozen through its film and its own ice.
    degrees = -float(air.min())
    resistance = BRIDGE.resistance_si(273.15 - degrees)
    share, area = 0.25, math.pi / 4 * 0.1016**2
    ice = (share + (1 - share) * math.log(1 - share)) / (4 * math.pi * 2.2)
    by_hand = 999.84 * 333.55e3 * area / degrees * (resistance * share + ice)
    assert found.blocked_s[2, 0] == pytest.approx(by_hand, rel=1e-3)


def test_a_stop_is_counted_through_the_days_that_came_after(standing, air):
    """The wrapped pipe from each January morning on, hour by hour with a plain loop."""
    found, cold = standing
    wrapped = next(each for each in frost_on((WRAPPED,), cold))
    place = int(np.flatnonzero((air.index.month == 1) & (air < -6).to_numpy())[5])
    resistance, area = WRAPPED.resistance_si(cold.lowest_k), math.pi / 4 * 0.1016**2
    ice = (0.25 + 0.75 * math.log(0.75)) / (4 * math.pi * 2.2) / 0.25
    frozen, hour = 0.0, 0
    while frozen < 0.25:
        degrees = -air.iloc[place + hour // 24]
        frozen = max(frozen + degrees * 3600 / (999.84 * 333.55e3 * area * (resistance + ice)), 0.0)
        hour += 1
    assert wrapped.blocked[place] / 3600 == pytest.approx(hour, abs=1)


def test_frost_that_does_not_reach_a_pipe_leaves_it_alone(standing):
    found, cold = standing
    by_name = dict(zip([each.name for each in found.stretches], found.blocked_s[2]))
    assert np.isfinite(by_name["buried"]) and np.isinf(by_name["snowed"])
    assert np.isfinite(frost_on((SNOWED,), cold, snow=False)[0].blocked_s)
    deep = replace(BURIED, soil_m=cold.ground(0.0).deepest_m + 0.01)
    assert np.isinf(frost_on((deep,), cold)[0].blocked_s)


# --- stops and heat ---------------------------------------------------------------------------


def test_until_thaw_by_hand():
    # Frost from 1 December for 40 days, then ten warm days: a stop on day d waits until five days, that day the last of them, are above zero together.
    days = np.full(365, 8.0)
    start = (pd.Timestamp("2021-12-01") - pd.Timestamp("2021-07-01")).days
    days[start : start + 40] = -6.0
    found = until_thaw(made_year(days), 1000.0)
    # 2 days of frost and 3 of 8 degC are above zero together: it has thawed on the third warm day, the 42nd.
    waits = [42 - day for day in range(31)]
    assert found.days[11] == np.median(waits) and found.days_long[11] == pytest.approx(
        np.quantile(waits, 0.9)
    )
    assert found.energy_j[11] == pytest.approx(np.median(waits) * 86.4e6)
    assert np.isnan(found.days[5]) and found.worst_month == 12


def test_until_thaw_against_a_plain_search(air):
    power = np.linspace(500, 1600, 12)
    found = until_thaw(air, power)
    lately = [air.iloc[max(place - 4, 0) : place + 1].mean() for place in range(len(air))]
    waits, energy = [], []
    for place in range(len(air)):
        if air.index[place].month == 1 and air.iloc[place] < 0:
            day = next(
                (
                    later
                    for later in range(place, len(air))
                    if lately[later] > 0 and air.iloc[later] > 0
                ),
                None,
            )
            if day is not None:
                waits.append(day - place)
                energy.append(
                    sum(power[air.index[each].month - 1] * 86400 for each in range(place, day))
                )
    assert found.days[0] == np.median(waits) and found.energy_j[0] == pytest.approx(
        np.median(energy), rel=1e-9
    )


def test_heat_held_and_met_by_hand(air):
    found = heat_held(air, 1500.0, 95.0, 292.0, 250.0)
    assert found.held_k == pytest.approx(np.full(12, 1250 / 95))
    need = np.maximum(95.0 * (292.0 - 273.15 - air), 0.0)
    assert found.met_share == pytest.approx(np.minimum(need, 1250).sum() / need.sum(), rel=1e-9)
    assert found.unmet_j == pytest.approx(
        (need - np.minimum(need, 1250)).sum() * 86400 / (len(air) / 365.25), rel=1e-9
    )
    assert np.all(found.inside_cold_k <= 292.0)
    # Common practice: some 4.5 kW of steady heat holds a house of about 115 W/K some 39 K above the outdoors.
    assert heat_held(air, 4500.0, 115.0).held_k[0] == pytest.approx(39.1, abs=0.1)


# --- the year's jobs --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def jobs(air):
    seen = climate(air)
    facts = Facts(
        climate=seen,
        leaf_months=(10, 11),
        clogging_rate=0.05,
        interval_s=3.5 * 86400,
        stop=until_thaw(air, 900.0),
        freezing_months=(11, 12, 1, 2, 3),
        worst_name="pipe bridge",
        worst_hours_s=4700.0,
        bare_names=("wall", "pipe bridge"),
        bare_hours_s=(9000.0, 4700.0),
        bare_questions=("freeze.wall.bare", "freeze.pipe_bridge.bare"),
        low_month=2,
        full_month=6,
        idle_month=9,
        closing=((11, 2), (12, 1)),
        temporary=True,
        freshet_day=early(seen.melt),
        mesh=True,
    )
    return calendar(facts), seen


def test_jobs_run_from_october_and_each_has_a_reason(jobs):
    found, _ = jobs
    places = [(job.month - 10) % 12 for job in found]
    assert places == sorted(places) and all(job.reason and job.job for job in found)
    assert {job.caution for job in found} <= {"ice", "height", "pressure", "electric", "water", ""}
    assert {"ice", "height", "pressure", "electric", "water"} <= {job.caution for job in found}


def test_jobs_stand_in_their_month_with_their_number(jobs):
    found, seen = jobs
    by = {}
    for job in found:
        by.setdefault(job.job.split(":")[0].split(" at ")[0].split(" by ")[0], []).append(job)
    assert [job.month for job in by["Brush the screen"]] == [10, 11] and by["Brush the screen"][
        0
    ].value == 3.5
    assert by["Renew the fine mesh"][0].month == 9
    frazil = [job for job in found if job.kind == "nights"]
    assert {job.month for job in frazil} == {
        month + 1 for month in range(12) if seen.frazil_nights[month] >= 2
    }
    assert all(
        job.value == seen.frazil_nights[job.month - 1] and job.caution == "ice" for job in frazil
    )
    (drain,) = [job for job in found if "drain within" in job.job]
    assert drain.month == 11 and "end of March" in drain.job and drain.value == 4700.0
    (out,) = [job for job in found if "temporary pipe" in job.job]
    assert out.value == np.quantile(seen.melt, 0.1) - 7
    assert [job.month for job in found if job.job.startswith("Shut off once")] == [10, 1, 4, 7]


def test_bare_stretches_are_one_job_whose_time_is_that_of_the_first_to_freeze(jobs):
    (job,) = [each for each in jobs[0] if each.job.startswith("Wrap")]
    assert job.job == "Wrap or bank the bare stretches: pipe bridge; wall"
    assert (job.value, job.question) == (4700.0, "freeze.pipe_bridge.bare")


def test_nothing_known_leaves_the_jobs_that_always_hold():
    assert [job.month for job in calendar(Facts())] == [10, 1, 4, 7]


def test_a_mild_place_has_no_freshet_and_no_frazil():
    mild = climate(made_year(np.full(400, 8.0)))
    found = calendar(Facts(climate=mild, freshet_day=100.0, worst_name="x", worst_hours_s=10.0))
    assert isinstance(mild, Climate) and len(found) == 4


def test_days_of_the_year_as_text():
    assert (
        day_text(1) == "1 January"
        and day_text(365) == "31 December"
        and day_text(372) == "7 January"
    )
    assert math.isnan(early(())) and early((100, 110), 5) == 96


def test_drains_are_tried_before_the_earliest_night_of_frazil_on_record():
    """analytic: one winter whose first night came on 31 October, and December the first month of such nights in the mean."""
    from dataclasses import replace

    from hydrokit.running.jobs import Facts, calendar, together

    days = pd.date_range("2019-01-01", "2024-12-31")
    cold = 8 - 14 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365.25)
    air = climate(pd.Series(cold, days))
    nights = np.zeros(12)
    nights[[11, 0, 1]] = 5.0
    for first, month in (((304, 350), 9), ((335, 350), 11)):  # 31 October; 1 December
        found = replace(air, frazil_nights=nights, first_frazil=first)
        jobs = calendar(Facts(climate=found))
        tried = next(job for job in jobs if job.job.startswith("Try drains"))
        assert tried.month == month
    same = [each for each in together(jobs) if len(each) > 1]
    assert sorted(job.month for job in same[0]) == [1, 4, 7, 10], (
        "the same job once, all its months"
    )
    assert sum(map(len, together(jobs))) == len(jobs)
