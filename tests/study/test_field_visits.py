"""A field sheet with a date is a gauging: it feeds the rating and the bracket, is told by check, and is never counted twice."""

import numpy as np
import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.report.pages.p01 import gauging
from hydrokit.study.opening import check_study, open_study

LIST = "date,stage [m],flow [L/s],uncertainty [%],method\n"
# Three visits in one sheet, as an owner writes them: the day in the first row of each.
THREE = (
    "date,stage [m],volume [L],time [s]\n"
    "2026-03-04,0.10,10,5.0\n,,10,5.2\n,,10,4.8\n"
    "2026-06-11,0.20,10,2.0\n,,10,2.1\n,,10,1.9\n"
    "2026-09-20,0.06,10,10.1\n,,10,9.9\n,,10,10.0\n"
)


def study_of(folder, stream, **sheets):
    return open_study(
        small_study.write(folder, {"site": {"name": "x"}, "stream": stream}, **sheets)
    )


def told(folder):
    return [str(each) for each in check_study(folder)]


def test_each_day_of_a_sheet_is_a_gauging_of_its_own(tmp_path):
    """10 L in 5, 2 and 10 s by hand are 2, 5 and 1 L/s; one mean over the three days would be none of them."""
    found = study_of(tmp_path, {"bucket": "fills.csv"}, fills=THREE).gaugings
    assert found.flow_m3s * 1000 == pytest.approx([2.0, 5.0, 1.0], rel=0.01)
    assert found.stage_m == pytest.approx([0.10, 0.20, 0.06])
    assert [str(np.datetime64(day, "D")) for day in found.date] == [
        "2026-03-04",
        "2026-06-11",
        "2026-09-20",
    ]
    assert any("counts as 3 gaugings" in each for each in told(tmp_path))


def test_visits_with_a_stage_make_a_rating(tmp_path):
    stream = {"bucket": "fills.csv", "cease_to_flow": "0 m", "control": "riffle"}
    rating = study_of(tmp_path, stream, fills=THREE).rating
    assert rating is not None and rating.gaugings == 3


def test_a_visit_that_stands_in_the_list_is_not_counted_twice(tmp_path):
    listed = LIST + "2026-03-04,,2.02,4,bucket\n2026-06-12,,5.0,4,bucket\n"
    found = study_of(
        tmp_path, {"bucket": "fills.csv", "gaugings": "list.csv"}, fills=THREE, list=listed
    ).gaugings
    # 4 March is listed and takes the sheet's stage; 12 June is another day than the sheet's 11 June.
    assert len(found) == 4 and found.stage_m[0] == pytest.approx(0.10)
    assert sorted(found.flow_m3s * 1000) == pytest.approx([1.0, 2.02, 5.0, 5.0], rel=0.01)


def test_a_list_that_says_otherwise_is_told(tmp_path):
    listed = LIST + "2026-03-04,0.1,20.2,4,bucket\n"
    study = study_of(
        tmp_path, {"bucket": "fills.csv", "gaugings": "list.csv"}, fills=THREE, list=listed
    )
    assert len(study.gaugings) == 3
    assert any(
        "comes to 2 L/s on 2026-03-04" in each and "20.2 L/s" in each for each in told(tmp_path)
    )


def test_a_sheet_without_a_day_asks_for_one_once(tmp_path):
    undated = "volume [L],time [s]\n10,5.0\n10,5.2\n10,4.8\n"
    study = study_of(tmp_path, {"bucket": "fills.csv"}, fills=undated)
    assert study.gaugings is None
    assert sum("add a column date" in each for each in told(tmp_path)) == 1
    listed = study_of(
        tmp_path / "b",
        {"bucket": "fills.csv", "gaugings": "list.csv"},
        fills=undated,
        list=LIST + "2026-03-04,0.1,2.0,4,bucket\n",
    )
    assert len(listed.gaugings) == 1
    assert not any("column date" in each for each in told(tmp_path / "b"))
    (row,) = gauging.sheets_table(listed, listed.view()).rows
    assert row[2] != "± 4.0 %" and row[-1].startswith(
        "the list of gaugings gives it ± 4 %, which counts"
    )


def test_two_throws_of_salt_in_one_sheet_are_refused(tmp_path):
    salt = "date,time [s],conductivity [uS/cm]\n2026-03-04,0,80\n,5,90\n2026-04-04,0,80\n,5,90\n"
    stream = {"salt": "wave.csv", "salt_mass": "0.1 kg", "salt_background": "80 uS/cm"}
    with pytest.raises(InputError, match="line 4: a second day begins here"):
        study_of(tmp_path, stream, wave=salt).gaugings  # noqa: B018
