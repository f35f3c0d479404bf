"""One root finder for arrays, and the refusal of impossible numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Callable

import numpy as np

from ..errors import HydrokitError

if TYPE_CHECKING:
    from ..units import Alike, Number

__all__ = ["bracketed_root", "require", "root_by_power"]


def bracketed_root(
    residual: Callable[[Alike], Alike], low: Number, high: Number, steps: int = 12
) -> Number:
    """Where `residual` changes its sign between `low` and `high`, element by element.

    Every element takes the same number of steps, so that a result never depends on its
    neighbours in the array. Inverse quadratic interpolation where it is safe, halving where not.

    Parameters
    ----------
    residual : callable
        Takes and gives an array; continuous, with opposite signs at the two ends.
    low, high : float or ndarray
    steps : int
        Evaluations after the two ends. Smooth functions need about ten for full precision.

    Returns
    -------
    float or ndarray
        The point with the smallest residual seen; NaN where the ends do not enclose a root.

    References
    ----------
    .. [1] T. R. Chandrupatla, "A new hybrid quadratic/bisection algorithm for finding the zero of
       a nonlinear function without using derivatives", Adv. Eng. Software 28(3):145-149, 1997.
    """
    newest, oldest = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    f_newest, f_oldest = residual(newest), residual(oldest)
    newest, oldest, f_newest, f_oldest = np.broadcast_arrays(newest, oldest, f_newest, f_oldest)
    enclosed = np.sign(f_newest) * np.sign(f_oldest) <= 0
    share = np.full(newest.shape, 0.5)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for _ in range(steps):
            trial = newest + share * (oldest - newest)
            f_trial = residual(trial)
            same_side = np.sign(f_trial) == np.sign(f_newest)
            third, f_third = (
                np.where(same_side, newest, oldest),
                np.where(same_side, f_newest, f_oldest),
            )
            oldest, f_oldest = (
                np.where(same_side, oldest, newest),
                np.where(same_side, f_oldest, f_newest),
            )
            newest, f_newest = trial, f_trial
            span = oldest - newest
            where_third = (newest - oldest) / (third - oldest)
            height_third = (f_newest - f_oldest) / (f_third - f_oldest)
            quadratic = f_newest / (f_oldest - f_newest) * f_third / (f_oldest - f_third) + (
                third - newest
            ) / span * (f_newest / (f_third - f_newest)) * f_oldest / (f_third - f_oldest)
            safe = (height_third**2 < where_third) & ((1 - height_third) ** 2 < 1 - where_third)
            share = np.where(safe & np.isfinite(quadratic), quadratic, 0.5)
            # A step just past the root draws the far end in as well.
            least = np.minimum(4e-16 * np.abs(newest) / np.abs(span), 0.5)
            known = np.isfinite(least)
            least = np.where(known, least, 0.0)
            share = np.clip(np.where(known, share, 0.5), least, 1 - least)
    best = np.where(np.abs(f_newest) <= np.abs(f_oldest), newest, oldest)
    return np.where(enclosed, best, np.nan)[()]


def root_by_power(
    miss: Callable[[np.ndarray], Number], start: Number, least_power: float, greatest_power: float
) -> Number:
    """Root of a rising function of a logarithm whose slope lies between two powers.

    Parameters
    ----------
    miss : callable
        ln(what an x gives / what is wanted), as a function of ln x.
    start : float or ndarray
        A guess of ln x; any will do.
    least_power, greatest_power : float
        Bounds of the slope; they make the bracket certain after one evaluation.
    """
    first = miss(np.asarray(start, dtype=float))
    ends = start - first / least_power, start - first / greatest_power
    reach = 1e-9  # a hair wider than the slopes promise: a perfect start must still be enclosed
    return bracketed_root(miss, np.minimum(*ends) - reach, np.maximum(*ends) + reach, steps=10)


def require(function: str, rule: str, **values: object) -> None:
    """Refuse numbers that cannot be: ``require("pipe_loss", "above zero", diameter=0.1)``.

    Parameters
    ----------
    function : str
        Who asks.
    rule : {"above zero", "zero or more", "a share from 0 to 1"}
    **values : float or ndarray
        NaN passes: unknown in, unknown out.
    """
    for name, value in values.items():
        number = np.asarray(value, dtype=float)
        if rule == "above zero":
            wrong = number <= 0
        elif rule == "zero or more":
            wrong = number < 0
        else:
            wrong = (number < 0) | (number > 1)
        if np.any(wrong):
            worst = float(number[wrong][0]) if number.ndim else float(number)
            raise HydrokitError(f"{function}(): {name} must be {rule}, got {worst:g} (in SI units)")
