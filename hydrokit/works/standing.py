"""Still water in a pipe while what lies around it turns colder and warmer: how long it has, from
each day on."""

from __future__ import annotations

import math

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, units
from .frost import FREEZING_POINT, ICE_COLD_WATER, ICE_CONDUCTIVITY, LATENT_HEAT
from .solve import require

__all__ = ["LONGEST_DAYS", "ice_a_step", "standing_time"]

LONGEST_DAYS = 60  # a longer stop is one for the winter, and its line is drained


@units(
    None,
    surroundings="K",
    inside_diameter="m",
    resistance="m*K/W",
    frozen_share="ratio",
    step="s",
)
def ice_a_step(
    surroundings: Given,
    inside_diameter: Given,
    resistance: Given,
    frozen_share: Given = "25 %",
    step: Given = "1 d",
) -> Number:
    r"""Share of a pipe's still water at 0 °C that turns to ice in a step; negative where ice melts.

    Parameters
    ----------
    surroundings : Quantity, list or ndarray [temperature]
        :math:`T`: of the air, or of the ground where the pipe lies.
    inside_diameter : Quantity or str [length]
        :math:`D`.
    resistance : Quantity, str, list or ndarray [length temperature/power]
        :math:`R` of one metre, between the water and those surroundings.
    frozen_share : float
        Share :math:`s` until which the ice's own resistance :math:`R_i` is averaged.
    step : Quantity or str [time]

    Returns
    -------
    float or ndarray

    Raises
    ------
    HydrokitError
        A size or resistance not above zero, a share that is none.

    Notes
    -----
    .. math:: \frac{\Delta t\,(0 - T)}{\rho L\,\tfrac{\pi}{4}D^2\,(R + R_i)}, \qquad
              R_i = \frac{1}{4\pi k_i}\left(1 + \frac{1 - s}{s}\ln(1 - s)\right)

    References
    ----------
    .. [1] H. S. Carslaw, J. C. Jaeger, *Conduction of Heat in Solids*, ch. 11 (quasi-steady
       freezing of a cylinder; derived here).

    Examples
    --------
    >>> print(f"{100 * ice_a_step('-2 degC', '100 mm', '0.29 m*K/W'):.0f} %")
    22 %
    >>> print(f"{100 * ice_a_step('23 degF', '4 in', '0.29 m*K/W', step='6 h'):.0f} %")
    14 %
    """
    require("ice_a_step", "above zero", inside_diameter=inside_diameter, resistance=resistance)
    require("ice_a_step", "above zero", step=step, frozen_share=frozen_share)
    require("ice_a_step", "a share from 0 to 1", frozen_share=frozen_share)
    share = np.asarray(frozen_share, dtype=float)
    left = 1 - share
    rest = left * np.log(np.where(left > 0, left, 1.0)) / share
    through_ice = (1 + rest) / (4 * math.pi * ICE_CONDUCTIVITY)
    latent = ICE_COLD_WATER * LATENT_HEAT * math.pi / 4 * np.asarray(inside_diameter) ** 2
    cold = FREEZING_POINT - np.asarray(surroundings, dtype=float)
    return cold / (latent * (np.asarray(resistance) + through_ice)) * step


@units(
    "s",
    surroundings="K",
    inside_diameter="m",
    resistance="m*K/W",
    frozen_share="ratio",
    step="s",
)
def standing_time(
    surroundings: Given,
    inside_diameter: Given,
    resistance: Given,
    frozen_share: Given = "25 %",
    step: Given = "1 d",
) -> Number:
    r"""How long still water has from the beginning of each step on, until a share of it is ice.

    Parameters
    ----------
    surroundings : list or ndarray of Quantity [temperature]
        Step by step: of the air, for a pipe in it; for a buried one of the ground where it lies, as
        it would be without the pipe (:func:`hydrokit.works.soil.ground`).
    inside_diameter : Quantity or str [length]
        :math:`D`.
    resistance : Quantity, str, list or ndarray [length temperature/power]
        :math:`R` of one metre, between the water and those surroundings, on each step or always.
    frozen_share : float
        :math:`s`; a quarter is taken as blocked (convention), all of it is solid.
    step : Quantity or str [time]

    Returns
    -------
    Quantity [time]
        From the beginning of each step; infinite where it does not come to that within 60 steps,
        or before the record ends.

    Raises
    ------
    HydrokitError
        A size or resistance not above zero, a share that is none, no step.

    Notes
    -----
    The water is at 0 °C when it stops. Its ice grows by :func:`ice_a_step` and melts by the same,
    down to none; a constant frost takes as long as :func:`hydrokit.works.frost.freezing_time` says.

    References
    ----------
    .. [1] H. S. Carslaw, J. C. Jaeger, *Conduction of Heat in Solids*, ch. 11 (quasi-steady
       freezing of a cylinder; derived here).

    Examples
    --------
    >>> waits = standing_time(["-15 degC", "3 degC"], "100 mm", "0.29 m*K/W")
    >>> print(f"{waits[0].to('h'):.1f~P}")
    3.6 h
    >>> print(f"{standing_time(['5 degF'], '4 in', '0.29 m*K/W')[0].to('h'):.1f~P}")
    3.7 h
    """
    require("standing_time", "above zero", inside_diameter=inside_diameter, resistance=resistance)
    require("standing_time", "above zero", step=step, frozen_share=frozen_share)
    require("standing_time", "a share from 0 to 1", frozen_share=frozen_share)
    if np.ndim(surroundings) != 1 or len(np.asarray(surroundings)) == 0:
        raise HydrokitError("standing_time(): surroundings needs one temperature for each step")
    grows = ice_a_step.si(surroundings, inside_diameter, resistance, frozen_share, step)
    return step * _steps_until(np.nan_to_num(grows), float(frozen_share))


standing_time.measurement = ("surroundings", "resistance")


def _steps_until(grows: np.ndarray, share: float) -> np.ndarray:
    """Steps from each start on until what grows and shrinks, never below nothing, reaches a share."""
    steps = len(grows)
    waits = np.full(steps, np.inf)
    frost = np.concatenate([[0.0], np.cumsum(np.maximum(grows, 0.0))])
    ends = np.minimum(np.arange(steps) + LONGEST_DAYS, steps)
    start = np.flatnonzero(frost[ends] - frost[:steps] >= share)  # no other can
    ice = np.zeros(len(start))
    for later in range(LONGEST_DAYS):
        if len(start) == 0:
            break
        today = grows[start + later]
        reached = ice + today >= share
        waits[start[reached]] = later + (share - ice[reached]) / today[reached]
        left = ~reached & (start + later + 1 < steps)
        start, ice = start[left], np.maximum(ice[left] + today[left], 0.0)
    return waits
