"""What a ditch or open ground loses on the way: to the ground, to the air, to ice."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..units import Given, Number, units
from .frost import ICE_COLD_WATER, LATENT_HEAT
from .solve import require

__all__ = ["OpenLoss", "evaporation_loss", "frozen_out", "open_loss", "seepage_loss"]

# Off open water, in m/s: least, middle and most of a summer day (4 to 10 mm a day).
EVAPORATION_MS = tuple(rate / 86400 for rate in (0.004, 0.007, 0.010))
CLEAR_NIGHT_WM2 = (47.0, 140.0)  # measured off open streams just before frazil formed


@units(("m^3/s", "m^3/s", "m^3/s"), length="m", wetted_perimeter="m", rate="m/s")
def seepage_loss(
    length: Given, wetted_perimeter: Given, rate: Given = "0.26 m/d"
) -> tuple[Number, Number, Number]:
    """Water a ditch loses to the ground, as a band.

    Parameters
    ----------
    length : Quantity or str [length]
    wetted_perimeter : Quantity or str [length]
        Floor and sides under water.
    rate : Quantity or str [velocity]
        Per wetted area; see the table ``seepage``.

    Returns
    -------
    tuple of Quantity [length³/time]
        Low, middle, high: half and twice the middle. Measure it: gauge at both ends on one day.

    Raises
    ------
    HydrokitError
        A negative length, perimeter or rate.

    References
    ----------
    .. [1] Asawa, *Irrigation and Water Resources Engineering*, sect. 5.7 (0.22 to 0.43 m/d unlined).
    .. [2] Mean errors of four seepage formulas from -20 % to +158 %: Irrig. Drain.,
       doi 10.1002/ird.2474 (abstract); hence the factor of two.

    Examples
    --------
    >>> low, middle, high = seepage_loss("200 m", "1.2 m", "0.216 m/d")
    >>> print(f"{low.to('L/s'):.2f~P}, {middle.to('L/s'):.2f~P}, {high.to('L/s'):.2f~P}")
    0.30 L/s, 0.60 L/s, 1.20 L/s
    >>> print(f"{seepage_loss('600 ft', '4 ft', '0.7 ft/d')[1].to('gpm'):.1f~P}")
    8.7 gpm
    """
    require(
        "seepage_loss", "zero or more", length=length, wetted_perimeter=wetted_perimeter, rate=rate
    )
    middle = np.asarray(length) * wetted_perimeter * rate
    return middle / 2, middle, middle * 2


@units("m^3/s", length="m", top_width="m", rate="m/s")
def evaporation_loss(length: Given, top_width: Given, rate: Given = "0.007 m/d") -> Number:
    """Water a ditch or open ground loses to the air.

    Parameters
    ----------
    length, top_width : Quantity or str [length]
        Of the water surface.
    rate : Quantity or str [velocity]
        4 to 10 mm a day in the open in summer; next to nothing in winter.

    Returns
    -------
    Quantity [length³/time]
        About a tenth of the seepage.

    Raises
    ------
    HydrokitError
        A negative length, width or rate.

    References
    ----------
    .. [1] Asawa, *Irrigation and Water Resources Engineering*, sect. 5.7.

    Examples
    --------
    >>> print(f"{evaporation_loss('200 m', '0.6 m', '0.005 m/d').to('L/s'):.5f~P}")
    0.00694 L/s
    >>> print(f"{evaporation_loss('600 ft', '50 ft', '0.02 ft/d').to('gpm'):.1f~P}")
    3.1 gpm
    """
    require("evaporation_loss", "zero or more", length=length, top_width=top_width, rate=rate)
    return np.asarray(length) * top_width * rate


@units("m^3/s", area="m^2", heat_loss="W/m^2")
def frozen_out(area: Given, heat_loss: Given = "100 W/m^2") -> Number:
    r"""Flow that a cold night takes out of open water by turning it to ice.

    Parameters
    ----------
    area : Quantity or str [area]
        Open water at 0 °C: open ground, a wide shallow reach.
    heat_loss : Quantity or str [power/area]
        To the clear sky and the air: 47 to 140 W/m² were measured just before frazil formed.

    Returns
    -------
    Quantity [length³/time]
        Held back as ice until the thaw. Water led past open ground in a pipe is not lost.

    Raises
    ------
    HydrokitError
        A negative area.

    Notes
    -----
    .. math:: Q_{ice} = \frac{q A}{\rho L_f}

    References
    ----------
    .. [1] Heat loss: T. E. Osterkamp and others, Annals of Glaciology (two Alaskan streams),
       abstract; latent heat 333.55 kJ/kg.

    Examples
    --------
    >>> print(f"{frozen_out('5000 m^2').to('L/s'):.2f~P}")
    1.50 L/s
    >>> print(f"{frozen_out('1 acre', '80 W/m^2').to('gpm'):.1f~P}")
    15.4 gpm
    """
    require("frozen_out", "zero or more", area=area)
    return np.asarray(area) * heat_loss / (ICE_COLD_WATER * LATENT_HEAT)


@dataclass(frozen=True, eq=False)
class OpenLoss:
    """What a stretch of open water loses, least, middle and most, in m³/s.

    Parameters
    ----------
    seepage_m3s, evaporation_m3s : tuple of float
        To the ground, all year; to the air, on a summer day.
    frozen_m3s : tuple of float
        Held back as ice on a clear cold night, least and most; not part of the sums.
    """

    seepage_m3s: tuple[float, ...]
    evaporation_m3s: tuple[float, ...]
    frozen_m3s: tuple[float, ...]

    @property
    def low_m3s(self) -> float:
        """Least that is lost."""
        return self.seepage_m3s[0] + self.evaporation_m3s[0]

    @property
    def middle_m3s(self) -> float:
        """What to expect."""
        return self.seepage_m3s[1] + self.evaporation_m3s[1]

    @property
    def high_m3s(self) -> float:
        """Most that is lost."""
        return self.seepage_m3s[2] + self.evaporation_m3s[2]


def open_loss(
    length_m: float,
    wetted_m: float,
    surface_m: float,
    rate_ms: float,
    bounds_ms: tuple[float, float] | None = None,
) -> OpenLoss:
    """Seepage, evaporation and ice of a stretch of open water.

    Parameters
    ----------
    length_m, wetted_m, surface_m : float
        Its length; floor and sides under water; width of the surface.
    rate_ms : float
        Seepage for each wetted area; see the table ``seepage``.
    bounds_ms : tuple of float, optional
        Least and most of it where they are known to lie further apart than half and twice.

    Returns
    -------
    OpenLoss
    """
    low, middle, high = (float(each) for each in seepage_loss.si(length_m, wetted_m, rate_ms))
    if bounds_ms is not None:
        low, high = (float(length_m * wetted_m * each) for each in bounds_ms)
        low, high = min(low, middle / 2), max(high, 2 * middle)
    air = tuple(float(evaporation_loss.si(length_m, surface_m, rate)) for rate in EVAPORATION_MS)
    ice = tuple(float(frozen_out.si(length_m * surface_m, heat)) for heat in CLEAR_NIGHT_WM2)
    return OpenLoss((low, middle, high), air, ice)
