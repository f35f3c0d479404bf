"""Worked examples of ratings, from plain lists in metres and m³/s."""

from __future__ import annotations

import tomllib
from pathlib import Path

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


# Stage in m, and the published limits in m³/s, of the gaugings of check RC1 (95 %, a generalised
# power law; vignette "introduction" of a rating package of the University of Iceland).
KROKFORS_BAND = ((8.00, 0.0614, 0.1108), (8.02, 0.0739, 0.1319), (8.05, 0.0942, 0.1664))


def krokfors():
    """The rating of the gaugings that stand in check RC1."""
    table = tomllib.loads(Path(__file__).with_name("rating.toml").read_text(encoding="utf-8"))
    gaugings = next(each["inputs"] for each in table["check"] if each["id"] == "RC1")
    return fit_rating(Q_(gaugings["stage"], "m"), Q_(gaugings["flow"], "m^3/s"))
