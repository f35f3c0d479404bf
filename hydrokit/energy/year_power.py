"""Power and demand on the steps of a record or the points of a duration curve."""

from __future__ import annotations

from typing import Sequence

import numpy as np
import pandas as pd

from ..errors import HydrokitError
from ..plant.curve import PlantCurve
from ..stream.days import days_of
from ..units import Given, Number, units
from .weights import MONTHS, Steps

__all__ = ["duration_energy", "power_series", "shared", "useful_kwh"]


def power_series(usable: pd.Series, curves: PlantCurve | Sequence[PlantCurve]) -> pd.Series:
    """Net power in W on each step of a record, named ``power_w``; outages not counted."""
    power = power_of_steps(
        usable.to_numpy(dtype=float), np.asarray(days_of(usable).month), twelve(curves)
    )
    return pd.Series(power, index=usable.index, name="power_w")


def power_of_steps(
    flow: np.ndarray, month: np.ndarray, by_month: Sequence[PlantCurve]
) -> np.ndarray:
    """Net power at flows whose last axis runs along `month`."""
    power = np.empty(flow.shape)
    for curve, months in shared(by_month):
        inside = np.isin(month, months)
        power[..., inside] = curve.power_si(flow[..., inside])
    return power


@units("kWh", exceedance="exceedance", flow="m^3/s", hours="h")
def duration_energy(
    exceedance: Given, flow: Given, curve: PlantCurve, hours: Given = "8760 h"
) -> Number:
    r"""Energy of a plant from points of a duration curve of usable flow, without dates.

    Parameters
    ----------
    exceedance : array of number or str
        Share of the time each flow is reached or exceeded, rising.
    flow : array Quantity [volume/time]
        Usable flow: what stays in the creek already taken off.
    curve : PlantCurve
    hours : Quantity or str [time]
        Length of the year.

    Returns
    -------
    Quantity [energy]
        In kWh.

    Raises
    ------
    HydrokitError
        Exceedances that do not rise.

    Notes
    -----
    .. math:: E = T\int_0^1 P(q(p))\,dp

    by straight lines of power between the points; the end points hold to 0 and 1. It knows no
    season, and a plant with steps needs points near them.

    References
    ----------
    .. [1] The definition of energy, the area under power against time; integrated by trapezia.

    Examples
    --------
    >>> from hydrokit.plant.chain import Chain
    >>> from hydrokit.plant.parts import Adjustable, MeasuredLoss, Penstock, Runner, steady
    >>> curve = Chain(Penstock(MeasuredLoss(0.0), 50.0), Adjustable(0.015), Runner(steady(0.6))).curve()
    >>> print(f"{duration_energy(['0 %', '50 %', '100 %'], ['15 L/s', '10 L/s', '5 L/s'], curve):.0f~P}")
    25764 kWh
    >>> print(f"{duration_energy(['0 %', '50 %', '100 %'], ['240 gpm', '160 gpm', '80 gpm'], curve):.0f~P}")
    25916 kWh
    """
    exceedance, flow = np.atleast_1d(exceedance), np.atleast_1d(flow)
    if exceedance.shape != flow.shape or np.any(np.diff(exceedance) <= 0):
        raise HydrokitError(
            "duration_energy(): exceedance must rise from point to point, with one flow for each"
        )
    share = np.concatenate([[0.0], exceedance, [1.0]])
    power = curve.power_si(np.concatenate([flow[:1], flow, flow[-1:]]))
    return hours * float(np.trapezoid(power, share)) / 1000


duration_energy.measurement = ("exceedance", "flow")


# --- helpers --------------------------------------------------------------------------------


def twelve(curves: PlantCurve | Sequence[PlantCurve]) -> tuple[PlantCurve, ...]:
    """One curve a month."""
    by_month = (curves,) * 12 if isinstance(curves, PlantCurve) else tuple(curves)
    if len(by_month) != 12:
        raise HydrokitError(
            f"curves must be one plant curve, or 12 with January first; got {len(by_month)}"
        )
    return by_month


def shared(by_month: Sequence[PlantCurve]) -> list[tuple[PlantCurve, list[int]]]:
    """Each different curve with the months that share it."""
    shared: dict[int, tuple[PlantCurve, list[int]]] = {}
    for month, curve in zip(MONTHS, by_month):
        shared.setdefault(id(curve), (curve, []))[1].append(int(month))
    return list(shared.values())


def demand_of_steps(demand_w: Number | pd.Series, usable: pd.Series) -> np.ndarray:
    """Demand in W on each step of a record."""
    if isinstance(demand_w, pd.Series):
        demand = demand_w.reindex(usable.index).to_numpy(dtype=float)
        missing = int(np.isnan(demand).sum())
        if missing:
            raise HydrokitError(
                f"demand has no value on {missing} of the record's {len(demand)} steps"
            )
    else:
        demand = np.asarray(demand_w, dtype=float)
        if demand.size not in (1, 12):
            raise HydrokitError(
                f"demand must be one power, 12 by month, or a Series; got {demand.size} numbers"
            )
        demand = np.broadcast_to(demand, 12)[np.asarray(days_of(usable).month) - 1]
    if np.any(demand < 0):
        raise HydrokitError("demand must not be negative")
    return demand


def useful_kwh(
    usable: pd.Series, steps: Steps, by_month: Sequence[PlantCurve], demand_w: Number
) -> np.ndarray:
    power = power_of_steps(steps.flow, steps.month, by_month)
    met = np.nan_to_num(np.minimum(power, demand_of_steps(demand_w, usable)))
    size = len(steps.years) * 12
    return np.bincount(steps.group, met, size).reshape(-1, 12) * steps.step_hours / 1000
