"""Friction factor and pipe lines against a general library; run with ``pytest tests/benchmarks``.

The ratios are printed and held to their bars in one run on one machine.
"""

import time

import fluids
import numpy as np
import pytest

from hydrokit.works.friction import factor
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.pipe_sizes import pipe_size
from hydrokit.works.profile import Profile, long_section

POINTS = 1_000_000
SCALAR = 20_000  # of the slow loop, whose time grows with the number of points
COLD = 1.3063e-6


def best_of(times, call):
    took = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        took.append(time.perf_counter() - start)
    return min(took)


@pytest.fixture(scope="module")
def chart():
    random = np.random.default_rng(1)
    return 10 ** random.uniform(3.65, 8, POINTS), 10 ** random.uniform(-6, -1.31, POINTS)


def test_against_the_scalar_loop(chart):
    """Bar: at least 25 times the library's scalar loop (its default, a fast approximate solver)."""
    reynolds, roughness = chart
    ours = best_of(5, lambda: factor(reynolds, roughness))
    pairs = list(zip(reynolds[:SCALAR].tolist(), roughness[:SCALAR].tolist()))
    for name, function, sample in (
        ("friction_factor", fluids.friction_factor, pairs),
        ("Colebrook", fluids.friction.Colebrook, pairs[:1000]),
    ):
        theirs = (
            best_of(
                3, lambda function=function, sample=sample: [function(*pair) for pair in sample]
            )
            * POINTS
            / len(sample)
        )
        print(
            f"\nfriction factor, 10^6 points: ours {ours * 1e3:.0f} ms, fluids.{name} loop {theirs:.1f} s, ratio {theirs / ours:.0f}"
        )
        assert theirs / ours >= 25


def test_against_the_compiled_form(chart):
    """Bar: at most twice the library's compiled form (its default solver), where numba is installed."""
    pytest.importorskip("numba")
    compiled = pytest.importorskip("fluids.numba_vectorized")
    reynolds, roughness = chart
    compiled.Clamond(reynolds[:10], roughness[:10], False)
    ours = best_of(5, lambda: factor(reynolds, roughness))
    theirs = best_of(5, lambda: compiled.Clamond(reynolds, roughness, False))
    print(
        f"\nfriction factor, 10^6 points: ours {ours * 1e3:.0f} ms, compiled {theirs * 1e3:.0f} ms, ratio {ours / theirs:.2f}"
    )
    assert ours <= 2 * theirs


def test_a_line_of_three_pipes():
    """10^5 flows through three pipes, and the flow back from the head."""
    line = Line((Pipe(0.15, 120, 1e-5), Pipe(0.10, 300, 1e-5), Pipe(0.08, 40, 1e-5, fittings=2.0)))
    flow = np.linspace(0, 0.03, 100_000)
    head = line.loss_si(flow, COLD)
    print(f"\n10^5 flows x 3 pipes: {best_of(5, lambda: line.loss_si(flow, COLD)) * 1e3:.1f} ms")
    print(f"10^5 heads to flows: {best_of(3, lambda: line.flow_si(head, COLD)) * 1e3:.0f} ms")


def test_long_section():
    """Bar: 200 stations and 12 pipes under 50 ms."""
    chainage = np.linspace(0, 600, 200)
    profile = Profile(chainage, 1000 - 0.1 * chainage + 0.5 * np.sin(chainage / 30))
    line = Line((pipe_size("4 in PVC Sch 40").pipe(profile.length_m / 12),) * 12)
    took = best_of(5, lambda: long_section(profile, line, 0.01, source_level_m=1001.0))
    print(f"\nlong section, 200 stations x 12 pipes: {took * 1e3:.1f} ms")
    assert took < 0.05
