"""Sizing against a plain day-by-day plant and against loops over all designs."""

import functools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq
from sized import COSTS, CREEK, FLOWS, LAYOUT, PELTON, PIPES, PRICES, creek, swept_sizes

from hydrokit.energy.sizing import Layout, sweep
from hydrokit.energy.year import Outages, annual_energy
from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.generator import generator
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.turbine import PartLoad
from hydrokit.plant.wire import Loads, Wire
from hydrokit.works.pipe import Pipe
from hydrokit.works.state import State


@pytest.fixture(scope="module")
def sized():
    return swept_sizes()


# --- the energy of one design ---------------------------------------------------------------


def plain_day_by_day(
    flows,
    bore,
    length,
    roughness,
    fittings,
    head,
    design_flow,
    jets,
    table,
    density,
    gravity,
    viscosity,
):
    """Oracle: shaft energy in kWh of fixed jets, each day on its own, nothing taken from hydrokit."""

    def lost(flow):
        if flow == 0:
            return 0.0
        speed = flow / (np.pi / 4 * bore**2)
        reynolds = speed * bore / viscosity
        if reynolds < 2000:
            friction = 64 / reynolds
        else:
            root = brentq(
                lambda x: x + 2 * np.log10(roughness / bore / 3.7 + 2.51 * x / reynolds), 1, 30
            )
            friction = 1 / root**2
        return (friction * length / bore + fittings) * speed**2 / (2 * gravity)

    area = design_flow / np.sqrt(
        2 * gravity * (head - lost(design_flow))
    )  # of all jets, coefficient included
    fed = [
        brentq(
            lambda q, n=n: head - lost(q) - (q / (area * n / jets)) ** 2 / (2 * gravity),
            1e-9,
            2 * design_flow,
        )
        for n in range(1, jets + 1)
    ]
    kwh = 0.0
    for flow in flows:
        best = 0.0
        for n in range(1, jets + 1):
            used = min(flow, fed[n - 1])
            stands = (used / (area * n / jets)) ** 2 / (2 * gravity)
            ratio = used / design_flow
            efficiency = 0.0 if ratio < table[0][0] else float(np.interp(ratio, *zip(*table)))
            best = max(best, density * gravity * used * stands * efficiency)
        kwh += best * 24 / 1000
    return kwh


TABLE = [(0.1, 0.5), (0.3, 0.72), (0.7, 0.78), (1.0, 0.76)]


def table_machine():
    ratios, efficiencies = np.array(TABLE).T
    return PartLoad("pelton", ratios, efficiencies, minimum_ratio=0.1, source="test", mark="test")


@pytest.mark.parametrize("flow, bore, jets", [(0.008, 0.10, 1), (0.014, 0.13, 3), (0.024, 0.15, 4)])
def test_energy_is_that_of_a_plain_loop_over_days(flow, bore, jets):
    days = creek(1)
    machine = table_machine()
    penstock = Penstock(MeasuredLoss(0.0), 46.0, viscosity_m2s=1.3063e-6)
    found = sweep(
        days, Layout(penstock, machine), [flow], [Pipe(bore, 380, 3e-5, fittings=2.8)], (jets,)
    )
    expected = plain_day_by_day(
        days, bore, 380, 3e-5, 2.8, 46.0, flow, jets, TABLE, 999.70, 9.80665, 1.3063e-6
    )
    assert found.kwh[0, 0, 0] == pytest.approx(expected, rel=3e-4)


def test_a_licensed_volume_lasts_longer_for_a_small_plant():
    """The oracle's loop over days, each design with the water it leaves itself: all it can take until the volume is gone."""
    days, volume = creek(1), 120_000.0
    machine = table_machine()
    penstock = Penstock(MeasuredLoss(0.0), 46.0, viscosity_m2s=1.3063e-6)

    def offered(most):
        taken, left = [], volume
        for day, flow in days.items():
            left = volume if (day.month, day.day) == (10, 1) else left
            taken.append(min(flow, most, left / 86400))
            left = max(left - taken[-1] * 86400, 0.0)
        return pd.Series(taken, days.index, name="flow_m3s")

    flows = [0.006, 0.024]
    found = sweep(
        days,
        Layout(penstock, machine),
        flows,
        [Pipe(0.15, 380, 3e-5, fittings=2.8)],
        (2,),
        usable_for=offered,
    )
    plain = sweep(
        days, Layout(penstock, machine), flows, [Pipe(0.15, 380, 3e-5, fittings=2.8)], (2,)
    )
    for place, flow in enumerate(flows):
        expected = plain_day_by_day(
            offered(flow), 0.15, 380, 3e-5, 2.8, 46.0, flow, 2, TABLE, 999.70, 9.80665, 1.3063e-6
        )
        assert found.kwh[0, place, 0] == pytest.approx(expected, rel=1e-3)
    assert found.kwh[0, 0, 0] > found.kwh[0, 1, 0] and plain.kwh[0, 0, 0] < plain.kwh[0, 1, 0]


def by_hand(flow, pipe, jets, adjustable):
    """The same plant put together part by part, its jets' bore by the textbook."""
    penstock = replace(LAYOUT.penstock, line=pipe)
    if adjustable:
        machine = Adjustable(flow, jets)
    else:
        net = 46.0 - float(pipe.loss_si(flow, penstock.viscosity_m2s))
        bore = np.sqrt(4 * flow / (np.pi * jets * 0.95 * np.sqrt(2 * 9.80665 * net)))
        machine = FixedJets((bore,) * jets, 0.95)
    plant = Chain(penstock, machine, Runner(PELTON, flow))
    # bought for the most the jets would pass, or the machine take, under the whole head
    most = flow if adjustable else jets * 0.95 * np.pi / 4 * bore**2 * np.sqrt(2 * 9.80665 * 46.0)
    rated = (
        plant.density_kgm3 * 9.80665 * most * 46.0 * float(PELTON.efficiency_si(most / flow)) * 0.88
    )
    return plant.replace(electric=(generator.si("synchronous", rated, 0.88), Wire(0.2, 400.0)))


@functools.cache
def swept(adjustable):
    return sweep(
        CREEK,
        replace(LAYOUT, adjustable=adjustable),
        FLOWS,
        PIPES,
        (1, 2, 4),
        outages=Outages(unplanned=0.03),
    )


@pytest.mark.parametrize("adjustable", [False, True])
@pytest.mark.parametrize(
    "place", [(0, 2, 0), (1, 5, 2), (2, 9, 3), (2, 13, 4), (1, 0, 4), (0, 12, 2)]
)
def test_agrees_with_the_whole_chain_and_year(place, adjustable):
    sizing = swept(adjustable)
    design = sizing.design(place)
    year = annual_energy(
        CREEK,
        by_hand(design.flow_m3s, design.pipe, design.jets, adjustable).curve(),
        Outages(unplanned=0.03),
    )
    assert design.kwh == pytest.approx(year.annual_kwh, rel=3e-4)
    assert design.winter_kwh == pytest.approx(year.winter_kwh, rel=3e-4)
    assert design.rated_w == pytest.approx(year.rated_w, rel=1e-9)
    np.testing.assert_allclose(sizing.monthly_kwh[place], year.monthly_kwh, rtol=1e-3, atol=0.3)
    again = annual_energy(CREEK, sizing.chain(design).curve(), Outages(unplanned=0.03))
    assert again.annual_kwh == pytest.approx(year.annual_kwh, rel=1e-6)


class Screen:
    """A screen above the pond that passes 14 L/s when clean."""

    name = "screen"

    def capacity_si(self, state):
        return 0.014 * state.open


class OpenGround:
    """Open ground below it, into which a tenth of the water seeps."""

    name = "open ground"
    share_lost = 0.1

    def capacity_si(self, state):
        return np.inf


def test_months_with_a_clogged_screen_and_air_and_open_ground_that_drinks():
    autumn, winter = State(clogged=0.5), State(air_m=6.0)
    layout = replace(
        LAYOUT, supply=(Screen(), OpenGround()), states={10: autumn, 11: autumn, 1: winter}
    )
    sizing = sweep(CREEK, layout, FLOWS, PIPES, (4,))
    clean = sweep(CREEK, replace(LAYOUT, supply=(Screen(), OpenGround())), FLOWS, PIPES, (4,))
    design = sizing.design((0, 6, 3))
    year = annual_energy(CREEK, sizing.chain(design).curves())
    assert design.kwh == pytest.approx(year.annual_kwh, rel=5e-4)
    np.testing.assert_allclose(sizing.monthly_kwh[0, 6, 3], year.monthly_kwh, rtol=2e-3, atol=0.5)
    lost = clean.monthly_kwh[0, 6, 3] / sizing.monthly_kwh[0, 6, 3]
    assert lost[9] > 1.05 and lost[0] > 1.05 and lost[6] == pytest.approx(1, abs=1e-3)


def test_firm_power_is_exceeded_on_95_days_in_a_hundred(sized):
    for place in [(0, 1, 2), (1, 3, 2), (2, 6, 3), (2, 2, 4)]:
        design = sized.design(place)
        daily = sized.chain(design).curve().power_si(CREEK.to_numpy())
        on_both_sides = np.quantile(daily, [0.045, 0.055])
        assert on_both_sides[0] - 1e-9 <= design.firm_w <= on_both_sides[1] + 1e-9


def test_useful_energy_day_by_day():
    demand = np.linspace(600, 3000, 12)
    sizing = sweep(CREEK, LAYOUT, FLOWS, PIPES, (4,), COSTS, PRICES, demand_w=demand)
    design = sizing.design((0, 8, 3))
    power = sizing.chain(design).curve().power_si(CREEK.to_numpy())
    met = pd.Series(np.minimum(power, demand[CREEK.index.month - 1]) * 0.024, CREEK.index)
    whole = annual_energy(CREEK, sizing.chain(design).curve()).rows
    years = CREEK.index.year + (CREEK.index.month >= 10)
    winter = met[np.isin(years, whole) & np.isin(CREEK.index.month, [12, 1, 2])].sum() / len(whole)
    assert design.useful_winter_kwh == pytest.approx(winter, rel=1e-3)
    assert design.useful_kwh == pytest.approx(
        met[np.isin(years, whole)].sum() / len(whole), rel=1e-3
    )
    assert np.all(sizing.useful_kwh <= sizing.kwh * (1 + 1e-12))
    unlimited = sweep(CREEK, LAYOUT, FLOWS, PIPES, (4,), COSTS, PRICES, demand_w=1e9)
    np.testing.assert_allclose(unlimited.useful_kwh, unlimited.kwh, rtol=1e-12)
    # what nobody takes is worth nothing: the plant gets no larger
    assert (
        sizing.best.flow_m3s
        <= sweep(CREEK, LAYOUT, FLOWS, PIPES, (4,), COSTS, PRICES).best.flow_m3s
    )


def test_a_part_of_a_year_leaves_the_mean_year_alone():
    longer = pd.concat([CREEK, creek(0.4, seed=9, start=CREEK.index[-1] + pd.Timedelta(days=1))])
    longer.iloc[5] = np.nan  # breaks the first year
    sizing = sweep(longer, LAYOUT, FLOWS, PIPES, (2,))
    design = sizing.design((0, 7, 3))
    assert design.kwh == pytest.approx(
        annual_energy(longer, sizing.chain(design).curve()).annual_kwh, rel=3e-4
    )


# --- properties -----------------------------------------------------------------------------


def test_more_head_never_gives_less():
    lower, higher = (
        sweep(
            CREEK, replace(LAYOUT, penstock=Penstock(MeasuredLoss(0.0), head)), FLOWS, PIPES, (1, 4)
        )
        for head in (46.0, 52.0)
    )
    assert np.all(higher.kwh >= lower.kwh)


def test_a_wider_pipe_and_more_water_never_give_less(sized):
    adjustable = sweep(
        CREEK, replace(LAYOUT, adjustable=True, part_load=steady(0.7)), FLOWS, PIPES, (1,)
    )
    assert np.all(np.diff(adjustable.kwh, axis=2) >= -1e-9 * adjustable.kwh.max())
    wetter = sweep(
        CREEK * 1.1, replace(LAYOUT, adjustable=True, part_load=steady(0.7)), FLOWS, PIPES, (1,)
    )
    assert np.all(wetter.kwh >= adjustable.kwh)


def test_power_stays_below_that_of_the_water(sized):
    assert np.all(sized.rated_w <= 1000 * 9.81 * FLOWS[:, None] * 46.0)
    np.testing.assert_allclose(sized.kwh, sized.monthly_kwh.sum(axis=-1))
    np.testing.assert_allclose(sized.winter_kwh, sized.monthly_kwh[..., [11, 0, 1]].sum(axis=-1))
    assert np.all(sized.firm_w <= sized.rated_w * (1 + 1e-9))


def test_the_order_in_which_things_are_given_does_not_matter(sized):
    shuffled = sweep(
        CREEK,
        LAYOUT,
        FLOWS[::-1],
        PIPES[::-1],
        (4, 1, 2),
        COSTS,
        PRICES[::-1],
        140.0,
        Outages(unplanned=0.03),
        energy_sd=0.05,
    )
    np.testing.assert_allclose(shuffled.kwh, sized.kwh, rtol=1e-12)
    np.testing.assert_allclose(shuffled.first_money, sized.first_money, rtol=1e-12)


def test_an_electrical_limit_holds_every_design():
    sizing = sweep(CREEK, replace(LAYOUT, after=(Loads(2000.0),)), FLOWS, PIPES, (4,))
    assert sizing.rated_w.max() == pytest.approx(2000.0)


@pytest.mark.parametrize(
    "change, sentence",
    [
        (dict(flows_m3s=[]), "one or more design flows"),
        (dict(flows_m3s=[0.0, 0.01]), "above zero"),
        (dict(pipes=[]), "pipes"),
        (dict(prices_money_per_m=[1.0]), "a price for each of the 5 pipes"),
        (dict(aim="wort"), "did you mean 'worth'"),
        (dict(aim="worth", costs=None), "needs costs"),
        (dict(aim="winter", costs=replace(COSTS, value_money_per_kwh=None)), "what a kWh is worth"),
        (dict(usable=CREEK.iloc[:200]), "no complete month"),
        (dict(usable=CREEK * 0), "no design gives any energy"),
        (dict(demand_w=0.0), "no design gives any energy"),
    ],
)
def test_refuses_in_a_sentence(change, sentence):
    given = dict(
        usable=CREEK,
        layout=LAYOUT,
        flows_m3s=FLOWS,
        pipes=PIPES,
        jets=(2,),
        costs=COSTS,
        prices_money_per_m=PRICES,
    )
    if change.get("pipes") == []:
        given["prices_money_per_m"] = None
    with pytest.raises(HydrokitError, match=sentence):
        sweep(**{**given, **change})


def test_a_single_design_that_cannot_be_fed():
    with pytest.raises(HydrokitError, match="loses all of its head"):
        LAYOUT.chain(0.03, PIPES[0], 4)


def test_a_best_at_the_edge_of_what_was_tried_is_told():
    small = sweep(CREEK, LAYOUT, FLOWS[:3], PIPES, (4,), COSTS, PRICES)
    assert any("largest design flow" in finding.message for finding in small.findings)
    licensed = sweep(CREEK.clip(upper=FLOWS[2]), LAYOUT, FLOWS[:3], PIPES, (4,), COSTS, PRICES)
    assert licensed.best.index[1] == 2 and not any(
        "design flow" in finding.message for finding in licensed.findings
    )
