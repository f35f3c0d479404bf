"""Plants of many sizes on many creeks at once: their power at a few flows, between which it is straight.

Two kinds of plant are known: fixed jets that can be shut one by one, and one adjustable machine. Both
have the loss of a pipe before them and a generator of their own size behind.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from ..plant.losses import LossCurve
from ..plant.runner_speed import HELD
from ..plant.turbine import PartLoad
from ..water import GRAVITY, density, viscosity
from ..works.pipe import Pipe, loss
from .design import USUAL_LOSS

__all__ = ["Sizes", "adjustable_curve", "fixed_curve", "narrowest"]

_LEFT_STEPS = 4  # each leaves about a two-hundredth of the error before it


@dataclass(frozen=True, eq=False)
class Sizes:
    """Designs: arrays that broadcast against each other, creeks along the first axis.

    Parameters
    ----------
    flow_m3s : ndarray
        Design flow.
    head_m : ndarray
    bore_m, length_m, roughness_m, fittings : ndarray
        Of the pipe.
    loss_m : ndarray
        Head that it loses at the design flow.
    generator : LossCurve
        Of any size: each design has one as large as it needs.
    """

    flow_m3s: np.ndarray
    head_m: np.ndarray
    bore_m: np.ndarray
    _: KW_ONLY
    length_m: np.ndarray
    roughness_m: np.ndarray
    fittings: np.ndarray
    loss_m: np.ndarray
    generator: LossCurve

    def lost_si(self, flow_m3s: np.ndarray) -> np.ndarray:
        """Head lost in m at other flows, along one more axis."""
        return np.asarray(
            loss(
                flow_m3s,
                self.bore_m[..., None],
                self.length_m[..., None],
                self.roughness_m[..., None],
                float(viscosity.si()),
                self.fittings[..., None],
            )
        )

    @property
    def loss_share(self) -> np.ndarray:
        """Share of the head that the pipe loses at the design flow."""
        return self.loss_m / self.head_m

    def these(self, index: np.ndarray | tuple[np.ndarray, ...]) -> Sizes:
        """Some of the designs."""

        def picked(values: np.ndarray) -> np.ndarray:
            return np.asarray(np.broadcast_to(values, self.flow_m3s.shape)[index])

        return Sizes(
            picked(self.flow_m3s),
            picked(self.head_m),
            picked(self.bore_m),
            length_m=picked(self.length_m),
            roughness_m=picked(self.roughness_m),
            fittings=picked(self.fittings),
            loss_m=picked(self.loss_m),
            generator=self.generator,
        )

    def net_w(self, shaft_w: np.ndarray, whole_shaft_w: np.ndarray) -> np.ndarray:
        """Power behind a generator that was bought for another power at the shaft, as
        ``machine_size.generator_size_w`` buys it."""
        bought = np.maximum(whole_shaft_w * float(self.generator.efficiency_si(1.0)), 1e-9)
        scale = bought / self.generator.rated_w
        return np.asarray(scale * self.generator.output_si(shaft_w / scale))


def narrowest(
    flow_m3s: np.ndarray,
    head_m: np.ndarray,
    length_m: np.ndarray,
    pipes: tuple[Pipe, ...],
    generator: LossCurve,
) -> tuple[Sizes, np.ndarray]:
    """Each design with the narrowest pipe that loses no more than is usual, else with the widest;
    and which pipe that is.

    Parameters
    ----------
    flow_m3s : ndarray, creeks × flows
    head_m, length_m : ndarray
        Of each creek.
    pipes : tuple of Pipe
        Rising in bore.
    """
    bore, roughness, fittings = (
        np.array([float(getattr(each, name)) for each in pipes])
        for name in ("diameter_m", "roughness_m", "fittings")
    )
    lost = np.asarray(
        loss(
            flow_m3s[..., None],
            bore,
            length_m[:, None, None],
            roughness,
            float(viscosity.si()),
            fittings,
        )
    )
    fits = lost / head_m[:, None, None] <= USUAL_LOSS
    which = np.where(fits.any(axis=-1), fits.argmax(axis=-1), len(pipes) - 1)
    taken = np.take_along_axis(lost, which[..., None], axis=-1)[..., 0]
    sizes = Sizes(
        flow_m3s,
        head_m[:, None],
        bore[which],
        length_m=length_m[:, None],
        roughness_m=roughness[which],
        fittings=fittings[which],
        loss_m=taken,
        generator=generator,
    )
    return sizes, which


# --- fixed jets -----------------------------------------------------------------------------


def _weight() -> float:
    return float(density.si()) * GRAVITY


def fixed_curve(
    sizes: Sizes, efficiency: np.ndarray, jets: int, between: int
) -> tuple[np.ndarray, np.ndarray]:
    """Flow and net power of plants with so many equal jets, each open or shut, the runner at one efficiency.

    Parameters
    ----------
    sizes : Sizes
        Jets are bored so that all of them are just fed at the design flow.
    efficiency : ndarray
        Of the runner; broadcasts against the designs.
    jets : int
    between : int
        Steps in which each opening is followed from where it gives as much as the one before it, with
        less water than it could pass, to where it is fed.

    Returns
    -------
    flow_m3s, power_w : ndarray
        One more axis, rising.
    """
    whole = efficiency * _weight()
    head = sizes.head_m
    left_whole = np.maximum(1 - sizes.loss_share, 1e-9)
    unhindered = sizes.flow_m3s / np.sqrt(left_whole)
    shares = np.arange(1, jets + 1) / jets
    left = _left(sizes, unhindered[..., None] * shares)
    left[..., -1] = left_whole
    fed = unhindered[..., None] * shares * np.sqrt(left)
    shaft = whole[..., None] * fed * (head[..., None] * left)
    bought = whole * unhindered * head
    # power starved goes with the cube of the flow, for these jets need a head with its square, and
    # less where a grid or a governor holds the runner's speed
    nothing = float(sizes.generator.constant) * (bought * float(sizes.generator.efficiency_si(1.0)))
    before = np.concatenate([nothing[..., None], shaft[..., :-1]], axis=-1)
    start = np.minimum(HELD.flow_of_power_si(before / shaft), 1.0)
    along = np.linspace(0.0, 1.0, between + 1)
    share = start[..., None] + (1 - start[..., None]) * along
    flow = (fed[..., None] * share).reshape(*fed.shape[:-1], -1)
    power = (shaft[..., None] * HELD.flow_power_si(share)).reshape(flow.shape)
    return flow, sizes.net_w(power, bought[..., None])


def _left(sizes: Sizes, unhindered_m3s: np.ndarray) -> np.ndarray:
    """Share of the head that is left at jets that would pass so much under the whole of it."""
    head = sizes.head_m[..., None]
    left = np.broadcast_to((1 - sizes.loss_share)[..., None], unhindered_m3s.shape)
    left = np.clip(left, 1e-6, 1.0)
    for _ in range(_LEFT_STEPS):
        lost = sizes.lost_si(unhindered_m3s * np.sqrt(left)) / head
        # Newton's step: the loss goes with the flow to about the power 1.9
        left = np.clip(left - (left + lost - 1) / (1 + 0.95 * lost / left), 1e-6, 1.0)
    return left


# --- one adjustable machine -----------------------------------------------------------------


def adjustable_curve(sizes: Sizes, curve: PartLoad, between: int) -> tuple[np.ndarray, np.ndarray]:
    """Flow and net power of plants with one adjustable machine.

    Parameters
    ----------
    sizes : Sizes
    curve : PartLoad
        Of the machine; nothing below its least flow.
    between : int
        Steps from the least flow to the design flow, the points of the curve besides.

    Returns
    -------
    flow_m3s, power_w : ndarray
        One more axis, rising.
    """
    ratios, efficiency = _points(curve, between)
    flow = sizes.flow_m3s[..., None] * ratios
    head = np.maximum(sizes.head_m[..., None] - sizes.lost_si(flow), 0.0)
    shaft = _weight() * flow * head * efficiency
    # where a smaller flow gives more, no more is taken
    shaft = np.maximum.accumulate(shaft, axis=-1)
    bought = _weight() * sizes.flow_m3s * sizes.head_m * float(np.max(ratios * efficiency))
    return flow, sizes.net_w(shaft, bought[..., None])


@lru_cache(maxsize=64)
def _points(curve: PartLoad, between: int) -> tuple[Any, Any]:
    """Shares of the design flow, and the efficiency there."""
    least = curve.minimum_ratio
    ratios = np.concatenate([np.linspace(least, 1.0, between + 1), curve.flow_ratios])
    ratios = np.unique(ratios[(ratios >= least) & (ratios <= 1.0)])
    return ratios, curve.efficiency_si(ratios)
