"""What each operating loss takes from the gross energy of a mean year, and what one winter of frost
may take."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result

if TYPE_CHECKING:
    from ..study import Study

__all__ = ["FrostWinters", "Loss", "OperatingLosses", "operating_losses"]

_NOTHING = 0.0005  # of the gross energy: what costs or brings less is called next to nothing


@dataclass(frozen=True, eq=False, kw_only=True)
class Loss:
    """One loss, on top of those before it; or a gain.

    Parameters
    ----------
    name : str
        ``"planned"``, ``"unplanned"``, ``"ramp"``, ``"jets"``, ``"frost"``; ``"pond"`` for what a
        pond brings.
    kwh : ndarray of 12
    year_kwh : float
    share : float
        Of the gross energy.
    matters : bool
        Whether it is more than next to nothing.
    worst_month : int
        1 to 12.
    worst_kwh : float
        Lost in that month.
    """

    name: str
    kwh: np.ndarray
    year_kwh: float
    share: float
    matters: bool
    worst_month: int
    worst_kwh: float


@dataclass(frozen=True, eq=False, kw_only=True)
class FrostWinters:
    """How winters differ in what frost takes.

    Parameters
    ----------
    without_loss : float
        Share of the winters that lose nothing.
    bad_kwh : float
        Exceeded with a probability of 10 %.
    """

    without_loss: float
    bad_kwh: float


@dataclass(frozen=True, eq=False, kw_only=True)
class OperatingLosses(Result):
    """From gross to net.

    Parameters
    ----------
    steps : tuple of Loss
        In the order in which they are taken off.
    pond : Loss
        What a pond brings; part of the gross energy.
    frost_winters : FrostWinters or None
        None where no stops in frost are drawn.
    """

    steps: tuple[Loss, ...]
    pond: Loss
    frost_winters: FrostWinters | None

    def of(self, name: str) -> Loss | None:
        """One of the steps by its name; None where it takes nothing at all."""
        return next((each for each in self.steps if each.name == name), None)


def operating_losses(study: Study) -> OperatingLosses | None:
    """The losses of a mean year one by one; None without a year."""
    year = study.year
    if year is None:
        return None
    gross, walked = year.gross_annual_kwh, study.day_by_day
    drawn = np.zeros(0) if walked is None else walked.remembered.years_kwh
    winters = None
    if len(drawn):
        winters = FrostWinters(
            without_loss=float(np.mean(drawn < 1)), bad_kwh=float(np.quantile(drawn, 0.9))
        )
    return OperatingLosses(
        steps=tuple(_loss(each.name, each.kwh, gross) for each in year.steps),
        pond=_loss("pond", year.pond_kwh, gross),
        frost_winters=winters,
    )


def _loss(name: str, kwh: np.ndarray, gross_kwh: float) -> Loss:
    total, worst = float(kwh.sum()), int(np.argmax(kwh))
    return Loss(
        name=name,
        kwh=kwh,
        year_kwh=total,
        share=total / gross_kwh if gross_kwh > 0 else np.nan,
        matters=total > _NOTHING * gross_kwh,
        worst_month=worst + 1,
        worst_kwh=float(kwh[worst]),
    )
