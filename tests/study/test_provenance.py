"""Where a record comes from is told, and one that was not measured here is never taken as certain."""

import copy
import itertools
from pathlib import Path

import numpy as np
import odd_studies
import pandas as pd
import pytest
import small_study

from hydrokit.errors import HydrokitError, InputError
from hydrokit.report.pages.p02.years import catchments_table, method_words
from hydrokit.stream.trend import mann_kendall
from hydrokit.study.answer import Evidence
from hydrokit.study.build.provenance import NOT_MEASURED_SD, record_told
from hydrokit.study.opening import check_study, open_study

DATA = Path(__file__).resolve().parents[1] / "data"


def written(folder, stream, **site):
    folder.mkdir()
    told = copy.deepcopy(small_study.SITE)
    told["site"] |= site
    told["stream"] = {
        key: value for key, value in (told["stream"] | stream).items() if value is not None
    }
    for name, text in small_study.FILES.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    (folder / "site.toml").write_text(small_study.toml(told), encoding="utf-8")
    return folder


def test_a_transferred_record_may_not_be_certain(tmp_path):
    folder = written(tmp_path / "a", {"provenance": "transferred", "record_uncertainty": "0 %"})
    with pytest.raises(InputError, match="record_uncertainty.*transferred.*15 %"):
        check_study(folder)


def test_a_modelled_record_without_an_uncertainty_takes_the_usual_one_and_says_so(tmp_path):
    study = open_study(
        written(
            tmp_path / "b",
            {"provenance": "modelled", "record_uncertainty": None, "measured_by": "the *valley*"},
        )
    )
    assert study.record_uncertainty == NOT_MEASURED_SD["modelled"]
    lean = study.answer("flow.lean")
    assert lean.evidence is Evidence.CALCULATED and lean.source == "the modelled record"
    assert any("not measured here" in each.message for each in study.water_findings)
    assert any(
        each.answer.key == "assumed.not_measured" and each.answer.value == 0.3
        for each in study.assumptions
    )
    text = method_words(study, study.view()).text
    assert "modelled" in text and r"\*valley\*" in text and "30 %" in text
    assert "estimated" not in text  # no day of its own, and none of another's


def test_runoff_is_the_water_over_the_catchment(tmp_path):
    """By hand: L/s per km² times 31.5576 are millimetres a year; more water than rain is refused as a problem."""
    area_km2, rain_mm = 0.2, 400
    study = open_study(
        written(tmp_path / "c", {}, catchment=f"{area_km2} km^2", rainfall=f"{rain_mm} mm")
    )
    millimetres = 1000 * float(study.record.mean()) / area_km2 * 31.5576
    found = study.record_method
    assert 1000 * found.runoff_m == pytest.approx(millimetres)
    assert found.coefficient == pytest.approx(millimetres / rain_mm)
    assert (found.coefficient > 1) == any(
        each.level == "problem" and "what falls" in each.message for each in study.water_findings
    )
    assert found.coefficient > 1


def test_catchments_stand_side_by_side_on_the_same_days(tmp_path):
    """By hand: twice the flow from twice the area is the same depth of water; the days are those that both have."""
    study = odd_studies.opened(
        tmp_path,
        "transferred",
        site={"catchment": "2 km^2", "rainfall": "900 mm", "altitude": "300 m"},
        stream={
            "neighbour_catchment": "6 km^2",
            "neighbour_altitude": "120 m",
            "neighbour_rainfall": "800 mm",
            "measured_by": "the valley",
        },
    )
    own, other = study.catchments
    from hydrokit.stream.record import read_record

    there = read_record(study.path / study.site.stream.neighbour_record)
    common = study.record.dropna().index.intersection(there.dropna().index)
    assert len(common) > 1000
    for found, series, area, rain in ((own, study.record, 2e6, 0.9), (other, there, 6e6, 0.8)):
        depth = float(series[common].mean()) * 365.25 * 86400 / area
        assert found.runoff_m == pytest.approx(depth)
        assert found.coefficient == pytest.approx(depth / rain)
    table = catchments_table(study, study.view("us"))
    assert table.columns[1] == "area [mi²]" and [row[0] for row in table.rows] == [
        "this creek",
        "the neighbour's gauge",
    ]
    assert [round(row[2]) for row in table.rows] == [984, 394]
    told = record_told(study)
    assert told.startswith("measured here, by the valley; lengthened from the record in ")


def test_gaugings_stand_beside_the_record_of_their_days(tmp_path):
    """By hand: gaugings a tenth above the record but for one under ice and one before it began."""
    study = open_study(written(tmp_path / "e", {}))
    days = study.record.dropna().index[[100, 200, 300, 400]]
    off = [1.1, 1.08, 1.12, 3.0]
    rows = "".join(
        f"{day:%Y-%m-%d},,{1000 * study.record[day] * factor:.6f},5,bucket,{ice}\n"
        for day, factor, ice in zip(days, off, ("no", "no", "no", "yes"))
    )
    text = (
        "date,stage [m],flow [L/s],uncertainty [%],method,ice\n1999-01-01,,5,5,bucket,no\n" + rows
    )
    folder = written(tmp_path / "f", {"gaugings": "more.csv"})
    (folder / "more.csv").write_text(text, encoding="utf-8")
    study = open_study(folder)
    found = study.beside_record
    assert (found.gaugings, found.staff) == (3, 0)
    assert found.off == pytest.approx(0.10, abs=1e-4)
    assert found.spread == pytest.approx(np.std(np.log(off[:3]), ddof=1), rel=1e-3)
    said = method_words(study, study.view()).text
    assert "On the 3 days with a gauging in open water the flow gauged lies 10 % above" in said


def test_trend_of_the_nile_is_its_step_of_1898():
    """S, Z and Sen's slope computed apart from this project; the drop is a step, which the test cannot tell from a trend."""
    nile = pd.read_csv(DATA / "nile_aswan_annual.csv").iloc[:, -1]
    found = mann_kendall(nile)
    assert found.score == -1387 and found.slope == pytest.approx(-2.6)
    assert found.z == pytest.approx(-4.12807, abs=1e-5)


@pytest.mark.parametrize(
    "count, score, variance", [(5, 10, 16.67), (8, 18, 65.33), (30, 111, 3141.67)]
)
def test_variance_without_ties(count, score, variance):
    assert mann_kendall(np.arange(count)).variance == pytest.approx(variance, abs=0.005)
    assert mann_kendall(np.arange(count)).score == count * (count - 1) / 2 >= score


def test_few_years_are_counted_out():
    """Against all 120 orders of five values."""
    rises = [
        sum(np.sign(b - a) for a, b in itertools.combinations(order, 2))
        for order in itertools.permutations(range(5))
    ]
    for values in ([1, 2, 3, 5, 4], [5, 1, 4, 2, 3]):
        found = mann_kendall(values)
        share = np.mean(np.abs(rises) >= abs(found.score))
        assert found.p_value == pytest.approx(share)


def test_constant_years_have_no_trend_and_three_are_refused():
    flat = mann_kendall([2.0] * 12)
    assert (flat.score, flat.variance, flat.z, flat.p_value, flat.slope) == (0, 0, 0, 1, 0)
    with pytest.raises(HydrokitError, match="4 or more"):
        mann_kendall([1, 2, 3])


def test_the_page_of_the_whole_story_is_told_where_the_record_comes_from(tmp_path):
    from hydrokit.runner.run import _record_told

    study = open_study(written(tmp_path / "g", {"provenance": "modelled", "measured_by": "a *b*"}))
    assert _record_told(study) == ["from a model of rain and runoff, by a *b*"]
    assert _record_told(object()) == []
    none = small_study.changed(tmp_path / "h", stream={"record": None, "record_uncertainty": None})
    assert none.record is None and _record_told(none) == []
