"""Friction, pipe loss and its inverses, pipes in series, root finder."""

import dataclasses
import math
import pickle

import fluids
import mpmath
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.units import Q_, UnitsError
from hydrokit.works.friction import factor, friction_factor
from hydrokit.works.hazen_williams import hazen_williams
from hydrokit.works.pipe import Line, Pipe, loss, pipe_diameter, pipe_flow, pipe_loss
from hydrokit.works.solve import bracketed_root, require

COLD = 1.3063e-6  # m²/s at 10 °C


def colebrook_exact(reynolds, roughness):
    """Colebrook by mpmath's root finder at 40 digits."""
    with mpmath.workdps(40):
        a, b = mpmath.mpf(roughness) / mpmath.mpf("3.7"), mpmath.mpf("2.51") / mpmath.mpf(reynolds)
        root = mpmath.findroot(lambda y: y + 2 * mpmath.log10(a + b * y), 8)
        return float(1 / root**2)


def test_exact_colebrook_over_the_whole_chart():
    reynolds, roughness = (
        each.ravel()
        for each in np.meshgrid(
            np.geomspace(4000, 1e12, 25), [0, 1e-9, 1e-6, 1e-4, 1e-3, 1e-2, 0.05]
        )
    )
    exact = np.array([colebrook_exact(*each) for each in zip(reynolds, roughness)])
    np.testing.assert_allclose(factor(reynolds, roughness), exact, rtol=1e-12)


def test_against_the_library_of_general_fluid_mechanics():
    """independent: fluids (exact Colebrook by Lambert W)."""
    random = np.random.default_rng(4)
    reynolds, roughness = 10 ** random.uniform(3.7, 8, 300), 10 ** random.uniform(-6, -1.4, 300)
    theirs = [fluids.friction.Colebrook(*each) for each in zip(reynolds, roughness)]
    np.testing.assert_allclose(factor(reynolds, roughness), theirs, rtol=1e-10)


def test_swamee_and_jain_stay_within_their_known_distance():
    """+3.4 % / -1 % of Colebrook over the chart, worst at Re 4000 and roughness 0.024 (computed)."""
    reynolds, roughness = np.meshgrid(
        np.geomspace(4e3, 1e8, 150), np.concatenate([[0], np.geomspace(1e-6, 0.05, 150)])
    )
    explicit = 0.25 / np.log10(roughness / 3.7 + 5.74 / reynolds**0.9) ** 2
    ratio = explicit / factor(reynolds, roughness)
    assert 1.033 < ratio.max() < 1.034
    assert 0.99 < ratio.min() < 1.0


def test_transition_is_continuous_in_value_and_slope_and_loss_never_falls():
    reynolds = np.linspace(1500, 5000, 70_001)
    for roughness in (0.0, 1e-3, 0.05):
        values = factor(reynolds, roughness)
        slope = np.gradient(values, reynolds)
        assert np.abs(np.diff(values)).max() < 5e-6
        assert np.abs(np.diff(slope)).max() < 2e-7
        assert (np.diff(values * reynolds**2) > 0).all()


def test_transition_and_very_rough_walls_are_told():
    with pytest.warns(RangeWarning, match="not settled"):
        friction_factor(3000, 0.001)
    with pytest.warns(RangeWarning, match="Colebrook"):
        friction_factor(1e5, 0.06)
    assert not friction_factor.check(4000, 0.05)
    assert not friction_factor.check(2000, 0.001)
    assert [
        finding.level for finding in pipe_loss.check("0.15 L/s", "50 mm", "10 m", "0.01 mm")
    ] == ["caution"]


def test_blocks_give_what_scalars_give_and_broadcast():
    reynolds = np.geomspace(100, 1e8, 40_000)
    whole = factor(reynolds, 1e-4)
    np.testing.assert_array_equal(whole[::4000], [factor(each, 1e-4) for each in reynolds[::4000]])
    grid = factor(reynolds[::40, None], np.array([0.0, 1e-3]))
    assert grid.shape == (1000, 2)
    np.testing.assert_allclose(grid[:, 1], factor(reynolds[::40], 1e-3), rtol=1e-14)
    assert factor(np.empty(0), 0.0).shape == (0,)
    assert math.isnan(friction_factor(float("nan"), 0.0))


@settings(derandomize=True, max_examples=80, deadline=None)
@given(
    flow=st.floats(1e-6, 2.0), diameter=st.floats(0.01, 1.5), length=st.floats(1, 3000),
    share=st.floats(0, 0.05), fittings=st.floats(0, 50),
)  # fmt: skip
def test_flow_and_diameter_give_the_loss_back(flow, diameter, length, share, fittings):
    roughness = share * diameter
    head = loss(flow, diameter, length, roughness, COLD, fittings)
    assert pipe_flow.si(
        head, diameter, length, roughness, viscosity=COLD, fittings=fittings
    ) == pytest.approx(flow, rel=1e-11)
    # With the roughness kept, another bore may give the same relative roughness no more.
    found = pipe_diameter.si(flow, head, length, roughness, viscosity=COLD, fittings=fittings)
    assert loss(flow, found, length, roughness, COLD, fittings) == pytest.approx(head, rel=1e-10)
    assert found == pytest.approx(diameter, rel=1e-10)


@settings(derandomize=True, max_examples=50, deadline=None)
@given(flow=st.floats(1e-6, 1), more=st.floats(1.0001, 3), diameter=st.floats(0.02, 1))
def test_more_flow_less_bore_more_wall_lose_more(flow, more, diameter):
    base = loss(flow, diameter, 100, 1e-5, COLD, 1.0)
    assert loss(flow * more, diameter, 100, 1e-5, COLD, 1.0) > base
    assert loss(flow, diameter / more, 100, 1e-5, COLD, 1.0) > base
    assert loss(flow, diameter, 100 * more, 1e-5, COLD, 1.0) > base
    assert loss(flow, diameter, 100, 1e-5 * more, COLD, 1.0) >= base


def test_no_flow_no_loss_and_back():
    assert pipe_loss.si(0.0, 0.1, 100, 1e-5) == 0
    assert pipe_flow.si(0.0, 0.1, 100, 1e-5) == 0
    assert pipe_loss.si(-0.01, 0.1, 100, 1e-5) == -pipe_loss.si(0.01, 0.1, 100, 1e-5)
    assert math.isnan(pipe_flow.si(float("nan"), 0.1, 100, 1e-5))


def test_explicit_flow_of_a_pipe_without_fittings():
    """analytic: with no fittings Colebrook is explicit in the flow."""
    head, bore, length, wall = 25.0, 0.25, 1000.0, 0.15e-3
    speed = math.sqrt(2 * 9.80665 * bore * head / length)
    flow = (
        -2
        * math.log10(wall / bore / 3.7 + 2.51 * COLD / (bore * speed))
        * speed
        * math.pi
        / 4
        * bore**2
    )
    assert pipe_flow.si(head, bore, length, wall, viscosity=COLD) == pytest.approx(flow, rel=1e-12)


def test_colder_water_loses_more():
    assert pipe_loss("10 L/s", "100 mm", "100 m", "0.01 mm", "0.5 degC") > pipe_loss(
        "10 L/s", "100 mm", "100 m", "0.01 mm", "20 degC"
    )


@pytest.mark.parametrize(
    "arguments, message",
    [
        (("10 L/s", "0 mm", "100 m", "0.01 mm"), "diameter must be above zero"),
        (("10 L/s", "100 mm", "-1 m", "0.01 mm"), "length must be zero or more"),
        (("10 L/s", "100 mm", "100 m", "-1 mm"), "roughness must be zero or more"),
        (("10 L/s", "-4 in", "100 m", "0.01 mm"), r"diameter must be above zero, got -0\.1016"),
    ],
)
def test_what_cannot_be_is_refused(arguments, message):
    with pytest.raises(HydrokitError, match=message):
        pipe_loss(*arguments)


def test_bare_numbers_and_pressures_are_refused():
    with pytest.raises(UnitsError, match="diameter"):
        pipe_loss("10 L/s", 0.1, "100 m", "0.01 mm")
    with pytest.raises(UnitsError, match="pressure_to_head"):
        pipe_flow("5 bar", "100 mm", "100 m", "0.01 mm")


def test_hazen_williams_tells_where_it_does_not_hold():
    with pytest.warns(RangeWarning, match="3 m/s"):
        hazen_williams("100 L/s", "150 mm", "10 m", 150)
    with pytest.warns(RangeWarning, match="under 50 mm"):
        hazen_williams("1 L/s", "40 mm", "10 m", 150)
    ours = pipe_loss("20 L/s", "150 mm", "100 m", "0.0015 mm", "15 degC").m_as("m")
    assert hazen_williams("20 L/s", "150 mm", "100 m", 150).m_as("m") == pytest.approx(
        ours, rel=0.05
    )


# --- pipes as parts -------------------------------------------------------------------------

LINE = Line(
    (
        Pipe(0.15, 120, 1e-5, fittings=0.5, name="top"),
        Pipe(0.10, 300, 1e-5),
        Pipe(0.08, 40, 1e-5, fittings=2.0),
    )
)


def test_a_line_is_the_sum_of_its_pipes():
    flow = np.linspace(0, 0.03, 13).reshape(1, 13)
    total = sum(
        loss(flow, pipe.diameter_m, pipe.length_m, pipe.roughness_m, COLD, pipe.fittings)
        for pipe in LINE.pipes
    )
    np.testing.assert_allclose(LINE.loss_si(flow, COLD), total, rtol=1e-14)
    assert LINE.loss_si(flow, COLD).shape == (1, 13)
    assert LINE.length_m == 460
    assert LINE.volume_m3 == pytest.approx(
        math.pi / 4 * (0.15**2 * 120 + 0.10**2 * 300 + 0.08**2 * 40)
    )
    assert LINE.velocity_si(0.01) == pytest.approx(0.01 / (math.pi / 4 * 0.08**2))


def test_the_flow_of_a_line_with_its_outlet_uses_up_the_head():
    head = np.array([0.0, 1.0, 30.0, 55.0, -2.0])
    outlet = 1 / (2 * 9.80665 * (0.9 * 2e-4) ** 2)
    flow = LINE.flow_si(head, COLD, outlet)
    np.testing.assert_allclose(
        LINE.loss_si(flow, COLD) + outlet * flow**2, np.maximum(head, 0), rtol=1e-12
    )
    assert flow[0] == flow[4] == 0
    assert (LINE.flow_si(head[1:4], COLD) > flow[1:4]).all()


def test_uncertainty_in_roughness_and_loss_broadcasts_over_draws():
    draws = dataclasses.replace(
        LINE.pipes[1], roughness_factor=np.array([0.5, 1.0, 4.0])[:, None], loss_factor=1.1
    )
    heads = draws.loss_si(np.array([0.005, 0.01]), COLD)
    assert heads.shape == (3, 2)
    np.testing.assert_allclose(heads[1], 1.1 * LINE.pipes[1].loss_si(np.array([0.005, 0.01]), COLD))
    assert (np.diff(heads, axis=0) > 0).all()


def test_a_pipe_tells_what_it_rests_on():
    assert Pipe(0.1, 10, 1e-5).findings_si(0.01, COLD) == ()
    assert "not settled" in Pipe(0.1, 10, 1e-5, name="reach 2").findings_si(0.0003, COLD)[0].message
    assert LINE.findings_si(0.01, COLD) == ()
    assert Q_("100 mm").m_as("m") == LINE.pipes[1].diameter.m_as("m")
    with pytest.raises(HydrokitError, match="Pipe 'reach'.*diameter_m must be above zero"):
        Pipe(0.0, 10, 1e-5, name="reach")
    with pytest.raises(HydrokitError, match="Line"):
        Line(())
    assert pickle.loads(pickle.dumps(LINE)).length_m == 460


# --- root finder ----------------------------------------------------------------------------


def test_root_finder_is_exact_on_hard_functions_and_says_nan_without_a_bracket():
    power = np.array([1.0, 3.0, 7.0])
    np.testing.assert_allclose(
        bracketed_root(lambda x: x**power - 0.5, np.zeros(3), np.ones(3), steps=30),
        0.5 ** (1 / power),
        rtol=1e-14,
    )
    assert bracketed_root(lambda x: x, 0.0, 1.0) == 0.0
    assert math.isnan(bracketed_root(lambda x: x + 1, 0.0, 1.0))
    assert bracketed_root(np.cos, 0.0, 3.0) == pytest.approx(math.pi / 2, rel=1e-15)


def test_a_result_does_not_depend_on_its_neighbours():
    heads = np.geomspace(0.01, 100, 50)
    whole = LINE.flow_si(heads, COLD)
    np.testing.assert_array_equal(whole[7], LINE.flow_si(heads[7], COLD))


def test_require_names_what_came():
    with pytest.raises(HydrokitError, match=r"f\(\): share must be a share from 0 to 1, got 1.5"):
        require("f", "a share from 0 to 1", share=[0.2, 1.5])
    require("f", "above zero", unknown=float("nan"))
