"""Draws of plant and creek: the outages of each, and how well each explains a meter."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import betaincinv

from ..errors import HydrokitError
from ..plant.chain import Chain
from .lattice import Lattice
from .uncertain_inputs import PLANT, SOURCES, Metered

__all__ = ["beta", "conditioned", "factors"]


def beta(share: np.ndarray, mean: float, sd: float) -> np.ndarray:
    """Shares of time with a mean and a standard deviation, each as great as a share of all of them allows."""
    if sd == 0 or mean in (0.0, 1.0):
        return np.full(len(share), float(mean))
    if sd**2 >= mean * (1 - mean):
        raise HydrokitError(
            f"Uncertainties: outage {sd:g} is too wide for a share of time around {mean:g}"
        )
    size = mean * (1 - mean) / sd**2 - 1
    return betaincinv(mean * size, (1 - mean) * size, share)


def conditioned(
    scores: np.ndarray, rng: np.random.Generator, lattice: Lattice, chain: Chain, metered: Metered
) -> tuple[np.ndarray, float]:
    """Draws taken again in proportion to how well they explain the meter, and what they are worth."""
    at_lattice = np.log(
        np.asarray(
            lattice.plants.at_si(metered.flow_m3s, metered.month, metered.jets).power_w
        ).ravel()
    )
    if not np.all(np.isfinite(at_lattice)):
        raise HydrokitError("Metered: the plant gives no power at the flow and jets of the reading")
    at_lattice = np.broadcast_to(at_lattice, lattice.kwh.shape[1])
    miss = (lattice.plant_basis(scores) @ at_lattice - np.log(metered.power_w)) / metered.sd
    weight = np.exp(-0.5 * (miss**2 - np.min(miss**2)))
    weight /= weight.sum()
    ladder = (np.arange(len(scores)) + rng.random()) / len(scores)
    taken = np.minimum(np.searchsorted(np.cumsum(weight), ladder), len(scores) - 1)
    # flow errors know nothing of the meter and are left as they were drawn
    again = scores.copy()
    again[:, 2:] = scores[taken, 2:]
    return again, float(1 / np.sum(weight**2))


def factors(lattice: Lattice, scores: np.ndarray, unplanned: np.ndarray) -> pd.DataFrame:
    flow = (
        np.exp(lattice.median_sd * lattice.flow_score(scores))
        if len(lattice.nodes[0]) > 1
        else np.ones(len(scores))
    )
    plant = {name: lattice.factors.of(name, scores[:, SOURCES.index(name)]) for name in PLANT}
    return pd.DataFrame({"flow": flow, **plant, "unplanned": unplanned})
