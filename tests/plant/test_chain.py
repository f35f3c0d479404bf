"""The plant as a chain: where it settles, what limits it, its curve."""

import math
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import FULL, PART, STOPPED, UNDER_FED, Bands, Chain
from hydrokit.plant.generator import generator
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.turbine import PartLoad, part_load
from hydrokit.plant.wire import Loads, Wire
from hydrokit.water import GRAVITY
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.rated import Rated
from hydrokit.works.screen_parts import DrilledPipe, Screen
from hydrokit.works.state import State

LINE = Line((Pipe(0.102, 320.0, 2e-5, fittings=1.2), Pipe(0.083, 60.0, 2e-5, fittings=0.6)))
JETS = FixedJets((0.013,) * 4, 0.95)


def plant(**changes):
    """Four fixed jets under 46 m, a real pipe, a Pelton runner, generator and cable."""
    parts = {
        "penstock": Penstock(LINE, 46.0),
        "jets": JETS,
        "runner": Runner(part_load("pelton")),
        "electric": (generator("permanent magnet", "4 kW"), Wire(0.4, 230.0)),
    }
    return Chain(**{**parts, **changes})


PLANTS = {
    "jets": plant(),
    "jets without loss": Chain(Penstock(MeasuredLoss(0.0), 30.0), JETS, Runner(steady(0.7))),
    "unequal jets": plant(jets=FixedJets((0.010, 0.013, 0.016), 0.95)),
    "spear": plant(jets=Adjustable(0.011)),
    "two machines": plant(jets=Adjustable(0.012, units=2), runner=Runner(part_load("francis"))),
    "on or off": plant(jets=Adjustable(0.011), runner=Runner(part_load("propeller"))),
    "too thin a pipe": plant(jets=Adjustable(0.018), runner=Runner(part_load("kaplan"))),
    "screened": plant(
        supply=(Rated(0.012, 0.1, "line"),),
        penstock=Penstock(LINE, 46.0, inlet=Screen(0.05, 0.4, 0.3)),
    ),
    "leaky": plant(supply=(Rated(np.inf, 0.25, "ditch"),)),
}
EVERY = pytest.mark.parametrize("name", PLANTS)


# --- an independent plant: nothing of hydrokit in it ---------------------------------------

G, RHO, NU = 9.80665, 999.7, 1.306e-6


@cache
def colebrook(reynolds, relative):
    """Darcy friction factor by fixed point; laminar below 2000."""
    if reynolds < 2000:
        return 64 / reynolds
    x = 8.0
    for _ in range(60):
        x = -2 * math.log10(relative / 3.7 + 2.51 * x / reynolds)
    return 1 / x**2


def pipe_loss(q, pipes):
    total = 0.0
    for d, length, e, k in pipes:
        v = q / (math.pi / 4 * d * d)
        total += (colebrook(v * d / NU, e / d) * length / d + k) * v * v / (2 * G) if q > 0 else 0.0
    return total


PIPES = ((0.102, 320.0, 2e-5, 1.2), (0.083, 60.0, 2e-5, 0.6))


def settles(q, jets, area=0.95 * math.pi / 4 * 0.013**2, head=46.0):
    """Flow and head of fixed jets when q arrives, by brentq: fed, or the water standing lower in the pipe."""
    a = jets * area

    def spare(flow):
        return head - pipe_loss(flow, PIPES) - (flow / a) ** 2 / (2 * G)

    fed = brentq(spare, 1e-9, a * math.sqrt(2 * G * head), xtol=1e-15, rtol=1e-14)
    if q >= fed:
        return fed, (fed / a) ** 2 / (2 * G)
    # under-fed: the level in the pipe above the jets' need is where supply and jets agree
    level = brentq(lambda h: a * math.sqrt(2 * G * h) - q, 0.0, head, xtol=1e-13)
    return q, level


@pytest.mark.parametrize("jets", [1, 2, 3, 4])
@pytest.mark.parametrize("offered", [0.0008, 0.0031, 0.0052, 0.0077, 0.0104, 0.0141, 0.03])
def test_operating_point_is_that_of_an_independent_solver(jets, offered):
    """independent: scipy brentq on the same equations written out again, to the solvers' own precision."""
    flow, head = settles(offered, jets)
    found = plant(
        electric=(),
        runner=Runner(steady(0.7)),
        penstock=Penstock(LINE, 46.0, viscosity_m2s=NU),
        density_kgm3=RHO,
    ).at_si(offered, jets=jets)
    assert found.used_m3s == pytest.approx(flow, rel=1e-9)
    assert found.net_head_m == pytest.approx(head, rel=1e-9)
    assert found.power_w == pytest.approx(0.7 * RHO * G * flow * head, rel=1e-9)


def test_closed_form_when_loss_is_a_square():
    """analytic: H = kQ² + Q²/(2ga²)."""
    k, area = 6e4, 4 * 0.95 * math.pi / 4 * 0.013**2
    chain = Chain(Penstock(MeasuredLoss(k), 46.0), JETS, Runner(steady(1.0)))
    assert chain.at_si(np.inf, jets=4).used_m3s == pytest.approx(
        math.sqrt(46 / (k + 1 / (2 * GRAVITY * area**2))), rel=1e-13
    )


def test_under_fed_power_goes_with_the_cube_and_never_with_full_head():
    chain = Chain(Penstock(MeasuredLoss(3e4), 46.0), JETS, Runner(steady(0.6)))
    full = chain.at_si(np.inf, jets=4)
    for share in (0.9, 0.5, 0.2):
        under_fed = chain.at_si(share * full.used_m3s, jets=4)
        assert under_fed.power_w == pytest.approx(share**3 * full.power_w, rel=1e-12)
        assert under_fed.state == UNDER_FED
        assert under_fed.power_w < share * full.power_w


def test_closing_an_under_fed_jet_raises_power_where_it_should():
    """What three jets can pass is better passed by three; a flow only four can pass, by four."""
    chain = plant()
    fed = [float(chain.at_si(np.inf, jets=jets).used_m3s) for jets in (1, 2, 3, 4)]
    just_three = 1.001 * fed[2]
    assert chain.at_si(just_three, jets=3).power_w > 1.3 * chain.at_si(just_three, jets=4).power_w
    plenty = 1.001 * fed[3]
    assert chain.at_si(plenty, jets=3).power_w < chain.at_si(plenty, jets=4).power_w
    for flow in np.linspace(0.2 * fed[0], 1.2 * fed[3], 23):
        each = [float(chain.at_si(flow, jets=jets).power_w) for jets in (1, 2, 3, 4)]
        best = chain.at_si(flow)
        assert best.power_w == pytest.approx(max(each), rel=1e-12)
        assert best.jets_open == 0 or each[int(best.jets_open) - 1] == pytest.approx(
            max(each), rel=1e-12
        )


def test_adjustable_keeps_full_head():
    chain = plant(jets=Adjustable(0.011), electric=(), runner=Runner(steady(0.7)))
    for flow in (0.002, 0.006, 0.011):
        assert chain.at_si(flow).net_head_m == pytest.approx(
            46.0 - pipe_loss(flow, PIPES), rel=1e-5
        )
    assert chain.at_si(0.006).state == PART and chain.at_si(0.02).state == FULL


# --- what must always hold ------------------------------------------------------------------


@EVERY
@settings(max_examples=20, deadline=None, derandomize=True)
@given(flow=st.floats(0, 0.05), air=st.floats(0, 60), clogged=st.floats(0, 1))
def test_water_and_energy_are_conserved(name, flow, air, clogged):
    chain = PLANTS[name].replace(states={1: State(clogged=clogged, air_m=air)})
    found = chain.at_si(flow, month=1)
    gross = float(chain.penstock.head_gross_m)
    assert 0 <= found.used_m3s <= flow * (1 + 1e-12)
    assert 0 <= found.net_head_m <= gross * (1 + 1e-12)
    assert (
        0
        <= found.power_w
        <= chain.density_kgm3 * GRAVITY * found.used_m3s * found.net_head_m * (1 + 1e-12)
    )
    assert (found.power_w > 0) <= (found.state != STOPPED)


@EVERY
def test_curve_rises_and_has_no_surprises(name):
    curve = PLANTS[name].curve()
    assert np.all(np.diff(curve.flow_m3s) >= 0) and curve.flow_m3s[0] == 0
    assert np.all(np.diff(curve.power_w) >= -1e-9 * curve.rated_w), "more water never gives less"
    assert len(curve.flow_m3s) < 900
    twice = np.flatnonzero(np.diff(curve.flow_m3s) == 0)
    assert not np.any(np.diff(twice) == 1), "a jump has two values, not three"


@EVERY
@pytest.mark.parametrize("better", [{"head": 1.05}, {"loss": 0.7}, {"efficiency": 1.05}])
def test_more_head_less_loss_or_better_machine_never_lowers_power(name, better):
    flow = np.linspace(0, 0.03, 200)
    before, after = (
        PLANTS[name].at_si(flow).power_w,
        PLANTS[name].factors(**better).at_si(flow).power_w,
    )
    assert np.all(after >= before * (1 - 1e-9) - 1e-9)


@EVERY
def test_curve_is_the_operating_point(name):
    """Nodes are placed so that straight lines are right to 1e-4 of the power; the mean error bears on the energy."""
    chain = PLANTS[name]
    curve = chain.curve()
    flow = np.sort(np.random.default_rng(5).uniform(0, 1.1 * curve.flow_m3s[-1], 20_000))
    exact = chain.at_si(flow)
    # a step is caught to a float's width, so that hardly any flow can fall on its wrong side
    assert np.max(np.abs(curve.power_si(flow) - exact.power_w)) < 1e-4 * curve.rated_w
    assert abs(np.mean(curve.power_si(flow) - exact.power_w)) < 5e-5 * np.mean(exact.power_w)
    np.testing.assert_array_equal(curve.state_si(flow), exact.state)
    np.testing.assert_array_equal(curve.jets_si(flow), exact.jets_open)
    np.testing.assert_allclose(curve.used_si(flow), exact.used_m3s, atol=1e-4 * curve.most_used_m3s)


# --- jumps, states and rules ----------------------------------------------------------------


def test_jumps_are_kept_as_pairs_right_continuous():
    chain = Chain(
        Penstock(MeasuredLoss(0.0), 50.0),
        Adjustable(0.010),
        Runner(steady(0.5), minimum_flow_m3s=0.003),
    )
    curve = chain.curve()
    at = np.flatnonzero(curve.flow_m3s == 0.003)
    assert len(at) == 2
    assert curve.power_w[at[0]] == 0
    full = 0.5 * chain.density_kgm3 * GRAVITY * 50
    assert curve.power_w[at[1]] == pytest.approx(0.003 * full, rel=1e-12)
    assert curve.power_si(0.003) == pytest.approx(0.003 * full, rel=1e-12)
    assert curve.power_si(np.nextafter(0.003, 0)) == 0
    np.testing.assert_allclose(curve.power_si([0.01, 0.02, np.inf]), 0.01 * full, rtol=1e-12)
    assert np.isnan(curve.power_si(np.nan)) and np.isnan(chain.at_si(np.nan).power_w)
    assert curve.full_flow_m3s == pytest.approx(0.010)


def test_states_are_named_by_what_more_water_would_do():
    chain = plant()
    fed = [float(chain.at_si(np.inf, jets=jets).used_m3s) for jets in (1, 2, 3, 4)]
    assert chain.at_si(0.0).state == STOPPED and chain.at_si(0.0).jets_open == 0
    assert chain.at_si(0.8 * fed[0], jets=1).state == UNDER_FED
    idle = chain.at_si(
        0.5 * fed[0], jets=1
    )  # the generator's own losses take all there is: it turns, but gives nothing
    assert idle.power_w == 0 and idle.used_m3s > 0 and idle.state == STOPPED
    assert chain.at_si(1.02 * fed[1]).state == PART  # two jets fed, too little for a third
    assert chain.at_si(1.02 * fed[3]).state == FULL
    assert chain.at_si(1.02 * fed[2], jets=3).state == FULL


def test_schedule_by_month_and_by_band():
    fed = [float(plant().at_si(np.inf, jets=jets).used_m3s) for jets in (1, 2, 3, 4)]
    bands = Bands((0.0, fed[1], fed[3]), (1, 2, 4))
    chain = plant(schedule={12: 3, 1: bands})
    assert chain.at_si(1.0, month=12).jets_open == 3
    assert chain.at_si(1.0, month=6).jets_open == 4
    np.testing.assert_array_equal(
        chain.at_si([0.5 * fed[0], fed[0], fed[2], 1.0], month=1).jets_open, [1, 1, 2, 4]
    )
    curve = chain.curve(1)
    assert curve.jets_si(fed[1]) == 2 and curve.jets_si(np.nextafter(fed[1], 0)) == 1
    assert len(set(map(id, chain.curves()))) == 3
    with pytest.raises(HydrokitError, match="5 of them"):
        plant(schedule={3: 5})
    with pytest.raises(HydrokitError, match="rising flows"):
        Bands((0.0, 0.0), (1, 2))
    with pytest.raises(HydrokitError, match="month must be 1 to 12"):
        plant(schedule={13: 2})
    with pytest.raises(HydrokitError, match="12 entries"):
        plant(states=(State(),))


def test_a_month_of_ice_and_a_pocket_of_air():
    chain = plant(
        supply=(Rated(0.02),),
        states={
            1: State(clogged=0.6, ice=0.5),
            2: State(air_m=20.0),
            3: State(air_m=99.0),
            4: State(ice=1.0),
        },
    )
    assert chain.at_si(1.0, month=1).used_m3s <= 0.02 * 0.4 * 0.5 * (1 + 1e-12)
    assert chain.at_si(1.0, month=2).net_head_m < 26.0
    assert chain.at_si(1.0, month=3).power_w == 0
    assert chain.curve(4).rated_w == 0 and chain.curve(3).rated_w == 0
    assert float(chain.curve(4).power_si(0.5)) == 0


def test_water_lost_on_the_way_does_not_reach_the_jets():
    dry, leaky = plant(), plant(supply=(Rated(np.inf, 0.25, "ditch"),))
    np.testing.assert_allclose(
        leaky.at_si(np.array([0.004, 0.008, 0.02])).power_w,
        dry.at_si(0.75 * np.array([0.004, 0.008, 0.02])).power_w,
    )


def test_inlet_that_passes_no_more_holds_the_flow():
    """A pipe with holes has no head left beyond its capacity: the jets behind it starve."""
    inlet = DrilledPipe((40,), (0.008,), (0.25,))
    chain = plant(penstock=Penstock(LINE, 46.0, inlet=inlet))
    most = float(inlet.capacity_si())
    found = chain.at_si(1.0, jets=4)
    assert found.used_m3s == pytest.approx(
        min(most, float(plant().at_si(1.0, jets=4).used_m3s)), rel=1e-3
    )
    small = chain.replace(
        penstock=Penstock(LINE, 46.0, inlet=DrilledPipe((20,), (0.008,), (0.25,)))
    )
    assert small.replace(electric=()).at_si(1.0, jets=4).state == UNDER_FED
    assert small.at_si(1.0).used_m3s <= float(small.penstock.capacity_si()) * (1 + 1e-12)


def test_two_machines_share_the_flow_evenly():
    one = plant(
        jets=Adjustable(0.006),
        runner=Runner(part_load("francis")),
        electric=(),
        penstock=Penstock(MeasuredLoss(0.0), 30.0),
    )
    two = one.replace(jets=Adjustable(0.012, units=2))
    assert two.at_si(0.005).power_w == pytest.approx(float(one.at_si(0.005).power_w), rel=1e-12)
    assert two.at_si(0.012).power_w == pytest.approx(2 * float(one.at_si(0.006).power_w), rel=1e-12)
    assert two.at_si(0.005).jets_open == 1 and two.at_si(0.012).jets_open == 2


def test_maker_table_with_a_kink_is_followed():
    table = PartLoad(
        "runner",
        np.array([0.3, 0.5, 0.51, 1.0]),
        np.array([0.4, 0.6, 0.8, 0.7]),
        minimum_ratio=0.3,
        source="maker",
        mark="manufacturer's table",
    )
    chain = Chain(Penstock(MeasuredLoss(0.0), 40.0), Adjustable(0.01), Runner(table))
    curve = chain.curve()
    for flow in (0.003, 0.0045, 0.005, 0.00505, 0.0051, 0.008):
        assert curve.power_si(flow) == pytest.approx(float(chain.at_si(flow).power_w), rel=1e-4)


def test_arrays_of_plants_are_their_scalars():
    heads, areas = np.array([0.9, 1.0, 1.1]), np.array([1.05, 1.0, 0.95])
    flow = np.linspace(0, 0.02, 7)
    many = plant().factors(head=heads[:, None], jet_area=areas[:, None], loss=1.2).at_si(flow)
    for row, (head, area) in enumerate(zip(heads, areas)):
        one = plant().factors(head=head, jet_area=area, loss=1.2).at_si(flow)
        np.testing.assert_allclose(many.power_w[row], one.power_w, rtol=1e-9)
        np.testing.assert_array_equal(many.jets_open[row], one.jets_open)
    with pytest.raises(HydrokitError, match="not of arrays"):
        plant().factors(head=heads[:, None]).curve()


# --- what limits -----------------------------------------------------------------------------


@EVERY
def test_the_limiting_component_accounts_for_the_power(name):
    chain = PLANTS[name]
    flow = np.linspace(1e-4, 0.03, 60)
    found = chain.limiting_component(flow)
    np.testing.assert_allclose(found.power_w, chain.at_si(flow).power_w, rtol=1e-9, atol=1e-9)
    assert np.all(found.behind_w >= 0)
    # with so little water no other part can be to blame
    assert found.part[0] == "creek"


def test_the_limiting_component_names_the_part_and_the_next():
    chain = plant(
        supply=(Rated(0.004, name="screen"), Rated(0.007, name="line")),
        penstock=Penstock(LINE, 46.0),
    )
    found = chain.limiting_component(np.array([0.002, 0.02]))
    assert list(found.part) == ["creek", "screen"]
    assert list(found.next_part) == ["screen", "line"]
    wider = chain.replace(supply=(Rated(np.inf, name="screen"), chain.supply[1]))
    assert found.behind_w[1] == pytest.approx(
        float(wider.at_si(0.02).power_w - chain.at_si(0.02).power_w), rel=1e-9
    )
    both = plant(supply=(Rated(0.004, name="screen"), Rated(0.004, name="line")))
    assert both.limiting_component(np.array([0.02])).behind_w[0] == 0, (
        "two parts that limit alike: either alone brings nothing"
    )


def test_the_limiting_component_finds_the_electrical_part():
    chain = plant(electric=(Wire(0.4, 230.0), Loads(600.0)))
    found = chain.limiting_component(np.array([0.02]))
    assert found.part[0] == "loads"
    assert found.power_w[0] == 600.0
    assert any(each.where == "loads" and each.level == "caution" for each in chain.findings)


# --- refusals and findings ------------------------------------------------------------------


def test_penstock_that_cannot_feed_its_machine_is_named():
    chain = plant(jets=Adjustable(0.04))
    with pytest.raises(
        HydrokitError,
        match=r"penstock: it cannot feed the turbine: at 40 L/s it would lose .* m of its 46 m",
    ):
        chain.curve()
    assert any(
        each.where == "penstock" and each.level == "problem"
        for each in plant(jets=Adjustable(0.02)).findings
    )


@pytest.mark.parametrize(
    "build, message",
    [
        (lambda: Runner(steady(1.2)), "between 0 and 1"),
        (
            lambda: plant(runner=Runner(steady(0.9), efficiency_factor=1.2)).at_si(0.01),
            "runner: its efficiency must not exceed 1",
        ),
        (lambda: FixedJets((0.01,), 1.1), "coefficient must be at most 1"),
        (lambda: FixedJets((0.0,)), "diameters_m must be above zero"),
        (lambda: FixedJets(()), "1 to 8 jets"),
        (lambda: Penstock(LINE, 0.0), "head_gross_m must be above zero"),
        (lambda: Penstock(LINE, 10.0, loss_factor=-1.0), "loss_factor must be zero or more"),
        (lambda: Adjustable(0.0), "design_flow_m3s must be above zero"),
        (
            lambda: plant(runner=Runner(steady(0.7), diameter_m=0.03)),
            "jets: a jet of 13 mm is too large for a runner of 30 mm",
        ),
        (lambda: Wire(0.1, 230.0, 1.3), "power_factor must be a share"),
        (lambda: plant().at_si(0.01, month=0), "month must be 1 to 12"),
    ],
)
def test_what_cannot_be_is_refused_by_name(build, message):
    with pytest.raises(HydrokitError, match=message):
        build()


def test_factors_never_lift_an_efficiency_above_one():
    flow = np.linspace(0.001, 0.02, 9)
    wild = Chain(Penstock(MeasuredLoss(0.0), 40.0), Adjustable(0.01), Runner(steady(0.9))).factors(
        efficiency=1.5
    )
    found = wild.at_si(flow)
    np.testing.assert_allclose(
        found.power_w, wild.density_kgm3 * GRAVITY * found.used_m3s * found.net_head_m
    )


def test_cable_loss_and_its_limit():
    """E1 of the trade's usual sums: 3 kW at 230 V through 0.46 ohm is 13.043 A and 78.3 W."""
    wire = Wire(0.46, 230.0)
    assert 3000 - wire.output_si(3000.0) == pytest.approx(78.26, abs=0.05)
    assert wire.rated_w == pytest.approx(230.0**2 / (4 * 0.46))
    assert np.all(np.diff(wire.output_si(np.linspace(0, 2e5, 50))) >= 0), (
        "more in never means less out"
    )
    assert Wire(0.0, 230.0).output_si(1e6) == 1e6
