"""Where two places of one report tell of one thing: a sentence and its table, a headline and its reason, two pages."""

from __future__ import annotations

import re

import numpy as np
import odd_studies
import pytest
import shared
import small_study

from hydrokit.report.pages.p01 import gauging
from hydrokit.report.pages.p04 import size_figures
from hydrokit.report.pages.p05 import days, machines, today
from hydrokit.report.pages.p06 import using, warmth
from hydrokit.report.pages.p09 import winter
from hydrokit.report.parts_list import parts_list
from hydrokit.study.build.ladder import limiting


def flat(shown):
    """A text without its marks."""
    return str(shown).replace("**", "")


def test_a_stated_demand_is_not_said_to_be_lacking():
    """One gauging: the demand is given, what meets it by month is not known, and that is the reason told."""
    thin = shared.odd("thin")
    assert thin.site.loads.demand and thin.answer("demand.met") is None
    text = flat(using.headline(thin, thin.view()))
    assert "no demand is given" not in text and "daily record" in text
    free = shared.odd("no demand")  # without any demand the old reason stands
    assert "no demand is given" in flat(using.headline(free, free.view()))


@pytest.fixture(scope="module")
def half_known(tmp_path_factory):
    """A heated house on gaugings of January to June."""
    return odd_studies.opened(
        tmp_path_factory.mktemp("half"),
        "heated house",
        site={"stage_of_work": "existing"},
        stream={"record": None, "record_uncertainty": None},
        reading=[
            {"jets": 0, "pressure": "3.6 bar"},
            {"jets": 1, "pressure": "3.4 bar"},
            {"jets": 2, "pressure": "3.2 bar", "watts": "2810 W"},
        ],
    )


def test_the_heat_of_some_months_is_not_told_as_that_of_a_year(half_known):
    """independent: the heat of January to June by degree-days is what is told, and the months with it."""
    air = half_known.temperature
    seen = air[air.index.month <= 6]
    kwh = 90 * (20 - seen).clip(lower=0).groupby(seen.index.month).mean()
    days_of_months = np.array([31, 28.25, 31, 30, 31, 30])
    needed = half_known.answer("heat.needed").value
    assert needed == pytest.approx((kwh.to_numpy() * days_of_months * 24 / 1000).sum(), rel=2e-3)
    assert half_known.warmth.year.months == (1, 2, 3, 4, 5, 6)
    for section in (using.headline, warmth.heat_words, warmth.fuel_words):
        text = flat(section(half_known, half_known.view()))
        assert "in January to June, the months whose power is known" in text, section.__name__
        assert ".Of" not in text
    assert "mean year" not in flat(warmth.heat_words(half_known, half_known.view()))
    assert warmth.heat_table(half_known, half_known.view()).rows[-1][0] == "these months"


def test_one_stop_costs_the_same_digits_on_two_pages(tmp_path):
    study = small_study.changed(
        tmp_path,
        operation={
            "jet_dead_band": "8 %",
            "visit_days": 3,
            "stops_per_winter": 1,
            "freezes_below": "0 degC",
        },
    )
    five, nine = (
        {row[0]: tuple(row[first : first + 2]) for row in page.stop_table(study, study.view()).rows}
        for page, first in ((days, 4), (winter, 4))
    )
    assert five and five == nine
    text = flat(days.stop_words(study, study.view()))
    told = {each.replace(",", "") for each in re.findall(r"([\d,]+) kWh", text)}
    assert any(f"{low:.0f}" in told for low, _ in five.values())


def test_the_flow_from_which_all_machines_run_is_that_of_the_table():
    study = shared.odd("several machines")
    text = flat(machines.sets_words(study, study.view()))
    last = machines.sets_table(study, study.view()).rows[-1]
    told = float(re.search(r"with all machines from ([\d.]+) L/s", text).group(1))
    assert told == pytest.approx(float(last[1]), abs=0.05)


@pytest.fixture(scope="module")
def dry(tmp_path_factory):
    """The small creek with 0.35 of its water: too little for the larger size that is to be tried."""
    head, *days_ = small_study.FILES["flow.csv"].splitlines()
    flow = [
        f"{day},{0.35 * float(value):.2f}" for day, value in (each.split(",") for each in days_)
    ]
    return small_study.changed(
        tmp_path_factory.mktemp("dry"), {"flow": "\n".join([head, *flow]) + "\n"}
    )


def test_one_size_left_is_said_and_not_drawn(dry):
    assert len(dry.sizing.flows_m3s) == 1
    assert "Only one design flow is tried" in str(size_figures.map_figure(dry, dry.view()))


@pytest.mark.parametrize("name", ["dry", "leak"])
def test_no_jet_is_to_be_opened_for_no_watt(dry, name):
    """On the median day of a month the table of limits, the schedule and the days agree whether the plant runs."""
    study = dry if name == "dry" else shared.odd(name)
    plan, running = study.jet_plan, 0
    for month in range(1, 13):
        found = limiting(study, month)
        assert (found.best_jets > 0) == (found.best_w > 0)
        assert plan.jets[month - 1] == found.best_jets
        running += found.best_jets > 0
    assert 0 < running < 12 or name == "dry"


def test_a_lowest_flow_that_is_known_is_not_said_to_be_unknown(tmp_path):
    found = odd_studies.opened(
        tmp_path, "thin", stream={"lowest_known_flow": "2 L/s"}, rights={"licence": "20 L/s"}
    )
    text = flat(gauging.headline(found, found.view()))
    assert "the lowest flow known of this creek is 2 L/s" in text and "not known" not in text
    bare = shared.odd("thin")
    assert "is not known" in flat(gauging.headline(bare, bare.view()))


def test_a_line_that_stalls_is_worth_what_runs_without_it():
    """What freeing it brings is the power of the same plant behind a line that runs; the machine to buy is that one's too."""
    stalls, runs = shared.odd("line that stalls"), shared.odd("line that runs")
    found = limiting(stalls)
    assert (found.part, found.flow_m3s, found.power_w) == ("diversion line", 0.0, 0.0)
    assert found.behind_w == pytest.approx(limiting(runs).power_w, rel=1e-6)
    assert limiting(runs).power_w > 3000
    for item in ("turbine", "generator"):
        one, other = (
            [each.what for each in parts_list(study, study.view()) if item in each.what]
            for study in (stalls, runs)
        )
        assert one == other and one, item
    assert stalls.answer("energy.net").value == 0
    assert stalls.money.first_money == pytest.approx(runs.money.first_money, rel=1e-6)


def test_what_is_not_known_of_unlike_jets_has_no_row():
    study = shared.odd("jets of two bores")
    table = today.today_table(study, study.view())
    assert len(table.rows) == 1 and "nan" not in repr(table)
