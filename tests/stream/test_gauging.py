"""Bucket, float, current meter, flood marks, gain or loss."""

from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from hydrokit.errors import HydrokitError
from hydrokit.stream.bucket import bucket
from hydrokit.stream.floats import BEDS, float_coefficient, float_gauging
from hydrokit.stream.gauging import Gauging, gain_or_loss, total
from hydrokit.stream.slope_area import slope_area
from hydrokit.stream.verticals import velocity_area, vertical_velocity
from hydrokit.units import Q_, UnitsError

DATA = Path(__file__).parents[1] / "data"
NOTES = np.loadtxt(DATA / "currentmeter_usgs_tm3a8_fig2.csv", delimiter=",", skiprows=1).T


def notes(**options):
    return velocity_area(Q_(NOTES[0], "ft"), Q_(NOTES[1], "ft"), Q_(NOTES[2], "ft/s"), **options)


def messages(result, level=None):
    return " | ".join(each.message for each in result.findings if level in (None, each.level))


# --- bucket ---------------------------------------------------------------------------------


def test_bucket_is_all_water_over_all_time():
    gauging = bucket(["10 L", "8 L"], ["5 s", "4.4 s"])
    assert gauging.flow.m_as("L/s") == pytest.approx(18 / 9.4, rel=1e-12)


def test_bucket_shares_add_in_squares():
    gauging = bucket("10 L", ["4.9 s", "5.1 s", "5.0 s"])
    assert gauging.uncertainty == pytest.approx(
        np.sqrt(sum(share**2 for share in gauging.parts.values())), rel=1e-12
    )
    fills = 10 / np.array([4.9, 5.1, 5.0])
    assert gauging.parts["repeats"] == pytest.approx(
        fills.std(ddof=1) / np.sqrt(3) / fills.mean(), rel=1e-12
    )
    # One reaction time in every fill, so more fills do not lessen it.
    assert gauging.parts["timing"] == pytest.approx(0.2 / 5, rel=1e-12)


def test_bucket_says_what_is_thin():
    assert "three or more" in messages(bucket("10 L", "6 s"), "note")
    assert "less than 5 s" in messages(bucket("10 L", ["3 s"] * 3), "caution")
    assert "differ by" in messages(bucket("10 L", ["5 s", "7 s", "6 s"]), "caution")
    assert bucket("10 L", ["6.0 s", "6.1 s", "6.2 s"]).findings == ()


@pytest.mark.parametrize(
    "volume, time",
    [("0 L", "5 s"), ("10 L", ["5 s", "0 s"]), (["10 L", "9 L"], ["5 s", "5 s", "5 s"])],
)
def test_bucket_refuses(volume, time):
    with pytest.raises(HydrokitError, match="bucket"):
        bucket(volume, time)


def test_bucket_refuses_a_bare_number():
    with pytest.raises(UnitsError, match="time"):
        bucket("10 L", 5)


# --- float ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "bed, depth",
    [("planks or concrete", 0.3), ("fine gravel", 0.6), ("gravel", 0.8), ("cobbles", 1.5)],
)
def test_float_coefficient_is_the_mean_of_the_logarithmic_profile(bed, depth):
    """Analytic: u/u* = 2.5 ln(z/ks) + 8.5, integrated by quadrature, over its value at the surface."""
    profile = lambda z: 2.5 * np.log(z / BEDS[bed]) + 8.5  # noqa: E731
    mean = quad(profile, 0, depth)[0] / depth
    assert float_coefficient(Q_(depth, "m"), bed) == pytest.approx(mean / profile(depth), rel=1e-6)


def test_float_coefficient_rises_with_depth_and_smoothness():
    depths = Q_(np.geomspace(0.05, 5, 40), "m")
    curves = np.array([float_coefficient.si(depths.m_as("m"), bed) for bed in BEDS])
    assert np.all(np.diff(curves, axis=1) >= 0) and np.all(np.diff(curves, axis=0) <= 0)
    assert curves.min() >= 0.5 and curves.max() < 0.95


def test_float_says_what_is_doubtful():
    assert "0.6 to 0.95" in messages(float_gauging(["1 m/s"] * 3, "1 m^2", 0.5), "caution")
    assert "lanes" in messages(float_gauging(["1 m/s", "2 m/s", "1 m/s"], "1 m^2"), "caution")
    assert "wade" in " ".join(float_gauging("1 m/s", "1 m^2").cautions).lower()
    with pytest.raises(HydrokitError, match="coefficient"):
        float_gauging("1 m/s", "1 m^2", 1.2)
    with pytest.raises(HydrokitError, match="bed must be one of"):
        float_coefficient("1 m", "mud")


# --- current meter --------------------------------------------------------------------------


def test_tape_may_run_either_way():
    ways = [
        velocity_area(*(Q_(row[::step], unit) for row, unit in zip(NOTES, ("ft", "ft", "ft/s"))))
        for step in (1, -1)
    ]
    assert ways[0].flow_m3s == pytest.approx(ways[1].flow_m3s, rel=1e-12)
    assert ways[0].uncertainty == pytest.approx(ways[1].uncertainty, rel=1e-12)


def test_metric_notes_give_the_same():
    metric = velocity_area(*(Q_(row * 0.3048, unit) for row, unit in zip(NOTES, ("m", "m", "m/s"))))
    assert metric.flow_m3s == pytest.approx(notes().flow_m3s, rel=1e-12)


def test_wall_at_the_edge_carries_half_a_width():
    """Analytic: a rectangular flume of even velocity is width times depth times velocity."""
    distance, even = np.linspace(0, 2, 9), np.ones(9)
    for method in ("mid-section", "mean-section"):
        gauging = velocity_area(
            Q_(distance, "m"), Q_(0.5 * even, "m"), Q_(0.3 * even, "m/s"), method
        )
        assert gauging.flow_m3s == pytest.approx(2 * 0.5 * 0.3, rel=1e-12)


def test_interpolated_variance_is_nothing_on_straight_lines():
    """Analytic: where depth and velocity run straight, neighbours foretell each vertical."""
    distance = np.array([0.0, 1, 2, 3.5, 4, 5, 6.2, 7, 8])
    gauging = velocity_area(
        Q_(distance, "m"),
        Q_(0.2 + 0.1 * distance, "m"),
        Q_(0.3 + 0.02 * distance, "m/s"),
        uncertainty_method="interpolated variance",
    )
    assert gauging.parts["depth"] < 1e-12 and gauging.parts["velocity"] < 1e-12


def test_interpolated_variance_finds_the_noise_put_in():
    """Independent: noise of known size on a flat bed, mean of many measurements."""
    random = np.random.default_rng(7)
    distance, even = np.arange(40.0), np.ones(40)
    found = [
        velocity_area(
            Q_(distance, "m"),
            Q_(even + random.normal(0, 0.05, 40), "m"),
            Q_(even + random.normal(0, 0.08, 40), "m/s"),
            uncertainty_method="interpolated variance",
        ).details
        for _ in range(300)
    ]
    depth, velocity = (
        np.sqrt(np.mean([each[name] ** 2 for each in found]))
        for name in ("depth_deviation_m", "velocity_deviation_ms")
    )
    # sqrt(36/35): the divisor is one less than the number of terms, as published.
    assert depth == pytest.approx(0.05 * np.sqrt(36 / 35), rel=0.03)
    assert velocity == pytest.approx(0.08 * np.sqrt(36 / 35), rel=0.03)


@pytest.mark.parametrize("points", [2, 3, 5])
def test_points_in_a_vertical_find_the_mean_of_a_logarithmic_profile(points):
    """Analytic: ln(z/z0) has the mean ln(d/z0) - 1; the reduced points are known to lie within 3 %."""
    depth, roughness = 1.0, 0.005
    below = {2: [0.2, 0.8], 3: [0.2, 0.6, 0.8], 5: [0.0, 0.2, 0.6, 0.8, 0.97]}[points]
    profile = np.log((depth - np.array(below)) / roughness)
    assert vertical_velocity(Q_(profile, "m/s"), points).m_as("m/s") == pytest.approx(
        np.log(depth / roughness) - 1, rel=0.03
    )


def test_points_are_taken_along_the_last_axis():
    velocity = Q_(np.array([[0.5, 0.3], [0.6, 0.2], [0.4, 0.4]]), "m/s")
    np.testing.assert_allclose(vertical_velocity(velocity, 2).m_as("m/s"), [0.4, 0.4, 0.4])
    with pytest.raises(HydrokitError, match="from the surface down"):
        vertical_velocity(velocity, 3)
    with pytest.raises(HydrokitError, match="points must be"):
        vertical_velocity(velocity, 4)


def test_more_points_and_verticals_lessen_the_uncertainty():
    assert notes(points=2).uncertainty < notes().uncertainty
    half = velocity_area(
        Q_(NOTES[0][::3], "ft"), Q_(NOTES[1][::3], "ft"), Q_(NOTES[2][::3], "ft/s")
    )
    assert half.uncertainty > notes().uncertainty


def test_notes_with_enough_verticals_have_no_findings():
    assert notes().findings == ()


def test_few_verticals_and_a_heavy_panel_are_told():
    few = velocity_area(Q_([0, 1, 2, 3], "m"), Q_([0, 1, 1, 0], "m"), Q_([0, 1, 1.2, 0], "m/s"))
    assert "2 verticals" in messages(few, "note")
    assert "of the flow; add verticals" in messages(few, "caution")
    assert "wade" in messages(few, "caution")
    back = velocity_area(Q_([0, 1, 2, 3], "m"), Q_([0, 1, 1, 0], "m"), Q_([0, -0.1, 1.2, 0], "m/s"))
    assert "backwards" in messages(back)


@pytest.mark.parametrize(
    "distance, depth, velocity, sentence",
    [
        (
            [0, 1, 2, 3],
            [0, 0.4, 0.5, 0],
            [0, np.nan, 0.3, 0],
            "vertical at 1 m has a depth but no velocity",
        ),
        ([0, 1, 1, 3], [0, 0.4, 0.5, 0], [0, 0.2, 0.3, 0], "look at 1 m"),
        ([0, 1, 2, 3], [0, -0.4, 0.5, 0], [0, 0.2, 0.3, 0], "must not be negative"),
        ([0, 1, 2, 3], [0, np.nan, 0.5, 0], [0, 0.2, 0.3, 0], "needs a distance and a depth"),
        ([0, 1, 2], [0, 0.4, 0.5, 0], [0, 0.2, 0.3, 0], "same verticals"),
        ([0, 1, 2, 3], [0, 0.4, 0.5, 0], [0, 0, 0, 0], "no flow"),
    ],
)
def test_velocity_area_refuses(distance, depth, velocity, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        velocity_area(Q_(distance, "m"), Q_(depth, "m"), Q_(velocity, "m/s"))


def test_a_missing_velocity_on_dry_ground_is_no_matter():
    island = velocity_area(
        Q_([0, 1, 2, 3, 4], "m"),
        Q_([0, 0.4, 0, 0.5, 0], "m"),
        Q_([np.nan, 0.2, np.nan, 0.3, 0], "m/s"),
    )
    assert island.flow_m3s == pytest.approx(0.4 * 0.2 + 0.5 * 0.3)


@pytest.mark.parametrize("options", [{"method": "middle"}, {"uncertainty_method": "guess"}])
def test_velocity_area_refuses_unknown_methods(options):
    with pytest.raises(HydrokitError, match="must be"):
        notes(**options)


def test_too_few_verticals_for_the_interpolated_variance():
    with pytest.raises(HydrokitError, match="at least eight"):
        velocity_area(
            Q_([0, 1, 2, 3], "m"),
            Q_([0, 1, 1, 0], "m"),
            Q_([0, 1, 1, 0], "m/s"),
            uncertainty_method="interpolated variance",
        )


# --- sums and differences -------------------------------------------------------------------


def test_total_adds_flows_and_absolute_uncertainties():
    one, other = (
        Gauging.from_parts(0.010, {"a": 0.05}, "bucket"),
        Gauging.from_parts(0.030, {"a": 0.10}, "weir"),
    )
    both = total(one, other)
    assert both.flow_m3s == pytest.approx(0.040)
    assert both.uncertainty * both.flow_m3s == pytest.approx(np.hypot(0.0005, 0.003))
    with pytest.raises(HydrokitError):
        total()


def test_loss_agrees_with_random_draws():
    """Independent: 200,000 pairs of gaugings with one error in common."""
    above = Gauging.from_parts(0.020, {"mark": 0.05, "timing": 0.03}, "bucket")
    below = Gauging.from_parts(0.0185, {"mark": 0.05, "timing": 0.04}, "bucket")
    found = gain_or_loss(above, below, shared=("mark",))
    random = np.random.default_rng(3)
    mark, first, second = random.normal(size=(3, 200_000))
    draws = 0.0185 * (1 + 0.05 * mark + 0.04 * second) - 0.020 * (1 + 0.05 * mark + 0.03 * first)
    assert found.change_m3s == pytest.approx(-0.0015)
    assert found.uncertainty_m3s == pytest.approx(draws.std(), rel=0.01)
    assert not found.certain and "may be no loss" in messages(found)


def test_leak_is_certain_where_it_passes_twice_its_uncertainty():
    above, below = (
        Gauging.from_parts(flow, {"coefficient": 0.02}, "weir") for flow in (0.030, 0.024)
    )
    assert gain_or_loss(above, below).certain
    with pytest.raises(HydrokitError, match="shared part"):
        gain_or_loss(above, below, shared=("mark",))


# --- flood marks ----------------------------------------------------------------------------


def test_three_sections_satisfy_the_energy_equation():
    """Analytic: Bernoulli between neighbours with Manning's friction, solved for the flow by brentq."""
    area, perimeter = np.array([12.0, 10.0, 11.5]), np.array([11.0, 10.2, 10.9])
    distance, level, n, g = np.array([0.0, 60, 130]), np.array([1.30, 1.02, 0.70]), 0.045, 9.80665
    conveyance = area * (area / perimeter) ** (2 / 3) / n

    def misses(flow):
        lost = 0.0
        for up, down in ((0, 1), (1, 2)):
            heads = [(flow / area[each]) ** 2 / (2 * g) for each in (up, down)]
            regained = max(heads[0] - heads[1], 0.0)
            lost += (
                flow**2 * (distance[down] - distance[up]) / (conveyance[up] * conveyance[down])
                + 0.5 * regained
            )
            lost += heads[1] - heads[0]
        return level[0] - level[2] - lost

    found = slope_area(Q_(area, "m^2"), Q_(perimeter, "m"), Q_(level, "m"), Q_(distance, "m"), n)
    assert found.flow_m3s == pytest.approx(brentq(misses, 1, 500), rel=1e-10)
    assert "widens" in messages(found, "caution")


def test_slope_area_says_what_the_method_asks_for():
    short = slope_area(
        ["3 m^2", "2.9 m^2"], ["5 m", "5 m"], ["0.08 m", "0 m"], ["0 m", "10 m"], 0.05
    )
    assert "75 are asked for" in messages(short) and "0.15 m" in messages(short)
    with pytest.raises(HydrokitError, match="levels must fall"):
        slope_area(["3 m^2", "2.9 m^2"], ["5 m", "5 m"], ["0 m", "0.1 m"], ["0 m", "10 m"], 0.05)
    with pytest.raises(HydrokitError, match="same sections"):
        slope_area(["3 m^2"], ["5 m", "5 m"], ["0 m", "0.1 m"], ["0 m", "10 m"], 0.05)
