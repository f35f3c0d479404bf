"""What a size costs and is worth: every aim by loops, the reason in numbers, the economic pipe."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from sized import COSTS, CREEK, FLOWS, LAYOUT, PIPES, PRICES, places, swept_sizes

from hydrokit.energy.money import Costs
from hydrokit.energy.sizing import Layout, sweep
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.curve import FULL
from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner, steady
from hydrokit.works.pipe import Pipe


@pytest.fixture(scope="module")
def sized():
    return swept_sizes()


# --- money ----------------------------------------------------------------------------------


def test_cost_and_worth_of_every_design_by_plain_sums(sized):
    annuity = 0.04 / (1 - 1.04**-25)
    for jets, flow, pipe in places(sized):
        at = jets, flow, pipe
        # after the generator only the wire: what it gives from the power at the wire's end
        if not sized.rated_w[at] > 0:  # its pipe leaves too little to turn its generator
            continue
        least, ohms_per_square = sized.rated_w[at], 0.2 / 400**2
        gives = (1 - np.sqrt(1 - 4 * ohms_per_square * least)) / (2 * ohms_per_square)
        shaft = sized.chain(sized.design(at)).electric[0].losses
        size = sized.chain(sized.design(at)).electric[0].size_w
        machine = 0.88 * size * (gives / size + shaft.constant + shaft.square * (gives / size) ** 2)
        first = 11_000 + 1.3 * machine + 350 * (1, 2, 4)[jets] + (PRICES[pipe] + 14) * 380 + 9 * 140
        assert sized.first_money[at] == pytest.approx(first, rel=1e-9)
        yearly = first * (annuity + 0.02)
        assert sized.kwh[at] == 0 or sized.levelised_money_per_kwh[at] == pytest.approx(
            yearly / sized.kwh[at], rel=1e-9
        )
        assert sized.worth_money[at] == pytest.approx(
            0.21 * sized.kwh[at] - yearly, rel=1e-9, abs=1e-6
        )


def test_marginal_energy_of_the_next_money(sized):
    """Oracle: for each design look through all cheaper ones for the one that gives most."""
    fair = [at for at in places(sized) if sized.loss_share[at] <= 1 / 3]
    for at in fair:
        cheaper = [other for other in fair if sized.first_money[other] < sized.first_money[at]]
        if not cheaper:
            assert np.isinf(sized.marginal_kwh_per_money[at])
            continue
        rival = max(cheaper, key=lambda other: sized.kwh[other])
        expected = (sized.kwh[at] - sized.kwh[rival]) / (
            sized.first_money[at] - sized.first_money[rival]
        )
        assert sized.marginal_kwh_per_money[at] == pytest.approx(expected, rel=1e-9)
    assert np.isnan(sized.marginal_kwh_per_money[sized.loss_share > 1 / 3]).all()


def brute_force(sizing, aim):
    """Oracle: the best place by loops and comparisons alone."""
    best, best_score = None, None
    for at in places(sizing):
        if not sizing.loss_share[at] <= 1 / 3:
            continue
        if aim == "winter" and not sizing.levelised_money_per_kwh[at] <= 0.21:
            continue
        score = {
            "cost": -sizing.levelised_money_per_kwh[at],
            "worth": sizing.worth_money[at],
            "winter": sizing.winter_kwh[at],
        }[aim]
        if best is None or score > best_score:
            best, best_score = at, score
    return best


@pytest.mark.parametrize("aim", ["cost", "worth", "winter"])
def test_the_best_its_equals_and_the_choice_by_loops(sized, aim):
    sizing = replace(sized, aim=aim)
    best = brute_force(sizing, aim)
    assert sizing.best.index == best
    equal = set()
    for at in places(sizing):
        if not sizing.loss_share[at] <= 1 / 3:
            continue
        near = {
            "cost": sizing.levelised_money_per_kwh[at]
            <= 1.02 * sizing.levelised_money_per_kwh[best],
            "worth": sizing.worth_money[at] >= 0.98 * sizing.worth_money[best],
            "winter": sizing.winter_kwh[at] >= 0.98 * sizing.winter_kwh[best]
            and sizing.levelised_money_per_kwh[at] <= 0.21,
        }[aim]
        if near:
            equal.add(at)
    assert set(zip(*np.nonzero(sizing.flat().mask))) == equal
    flows = [FLOWS[at[1]] for at in equal]
    assert sizing.flat().flows_m3s == (min(flows), max(flows))
    assert [pipe.name for pipe in sizing.flat().pipes] == [
        PIPES[each].name for each in sorted({at[2] for at in equal})
    ]
    if aim != "winter":
        price = 0.21 if aim == "worth" else sizing.levelised_money_per_kwh[best]
        for at in places(sizing):
            more_energy = price * (sizing.kwh[at] - sizing.kwh[best])
            more_cost = sizing.yearly_money[at] - sizing.yearly_money[best]
            within_uncertainty = (
                sizing.loss_share[at] <= 1 / 3
                and more_cost - more_energy
                <= ((0.05 * more_energy) ** 2 + (0.15 * more_cost) ** 2) ** 0.5
            )
            assert sizing.within_uncertainty.mask[at] == within_uncertainty
    assert sizing.choice.first_money == min(sizing.first_money[at] for at in equal)
    assert sizing.choice.index in equal


def test_the_reason_is_told_in_numbers(sized):
    reason = sized.reason
    assert reason.aim == "worth" and reason.rule == "cheapest of the equal"
    assert reason.given_up == pytest.approx(reason.best.worth_money - reason.choice.worth_money)
    assert (
        reason.saved_money == pytest.approx(reason.best.first_money - reason.choice.first_money)
        and reason.saved_money >= 0
    )
    assert reason.flat.mask[reason.best.index] and reason.within_uncertainty.mask[reason.best.index]
    assert reason.choice.loss_share <= 1 / 3 and not reason.choice.too_lossy


def test_wider_tolerance_and_uncertainty_only_add_designs(sized):
    narrow, wide = sized.flat(0.01).mask, sized.flat(0.05).mask
    assert np.all(wide[narrow]) and wide.sum() > narrow.sum()
    assert np.all(
        replace(sized, energy_sd=0.2).within_uncertainty.mask[sized.within_uncertainty.mask]
    )
    sure = replace(sized, energy_sd=0.0, costs=replace(COSTS, uncertainty=0.0))
    assert sure.within_uncertainty is None
    assert sure.flat(0.0).count == 1 and replace(sure, within=0.0).choice.index == sure.best.index


def test_uncertainty_of_the_flow_by_sweeps_of_their_own():
    """Oracle: the same sweep on less and on more water, differences taken by hand."""
    less, more = CREEK * np.exp(-0.4), CREEK * np.exp(0.4)
    given = dict(
        layout=LAYOUT,
        flows_m3s=FLOWS,
        pipes=PIPES,
        jets=(2, 4),
        costs=replace(COSTS, uncertainty=0.0),
        prices_money_per_m=PRICES,
    )
    both = sweep(CREEK, **given, shifted=(less, more))
    alone = [sweep(each, **given) for each in (less, CREEK, more)]
    np.testing.assert_allclose(both.varied_kwh, [alone[0].kwh, alone[2].kwh], rtol=3e-4)
    np.testing.assert_allclose(both.kwh, alone[1].kwh, rtol=1e-12)
    best, worth = both.best.index, [each.worth_money for each in alone]
    differ = (worth[2] - worth[2][best] - worth[0] + worth[0][best]) / 2
    # costs go with the rated power and not with the water, so worth differs by energy alone
    wanted = both.allowed & (worth[1][best] - worth[1] <= np.abs(differ))
    assert 1 < wanted.sum() < both.allowed.sum()
    assert (both.within_uncertainty.mask != wanted).sum() <= 1 and both.within_uncertainty.mask[
        best
    ]


def test_the_economic_pipe_of_each_flow(sized):
    for flow, design in enumerate(sized.along_flows()):
        fair = [at for at in places(sized) if at[1] == flow and sized.loss_share[at] <= 1 / 3]
        assert design.index == max(fair, key=lambda at: sized.worth_money[at])
    bores = [design.pipe.diameter_m for design in sized.along_flows()]
    assert bores == sorted(bores) and bores[0] < bores[-1]


def test_past_a_third_nothing_is_recommended():
    """A single flow, and a cheap pipe that strangles it beside a dear one: the cheap kWh is not recommended."""
    wet = CREEK + 0.05
    dear = sweep(wet, LAYOUT, [0.020], [PIPES[1], PIPES[4]], (4,), COSTS, [7.1, 300.0], aim="cost")
    throttled = np.where(dear.too_lossy, dear.levelised_money_per_kwh, np.inf)
    assert throttled.min() < dear.best.levelised_money_per_kwh and dear.best.pipe is PIPES[4]
    for design in (dear.best, dear.choice, *filter(None, dear.along_flows())):
        assert design.loss_share <= 1 / 3
    assert any("third of the head" in finding.message for finding in dear.findings)
    with pytest.raises(HydrokitError, match="every design loses more than a third.*wider pipes"):
        sweep(wet, LAYOUT, [0.03], PIPES[:1], (4,))


def test_more_water_past_the_third_gives_less_power():
    """The theorem behind the limit: with loss as the square of the flow, power peaks at a third."""
    loss = MeasuredLoss(46.0 / 3 / 0.015**2)
    power = [
        Chain(Penstock(loss, 46.0), Adjustable(flow), Runner(steady(0.7))).penstock.head_si(flow)
        * flow
        for flow in (0.0145, 0.015, 0.0155)
    ]
    assert power[1] > power[0] and power[1] > power[2]
    curve = Chain(Penstock(loss, 46.0), Adjustable(0.025), Runner(steady(0.7))).curve()
    assert curve.flow_m3s[np.argmax(curve.state == FULL)] == pytest.approx(0.015, rel=1e-4)


# --- without costs --------------------------------------------------------------------------


def test_without_costs_the_knee_is_chosen():
    """Flow uniform, a lossless pipe: the flow exceeded 30 % of the time, by its definition."""
    days = pd.date_range("2019-10-01", "2021-09-30")
    uniform = pd.Series(
        np.random.default_rng(3).permutation((np.arange(len(days)) + 0.5) / len(days) * 0.030),
        days,
        name="flow_m3s",
    )
    layout = Layout(Penstock(MeasuredLoss(0.0), 46.0), steady(0.6), adjustable=True)
    flows = np.linspace(0.003, 0.030, 271)
    found = sweep(uniform, layout, flows, [Pipe(5.0, 1.0, 0.0)], (1,))
    assert (
        found.aim == "knee"
        and np.isnan(found.levelised_money_per_kwh).all()
        and np.isnan(found.marginal_kwh_per_money).all()
    )
    assert (uniform >= found.best.flow_m3s).mean() == pytest.approx(0.30, abs=0.01)
    assert (
        found.choice.flow_m3s <= found.best.flow_m3s
        and found.reason.rule == "smallest of the equal"
    )
    assert any("no costs are given" in finding.message for finding in found.findings)


def test_without_prices_the_narrowest_fair_pipe_is_taken():
    found = sweep(CREEK, LAYOUT, FLOWS, PIPES, (4,), COSTS)
    for flow, design in enumerate(found.along_flows()):
        fair = [pipe for pipe in range(len(PIPES)) if found.loss_share[0, flow, pipe] <= 0.10]
        assert design.index[2] == (min(fair) if fair else len(PIPES) - 1)
    assert any("no prices" in finding.message for finding in found.findings)
    silent = sweep(CREEK, LAYOUT, FLOWS, PIPES, (4,), Costs(value_money_per_kwh=0.2))
    assert silent.costs is None and silent.aim == "knee"
