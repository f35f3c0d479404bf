"""How long still water has, and nights of frazil weather: one answer on every page and sheet, the worse of bare and snowed where it is printed."""

from __future__ import annotations

import re
from datetime import date, timedelta

import numpy as np
import pytest
import small_study

from hydrokit.errors import InputError
from hydrokit.report.pages.p03 import frost
from hydrokit.report.pages.p05 import days
from hydrokit.report.pages.p09 import winter
from hydrokit.report.prints.print_set import sheets_of
from hydrokit.report.prints.records import winter_plan
from hydrokit.running.winter import climate
from hydrokit.study.keyed import keys, plain

DAYS = [date(2020, 7, 1) + timedelta(each) for each in range(1461)]
AIR = "date,temperature [degC]\n" + "".join(
    f"{day},{2 - 14 * np.cos(2 * np.pi * (number - 195) / 365.25) - 3 * (number % 7 == 0):.1f}\n"
    for number, day in enumerate(DAYS)
)
LIES = {
    "snow": "0.6 m",
    "stretch": [
        {"name": "bridge over the gully", "from": "60 m", "to": "75 m", "snow": "0 m"},
        {"name": "wrapped", "from": "80 m", "to": "90 m", "insulation": "60 mm"},
    ],
}


@pytest.fixture(scope="module")
def cold(tmp_path_factory):
    return small_study.changed(
        tmp_path_factory.mktemp("cold"),
        {"temperature": AIR.replace("-0.0\n", "0.0\n")},
        penstock=LIES,
    )


def told(made):
    text = getattr(made, "marked", None)
    return keys(
        text
        if text is not None
        else re.sub(
            r'<data value="([a-z0-9_.]+)">([^<]*)</data>',
            "\ue000\\1\ue001\\2\ue002",
            made._repr_html_(),
        )
    )


SECTIONS = (
    frost.frost_table,
    frost.frost_words,
    winter.freezing_table,
    winter.stop_words,
    winter.calendar_table,
    winter.penstock_steps_table,
    frost.frazil_words,
    winter.winter_words,
)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_one_time_a_stretch_and_state_on_every_page(cold, system):
    seen = {}
    for section in SECTIONS:
        for key, text in told(section(cold, cold.view(system))):
            seen.setdefault(key, set()).add(text)
    assert {
        "freeze.worst",
        "freeze.bridge_over_the_gully.bare",
        "freeze.wrapped.snow",
        "freeze.line.penstock",
        "frazil.days",
        "frazil.nights.1",
    } <= seen.keys()
    assert all(len(texts) == 1 for texts in seen.values()), {
        key: texts for key, texts in seen.items() if len(texts) > 1
    }


def test_printed_sheets_take_the_worse_of_bare_and_snowed(cold):
    """Every value is one of the frost worked out for the coldest day of the record, whether snow lies or not; the least goes to the sheets."""
    both = [each.blocked_s for each in (*cold.frost.stretches, *cold.frost.without_snow)]
    assert cold.frost.air_temperature_k == pytest.approx(273.15 + cold.temperature.min())
    assert cold.answer("freeze.worst").value == min(both)
    step = next(step for step in cold.steps["penstock"] if step.question == "freeze.line.penstock")
    assert step.value == min(both)
    assert next(job for job in cold.jobs if job.question == "freeze.worst").value == min(both)
    for each in cold.freeze:
        assert each.bare_s <= each.snow_s


def test_the_winter_plan_goes_from_autumn_to_spring_with_the_reason_of_each_figure(cold):
    (sheet,) = winter_plan(cold, cold.view())
    body = sheet.body
    jobs = re.findall(r"<tr>(.*?)</tr>", body[body.index("<caption>Jobs") :])
    months = [re.search(r"<td>(.*?)</td>", row)[1][:3] for row in jobs[1:]]
    order = ["Sep", "Oct", "Nov", "Dec", "Jan", "Feb", "Mar", "Apr", "May"]
    assert months == sorted(months, key=order.index) and len(set(months)) > 2
    about, said = plain(sheet.about), re.sub("<[^>]*>", "", re.sub("</?data[^>]*>", "", body))
    assert re.search(r"at the most: [\d,.]+ \([A-Z]", about)
    assert "stops that freeze the line this month cost more than: " in said
    assert said.count(" nights") <= 1 + said.count("nights with the weather for frazil")


def test_a_bare_stretch_has_its_own_time_in_the_calendar(cold):
    (job,) = [job for job in cold.jobs if job.job.startswith("Wrap or bank")]
    assert (
        job.question == "freeze.bridge_over_the_gully.bare"
        and job.value == cold.answer(job.question).value
    )


def test_the_nights_of_the_months_add_up_to_the_one_count(cold):
    nights = climate(cold.temperature).frazil_nights
    assert cold.answer("frazil.days").value == sum(round(float(each)) for each in nights)
    text = winter.winter_words(cold, cold.view()).text
    assert f"{cold.answer('frazil.days').value:.0f} a year" in text
    assert (
        f"{cold.answer('frazil.days').value:.0f} nights a year"
        in frost.frazil_words(cold, cold.view()).text
    )


def test_the_colder_of_record_and_site_file_counts(tmp_path):
    warmer = small_study.changed(tmp_path / "a", site={"coldest": "5 degC"})
    colder = small_study.changed(tmp_path / "b", site={"coldest": "-30 degC"})
    assert warmer.frost.air_temperature_k == pytest.approx(273.15 + warmer.temperature.min())
    assert colder.frost.air_temperature_k == pytest.approx(243.15)
    assert colder.standing.blocked_s[2].min() < warmer.standing.blocked_s[2].min()
    assert colder.answer("freeze.worst").value < warmer.answer("freeze.worst").value
    assert colder.answer("frost.depth").value > warmer.answer("frost.depth").value


def test_what_never_freezes_says_so(tmp_path):
    """Days of one degree have nights of frost, but no water freezes in a pipe."""
    mild = "date,temperature [degC]\n" + "".join(f"{day},1.0\n" for day in DAYS)
    study = small_study.changed(tmp_path, {"temperature": mild})
    assert plain(study.view().shown(study.answer("freeze.worst"))) == "does not freeze"
    assert (
        "no stretch of pipe with still water is blocked"
        in frost.frost_words(study, study.view()).text
    )
    assert not [job for job in study.jobs if "drain within" in job.job]


ICE = (*SECTIONS[:4], *SECTIONS[6:], winter.winter_figure, winter.alarm_table, winter.alarm_words,
       winter.stop_table, frost.running_water_words, frost.frost_cautions)  # fmt: skip


@pytest.mark.parametrize("how", ["by temperature", "none"])
def test_a_creek_without_frost_gets_no_word_of_ice(how, tmp_path, cold):
    """By a record no night of which comes to freezing point, or by the owner's word over a cold one."""
    warm = "date,temperature [degC]\n" + "".join(f"{day},7.0\n" for day in DAYS)
    texts = {"temperature": warm} if how == "by temperature" else {"temperature": AIR}
    study = small_study.changed(tmp_path, texts, site={"frost": how}, penstock=LIES)
    for section in ICE:
        assert section(study, study.view()).text == ""
        assert str(section(cold, cold.view())) != ""
    assert study.frost is None and study.answer("freeze.worst") is None
    assert not re.search(r"\bice\b", repr(winter.hands(study, study.view())).lower())
    for table in (winter.calendar_table, winter.penstock_steps_table):
        assert "frost" not in repr(table(study, study.view())).lower()
    for sheet in sheets_of(study, study.view()):
        assert not re.search(r"\bice\b|frost|frazil|freez|snow", sheet.body.lower()), sheet.name


def test_the_drain_rule_needs_no_more_than_the_coldest_day(tmp_path):
    """No thermometer's record: a month of the coldest day known, in the months of winter."""
    told = small_study.changed(
        tmp_path / "a", site={"coldest": "-12 degC"}, stream={"temperature": None}, penstock=LIES
    )
    (job,) = [job for job in told.jobs if "drain within" in job.job]
    assert job.month == 12 and "end of February" in job.job
    assert job.value == told.answer("freeze.worst").value < 86400
    step = next(step for step in told.steps["penstock"] if step.question == "freeze.line.penstock")
    assert step.value == job.value
    assert "a frost of 30 days at -12 °C" in frost.frost_words(told, told.view()).text
    unknown = small_study.changed(tmp_path / "b", stream={"temperature": None}, penstock=LIES)
    assert not [job for job in unknown.jobs if "drain within" in job.job]
    assert "an example" in frost.frost_words(unknown, unknown.view()).text


def test_stops_count_from_the_first_month_whose_days_freeze_the_line(tmp_path):
    """A November whose mean is above freezing point, with one spell of frost in one of four years."""
    day = [each for each in DAYS if each.month == 11 and each.year == 2022][20]
    spell = "date,temperature [degC]\n" + "".join(
        f"{each},{-12.0 if 0 <= (each - day).days < 4 else 9 - 11 * np.cos(2 * np.pi * (n - 195) / 365.25):.1f}\n"
        for n, each in enumerate(DAYS)
    ).replace("-0.0", "0.0")
    study = small_study.changed(tmp_path, {"temperature": spell})
    assert 11 not in study.climate.frost_months
    (job,) = [job for job in study.jobs if "drain within" in job.job]
    assert job.month == 11


def test_a_flow_beyond_the_jets_is_out_of_reach(cold):
    """The bare bridge would need more water than two jets pass; both pages say so, of each stretch that does."""
    for table in (frost.frost_table, winter.freezing_table):
        assert "out of reach: " in repr(table(cold, cold.view()))
        assert ", the jets pass " in repr(table(cold, cold.view()))
    words = frost.frost_words(cold, cold.view()).text
    assert "No flow that the line ever has keeps it open by its friction" in words


def test_snow_and_its_rule_are_told_where_there_is_any(cold, tmp_path):
    """Over what it lies, how it comes and goes, in the reader's degrees; without snow no column is kept for it."""
    for system, melts in (
        ("metric", "a day at 5 °C melts 80 mm"),
        ("us", "a day at 41 °F melts 3.1 in"),
    ):
        assert melts in frost.frost_words(cold, cold.view(system)).text
    assert "0.60 m of snow over its crown in mid winter" in repr(
        frost.frost_table(cold, cold.view())
    )
    bare = small_study.changed(tmp_path, {"temperature": AIR}, penstock={"cover": "0.3 m"})
    for table in (frost.frost_table, winter.freezing_table):
        assert "without the snow" in repr(table(cold, cold.view())) or "without snow" in repr(
            table(cold, cold.view())
        )
        assert "snow" not in repr(table(bare, bare.view()))
    assert "snow" not in frost.frost_words(bare, bare.view()).text.lower()


def test_snow_that_was_read_goes_before_the_rule(tmp_path):
    """A column of the record: no snow in the worst frost leaves the pipe bare, twice the usual depth keeps it; a negative one is refused."""
    usual = [40 if each.month in (1, 2) else 0 for each in DAYS]

    def read(depths):
        rows = AIR.strip().split("\n")
        sheet = [rows[0] + ",snow [cm]", *(f"{a},{b}" for a, b in zip(rows[1:], depths))]
        return {"temperature": "\n".join(sheet) + "\n"}

    none, ruled, deep = (
        small_study.changed(tmp_path / name, files, penstock={"snow": "0.6 m"})
        for name, files in (
            ("a", read([0 if each.month in (1, 2) and each.day > 3 else 40 for each in DAYS])),
            ("b", {"temperature": AIR}),
            (
                "c",
                read(
                    [
                        80 if each.month == 12 else each_usual
                        for each, each_usual in zip(DAYS, usual)
                    ]
                ),
            ),
        )
    )
    assert none.cold.cold.snow_share is not None and ruled.cold.cold.snow_share is None
    assert none.answer("freeze.penstock.snow").value == pytest.approx(
        none.answer("freeze.penstock.bare").value
    )
    share = deep.cold.cold.snow_share
    assert max(share) == 1.0 and deep.cold.cold.snow_m(0.6).max() == pytest.approx(0.6)
    assert "as the record of air temperature has it" in frost.frost_words(deep, deep.view()).text
    with pytest.raises(InputError, match="snow of 2020-07-01 is below zero"):
        small_study.changed(tmp_path / "d", read([-1, *usual[1:]])).read()


def test_the_depth_of_frost_and_the_pipe_in_it_are_one_answer(tmp_path):
    """A pipe just above the depth that the pages name freezes, one just below it never does."""
    air = {"temperature": AIR}
    first = small_study.changed(tmp_path / "a", air, penstock={"cover": "0.3 m"})
    depth = first.answer("frost.depth").value
    assert 0.3 < depth < first.climate.stefan_m
    assert isinstance(first.answer("freeze.penstock.bare").value, float)
    below = small_study.changed(tmp_path / "b", air, penstock={"cover": f"{depth + 0.01:.3f} m"})
    assert below.answer("freeze.penstock.bare").value == "does not freeze"
    for page in (frost.frost_words, winter.winter_words):
        assert ("frost.depth", f"{depth:.2g} m") in {
            (key, text) for key, text in told(page(first, first.view()))
        }


def test_the_days_on_which_a_stop_freezes_are_those_of_the_same_pipe(tmp_path):
    """Day states: a bare pipe freezes by the air of each day, a buried one by its ground, one below the frost never; the owner's word goes before."""
    stops = {"operation": {"stops_per_winter": 2}}
    air = {"temperature": AIR}

    def lies(name, **how):
        return small_study.changed(tmp_path / name, air, penstock=how, **stops)

    bare, buried, deep = lies("a"), lies("b", cover="0.4 m"), lies("c", cover="6 m")
    pipe = bare.frost.stretches[0]
    # what blocks within a day takes a day at that temperature
    day = 86400 * (273.15 - bare.felt.freezes_below_k)
    assert pipe.blocked_s * (273.15 - bare.frost.air_temperature_k) == pytest.approx(day, rel=1e-6)
    frosty = {
        name: study.day_by_day.stops.frosty.sum()
        for name, study in (("bare", bare), ("buried", buried))
    }
    assert 0 < frosty["buried"] < frosty["bare"]
    assert deep.answer("freeze.penstock.bare").value == "does not freeze"
    assert not deep.day_by_day.stops.frosty.any()
    told = small_study.changed(
        tmp_path / "d", air, operation={"stops_per_winter": 2, "freezes_below": "-5 degC"}
    )
    assert told.felt is None and told.day_by_day.habits.freezes_below_degc == pytest.approx(-5)
    assert "worst stretch (penstock)" in days.stop_words(bare, bare.view()).text
    assert "mean temperature of -5 °C or below" in days.stop_words(told, told.view()).text


def test_one_of_a_thing_is_told_as_one():
    from hydrokit.study.view import View

    assert [View().duration(each) for each in (60.0, 3600.0 * 2, 86400.0 * 3)] == [
        "1 minute",
        "2 hours",
        "3 days",
    ]
