"""One plan, one recommendation: what is tried, what it is weighed by, what would move it, and what the pages say of it."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import small_study
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hydrokit.energy.sizing import flows_to_try, no_more_than, sweep
from hydrokit.energy.year import annual_energy
from hydrokit.report.pages import common
from hydrokit.report.pages.p04 import machine_choice, parts_list, sizing
from hydrokit.sentences import plain_number
from hydrokit.study.build import sizing as build_sizing
from hydrokit.units import Q_

FREE = {"turbine": {"jet_diameter": None}}
HEATED = {"loads": {"demand": None, "heated_ua": "90 W/K", "base_power": "500 W"}}


@pytest.fixture
def study(tmp_path):
    numbers = iter(range(99))
    return lambda files=(), **changes: small_study.changed(
        tmp_path / f"{next(numbers)}", files, **changes
    )


# --- what is tried --------------------------------------------------------------------------


def test_no_design_is_tried_for_more_water_than_may_ever_come(study):
    s = study(**FREE, sizing=None)
    assert s.sizing.flows_m3s[-1] == pytest.approx(0.020, rel=1e-12) and np.all(
        np.diff(s.sizing.flows_m3s) > 1e-6
    )
    assert s.sizing.jets == (1, 2, 3, 4, 5, 6)
    asked = study(**FREE, sizing={"flows": ["8 L/s", "12 L/s", "25 L/s"], "jets": [1, 2]})
    assert asked.sizing.flows_m3s == pytest.approx([0.008, 0.012, 0.020])
    assert [
        each
        for each in asked.pipe_findings
        if "design flows above 20 L/s are not tried" in each.message
    ]
    leaks = study(
        **FREE,
        sizing=None,
        part=[{"kind": "open ground", "length": "50 m", "width": "1 m", "loss": "10 %"}],
    )
    assert leaks.sizing.flows_m3s[-1] == pytest.approx(0.018, rel=1e-9)
    assert no_more_than([1.0, 2.0, 3.0], 2.0).tolist() == [1.0, 2.0] and no_more_than(
        [1.0, 3.0, 4.0], 2.5
    ).tolist() == [1.0, 2.5]


@pytest.mark.parametrize("hair", [2.3e-16, -2.3e-16, 1e-13, -1e-13])
def test_a_licence_in_another_unit_leaves_every_size(study, hair):
    """The same licence but for the last digits of its conversion: a day at the licence was left out of the mesh of flows, or a design flow added."""
    s = study(**FREE, sizing=None)
    layout, (pipes, _) = build_sizing.layout(s, s.penstock, s.head.value), s.pipes_tried
    for flows in ([0.008, 0.012, 0.020], None):
        kwh = []
        for most in (0.020, 0.020 * (1 + hair)):
            usable = s.usable.clip(upper=most)
            kwh.append(
                sweep(
                    usable,
                    layout,
                    flows_to_try(usable) if flows is None else flows,
                    pipes,
                    (1, 2),
                    None,
                    None,
                ).kwh
            )
        assert kwh[0].shape == kwh[1].shape and np.nanmax(np.abs(kwh[0] / kwh[1] - 1)) < 1e-9
    told = study(**FREE, sizing=None, rights={"licence": f"{Q_('20 L/s').m_as('gpm')!r} gpm"})
    assert told.sizing.choice.kwh == pytest.approx(s.sizing.choice.kwh, rel=1e-9)


def test_the_edge_of_the_flows_to_try_is_no_matter_of_the_last_digit():
    """1.2 times a top of 20 steps is 24 steps, whether it comes out as 24 or as 23.999999999999996."""
    days = pd.date_range("2019-10-01", "2022-09-30")
    for hair in (1 - 4e-16, 1.0, 1 + 4e-16):
        usable = pd.Series(np.where(np.arange(len(days)) % 100 == 0, 0.9, 0.040 * hair), days)
        assert len(flows_to_try(usable)) == len(
            flows_to_try(pd.Series(np.where(np.arange(len(days)) % 100 == 0, 0.9, 0.040), days))
        )


# --- what it is weighed by ------------------------------------------------------------------


def test_useful_energy_of_every_size_is_that_of_the_whole_year_day_by_day(study):
    """Where rooms are heated the demand changes from day to day: power and demand are held against each other on the same days."""
    s = study(**FREE, **HEATED, sizing={"flows": ["6 L/s", "12 L/s"], "jets": [1, 2]})
    found = s.sizing
    for place in ((0, 0, 0), (1, 1, 1)):
        year = annual_energy(s.usable, found.chain(found.design(place)).curves(), None, s.demand_w)
        assert (
            found.useful_kwh[place] == pytest.approx(year.useful_annual_kwh, rel=3e-3)
            and year.useful_annual_kwh < 0.97 * year.annual_kwh
        )


def test_equal_is_said_of_the_net_annual_benefit(study):
    s = study(**FREE, sizing=None, costs={"per_jet": 150, "value": "0.35 per kWh"})
    reason = s.sizing.reason
    assert reason.aim == "worth" and reason.choice.worth_money >= 0.98 * reason.best.worth_money > 0
    text = sizing.headline(s, s.view()).text + sizing.choice_words(s, s.view()).text
    assert "2 % of its net annual benefit" in text
    if reason.choice.index != reason.best.index:
        assert (
            f"gives up {plain_number(reason.best.useful_kwh - reason.choice.useful_kwh)} kWh of useful energy"
            in text
        )


def test_what_the_way_it_is_run_loses_is_taken_off_the_sizes(study):
    """Jets changed on a visit a fortnight only: two jets lose by it, one jet has nothing to change."""
    wild = "date,flow [L/s]\n" + "".join(
        f"{day:%Y-%m-%d},{8 + 6 * (number * 7919 % 13) / 13:.2f}\n"
        for number, day in enumerate(pd.date_range("2021-10-01", "2023-10-01"))
    )
    free = FREE | {"sizing": {"flows": ["10 L/s"], "jets": [1, 2]}, "loads": None}
    plain, fortnight = (
        study({"flow": wild}, **free),
        study({"flow": wild}, **free, operation={"visit_days": 14}),
    )
    ratio = (fortnight.sizing.kwh / plain.sizing.kwh)[:, 0]
    assert np.all(ratio[1] < 0.99) and ratio[0] == pytest.approx(1, abs=2e-3)


# --- what would move it ---------------------------------------------------------------------


def test_only_what_moves_the_choice_is_said_to_move_it(study):
    cheap = study(
        **FREE,
        sizing={"flows": ["4 L/s", "8 L/s", "12 L/s", "16 L/s"], "jets": [1, 2, 3], "aim": "cost"},
    )
    found = {each.what: each for each in cheap.sizing_moves}
    assert not found["value"].moved  # the lowest cost of a kWh does not ask what a kWh is worth
    for each in found.values():
        assert each.moved == (
            each.less.index != cheap.sizing.choice.index
            or each.more.index != cheap.sizing.choice.index
        )
    text = sizing.limits_words(cheap, cheap.view()).text
    assert "With the value of a kWh" not in text and "by as much would" not in text
    assert "by a quarter leaves the recommended size as it is" in text
    # a machine at a quarter of its price, by a sweep of its own
    other = study(
        **FREE,
        sizing={"flows": ["4 L/s", "8 L/s", "12 L/s", "16 L/s"], "jets": [1, 2, 3], "aim": "cost"},
        costs={"per_power": "750 per kW"},
    )
    assert other.sizing.choice.index == found["machine"].less.index


# --- one plan, one recommendation -----------------------------------------------------------


def numbers(s, which):
    return [s.answer(f"{which}.{name}").value for name in ("flow", "pipe", "jets")]


def test_every_page_has_the_pipe_of_the_site_file_and_page_04_says_what_it_would_take(study):
    s = study(**FREE, sizing=None, penstock={"pipe": [{"size": "PVC-U PN 10 125 mm"}]}, loads=None)
    assert s.plant.penstock.line.pipes[0].name == s.penstock.pipes[0].name == numbers(s, "plan")[1]
    assert numbers(s, "plan")[2] == 2 == s.plant.jets.count  # as the site file names them
    assert float(s.plant.running().at_si(1.0).used_m3s) == pytest.approx(
        numbers(s, "plan")[0], rel=1e-6
    )
    recommended = numbers(s, "recommended")
    assert recommended == [
        s.sizing.choice.flow_m3s,
        s.sizing.choice.pipe.name,
        s.sizing.choice.jets,
    ]
    other = recommended[1:] != numbers(s, "plan")[1:]
    assert (
        bool([each for each in s.findings() if "differs from the recommended size" in each.message])
        == other
    )
    text = sizing.headline(s, s.view()).text + str(common.understood(s, s.view()))
    assert "Recommended" in text and ("The plan, on which all other pages are based" in text) == (
        numbers(s, "plan") != recommended
    )


def test_a_pipe_split_in_two_changes_nothing(study):
    whole = study(**FREE, sizing=None, costs={"pipes": None})
    half = study(
        **FREE,
        sizing=None,
        costs={"pipes": None},
        penstock={
            "pipe": [
                {"size": "PVC-U PN 10 140 mm", "length": "80 m"},
                {"size": "PVC-U PN 10 140 mm"},
            ]
        },
    )
    assert half.sizing is not None and half.sizing.kwh == pytest.approx(
        whole.sizing.kwh, rel=1e-9, nan_ok=True
    )
    priced = [
        study(**FREE, penstock={"pipe": pipes})
        for pipes in (
            [{"size": "PVC-U PN 10 140 mm"}],
            [{"size": "PVC-U PN 10 140 mm", "length": "80 m"}, {"size": "PVC-U PN 10 140 mm"}],
        )
    ]
    assert [each.message for each in priced[0].pipe_findings] == [
        each.message for each in priced[1].pipe_findings
    ]
    assert priced[1].year.annual_kwh == pytest.approx(priced[0].year.annual_kwh, rel=1e-9)


def test_the_list_to_buy_by_is_that_of_the_plan(study):
    pair = study(
        turbine={
            "kind": "francis",
            "jets": None,
            "jet_kind": None,
            "jet_diameter": None,
            "efficiency": "80 %",
            "minimum_flow": "40 %",
        },
        machine=[
            {"name": "big", "design_flow": "8 L/s"},
            {"name": "small", "design_flow": "4 L/s"},
        ],
    )
    caption = parts_list.buying_table(pair, pair.view())._repr_html_()
    assert "size chosen" not in caption and "12 L/s" in caption
    free = study(**FREE)
    assert (
        f"{1000 * free.plan.flow_m3s:.0f} L/s"
        in parts_list.buying_table(free, free.view())._repr_html_()
    )


def test_the_machine_of_the_study_is_judged_and_told_where_it_does_not_fit(study):
    kaplan = {
        "kind": "kaplan",
        "design_flow": "12 L/s",
        "efficiency": "80 %",
        "jets": None,
        "jet_kind": None,
        "jet_diameter": None,
    }
    s = study(turbine=kaplan)
    assert "Kaplan" in str(machine_choice.machines_table(s, s.view()))
    assert [
        each for each in s.findings() if each.where == "turbine" and "far outside" in each.message
    ]
    assert not [each for each in study().findings() if "far outside" in each.message]


# --- properties -----------------------------------------------------------------------------

_CREEK = pd.Series(
    0.014 + 0.009 * np.cos(2 * np.pi * np.arange(1096) / 365.25),
    pd.date_range("2019-10-01", periods=1096),
    name="flow_m3s",
)


@settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.floats(12, 60),
    st.floats(1.02, 1.6),
    st.floats(0.001, 0.006),
    st.floats(0.0, 0.9),
    st.sampled_from(["cost", "worth", None]),
    st.floats(500, 4000),
)
def test_more_head_or_less_left_in_the_creek_never_lowers_what_the_best_size_is_worth(
    head, more, keep, part, aim, demand
):
    """The best of all designs can only win by more water or more head: each design does, at the same or a lower cost of a useful kWh."""
    from sized import COSTS, LAYOUT, PIPES, PRICES

    def best(head_m, keep_m3s):
        layout = replace(
            LAYOUT, penstock=replace(LAYOUT.penstock, head_gross_m=head_m), generator=None
        )
        costs = replace(COSTS, per_power_money_per_w=0.0)
        found = sweep(
            (_CREEK - keep_m3s).clip(lower=0),
            layout,
            [0.006, 0.010, 0.014, 0.018],
            PIPES[::3],
            (1, 2, 3),
            costs,
            PRICES[::3],
            demand_w=demand,
            aim="knee" if aim is None else aim,
        )
        return found

    low, high, lean = best(head, keep), best(head * more, keep), best(head, keep * part)
    for better in (high, lean):
        assert np.all(better.useful_kwh >= low.useful_kwh * (1 - 2e-3) - 1e-6)
        if aim == "worth":
            assert (
                better.best.worth_money
                >= low.best.worth_money - 2e-3 * abs(low.best.worth_money) - 1e-6
            )
        if aim == "cost":
            assert better.best.levelised_money_per_kwh <= low.best.levelised_money_per_kwh * (
                1 + 2e-3
            )
