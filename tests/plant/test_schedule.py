"""Which jets should stand open: against closed forms and a solver that knows nothing of hydrokit."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from hydrokit.errors import HydrokitError
from hydrokit.plant.chain import Chain
from hydrokit.plant.parts import Adjustable, FixedJets, MeasuredLoss, Penstock, Runner, steady
from hydrokit.plant.schedule import jet_schedule
from hydrokit.plant.turbine import part_load
from hydrokit.works.state import State

G = 9.80665


def plant(jets=4, loss=0.0, head=50.0, **more):
    return Chain(
        Penstock(MeasuredLoss(loss), head),
        FixedJets((0.012,) * jets, 0.95),
        Runner(steady(0.6)),
        **more,
    )


def test_without_pipe_loss_it_is_a_closed_form():
    """One more jet, under-fed, equals those fed where the cube of the flow does: q = Q(n+1) · (n/(n+1))^(1/3)."""
    found = jet_schedule(plant(), gain=0.08)
    one = 0.95 * np.pi / 4 * 0.012**2 * np.sqrt(2 * G * 50)
    assert [band.jets for band in found.bands] == [1, 2, 3, 4]
    for fewer, more in zip(found.bands, found.bands[1:]):
        n, whole = fewer.jets, more.jets * one
        assert fewer.fed_m3s == pytest.approx(n * one, rel=1e-9)
        assert (
            more.from_m3s
            == fewer.to_m3s
            == pytest.approx(whole * (n / (n + 1)) ** (1 / 3), rel=1e-9)
        )
        assert more.close_pa == pytest.approx(
            found.bands[0].pressure_pa * (n / (n + 1)) ** (2 / 3), rel=1e-9
        )
        assert more.down_m3s == pytest.approx(whole * (n / (n + 1) / 1.08) ** (1 / 3), rel=1e-9)
        assert fewer.up_m3s == pytest.approx(
            whole * min(n / (n + 1) * 1.08, 1) ** (1 / 3), rel=1e-9
        )
    assert (
        np.isnan(found.bands[0].down_m3s)
        and np.isnan(found.bands[-1].up_m3s)
        and np.isinf(found.bands[-1].to_m3s)
    )


def test_with_pipe_loss_another_solver_agrees():
    found, loss, head = jet_schedule(plant(loss=60e3)), 60e3, 50.0

    def fed(n):
        area = 0.95 * n * np.pi / 4 * 0.012**2
        flow = brentq(
            lambda q: head - loss * q * q - (q / area) ** 2 / (2 * G), 1e-6, 0.1, xtol=1e-14
        )
        return flow, flow * (flow / area) ** 2, area

    for fewer, more in zip(found.bands, found.bands[1:]):
        q_n, p_n, _ = fed(fewer.jets)
        q_more, _, area = fed(more.jets)
        even = brentq(lambda q: q * (q / area) ** 2 - p_n, 1e-6, q_more, xtol=1e-14)
        assert fewer.fed_m3s == pytest.approx(q_n, rel=1e-8) and more.from_m3s == pytest.approx(
            even, rel=1e-8
        )
        assert more.close_pa == pytest.approx(999.7 * G * (even / area) ** 2 / (2 * G), rel=1e-4)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(jets=st.integers(1, 6), loss=st.floats(0, 3e5), gain=st.floats(0, 0.3))
def test_no_other_number_gives_more_within_a_band(jets, loss, gain):
    chain = plant(jets, loss)
    found = jet_schedule(chain, gain=gain)
    assert all(band.down_m3s <= band.from_m3s * (1 + 1e-9) for band in found.bands[1:])
    assert all(band.to_m3s * (1 - 1e-9) <= band.up_m3s for band in found.bands[:-1])
    for band in found.bands:
        flow = np.linspace(
            band.from_m3s, min(band.to_m3s, 1.5 * found.curve.flow_m3s[-1] + 1e-3), 7
        )[1:-1]
        best = chain.at_si(flow, jets=band.jets).power_w
        for other in range(1, jets + 1):
            assert np.all(chain.at_si(flow, jets=other).power_w <= best * (1 + 1e-9) + 1e-9)


def test_past_a_third_of_the_head_more_jets_are_never_best():
    found = jet_schedule(plant(6, 2e6))
    assert found.bands[-1].jets < 6 and found.band_of(6) is None


def test_habit_is_put_aside_and_the_month_counts():
    class Screen:
        name = "screen"

        def capacity_si(self, state):
            return 0.012 * (1 - state.clogged)

    clean = jet_schedule(
        plant(schedule=(4,) * 12, supply=(Screen(),), states={10: State(clogged=0.5)})
    )
    leaves = jet_schedule(
        plant(schedule=(4,) * 12, supply=(Screen(),), states={10: State(clogged=0.5)}), month=10
    )
    assert clean.bands[-1].jets == 3 and clean.jets_si(0.02) == 3
    assert leaves.bands[-1].jets == 2 and leaves.bands[0].from_m3s == pytest.approx(
        clean.bands[0].from_m3s, rel=1
    )
    assert np.isnan(jet_schedule(plant(supply=(Screen(),))).bands[-1].fed_m3s) == (
        3 * clean.bands[0].fed_m3s > 0.012
    )


def test_adjustable_machines_keep_their_head():
    needle = Chain(
        Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.02, 2), Runner(part_load.si("pelton"))
    )
    found = jet_schedule(needle)
    assert not found.fixed and all(np.isnan(band.close_pa) for band in found.bands)
    assert found.bands[-1].jets == 2


def test_jets_of_several_bores_are_refused():
    with pytest.raises(HydrokitError, match="one bore"):
        jet_schedule(
            Chain(
                Penstock(MeasuredLoss(0.0), 50.0),
                FixedJets((0.01, 0.012), 0.95),
                Runner(steady(0.6)),
            )
        )
    with pytest.raises(HydrokitError, match="0 or more"):
        jet_schedule(plant(), gain=-0.1)
