"""One size of the plant, the sizes as good as it, and why one is taken."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..errors import HydrokitError, did_you_mean
from ..works.pipe import Pipe
from .money import Costs
from .valuing import Valuing

__all__ = ["AIMS", "Design", "Equal", "KNEE", "LOSS_LIMIT", "Reason"]

AIMS = ("cost", "winter", "worth", "knee")
# Past this share of the head more water gives less power: the loss goes with the square of the flow.
LOSS_LIMIT = 1 / 3
# Without prices: a litre a second more must bring this share of what one that always runs would
# bring, and the pipe is the narrowest that loses no more than this. Both common practice.
KNEE, USUAL_LOSS = 0.30, 0.10


@dataclass(frozen=True, eq=False)
class Design:
    """One design.

    Parameters
    ----------
    index : tuple of int
        Place in the arrays of the :class:`Sizing`: jets, flow, pipe.
    flow_m3s : float
        Design flow.
    pipe : Pipe
    jets : int
    kwh, winter_kwh, useful_kwh, useful_winter_kwh : float
        Of a mean year; useful is what the demand takes, all of it where none was given.
    firm_w : float
        Power exceeded on 95 % of the days.
    rated_w : float
        Greatest power.
    loss_share : float
        Share of the head lost at the design flow.
    first_money, levelised_money_per_kwh, worth_money, marginal_kwh_per_money : float
        See :class:`Sizing`; NaN where not known.
    """

    index: tuple[int, int, int]
    flow_m3s: float
    pipe: Pipe
    _: KW_ONLY
    jets: int
    kwh: float
    winter_kwh: float
    useful_kwh: float
    useful_winter_kwh: float
    firm_w: float
    rated_w: float
    loss_share: float
    first_money: float
    levelised_money_per_kwh: float
    worth_money: float
    marginal_kwh_per_money: float

    @property
    def too_lossy(self) -> bool:
        """Whether it lies past the one-third loss."""
        return self.loss_share > LOSS_LIMIT


@dataclass(frozen=True, eq=False)
class Equal:
    """Designs that count as equal: how wide the optimum is.

    Parameters
    ----------
    mask : ndarray of bool
        In the shape of the sizing's arrays.
    flows_m3s : tuple of float
        Least and greatest design flow among them.
    pipes : tuple of Pipe
        Those among them, narrowest first.
    jets : tuple of int
    """

    mask: np.ndarray
    flows_m3s: tuple[float, float]
    pipes: tuple[Pipe, ...]
    _: KW_ONLY
    jets: tuple[int, ...]

    @property
    def count(self) -> int:
        return int(self.mask.sum())


@dataclass(frozen=True, eq=False)
class Reason:
    """Why a design was chosen, in numbers.

    Parameters
    ----------
    aim : str
    best, choice : Design
    flat : Equal
        Equal to the best within `within`.
    within_uncertainty : Equal or None
        Those whose difference from the best does not exceed the uncertainty; None where no uncertainty
        or no money was given.
    within : float
    given_up : float
        What the choice falls short of the best, in what the aim is counted in (money per kWh,
        useful kWh in winter, money a year, kWh).
    saved_money : float
        First cost spared against the best; NaN without costs.
    rule : str
        ``"cheapest of the equal"``, or ``"smallest of the equal"`` without costs.
    """

    aim: str
    best: Design
    choice: Design
    _: KW_ONLY
    flat: Equal
    within_uncertainty: Equal | None
    within: float
    given_up: float
    saved_money: float
    rule: str


def settled_aim(aim: str | None, costs: Costs | None, valuing: Valuing | None = None) -> str:
    """The aim asked for, or the best that the costs allow."""
    value = None if costs is None else costs.value_money_per_kwh
    if valuing is not None and costs is not None:
        value = valuing.used_money_per_kwh if valuing.known else None
    if aim is None:
        return "knee" if costs is None else "cost" if value is None else "worth"
    if aim not in AIMS:
        raise HydrokitError(
            f"sweep(): aim must be one of {', '.join(AIMS)}; got {aim!r}{did_you_mean(aim, AIMS)}"
        )
    if aim != "knee" and costs is None:
        raise HydrokitError(
            f"sweep(): the aim '{aim}' needs costs; give them, or take the aim 'knee'"
        )
    if aim in ("winter", "worth") and value is None:
        raise HydrokitError(
            f"sweep(): the aim '{aim}' needs what a kWh is worth; give it, or take the aim 'cost'"
        )
    return aim
