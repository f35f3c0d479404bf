"""Every fault, size and place weighed against what was read.

For each row of the signatures the readings have a normal distribution: the gauges' own scatter, and
that of the baseline carried through the row's slopes. Five numbers, the baseline's own errors, tie
all readings together; they are solved for on the way.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Sequence

import numpy as np

from .observation import Noise, Observation
from .signatures import Signatures

if TYPE_CHECKING:
    from ..units import Number

__all__ = [
    "LEVEL",
    "UNDER_FED_FLUCTUATES",
    "UNDER_FED_SPILLS",
    "TOLD_APART",
    "Weighed",
    "chances",
    "foretold",
    "shortest",
]

LEVEL = 0.9  # of the intervals of size
# Odds above which evidence is called strong: R. E. Kass, A. E. Raftery, "Bayes factors",
# J. Am. Stat. Assoc. 90:773-795, 1995, p. 777.
TOLD_APART = 20.0
_LEAST_FLOW = 0.01  # share of the full flow under which a measurement tells no more
_READ = ("pressure_pa", "true_pa", "power_w", "flow_m3s")
# What is seen while jets are under-fed. Common practice.
UNDER_FED_SPILLS, UNDER_FED_FLUCTUATES = 0.03, 0.85


@dataclass(frozen=True, eq=False)
class Weighed:
    """Every row of the signatures against what was read; many draws of the same kind of visit at once.

    Parameters
    ----------
    tables : Signatures
        Where the scatter of the readings is not certain, each row stands there with several.
    log_prior : ndarray
        Of the row within its state. Under-fed means that jets now open are: rows that leave them fed
        are health.
    log_likelihood : ndarray
        (rows, draws).
    squared_miss : ndarray
        (rows, draws): sum of squared misses in standard deviations.
    shift : ndarray
        (rows, draws, 5): what the readings say of the baseline's own errors.
    covariance : ndarray
        (rows, 5, 5): of those.
    read : int
        Numbers read.
    noise : Noise
    """

    tables: Signatures
    log_prior: np.ndarray
    log_likelihood: np.ndarray
    _: KW_ONLY
    squared_miss: np.ndarray
    shift: np.ndarray
    covariance: np.ndarray
    read: int
    noise: Noise

    @classmethod
    def of(
        cls,
        tables: Signatures,
        looks: Sequence[Observation],
        noise: Noise,
        draws: dict[str, np.ndarray] | None = None,
    ) -> Weighed:
        """Weigh.

        Parameters
        ----------
        tables : Signatures
        looks : sequence of Observation
        noise : Noise
        draws : dict, optional
            (draws, looks) arrays of what :class:`Observation` holds, ``spilling`` and ``fluctuates`` as 1,
            0 or NaN, instead of the values in `looks`; every draw with the same things read.
        """
        tables = tables.scaled(*noise.scales())
        if draws is None:
            draws = {
                name: np.array([[_number(getattr(each, name)) for each in looks]])
                for name in (*_READ, "spilling", "fluctuates", "falls")
            }
        jets = np.array([each.jets for each in looks])
        columns = [
            (name, int(count), draws[name][:, place])
            for place, count in enumerate(jets)
            for name in _READ
            if name in draws
            and np.isfinite(draws[name][0, place])
            and (count or name.endswith("_pa"))
        ]
        rows, many = len(tables.size), len(draws["pressure_pa"])
        log_likelihood, squared = np.zeros((rows, many)), np.zeros((rows, many))
        precision, pull = np.tile(np.eye(5), (rows, 1, 1)), np.zeros((rows, many, 5))
        for name, count, value in columns:
            mean, slope, variance = foretold(tables, name, count, noise)
            if name == "power_w":
                value = tables.log_watts(value, count)
            elif name == "flow_m3s":
                value = np.log(np.maximum(value, _LEAST_FLOW * tables.plant.full_flow_m3s))
            miss = value[None, :] - mean[:, None]
            squared += miss**2 / variance[:, None]
            log_likelihood -= 0.5 * np.log(2 * np.pi * variance)[:, None]
            precision += slope[:, :, None] * slope[:, None, :] / variance[:, None, None]
            pull += miss[:, :, None] * (slope / variance[:, None])[:, None, :]
        covariance = np.linalg.inv(precision)
        shift = np.einsum("rij,rdj->rdi", covariance, pull)
        squared -= np.einsum("rdi,rdi->rd", shift, pull)
        log_likelihood += -0.5 * squared - 0.5 * np.linalg.slogdet(precision)[1][:, None]
        for place, count in enumerate(jets):
            spills, fluctuates = chances(tables, count)
            for name, chance in (
                ("spilling", spills),
                ("fluctuates", fluctuates),
                ("falls", falling(tables)),
            ):
                seen = draws[name][:, place] if name in draws else np.full(many, np.nan)
                if bool(count) != (name == "falls") and np.isfinite(seen).any():
                    log_likelihood += np.where(
                        np.isnan(seen),
                        0.0,
                        np.log(np.where(seen == 1, chance[:, None], 1 - chance[:, None])),
                    )
        return cls(
            tables,
            _log_prior(tables, int(jets.max())),
            log_likelihood,
            squared_miss=squared,
            shift=shift,
            covariance=covariance,
            read=len(columns),
            noise=noise,
        )

    @cached_property
    def evidence(self) -> np.ndarray:
        """(faults, draws): logarithm of the chance of the readings in each state."""
        whole = self.log_likelihood + self.log_prior[:, None]
        none = np.full(whole.shape[1], -np.inf)
        return np.stack(
            [
                _log_sum(whole[rows]) if rows.stop > rows.start else none
                for rows in self.tables.rows_of
            ]
        )

    def verdict(self, season: Number = 1.0) -> tuple[np.ndarray, np.ndarray]:
        """(faults, draws): chance of each state; whether the readings leave it unparted from the likeliest.

        Parameters
        ----------
        season : ndarray
            How much commoner than usual each state is.
        """
        log_common = np.log(np.array([fault.prior for fault in self.tables.faults]) * season)[
            :, None
        ]
        chance = np.exp(self.evidence + log_common - np.max(self.evidence + log_common, axis=0))
        chance /= chance.sum(axis=0)
        likeliest = np.take_along_axis(self.evidence, chance.argmax(axis=0)[None, :], axis=0)
        return chance, likeliest - self.evidence < np.log(TOLD_APART)

    def within(self, fault: int, draw: int = 0, among: np.ndarray | None = None) -> np.ndarray:
        """Chance of each row of a state, if that is the state; or of those `among` its rows, if it
        is one of these."""
        rows = self.tables.rows_of[fault]
        whole = self.log_likelihood[rows, draw] + self.log_prior[rows]
        whole = whole if among is None else whole[among]
        share = np.exp(whole - whole.max())
        return share / share.sum()

    def size(
        self, fault: int, draw: int = 0, level: float = LEVEL, *, among: np.ndarray | None = None
    ) -> tuple[float, float, float]:
        """Most likely size of a state, and the shortest interval that holds it with that chance; of
        the rows `among` those of the state, where it is known to be one of these."""
        tried = self.tables.size[self.tables.rows_of[fault]]
        sizes, place = np.unique(tried if among is None else tried[among], return_inverse=True)
        share = np.bincount(place, self.within(fault, draw, among))
        middle, last = (sizes[1:] + sizes[:-1]) / 2, sizes[-1:]
        if self.tables.faults[fault].whole:  # the largest is all of it, and has no width
            middle = np.append(middle[:-1], last)
        edges = np.concatenate([sizes[:1], middle, last])
        return float(sizes[share.argmax()]), *shortest(edges, share, level)

    def foretold(
        self, fault: int, readings: Sequence[tuple[str, int]]
    ) -> tuple[np.ndarray, np.ndarray]:
        """Mean and covariance of readings not yet made, if that is the state."""
        rows, share = self.tables.rows_of[fault], self.within(fault)
        heavy = np.flatnonzero(share > 1e-3 * share.max())
        chosen, share = np.arange(rows.start, rows.stop)[heavy], share[heavy] / share[heavy].sum()
        parts = [foretold(self.tables, name, count, self.noise, chosen) for name, count in readings]
        slope = np.stack([each[1] for each in parts], axis=1)
        mean = np.stack([each[0] for each in parts], axis=1) + np.einsum(
            "rmi,ri->rm", slope, self.shift[chosen, 0]
        )
        inside = np.einsum("rmi,rij,rnj->rmn", slope, self.covariance[chosen], slope)
        inside += np.stack([each[2] for each in parts], axis=1)[:, :, None] * np.eye(len(readings))
        middle = share @ mean
        apart = mean - middle
        return middle, np.einsum("r,rmn->mn", share, inside) + np.einsum(
            "r,rm,rn->mn", share, apart, apart
        )

    def chance(self, fault: int, what: str, jets: int) -> float:
        """Chance that the pond spills, the needle fluctuates, or falls with all shut, if that is
        the state."""
        if what == "falls":
            return self.tables.faults[fault].falls
        spills, fluctuates = chances(self.tables, jets, self.tables.rows_of[fault])
        return float(self.within(fault) @ (spills if what == "spilling" else fluctuates))


def _log_prior(tables: Signatures, jets: int) -> np.ndarray:
    """Of each row within its state, with so many jets open at most."""
    found = tables.log_prior.copy()
    for fault, rows in zip(tables.faults, tables.rows_of):
        if fault.under_feeds and jets and rows.stop > rows.start:
            share = np.exp(found[rows]) * np.maximum(tables.under_fed[rows, jets], 1e-12)
            found[rows] = np.log(share / share.sum())
    return found


def shortest(edges: np.ndarray, share: np.ndarray, level: float) -> tuple[float, float]:
    """The shortest interval that holds a share of a chance that lies evenly between edges.

    >>> [round(each, 6) for each in shortest(np.array([0.0, 1.0, 2.0]), np.array([0.6, 0.4]), 0.9)]
    [0.0, 1.75]
    """
    heap = np.concatenate([[0.0], np.cumsum(share)]) / share.sum()
    below = np.linspace(0.0, 1 - level, 101)
    low, high = (np.interp(each, heap, edges) for each in (below, np.minimum(below + level, 1.0)))
    best = int(np.argmin(high - low))
    return float(low[best]), float(high[best])


def _number(value: float | bool | None) -> float:
    return np.nan if value is None else float(value)


def _log_sum(values: np.ndarray) -> np.ndarray:
    top = values.max(axis=0)
    return top + np.log(np.exp(values - top).sum(axis=0))


def foretold(
    tables: Signatures, name: str, jets: int, noise: Noise, rows: slice | np.ndarray = slice(None)
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean of a reading by row, its slopes along the baseline's errors, and the variance of the
    reading itself."""
    scale = tables.scale[rows]
    if name in ("pressure_pa", "true_pa"):
        mean = getattr(tables.table, name)[rows, jets]
        return (
            mean,
            tables.slopes[name][rows, jets],
            np.square(noise.pressure * tables.plant.static_pa * scale),
        )
    if name == "power_w":
        away = np.maximum(tables.table.net_head_m[rows, jets], 1e-3) / np.maximum(
            tables.table.net_head_m[tables.healthy, jets], 1e-3
        )
        mean = tables.log_power[rows, jets]
        return (
            mean,
            tables.slopes["log_power"][rows, jets],
            np.square(noise.power * scale) + np.square(tables.plant.speed.log_sd_si(away)),
        )
    mean = np.log(
        np.maximum(tables.table.inflow_m3s[rows, jets], _LEAST_FLOW * tables.plant.full_flow_m3s)
    )
    return mean, tables.slopes["log_inflow"][rows, jets], np.full(mean.shape, noise.flow**2)


def falling(tables: Signatures) -> np.ndarray:
    """Chance that the needle falls with the jets and the valve at the top shut, by row."""
    return np.array([fault.falls for fault in tables.faults])[tables.fault]


def chances(
    tables: Signatures, jets: int, rows: slice | np.ndarray = slice(None)
) -> tuple[np.ndarray, np.ndarray]:
    """Chance of a spilling pond and of a fluctuating needle, by row."""
    under_fed = tables.under_fed[rows, jets]
    fed = np.array([(fault.spills, fault.fluctuates) for fault in tables.faults])[
        tables.fault[rows]
    ]
    return under_fed * UNDER_FED_SPILLS + (1 - under_fed) * fed[
        :, 0
    ], under_fed * UNDER_FED_FLUCTUATES + (1 - under_fed) * fed[:, 1]
