"""Draws of what the creek may be in truth, carried through the rules: residual flow, and what may be taken.

A rule stated in the creek's own statistics shares their error: where the record reads high, so does the
flow exceeded on 95 % of its days, and what is left between them errs less than either. So years, rating
and transfer are drawn once (:class:`hydrokit.stream.duration.Duration`), and the rules are asked of
every draw.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ...result import Result
from ...stream.days import days_of
from ...stream.record import WATER_YEAR, year_labels

if TYPE_CHECKING:
    import pandas as pd

    from ...stream.duration import Duration
    from ...stream.rights import Rights
    from ..study import Study

__all__ = ["WaterDraws", "interval", "water_draws"]

_POINTS = 40  # of the flows of a month, each for as many of its days
_ENDS = (0.05, 0.95)


def interval(drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Ends of the 90 % interval of draws along the first axis."""
    low, high = np.quantile(drawn, _ENDS, axis=0)
    return low, high


@dataclass(frozen=True, eq=False)
class _Drawn:
    """The creek's statistics in one draw, as a rule asks for them."""

    number: int
    draws: WaterDraws

    @property
    def mean_m3s(self) -> float:
        return float(self.draws.mean_m3s[self.number])

    def exceeded_m3s(self, share: float) -> float:
        return float(self.draws.exceeded_m3s(share)[self.number])


@dataclass(frozen=True, eq=False)
class WaterDraws(Result):
    """What a creek may be in truth, draw by draw.

    Parameters
    ----------
    record, usable : Series
        Natural flow by day, and what may be taken of it.
    curve : Duration
        Of the natural flow, whose draws these are.
    rights : Rights
    """

    record: pd.Series
    usable: pd.Series
    curve: Duration
    _: KW_ONLY
    rights: Rights

    @cached_property
    def _exceeded(self) -> dict[float, np.ndarray]:
        return {}

    def exceeded_m3s(self, share: float) -> np.ndarray:
        """Flow exceeded in a share of the time."""
        if share not in self._exceeded:
            self._exceeded[share] = self.curve.resampled_si(share)
        return self._exceeded[share]

    @cached_property
    def mean_m3s(self) -> np.ndarray:
        """Mean flow: by the years, then as much as the errors of its days move the sum."""
        flow = self.curve.flow_m3s
        every = max(len(flow) // (12 * _POINTS), 1)
        some = flow[every // 2 :: every]
        moved = (some * self._factors(some)).mean(axis=1) / some.mean()
        return self._by_years(self.record) * moved

    @cached_property
    def residual_m3s(self) -> np.ndarray:
        """Residual flow, draws × 12: of rules in the creek's own statistics that of each draw, of
        others as it is."""
        keep = np.zeros((self.curve.resamples, 12))
        for rule in self.rights.rules:
            holds, asks = np.isin(np.arange(1, 13), rule.months), rule.from_statistics
            stays = (
                rule.flow_m3s
                if asks is None
                else np.array(
                    [asks(_Drawn(number, self)) * np.ones(12) for number in range(len(keep))]
                )
            )
            keep = np.maximum(keep, stays * holds)
        return keep

    @cached_property
    def usable_of_median_day_m3s(self) -> np.ndarray:
        """What may be taken on the median day of each month, draws × 12; NaN in a month without a day."""
        natural = np.full(self.residual_m3s.shape, np.nan)
        for month, curve in self.curve.monthly().items():
            natural[:, month - 1] = curve.resampled_si(0.5)
        return np.asarray(self.rights.usable_si(natural, np.arange(1, 13), self.residual_m3s))

    @cached_property
    def usable_mean_m3s(self) -> np.ndarray:
        """Mean of what may be taken.

        Each month stands by forty of its flows, moved by the errors of the draw and put through the
        rules with the residual flow of the draw; the years move the mean as they move the mean of
        what was taken of them.
        """
        rights, taken = self.rights, self.usable
        known = self.record[taken.notna() & self.record.notna()]
        before, after, days = 0.0, np.zeros(self.curve.resamples), 0
        for month in range(1, 13):
            flow = np.sort(known[days_of(known).month == month].to_numpy())
            if not len(flow):
                continue
            some = np.interp(
                (np.arange(_POINTS) + 0.5) / _POINTS, (np.arange(len(flow)) + 0.5) / len(flow), flow
            )
            moved = some * self._factors(some)
            keep = self.residual_m3s[:, month - 1 : month]
            before += len(flow) * float(np.mean(rights.usable_si(some, month)))
            after += len(flow) * np.mean(rights.usable_si(moved, month, keep), axis=1)
            days += len(flow)
        if not before > 0:
            return np.zeros(self.curve.resamples)
        most = float(np.mean(rights.licence_m3s[days_of(known).month - 1]))
        return np.clip(self._by_years(taken) * after / before, 0.0, most)

    def _factors(self, flow: np.ndarray) -> np.ndarray:
        return self.curve.factors_si(np.broadcast_to(flow, (self.curve.resamples, len(flow))))

    def _by_years(self, daily: pd.Series) -> np.ndarray:
        """Mean of a daily series by the years alone."""
        daily = daily.dropna()
        place = np.searchsorted(self.curve.years, year_labels(days_of(daily), WATER_YEAR))
        count = len(self.curve.years)
        water = np.bincount(place, daily.to_numpy(), count)
        days = np.bincount(place, minlength=count)
        drawn = self.curve.draws @ water / np.maximum(self.curve.draws @ days, 1)
        return self.curve.widened_si(drawn[:, None], np.array([daily.mean()]))[:, 0]


def water_draws(study: Study) -> WaterDraws | None:
    """Draws of what the creek may be in truth, or None without a record."""
    if study.duration is None or study.record is None or study.usable is None:
        return None
    return WaterDraws(study.record, study.usable, study.duration, rights=study.rights)
