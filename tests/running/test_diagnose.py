"""Diagnosis on true plants that know nothing of hydrokit, the signatures by hand, the log of a demo against what was seeded in it."""

from pathlib import Path

import numpy as np
import pytest
import shared
from seeded import CASES, NOISE, baseline_of, seeded
from true_plant import DENSITY, GRAVITY, PLANTS

from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.running.card import expected
from hydrokit.running.condition import Condition, forward
from hydrokit.running.diagnose import diagnose
from hydrokit.running.faults import FAULTS
from hydrokit.running.healthy_plant import HealthyPlant
from hydrokit.running.observation import Observation, gathered, observation
from hydrokit.running.rehearsal import usual_visit
from hydrokit.running.signatures import signatures
from hydrokit.running.weighing import Weighed, foretold

STUDIES = Path(__file__).parents[2] / "studies"
SITE = PLANTS["four small jets"]
KEYS = [fault.key for fault in FAULTS]
HEAD, LOSS, AREA = 48.0, 60e3, 0.95 * np.pi / 4 * 0.0125**2
WEIGHT = 999.7 * GRAVITY


@pytest.fixture(scope="module")
def simple():
    """A plant whose loss is k·Q², so that everything has a closed form."""
    chain = Chain(
        Penstock(MeasuredLoss(LOSS), HEAD),
        FixedJets((0.0125,) * 4, 0.95),
        Runner(steady(0.55)),
        density_kgm3=999.7,
    )
    return HealthyPlant.of(expected(chain))


@pytest.fixture(scope="module")
def tables():
    """Of a commissioned plant."""
    return signatures(baseline_of(SITE, SITE, np.random.RandomState(11)))


@pytest.fixture(scope="module")
def saltfern():
    return shared.demo("saltfern-creek")


def settled(area, head=HEAD, friction=0.0):
    """Flow and head at the jets, closed form."""
    flow = np.sqrt(head / (LOSS + friction + 1 / (2 * GRAVITY * area**2)))
    return flow, (flow / area) ** 2 / (2 * GRAVITY)


# --- the forward models, by hand ----------------------------------------------------------------


def test_friction_deficit_goes_with_the_square_of_the_flow(simple):
    """analytic: what the gauge lacks, with what the pipe itself no longer loses, is f·Q²; shut off nothing is lacking."""
    well, faulty = forward(simple, Condition()), forward(simple, Condition(friction_m=6.0))
    flow = faulty.inflow_m3s
    lacking = well.net_head_m - faulty.net_head_m + LOSS * (well.inflow_m3s**2 - flow**2)
    per_square = lacking[1:] / flow[1:] ** 2
    assert per_square == pytest.approx(6.0 / well.inflow_m3s[-1] ** 2, rel=1e-6) and lacking[
        0
    ] == pytest.approx(0.0, abs=1e-9)
    for jets in range(1, 5):
        assert faulty.net_head_m[jets] == pytest.approx(
            settled(jets * AREA, friction=6.0 / well.inflow_m3s[-1] ** 2)[1], rel=1e-5
        )


def test_an_air_pocket_keeps_its_pressure_times_its_height(simple):
    """analytic: head less loss less h of the jets is the pocket's height, by Boyle that at full flow times its pressure then over its pressure now."""
    well, faulty = forward(simple, Condition()), forward(simple, Condition(air_m=5.0))
    net = faulty.net_head_m
    flow = np.arange(5) * AREA * np.sqrt(2 * GRAVITY * net)
    pocket = HEAD - net - LOSS * flow**2
    pressure = 10.0 + 0.4 * (HEAD - LOSS * flow**2)  # two fifths down the pipe
    full = 10.0 + 0.4 * (HEAD - LOSS * well.inflow_m3s[-1] ** 2)
    assert pocket == pytest.approx(5.0 * full / pressure, rel=1e-5)
    assert pocket.min() > 0.8 * pocket.max(), "near constant"


def test_where_the_pocket_sits_hardly_matters(simple):
    """analytic: what a pocket takes with all shut, from a fifth to nine tenths down the pipe, within 4 % of the one place taken."""
    lost = LOSS * forward(simple, Condition()).inflow_m3s[-1] ** 2
    shut = [(10 + at * (HEAD - lost)) / (10 + at * HEAD) for at in (0.2, 0.4, 0.9)]
    assert max(shut) - shut[1] < 0.04 and shut[1] - min(shut) < 0.04


def test_a_hole_further_up_strains_less_of_the_pipe(simple):
    """analytic: h + k(a(Q+q)² + (1-a)Q²) = H, with q what an opening beside the gauge would lose."""
    found = forward(simple, Condition(leak=0.3, leak_at=0.5))
    net, area = found.net_head_m[4], 4 * AREA
    flow, lost = (each * np.sqrt(2 * GRAVITY * net) for each in (area, 0.3 * area))
    assert net + LOSS * (0.5 * (flow + lost) ** 2 + 0.5 * flow**2) == pytest.approx(HEAD, rel=1e-5)
    assert found.inflow_m3s[4] == pytest.approx(flow + lost, rel=1e-6)


def test_underfeeding_is_gone_when_a_jet_is_closed(simple):
    """analytic: four under-fed jets stand under (Q/4A)²/2g; three that are fed under their full head."""
    full = settled(4 * AREA)[0]
    missing = 0.15
    assert settled(3 * AREA)[0] < (1 - missing) * full, "three jets are fed by what arrives"
    faulty = forward(simple, Condition(missing=missing))
    assert faulty.net_head_m[4] == pytest.approx(
        ((1 - missing) * full / (4 * AREA)) ** 2 / (2 * GRAVITY), rel=1e-5
    )
    assert faulty.net_head_m[3] == pytest.approx(settled(3 * AREA)[1], rel=1e-5)
    assert faulty.power_w[3] > faulty.power_w[4] and faulty.spare[4] < 0 < faulty.spare[3]


def test_a_blocked_jet_raises_pressure_and_drops_watts_and_a_worn_one_does_not(simple):
    """analytic: a whole jet blocked is one jet less; a worn one is more of a jet."""
    well, blocked, worn = (
        forward(simple, Condition(jets_lost=lost, which=2)) for lost in (0.0, 1.0, -0.5)
    )
    assert blocked.pressure_pa[2:] == pytest.approx(
        well.pressure_pa[1:-1], rel=1e-6
    ) and blocked.pressure_pa[1] == pytest.approx(well.pressure_pa[1])
    assert np.all(blocked.pressure_pa[2:] > well.pressure_pa[2:]) and np.all(
        blocked.power_w[2:] < well.power_w[2:]
    )
    assert np.all(worn.pressure_pa[2:] < well.pressure_pa[2:]) and np.all(
        worn.power_w[2:] > well.power_w[2:]
    )
    assert worn.net_head_m[4] == pytest.approx(settled(4.5 * AREA)[1], rel=1e-5)


def test_a_leak_shows_shut_off_and_the_gauge_alone_leaves_the_watts(simple):
    """analytic: a hole of area 0.8·A with everything shut is a jet of that size."""
    well, leak, gauge, stuck = (
        forward(simple, each)
        for each in (
            Condition(),
            Condition(leak=0.2),
            Condition(gauge_pa=-3e4),
            Condition(stuck_pa=2e5),
        )
    )
    assert leak.net_head_m[0] == pytest.approx(settled(0.8 * AREA)[1], rel=1e-5)
    assert (
        leak.inflow_m3s[4] == pytest.approx(settled(4.8 * AREA)[0], rel=1e-5)
        and leak.power_w[4] < well.power_w[4]
    )
    assert gauge.power_w == pytest.approx(well.power_w) and gauge.pressure_pa == pytest.approx(
        well.pressure_pa - 3e4
    )
    assert np.all(stuck.pressure_pa == 2e5) and stuck.true_pa == pytest.approx(well.pressure_pa)
    assert forward(simple, Condition(missing=1.0)).pressure_pa == pytest.approx(0.0), (
        "no water at all: the pipe stands empty"
    )


@pytest.mark.parametrize("name", PLANTS)
def test_every_state_reads_as_on_an_independent_plant(name):
    """independent: true_plant.py (Swamee-Jain, bisection). 1 % of static pressure; watts 3 %, and what its runner loses away from its head."""
    site = PLANTS[name]
    plant = HealthyPlant.of(baseline_of(site, site, np.random.RandomState(0), commissioned=False))
    static = DENSITY * GRAVITY * site.head
    scaled = {"air": site.head, "friction": site.head, "gauge": static, "stuck": static}
    for state, size in CASES:
        fault = FAULTS[KEYS.index(state)]
        found = forward(
            plant,
            fault.condition(
                1 - size if state == "under_fed" else size * scaled.get(state, 1.0),
                int(fault.in_jets),
            ),
        )
        for jets in range(site.jets + 1):
            pressure, watts, flow, under_fed = site.true_reading(jets, state, size, 1)
            assert found.pressure_pa[jets] == pytest.approx(pressure, abs=0.01 * static), (
                state,
                size,
                jets,
            )
            assert found.inflow_m3s[jets] == pytest.approx(flow, abs=0.01 * site.full_flow)
            few = (max(jets, 1) / site.jets) ** 0.04  # the plan takes one efficiency
            off = 1 - 0.25 * max(1 - np.sqrt(found.net_head_m[jets] / site.head) - 0.08, 0.0)
            assert found.power_w[jets] * few * off == pytest.approx(watts, rel=0.03, abs=1.0), (
                state,
                size,
                jets,
            )


# --- the weighing --------------------------------------------------------------------------------


def test_the_chance_of_the_readings_is_that_of_the_joint_normal_distribution(tables):
    """independent: scipy's multivariate normal with the whole covariance, row by row."""
    from scipy.stats import multivariate_normal

    looks = [
        observation(4, "3.9 bar", power="2700 W"),
        observation(3, "4.2 bar", power="2300 W"),
        observation(0, "4.8 bar", flow=None),
    ]
    weighed = Weighed.of(tables, looks, NOISE)
    read = [
        ("pressure_pa", 4, 3.9e5),
        ("power_w", 4, np.log(2700)),
        ("pressure_pa", 3, 4.2e5),
        ("power_w", 3, np.log(2300)),
        ("pressure_pa", 0, 4.8e5),
    ]
    for row in range(0, len(tables.size), 211):
        parts = [foretold(tables, name, jets, NOISE) for name, jets, _ in read]
        scale = np.array(
            [1e4 if name == "pressure_pa" else 0.02 for name, *_ in read]
        )  # scipy takes pascals beside logarithms for singular
        slopes = np.stack([part[1][row] for part in parts]) / scale[:, None]
        covariance = slopes @ slopes.T + np.diag([part[2][row] for part in parts] / scale**2)
        by_scipy = multivariate_normal.logpdf(
            [value for *_, value in read] / scale,
            [part[0][row] for part in parts] / scale,
            covariance,
        )
        assert weighed.log_likelihood[row, 0] == pytest.approx(
            by_scipy - np.log(scale).sum(), rel=1e-9
        )


def test_slopes_are_those_of_the_forward_model(tables):
    """The spread foretold for a healthy reading is what drawn parameters of the baseline give; 12 %: three standard errors of 300 draws."""
    random = np.random.default_rng(4)
    drawn = forward(
        tables.plant, Condition(), random.standard_normal((300, 5)) @ tables.plant.spread.T
    )
    for jets in range(1, 5):
        assert np.linalg.norm(tables.slopes["pressure_pa"][tables.healthy, jets]) == pytest.approx(
            drawn.pressure_pa[:, jets].std(), rel=0.12
        )
        assert np.linalg.norm(tables.slopes["log_power"][tables.healthy, jets]) == pytest.approx(
            np.log(drawn.power_w[:, jets]).std(), rel=0.12
        )


def test_right_in_nineteen_of_twenty_seeded_faults():
    """independent: 6 drawn plants of each of three kinds, 31 states and sizes: 558 draws. The benchmark does 500 of each."""
    outcomes = [
        each
        for number, site in enumerate(PLANTS.values())
        for each in seeded(site, 6, seed=2 + number)
    ]
    assert len(outcomes) == 558
    assert np.mean([each.right for each in outcomes]) >= 0.95
    assert np.mean([each.first != "well" for each in outcomes if each.state == "well"]) <= 0.06, (
        "one of 18 may be an accident"
    )
    assert np.mean(
        [each.in_interval for each in outcomes if each.state not in ("well", "stuck")]
    ) == pytest.approx(0.93, abs=0.05)
    large = [
        each
        for each in outcomes
        if (each.state, each.size)
        in {
            ("under_fed", 0.4),
            ("air", 0.25),
            ("friction", 0.4),
            ("blocked", 1.0),
            ("machine", 0.6),
            ("gauge", -0.25),
            ("stuck", 0.3),
        }
    ]
    assert np.mean([each.first == each.state and each.left == 1 for each in large]) > 0.93, (
        "large faults are named, and alone"
    )


def test_less_is_known_without_commissioning():
    known, promised = (
        seeded(SITE, 3, seed=3, commissioned=commissioned) for commissioned in (True, False)
    )
    assert np.mean([each.right for each in promised]) >= 0.95
    assert np.mean([each.left for each in promised]) > 1.3 * np.mean([each.left for each in known])
    assert np.mean([each.first == each.state for each in promised]) < np.mean(
        [each.first == each.state for each in known]
    )
    told = diagnose(
        baseline_of(SITE, SITE, np.random.RandomState(0), commissioned=False),
        observation(4, "4 bar"),
    )
    assert any("never commissioned" in each.message for each in told.findings)


# --- what it says ---------------------------------------------------------------------------------


def test_low_and_not_spilling_is_under_fed_low_and_spilling_is_not(tables):
    low = 0.7 * tables.table.pressure_pa[tables.healthy, 4]
    dry = diagnose(tables, Observation(4, low, spilling=False, fluctuates=True), NOISE)
    wet = diagnose(tables, Observation(4, low, spilling=True, fluctuates=False), NOISE)
    assert dry.first.key == "under_fed" and dry.first.probability > 0.9
    assert wet.first.key in ("air", "friction", "leak") and wet.of("under_fed").probability < 0.05
    assert {"air", "friction"} <= {wet.first.key, *wet.inseparable}, (
        "one reading cannot tell air from a valve, and that is said"
    )


def test_the_advised_look_tells_the_two_apart(tables):
    """Close a jet: under-fed jets recover, a half-shut valve does not; either way the state is then named."""
    low = 0.8 * tables.table.pressure_pa[tables.healthy, 4]
    first = Observation(4, low)
    told = diagnose(tables, first, NOISE)
    assert {"under_fed", "friction"} <= {told.first.key, *told.inseparable}
    assert told.first.action.key == "close a jet" and told.first.action.odds > 20
    for state, size in (("under_fed", 0.9), ("friction", 0.25)):
        fault = FAULTS[KEYS.index(state)]
        faulty = forward(
            tables.plant, fault.condition(1 - size if state == "under_fed" else size * SITE.head, 0)
        )
        looks = [Observation(4, faulty.pressure_pa[4]), Observation(3, faulty.pressure_pa[3])]
        assert diagnose(tables, looks, NOISE).first.key == state


def test_the_action_is_the_easiest_that_is_enough(tables):
    low = 0.85 * tables.table.pressure_pa[tables.healthy, 4]
    no_watts = diagnose(tables, Observation(4, low, spilling=True, fluctuates=False), NOISE)
    assert no_watts.of("gauge").action.key == "watts", (
        "watts are right where only the gauge is wrong, and they cost a glance"
    )
    done = [
        Observation(
            count,
            forward(tables.plant, Condition()).pressure_pa[count],
            spilling=True,
            fluctuates=False,
        )
        for count in range(5)
    ]
    assert diagnose(tables, done, NOISE).of("machine").action.key == "watts"


def test_watts_low_and_pressure_right_is_the_machine(tables):
    well = forward(tables.plant, Condition())
    found = diagnose(
        tables,
        [
            Observation(4, well.pressure_pa[4], 0.7 * well.power_w[4], spilling=True),
            Observation(0, well.pressure_pa[0]),
        ],
        NOISE,
    )
    assert found.first.key == "machine" and found.first.low < 0.3 < found.first.high
    assert found.first.cost_w == pytest.approx(0.3 * well.power_w[4], rel=0.15)
    blind = diagnose(tables, Observation(4, well.pressure_pa[4], spilling=True), NOISE)
    assert "machine" in blind.inseparable and any(
        "no watts" in each.message for each in blind.findings
    )


def test_what_it_costs_is_what_the_healthy_plant_gives_more(tables):
    full = tables.plant.full_flow_m3s
    faulty = forward(tables.plant, Condition(missing=0.3))
    found = diagnose(
        tables,
        Observation(
            4, faulty.pressure_pa[4], faulty.power_w[4], spilling=False, flow_m3s=0.7 * full
        ),
        NOISE,
    )
    assert found.power_w - found.first.cost_w == pytest.approx(faulty.power_w[4], rel=0.05)
    assert found.first.low < 0.3 < found.first.high


def test_frost_makes_ice_likelier(tables):
    shown = 0.6 * tables.table.pressure_pa[tables.healthy, 4]
    mild, cold = (
        diagnose(tables, Observation(4, shown, air_k=air), NOISE) for air in (285.0, 255.0)
    )
    for key in ("under_fed", "stuck"):
        assert cold.of(key).probability > mild.of(key).probability


def test_readings_that_no_state_explains_are_told(tables):
    well = forward(tables.plant, Condition())
    looks = [
        Observation(4, 0.5 * well.pressure_pa[4], 2 * well.power_w[4]),
        Observation(0, 1.4 * well.pressure_pa[0]),
    ]
    assert any(
        "two things are wrong" in each.message for each in diagnose(tables, looks, NOISE).findings
    )
    assert not any(
        "two things" in each.message
        for each in diagnose(
            tables, Observation(4, well.pressure_pa[4], well.power_w[4]), NOISE
        ).findings
    )


def test_a_single_jet_and_another_gauge(tables):
    one = Chain(Penstock(MeasuredLoss(LOSS), HEAD), FixedJets((0.02,), 0.95), Runner(steady(0.55)))
    found = diagnose(expected(one), [observation(1, "2 bar", spilling=False, fluctuates=True)])
    assert found.first.key == "under_fed"
    well = forward(tables.plant, Condition())
    wrong = diagnose(
        tables, Observation(4, 0.8 * well.pressure_pa[4], true_pa=well.pressure_pa[4]), NOISE
    )
    assert wrong.first.key in ("gauge", "stuck") and wrong.of("air").probability < 0.02


@pytest.mark.parametrize(
    "looks, message",
    [
        ([Observation(4)], "nothing was read"),
        ([], "nothing was read"),
        (
            [observation(5, "4 bar", name="the note on the door")],
            "the note on the door has 5 jets open, but there are 4",
        ),
    ],
)
def test_what_cannot_be_diagnosed_is_refused(tables, looks, message):
    with pytest.raises(HydrokitError, match=message):
        diagnose(tables, looks)


@pytest.mark.parametrize("jets", [Adjustable(0.01, 2), FixedJets((0.012, 0.015), 0.95)])
def test_jets_that_are_no_flow_meter_are_refused(jets):
    chain = Chain(Penstock(MeasuredLoss(LOSS), HEAD), jets, Runner(steady(0.55)))
    with pytest.raises(HydrokitError, match="one fixed bore"):
        diagnose(expected(chain), observation(1, "2 bar"))


def test_jets_without_valves_are_not_advised_to_be_closed():
    together = FixedJets((0.0125,) * 4, 0.95, valves=False)
    tables = signatures(
        expected(Chain(Penstock(MeasuredLoss(LOSS), HEAD), together, Runner(steady(0.55))))
    )
    assert [look.jets for look in usual_visit(tables.plant)] == [4, 0]
    told = diagnose(tables, observation(4, "2.5 bar"))
    assert {each.action.key for each in told.suspects if each.action} <= {
        "needle",
        "watts",
        "shut off",
        "spillway",
        "other gauge",
        "flow",
    }


def test_visits_are_gathered_by_time_and_jets():
    day = np.datetime64("2024-05-01T08:00")
    minutes = [0, 30, 60, 90, 600]
    found = gathered(
        day + np.array(minutes, dtype="timedelta64[m]"),
        [Observation(jets) for jets in (4, 3, 4, 3, 2)],
        "log",
    )
    assert [[look.jets for look in visit.looks] for visit in found] == [[4, 3], [4, 3], [2]], (
        "the same jets again: something was done between"
    )
