"""One reading of the plant: jets open, pressure, watts, spilling."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass

import numpy as np

from ..units import Given, units

__all__ = ["Reading", "reading"]


@dataclass(frozen=True, eq=False)
class Reading:
    """One look at the gauges. SI; what was not read is NaN.

    Parameters
    ----------
    jets : int
        Jets open; 0: everything shut.
    pressure_pa : float
        Gauge pressure as read.
    power_w : float
    flow_m3s : float
        Measured by other means: a drum at the tailrace, a salt slug.
    spilling : bool or None
        Whether the pond was spilling; None: not said.
    name : str
        How messages call it.
    day : str
        Day it was read, as 2026-07-04; readings of one day show the plant in one state.
    commissioning : bool
        Whether the owner marked it as one of the commissioning.
    """

    jets: int
    pressure_pa: float
    power_w: float = np.nan
    _: KW_ONLY
    flow_m3s: float = np.nan
    spilling: bool | None = None
    name: str = ""
    day: str = ""
    commissioning: bool = False


@units(
    None,
    jets="count",
    pressure="Pa",
    power="W",
    volts="V",
    amps="A",
    power_factor="ratio",
    flow="m^3/s",
)
def reading(
    jets: Given,
    pressure: Given,
    power: Given = None,
    volts: Given = None,
    amps: Given = None,
    power_factor: Given = 1.0,
    flow: Given = None,
    spilling: bool | None = None,
    name: str = "",
    day: str = "",
    commissioning: bool = False,
) -> Reading:
    """One look at the gauges.

    Parameters
    ----------
    jets : int
        Jets open; 0: everything shut.
    pressure : Quantity or str [pressure]
        Gauge pressure as read.
    power : Quantity or str [power], optional
        Watts read; or give `volts` and `amps`.
    volts, amps : Quantity or str, optional
    power_factor : number
        1 for direct current and heaters.
    flow : Quantity or str [volume/time], optional
        Measured by other means.
    spilling : bool, optional
        Whether the pond was spilling.
    name : str
    day : str
        As 2026-07-04.
    commissioning : bool
        Whether it belongs to a commissioning: everything shut, then one jet to all, the pond spilling.

    Returns
    -------
    Reading

    References
    ----------
    .. [1] Power is volts times amperes times the power factor.

    Examples
    --------
    >>> reading(2, "4.1 bar", volts="48 V", amps="21 A").power_w
    1008.0
    >>> round(reading(2, "60 psi").pressure_pa)
    413685
    """
    if power is None and volts is not None and amps is not None:
        power = volts * amps * power_factor
    watts, passing = (np.nan if value is None else float(value) for value in (power, flow))
    return Reading(
        int(jets),
        float(pressure),
        power_w=watts,
        flow_m3s=passing,
        spilling=spilling,
        name=name,
        day=day,
        commissioning=commissioning,
    )
