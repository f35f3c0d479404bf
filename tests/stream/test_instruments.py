"""Tests of a logger: published vectors, the cases people meet, and no false alarm on real creeks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shared

from hydrokit.errors import HydrokitError
from hydrokit.stream.instruments import flat_line_flags, range_flags, rate_flags, spike_flags
from hydrokit.stream.readings import read_stages
from hydrokit.stream.record import read_record
from hydrokit.stream.staff import shifted, staff_against_logger
from hydrokit.stream.suspects import clock_jumps, suspect_stages

DATA = Path(__file__).parents[1] / "data"
STUDIES = Path(__file__).parents[2] / "studies"
NAN = float("nan")
MEAN, STEP = "mean of neighbours", "smaller step"


# --- the flags, against the test vectors of an independent library --------------------------
# ioos_qc, tests/test_qartod.py, commit 9c1853a, run and coded anew beside it. The flags are whole
# numbers, so they agree exactly or not at all.

SPIKES = [
    ([10, 12, 999.99, 13, 15, 40, 9, 9], 25, 50, MEAN, "24441312"),
    ([-10, -12, -999.99, -13, -15, -40, -9, -9], 25, 50, MEAN, "24441312"),
    (
        [10, 12, 999.99, 13, 15, 40, 9, 9, NAN, 10, 10, 999.99, 10, NAN],
        25,
        50,
        MEAN,
        "24441312924429",
    ),
    (
        [3, 4.99, 5, 6, 8, 6, 6, 6.75, 6, 6, 5.3, 6, 6, 9, 5, 5, 4, 4],
        0.5,
        1,
        MEAN,
        "231143131131444112",
    ),
    (
        [3, 4.99, 5, 6, 8, 6, 6, 6.75, 6, 6, 5.3, 6, 6, 9, 5, 5, 4, 4],
        0.5,
        1,
        STEP,
        "211141131131141112",
    ),
]


@pytest.mark.parametrize("stage, suspect, failed, rule, flags", SPIKES)
def test_spikes_as_an_independent_library_flags_them(stage, suspect, failed, rule, flags):
    assert "".join(map(str, spike_flags.si(stage, suspect, failed, rule))) == flags


CREEK = [0.300, 0.301, 0.300, 0.302, 0.420, 0.303, 0.302, 0.305, 0.560] + [0.306] * 6 + [0.310]
QUARTERS = np.datetime64("2024-03-01") + 15 * np.arange(40) * np.timedelta64(1, "m")


def test_the_manuals_rules_on_an_example_in_creek_units():
    """Worked by hand from the manual's text with its limits 0.1 and 0.2 m, 1 mm, 3 and 5 values."""
    assert "".join(map(str, spike_flags.si(CREEK, 0.1, 0.2, MEAN))) == "2111311343111112"
    flags = flat_line_flags.si(QUARTERS[:16], CREEK, 2 * 900, 4 * 900, 0.001)
    assert "".join(map(str, flags)) == "1" * 11 + "33441"


def test_the_other_flags_as_an_independent_library_gives_them():
    tens = [5, 10, 15, 20, 25, 30, 35, 40, 45, 51]
    assert range_flags.si(tens, 10, 50, 20, 40).tolist() == [4, 3, 3, 1, 1, 1, 1, 1, 3, 4]
    moving = [2, 10, 2.1, 3, 4, 5, 7, 10, 0, 2, 2.2, 2, 1, 2, 3, 90, 91, 92, 93, 1, 2, 3, 4, 5]
    flags = rate_flags.si(QUARTERS[: len(moving)], moving, 5.0 / 900)
    assert "".join(map(str, flags)) == "133111113111111311131111"
    gappy = [2, 10, 2, 3, NAN, NAN, 7, 10]
    assert "".join(map(str, rate_flags.si(QUARTERS[:8], gappy, 5.0 / 900))) == "13319911"
    flat = [1, 2, 2.0001, 2, 2.0001, 2, 2.0001, 2, 4, 5, 3, 3.0001, 3.0005, 3.00001]
    flags = flat_line_flags.si(QUARTERS[:14], flat, 3000, 4800, 0.01)
    assert "".join(map(str, flags)) == "11113344111113"
    seconds = np.datetime64("2024-03-01", "s") + np.arange(10)
    assert flat_line_flags.si(seconds[:6], [5] * 6, 3, 5, 0.1).tolist() == [1, 1, 1, 3, 3, 4]
    ramp = flat_line_flags.si(seconds, [1, 1, 1, 1, 1, 6, 5, 4, 3, 2], 3, 6, 4)
    assert ramp.tolist() == [1, 1, 1, 3, 3, 1, 1, 1, 3, 3]


def test_an_unknown_rule_is_refused():
    with pytest.raises(HydrokitError, match="rule must be one of"):
        spike_flags(["1 m", "2 m", "1 m"], rule="median")


# --- an invented creek ----------------------------------------------------------------------


def hourly(days=120, seed=1, noise=0.001, storms=8):
    """Hourly stages between 15 and 45 cm: a slow recession, a daily swing, storms that rise in hours."""
    random = np.random.default_rng(seed)
    hours = np.arange(24 * days)
    stage = 0.20 + 0.04 * np.cos(2 * np.pi * hours / (24 * 365)) + 0.004 * np.sin(hours / 3.82)
    for start in random.choice(hours[:-100], storms, replace=False):
        since = hours - start
        rise = random.uniform(1, 8)
        stage = stage + random.uniform(0.05, 0.25) * np.where(
            since < 0, 0, np.minimum(since / rise, 1) * np.exp(-np.maximum(since - rise, 0) / 30)
        )
    stage = np.round(stage + noise * random.standard_normal(len(hours)), 3)
    return pd.Series(
        stage, index=pd.date_range("2024-01-10", periods=len(hours), freq="h"), name="stage_m"
    )


def kinds(stage, daily=False):
    return [each.kind for each in suspect_stages(stage, daily)]


def staff_of(stage, every=11, seed=2):
    """Staff readings on some days, at a random hour, to half a centimetre."""
    random = np.random.default_rng(seed)
    days = pd.date_range(stage.index[0].normalize(), stage.index[-1], freq=f"{every}D")[1:]
    read = [float(stage.loc[day + pd.Timedelta(hours=int(random.integers(7, 19)))]) for day in days]
    return days.to_numpy(), np.round(np.array(read) + 0.003 * random.standard_normal(len(days)), 3)


def test_one_stage_of_412_cm_is_found_and_nothing_else():
    stage = hourly()
    assert kinds(stage) == []
    stage.iloc[1500] = 4.12
    (found,) = suspect_stages(stage)
    assert found.failed and found.readings == 1 and found.first == stage.index[1500]
    assert found.stage_m == 4.12


@pytest.mark.parametrize("wide", [1, 2, 3])
def test_an_excursion_that_ends_where_it_began_fails(wide):
    stage = hourly()
    stage.iloc[900 : 900 + wide] += 0.35
    (found,) = suspect_stages(stage)
    assert (found.kind, found.readings, found.failed) == ("spike", wide, True)
    assert found.size_m == pytest.approx(0.35, abs=0.02)


@pytest.mark.parametrize("first, second", [(-9.999, 1.4), (1.4, -9.999)])
def test_an_excursion_beside_a_stage_that_cannot_be_fails_too(first, second):
    stage = hourly()
    stage.iloc[1500:1502] = [first, second]
    assert [each.failed for each in suspect_stages(stage)] == [True, True]


def test_a_smaller_one_is_to_be_looked_at_only():
    stage = hourly()
    stage.iloc[900] -= 0.13
    (found,) = suspect_stages(stage)
    assert found.kind == "spike" and not found.failed and found.size_m < 0


def test_a_logger_that_is_stuck_is_found_and_a_calm_creek_is_not():
    stage = hourly()
    stage.iloc[1000:1120] = stage.iloc[1000]
    (found,) = suspect_stages(stage)
    assert found.kind == "flat" and found.readings == 120
    # A creek fed by a spring, on a logger that shows whole centimetres, stands for days on end.
    spring = hourly(storms=0).round(2)
    assert kinds(spring) == []


def test_a_step_that_stays_is_found_without_any_staff_reading():
    stage = hourly(storms=0)
    stage.iloc[1400:] += 0.085
    (found,) = suspect_stages(stage)
    assert found.kind == "step" and found.first == stage.index[1400]
    assert found.size_m == pytest.approx(0.085, abs=0.005) and not found.failed


@pytest.mark.parametrize("seed", range(12))
def test_floods_are_no_mistakes(seed):
    assert kinds(hourly(seed=seed, storms=20)) == []


@pytest.mark.parametrize("seed", range(12))
def test_the_jump_of_march_is_dated_and_sized_by_the_staff(seed):
    true = hourly(seed=seed, storms=12)
    logged, at = true.copy(), true.index.get_loc(pd.Timestamp("2024-03-14 13:00"))
    logged.iloc[at:] += 0.085
    days, staff = staff_of(true, seed=seed)
    (found,) = shifted(staff_against_logger(days, staff, logged), logged)
    assert found.by_m == pytest.approx(-0.085, abs=0.008)
    assert found.first == logged.index[at]
    assert found.seen or seed == 6  # a storm of that height rose within one hour a few days before
    assert found.readings == (days >= np.datetime64("2024-03-14")).sum()


@pytest.mark.parametrize("seed", range(40))
def test_no_shift_is_claimed_where_staff_and_logger_agree(seed):
    true = hourly(seed=seed, storms=12)
    days, staff = staff_of(true, every=7, seed=seed)
    assert shifted(staff_against_logger(days, staff, true), true) == ()


@pytest.mark.parametrize("storms", [0, 6])
def test_a_shift_in_daily_means_and_one_from_the_beginning(storms):
    true = hourly(storms=storms).resample("D").mean()
    logged = true.copy()
    logged.loc["2024-03-14":] += 0.085
    days, read = true.index[5::12].to_numpy(), true.to_numpy()[5::12]
    (found,) = shifted(staff_against_logger(days, read, logged, True), logged)
    assert found.by_m == pytest.approx(-0.085, abs=0.004)
    assert found.after < found.first <= found.before
    # With a storm of the same height between both readings the day is not known, nor claimed to be.
    assert not found.seen and (found.first == pd.Timestamp("2024-03-14") or storms)
    (found,) = shifted(staff_against_logger(days, read, true - 0.02, True), true - 0.02)
    assert found.by_m == pytest.approx(0.02, abs=1e-9) and found.first == true.index[0]


def test_a_single_odd_staff_reading_is_no_shift_of_the_logger():
    true = hourly()
    days, staff = staff_of(true)
    days, staff = days[:7], staff[:7]  # on a day of flood the hour matters too much to tell
    for position in (2, 5, 6):
        wrong = staff.copy()
        wrong[position] += 0.10
        (found,) = shifted(staff_against_logger(days, wrong, true), true)
        assert found.alone and found.by_m == pytest.approx(0.10, abs=0.02)
        assert found.before == pd.Timestamp(days[position])


# --- real creeks, and the demos -------------------------------------------------------------


@pytest.mark.parametrize("name", ["black_earth_creek_usgs05406500", "yaak_usgs12304500"])
@pytest.mark.parametrize("exponent", [1.5, 2.5])
def test_no_alarm_on_a_real_creek(name, exponent):
    """Daily flows of the U.S. Geological Survey as stages of a channel (1.5) and of a notch (2.5)."""
    flow = read_record(DATA / f"{name}.csv")
    stage = (0.3 * (flow / flow.median()) ** (1 / exponent)).round(3).rename("stage_m")
    found = suspect_stages(stage, daily=True)
    # Flows that the survey estimated under ice do stand still for weeks; nothing else is named.
    assert {each.kind for each in found} <= {"flat"}
    assert all(stage[each.first : each.last].nunique() == 1 for each in found)
    random = np.random.default_rng(3)
    days = random.choice(len(stage) - 2, 40, replace=False) + 1
    read = stage.to_numpy()[days] + 0.004 * random.standard_normal(40)
    check = staff_against_logger(stage.index.to_numpy()[days], read, stage, True)
    assert len(check) == 40 and shifted(check, stage) == ()


@pytest.mark.parametrize("name", ["alder-burn", "hazel-beck"])
def test_no_alarm_on_the_demos(name):
    gauged = shared.demo(name).gaugings
    stage, ice, daily = read_stages(STUDIES / name / "stage.csv")
    assert kinds(stage if ice is None else stage[~ice], daily) == []
    assert clock_jumps(stage.index) == ()
    check = staff_against_logger(gauged.date, gauged.stage_m, stage, daily)
    assert shifted(check, stage) == ()


# --- the clock ------------------------------------------------------------------------------


def test_clocks_that_were_set_are_found():
    times = pd.date_range("2024-03-01", periods=2000, freq="h")
    assert clock_jumps(times) == ()
    set_later = times[:900].append(times[900:] + pd.Timedelta("17min"))
    (found,) = clock_jumps(set_later)
    assert (found.kind, found.by_s, found.at) == ("minutes", 17 * 60.0, set_later[900])
    summer = times[: 24 * 30 + 2].append(times[24 * 30 + 3 :])  # 2024-03-31 02:00 is not there
    (found,) = clock_jumps(summer)
    assert found.kind == "summer time" and found.at == pd.Timestamp("2024-03-31 03:00")
    (found,) = clock_jumps(times[:900].append(times[900:] + pd.DateOffset(years=11)))
    assert found.kind == "years" and found.at.year == 2035


def test_a_battery_changed_or_a_reading_missed_is_no_set_clock():
    times = pd.date_range("2024-05-01", periods=500, freq="h")
    assert clock_jumps(times.delete(slice(100, 140))) == ()
    assert clock_jumps(times.insert(200, times[199] + pd.Timedelta("12min"))) == ()
