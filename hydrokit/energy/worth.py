"""What each rule costs in energy, and which flows decide the energy."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, replace
from typing import Sequence

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.curve import PlantCurve, most_taken
from ..result import Result
from ..sentences import Sentence
from ..stream.days import days_of
from ..stream.record import checked
from ..stream.rights import Rights, resolve_rights
from ..units import Q_, Quantity
from .weights import WINTER
from .year import Outages, annual_energy
from .year_power import power_series

__all__ = [
    "Deciding",
    "GivenUp",
    "RulePrice",
    "deciding_flows",
    "given_up",
]

_NUDGE = 0.05  # share of the flow; wide enough to feel the steps of jets on either side


# --- rules ----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class RulePrice:
    """Energy a mean year would have more if this rule alone did not hold.

    Parameters
    ----------
    text : str
        The rule in words.
    kwh, winter_kwh : float
    """

    text: str | Sentence
    kwh: float
    winter_kwh: float


@dataclass(frozen=True, eq=False)
class GivenUp(Result):
    """Energy given up to the rules on the creek's water.

    Parameters
    ----------
    kwh, winter_kwh : float
        Of a mean year with all rules.
    free_kwh, free_winter_kwh : float
        Without any.
    prices : tuple of RulePrice
        One for each rule, then for what the licence limits.
    """

    kwh: float
    winter_kwh: float
    free_kwh: float
    _: KW_ONLY
    free_winter_kwh: float
    prices: tuple[RulePrice, ...]

    @property
    def together_kwh(self) -> float:
        """Given up to all of them."""
        return self.free_kwh - self.kwh

    @property
    def together_winter_kwh(self) -> float:
        """Given up to all of them in winter."""
        return self.free_winter_kwh - self.winter_kwh

    @property
    def shared_kwh(self) -> float:
        """Part of it that no rule alone gives back, because another one holds the same water.

        Below zero where dropping one gives a part of another back too.
        """
        return self.together_kwh - sum(each.kwh for each in self.prices)


def given_up(
    record: pd.Series,
    rights: Rights,
    curves: PlantCurve | Sequence[PlantCurve],
    outages: Outages | None = None,
    winter: tuple[int, ...] = WINTER,
) -> GivenUp:
    """Energy with all rules, without each one, and without any.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rights : Rights
    curves : PlantCurve, or 12 of them
    outages : Outages, optional
    winter : tuple of int

    Returns
    -------
    GivenUp
        What a rule costs is no argument against it: the creek lives on what is left in it.
    """
    record = checked(record)
    most = most_taken(curves)

    def energy(usable: pd.Series) -> np.ndarray:
        year = annual_energy(usable, curves, outages, winter=winter)
        return np.array([year.annual_kwh, year.winter_kwh])

    whole = energy(rights.usable_series(record, most))
    prices = [
        RulePrice(text, *(energy(other.usable_series(record, most)) - whole).tolist())
        for text, other in _without_one(rights, record)
    ]
    free = energy(record)
    return GivenUp(
        kwh=float(whole[0]),
        winter_kwh=float(whole[1]),
        free_kwh=float(free[0]),
        free_winter_kwh=float(free[1]),
        prices=tuple(prices),
    )


def _without_one(rights: Rights, record: pd.Series) -> list[tuple[str | Sentence, Rights]]:
    """The rights with one rule, or one limit of the licence, taken out at a time."""
    licensed = {
        name: getattr(rights, name)
        for name in ("licence_m3s", "volume_m3", "ramp_m3s_per_day", "start_month")
    }
    found = []
    for number, rule in enumerate(rights.rules):
        others = rights.rules[:number] + rights.rules[number + 1 :]
        found.append((rule.text, replace(resolve_rights(others, None, record), **licensed)))
    if not rights.rules and np.any(rights.keep_m3s + rights.share_left + rights.hands_off_m3s > 0):
        nothing = np.zeros(12)
        found.append(
            (
                "what must stay in the creek",
                replace(rights, keep_m3s=nothing, share_left=nothing, hands_off_m3s=nothing),
            )
        )
    for text, limited, without in (
        (
            "the licensed rate",
            np.any(np.isfinite(rights.licence_m3s)),
            {"licence_m3s": np.full(12, np.inf)},
        ),
        ("the licensed yearly volume", np.isfinite(rights.volume_m3), {"volume_m3": np.inf}),
        (
            "the limit on how fast the take may rise",
            np.isfinite(rights.ramp_m3s_per_day),
            {"ramp_m3s_per_day": np.inf},
        ),
    ):
        if limited:
            found.append((text, replace(rights, **without)))
    return found


# --- flows that decide ----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Deciding:
    """How much the energy hangs on each natural flow.

    Parameters
    ----------
    flow_m3s : ndarray
        Natural flow of the days of the record that has one above zero.
    month : ndarray of int
        Calendar month of each.
    weight_kwh : ndarray
        Energy a year that a relative error of 1 in the flow of that day alone would make; times
        0.01 for one per cent.
    """

    flow_m3s: np.ndarray
    month: np.ndarray
    weight_kwh: np.ndarray

    @property
    def total_kwh(self) -> float:
        """Energy a year for a relative error of 1 in all flows."""
        return float(self.weight_kwh.sum())

    def range_m3s(self, share: float = 0.8) -> tuple[float, float]:
        """Flows between which a share of the weight lies, as much below as above."""
        order = np.argsort(self.flow_m3s)
        below = np.cumsum(np.abs(self.weight_kwh[order]))
        if not below[-1] > 0:
            raise HydrokitError(
                "the energy does not depend on the flow of any day of this record: the plant "
                "runs full on all days, or on none"
            )
        ends = np.searchsorted(below, below[-1] * np.array([(1 - share) / 2, (1 + share) / 2]))
        return tuple(self.flow_m3s[order][np.minimum(ends, len(order) - 1)].tolist())

    @property
    def range(self) -> Quantity:
        """The two flows between which 80 % of the weight lies."""
        return Q_(np.array(self.range_m3s()), "m^3/s")


def deciding_flows(
    record: pd.Series,
    rights: Rights,
    curves: PlantCurve | Sequence[PlantCurve],
    outages: Outages | None = None,
) -> Deciding:
    """Which natural flows decide the energy: where one per cent more or less of them shows.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rights : Rights
    curves : PlantCurve, or 12 of them
    outages : Outages, optional

    Returns
    -------
    Deciding
        Days on which the plant stands, or runs full with water to spare, weigh nothing.

    Notes
    -----
    Central difference over ±5 % of the flow of all days at once, through the real rights.
    """
    record = checked(record)
    most = most_taken(curves)
    ends = [
        power_series(rights.usable_series(record * np.exp(step), most), curves).to_numpy()
        for step in (-_NUDGE, _NUDGE)
    ]
    running = (Outages() if outages is None else outages).running
    flow, month = record.to_numpy(), np.asarray(days_of(record).month)
    days = flow > 0
    years = np.isfinite(flow).sum() / 365.25
    weight = (ends[1] - ends[0]) / (2 * _NUDGE) * 24 / 1000 * running[month - 1] / years
    return Deciding(flow[days], month[days], weight[days])
