"""Flow duration: how often each flow is reached, and how sure that is.

A band comes from resampling whole years, as wide as so few of them leave open
(:mod:`hydrokit.stream.spread_of_years`). Flows are sorted once; a resample only changes how often
each year counts, so its quantiles are read from one table of cumulative counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import KW_ONLY, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..errors import Finding, HydrokitError, counted
from ..result import Result
from ..units import Number, units
from .days import days_of
from .months import DAYS_OF_MONTHS
from .record import WATER_YEAR, checked, describe_record, whole_years, year_labels
from .resampling import resampled_quantiles
from .spread_of_years import CURVE, MONTH, USUAL_FREEDOM, SpreadOfYears, Usual, lag_one

if TYPE_CHECKING:
    from ..units import Alike
    from .transfer import TransferError

__all__ = ["Duration", "TABLE", "flow_duration"]

_TRICKLE_M3S = 1e-9  # as good as none
_MOST_OF_A_YEAR = 0.8  # of the days of the fullest: less says little of a year
TABLE = (
    np.array([5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 99]) / 100
)


@dataclass(frozen=True, eq=False)
class Duration(Result):
    """A flow duration curve.

    Parameters
    ----------
    flow_m3s : ndarray
        Daily flows in ascending order.
    year : ndarray of int
        Number of the year block of each of them, counted from zero.
    month : ndarray of int
        Calendar month of each of them.
    years : ndarray of int
        Label of each block.
    whole : ndarray of bool
        Whether a block is a year without a missing day.
    rating_uncertainty : float or TransferError
        Relative standard deviation of the rating, common to all days; or its error by flow.
    transfer : TransferError, optional
        Error of the days estimated from another creek, by flow.
    usual : Usual
        How much, and how, years differ in other creeks.
    resamples : int
        Number of resamples behind a band.
    seed : int
        Of the resampling.
    findings : tuple of Finding
    """

    flow_m3s: np.ndarray
    year: np.ndarray
    month: np.ndarray
    _: KW_ONLY
    years: np.ndarray
    whole: np.ndarray
    rating_uncertainty: float | TransferError = 0.0
    transfer: TransferError | None = None
    usual: Usual = CURVE
    resamples: int = 1000
    seed: int = 0
    findings: tuple[Finding, ...] = ()

    @property
    def days(self) -> int:
        """Number of days with a flow."""
        return len(self.flow_m3s)

    @cached_property
    def mean_m3s(self) -> float:
        return float(self.flow_m3s.mean())

    # --- the curve

    @units("m^3/s", exceedance="exceedance")
    def flow_at(self: Duration, exceedance: Number) -> Number:
        """Flow reached or exceeded in a share of the time.

        Parameters
        ----------
        exceedance : float, str or array
            Between 0 and 1, or such as ``"95 %"``.

        Returns
        -------
        Quantity [length³/time]
        """
        return self.flow_at_si(exceedance)

    def flow_at_si(self, exceedance: Number) -> Alike:
        """:meth:`flow_at` on plain numbers, in m³/s."""
        return np.interp(
            _nonexceedance(exceedance) * (self.days + 1) - 1, np.arange(self.days), self.flow_m3s
        )

    @units("number", flow="m^3/s")
    def exceedance_of(self: Duration, flow: Number) -> Number:
        """Share of the time in which a flow is reached or exceeded.

        Parameters
        ----------
        flow : Quantity or str [length³/time]

        Returns
        -------
        float or ndarray
            Between 1/(n + 1) and n/(n + 1): n days cannot tell of rarer things.
        """
        return self.exceedance_si(flow)

    def exceedance_si(self, flow_m3s: Number) -> Number:
        """:meth:`exceedance_of` on plain numbers in m³/s."""
        distinct, exceedance = self._distinct
        return np.interp(flow_m3s, distinct, exceedance)

    @cached_property
    def _distinct(self) -> tuple[np.ndarray, np.ndarray]:
        # Of days with equal flow the first in ascending order counts: the flow is reached on all of them.
        distinct, first = np.unique(self.flow_m3s, return_index=True)
        return distinct, 1 - (first + 1) / (self.days + 1)

    def month_of_year(self, month: int) -> Duration:
        """The curve of one calendar month, 1 to 12, over all years."""
        chosen = self.month == month
        if not chosen.any():
            raise HydrokitError(f"the record has no day in month {month!r}")
        blocks, year = np.unique(self.year[chosen], return_inverse=True)
        return replace(
            self,
            flow_m3s=self.flow_m3s[chosen],
            year=year,
            month=self.month[chosen],
            years=self.years[blocks],
            whole=self.whole[blocks],
            usual=MONTH,
        )

    def monthly(self) -> dict[int, Duration]:
        """The curve of each calendar month that has a day in the record, by its number."""
        return {int(month): self.month_of_year(int(month)) for month in np.unique(self.month)}

    # --- bands

    @units(("m^3/s", "m^3/s"), exceedance="exceedance")
    def band(self: Duration, exceedance: Number, level: float = 0.9) -> tuple[Number, Number]:
        """Limits of the flow at an exceedance, for years like those of the record.

        Parameters
        ----------
        exceedance : float, str or array
        level : float
            Share of the resamples within the limits; 0.9 leaves 5 % on each side.

        Returns
        -------
        tuple of Quantity [length³/time]
            Lower and upper limit.
        """
        return self.band_si(exceedance, level)

    def band_si(self, exceedance: Number, level: float = 0.9) -> tuple[Number, Number]:
        """:meth:`band` on plain numbers, in m³/s."""
        if not 0 < level < 1:
            raise HydrokitError(f"band(): level must lie between 0 and 1, got {level!r}")
        low, high = np.quantile(
            self.resampled_si(exceedance), [0.5 - level / 2, 0.5 + level / 2], axis=0
        )
        return low, high

    def resampled_si(self, exceedance: Number) -> np.ndarray:
        """Flow at each exceedance in every resample, uncertainty of rating and transfer included.

        Parameters
        ----------
        exceedance : float or array

        Returns
        -------
        ndarray
            m³/s, resamples along the first axis.

        Notes
        -----
        Whole years are drawn with replacement, as many as there are, and their logarithms set as far
        from the record's as so few years, alike by their correlation, leave open: see
        :mod:`hydrokit.stream.spread_of_years`. The rating's uncertainty is one log-normal factor of
        median one a resample, for it errs alike on all days, or an error by flow like that of what
        was estimated from another creek: see :class:`hydrokit.stream.transfer.TransferError`.
        """
        exceedance = np.asarray(exceedance, dtype=float)
        flows = self._years_si(exceedance.ravel())
        return (flows * self.factors_si(flows)).reshape(-1, *exceedance.shape)

    def factors_si(self, flow_m3s: np.ndarray) -> np.ndarray:
        """What the flows of each resample are off by, because of rating and transfer; resamples
        along the first axis."""
        if isinstance(self.rating_uncertainty, float):
            factors = np.broadcast_to(self.rating_factors[:, None], flow_m3s.shape)
        else:
            factors = self.rating_uncertainty.factors_si(flow_m3s, [self.seed, 1])
        if self.transfer is not None:
            factors = factors * self.transfer.factors_si(flow_m3s, [self.seed, 2])
        return factors

    def _years_si(self, exceedance: np.ndarray) -> np.ndarray:
        """Flows in every resample by the years alone."""
        flows = resampled_quantiles(
            self.flow_m3s, self.year, self.draws, _nonexceedance(exceedance)
        )
        return self.widened_si(flows, self.flow_at_si(exceedance))

    def widened_si(self, drawn: np.ndarray, middle: np.ndarray) -> np.ndarray:
        """What resampled years give, set as far from the record's own as so few years leave open."""
        # a creek that falls dry has no logarithm; what it is without water stays so
        logs, at = np.log(np.maximum(drawn, _TRICKLE_M3S)), np.log(np.maximum(middle, _TRICKLE_M3S))
        wide = np.exp(self.spread.widened(logs, at, [self.seed, 3]))
        return np.where((middle > 0) & (drawn > 0), wide, drawn)

    @cached_property
    def spread(self) -> SpreadOfYears:
        """What so many years are worth."""
        days = np.bincount(self.year, minlength=len(self.years)).astype(float)
        logs = np.log(np.maximum(self.flow_m3s, _TRICKLE_M3S))
        mean = np.bincount(self.year, logs, len(self.years)) / days
        mean[days < _MOST_OF_A_YEAR * days.max()] = np.nan
        return SpreadOfYears(
            count=float(days.sum() ** 2 / np.sum(days**2)),
            correlation=lag_one(mean, self.years, self.usual.correlation),
            usual_sd=self.usual.sd,
            usual_freedom=USUAL_FREEDOM,
        )

    @cached_property
    def draws(self) -> np.ndarray:
        """How often each year counts in each resample; resamples along the first axis."""
        count = len(self.years)
        drawn = np.random.default_rng(self.seed).integers(count, size=(self.resamples, count))
        row = np.arange(self.resamples)[:, None] * count
        return np.bincount((row + drawn).ravel(), minlength=self.resamples * count).reshape(
            self.resamples, count
        )

    @cached_property
    def rating_factors(self) -> np.ndarray:
        """Factor on all flows of each resample."""
        uncertainty = self.rating_uncertainty if isinstance(self.rating_uncertainty, float) else 0.0
        spread = np.sqrt(np.log1p(uncertainty**2))
        return np.exp(
            spread * np.random.default_rng([self.seed, 1]).standard_normal(self.resamples)
        )

    # --- years

    @cached_property
    def _by_year(self) -> list[np.ndarray]:
        chosen = self.whole if self.whole.any() else np.ones(len(self.years), dtype=bool)
        order = np.argsort(self.year, kind="stable")
        parts = np.split(
            self.flow_m3s[order], np.cumsum(np.bincount(self.year, minlength=len(self.years)))[:-1]
        )
        return [part for part, wanted in zip(parts, chosen) if wanted and len(part)]

    def year_curves_si(self, exceedance: Number) -> np.ndarray:
        """Flow at each exceedance within each whole year, in m³/s; years along the first axis."""
        chance = _nonexceedance(exceedance)
        return np.stack(
            [
                np.interp(chance * (len(part) + 1) - 1, np.arange(len(part)), part)
                for part in self._by_year
            ]
        )

    def typical_year_si(self, exceedance: Number, share: float) -> Number:
        """Flow that a share of the years stays below at each exceedance, in m³/s."""
        return np.quantile(self.year_curves_si(exceedance), share, axis=0)

    @units("m^3/s", exceedance="exceedance")
    def median_year(self: Duration, exceedance: Number) -> Number:
        """Curve of the median year: at each exceedance half the years lie below."""
        return self.typical_year_si(exceedance, 0.5)

    @units("m^3/s", exceedance="exceedance")
    def wet_year(self: Duration, exceedance: Number) -> Number:
        """Curve of a wet year: at each exceedance nine years in ten lie below."""
        return self.typical_year_si(exceedance, 0.9)

    @units("m^3/s", exceedance="exceedance")
    def dry_year(self: Duration, exceedance: Number) -> Number:
        """Curve of a dry year: at each exceedance one year in ten lies below."""
        return self.typical_year_si(exceedance, 0.1)

    def table(
        self, level: float = 0.9, exceedance: Sequence[float] | np.ndarray = TABLE
    ) -> pd.DataFrame:
        """The curve as a table.

        Parameters
        ----------
        level : float
            Of the band.
        exceedance : array, optional
            5, 10, … 95 and 99 % if left out.

        Returns
        -------
        pandas.DataFrame
            One row an exceedance; ``flow_m3s``, ``low_m3s``, ``high_m3s``, ``dry_year_m3s``,
            ``median_year_m3s``, ``wet_year_m3s``.
        """
        exceedance = np.asarray(exceedance, dtype=float)
        low, high = self.band_si(exceedance, level)
        return pd.DataFrame(
            {
                "flow_m3s": self.flow_at_si(exceedance),
                "low_m3s": low,
                "high_m3s": high,
                "dry_year_m3s": self.typical_year_si(exceedance, 0.1),
                "median_year_m3s": self.typical_year_si(exceedance, 0.5),
                "wet_year_m3s": self.typical_year_si(exceedance, 0.9),
            },
            index=pd.Index(exceedance, name="exceedance"),
        )


def _nonexceedance(exceedance: Number) -> np.ndarray:
    chance = 1 - np.asarray(exceedance, dtype=float)
    if np.any((chance < 0) | (chance > 1)):
        raise HydrokitError(
            'an exceedance must lie between 0 and 1; write 0.95 or "95 %" for 95 per cent'
        )
    return chance


def flow_duration(
    record: pd.Series,
    rating_uncertainty: float | TransferError = 0.0,
    start_month: int = WATER_YEAR,
    only_whole_years: bool = False,
    resamples: int = 1000,
    seed: int = 0,
    transfer: TransferError | None = None,
) -> Duration:
    """Flow duration curve of a daily record.

    Parameters
    ----------
    record : pandas.Series
        See :func:`hydrokit.stream.record.checked`. Gaps are left out.
    rating_uncertainty : float or TransferError
        Relative standard deviation of the rating, such as 0.08, or its error by flow:
        :func:`hydrokit.stream.rating_error.rating_error`.
    start_month : int
        First month of the years that are resampled.
    only_whole_years : bool
        Leave out the days of years with a gap. Parts of years weigh their seasons too much.
    resamples, seed : int
        Of the bands, which are computed only when asked for.
    transfer : TransferError, optional
        Of a lengthened record: :attr:`hydrokit.stream.extend.Extension.error`.

    Returns
    -------
    Duration

    Notes
    -----
    The m-th largest of n flows is given the exceedance m/(n + 1) (Weibull), with straight lines
    between. Years are never cut in a resample, so that the seasons of a year stay together; years
    in a row are alike as the record and other creeks show.

    Examples
    --------
    >>> days = pd.date_range("2020-01-01", periods=9)
    >>> flows = [10, 20, 30, 40, 50, 60, 70, 80, 90]
    >>> curve = flow_duration(pd.Series(flows, index=days, name="flow_m3s") / 1000)
    >>> print(f"{curve.flow_at('90 %').to('L/s'):.0f~P}")
    10 L/s
    >>> round(curve.exceedance_of("634 gpm"), 2)
    0.6
    """
    record = checked(record)
    if isinstance(rating_uncertainty, (int, float)) and not 0 <= rating_uncertainty < 1:
        raise HydrokitError(
            f"flow_duration(): rating_uncertainty must be a share such as 0.08, got {rating_uncertainty!r}"
        )
    findings = describe_record(record)
    labels = year_labels(days_of(record), start_month)
    present = record.notna().to_numpy(copy=True)
    if only_whole_years:
        present &= np.isin(labels, whole_years(record, start_month))
        if not present.any():
            raise HydrokitError(
                "flow_duration(): the record has no whole year; leave out only_whole_years"
            )
    years, year = np.unique(labels[present], return_inverse=True)
    whole = np.isin(years, whole_years(record, start_month))
    month = np.asarray(days_of(record).month)[present]
    findings += _balance(month, len(years))
    flow = record.to_numpy()[present]
    order = np.argsort(flow, kind="stable")
    return Duration(
        flow[order],
        year[order],
        month[order],
        years=years,
        whole=whole,
        rating_uncertainty=float(rating_uncertainty)
        if isinstance(rating_uncertainty, (int, float))
        else rating_uncertainty,
        transfer=transfer,
        resamples=int(resamples),
        seed=int(seed),
        findings=findings,
    )


_DAYS_IN_MONTH = np.array(DAYS_OF_MONTHS)


def _balance(month: np.ndarray, years: int) -> tuple[Finding, ...]:
    """Findings where the seasons are unevenly covered, or too few years stand behind a band."""
    findings: tuple[Finding, ...] = ()
    covered = np.bincount(month, minlength=13)[1:] / _DAYS_IN_MONTH
    if covered.min() < 0.9 * covered.max():
        digits = 1 if covered.max() >= 1 else 2
        text = (
            f"calendar months are covered for {covered.min():.{digits}f} to "
            f"{covered.max():.{digits}f} years: the curve leans to the better covered; use whole "
            "years or fill the gaps"
        )
        findings += (Finding("caution", "duration", text),)
    if years < 5:
        text = f"a band from {counted(years, 'year')} says next to nothing of other years"
        findings += (Finding("problem" if years < 3 else "caution", "duration", text),)
    return findings
