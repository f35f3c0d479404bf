"""One list of what to measure next, and findings that do not contradict one another."""

import numpy as np
import pytest
import shared
import small_study

from hydrokit.report import next_measurements as measuring
from hydrokit.report.comparison import _unknown
from hydrokit.report.pages.p01 import gauging
from hydrokit.report.pages.p01 import rating as rating_page
from hydrokit.report.pages.p05 import today
from hydrokit.report.pages.p05 import year as energy_page

RATED = "date,stage [m],flow [L/s],uncertainty [%],method\n" + "".join(
    f"2022-{month:02d}-11,{stage},{300 * stage**2:.2f},5,bucket\n"
    for month, stage in enumerate((0.12, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4), 1)
)


def texts(study):
    return [line.split(" (")[0] for line in measuring.lines(study, study.view())]


def test_one_list_on_every_page(tmp_path):
    study = shared.small()
    lines = texts(study)
    assert len(lines) >= 3
    pages = [
        gauging.next_words(study, study.view()).text,
        energy_page.next_words(study, study.view()).text,
    ]
    for page in pages:
        places = [page.lower().find(line.lower()) for line in lines]
        assert all(place >= 0 for place in places) and places == sorted(places)
    table = str(gauging.worth_table(study, study.view()))
    assert all(line in table for line in lines)
    assert all(line in "; ".join(map(str, _unknown(study))) for line in lines[:1])


def test_a_rating_that_is_not_behind_the_record_ranks_nothing(tmp_path):
    """The record comes from a file; its error of 10 % is one factor for all its flows, the largest there is, and comes first."""
    study = small_study.changed(
        tmp_path,
        stream={"record_uncertainty": "25 %"},
        uncertainty={"efficiency": "2 %", "loss": "2 %"},
        files={"gaugings": RATED},
    )
    assert study.rating is not None
    kinds = [each.what for each in study.measure_next if each.what != "years"]
    assert kinds[0] == "flow" and "rating" not in kinds


def test_one_more_gauging_is_told_alike_wherever_it_stands(tmp_path):
    """The list, the table of stages, the headline and the answer: one stage, one share.

    By gaugings to 8 %: of better ones a further one narrows too little to be told, beside what two years leave open.
    """
    study = small_study.changed(
        tmp_path,
        stream={"record_uncertainty": None},
        files={"gaugings": RATED.replace(",5,bucket", ",8,bucket")},
    )
    view = study.view()
    ranked = [each for each in study.measure_next if each.what == "rating"]
    table = study.one_gauging
    assert ranked and 3 <= len(table) <= 6
    assert [each.stage_m for each in table[: len(ranked)]] == [each.stage_m for each in ranked]
    assert [each.narrowed for each in table] == sorted(each.narrowed for each in table)[::-1]
    best = study.answer("gauging.next")
    assert best.value == table[0].stage_m == ranked[0].stage_m
    line = next(
        each for each in measuring.lines(study, view) if "gauge the creek once more" in each
    )
    stage, share = view.text(best.value, "stage"), f"{100 * table[0].narrowed:.0f} %"
    assert f"stage about {stage}" in line and f"annual energy by {share}" in line
    head = gauging.headline(study, view).text
    assert f"(stage about {stage})" in head and f"annual energy by {share}" in head
    shown = rating_page.one_gauging_table(study, view)
    assert stage in shown.caption and shown.rows[0][5] == share
    for each in table:
        for now, after in (each.low, each.median):
            assert 0 < after < now
    # the spread now is that of the curve of duration
    lean = study.duration.flow_at_si(0.95)
    assert table[0].low[0] == pytest.approx(study.rating_error.sd_si(lean), rel=0.05)


def test_without_a_rating_behind_the_record_no_stage_is_named(tmp_path):
    study = small_study.changed(tmp_path, stream={"record_uncertainty": "25 %"})
    assert study.one_gauging is None and study.answer("gauging.next") is None


def test_more_years_halve_what_so_few_leave_open(tmp_path):
    """Independent: variance of a mean goes with one over the number of years."""
    study = shared.small()
    years = next(each for each in study.measure_next if each.what == "years")
    sd = study.energy_uncertainty.tornado["sd_kwh"]
    others = sd.drop(["weather", "years"]).pow(2).sum()
    assert years.before_kwh == pytest.approx(np.sqrt(others + sd["years"] ** 2), rel=1e-6)
    assert years.after_kwh == pytest.approx(np.sqrt(others + sd["years"] ** 2 / 2), rel=1e-6)
    assert "2 more years of record" in " ".join(texts(study))


def test_headline_and_table_of_gaugings_agree_where_to_gauge(tmp_path):
    study = shared.small()
    head = gauging.headline(study, study.view()).text
    best = next(each for each in study.measure_next if each.flows_m3s)
    where = study.view().range(*best.flows_m3s, "flow")
    assert f"worth most at {where}" in head and where in str(
        gauging.worth_table(study, study.view())
    )
    assert "low water most of all" not in " ".join(
        map(str, study.energy_uncertainty.next_measurements)
    )


def test_what_decides_is_by_the_plant_where_there_is_one(tmp_path):
    """analytic: nothing hangs on flows beyond what the plant takes with all that must stay."""
    study = shared.small()
    low, high = study.deciding_range
    most = max(curve.most_used_m3s for curve in study.plant.curves()) + 0.003
    assert low < high <= 1.06 * most < study.duration.flow_at_si(0.05)


def test_an_extended_record_is_not_told_to_be_extended(tmp_path):
    study = shared.odd("transferred")
    told = " | ".join(each.message for each in study.record_findings)
    assert study.extension is not None and "extend it" not in told
    assert "2 whole years of this creek's own, lengthened to 12 whole years" in told
    assert "2 whole years of record" in " ".join(
        each.message for each in shared.odd("plain").record_findings
    )


def without_record(**more):
    return {
        "stream": {
            key: None
            for key in ("record", "record_uncertainty", "temperature", "cease_to_flow", "control")
        }
        | more
    }


BUCKET = "volume [L],time [s]\n12,1.4\n12,1.5\n12,1.45\n"


def test_a_dated_sheet_is_a_gauging(tmp_path):
    """Independent: 12 L in 1.45 s."""
    site = without_record(gaugings=None, bucket="bucket.csv")
    dated = small_study.changed(
        tmp_path / "dated",
        files={"bucket": "volume [L],time [s],date\n12,1.4,2022-08-03\n12,1.5,\n12,1.45,\n"},
        **site,
    )
    assert len(dated.gaugings) == 1 and dated.gaugings.flow_m3s[0] == pytest.approx(
        0.012 / 1.45, rel=0.01
    )
    assert dated.bracket is not None and dated.monthly_flow.source[7] == "gaugings"
    plain = small_study.changed(tmp_path / "plain", files={"bucket": BUCKET}, **site)
    for study in (dated, plain):
        said = gauging.headline(study, study.view()).text
        assert "There are no gaugings yet" not in said and "8.2" in said
    assert "column date" in gauging.headline(plain, plain.view()).text
    # a sheet that is in the list already counts once
    both = small_study.changed(
        tmp_path / "both",
        files={
            "bucket": BUCKET.replace("[s]\n", "[s],date\n")
            .replace("12,1.4\n", "12,1.4,2022-08-03\n")
            .replace("12,1.5\n", "12,1.5,\n")
            .replace("12,1.45\n", "12,1.45,\n"),
            "gaugings": "date,flow [L/s]\n2022-08-03,8.28\n2022-05-01,20\n",
        },
        **without_record(bucket="bucket.csv"),
    )
    assert len(both.gaugings) == 2


def test_lowest_known_flow_is_told(tmp_path):
    study = small_study.changed(
        tmp_path,
        files={"gaugings": "date,flow [L/s]\n2022-08-03,8.3\n"},
        **without_record(lowest_known_flow="2.5 L/s"),
    )
    said = gauging.headline(study, study.view()).text
    assert "2.50 L/s" in said and "not known" not in said


def test_every_month_without_a_reading_is_named(tmp_path):
    study = small_study.changed(
        tmp_path, files={"gaugings": "date,flow [L/s]\n2022-08-03,8.3\n"}, **without_record()
    )
    said = gauging.next_words(study, study.view()).text
    assert (
        "No reading in 11 months of 12" in said
        and "January" in said
        and "May" in said
        and "August" not in said.split("No reading")[1].split(")")[0]
    )


def test_water_that_must_stay_is_said_in_one_way(tmp_path):
    study = small_study.changed(
        tmp_path,
        files={"gaugings": "date,flow [L/s]\n2022-08-03,8.3\n"},
        rights={"residual": None, "licence": None},
        **without_record(),
    )
    told = [each.message for each in study.findings() if "residual flow is given" in each.message]
    assert len(told) == 1 and "low end half of it" in told[0]
    assert any("half of the flow" in each for each in study.bracket.reasons)
    assert "narrow" in today.bracket_words(study, study.view()).text
    whole = small_study.changed(tmp_path / "record", rights={"residual": None})
    assert any("all water counts as available" in each.message for each in whole.rights.findings)


def test_a_half_is_not_called_near(tmp_path):
    study = shared.small()
    said = energy_page.month_words(study, study.view()).text
    month = study.answer("energy.month.p50").value
    assert "No month is far below" not in said
    assert "lean month" in said or f"brings {100 * month.min() / month.max():.0f} %" in said
