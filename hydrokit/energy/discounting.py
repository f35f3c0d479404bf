"""Discounting: what money of other years is worth today, and a sum spread evenly over years."""

from __future__ import annotations

import numpy as np

from ..units import Given, Number, units
from ..works.solve import require

__all__ = [
    "annuity_factor",
    "building_interest",
    "capital_recovery",
    "net_present_value",
    "nominal_rate",
    "real_rate",
    "replacement_value",
]


@units("number", years="count", rate="ratio")
def annuity_factor(years: Given, rate: Given) -> Number:
    r"""What a yearly payment of 1 is worth today.

    Parameters
    ----------
    years : number
        How many payments, one at the end of each year, :math:`n`.
    rate : number or str
        Discount rate, :math:`i`: what money costs a year, such as ``"4 %"``.

    Returns
    -------
    float or array
        In years of payment; `years` where the rate is 0.

    Raises
    ------
    HydrokitError
        A negative rate or number of years.

    Notes
    -----
    .. math:: a = \frac{1 - (1 + i)^{-n}}{i}

    References
    ----------
    .. [1] Sum of the geometric series of the discount factors.

    Examples
    --------
    >>> print(f"{annuity_factor(25, '4 %'):.3f}")
    15.622
    >>> print(f"{annuity_factor(15, '10 %'):.3f}")
    7.606
    """
    require("annuity_factor", "zero or more", years=years, rate=rate)
    years, rate = np.asarray(years, dtype=float), np.asarray(rate, dtype=float)
    some = np.where(rate > 0, rate, 1.0)
    # expm1 and log1p keep all digits at rates near zero
    return np.where(rate > 0, -np.expm1(-years * np.log1p(rate)) / some, years + 0 * rate)[()]


@units("number", years="count", rate="ratio")
def capital_recovery(years: Given, rate: Given) -> Number:
    r"""Share of a capital cost that must come back each year: 1 over :func:`annuity_factor`.

    Parameters
    ----------
    years : number
        Life of the thing bought, :math:`n`, above zero.
    rate : number or str
        Discount rate, :math:`i`.

    Returns
    -------
    float or array

    Raises
    ------
    HydrokitError
        A life of zero or less, a negative rate.

    Notes
    -----
    .. math:: r = \frac{i}{1 - (1 + i)^{-n}}

    References
    ----------
    .. [1] As :func:`annuity_factor`.

    Examples
    --------
    >>> print(f"{capital_recovery(25, '4 %'):.4f}")
    0.0640
    >>> print(f"{capital_recovery(20, '0 %'):.4f}")
    0.0500
    """
    require("capital_recovery", "above zero", years=years)
    return 1 / annuity_factor.si(years, rate)


@units("money", capital_cost="money", yearly="money", years="count", rate="ratio")
def net_present_value(capital_cost: Given, yearly: Given, years: Given, rate: Given) -> Number:
    r"""What a plant is worth today, its capital cost taken off.

    Parameters
    ----------
    capital_cost : Quantity or str [money]
        Paid today, :math:`C`.
    yearly : Quantity or str [money]
        What it brings each year, upkeep taken off, :math:`A`.
    years : number
        For how long, :math:`n`.
    rate : number or str
        Discount rate, :math:`i`.

    Returns
    -------
    Quantity [money]

    Notes
    -----
    .. math:: N = A\,a(n, i) - C

    with :math:`a` of :func:`annuity_factor`.

    References
    ----------
    .. [1] *Civil Works Guidelines for Micro-Hydropower in Nepal*, p. 96 (worked example).

    Examples
    --------
    >>> print(f"{net_present_value('40000 money', '4700 money', 25, '4 %'):.0f~P}")
    33424 money
    >>> print(f"{net_present_value('5200 money', '400 money', 10, '0 %'):.0f~P}")
    -1200 money
    """
    return yearly * annuity_factor.si(years, rate) - capital_cost


@units("money", cost="money", every="count", years="count", rate="ratio")
def replacement_value(cost: Given, every: Given, years: Given, rate: Given) -> Number:
    r"""What all replacements of a part during a plant's life are worth today.

    Parameters
    ----------
    cost : Quantity or str [money]
        Of one replacement.
    every : number
        Years a part lasts, :math:`k`. The first is bought with the plant and not counted here;
        none is bought in the year in which the life ends.
    years : number
        Life of the plant, :math:`n`.
    rate : number or str
        Discount rate, :math:`i`.

    Returns
    -------
    Quantity [money]

    Raises
    ------
    HydrokitError
        A part that lasts no time, a negative life or rate.

    Notes
    -----
    .. math:: V = C \sum_{j=1}^{\lceil n/k \rceil - 1} (1 + i)^{-jk}

    References
    ----------
    .. [1] Sum of the geometric series of the discount factors.

    Examples
    --------
    >>> print(f"{replacement_value('900 money', 10, 25, '4 %'):.0f~P}")
    1019 money
    >>> print(f"{replacement_value('900 money', 10, 20, '0 %'):.0f~P}")
    900 money
    """
    require("replacement_value", "above zero", every=every)
    require("replacement_value", "zero or more", years=years, rate=rate)
    # a hair of room, so that a life of just so many parts needs no further one
    times = np.maximum(np.ceil(np.asarray(years) / every - 1e-9) - 1, 0)
    # interest over the life of one part turns its series into a yearly one
    return cost * annuity_factor.si(times, np.expm1(every * np.log1p(rate)))


@units("number", real="ratio", inflation="ratio")
def nominal_rate(real: Given, inflation: Given) -> Number:
    r"""Rate a bank writes, from the rate above inflation.

    Parameters
    ----------
    real : number or str
        Above what prices rise, :math:`r`.
    inflation : number or str
        What prices rise in a year, :math:`f`.

    Returns
    -------
    float or array

    Raises
    ------
    HydrokitError
        A negative rate or inflation.

    Notes
    -----
    .. math:: i = (1 + r)(1 + f) - 1

    References
    ----------
    .. [1] I. Fisher, *The Theory of Interest*, 1930, chapter II. Adding the two rates is low by r f.

    Examples
    --------
    >>> print(f"{nominal_rate('5 %', '3 %'):.2%}")
    8.15%
    >>> print(f"{nominal_rate('4 %', 0.0):.2%}")
    4.00%
    """
    require("nominal_rate", "zero or more", real=real, inflation=inflation)
    return real + inflation + real * inflation


@units("number", nominal="ratio", inflation="ratio")
def real_rate(nominal: Given, inflation: Given) -> Number:
    r"""Rate above inflation, from the rate a bank writes.

    Parameters
    ----------
    nominal : number or str
        As it is written in an offer, :math:`i`.
    inflation : number or str
        What prices rise in a year, :math:`f`.

    Returns
    -------
    float or array
        Below zero where prices rise faster than money costs.

    Raises
    ------
    HydrokitError
        A negative rate or inflation.

    Notes
    -----
    .. math:: r = \frac{1 + i}{1 + f} - 1

    References
    ----------
    .. [1] I. Fisher, *The Theory of Interest*, 1930, chapter II.

    Examples
    --------
    >>> print(f"{real_rate('15 %', '10 %'):.4%}")
    4.5455%
    >>> print(f"{real_rate('20 %', '10 %'):.4%}")
    9.0909%
    """
    require("real_rate", "zero or more", nominal=nominal, inflation=inflation)
    return (nominal - inflation) / (1 + inflation)


@units("number", months="count", rate="ratio")
def building_interest(months: Given, rate: Given) -> Number:
    r"""Interest during construction, as a share of what is spent.

    Parameters
    ----------
    months : number
        Months of building, :math:`n`; the cost is spent evenly, at the end of each.
    rate : number or str
        What the money costs a year, :math:`i`.

    Returns
    -------
    float or array
        Owed when the plant starts, over what was spent. Zero for one month, and for none.

    Raises
    ------
    HydrokitError
        A negative number of months or rate.

    Notes
    -----
    .. math:: c = \frac{(1 + m)^n - 1}{n\,m} - 1, \qquad m = (1 + i)^{1/12} - 1

    Spending at the middle or the beginning of each month instead costs a few hundredths of it more.

    References
    ----------
    .. [1] Institute for Water Resources, *National Economic Development Procedures Manual:
       National Economic Development Costs*, US Army Corps of Engineers, 1993: interest during construction.

    Examples
    --------
    >>> print(f"{700_000 * building_interest(25, '2.7 %'):.0f}")
    18992
    >>> print(f"{building_interest(12, '6 %'):.2%}")
    2.72%
    """
    require("building_interest", "zero or more", months=months, rate=rate)
    months, rate = np.broadcast_arrays(np.asarray(months, float), np.asarray(rate, float))
    monthly = np.expm1(np.log1p(rate) / 12)
    owed = np.expm1(months * np.log1p(monthly))
    some = (months > 1) & (rate > 0)
    spent = np.where(some, months * monthly, 1.0)
    return np.where(some, owed / spent - 1, 0.0)[()]
