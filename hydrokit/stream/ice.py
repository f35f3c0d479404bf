"""When a stage must not be rated: ice at the control holds the water up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..units import Given, units

if TYPE_CHECKING:
    from .rating_curve import Rating

__all__ = ["open_water", "without_backwater"]


@units(None, air_temperature="K", freezing="K", days="count")
def open_water(
    times: np.ndarray,
    ice_months: Sequence[int] = (12, 1, 2, 3),
    air_temperature: Given = None,
    freezing: Given = "-3 degC",
    days: Given = 7,
) -> np.ndarray:
    """Which times a stage may be rated: those without ice at the control.

    Parameters
    ----------
    times : array of datetime
        Times of stage or gaugings, rising.
    ice_months : tuple of int
        Months in which ice is taken for granted; unused when the air temperature is given.
    air_temperature : array Quantity or list [temperature], optional
        At those times; then ice is taken to stand where its mean over the last `days` is below
        `freezing`.
    freezing : Quantity or str [temperature]
        Common practice, to be set by what the creek shows.
    days : count
        Length of the trailing mean.

    Returns
    -------
    ndarray of bool
        True in open water. Stage under ice reads high and must not be rated raw.

    Raises
    ------
    UnitsError
        A temperature without a unit.
    HydrokitError
        Times out of order; a temperature missing for some times.

    References
    ----------
    .. [1] S. E. Rantz and others, USGS Water-Supply Paper 2175, 1982, vol. 2, ch. 10: discharge
       ratings under ice; the thresholds here are common practice.

    Examples
    --------
    >>> open_water(["2024-01-15", "2024-07-15"]).tolist()
    [False, True]
    >>> open_water(["2024-01-15", "2024-01-16"], air_temperature=["40 degF", "38 degF"]).tolist()
    [True, True]
    """
    times = np.asarray(times, dtype="datetime64[s]")
    if air_temperature is None:
        months = times.astype("datetime64[M]").astype(int) % 12 + 1
        return ~np.isin(months, ice_months)
    air = np.broadcast_to(np.asarray(air_temperature, dtype=float), times.shape)
    if np.any(np.isnan(air)) or np.any(np.diff(times).astype(int) < 0):
        raise HydrokitError(
            "open_water(): needs rising times and an air temperature at each of them"
        )
    sums = np.concatenate([[0.0], np.cumsum(air - freezing)])
    first = np.searchsorted(times, times - np.timedelta64(int(days * 86400), "s"), side="right")
    last = np.arange(1, len(times) + 1)
    return (sums[last] - sums[first]) / (last - first) >= 0


open_water.measurement = ("air_temperature",)


@units(("m", None), stage="m", gauged_stage="m", gauged_flow="m^3/s")
def without_backwater(
    times: np.ndarray,
    stage: Given,
    iced: Sequence[bool] | np.ndarray,
    gauged_times: Sequence[str] | np.ndarray,
    gauged_stage: Given,
    gauged_flow: Given,
    rating: Rating,
    start_month: int = 10,
) -> tuple[np.ndarray, np.ndarray]:
    r"""Stages as they would read without ice: lowered by the backwater that gaugings under ice show.

    Parameters
    ----------
    times : array of datetime
        Times of the stages, rising.
    stage : array Quantity [length]
        As read.
    iced : array of bool
        True where ice stood at the control.
    gauged_times : array of datetime
        Of the gaugings made under ice, in any order.
    gauged_stage : array Quantity [length]
        As read at them.
    gauged_flow : array Quantity [length³/time]
        Gauged under the ice.
    rating : Rating
        Of open water.
    start_month : int
        First month of the year to which a winter belongs; a gauging speaks for its own winter only.

    Returns
    -------
    tuple of Quantity [length], ndarray of bool
        The stages, NaN under ice in winters without a gauging; which of them were lowered.

    Raises
    ------
    HydrokitError
        Arrays of unequal length.

    Notes
    -----
    At a gauging under ice of flow Q and stage h the backwater is :math:`h - h_{open}(Q)`. Between
    gaugings of one winter it is interpolated in time, before the first and after the last it is
    held; it is never taken below zero. A flow so found is hardly known to better than 20 to 30 %
    (common practice), for the ice thickens, floods and breaks between visits.

    References
    ----------
    .. [1] S. E. Rantz and others, USGS Water-Supply Paper 2175, 1982, vol. 2, ch. 10: effective gage
       height, the stage less the backwater from ice.

    Examples
    --------
    >>> from hydrokit.stream.rating import fit_rating
    >>> from hydrokit.units import Q_
    >>> rating = fit_rating(["0.30 m", "0.50 m"], ["20 L/s", "80 L/s"], cease_to_flow="0.10 m", control="riffle")
    >>> stage, lowered = without_backwater(["2024-01-10", "2024-06-10"], Q_([0.35, 0.35], "m"), [True, False],
    ...                                    ["2024-01-09"], Q_([0.34], "m"), Q_([20], "L/s"), rating)
    >>> print([f"{each:.2f}" for each in stage.m_as("m")], lowered.tolist())
    ['0.31', '0.35'] [True, False]
    >>> stage, _ = without_backwater(["2024-01-10"], Q_([1.2], "ft"), [True], ["2023-01-09"], Q_([1.1], "ft"), Q_([20], "L/s"), rating)
    >>> print(f"{stage.m_as('ft')[0]:.2f}")
    nan
    """
    from .rating_curve import rating_stage

    times, gauged_times = (
        np.atleast_1d(np.asarray(each, dtype="datetime64[s]")) for each in (times, gauged_times)
    )
    stage, gauged_stage, gauged_flow = (
        np.atleast_1d(np.asarray(each, dtype=float)) for each in (stage, gauged_stage, gauged_flow)
    )
    iced = np.atleast_1d(np.asarray(iced, dtype=bool))
    if not len(times) == len(stage) == len(iced) or not len(gauged_times) == len(
        gauged_stage
    ) == len(gauged_flow):
        raise HydrokitError(
            "without_backwater(): needs a time and an ice mark for each stage, and a time and "
            "a flow for each gauged stage"
        )
    backwater = np.maximum(gauged_stage - rating_stage.si(gauged_flow, rating), 0.0)
    lifted = np.full(len(stage), np.nan)
    winter_of, winters = _year_of(times, start_month), _year_of(gauged_times, start_month)
    for winter in np.unique(winters):
        mine = np.flatnonzero(winters == winter)
        mine = mine[np.argsort(gauged_times[mine])]
        within = iced & (winter_of == winter)
        lifted[within] = np.interp(
            times[within].astype(float), gauged_times[mine].astype(float), backwater[mine]
        )
    lowered = iced & np.isfinite(lifted) & np.isfinite(stage)
    return np.where(iced, stage - lifted, stage), lowered


without_backwater.measurement = ("stage", "gauged_stage", "gauged_flow")


def _year_of(times: np.ndarray, start_month: int) -> np.ndarray:
    """The year in which the twelve months end to which each time belongs."""
    months = times.astype("datetime64[M]").astype(int)
    return (months + 12 - (start_month - 1) % 12) // 12
