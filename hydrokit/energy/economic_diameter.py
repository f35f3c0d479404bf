"""The pipe bore whose yearly cost and lost energy together are least."""

from __future__ import annotations

import numpy as np

from ..units import Given, Number, units
from ..water import density
from ..works.solve import require
from .discounting import capital_recovery

__all__ = ["economic_diameter"]


@units(
    "m",
    flow="m^3/s",
    hours="h",
    friction_factor="ratio",
    efficiency="ratio",
    value="money/kWh",
    price="money/m",
    diameter="m",
    exponent="count",
    years="count",
    rate="ratio",
)
def economic_diameter(
    flow: Given,
    hours: Given,
    friction_factor: Given,
    efficiency: Given,
    value: Given,
    price: Given,
    diameter: Given,
    exponent: Given,
    years: Given,
    rate: Given,
) -> Number:
    r"""Bore at which a wider pipe costs as much more a year as its lower friction brings.

    Parameters
    ----------
    flow : Quantity or str [volume/time]
        :math:`Q`; where it changes, the cube root of the mean of its cube.
    hours : Quantity or str [time]
        For which it runs in a year, :math:`t`.
    friction_factor : number
        Darcy friction factor, :math:`f`.
    efficiency : number or str
        Water to wire, :math:`\eta`.
    value : Quantity or str [money/energy]
        Of energy, :math:`v`.
    price : Quantity or str [money/length]
        Of a pipe of a known bore, :math:`p`. What laying costs at any size does not count.
    diameter : Quantity or str [length]
        That bore, :math:`D_0`.
    exponent : number
        How the price grows with the bore, :math:`m`: 2 where a wall in proportion is paid by weight.
    years : number
        Life of the pipe.
    rate : number or str
        Discount rate.

    Returns
    -------
    Quantity [length]
        Inside diameter, whatever the length of the pipe and its head.

    Raises
    ------
    HydrokitError
        A number that must be above zero and is not.

    Notes
    -----
    With the annuity of a metre :math:`r p (D/D_0)^m` and the yearly value of the energy a metre
    takes, :math:`v \eta \rho g Q t \cdot 8 f Q^2/(\pi^2 g D^5)`, the sum is least where the second is
    :math:`m/5` of the first. Friction factor and Reynolds number are taken as settled.

    References
    ----------
    .. [1] Derivative of the yearly cost set to zero; Darcy-Weisbach.

    Examples
    --------
    >>> print(f"{economic_diameter('15 L/s', '5000 h', 0.018, '60 %', '0.21 money/kWh', '14.4 money/m', '147.6 mm', 1.9, 25, '4 %').to('mm'):.0f~P}")
    153 mm
    >>> print(f"{economic_diameter('240 gpm', '208 d', 0.018, '60 %', '0.21 money/kWh', '4.4 money/ft', '5.81 in', 1.9, 25, '4 %').to('in'):.1f~P}")
    6.0 in
    """
    require(
        "economic_diameter",
        "above zero",
        flow=flow,
        hours=hours,
        friction_factor=friction_factor,
        efficiency=efficiency,
        value=value,
        price=price,
        diameter=diameter,
        exponent=exponent,
    )
    # energy in kWh a year and metre that friction takes from a pipe of one metre's bore
    taken = (
        density.si()
        * efficiency
        * 8
        * friction_factor
        * np.asarray(flow) ** 3
        / np.pi**2
        * hours
        / 1000
    )
    yearly = price * capital_recovery.si(years, rate) / np.asarray(diameter) ** exponent
    return (5 * value * taken / (exponent * yearly)) ** (1 / (exponent + 5))
