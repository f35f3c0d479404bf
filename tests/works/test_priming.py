"""Flows of a falling leg unprimed and primed, and of lines with pockets, against a solver of its own.

The solver here imports nothing of hydrokit: Colebrook by repetition, critical depth from the angle of
the wetted arc, roots by scipy.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from hydrokit.works import falling, venting
from hydrokit.works.air import least_energy
from hydrokit.works.diversion import LineAir, carried
from hydrokit.works.filling import filling, flow_with_pockets
from hydrokit.works.priming import priming

G, NU, AIR, WALL = 9.80665, 1.3063e-6, 10.3353, 1e-5


def laid(levels, source, bore, step=100.0, **kept):
    """A line whose stations lie `step` apart along the pipe."""
    return falling.falling_line.si(
        np.arange(len(levels)) * step,
        np.array(levels, dtype=float),
        bore,
        WALL,
        source,
        kept.get("crest"),
        kept.get("vents"),
        kept.get("altitude", 0.0),
        fittings=0.5,
        along_slope=True,
    )


# --- a solver of its own ----------------------------------------------------------------------


def slope_of(flow, bore):
    """Friction for each metre of a full pipe."""
    speed = flow / (math.pi / 4 * bore**2)
    if speed * bore / NU < 2300:  # laminar
        return 32 * NU * speed / (G * bore**2)
    root = 7.0
    for _ in range(40):
        root = -2 * math.log10(WALL / bore / 3.7 + 2.51 * root / (speed * bore / NU))
    return speed**2 / (2 * G * bore * root**2)


def velocity_head(flow, bore):
    return (flow / (math.pi / 4 * bore**2)) ** 2 / (2 * G)


def energy(flow, bore):
    """Least head over the floor: Q²T = gA³, by the half angle of the wetted arc."""

    def off(half):
        area = bore**2 / 4 * (half - math.sin(half) * math.cos(half))
        return G * area**3 / (bore * math.sin(half)) - flow**2

    half = brentq(off, 1e-3, math.pi - 1e-9, xtol=1e-14)
    area = bore**2 / 4 * (half - math.sin(half) * math.cos(half))
    return bore / 2 * (1 - math.cos(half)) + (flow / area) ** 2 / (2 * G)


def primed(levels, source, bore, step):
    def off(flow):
        return (
            source
            - levels[-1]
            - 1.5 * velocity_head(flow, bore)
            - step * (len(levels) - 1) * slope_of(flow, bore)
        )

    return brentq(off, 1e-6, 2.0, xtol=1e-12)


def unprimed(levels, top, source, bore, step):
    """Over a high point open to air: entry, friction of the full limb, critical depth."""

    def off(flow):
        limb = 0.5 * velocity_head(flow, bore) + step * top * slope_of(flow, bore)
        return source - (levels[top] - bore / 2) - limb - energy(flow, bore)

    return brentq(off, 1e-6, 2.0, xtol=1e-12)


def with_pockets(levels, source, crest, bore, step):
    """Flow of a line with every leg's air left in it, and the air's height; even slopes. None where it does not start."""
    legs = list(zip(range(2, len(levels), 2), levels[2::2], levels[3::2]))

    def walked(flow):
        friction, speed = slope_of(flow, bore), velocity_head(flow, bore)
        lost, air, full_to = 0.5 * speed, 0.0, 0.0
        for place, top, low in legs:
            lost += friction * (step * place - full_to)
            height = min(
                top - low, (top - low) * AIR / max(AIR + source - top - lost - speed, 1e-3)
            )
            metres = height * step / (top - low)
            # Under the pocket the water's fall is spent; in a leg flatter than its friction the bore is full.
            lost, air, full_to = (
                lost + max(height, friction * metres),
                air + height,
                step * place + metres,
            )
        return lost + friction * (step * (len(levels) - 1) - full_to) + speed, air

    total, at_rest = 0.0, []
    for _, top, low in legs:
        left = source - top - total
        at_rest.append(left)
        total += (top - low) * AIR / (AIR + max(left, 0.0))
    if min([*at_rest, source - crest - total]) < 0:
        return None
    found = brentq(lambda flow: walked(flow)[0] - (source - crest), 1e-9, 2.0, xtol=1e-13)
    return found, walked(found)[1]


def random_line(random):
    """A line of one to six dips, its source, its crest and its bore."""
    levels = [500.0]
    for _ in range(random.integers(1, 7)):
        fall = random.uniform(4, 40)
        rise = fall * random.uniform(0.2, 0.9)
        levels += [levels[-1] - fall, levels[-1] - fall + rise]
    levels.append(min(levels) - random.uniform(10, 40))
    crest = levels[-1] + random.uniform(0.5, 8)
    return levels, 500.0 + random.uniform(0.2, 30), crest, random.uniform(0.08, 0.4)


def hold_against_the_solver(count):
    """So many random lines with a sealed end, and half as many with a free end behind one high point."""
    random, ran = np.random.default_rng(20261129), 0
    for number in range(count):
        levels, source, crest, bore = random_line(random)
        line, truth = laid(levels, source, bore, crest=crest), None
        truth = with_pockets(levels, source, crest, bore, 100.0)
        assert filling(line).starts == (truth is not None)
        run = flow_with_pockets(line)
        if truth is None:
            assert run.flow_m3s == 0
        else:
            ran += 1
            assert run.flow_m3s == pytest.approx(truth[0], rel=5e-3)
            assert run.air_m == pytest.approx(truth[1], rel=5e-3, abs=0.01)
        if number % 2:
            continue
        one = [500.0, 500.0 - random.uniform(2, 20)]
        one += [500.0 - random.uniform(0.0, 1.5), one[1] - random.uniform(5, 30)]
        pond, step = 500.3, random.uniform(60, 120)
        open_end = laid(one, pond, bore, step)
        full, over = primed(one, pond, bore, step), unprimed(one, 2, pond, bore, step)
        assert open_end.full_bore_m3s == pytest.approx(full, rel=2e-3)
        found = priming(open_end)
        if over < 0.985 * full:
            assert found[0].unprimed_m3s == pytest.approx(over, rel=2e-3)
        elif over > full:
            assert found == ()
    return ran


def test_random_lines_agree_with_a_solver_of_its_own():
    assert hold_against_the_solver(20) >= 3


@pytest.mark.slow
def test_three_hundred_random_lines_agree():
    assert hold_against_the_solver(300) >= 60


# --- the falling leg --------------------------------------------------------------------------

# 150 mm, pond 100, high point 99.85 behind a dip, end 85.
LEG = [99.5, 97.0, 99.85, 85.0]


def test_least_energy_of_a_round_pipe():
    """Q/√(gD⁵) 0.2, 0.5, 0.8: E/D 0.62020, 1.06107 (0.4), 1.47691, worked out from Q²T = gA³ elsewhere."""
    scale = math.sqrt(G * 0.15**5)
    for number, share in ((0.2, 0.62020), (0.4, 0.92383), (0.5, 1.06107), (0.8, 1.47691)):
        assert least_energy(number * scale, np.array([0.15]))[0] / 0.15 == pytest.approx(
            share, rel=1e-3
        )


def falling_leg(**kept):
    return falling.falling_line.si(
        [0.0, 20.0, 63.0, 235.0], LEG, 0.15, WALL, 100.0, along_slope=True, **kept
    )


def test_the_leg_passes_a_fraction_until_it_is_primed():
    """63 m of limb and 235 m of line: 61.6 L/s primed, 8.4 L/s over the high point, by the solver above."""
    (leg,) = priming(falling_leg())
    assert leg.high_point_m == pytest.approx(63.0)
    assert unprimed(LEG, 2, 100.0, 0.15, 31.5) == pytest.approx(8.4e-3, rel=0.01)
    assert leg.unprimed_m3s == pytest.approx(unprimed(LEG, 2, 100.0, 0.15, 31.5), rel=2e-3)
    assert primed(LEG, 100.0, 0.15, 235 / 3) == pytest.approx(61.6e-3, rel=2e-3)
    assert leg.primed_m3s == pytest.approx(61.6e-3, rel=2e-3)
    # V/√(gD) 0.4, and on this slope no law says before 0.9 that all of the air goes
    assert leg.froude == pytest.approx(0.39, abs=0.01)
    assert not leg.primes_itself and leg.high_m3s > 2 * leg.unprimed_m3s
    assert "weir open to air" in leg.findings[0].message
    assert any("weir open to air" in each.message for each in LineAir(falling_leg(), 0.05).findings)


def test_what_it_carries_is_the_unprimed_flow_unless_a_gate_fills_it():
    line = falling_leg()
    today, gated = carried(line), carried(line, primed=True)
    assert today.how == "unprimed" and today.flow_m3s == priming(line)[0].unprimed_m3s
    assert gated.how == "full bore" and gated.flow_m3s == line.full_bore_m3s


def test_a_line_whose_grade_clears_the_high_point_needs_no_priming():
    assert priming(laid([99.5, 90.0, 94.0, 93.0], 100.0, 0.15, 100.0)) == ()
    assert priming(laid([99.5, 97.0, 95.0, 85.0], 100.0, 0.15, 30.0)) == ()  # no high point


def test_suction_within_three_metres_of_boiling_is_a_caution_up_there():
    """2,500 m: ISO 2533 gives 74,682 Pa, so water boils at 7.49 m of suction; at sea level 10.2 m."""
    levels = [99.5, 97.0, 99.85, 92.0]
    low, high = (laid(levels, 100.0, 0.15, 30.0, altitude=each) for each in (0.0, 2500.0))
    (there,) = venting.siphon(high, high.full_bore_m3s)
    (here,) = venting.siphon(low, low.full_bore_m3s)
    assert there.limit_m == pytest.approx((74682.0 - 1228.2) / (999.70 * G), rel=2e-3)
    assert there.limit_m - 3 < there.suction_m < there.limit_m and not there.breaks
    assert there.findings[0].level == "caution" and here.findings == ()
    # a vent left open there makes a weir of it
    assert there.vented_m3s == pytest.approx(unprimed(levels, 2, 100.0, 0.15, 30.0), rel=2e-3)


def test_a_column_that_parts_carries_no_more_than_it_bears():
    line = laid([99.5, 97.0, 99.85, 72.0], 100.0, 0.15, 30.0)
    most = venting.siphon_flow(line)
    assert most < line.full_bore_m3s
    held = carried(line, primed=True)
    assert held.how == "siphon" and held.flow_m3s == pytest.approx(most)


# --- pockets ----------------------------------------------------------------------------------


def test_a_pocket_costs_its_height_and_spares_the_friction_under_it():
    """Hand: what is left of the head after the pocket goes into the pipe that is full, and nothing else."""
    levels, source, crest, bore = [99.0, 80.0, 95.0, 65.0], 100.0, 75.0, 0.1
    run = flow_with_pockets(laid(levels, source, bore, crest=crest))
    full = 300 - run.air_m / 0.3
    taken = full * slope_of(run.flow_m3s, bore) + 1.5 * velocity_head(run.flow_m3s, bore)
    assert taken == pytest.approx(source - crest - run.air_m, rel=5e-3)
