"""Stage and flow readings more frequent than daily, on their way to a daily record."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Callable

import numpy as np
import pandas as pd

from ..columns import read_csv
from ..errors import Finding, HydrokitError, InputError, Mistake
from ..files import shown_path
from .record import checked, flows_of, in_order, lines_of, naive_times, refuse_duplicates

if TYPE_CHECKING:
    from datetime import date

    from ..units import Number
    from .rating_curve import Rating


__all__ = ["daily_means", "flow_from_stage", "read_stage", "read_stages", "without"]


def read_stage(path: str | Path) -> pd.Series:
    """Stage readings from a CSV file with the columns ``time`` and ``stage [unit]``.

    Parameters
    ----------
    path : str or Path
        For example ``time,stage [m]`` and ``2024-03-01 07:40,0.182``. An empty stage is a gap.

    Returns
    -------
    pandas.Series
        Named ``stage_m``, in order of time, on the datum of the gauge.

    Raises
    ------
    InputError
        The file cannot be read, a time is missing, comes twice or runs backward: with its line.
    """
    table = read_csv(path, wanted={"time": "time", "stage": "m"})
    return _by_time(path, in_order(path, table, "time"))


def read_stages(
    path: str | Path, notes: list[Finding] | None = None
) -> tuple[pd.Series, np.ndarray | None, bool]:
    """Stages at any step: as a logger writes them, by ``time``, or daily means by ``date``.

    Parameters
    ----------
    path : str or Path
        ``time,stage [m]`` or ``date,stage [m]``, with a column ``ice`` (yes or no) where it was seen.
    notes : list of Finding, optional
        How the file was understood is told here.

    Returns
    -------
    tuple of pandas.Series, ndarray of bool or None, bool
        The stages, named ``stage_m``; which stood under ice, None where the file does not say;
        whether they are daily means. Days without a line are gaps of a daily series.

    Raises
    ------
    InputError
        As :func:`read_stage`; a file with both columns or neither.
    """
    table = read_csv(
        path, {"stage": "m"}, {"date": "date", "time": "time", "ice": "yes/no"}, notes=notes
    )
    daily = "date" in table
    if daily == ("time" in table):
        both = (
            "has the columns date and time; write both in one, time: 2024-03-01 07:40"
            if daily
            else "has no column 'date' (of daily means) or 'time' (of a logger: 2024-03-01 07:40)"
        )
        raise InputError(Mistake(shown_path(path), "", both))
    table = in_order(path, table, "date" if daily else "time", notes)
    stage = _by_date(path, table) if daily else _by_time(path, table)
    ice = None
    if "ice" in table:
        seen = pd.Series(
            table["ice"].fillna(False).to_numpy(dtype=bool),
            index=table["date" if daily else "time"],
        )
        ice = seen.reindex(stage.index, fill_value=False).to_numpy(dtype=bool)
    return stage, ice, daily


def _by_time(path: str | Path, table: pd.DataFrame) -> pd.Series:
    time = table["time"]
    again = (
        "has a time that stands there before; where clocks went back keep the logger on standard "
        "time, else keep one line"
    )
    _refuse(
        path,
        table,
        (time.isna(), "has no time; every stage needs one"),
        (time.duplicated() & time.notna(), again),
        (
            time.diff() < pd.Timedelta(0),
            "has a time before the one above it; put the lines in order of time",
        ),
    )
    return pd.Series(table["stage"].to_numpy(), index=pd.DatetimeIndex(time), name="stage_m")


def _by_date(path: str | Path, table: pd.DataFrame) -> pd.Series:
    date = table["date"]
    _refuse(
        path,
        table,
        (date.isna(), "has no date; every stage needs one"),
        (
            date.duplicated() & date.notna(),
            "has a date that stands there before; keep one line for each day",
        ),
    )
    return (
        pd.Series(table["stage"].to_numpy(), index=pd.DatetimeIndex(date), name="stage_m")
        .sort_index()
        .asfreq("D")
    )


def _refuse(path: str | Path, table: pd.DataFrame, *slips: tuple[pd.Series, str]) -> None:
    mistakes = [
        Mistake(shown_path(path), lines_of(table["line"][wrong]), text)
        for wrong, text in slips
        if wrong.any()
    ]
    if mistakes:
        raise InputError(mistakes)


def without(series: pd.Series, periods: Iterable[tuple[date, date]]) -> pd.Series:
    """The series with the readings of some periods taken out, such as weeks under ice.

    Parameters
    ----------
    series : pandas.Series
        Stage or flow at any step.
    periods : sequence of (first day, last day)
        Both days included; dates or texts such as ``"2023-12-05"``.

    Returns
    -------
    pandas.Series
        NaN within the periods. Ice raises the stage without raising the flow: such readings must
        never go through a rating.
    """
    kept = series.astype(float)
    for first, last in periods:
        kept.loc[
            pd.Timestamp(first) : pd.Timestamp(last) + pd.Timedelta("1D") - pd.Timedelta("1us")
        ] = np.nan
    return kept


def flow_from_stage(stage: pd.Series, rating: Rating | Callable[[np.ndarray], Number]) -> pd.Series:
    """Flow for every stage reading.

    Parameters
    ----------
    stage : pandas.Series
        Named ``stage_m``, any step, in metres on the datum of the rating.
    rating : Rating or callable
        Something with ``flow_si(stage_m)``, or such a function itself.

    Returns
    -------
    pandas.Series
        Named ``flow_m3s``, at the same times; NaN where the stage is missing. For a daily record
        take :func:`daily_means` of this: the rating is curved, so the flow of a mean stage is
        not the mean flow.
    """
    if not isinstance(stage, pd.Series) or stage.name != "stage_m":
        raise HydrokitError(
            "flow_from_stage(): stage must be a pandas Series named 'stage_m', got "
            f"{getattr(stage, 'name', stage)!r}; if its values are in metres write "
            "series.rename('stage_m')"
        )
    convert = rating if callable(rating) else rating.flow_si
    return pd.Series(
        convert(stage.to_numpy(dtype=float)), index=naive_times(stage.index), name="flow_m3s"
    )


def daily_means(series: pd.Series, at_least: float = 0.75) -> pd.Series:
    """Daily mean flows of a series of more frequent readings.

    Parameters
    ----------
    series : pandas.Series
        Named ``flow_m3s``, with naive, unique and sorted times.
    at_least : float
        Share of a day's readings that must be there; a day with fewer is a gap. The number
        expected follows from the median step; where the step was changed, give each part alone.

    Returns
    -------
    pandas.Series
        A record, see :func:`checked`.

    Notes
    -----
    The plain mean of the readings of each calendar day. It is the time mean where the readings are
    evenly spaced.
    """
    if not 0 < at_least <= 1:
        raise HydrokitError(
            f"daily_means(): at_least must lie above 0 and up to 1, got {at_least!r}"
        )
    if not isinstance(series, pd.Series) or series.name != "flow_m3s":
        raise HydrokitError(
            "daily_means(): needs a pandas Series named 'flow_m3s', got "
            f"{getattr(series, 'name', series)!r}; if its values are in m³/s write "
            "series.rename('flow_m3s')"
        )
    values = flows_of(series)
    times = naive_times(series.index)
    refuse_duplicates(times)
    days = times.to_numpy().astype("datetime64[D]").astype(np.int64)
    if np.any(np.diff(days) < 0) or not times.is_monotonic_increasing:
        raise HydrokitError("daily_means(): the times must be in order; write series.sort_index()")
    day = days - days[0]
    present = ~np.isnan(values)
    step = (
        float(np.median(np.diff(times.to_numpy().astype("datetime64[s]").astype(np.int64))))
        if len(times) > 1
        else 86400.0
    )
    readings = np.bincount(day, weights=present)
    total = np.bincount(day, weights=np.where(present, values, 0.0))
    enough = readings >= max(1.0, at_least * np.floor(86400 / step))
    means = np.where(enough, total / np.maximum(readings, 1), np.nan)
    index = pd.date_range(str(np.datetime64(int(days[0]), "D")), periods=len(means))
    return checked(pd.Series(means, index=index, name="flow_m3s"))
