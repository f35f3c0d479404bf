"""Studies side by side: the order and its reasons, costs by hand, hostile text."""

import csv
import io
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from small_creek import small_study

from hydrokit import cli
from hydrokit.errors import InputError
from hydrokit.report.comparison import (
    Candidate,
    candidate,
    limiting_text,
    named_apart,
    ordered,
    table_text,
)
from hydrokit.report.pages import comparison as page
from hydrokit.sentences import Amount, Sentence
from hydrokit.study.opening import open_study
from hydrokit.study.view import View

NAN = float("nan")
BASE = Candidate(
    "A",
    "",
    False,
    currency="crowns",
    head_m=46.0,
    flow_m3s=0.016,
    power_w=4100.0,
    p50_kwh=26000.0,
    secure_kwh=19000.0,
    winter_secure_kwh=9000.0,
    winter_share=0.5,
    winter=(12, 1, 2),
    low_kwh=NAN,
    high_kwh=NAN,
    cost_money_per_kwh=0.10,
    cost_sd=0.05,
    limiting=(("creek", 0.6), ("jets", 0.4)),
    limiting_of="the year",
    lacking=(),
    unknown=("the residual flow", Sentence("read {p} once more", p=Amount(3.5e5, "pressure"))),
)
HOSTILE = '<script>alert("1")</script> =1+1 | `x` **b** $a_b$\nсело'


def whole_page(order, view):
    from hydrokit.runner.single import page_of

    return page_of(page.HEADING, "studies", page.sections(order, view), page.headline(order, view))


def some(name, **changes):
    return replace(BASE, name=name, **changes)


# --- the order ------------------------------------------------------------------------------


def test_the_cheapest_kwh_first_and_the_reasons_say_what_else_speaks():
    dear, cheap = (
        some("Dear", cost_money_per_kwh=0.20),
        some("Cheap", cost_money_per_kwh=0.10, secure_kwh=12000.0),
    )
    order = ordered([dear, cheap])
    assert (
        [each.name for each in order.ranked] == ["Cheap", "Dear"]
        and order.by == "cost"
        and order.apart == (True,)
    )
    first, second = page.reasons(order)
    assert "levelised cost is 0.10 crowns" in first
    assert "Dear has the higher P90 (19,000 kWh)" in first
    assert "100 % more than the first" in second
    assert (
        str(page.headline(order, View("metric")))
        == "**Cheap** first: its levelised cost is 0.10 crowns per kWh, compared with 0.20 crowns."
    )


def test_a_lead_within_the_uncertainty_is_said_to_be_none():
    # standard deviation of the difference: hypot(0.10 x 0.05, 0.105 x 0.05) = 0.00725
    near, clear = some("B", cost_money_per_kwh=0.105), some("B", cost_money_per_kwh=0.108)
    assert ordered([BASE, near]).apart == (False,) and ordered([BASE, clear]).apart == (True,)
    assert "less than the uncertainty" in str(page.headline(ordered([BASE, near]), View("metric")))
    assert (
        "uncertainty of the figures is larger than its lead over B"
        in page.reasons(ordered([near, BASE]))[0]
    )


@pytest.mark.parametrize("change", [{"currency": "dollars"}, {"cost_money_per_kwh": NAN}])
def test_without_a_common_cost_the_energy_of_a_bad_year_decides(change):
    order = ordered([BASE, some("B", secure_kwh=25000.0, p50_kwh=30000.0, **change)])
    assert order.by == "energy" and [each.name for each in order.ranked] == ["B", "A"]
    assert order.apart == (False,)  # a P90 of 25,000 is within a P50 of 26,000
    assert "costs are not known for all of them in one currency" in str(
        page.order_words(order, View("metric"))
    )


def test_a_study_without_a_record_is_not_comparable_and_shows_its_bracket():
    waiting = some(
        "Thin",
        exists=True,
        p50_kwh=NAN,
        secure_kwh=NAN,
        winter_secure_kwh=NAN,
        winter_share=NAN,
        low_kwh=3400.0,
        high_kwh=25000.0,
        cost_money_per_kwh=NAN,
    )
    running = some("Old", exists=True, cost_money_per_kwh=NAN)
    order = ordered([waiting, running, BASE])
    assert [each.name for each in order.every] == ["A", "Old", "Thin"] and order.by == "cost"
    told = page.reasons(order)
    assert "runs today, so it is not ranked with the plants to be built" in told[1]
    assert "not comparable yet" in told[2] and "between 3,400 kWh and 25,000 kWh" in told[2]
    table = repr(page.numbers_table(order, View("metric")))
    assert "between 3,400" in table and "nan" not in table.lower()
    assert "None can be ranked yet" in str(page.headline(ordered([waiting]), View("metric")))
    assert "Thin must be measured first" in str(page.headline(ordered([waiting]), View("metric")))


def test_hostile_text_is_text_in_page_and_table():
    order = ordered(
        [
            some(HOSTILE, place=HOSTILE, limiting=((HOSTILE, 1.0),), unknown=(HOSTILE,)),
            some("B", currency="<i>", cost_money_per_kwh=0.2),
            some(HOSTILE, secure_kwh=NAN, cost_money_per_kwh=NAN),
        ]
    )
    for system in ("metric", "us"):
        text = whole_page(order, View(system))
        assert (
            "<script" not in text
            and "<b>" not in text
            and "<i>" not in text
            and "<strong>b</strong>" not in text
        )
        assert "&lt;script&gt;" in text and "село" in text
    rows = list(csv.reader(io.StringIO(table_text(order, page.reasons(order), View("metric")))))
    assert len(rows) == 4 and all(len(row) == len(rows[0]) for row in rows)
    assert not any(
        cell[:1] in "=+-@"
        for row in rows
        for cell in row
        if cell and not re.fullmatch(r"-?[\d.]+", cell)
    )
    assert (
        list(csv.reader(io.StringIO(table_text(ordered([some("=cmd()")]), [""], View("us")))))[1][1]
        == "'=cmd()"
    )


@pytest.mark.parametrize(
    "system, wrong",
    [("us", r"\[(m|L/s)\]|\d (bar|L/s)\b"), ("metric", r"\[(ft|gpm)\]|\d (psi|gpm)\b")],
)
def test_the_readers_units_throughout(system, wrong):
    order = ordered([BASE, some("B", low_kwh=1.0, high_kwh=2.0, secure_kwh=NAN)])
    view = View(system)
    assert not re.search(
        wrong, whole_page(order, view) + table_text(order, page.reasons(order), view)
    )
    row = list(csv.reader(io.StringIO(table_text(order, page.reasons(order), view))))[1]
    assert float(row[3]) == pytest.approx(46 if system == "metric" else 46 / 0.3048, rel=1e-3)
    assert float(row[4]) == pytest.approx(16 if system == "metric" else 16 / 0.0630902, rel=1e-3)


# --- ranked by what the reader asks ---------------------------------------------------------


def test_the_reader_says_what_comes_first_and_running_plants_are_ranked_too():
    many = some(
        "Many",
        p50_kwh=30000.0,
        winter_secure_kwh=3000.0,
        benefit_money=500.0,
        benefit_sd_money=20.0,
    )
    dear = some(
        "Dear",
        p50_kwh=26000.0,
        winter_secure_kwh=7000.0,
        benefit_money=900.0,
        benefit_sd_money=20.0,
    )
    runs = some("Runs", exists=True, p50_kwh=28000.0, winter_secure_kwh=5000.0, benefit_money=-40.0)
    firsts = {
        rank: [each.name for each in ordered([dear, runs, many], rank).ranked]
        for rank in ("kwh", "benefit", "winter")
    }
    assert firsts == {
        "kwh": ["Many", "Runs", "Dear"],
        "benefit": ["Dear", "Many", "Runs"],
        "winter": ["Dear", "Runs", "Many"],
    }
    order = ordered([dear, runs, many], "benefit")
    assert "**Dear** first: its net annual benefit is 900 crowns, compared with 500 crowns." == str(
        page.headline(order, View("metric"))
    )
    assert "its net annual benefit is -40 crowns" in page.reasons(order)[2]
    assert "net annual benefit, as asked" in str(page.order_words(order, View("metric")))
    assert "net annual benefit" in page.numbers_table(order, View("metric")).columns
    for rank in firsts:
        text = whole_page(ordered([dear, runs, many], rank), View("us"))
        assert "as asked" in text and "nan" not in text.lower().split()


def test_a_benefit_within_the_uncertainty_is_said_to_be_none_and_one_not_known_waits():
    first = some("A", benefit_money=500.0, benefit_sd_money=30.0)
    # standard deviation of the difference: hypot(30, 40) = 50
    near, far = (some("B", benefit_money=money, benefit_sd_money=40.0) for money in (455.0, 445.0))
    assert ordered([first, near], "benefit").apart == (False,)
    assert ordered([first, far], "benefit").apart == (True,)
    order = ordered([first, some("C", benefit_money=NAN)], "benefit")
    assert [each.name for each in order.waiting] == ["C"]
    assert "only one whose net annual benefit is known" in str(page.headline(order, View("metric")))
    assert "its net annual benefit is not known" in page.reasons(order)[1]
    none = ordered([some("C", benefit_money=NAN)], "benefit")
    assert "the net annual benefit of none of these" in str(page.headline(none, View("metric")))


def test_benefits_in_two_currencies_are_not_ranked():
    with pytest.raises(InputError, match="crowns and dollars cannot be ranked"):
        ordered(
            [some("A", benefit_money=1.0), some("B", benefit_money=2.0, currency="dollars")],
            "benefit",
        )


def test_variants_of_a_study_are_named_by_their_folders():
    given = [some("Creek"), some("Creek"), some("Other")]
    named = named_apart(given, ["creek", "creek-wider", "other"])
    assert [each.name for each in named] == ["creek", "creek-wider", "Other"]


# --- from whole studies ---------------------------------------------------------------------


@pytest.fixture(scope="module")
def creeks(tmp_path_factory):
    """Two planned creeks, the second with the size given; and a plant known by one bucket."""
    home = tmp_path_factory.mktemp("creeks")
    small_study(home / "studies" / "one")
    small_study(
        home / "studies" / "two",
        "Second creek",
        0.7,
        turbine='design_flow = "15 L/s"\njet_coefficient = "0.95 ± 0.02"',
    )
    thin = home / "studies" / "thin"
    thin.mkdir()
    (thin / "gaugings.csv").write_text(
        "date, stage [m], flow [L/s], uncertainty [%], method, ice\n2026-06-01, , 8.4, 4, bucket, no\n",
        encoding="utf-8",
    )
    (thin / "site.toml").write_text(
        '[site]\nname = "Thin"\nstage_of_work = "existing"\n[stream]\ngaugings = "gaugings.csv"\n[penstock]\nhead = "40 m"\nlength = "250 m"\n'
        '[[penstock.pipe]]\nsize = "PVC-U PN 10 110 mm"\n[turbine]\nkind = "pelton"\njets = 2\njet_diameter = "14 mm"\n[generator]\nwater_to_wire = "55 %"\n',
        encoding="utf-8",
    )
    return home


def annuity(years, rate):
    return rate / (1 - (1 + rate) ** -years)


def test_cost_and_shares_are_those_worked_out_by_hand(creeks):
    study = open_study(creeks / "studies" / "two")
    found = candidate(study)
    machine = 0.88 * float(
        study.plant.running().shaft_si(np.inf).max()
    )  # paid for by what its generator gives, whatever the cable loses
    first = 10000 + 1200 * machine / 1000 + 2 * 400 + (14 + 12) * 300 + 8 * 100
    by_hand = first * (annuity(25, 0.04) + 0.02) / study.year.annual_kwh
    assert found.cost_money_per_kwh == pytest.approx(by_hand, rel=1e-9)
    assert found.flow_m3s == pytest.approx(0.015, rel=1e-3) and found.head_m == 40
    assert found.winter_share == pytest.approx(
        study.year.monthly_kwh[[12, 1, 2]].sum() / study.year.annual_kwh
    )
    assert found.winter_secure_kwh < found.secure_kwh < found.p50_kwh
    chosen = candidate(open_study(creeks / "studies" / "one"))
    # the cost rests on the energy of the year, as the page on money has it; the sizing reads it from its mesh of flows
    assert chosen.cost_money_per_kwh == pytest.approx(
        open_study(creeks / "studies" / "one").sizing.choice.levelised_money_per_kwh, rel=1e-4
    )


def test_the_limiting_component_counts_days(creeks):
    study = open_study(creeks / "studies" / "two")
    shares = dict(candidate(study).limiting)
    assert sum(shares.values()) == pytest.approx(1) and set(shares) == {"creek", "jets"}
    full = float(study.plant.running().full_m3s[-1])
    # the creek holds the plant back on every day on which it brings less than the jets take
    assert shares["creek"] == pytest.approx((study.usable.dropna() < full).mean(), abs=0.02)


def test_the_benefit_is_that_of_the_page_on_money(creeks):
    study = open_study(creeks / "studies" / "two")
    found, money = candidate(study), study.money
    assert np.isfinite(found.benefit_money) == money.valued
    if money.valued:
        value = money.case.income_money
        first = money.first_money
        by_hand = value - first * (annuity(25, 0.04) + 0.02)
        assert found.benefit_money == pytest.approx(by_hand, rel=1e-9)
        assert found.benefit_sd_money > 0


def test_compare_from_the_command_line(creeks, monkeypatch, capsys):
    monkeypatch.chdir(creeks)
    assert (
        cli.main(["compare", "studies/thin", "studies/two", "studies/one", "--display", "us"]) == 0
    )
    said = capsys.readouterr().out.splitlines()
    assert (
        said[0].startswith("1. ")
        and said[1].startswith("2. ")
        and said[2].startswith("- Thin: runs today; not comparable yet")
        and said[3] == "open studies/thin/reports/comparison.html (comparison.csv beside it)"
    )
    text = Path("studies/thin/reports/comparison.html").read_text(encoding="utf-8")
    assert (
        "Which creek first, and why?" in text
        and "gross head [ft]" in text
        and 'href="index.html"' not in text
        and "Content-Security-Policy" in text
    )
    rows = list(
        csv.DictReader(
            io.StringIO(Path("studies/thin/reports/comparison.csv").read_text(encoding="utf-8"))
        )
    )
    assert [row["rank"] for row in rows] == ["1", "2", ""] and rows[2]["bracket low [kWh]"]
    assert "a daily record" in rows[2]["not known yet"] and "gauge" in rows[2]["not known yet"]


def test_every_mistake_of_every_study_at_once_and_nothing_written(
    creeks, monkeypatch, capsys, tmp_path
):
    monkeypatch.chdir(tmp_path)
    bad = tmp_path / "bad"
    bad.mkdir()
    (bad / "site.toml").write_text('[site]\nname = "x"\naltitude = 3\n', encoding="utf-8")
    assert cli.main(["compare", "bad", "none", str(creeks / "studies" / "thin")]) == 2
    said = capsys.readouterr().err
    assert "altitude" in said and "none" in said and not list(tmp_path.rglob("comparison*"))
    assert (
        cli.main(["compare", str(creeks / "studies" / "thin"), "--out", "no/such/page.html"]) == 2
    )
    assert "there is no folder no/such" in capsys.readouterr().err


def test_what_stands_between_a_study_and_the_comparison_is_named():
    """A record is there, the head is not: nothing is said of a lacking record."""
    lacks = some(
        "Half",
        p50_kwh=NAN,
        secure_kwh=NAN,
        winter_secure_kwh=NAN,
        winter_share=NAN,
        cost_money_per_kwh=NAN,
        lacking=("the head", "the machine"),
    )
    assert page.reasons(ordered([lacks])) == [
        "not comparable yet: without the head and the machine its annual energy is not known"
    ]
    assert limiting_text(replace(lacks, limiting=())) == "not known"
    assert limiting_text(BASE) == "creek 60 %, jets 40 % of the year"


def test_costs_are_put_on_one_basis_and_said_to_be(tmp_path):
    """By hand: one study states a demand and counts money at 4 %, the other does not and counts at 6 %."""
    import small_study as small

    one = small.changed(tmp_path / "one", site={"name": "One"})
    two = small.changed(
        tmp_path / "two", site={"name": "Two"}, loads=None, costs={"discount_rate": "6 %"}
    )
    order = ordered([candidate(one), candidate(two)])
    assert order.by == "cost" and "per kWh made" in order.basis and "6 %" in order.basis
    assert order.basis in page.order_words(order, View()).text
    for each, study in zip(sorted(order.ranked, key=lambda each: each.name), (one, two)):
        money = study.money
        by_hand = (
            money.first_money
            * (annuity(money.costs.life_years, 0.06) + money.costs.yearly_share)
            / study.year.annual_kwh
        )
        assert each.cost_money_per_kwh == pytest.approx(by_hand, rel=1e-9)
    # asked for another order, the costs beside it stay on that basis, and it is said
    costs = {each.name: each.cost_money_per_kwh for each in order.ranked}
    for rank in ("kwh", "winter"):
        asked = ordered([candidate(one), candidate(two)], rank)
        assert {each.name: each.cost_money_per_kwh for each in asked.ranked} == costs
        assert "per kWh made" in page.order_words(asked, View()).text
    alike = ordered(
        [
            candidate(one),
            candidate(
                small.changed(tmp_path / "three", site={"name": "Three"}, costs={"fixed": 7000})
            ),
        ]
    )
    assert alike.basis == "" and alike.ranked[0].cost_money_per_kwh == pytest.approx(
        float(one.money.stands.levelised_money_per_kwh), rel=1e-12
    )
