"""A second model of freezing ground, written apart: explicit steps of temperature and liquid share on an even grid."""

from __future__ import annotations

import math

import numpy as np

FROZEN, THAWED = (1.8, 1.640e6), (1.4, 2.144e6)  # W/(m K), J/(m³ K)
LATENT = 240 * 333.55e3  # J/m³
SNOW = 0.138 - 1.01 * 0.25 + 3.233 * 0.25**2  # W/(m K), of 250 kg/m³ after Sturm and others 1997


def walk(air, snow, start, cell=0.05, depth=6.0, day=86400.0):
    """Temperature day by day and the lowest ice, in °C and m: heat is passed, then the zero-degree excess melts or freezes water."""
    middle = np.arange(cell / 2, depth, cell)
    degrees = np.full(len(middle), float(start))
    liquid = np.ones(len(middle)) * (start > 0)
    steps = math.ceil(day / (0.45 * cell**2 / (FROZEN[0] / FROZEN[1])))
    second = day / steps
    seen, ice = [], []
    for outside, lying in zip(air, snow):
        thaw = outside > 0 and lying > 0
        for _ in range(steps):
            conducts = FROZEN[0] + (THAWED[0] - FROZEN[0]) * liquid
            holds = FROZEN[1] + (THAWED[1] - FROZEN[1]) * liquid
            between = 2 / (1 / conducts[1:] + 1 / conducts[:-1])
            into = np.zeros(len(middle) + 1)
            blanket = 0.0 if thaw else lying / SNOW
            into[0] = ((0.0 if thaw else outside) - degrees[0]) / (cell / 2 / conducts[0] + blanket)
            into[1:-1] = between * (degrees[:-1] - degrees[1:]) / cell
            degrees = degrees + (into[:-1] - into[1:]) * second / cell / holds
            # below zero with water left, or above with ice left: the difference goes into the water
            could = degrees * holds / LATENT
            turned = np.clip(could, -liquid, 1 - liquid)
            turned = np.where(
                (degrees < 0) & (liquid > 0) | (degrees > 0) & (liquid < 1), turned, 0
            )
            liquid = liquid + turned
            degrees = degrees - turned * LATENT / holds
        seen.append(degrees.copy())
        frozen = np.flatnonzero(liquid < 1 - 1e-3)
        ice.append(0.0 if len(frozen) == 0 else cell * (frozen[-1] + 1 - liquid[frozen[-1]]))
    return middle, np.array(seen), np.array(ice)


def neumann(surface, start, seconds):
    """Depth of the freezing front by the exact solution of a step in temperature; bisection on its coefficient."""
    cold, warm = FROZEN[0] / FROZEN[1], THAWED[0] / THAWED[1]
    ratio = math.sqrt(cold / warm)

    def wrong(size):
        gives = math.exp(-(size**2)) / math.erf(size)
        if start > 0:
            gives -= (
                THAWED[0]
                / FROZEN[0]
                * ratio
                * start
                / -surface
                * math.exp(-((ratio * size) ** 2))
                / math.erfc(ratio * size)
            )
        return gives - math.sqrt(math.pi) * size * LATENT / (FROZEN[1] * -surface)

    low, high = 1e-6, 3.0
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if wrong(middle) > 0 else (low, middle)
    return 2 * low * math.sqrt(cold * seconds)
