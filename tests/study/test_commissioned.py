"""A commissioning in a study: its day stands on the card, later visits are held against it, and nothing read stops the run."""

import datetime

import numpy as np
import pytest
import small_study

from hydrokit.report.pages.p09.card import card_lines, card_sheet, card_words
from hydrokit.report.phone import card_page

HEAD = "date,jets,pressure [bar],watts [W],spilling,commissioning\n"
DAY = "2025-05-02,0,3.73,,yes,yes\n2025-05-02,1,3.55,1750,yes,yes\n2025-05-02,2,3.18,2960,yes,yes\n"


def study(folder, rows, **readings):
    return small_study.changed(
        folder,
        {"readings": HEAD + rows},
        site={"stage_of_work": "existing"},
        readings={"file": "readings.csv", **readings},
    )


def test_the_card_says_its_day_and_what_was_changed_since(tmp_path):
    change = {"date": datetime.date(2025, 9, 1), "what": "runner"}
    made = study(tmp_path, DAY, change=[change])
    sheet = card_sheet(made, made.view())
    assert "as commissioned on 2025-05-02" in sheet.caption
    assert "the runner on 2025-09-01" in card_lines(made, made.view()).text
    assert "2025-05-02" in card_words(made, made.view()).text
    assert "as commissioned on 2025-05-02" in card_page(made, made.view())
    plain = study(tmp_path / "plain", DAY)
    wide, narrow = made.card.rows[-1], plain.card.rows[-1]
    assert wide.power_high_w - wide.power_low_w > 1.5 * (narrow.power_high_w - narrow.power_low_w)


def test_a_new_commissioning_replaces_the_card_and_older_visits_keep_theirs(tmp_path):
    """The machine lost a tenth in between: a visit of before is healthy by the first card, not by the second."""
    again = DAY.replace("2025", "2026").replace("1750", "1575").replace("2960", "2664")
    old, new = "2025-08-02,2,3.18,2960,yes,\n", "2026-08-02,2,3.18,2664,yes,\n"
    made = study(tmp_path, DAY + old + again + new)
    assert made.card.days == ("2026-05-02",)
    assert made.card.rows[-1].power_w == pytest.approx(2664, rel=0.01)
    assert [day for day, _ in made.earlier_signatures] == ["", "2026-05-02"]
    first = {
        str(visit.when.astype("datetime64[D]")): made.diagnose(visit.looks, visit.when).first.key
        for visit in made.visits
    }
    assert first["2025-08-02"] == first["2026-08-02"] == "well"
    (visit,) = [each for each in made.visits if str(each.when)[:10] == "2025-08-02"]
    assert not made.diagnose(visit.looks).clear, "the card of today does not hold there"
    assert made.diagnose(visit.looks, visit.when).clear


FAULTY = {
    "gauge off": "{day},2,3.98,2950,yes,\n",
    "air": "{day},2,2.75,2350,yes,\n{day},1,3.12,1440,yes,\n{day},0,3.29,,yes,\n",
    "dry": "{day},2,0,0,no,\n",
    "dead": "{day},2,3.18,0,yes,\n",
}


@pytest.mark.parametrize(
    "faulty, state",
    [("gauge off", "gauge"), ("air", "air"), ("dry", "under_fed"), ("dead", "machine")],
)
@pytest.mark.parametrize("day", [DAY, DAY.replace(",yes\n", ",\n")], ids=["marked", "unmarked"])
def test_three_faulty_visits_are_diagnosed_and_stop_nothing(tmp_path, faulty, state, day):
    """The gauge shows more running than the healthy plant shut: that is no mistake of the sheet, it is a gauge."""
    rows = "".join(FAULTY[faulty].format(day=f"2025-0{month}-11") for month in (6, 7, 8))
    made = study(tmp_path, day + rows)
    assert made.card.days == ("2025-05-02",)
    assert made.card.rows[-1].power_w == pytest.approx(2960, rel=0.01)
    for visit in made.visits[-3:]:
        found = made.diagnose(visit.looks, visit.when)
        assert found.first.key == state and found.first.probability > 0.5


def test_a_pressure_below_zero_and_none_are_mistakes(tmp_path):
    with pytest.raises(Exception, match="missing or below zero"):
        study(tmp_path, DAY + "2025-06-01,2,-1,2900,yes,\n").readings  # noqa: B018
    assert np.all(np.isfinite(study(tmp_path / "x", DAY).readings.pressure_pa))
