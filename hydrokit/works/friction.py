"""Friction factor of a full pipe: exact Colebrook for whole arrays, laminar and transition stated."""

from __future__ import annotations

import math
from typing import Iterator

import numpy as np

from ..units import Floats, Given, Number, Outside, units
from .solve import require

__all__ = ["friction_factor"]

LAMINAR = 2000.0  # Reynolds number up to which the flow is taken as laminar
TURBULENT = 4000.0  # and from which Colebrook is taken to hold

_LN10 = math.log(10.0)
_ROUGHNESS_SCALE = _LN10 / (2 * 2.51 * 3.7)
_REYNOLDS_SHIFT = math.log(2 * 2.51 / _LN10)
# Elements worked on at once: the passing arrays of one block stay in the processor's cache.
_BLOCK = 16384


@units("number", reynolds="ratio", relative_roughness="ratio")
def friction_factor(reynolds: Given, relative_roughness: Given) -> Number:
    r"""Darcy friction factor of a full round pipe.

    Parameters
    ----------
    reynolds : float or ndarray
        Reynolds number, :math:`Re = VD/\nu`.
    relative_roughness : float or ndarray
        Roughness over inside diameter, :math:`\varepsilon/D`.

    Returns
    -------
    float or ndarray
        Darcy :math:`f` (four times Fanning's), shape by broadcasting.

    Raises
    ------
    HydrokitError
        A Reynolds number not above zero, a negative roughness.

    Warns
    -----
    RangeWarning
        Re between 2,000 and 4,000 (transition); :math:`\varepsilon/D` above 0.05.

    Notes
    -----
    Turbulent (Re from 4,000), Colebrook and White [1]_, solved to 1e-12:

    .. math:: \frac{1}{\sqrt f} = -2\log_{10}\left(\frac{\varepsilon/D}{3.7}
              + \frac{2.51}{Re\sqrt f}\right)

    Laminar (Re up to 2,000): :math:`f = 64/Re`. Between the two no single value is right; f goes
    over from 64/Re to Colebrook with the weight :math:`w = s^2(3-2s)`, s = (Re − 2000)/2000, so
    that f and its slope are continuous and the loss always grows with the flow.

    With :math:`x = \ln 10/(2\sqrt f)` Colebrook reads :math:`x + \ln(x_1 + x) = x_2`. From
    :math:`x = x_2 - 0.2` one step of Newton and one of fourth order [2]_ come within 1e-12 for every
    Re to 10¹² and every roughness.

    References
    ----------
    .. [1] C. F. Colebrook, "Turbulent flow in pipes...", J. Inst. Civ. Eng. 11:133-156, 1939.
    .. [2] F. N. Fritsch, R. E. Shafer, W. P. Crowley, "Algorithm 443: solution of the
       transcendental equation w exp(w) = x", Comm. ACM 16(2):123-124, 1973.

    Examples
    --------
    A 100 mm plastic pipe at 1.3 m/s, and a rusty one:

    >>> round(friction_factor(1e5, 1e-4), 6)
    0.018514
    >>> round(friction_factor(1e5, "1 %"), 6)
    0.038504
    """
    require("friction_factor", "above zero", reynolds=reynolds)
    require("friction_factor", "zero or more", relative_roughness=relative_roughness)
    return factor(reynolds, relative_roughness)


@friction_factor.valid
def outside(reynolds: Given, relative_roughness: Given) -> Iterator[Outside]:
    """Where the friction factor may not be trusted, each with its sentence."""
    between = (np.asarray(reynolds) > LAMINAR) & (np.asarray(reynolds) < TURBULENT)
    yield (
        between,
        "Reynolds number between 2,000 and 4,000: the friction factor is not settled there",
    )
    yield (
        np.asarray(relative_roughness) > 0.05,
        "relative roughness above 0.05: outside Colebrook's range",
    )


def factor(reynolds: Number, relative_roughness: Number) -> Number:
    """The friction factor without checks, block by block; for solvers and parts.

    Parameters
    ----------
    reynolds, relative_roughness : float or ndarray
        Reynolds numbers above zero.

    Returns
    -------
    ndarray or float
    """
    reynolds, relative_roughness = (
        np.asarray(reynolds, dtype=float),
        np.asarray(relative_roughness, dtype=float),
    )
    if max(reynolds.size, relative_roughness.size) <= _BLOCK:
        return _block(reynolds, relative_roughness)
    blocks = np.nditer(
        [reynolds, relative_roughness, None],
        flags=["external_loop", "buffered"],
        op_flags=[["readonly"], ["readonly"], ["writeonly", "allocate"]],
        op_dtypes=[float, float, float],
        buffersize=_BLOCK,
    )
    with blocks:
        for re, roughness, result in blocks:
            result[...] = _block(re, roughness)
        return blocks.operands[2]


def _block(reynolds: Floats, relative_roughness: Floats) -> Number:
    if reynolds.size and reynolds.min() >= TURBULENT:
        return _colebrook(reynolds, relative_roughness)
    share = np.clip((reynolds - LAMINAR) / (TURBULENT - LAMINAR), 0.0, 1.0)
    weight = share * share * (3 - 2 * share)
    turbulent = _colebrook(np.maximum(reynolds, LAMINAR), relative_roughness)
    return weight * turbulent + (1 - weight) * (64 / reynolds)


def _colebrook(reynolds: Number, relative_roughness: Floats) -> Number:
    from_roughness = relative_roughness * reynolds * _ROUGHNESS_SCALE
    from_reynolds = np.log(reynolds) - _REYNOLDS_SHIFT
    x = from_reynolds - 0.2
    inside = from_roughness + x
    miss = from_reynolds - x - np.log(inside)
    x = x + inside * miss / (1 + inside)  # Newton, second order
    inside = from_roughness + x
    miss = from_reynolds - x - np.log(inside)
    slope = 1 + inside
    step = 2 * slope * (slope + miss * (2 / 3))
    x = x + inside * (miss / slope) * ((step - miss) / (step - 2 * miss))  # fourth order
    return (0.5 * _LN10 / x) ** 2
