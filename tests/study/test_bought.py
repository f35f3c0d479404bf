"""What is bought: a generator whose size nobody told, and costs that follow what is bought."""

import numpy as np
import pytest
from small_study import changed

GRAVITY, DENSITY = 9.80665, 999.85  # standard gravity; water at 8 °C


@pytest.fixture
def study(tmp_path):
    """A study made of the small one with some of its sections changed."""
    return lambda files=(), **changes: changed(tmp_path / "study", files, **changes)


def with_pipe(size):
    return {"pipe": [{"size": f"PVC-U PN 10 {size} mm"}]}


# --- the generator --------------------------------------------------------------------------


@pytest.mark.parametrize("jets", [{}, {"jets": 4, "jet_diameter": "25 mm"}])
def test_a_wider_pipe_never_brings_fewer_kwh(study, jets):
    # whose speed follows the jets: what a runner held at one speed loses is another matter
    found = [
        study(penstock=with_pipe(size), turbine=jets, generator={"speed": "free"}).year
        for size in (90, 110, 140, 200)
    ]
    for narrow, wide in zip(found, found[1:]):
        assert wide.annual_kwh > narrow.annual_kwh
        assert wide.useful_annual_kwh >= narrow.useful_annual_kwh * (
            1 - 1e-6
        )  # curves are traced to a millionth


def test_a_generator_nobody_rated_is_bought_for_the_flow_under_the_whole_head(study):
    """By hand: two jets of 20 mm under 38 m, at the runner's 75 % and the generator's 85 %."""
    flow = 2 * 0.97 * np.pi / 4 * 0.02**2 * np.sqrt(2 * GRAVITY * 38)
    s = study()
    coefficient = s.plant.jets.coefficient / 0.97
    flow *= coefficient
    assert s.plant.electric[0].size_w == pytest.approx(
        DENSITY * GRAVITY * flow * 38 * 0.75 * 0.85, rel=2e-3
    )
    # the licence passes less than four wide jets would: for more water no generator is bought
    capped = study(turbine={"jets": 1, "jet_diameter": "60 mm"}, rights={"licence": "20 L/s"})
    more = study(turbine={"jets": 1, "jet_diameter": "60 mm"}, rights={"licence": "30 L/s"})
    assert capped.plant.electric[0].size_w < more.plant.electric[0].size_w
    told = [each for each in s.findings(("generator_findings",)) if each.where == "generator"]
    assert len(told) == 1 and "rating" in told[0].message


def made_alone(s):
    """The plant with its first change made."""
    return s.upgrades.search.case(frozenset({s.changes[0].name})).chain


def test_a_bought_generator_follows_the_plant_and_one_of_a_told_rating_stays(study):
    more = [{"name": "a third jet", "cost": 200, "jets": 3}]
    # whose speed follows the jets: an installed runner held at one speed keeps that speed
    free = {"rights": {"licence": "30 L/s"}, "generator": {"speed": "free"}}
    s = study(upgrade=more, **free)
    before, after = s.base_case.chain.electric[0].size_w, made_alone(s).electric[0].size_w
    assert (
        after
        == pytest.approx(
            study(turbine={"jets": 3}, **free).plant.electric[0].size_w,
            rel=1e-9,
        )
        and after > 1.05 * before
    )
    s = study(upgrade=more, generator={"rating": "4 kW"})
    assert made_alone(s).electric[0].rated_w == 4000


def test_the_plant_the_sizing_chose_is_the_same_when_it_is_described(study):
    free = {"jet_diameter": None}
    chosen = study(turbine=free, sizing={"flows": ["12 L/s"], "jets": [2]})
    bore = float(chosen.plant.jets.diameters_m[0])
    again = study(turbine={"jet_diameter": f"{1000 * bore!r} mm", "jets": 2})
    assert again.plant.electric[0].size_w == pytest.approx(
        chosen.plant.electric[0].size_w, rel=1e-6
    )
    assert again.year.annual_kwh == pytest.approx(chosen.year.annual_kwh, rel=1e-4)


# --- what it costs --------------------------------------------------------------------------

COSTS = {"cable": "9 per m", "laying": "14 per m", "cables": "cables.csv"}
CABLES = {"cables": "size,price [money/m]\n6 mm2,5\n16 mm2,9\n50 mm2,22\n"}
TRANSFORMER = [
    {"at": "powerhouse", "rating": "6 kW", "no_load_loss": "50 W", "full_load_loss": "120 W"}
]


def test_a_larger_generator_costs_more(study):
    small, large = (study(generator={"rating": f"{kw} kW"}).money for kw in (4, 8))
    assert dict(small.items)["machine and switchboard"] == pytest.approx(
        4000
    ) and large.first_money - small.first_money == pytest.approx(4000)


def test_a_thinner_cable_costs_its_own_price(study):
    thin, there = (
        study(CABLES, costs=COSTS, cable={"size": f"{size} mm2"}).money for size in (6, 16)
    )
    assert dict(thin.items)["cable, laid"] == pytest.approx(
        60 * 5
    ) and there.first_money - thin.first_money == pytest.approx(60 * 4)
    # of a size that has no price the price of any cable counts
    other = study(CABLES, costs=COSTS, cable={"size": "25 mm2"}).money
    assert dict(other.items)["cable, laid"] == pytest.approx(
        60 * 9
    ) and other.first_money == pytest.approx(there.first_money)


@pytest.mark.parametrize(
    "lossy",
    [
        {"transformer": [TRANSFORMER[0] | {"no_load_loss": "63 W", "full_load_loss": "150 W"}]},
        {"inverter": {"rating": "20 kW", "idle": "80 W", "efficiency": "90 %"}},
    ],
)
def test_what_loses_more_makes_nothing_cheaper(study, lossy):
    plain, worse = study(transformer=TRANSFORMER), study(**({"transformer": TRANSFORMER} | lossy))
    assert worse.money.first_money == pytest.approx(plain.money.first_money, rel=1e-12)
    assert worse.year.annual_kwh < plain.year.annual_kwh


def test_more_idle_draw_gives_fewer_kwh(study):
    years = [
        study(inverter={"rating": "4 kW", "idle": f"{idle} W", "efficiency": "94 %"}).year
        for idle in (5, 20, 80, 160)
    ]
    for frugal, thirsty in zip(years, years[1:]):
        assert (
            thirsty.annual_kwh < frugal.annual_kwh
            and thirsty.useful_annual_kwh < frugal.useful_annual_kwh
        )
