"""Worked examples of ratings, from plain lists in metres and m³/s."""

from __future__ import annotations

import numpy as np

from hydrokit.stream.rating import fit_rating
from hydrokit.units import Q_


def log_fit(stage, flow, **options):
    """Cease-to-flow, coefficient and exponent in SI."""
    rating = fit_rating(Q_(stage, "m"), Q_(flow, "m^3/s"), **options)
    return [rating.c, rating.a, rating.b]


def log_fit_scatter(stage, flow):
    """Sum of squared residuals of ln Q, and their standard deviation."""
    rating = fit_rating(Q_(stage, "m"), Q_(flow, "m^3/s"))
    return [float(np.sum(rating.residuals**2)), rating.scatter]
