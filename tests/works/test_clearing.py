"""Air that clears or stays: bands, the outlet, the siphon, steps of filling."""

import math

import numpy as np
import pytest
from test_air import ONE, TWO, line

from hydrokit.errors import HydrokitError, RangeWarning
from hydrokit.units import Q_
from hydrokit.works import air, clearing, falling, venting
from hydrokit.works.air import regime
from hydrokit.works.filling import filling, flow_with_pockets
from hydrokit.works.filling_steps import filling_steps

# --- clearing, outlet, siphon, steps ----------------------------------------------------------


def test_the_band_holds_every_printed_relation_and_the_conflicts():
    """At one degree the printed criteria spread from 0.14 to 0.86 of √(gD)."""
    low, high = clearing.clearing_band.si(1.0, math.radians(1.0))
    scale = math.sqrt(9.80665)
    assert low / scale == pytest.approx(0.141, abs=0.001) and high / scale == pytest.approx(
        0.858, abs=0.001
    )
    for angle in np.radians([0.5, 1, 5, 10, 20, 30]):
        low, high = clearing.clearing_band.si(0.2, angle)
        # four readings of Kalinske and Bliss, written out here on their own
        tangent = math.tan(angle)
        for number in (0.707 * tangent, 0.81 * tangent, tangent, 0.35 * tangent + 0.18):
            speed = 4 / math.pi * math.sqrt(number * 9.80665 * 0.2)
            assert low * (1 - 1e-3) <= speed <= high * (1 + 1e-3)


def test_small_pipe_and_steep_slope_are_warned_of():
    with pytest.warns(RangeWarning, match="under 100 mm"):
        clearing.clearing_band("75 mm", "5 deg")
    with pytest.warns(RangeWarning, match="30 degrees"):
        clearing.clearing_velocity("150 mm", "40 deg")
    with pytest.raises(HydrokitError, match="relation"):
        clearing.clearing_velocity("150 mm", "4 deg", "nobody 1900")
    with pytest.raises(HydrokitError, match="between 0 and 90"):
        clearing.clearing_band("150 mm", "-4 deg")


def test_verdict_follows_the_band():
    dipped = line([99.0, 80.0, 95.0, 65.0], 100.0, crest=66.0, bore=0.15)
    legs = venting.clearing(dipped, 0.001)
    assert len(legs) == 1 and legs[0].verdict == "stays" and legs[0].findings == ()
    low, high = clearing.clearing_band.si(0.15, math.asin(0.3))
    area = math.pi / 4 * 0.15**2
    assert (legs[0].low_m3s, legs[0].high_m3s) == pytest.approx((low * area, high * area))
    assert venting.clearing(dipped, legs[0].high_m3s * 1.01)[0].verdict == "goes"
    assert venting.clearing(dipped, (low + high) / 2 * area)[0].verdict == "not settled"
    assert (
        "under 100 mm"
        in venting.clearing(line(ONE, 100.0, crest=66.0, bore=0.06), 0.001)[0].findings[0].message
    )


def test_the_cavity_in_two_dimensions_fills_half_the_depth():
    """Benjamin's plane case, h/D = V/√(gD) = 1/2, by the same three balances: the method, not the circle."""
    from scipy.optimize import brentq

    def unbalanced(h):  # energy u² = 2(1 − h), continuity V = u·h, momentum V²/2 + 1/2 = u²h + h²/2
        square = 2 * (1 - h)
        return square * h * h / 2 + 0.5 - square * h - h * h / 2

    assert brentq(unbalanced, 0.2, 0.9) == pytest.approx(0.5)


def test_outlet_events_by_name():
    """Three events, three limits: 0.3, 0.542 and 2.544 of √(gD)."""
    scale = math.pi / 4 * math.sqrt(9.80665 * 0.15**5)
    flows = Q_(np.array([0.29, 0.31, 0.53, 0.55, 2.53, 2.56]) * scale, "m^3/s")
    names = clearing.outlet_event(flows, "150 mm")
    assert list(names) == [
        "air escapes upwards",
        "air can creep in",
        "air can creep in",
        "air is kept out",
        "air is kept out",
        "the end runs full",
    ]
    with pytest.warns(RangeWarning, match="end depth"):
        clearing.outlet_depth("0.1 L/s", "150 mm")


def test_an_upturned_end_seals_and_fills_the_line_back_to_its_crest():
    """At rest the line is full to where the crown meets the crest's level: 72 + (82 − 72)·(x)…, by hand 80.05 m of axis."""
    sealed = line([99.95, 90.0, 80.0, 70.0], 100.0, crest=80.1)
    still = venting.outlet(sealed, 1e-9)
    assert still.sealed and still.event == "sealed by its crest"
    # the crown is 0.05 above the axis: full from where the axis is at 80.05, half a metre up the second reach
    assert still.full_from_m == pytest.approx(200.0 - 0.5, abs=0.01)
    assert venting.outlet(sealed, 0.005).full_from_m < still.full_from_m  # plus friction
    open_end = venting.outlet(line([99.95, 90.0, 80.0, 70.0], 100.0), 0.001)
    assert not open_end.sealed and open_end.event == "air escapes upwards"
    assert any("upturned end" in finding.message for finding in open_end.findings)
    low_crest = filling(line([99.95, 90.0, 80.0, 70.0], 100.0, crest=70.02))
    assert any("does not seal" in finding.message for finding in low_crest.findings)


def test_throttling_brings_the_grade_to_the_crown():
    humped = line([99.0, 80.0, 95.0, 65.0], 100.0, crest=66.0)
    limit = venting.throttle(humped)
    assert limit.decides_m == pytest.approx(200.0)
    grade, crown = venting.running_grade(humped, limit.flow_m3s), humped.reaches.crown_m
    assert (grade - crown)[1:].min() == pytest.approx(0.0, abs=1e-6)
    assert limit.gate_head_m == pytest.approx(humped.head_m - humped.needed_si(limit.flow_m3s))
    assert any(
        "throttle at the end" in f.message
        for f in venting.outlet(humped, limit.flow_m3s * 1.2).findings
    )
    never = venting.outlet(line([99.0, 80.0, 103.0, 65.0], 100.0), 0.001)
    assert never.throttle.flow_m3s == 0 and any(
        "stands above the pond" in f.message for f in never.findings
    )


def test_a_siphon_is_bounded_by_vapour_pressure_at_its_altitude():
    levels = [99.0, 80.0, 102.0, 40.0]
    low, high = line(levels, 100.0), line(levels, 100.0, altitude=2600.0)
    assert venting.siphon_flow(low) > venting.siphon_flow(high) > 0
    for site, atmosphere in ((low, 101325.0), (high, 73748.9)):
        limit = (atmosphere - 1228.2) / (999.70 * 9.80665)  # ISO 2533, IAPWS at 10 °C
        (top,) = venting.siphon(site, venting.siphon_flow(site))
        assert top.limit_m == pytest.approx(limit, rel=2e-3)
        assert top.suction_m == pytest.approx(limit, rel=2e-3)
        assert venting.siphon(site, 1.1 * venting.siphon_flow(site))[0].breaks
        assert not venting.siphon(site, 0.8 * venting.siphon_flow(site))[0].breaks


def test_the_inlet_draws_bubbles_when_its_cover_is_too_small():
    shallow = line([99.8, 90.0, 70.0], 100.0)
    assert venting.inlet_air(shallow, 0.010).draws_air
    assert venting.inlet_air(shallow, 0.010).findings
    assert not venting.inlet_air(line([98.0, 90.0, 70.0], 100.0), 0.010).draws_air


def test_steps_of_filling_go_from_low_to_high_with_the_gate_shut():
    two = line(TWO, 100.0, crest=63.0, vents=[200.0, 400.0])
    steps = filling_steps(two, 0.02)
    assert [step.kind for step in steps] == [
        "shut gate",
        "fill",
        "vent",
        "vent",
        "wait",
        "open gate",
        "watch",
    ]
    assert steps[0].head_m == pytest.approx(38.0) and steps[0].place_m == pytest.approx(500.0)
    assert steps[1].flow_m3s == pytest.approx(0.30 * math.pi / 4 * 0.01)
    assert [step.place_m for step in steps if step.kind == "vent"] == [
        400.0,
        200.0,
    ]  # 92 m, then 98 m
    assert "plug" in steps[3].text  # at 20 L/s the grade is below the crown of the upper high point
    assert steps[5].flow_m3s <= 0.02
    siphon_steps = filling_steps(
        line([99.0, 80.0, 103.0, 65.0, 66.0, 50.0], 100.0, vents=[200.0]), 0.005
    )
    assert any("pump or suction" in step.text for step in siphon_steps)


def test_stations_and_joints_are_cut_once():
    """A joint between stations splits a reach; volume and length stay those of the pipes."""
    from hydrokit.works.pipe import Line, Pipe
    from hydrokit.works.profile import Profile

    profile = Profile(np.array([0.0, 100, 200, 300]), np.array([99.0, 90, 80, 70]), True)
    two_pipes = Line((Pipe(0.15, 130.0, 1e-5, fittings=0.5), Pipe(0.1, 170.0, 1e-5)))
    cut = falling.FallingLine(profile, two_pipes, 100.0).reaches
    assert cut.length_m == pytest.approx([100, 30, 70, 100])
    assert cut.volume_m3[-1] == pytest.approx(two_pipes.volume_m3)
    assert list(cut.fittings) == [0.5, 0, 0, 0]
    site = falling.FallingLine(profile, two_pipes, 100.0)
    assert site.spent_si(0.01)[-1] == pytest.approx(two_pipes.loss_si(0.01, 1.3063e-6), rel=1e-3)


def test_everyday_units():
    mixed = falling.falling_line(
        ["0 m", "40 m", "70 m", "150 m"],
        ["99 m", "90 m", "96 m", "70 m"],
        "100 mm",
        "0.01 mm",
        "100 m",
        crest_level="90 m",
    )
    us = falling.falling_line(
        Q_(np.array([0, 40, 70, 150]) / 0.3048, "ft"),
        Q_(np.array([99, 90, 96, 70]) / 0.3048, "ft"),
        Q_(0.1 / 0.0254, "in"),
        "0.01 mm",
        Q_(100 / 0.3048, "ft"),
        crest_level=Q_(90 / 0.3048, "ft"),
    )
    assert filling(us).margin_m == pytest.approx(filling(mixed).margin_m, rel=1e-9)
    assert filling(us).source_needed.to("m").magnitude == pytest.approx(
        filling(mixed).source_needed_m
    )
    assert filling(us).margin.check("[length]") and flow_with_pockets(us).flow.check(
        "[length]**3/[time]"
    )
    assert regime(us).flow.check("[length]**3/[time]") and venting.throttle(us).flow.check(
        "[length]**3/[time]"
    )
    with pytest.raises(HydrokitError, match="3 stretches"):
        falling.falling_line(
            ["0 m", "40 m", "70 m", "150 m"],
            ["99 m", "90 m", "96 m", "70 m"],
            ["100 mm", "90 mm"],
            "0.01 mm",
            "100 m",
        )
    assert all(
        name in vars(module)
        for module in (air, clearing, falling, venting)
        for name in module.__all__
    )
