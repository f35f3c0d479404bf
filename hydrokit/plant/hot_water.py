"""A tank of water as ballast: how long it takes the power, and the temperatures that keep it safe."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..units import Given, units
from ..works.solve import require

if TYPE_CHECKING:
    from ..units import Number

__all__ = ["BURNS_S", "COLD_K", "MIXED_K", "OUTLET_K", "STORED_K", "heating_time"]

_HEAT = 4186.0 * 1000.0  # J to warm a cubic metre by a kelvin: 4.186 kJ/(kg K), 1000 kg/m3
# Against legionella: advice of a health and safety executive, and of OSHA (60 and 50 degC likewise).
STORED_K, OUTLET_K, COLD_K = 333.15, 323.15, 293.15
MIXED_K = 317.15  # 44 degC at a bath: notes of a scheme for thermostatic valves
BURNS_S = 5.0  # to a third-degree burn of an adult's skin in water of 60 degC: scald tables


@units("s", volume="m^3", power="W", cold="K", hot="K")
def heating_time(
    volume: Given, power: Given, cold: Given = "10 degC", hot: Given = "60 degC"
) -> Number:
    r"""Time in which a power heats a tank of water.

    Parameters
    ----------
    volume : Quantity or str [volume]
        Of the water, :math:`V`.
    power : Quantity or str [power]
        Of the heater, :math:`P`.
    cold, hot : Quantity or str [temperature]
        Before and after.

    Returns
    -------
    Quantity [time]

    Raises
    ------
    HydrokitError
        A volume or power that is not above zero.

    Notes
    -----
    :math:`t = \rho c V (T_h - T_c)/P` without losses: the shortest time in which the tank is full of
    hot water and the power must go elsewhere.

    References
    ----------
    .. [1] Balance of heat; 4.186 kJ/(kg K).

    Examples
    --------
    >>> print(f"{heating_time('300 L', '3 kW').to('hour'):.2f~P}")
    5.81 h
    >>> print(f"{heating_time('80 gal', '5 hp', '50 degF', '140 degF').to('hour'):.2f~P}")
    4.72 h
    """
    require("heating_time", "above zero", volume=volume, power=power)
    return _HEAT * np.asarray(volume) * (np.asarray(hot) - cold) / power
