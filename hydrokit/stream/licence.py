"""What a water right grants at most."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from ..errors import HydrokitError
from ..units import Number, units
from .months import WATER_YEAR

if TYPE_CHECKING:
    from ..units import Given

__all__ = ["Licence", "licence"]


@dataclass(frozen=True, eq=False)
class Licence:
    """What a water right grants at most; made by :func:`licence`.

    Parameters
    ----------
    rate_m3s : ndarray of 12
        Greatest flow that may be taken in each month; infinite where not limited.
    volume_m3 : float
        Greatest volume a year.
    ramp_m3s_per_day : float
        Greatest increase of what is taken from one day to the next.
    start_month : int
        First month of the year over which the volume counts.
    """

    rate_m3s: np.ndarray = field(default_factory=lambda: np.full(12, np.inf))
    volume_m3: float = np.inf
    ramp_m3s_per_day: float = np.inf
    _: KW_ONLY
    start_month: int = WATER_YEAR


@units(None, rate="m^3/s", volume="m^3", ramp="m^3/s/d")
def licence(
    rate: Number | None = None,
    volume: float | None = None,
    ramp: Given = None,
    start_month: int = WATER_YEAR,
) -> Licence:
    """What a water right grants at most.

    Parameters
    ----------
    rate : Quantity or str [length³/time], optional
        Greatest flow, or a list of twelve by month.
    volume : Quantity or str [length³], optional
        Greatest volume a year.
    ramp : Quantity or str [length³/time²], optional
        Greatest increase a day, such as ``"5 L/s/d"``. Taking less is never limited: it gives
        water back to the creek.
    start_month : int

    Returns
    -------
    Licence

    References
    ----------
    .. [1] Local water right; no formula stands behind the numbers.

    Examples
    --------
    >>> licence("30 L/s").rate_m3s[0].item()
    0.03
    >>> round(licence(volume="100 acre_ft").volume_m3)
    123348
    """
    limits = [np.inf if each is None else each for each in (rate, volume, ramp)]
    if any(np.any(np.asarray(each) < 0) for each in limits):
        raise HydrokitError("licence(): a licence cannot be negative")
    if np.shape(limits[0]) not in ((), (12,)):
        raise HydrokitError(
            f"licence(): rate must be one flow or twelve, January first, got {np.size(limits[0])}"
        )
    return Licence(
        np.broadcast_to(np.asarray(limits[0], dtype=float), 12).copy(),
        float(limits[1]),
        float(limits[2]),
        start_month=start_month,
    )
