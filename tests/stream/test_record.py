"""The gate every record passes, gaps, sub-daily readings, years: record.py and readings.py."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydrokit.errors import HydrokitError, InputError
from hydrokit.stream.readings import daily_means, flow_from_stage, read_stage, without
from hydrokit.stream.record import (
    checked,
    describe_record,
    fill_gaps,
    gaps,
    read_record,
    whole_years,
    year_labels,
)

DATA = Path(__file__).parents[1] / "data"


def record(values, start="2020-01-01", freq="D"):
    index = pd.date_range(start, periods=len(values), freq=freq)
    return pd.Series(np.asarray(values, dtype=float), index=index, name="flow_m3s")


def test_a_good_record_passes_and_is_not_changed():
    given = record([0.01, 0.02, np.nan, 0.03])
    kept = given.copy()
    passed = checked(given)
    pd.testing.assert_series_equal(given, kept)
    np.testing.assert_array_equal(passed, given)
    assert passed.name == "flow_m3s"


def test_a_day_without_a_row_is_a_gap():
    given = record([0.01, 0.02, 0.03, 0.04]).drop(pd.Timestamp("2020-01-03"))
    assert checked(given).isna().tolist() == [False, False, True, False]


def test_leap_days_stay():
    assert pd.Timestamp("2020-02-29") in checked(record(np.ones(366))).index


def wrong_index(index):
    return pd.Series(np.ones(len(index)) / 100, index=index, name="flow_m3s")


@pytest.mark.parametrize(
    "given, says",
    [
        ([0.01, 0.02], r"pandas Series, got list; write"),
        (record([]), "empty"),
        (record([0.01]).rename("flow"), r"named 'flow_m3s', got 'flow'; .*rename\('flow_m3s'\)"),
        (record([np.nan, np.nan]), "no value at all"),
        (record([0.01, np.inf]), "2020-01-02.* is infinite; put NaN"),
        (record([0.01, -0.5]), r"2020-01-02.* negative \(-0\.500 m³/s\)"),
        (
            pd.Series(["a"], index=pd.DatetimeIndex(["2020-01-01"]), name="flow_m3s"),
            "plain numbers in m³/s.*to_numeric",
        ),
        (
            wrong_index(pd.Index(["2020-01-01", "1/2/2020"])),
            r"must hold dates.*pandas.to_datetime\(.*format='%Y-%m-%d'\)",
        ),
        (
            wrong_index(pd.date_range("2020-01-01", periods=2, tz="UTC")),
            r"time zone \(UTC\).*tz_localize\(None\)",
        ),
        (
            wrong_index(pd.DatetimeIndex(["2020-01-01", "2020-01-01"])),
            r"2020-01-01 .* comes 2 times.*duplicated",
        ),
        (
            wrong_index(pd.DatetimeIndex(["2020-01-02", "2020-01-01"])),
            r"in order; write series.sort_index\(\)",
        ),
        (
            wrong_index(pd.DatetimeIndex(["2020-01-01 12:00", "2020-01-02"])),
            r"time of day, got 2020-01-01 12:00.*normalize",
        ),
        (
            wrong_index(pd.DatetimeIndex(["2020-01-01 00:00", "2020-01-01 12:00"])),
            r"write daily_means\(series\)",
        ),
        (wrong_index(pd.DatetimeIndex(["2020-01-01", pd.NaT])), "a date is missing"),
    ],
)
def test_a_bad_record_is_refused_in_one_sentence(given, says):
    with pytest.raises(HydrokitError, match=says) as refused:
        checked(given)
    assert "\n" not in str(refused.value)


def test_record_of_the_creek_reads_as_it_was_measured():
    creek = read_record(DATA / "black_earth_creek_usgs05406500.csv")
    assert len(creek) == 19692 and creek.notna().all()
    assert creek.iloc[0] == pytest.approx(22 * 0.028316846592, rel=1e-12)
    assert gaps(creek).empty


@pytest.mark.parametrize(
    "text, says",
    [
        ("date,flow [L/s]\n2020-01-01,5\n2020-01-02,-1\n", "line 3: has a negative flow"),
        (
            "date,flow [L/s]\n2020-01-01,5\n2020-01-01,6\n",
            "line 3: has a date that stands there before",
        ),
        (
            "date,flow [L/s]\n2020-01-02,5\n2020-01-01,6\n",
            "line 3: has a date before the one above",
        ),
        ("date,flow [L/s]\n2020-01-02,5\n,6\n", "line 3: has no date"),
        ("date,flow [L/s]\n2020-01-02,\n2020-01-03,\n", "no flow in any line"),
        ("date,flow\n2020-01-02,5\n", r"no unit in its header"),
        ("date,flow [L/s]\n2020-01-02,5\n03.01.2020,6\n", "line 3.*is not a date"),
        ("date,flow [m]\n2020-01-02,5\n", r"needed is a unit such as \[L/s\]"),
    ],
)
def test_a_bad_file_is_told_with_its_line(tmp_path, text, says):
    path = tmp_path / "flow.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_record(path)


def test_us_and_metric_files_give_the_same_record(tmp_path):
    (tmp_path / "metric.csv").write_text(
        "date,flow [L/s]\n2020-01-01,28.316846592\n2020-01-03,\n", encoding="utf-8"
    )
    (tmp_path / "us.csv").write_text(
        "\ufeffdate,flow [cfs]\r\n2020-01-01,1\r\n2020-01-03,\r\n", encoding="utf-8"
    )
    pd.testing.assert_series_equal(
        read_record(tmp_path / "metric.csv"), read_record(tmp_path / "us.csv")
    )


# --- gaps


def test_gaps_are_listed():
    given = record([np.nan, 1, 1, np.nan, np.nan, 1, np.nan])
    listed = gaps(given)
    assert listed["days"].tolist() == [1, 2, 1]
    assert listed["first"].dt.day.tolist() == [1, 4, 7]
    assert listed["last"].dt.day.tolist() == [1, 5, 7]


def test_a_recession_is_filled_exactly_and_marked():
    """Analytic: an exponential recession is a straight line in the logarithm."""
    truth = record(0.1 * 0.9 ** np.arange(10))
    holed = truth.copy()
    holed.iloc[3:6] = np.nan
    filled = fill_gaps(holed, 3)
    np.testing.assert_allclose(filled.record, truth, rtol=1e-12)
    assert filled.filled.to_numpy().nonzero()[0].tolist() == [3, 4, 5]
    assert "3 missing days filled" in filled.findings[0].message


def test_long_gaps_and_ends_stay_gaps():
    given = record([np.nan, 1, np.nan, np.nan, 1, np.nan, 1, np.nan])
    filled = fill_gaps(given, 1)
    assert filled.record.isna().tolist() == [True, False, True, True, False, False, False, True]
    assert fill_gaps(given, 0).record.isna().sum() == 5


def test_a_gap_beside_a_dry_day_is_filled_straight():
    assert fill_gaps(record([0.0, np.nan, 0.02]), 1).record.iloc[1] == pytest.approx(0.01)


def test_filling_asks_for_whole_days():
    with pytest.raises(HydrokitError, match="whole number"):
        fill_gaps(record([1.0, np.nan, 1.0]), -1)


def test_weeks_under_ice_are_taken_out():
    kept = without(record(np.ones(10)), [("2020-01-03", "2020-01-05")])
    assert kept.isna().to_numpy().nonzero()[0].tolist() == [2, 3, 4]
    hourly = without(record(np.ones(72), freq="h"), [("2020-01-02", "2020-01-02")])
    assert hourly.isna().sum() == 24


# --- stage and sub-daily


def test_stage_goes_through_the_rating():
    stage = pd.Series(
        [0.1, 0.3, np.nan], index=pd.date_range("2020-01-01", periods=3, freq="h"), name="stage_m"
    )

    class Rating:
        @staticmethod
        def flow_si(stage_m):
            return 2.0 * np.maximum(stage_m - 0.1, 0) ** 1.5

    flow = flow_from_stage(stage, Rating())
    np.testing.assert_allclose(flow, [0, 2 * 0.2**1.5, np.nan])
    pd.testing.assert_series_equal(flow, flow_from_stage(stage, Rating.flow_si))
    with pytest.raises(HydrokitError, match="named 'stage_m'"):
        flow_from_stage(stage.rename("stage"), Rating())


def test_stage_file_in_us_units(tmp_path):
    path = tmp_path / "stage.csv"
    path.write_text(
        "time,stage [ft]\n2024-03-01 07:40,0.5\n2024-03-01 08:40,\n2024-03-01T09:40,1.0\n",
        encoding="utf-8",
    )
    stage = read_stage(path)
    np.testing.assert_allclose(stage, [0.1524, np.nan, 0.3048])
    assert stage.name == "stage_m" and stage.index[2] == pd.Timestamp("2024-03-01 09:40")


@pytest.mark.parametrize(
    "rows, says",
    [
        (
            "2024-10-27 02:30,1\n2024-10-27 02:30,2\n",
            "line 3: .*clocks went back keep the logger on standard time",
        ),
        ("2024-03-02 02:30,1\n2024-03-01 02:30,1\n", "line 3: has a time before"),
        (",1\n", "line 2: has no time"),
        ("01/03/2024 2:30,1\n", "line 2: .* may be 2024-03-01 or 2024-01-03"),
        ("2024-03-01 02:30+01:00,1\n", "line 2.*no time zone"),
    ],
)
def test_a_bad_stage_file_is_told_with_its_line(tmp_path, rows, says):
    path = tmp_path / "stage.csv"
    path.write_text("time,stage [m]\n" + rows, encoding="utf-8")
    with pytest.raises(InputError, match=says):
        read_stage(path)


def test_daily_means_are_the_means_of_the_days():
    """Independent: pandas resampling."""
    values = np.random.default_rng(1).gamma(2, 0.01, 24 * 40)
    hourly = record(values, "2020-02-20 00:00", "h")
    pd.testing.assert_series_equal(
        daily_means(hourly), hourly.resample("D").mean(), check_freq=False, check_index_type=False
    )


def test_a_day_with_too_few_readings_is_a_gap():
    hourly = record(np.ones(72), freq="h")
    hourly.iloc[24:34] = np.nan
    assert daily_means(hourly, 0.75).isna().tolist() == [False, True, False]
    assert daily_means(hourly, 0.5).notna().all()
    lost = hourly.dropna().iloc[:-1]
    assert daily_means(lost, 1.0).isna().tolist() == [False, True, True]


def test_clocks_that_go_back_are_told():
    index = pd.date_range("2023-10-28", periods=72, freq="h", tz="Europe/Zurich").tz_localize(None)
    with pytest.raises(
        HydrokitError,
        match=r"2023-10-29 02:00:00 comes twice, as where clocks go back; keep the logger on standard time",
    ):
        daily_means(pd.Series(np.ones(72), index=index, name="flow_m3s"))


def test_sub_daily_times_out_of_order_are_refused():
    with pytest.raises(HydrokitError, match=r"sort_index\(\)"):
        daily_means(record(np.ones(48), freq="h").iloc[::-1])


# --- years


@pytest.mark.parametrize("start_month, year", [(10, 2020), (4, 2020), (1, 2019), (12, 2019)])
def test_a_year_is_named_by_its_end(start_month, year):
    assert year_labels(pd.DatetimeIndex(["2019-11-15"]), start_month).tolist() == [year]


def test_climate_years_as_the_survey_names_them():
    """Published: DVstats vignette, Raccoon River: 27 January 1917 in 1917, 16 September 1919 in 1920, 4 August 2007 in 2008."""
    dates = pd.DatetimeIndex(["1917-01-27", "1919-09-16", "2007-08-04"])
    assert year_labels(dates, 4).tolist() == [1917, 1920, 2008]


def test_whole_years():
    years = record(np.ones(365 * 3 + 1), "2019-10-01")
    assert whole_years(years) == (2020, 2021, 2022)
    holed = years.copy()
    holed.iloc[400] = np.nan
    assert whole_years(holed) == (2020, 2022)
    assert whole_years(holed, missing=0.01) == (2020, 2021, 2022)
    assert whole_years(years, 1) == (2020, 2021)
    assert whole_years(record(np.ones(365), "2019-10-01")) == (), (
        "a leap year of 365 days is not whole"
    )
    assert whole_years(record(np.ones(366), "2020-01-01"), 1) == (2020,)


def test_description_tells_what_limits_trust():
    values = np.random.default_rng(0).gamma(2, 0.01, 400)
    values[:40] = 0.02
    values[50], values[60:64] = 0.0, np.nan
    told = " | ".join(finding.message for finding in describe_record(record(values, "2019-10-01")))
    assert (
        "no whole year" in told
        and "4 of 400 days are missing (1.0 %), 3 of them in December" in told
    )
    assert "zero flow on 1 day:" in told and "is steady for 40 days from 2019-10-01" in told
    assert describe_record(read_record(DATA / "yaak_usgs12304500.csv")) == ()


def test_a_line_twice_counts_once_and_the_newest_may_stand_first(tmp_path):
    notes: list = []
    (tmp_path / "a.csv").write_text(
        "date,flow [L/s]\n2020-01-03,3\n2020-01-02,2\n2020-01-02,2\n2020-01-01,1\n"
    )
    record = read_record(tmp_path / "a.csv", notes)
    assert record.tolist() == pytest.approx([0.001, 0.002, 0.003])
    assert [each.message for each in notes] == [
        "line 4 repeats another word for word and is read once",
        "the newest line stands first; all are read from the last up",
    ]
    (tmp_path / "b.csv").write_text(
        "time,stage [m]\n2020-01-01 02:00,0.2\n2020-01-01 03:00,0.3\n2020-01-01 03:00,0.3\n"
    )
    assert read_stage(tmp_path / "b.csv").tolist() == [0.2, 0.3]
    (tmp_path / "b.csv").write_text(
        "time,stage [m]\n2020-01-01 03:00,0.3\n2020-01-01 03:00,0.4\n2020-01-01 04:00,0.4\n"
    )
    with pytest.raises(InputError, match="line 3: has a time that stands there before"):
        read_stage(tmp_path / "b.csv")
