"""When a stage must not be rated: ice at the control holds the water up."""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError
from ..units import units

__all__ = ["open_water"]


@units(None, air_temperature="K", freezing="K", days="count")
def open_water(times, ice_months=(12, 1, 2, 3), air_temperature=None, freezing="-3 degC", days=7):
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
        raise HydrokitError("open_water(): needs rising times and an air temperature at each of them")
    sums = np.concatenate([[0.0], np.cumsum(air - freezing)])
    first = np.searchsorted(times, times - np.timedelta64(int(days * 86400), "s"), side="right")
    last = np.arange(1, len(times) + 1)
    return (sums[last] - sums[first]) / (last - first) >= 0


open_water.measurement = ("air_temperature",)
