"""The days of a daily series: an index known to hold dates, for those who ask it for months and years."""

from __future__ import annotations

import pandas as pd

__all__ = ["days_of"]


def days_of(series: pd.Series | pd.DataFrame) -> pd.DatetimeIndex:
    """The days, or moments, that a series or a table is indexed by.

    Raises
    ------
    TypeError
        It is indexed by something else: a mistake of the caller.

    Examples
    --------
    >>> days_of(pd.Series([0.02], index=pd.DatetimeIndex(["2020-04-01"]))).month.tolist()
    [4]
    """
    if not isinstance(series.index, pd.DatetimeIndex):
        raise TypeError(f"indexed by {type(series.index).__name__}, not by dates")
    return series.index
