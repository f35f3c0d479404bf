"""When to walk up: how fast the screen clogs, the interval worth the walk, the pressure that calls
at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Callable

import numpy as np

from ..errors import HydrokitError
from ..plant.pelton import off_speed_efficiency
from ..units import Given, Number, Quantity, units
from ..works.solve import require
from .history import DAY

if TYPE_CHECKING:
    from ..units import Floats

__all__ = [
    "BLINDING",
    "alarm_pressure",
    "best_interval",
    "clogged_loss",
    "time_left",
    "visit_interval",
]

BLINDING = 6 * 3600.0  # s in which frazil shuts a clean screen: "within hours", common practice


# --- the interval -----------------------------------------------------------------------------


@units("s", visit_cost="money", price="money/J", loss_growth="W/s")
def visit_interval(visit_cost: Given, price: Given, loss_growth: Given) -> Number:
    r"""Time between cleanings that costs least, when the power lost grows evenly after each.

    Parameters
    ----------
    visit_cost : Quantity or str [money]
        What one walk is worth, :math:`c`.
    price : Quantity or str [money/energy]
        What the energy is worth, :math:`p`.
    loss_growth : Quantity or str [power/time]
        By how much more power is lost each day, :math:`g`; ``"30 W/d"``.

    Returns
    -------
    Quantity [time]
        :math:`T`; infinite where nothing is lost.

    Raises
    ------
    HydrokitError
        A negative cost or growth, a price not above zero.

    Notes
    -----
    A cycle costs :math:`c + p g T^2/2`; for each unit of time it is least where the two halves are
    equal:

    .. math:: T = \sqrt{\frac{2c}{p\,g}}

    References
    ----------
    .. [1] F. W. Harris, "How many parts to make at once", Factory 10(2), 1913: the same sum for stocks.

    Examples
    --------
    >>> print(f"{visit_interval('5 money', '0.30 money/kWh', '150 W/d').to('d'):.1f~P}")
    3.0 d
    >>> print(f"{visit_interval('12 money', '0.32 money/kWh', '0.1 hp/d').to('d'):.1f~P}")
    6.5 d
    """
    require("visit_interval", "zero or more", visit_cost=visit_cost, loss_growth=loss_growth)
    require("visit_interval", "above zero", price=price)
    with np.errstate(divide="ignore"):
        return np.sqrt(
            2 * np.asarray(visit_cost) / (np.asarray(price) * np.asarray(loss_growth, dtype=float))
        )


@dataclass(frozen=True, eq=False)
class Interval:
    """The best time between two cleanings.

    Parameters
    ----------
    interval_s : float
    cost_rate : float
        Money a second: the walk and the energy lost, at that interval.
    longest : bool
        Whether it is as long as was allowed: the walk is never worth it sooner.
    """

    interval_s: float
    cost_rate: float
    longest: bool

    @property
    def interval(self) -> Quantity:
        """Time between cleanings, a quantity in days."""
        return Quantity(self.interval_s, "s").to("d")


def best_interval(
    lost_w: Callable[[Floats], Number],
    visit_cost: float,
    price: float,
    longest_s: float = 120 * DAY,
) -> Interval:
    """Time between cleanings that costs least, for any growth of the loss.

    Parameters
    ----------
    lost_w : callable
        Power in W lost so many seconds after a cleaning; takes an array.
    visit_cost, price : float
        Money, and money for each joule.
    longest_s : float

    Returns
    -------
    Interval
    """
    if visit_cost < 0 or price <= 0:
        raise HydrokitError(
            "best_interval(): visit_cost is money, zero or more, and price above zero"
        )
    time = longest_s * np.linspace(0.0, 1.0, 4001)[1:] ** 2  # finest where intervals are short
    lost = np.asarray(lost_w(time), dtype=float) * np.ones_like(time)
    wasted = np.concatenate(
        [
            [0.5 * time[0] * lost[0]],
            0.5 * time[0] * lost[0] + np.cumsum(np.diff(time) * (lost[1:] + lost[:-1]) / 2),
        ]
    )
    rate = (visit_cost + price * wasted) / time
    best = int(np.argmin(rate))
    found = float(time[best])
    if 0 < best < len(time) - 1:
        # Vertex of the parabola through the three lowest, in the logarithm of the time.
        x, y = np.log(time[best - 1 : best + 2]), rate[best - 1 : best + 2]
        bend, lean, _ = np.polyfit(x - x[1], y, 2)
        found = float(time[best] * np.exp(-lean / (2 * bend))) if bend > 0 else found
    return Interval(found, float(rate[best]), best == len(time) - 1)


@units("W", time="s", healthy_power="W", clogging_rate="1/s", spare="ratio", held="ratio")
def clogged_loss(
    time: Given,
    healthy_power: Given,
    clogging_rate: Given,
    spare: Given = 1.0,
    held: Given = 0.0,
) -> Number:
    r"""Power lost some time after a cleaning, as a screen blocks evenly.

    Parameters
    ----------
    time : Quantity or str [time]
        Since the cleaning, :math:`t`.
    healthy_power : Quantity or str [power]
        With the jets fed, :math:`P`.
    clogging_rate : Quantity or str [1/time]
        Share of the clean screen's flow lost each day, :math:`r`; ``"0.05 1/d"``.
    spare : number
        Flow the clean screen passes over what the jets take, :math:`s`; 1 when just enough.
    held : number
        Share of the runner's speed that is held while the jets slow down: 1 by a grid or a governor.

    Returns
    -------
    Quantity [power]

    Raises
    ------
    HydrokitError
        A negative rate or power.

    Notes
    -----
    .. math:: P\left(1 - q^3\,\eta(q^2)\right), \quad q = \min(1,\ s\,(1 - r t))

    Under-fed fixed jets stand under a head that goes with the square of the flow, so the water's power
    goes with its cube: one per cent of the water is three of the power. A runner whose speed is held
    makes less of it, by :func:`~hydrokit.plant.pelton.off_speed_efficiency`.

    References
    ----------
    .. [1] Orifice law of the jets.

    Examples
    --------
    >>> print(f"{clogged_loss('3 d', '3 kW', '0.05 1/d'):.0f~P}")
    1158 W
    >>> print(f"{clogged_loss('48 h', '4 hp', '0.05 1/d', 1.15):.0f~P}")
    0 W
    >>> print(f"{clogged_loss('3 d', '3 kW', '0.05 1/d', held=1.0):.0f~P} with the speed held")
    1215 W with the speed held
    """
    require(
        "clogged_loss",
        "zero or more",
        time=time,
        healthy_power=healthy_power,
        clogging_rate=clogging_rate,
    )
    left = np.maximum(1 - np.asarray(clogging_rate) * np.asarray(time), 0.0) * spare
    flow = np.minimum(left, 1.0)
    return np.asarray(healthy_power) * (1 - flow**3 * off_speed_efficiency.si(flow**2, held))


# --- frazil -----------------------------------------------------------------------------------


@units("Pa", pressure="Pa", spread="ratio")
def alarm_pressure(pressure: Given, spread: Given = "1.5 %", deviations: float = 3.0) -> Number:
    r"""Pressure below which to walk up: the nearest to the healthy one that noise does not reach.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Healthy, with the jets now open, :math:`p`.
    spread : number or str
        Relative standard deviation of one reading, :math:`\sigma`.
    deviations : float
        :math:`k`; three are passed by noise alone once in 740 readings.

    Returns
    -------
    Quantity [pressure]
        :math:`p\,(1 - k\sigma)`.

    References
    ----------
    .. [1] Normal distribution, one tail.

    Examples
    --------
    >>> print(f"{alarm_pressure('4.2 bar').to('bar'):.2f~P}")
    4.01 bar
    >>> print(f"{alarm_pressure('61 psi', '1 %').to('psi'):.1f~P}")
    59.2 psi
    """
    require("alarm_pressure", "above zero", pressure=pressure)
    return np.asarray(pressure) * np.maximum(1 - deviations * np.asarray(spread), 0.0)


@units("s", pressure="Pa", healthy_pressure="Pa", blinding_time="s", spare="ratio")
def time_left(
    pressure: Given, healthy_pressure: Given, blinding_time: Given = "6 h", spare: Given = 1.0
) -> Number:
    r"""Time until a screen that ice is shutting passes nothing, from the pressure it has fallen to.

    Parameters
    ----------
    pressure, healthy_pressure : Quantity or str [pressure]
        Now, and with the same jets fed: :math:`p`, :math:`p_0`.
    blinding_time : Quantity or str [time]
        From clean to shut, :math:`T_b`. Hours; nothing more exact is known of a screen until its
        own log tells (common practice).
    spare : number
        Flow the clean screen passes over what the jets take, :math:`s`.

    Returns
    -------
    Quantity [time]

    Raises
    ------
    HydrokitError
        A pressure below zero or above the healthy one, spare less than 1.

    Notes
    -----
    Jets pass a flow that goes with the root of the pressure; the screen closes evenly:

    .. math:: t = T_b\,\frac{\sqrt{p/p_0}}{s}

    References
    ----------
    .. [1] Orifice law of the jets.

    Examples
    --------
    >>> print(f"{time_left('4.0 bar', '4.2 bar').to('h'):.1f~P}")
    5.9 h
    >>> print(f"{time_left('20 psi', '61 psi', '6 h', 1.15).to('h'):.1f~P}")
    3.0 h
    """
    require("time_left", "zero or more", pressure=pressure)
    require(
        "time_left",
        "above zero",
        healthy_pressure=healthy_pressure,
        blinding_time=blinding_time,
        spare=spare,
    )
    share = np.asarray(pressure) / np.asarray(healthy_pressure)
    if np.any(share > 1 + 1e-9):
        raise HydrokitError(
            "time_left(): the pressure is above the healthy one, so no water is short"
        )
    return np.asarray(blinding_time) * np.sqrt(share) / spare
