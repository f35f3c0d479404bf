"""The fit behind commissioning: head, loss, jets and machine from pressures, watts and flows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..plant.chain import Chain
from ..plant.parts import FixedJets, LineLoss, Penstock, Runner, steady
from ..water import GRAVITY

if TYPE_CHECKING:
    from .reading import Reading

__all__ = ["PARAMETERS", "Data", "Fitted", "Model", "chi_square_limit", "fit"]

PARAMETERS = ("head", "loss", "jet_area", "efficiency", "few_jets")
_LOSS_PRIOR = 1.0  # sd of the logarithm, where a single number of jets was read
_LOSS_LEFT_OPEN = (
    3.0  # where more were: a loss too small to show in the readings is then known as that
)
_EFFICIENCY_PRIOR = (np.log(0.5), 0.7)
_FEW_JETS_PRIOR = (
    0.15  # efficiency at half the jets over that at all of them is seldom off by more than a tenth
)
STEP = 1e-4


@dataclass(frozen=True, eq=False)
class Data:
    """Everything read, as one column: value, standard deviation, which prediction it belongs to."""

    kind: np.ndarray  # 0 pressure, 1 power, 2 flow
    jets: np.ndarray
    value: np.ndarray
    _: KW_ONLY
    sd: np.ndarray
    names: tuple[str, ...]
    fitted: int  # parameters in play

    @classmethod
    def of(cls, kept: Sequence[Reading], sigma_pa: float, power_sd: float, flow_sd: float) -> Data:
        rows = []
        for each in kept:
            rows.append((0, each.jets, each.pressure_pa, sigma_pa, f"{each.name}: pressure"))
            if each.jets and np.isfinite(each.power_w):
                rows.append((1, each.jets, np.log(each.power_w), power_sd, f"{each.name}: power"))
            if each.jets and np.isfinite(each.flow_m3s):
                rows.append((2, each.jets, np.log(each.flow_m3s), flow_sd, f"{each.name}: flow"))
        kind, jets, value, sd, names = zip(*rows)
        watched = {count for which, count, *_ in rows if which == 1}
        fitted = 3 + (1 in kind) + (len(watched) > 1)
        return cls(
            np.array(kind),
            np.array(jets),
            np.array(value),
            sd=np.array(sd),
            names=names,
            fitted=fitted,
        )


@dataclass(frozen=True, eq=False)
class Model:
    """A plant of equal jets and its gauge, with its parameters left open.

    Parameters are the logarithms of head, loss, jet area and efficiency, and the exponent of the
    share of jets open in the efficiency.
    """

    jets: FixedJets
    line: LineLoss
    density_kgm3: float
    _: KW_ONLY
    gauge_height_m: float
    gauge_bore_m: float | None

    def start(self, kept: Sequence[Reading], line: LineLoss | None) -> np.ndarray:
        """First guess: the highest pressure is the head; the loss is what the most jets show."""
        head = (
            max(each.pressure_pa for each in kept) / (self.density_kgm3 * GRAVITY)
            + self.gauge_height_m
        )
        most = max((each for each in kept if each.jets), key=lambda each: each.jets)
        at_jets = max(
            most.pressure_pa / (self.density_kgm3 * GRAVITY) + self.gauge_height_m, 0.05 * head
        )
        area = self.jets.openings()[0].area_m2 * most.jets / (self.jets.openings()[0].count)
        flow = area * np.sqrt(2 * GRAVITY * at_jets)
        lost = max(head - at_jets, 0.01 * head)
        loss = 1.0 if line is not None else lost / flow**2
        return np.array([np.log(head), np.log(loss), 0.0, _EFFICIENCY_PRIOR[0], 0.0])

    def chain(self, theta: np.ndarray) -> Chain:
        """The plant at one or many sets of parameters (along the last axis)."""
        head, loss, area = (
            np.exp(theta[..., place, None]) if theta.ndim > 1 else float(np.exp(theta[place]))
            for place in range(3)
        )
        return Chain(
            Penstock(self.line, head, loss_factor=loss),
            replace(self.jets, area_factor=self.jets.area_factor * area),
            Runner(steady(1.0)),
            density_kgm3=self.density_kgm3,
        )

    def table(self, theta: np.ndarray) -> dict[str, np.ndarray]:
        """Pressure, flow, head, loss and power by number of jets, none to all, along the last axis."""
        many = np.atleast_2d(theta)
        chain = self.chain(many)
        running = chain.running()
        flow = np.moveaxis(running.full_m3s, 0, -1).reshape(len(many), -1)
        if len(running.openings) == 1:  # jets that only run all together
            flow = np.concatenate([np.full((len(many), self.jets.count - 1), np.nan), flow], axis=1)
        flow = np.concatenate([np.zeros((len(many), 1)), flow], axis=1)
        static = np.exp(many[:, :1])
        lost = np.asarray(chain.penstock.loss_factor) * self.line.loss_si(
            flow, chain.penstock.viscosity_m2s
        )
        speed = 0.0 if self.gauge_bore_m is None else flow / (np.pi / 4 * self.gauge_bore_m**2)
        head = static - lost
        pressure = (
            self.density_kgm3
            * GRAVITY
            * (head - self.gauge_height_m - np.square(speed) / (2 * GRAVITY))
        )
        with np.errstate(divide="ignore"):
            share = np.log(np.arange(self.jets.count + 1) / self.jets.count)
            efficiency = np.exp(
                many[:, 3:4] + many[:, 4:5] * np.where(np.isfinite(share), share, 0.0)
            )
        power = self.density_kgm3 * GRAVITY * flow * head * efficiency
        return {
            "pressure": pressure,
            "flow": flow,
            "head": head,
            "loss": lost,
            "power": power,
            "efficiency": efficiency,
        }

    def predict(self, theta: np.ndarray, data: Data) -> np.ndarray:
        """What would be read, one row a set of parameters."""
        table = self.table(theta)
        with np.errstate(divide="ignore"):
            columns = np.stack([table["pressure"], np.log(table["power"]), np.log(table["flow"])])
        return columns[data.kind, :, data.jets].T


def fit(
    model: Model, data: Data, start: np.ndarray, coefficient_sd: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Best parameters, their covariance, and the misses in standard deviations (readings and the
    jets' prior)."""
    middle = np.array([start[0], start[1], 0.0, _EFFICIENCY_PRIOR[0], 0.0])
    prior_sd = np.array(
        [np.inf, _LOSS_PRIOR, coefficient_sd, _EFFICIENCY_PRIOR[1], _FEW_JETS_PRIOR]
    )
    prior_sd[1] = _LOSS_LEFT_OPEN if len(set(data.jets.tolist())) > 2 else _LOSS_PRIOR

    def misses(theta: np.ndarray) -> np.ndarray:
        read = (model.predict(theta, data) - data.value) / data.sd
        return np.concatenate([read, (np.atleast_2d(theta) - middle) / prior_sd], axis=1)

    theta, steps = start, np.eye(len(start)) * STEP
    damping = 1e-3
    found = misses(theta)[0]
    for _ in range(60):
        around = misses(np.concatenate([theta + steps, theta - steps]))
        slope = ((around[: len(steps)] - around[len(steps) :]) / (2 * STEP)).T
        normal = slope.T @ slope
        move = -np.linalg.solve(normal + damping * np.diag(np.diag(normal)), slope.T @ found)
        trial = theta + np.clip(move, -0.7, 0.7)
        trial_found = misses(trial)[0]
        if np.sum(trial_found**2) <= np.sum(found**2):
            theta, found, damping = trial, trial_found, damping / 10
            if np.max(np.abs(move)) < 1e-6:
                break
        else:
            damping *= 10
            if damping > 1e12:
                break
    keep = np.r_[np.arange(len(data.value)), len(data.value) + 2]
    return theta, np.linalg.inv(normal), found[keep]


@dataclass(frozen=True, eq=False)
class Fitted:
    """A fit, and how well it meets what was read."""

    data: Data
    theta: np.ndarray
    covariance: np.ndarray
    _: KW_ONLY
    misses: np.ndarray

    @property
    def spare(self) -> int:
        """Values read beyond those that the fit uses up."""
        return len(self.misses) - int(self.data.fitted)

    @property
    def scatter(self) -> float:
        """Scatter of what was read over that stated."""
        return float(np.sqrt(np.sum(self.misses**2) / self.spare))

    @property
    def excess(self) -> float:
        """Sum of squared misses over what honest readings hardly ever exceed; above 1: they do not
        fit together."""
        return (
            float(np.sum(self.misses**2)) / chi_square_limit(self.spare) if self.spare > 0 else 0.0
        )


def chi_square_limit(spare: int) -> float:
    """Sum of squared misses that honest readings exceed once in a hundred times."""
    from scipy.special import chdtri

    return float(chdtri(spare, 0.01))
