"""How far below the salt the probe must stand: the length in which a creek mixes across."""

from __future__ import annotations

import numpy as np

from ..errors import HydrokitError
from ..units import Given, Number, units
from ..water import GRAVITY

__all__ = ["WIDTHS_TO_MIX", "mixing_length"]

# Transverse mixing over depth times friction velocity in winding natural streams, good to ±50 %.
_MIXING = 0.6
# Relative distance x·ε/(V·W²) at which the concentration is even to 5 %, by where the salt goes in.
_EVEN_AT = {"middle": 0.1, "bank": 0.4}
WIDTHS_TO_MIX = 25  # of a rough, steep creek, where pools and not the bed decide; common practice


@units("m", flow="m^3/s", width="m", depth="m", slope="ratio")
def mixing_length(
    flow: Given, width: Given, depth: Given, slope: Given, where: str = "middle"
) -> Number:
    r"""Distance from the salt to where it has mixed across an even reach.

    Parameters
    ----------
    flow : Quantity or str [length³/time]
        Flow, :math:`Q`. Scalar or array.
    width, depth : Quantity or str [length]
        Mean width, :math:`W`, and depth, :math:`d`, of the water.
    slope : ratio
        Fall of the water over its length, :math:`S`.
    where : {"middle", "bank"}
        Where the salt is poured in.

    Returns
    -------
    Quantity [length]
        For a reach without pools, good to about half as much again; pools and dead corners need
        more: keep at least 25 widths in a rough creek (common practice).

    Raises
    ------
    HydrokitError
        A flow, width, depth or slope that is not above zero; another place of pouring.

    Notes
    -----
    .. math:: L = k\,\frac{V W^2}{0.6\,d\sqrt{g d S}}, \quad V = \frac{Q}{W d}

    with k = 0.1 from the middle and 0.4 from a bank: there the cosine series of plane mixing
    between two banks is even to 5 %.

    References
    ----------
    .. [1] H. B. Fischer and others, Mixing in Inland and Coastal Waters, Academic Press, 1979, ch. 5
       (from memory: the factors 0.6, 0.1 and 0.4).

    Examples
    --------
    >>> print(f"{mixing_length('100 L/s', '3 m', '0.2 m', '1 %'):.1f~P}")
    8.9 m
    >>> print(f"{mixing_length('3 cfs', '8 ft', '0.5 ft', '1 %', 'bank').to('ft'):.0f~P}")
    160 ft
    """
    if where not in _EVEN_AT:
        raise HydrokitError(f'mixing_length(): where must be "middle" or "bank", got {where!r}')
    flow, width, depth, slope = (
        np.asarray(each, dtype=float) for each in (flow, width, depth, slope)
    )
    if not (np.all(flow > 0) and np.all(width > 0) and np.all(depth > 0) and np.all(slope > 0)):
        raise HydrokitError("mixing_length(): flow, width, depth and slope must be above zero")
    velocity = flow / (width * depth)
    return (
        _EVEN_AT[where] * velocity * width**2 / (_MIXING * depth * np.sqrt(GRAVITY * depth * slope))
    )
