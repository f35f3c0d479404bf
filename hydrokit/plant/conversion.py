"""Between generator and loads: transformer, inverter, and a store for the hours that need more."""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, units
from ..works.solve import require
from .losses import LossCurve

__all__ = ["battery_size", "inverter", "storage_needed", "transformer"]

BEST_LOAD = 0.5  # share of its rated output at which an inverter is at its best, common practice


@units(None, rated_power="W", no_load_loss="W", full_load_loss="W")
def transformer(rated_power: Given, no_load_loss: Given, full_load_loss: Given) -> LossCurve:
    """Losses of a transformer from its two nameplate losses.

    Parameters
    ----------
    rated_power : Quantity or str [power]
        Rated output at power factor 1.
    no_load_loss : Quantity or str [power]
        In the iron, day and night.
    full_load_loss : Quantity or str [power]
        In the windings at rated current.

    Returns
    -------
    LossCurve
        Most efficient where both losses are equal.

    References
    ----------
    .. [1] Balance of iron and winding losses of a transformer, IEC 60076-1.

    Examples
    --------
    >>> print(f"{transformer('25 kW', '100 W', '400 W').efficiency_si(0.5):.4f}")
    0.9843
    >>> print(f"{transformer('10 hp', '0.05 hp', '0.2 hp').efficiency_si(1.0):.3f}")
    0.976
    """
    return LossCurve(
        "transformer",
        float(rated_power),
        no_load_loss / rated_power,
        proportional=0.0,
        square=full_load_loss / rated_power,
        source="its nameplate",
        mark="given",
    )


@units(None, rated_power="W", idle_power="W", best_efficiency="ratio")
def inverter(rated_power: Given, idle_power: Given, best_efficiency: Given) -> LossCurve:
    r"""Losses of an inverter from what it takes idle and its best efficiency.

    Parameters
    ----------
    rated_power : Quantity or str [power]
        Rated output.
    idle_power : Quantity or str [power]
        Drawn with nothing switched on.
    best_efficiency : number or str
        The figure its maker prints.

    Returns
    -------
    LossCurve

    Raises
    ------
    HydrokitError
        A best efficiency that its idle power alone already contradicts.

    Notes
    -----
    .. math:: P_v = P_r\left[\left(\tfrac1{\eta} - 1\right) x + i\,(1 - 2x)^2\right]

    with the load :math:`x` and the idle power :math:`i` as shares of the rated output: the curve that
    draws the idle power with no load and has its best efficiency :math:`\eta` at half load, where
    most inverters have it (common practice). A larger idle power never gives more at any load.

    References
    ----------
    .. [1] Balance of losses: least per output where constant and square losses are equal. Best at
           half load: common practice.

    Examples
    --------
    >>> print(f"{inverter('5 kW', '40 W', '94 %').efficiency_si(0.1):.3f}")
    0.897
    >>> print(f"{inverter('4 kW', '20 W', '95 %').output_si(1000.0):.0f} W")
    945 W
    """
    idle = idle_power / rated_power
    lost = 1 / best_efficiency - 1
    if not 0 < best_efficiency < 1 or lost <= idle:
        raise HydrokitError(
            f"inverter: an idle power of {idle_power:g} W cannot go with a best efficiency of "
            f"{best_efficiency:g}."
        )
    square = idle / BEST_LOAD**2
    return LossCurve(
        "inverter",
        float(rated_power),
        idle,
        proportional=lost - 2 * idle / BEST_LOAD,
        square=square,
        source="its nameplate; best at half load, common practice",
        mark="common practice",
    )


@units("J", supply="W", demand="W", step="s", efficiency="ratio")
def storage_needed(
    supply: Given, demand: Given, step: Given = "1 h", efficiency: Given = 0.85
) -> Number:
    """Smallest store that lets a steady supply meet a demand that comes and goes.

    Parameters
    ----------
    supply : Quantity or str [power]
        Steady, or one value for each step.
    demand : array Quantity [power]
        One value for each step of a day (or any run of days that repeats); steps along the last axis.
    step : Quantity or str [time]
    efficiency : number
        Of what goes into the store, the share that comes out.

    Returns
    -------
    Quantity [energy]
        Given out between fullest and emptiest. NaN where the supply cannot meet the demand at all.

    Notes
    -----
    The stored energy is followed over the repeating run of steps; surplus counts times the
    efficiency. The need is the deepest fall below an earlier level.

    References
    ----------
    .. [1] Balance of energy over a repeating run of steps.

    Examples
    --------
    >>> from hydrokit.units import Q_
    >>> day = Q_([0.5] * 18 + [3.0] * 6, "kW")
    >>> print(f"{storage_needed('2 kW', day).to('kWh'):.0f~P}")
    6 kWh
    >>> print(f"{storage_needed('1 hp', day).m_as('kWh')}")
    nan
    """
    change = np.asarray(supply, dtype=float) - np.asarray(demand, dtype=float)
    change = np.where(change > 0, change * efficiency, change) * step
    met = change.sum(axis=-1) >= -1e-9 * np.abs(change).sum(axis=-1)
    # twice round, so that a fall across the seam of the cycle is seen
    level = np.cumsum(
        np.concatenate([np.zeros_like(change[..., :1]), change, change], axis=-1), axis=-1
    )
    fall = (np.maximum.accumulate(level, axis=-1) - level).max(axis=-1)
    return np.where(met, fall, np.nan)[()]


storage_needed.measurement = ("supply", "demand")


@units("Ah", energy="J", voltage="V", depth="ratio", efficiency="ratio")
def battery_size(
    energy: Given, voltage: Given, depth: Given = "50 %", efficiency: Given = 1.0
) -> Number:
    """Rated charge of a battery that must give an energy.

    Parameters
    ----------
    energy : Quantity or str [energy]
        To be given out at the load, such as from :func:`storage_needed`.
    voltage : Quantity or str [voltage]
    depth : number or str
        Share of the rated charge that may be used: about 50 % for lead-acid to last, 80 % for lithium
        iron phosphate (common practice). Cold takes more away.
    efficiency : number
        Of what lies between battery and load, such as an inverter.

    Returns
    -------
    Quantity [charge]
        In Ah.

    Raises
    ------
    HydrokitError
        A depth or efficiency not above 0 and at most 1.

    References
    ----------
    .. [1] Charge is energy over voltage; depths are common practice.

    Examples
    --------
    >>> print(f"{battery_size('6 kWh', '48 V'):.0f~P}")
    250 Ah
    >>> print(f"{battery_size('6 kWh', '48 V', depth='80 %', efficiency=0.92):.0f~P}")
    170 Ah
    """
    for rule in ("above zero", "a share from 0 to 1"):
        require("battery_size", rule, depth=depth, efficiency=efficiency)
    return np.asarray(energy) / 3600 / (np.asarray(voltage) * depth * efficiency)
