"""What a change is worth to a plant that has a log: the log's own months, moved by what the change
does to them.

The log says what the plant made in each month, and what a clogged screen and stops took. The model
says only in what ratio a changed plant would give more or less than the plant of today, its parts
clean; and the log's own loss to clogging shrinks as the blocked share, or the power it costs in the
model, does. What jets left open in want of water took is won back by a change that sets the jets.

>>> import numpy as np
>>> from dataclasses import replace
>>> from hydrokit.energy.by_log import LoggedMonths, logged_power
>>> from hydrokit.energy.cases import Case
>>> from hydrokit.plant.chain import Chain
>>> from hydrokit.plant.parts import FixedJets, MeasuredLoss, Penstock, Runner, steady
>>> plant = Chain(Penstock(MeasuredLoss(0.0), 50.0), FixedJets((0.012,) * 2, 0.95), Runner(steady(0.6)))
>>> log = LoggedMonths(np.full(12, 1000.0), np.full(12, 0.10), np.zeros(12))
>>> today = Case(plant, {10: 0.0067})
>>> power = logged_power(today, log)
>>> better = replace(today, chain=plant.factors(efficiency=1.1))
>>> [f"{power(case)[10][0]:.0f} W" for case in (today, better)]
['1000 W', '1100 W']
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ..plant.chain import Chain, state_of
from ..result import Result
from .cases import Case

__all__ = ["LoggedMonths", "logged_power"]

_NOTHING = 1e-6  # share of the power that is rounding


@dataclass(frozen=True, eq=False)
class LoggedMonths(Result):
    """What a log says of each month, January first; NaN in months it does not hold.

    Parameters
    ----------
    made_w : ndarray of 12
        Mean power, with all that was lost taken off.
    clogging, stops : ndarray of 12
        Shares of what would have been made without them, lost to a clogged screen and to stops.
    jets : ndarray of 12 or float
        Share lost to jets left open in want of water.
    """

    made_w: np.ndarray
    clogging: np.ndarray
    stops: np.ndarray
    _: KW_ONLY
    jets: np.ndarray | float = 0.0

    @property
    def whole_w(self) -> np.ndarray:
        """Mean power without clogging, stops and jets left open."""
        return self.made_w / np.maximum(1 - self.clogging - self.stops - self.jets, 1e-9)


def logged_power(base: Case, log: LoggedMonths) -> Callable[[Case], dict[int, tuple[float, float]]]:
    """Power of a case month by month while it runs, and the share of the time it does, from the plant's log.

    Parameters
    ----------
    base : Case
        The plant as it was when the log was kept, with a flow for each month that counts.
    log : LoggedMonths

    Returns
    -------
    callable
        For ``cases.watts``. Months the log does not hold go by their flow alone.
    """
    jets = np.broadcast_to(log.jets, 12)
    today = {month: _Month(base, base.chain.replace(states=()), month) for month in base.usable}

    def power(case: Case) -> dict[int, tuple[float, float]]:
        found, clean = {}, case.chain.replace(states=())
        for month in sorted(case.usable):
            place, running, here, then = (
                month - 1,
                float(case.outages.running[month - 1]),
                _Month(case, clean, month),
                today[month],
            )
            if not np.isfinite(log.made_w[place]) or then.clean_w <= 0:
                found[month] = here.power_w, running
                continue
            clogging = log.clogging[place] * _kept(then, here) if log.clogging[place] > 0 else 0.0
            out = 1 - float(base.outages.running[place])
            stops = log.stops[place] * ((1 - running) / out if out > 0 else 1.0)
            # where the model has the jets open as fed, it does not know what the habit of the log cost
            cured = month in case.jets_set and then.rule is None
            left = 1 - clogging - (0.0 if cured else float(jets[place]))
            whole = log.whole_w[place] * here.clean_w / then.clean_w
            found[month] = whole * max(left, 0.0), max(1 - stops / max(left, 1e-9), 0.0)
        return found

    return power


@dataclass(frozen=True, eq=False)
class _Month:
    """A case in one month, and the same with its parts clean."""

    case: Case
    clean: Chain
    month: int

    @cached_property
    def flow_m3s(self) -> float:
        brought = self.case.brought_m3s
        return self.case.usable[self.month] + (
            0.0 if brought is None else float(brought[self.month - 1])
        )

    @cached_property
    def power_w(self) -> float:
        return float(self.case.chain.at_si(self.flow_m3s, self.month).power_w)

    @cached_property
    def clean_w(self) -> float:
        """With clean parts, the jets handled as in the month."""
        return float(self.clean.at_si(self.flow_m3s, self.month).power_w)

    @property
    def rule(self) -> Any:
        """What is done with the jets in the month."""
        return self.case.chain.schedule[self.month - 1]

    @property
    def share_lost(self) -> float:
        return 1 - self.power_w / self.clean_w if self.clean_w > 0 else 0.0

    @property
    def blocked(self) -> float:
        """Largest share blocked of any part."""
        told = self.case.chain.state_in(self.month)
        return max(
            (float(state_of(told, part).clogged) for part in self.case.chain.supply), default=0.0
        )


def _kept(then: _Month, here: _Month) -> float:
    """How much of the log's loss to clogging a case keeps: by the power it costs in the model, else
    by the share blocked."""
    if then.share_lost > _NOTHING:
        return here.share_lost / then.share_lost
    return here.blocked / then.blocked if then.blocked > 0 else 1.0
