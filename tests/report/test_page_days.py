"""The page on days that remember: with all habits, with none, with a pond, without frost or without a record."""

import copy
import re

import pytest
import small_study
from small_study import SITE, write

from hydrokit.plant.schedule import LEAST_GAIN
from hydrokit.report.pages.p05 import days as page
from hydrokit.study.opening import open_study


@pytest.fixture(scope="module")
def study_of(tmp_path_factory):
    """The small study with other sections; kept, since tests only look."""
    made = {}

    def opened(name, files=None, **sections):
        if name not in made:
            site = {
                key: value
                for key, value in (copy.deepcopy(SITE) | sections).items()
                if value is not None
            }
            made[name] = open_study(
                write(tmp_path_factory.mktemp("days") / name, site, **(files or {}))
            )
        return made[name]

    return opened


def said(study, system="metric"):
    return small_study.said(page, study, system)


POND = [{"kind": "forebay", "area": "900 m^2", "depth": "0.5 m"}]
HABITS = {
    "jet_dead_band": "10 %",
    "visit_days": 5,
    "stops_per_winter": 1,
    "freezes_below": "2 degC",
    "thaws_above": "3 degC",
}
ALL = dict(operation=HABITS, part=POND, rights=SITE["rights"] | {"ramp": "0.05 L/s/day"})


def test_every_habit_is_told_with_its_number(study_of):
    study = study_of("all", **ALL)
    found, text = study.day_by_day, said(study)
    assert found.chosen == ("ramp", "jets", "pond", "frost")
    for part in (
        "every 5 days",
        "10 % more power",
        "may rise by no more than 0.050 L/s a day",
        "stores from one day to the next",
        "drawn at random",
        "The gross energy is",
        "The net energy is",
        "2 °C or below",
        "above 3 °C",
    ):
        assert part in text, part
    year = study.year
    gross, net = study.answer("energy.gross").value, study.answer("energy.net").value
    assert (
        gross - sum(step.kwh.sum() for step in year.steps) == pytest.approx(net)
        and year.pond_kwh.sum() > 0
    )
    lost = sum(found.remembered.cost_kwh[name].sum() for name in ("ramp", "jets", "frost"))
    assert lost == pytest.approx(sum(step.kwh.sum() for step in year.steps))
    assert found.habits.pond_m3 == pytest.approx(
        450
    ) and found.habits.ramp_m3s_per_day == pytest.approx(0.05e-3)


def test_the_year_without_memory_is_the_gross_year_of_the_page(study_of):
    """2e-4: the walk has a curve for each number of jets, the weights one for all."""
    study = study_of("hands", operation={"visit_days": 4})
    year = study.year
    assert study.day_by_day.remembered.free_kwh.sum() == pytest.approx(
        year.gross_annual_kwh, rel=2e-4
    )
    assert year.gross_annual_kwh - sum(step.kwh.sum() for step in year.steps) == pytest.approx(
        year.annual_kwh, rel=1e-9
    )
    assert list(study.results()["days"]) == ["jets_cost_kwh"]


def test_us_readers_get_their_units(study_of):
    text = said(study_of("all", **ALL), "us")
    assert "36 °F" in text and "gpm a day" in text and not re.search(r"\d (L/s|°C|m³)", text)


def test_without_habits_it_says_what_to_write(study_of):
    study = study_of("plain")
    text = said(study)
    assert (
        study.day_by_day.chosen == ()
        and "visit_days" in text
        and "No day on record is that cold" in text
    )
    assert "days" not in study.results()


def test_one_dead_band_for_the_table_of_jets_and_the_days(study_of):
    """A plant that is looked at every few days, and nothing said of the dead band: both take the table's own."""
    quiet = study_of("looked at", operation={"visit_days": 3})
    told = study_of("told", operation={"visit_days": 3, "jet_dead_band": f"{100 * LEAST_GAIN:g} %"})
    none = study_of("none", operation={"visit_days": 3, "jet_dead_band": "0 %"})
    assert quiet.year.annual_kwh == pytest.approx(told.year.annual_kwh, rel=1e-12)
    assert quiet.year.annual_kwh != pytest.approx(none.year.annual_kwh, rel=1e-6)
    assert [band.from_m3s for band in quiet.jet_plan.schedule.bands] == [
        band.from_m3s for band in told.jet_plan.schedule.bands
    ]


def test_a_small_pond_says_that_it_is_small(study_of):
    text = said(
        study_of("small pond", part=[{"kind": "forebay", "area": "4 m^2", "depth": "0.3 m"}])
    )
    assert (
        "1.2 m³ feed the plant for" in text
        and "too short to store water from one day to the next" in text
    )


@pytest.mark.parametrize(
    "name, sections, files, says",
    [
        ("no air", {"stream": {key: value for key, value in SITE["stream"].items() if key != "temperature"}, "operation": HABITS}, None, ["needs the air temperature of every day", "every 5 days"]),
        ("short air", {"operation": HABITS}, {"temperature": "date,temperature [degC]\n2021-10-01,3\n2021-10-02,4\n"}, ["needs the air temperature of every day"]),
        ("never cold", {"operation": {"freezes_below": "-40 degC", "stops_per_winter": 3}}, None, ["No day on record is that cold", "costs next to nothing"]),
        ("always frozen", {"operation": {"freezes_below": "9 degC", "thaws_above": "20 degC", "stops_per_winter": 90}}, None, ["One stop on a frosty day", "frost costs"]),
        ("once", {"operation": {"visit_days": 60, "jet_dead_band": "100 %"}}, None, ["every 60 days", "100 % more power"]),
        ("under_fed", {"operation": {"under_fed_freezes": True, "freezes_below": "2 degC"}}, None, ["0 stops on frosty days", "frost costs"]),
        ("bare", {"stream": {"gaugings": "gaugings.csv", "cease_to_flow": "0 m"}}, None, ["a daily record of flow"]),
        ("cool year", {"stream": {key: SITE["stream"][key] for key in ("gaugings", "temperature", "cease_to_flow")}}, None, ["a daily record of flow"]),
    ],
)  # fmt: skip
def test_other_studies_read_true(study_of, name, sections, files, says):
    text = said(study_of(name, files, **sections))
    assert all(each in text for each in says), text


def test_a_thaw_below_the_frost_is_told(study_of):
    study = study_of("slip", operation={"freezes_below": "4 degC", "thaws_above": "1 degC"})
    assert (
        study.day_by_day is None
        and "[operation]" in study.refused["day_by_day"]
        and "must thaw" in said(study)
    )
