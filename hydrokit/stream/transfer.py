"""How far flows lie off that were estimated from another creek: an error for each height of the flow.

A line laid through one window of common days misses other years, and it misses low flows by more
than the mean. What the window shows of that, and what it cannot show, is counted here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import ndtri, stdtrit

from ..result import Result
from .resampling import resampled_quantiles

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["NODES", "TransferError", "error_of_ratio", "error_of_window"]

# Exceedance of the flows at which the error is worked out.
NODES = np.array([0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.05, 0.01])
_BLOCK_DAYS, _FEWEST_BLOCKS = 182.6, 4  # half a year, or a quarter of the window if that is shorter
_DRAWS = 600
_UPPER = 0.95  # end of a 90 % interval
# A ratio of catchments that no common day was held against, common practice: logarithmic standard
# deviation at low, median and high flow, and how alike neighbouring exceedances err.
_RATIO_EXCEEDANCE, _RATIO_SD, _RATIO_REACH = (0.05, 0.5, 0.95), (0.25, 0.30, 0.45), 1.0


@dataclass(frozen=True, eq=False)
class TransferError(Result):
    """Error of the logarithm of estimated flows, by flow; normal, with mean zero.

    Parameters
    ----------
    flow_m3s : ndarray
        Flows of the record at which it is known, ascending.
    covariance : ndarray
        Of the errors of ln Q at these flows: a square.
    """

    flow_m3s: np.ndarray
    covariance: np.ndarray

    def sd_si(self, flow_m3s: Number) -> float:
        """Standard deviation of ln Q at a flow in m³/s."""
        at, along = self._place(flow_m3s)
        last = np.minimum(at + 1, len(self.flow_m3s) - 1)
        own = self.covariance
        variance = (
            (1 - along) ** 2 * own[at, at]
            + 2 * along * (1 - along) * own[at, last]
            + along**2 * own[last, last]
        )
        return np.sqrt(np.maximum(variance, 0.0))

    def factors_si(self, flow_m3s: np.ndarray, seed: int | Sequence[int]) -> np.ndarray:
        """A factor for each flow, draws along the first axis; flows of one row share one draw."""
        root = np.linalg.eigh(self.covariance)
        drawn = np.random.default_rng(seed).standard_normal((len(flow_m3s), len(self.flow_m3s)))
        error = drawn @ (root[1] * np.sqrt(np.maximum(root[0], 0.0))).T
        at, along = self._place(flow_m3s)
        row = np.arange(len(flow_m3s))[:, None]
        last = np.minimum(at + 1, len(self.flow_m3s) - 1)
        return np.exp((1 - along) * error[row, at] + along * error[row, last])

    def along_si(self, flow_m3s: np.ndarray, weight: np.ndarray) -> np.ndarray:
        """What one standard deviation of a sum of flows' errors is worth at each flow.

        Parameters
        ----------
        flow_m3s : ndarray
        weight : ndarray
            How much the sum answers to the error of each of these flows.

        Returns
        -------
        ndarray
            Of ln Q, with a sign. The weighted sum of it is exactly the standard deviation of the
            weighted sum of the errors; what the sum does not see is left out.

        Notes
        -----
        Regression of the error at each flow on the sum: Cov(e, Σwe)/√Var(Σwe).
        """
        at, along = self._place(flow_m3s)
        last = np.minimum(at + 1, len(self.flow_m3s) - 1)
        count = len(self.flow_m3s)
        of_node = np.bincount(at, weight * (1 - along), count)
        of_node += np.bincount(last, weight * along, count)
        total = float(of_node @ self.covariance @ of_node)
        if total <= 0:
            return np.zeros(np.shape(flow_m3s))
        profile = self.covariance @ of_node / np.sqrt(total)
        return (1 - along) * profile[at] + along * profile[last]

    def of_record(self, record: pd.Series, estimated: pd.Series) -> TransferError:
        """The error of a record of which only some days are estimated.

        To first order a quantile moves by the error times the share of estimated days near it.
        """
        known = record[record > 0].dropna().sort_values()
        flow = known.to_numpy()
        borrowed = estimated.reindex(known.index).to_numpy(dtype=float)
        nodes = np.unique(np.quantile(flow, 1 - NODES))
        shares = np.cumsum(np.r_[0.0, borrowed])
        reach = max(1, len(flow) // 20)  # days either side of a node: a tenth of the record
        middle = np.searchsorted(flow, nodes)
        first = np.clip(middle - reach, 0, len(flow))
        after = np.clip(middle + reach, 1, len(flow))
        share = (shares[after] - shares[first]) / (after - first)
        at, along = self._place(nodes)
        count = len(self.flow_m3s)
        reading = np.zeros((len(nodes), count))
        rows = np.arange(len(nodes))
        reading[rows, at] += 1 - along
        reading[rows, np.minimum(at + 1, count - 1)] += along
        reading *= share[:, None]
        return TransferError(nodes, reading @ self.covariance @ reading.T)

    def _place(self, flow_m3s: Number) -> tuple[np.ndarray, np.ndarray]:
        """Node below each flow, and how far on to the next; beyond the ends, the ends."""
        nodes = np.log(self.flow_m3s)
        logs = np.log(np.maximum(np.asarray(flow_m3s, dtype=float), self.flow_m3s[0]))
        where = np.interp(logs, nodes, np.arange(len(nodes)))
        # A day without a flow has no place of its own, and no error that anybody asks for.
        at = np.minimum(np.nan_to_num(where).astype(int), max(len(nodes) - 2, 0))
        return at, where - at


Predict = Callable[[np.ndarray], np.ndarray]


def error_of_window(
    days: pd.DatetimeIndex,
    there: np.ndarray,
    here: np.ndarray,
    fit: Callable[[np.ndarray, np.ndarray, np.ndarray], Predict],
    *,
    straight: Predict,
    estimated_days: int,
    seed: int = 0,
) -> TransferError:
    """Error of quantiles estimated from a neighbour, as the window of common days shows it.

    Parameters
    ----------
    days : DatetimeIndex
        Of the common days.
    there, here : ndarray
        Logarithms of flow on them.
    fit : callable
        ``fit(there, here, times)`` gives the prediction by days of which each counts so many times.
    straight : callable
        Prediction by a straight line of the logarithms through the whole window.
    estimated_days : int
        Days that are foretold: their own years are others than those of the window.
    seed : int

    Returns
    -------
    TransferError
        Of the estimated flows, before the measured days among them are counted in.

    Notes
    -----
    Two parts. First the sampling of the window: blocks of half a year (at least four of them) are
    drawn with replacement once for the fit and once, as many as are to be foretold, for the days
    foretold; the error is that of the quantiles of ln Q, K/(K − 1) times its covariance for K
    blocks. Whole seasons go together, for what holds in one week of a melt holds in the next.
    Second how far the quantiles of the window itself bend off a straight line. Other years bend as
    much and otherwise: held against 40 years of two nested catchments, the bend of one window did
    not foretell that of the others, so a transfer that follows it is no surer than the line [1]_.
    So few blocks leave their own spread open: the normal error given has the 90 % interval of
    Student's t with K − 1 degrees of freedom.

    References
    ----------
    .. [1] Backtest of this project: windows of 1 to 10 years, see ``tests/stream/test_transfer.py``.
    """
    span = (days[-1] - days[0]).days + 1
    count = max(_FEWEST_BLOCKS, round(span / _BLOCK_DAYS))
    block = np.minimum(((days - days[0]).days.to_numpy() * count) // span, count - 1)
    _, block = np.unique(block, return_inverse=True)
    count = int(block.max()) + 1
    foretold = max(1, round(estimated_days * count / span))
    rng = np.random.default_rng(seed)
    even = np.full(count, 1 / count)
    fitted, drawn = (rng.multinomial(many, even, size=_DRAWS) for many in (count, foretold))
    chance = 1 - NODES

    def quantiles(values: np.ndarray, draws: np.ndarray) -> np.ndarray:
        order = np.argsort(values, kind="stable")
        return resampled_quantiles(values[order], block[order], draws, chance)

    x, y = quantiles(there, drawn), quantiles(here, drawn)
    predicted = np.stack([fit(there, here, times[block])(row) for times, row in zip(fitted, x)])
    sampling = np.cov(y - predicted, rowvar=False) * count / max(count - 1, 1)
    at = [np.quantile(each, chance, method="weibull") for each in (there, here)]
    left = at[1] - straight(at[0])
    flow, kept = np.unique(np.exp(straight(at[0])), return_index=True)
    few = stdtrit(max(count - 1, 1), _UPPER) / ndtri(_UPPER)
    covariance = (sampling + np.outer(left, left)) * few**2
    return TransferError(flow, covariance[np.ix_(kept, kept)])


def error_of_ratio(flow_m3s: np.ndarray) -> TransferError:
    """Error of flows taken from another creek by the ratio of the catchments, with no common day to
    try it on.

    A common-practice default: 25 % at high flow, 30 % at the median and 45 % where 95 % of the days
    have more. Regional equations of low flow from features of the catchment err by 39 to 51 % [1]_.

    References
    ----------
    .. [1] U.S. Geological Survey, Water-Resources Investigations Report 85-4070 (lower Hudson
       basin, 53 sites: standard error 51 % of the 7-day 10-year low flow, 39 % of the 2-year).
    """
    flow, kept = np.unique(np.quantile(flow_m3s, 1 - NODES), return_index=True)
    exceedance = NODES[kept]
    sd = np.interp(exceedance, _RATIO_EXCEEDANCE, _RATIO_SD)
    apart = np.abs(exceedance[:, None] - exceedance)
    return TransferError(flow, np.outer(sd, sd) * np.exp(-apart / _RATIO_REACH))
