"""Random lines of uneven ground, with vents, dips shallower than the bore, altitude and ends of both kinds, against a walk of its own.

The walk here imports nothing of hydrokit: it lays the pipe out in steps of a few centimetres, finds high and
low points by their prominence (scipy), and lets the air of each leg be squeezed by counting its pieces.
"""

import math

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.signal import find_peaks
from test_priming import G, energy, slope_of, velocity_head

from hydrokit.works import falling
from hydrokit.works.air import high_points as house_points
from hydrokit.works.air import over_high_point
from hydrokit.works.filling import filling

STEP = 0.05  # m along the pipe
WALL = 1e-5


def uneven(random):
    """Stations of a line that falls and rises unevenly, its pond, end, bore, altitude and vents."""
    bore = random.uniform(0.08, 0.4)
    distance, level = [0.0], [500.0]

    def goes(rise, along, ripples=0):
        for piece in random.dirichlet(np.full(random.integers(1, 4), 2.0)):
            distance.append(distance[-1] + along * piece)
            level.append(level[-1] + rise * piece * random.uniform(0.6, 1.4))
            if ripples and random.random() < 0.3:  # a dip that seals nothing
                back = random.uniform(0.1, 0.7) * bore * (-1 if rise > 0 else 1)
                distance.append(distance[-1] + random.uniform(2, 8))
                level.append(level[-1] + back)

    for _ in range(random.integers(1, 5)):
        fall = random.uniform(4, 30)
        goes(-fall, random.uniform(1.5, 6) * fall, ripples=1)
        rise = fall * random.uniform(0.1, 0.9)
        goes(rise, random.uniform(1.5, 6) * rise, ripples=1)
    deepest = level[-1] - min(level) + random.uniform(5, 30)
    goes(-deepest, random.uniform(1.5, 6) * deepest)
    crest = None if random.random() < 0.4 else level[-1] + random.uniform(0.6, 6) * bore
    vents = sorted(random.uniform(0, distance[-1], random.integers(0, 3)).tolist())
    pond = max(500.0 + random.uniform(0.1, 4), level[-1] + 7 * bore)
    return np.array(distance), np.array(level), pond, crest, bore, random.uniform(0, 3000), vents


def air_of(altitude):
    """ISO 2533 in metres of water of 10 °C."""
    return 101325 * (1 - 2.25577e-5 * altitude) ** 5.25588 / (999.70 * G)


def walked(distance, level, pond, crest, bore, altitude, vents):
    """Margin of head, height of all the air, and chainages of the high points, by counting pieces of pipe."""
    along = np.unique(np.concatenate([np.arange(0, distance[-1], STEP), distance]))
    height = np.interp(along, distance, level)
    sealed = crest is not None and crest > level[-1] + bore / 2
    profile = np.append(height, crest + bore / 2) if sealed else height
    # what stands out by more than the bore; pond and open end count as falling away for high points, rising for low ones
    tops = find_peaks(np.concatenate([[-1e3], profile, [-1e3]]), prominence=bore, plateau_size=1)
    tops = [int(each) - 1 for each in tops[1]["left_edges"]]
    lows = find_peaks(np.concatenate([[-1e3], -profile, [-1e3]]), prominence=bore, plateau_size=1)
    lows = [int(each) - 1 for each in lows[1]["left_edges"]]
    carried, margin, held, places = 0.0, math.inf, air_of(altitude), []
    for top in tops:
        if top == 0 or top >= len(along):
            continue
        margin = min(margin, pond - height[top] - carried)
        places.append(along[top])
        low = next((each for each in lows if each > top), None)
        if low is None or low >= len(along) or (low == len(along) - 1 and not sealed):
            continue
        if not any(each < top for each in lows) or (
            top == tops[0] and height[top] - height[0] <= bore
        ):
            continue  # its air goes back out through the inlet
        metres = along[low] - along[top]
        for vent in vents:
            if along[top] - 1.0 <= vent <= along[low]:
                metres = min(metres, max(vent - along[top], 0.0))
        left = metres * held / (held + max(pond - height[top] - carried, 0.0))
        inside = (along >= along[top]) & (along <= along[top] + left + 1e-9)
        carried += height[top] - min(
            height[inside].min(), np.interp(along[top] + left, along, height)
        )
    end = level[-1] if crest is None else crest
    return min(margin, pond - end - carried), carried, places


def full_flow(distance, level, pond, crest, bore):
    end = level[-1] if crest is None else crest
    return brentq(
        lambda q: pond - end - 1.5 * velocity_head(q, bore) - distance[-1] * slope_of(q, bore),
        1e-7,
        5.0,
    )


def over(distance, level, pond, bore, place):
    """Least flow that any place of the leg behind a high point takes in critical depth, the limb above it full."""
    top = int(np.flatnonzero(np.isclose(distance, place))[0])

    def most(station):
        def off(q):
            limb = 0.5 * velocity_head(q, bore) + distance[station] * slope_of(q, bore)
            return pond - level[station] + bore / 2 - limb - energy(q, bore)

        return 0.0 if off(1e-7) <= 0 else brentq(off, 1e-7, 5.0)

    return min(most(station) for station in range(top, len(distance) - 1))


def hold(count, seed):
    random, stalls, ended = np.random.default_rng(seed), 0, 0
    for _ in range(count):
        distance, level, pond, crest, bore, altitude, vents = uneven(random)
        line = falling.falling_line.si(
            distance,
            level,
            bore,
            WALL,
            pond,
            crest,
            vents,
            altitude,
            fittings=0.5,
            along_slope=True,
        )
        found = filling(line)
        margin, air, places = walked(distance, level, pond, crest, bore, altitude, vents)
        assert found.margin_m == pytest.approx(margin, abs=0.03 + 2e-3 * air)
        assert sum(each.height_m for each in found.pockets) == pytest.approx(
            air, abs=0.03 + 2e-3 * air
        )
        if abs(margin) > 0.05:
            assert found.starts == (margin > 0)
        stalls += not found.starts
        full = full_flow(distance, level, pond, crest, bore)
        assert line.full_bore_m3s == pytest.approx(full, rel=2e-3)
        tops = house_points(line)
        if crest is None and tops:
            ended += 1
            top, last = tops[-1][0], len(line.reaches.length_m)
            place = float(line.reaches.distance_m[top])
            truth = min(over(distance, level, pond, bore, place), full)
            assert over_high_point(line, top, last) == pytest.approx(truth, rel=3e-3, abs=1e-6)
    return stalls, ended


def test_uneven_lines_agree_with_a_walk_of_its_own():
    hold(12, 7)


@pytest.mark.slow
def test_three_hundred_uneven_lines_agree():
    stalls, ended = hold(300, 20261130)
    assert 40 <= stalls <= 260 and ended >= 60  # both answers are tried often enough
