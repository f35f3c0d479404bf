"""The water of many creeks at once: one neighbour's days put in order, and what each creek may use of them.

A creek's usable flow rises with the neighbour's, so that both have their days in the same order. Sums
over the days on which a creek has less than some flow are then read from running sums of the neighbour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..stream.licence import licence
from ..stream.record import WATER_YEAR
from ..stream.rights import resolve_rights
from ..stream.rules import percentile, share_of_mean
from .sweeping import HAIR
from .weights import MONTHS, WINTER, counted_months, steps_of

if TYPE_CHECKING:
    from .creeks import Creek

__all__ = ["STAYS", "Days", "Waters"]

STAYS = 0.95  # exceedance of the flow that stays where nobody has said what must
_TRIED = np.array([1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10])


@dataclass(frozen=True, eq=False)
class Days:
    """The days of one neighbour's record, the driest first.

    Parameters
    ----------
    flow_m3s : ndarray
        Rising.
    hours, winter_hours : ndarray, one longer
        Running sums of the hours that each day stands for in a mean year, and in its winter.
    volume, winter_volume : ndarray, one longer
        The same times the flow.
    total : ndarray, one longer
        Running sum of the flow, every day counted once.
    low_m3s, mean_m3s : float
        What stays by rule: the flow exceeded on 95 % of the days, and the mean of whole years.
    lacking : str
        Why there is no mean year; empty where there is one.
    """

    flow_m3s: np.ndarray
    hours: np.ndarray
    winter_hours: np.ndarray
    _: KW_ONLY
    volume: np.ndarray
    winter_volume: np.ndarray
    total: np.ndarray
    low_m3s: float
    mean_m3s: float
    lacking: str = ""

    @classmethod
    def of(cls, record: pd.Series) -> Days:
        """A daily record in m³/s, as ``stream.record.read_record`` gives it."""
        low, mean = (
            float(resolve_rights([rule], licence.si(None), record).keep_m3s[0])
            for rule in (percentile.si(STAYS), share_of_mean.si(1.0))
        )
        steps = steps_of(record, WATER_YEAR)
        counted = counted_months(steps.complete)
        lacking = ""
        if not counted.any(axis=0).all():
            missing = ", ".join(str(month) for month in MONTHS[~counted.any(axis=0)])
            lacking = (
                f"the record has no complete month {missing}, so there is no mean year to size for"
            )
        known = np.isfinite(steps.flow)
        order = np.argsort(steps.flow[known], kind="stable")
        flow, year, month = (each[known][order] for each in (steps.flow, steps.year, steps.month))
        years = np.maximum(counted.sum(axis=0), 1)[month - 1]
        hours = np.where(counted[year, month - 1], steps.step_hours / years, 0.0)
        winter = np.where(np.isin(month, WINTER), hours, 0.0)
        return cls(
            flow,
            _running(hours),
            _running(winter),
            volume=_running(hours * flow),
            winter_volume=_running(winter * flow),
            total=_running(flow),
            low_m3s=low,
            mean_m3s=mean,
            lacking=lacking,
        )


def _running(values: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(values)])


@dataclass(frozen=True, eq=False)
class Waters:
    """Usable flow of many creeks: share of the neighbour's flow, less what stays, up to the licence.

    Parameters
    ----------
    days : tuple of Days
        Each neighbour once.
    which : ndarray of int
        The neighbour of each creek.
    share, keep_m3s, licence_m3s : ndarray
        Of each creek; an infinite licence where there is none.
    """

    days: tuple[Days, ...]
    which: np.ndarray
    share: np.ndarray
    _: KW_ONLY
    keep_m3s: np.ndarray
    licence_m3s: np.ndarray

    @classmethod
    def of(
        cls, creeks: Sequence[Creek], days: tuple[Days, ...], which: np.ndarray, factor: float = 1.0
    ) -> Waters:
        """Of creeks with the neighbour of each, all flows times a factor."""
        share = factor * np.array(
            [each.catchment_m2 / each.neighbour_catchment_m2 for each in creeks]
        )
        stays = np.array(
            [np.nan if each.residual_share is None else each.residual_share for each in creeks]
        )
        low, mean = (
            np.array([getattr(each, name) for each in days])[which]
            for name in ("low_m3s", "mean_m3s")
        )
        keep = share * np.where(np.isnan(stays), low, np.nan_to_num(stays) * mean)
        most = np.array(
            [np.inf if each.licence_m3s is None else each.licence_m3s for each in creeks]
        )
        return cls(days, which, share, keep_m3s=keep, licence_m3s=most)

    def these(self, rows: np.ndarray) -> Waters:
        """Of some of the creeks."""
        return Waters(
            self.days,
            self.which[rows],
            self.share[rows],
            keep_m3s=self.keep_m3s[rows],
            licence_m3s=self.licence_m3s[rows],
        )

    @cached_property
    def groups(self) -> tuple[tuple[Days, np.ndarray], ...]:
        """Each neighbour with the rows of its creeks."""
        return tuple(
            (self.days[each], np.flatnonzero(self.which == each)) for each in np.unique(self.which)
        )

    # --- what the days are like ---------------------------------------------------------------

    @cached_property
    def mean_m3s(self) -> np.ndarray:
        """Mean natural flow of each creek."""
        found = np.empty(len(self.share))
        for days, rows in self.groups:
            found[rows] = self.share[rows] * days.total[-1] / len(days.flow_m3s)
        return found

    @cached_property
    def usable_mean_m3s(self) -> np.ndarray:
        """Mean usable flow of each creek."""
        found = np.empty(len(self.share))
        for days, rows in self.groups:
            share, keep, most = self.share[rows], self.keep_m3s[rows], self.licence_m3s[rows]
            size = len(days.flow_m3s)
            first, last = (
                np.searchsorted(days.flow_m3s, each / share) for each in (keep, keep + most)
            )
            between = share * (days.total[last] - days.total[first]) - keep * (last - first)
            above = np.where(last < size, most, 0.0) * (size - last)
            found[rows] = (between + above) / size
        return found

    def usable_at(self, place: float) -> np.ndarray:
        """Usable flow on the day at a place in the order of the days, the driest 0 and the wettest
        1, straight between two days."""
        found = np.empty(len(self.share))
        for days, rows in self.groups:
            at = place * (len(days.flow_m3s) - 1)
            before = int(np.floor(at))
            after = min(before + 1, len(days.flow_m3s) - 1)
            low, high = (
                np.clip(
                    self.share[rows] * days.flow_m3s[each] - self.keep_m3s[rows],
                    0.0,
                    self.licence_m3s[rows],
                )
                for each in (before, after)
            )
            found[rows] = low + (at - before) * (high - low)
        return found

    @cached_property
    def most_m3s(self) -> np.ndarray:
        """Usable flow of the wettest day."""
        return self.usable_at(1.0)

    def tried(self) -> np.ndarray:
        """Design flows to try, creeks × flows, as ``sizing.flows_to_try`` has them; NaN behind the
        last of each, and all NaN where there is none."""
        top, most = self.usable_at(0.9), self.most_m3s
        known = top > 0
        finest = np.where(known, top, 1.0) / 24
        decade = 10 ** np.floor(np.log10(finest))
        step = decade * _TRIED[np.searchsorted(_TRIED, finest / decade - 1e-9)]
        count = np.where(known, (1.2 * top / step + HAIR).astype(int) + 1, 0)
        flows = step[:, None] * np.arange(1, count.max(initial=0) + 1)
        flows[np.arange(flows.shape[1]) >= count[:, None]] = np.nan
        # none above a flow that is never exceeded, which takes the place of the first of them
        highest = most[:, None]
        above = flows > highest * (1 + HAIR)
        near = (np.abs(flows - highest) <= HAIR * highest).any(axis=1)
        flows[above] = np.nan
        first = np.argmax(above, axis=1)
        put = above.any(axis=1) & ~near
        flows[put, first[put]] = most[put]
        return flows

    # --- a year -------------------------------------------------------------------------------

    def energy_kwh(
        self, flow_m3s: np.ndarray, power_w: np.ndarray, winter: bool = False
    ) -> np.ndarray:
        """Energy of a mean year, or of its winter, of plants whose power is straight between flows.

        Parameters
        ----------
        flow_m3s, power_w : ndarray
            Creeks along the first axis, flows along the last, rising. Nothing below the first flow;
            beyond the last, which the licence allows, nothing changes any more.
        winter : bool
        """
        hours, volume = np.empty(flow_m3s.shape), np.empty(flow_m3s.shape)
        whole = np.empty((len(self.share), *[1] * (flow_m3s.ndim - 2)))
        for days, rows in self.groups:
            share, keep = (
                each[rows].reshape(-1, *[1] * (flow_m3s.ndim - 1))
                for each in (self.share, self.keep_m3s)
            )
            count = np.searchsorted(days.flow_m3s, (flow_m3s[rows] + keep) / share)
            below, flown = (
                (days.winter_hours, days.winter_volume) if winter else (days.hours, days.volume)
            )
            hours[rows] = below[count]
            volume[rows] = share * flown[count] - keep * hours[rows]
            whole[rows] = below[-1]
        spent, flown = np.diff(hours, axis=-1), np.diff(volume, axis=-1)
        width = np.diff(flow_m3s, axis=-1)
        slope = np.diff(power_w, axis=-1) / np.where(width > 0, width, np.inf)
        within = power_w[..., :-1] * spent + slope * (flown - flow_m3s[..., :-1] * spent)
        return (within.sum(axis=-1) + power_w[..., -1] * (whole - hours[..., -1])) / 1000
