"""Jets: what they pass, what head they need, and the most power through a pipe."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from hydrokit.errors import HydrokitError, RangeWarning, UnitsError
from hydrokit.plant.jets import (
    JET_KINDS,
    best_flow,
    best_jet_diameter,
    jet_diameter,
    jet_flow,
    jet_flow_at_head,
    jet_head,
    jet_velocity,
)

steady = settings(derandomize=True, deadline=None, max_examples=60)
heads = st.floats(1.0, 500.0)
flows = st.floats(1e-4, 2.0)
coefficients = st.floats(0.5, 1.0)


@steady
@given(head=heads, diameter=st.floats(0.003, 0.3), jets=st.integers(1, 8), coefficient=coefficients)
def test_head_and_flow_undo_each_other(head, diameter, jets, coefficient):
    flow = jet_flow_at_head.si(head, diameter, jets, coefficient)
    assert jet_head.si(flow, diameter, jets, coefficient) == pytest.approx(head, rel=1e-12)
    assert jet_diameter.si(flow, head, jets, coefficient) == pytest.approx(diameter, rel=1e-12)


def test_a_pressure_and_the_head_it_stands_for_give_one_flow():
    """analytic: p = rho g H with the density of water at 10 degC, 999.70 kg/m3 (IAPWS)."""
    pressure = 999.70 * 9.80665 * 42.0
    assert jet_flow.si(pressure, 0.012, 4, 0.95, 283.15) == pytest.approx(
        jet_flow_at_head.si(42.0, 0.012, 4, 0.95), rel=1e-5
    )


def test_under_fed_power_falls_with_the_cube_of_the_flow():
    """analytic: P = rho g Q H(Q), and the head that n open jets need goes with Q squared."""
    full, half = 0.012, 0.006
    power = [flow * jet_head.si(flow, 0.012, 4, 0.95) for flow in (full, half)]
    assert power[0] / power[1] == pytest.approx(8.0, rel=1e-12)


@steady
@given(
    head=heads, constant=st.floats(1.0, 1e6), exponent=st.sampled_from([1.0, 1.75, 1.852, 2.0, 2.5])
)
def test_most_power_leaves_one_part_in_exponent_plus_one_for_loss(head, constant, exponent):
    """analytic theorem against scipy's own search for the maximum of Q(H - kQ^m).

    For m = 2 a third of the head is lost; for the Hazen-Williams exponent 1/2.852 = 0.3506.
    """
    top = (head / constant) ** (1 / exponent)
    found = minimize_scalar(
        lambda q: -q * top * (head - constant * (q * top) ** exponent),
        bounds=(0, 1),
        method="bounded",
        options={"xatol": 1e-10},
    )
    flow = best_flow.si(1.0, head, constant, exponent)
    assert constant * flow**exponent / head == pytest.approx(1 / (exponent + 1), rel=1e-12)
    # a maximum is flat: its place is found to about the root of the precision
    assert found.x * top == pytest.approx(flow, rel=1e-6)
    assert -found.fun == pytest.approx(flow * (head - constant * flow**exponent), rel=1e-12)


def test_one_third_is_lost_and_not_a_half():
    shares = [
        0.1 * best_flow.si(1.0, 30.0, 0.1, exponent) ** exponent / 30.0 for exponent in (2.0, 1.852)
    ]
    assert shares == pytest.approx([1 / 3, 0.350631], abs=1e-6)


def test_best_jet_agrees_with_a_search_over_jet_sizes():
    """analytic D_n = (D^5/2fL)^(1/4), against power of a nozzle with pipe loss computed here."""
    diameter, length, friction, head, gravity = 0.1, 300.0, 0.02, 60.0, 9.80665

    def power(jet):
        loss_share = friction * length / diameter * (jet / diameter) ** 4
        velocity_square = 2 * gravity * head / (1 + loss_share)
        return np.pi / 4 * jet**2 * velocity_square**1.5

    found = minimize_scalar(
        lambda jet: -power(jet), bounds=(0.005, 0.09), method="bounded", options={"xatol": 1e-10}
    )
    assert best_jet_diameter.si(diameter, length, friction) == pytest.approx(found.x, rel=1e-6)
    assert best_jet_diameter.si(diameter, length, friction, 4) == pytest.approx(
        found.x / 2, rel=1e-6
    )


def test_small_square_edged_holes_measure_what_the_orifice_standard_says():
    """independent: fluids 1.3.1, Reader-Harris/Gallagher (ISO 5167-2), a small hole in a wide pipe; and the
    free-streamline slot pi/(pi + 2). The kind's bounds must hold both, and its value lie within 3 % of each."""
    from fluids.flow_meter import C_Reader_Harris_Gallagher

    kind = JET_KINDS["sharp-edged orifice"]
    measured = C_Reader_Harris_Gallagher(
        D=0.1, Do=0.015, rho=1000.0, mu=1.3e-3, m=4.0, taps="corner"
    )
    for known in (measured, np.pi / (np.pi + 2)):
        assert kind.low <= known <= kind.high
        assert kind.coefficient == pytest.approx(known, rel=0.03)


@pytest.mark.parametrize("kind", JET_KINDS.values(), ids=JET_KINDS)
def test_every_kind_of_jet_passes_no_more_than_its_speed_allows(kind):
    """A jet cannot be wider than its hole: flow coefficient at most the velocity coefficient, but for thick plates
    that may run full."""
    assert 0 < kind.low <= kind.coefficient <= kind.high < 1
    assert kind.coefficient <= kind.velocity_coefficient <= 1
    assert kind.source


def test_nozzles_hold_the_published_velocity_coefficients():
    """published: 0.95 to 0.985 over the examples of Subramanya ch. 16 and Nag ch. 10."""
    for name in ("conical nozzle", "spear"):
        assert 0.95 <= JET_KINDS[name].velocity_coefficient <= 0.985


def test_a_crawling_jet_is_said_to_be_unsettled():
    with pytest.warns(RangeWarning, match="Reynolds number"):
        jet_flow("0.5 kPa", "1 mm", 1, 0.6)
    assert jet_flow.check("0.5 kPa", "1 mm", 1, 0.6)
    assert not jet_flow.check("4 bar", "12 mm", 4, 0.95)


@pytest.mark.parametrize(
    "call, sentence",
    [
        (lambda: jet_flow("4 bar", "12 mm", 4, 1.2), "coefficient must be a share from 0 to 1"),
        (lambda: jet_flow("-1 bar", "12 mm", 4, 0.9), "pressure must be zero or more"),
        (lambda: jet_flow("4 bar", "0 mm", 4, 0.9), "diameter must be above zero"),
        (lambda: jet_head("4 L/s", "12 mm", 0, 0.9), "jets must be above zero"),
        (lambda: best_flow("4 L/s", "40 m", "0 m"), "loss must be above zero"),
        (lambda: jet_velocity("40 m", 1.1), "velocity_coefficient must be a share"),
    ],
)
def test_impossible_jets_are_refused(call, sentence):
    with pytest.raises(HydrokitError, match=sentence):
        call()


def test_a_pressure_is_no_head():
    with pytest.raises(UnitsError, match="not a pressure"):
        jet_flow_at_head("60 psi", "12 mm", 4, 0.95)


def test_unknown_in_unknown_out():
    assert np.isnan(jet_flow.si(np.array([4e5, np.nan]), 0.012, 4, 0.95, 283.15)).tolist() == [
        False,
        True,
    ]
