"""How much readings of gauge and meters scatter: by the readings themselves, joined with what is usual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from .baseline import Baseline
from .diagnose import diagnose
from .observation import Noise, Observation
from .signatures import Signatures
from .weighing import Weighed

__all__ = ["STATED", "STEADIEST", "scatter_of", "with_visits"]

STEADIEST = 0.005  # no reading repeats better through the seasons, common practice
_FITTED = 4  # head, loss, jets and efficiency: what is left of the readings tells their scatter
STATED = {"pressure": 0.01, "power": 0.02}  # scatter that `commission` takes readings to have
# What is usual, and how many readings to spare it counts for. Common practice.
_USUAL, _USUAL_COUNTS = {"pressure": 0.009, "power": 0.012}, 2.0


def scatter_of(fitted: Baseline | None) -> Noise | None:
    """Scatter of the readings about the plant fitted to them as stated, joined with what is usual;
    None without such a plant.

    s² = (ν₀ s₀² + Σ miss²) / (ν₀ + n(1 - p/N)) for each kind of reading: n misses of the kind among
    N, p parameters fitted, and the usual s₀ as if seen in ν₀ readings more. Few readings leave it
    uncertain, and that goes into every interval.
    """
    if fitted is None:
        return None
    misses = {
        name: np.array([miss for _, what, miss in fitted.residuals if what == name])
        for name in STATED
    }
    count = sum(len(each) for each in misses.values())
    left = max(1 - _FITTED / count, 0.0) if count else 0.0
    found = {
        name: np.sqrt(
            (_USUAL_COUNTS * _USUAL[name] ** 2 + np.sum((stated * misses[name]) ** 2))
            / (_USUAL_COUNTS + left * len(misses[name]))
        )
        for name, stated in STATED.items()
    }
    return Noise(
        **{name: max(float(each), STEADIEST) for name, each in found.items()},
        degrees=_USUAL_COUNTS + left * count,
    )


def with_visits(noise: Noise, tables: Signatures, visits: Sequence[Sequence[Observation]]) -> Noise:
    """The same scatter, joined with that of the readings of healthy visits.

    k² = (ν + Σ miss²) / (ν + n) is what both deviations are multiplied by: n values were read on
    healthy visits, and what the plant itself is uncertain by is taken off their misses.
    """
    squares, count = 0.0, 0
    healthy = tables.only(0)
    for looks in visits:
        if diagnose(tables, looks, noise).first.key == "well":
            weighed = Weighed.of(healthy, looks, noise.certain)
            squares += float(weighed.squared_miss[0, 0])
            count += weighed.read
    factor = np.sqrt((noise.degrees + squares) / (noise.degrees + count))
    return replace(
        noise,
        pressure=max(noise.pressure * factor, STEADIEST),
        power=max(noise.power * factor, STEADIEST),
        degrees=noise.degrees + count,
    )
