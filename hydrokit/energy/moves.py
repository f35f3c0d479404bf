"""What would move the choice of a sweep, and how far: each price and value alone, a quarter less
and a quarter more."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace

import numpy as np

from ..result import Result
from .design import Design
from .designs import Sizing

__all__ = ["STEP", "Move", "moves"]

STEP = 0.25  # either way


@dataclass(frozen=True, eq=False)
class Move(Result):
    """One thing that the choice may hang on.

    Parameters
    ----------
    what : {"value", "pipe", "machine", "water"}
        Value of a kWh; price of the pipes; price of machine and jets; natural flow, one standard
        deviation either way.
    less, more : Design
        The choice with a quarter less of it, and with a quarter more.
    moved : bool
        Whether either is another than the choice.
    """

    what: str
    less: Design
    more: Design
    _: KW_ONLY
    moved: bool


def moves(sizing: Sizing) -> tuple[Move, ...]:
    """Each thing alone. What is not known, or has no part in the aim, moves nothing.

    Parameters
    ----------
    sizing : Sizing

    Returns
    -------
    tuple of Move
    """
    found, costs = [], sizing.costs

    def add(what: str, less: Sizing, more: Sizing) -> None:
        one, other = less.choice, more.choice
        found.append(
            Move(
                what,
                one,
                other,
                moved=one.index != sizing.choice.index or other.index != sizing.choice.index,
            )
        )

    if costs is not None and sizing.earning.known:
        add(
            "value",
            *(replace(sizing, valuing=sizing.earning.times(each)) for each in (1 - STEP, 1 + STEP)),
        )
    if sizing.prices_money_per_m is not None:
        add(
            "pipe",
            *(
                replace(sizing, prices_money_per_m=sizing.prices_money_per_m * each)
                for each in (1 - STEP, 1 + STEP)
            ),
        )
    if costs is not None and (costs.per_power_money_per_w or costs.per_jet_money):
        dearer = (
            replace(
                costs,
                per_power_money_per_w=costs.per_power_money_per_w * each,
                per_jet_money=costs.per_jet_money * each,
            )
            for each in (1 - STEP, 1 + STEP)
        )
        add("machine", *(replace(sizing, costs=each) for each in dearer))
    if sizing.varied_kwh is not None:
        share = np.divide(
            sizing.varied_kwh,
            sizing.useful_kwh,
            out=np.zeros_like(sizing.varied_kwh),
            where=sizing.useful_kwh > 0,
        )
        add(
            "water",
            *(
                replace(
                    sizing,
                    monthly_kwh=sizing.monthly_kwh * each[..., None],
                    useful_monthly_kwh=sizing.useful_monthly_kwh * each[..., None],
                )
                for each in share
            ),
        )
    return tuple(found)
