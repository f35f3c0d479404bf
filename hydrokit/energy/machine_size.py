"""What the machine of a design must carry: runner shaft, generator and cable in W."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..plant.chain import Chain
from ..plant.losses import LossCurve

if TYPE_CHECKING:
    from ..units import Alike, Number

__all__ = [
    "SizedCable",
    "SizedGenerator",
    "generator_size_w",
    "lossless",
    "machine_w",
    "once_it_runs",
    "shaft_size_w",
]


@dataclass(frozen=True, eq=False)
class SizedGenerator:
    """A generator of the size a design needs, with the losses of a usual one in proportion.

    It has no limit of its own: it is bought to fit, and a change to the plant buys another.

    Parameters
    ----------
    losses : LossCurve
        Of a machine of any size.
    size_w : float or ndarray
        Output at which it is fully loaded.
    name : str
    """

    losses: LossCurve
    size_w: Number
    name: str = "generator"

    def output_si(self, input_w: Number) -> Number:
        """Output in W from a power going in."""
        scale = np.maximum(self.size_w, 1e-9) / self.losses.rated_w
        return scale * self.losses.output_si(input_w / scale)

    def bought_for(self, chain: Chain, most_m3s: float = np.inf) -> Chain:
        """A plant with this kind of generator in the size it needs: see :func:`generator_size_w`."""
        after = tuple(part for part in chain.electric if not isinstance(part, SizedGenerator))
        return chain.replace(
            electric=(replace(self, size_w=generator_size_w(chain, self.losses, most_m3s)), *after)
        )


@dataclass(frozen=True, eq=False)
class SizedCable:
    """A cable known by its loss at full load alone, as long and thick as each design needs.

    Parameters
    ----------
    loss_ratio : float
        Share of the full power lost in it; at part load the loss goes with the square.
    full_w : float or ndarray
        Sent into it at full load.
    name : str
    """

    loss_ratio: float
    full_w: Number
    name: str = "cable"

    def output_si(self, input_w: Number) -> Number:
        """Power in W that arrives."""
        full = np.maximum(self.full_w, 1e-9)
        sent = np.minimum(input_w, full / (2 * self.loss_ratio))
        return sent * (1 - self.loss_ratio * sent / full)


def generator_size_w(chain: Chain, losses: LossCurve, most_m3s: float = np.inf) -> Number:
    """Output in W for which a generator is bought: of the most water the plant can take, under the
    whole head.

    The head lost in the pipe is not taken off, so that a wider pipe buys no larger generator; those are
    usually bought larger than the turbine by about as much (common practice).

    Parameters
    ----------
    chain : Chain
        With its parts clean, whatever stands behind its runner.
    losses : LossCurve
        Of a generator of any size.
    most_m3s : float
        Most that may come, such as the licence.
    """
    return shaft_size_w(chain, most_m3s) * losses.efficiency_si(1.0)


def shaft_size_w(chain: Chain, most_m3s: float = np.inf) -> Number:
    """Power in W at the shaft for which a generator is bought: of everything open under the whole
    head, or as much less as less water may come."""
    chain = once_it_runs(chain)
    way = lossless(chain).running()
    full = lossless(chain).replace(supply=()).at_si(np.inf)
    reaching = (
        np.minimum(way.passage.leaves_si(most_m3s), way.capacity_m3s)
        if np.isfinite(most_m3s)
        else way.capacity_m3s
    )
    return full.power_w * np.minimum(
        reaching / np.where(full.used_m3s > 0, full.used_m3s, 1.0), 1.0
    )


def once_it_runs(chain: Chain) -> Chain:
    """A plant whose way lets no water through, as a line that air stops, with its way put right: the
    machine is bought for the day on which it runs. Any other plant as it is."""
    passes = np.any(np.asarray(chain.running().capacity_m3s) > 0)
    return chain if passes else chain.replace(supply=(), states=())


def lossless(chain: Chain) -> Chain:
    """A plant up to its shaft, its parts clean, its penstock without loss."""
    return chain.replace(
        penstock=replace(chain.penstock, loss_factor=0.0), electric=(), states=(), schedule=()
    )


def machine_w(chain: Chain) -> Alike:
    """Power in W that the machine is paid for: its generator's rating where it has one, else what
    its shaft gives
    at full flow, times the generator's best; what follows behind neither adds nor takes."""
    shaft = once_it_runs(chain).replace(electric=()).at_si(np.inf).power_w
    if not chain.electric:
        return shaft
    first = chain.electric[0]
    if isinstance(first, SizedGenerator):
        return shaft * first.losses.efficiency_si(1.0)
    return first.rated_w if getattr(first, "part", "") == "generator" else shaft
