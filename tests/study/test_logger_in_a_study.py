"""A logger in a study: the jump of March, the stage of 412 cm, what the site file says of them, and what a page shows."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import numpy as np
import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.report.pages.p01 import instruments
from hydrokit.study.opening import open_study

START = datetime(2024, 1, 1)
RATED = 0.9  # L/s at a stage of 1 cm, by the square of the stage


def true_stage(hours):
    """A creek between 15 and 45 cm: seasons, and storms that rise in three hours."""
    stage = 0.22 + 0.06 * np.cos(2 * np.pi * hours / 8766)
    for number in range(40):
        since = hours - 217.0 * number - 40
        height = 0.04 + 0.03 * (number % 5)
        stage = stage + height * np.where(
            since < 0, 0, np.minimum(since / 3, 1) * np.exp(-np.maximum(since - 3, 0) / 30)
        )
    return np.round(stage, 3)


HOURS = np.arange(24 * 366)
TRUE = true_stage(HOURS)


def logged(change=None):
    stage = TRUE.copy()
    if change is not None:
        change(stage)
    return "time,stage [m]\n" + "".join(
        f"{START + timedelta(hours=int(hour)):%Y-%m-%d %H:%M},{each:.3f}\n"
        for hour, each in zip(HOURS, stage)
    )


def gaugings(*more):
    """Ten buckets at the true staff stage, at noon."""
    lines = ["date,stage [m],flow [L/s],uncertainty [%],method"]
    for number in range(10):
        at = 24 * (12 + 33 * number) + 12
        stage = TRUE[at]
        day = START + timedelta(hours=at)
        lines.append(f"{day:%Y-%m-%d},{stage:.3f},{RATED * (100 * stage) ** 2 / 10:.2f},5,bucket")
    return "\n".join([*lines, *more]) + "\n"


def study_of(folder, change=None, more=(), **stream):
    site = {
        "site": {"name": "x"},
        "stream": {
            "gaugings": "gaugings.csv",
            "stage": "stage.csv",
            "ice_months": [],
            "cease_to_flow": "0 m",
        }
        | stream,
    }
    del site["stream"]["ice_months"]
    return open_study(
        small_study.write(folder, site, gaugings=gaugings(*more), stage=logged(change))
    )


def told(study, level=None):
    return [
        each.message
        for each in study.findings(("gaugings", "stage_record"))
        if level in (None, each.level) and "nothing says when ice" not in each.message
    ]


def jump_of_march(stage):
    stage[24 * 73 + 13 :] += 0.085  # 2024-03-14 13:00


def one_of_412(stage):
    stage[24 * 71 + 12] = 4.12


SHIFT = [{"from": datetime(2024, 3, 14, 13), "by": "-85 mm", "why": "bracket bent"}]


def test_a_sound_logger_is_left_as_it_is(tmp_path):
    study = study_of(tmp_path)
    assert told(study, "problem") == [] and told(study, "caution") == []
    assert np.array_equal(study.stage.to_numpy(), TRUE)
    assert "agree in 10 readings" in str(instruments.instruments_words(study, study.view()))


def test_the_jump_of_march_is_a_problem_with_the_line_that_mends_it(tmp_path):
    study = study_of(tmp_path / "raw", jump_of_march)
    (problem,) = told(study, "problem")
    assert problem.startswith(
        "from 2024-03-14 13:00 on, where it jumps, the logger reads 85 mm too high"
    )
    assert 'from = 2024-03-14 13:00:00, by = "-85 mm"' in problem
    # The line mends it: the record is that of the creek, and nothing more is told of it.
    mended = study_of(tmp_path / "mended", jump_of_march, shift=SHIFT)
    assert told(mended, "problem") == []
    assert np.allclose(mended.stage.to_numpy(), TRUE, atol=1e-9)
    true = study_of(tmp_path / "true")
    assert np.allclose(mended.own_record, true.own_record, rtol=1e-9)
    # Unmended the median would be far off, which is why it is a problem.
    assert study.own_record.median() > 1.3 * true.own_record.median()


def test_us_readers_are_told_in_inches(tmp_path):
    study = study_of(tmp_path, jump_of_march)
    (problem,) = [
        each.message for each in study.told("us", ("stage_record",)) if each.level == "problem"
    ]
    assert "3.35 in too high" in problem and 'by = "-3.35 in"' in problem


def test_one_stage_of_412_cm_is_left_out_and_said(tmp_path):
    study, true = study_of(tmp_path / "spiky", one_of_412), study_of(tmp_path / "true")
    (caution,) = told(study, "caution")
    assert (
        "1 stage as no creek makes it is left out" in caution
        and "4.12 m on 2024-03-12 12:00" in caution
    )
    assert 'suspect_stages = "used" keeps' in caution
    assert int(study.stage.isna().sum()) == 1
    apart = (study.own_record / true.own_record - 1).abs()
    assert apart.max() < 0.01 and (apart > 0).sum() <= 1
    kept = study_of(tmp_path / "kept", one_of_412, suspect_stages="used")
    assert kept.stage.max() == 4.12 and "used all the same" in told(kept, "caution")[0]


def test_the_neighbour_is_correlated_with_what_remains(tmp_path):
    """The spike once ruined the correlation, and a good neighbour was blamed for it."""
    days = [START.date() + timedelta(each - 3000) for each in range(3366)]
    flow = {START.date() + timedelta(int(hour) // 24): 0.0 for hour in HOURS}
    for hour, stage in zip(HOURS, TRUE):
        flow[START.date() + timedelta(int(hour) // 24)] += 90 * stage**2 * 10 / 24
    neighbour = "date,flow [L/s]\n" + "".join(
        f"{day},{10 * flow.get(day, 5 + 2 * np.cos(number / 58)):.2f}\n"
        for number, day in enumerate(days)
    )
    found = []
    for name, change in (("true", None), ("spiky", one_of_412)):
        folder = tmp_path / name
        study_of(folder, change, neighbour_record="neighbour.csv")
        (folder / "neighbour.csv").write_text(neighbour, encoding="utf-8")
        found.append(open_study(folder).extension)
    assert found[0].correlation > 0.99
    assert found[1].correlation == pytest.approx(found[0].correlation, abs=1e-3)


def test_a_stuck_logger_is_named_and_used_until_it_is_left_out(tmp_path):
    def stuck(stage):
        stage[3000:3150] = stage[3000]

    study = study_of(tmp_path / "raw", stuck)
    (caution,) = told(study, "caution")
    assert (
        "stands still in 1 stretch" in caution and "2024-05-04 14:00 to 2024-05-11 05:00" in caution
    )
    left = study_of(
        tmp_path / "left",
        stuck,
        leave_out=[
            {
                "from": datetime(2024, 5, 4, 14),
                "to": datetime(2024, 5, 11, 5),
                "why": "tube silted up",
            }
        ],
    )
    assert int(left.stage.isna().sum()) == 160 and told(left, "caution") == []
    assert any(
        "160 stages of 2024-05-04 14:00" in each and "tube silted up" in each
        for each in told(left, "note")
    )


def test_a_gap_is_explained(tmp_path):
    def gap(stage):
        stage[3000:3150] = np.nan

    def text(folder, **stream):
        study = study_of(folder, None, **stream)
        lines = (folder / "stage.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        (folder / "stage.csv").write_text("".join(lines[:3001] + lines[3151:]), encoding="utf-8")
        return open_study(study.path)

    assert any("nothing says why 1 gap" in each for each in told(text(tmp_path / "open")))
    entry = [{"from": date(2024, 5, 5), "to": date(2024, 5, 10), "why": "battery"}]
    said = told(text(tmp_path / "said", gap=entry))
    assert any("(battery)" in each for each in said) and not any(
        "nothing says why" in each for each in said
    )
    assert any(
        "holds 144 stages, which are used" in each
        for each in told(study_of(tmp_path / "none", gap=entry))
    )


def test_lists_that_change_nothing_are_named(tmp_path):
    late = [{"from": date(2030, 1, 1), "by": "5 mm", "why": "x"}]
    early = [{"from": date(2020, 1, 1), "to": date(2020, 1, 2), "why": "x"}]
    said = told(study_of(tmp_path, shift=late, leave_out=early), "caution")
    assert said == [
        "[[stream.shift]] 1 changes nothing: no stage lies after it",
        "[[stream.leave_out]] 1 changes nothing: no stage lies within it",
    ]


def test_gaugings_twice_or_to_come_are_named_by_their_line(tmp_path):
    first = gaugings().splitlines()[1]
    said = told(study_of(tmp_path, more=(first, "2096-07-04,0.2,36,5,bucket")))
    assert any(each.startswith("line 12 repeats the date, stage and flow") for each in said)
    assert any(
        each.startswith("line 13 has a date in the future, such as 2096-07-04") for each in said
    )


def test_a_date_in_quotes_is_refused_with_both_ways_to_write_it(tmp_path):
    with pytest.raises(
        InputError, match=r"shift\]\] 1 from must be a date such as .* or a time such as"
    ):
        study_of(tmp_path, shift=[{"from": "14.3.2024", "by": "-85 mm", "why": "x"}])


def test_the_page_shows_suspects_gaps_shifts_and_staff(tmp_path):
    def both(stage):
        jump_of_march(stage)
        one_of_412(stage)

    study = study_of(tmp_path, both)
    view = study.view()
    assert instruments.record_figure(study, view).alt.endswith("1 shift to be mended, 1 suspect.")
    table = instruments.staff_table(study, view)
    assert len(table.rows) == 10 and tuple(table.mark) == tuple(range(2, 10))
    assert table.rows[4][3] == "-85 mm"
    (row,) = instruments.suspects_table(study, view).rows
    assert row[2] == "beyond all others" and row[6] == "left out" and row[4] == 4.12
    assert "are wrong until" in str(instruments.instruments_words(study, view))
