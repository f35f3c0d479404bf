"""Water and the air above it: the few properties small hydro needs, with their uncertainty."""

from __future__ import annotations

from typing import Iterator

import numpy as np

from .sentences import Amount, Sentence
from .units import Given, Number, Outside, units

__all__ = [
    "GRAVITY",
    "air_pressure",
    "density",
    "head_to_pressure",
    "pressure_to_head",
    "vapour_pressure",
    "viscosity",
]

GRAVITY = 9.80665  # standard acceleration of gravity, m/s², ISO 80000-3


@units("kg/m^3", temperature="K")
def density(temperature: Given = "10 degC") -> Number:
    r"""Density of liquid water at atmospheric pressure.

    Parameters
    ----------
    temperature : Quantity or str [temperature]
        Water temperature, :math:`T`. Scalar or array.

    Returns
    -------
    Quantity [mass/length³]
        In kg/m³, within 0.01 % of IAPWS-IF97 from 0 to 40 °C.

    Warns
    -----
    RangeWarning
        Outside 0 to 40 °C.

    Notes
    -----
    Kell's formula, :math:`\rho = \sum a_i t^i / (1 + b t)`, t in °C.

    References
    ----------
    .. [1] G. S. Kell, "Density, thermal expansivity, and compressibility of liquid water from
       0 to 150 °C", J. Chem. Eng. Data 20(1):97-105, 1975, eq. 16.

    Examples
    --------
    >>> print(f"{density('10 degC'):.2f~P}")
    999.70 kg/m³
    >>> print(f"{density('68 degF'):.2f~P}")
    998.20 kg/m³
    """
    t = np.asarray(temperature) - 273.15
    top = 999.83952 + t * (
        16.945176
        + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * (105.56302e-9 - 280.54253e-12 * t)))
    )
    return top / (1 + 16.879850e-3 * t)


@units("m^2/s", temperature="K")
def viscosity(temperature: Given = "10 degC") -> Number:
    r"""Kinematic viscosity of liquid water at atmospheric pressure.

    Parameters
    ----------
    temperature : Quantity or str [temperature]
        Water temperature, :math:`T`. Scalar or array.

    Returns
    -------
    Quantity [length²/time]
        In m²/s, within 0.3 % of IAPWS from 0 to 40 °C.

    Warns
    -----
    RangeWarning
        Outside 0 to 40 °C.

    Notes
    -----
    Dynamic viscosity at 0.1 MPa by the correlation of four powers of :math:`\tilde T = T/300\,K`,
    divided by :func:`density`.

    References
    ----------
    .. [1] J. Pátek, J. Hrubý, J. Klomfar, M. Součková, A. H. Harvey, "Reference correlations for
       thermophysical properties of liquid water at 0.1 MPa", J. Phys. Chem. Ref. Data 38:21-29,
       2009, eq. 7.

    Examples
    --------
    >>> f"{viscosity('10 degC').m_as('m^2/s'):.4g}"
    '1.306e-06'
    >>> f"{viscosity('32 degF').m_as('m^2/s'):.3g}"
    '1.79e-06'
    """
    scaled = np.asarray(temperature) / 300.0
    dynamic = 1e-6 * (
        280.68 * scaled**-1.9
        + 511.45 * scaled**-7.7
        + 61.131 * scaled**-19.6
        + 0.45903 * scaled**-40.0
    )
    return dynamic / density.si(temperature)


@units("Pa", temperature="K")
def vapour_pressure(temperature: Given = "10 degC") -> Number:
    r"""Pressure at which liquid water boils (saturation pressure, absolute).

    Parameters
    ----------
    temperature : Quantity or str [temperature]
        Water temperature, :math:`T`. Scalar or array.

    Returns
    -------
    Quantity [pressure]
        Absolute, in Pa.

    Warns
    -----
    RangeWarning
        Outside 0 to 40 °C.

    References
    ----------
    .. [1] W. Wagner, A. Pruss, "International equations for the saturation properties of ordinary
       water substance", J. Phys. Chem. Ref. Data 22:783-787, 1993, eq. 1.

    Examples
    --------
    >>> print(f"{vapour_pressure('10 degC'):.0f~P}")
    1228 Pa
    >>> print(f"{vapour_pressure('50 degF').to('psi'):.3f~P}")
    0.178 psi
    """
    temperature = np.asarray(temperature)
    tau = 1 - temperature / 647.096
    powers = (
        -7.85951783 * tau
        + 1.84408259 * tau**1.5
        - 11.7866497 * tau**3
        + 22.6807411 * tau**3.5
        - 15.9618719 * tau**4
        + 1.80122502 * tau**7.5
    )
    return 22.064e6 * np.exp(647.096 / temperature * powers)


for _property in (density, viscosity, vapour_pressure):

    @_property.valid
    def _(temperature: Given) -> Iterator[Outside]:
        t = np.asarray(temperature) - 273.15
        yield (
            (t < -0.01) | (t > 40),
            Sentence(
                "water outside {range}: the formula is not meant for it",
                range=Amount((273.15, 313.15), "temperature"),
            ),
        )


@units("Pa", altitude="m")
def air_pressure(altitude: Given) -> Number:
    r"""Pressure of the standard atmosphere at a height above sea level (absolute).

    Parameters
    ----------
    altitude : Quantity or str [length]
        Height above sea level, :math:`H`. Scalar or array.

    Returns
    -------
    Quantity [pressure]
        Absolute, in Pa. Weather moves it by about ±3 %.

    Warns
    -----
    RangeWarning
        Outside -400 to 6,000 m.

    Notes
    -----
    .. math:: p = 101325\,(1 - 0.0065 H/288.15)^{5.25588}

    References
    ----------
    .. [1] ISO 2533:1975, Standard Atmosphere, eq. 12.

    Examples
    --------
    >>> print(f"{air_pressure('1000 m').to('kPa'):.2f~P}")
    89.87 kPa
    >>> print(f"{air_pressure('6000 ft').to('psi'):.2f~P}")
    11.78 psi
    """
    return 101325.0 * (1 - 0.0065 * np.asarray(altitude) / 288.15) ** 5.255876


@air_pressure.valid
def _(altitude: Given) -> Iterator[Outside]:
    height = np.asarray(altitude)
    yield (
        (height < -400) | (height > 6000),
        Sentence("altitude outside {range}", range=Amount((-400.0, 6000.0), "length")),
    )


@units("m", pressure="Pa", temperature="K")
def pressure_to_head(pressure: Given, temperature: Given = "10 degC") -> Number:
    r"""Height of the column of water that stands for a pressure, :math:`h = p/(\rho g)`.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Gauge pressure for a height above the gauge; absolute for a barometric height.
    temperature : Quantity or str [temperature]
        Water temperature.

    Returns
    -------
    Quantity [length]
        In m.

    References
    ----------
    .. [1] Hydrostatics; 1 psi is 2.31 ft of water (common practice) at 4 °C.

    Examples
    --------
    >>> print(f"{pressure_to_head('5 bar'):.2f~P}")
    51.00 m
    >>> print(f"{pressure_to_head('72 psi').to('ft'):.1f~P}")
    166.1 ft
    """
    return np.asarray(pressure) / (density.si(temperature) * GRAVITY)


@units("Pa", head="head", temperature="K")
def head_to_pressure(head: Given, temperature: Given = "10 degC") -> Number:
    r"""Gauge pressure under a column of water, :math:`p = \rho g h`.

    Parameters
    ----------
    head : Quantity or str [length]
        Height of water above the gauge, :math:`h`.
    temperature : Quantity or str [temperature]
        Water temperature.

    Returns
    -------
    Quantity [pressure]
        Gauge, in Pa.

    References
    ----------
    .. [1] Hydrostatics.

    Examples
    --------
    >>> print(f"{head_to_pressure('51 m').to('bar'):.2f~P}")
    5.00 bar
    >>> print(f"{head_to_pressure('166 ft').to('psi'):.1f~P}")
    71.9 psi
    """
    return np.asarray(head) * density.si(temperature) * GRAVITY
