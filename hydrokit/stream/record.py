"""The daily record: read, checked, gaps told, years labelled.

A record is a pandas Series named ``flow_m3s`` with one value a day. Every function of the room
that takes a record passes it through :func:`checked` first.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from ..columns import read_csv
from ..errors import Finding, HydrokitError, InputError, Mistake, counted
from ..files import shown_path
from ..sentences import Amount, Sentence
from .days import days_of
from .months import MONTH_NAMES, WATER_YEAR

__all__ = [
    "FilledRecord",
    "WATER_YEAR",
    "CLIMATE_YEAR",
    "checked",
    "describe_record",
    "fill_gaps",
    "gaps",
    "read_record",
    "runs",
    "whole_years",
    "year_labels",
]

CLIMATE_YEAR = 4  # April to March, so that no dry season is cut in two


def checked(series: pd.Series) -> pd.Series:
    """A record that is safe to compute with, or one sentence saying how to mend it.

    Parameters
    ----------
    series : pandas.Series
        Daily mean flow in m³/s, named ``flow_m3s``, indexed by date. A day without a row and a
        row without a value (NaN) are both gaps.

    Returns
    -------
    pandas.Series
        Floats on every date from the first to the last; gaps are NaN. The argument is not changed.

    Raises
    ------
    HydrokitError
        Not a series of that kind, or a value that cannot be a flow.

    Examples
    --------
    >>> days = pd.to_datetime(["2024-03-01", "2024-03-02", "2024-03-04"])
    >>> checked(pd.Series([0.020, 0.018, 0.015], index=days, name="flow_m3s")).isna().sum().item()
    1
    """
    if not isinstance(series, pd.Series):
        raise HydrokitError(
            f"a record must be a pandas Series, got {type(series).__name__}; write "
            "pandas.Series(values, index=dates, name='flow_m3s') with the values in m³/s"
        )
    if series.name != "flow_m3s":
        raise HydrokitError(
            f"a record must be named 'flow_m3s', got {series.name!r}; "
            "if its values are in m³/s write series.rename('flow_m3s')"
        )
    values = flows_of(series)
    index = naive_times(series.index)
    days = index.to_numpy().astype("datetime64[D]")
    if len(np.unique(days)) < len(days) and len(index.unique()) == len(index):
        raise HydrokitError(
            "a record must have one value a day, got several; write daily_means(series)"
        )
    refuse_duplicates(index)
    if np.any(days != index.to_numpy()):
        raise HydrokitError(
            f"the days of a record must carry no time of day, got {index[days != index.to_numpy()][0]}; "
            "write series.index = series.index.normalize()"
        )
    if np.any(np.diff(days) < np.timedelta64(0, "D")):
        raise HydrokitError("the dates of a record must be in order; write series.sort_index()")
    position = (days - days[0]).astype(int)
    complete = np.full(position[-1] + 1, np.nan)
    complete[position] = values
    return pd.Series(
        complete, index=pd.date_range(str(days[0]), periods=len(complete)), name="flow_m3s"
    )


def flows_of(series: pd.Series) -> np.ndarray:
    """Values that can be flows, or a refusal."""
    if len(series) == 0:
        raise HydrokitError("the record is empty; give at least one day")
    try:
        values = series.to_numpy(dtype=float, na_value=np.nan)
    except (TypeError, ValueError):
        raise HydrokitError(
            f"the flows of a record must be plain numbers in m³/s, got {series.dtype}; "
            "write pandas.to_numeric(series) to find the value that is not a number"
        ) from None
    if np.all(np.isnan(values)):
        raise HydrokitError("the record holds no value at all; every day is a gap")
    if np.any(np.isinf(values)):
        raise HydrokitError(
            f"the flow on {_first(series, np.isinf(values))} is infinite; put NaN for a missing value"
        )
    if np.any(values < 0):
        raise HydrokitError(
            Sentence(
                "the flow on {date} is negative ({flow}); if negative means missing write "
                "series.where(series >= 0)",
                date=_first(series, values < 0),
                flow=Amount(values[values < 0][0], "large flow"),
            )
        )
    return values


def _first(series: pd.Series, where: np.ndarray) -> str:
    return str(series.index[np.flatnonzero(where)[0]])


def naive_times(index: pd.Index) -> pd.DatetimeIndex:
    """An index of times without a zone, or a refusal."""
    if not isinstance(index, pd.DatetimeIndex):
        raise HydrokitError(
            f"the index must hold dates, got {index.dtype}; write series.index = "
            "pandas.to_datetime(series.index, format='%Y-%m-%d') with the format of your file"
        )
    if index.tz is not None:
        raise HydrokitError(
            f"the dates carry a time zone ({index.tz}); bring them to the clock the logger keeps "
            "in winter and write series.index = series.index.tz_localize(None)"
        )
    if index.hasnans:
        raise HydrokitError("a date is missing in the index; write series[series.index.notna()]")
    return index


def refuse_duplicates(index: pd.DatetimeIndex) -> None:
    """Refuse times that come twice, naming clocks that go back where that is the likely cause."""
    repeated = index[index.duplicated()]
    if len(repeated) == 0:
        return
    first = repeated[0]
    if first.hour <= 3 and first.month in (3, 4, 9, 10, 11) and np.any(index != index.normalize()):
        raise HydrokitError(
            f"the time {first} comes twice, as where clocks go back; keep the logger on standard time, "
            "or drop the repeated hour with series[~series.index.duplicated()]"
        )
    raise HydrokitError(
        f"the date {first} comes {int((index == first).sum())} times; find out which is "
        "right, then write series[~series.index.duplicated()] to keep the first"
    )


def read_record(path: str | Path, notes: list[Finding] | None = None) -> pd.Series:
    """A daily record from a CSV file with the columns ``date`` and ``flow [unit]``.

    Parameters
    ----------
    path : str or Path
        Text file; the header carries the unit, for example ``date,flow [L/s]``. An empty flow is
        a gap.
    notes : list of Finding, optional
        How the file was understood is told here.

    Returns
    -------
    pandas.Series
        See :func:`checked`.

    Raises
    ------
    InputError
        The file cannot be read, or its values are not a record: every mistake with its line.
    """
    table = read_csv(path, wanted={"date": "date", "flow": "m^3/s"}, notes=notes)
    table = in_order(path, table, "date", notes)
    date, flow = table["date"], table["flow"]
    mistakes = [
        Mistake(shown_path(path), lines_of(table["line"][wrong]), text)
        for wrong, text in (
            (date.isna(), "has no date; every flow needs one"),
            (
                date.duplicated() & date.notna(),
                "has a date that stands there before; look which is right and keep one",
            ),
            (
                date.diff() < pd.Timedelta(0),
                "has a date before the one above it; put the lines in order of date",
            ),
            (flow < 0, "has a negative flow; leave the cell empty where the flow is missing"),
        )
        if wrong.any()
    ]
    if not flow.notna().any():
        mistakes.append(Mistake(shown_path(path), "", "has no flow in any line"))
    if mistakes:
        raise InputError(mistakes)
    return checked(pd.Series(flow.to_numpy(), index=pd.DatetimeIndex(date), name="flow_m3s"))


def in_order(
    path: str | Path, table: pd.DataFrame, when: str, notes: list[Finding] | None = None
) -> pd.DataFrame:
    """The lines of a table without those that repeat another word for word, the oldest first.

    Parameters
    ----------
    path : str or Path
        Of the file, for what is told.
    table : DataFrame
        As :func:`hydrokit.columns.read_csv` gives it.
    when : str
        Its column of days or times.
    notes : list of Finding, optional
        What was done is told here.
    """
    told = []
    again = table[when].duplicated() & table[when].notna()
    if again.any():
        same = again & table.duplicated([name for name in table.columns if name != "line"])
        if same.any():
            told.append(
                f"{lines_of(table['line'][same])} repeats another word for word and is read once"
            )
        table = table[~same].reset_index(drop=True)
    when_read = table[when]
    if len(table) > 2 and when_read.iloc[1] < when_read.iloc[0]:
        if (when_read.diff().iloc[1:] < pd.Timedelta(0)).all():
            told.append("the newest line stands first; all are read from the last up")
            table = table.iloc[::-1].reset_index(drop=True)
    if notes is not None:
        notes += [Finding("note", Path(path).name, each) for each in told]
    return table


def lines_of(numbers: pd.Series) -> str:
    """ "line 3", or "lines 3, 4 and so many more"."""
    shown = ", ".join(str(number) for number in numbers[:5])
    more = f" and {len(numbers) - 5} more" if len(numbers) > 5 else ""
    return f"line{'' if len(numbers) == 1 else 's'} {shown}{more}"


def describe_record(series: pd.Series) -> tuple[Finding, ...]:
    """What a reader must know of a record before believing a curve made from it.

    Parameters
    ----------
    series : pandas.Series

    Returns
    -------
    tuple of Finding
        Short records, gaps and the season they fall in, days of zero flow, stuck gauges.
    """
    record = checked(series)
    findings = []
    whole = len(whole_years(record))
    if whole < 10:
        level = "problem" if whole < 1 else "caution"
        years = counted(whole, "whole year") if whole else "no whole year"
        findings.append(
            Finding(
                level, "record", f"{years} of record: ten or more show how years differ; extend it"
            )
        )
    missing = record.isna().to_numpy()
    if missing.any():
        months = np.bincount(days_of(record).month[missing], minlength=13)
        worst = int(np.argmax(months))
        findings.append(
            Finding(
                "caution",
                "record",
                f"{missing.sum()} of {len(record)} days are missing ({100 * missing.mean():.1f} %), "
                f"{months[worst]} of them in {MONTH_NAMES[worst - 1]}; gaps often hide floods or ice",
            )
        )
    zero = int((record == 0).sum())
    if zero:
        findings.append(
            Finding(
                "note",
                "record",
                f"zero flow on {counted(zero, 'day')}: was the creek dry or the gauge?",
            )
        )
    length, when = _longest_constant(record)
    if length >= 30:
        findings.append(
            Finding(
                "caution",
                "record",
                f"the flow is steady for {length} days from {when}: stuck gauge, ice, or filled in?",
            )
        )
    return tuple(findings)


def _longest_constant(record: pd.Series) -> tuple[int, str]:
    values = record.to_numpy()
    starts = np.flatnonzero(np.r_[True, values[1:] != values[:-1]])
    lengths = np.diff(np.r_[starts, len(values)])
    longest = int(np.argmax(lengths))
    return int(lengths[longest]), str(record.index[starts[longest]].date())


# --- gaps -----------------------------------------------------------------------------------


def gaps(series: pd.Series) -> pd.DataFrame:
    """Every gap of a record.

    Parameters
    ----------
    series : pandas.Series

    Returns
    -------
    pandas.DataFrame
        Columns ``first`` and ``last`` (dates) and ``days``, one row a gap, in order.
    """
    record = checked(series)
    starts, ends = runs(record.isna().to_numpy())
    return pd.DataFrame(
        {"first": record.index[starts], "last": record.index[ends - 1], "days": ends - starts}
    )


def runs(true: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First index, and index after the last, of every run of true values."""
    edges = np.diff(np.r_[0, true.astype(np.int8), 0])
    return np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)


@dataclass(frozen=True, eq=False)
class FilledRecord:
    """A record with short gaps filled, and which days were.

    Parameters
    ----------
    record : pandas.Series
    filled : pandas.Series
        True on the days that were filled.
    findings : tuple of Finding
    """

    record: pd.Series
    filled: pd.Series
    findings: tuple[Finding, ...]


def fill_gaps(series: pd.Series, days: int) -> FilledRecord:
    """Fill gaps of at most so many days by a straight line in the logarithm of flow.

    Parameters
    ----------
    series : pandas.Series
    days : int
        Longest gap to fill. Longer ones stay gaps whole; so do gaps at either end.

    Returns
    -------
    FilledRecord

    Notes
    -----
    A recession is near a straight line in the logarithm, a storm is not: a filled gap never shows
    the flood that may have caused it. Beside a zero flow the line is drawn in the flow itself.
    """
    if not float(days).is_integer() or days < 0:
        raise HydrokitError(f"fill_gaps(): days must be a whole number, zero or more, got {days!r}")
    record = checked(series)
    values = record.to_numpy(copy=True)
    missing = np.isnan(values)
    marks = np.zeros(len(values), dtype=bool)
    starts, ends = runs(missing)
    for start, end in zip(starts, ends):
        if start == 0 or end == len(values) or end - start > days:
            continue
        before, after = values[start - 1], values[end]
        share = np.arange(1, end - start + 1) / (end - start + 1)
        values[start:end] = (
            before * (after / before) ** share
            if min(before, after) > 0
            else before + (after - before) * share
        )
        marks[start:end] = True
    left = int(missing.sum() - marks.sum())
    findings: tuple[Finding, ...] = ()
    if missing.any():
        text = (
            f"{int(marks.sum())} missing days filled along the recession (gaps up to {int(days)} "
            f"days), {left} left missing"
        )
        findings = (Finding("note", "record", text),)
    return FilledRecord(
        pd.Series(values, index=record.index, name="flow_m3s"),
        pd.Series(marks, index=record.index, name="filled"),
        findings,
    )


# --- years ----------------------------------------------------------------------------------


def year_labels(index: pd.DatetimeIndex, start_month: int = WATER_YEAR) -> np.ndarray:
    """The year each date belongs to, for years that begin on the first of some month.

    Parameters
    ----------
    index : pandas.DatetimeIndex
    start_month : int
        10 for water years, 4 for climate years, 1 for calendar years.

    Returns
    -------
    ndarray of int
        The calendar year in which the year ends: October 2019 belongs to water year 2020.

    Examples
    --------
    >>> year_labels(pd.DatetimeIndex(["2019-09-30", "2019-10-01"])).tolist()
    [2019, 2020]
    """
    if start_month not in range(1, 13):
        raise HydrokitError(f"year_labels(): start_month must be 1 to 12, got {start_month!r}")
    later = (index.month >= start_month) if start_month > 1 else np.zeros(len(index), dtype=bool)
    return np.asarray(index.year) + np.asarray(later)


def whole_years(
    series: pd.Series, start_month: int = WATER_YEAR, missing: float = 0.0
) -> tuple[int, ...]:
    """Labels of the years a record covers from the first day to the last.

    Parameters
    ----------
    series : pandas.Series
    start_month : int
        See :func:`year_labels`.
    missing : float
        Share of the days of a year that may be gaps.

    Returns
    -------
    tuple of int
    """
    record = checked(series)
    years = year_labels(days_of(record), start_month)
    first = int(years[0])
    present = np.bincount(years - first, weights=record.notna().to_numpy())
    labels = np.arange(first, first + len(present))
    starts = [
        np.datetime64(f"{year if start_month == 1 else year - 1}-{start_month:02d}", "D")
        for year in labels
    ]
    ends = [
        np.datetime64(f"{year + 1 if start_month == 1 else year}-{start_month:02d}", "D")
        for year in labels
    ]
    length = (np.array(ends) - np.array(starts)).astype(int)
    return tuple(int(year) for year in labels[present >= (1 - missing) * length])
