"""Residual flow, and the flow that is available to the plant.

A rule states the residual flow in one way; where several hold, the strictest counts. Resolved on a record
they become :class:`Rights`: plain arrays by calendar month.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass
from typing import Any

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError
from ..result import Result
from ..units import Q_, Floats, Number, Quantity
from .days import days_of
from .duration import flow_duration
from .licence import Licence, licence
from .months import MONTHS, WATER_YEAR, told_months
from .record import checked, whole_years, year_labels
from .rules import (
    Rule,
    by_month,
    fixed,
    hands_off,
    percentile,
    share_of_flow,
    share_of_mean,
    swiss_article_31,
    swiss_residual,
    tennant,
)

__all__ = [
    "Licence",
    "Rights",
    "Rule",
    "STATEMENT",
    "by_month",
    "bypassed_reach",
    "fixed",
    "hands_off",
    "licence",
    "percentile",
    "residual_flow",
    "resolve_rights",
    "share_of_flow",
    "share_of_mean",
    "swiss_article_31",
    "swiss_residual",
    "tennant",
    "usable_flow",
]

_MONTHS = np.array(MONTHS)
STATEMENT = (
    "The residual flow is set by local law and by the authority that grants the right; a rule of "
    "another place is an example. Ask before anything is built or changed."
)


# --- rights ---------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Rights(Result):
    """Rules and licence brought down to numbers by calendar month, January first.

    Parameters
    ----------
    keep_m3s : ndarray of 12
        Flow that stays.
    share_left : ndarray of 12
        Share of the natural flow that stays; the greater of the two counts.
    hands_off_m3s : ndarray of 12
        Natural flow below which nothing is taken.
    licence_m3s : ndarray of 12
        Greatest flow taken; infinite where not limited.
    volume_m3 : float
        Greatest volume taken a year; infinite where not limited.
    ramp_m3s_per_day : float
        Greatest daily increase of what is taken; infinite where not limited.
    start_month : int
        First month of the year over which the volume counts.
    rules : tuple of Rule
    findings : tuple of Finding
    """

    keep_m3s: np.ndarray
    share_left: np.ndarray
    hands_off_m3s: np.ndarray
    _: KW_ONLY
    licence_m3s: np.ndarray
    volume_m3: float = np.inf
    ramp_m3s_per_day: float = np.inf
    start_month: int = WATER_YEAR
    rules: tuple[Rule, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def statement(self) -> str:
        """That each rule is an example, and who decides."""
        return STATEMENT

    @property
    def has_memory(self) -> bool:
        """Whether the flow available today depends on the days before."""
        return bool(np.isfinite(self.volume_m3) or np.isfinite(self.ramp_m3s_per_day))

    @property
    def keep(self) -> Quantity:
        return Q_(self.keep_m3s, "m^3/s")

    def residual_si(
        self, flow_m3s: Number, month: int | np.ndarray, keep_m3s: Number | None = None
    ) -> Number:
        """Residual flow of a natural flow; all of it below the hands-off flow.

        Parameters
        ----------
        flow_m3s : float or array
            Natural flow in m³/s. NaN stays NaN.
        month : int or array
            Calendar month, 1 to 12; broadcast against the flow.
        keep_m3s : float or array, optional
            Flow that stays, instead of that of the month.

        Returns
        -------
        float or ndarray
            m³/s, never above the flow.
        """
        flow, at = np.asarray(flow_m3s, dtype=float), np.asarray(month) - 1
        keep = self.keep_m3s[at] if keep_m3s is None else keep_m3s
        kept = np.maximum(keep, self.share_left[at] * flow)
        return np.where(flow < self.hands_off_m3s[at], flow, np.minimum(kept, flow))[()]

    def usable_si(
        self, flow_m3s: Number, month: int | np.ndarray, keep_m3s: Number | None = None
    ) -> np.ndarray:
        """Available part of a natural flow by the rules that have no memory.

        Parameters
        ----------
        flow_m3s : float or array
        month : int or array
        keep_m3s : float or array, optional
            As of :meth:`residual_si`.

        Returns
        -------
        float or ndarray
            m³/s.
        """
        residual = self.residual_si(flow_m3s, month, keep_m3s)
        return np.minimum(
            np.asarray(flow_m3s, dtype=float) - residual, self.licence_m3s[np.asarray(month) - 1]
        )[()]

    def usable_days_si(
        self, flow_m3s: Floats, month: np.ndarray, year: np.ndarray, most_m3s: Number = np.inf
    ) -> np.ndarray:
        """Available flow day by day, with the yearly volume and the ramp counted.

        Parameters
        ----------
        flow_m3s : array
            Natural flow of consecutive days along the last axis, in m³/s.
        month, year : array
            Calendar month, and label of the year over which the volume counts, of each day.
        most_m3s : float or 12 floats
            Most that the plant takes at the intake, always or by month: what it cannot take uses up
            no volume.

        Returns
        -------
        ndarray
            m³/s. The volume is used as the water comes, until it is gone.
        """
        most = np.broadcast_to(np.asarray(most_m3s, dtype=float), 12)[np.asarray(month) - 1]
        take = np.minimum(self.usable_si(flow_m3s, month), most)
        if not self.has_memory:
            return take
        year = np.asarray(year)
        starts = np.flatnonzero(np.r_[True, year[1:] != year[:-1]])
        before = np.full(take.shape[:-1], np.inf)
        for start, end in zip(starts, np.r_[starts[1:], len(year)]):
            part = _within_ramp(take[..., start:end], before, self.ramp_m3s_per_day)
            take[..., start:end] = part = _within_volume(part, self.volume_m3)
            before = part[..., -1]
        return take

    def usable_series(self, record: pd.Series, most_m3s: Number = np.inf) -> pd.Series:
        """:meth:`usable_days_si` of a record, as a series named ``flow_m3s``."""
        record = checked(record)
        years = year_labels(days_of(record), self.start_month)
        usable = self.usable_days_si(
            record.to_numpy(), np.asarray(days_of(record).month), years, most_m3s
        )
        return pd.Series(usable, index=record.index, name="flow_m3s")


def _within_ramp(usable: np.ndarray, before: np.ndarray, ramp: float) -> np.ndarray:
    """Greatest take that rises by no more than the ramp a day, from the day before on.

    Today's take is the least over all earlier days of what that day allowed plus the rise since.
    """
    if not np.isfinite(ramp):
        return usable
    risen = ramp * np.arange(1, usable.shape[-1] + 1)
    # A gap allows anything, but the days still pass.
    allowed = np.where(np.isnan(usable), np.inf, usable) - risen
    allowed = np.minimum.accumulate(
        np.minimum(allowed, np.where(np.isnan(before), np.inf, before)[..., None]), axis=-1
    )
    ramped = allowed + risen
    return np.where(
        ramped < usable * (1 - 1e-12), ramped, usable
    )  # a hair that adding and taking off has left is no ramp


def _within_volume(usable: np.ndarray, volume: float) -> np.ndarray:
    """The same takes until the volume of the year is used up."""
    if not np.isfinite(volume):
        return usable
    daily = np.where(np.isnan(usable), 0.0, usable)
    left = volume / 86400 - (np.cumsum(daily, axis=-1) - daily)
    return np.minimum(usable, np.maximum(left, 0.0))


def resolve_rights(
    rules: Sequence[Rule], licence: Licence | str | None = None, record: pd.Series | None = None
) -> Rights:
    """Rules and a licence brought down to numbers.

    Parameters
    ----------
    rules : sequence of Rule
        All hold together; where several do, the strictest counts.
    licence : Licence, Quantity or str, optional
        A licence, or just its greatest flow.
    record : pandas.Series, optional
        Natural flow, for rules stated in the creek's own statistics, and for the findings.

    Returns
    -------
    Rights
        A month in which nothing need stay is told as a caution, never taken for a permission.
    """
    rules = tuple(rules)
    if not isinstance(licence, Licence):
        licence = _licence_of_rate(licence)
    if record is not None:
        record = checked(record)
    elif any(rule.needs_record for rule in rules):
        needing = ", ".join(rule.kind for rule in rules if rule.needs_record)
        raise HydrokitError(
            f"resolve_rights(): {needing} needs statistics of the creek's own flow; give a daily record"
        )
    keep, share, off = np.zeros(12), np.zeros(12), np.zeros(12)
    for rule in rules:
        holds = np.isin(_MONTHS, rule.months)
        share = np.maximum(share, rule.share * holds)
        off = np.maximum(off, rule.hands_off_m3s * holds)
        stays: Number = rule.flow_m3s
        if rule.from_statistics is not None and record is not None:
            stays = rule.from_statistics(_OfRecord(record))
        keep = np.maximum(keep, stays * holds)
    return Rights(
        keep,
        share,
        off,
        licence_m3s=licence.rate_m3s,
        volume_m3=licence.volume_m3,
        ramp_m3s_per_day=licence.ramp_m3s_per_day,
        start_month=licence.start_month,
        rules=rules,
        findings=(*_findings(keep, share, off, record), *_shut(licence.rate_m3s)),
    )


def _licence_of_rate(rate: Any) -> Licence:
    return licence(rate)


@dataclass(frozen=True, eq=False)
class _OfRecord:
    """The statistics of a daily record that rules are stated in."""

    record: pd.Series

    @property
    def mean_m3s(self) -> float:
        """Mean over whole water years where there are any: part of a year leans to its season."""
        labels = year_labels(days_of(self.record), WATER_YEAR)
        whole = np.isin(labels, whole_years(self.record, WATER_YEAR))
        return float(self.record[whole].mean() if whole.any() else self.record.mean())

    def exceeded_m3s(self, share: float) -> float:
        return float(flow_duration(self.record).flow_at_si(share))


def _shut(rate: np.ndarray) -> tuple[Finding, ...]:
    """Months that the licence leaves nothing; in a table of months those that are not named."""
    shut = _MONTHS[rate <= 0]
    if not 0 < len(shut) < 12:
        return ()
    return (
        Finding(
            "caution",
            "rights",
            (
                f"the licence allows no abstraction in {told_months(shut)}; a month its table "
                "does not name counts as none"
            ),
        ),
    )


def _findings(
    keep: np.ndarray, share: np.ndarray, off: np.ndarray, record: pd.Series | None
) -> tuple[Finding, ...]:
    findings = []
    free = _MONTHS[(keep <= 0) & (share <= 0)]
    if len(free):
        when = "" if len(free) == 12 else f" in {told_months(free)}"
        text = (
            f"no residual flow is given{when}: all water counts as available, which the law "
            "hardly allows; ask the authority for the residual flow"
        )
        findings.append(Finding("caution", "rights", text))
    if np.any(off > np.maximum(keep, share * off)):
        text = (
            "just above the hands-off flow the plant may draw the creek below it, since it is a "
            "threshold and no residual flow"
        )
        findings.append(Finding("note", "rights", text))
    if record is not None:
        greatest = record.groupby(days_of(record).month).max().reindex(MONTHS).to_numpy()
        none = _MONTHS[np.maximum(np.maximum(keep, off), share * greatest) >= greatest]
        if len(none):
            every = len(none) == np.isfinite(greatest).sum()
            when = "" if every else f" in {told_months(none)}"
            text = f"the residual flow is above every flow on record{when}: no flow is available"
            findings.append(Finding("problem" if every else "caution", "rights", text))
    return tuple(findings)


# --- series ---------------------------------------------------------------------------------


def residual_flow(record: pd.Series, rules: Sequence[Rule]) -> pd.Series:
    """Residual flow of each day.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rules : sequence of Rule, or Rights

    Returns
    -------
    pandas.Series
        Named ``flow_m3s``; never above the natural flow, and all of it below a hands-off flow.
    """
    record = checked(record)
    rights = rules if isinstance(rules, Rights) else resolve_rights(rules, None, record)
    return pd.Series(
        rights.residual_si(record.to_numpy(), np.asarray(days_of(record).month)),
        index=record.index,
        name="flow_m3s",
    )


def usable_flow(record: pd.Series, rules: Sequence[Rule], licence: str | None = None) -> pd.Series:
    """Available flow of each day.

    Parameters
    ----------
    record : pandas.Series
        Natural flow.
    rules : sequence of Rule, or Rights
    licence : Licence, Quantity or str, optional

    Returns
    -------
    pandas.Series
        Named ``flow_m3s``, never above the natural flow.

    Examples
    --------
    >>> days = pd.date_range("2024-08-01", periods=3)
    >>> flow = pd.Series([0.060, 0.030, 0.010], index=days, name="flow_m3s")
    >>> usable_flow(flow, [fixed("20 L/s")], "30 L/s").round(3).tolist()
    [0.03, 0.01, 0.0]
    """
    rights = rules if isinstance(rules, Rights) else resolve_rights(rules, licence, record)
    if isinstance(rules, Rights) and licence is not None:
        raise HydrokitError(
            "usable_flow(): resolved rights hold their licence already; leave licence out"
        )
    return rights.usable_series(record)


def bypassed_reach(
    record: pd.Series,
    rules: Sequence[Rule],
    licence: Licence | None = None,
    most_m3s: float = np.inf,
) -> pd.Series:
    """What is left in the creek between intake and powerhouse.

    Parameters
    ----------
    record : pandas.Series
        Natural flow at the intake.
    rules : sequence of Rule, or Rights
    licence : Licence, Quantity or str, optional
    most_m3s : float
        Greatest flow the plant takes, in m³/s.

    Returns
    -------
    pandas.Series
        Named ``flow_m3s``: :func:`hydrokit.stream.duration.flow_duration` gives its curve. Water
        that joins below the intake is not in it.
    """
    record = checked(record)
    rights = rules if isinstance(rules, Rights) else resolve_rights(rules, licence, record)
    return (record - rights.usable_series(record, most_m3s)).rename("flow_m3s")
